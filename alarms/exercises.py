"""What a planned function check is, and what the signals in its window show about each sensor.

Common practice, no source: once a month every interstitial sensor is driven into low or high and let back. A check is
planned before it begins, so that nobody can claim an alarm that has happened already.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import groupby

import msgspec

from alarms.conditions import ConditionClass

# The 24 hours of 40 CFR 280.50 go on inside a window; what it leaves behind must be answered well within them.
MAX_WINDOW = timedelta(hours=8)
MAX_AHEAD = timedelta(days=60)
# Windows one after the other would hold back the calls about a sensor for days; half of the time is more than any check
# takes. Counted over the windows that begin within a day of each other.
MAX_TOGETHER = timedelta(hours=12)
DAY = timedelta(hours=24)
# A gateway that was offline brings its messages later; after this, a silent sensor has to be checked again.
LATE_WITHIN = timedelta(hours=48)
# What a sensor says when it is driven. Product found outside has no exception (40 CFR 280.50(a)), a fault is no answer
# to a test, and nobody knows what a word means that the catalogue does not list: those are never an exercise.
DRIVEN = frozenset({ConditionClass.MONITORING_RESULT, ConditionClass.UNUSUAL_OPERATING_CONDITION})


class CheckOutcome(StrEnum):
    """What became of one sensor in a function check."""

    RESPONDED = "responded"
    NO_RESPONSE = "did not respond"
    STOOD_ON = "in alarm at the end"
    STOOD_BEFORE = "in alarm before it began"


class Window(msgspec.Struct, frozen=True):
    """From `starts_at` inclusive to `ends_at` exclusive (aware)."""

    starts_at: datetime
    ends_at: datetime

    @property
    def length(self) -> timedelta:
        """Elapsed time; two moments of one local zone would be told apart by the wall clock, which changes."""
        return self.ends_at.astimezone(UTC) - self.starts_at.astimezone(UTC)

    def holds(self, at: datetime) -> bool:
        """Whether the moment lies inside."""
        return self.starts_at <= at < self.ends_at

    def overlaps(self, other: "Window") -> bool:
        """Whether any moment lies in both."""
        return self.starts_at < other.ends_at and other.starts_at < self.ends_at


class Lack(msgspec.Struct, frozen=True):
    """What is wrong with a plan: the field, what to do, a code word."""

    field: str
    detail: str
    code: str


class Turn(msgspec.Struct, frozen=True):
    """One signal about one condition: raised, or else cleared."""

    at: datetime
    raised: bool


class Course(msgspec.Struct, frozen=True):
    """One condition at one sensor: whether it stood when the window began, and its signals since, in any order."""

    condition: str
    stood_before: bool
    turns: Sequence[Turn] = ()


class Response(msgspec.Struct, frozen=True):
    """A raise out of normal and the return to it, both inside the window."""

    condition: str
    raised_at: datetime
    cleared_at: datetime


class Shown(msgspec.Struct, frozen=True):
    """What a window shows about one sensor. `response` is the first; `stands`: conditions that hold at the end."""

    outcome: CheckOutcome
    response: Response | None
    stands: frozenset[str] = frozenset()


def lacks_of(window: Window, *, now: datetime) -> Iterator[Lack]:
    """Everything that keeps the window from being one that can be planned at `now`."""
    if window.starts_at < now:
        detail = (
            "lies in the past; a function check cannot claim what has happened. Leave it out to begin now"
        )
        yield Lack("starts_at", detail, "past")
    if window.starts_at > now + MAX_AHEAD:
        yield Lack(
            "starts_at", f"lies more than {MAX_AHEAD.days} days ahead; plan it nearer its day", "future"
        )
    if window.ends_at <= window.starts_at:
        yield Lack("ends_at", "is not after its start", "order")
    elif window.length > MAX_WINDOW:
        hours = int(MAX_WINDOW.total_seconds()) // 3600
        yield Lack("ends_at", f"is more than {hours} hours after its start; plan two checks", "too-long")


def too_much(window: Window, others: Iterable[Window]) -> bool:
    """Whether a sensor would be under check for too long with these other windows of it."""
    near = [one.length for one in others if abs(one.starts_at - window.starts_at) < DAY]
    return window.length + sum(near, timedelta()) > MAX_TOGETHER


def drives(condition_class: str | None) -> bool:
    """Whether an alarm of this class can be what a function check raises."""
    return condition_class in DRIVEN


def is_covered(window: Window, *, raised_at: datetime, received_at: datetime) -> bool:
    """Whether an alarm that began then and reached us then belongs to the check, as long as the check goes on.

    Both have to lie inside: a device whose clock is slow or fast cannot bring an alarm of before or after into it.
    """
    return window.holds(raised_at) and window.holds(received_at)


def is_late_evidence(
    window: Window, *, raised_at: datetime, cleared_at: datetime | None, received_at: datetime
) -> bool:
    """Whether an alarm that reached us after the end began and ended inside the window, and soon enough."""
    over = cleared_at is not None and window.holds(raised_at) and window.holds(cleared_at)
    return over and window.ends_at <= received_at <= window.ends_at + LATE_WITHIN


def shown_by(window: Window, courses: Iterable[Course]) -> Shown:
    """What the sensor did. A response counts only from normal to normal; whatever holds at the end is no exercise."""
    responses: list[Response] = []
    stands: set[str] = set()
    stood_before = False
    for course in courses:
        answered, standing = _walked(window, course)
        responses += answered
        stood_before |= course.stood_before
        if standing:
            stands.add(course.condition)
    first = min(responses, key=lambda one: (one.raised_at, one.cleared_at), default=None)
    return Shown(_outcome(first, stands, stood_before), first, frozenset(stands))


def _outcome(response: Response | None, stands: set[str], stood_before: bool) -> CheckOutcome:
    if response is not None:
        return CheckOutcome.RESPONDED
    if stood_before:
        return CheckOutcome.STOOD_BEFORE
    return CheckOutcome.STOOD_ON if stands else CheckOutcome.NO_RESPONSE


def _walked(window: Window, course: Course) -> tuple[list[Response], bool]:
    """The responses of one condition in the order of time, and whether it stands at the end."""
    standing, since = course.stood_before, None
    responses = []
    inside = sorted((turn for turn in course.turns if window.holds(turn.at)), key=lambda turn: turn.at)
    for at, together in groupby(inside, key=lambda turn: turn.at):
        # Two signals of one instant end as they began: what changes the state comes first.
        for turn in sorted(together, key=lambda turn: turn.raised == standing):
            if turn.raised and not standing:
                standing, since = True, at
            elif not turn.raised and standing:
                if since is not None:
                    responses.append(Response(course.condition, since, at))
                standing, since = False, None
    return responses, standing
