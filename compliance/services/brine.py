"""Takes in the readings of a liquid-filled space beside an alarm, and keeps what physics makes of them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import msgspec
from django.db import transaction

from alarms.conditions import condition_or_unlisted, conditions
from alarms.models import Alarm
from compliance.models import BrineTriage
from compliance.protocols import brine_advice
from compliance.protocols.brine import Interstice, Sample, Triage, expansion_of, triage
from compliance.protocols.brine_advice import Levels
from compliance.protocols.criteria import Criterion, in_force
from equipment.change_log import in_force_at_components
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Component, Organisation, Tank
from equipment.moments import CLOCK_SKEW
from equipment.physics import brine
from equipment.physics.units import convert
from equipment.services.checking import clean
from equipment.services.facts import lock_facility
from equipment.vocabulary import Interstice as Filling
from equipment.vocabulary import Kind

# These say by themselves that the space holds liquid on purpose.
OF_THE_LIQUID = frozenset({"monitoring-liquid-low", "monitoring-liquid-high"})
# These may be about that liquid where the register says that there is some.
PERHAPS_OF_THE_LIQUID = frozenset({"tank-interstice-liquid", "high-water", "sensor-fault"})
FRESH_WATER_KG_M3 = 1000.0
G_ML_KG_M3 = 1000.0
SECONDS_A_DAY = 86_400
LONGEST = timedelta(days=400)
"""A drift over more than a year is no longer one drift."""


class NoLiquidHere(Conflict):
    """The alarm is not about a space that is filled with liquid."""

    slug = "no-liquid-filled-space"
    title = "This alarm is not about a liquid-filled space"


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Level and temperature at one moment; inches, degrees Fahrenheit, feet of tide, inches of bottom water."""

    at: datetime
    level_in: float
    temperature_degf: float
    tide_ft: float | None = None
    bottom_water_in: float | None = None

    @property
    def degc(self) -> float:
        """The temperature as physics takes it."""
        return convert(self.temperature_degf, "degf", "degc")


@dataclass(frozen=True, kw_only=True)
class Look:
    """What is known of a space and what was read there. `specific_gravity` None: that of brine of this strength."""

    space: Interstice
    readings: Sequence[Reading]
    levels: Levels | None = None
    specific_gravity: float | None = None

    @property
    def degc(self) -> float:
        """The mean temperature."""
        return sum(each.degc for each in self.readings) / len(self.readings)

    @property
    def gravity(self) -> float:
        """Of the liquid against fresh water, at that temperature."""
        if self.specific_gravity is not None:
            return self.specific_gravity
        if self.stronger_than_the_fit:
            return brine.handbook_density(self.space.mass_pct) * G_ML_KG_M3 / FRESH_WATER_KG_M3
        return brine.density(self.space.mass_pct, self.degc) / FRESH_WATER_KG_M3

    @property
    def by_the_fit(self) -> bool:
        """Whether anything is taken from the brine's published density."""
        return not self.stronger_than_the_fit and (
            self.specific_gravity is None or self.space.expansion is None
        )

    @property
    def stronger_than_the_fit(self) -> bool:
        """Whether the density comes from the handbook's table, at 20 °C alone."""
        return self.space.mass_pct > brine.MOST_MASS_PCT


@transaction.atomic
def triage_alarm(
    *,
    alarm: Alarm,
    look: Look,
    stated: Mapping[str, Any],
    by: str,
    organisation: Organisation,
    now: datetime,
) -> BrineTriage:
    """Weigh the readings and keep them with the answer. The alarm, its clocks and its dispositions stay as they are.

    `stated`: the body as it was sent. Raises `NoLiquidHere`, or `Invalid` with a pointer to each fault. The facility's
    version does not rise: no rule reads a triage, so nothing has to be judged anew.
    """
    facility = lock_facility(alarm.facility_id)
    _refuse_dry(alarm)
    refuse(_faults(look, now=now))
    row = BrineTriage(
        facility=facility,
        alarm=alarm,
        submitted_by=organisation,
        recorded_at=now,
        recorded_by=by,
        stated=dict(stated),
        answer=answer_of(alarm, look),
    )
    clean(row)
    row.save()
    return row


def answer_of(alarm: Alarm, look: Look) -> dict[str, Any]:
    """What physics makes of checked readings, as plain JSON."""
    start = min(each.at for each in look.readings)
    found = triage([_sample(each, start) for each in look.readings], look.space)
    table = brine_advice.breach_table(look.levels, look.gravity, found.reading) if look.levels else None
    return {
        "result": found.reading,
        "sentence": brine_advice.sentence(found),
        "numbers": _numbers(found, look),
        "breaches": msgspec.to_builtins(table),
        "sayings": msgspec.to_builtins(brine_advice.sayings(found, look.levels, look.gravity)),
        "notes": [*found.notes, *_doubts(look)],
        "advice": brine_advice.ADVICE_ONLY,
        "cautions": [caution.text for caution in condition_or_unlisted(alarm.condition).cautions],
    }


def _numbers(found: Triage, look: Look) -> dict[str, float | None]:
    numbers = msgspec.to_builtins(found)
    return {
        **{name: value for name, value in numbers.items() if name not in ("reading", "notes")},
        "specific_gravity": look.gravity,
        "expansion_per_k": expansion_of(look.space, look.degc),
    }


def _sample(reading: Reading, start: datetime) -> Sample:
    return Sample(
        days=(reading.at - start).total_seconds() / SECONDS_A_DAY,
        level_in=reading.level_in,
        degc=reading.degc,
        tide_ft=reading.tide_ft,
        bottom_water_in=reading.bottom_water_in,
    )


def _doubts(look: Look) -> Iterator[str]:
    space = look.space
    if space.expansion is None and (
        brine.expansion_spread(space.mass_pct, look.degc) > brine.EXPANSION_SPREAD
    ):
        yield (
            "At this strength or temperature the published expansion may be half or twice the true one; state "
            "expansion_per_k if a measurement is at hand."
        )
    if look.stronger_than_the_fit and look.specific_gravity is None:
        yield (
            f"Over {brine.MOST_MASS_PCT:g} percent the specific gravity is a handbook's at 20 °C; state "
            "specific_gravity if it was measured."
        )
    if look.levels is None:
        yield "Send levels to see which hole could move the level which way."
    elif note := brine_advice.level_note(look.levels, _usual_level(max(each.at for each in look.readings))):
        yield note


def _usual_level(at: datetime) -> Criterion:
    return in_force(at.date(), ()).number("liquid-over-top")


def _refuse_dry(alarm: Alarm) -> None:
    """Only where the space holds liquid: the condition says so, or the register does. Where the two differ, ask."""
    filling = _filling(alarm.component)
    if filling == Filling.LIQUID and (
        alarm.condition in OF_THE_LIQUID | PERHAPS_OF_THE_LIQUID or alarm.condition not in conditions()
    ):
        return
    if filling is None and alarm.condition in OF_THE_LIQUID:
        return
    if alarm.condition in OF_THE_LIQUID:
        raise NoLiquidHere(
            f"The register says that the space between the walls there is: {filling}. Correct the tank's interstice, "
            "or look at the sensor's wiring and name."
        )
    raise NoLiquidHere(
        f"{alarm.condition} at {alarm.place} is not about the liquid between two walls. Triage is for a level in a "
        "space that is filled on purpose: monitoring-liquid-low, monitoring-liquid-high."
    )


def _filling(component: Component | None) -> str | None:
    """What the register says of the tank that this component is or hangs on; None: nothing, or no tank."""
    seen = component
    while seen is not None and seen.kind != Kind.TANK:
        seen = seen.parent
    if seen is None:
        return None
    changed = in_force_at_components([seen.pk]).get(seen.pk)
    if changed is not None and "interstice" in changed.changed:
        return str(changed.changed["interstice"].value)
    return Tank.objects.values_list("interstice", flat=True).get(pk=seen.pk)


def _faults(look: Look, *, now: datetime) -> Iterator[Fault]:
    used: dict[datetime, int] = {}
    for position, reading in enumerate(look.readings):
        place = f"/readings/{position}"
        if reading.at > now + CLOCK_SKEW:
            yield Fault(f"{place}/at", "lies in the future; send what was read", "future")
        if (first := used.setdefault(reading.at, position)) != position:
            yield Fault(f"{place}/at", f"is the moment of reading {first} too; send one of them", "repeated")
        if look.by_the_fit:
            yield from _outside(look.space, reading.degc, f"{place}/temperature_degf")
    if max(used) - min(used) > LONGEST:
        yield Fault("/readings", f"span more than {LONGEST.days} days; send the last ones", "too-long")
    if look.space.expansion is None:
        yield from _without_expansion(look)


def _outside(space: Interstice, degc: float, pointer: str) -> Iterator[Fault]:
    """Partly frozen brine, or a slip of the pen or of the unit."""
    try:
        brine.density(space.mass_pct, degc)
    except brine.OutsideTheFit as error:
        yield Fault(pointer, f"{error}; check the reading, its unit and the strength", "outside-the-fit")


def _without_expansion(look: Look) -> Iterator[Fault]:
    if look.stronger_than_the_fit:
        detail = f"over {brine.MOST_MASS_PCT:g} % by mass no expansion is known here; state it per kelvin"
        yield Fault("/space/expansion_per_k", detail, "missing")
        return
    try:
        brine.expansion_spread(look.space.mass_pct, degc=0)
    except brine.OutsideTheFit as error:
        yield Fault("/space/mass_pct", str(error), "below-minimum")
