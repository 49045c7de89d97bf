"""What our code answers to the examples on inventory, manual gauging and deliveries."""

from datetime import date, timedelta
from decimal import Decimal

from compliance.protocols.criteria import in_force
from compliance.protocols.delivery import Holding, delivery_fit, required_room, room
from compliance.protocols.inventory import action_after, allowance, month_check
from compliance.protocols.manual_gauging import month_mean, weekly_change
from compliance.protocols.readings import Readings, exact
from equipment.physics.charts import Chart, Row, chart_volume
from equipment.physics.ledger import LedgerDay, line_refill, meter_error_percent, reconcile
from equipment.physics.tank import Tank, capacity
from tests.compliance.protocols.worked import CALIFORNIA, EXAMPLES, FEDERAL, NUMBERS, Answers, Example, judged

ROWS = {
    "up to 550 gal": "up to 550 gal",
    "551-1,000 gal, largest tank 64 in x 73 in": "551 to 1,000 gal, 64 in diameter",
    "1,000 gal, tank 48 in x 128 in": "1,000 gal, 48 in diameter",
    "1,001-2,000 gal, with tightness testing": "1,001 to 2,000 gal with tightness tests",
}
FEDERAL_RULE = NUMBERS.inventory()[0]


def state_rule(state: str):
    return in_force(FEDERAL.on, (state,)).inventory()[0]


def inventory(example: Example) -> Answers:
    if example.id.startswith("inv-me"):
        return reportable(example)
    if "edge" in example.id:
        return exceeds(example)
    if "allow" in example.id or example.id == "inv-wi-halfpct":
        return allowed(example)
    if example.id == "inv-fed-meterpct":
        percent = meter_error_percent(example["meter_error"], example["test_volume"])
        return {"relative_error": percent, "month_effect_at_20000_gal": percent / 100 * 20_000}
    if example.id == "inv-fed-criterion":
        return {
            "level_resolution": NUMBERS.number("inventory-level-step").value,
            "water_resolution": NUMBERS.number("inventory-water-step").value,
            "meter_error_per_5_gal": NUMBERS.number("meter-error").value,
            "drop_tube_max_gap": NUMBERS.number("inventory-drop-tube").value,
        }
    return month(example)


def reportable(example: Example) -> Answers:
    """Maine's 1 percent without a constant: a leak check of 5 gal is 500 gal pumped. One month is reported."""
    rule = state_rule("us-me")
    month = month_check(rule, Decimal(example["leak_check"]) * 100, Decimal(example["cumulative_over_short"]))
    return {"reportable": action_after(rule, [month.holds is False]) == "report"}


def exceeds(example: Example) -> Answers:
    found = judged("inventory-month", throughput_gal=example["gallons_pumped"], net_gal=example["over_short"])
    return {"exceeds": found.outcome == "fail"}


def allowed(example: Example) -> Answers:
    wisconsin = example.id == "inv-wi-halfpct"
    pumped = example["throughput" if wisconsin else "gallons_pumped"]
    return {"allowance": float(allowance(state_rule("us-wi") if wisconsin else FEDERAL_RULE, exact(pumped)))}


def month(example: Example) -> Answers:
    ledger = EXAMPLES["inv-derived-month"]
    columns = ("pumped_by_day", "delivered_by_day", "closing_stick_by_day")
    days = [
        LedgerDay(
            on=date(2026, 4, 1) + timedelta(days=at), pumped_gal=out, delivered_gal=came, closing_gal=end
        )
        for at, (out, came, end) in enumerate(zip(*(ledger[name] for name in columns), strict=True))
    ]
    if example.id == "inv-derived-month-bookbasis":
        done = reconcile(ledger["opening_stick_gal"], days, "book")
        return {
            "cumulative_over_short_by_day": [day.cumulative_gal for day in done],
            "final": done[-1].cumulative_gal,
        }
    done = reconcile(ledger["opening_stick_gal"], days, "stick")
    pumped, net = sum(day.pumped_gal for day in days), done[-1].cumulative_gal
    found = judged("inventory-month", throughput_gal=pumped, net_gal=net)
    return {
        "book_by_day": [day.book_gal for day in done],
        "daily_over_short": [day.over_short_gal for day in done],
        "total_pumped": pumped,
        "total_over_short": net,
        "allowance": found.criterion and found.criterion.value,
        "exceeds": found.outcome == "fail",
    }


def two_months(example: Example) -> Answers:
    return {
        "action_after_last_month": action_after(FEDERAL_RULE, example["monthly_exceedances_oldest_first"])
    }


def interpolation(example: Example) -> Answers:
    chart = Chart((Row(33, example["chart_33"]), Row(34, example["chart_34"])))
    volume = chart_volume(chart, example["stick"])
    difference = chart.rows[1].gal - chart.rows[0].gal
    return {"difference": difference, "increment": volume - chart.rows[0].gal, "volume": volume}


def refill(example: Example) -> Answers:
    return {"fill_volume": line_refill(example["pipe_id"], example["pipe_length"])}


def gauging(example: Example) -> Answers:
    if example.id.startswith("mtg-table"):
        row = NUMBERS.gauging(ROWS[example["tank_class"]])
        return {
            "min_duration": row.idle_h,
            "weekly_standard": row.weekly_gal,
            "monthly_standard": row.monthly_gal,
        }
    if "dim" in example.id:
        return {"capacity": capacity(Tank(diameter_in=example["diameter"], length_in=example["length"]))}
    return four_weeks(example)


def four_weeks(example: Example) -> Answers:
    weeks = []
    for (first, second), (third, fourth) in zip(example["start_pairs"], example["end_pairs"], strict=True):
        readings = {"start_first_gal": first, "start_second_gal": second}
        readings |= {"end_first_gal": third, "end_second_gal": fourth}
        weeks.append((readings, float(weekly_change(Readings(readings), None) or 0)))
    mean = month_mean([exact(change) for _, change in weeks])
    found = [
        judged(
            "manual-tank-gauging",
            tank_class=example["tank_class"],
            hours=36,
            month_mean_gal=float(mean),
            **readings,
        )
        for readings, _ in weeks
    ]
    return {
        "weekly_change": [
            change if (each.checks[0].measured == abs(change)) else None
            for each, (_, change) in zip(found, weeks, strict=True)
        ],
        "monthly_average": float(mean),
        "weekly_fail": [each.checks[0].holds is False for each in found],
        "monthly_fail": found[-1].checks[1].holds is False,
    }


def before_delivery(example: Example) -> Answers:
    if example.id == "ullage-ca-rule":
        rule = CALIFORNIA.delivery()[1]
        share, extra = rule.load_percent / 100, rule.extra_gal
        return {"rule": f"required available capacity = min({share:g}*load, load+{extra:g} gal)"}
    if "-ca-" in example.id:
        rule = CALIFORNIA.delivery()[1]
        return {"required_available": float(required_room(rule, exact(example["load"])))}
    tank = Holding(
        capacity_gal=example["capacity"], product_gal=example["current"], limit_pct=example["limit_pct"]
    )
    return {
        "limit_volume": example["capacity"] * example["limit_pct"] / 100,
        "ullage_to_limit": float(room(tank)),
        "max_delivery": delivery_fit([tank], 1, FEDERAL).room_gal,
    }


ANSWERS = {
    "inventory-reconciliation": inventory,
    "tank-chart-interpolation": interpolation,
    "inventory-adjustment": refill,
    "inventory-two-month-rule": two_months,
    "manual-tank-gauging": gauging,
    "pre-delivery-ullage": before_delivery,
}
