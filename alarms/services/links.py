"""The link in a mail: signed, good for one purpose and for a limited time."""

from datetime import timedelta

from django.conf import settings
from django.core import signing
from django.urls import reverse

# Long enough for a weekend and a holiday; after that, whoever answers signs in (common practice, no source).
LINK_LASTS = timedelta(days=7)
_PURPOSE = "alarms.answer"


class LinkInvalid(Exception):
    """The link was altered, cut short, or made for something else."""


class LinkExpired(LinkInvalid):
    """The link was good once."""


def link_to_answer(notice_id: int) -> str:
    """The full address of the page on which the notice's person can acknowledge."""
    return settings.PUBLIC_URL + reverse("alarm-answer", args=[signing.dumps(notice_id, salt=_PURPOSE)])


def notice_of_link(token: str) -> int:
    """The notice a link was made for. By the machine's clock: the signature's own time stamp counts."""
    try:
        notice_id = signing.loads(token, salt=_PURPOSE, max_age=LINK_LASTS)
    except signing.SignatureExpired as error:
        raise LinkExpired from error
    except signing.BadSignature as error:
        raise LinkInvalid from error
    return int(notice_id)
