"""Load every installed rule pack and say what is in it, or what is wrong and where."""

from argparse import ArgumentParser
from collections import Counter
from collections.abc import Collection
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from rich.console import Console
from rich.table import Column, Table

from compliance.rulepacks import HERE, load_folder
from compliance.rules.coverage import Coverage, coverage_of
from compliance.rules.loading import PackError
from compliance.rules.packset import PackSet


class Command(BaseCommand):
    help = (
        "Check the rule packs: packs, rules, wordings and how each was verified, and whether every duty that the law "
        "lists is judged by a rule or explained."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder", nargs="?", type=Path, help="a folder of pack folders (default: the installed)"
        )

    def handle(self, *args: Any, folder: Path | None, **options: Any) -> None:
        if folder is not None and not folder.is_dir():
            raise CommandError(f"{folder} is no folder; name one that holds pack folders")
        try:
            packs = load_folder(folder)
            covered = coverage_of(folder or HERE, packs)
        except PackError as error:
            raise CommandError(str(error)) from None
        console = Console(file=self.stdout, width=100)  # type: ignore[arg-type]
        console.print(_packs_table(packs))
        for coverage in covered:
            console.print(_coverage_table(coverage))
            console.print(_reasons_table(coverage))
            self.stdout.write(_summary(coverage))


def _packs_table(packs: PackSet) -> Table:
    table = Table("pack", "rules", "wordings", "overrides", "verified", title="Rule packs")
    for name in packs.names:
        rules = [entry.table for entry in packs.rules if entry.pack == name]
        versions = [version for rule in rules for version in rule.version]
        codes = Counter(version.verified for version in versions)
        verified = ", ".join(f"{code} {count}" for code, count in sorted(codes.items()))
        overrides = sum(1 for entry in packs.overrides if entry.pack == name)
        table.add_row(name, str(len(rules)), str(len(versions)), str(overrides), verified)
    return table


def _coverage_table(coverage: Coverage) -> Table:
    title = f"What {coverage.pack} lists and what becomes of it"
    table = Table("", "listed", "judged by a rule", "not judged", title=title)
    listed = coverage.listed
    parts: dict[str, Collection[str]] = {
        "duties": listed.duties,
        "periods for keeping records": listed.retention,
        "together": listed.slugs,
    }
    for name, slugs in parts.items():
        judged = sum(1 for slug in slugs if slug in coverage.judged)
        table.add_row(name, str(len(slugs)), str(judged), str(len(slugs) - judged))
    return table


def _reasons_table(coverage: Coverage) -> Table:
    columns = Column("slug", no_wrap=True), Column("paragraph", max_width=20), "why no rule judges it"
    table = Table(*columns, title=f"Not judged in {coverage.pack}")
    for row in coverage.reasons:
        table.add_row(row.id, row.cite, row.reason)
    return table


def _summary(coverage: Coverage) -> str:
    lines = [
        f"{coverage.pack}: {coverage.accounted_for} of {len(coverage.listed.slugs)} slugs accounted for: "
        f"{len(coverage.judged)} judged by a rule, {len(coverage.reasons)} not judged, each with its reason."
    ]
    if coverage.beyond:
        lines.append(f"Rules beyond the list: {', '.join(coverage.beyond)}.")
    return "\n".join(lines)
