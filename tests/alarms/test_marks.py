"""Chattering, fleeting, stale. Sources of the limits stand in `alarms/figures.toml`; a test names what it checks by."""

from datetime import datetime, timedelta
from random import Random

import pytest

from alarms.mark_queries import marked, marks_of, with_marks
from alarms.marks import FILE, LimitsError, Mark, limits, load_limits
from alarms.models import Alarm
from alarms.services.answering import acknowledge
from tests.alarms.sites import deliver, minutes, report
from tests.alarms.test_api import get, post
from tests.world import NOW

SECOND = timedelta(seconds=1)
DAY = timedelta(hours=24)


def after_start(seconds: float) -> datetime:
    return NOW + seconds * SECOND


def raises(site, *seconds: float) -> Alarm:
    """An alarm raised at these seconds; between two raises it clears."""
    reports = [report(occurred_at=after_start(one)) for one in seconds]
    reports += [report(signal="cleared", occurred_at=after_start(one - 0.5)) for one in seconds[1:]]
    deliver(site, *reports, now=after_start(max(seconds) + 1))
    return Alarm.objects.latest("pk")


def over(site, seconds: float) -> None:
    """The device says that it is over."""
    now = after_start(max(seconds, 90))
    deliver(site, report(signal="cleared", occurred_at=after_start(seconds)), now=now)


def marks(at: datetime) -> set[Mark]:
    """The marks of the one alarm, which list and filter agree about."""
    alarm = with_marks(Alarm.objects.all(), at=at).get()
    found = set(marks_of(alarm))
    assert found == {mark for mark in Mark if marked(Alarm.objects.all(), mark, at=at).exists()}
    return found


@pytest.mark.parametrize(
    ("seconds", "chatters"),
    [
        ((0, 30, 60), True),  # both ends of the minute count
        ((0, 30, 61), False),
        ((50, 65, 70), True),  # a minute that begins at any second, not at a full one
        ((0, 20), False),
        ((0, 300, 330, 700, 720, 750), True),
        ((0, 61, 122, 183), False),
    ],
)
def test_what_occurs_and_clears_three_times_within_any_minute_chatters(site, seconds, chatters):
    """Trade articles applying ISA-18.2: it occurs and clears three or more times in a minute."""
    raises(site, *seconds)
    over(site, max(seconds) + 2)

    assert (Mark.CHATTERING in marks(after_start(900))) is chatters


@pytest.mark.parametrize(
    ("signals", "chatters"),
    [
        ("^ ^ ^", False),
        ("^ ^ ^ v", False),
        ("^ v ^ ^ v", False),
        ("^ v ^ v ^", False),
        ("^ v ^ v ^ v", True),
        ("^ ^ v ^ v v ^ ^ v", True),
        ("^ v v v ^ v v", False),
    ],
)
def test_a_reminder_is_no_occurrence_and_what_stands_has_not_cleared(site, signals, chatters):
    """A device that says the same again every few seconds does not chatter: the same articles."""
    words = {"^": "raised", "v": "cleared"}
    moments = [(5 * number, words[one]) for number, one in enumerate(signals.split())]
    deliver(
        site, *[report(signal=one, occurred_at=after_start(at)) for at, one in moments], now=after_start(60)
    )

    assert (Mark.CHATTERING in marks(after_start(900))) is chatters


def test_pulses_that_begin_and_end_in_one_second_chatter(site):
    pulses = [
        report(signal=one, occurred_at=after_start(at)) for at in (0, 10, 20) for one in ("cleared", "raised")
    ]
    deliver(site, *pulses, now=after_start(60))

    assert Mark.CHATTERING in marks(after_start(900))


def test_raises_of_two_alarms_do_not_chatter_together(site):
    deliver(site, report(), report("SN1"), report(occurred_at=after_start(20)), now=after_start(30))

    assert not marked(Alarm.objects.all(), Mark.CHATTERING, at=after_start(60)).exists()


def test_an_alarm_keeps_chattering_whatever_the_order_in_which_its_messages_came(site):
    over(site, 50)
    deliver(site, report(occurred_at=after_start(40)), now=after_start(60))
    over(site, 30)
    deliver(site, report(occurred_at=after_start(20)), report(), now=after_start(90))
    over(site, 10)

    assert Mark.CHATTERING in marks(after_start(90))


@pytest.mark.parametrize(("seconds", "fleeting"), [(5, True), (60, True), (61, False)])
def test_once_and_over_at_once_is_fleeting(site, seconds, fleeting):
    """ISA-18.2 as applied in trade articles: over in seconds, no repeat. The minute: common practice, no source."""
    raises(site, 0)
    deliver(site, report(signal="cleared", occurred_at=after_start(seconds)), now=after_start(70))

    assert (marks(after_start(70)) == {Mark.FLEETING}) is fleeting


def test_what_somebody_answered_in_time_was_not_fleeting(site):
    alarm = raises(site, 0)
    acknowledge(alarm=alarm, by="Ann", note=None, now=after_start(10))
    deliver(site, report(signal="cleared", occurred_at=after_start(20)), now=after_start(20))

    assert marks(after_start(70)) == set()


def test_an_answer_after_it_was_over_leaves_it_fleeting(site):
    alarm = raises(site, 0)
    deliver(site, report(signal="cleared", occurred_at=after_start(20)), now=after_start(20))
    acknowledge(alarm=alarm, by="Ann", note=None, now=after_start(600))

    assert marks(after_start(700)) == {Mark.FLEETING}


def test_what_comes_again_is_not_fleeting(site):
    raises(site, 0, 10)
    deliver(site, report(signal="cleared", occurred_at=after_start(20)), now=after_start(30))

    assert marks(after_start(70)) == set()


@pytest.mark.parametrize("answered", [True, False])
def test_what_stands_for_more_than_a_day_is_stale_acknowledged_or_not(site, answered):
    """ISA-18.2 and IEC 62682, from memory: longer than 24 hours."""
    alarm = raises(site, 0)
    if answered:
        acknowledge(alarm=alarm, by="Ann", note=None, now=NOW + minutes(5))

    assert marks(NOW + DAY) == set()
    assert marks(NOW + DAY + SECOND) == {Mark.STALE}


def test_a_pause_begins_the_day_anew(site):
    raises(site, 0, 7200)

    assert marks(NOW + DAY + timedelta(hours=1)) == set()
    assert marks(NOW + DAY + timedelta(hours=2, seconds=1)) == {Mark.STALE}


def test_a_reminder_of_the_device_does_not(site):
    """A console that says it again each hour has not cleared in between."""
    deliver(site, report(), report(occurred_at=NOW + minutes(1380)), now=NOW + minutes(1381))

    assert marks(NOW + DAY + SECOND) == {Mark.STALE}


def test_what_is_over_is_not_stale_and_the_past_stays_as_it_was(site):
    raises(site, 0)
    deliver(site, report(signal="cleared", occurred_at=NOW + 2 * DAY), now=NOW + 2 * DAY)

    assert marks(NOW + 2 * DAY) == set()
    assert marks(NOW + DAY + minutes(1)) == {Mark.STALE}


def test_an_alarm_whose_clear_was_lost_is_stale_until_it_was_raised_anew(site):
    alarm = raises(site, 0)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW + minutes(5))
    deliver(site, report(occurred_at=NOW + 2 * DAY), now=NOW + 2 * DAY)

    def stale(at: datetime) -> list[int]:
        return list(marked(Alarm.objects.all(), Mark.STALE, at=at).values_list("pk", flat=True))

    assert stale(NOW + 1.5 * DAY) == [alarm.pk]
    assert stale(NOW + 2.5 * DAY) == []


def expected(moments: list[tuple[datetime, str]], at: datetime) -> set[Mark]:
    """The same signal by signal, for an alarm that nobody answered and whose messages came in order."""
    ups = [moment for moment, signal in moments if signal == "raised"]
    began, times = None, []
    for moment, signal in moments:
        if signal == "raised":
            began = began or moment
        elif began is not None:
            times.append(began)
            began = None
    ends = [moment for moment, signal in moments if signal == "cleared"]
    found = set()
    if any(sum(first <= one <= first + timedelta(minutes=1) for one in times) >= 3 for first in times):
        found.add(Mark.CHATTERING)
    if len(ups) == 1 and ends and ends[0] - ups[0] <= timedelta(minutes=1):
        found.add(Mark.FLEETING)
    since = None
    for moment, signal in moments:
        since = (since or moment) if signal == "raised" else None
    if since is not None and at - since > DAY:
        found.add(Mark.STALE)
    return found


def test_the_database_agrees_with_a_slow_count_over_random_messages(site):
    random = Random(20260304)
    for number in range(60):
        at, signal, moments = NOW, "raised", []
        for _ in range(random.randint(1, 9)):
            moments.append((at, signal))
            signal = random.choice(["raised", "cleared"])
            at += timedelta(seconds=random.choice([5, 10, 29, 31, 60, 61, 3600, 50_000]))
        device = f"probe {number}"
        deliver(
            site,
            *[report(device, signal=signal, occurred_at=moment) for moment, signal in moments],
            now=at,
        )
        until = at + random.choice([minutes(1), DAY])
        alarm = with_marks(Alarm.objects.filter(device=device), at=until).get()

        assert set(marks_of(alarm)) == expected(moments, until), moments


def test_the_list_shows_marks_and_filters_by_them(site, owner_client):
    """The request comes long after the world's NOW, so what stands is stale."""
    stale = raises(site, 0)
    other = deliver(site, report("SN1"), report("SN1", signal="cleared", occurred_at=NOW + SECOND), now=NOW)

    shown = {one["id"]: one["marks"] for one in get(owner_client, "alarms").json()["results"]}
    assert shown == {stale.pk: ["stale"], other.opened[0]: ["fleeting"]}
    listed = get(owner_client, "alarms", mark="stale").json()["results"]
    assert [one["id"] for one in listed] == [stale.pk]
    assert get(owner_client, f"alarms/{stale.pk}").json()["marks"] == ["stale"]
    refused = get(owner_client, "alarms", mark="noisy")
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/mark")


def test_an_acknowledgement_answers_the_alarm_with_its_marks(site, owner_client):
    alarm = raises(site, 0)

    answer = post(owner_client, f"alarms/{alarm.pk}/acknowledgement", {}).json()
    assert answer["alarm"]["marks"] == ["stale"]


def test_every_limit_names_its_source():
    assert all(len(getattr(limits(), name).source) > 20 for name in limits().__struct_fields__)


def test_a_file_of_limits_that_is_wrong_is_named_with_its_key(tmp_path):
    wrong = tmp_path / "figures.toml"
    wrong.write_text(FILE.read_text(encoding="utf-8").replace("times = 3", "times = 1"), encoding="utf-8")

    with pytest.raises(LimitsError, match=r"figures\.toml.*chattering\.times"):
        load_limits(wrong)
