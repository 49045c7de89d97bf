"""The dated numbers of the test protocols, read from the TOML files beside this module.

A number without a citation, a criterion named twice, or an unknown key does not load; the message names the file and
the entry. A facility's jurisdictions stand widest first, as in its site document.
"""

import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal, TypeVar

import msgspec

from compliance.protocols.inventory_periods import UnknownPeriod, spans_ending_in

HERE = Path(__file__).parent
ANY = "any"
DAYS_KEPT = 4096
COMPARED_UNROUNDED = "compared unrounded"

Comparison = Literal["<", "<=", ">", ">="]
Dated = TypeVar("Dated", bound="Entry")
Shape = TypeVar("Shape")


class CriteriaError(ValueError):
    """A file of numbers is wrong; the message says where and what to do."""


class NoCriterion(LookupError):
    """Nothing is in force that day under these jurisdictions: there is nothing to hold a test against."""


class Entry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every dated number carries."""

    effective: date
    cite: str
    verified: str
    jurisdiction: str = ANY


class Criterion(Entry, frozen=True, kw_only=True):
    """One number: `measured comparison value` must hold. Units as the catalogue writes them; "yes" is 1."""

    id: str
    title: str
    unit: str
    comparison: Comparison
    value: float
    rounding: str = COMPARED_UNROUNDED


class InventoryRule(Entry, frozen=True, kw_only=True):
    """Monthly reconciliation: percent of gallons pumped plus a constant; what counts; months in a row to report."""

    percent: float
    constant_gal: float
    counts: Literal["over and short", "short"]
    period: str
    months_to_report: int


class GaugingRow(Entry, frozen=True, kw_only=True):
    """A row of the manual-gauging table."""

    tank_class: str
    idle_h: float
    weekly_gal: float
    monthly_gal: float


class DeliveryRule(Entry, frozen=True, kw_only=True):
    """Room that a load needs, in percent of it or with a fixed extra, whichever is less."""

    load_percent: float
    extra_gal: float
    comparison: Literal[">", ">="]


class BulkLineRow(Entry, frozen=True, kw_only=True):
    """A row of the table of bulk piping: sections of `from_gal` and more, tested twice a year or once."""

    from_gal: float
    semiannual_gph: float
    annual_gph: float


class _Wording(Entry, frozen=True, kw_only=True):
    value: float


class _CriterionTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    id: str
    title: str
    unit: str
    comparison: Comparison
    version: tuple[_Wording, ...]
    rounding: str = COMPARED_UNROUNDED


class _CriteriaFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    criterion: tuple[_CriterionTable, ...]


class _RulesFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    inventory: tuple[InventoryRule, ...]
    gauging: tuple[GaugingRow, ...]
    delivery: tuple[DeliveryRule, ...]
    bulk_line: tuple[BulkLineRow, ...]


class Criteria(msgspec.Struct, frozen=True, kw_only=True):
    """Every number, of all days and jurisdictions."""

    numbers: tuple[Criterion, ...]
    inventory: tuple[InventoryRule, ...]
    gauging: tuple[GaugingRow, ...]
    delivery: tuple[DeliveryRule, ...]
    bulk_line: tuple[BulkLineRow, ...]


class InForce(msgspec.Struct, frozen=True, kw_only=True):
    """The numbers of one day under some jurisdictions, widest first."""

    criteria: Criteria
    on: date
    jurisdictions: tuple[str, ...]
    numbers: Mapping[str, Criterion]

    def number(self, name: str) -> Criterion:
        """The narrowest jurisdiction's wording. NoCriterion when there is none that day."""
        if name not in self.numbers:
            raise NoCriterion(f"{name} is not in force on {self.on} under {', '.join(self.jurisdictions)}")
        return self.numbers[name]

    def has(self, name: str) -> bool:
        return name in self.numbers

    def inventory(self) -> list[InventoryRule]:
        """One rule a jurisdiction; all of them must hold."""
        return self.latest(self.criteria.inventory)

    def delivery(self) -> list[DeliveryRule]:
        """One rule a jurisdiction; all of them must hold."""
        return self.latest(self.criteria.delivery)

    def gauging(self, tank_class: str) -> GaugingRow:
        """The row of a tank class. NoCriterion names the classes that there are."""
        found = self.latest(each for each in self.criteria.gauging if each.tank_class == tank_class)
        if not found:
            known = "; ".join(dict.fromkeys(each.tank_class for each in self.criteria.gauging))
            raise NoCriterion(f"tank class {tank_class!r} has no row; known: {known}")
        return found[-1]

    def bulk_line(self, section_gal: float) -> BulkLineRow:
        """The row of a section of this volume. NoCriterion where no jurisdiction has a table that day."""
        rows = [each for each in self.criteria.bulk_line if each.from_gal <= section_gal]
        widest = max((each.from_gal for each in rows), default=0.0)
        found = self.latest(each for each in rows if each.from_gal == widest)
        if not found:
            raise NoCriterion(f"no limits for bulk piping are in force on {self.on}")
        return found[-1]

    def latest(self, entries: Iterable[Dated]) -> list[Dated]:
        """The wording in force of each jurisdiction that has one, widest first."""
        return _latest(entries, self.on, self.jurisdictions)


def in_force(on: date, jurisdictions: Sequence[str], criteria: Criteria | None = None) -> InForce:
    """The numbers of a day; from the installed files unless others are given."""
    if criteria is None:
        return _installed_in_force(on, tuple(jurisdictions))
    return _in_force(on, tuple(jurisdictions), criteria)


@lru_cache(maxsize=DAYS_KEPT)
def _installed_in_force(on: date, jurisdictions: tuple[str, ...]) -> InForce:
    return _in_force(on, jurisdictions, installed())


def _in_force(on: date, jurisdictions: tuple[str, ...], criteria: Criteria) -> InForce:
    ids = defaultdict[str, list[Criterion]](list)
    for each in criteria.numbers:
        ids[each.id].append(each)
    found = {name: _latest(wordings, on, jurisdictions) for name, wordings in ids.items()}
    numbers = {name: wordings[-1] for name, wordings in found.items() if wordings}
    return InForce(criteria=criteria, on=on, jurisdictions=jurisdictions, numbers=MappingProxyType(numbers))


def _latest(entries: Iterable[Dated], on: date, jurisdictions: Sequence[str]) -> list[Dated]:
    begun = [each for each in entries if each.effective <= on]
    newest = {each.jurisdiction: each for each in sorted(begun, key=lambda entry: entry.effective)}
    return [newest[place] for place in (ANY, *jurisdictions) if place in newest]


@cache
def installed() -> Criteria:
    """The numbers that come with the service, read once a process."""
    return load(HERE / "criteria.toml", HERE / "rules.toml")


def load(criteria_path: Path, rules_path: Path) -> Criteria:
    """Read both files. CriteriaError names the file and what is wrong."""
    tables = _read(criteria_path, _CriteriaFile).criterion
    rules = _read(rules_path, _RulesFile)
    twice = [name for name, count in Counter(table.id for table in tables).items() if count > 1]
    if twice:
        raise CriteriaError(
            f"{criteria_path}: {', '.join(twice)} stands twice; keep one and give it versions"
        )
    found = Criteria(
        numbers=tuple(number for table in tables for number in _versions(table)),
        inventory=rules.inventory,
        gauging=rules.gauging,
        delivery=rules.delivery,
        bulk_line=rules.bulk_line,
    )
    for rule in found.inventory:
        try:
            spans_ending_in(rule.period, rule.effective)
        except UnknownPeriod as error:
            raise CriteriaError(f"{rules_path}: {rule.jurisdiction}: {error}") from error
    for entry in (*found.numbers, *found.inventory, *found.gauging, *found.delivery, *found.bulk_line):
        if not entry.cite.strip() or not entry.verified.strip():
            raise CriteriaError(f"{criteria_path}, {rules_path}: {entry}: state cite and verified")
    return found


def _versions(table: _CriterionTable) -> list[Criterion]:
    shared: dict[str, Any] = {
        name: getattr(table, name) for name in ("id", "title", "unit", "comparison", "rounding")
    }
    return [Criterion(**shared, **msgspec.structs.asdict(wording)) for wording in table.version]


def _read(path: Path, shape: type[Shape]) -> Shape:
    try:
        return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), shape)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, msgspec.ValidationError) as error:
        raise CriteriaError(f"{path}: {error}") from error
