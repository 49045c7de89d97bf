"""Names of mails: RFC 5322 section 3.6.4 wants them unique, and the right side is a domain of ours."""

from email.utils import parseaddr

from django.conf import settings


def mail_domain() -> str:
    """The domain that our mails come from."""
    return parseaddr(settings.MAIL_FROM)[1].rpartition("@")[2] or "localhost"
