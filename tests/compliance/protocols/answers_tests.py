"""What our code answers to the examples on tests: containment, overfill, lines, tanks, cathodic protection, wells."""

import tomllib
from decimal import Decimal
from pathlib import Path

from compliance import rulepacks
from compliance.protocols import Setting, Verdict
from compliance.protocols.criteria import in_force
from compliance.protocols.overfill import SHUTOFF, device_height, latest_volume
from compliance.protocols.readings import Readings, exact
from equipment.physics.units import convert
from tests.compliance.protocols.answers_physics import eighth_of_an_inch
from tests.compliance.protocols.worked import CALIFORNIA, FEDERAL, NUMBERS, Answers, Example, judged, values

SHUTOFF_SETTING = Setting(on=FEDERAL.on, overfill_type=SHUTOFF)
SOUND_DETECTOR = {
    "leak_rate_gph": 3.0,
    "psi": 10,
    "response": "flow restricted",
    "step_through_s": 3,
    "held_s": 60,
    "tripped_at_zero": True,
    "pump_cycles": True,
}


def passes(found: Verdict) -> Answers:
    assert found.outcome in ("pass", "fail")
    return {"pass": found.outcome == "pass"}


def bucket_water(example: Example) -> Answers:
    if example.id == "spill-hydro-method":
        return {
            "fill_below_rim": NUMBERS.number("bucket-below-rim").value,
            "settle": NUMBERS.number("bucket-settling-minutes").value,
            "duration": NUMBERS.number("water-test-minutes").value / 60,
            "measure_resolution": NUMBERS.number("bucket-reading-step").value,
        }
    if "eighth" in example.id:
        return eighth_of_an_inch(example)
    minutes = example["duration"] * 60
    return passes(
        judged("spill-bucket-test", method="liquid", minutes=minutes, level_change_in=example["level_drop"])
    )


def bucket_vacuum(example: Example) -> Answers:
    return passes(
        judged(
            "spill-bucket-test",
            method="vacuum",
            minutes=example["hold"],
            vacuum_start_in_wc=example["start_vacuum"],
            vacuum_end_in_wc=example["end_vacuum"],
        )
    )


def sump_water(example: Example) -> Answers:
    if example.id == "sump-hydro-height":
        return {
            "water_above_highest_penetration_or_seam": NUMBERS.number("sump-above-penetration").value,
            "if_sump_too_shallow_fill_to_below_top": NUMBERS.number("sump-below-top").value,
            "duration": NUMBERS.number("water-test-minutes").value / 60,
        }
    return passes(
        judged(
            "sump-test",
            method="liquid",
            minutes=example["duration"] * 60,
            level_change_in=example["level_change_drop_positive"],
        )
    )


def sump_low_level(example: Example) -> Answers:
    return {
        "water_above_sensor_activation": NUMBERS.number("sump-low-level-over-sensor").value,
        "positive_shutdown_required": NUMBERS.number("sump-low-level-shutdown").value == 1,
        "accepted_in_california": CALIFORNIA.number("sump-low-level-accepted").value == 1,
    }


def shutoff(example: Example) -> Answers:
    if "edge" in example.id:
        found = judged(
            "overfill-inspection",
            SHUTOFF_SETTING,
            acts_at_level=True,
            acts_volume_gal=example["volume_at_shutoff"],
            capacity_gal=example["capacity"],
        )
        return {"pass_95": passes(found)["pass"]}
    return worksheet(example)


def worksheet(example: Example) -> Answers:
    """Height from the parts; the pass from the chart volume there."""
    seat = "tube_seat_to_tank_bottom" if example.id == "overfill-ws-1" else "tube_flange_to_tank_bottom"
    readings = {
        "seat_to_bottom_in": example[seat],
        "upper_tube_in": example["upper_tube"],
        "reference_offset_in": example["reference_offset"],
        "acts_volume_gal": example["chart_volume_at_height"],
        "capacity_gal": example["capacity"],
    }
    found = judged("overfill-inspection", SHUTOFF_SETTING, acts_at_level=True, **readings)
    return {
        "shutoff_height": device_height(Readings(readings)),
        "shutoff_pct": found.measured,
        "ullage": example["capacity"] - example["chart_volume_at_height"],
        "pass_95": found.outcome == "pass",
    }


def overfill_criteria(example: Example) -> Answers:
    if example.id == "overfill-derived-oneminute":
        full = exact(example["capacity_to_fittings"])
        latest = latest_volume(full, Decimal(example["fill_rate"]), Decimal(1))
        return {"alarm_volume_latest": float(latest), "alarm_pct": float(latest * 100 / full)}
    shared = {
        "alarm_pct": NUMBERS.number("overfill-alert").value,
        "alarm_min_before": NUMBERS.number("overfill-alarm-minutes").value,
        "shutoff_pct": NUMBERS.number("overfill-shutoff").value,
        "restrict_min_before": NUMBERS.number("overfill-restrict-minutes").value,
    }
    if example.id == "overfill-fed":
        return shared
    return shared | {
        "alarm_or_restrict_pct": CALIFORNIA.number("overfill-alert").value,
        "restrict_start_pct": CALIFORNIA.number("overfill-restrict-start").value,
        "alarm_min_before": CALIFORNIA.number("overfill-restrict-alarm-minutes").value,
    }


def leak_detector(example: Example) -> Answers:
    if example.id == "lld-189":
        rate = convert(NUMBERS.number("simulated-leak").value, "gph", "ml_min")
        return {"ml_per_60s": rate, "ml_per_15s": rate / 4}
    if example.id == "lld-criterion":
        return {
            "leak": NUMBERS.number("simulated-leak").value,
            "pressure": NUMBERS.number("simulated-leak-psi").value,
            "within": NUMBERS.number("detector-minutes").value / 60,
            "test_interval": months(pack_parameter("detection_equipment", "annual-alld-test", "interval")),
        }
    broken = [{"held_s": 59}, {"tripped_at_zero": False}, {"pump_cycles": False}]
    assert judged("line-leak-detector-test", **SOUND_DETECTOR).outcome == "pass"
    return {
        "pass_requires": [
            words
            for words, change in zip(example.expected["pass_requires"]["value"], broken, strict=True)
            if judged("line-leak-detector-test", **SOUND_DETECTOR | change).outcome == "fail"
        ]
    }


def bulk_piping(example: Example) -> Answers:
    """The least volume of each range, by the row that holds it."""
    ranges = [int(text.strip("<>=").split("-")[0]) for text in example["section_volume_gal"]]
    rows = [
        NUMBERS.bulk_line(0 if text.startswith("<") else least)
        for text, least in zip(example["section_volume_gal"], ranges, strict=True)
    ]
    return {
        "semiannual_gph": [row.semiannual_gph for row in rows],
        "annual_gph": [row.annual_gph for row in rows],
    }


def reconciled(example: Example) -> Answers:
    if example.id == "sir-150":
        hours = example["period"] * 24
        rate = NUMBERS.number("sir-detectable").value
        return {"volume_at_rate": rate * hours, "rate_of_volume": NUMBERS.number("sir-volume").value / hours}
    found = judged(
        "tank-monitoring-result",
        method="statistical inventory reconciliation",
        leak_rate_gph=example["calculated_rate"],
        threshold_gph=example["threshold"],
        minimum_detectable_gph=example["mdl"],
    )
    void = found.criterion is not None and found.criterion.id == "sir-threshold-share"
    return {"result": "invalid" if void else found.outcome}


def cathodic(example: Example) -> Answers:
    if example.id == "cp-intervals":
        return {
            "after_install": months(pack_parameter("corrosion", "cp-test-6-months", "period")),
            "periodic": months(pack_parameter("corrosion", "cp-test-3-years", "interval")),
            "after_repair": months(pack_parameter("corrosion", "cp-test-after-repair", "period")),
            "rectifier_check": int(
                pack_parameter("corrosion", "cp-impressed-60-days", "interval").split()[0]
            ),
            "tests_kept": kept("cathodic-protection-test"),
            "rectifier_checks_kept": kept("rectifier-check"),
        }
    off, native = example["instant_off"], example["native"]
    point = {"structure": "T1", "instant_off_mv": off}
    alone = judged("cathodic-protection-test", readings=[point])
    shift = judged("cathodic-protection-test", polarisation_mv=native - off)
    both = judged("cathodic-protection-test", readings=[point | {"native_mv": native}])
    return {
        "pass_850": alone.outcome == "pass",
        "pass_100mV": shift.outcome == "pass",
        "pass": both.outcome == "pass",
    }


def wells(example: Example) -> Answers:
    district = in_force(FEDERAL.on, ("us-federal", "us-dc"))
    return {
        "max_depth_to_water": district.number("well-depth").value,
        "min_conductivity": district.number("well-conductivity").value,
        "detectable_free_product": district.number("well-product").value,
        "min_wells": district.number("wells-each-excavation").value,
    }


def pack_rules(name: str) -> dict[str, dict]:
    path = Path(rulepacks.__file__).parent / "us_federal" / f"{name}.toml"
    return {rule["id"]: rule for rule in tomllib.loads(path.read_text(encoding="utf-8"))["rule"]}


def pack_parameter(name: str, rule: str, parameter: str) -> str:
    return pack_rules(name)[rule]["version"][-1]["params"][parameter]


def months(period: str) -> int:
    number, unit = period.split()
    return int(number) * (12 if unit.startswith("year") else 1)


def kept(activity: str) -> int:
    """How many of the last records the federal retention rule of this activity keeps."""
    [count] = [
        rule["version"][-1]["retention"]["count"]
        for rule in pack_rules("retention").values()
        if "count" in rule["version"][-1].get("retention", {}) and activity in str(rule)
    ]
    return int(count)


def polarisation_limits(example: Example) -> Answers:
    by_id = {"cp-100mv": {"polarisation_min": "cp-polarisation"}, "cp-850": {"limit": "cp-potential"}}
    return values(**by_id[example.id])(example) if example.id in by_id else cathodic(example)


ANSWERS = {
    "spill-bucket-hydrostatic": bucket_water,
    "spill-bucket-vacuum": bucket_vacuum,
    "containment-sump-hydrostatic": sump_water,
    "containment-sump-low-level": sump_low_level,
    "overfill-shutoff": shutoff,
    "overfill-criteria": overfill_criteria,
    "line-leak-detector": leak_detector,
    "line-tightness": values(leak="line-leak", pressure_multiple="line-pressure"),
    "tightness-threshold": values(typical_threshold="usual-threshold"),
    "tank-tightness": values(leak="tank-leak", pd_min="detection-probability", pfa_max="false-alarm"),
    "atg-monthly": values(leak="gauge-leak", pd_min="detection-probability", pfa_max="false-alarm"),
    "sir": reconciled,
    "line-tightness-large-volume": bulk_piping,
    "cathodic-protection": polarisation_limits,
    "groundwater-monitoring": wells,
    "meter-tolerance": values(maintenance_tolerance="meter-error", new_device_tolerance="meter-error-new"),
}
