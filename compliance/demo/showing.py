"""What the demo prints: the portfolio, one overdue item explained, the mails, and how to go on."""

import json
import shlex
from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from alarms.models import Alarm
from compliance.demo.building import Cast
from compliance.demo.telling import mails_about
from compliance.models import Obligation, RecordVerdict, Standing, StandingWord, VerdictWord
from equipment.models import Facility, Record

# Word first, colour second: the colours are from Okabe and Ito's palette, told apart with any colour vision.
LOOK = {
    "failed": "bold #D55E00",
    "overdue": "bold #D55E00",
    "no record": "#E69F00",
    "cannot decide": "#CC79A7",
    "due soon": "#56B4E9",
    "suspended": "#999999",
    "met": "#009E73",
}


def show_portfolio(console: Console, facilities: list[Facility]) -> None:
    """One row a facility, worst first, as the portfolio route gives it."""
    table = Table(title="Portfolio, worst first", title_justify="left")
    for heading in ("facility", "state", "worst", *StandingWord.values[:5], "met", "next late from"):
        table.add_column(heading, justify="right" if heading in StandingWord.values else "left")
    rows = Standing.objects.filter(facility__in=facilities).select_related("facility")
    for row in rows.order_by("-rank"):
        counts = [str(row.counts.get(word, "")) for word in (*StandingWord.values[:5], "met")]
        worst = row.worst or "cannot decide"
        table.add_row(
            f"{row.facility.name} (#{row.facility_id})",
            row.facility.facility_state,
            Text(worst, LOOK[worst]),
            *counts,
            _local(row.next_late_from, row.facility) if row.next_late_from else "",
        )
    console.print(table)


def show_overdue(console: Console, obligation: Obligation) -> None:
    """One item that is overdue, with its why and its citation."""
    finding = obligation.finding
    done = [_evidence(ref) for ref in finding["evidence"]]
    lines = [
        f"[bold]{finding['sentence']}[/bold]",
        f"What to do: {finding['task']}",
        f"Where: {obligation.facility.name}, {obligation.subject}",
        f"Last done: {', '.join(done) or 'nothing on file'}",
        "Because: " + "; ".join(f"{read['path']} = {read['value']}" for read in finding["why"][:6]),
        f"Citation: {obligation.cite} (verified: {obligation.verified})",
    ]
    console.print(Panel("\n".join(lines), title="One overdue item, explained", title_align="left"))


def show_verdicts(console: Console, facilities: list[Facility]) -> None:
    """Records that say the opposite of their numbers, and records that lack some."""
    rows = RecordVerdict.objects.filter(record__facility__in=facilities).select_related("record__facility")
    lines = []
    for row in rows.filter(disagreement=True).order_by("pk"):
        found = row.body
        lines.append(
            f"{_about(row)}: reported {found['reported']}, its numbers {found['outcome']}: {found['criterion']}, "
            f"{found['measured']:g} {found['unit']}, has to be {found['comparison']} {found['limit']:g} "
            f"({found['source']})."
        )
    for row in rows.filter(outcome=VerdictWord.INCOMPLETE).order_by("pk"):
        lines.append(f"{_about(row)}: says nothing by its numbers; missing are {', '.join(row.missing)}.")
    if lines:
        console.print(Panel("\n".join(lines), title="What the numbers say", title_align="left"))


def _about(row: RecordVerdict) -> str:
    subjects = ", ".join(one.component.tag for one in row.record.record_subjects.select_related("component"))
    return f"{row.record.facility.name}, {subjects}, {row.record} (record:{row.pk})"


def show_mails(console: Console, alarm: Alarm, folder: str) -> None:
    """Who was told of the unanswered alarm, and when."""
    table = Table(
        title=f"E-mails about {alarm}, which nobody answered (clock compressed)", title_justify="left"
    )
    for heading in ("sent", "step", "to", "subject"):
        table.add_column(heading)
    for notice in mails_about(alarm):
        sent = _local(notice.sent_at, alarm.facility) if notice.sent_at else "waiting"
        table.add_row(sent, str(notice.step), f"{notice.name} <{notice.email}>", notice.subject)
    console.print(table)
    console.print(f"Mails are files in {folder}", highlight=False)


def show_next(
    console: Console, *, address: str, cast: Cast, requests: list[list[str]], folder: str | None
) -> None:
    """Addresses to open, keys, three requests that work as printed. `folder`: the data's, if nobody serves it yet."""
    console.print(f"\n[bold]Open[/bold] {address}/api/v1/docs (every route, to try out) and {address}/health")
    console.print(f"Operator's key: {cast.operator_key}", highlight=False)
    if folder:
        console.print(
            f"Serve it: DATA_DIR={folder} PUBLIC_URL={address} uv run manage.py serve",
            highlight=False,
            soft_wrap=True,
        )
    console.print("\n[bold]Three requests that tell the story[/bold]")
    for request in requests:
        console.print(_shell(request) + "\n", highlight=False, soft_wrap=True, markup=False)


def three_requests(
    *, address: str, cast: Cast, detector: Obligation, alarm_at: Facility, now: datetime
) -> list[list[str]]:
    """curl commands: a contractor's test, a gateway's event, the operator's portfolio."""
    visit = {
        "technician": "R. Ames",
        "records": [
            {
                "activity": "line-leak-detector-test",
                "subjects": [detector.subject],
                "performed_at": now.astimezone(ZoneInfo(detector.facility.time_zone)).date().isoformat(),
                "outcome": "pass",
                "measurements": {
                    "simulated_leak": True,
                    "leak_rate_gph": 3.0,
                    "psi": 10,
                    "minutes_to_detect": 4,
                },
                "external_id": "job-8812",
            }
        ],
    }
    events = {
        "source": "gateway-demo",
        "events": [
            {
                "id": "e-1",
                "device": "SN1B",
                "condition": "sump-fuel",
                "signal": "raised",
                "occurred_at": now.isoformat(timespec="seconds"),
            }
        ],
    }
    facilities = f"{address}/api/v1/facilities"
    return [
        _post(f"{facilities}/{detector.facility_id}/records", cast.contractor_key, visit),
        _post(f"{facilities}/{alarm_at.pk}/events", cast.gateway_key, events),
        ["curl", "-s", f"{address}/api/v1/portfolio", "-H", f"Authorization: Bearer {cast.operator_key}"],
    ]


def _evidence(ref: str) -> str:
    """A record's reference with what it was and when."""
    record = Record.objects.filter(pk=ref.partition(":")[2]).first() if ref.startswith("record:") else None
    return f"{ref} ({record})" if record else ref


def _post(address: str, key: str, body: Mapping[str, object]) -> list[str]:
    headers = ["-H", f"Authorization: Bearer {key}", "-H", "Content-Type: application/json"]
    return ["curl", "-s", "-X", "POST", address, *headers, "-d", json.dumps(body)]


def _shell(command: list[str]) -> str:
    return " ".join(shlex.quote(part) for part in command)


def _local(moment: datetime, facility: Facility) -> str:
    return moment.astimezone(ZoneInfo(facility.time_zone)).strftime("%Y-%m-%d %H:%M %Z")
