"""Judge site documents from files: no account, no database."""

from argparse import ArgumentParser, ArgumentTypeError
from datetime import date, datetime
from pathlib import Path
from typing import Any

import msgspec
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.table import Table

from compliance.management.arguments import moment
from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError, read_document
from compliance.rules.findings import STANDINGS, Finding
from compliance.rules.judging import LOOK_BACK_DAYS, findings_at
from compliance.rules.look_back import days_back, local_day
from equipment import activities

SHOWN = ("rule", "subject", "standing", "due", "late_intervals", "evidence", "why", "cite", "verified")


class Command(BaseCommand):
    help = "Judge site documents. Prints a table and one sentence a finding, or with --json one line of JSON a file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="a site document (JSON)")
        parser.add_argument("--on", type=moment, help="a day (to its end) or an instant; default: now")
        parser.add_argument("--packs", type=lambda text: text.split(","), help="such as us-federal,us-fl")
        parser.add_argument("--look-back", type=_look_back, help="such as 12m, 400d or 5y; default: 5y")
        parser.add_argument("--json", action="store_true", help="one line of JSON a file")

    def handle(self, *args: Any, files: list[Path], **options: Any) -> None:
        on = options["on"] or timezone.now()
        _check_packs(options["packs"])
        broken = False
        for file in files:
            try:
                findings = _judged(file, on, look_back=options["look_back"], packs=options["packs"])
            except (DocumentError, OSError) as error:
                broken = True
                self.stderr.write("\n".join(f"{file}: {line}" for line in str(error).splitlines()))
                continue
            self._print(file, on, findings, as_json=options["json"])
        if broken:
            raise SystemExit(2)

    def _print(self, file: Path, on: date, findings: list[Finding], *, as_json: bool) -> None:
        if as_json:
            line = {"file": str(file), "on": on, "findings": [_brief(found) for found in findings]}
            self.stdout.write(msgspec.json.encode(line).decode())
            return
        ordered = sorted(findings, key=lambda found: (STANDINGS.index(found.standing), found.rule))
        Console(file=self.stdout, width=120).print(_table(file, ordered))  # type: ignore[arg-type]
        for finding in ordered:
            self.stdout.write(finding.sentence)


def _judged(
    file: Path, on: date | datetime, *, look_back: str | None, packs: list[str] | None
) -> list[Finding]:
    document = read_document(file.read_bytes(), activities=activities.slugs())
    days = LOOK_BACK_DAYS if look_back is None else days_back(look_back, local_day(document, on))
    return findings_at(document, installed_packs(), at=on, look_back_days=days, jurisdictions=packs)


def _check_packs(asked: list[str] | None) -> None:
    known = installed_packs().names
    for name in asked or ():
        if name not in known:
            raise CommandError(f"--packs: no pack {name!r} is loaded; known are {', '.join(known)}")


def _brief(finding: Finding) -> dict[str, Any]:
    return {name: getattr(finding, name) for name in SHOWN}


def _table(file: Path, findings: list[Finding]) -> Table:
    table = Table("standing", "rule", "item", "due", "days late", "citation", title=str(file))
    for found in findings:
        due = "" if found.due is None else found.due.isoformat()
        late = str(found.days_late or "")
        table.add_row(
            found.standing, found.rule, found.subject, due, late, f"{found.cite} [{found.verified}]"
        )
    return table


def _look_back(text: str) -> str:
    try:
        days_back(text, date(2000, 1, 1))
    except ValueError as error:
        raise ArgumentTypeError(str(error)) from None
    return text
