"""Which protocol judges which activity, by the catalogue's slugs and measurement names."""

from collections.abc import Callable, Mapping

import msgspec

from compliance.protocols import (
    between_walls,
    bulk_line,
    cathodic,
    dock,
    equipment_tests,
    groundwater,
    inventory,
    line_leak_detector,
    line_tightness,
    manual_gauging,
    overfill,
    rectifier,
    sir,
    spill_bucket,
    sump,
    tank_tightness,
)
from compliance.protocols.criteria import NoCriterion
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, disagrees

Protocol = Callable[[Readings, Setting], Verdict | None]

ACTIVITIES: Mapping[str, Protocol] = {
    "spill-bucket-test": spill_bucket.judge,
    "sump-test": sump.judge,
    "secondary-containment-test": between_walls.judge,
    "overfill-inspection": overfill.judge,
    "line-leak-detector-test": line_leak_detector.judge,
    "controller-test": equipment_tests.judge_controller,
    "probe-sensor-test": equipment_tests.judge_probe,
    "vacuum-pressure-test": equipment_tests.judge_vacuum,
    "line-tightness-test": bulk_line.judge,
    "electronic-line-test": line_tightness.judge_electronic,
    "tank-tightness-test": tank_tightness.judge,
    "cathodic-protection-test": cathodic.judge,
    "rectifier-check": rectifier.judge,
    "dock-line-pressure-test": dock.judge_line,
    "emergency-shutoff-test": dock.judge_shutoff,
    "inventory-month": inventory.judge,
    "manual-tank-gauging": manual_gauging.judge,
}

# Those that look a level up in the tank's own chart.
CHARTED = frozenset({"overfill-inspection", "manual-tank-gauging"})

# The result of a month's monitoring is judged by its method; not_computed.toml says why the others are not.
METHODS: Mapping[str, Protocol] = {
    "automatic tank gauging": tank_tightness.judge_gauge,
    "tank tightness testing": tank_tightness.judge,
    "statistical inventory reconciliation": sir.judge,
    "interstitial monitoring": between_walls.judge_monitoring,
    "groundwater monitoring": groundwater.judge,
    "line tightness testing annual": line_tightness.judge_result,
    "line tightness testing 3 yr": line_tightness.judge_result,
}
MONITORING = ("tank-monitoring-result", "piping-monitoring-result")


def verdict(
    activity: str, measurements: Mapping[str, object], reported_outcome: str | None, *, setting: Setting
) -> Verdict | None:
    """What the numbers of a record say, beside what it reported.

    None where there is nothing to compute: another activity, a method without a published limit, or a day before the
    criterion was in force. The outcome as reported then stands alone.
    """
    readings = Readings(measurements)
    judge = ACTIVITIES.get(activity)
    if activity in MONITORING:
        judge = METHODS.get(readings.word("method") or "")
    if judge is None:
        return None
    try:
        found = judge(readings, setting)
    except NoCriterion:
        return None
    if found is None:
        return None
    return msgspec.structs.replace(
        found, reported=reported_outcome, disagreement=disagrees(reported_outcome, found.outcome)
    )
