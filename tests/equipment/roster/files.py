"""Small rosters for tests: a mapping, rows as text, and one call that imports them."""

import io
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from equipment.models import Organisation
from equipment.roster.mapping import RosterMapping
from equipment.roster.mapping_file import shipped_mappings
from equipment.roster.report import Remark, RowReport, Summary
from equipment.services.rosters import Order, import_roster, mapping_of
from tests.world import NOW, TODAY

SAMPLE = Path(__file__).parent / "public-roster-sample.csv"
SHIPPED = shipped_mappings()["state-extract"]
HEADER = "site,tank,status,installed,capacity,material,pipe,county"
GOOD = "S9,1,Currently in use,1998-06-15,12000,FRP,Flex,Kent"
# The smallest mapping with a number, a date, a word, a list and a text in it.
MAPPING = """
title = "Test"
[identity]
facility = "site"
tank = "tank"
[constants.facility]
time_zone = "America/New_York"
facility_state = "MD"
jurisdictions = ["us-federal"]
[dates]
formats = ["%Y-%m-%d", "%m/%d/%Y"]
placeholders = ["1900-01-01"]
[[column]]
name = "status"
feeds = "tank.status"
[[column]]
name = "installed"
feeds = "tank.installed_on"
[[column]]
name = "capacity"
feeds = "tank.compartment_capacity_gallons"
[[column]]
name = "material"
feeds = "tank.tank_material_description"
words = { "FRP" = "fiberglass reinforced plastic" }
[[column]]
name = "pipe"
feeds = "piping_run.piping_material"
separator = ";"
words = { "Flex" = "flexible plastic" }
[[column]]
name = "county"
feeds = "facility.facility_county"
"""


@dataclass
class Imported:
    """What one import told."""

    rows: list[RowReport]
    summary: Summary

    @property
    def outcomes(self) -> list[str]:
        return [row.outcome.value for row in self.rows]

    @property
    def remarks(self) -> list[Remark]:
        return [remark for row in self.rows for remark in row.remarks]

    @property
    def reasons(self) -> list[str]:
        return [remark.reason for remark in self.remarks]


def mapping(text: str = MAPPING) -> RosterMapping:
    return mapping_of(text.encode(), name="test.toml")


def shipped() -> RosterMapping:
    return mapping_of(SHIPPED.read_bytes(), name=SHIPPED.name)


def take(
    content: bytes | str,
    operator: Organisation,
    *,
    using: RosterMapping | None = None,
    as_of: date = TODAY,
    **options: Any,
) -> Imported:
    """Import the bytes as a file; texts are UTF-8."""
    rows: list[RowReport] = []
    order = Order(mapping=using or mapping(), operator=operator, by="test", now=NOW, as_of=as_of, **options)
    source = io.BytesIO(content.encode() if isinstance(content, str) else content)
    summary = import_roster(source=source, name="tanks.csv", order=order, tell=rows.append)
    return Imported(rows, summary)


def roster(*rows: str, header: str = HEADER) -> str:
    return "\r\n".join([header, *rows]) + "\r\n"
