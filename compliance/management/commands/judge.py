"""Judge site documents from files: no account, no database."""

import re
from argparse import ArgumentParser, ArgumentTypeError
from datetime import date
from pathlib import Path
from typing import Any

import msgspec
from django.core.management.base import BaseCommand
from django.utils import timezone
from rich.console import Console
from rich.table import Table

from compliance.management.arguments import moment
from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError, read_document
from compliance.rules.findings import STANDINGS, Finding
from compliance.rules.judging import LOOK_BACK_DAYS, Judgement, judge
from equipment import activities

SHOWN = ("rule", "subject", "standing", "due", "late_intervals", "evidence", "why", "cite", "verified")


class Command(BaseCommand):
    help = "Judge site documents. Prints a table and one sentence a finding, or with --json one line of JSON a file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="a site document (JSON)")
        parser.add_argument("--on", type=moment, help="a day (to its end) or an instant; default: now")
        parser.add_argument("--packs", type=lambda text: text.split(","), help="such as us-federal,us-fl")
        parser.add_argument("--look-back", type=_days, default=LOOK_BACK_DAYS, help="such as 12m, 400d or 5y")
        parser.add_argument("--json", action="store_true", help="one line of JSON a file")

    def handle(self, *args: Any, files: list[Path], **options: Any) -> None:
        on = options["on"] or timezone.now()
        broken = False
        for file in files:
            try:
                document = read_document(file.read_bytes(), activities=activities.slugs())
                judgement = judge(
                    document,
                    installed_packs(),
                    at=on,
                    look_back_days=options["look_back"],
                    jurisdictions=options["packs"],
                )
            except (DocumentError, OSError) as error:
                broken = True
                self.stderr.write("\n".join(f"{file}: {line}" for line in str(error).splitlines()))
                continue
            self._print(file, on, judgement, as_json=options["json"])
        if broken:
            raise SystemExit(2)

    def _print(self, file: Path, on: date, judgement: Judgement, *, as_json: bool) -> None:
        if as_json:
            line = {"file": str(file), "on": on, "findings": [_brief(found) for found in judgement.findings]}
            self.stdout.write(msgspec.json.encode(line).decode())
            return
        ordered = sorted(judgement.findings, key=lambda found: (STANDINGS.index(found.standing), found.rule))
        Console(file=self.stdout, width=120).print(_table(file, ordered))  # type: ignore[arg-type]
        for finding in ordered:
            self.stdout.write(finding.sentence)


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


def _days(text: str) -> int:
    match = re.fullmatch(r"(\d+)([dmy])", text)
    if match is None:
        raise ArgumentTypeError(f"{text!r}: a number with d, m or y is expected, such as 12m")
    return round(int(match[1]) * {"d": 1, "m": 30.44, "y": 365.25}[match[2]])
