"""Reads what a mail server answered, in the classes of RFC 3463: 2 done, 4 try again later, 5 never."""

import re
import smtplib
from typing import NamedTuple

ENHANCED = re.compile(r"^\s*([45])\.\d{1,3}\.\d{1,3}\b")
DONE, LATER, NEVER = 2, 4, 5


class Answer(NamedTuple):
    """The class of an answer, the code as the server gave it, and its words."""

    outcome: int
    code: str
    text: str


SENT = Answer(DONE, "", "")


def answer_of(error: Exception) -> Answer:
    """What a failed try means.

    Final only where the server refuses this person or this mail. Everything else (no connection, a refused log-in or
    sender address) is ours to mend and hits every mail alike, so it is tried again: a mail is never given up for it.
    """
    match error:
        case smtplib.SMTPRecipientsRefused() if error.recipients:
            code, text = next(iter(error.recipients.values()))
            return _answer(code, text)
        case smtplib.SMTPDataError():
            return _answer(error.smtp_code, error.smtp_error)
        case smtplib.SMTPNotSupportedError():
            return Answer(NEVER, "5.6.7", _words(str(error)))
        case smtplib.SMTPResponseException():
            return Answer(LATER, str(error.smtp_code), _words(error.smtp_error))
    return Answer(LATER, "", _words(f"{type(error).__name__}: {error}"))


def is_servers(error: Exception) -> bool:
    """Whether it came from the way of the mail, not from the mail itself."""
    return isinstance(error, OSError)


def _answer(code: int, text: bytes | str) -> Answer:
    words = _words(text)
    enhanced = ENHANCED.match(words)
    if enhanced:
        return Answer(int(enhanced[1]), f"{code} {enhanced[0].strip()}", words)
    return Answer(NEVER if 500 <= code <= 599 else LATER, str(code), words)


def _words(text: bytes | str) -> str:
    """Printable, one line, no longer than a column."""
    plain = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return " ".join(plain.replace("\x00", " ").split())[:500]
