"""Which answers to an alarm are taken: 40 CFR 280.50(b) and (c), each part of each exception."""

from datetime import timedelta

import pytest

from alarms.conditions import ConditionClass, conditions
from alarms.dispositions import PROOFS, DispositionType
from alarms.models import Exercise
from equipment.faults import Invalid
from equipment.models import Facility
from equipment.services.records import withdraw_record
from tests import world
from tests.alarms.answers import (
    DONE,
    HOUR,
    LATER,
    WATER_OUT,
    alarm_for,
    all_clear,
    answer,
    clean,
    delivery,
    function_check,
    knowing,
    month,
    proof_of,
    recorded,
    refused,
    release,
    told,
)
from tests.alarms.sites import minutes, raised
from tests.world import NOW, TODAY


@pytest.mark.parametrize("type", DispositionType)
def test_an_answer_with_every_part_is_taken_and_moves_the_facts(site, type):
    alarm = alarm_for(type, site)
    evidence = proof_of(type, alarm)
    before = Facility.objects.get(pk=site.pk).facts_version

    stated = answer(alarm, type, **evidence)

    assert (stated.type, stated.at, stated.recorded_by) == (type, LATER, "R. Ames")
    assert Facility.objects.get(pk=site.pk).facts_version == before + 1


@pytest.mark.parametrize(
    ("type", "part", "paragraph"),
    [(type, need.field, need.cite) for type, proof in PROOFS.items() for need in proof.needs],
)
def test_an_answer_without_a_part_is_refused_with_the_paragraph(site, type, part, paragraph):
    """40 CFR 280.40(a), 280.50(b)(1)-(3), (c)(1)-(4), 280.52, 280.61."""
    alarm = alarm_for(type, site)
    evidence = {name: value for name, value in proof_of(type, alarm).items() if name != part}

    with pytest.raises(Invalid) as caught:
        answer(alarm, type, **evidence)

    [fault] = caught.value.faults
    assert (fault.pointer, fault.code) == (f"/evidence/{part}", "missing")
    assert paragraph in fault.detail


def test_the_parts_of_each_exception_are_those_of_the_regulation():
    """40 CFR 280.50(b)(1), (2), (3); (c)(1); (c)(2)(i), (ii); (c)(3); (c)(4), written down by hand from its text.

    The rest answers no exception: water is (b) with a stated cause, a report, a test that found nothing, a fault.
    """
    parts = {str(type): {need.field for need in proof.needs} for type, proof in PROOFS.items()}

    assert parts == {
        "not releasing, fixed": {"checked_at", "finding", "repaired_at", "liquid_removed_at"},
        "device fault": {"repaired_at", "clean_result_at", "record"},
        "contained": {"repaired_at", "liquid_removed_at"},
        "second month clears": {"second_month"},
        "non-release event": {"investigated_at", "cause"},
        "water removed": {"checked_at", "finding", "cause", "repaired_at", "liquid_removed_at"},
        "fault put right": {"repaired_at", "action"},
        "planned test": {"record"},
        "exercise": {"record"},
        "filed as suspected release": {"record"},
        "no release found": {"record"},
        "confirmed release": {"release"},
    }


ALWAYS = {"filed as suspected release", "confirmed release"}
TESTED = {"planned test", "exercise"}
OF_RESULTS = {"device fault", "contained", "non-release event", "no release found"}
OF_FAULTS = {"fault put right", "non-release event"}


@pytest.mark.parametrize(
    ("device", "condition", "answers"),
    [
        # (a) has no exception; (b) one; (c) four. A test that a tester made explains an alarm, but never found product.
        ("SU1", "product-found-outside", ALWAYS | {"no release found"}),
        (
            "SU1",
            "sump-liquid",
            ALWAYS | TESTED | {"not releasing, fixed", "water removed", "no release found"},
        ),
        # What the required method found, SN1, is (c); found elsewhere, SU1, the same is (b).
        ("SU1", "sump-fuel", ALWAYS | TESTED | {"not releasing, fixed", "no release found"}),
        (
            "SU1",
            "tank-interstice-liquid",
            ALWAYS | TESTED | {"not releasing, fixed", "water removed", "no release found"},
        ),
        ("SN1", "sump-fuel", ALWAYS | TESTED | OF_RESULTS),
        ("SN1", "tank-interstice-liquid", ALWAYS | TESTED | OF_RESULTS | {"water removed"}),
        ("SU1", "inventory-over-limit", ALWAYS | TESTED | OF_RESULTS | {"second month clears"}),
        ("SU1", "sensor-fault", ALWAYS | TESTED | OF_FAULTS),
        ("SU1", "low-product", ALWAYS | TESTED | OF_FAULTS),
    ],
)
def test_each_class_of_alarm_has_its_own_answers(site, device, condition, answers):
    """40 CFR 280.50(a), (b), (c)."""
    alarm = raised(site, device, condition)

    taken = {
        str(type)
        for type in DispositionType
        if "/type" not in refused_or_none(alarm, type, proof_of(type, alarm))
    }

    assert taken == answers


def test_every_class_has_an_answer_that_says_the_alarm_was_no_release():
    """Nobody may have to state an untruth to be done with an alarm."""
    untrue = {DispositionType.CONFIRMED, DispositionType.FILED}

    for one in ConditionClass:
        assert any(one in PROOFS[type].classes for type in set(DispositionType) - untrue), one


def test_the_conditions_that_an_answer_is_limited_to_are_in_the_catalogue():
    limited = {one for proof in PROOFS.values() for one in proof.conditions or ()}

    assert limited <= set(conditions())


def refused_or_none(alarm, type, evidence) -> set[str]:
    try:
        answer(alarm, type, **evidence)
    except Invalid as refusal:
        return {fault.pointer for fault in refusal.faults}
    return set()


@pytest.mark.parametrize("type", [DispositionType.NOT_RELEASING, DispositionType.WATER_REMOVED])
def test_where_the_check_found_nothing_defective_nobody_has_to_invent_a_repair(site, type):
    """40 CFR 280.50(b)(2): any defective equipment is repaired or replaced; no other."""
    alarm = alarm_for(type, site)
    evidence = proof_of(type, alarm) | {"repaired_at": None}
    assert refused(alarm, type, **evidence) == {"/evidence/repaired_at": "missing"}
    assert refused(alarm, type, **evidence, no_defect=False) == {"/evidence/repaired_at": "missing"}

    assert answer(alarm, type, **evidence, no_defect=True).pk


def test_a_loss_that_a_missing_sale_explains_is_answered_truthfully(site):
    """40 CFR 280.50(b)(1)-(3): not releasing, nothing defective, no liquid to take out."""
    alarm = raised(site, "T1", "sudden-loss")
    knowing(alarm, no_liquid=True)
    said = {"checked_at": DONE, "finding": "a sale of 300 gal was not entered", "no_defect": True}

    assert answer(alarm, DispositionType.NOT_RELEASING, **said).pk


@pytest.mark.parametrize(
    ("type", "fact"),
    [(DispositionType.NOT_RELEASING, "no_liquid"), (DispositionType.CONTAINED, "liquid_is_method")],
)
def test_where_no_liquid_had_to_go_nobody_has_to_take_it_out(site, type, fact):
    """40 CFR 280.50(b)(3), (c)(2)(i): except liquid that is part of the method; and there must have been some."""
    alarm = alarm_for(type, site)
    evidence = proof_of(type, alarm) | {"liquid_removed_at": None}
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
    alarm = raised(site, "SN1", "sump-fuel")

    assert (
        refused(alarm, DispositionType.CONTAINED, **proof_of(DispositionType.CONTAINED, alarm) | stated)
        == fault
    )


def test_an_answer_before_the_alarm_is_refused(site):
    alarm = raised(site, "SN1", "sump-fuel")

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
    alarm = raised(site, "SN1", "sump-fuel")
    evidence = proof_of(DispositionType.DEVICE_FAULT, alarm) | {"clean_result_at": NOW + minutes(1)}

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
        (DispositionType.DEVICE_FAULT, "record", month, "wrong-kind"),
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
    evidence = proof_of(type, alarm) | {name: made(site).pk}

    assert refused(alarm, type, **evidence) == {f"/evidence/{name}": code}


@pytest.mark.parametrize(
    ("type", "made", "code"),
    [
        (DispositionType.EXERCISE, lambda alarm: clean(alarm.facility), "wrong-kind"),
        (DispositionType.EXERCISE, lambda alarm: function_check(alarm, of="SN1"), "wrong-kind"),
        (DispositionType.EXERCISE, lambda alarm: function_check(alarm, outcome="fail"), "wrong-kind"),
        (
            DispositionType.EXERCISE,
            lambda alarm: function_check(alarm, day=TODAY - timedelta(days=2)),
            "order",
        ),
        (DispositionType.FILED, all_clear, "wrong-kind"),
        (DispositionType.FILED, lambda alarm: told(alarm, report="spill"), "wrong-kind"),
        (DispositionType.FILED, lambda alarm: told(alarm, day=TODAY - timedelta(days=2)), "order"),
        (DispositionType.FILED, lambda alarm: told(raised(alarm.facility, "T1")), "wrong-kind"),
        (
            DispositionType.FILED,
            lambda alarm: recorded(alarm.facility, "report-to-agency", report="suspected release"),
            "wrong-kind",
        ),
        (DispositionType.NO_RELEASE, told, "wrong-kind"),
        (DispositionType.NO_RELEASE, lambda alarm: all_clear(alarm, outcome="fail"), "wrong-kind"),
        (DispositionType.NO_RELEASE, lambda alarm: all_clear(raised(alarm.facility, "T1")), "wrong-kind"),
        (
            DispositionType.NO_RELEASE,
            lambda alarm: all_clear(alarm, day=TODAY - timedelta(days=1)),
            "order",
        ),
    ],
)
def test_a_record_that_does_not_show_what_the_answer_says_is_refused(site, type, made, code):
    """40 CFR 280.50: the report is about this suspected release; 280.52: so is the test that clears it."""
    alarm = alarm_for(type, site)

    assert refused(alarm, type, record=made(alarm).pk) == {"/evidence/record": code}


def test_a_function_check_that_nobody_planned_explains_nothing(site):
    """Stated afterwards it could claim any alarm: common practice, no source."""
    alarm = raised(site, "SN1", "sump-fuel")
    record = function_check(alarm)
    Exercise.objects.update(starts_at=alarm.raised_at + timedelta(seconds=1))

    assert refused(alarm, DispositionType.EXERCISE, record=record.pk) == {"/evidence/record": "unplanned"}


def test_where_product_was_found_outside_only_the_ground_can_clear_it(site):
    """40 CFR 280.52(a)(3), (4): a tight system ends it, except where contamination is the basis."""
    indoors, outside = raised(site, "SN1", "sump-fuel"), raised(site, "SU1", "product-found-outside")
    tight = {alarm: all_clear(alarm, activity="system-test").pk for alarm in (indoors, outside)}

    assert answer(indoors, DispositionType.NO_RELEASE, record=tight[indoors]).pk
    assert refused(outside, DispositionType.NO_RELEASE, record=tight[outside]) == {
        "/evidence/record": "wrong-kind"
    }


def test_where_no_part_was_defective_none_has_to_be_repaired(site):
    """40 CFR 280.50(b)(2): any *defective* equipment is repaired; that there was none has to be stated."""
    alarm = raised(site, "SU1", "sump-liquid")
    nothing_repaired = WATER_OUT | {"repaired_at": None}

    for said in (None, False):
        assert refused(alarm, DispositionType.WATER_REMOVED, **nothing_repaired, no_defect=said) == {
            "/evidence/repaired_at": "missing"
        }
    assert answer(alarm, DispositionType.WATER_REMOVED, **nothing_repaired, no_defect=True).no_defect is True


def test_fuel_in_a_sump_is_not_answered_by_taking_water_out(site):
    """40 CFR 280.50(c)(2) is the way for fuel that the containment held."""
    alarm = raised(site, "SN1", "sump-fuel")

    assert refused(alarm, DispositionType.WATER_REMOVED, **WATER_OUT) == {"/type": "wrong-kind"}


@pytest.mark.parametrize("done", [{"when": LATER - minutes(1)}, {"day": TODAY + timedelta(days=1)}])
def test_an_answer_holds_no_earlier_than_the_result_that_shows_it(site, done):
    """40 CFR 280.50(c)(1): until the clean result the first one stood."""
    alarm = raised(site, "SN1", "sump-fuel")
    test = clean(site, **done, known=LATER + timedelta(days=1))
    evidence = {"repaired_at": DONE, "clean_result_at": DONE, "record": test.pk}

    refusal = refused(alarm, DispositionType.DEVICE_FAULT, at=LATER - minutes(2), **evidence)

    assert refusal == {"/evidence/record": "order"}


def test_a_withdrawn_fact_is_refused(site):
    alarm = raised(site, "SN1", "sump-fuel")
    test = clean(site)
    withdraw_record(record=test, reason="wrong site", by="test", now=LATER)

    assert refused(alarm, DispositionType.PLANNED_TEST, record=test.pk) == {"/evidence/record": "withdrawn"}


@pytest.mark.parametrize("name", ["record", "second_month", "delivery", "release"])
def test_a_fact_of_another_facility_is_refused_like_one_that_does_not_exist(site, foreign, name):
    world.line(foreign)
    theirs = {"record": clean, "second_month": month, "delivery": delivery, "release": release}[name](foreign)
    alarm = raised(site, "SN1", "sump-fuel")

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
