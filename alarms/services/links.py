"""The link in a mail: signed, good for one purpose and for a limited time."""

from datetime import timedelta

from django.conf import settings
from django.core import signing
from django.urls import reverse

# Long enough for a weekend and a holiday; after that a newer mail has a newer link (common practice, no source).
LINK_LASTS = timedelta(days=7)
_PURPOSE = "alarms.answer"
_TOGETHER = "alarms.answer.together"


class LinkInvalid(Exception):
    """The link was altered, cut short, or made for something else."""


class LinkExpired(LinkInvalid):
    """The link was good once."""


def link_to_answer(notice_id: int) -> str:
    """The full address of the page on which the notice's person can acknowledge."""
    return settings.PUBLIC_URL + reverse("alarm-answer", args=[signing.dumps(notice_id, salt=_PURPOSE)])


def link_to_digest(digest_id: int) -> str:
    """The full address of the page that shows every alarm of a shared mail."""
    return settings.PUBLIC_URL + reverse(
        "alarms-answer-together", args=[signing.dumps(digest_id, salt=_TOGETHER)]
    )


def notice_of_link(token: str) -> int:
    """The notice a link was made for. By the machine's clock: the signature's own time stamp counts."""
    return _opened(token, _PURPOSE)


def digest_of_link(token: str) -> int:
    """The shared mail a link was made for; a link for one alarm opens none, and the other way round."""
    return _opened(token, _TOGETHER)


def _opened(token: str, purpose: str) -> int:
    try:
        number = signing.loads(token, salt=purpose, max_age=LINK_LASTS)
    except signing.SignatureExpired as error:
        raise LinkExpired from error
    except signing.BadSignature as error:
        raise LinkInvalid from error
    return int(number)
