"""Alarms as they were known at a past instant: as they are on file where nothing was told of them since, else counted
from what had reached us by then."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from alarms.conditions import condition_or_unlisted
from alarms.matching import Key, Signal
from alarms.models import Alarm
from alarms.timeline import Episode, Fold, Heard, Turn
from alarms.timeline_rows import Spans
from alarms.turns import told_late, turns_known


def as_known(alarms: Sequence[Alarm], known_at: datetime) -> list[Alarm]:
    """Those of the alarms that stood for themselves then, with the beginning, end and state that had been told.

    `alarms`: everything that had been opened by then, merged ones too. Never save such a row. Messages are read one
    facility at a time, and only of what has had a turn since.
    """
    at_facility: dict[int, list[Alarm]] = defaultdict(list)
    for alarm in alarms:
        at_facility[alarm.facility_id].append(alarm)
    late: dict[int, dict[Key, datetime]] = defaultdict(dict)
    for (facility, key), at in told_late(at_facility, known_at).items():
        late[facility][key] = at
    found = [one for pk, some in at_facility.items() for one in _known_at(pk, some, late[pk], known_at)]
    return sorted(found, key=lambda alarm: (alarm.raised_at, alarm.pk))


def _known_at(
    facility: int, alarms: Sequence[Alarm], late: Mapping[Key, datetime], known_at: datetime
) -> Iterator[Alarm]:
    """Of one facility; `late`: since when its file says other than what was known, for keys of which messages came
    later than they count."""
    of_key: dict[Key, list[Alarm]] = defaultdict(list)
    for alarm in alarms:
        of_key[alarm.key].append(alarm)
    again: dict[Key, list[Alarm]] = {}
    starts: dict[Key, datetime] = {}
    for key, some in of_key.items():
        if key in late or not all(_is_as_then(alarm, known_at) for alarm in some):
            # What counts after `known_at` may have been told later, so all since then is in doubt.
            starts[key] = _start(key, some, min(known_at, late.get(key, known_at)))
            again[key] = _since(some, starts[key])
        doubted = {alarm.pk for alarm in again.get(key, ())}
        yield from (alarm for alarm in some if alarm.merged_into_id is None and alarm.pk not in doubted)
    again = {key: some for key, some in again.items() if some}
    if again:
        turns = turns_known(facility, {key: starts[key] for key in again}, known_at)
        for key, some in again.items():
            yield from _known(some, turns.get(key, []), known_at)


def _is_as_then(alarm: Alarm, known_at: datetime) -> bool:
    """Whether it has had no turn since; what was shelved may have come back since, or still has to."""
    return alarm.last_turn_at <= known_at and alarm.shelved_until is None


def _start(key: Key, alarms: Iterable[Alarm], at: datetime) -> datetime:
    spans = Spans([(one.raised_at, one.ended_at) for one in alarms if one.merged_into_id is None])
    return spans.start_of(at, condition_or_unlisted(key.condition).nature)


def _since(alarms: Iterable[Alarm], start: datetime) -> list[Alarm]:
    """Those that began at the start or later, with what was merged into them."""
    before = {alarm.pk for alarm in alarms if alarm.merged_into_id is None and alarm.raised_at < start}
    return [alarm for alarm in alarms if (alarm.merged_into_id or alarm.pk) not in before]


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
