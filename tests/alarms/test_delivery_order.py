"""The same messages leave the same alarms, whatever the order in which they are delivered (our own promise). While
nobody answers in between: an answer ends an episode, and what is told after it is another one."""

from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from alarms.matching import Book, Key, Signal
from alarms.models import Alarm
from tests import world
from tests.alarms.sites import deliver, minutes, report
from tests.world import NOW

SUMP, POWER = Key(7, "", "sump-liquid"), Key(None, "X", "power-lost")
RESET = datetime(1970, 1, 1, tzinfo=UTC)

# Each moment once: of two at one moment, the order of arrival is all that is known.
histories = st.lists(
    st.tuples(st.integers(0, 200), st.sampled_from([SUMP, POWER]), st.sampled_from(Signal)),
    unique_by=lambda one: one[0],
    max_size=12,
)
shuffled = histories.flatmap(lambda one: st.tuples(st.just(one), st.permutations(one)))
# Minute of the message, its signal, whether its device's clock was reset.
sent = st.lists(
    st.tuples(st.integers(0, 200), st.sampled_from(Signal), st.booleans()),
    unique_by=lambda one: one[0],
    max_size=8,
)


def episodes_of(history) -> list:
    book = Book()
    for minute, key, signal in history:
        book.place(key, signal, NOW + minutes(minute))
    return sorted(
        (
            one.key.condition,
            one.state,
            one.raised_at,
            one.last_raised_at,
            str(one.cleared_at),
            one.occurrences,
        )
        for one in book.opened
    )


@given(shuffled)
def test_a_shuffled_delivery_leaves_the_same_episodes(both):
    history, shuffle = both

    assert episodes_of(shuffle) == episodes_of(sorted(history, key=lambda one: one[0]))


def alarms_at(facility) -> list:
    columns = ("condition", "state", "raised_at", "last_raised_at", "cleared_at", "occurrences")
    return list(Alarm.objects.filter(facility=facility).order_by("raised_at").values_list(*columns))


class ShuffledDelivery(TestCase):
    """Messages on file: some of devices whose clock was reset, which count at their receipt."""

    @settings(max_examples=25, deadline=None)
    @given(sent.flatmap(lambda one: st.tuples(st.just(sorted(one)), st.permutations(one))))
    def test_messages_taken_in_out_of_turn_leave_the_same_alarms(self, orders):
        """Each keeps the moment at which it reached us, by which a doubtful one counts."""
        owner, found = world.organisation("Own Marinas"), []
        for number, order in enumerate(orders):
            site = world.facility(owner, f"S{number}")
            for minute, signal, reset in order:
                at = NOW + minutes(minute)
                deliver(site, report("X", signal=signal, occurred_at=RESET if reset else at), now=at)
            found.append(alarms_at(site))

        assert found[0] == found[1]

    @settings(max_examples=25, deadline=None)
    @given(sent.filter(bool).flatmap(lambda one: st.tuples(st.just(sorted(one)), st.permutations(one))))
    def test_a_shuffled_batch_leaves_the_same_alarms(self, orders):
        owner, found = world.organisation("Own Marinas"), []
        for number, order in enumerate(orders):
            site = world.facility(owner, f"S{number}")
            batch = [
                report("X", signal=signal, occurred_at=(RESET if reset else NOW) + minutes(minute))
                for minute, signal, reset in order
            ]
            deliver(site, *batch, now=NOW + minutes(300))
            found.append(alarms_at(site))

        assert found[0] == found[1]
