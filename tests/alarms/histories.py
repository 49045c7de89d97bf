"""Random histories of one key: what devices said, when each message reached us, and what people did meanwhile."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from alarms.lifecycle import ACTS, Nature, Step
from alarms.matching import Signal
from alarms.timeline import Act, Answer, Episode, Fold, Heard, Turn
from tests.alarms.desk import Desk
from tests.world import NOW

# Coarse, so that moments coincide; long, so that a day passes without a clear.
GRID = timedelta(minutes=30)
LENGTH = 100
NATURES = [Nature(), Nature(latches=True), Nature(comes_and_goes=True)]
END = NOW + GRID * LENGTH * 2


@dataclass
class History:
    """`signals`: each message with the moment at which it reached us; `tries`: who wants to do what, and when."""

    nature: Nature
    signals: list[tuple[datetime, Heard]] = field(default_factory=list)
    tries: list[tuple[datetime, Step, timedelta]] = field(default_factory=list)


def random_history(dice: Random) -> History:
    """Up to a dozen messages, up to two days late, a tenth of them by a doubtful clock, and up to eight tries."""
    history = History(dice.choice(NATURES))
    for ref in range(1, dice.randint(1, 12) + 1):
        at = NOW + GRID * dice.randrange(LENGTH)
        late = GRID * dice.choice([0, 0, 0, 1, 3, 10, 40, 96])
        doubt = dice.random() < 0.1
        signal = dice.choice([*Signal])
        history.signals.append((at + late, Heard(at + late if doubt else at, signal, doubt, ref)))
    for _ in range(dice.randrange(9)):
        moment = NOW + GRID * dice.randrange(LENGTH + 40)
        step = dice.choices(ACTS, [1 if one == Step.TAKE_OUT else 3 for one in ACTS])[0]
        history.tries.append((moment, step, GRID * dice.randint(1, 30)))
    return history


def live(history: History, dice: Random) -> tuple[Desk, list[Act]]:
    """Messages in batches as they reach us, people in between, the timetable now and then; what people did do."""
    desk, acts = Desk(history.nature), []
    moments = sorted({at for at, _ in history.signals} | {at for at, _, _ in history.tries})
    for now in moments:
        if batch := [one for at, one in history.signals if at == now]:
            desk.deliver(dice.sample(batch, len(batch)), now=now)
        for at, step, length in history.tries:
            if at == now and desk.open is not None:
                act = _act(desk, step, len(acts) + 1, now, length)
                if desk.act(act, now=now):
                    acts.append(act)
        if dice.random() < 0.3:
            desk.run_out(now)
    desk.run_out(END)
    return desk, acts


def _act(desk: Desk, step: Step, number: int, now: datetime, length: timedelta) -> Act:
    assert desk.open is not None
    return Act(
        at=max(now, desk.open[1].last_turn_at),
        step=step,
        number=number,
        answer=Answer(now, f"person {number}"),
        until=now + length if step == Step.SHELVE else None,
    )


def shuffled(turns: list[Turn], nature: Nature, *, dice: Random) -> Desk:
    """The same turns, one after the other in any order, or a few at once."""
    desk, left = Desk(nature), dice.sample(turns, len(turns))
    while left:
        size = dice.choice([1, 1, 2, 4])
        desk.deliver(left[:size], now=END)
        left = left[size:]
    return desk


def in_order(turns: list[Turn], nature: Nature) -> list[Episode]:
    """The alarms that the turns leave when they are counted once, in their order."""
    fold = Fold(nature)
    fold.take(turns)
    fold.run_out(END)
    return fold.begun


def told(episodes: list[Episode]) -> list[tuple[object, ...]]:
    """What counts of an alarm."""
    return [
        (
            one.state,
            one.raised_at,
            one.last_raised_at,
            one.cleared_at,
            one.ended_at,
            one.shelved_until,
            one.acknowledged_until,
            one.occurrences,
            one.answer,
        )
        for one in episodes
    ]
