"""What an alarm is: the fold of its turns, in one order, whatever the order in which they reached us.

The turns of a key (one place, one condition) are what devices said and the steps that people took. They count one after
the other by their moments, so where they end up cannot depend on their delivery. Of one moment: what is over by itself
first, then signals, then steps in the order in which they were taken. A raise and a clear of one moment leave the
condition as it was before, except that where a clock is in doubt the raise counts last: an alarm told twice costs less
than one lost (common practice, no source).
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import groupby

import msgspec

from alarms.lifecycle import ANSWERS, STEPS, WAITING, Hold, Nature, State, Step, after
from alarms.matching import Effect, Signal

# A raise that follows an acknowledged one after more than this, with no clear between them, counts as if it had cleared
# before: the clear was most likely lost, and joining in silence would tell nobody (common practice, no source). What
# latches is the same alarm all the same, and news.
LAPSES_AFTER = timedelta(hours=24)
# A condition that comes and goes, raised again within this after its alarm ended, is that alarm still (common practice,
# no source).
REJOINS_WITHIN = timedelta(hours=24)
# Whoever answered is not called for it again until the answer is so old; then they are, if it stands, told anew or not:
# a dead sensor says no more (common practice, no source).
ANSWER_COUNTS_FOR = timedelta(hours=24)
# Nor is the answer held against a condition that had been over for so long that it passed for mended: that it came back
# is news (common practice, no source).
SETTLED_AFTER = timedelta(hours=4)


class Heard(msgspec.Struct, frozen=True):
    """A signal and when it counts. `ref` is the caller's name for the message and has no part in the order."""

    at: datetime
    signal: Signal
    doubt: bool = False
    ref: int = 0


class Answer(msgspec.Struct, frozen=True):
    """Who answered for an alarm, when by our clock, and what they said."""

    at: datetime
    by: str
    note: str | None = None


class Act(msgspec.Struct, frozen=True):
    """A step of a person. `at` is when it counts; steps of one moment count in the order of their `number`."""

    at: datetime
    step: Step
    number: int
    answer: Answer
    until: datetime | None = None


Turn = Heard | Act


class Episode(msgspec.Struct, kw_only=True):
    """What has become of one alarm so far. Moments are aware; `answer` is None as long as it waits for one.

    `acknowledged_until`: it came back after its answer, which counts until then.
    """

    state: State
    raised_at: datetime
    last_raised_at: datetime
    last_turn_at: datetime
    cleared_at: datetime | None = None
    ended_at: datetime | None = None
    shelved_until: datetime | None = None
    acknowledged_until: datetime | None = None
    occurrences: int = 1
    answer: Answer | None = None


class Placed(msgspec.Struct, frozen=True):
    """Where a signal went: `began` when it began the episode although the one before had never been cleared."""

    heard: Heard
    effect: Effect
    episode: Episode | None = None
    lapsed: bool = False


class Fold:
    """Walks the turns of one key in their order.

    `episode`: the one that is open before them; `ended`: the last one that is over; `begun`: those that began.
    """

    def __init__(
        self, nature: Nature, *, episode: Episode | None = None, ended: Episode | None = None
    ) -> None:
        self.nature = nature
        self.open = episode
        self.ended = ended
        self.begun: list[Episode] = []

    def take(self, turns: Iterable[Turn]) -> list[Placed]:
        """Count these turns, all later than those before; answers where each signal went."""
        placed: list[Placed] = []
        for moment, group in groupby(sorted(turns, key=_moment), key=_moment):
            self.run_out(moment)
            at_once = list(group)
            signals = [one for one in at_once if isinstance(one, Heard)]
            acts = [one for one in at_once if isinstance(one, Act)]
            placed.extend(self._hear(one) for one in self._in_order(signals))
            for act in sorted(acts, key=lambda one: one.number):
                self._act(act)
        return placed

    def run_out(self, now: datetime) -> None:
        """What was shelved until `now` or before comes back by itself, and so does what outlasted its answer."""
        episode = self.open
        if episode is None:
            return
        if episode.shelved_until is not None and episode.shelved_until <= now:
            self._move(episode, Step.END_SHELVING, episode.shelved_until)
        elif episode.acknowledged_until is not None and episode.acknowledged_until <= now:
            self._move(episode, Step.OUTLAST, episode.acknowledged_until)

    def _in_order(self, signals: list[Heard]) -> list[Heard]:
        stands = self.open is not None and self.open.cleared_at is None
        doubt = any(one.doubt for one in signals)
        first = Signal.CLEARED if stands or doubt else Signal.RAISED
        return sorted(signals, key=lambda one: one.signal != first)

    def _hear(self, heard: Heard) -> Placed:
        return self._raise(heard) if heard.signal == Signal.RAISED else self._clear(heard)

    def _raise(self, heard: Heard) -> Placed:
        at, lapsed = heard.at, False
        if self.open is not None and _has_lapsed(self.open, at):
            self._move(self.open, Step.LAPSE, at)
            lapsed = self.open is None
        if self.open is None and self._comes_back(at):
            return self._rejoin(heard)
        episode = self.open
        if episode is None:
            episode = Episode(
                state=after(State.NORMAL, Step.RAISE), raised_at=at, last_raised_at=at, last_turn_at=at
            )
            self.begun.append(episode)
            self.open = episode
            return Placed(heard, Effect.OPENED, episode, lapsed)
        episode.occurrences += 1
        episode.last_raised_at = at
        episode.cleared_at = None
        self._move(episode, Step.RAISE, at)
        return Placed(heard, Effect.JOINED, episode)

    def _comes_back(self, at: datetime) -> bool:
        ended = self.ended.ended_at if self.ended is not None else None
        return self.nature.comes_and_goes and ended is not None and at - ended <= REJOINS_WITHIN

    def _rejoin(self, heard: Heard) -> Placed:
        episode = self.ended
        assert episode is not None
        until = episode.answer.at + ANSWER_COUNTS_FOR if episode.answer is not None else heard.at
        settled = episode.cleared_at is not None and heard.at - episode.cleared_at >= SETTLED_AFTER
        counts = until > heard.at and not settled
        episode.occurrences += 1
        episode.last_raised_at = heard.at
        episode.cleared_at = episode.ended_at = None
        self.open, self.ended = episode, None
        self._move(episode, Step.REJOIN if counts else Step.RAISE, heard.at)
        episode.acknowledged_until = until if counts else None
        return Placed(heard, Effect.JOINED, episode)

    def _clear(self, heard: Heard) -> Placed:
        episode = self.open
        if episode is None:
            return Placed(heard, Effect.NONE)
        if episode.cleared_at is not None:
            episode.last_turn_at = max(episode.last_turn_at, heard.at)
            return Placed(heard, Effect.JOINED, episode)
        episode.cleared_at = heard.at
        self._move(episode, Step.CLEAR, heard.at)
        return Placed(heard, Effect.CLEARED, episode)

    def _act(self, act: Act) -> None:
        """A step that the state does not have by then changes nothing: a late message showed that it came too late."""
        episode = self.open
        if episode is None:
            return
        if (episode.state, act.step) not in STEPS:
            episode.last_turn_at = max(episode.last_turn_at, act.at)
            return
        if act.step in ANSWERS and episode.answer is None:
            episode.answer = act.answer
        self._move(episode, act.step, act.at, until=act.until)

    def _move(self, episode: Episode, step: Step, at: datetime, until: datetime | None = None) -> None:
        episode.state = after(episode.state, step, self._hold(episode, step))
        episode.last_turn_at = max(episode.last_turn_at, at)
        episode.shelved_until = (until or episode.shelved_until) if episode.state == State.SHELVED else None
        if episode.state != State.ACKNOWLEDGED:
            episode.acknowledged_until = None
        if episode.state in WAITING:
            episode.answer = None
        if episode.state == State.NORMAL:
            episode.ended_at = episode.last_turn_at
            self.open, self.ended = None, episode

    def _hold(self, episode: Episode, step: Step) -> Hold:
        if episode.cleared_at is None and step != Step.LAPSE:
            return Hold.STANDS
        return Hold.LATCHED if self.nature.latches else Hold.NOTHING


def _moment(turn: Turn) -> datetime:
    return turn.at


def _has_lapsed(episode: Episode, at: datetime) -> bool:
    return episode.state == State.ACKNOWLEDGED and at - episode.last_raised_at > LAPSES_AFTER
