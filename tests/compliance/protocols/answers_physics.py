"""What our code answers to the examples on tanks, brine, product volume and units."""

import math

from compliance.protocols.student_t import power
from equipment.physics import brine, volume_correction
from equipment.physics.charts import Chart, Row, chart_volume
from equipment.physics.digits import exact
from equipment.physics.heads import Heads
from equipment.physics.interstice import (
    Space,
    critical_groundwater,
    critical_product,
    gallons_of,
    inner_breach,
    level_change,
    outer_breach,
    volume_change,
)
from equipment.physics.orifice import rate_at_pressure
from equipment.physics.tank import (
    Tank,
    capacity,
    depth_at_percent,
    device_height,
    volume_at,
)
from equipment.physics.units import convert
from tests.compliance.protocols.worked import CALIFORNIA, NUMBERS, Answers, Example

FLAT = Tank(diameter_in=1, length_in=1)


def share_of_volume(share_of_depth: float) -> float:
    return volume_at(FLAT, share_of_depth) / capacity(FLAT)


def chart(example: Example) -> Answers:
    if example.id.startswith("chart-paper"):
        shape = example.id.removeprefix("chart-paper-")
        depth = example["a"] if "a" in example.inputs else 0.0
        tank = Tank(
            diameter_in=example["D"], length_in=example["L"], heads=Heads(shape=shape, depth_in=depth)
        )
        return {"volume": volume_at(tank, example["h"])}
    if example.id.startswith("chart-rule"):
        return {"true_pct": 100 * share_of_volume(example["depth_pct"] / 100)}
    if example.id == "chart-derived-ratio":
        return {"V_over_Vt": [share_of_volume(each) for each in example["h_over_D"]]}
    if "inverse" in example.id:
        return {"h_over_D": depth_at_percent(Tank(diameter_in=1, length_in=100), 100 * example["V_over_Vt"])}
    tank = Tank(diameter_in=example["D"], length_in=example["L"])
    return {
        "capacity": capacity(tank),
        "volume": [volume_at(tank, depth) for depth in example["h"]],
        "h90": depth_at_percent(tank, 90),
        "h95": depth_at_percent(tank, 95),
        "h90_floor_eighth": device_height(tank, 90),
        "h95_floor_eighth": device_height(tank, 95),
    }


def tilted(example: Example) -> Answers:
    level = Tank(diameter_in=example["D"], length_in=example["L"])
    tank = Tank(
        diameter_in=example["D"],
        length_in=example["L"],
        slope=example["slope"],
        gauge_from_low_end_in=example["gauge_from_low_end"],
    )
    # The trade's correction, which the service does not need: it integrates a tilted tank along its axis.
    middle = example["reading"] - example["slope"] * (example["L"] / 2 - example["gauge_from_low_end"])
    return {
        "true_volume": volume_at(tank, example["reading"]),
        "untilted_chart_volume": volume_at(level, example["reading"]),
        "corrected_depth": middle,
        "chart_at_corrected_depth": volume_at(level, middle),
    }


def other_pressure(example: Example) -> Answers:
    rate = rate_at_pressure(exact(example["q_ref"]), exact(example["p_ref"]), exact(example["p"]))
    return {"q_equiv": rate, "ml_min": convert(float(rate), "gph", "ml_min")}


def detection(example: Example) -> Answers:
    found = power(example["n"], example["threshold"], example["leak"], example["s"])
    return {
        "t95": found.t95,
        "pfa": found.false_alarm,
        "pd": found.detection,
        "s_max": found.largest_scatter,
        "mdl": found.detectable,
    }


def brine_density(example: Example) -> Answers:
    if "mass_pct" in example.inputs:
        return {"density": brine.handbook_density(example["mass_pct"])}
    return {"density": brine.density(100 * example["mass_fraction"], example["temperature"])}


def brine_expansion(example: Example) -> Answers:
    return {"beta": 1e4 * brine.expansion(100 * example["mass_fraction"], 10)}


def breach(example: Example) -> Answers:
    if example.id == "brine-30pct-rule":
        space = beside(1.30, example["brine_head_above_leak"])
        return {"min_water_head_for_rise": critical_groundwater(space, 0)}
    if example.id == "brine-directions":
        high = outer_breach(beside(1.30, 100, groundwater=131), 0)
        level = outer_breach(beside(1.30, 100, groundwater=129), 0)
        return {
            "inner_wall": inner_breach(beside(1.30, 100, product=95), 0),
            "outer_wall_dry_hole": outer_breach(beside(1.30, 100), 0),
            "outer_wall_high_water": f"{high} (if head ratio > 1.3)" if level == "down" else level,
        }
    if example.id == "brine-derived-inner-reverse":
        return {
            "product_level_needed": [
                critical_product(beside(example["sg_brine"], example["reservoir_level"], sg_product=each), 0)
                for each in example["sg_product"]
            ]
        }
    space = Space(
        reservoir_in=example["reservoir_level"],
        sg_liquid=example["sg_brine"],
        sg_product=example["sg_product"],
        product_in=example["product_level"],
        groundwater_in=example["water_table"],
    )
    return {
        "inner_wall": inner_breach(space, example["breach_height"]),
        "outer_wall": outer_breach(space, example["breach_height"]),
        "critical_water_table": critical_groundwater(space, example["breach_height"]),
    }


def beside(
    sg: float, reservoir: float, *, product: float = 0, groundwater: float = 0, sg_product: float = 0.74
) -> Space:
    return Space(
        reservoir_in=reservoir,
        sg_liquid=sg,
        sg_product=sg_product,
        product_in=product,
        groundwater_in=groundwater,
    )


def riser(example: Example) -> Answers:
    """The surface on which an inch is the claimed loss; and the level that one maker sets."""
    if example.id == "brine-factory-level":
        return {"level_above_tank_top": NUMBERS.number("liquid-over-top").value}
    return {
        "implied_riser_area": example["claimed_rate"] * example["wait"] / gallons_of(example["level_band"], 1)
    }


def warmed(example: Example) -> Answers:
    return {
        "dV": volume_change(example["V"], example["beta"], example["dT"]),
        "dH": level_change(example["V"], example["beta"], example["dT"], example["A"]),
    }


def corrected_volume(example: Example) -> Answers:
    if example.id == "vcf-army":
        gross = example["gross_before_water"] - example["bottom_water"]
        factor = volume_correction.volume_correction_api(example["api60"], example["temperature"])
        return {"gross": gross, "vcf": factor, "net": gross * factor, "reported": round(gross * factor)}
    if example.id == "vcf-wv":
        table = Chart((Row(64, example["factor_64"]), Row(65, example["factor_65"])))
        factor = round(chart_volume(table, example["api60"]), 4)
        return {"factor": factor, "net": round(example["gross"] * factor)}
    if example.id == "vcf-constants":
        bands = [
            band.at("15 C")
            for band in (
                volume_correction.GASOLINE,
                volume_correction.TRANSITION,
                volume_correction.KEROSENE,
                volume_correction.DIESEL,
            )
        ]
        return {
            "K0_15C": [band.inverse_square for band in bands],
            "K1_15C": [band.inverse for band in bands],
        }
    factor = volume_correction.volume_correction(example["density15"], example["temperature"], "15 C")
    return {"vcf": round(factor, 4)}


def observed_gravity(example: Example) -> Answers:
    return {"api60": volume_correction.api_at_60f(example["api_observed"], example["temperature"])}


def rounded_gravity(example: Example) -> Answers:
    return {"rounded": volume_correction.rounded_api(example["api"])}


def units(example: Example) -> Answers:
    if example.id == "unit-231":
        return {"cubic_inches": convert(example["volume"], "gal", "in3")}
    if example.id == "unit-spcc":
        feet = convert(example["tank"], "gal", "ft3")
        wall, more = feet / example["dike_area"], 1.1 * feet / example["dike_area"]
        return {
            "tank_ft3": feet,
            "wall_100pct": wall,
            "volume_110pct_ft3": 1.1 * feet,
            "wall_110pct": more,
            "freeboard": convert(round(more, 2) - round(wall, 2), "ft", "in"),
        }
    return {
        "ml_min": convert(example["rate"], "gph", "ml_min"),
        "l_h": convert(example["rate"], "gph", "l_h"),
    }


def specific_gravity(example: Example) -> Answers:
    """By the weight of water that the source rounds to 8.33 lb/gal; against our own water it is 0.7437."""
    product, water = (convert(example[name], "lb_gal", "kg_m3") for name in ("weight_per_gal", "water"))
    return {"specific_gravity": product / water}


def vent(example: Example) -> Answers:
    if example.id == "vent-12ft":
        feet = NUMBERS.number("vent-height").value
        return {"min_height_above_grade": feet, "min_height_m": convert(feet, "ft", "m")}
    feet = NUMBERS.number("vent-clear-of-openings").value
    return {"clear_of_building_openings": feet, "m": convert(feet, "ft", "m")}


def pier(example: Example) -> Answers:
    return {"max_aggregate_on_pier": CALIFORNIA.number("pier-aggregate").value}


def eighth_of_an_inch(example: Example) -> Answers:
    area = math.pi / 4 * example["diameter"] ** 2
    gallons = gallons_of(example["drop"], area)
    return {"volume": gallons, "volume_ml": convert(gallons, "gal", "ml")}


ANSWERS = {
    "tank-chart": chart,
    "tank-chart-tilt": tilted,
    "leak-rate-pressure-conversion": other_pressure,
    "pd-pfa": detection,
    "brine-density": brine_density,
    "brine-expansion": brine_expansion,
    "brine-breach-logic": breach,
    "brine-reservoir": riser,
    "brine-thermal-level": warmed,
    "volume-correction": corrected_volume,
    "api-gravity-correction": observed_gravity,
    "api-gravity-rounding": rounded_gravity,
    "units": units,
    "density": specific_gravity,
    "tank-vent": vent,
    "marine-siting": pier,
}
