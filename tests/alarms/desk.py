"""A desk that keeps one key's turns and alarms in memory, and moves them as the services do with the database."""

from collections.abc import Iterable, Sequence
from copy import copy
from datetime import datetime

from alarms.lifecycle import STEPS, Nature, State
from alarms.timeline import REJOINS_WITHIN, Act, Episode, Fold, Heard, Turn
from alarms.timeline_rows import Row, Spans, Work, count_again, count_on, is_late, newest_of


class Desk:
    """Turns are delivered in any order; `alarms` are what they left.

    `again`: how often all was counted again; `seen`: every state so far.
    """

    def __init__(self, nature: Nature) -> None:
        self.nature = nature
        self.again = 0
        self.seen: set[State] = set()
        self._turns: list[tuple[Turn, int | None]] = []
        self._alarms: dict[int, tuple[Episode, int | None]] = {}

    @property
    def alarms(self) -> list[Episode]:
        """Those that stand for themselves, oldest first."""
        found = [one for one, merged in self._alarms.values() if merged is None]
        return sorted(found, key=lambda one: one.raised_at)

    @property
    def merged(self) -> int:
        """How many turned out to be parts of others."""
        return sum(merged is not None for _, merged in self._alarms.values())

    @property
    def open(self) -> tuple[int, Episode] | None:
        """The one that is not over."""
        found = [(pk, one) for pk, (one, _) in self._alarms.items() if one.state != State.NORMAL]
        assert len(found) <= 1
        return found[0] if found else None

    def deliver(self, turns: Sequence[Turn], *, now: datetime) -> Work:
        """Take in turns that have not been delivered before."""
        oldest = min(turn.at for turn in turns)
        rows = [row for row in self._rows() if self._may_count(row.episode, oldest)]
        loose = max((one.at for one, alarm in self._turns if not alarm and one.at >= oldest), default=None)
        if is_late(turns, newest_of(rows, loose)):
            self.again += 1
            start = Spans([(one.raised_at, one.ended_at) for one in self.alarms]).start_of(
                oldest, self.nature
            )
            rows = [row for row in self._rows() if row.episode.raised_at >= start]
            known = [one for one, _ in self._turns if one.at >= start]
            work = count_again(rows, [*known, *turns], self.nature, now=now)
        else:
            work = count_on(rows, turns, self.nature, now=now)
        self._keep(work, turns)
        return work

    def act(self, act: Act, *, now: datetime) -> bool:
        """A person's step with the open alarm; whether the table has it."""
        self.run_out(now)
        if self.open is None or (self.open[1].state, act.step) not in STEPS:
            return False
        pk, episode = self.open
        Fold(self.nature, episode=episode).take([act])
        self.seen.add(episode.state)
        self._turns.append((act, pk))
        return True

    def run_out(self, now: datetime) -> None:
        """What the timetable does: shelving that is over ends."""
        if self.open is not None:
            Fold(self.nature, episode=self.open[1]).run_out(now)

    def _may_count(self, episode: Episode, oldest: datetime) -> bool:
        ended = episode.ended_at if self.nature.comes_and_goes else None
        back = ended is not None and ended >= oldest - REJOINS_WITHIN
        return episode.state != State.NORMAL or episode.last_turn_at >= oldest or back

    def _rows(self) -> Iterable[Row]:
        return [Row.on_file(pk, copy(one), merged) for pk, (one, merged) in self._alarms.items()]

    def _keep(self, work: Work, turns: Sequence[Turn]) -> None:
        for row in work.rows:
            if row.alarm is None:
                row.alarm = len(self._alarms) + 1
            assert row.alarm is not None
            self.seen.add(row.episode.state)
            if row.changed or row.before is None:
                merged = row.merged_into.alarm if row.merged_into is not None else None
                self._alarms[row.alarm] = (row.episode, merged)
        where = {
            one.heard.ref: work.row_of(one.episode).alarm if one.episode is not None else None
            for one in work.placed
        }
        kept = [*self._turns, *((turn, 0) for turn in turns)]
        self._turns = [
            (turn, where.get(turn.ref, alarm) if isinstance(turn, Heard) else alarm) for turn, alarm in kept
        ]
