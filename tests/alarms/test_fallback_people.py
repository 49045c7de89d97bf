"""Fallback people: told where no call list reaches anybody. That somebody always is is our promise, no rule of law."""

from datetime import time, timedelta

import pytest

from alarms.hours import hours_to_json
from alarms.models import CallList, CallStep, Contact, FallbackPerson, Notice, Substitution
from alarms.people_queries import told_to_nobody
from alarms.services.escalation import escalate_due
from alarms.services.fallback_people import NobodyLeft, replace_fallback_people
from alarms.services.first_people import first_people
from alarms.services.rotas import StatedRota, make_rota
from equipment.faults import Invalid, Stale
from tests import world
from tests.alarms.sites import call_list, contact, fallback, minutes, raised
from tests.alarms.test_dry_run_holds import OFFICE
from tests.world import NOW

# Wednesday, 21:00 in New York.
NIGHT = NOW + timedelta(hours=11)


def told(at=NOW) -> list[str]:
    escalate_due(now=at, limit=10)
    return list(Notice.objects.order_by("pk").values_list("name", flat=True))


def keep_hours(name: str) -> None:
    Contact.objects.filter(name=name).update(hours=hours_to_json(OFFICE))


def away(of, name: str, instead: str) -> None:
    stand_in, _ = Contact.objects.get_or_create(organisation=of, name=instead, email=f"{instead}@example.com")
    Substitution.objects.create(
        organisation=of,
        away=Contact.objects.get(name=name),
        stand_in=stand_in,
        starts_at=NOW - minutes(1),
        ends_at=NOW + timedelta(days=2),
        reason="leave",
        recorded_at=NOW,
        recorded_by="test",
    )


def test_at_night_those_are_told_who_keep_no_hours(own, owner):
    fallback(owner, "mia", "sam")
    keep_hours("mia")
    raised(own, "x", now=NIGHT)

    assert told(NIGHT) == ["sam"]


def test_at_night_all_are_told_where_all_keep_hours(own, owner):
    fallback(owner, "mia", "sam")
    keep_hours("mia")
    keep_hours("sam")
    raised(own, "x", now=NIGHT)

    assert told(NIGHT) == ["mia", "sam"]


def test_behind_a_list_that_sleeps_they_are_woken_although_they_keep_hours(own, owner):
    fallback(owner, "mia")
    call_list(own, (0, [contact("Ann")]))
    for name in ("mia", "Ann"):
        keep_hours(name)
    raised(own, "x", now=NIGHT)

    assert told(NIGHT) == ["mia"]


def test_a_stand_in_is_told_instead_of_one_who_is_away(own, owner):
    fallback(owner, "mia")
    away(owner, "mia", "cem")
    raised(own, "x")

    assert told() == ["cem"]


def test_if_they_all_stand_in_for_each_other_they_are_told_all_the_same(own, owner):
    fallback(owner, "mia", "sam")
    away(owner, "mia", "sam")
    away(owner, "sam", "mia")
    raised(own, "x")

    assert sorted(told()) == ["mia", "sam"]


def test_the_daily_mail_goes_to_the_same_people(own, owner):
    fallback(owner, "mia", "sam")
    away(owner, "mia", "cem")

    assert sorted(one.name for one in first_people(now=NOW).values()) == ["cem", "sam"]


def test_their_own_zone_and_morning_count_for_the_daily_mail(own, owner):
    fallback(owner, "mia")
    Contact.objects.filter(name="mia").update(time_zone="America/Chicago")

    [mia] = first_people(now=NOW).values()

    assert mia.time_zone == "America/Chicago"


def test_an_alarm_that_nobody_heard_of_is_called_at_once(own, owner):
    raised(own, "x")
    assert told() == []
    fallback(owner, "mia", now=NOW + minutes(1))

    assert told(NOW + minutes(1)) == ["mia"]


def test_who_is_new_on_the_list_is_told_and_nobody_twice(own, owner):
    fallback(owner, "mia")
    raised(own, "x")
    told()
    fallback(owner, "mia", "sam", now=NOW + minutes(1))

    assert told(NOW + minutes(1)) == ["mia", "sam"]


def test_a_walk_down_a_call_list_goes_on_as_it_was(own, owner):
    call_list(own, (0, [contact("Ann")]), (10, [contact("Bob")]))
    alarm = raised(own, "x")
    told()
    fallback(owner, "mia", now=NOW + minutes(1))
    alarm.refresh_from_db()

    assert (alarm.next_step, alarm.next_step_at) == (2, NOW + minutes(10))


def test_an_empty_list_is_refused_while_a_facility_has_nobody_else(own, owner):
    fallback(owner, "mia")

    with pytest.raises(NobodyLeft) as refused:
        fallback(owner)

    assert refused.value.members == {"facilities": [own.pk]}
    assert "Marina OWN" in str(refused.value)
    assert FallbackPerson.objects.count() == 1


def test_an_empty_list_is_taken_once_every_facility_has_a_list_that_reaches_somebody(own, owner):
    fallback(owner, "mia")
    call_list(own, (0, [contact("Ann")]))

    assert fallback(owner).people.count() == 0


def test_a_contractor_has_no_fallback_people(contractor):
    with pytest.raises(Invalid, match="only an operator"):
        fallback(contractor, "tess")


def test_one_address_stands_on_the_list_once(owner):
    with pytest.raises(Invalid, match="is named already"):
        fallback(owner, "mia", "MIA")


def test_whoever_read_an_older_list_does_not_replace_it(owner):
    before = fallback(owner, "mia").version
    fallback(owner, "sam")

    with pytest.raises(Stale):
        replace_fallback_people(
            organisation=owner, version=before, people=[contact("eve")], by="test", now=NOW
        )
    assert FallbackPerson.objects.get().contact.name == "sam"


class TestToldToNobody:
    """Where an alarm would be told to nobody."""

    def test_neither_list_nor_fallback_people(self, own):
        assert told_to_nobody([own.pk], now=NOW) == {own.pk}

    def test_fallback_people_of_another_operator_do_not_help(self, own, stranger):
        fallback(stranger, "eve")

        assert told_to_nobody([own.pk], now=NOW) == {own.pk}

    def test_fallback_people(self, own, owner):
        fallback(owner, "mia")

        assert told_to_nobody([own.pk], now=NOW) == set()

    def test_a_common_list(self, own):
        call_list(own, (0, [contact("Ann")]))

        assert told_to_nobody([own.pk], now=NOW) == set()

    def test_a_list_for_one_priority_leaves_the_others(self, own):
        call_list(own, (0, [contact("Ann")]))
        CallList.objects.update(priority="high")

        assert told_to_nobody([own.pk], now=NOW) == {own.pk}

    def test_people_who_may_not_see_the_facility_any_more_do_not_count(self, own, contractor):
        call_list(own, (0, [contact("Tess", contractor.pk)]))
        own.grants.filter(organisation=contractor).update(ends_at=NOW)

        assert told_to_nobody([own.pk], now=NOW) == {own.pk}

    def test_whoever_takes_turns_counts(self, own, owner):
        stated = StatedRota(
            name="nights",
            people=[contact("Rae")],
            starts_on=world.TODAY,
            turn_days=7,
            hand_over=time(8),
            time_zone="America/New_York",
        )
        rota = make_rota(organisation=owner, stated=stated, by="test", now=NOW)
        call_list(own, (0, [contact("Ann")]))
        step = CallStep.objects.get()
        step.recipients.clear()
        step.rotas.set([rota])

        assert told_to_nobody([own.pk], now=NOW) == set()

    def test_it_takes_one_number_of_queries(self, owner, django_assert_num_queries):
        sites = [world.facility(owner, code) for code in "ABCDE"]

        for some in (sites[:1], sites):
            with django_assert_num_queries(5):
                told_to_nobody([one.pk for one in some], now=NOW)
