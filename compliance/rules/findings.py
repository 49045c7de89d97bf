"""What judging says: one finding for one rule and one item."""

from datetime import date, datetime

import msgspec

from compliance.rules.moments import Moment

STANDINGS = (
    "failed",
    "overdue",
    "no record",
    "cannot decide",
    "due soon",
    "suspended",
    "met",
    "not required",
)
"""From what needs a person most to what needs nobody."""


class LateInterval(msgspec.Struct, frozen=True):
    """A due that was missed. `done` is None where a new wording ended the delay before anything was done."""

    due: Moment
    done: Moment | None
    days_late: int


class NotCounted(msgspec.Struct, frozen=True):
    evidence: str
    reason: str


class MissingFact(msgspec.Struct, frozen=True):
    """A field that nobody stated; inner fields are joined by `__`."""

    subject: str
    field: str


class Read(msgspec.Struct, frozen=True):
    """A path that was read from the subject, and its value; None is unknown."""

    path: str
    value: object


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One rule judged for one item.

    `subject` and `evidence` are ids of the document, or `activity@moment` for a row without an id. `version` is the
    first day of the wording (None: it has always held). `due` is a local day, or an instant in the facility's zone.
    `days_late` counts local days and is 0 unless the due has passed; it grows by itself, which is no change.
    `missing`: facts without which it cannot be decided; `could_change`: facts that might exempt or suspend if stated.
    `reason`: why it is not required; empty for every other standing.
    """

    rule: str
    title: str
    task: str
    version: date | None
    pack: str
    subject: str
    subject_kind: str
    party: str
    standing: str
    due: date | datetime | None = None
    days_late: int = 0
    late_intervals: list[LateInterval] = []
    evidence: list[str] = []
    not_counted: list[NotCounted] = []
    missing: list[MissingFact] = []
    could_change: list[MissingFact] = []
    why: list[Read] = []
    reason: str = ""
    sentence: str
    cite: str
    verified: str

    def same_as(self, other: "Finding | None") -> bool:
        """True if nothing but the count of days late differs."""
        return other is not None and msgspec.structs.replace(self, days_late=other.days_late) == other


def sentence(finding_title: str, item: str, standing: str, due: Moment | None, detail: str = "") -> str:
    """One sentence that a dock manager understands, without figures that change from day to day."""
    when = written(due)
    said = {
        "failed": f"failed{detail}",
        "no record": f"nothing on file shows that it was ever done{f'; it was due {when}' if when else ''}",
        "overdue": f"overdue since {when}",
        "cannot decide": f"cannot be decided{detail}",
        "due soon": f"due {when}" if when else "due",
        "suspended": f"on hold{f'; {when} is the date that waits' if when else ''}",
        "met": f"in order{f'; the date to keep is {when}' if when else ''}",
        "not required": f"not required{detail}",
    }[standing]
    return f"{finding_title} ({item}): {said}."


def written(due: Moment | None) -> str:
    """A due as people read it; empty where there is none."""
    if isinstance(due, datetime):
        return due.strftime("%Y-%m-%d at %H:%M")
    return "" if due is None else due.isoformat()
