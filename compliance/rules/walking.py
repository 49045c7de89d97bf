"""The walk along the completions of a recurring duty: which were late, and what is due now.

Wordings that follow one another (34 readings are listed in the grammar; these are the ones that live here):

- The wording in force at the last completion gives the next due. If another begins before that due, the due is computed
  afresh from the same completion, never earlier than the new wording's first day.
- If another begins after the due was missed and would not call it late, the delay ends on that day and stays as a late
  interval; else it runs on.
- A missing stretch is one late interval, not one a period.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from compliance.rules.moments import Moment
from compliance.rules.pack import Rule, Version
from compliance.rules.recurring import Progress, answer, next_due
from compliance.rules.schedule import Grid, Monthly, Rolling
from compliance.rules.timeline import Timeline
from compliance.rules.view import ItemScope


@dataclass(frozen=True, slots=True)
class Delay:
    """A due that was missed. `done` None: a new wording ended the delay at `ended`."""

    due: Moment
    done: Moment | None
    ended: Moment
    days_late: int


@dataclass(frozen=True, slots=True)
class Due:
    """What is due under which wording. `asked` is what the wording says before the line in time moves it to `moment`.

    `moment` is None if a fact is missing (then `asked` is None too) or if the duty never comes back on.
    """

    version: Version
    asked: Moment | None
    moment: Moment | None


@dataclass(frozen=True, slots=True)
class Walked:
    due: Due
    delays: tuple[Delay, ...]
    unanswering: tuple[Moment, ...]
    """Completions that came too early to answer anything."""


@dataclass(frozen=True)
class Walk:
    """One item's way through one rule. `scope` reads the facts as of the judged moment `at`."""

    rule: Rule
    line: Timeline
    scope: ItemScope
    at: datetime

    def along(self, completions: Iterable[Moment]) -> Walked:
        """Go through the completions, which are in order of time."""
        progress, delays, early = Progress(), list[Delay](), list[Moment]()
        for done in completions:
            due, ended = self._due(progress, until=self.line.calendar.start(done))
            moved_on = answer(due.version, progress, done, due.asked, self.scope)
            if moved_on is None:
                early.append(done)
                continue
            delays += ended
            if due.moment is not None and self._is_late(due.moment, done):
                days = self.line.calendar.days_between(due.moment, done)
                delays.append(Delay(due.moment, done, done, days))
            progress = moved_on
        due, ended = self._due(progress, until=self.at)
        return Walked(due, (*delays, *ended), tuple(early))

    def _is_late(self, due: Moment, done: Moment) -> bool:
        return self.line.calendar.compare(done, due) > 0

    @cached_property
    def _wordings(self) -> list[Version]:
        return [version for version in self.rule.versions if not version.off]

    def _due(self, progress: Progress, until: datetime) -> tuple[Due, list[Delay]]:
        """The due after this progress, and the delays that later wordings ended before `until`."""
        wordings = self._wordings
        index = self._index_at(progress.last, wordings)
        due = self._asked(wordings[index], progress, floored=False)
        while index + 1 < len(wordings) and not self._falls_before(due.moment, wordings[index + 1]):
            index += 1
            due = self._asked(wordings[index], progress, floored=True)
        delays = []
        for version in wordings[index + 1 :]:
            if due.moment is None or self._begin(version) > until:
                break
            fresh = self._asked(version, progress, floored=False)
            if fresh.moment is not None and self._begin(version) < self.line.calendar.after(fresh.moment):
                delays.append(self._ended(due.moment, version))
                due = fresh
        return due, delays

    def _index_at(self, last: Moment | None, wordings: list[Version]) -> int:
        """The wording in force at the last completion; the first one before it had taken effect, or with none yet."""
        if last is None or len(wordings) == 1:
            return 0
        begun = [
            i for i, version in enumerate(wordings) if self._begin(version) <= self.line.calendar.end(last)
        ]
        return begun[-1] if begun else 0

    def _begin(self, version: Version) -> datetime:
        return (
            self.line.stretches[0].start
            if version.begins is None
            else self.line.calendar.start(version.begins)
        )

    def _falls_before(self, due: Moment | None, later: Version) -> bool:
        return due is not None and self.line.calendar.end(due) < self._begin(later)

    def _asked(self, version: Version, progress: Progress, *, floored: bool) -> Due:
        asked = next_due(version, progress, self.scope)
        if asked is None:
            return Due(version, None, None)
        if floored and version.begins is not None:
            asked = self.line.calendar.later(asked, version.begins)
        schedule = version.schedule
        resume = schedule.resume if isinstance(schedule, Rolling | Monthly | Grid) else None
        return Due(version, asked, self.line.settle(asked, resume))

    def _ended(self, due: Moment, version: Version) -> Delay:
        assert version.begins is not None
        return Delay(due, None, version.begins, self.line.calendar.days_between(due, version.begins))


ScopeAt = Callable[[datetime], ItemScope]
