"""The line in time of a recurring duty: when it is on, suspended, off or unknown, and under which wording.

The state is evaluated at every instant at which something that was read may change (see `view`), so no step of the
line is guessed. What the line does to a due date is `settle`:

- A due in a stretch where the duty is on stands, also if a suspension begins later.
- A due in a suspended or off stretch moves to the first day back on (plus `resume`): due on the day of return.
  Nothing is late before the duty existed.
- A due after the return is unchanged: a suspension never lengthens an interval.
- An unknown state in the past counts as on.
"""

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from itertools import pairwise

from compliance.rules.applicability import Applicability, State, applicability
from compliance.rules.moments import LocalCalendar, Moment, Quantity
from compliance.rules.pack import Rule, Version
from compliance.rules.view import ItemScope

DAWN = datetime(1799, 1, 1, tzinfo=UTC)
"""Where every line begins: before any moment a document may state."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From `start` until the next stretch."""

    start: datetime
    state: State
    version: Version | None

    @property
    def awake(self) -> bool:
        return self.state in (State.ON, State.UNKNOWN)


@dataclass(frozen=True)
class Timeline:
    calendar: LocalCalendar
    stretches: tuple[Stretch, ...]

    def at(self, instant: datetime) -> int:
        """The index of the stretch that holds an instant."""
        return max(bisect_right(self._starts, instant) - 1, 0)

    @cached_property
    def _starts(self) -> list[datetime]:
        return [stretch.start for stretch in self.stretches]

    def settle(self, due: Moment, resume: Quantity | None) -> Moment | None:
        """Where a due ends up; None if the duty never comes back on after it."""
        for _ in self.stretches:
            index = self.at(self.calendar.end(due))
            if self.stretches[index].awake:
                return due
            back = next((later for later in self.stretches[index + 1 :] if later.awake), None)
            if back is None:
                return None
            due = self.calendar.day(back.start)
            if resume is not None:
                due = self.calendar.shift(due, resume)
        return due


def timeline(rule: Rule, scope_at: Callable[[datetime], ItemScope]) -> Timeline:
    """Evaluate the rule at every turn. `scope_at` gives the item's scope at an instant; its trace collects turns."""
    states: dict[datetime, Applicability] = {}
    waiting = {DAWN}
    while waiting:
        instant = waiting.pop()
        scope = scope_at(instant)
        states[instant] = applicability(rule, scope)
        waiting = scope.view.trace.turns - states.keys()
    stretches = [
        Stretch(instant, states[instant].state, states[instant].version) for instant in sorted(states)
    ]
    kept = stretches[:1] + [later for earlier, later in pairwise(stretches) if _differs(earlier, later)]
    return Timeline(scope_at(DAWN).calendar, tuple(kept))


def _differs(earlier: Stretch, later: Stretch) -> bool:
    return earlier.state != later.state or earlier.version is not later.version
