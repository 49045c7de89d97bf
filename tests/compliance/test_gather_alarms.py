"""Alarms in the site document: the answer that holds, what was found, and each party's own knowledge."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.dispositions import DispositionType
from alarms.services.answering import acknowledge
from alarms.services.dispositions import dispose
from alarms.services.knowledge import state_knowledge, withdraw_knowledge
from compliance.gather import site_documents
from compliance.rulepacks import installed_packs, recordable
from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import judge
from compliance.rules.loading import load_packs
from compliance.services import assess
from equipment.moments import Moment
from equipment.services.happenings import state_release
from equipment.services.records import Deed, record_visit, withdraw_record
from equipment.services.stating import withdraw_fact
from equipment.vocabulary import AccessRole
from tests import world
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW, TODAY

PARTIES = Path(__file__).parent / "rulepacks" / "parties"
HOUR, DAY = timedelta(hours=1), timedelta(hours=24)
REPORT = "report-suspected-release"


@pytest.fixture
def site(own):
    world.line(own)
    return own


@pytest.fixture
def alarm(site):
    """Fuel in the sump, found by the sensor that is its method: 40 CFR 280.50(c)."""
    return raised(site, "SN1", "sump-fuel")


def contained(alarm, *, at=NOW + HOUR, now=NOW + 2 * HOUR, **evidence):
    """The answer of 40 CFR 280.50(c)(2), complete unless stated otherwise."""
    given = {"repaired_at": NOW + HOUR, "liquid_removed_at": NOW + HOUR} | evidence
    return answered(alarm, DispositionType.CONTAINED, at=at, now=now, **given)


def answered(alarm, type, *, at=NOW + HOUR, now=NOW + 2 * HOUR, **evidence):
    return dispose(
        alarm=alarm,
        type=type,
        at=at,
        evidence=evidence,
        by="test",
        organisation=alarm.facility.operator,
        now=now,
    )


def known(alarm, *, now=NOW + 2 * HOUR, by=None, **stated):
    organisation = by or alarm.facility.operator
    return state_knowledge(alarm=alarm, stated=stated, by="test", organisation=organisation, now=now)


def document_of(site, known_at=None) -> dict:
    return site_documents([site.pk], known_at=known_at)[site.pk]


def row_of(site, known_at=None) -> dict:
    [row] = document_of(site, known_at)["alarms"]
    return row


def clock(site, at, *, rule: str = REPORT, known_at=None) -> Finding:
    document = read_document(document_of(site, known_at))
    judgement = judge(document, installed_packs(), at=at, include_not_required=True)
    [found] = [one for one in judgement.findings if one.rule == rule and one.subject.startswith("alarm:")]
    return found


def test_acknowledging_changes_nothing_that_rules_read(site, alarm):
    """40 CFR 280.50: only a report or an exception with its proof."""
    before = document_of(site)

    acknowledge(alarm=alarm, by="dock", note="all clear", now=NOW + HOUR)

    assert document_of(site) == before
    assert clock(site, NOW + DAY + minutes(1)).standing == "overdue"


def test_an_answer_with_its_proof_stops_the_clock_from_its_own_moment_on(site, alarm):
    """40 CFR 280.50(c)(2)."""
    contained(alarm, at=NOW + 2 * HOUR)

    assert clock(site, NOW + 2 * HOUR - minutes(1)).standing == "due soon"
    assert clock(site, NOW + 2 * HOUR).standing == "not required"
    assert clock(site, NOW + 7 * DAY).standing == "not required"


def test_an_answer_that_came_too_late_excuses_nothing(site, alarm):
    """40 CFR 280.50(c)(2): immediately repaired, read as within the 24 hours of the report."""
    late = NOW + DAY + minutes(1)
    contained(alarm, at=late, now=late, repaired_at=late)

    assert clock(site, late).standing == "overdue"


def test_a_later_answer_takes_the_place_of_an_earlier_one_which_stays_readable(site, alarm):
    """40 CFR 280.61: once a release is confirmed the exception is gone and the report stays due."""
    contained(alarm)
    found = state_release(
        facility=site,
        submitted_by=site.operator,
        by="test",
        now=NOW + HOUR,
        identified_at=None,
        confirmed_at=Moment(instant=NOW),
        alarm=alarm.pk,
        fields={},
    )
    answered(alarm, DispositionType.CONFIRMED, at=NOW + 2 * HOUR, release=found.pk)

    document = document_of(site)

    [change] = [one for one in document["changes"] if one["of"] == f"alarm:{alarm.pk}"]
    assert document["alarms"][0]["disposition"]["type"] == "contained"
    assert change["on"] == (NOW + 2 * HOUR).isoformat()
    assert change["disposition"]["evidence"] == {"release": f"release:{found.pk}"}
    assert clock(site, NOW + 2 * HOUR - minutes(1)).standing == "not required"
    assert clock(site, NOW + 2 * HOUR).standing == "due soon"


def test_a_withdrawn_answer_answers_nothing_but_did_so_until_it_was_withdrawn(site, alarm):
    answer = contained(alarm)
    withdraw_fact(
        fact=answer, organisation=site.operator, reason="wrong alarm", by="test", now=NOW + 3 * HOUR
    )

    assert clock(site, NOW + 4 * HOUR).standing == "due soon"
    assert clock(site, NOW + 2 * HOUR, known_at=NOW + 2 * HOUR).standing == "not required"


def test_an_answer_is_unknown_until_it_is_stated(site, alarm):
    contained(alarm, at=NOW + HOUR, now=NOW + 5 * HOUR)

    assert "disposition" not in row_of(site, known_at=NOW + 4 * HOUR)
    assert row_of(site, known_at=NOW + 5 * HOUR)["disposition"]["at"] == (NOW + HOUR).isoformat()


def test_evidence_that_was_withdrawn_since_proves_nothing(site, alarm):
    """40 CFR 280.50(c)(4) as read for a planned test: only with the record of the test."""
    deed = Deed(activity="walkthrough", performed=Moment(day=TODAY), measurements={"areas": ["spill"]})
    [test] = record_visit(
        facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=NOW
    ).records
    answered(alarm, DispositionType.PLANNED_TEST, record=test.pk)
    before = clock(site, NOW + 2 * HOUR).standing

    withdraw_record(record=test, reason="never done", by="test", now=NOW + 3 * HOUR)

    assert (before, clock(site, NOW + 4 * HOUR).standing) == ("not required", "due soon")
    assert row_of(site)["disposition"]["evidence"] == {"x_record": f"record:{test.pk}"}


def put_on_file(site, activity: str = "tank-tightness-test", *, at=NOW + HOUR, **stated):
    deed = Deed(activity=activity, performed=Moment(instant=at), **stated)
    return record_visit(
        facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=NOW + 2 * HOUR
    ).records[0]


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [(world.TIGHT_TANK, "not required"), (world.LEAKING_TANK, "due soon"), ({}, "due soon")],
)
def test_a_clean_result_is_clean_by_its_numbers_and_not_by_its_word(site, alarm, numbers, expected):
    """40 CFR 280.50(c)(1): additional monitoring does not confirm the first result. Each record reports a pass."""
    test = put_on_file(site, subjects=("T1",), outcome="pass", measurements=numbers)
    answered(
        alarm,
        DispositionType.DEVICE_FAULT,
        repaired_at=NOW + HOUR,
        clean_result_at=NOW + HOUR,
        record=test.pk,
    )

    assert clock(site, NOW + 2 * HOUR).standing == expected


def test_a_filed_report_is_the_answer_that_the_clock_asks_for(site, alarm):
    """40 CFR 280.50: the report ends the 24 hours; 280.52: the investigation stays due."""
    report = put_on_file(
        site,
        "report-to-agency",
        measurements={"report": "suspected release"},
        regarding=f"alarm:{alarm.pk}",
    )
    answered(alarm, DispositionType.FILED, record=report.pk)

    assert row_of(site)["disposition"]["evidence"] == {"record": f"record:{report.pk}"}
    assert clock(site, NOW + 2 * HOUR).standing == "met"
    assert clock(site, NOW + 2 * HOUR, rule="investigate-suspected-release").standing == "due soon"


def test_water_taken_out_of_a_sound_sump_stops_the_clock(site):
    """40 CFR 280.50(b)(1)-(3): not releasing, nothing defective, emptied, all within the 24 hours."""
    alarm = raised(site, "SU1", "sump-liquid")
    done = {"checked_at": NOW + HOUR, "liquid_removed_at": NOW + HOUR, "no_defect": True}
    answered(alarm, DispositionType.WATER_REMOVED, finding="whole", cause="rain", **done)

    assert row_of(site)["disposition"]["evidence"]["no_defect"] is True
    assert clock(site, NOW + 2 * HOUR).standing == "not required"


def test_the_clock_starts_at_the_discovery_that_was_stated(site, alarm):
    """40 CFR 280.50: within 24 hours of discovery."""
    known(alarm, discovered_at=NOW + HOUR)

    assert clock(site, NOW + HOUR).due == NOW + HOUR + DAY
    assert "discovered_at" not in row_of(site, known_at=NOW + HOUR)


def test_a_discovery_that_was_taken_back_moves_the_clock_back_but_not_in_earlier_readings(site, alarm):
    """40 CFR 280.50; that a reading as of a past moment takes what was on file then is our own promise."""
    said = known(alarm, discovered_at=NOW + HOUR)
    withdraw_knowledge(said=said, organisation=site.operator, reason="slip", by="test", now=NOW + 4 * HOUR)

    assert clock(site, NOW + 5 * HOUR).due == NOW + DAY
    assert row_of(site, known_at=NOW + 3 * HOUR)["discovered_at"] == (NOW + HOUR).isoformat()


def test_of_the_liquid_facts_the_latest_statement_counts(site, alarm):
    known(alarm, liquid_is_method=True, no_liquid=True)
    known(alarm, liquid_is_method=False, now=NOW + 3 * HOUR)

    row = row_of(site)

    assert (row["liquid_is_method"], row["no_liquid"]) == (False, True)


def test_whoever_sent_the_message_knew_when_it_reached_us(site, contractor):
    deliver(site, report("SN1", "sump-fuel", occurred_at=NOW), now=NOW + minutes(10))
    deliver(site, report("SN1", "sump-fuel", occurred_at=NOW), now=NOW + HOUR, by=contractor)

    assert row_of(site)["known_by"] == [
        {"party": "operator", "at": (NOW + minutes(10)).isoformat()},
        {"party": "contractor", "at": (NOW + HOUR).isoformat()},
    ]


def test_a_gateway_speaks_for_the_operator(site, stranger):
    """Nobody at the gateway's company reads the message: it is the operator's own monitoring."""
    world.grant(stranger, site, AccessRole.GATEWAY)
    deliver(site, report("SN1", "sump-fuel", occurred_at=NOW), now=NOW, by=stranger)

    assert row_of(site)["known_by"] == [{"party": "operator", "at": NOW.isoformat()}]


def test_the_operators_discovery_stands_before_the_message_of_its_console(site, alarm):
    known(alarm, discovered_at=NOW + HOUR)
    known(alarm, party="contractor", at=NOW + minutes(20))

    assert row_of(site)["known_by"] == [
        {"party": "contractor", "at": (NOW + minutes(20)).isoformat()},
        {"party": "operator", "at": (NOW + HOUR).isoformat()},
    ]


def each_clock(site, at) -> dict[str, tuple[str, object]]:
    packs = load_packs([PARTIES], activities=recordable())
    judgement = judge(
        read_document(document_of(site)),
        packs,
        at=at,
        jurisdictions=["test-parties"],
        include_not_required=True,
    )
    return {
        one.party: (one.standing, one.due) for one in judgement.findings if one.standing != "not required"
    }


def test_every_party_that_knew_has_its_own_clock_and_answers_for_itself(site, alarm, contractor):
    """6 NYCRR 613-2.4(b)(1): any person with knowledge, within two hours."""
    known(alarm, party="contractor", at=NOW + HOUR, by=contractor)
    deed = Deed(
        activity="report-to-agency",
        performed=Moment(instant=NOW + HOUR),
        measurements={"report": "suspected release", "by": "operator"},
        regarding=f"alarm:{alarm.pk}",
    )
    record_visit(
        facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=NOW + 2 * HOUR
    )

    assert each_clock(site, NOW + 3 * HOUR + minutes(1)) == {
        "operator": ("met", NOW + 2 * HOUR),
        "contractor": ("overdue", NOW + 3 * HOUR),
    }


def test_who_sent_a_failed_result_knew_of_it_and_a_clean_one_has_no_clock(site, contractor):
    """COMAR 26.10.08.01A: each party that knows of a failed test has two hours."""
    deeds = [
        Deed(
            activity="tank-tightness-test",
            performed=Moment(day=TODAY),
            subjects=("T1",),
            outcome=outcome,
            measurements=numbers,
        )
        for outcome, numbers in (("fail", world.LEAKING_TANK), ("pass", world.TIGHT_TANK))
    ]
    record_visit(facility=site, submitted_by=contractor, entered_by="test", deeds=deeds, now=NOW)

    failed, clean = document_of(site)["records"]

    assert failed["known_by"] == [{"party": "contractor", "at": NOW.isoformat()}]
    assert "known_by" not in clean
    assert each_clock(site, NOW + HOUR) == {"contractor": ("due soon", NOW + 2 * HOUR)}


def test_alarms_of_many_facilities_take_the_same_number_of_queries(owner, own):
    sites = [own, *(world.facility(owner, f"S{number}") for number in range(3))]
    for one in sites:
        world.line(one)
        contained(raised(one, "SN1", "sump-fuel"))

    with CaptureQueriesContext(connection) as one, CaptureQueriesContext(connection):
        site_documents([own.pk])
    with CaptureQueriesContext(connection) as many:
        site_documents([each.pk for each in sites])

    assert len(many) == len(one)


def test_a_first_month_of_inventory_over_the_limit_calls_nobody_by_the_hour(site):
    """40 CFR 280.50(c)(3)."""
    alarm = raised(site, "T1", "inventory-over-limit")

    assess.drain(clock=lambda: NOW)

    alarm.refresh_from_db()
    assert (alarm.clock_until, alarm.clock_step_at) == (None, None)
