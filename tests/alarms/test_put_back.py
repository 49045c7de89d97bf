"""What cannot be worked on is put back for a while: it keeps its place before no other, and fills no log."""

import pytest

from alarms.models import Alarm, Exercise
from alarms.queries import oldest_waiting_notice
from alarms.services import exercise_closing, running_out
from alarms.services.escalation import LOOK_AGAIN
from alarms.services.exercise_closing import close_due, hear_late
from alarms.services.running_out import end_shelving_due
from alarms.services.shelving import shelve
from tests import world
from tests.alarms.exercises import END, inside, plan, signal, tell, told
from tests.alarms.sites import minutes, raised
from tests.world import NOW

NAMES = ("SN1", "SN2", "SN3", "SN4")
OVER = NOW + minutes(60)


@pytest.fixture
def checks(site) -> list[Exercise]:
    """Four function checks of one sensor each; their windows end a second apart."""
    for name in NAMES[1:]:
        world.component(site, "sensor", name, parent="SU1", used_for_release_detection=True)
    return [plan(site, name, ends_at=END + minutes(at / 60)) for at, name in enumerate(NAMES)]


@pytest.fixture
def shelved(site) -> list[Alarm]:
    """Four alarms whose shelving ends a second apart."""
    return [
        shelve(alarm=raised(site, name), by="office", reason="dry", until=OVER + minutes(at / 60), now=NOW)
        for at, name in enumerate(NAMES)
    ]


def break_first(monkeypatch, module, name: str, rows: list, number: int = 3) -> None:
    """The function works on none of the first rows any more."""
    whole, broken = getattr(module, name), {row.pk for row in rows[:number]}

    def fails(row, *others, **named):
        if row.pk in broken:
            raise RuntimeError("a broken row")
        return whole(row, *others, **named)

    monkeypatch.setattr(module, name, fails)


def closed() -> list[int]:
    return [one.pk for one in Exercise.objects.exclude(closed_at=None).order_by("pk")]


def still_shelved() -> list[int]:
    return [one.pk for one in Alarm.objects.exclude(shelved_until=None).order_by("pk")]


def test_broken_checks_do_not_keep_a_good_one_from_being_closed(checks, monkeypatch):
    break_first(monkeypatch, exercise_closing, "_judge", checks)
    close_due(now=END + minutes(1), limit=3)
    close_due(now=END + minutes(1), limit=3)

    assert closed() == [checks[3].pk]


def test_one_drain_closes_what_stands_behind_a_whole_pass_of_broken_checks(checks, monkeypatch):
    monkeypatch.setattr("alarms.services.telling.CHECKS_A_PASS", 3)
    break_first(monkeypatch, exercise_closing, "_judge", checks)
    tell(END + minutes(1))

    assert closed() == [checks[3].pk]


def test_a_broken_check_is_logged_once_in_five_minutes_and_closed_once_it_can_be(checks, monkeypatch, caplog):
    with monkeypatch.context() as patched:
        break_first(patched, exercise_closing, "_judge", checks, number=1)
        for after in (1, 2, 5):
            close_due(now=END + minutes(after), limit=10)
        assert caplog.text.count("could not close function check") == 1
        close_due(now=END + minutes(1) + LOOK_AGAIN, limit=10)
        assert caplog.text.count("could not close function check") == 2
    assert oldest_waiting_notice(END + minutes(6)) == END
    close_due(now=END + minutes(1) + 2 * LOOK_AGAIN, limit=10)

    assert closed() == [one.pk for one in checks]


def test_a_broken_sensor_that_is_to_be_judged_again_does_not_keep_the_next_one(checks, site, monkeypatch):
    close_due(now=END + minutes(1), limit=10)
    for name in NAMES:
        signal(site, "raised", inside(5), device=name, received_at=END + minutes(2))
    break_first(monkeypatch, exercise_closing, "_judge", checks)
    for _ in range(2):
        hear_late(now=END + minutes(2), limit=3)

    assert [one.sensors.get().outcome for one in checks] == [*["did not respond"] * 3, "in alarm at the end"]


def test_an_alarm_that_cannot_be_told_from_its_check_keeps_no_other_from_being_called(
    site, checks, monkeypatch, caplog
):
    """A late message shows of two sensors that they stood before; of one of them something is broken."""
    for name in NAMES[:2]:
        signal(site, "raised", inside(5), device=name)
        signal(site, "raised", inside(-5), device=name, received_at=inside(6))
    first = Alarm.objects.order_by("pk").first()
    break_first(monkeypatch, exercise_closing, "_real", [first], number=1)
    tell(inside(6))
    tell(inside(7))

    assert Alarm.objects.get(component__tag="SN2").stood_on_at == inside(6)
    assert any(subject.startswith("NO EXERCISE") for _, _, subject in told())
    assert caplog.text.count("could not tell alarm") == 1


def test_broken_alarms_do_not_keep_a_good_one_from_coming_back(shelved, monkeypatch):
    break_first(monkeypatch, running_out, "end_shelving", shelved)
    end_shelving_due(now=OVER + minutes(1), limit=3)
    end_shelving_due(now=OVER + minutes(1), limit=3)

    assert still_shelved() == [one.pk for one in shelved[:3]]


def test_one_drain_brings_back_what_stands_behind_a_whole_pass_of_broken_alarms(shelved, monkeypatch):
    monkeypatch.setattr("alarms.services.telling.ALARMS_A_PASS", 3)
    break_first(monkeypatch, running_out, "end_shelving", shelved)
    tell(OVER + minutes(1))

    assert still_shelved() == [one.pk for one in shelved[:3]]


def test_a_broken_alarm_is_logged_once_in_five_minutes_and_comes_back_once_it_can(
    shelved, monkeypatch, caplog
):
    with monkeypatch.context() as patched:
        break_first(patched, running_out, "end_shelving", shelved, number=1)
        for after in (1, 2, 5):
            end_shelving_due(now=OVER + minutes(after), limit=10)
        assert caplog.text.count("could not end the shelving") == 1
        end_shelving_due(now=OVER + minutes(1) + LOOK_AGAIN, limit=10)
        assert caplog.text.count("could not end the shelving") == 2
    end_shelving_due(now=OVER + minutes(1) + 2 * LOOK_AGAIN, limit=10)

    assert still_shelved() == []


def test_an_alarm_that_does_not_come_back_shows_in_the_health_of_the_service(shelved):
    """Nobody is called for it meanwhile."""
    assert oldest_waiting_notice(OVER - minutes(1)) is None
    assert oldest_waiting_notice(OVER + minutes(1)) == OVER
