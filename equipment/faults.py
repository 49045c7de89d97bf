"""What is wrong with something sent to us, and the refusal that carries it to the sender."""

from collections.abc import Iterable
from typing import ClassVar

import msgspec


class Fault(msgspec.Struct, frozen=True):
    """One thing wrong: where (JSON pointer, RFC 6901, into what was sent), what to do, and a stable code word.

    Codes of measurements: unknown, missing, type, not-finite, too-large, below-minimum, above-maximum, choice,
    near-miss, empty, too-long, repeated. Other places add: future, wrong-kind, reused.
    """

    pointer: str
    detail: str
    code: str = "invalid"

    def under(self, prefix: str) -> "Fault":
        """The same fault seen from a place further out."""
        return Fault(f"{prefix}{self.pointer}", self.detail, self.code)


class Refusal(Exception):
    """A refusal that the caller can cause and mend. One handler turns each into a problem document (RFC 9457).

    Subclasses set the HTTP status, a stable `slug` that becomes the problem type, and a title that never varies.
    """

    status: ClassVar[int] = 422
    slug: ClassVar[str] = "invalid-content"
    title: ClassVar[str] = "The content cannot be accepted"

    def __init__(self, detail: str, faults: Iterable[Fault] = (), **members: object) -> None:
        super().__init__(detail)
        self.detail = detail
        self.faults = tuple(faults)
        self.members = members

    def __str__(self) -> str:
        """For a terminal or a log: the detail, then each fault on a line of its own."""
        return "\n  ".join(
            [self.detail, *(f"{fault.pointer or 'all of it'}: {fault.detail}" for fault in self.faults)]
        )


class Invalid(Refusal):
    """The content breaks a rule of its form or contradicts what is on file."""


class Conflict(Refusal):
    """The request contradicts a fact that stands."""

    status = 409
    slug = "conflict"
    title = "The request contradicts what is on file"


class Stale(Refusal):
    """The row changed since the caller read it."""

    status = 412
    slug = "changed-meanwhile"
    title = "The row changed since you read it"


def no_component(pointer: str, tag: str) -> Fault:
    """A tag that is not on file at the facility."""
    return Fault(pointer, f"no component {tag!r} at this facility", "unknown")


MEND_AND_SEND = "Nothing was stored. Mend each place named in errors and send it again."


def refuse(faults: Iterable[Fault], detail: str = MEND_AND_SEND) -> None:
    """Raise `Invalid` when there is any fault; otherwise do nothing."""
    found = tuple(faults)
    if found:
        raise Invalid(detail, found)
