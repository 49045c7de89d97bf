"""Readings of cathodic protection, structure by structure (NACE TM0101-2001; 40 CFR 280.31(b)).

A structure is protected when all its points are at -850 mV or more negative against copper sulphate with the current
just broken, or when all are polarised by 100 mV (native minus instant-off). Potentials with the current on are taken
only where the record says so: for galvanic systems that cannot be interrupted.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal

from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, either, stated

ON = "-850 mV on"


def judge(readings: Readings, setting: Setting) -> Verdict:
    """From the rows where there are any; else from the weakest reading and the smallest shift of the summary."""
    structures = _structures(readings.rows("readings"))
    if not structures:
        return conclude(_summary_checks(readings, setting))
    on = readings.word("criterion") == ON
    checks = [
        each
        for name, points in structures.items()
        for each in _structure_checks(name, points, setting, on=on)
    ]
    return conclude(checks, _notes(readings))


def polarisation(native: Decimal | None, instant_off: Decimal | None) -> Decimal | None:
    """Native minus instant-off, in mV; protection gives a positive shift."""
    return native - instant_off if native is not None and instant_off is not None else None


def _structures(rows: Iterable[Readings]) -> dict[str, list[Readings]]:
    found: dict[str, list[Readings]] = {}
    for row in rows:
        found.setdefault(row.word("structure") or "not named", []).append(row)
    return found


def _structure_checks(name: str, points: Sequence[Readings], setting: Setting, *, on: bool) -> list[Check]:
    """The criterion that the structure meets at every point; when it meets none, the potential."""
    column = "on_mv" if on else "instant_off_mv"
    potentials = _every([row.number(column) for row in points])
    shifts = _every([polarisation(row.number("native_mv"), row.number("instant_off_mv")) for row in points])
    numbers = setting.numbers
    options = [
        check(
            numbers.number("cp-potential"),
            max(potentials) if potentials else None,
            needs=[f"readings.{column}"],
            of=name,
        ),
        check(numbers.number("cp-polarisation"), min(shifts) if shifts else None, of=name),
    ]
    readings = [value for row in points if (value := row.number(column)) is not None]
    suspect = check(numbers.number("cp-suspect"), min(readings, default=None), part="procedure", of=name)
    return [either(options), *stated([suspect])]


def _summary_checks(readings: Readings, setting: Setting) -> list[Check]:
    numbers = setting.numbers
    options = [
        check(numbers.number("cp-potential"), readings.number("lowest_mv"), needs=["readings"]),
        check(numbers.number("cp-polarisation"), readings.number("polarisation_mv")),
    ]
    return [either(options)]


def _every(values: Sequence[Decimal | None]) -> list[Decimal] | None:
    """All points of a structure; None when any of them was not read."""
    known = [each for each in values if each is not None]
    return known if known and len(known) == len(values) else None


def _notes(readings: Readings) -> list[str]:
    cell = readings.word("reference_cell")
    if cell in (None, "copper sulphate"):
        return []
    return [f"Read with a {cell} cell; the values count as already stated against copper sulphate."]
