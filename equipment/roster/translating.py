"""Turns one row of the roster into what it states in the register's words."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

import msgspec

from equipment.roster.cells import CellReader
from equipment.roster.elements import (
    COMPARTMENT,
    EXPECTED_PARTS,
    FACILITY,
    HOLDER,
    NO_PIPING,
    PARTS,
    PIPING_RUN,
    PRESENT,
    STATUS,
    STATUS_SINCE,
    SYSTEM,
    TANK,
    UNKNOWN,
    Element,
    ElementType,
)
from equipment.roster.mapping import ColumnTable, RosterMapping
from equipment.roster.reading import RawRow
from equipment.roster.report import Remark, shown

_NOT_IN_A_TAG = re.compile(r"[^A-Za-z0-9._-]+")
LONGEST_SUFFIX = 26
LONGEST_NUMBER = 50
_YES_NO = Element("", "", ElementType.YES_NO)


class StatedStatus(msgspec.Struct, frozen=True):
    """A status, and since when where the roster says so."""

    word: str
    since: date | None


class TankRow(msgspec.Struct):
    """What a row states. `fields` by part (and `facility`), only parts that are there. `suffix` ends each tag."""

    number: int
    facility: str
    tank: str
    compartment: str | None
    suffix: str
    tank_suffix: str
    fields: dict[str, dict[str, Any]]
    statuses: dict[str, StatedStatus]
    remarks: list[Remark]
    silent: list[str]  # parts that a fuel tank has and the row says nothing about

    def tag(self, part: str) -> str:
        """T1, P1; with compartments C1.2, P1.2."""
        of_tank = part == TANK or (PARTS[part].on == TANK and part != COMPARTMENT)
        return f"{PARTS[part].prefix}{self.tank_suffix if of_tank else self.suffix}"

    def holder(self, part: str) -> str | None:
        """The part that this one hangs on, None for the tank system."""
        on = PARTS[part].on
        if on == HOLDER:
            return COMPARTMENT if self.compartment else TANK
        return None if on == SYSTEM else on


class Unusable(ValueError):
    """The row cannot become a tank."""

    def __init__(self, column: str, value: str, reason: str) -> None:
        super().__init__(reason)
        self.remark = Remark(column, shown(value), reason)


class Translator:
    """Translates rows by one mapping; built once a run. `as_of` is the day of the roster."""

    def __init__(self, mapping: RosterMapping, elements: Mapping[str, Element], *, as_of: date) -> None:
        self._identity = mapping.identity
        self._readers = [
            CellReader(column, elements[column.feeds], mapping.dates, as_of=as_of)
            for column in mapping.column
        ]
        self._flags: dict[str, list[tuple[CellReader, str]]] = {}
        for flag in mapping.flag:
            reader = CellReader(ColumnTable(flag.name, flag.adds), _YES_NO, mapping.dates, as_of=as_of)
            self._flags.setdefault(flag.adds, []).append((reader, flag.word))
        self._elements = elements
        # The column to name when a remark is about the element, or about a part as a whole.
        self.column_of: dict[str, str] = {}
        for name, column in [
            *((f.adds, f.name) for f in mapping.flag),
            *((c.feeds, c.name) for c in mapping.column),
        ]:
            self.column_of.setdefault(name, column)
            self.column_of.setdefault(name.partition(".")[0], column)

    def translate(self, raw: RawRow) -> TankRow:
        """What the row states; `Unusable` when it cannot be told which tank it is about."""
        row = self._identified(raw)
        fields = row.fields
        for reader in self._readers:
            cell = raw.cells[reader.column]
            value, reason = reader.read(cell)
            if reason is not None:
                row.remarks.append(Remark(reader.column, shown(cell), reason))
            fields.setdefault(reader.element.part, {})[reader.element.field] = value
        for name, flags in self._flags.items():
            part, _, field = name.partition(".")
            fields.setdefault(part, {})[field] = self._flagged(name, flags, raw, row.remarks)
        if not row.compartment:
            _give_tank(fields)
        self._take_statuses(row)
        self._choose_parts(row)
        self._check_days(row)
        return row

    def _identified(self, raw: RawRow) -> TankRow:
        identity = self._identity
        facility = self._number(raw, identity.facility, LONGEST_NUMBER - len(identity.code_prefix))
        tank = self._number(raw, identity.tank, LONGEST_SUFFIX)
        compartment = raw.cells[identity.compartment].strip() if identity.compartment else ""
        tank_suffix = self._suffix(identity.tank, tank)
        suffix = tank_suffix
        if compartment and identity.compartment:
            suffix = f"{tank_suffix}.{self._suffix(identity.compartment, compartment)}"
            if len(suffix) > LONGEST_SUFFIX:
                raise Unusable(
                    identity.compartment, compartment, f"is too long for a tag with its tank: {suffix}"
                )
        return TankRow(
            raw.number, facility, tank, compartment or None, suffix, tank_suffix, {TANK: {}}, {}, [], []
        )

    def _number(self, raw: RawRow, column: str, longest: int) -> str:
        text = raw.cells[column].strip()
        if not text:
            raise Unusable(column, "", "is empty; without it nobody can tell which tank the row is about")
        if len(text) > longest:
            raise Unusable(column, text, f"is longer than {longest} characters")
        return text

    def _suffix(self, column: str, text: str) -> str:
        suffix = _NOT_IN_A_TAG.sub("-", text).strip("-")
        if not suffix:
            raise Unusable(column, text, "holds no letter or digit to make a tag of")
        return suffix

    def _flagged(
        self, name: str, flags: list[tuple[CellReader, str]], raw: RawRow, remarks: list[Remark]
    ) -> Any:
        """The words whose flags say yes. No flag at yes and all at no is an empty list; anything less is unknown."""
        yes, silent, unread = [], [], False
        for reader, word in flags:
            answer, reason = reader.read(raw.cells[reader.column])
            if reason is not None:
                unread = True
                remarks.append(Remark(reader.column, shown(raw.cells[reader.column]), reason))
            if answer:
                yes.append(word)
            elif answer is None:
                silent.append(reader.column)
        if self._elements[name].type is ElementType.WORD:
            if len(yes) > 1:
                remarks.append(
                    Remark(flags[0][0].column, "; ".join(yes), f"{name} holds one word; kept as unknown")
                )
            return yes[0] if len(yes) == 1 and not unread else None
        if unread or (silent and not yes):
            return None
        if silent:
            reason = f"not said: {', '.join(silent)}; taken as not in use beside those that are"
            remarks.append(Remark(flags[0][0].column, "; ".join(yes), reason))
        return yes

    def _take_statuses(self, row: TankRow) -> None:
        for part in (TANK, COMPARTMENT):
            fields = row.fields.get(part, {})
            if STATUS not in fields:
                continue
            word, since = fields.pop(STATUS), fields.pop(STATUS_SINCE, None)
            if word is None:
                column = self.column_of.get(f"{part}.{STATUS}", "")
                row.remarks.append(Remark(column, "", "no status is stated; kept as unknown"))
            row.statuses[part] = StatedStatus(word or UNKNOWN, since)

    def _choose_parts(self, row: TankRow) -> None:
        """Keep the parts that are there. Silence about one that fuel tanks have is noted."""
        fields = row.fields
        stated = {TANK} | ({COMPARTMENT} if row.compartment else set())
        denied = set()
        for name in fields:
            if name in (FACILITY, TANK, COMPARTMENT):
                continue
            present = fields[name].pop(PRESENT, None)
            if present is False or (name == PIPING_RUN and _no_piping(fields[name])):
                denied.add(name)
            elif present or any(map(_known, fields[name].values())):
                stated.add(name)
        for name in sorted(stated):
            on = PARTS[name].on
            if on in PARTS and on not in (TANK, COMPARTMENT):
                self._settle_below(row, name, on, stated, denied)
        row.silent = [
            name for name in EXPECTED_PARTS if name in self.column_of and name not in stated | denied
        ]
        for name in denied & stated:
            stated.discard(name)
        row.fields = {
            name: dict(fields.get(name, {})) for name in (FACILITY, *PARTS) if name in stated | {FACILITY}
        }
        for name in stated:
            row.fields[name].update(PARTS[name].fixed)

    def _settle_below(self, row: TankRow, name: str, on: str, stated: set[str], denied: set[str]) -> None:
        """What hangs on a part shows that the part is there, unless the roster says the opposite."""
        if on in denied:
            reason = f"a {PARTS[name].label} is stated, but the {PARTS[on].label} it belongs to is denied; left out"
            row.remarks.append(Remark(self.column_of[name], "", reason))
            stated.discard(name)
        else:
            stated.add(on)

    def _check_days(self, row: TankRow) -> None:
        for name, fields in row.fields.items():
            installed, removed = fields.get("installed_on"), fields.get("removed_on")
            if installed and removed and removed < installed:
                column = self.column_of[f"{name}.removed_on"]
                row.remarks.append(
                    Remark(column, shown(removed), f"lies before installation, {installed}; kept as unknown")
                )
                fields["removed_on"] = None


def _give_tank(fields: dict[str, dict[str, Any]]) -> None:
    """A tank without compartments carries capacity, product, methods and status itself."""
    for field, value in fields.pop(COMPARTMENT, {}).items():
        if fields[TANK].get(field) is None:
            fields[TANK][field] = value


def _known(value: object) -> bool:
    return value not in (None, UNKNOWN, [], [UNKNOWN])


def _no_piping(fields: Mapping[str, Any]) -> bool:
    return fields.get("piping_style") == NO_PIPING or fields.get("piping_material") == [NO_PIPING]
