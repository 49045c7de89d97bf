"""Alarms as they were known at a past instant: counted from what had reached us by then."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from alarms.conditions import condition_or_unlisted
from alarms.matching import Key, Signal
from alarms.models import Alarm
from alarms.timeline import Episode, Fold, Heard, Turn
from alarms.turns import turns_known


def as_known(alarms: Sequence[Alarm], known_at: datetime) -> list[Alarm]:
    """Those of the alarms that stood for themselves then, with the beginning, end and state that had been told.

    `alarms`: everything that had been opened by then, merged ones too. Never save such a row.
    """
    turns = turns_known({alarm.facility_id for alarm in alarms}, known_at)
    of_key: dict[tuple[int, Key], list[Alarm]] = defaultdict(list)
    for alarm in alarms:
        of_key[alarm.facility_id, alarm.key].append(alarm)
    found = [one for at, some in of_key.items() for one in _known(some, turns.get(at, []), known_at)]
    return sorted(found, key=lambda alarm: (alarm.raised_at, alarm.pk))


def _known(alarms: Sequence[Alarm], turns: Sequence[Turn], known_at: datetime) -> Iterable[Alarm]:
    fold = Fold(condition_or_unlisted(alarms[0].condition).nature)
    fold.take(turns)
    fold.run_out(known_at)
    beginnings = [episode.raised_at for episode in fold.begun]
    firsts = _first_raises(turns)
    taken: set[int] = set()
    for alarm in sorted(alarms, key=lambda one: one.pk):
        first = firsts.get(alarm.pk)
        place = bisect_right(beginnings, first) - 1 if first is not None else -1
        if place >= 0 and place not in taken:
            taken.add(place)
            _turn_back(alarm, fold.begun[place])
            yield alarm


def _first_raises(turns: Sequence[Turn]) -> dict[int, datetime]:
    """By alarm, the first of its raises that was known then."""
    firsts: dict[int, datetime] = {}
    for turn in turns:
        if isinstance(turn, Heard) and turn.signal == Signal.RAISED:
            firsts[turn.ref] = min(turn.at, firsts.get(turn.ref, turn.at))
    return firsts


def _turn_back(alarm: Alarm, episode: Episode) -> None:
    for name, value in alarm.columns_of(episode).items():
        setattr(alarm, name, value)
    alarm.merged_into, alarm.merged_at = None, None
