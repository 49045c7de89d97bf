"""What the demo prints about fuel: chart, ledger, delivery check and triage, and requests to look further."""

import json
import shlex
from collections.abc import Mapping

from rich.console import Console
from rich.panel import Panel

from compliance.demo.building import Cast
from compliance.demo.fuel import Fuel
from equipment.physics.chart_text import in_eighths
from equipment.physics.charts import chart_device_height


def show_fuel(console: Console, fuel: Fuel) -> None:
    """Four lines, each with what it rests on."""
    lines = [_chart(fuel), _month(fuel), _check(fuel), _triage(fuel)]
    console.print(Panel("\n".join(lines), title="Fuel by the numbers", title_align="left"))


def _chart(fuel: Fuel) -> str:
    chart = fuel.chart.chart
    alarm, shutoff = (in_eighths(chart_device_height(chart, percent)) for percent in (90, 95))
    return (
        f"[bold]Chart[/bold] {fuel.chart.facility.name}, T1: {chart.capacity_gal:,.0f} gal; 90 percent at {alarm} in, "
        f"95 at {shutoff} in (40 CFR 280.20(c)(1)(ii))."
    )


def _month(fuel: Fuel) -> str:
    span, rule = fuel.month.span, fuel.month.outcomes[0]
    net = span.net_gal or 0.0
    word = "over its limit" if rule.exceeded else "within its limit"
    closed = f"record:{fuel.month.closed.pk}" if fuel.month.closed else "not closed"
    return (
        f"[bold]Ledger[/bold] {span.first:%B %Y}: {span.pumped_gal:,.0f} gal pumped, {abs(net):,.0f} gal "
        f"{'short' if net < 0 else 'over'}, {rule.allowance_gal or 0.0:,.0f} allowed: {word} ({rule.rule.cite}; "
        f"{closed})."
    )


def _check(fuel: Fuel) -> str:
    told = fuel.check.measurements
    word = "refused" if told["refused"] else "fits"
    return f"[bold]Delivery check[/bold] record:{fuel.check.pk}: {word}. {' '.join(told['reasons'])}"


def _triage(fuel: Fuel) -> str:
    alarm, answer = fuel.triage.alarm, fuel.triage.answer
    clock = f" {alarm.clock_note}; the clock runs on." if alarm.clock_note else ""
    return (
        f"[bold]Triage[/bold] {alarm.facility.name}, {alarm.place}: {answer['sentence']} Advice, no answer to the "
        f"alarm.{clock}"
    )


def fuel_requests(*, address: str, cast: Cast, fuel: Fuel) -> list[list[str]]:
    """curl commands: the two pictures, a load that fits, the triage beside its alarm, disagreements."""
    facility = f"{address}/api/v1/facilities/{fuel.chart.facility_id}"
    level = fuel.check.measurements["tanks"][0]
    body = {
        "checked_at": fuel.check.performed_at.isoformat(timespec="seconds")
        if fuel.check.performed_at
        else None,
        "order_gal": fuel.check.measurements["largest_order_gal"],
        "tanks": [{"tag": "T1", "level_in": level["level_in"], "water_in": level["water_in"]}],
        "watcher": "dock lead",
    }
    span = fuel.month.span
    return [
        _get(f"{facility}/components/T1/charts/{fuel.chart.pk}/picture", cast, "-o", "chart.svg"),
        _get(
            f"{facility}/inventory/T1/trend.svg?first={span.first}&last={span.last}", cast, "-o", "trend.svg"
        ),
        _post(f"{facility}/delivery-checks", cast, "load-that-fits", body),
        _get(f"{address}/api/v1/alarms/{fuel.triage.alarm_id}/brine-triage", cast),
        _get(f"{address}/api/v1/disagreements", cast),
    ]


def show_requests(console: Console, requests: list[list[str]]) -> None:
    """As they are typed."""
    console.print("[bold]Look at the fuel[/bold] (a check and a triage are advice; the people there decide)")
    for request in requests:
        console.print(shlex.join(request), highlight=False, soft_wrap=True, markup=False)
    console.print()


def _get(address: str, cast: Cast, *more: str) -> list[str]:
    return ["curl", "-s", *more, address, "-H", f"Authorization: Bearer {cast.operator_key}"]


def _post(address: str, cast: Cast, key: str, body: Mapping[str, object]) -> list[str]:
    headers = [f"Authorization: Bearer {cast.operator_key}", f"Idempotency-Key: {key}"]
    named = [part for header in (*headers, "Content-Type: application/json") for part in ("-H", header)]
    return ["curl", "-s", "-X", "POST", address, *named, "-d", json.dumps(body)]
