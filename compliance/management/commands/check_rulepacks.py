"""Load every installed rule pack and say what is in it, or what is wrong and where."""

from argparse import ArgumentParser
from collections import Counter
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from rich.console import Console
from rich.table import Table

from compliance.rulepacks import load_folder
from compliance.rules.loading import PackError
from compliance.rules.packset import PackSet


class Command(BaseCommand):
    help = "Check the rule packs: prints packs, rules, wordings and how well each wording was verified."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder", nargs="?", type=Path, help="a folder of pack folders (default: the installed)"
        )

    def handle(self, *args: Any, folder: Path | None, **options: Any) -> None:
        try:
            packs = load_folder(folder)
        except PackError as error:
            raise CommandError(str(error)) from None
        Console(file=self.stdout, width=100).print(_table(packs))  # type: ignore[arg-type]


def _table(packs: PackSet) -> Table:
    table = Table("pack", "rules", "wordings", "overrides", "verified", title="Rule packs")
    for name in packs.names:
        rules = [entry.table for entry in packs.rules if entry.pack == name]
        versions = [version for rule in rules for version in rule.version]
        codes = Counter(version.verified for version in versions)
        verified = ", ".join(f"{code} {count}" for code, count in sorted(codes.items()))
        overrides = sum(1 for entry in packs.overrides if entry.pack == name)
        table.add_row(name, str(len(rules)), str(len(versions)), str(overrides), verified)
    return table
