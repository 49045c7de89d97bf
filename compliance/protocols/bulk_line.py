"""Tightness of bulk piping: airport hydrant systems, field-constructed tanks over 50,000 gal (40 CFR 280.252(d)).

Its sections may leak more before a test has to find it, by their volume and by how often they are tested; the pressure
is the operating one or more. Marinas have no such piping: that a line is one comes from the register and never from a
record, so that nobody gets the wider limit by a slip of the pen.
"""

from compliance.protocols import line_tightness
from compliance.protocols.criteria import Criterion
from compliance.protocols.leak_rates import probability_checks, rate_checks
from compliance.protocols.line_tightness import leak_rate, pressure_ratio
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, check, conclude

NEEDS = ("section_gal", "semiannual")


def judge(readings: Readings, setting: Setting) -> Verdict:
    """By the table of bulk piping where the register says that it is; else as any line."""
    if not setting.bulk_piping:
        return line_tightness.judge(readings, setting)
    pressure = check(
        setting.numbers.number("bulk-line-pressure"),
        pressure_ratio(readings),
        part="procedure",
        needs=["pressure_ratio"],
    )
    leak = _leak(readings, setting)
    missing = [name for name in NEEDS if not readings.states(name)]
    if missing:
        return conclude([check(leak, None, needs=missing), pressure])
    rates = rate_checks(readings, leak, leak_rate(readings), needs=["leak_rate_gph"])
    return conclude([*rates, pressure, *probability_checks(readings, setting)])


def _leak(readings: Readings, setting: Setting) -> Criterion:
    """The leak to be found in a section of this volume, tested this often; the smallest while one is not known."""
    row = setting.numbers.bulk_line(float(readings.number("section_gal") or 0))
    twice = readings.flag("semiannual") is True
    return Criterion(
        id="bulk-line-leak",
        title=f"Leak that a test of bulk piping is shown to find, sections of {row.from_gal:,.0f} gal and more, "
        f"{'twice a year' if twice else 'once a year'}",
        unit="gph",
        comparison="<=",
        value=row.semiannual_gph if twice else row.annual_gph,
        effective=row.effective,
        cite=row.cite,
        verified=row.verified,
        jurisdiction=row.jurisdiction,
    )
