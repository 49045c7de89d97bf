"""Which answers to an alarm are taken: 40 CFR 280.50(b) and (c), each part of each exception."""

from datetime import timedelta

import pytest

from alarms.dispositions import PROOFS, DispositionType
from alarms.models import AlarmKnowledge, Disposition
from alarms.services.answering import acknowledge
from alarms.services.dispositions import dispose, state_knowledge
from equipment.faults import Conflict, Invalid
from equipment.models import Delivery, Facility, Record
from equipment.moments import Moment
from equipment.services.happenings import state_delivery, state_release
from equipment.services.records import Deed, record_visit, withdraw_record
from tests import world
from tests.alarms.sites import minutes, raised
from tests.world import NOW, TODAY

HOUR = timedelta(hours=1)
LATER = NOW + 5 * HOUR

TOLD = {"by": "test", "now": NOW}


def recorded(at: Facility, activity: str, *, day=TODAY, outcome=None, **measured) -> Record:
    deed = Deed(
        activity=activity,
        performed=Moment(day=day),
        subjects=("T1",) if activity in ("inventory-month", "tank-monitoring-result") else (),
        outcome=outcome,
        measurements=measured,
    )
    return record_visit(
        facility=at, submitted_by=at.operator, entered_by="test", deeds=[deed], now=LATER
    ).records[0]


def clean(at: Facility, **changed) -> Record:
    stated = {"outcome": "pass", "method": "automatic tank gauging"} | changed
    return recorded(at, "tank-monitoring-result", **stated)


def month(at: Facility, **changed) -> Record:
    return recorded(at, "inventory-month", throughput_gal=9000, net_gal=5, **changed)


def release(at: Facility) -> object:
    return state_release(
        facility=at,
        submitted_by=at.operator,
        identified_at=None,
        confirmed_at=Moment(day=TODAY),
        alarm=None,
        fields={},
        **TOLD,
    )


def delivery(at: Facility) -> Delivery:
    return state_delivery(
        facility=at,
        submitted_by=at.operator,
        subjects=["T1"],
        started_at=Moment(day=TODAY),
        ended_at=None,
        fields={},
        **TOLD,
    )


CONDITION_OF = {
    DispositionType.NOT_RELEASING: "sump-liquid",
    DispositionType.SECOND_MONTH: "inventory-over-limit",
    DispositionType.CONFIRMED: "product-found-outside",
}
DONE = NOW + HOUR


def proof_of(type: DispositionType, at: Facility) -> dict:
    """Everything that the type needs."""
    given = {
        DispositionType.NOT_RELEASING: lambda: {
            "checked_at": DONE,
            "finding": "rain water through the lid",
            "repaired_at": DONE,
            "liquid_removed_at": DONE,
        },
        DispositionType.DEVICE_FAULT: lambda: {
            "repaired_at": DONE,
            "clean_result_at": DONE,
            "record": clean(at).pk,
        },
        DispositionType.CONTAINED: lambda: {"repaired_at": DONE, "liquid_removed_at": DONE},
        DispositionType.SECOND_MONTH: lambda: {"second_month": month(at).pk},
        DispositionType.NON_RELEASE: lambda: {"investigated_at": DONE, "cause": "power surge"},
        DispositionType.PLANNED_TEST: lambda: {"record": clean(at).pk},
        DispositionType.CONFIRMED: lambda: {"release": release(at).pk},
    }
    return given[type]()


def answer(alarm, type, *, at=LATER, now=LATER, by=None, **evidence) -> Disposition:
    return dispose(
        alarm=alarm,
        type=type,
        at=at,
        evidence=evidence,
        by="R. Ames",
        organisation=by or alarm.facility.operator,
        now=now,
    )


def refused(alarm, type, **stated) -> dict[str, str]:
    """The code of each fault by its pointer; nothing was stored."""
    before = Disposition.objects.count()
    with pytest.raises(Invalid) as caught:
        answer(alarm, type, **stated)
    assert Disposition.objects.count() == before
    return {fault.pointer: fault.code for fault in caught.value.faults}


def alarm_for(type: DispositionType, site):
    return raised(site, "SU1", CONDITION_OF.get(type, "sump-fuel"))


@pytest.mark.parametrize("type", DispositionType)
def test_an_answer_with_every_part_is_taken_and_moves_the_facts(site, type):
    alarm = alarm_for(type, site)
    evidence = proof_of(type, site)
    before = Facility.objects.get(pk=site.pk).facts_version

    stated = answer(alarm, type, **evidence)

    assert (stated.type, stated.at, stated.recorded_by) == (type, LATER, "R. Ames")
    assert Facility.objects.get(pk=site.pk).facts_version == before + 1


@pytest.mark.parametrize(
    ("type", "part", "paragraph"),
    [(type, need.field, need.cite) for type, proof in PROOFS.items() for need in proof.needs],
)
def test_an_answer_without_a_part_is_refused_with_the_paragraph(site, type, part, paragraph):
    """40 CFR 280.50(b)(1)-(3), (c)(1)-(4), 280.61."""
    alarm = alarm_for(type, site)
    evidence = {name: value for name, value in proof_of(type, site).items() if name != part}

    with pytest.raises(Invalid) as caught:
        answer(alarm, type, **evidence)

    [fault] = caught.value.faults
    assert (fault.pointer, fault.code) == (f"/evidence/{part}", "missing")
    assert paragraph in fault.detail


def test_the_parts_of_each_exception_are_those_of_the_regulation():
    """40 CFR 280.50(b)(1), (2), (3); (c)(1); (c)(2)(i), (ii); (c)(3); (c)(4), written down by hand from its text."""
    parts = {str(type): {need.field for need in proof.needs} for type, proof in PROOFS.items()}

    assert parts == {
        "not releasing, fixed": {"checked_at", "finding", "repaired_at", "liquid_removed_at"},
        "device fault": {"repaired_at", "clean_result_at", "record"},
        "contained": {"repaired_at", "liquid_removed_at"},
        "second month clears": {"second_month"},
        "non-release event": {"investigated_at", "cause"},
        "planned test": {"record"},
        "confirmed release": {"release"},
    }


@pytest.mark.parametrize(
    ("condition", "answers"),
    [
        # (a) has no exception; (b) one; (c) four. A test that a tester made explains an alarm, but never found product.
        ("product-found-outside", {"confirmed release"}),
        ("sump-liquid", {"not releasing, fixed", "planned test", "confirmed release"}),
        (
            "sump-fuel",
            {"device fault", "contained", "non-release event", "planned test", "confirmed release"},
        ),
        (
            "inventory-over-limit",
            {
                "device fault",
                "contained",
                "second month clears",
                "non-release event",
                "planned test",
                "confirmed release",
            },
        ),
        ("sensor-fault", {"planned test", "confirmed release"}),
    ],
)
def test_each_class_of_alarm_has_its_own_answers(site, condition, answers):
    """40 CFR 280.50(a), (b), (c)."""
    alarm = raised(site, "SU1", condition)

    taken = {
        str(type)
        for type in DispositionType
        if "/type" not in refused_or_none(alarm, type, proof_of(type, site))
    }

    assert taken == answers


def refused_or_none(alarm, type, evidence) -> set[str]:
    try:
        answer(alarm, type, **evidence)
    except Invalid as refusal:
        return {fault.pointer for fault in refusal.faults}
    return set()


@pytest.mark.parametrize(
    ("type", "fact"),
    [(DispositionType.NOT_RELEASING, "no_liquid"), (DispositionType.CONTAINED, "liquid_is_method")],
)
def test_where_no_liquid_had_to_go_nobody_has_to_take_it_out(site, type, fact):
    """40 CFR 280.50(b)(3), (c)(2)(i): except liquid that is part of the method; and there must have been some."""
    alarm = alarm_for(type, site)
    evidence = proof_of(type, site) | {"liquid_removed_at": None}
    assert refused(alarm, type, **evidence) == {"/evidence/liquid_removed_at": "missing"}

    knowing(alarm, **{fact: True})

    assert answer(alarm, type, **evidence).pk


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        ({"at": LATER + HOUR}, {"/at": "future"}),
        ({"repaired_at": LATER + HOUR}, {"/evidence/repaired_at": "future"}),
        (
            {"at": DONE - minutes(1)},
            {"/evidence/repaired_at": "order", "/evidence/liquid_removed_at": "order"},
        ),
        ({"repaired_at": NOW - HOUR}, {"/evidence/repaired_at": "order"}),
    ],
)
def test_what_has_not_happened_yet_or_not_of_this_alarm_proves_nothing(site, stated, fault):
    alarm = raised(site, "SU1", "sump-fuel")

    assert (
        refused(alarm, DispositionType.CONTAINED, **proof_of(DispositionType.CONTAINED, site) | stated)
        == fault
    )


def test_an_answer_before_the_alarm_is_refused(site):
    alarm = raised(site, "SU1", "sump-fuel")

    assert (
        refused(
            alarm,
            DispositionType.CONTAINED,
            at=NOW - HOUR,
            repaired_at=NOW - HOUR,
            liquid_removed_at=NOW - HOUR,
        )["/at"]
        == "order"
    )


def test_a_result_before_the_repair_does_not_speak_for_it(site):
    """40 CFR 280.50(c)(1): additional monitoring."""
    alarm = raised(site, "SU1", "sump-fuel")
    evidence = proof_of(DispositionType.DEVICE_FAULT, site) | {"clean_result_at": NOW + minutes(1)}

    assert refused(alarm, DispositionType.DEVICE_FAULT, **evidence) == {"/evidence/clean_result_at": "order"}


@pytest.mark.parametrize(
    ("type", "name", "made", "code"),
    [
        (DispositionType.DEVICE_FAULT, "record", lambda at: clean(at, outcome="fail"), "wrong-kind"),
        (DispositionType.DEVICE_FAULT, "record", lambda at: clean(at, outcome="inconclusive"), "wrong-kind"),
        (
            DispositionType.DEVICE_FAULT,
            "record",
            lambda at: clean(at, day=TODAY - timedelta(days=1)),
            "order",
        ),
        (
            DispositionType.PLANNED_TEST,
            "record",
            lambda at: clean(at, day=TODAY - timedelta(days=2)),
            "order",
        ),
        (DispositionType.SECOND_MONTH, "second_month", clean, "wrong-kind"),
        (
            DispositionType.SECOND_MONTH,
            "second_month",
            lambda at: month(at, day=TODAY - timedelta(days=1)),
            "order",
        ),
    ],
)
def test_a_fact_that_does_not_show_what_it_is_named_for_is_refused(site, type, name, made, code):
    alarm = alarm_for(type, site)
    evidence = proof_of(type, site) | {name: made(site).pk}

    assert refused(alarm, type, **evidence) == {f"/evidence/{name}": code}


def test_a_withdrawn_fact_is_refused(site):
    alarm = raised(site, "SU1", "sump-fuel")
    test = clean(site)
    withdraw_record(record=test, reason="wrong site", by="test", now=LATER)

    assert refused(alarm, DispositionType.PLANNED_TEST, record=test.pk) == {"/evidence/record": "withdrawn"}


@pytest.mark.parametrize("name", ["record", "second_month", "delivery", "release"])
def test_a_fact_of_another_facility_is_refused_like_one_that_does_not_exist(site, foreign, name):
    world.line(foreign)
    theirs = {"record": clean, "second_month": month, "delivery": delivery, "release": release}[name](foreign)
    alarm = raised(site, "SU1", "sump-fuel")

    def told(number: int) -> list[str]:
        with pytest.raises(Invalid) as caught:
            answer(alarm, DispositionType.NON_RELEASE, investigated_at=DONE, cause="x", **{name: number})
        return [fault.detail.replace(str(number), "N") for fault in caught.value.faults]

    assert told(theirs.pk) == told(999_999)


def test_a_delivery_that_explains_the_alarm_is_kept_with_the_answer(site):
    """40 CFR 280.50(c)(4): filling the tank during a test is one of the examples in the text."""
    fuel = delivery(site)
    alarm = raised(site, "SU1", "tank-test-fail")

    stated = answer(
        alarm, DispositionType.NON_RELEASE, investigated_at=DONE, cause="filled", delivery=fuel.pk
    )

    assert stated.delivery == fuel


def knowing(alarm, *, now=LATER, by=None, **stated) -> AlarmKnowledge:
    organisation = by or alarm.facility.operator
    return state_knowledge(alarm=alarm, stated=stated, by="R. Ames", organisation=organisation, now=now)


@pytest.fixture
def alarm(site):
    return raised(site, "SU1", "sump-fuel")


def test_the_discovery_is_stated_once_and_the_alarm_shows_it(alarm):
    knowing(alarm, discovered_at=DONE)
    knowing(alarm, discovered_at=DONE)

    with pytest.raises(Conflict, match="stated once"):
        knowing(alarm, discovered_at=DONE + minutes(1))

    alarm.refresh_from_db()
    assert alarm.discovered_at == DONE


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        ({}, {"": "missing"}),
        ({"party": "operator"}, {"/at": "missing"}),
        ({"at": DONE}, {"/party": "missing"}),
        ({"discovered_at": NOW - minutes(1)}, {"/discovered_at": "order"}),
        ({"party": "operator", "at": NOW - minutes(1)}, {"/at": "order"}),
        ({"discovered_at": LATER + HOUR}, {"/discovered_at": "future"}),
    ],
)
def test_knowledge_that_cannot_be_is_refused(alarm, stated, fault):
    with pytest.raises(Invalid) as caught:
        knowing(alarm, **stated)

    assert {one.pointer: one.code for one in caught.value.faults} == fault
    assert not AlarmKnowledge.objects.exists()


def test_whoever_answered_a_call_had_discovered_the_alarm(alarm):
    """40 CFR 280.50: the clock starts at discovery; nobody answers what nobody has discovered."""
    acknowledge(alarm=alarm, by="dock", note=None, now=DONE)

    with pytest.raises(Invalid) as caught:
        knowing(alarm, discovered_at=DONE + minutes(1))

    assert [fault.pointer for fault in caught.value.faults] == ["/discovered_at"]


def test_a_party_may_turn_out_to_have_known_earlier_but_never_later(alarm):
    knowing(alarm, party="contractor", at=DONE)
    knowing(alarm, party="contractor", at=DONE - minutes(5))

    with pytest.raises(Conflict, match="nobody comes to know later"):
        knowing(alarm, party="contractor", at=DONE)
