"""A site document as it could have been written at an earlier instant: nothing that was recorded later, and whatever
was withdrawn or ended later still stands."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.matching import Signal
from alarms.services.intake import Report, receive_events
from compliance.gather import site_documents
from compliance.rules.document import read_document
from equipment.moments import Moment
from equipment.services.changes import state_change, state_status, withdraw_change
from equipment.services.records import Deed, record_visit, withdraw_record
from equipment.services.stating import end_fact, withdraw_fact
from tests import world
from tests.compliance.test_gather_facts import state_everything
from tests.equipment.statements import designation, document, person, plan, spill
from tests.world import NOW, TODAY

BEFORE, LATER, LATEST = (NOW + timedelta(hours=hours) for hours in (-1, 1, 2))


@pytest.fixture
def site(own):
    world.line(own)
    return own


def known(facility, at) -> dict:
    document = site_documents([facility.pk], known_at=at)[facility.pk]
    read_document(document)
    return document


def walk(site, *, now=NOW, **fields):
    deed = Deed(
        activity="walkthrough", performed=Moment(day=TODAY), measurements={"areas": ["spill"]}, **fields
    )
    return record_visit(
        facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=now
    ).records[0]


def test_a_record_is_unknown_until_it_is_recorded(site):
    walk(site)

    assert known(site, BEFORE)["records"] == []
    assert len(known(site, NOW)["records"]) == 1


def test_a_record_that_is_withdrawn_later_stood_then(site):
    withdraw_record(record=walk(site), reason="wrong site", by="test", now=LATER)

    assert "withdrawn" not in known(site, LATER - timedelta(seconds=1))["records"][0]
    assert known(site, LATER)["records"][0]["withdrawn"] == "wrong site"


def test_a_correction_is_unknown_until_it_is_recorded(site):
    first = walk(site)
    walk(site, now=LATER, supersedes=first.pk)

    assert [row.get("supersedes") for row in known(site, NOW)["records"]] == [None]
    assert [row.get("supersedes") for row in known(site, LATER)["records"]] == [None, f"record:{first.pk}"]


@pytest.mark.parametrize("kind", ["status", "field"])
def test_a_change_is_known_from_its_recording_to_its_withdrawal(site, kind):
    about = {"facility": site, "component": None, "effective_on": TODAY, "by": "test", "now": NOW}
    if kind == "status":
        residue = {"residue_in": None, "residue_pct": None}
        change = state_status(**about, **residue, status="temporarily out of service")
    else:
        change = state_change(**about, field="attended", value=True)
    withdraw_change(change=change, reason="another marina", by="test", now=LATER)

    assert [len(known(site, at)["changes"]) for at in (BEFORE, NOW, LATER)] == [0, 1, 0]


def test_every_kind_of_further_fact_is_unknown_before_and_known_from_its_recording(own):
    state_everything(own)

    before, then, today = known(own, BEFORE), known(own, NOW), site_documents([own.pk])[own.pk]

    assert set(today) - set(before) == {
        "people",
        "designations",
        "documents",
        "deliveries",
        "spills",
        "releases",
        "findings",
        "events",
        "plans",
        "overrides",
    }
    assert then == today


def test_a_fact_that_is_withdrawn_later_stood_then(own, owner):
    for fact in (plan(own), spill(own)):
        withdraw_fact(fact=fact, organisation=owner, reason="other marina", by="test", now=LATER)

    then, later = known(own, NOW), known(own, LATER)

    assert [row.get("withdrawn") for row in then["plans"] + later["plans"]] == [None, "other marina"]
    assert ("spills" in then, "spills" in later) == (True, False)


def test_an_end_that_is_stated_later_was_not_known_then(own):
    last = date(2026, 12, 31)
    policy = document(own, "financial responsibility", expires_on=last)
    duty = designation(own, person(own.operator))
    for fact in (policy, duty):
        end_fact(fact=fact, ended_on=TODAY, by="test", now=LATER)

    then, later = known(own, NOW), known(own, LATER)

    assert [one["documents"][0]["expires_on"] for one in (then, later)] == [str(last), str(TODAY)]
    assert [one["designations"][0].get("ended_on") for one in (then, later)] == [None, str(TODAY)]


def tell(site, signal: Signal, number: int, *, occurred_at, now) -> None:
    report = Report(
        source="console",
        id=str(number),
        device="SN1",
        condition="sump-fuel",
        signal=signal,
        occurred_at=occurred_at,
    )
    receive_events(facility=site, source_org=site.operator, entered_by="test", events=[report], now=now)


def test_an_alarm_looks_as_the_messages_until_then_told_it(site):
    tell(site, Signal.RAISED, 1, occurred_at=NOW, now=NOW)
    tell(site, Signal.CLEARED, 2, occurred_at=LATER, now=LATER)
    tell(site, Signal.RAISED, 3, occurred_at=LATEST, now=LATEST)

    assert known(site, BEFORE)["alarms"] == []
    seen = [known(site, at)["alarms"][0].get("cleared_at") for at in (NOW, LATER, LATEST)]
    assert seen == [None, LATER.isoformat(), None]


def test_a_message_that_arrives_late_moves_the_beginning_from_its_arrival_on(site):
    tell(site, Signal.RAISED, 1, occurred_at=NOW, now=NOW)
    tell(site, Signal.RAISED, 2, occurred_at=BEFORE, now=LATER)

    assert known(site, NOW)["alarms"][0]["raised_at"] == NOW.isoformat()
    assert known(site, LATER)["alarms"][0]["raised_at"] == BEFORE.isoformat()


def test_turning_back_takes_as_many_queries_for_one_facility_as_for_ten(owner):
    facilities = [world.facility(owner, f"F{number}") for number in range(10)]
    for facility in facilities:
        world.line(facility)
        tell(facility, Signal.RAISED, 1, occurred_at=NOW, now=NOW)

    counts = []
    for ids in ([facilities[0].pk], [one.pk for one in facilities]):
        with CaptureQueriesContext(connection) as queries:
            site_documents(ids, known_at=NOW)
        counts.append(len(queries))

    assert counts[0] == counts[1]
