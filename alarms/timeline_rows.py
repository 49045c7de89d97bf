"""Which alarm on file each episode is, while new turns move them.

Turns that come in their order are counted on from what the alarm had become. One that comes late is not: from the
beginning of the alarm within which it lies, all is counted again, and the episodes that come out are held against the
alarms on file. Both ways end in the same (`tests/alarms/test_timeline.py`).
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from copy import copy
from datetime import UTC, datetime, timedelta

import msgspec

from alarms.lifecycle import WAITING, Nature, State
from alarms.timeline import REJOINS_WITHIN, Episode, Fold, Placed, Turn

NEVER = datetime.max.replace(tzinfo=UTC)


class Row(msgspec.Struct, eq=False):
    """One alarm while it is worked on: its id (None: a new one), what it was on file (None: not there), what it is now.

    `merged_into`: a late turn showed that both were one; then `episode` stays as it was when that came out.
    """

    alarm: int | None
    episode: Episode
    before: Episode | None = None
    merged_into: "Row | None" = None
    was_merged_into: int | None = None

    @classmethod
    def on_file(cls, alarm: int, episode: Episode, merged_into: int | None = None) -> "Row":
        """An alarm as it is on file."""
        return cls(alarm, episode, before=copy(episode), was_merged_into=merged_into)

    @property
    def number(self) -> int:
        """Its id, once it has been written."""
        if self.alarm is None:
            raise ValueError("a new alarm has no id before it is written")
        return self.alarm

    @property
    def is_alarm(self) -> bool:
        """Whether it stands for itself, as far as is known now."""
        return self.merged_into is None and self.was_merged_into is None

    @property
    def changed(self) -> bool:
        """Whether anything about it is to be written."""
        merged = self.merged_into.alarm if self.merged_into is not None else None
        return self.episode != self.before or merged != self.was_merged_into

    @property
    def is_newly_merged(self) -> bool:
        """Whether it just turned out to be a part of another one."""
        return self.merged_into is not None and self.merged_into.alarm != self.was_merged_into

    @property
    def moved(self) -> bool:
        """Whether it began, ended or turned out to have begun at another moment: what legal clocks hang on."""
        before = self.before
        if before is None or self.is_newly_merged or (self.was_merged_into and not self.merged_into):
            return True
        return (before.raised_at, before.cleared_at) != (self.episode.raised_at, self.episode.cleared_at)

    @property
    def waits_anew(self) -> bool:
        """Whether people have to be told, as of a new alarm: nobody was being called for it."""
        was = self.before is not None and self.was_merged_into is None and self.before.state in WAITING
        return self.episode.state in WAITING and not was

    @property
    def waits_no_more(self) -> bool:
        """Whether its calls are over."""
        return self.before is not None and self.before.state in WAITING and self.episode.state not in WAITING


class Work:
    """What came of one key: its alarms as they are now, and where each signal went. `again`: all was counted again."""

    def __init__(self, rows: Sequence[Row], placed: Sequence[Placed], *, again: bool) -> None:
        self.rows = rows
        self.placed = placed
        self.again = again
        self._row = {id(row.episode): row for row in rows}

    def row_of(self, episode: Episode) -> Row:
        """The alarm that is this episode."""
        return self._row[id(episode)]


class Spans(msgspec.Struct):
    """When alarms of a key began and ended (None: open), for finding where counting has to begin anew."""

    spans: list[tuple[datetime, datetime | None]]

    def start_of(self, at: datetime, nature: Nature) -> datetime:
        """The latest moment at or before `at` before which nothing was open: counting begins there in `normal`.

        Alarms of what comes and goes are taken together where the later one may be the earlier one still. Alarms that
        touch (one ended at the moment at which the next began) are taken together: what counts first at
        such a moment depends on what stood before it.
        """
        start = at
        gap = REJOINS_WITHIN if nature.comes_and_goes else timedelta(0)
        # The latest end first: once one lies too far back, so do all that follow.
        for raised, ended in sorted(self.spans, key=_end, reverse=True):
            if raised >= start:
                continue
            if ended is not None and ended < start - gap:
                break
            start = raised
        return start


def _end(span: tuple[datetime, datetime | None]) -> datetime:
    return span[1] or NEVER


def is_late(turns: Iterable[Turn], newest: datetime | None) -> bool:
    """Whether any of the turns does not come after everything that is known of its key."""
    return newest is not None and any(turn.at <= newest for turn in turns)


def newest_of(rows: Iterable[Row], loose: datetime | None) -> datetime | None:
    """The latest turn of a key: in one of its alarms, or a clear that belongs to none (`loose`)."""
    moments = [row.episode.last_turn_at for row in rows]
    return max([*moments, loose] if loose is not None else moments, default=None)


def count_on(rows: Sequence[Row], turns: Iterable[Turn], nature: Nature, *, now: datetime) -> Work:
    """Turns later than all that is known: counted on from the alarm that is open, or from the last that is over."""
    known = [row.episode for row in rows if row.is_alarm]
    standing = next((one for one in known if one.state != State.NORMAL), None)
    over = [one for one in known if one.state == State.NORMAL and one.ended_at is not None]
    last = max(over, key=lambda one: (one.ended_at, one.raised_at), default=None)
    fold = Fold(nature, episode=standing, ended=last)
    placed = fold.take(turns)
    fold.run_out(now)
    new = [Row(None, one) for one in fold.begun]
    return Work([*(row for row in rows if row.is_alarm), *new], placed, again=False)


def count_again(rows: Sequence[Row], turns: Iterable[Turn], nature: Nature, *, now: datetime) -> Work:
    """All turns from a moment on before which nothing was open, and the alarms on file that began since.

    An episode is the alarm with the lowest id that began within it; further ones were the same and are merged into it.
    """
    fold = Fold(nature)
    placed = fold.take(turns)
    fold.run_out(now)
    beginnings = [one.raised_at for one in fold.begun]
    taken: dict[int, Row] = {}
    found: list[Row] = []
    for row in sorted(rows, key=lambda one: one.alarm or 0):
        # All raises of one moment belong to one episode: the last that began by then.
        place = bisect_right(beginnings, row.episode.raised_at) - 1
        if place < 0:
            continue  # not one message of it is on file
        found.append(row)
        if place in taken:
            _merge(row, taken[place])
        else:
            taken[place] = row
            _become(row, fold.begun[place])
    new = [Row(None, one) for place, one in enumerate(fold.begun) if place not in taken]
    return Work([*found, *new], placed, again=True)


def _become(row: Row, episode: Episode) -> None:
    # A step that came too late stays a turn of the alarm at which it was taken.
    episode.last_turn_at = max(episode.last_turn_at, row.episode.last_turn_at)
    row.episode = episode


def _merge(row: Row, into: Row) -> None:
    row.merged_into = into
    row.episode = copy(row.episode)
    row.episode.state = State.NORMAL
    row.episode.ended_at = row.episode.shelved_until = row.episode.acknowledged_until = None
