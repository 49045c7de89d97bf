"""How an alarm can be disposed of, which class of alarm each way answers, and what has to be shown for it.

40 CFR 280.50(b) and (c) let a clock stop only for one of their exceptions, and only with every part of its proof. A
disposition without a part is refused here, with the paragraph; whether the parts were in time is for the rules to say.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

import msgspec

from alarms.conditions import ConditionClass

RELEASED, UNUSUAL = ConditionClass.RELEASED_PRODUCT, ConditionClass.UNUSUAL_OPERATING_CONDITION
RESULT, FAULT = ConditionClass.MONITORING_RESULT, ConditionClass.EQUIPMENT_FAULT
OPERATING = ConditionClass.OPERATING
ALL = frozenset(ConditionClass)
OPERATOR, CONTRACTOR = "operator", "contractor"
"""Parties that may come to know of an alarm. Others are named in free words."""


class DispositionType(StrEnum):
    """The typed answers to an alarm."""

    NOT_RELEASING = "not releasing, fixed"
    WATER_REMOVED = "water removed"
    DEVICE_FAULT = "device fault"
    CONTAINED = "contained"
    SECOND_MONTH = "second month clears"
    NON_RELEASE = "non-release event"
    FAULT_PUT_RIGHT = "fault put right"
    PLANNED_TEST = "planned test"
    EXERCISE = "exercise"
    FILED = "filed as suspected release"
    NO_RELEASE = "no release found"
    CONFIRMED = "confirmed release"


MOMENTS = ("checked_at", "repaired_at", "liquid_removed_at", "clean_result_at", "investigated_at")
"""Evidence that says when something was done. Instants, since the regulation counts hours."""
WORDS = ("finding", "cause", "action")
FLAGS = ("no_defect",)
REFERENCES = ("record", "second_month", "delivery", "release")
"""Evidence that is a fact on file at the same facility."""

WATER = frozenset({"sump-liquid", "high-water", "tank-interstice-liquid", "piping-interstice-liquid"})
"""Conditions that water alone can raise. A sensor that tells fuel from water said fuel: that is no water."""
MONITORING = frozenset(
    {
        "tank-tightness-test",
        "line-tightness-test",
        "electronic-line-test",
        "tank-monitoring-result",
        "piping-monitoring-result",
        "manual-tank-gauging",
        "system-test",
    }
)
"""Activities whose result can be the additional monitoring of 280.50(c)(1). A test of the sensor alone is none."""
SITE_CHECK = "site-check"
SUSPECTED = "suspected release"
"""What a report to the agency is about when it answers the clock of 280.50."""


class Need(msgspec.Struct, frozen=True):
    """One part of a proof.

    `unless`: a fact about the alarm that makes this part needless. `instead`: evidence that may take its place when
    it is stated as true.
    """

    field: str
    cite: str
    why: str
    unless: str | None = None
    instead: str | None = None


class Proof(msgspec.Struct, frozen=True):
    """Which classes of alarm an answer is for, the conditions if not all of them, and every part it needs."""

    classes: frozenset[ConditionClass]
    cite: str
    needs: tuple[Need, ...]
    conditions: frozenset[str] | None = None


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """What has to be known of an alarm to check an answer to it."""

    condition: str
    condition_class: str | None
    raised_at: datetime
    liquid_is_method: bool = False
    no_liquid: bool = False


class Lack(msgspec.Struct, frozen=True):
    """What is wrong with an answer: the field (`type`, `at` or one of the evidence), what to do, a code word."""

    field: str
    detail: str
    code: str


# (b)(2) speaks of defective parts only: a sale that nobody entered, or a sensor that was knocked out of place, leaves
# nothing to repair. That the check found none so is stated, never left out.
REPAIRED_IF_DEFECTIVE = Need(
    "repaired_at",
    "280.50(b)(2)",
    "when the defective part was repaired or replaced; if none was, state no_defect",
    instead="no_defect",
)
PROOFS: Mapping[DispositionType, Proof] = MappingProxyType(
    {
        DispositionType.NOT_RELEASING: Proof(
            frozenset({UNUSUAL}),
            "40 CFR 280.50(b)(1)-(3)",
            (
                Need("checked_at", "280.50(b)(1)", "when the equipment was checked for a release"),
                Need("finding", "280.50(b)(1)", "what the check found"),
                REPAIRED_IF_DEFECTIVE,
                Need(
                    "liquid_removed_at",
                    "280.50(b)(3)",
                    "when the liquid was taken out; if there was none, state no_liquid of the alarm",
                    "no_liquid",
                ),
            ),
        ),
        # For a monitoring result this is (c)(4), investigated and found to
        # be water from outside; the liquid and the repair of (c)(2) are asked for all the same.
        DispositionType.WATER_REMOVED: Proof(
            frozenset({UNUSUAL, RESULT}),
            "40 CFR 280.50(b)(1)-(3), (c)(4)",
            (
                Need("checked_at", "280.50(b)(1), (c)(4)", "when the equipment was checked for a release"),
                Need("finding", "280.50(b)(1)", "what the check found"),
                Need("cause", "280.50(c)(4)", "where the water came from"),
                REPAIRED_IF_DEFECTIVE,
                Need("liquid_removed_at", "280.50(b)(3)", "when the water was taken out"),
            ),
            WATER,
        ),
        DispositionType.DEVICE_FAULT: Proof(
            frozenset({RESULT}),
            "40 CFR 280.50(c)(1)",
            (
                Need("repaired_at", "280.50(c)(1)", "when the device was repaired, calibrated or replaced"),
                Need("clean_result_at", "280.50(c)(1)", "when monitoring afterwards showed no leak"),
                Need("record", "280.50(c)(1)", "the record of that clean result"),
            ),
        ),
        DispositionType.CONTAINED: Proof(
            frozenset({RESULT}),
            "40 CFR 280.50(c)(2)",
            (
                Need("repaired_at", "280.50(c)(2)(ii)", "when the defective part was repaired or replaced"),
                Need(
                    "liquid_removed_at",
                    "280.50(c)(2)(i)",
                    "when the liquid was taken out; if it belongs to the method, state liquid_is_method of the alarm",
                    "liquid_is_method",
                ),
            ),
        ),
        DispositionType.SECOND_MONTH: Proof(
            frozenset({RESULT}),
            "40 CFR 280.50(c)(3)",
            (Need("second_month", "280.50(c)(3)", "the record of the second month of inventory"),),
            frozenset({"inventory-over-limit"}),
        ),
        DispositionType.NON_RELEASE: Proof(
            frozenset({RESULT, FAULT, OPERATING}),
            "40 CFR 280.50(c)(4)",
            (
                Need("investigated_at", "280.50(c)(4)", "when the alarm was investigated"),
                Need("cause", "280.50(c)(4)", "what it was instead of a release"),
            ),
        ),
        DispositionType.FAULT_PUT_RIGHT: Proof(
            frozenset({FAULT, OPERATING}),
            "40 CFR 280.40(a) for what monitors; the rest is common practice, no source",
            (
                Need("repaired_at", "280.40(a)", "when it was put right"),
                Need("action", "280.40(a)", "what was done"),
            ),
        ),
        DispositionType.PLANNED_TEST: Proof(
            ALL - {RELEASED},
            "40 CFR 280.50(c)(4), as read here",
            (Need("record", "280.50(c)(4)", "the record of the test that raised the alarm"),),
        ),
        DispositionType.EXERCISE: Proof(
            ALL - {RELEASED},
            "40 CFR 280.50(c)(4), as read here",
            (Need("record", "280.50(c)(4)", "the record of the function check that raised the alarm"),),
        ),
        DispositionType.FILED: Proof(
            ALL,
            "40 CFR 280.50",
            (Need("record", "280.50", "the record of the report to the agency about this alarm"),),
        ),
        DispositionType.NO_RELEASE: Proof(
            frozenset({RELEASED, UNUSUAL, RESULT}),
            "40 CFR 280.52(a)(3), (b)(2)",
            (
                Need(
                    "record", "280.52", "the system test or site check about this alarm that found no release"
                ),
            ),
        ),
        DispositionType.CONFIRMED: Proof(
            ALL,
            "40 CFR 280.61",
            (Need("release", "280.61", "the release, whose own clocks take over"),),
        ),
    }
)


SHOWN_BY: Mapping[DispositionType, frozenset[str]] = MappingProxyType(
    {
        DispositionType.DEVICE_FAULT: MONITORING,
        DispositionType.EXERCISE: frozenset({"sensor-function-check"}),
        DispositionType.FILED: frozenset({"report-to-agency"}),
        DispositionType.NO_RELEASE: frozenset({"system-test", SITE_CHECK}),
    }
)
"""What the record of an answer must be a record of; any activity for the other types."""
ABOUT_THE_ALARM = frozenset({DispositionType.FILED, DispositionType.NO_RELEASE})
"""Types whose record says, under `regarding`, that it is about this alarm: there the rules look for it too."""


def alarm_ref(alarm_id: int) -> str:
    """An alarm's id where rules read it, and in a record's `regarding`."""
    return f"alarm:{alarm_id}"


def lacks_of(
    type: DispositionType, at: datetime, evidence: Mapping[str, object], alarm: Standing
) -> Iterator[Lack]:
    """Everything that keeps the answer from being one. An alarm of unknown class takes any type."""
    proof = PROOFS[type]
    if alarm.condition_class is not None and alarm.condition_class not in proof.classes:
        yield Lack("type", _answers_other(type, proof, alarm.condition_class), "wrong-kind")
        return
    if proof.conditions is not None and alarm.condition_class and alarm.condition not in proof.conditions:
        only = ", ".join(repr(one) for one in sorted(proof.conditions))
        detail = f"{str(type)!r} does not answer {alarm.condition!r}, only {only} ({proof.cite})"
        yield Lack("type", detail, "wrong-kind")
        return
    for need in proof.needs:
        if evidence.get(need.field) is None and not _needless(need, evidence, alarm):
            yield Lack(need.field, f"is missing: {need.why} ({need.cite})", "missing")
    yield from _out_of_order(at, evidence, alarm)


def _needless(need: Need, evidence: Mapping[str, object], alarm: Standing) -> bool:
    if need.unless is not None and getattr(alarm, need.unless):
        return True
    return need.instead is not None and evidence.get(need.instead) is True


def _answers_other(type: DispositionType, proof: Proof, stated: str) -> str:
    fitting = ", ".join(repr(str(one)) for one, other in PROOFS.items() if stated in other.classes)
    return f"{str(type)!r} does not answer an alarm of class {stated!r} ({proof.cite}); one of {fitting} does"


def _out_of_order(at: datetime, evidence: Mapping[str, object], alarm: Standing) -> Iterator[Lack]:
    """What was done lies between the alarm and the answer; a result before the repair does not speak for it."""
    if at < alarm.raised_at:
        yield Lack("at", "lies before the alarm was raised", "order")
    for name in MOMENTS:
        done = evidence.get(name)
        if isinstance(done, datetime) and done > at:
            yield Lack(name, "lies after `at`: an answer holds from when all of it was done", "order")
        if isinstance(done, datetime) and done < alarm.raised_at:
            yield Lack(name, "lies before the alarm was raised, so it does not speak of this alarm", "order")
    repaired, clean = evidence.get("repaired_at"), evidence.get("clean_result_at")
    if isinstance(repaired, datetime) and isinstance(clean, datetime) and clean < repaired:
        yield Lack("clean_result_at", "lies before the repair that it is to prove (280.50(c)(1))", "order")
