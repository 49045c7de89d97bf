"""What to say beside a first look at a liquid-filled space: which breach could do it, where a trade saying misleads.

Directions are hydrostatics (`equipment.physics.interstice`). The sayings are common practice, no source; what is said
against them is worked out there. All of it is advice: it clears no alarm and answers no clock.
"""

from collections.abc import Iterator
from typing import Literal

import msgspec

from compliance.protocols.brine import Reading, Triage
from compliance.protocols.criteria import Criterion
from compliance.protocols.readings import exact
from compliance.protocols.verdicts import check
from equipment.physics.interstice import (
    Direction,
    Space,
    Wall,
    critical_groundwater,
    critical_product,
    inner_breach,
    outer_breach,
    settled_level,
)

Place = Literal["tank bottom", "mid-height", "tank top"]
ADVICE_ONLY = (
    "This is advice beside the alarm and decides nothing: it clears no alarm, answers no clock and is no disposition. "
    "A suspected release stays one until it is cleared in the way of 40 CFR 280.50, and liquid that had to be topped "
    "up without a known cause is a finding of its own. Where local codes, the maker's instructions or a licensed "
    "tester say otherwise, they come first."
)
HIGH_IS_INNER = (
    "A high alarm means the inner wall leaks.",
    "Not with a liquid that is heavier than the fuel and stands above it: through a wetted inner wall it runs out and "
    "the level falls. Only vapor pressure at a hole near the top lifts it. The saying comes from dry spaces.",
)
WATER_IS_HIGH = (
    "High ground water gives a high alarm.",
    "Only where its head at the hole is greater than that of the liquid, which is heavier. With ground water level "
    "with the tank top a low hole still drains, and the level falls.",
)
LOW_IS_INNER = (
    "A low alarm means the inner wall leaks.",
    "Either wall drains it. Rising bottom water in the tank speaks for the inner wall; bottom water that stays as it "
    "is, with ground water below the hole, for the outer one.",
)
SILENT_IS_TIGHT = (
    "No alarm means tight.",
    "Where the pressures at the hole are even, nothing moves. At tidal sites read the level against the tide: one that "
    "goes with it marks a hole in the outer wall.",
)
RISE_IS_LEAK = (
    "A level that rises at a delivery is a leak.",
    "Filling presses on the inner wall and warm fuel warms the liquid; both go back within days. Read on until it has, "
    "with the temperature beside each level.",
)
_GOES: dict[Reading, Direction] = {"loss": "down", "water coming in": "up"}
_FLOWS: dict[tuple[Wall, Direction], str] = {
    ("inner", "down"): "liquid into the fuel, where it sinks and reads as bottom water",
    ("inner", "up"): "fuel or its vapor into the space between the walls",
    ("outer", "down"): "liquid into the ground",
    ("outer", "up"): "ground water into the space between the walls",
}


class Levels(msgspec.Struct, frozen=True, kw_only=True):
    """Inches above the tank bottom, specific gravities against fresh water, inches of water column in the ullage.

    `groundwater_in` None: nobody knows; what it would take is still told.
    """

    reservoir_in: float
    tank_height_in: float
    product_in: float
    sg_product: float
    groundwater_in: float | None = None
    sg_groundwater: float = 1.0
    ullage_in_wc: float = 0.0


class BreachRow(msgspec.Struct, frozen=True, kw_only=True):
    """A hole in one wall at one height. `direction` None: the ground water is not known.

    `silent_at_in`: how high the other liquid (fuel inside, ground water outside) has to stand for the hole to be
    silent; above it the level rises. `fits`: whether it moves the level as the readings do; None where they do not say.
    """

    wall: Wall
    place: Place
    height_in: float
    direction: Direction | None
    flow: str
    silent_at_in: float
    fits: bool | None


class Saying(msgspec.Struct, frozen=True, kw_only=True):
    """A rule of thumb, what physics says to it, and with which figures here. `bears_here`: these readings invite it."""

    saying: str
    physics: str
    here: str | None
    bears_here: bool


def breach_table(levels: Levels, sg_liquid: float, reading: Reading) -> tuple[BreachRow, ...]:
    """Every hole that is worth asking about: either wall, at the bottom, half way up and at the top."""
    seen = _GOES.get(reading)
    return tuple(_rows(levels, _space(levels, sg_liquid), seen))


def sayings(found: Triage, levels: Levels | None, sg_liquid: float) -> tuple[Saying, ...]:
    """The sayings of the trade about such alarms, each with the figures of this tank where its levels are known."""
    up, down = found.reading == "water coming in", found.reading == "loss"
    unsure = found.reading == "cannot tell"
    quiet = found.reading == "consistent with temperature"
    return (
        _saying(HIGH_IS_INNER, _fuel_needed(levels, sg_liquid), bears_here=up),
        _saying(WATER_IS_HIGH, _water_needed(levels, sg_liquid), bears_here=up),
        _saying(LOW_IS_INNER, _low_alarm(found, levels, sg_liquid), bears_here=down),
        _saying(SILENT_IS_TIGHT, _tide(found), bears_here=quiet or unsure),
        _saying(RISE_IS_LEAK, None, bears_here=up or unsure),
    )


def level_note(levels: Levels, usual: Criterion) -> str | None:
    """What to ask about a level that stands lower over the tank top than is usual: `usual` is one maker's setting."""
    over = levels.reservoir_in - levels.tank_height_in
    if check(usual, exact(over)).holds:
        return None
    return (
        f"The liquid stands {over:.1f} in over the tank top. About {usual.value:g} in is what one maker sets "
        f"({usual.cite}): ask this tank's maker how high it belongs, and look for what is missing."
    )


def sentence(found: Triage) -> str:
    """The reading with its numbers, for a person; where nothing can be told, only that."""
    if found.observed_in is None or found.drift_in_a_day is None:
        return f"Result: {found.reading}. {' '.join(found.notes)}"
    return (
        f"Result: {found.reading}. From the first to the last readings the level moved {found.observed_in:+.2f} in; "
        f"temperature explains {found.expected_in:+.2f} in, give or take {found.band_in:.2f}. With temperature taken "
        f"out it moves {found.drift_in_a_day:+.4f} in a day, give or take {found.drift_margin:.4f} (95 percent): "
        f"{found.gallons_a_day:+.3f} gal a day."
    )


def _space(levels: Levels, sg_liquid: float) -> Space:
    return Space(
        reservoir_in=levels.reservoir_in,
        sg_liquid=sg_liquid,
        sg_product=levels.sg_product,
        product_in=levels.product_in,
        groundwater_in=levels.groundwater_in or 0.0,
        sg_groundwater=levels.sg_groundwater,
        ullage_in_wc=levels.ullage_in_wc,
    )


def _heights(levels: Levels) -> tuple[tuple[Place, float], ...]:
    top = levels.tank_height_in
    return ("tank bottom", 0.0), ("mid-height", top / 2), ("tank top", top)


def _rows(levels: Levels, space: Space, seen: Direction | None) -> Iterator[BreachRow]:
    for place, height in _heights(levels):
        yield _row(
            "inner",
            (place, height),
            inner_breach(space, height),
            silent_at=critical_product(space, height),
            seen=seen,
        )
    for place, height in _heights(levels):
        outside = None if levels.groundwater_in is None else outer_breach(space, height)
        yield _row(
            "outer", (place, height), outside, silent_at=critical_groundwater(space, height), seen=seen
        )


def _row(
    wall: Wall,
    hole: tuple[Place, float],
    direction: Direction | None,
    *,
    silent_at: float,
    seen: Direction | None,
) -> BreachRow:
    if direction is None:
        flow = "not known without the ground water level"
    else:
        flow = _FLOWS.get((wall, direction), "none: the pressures are even")
    return BreachRow(
        wall=wall,
        place=hole[0],
        height_in=hole[1],
        direction=direction,
        flow=flow,
        silent_at_in=silent_at,
        fits=None if seen is None or direction is None else direction == seen,
    )


def _saying(words: tuple[str, str], here: str | None, *, bears_here: bool) -> Saying:
    return Saying(saying=words[0], physics=words[1], here=here, bears_here=bears_here)


def _fuel_needed(levels: Levels | None, sg_liquid: float) -> str | None:
    if levels is None:
        return None
    needed = critical_product(_space(levels, sg_liquid), 0)
    return (
        f"At the tank bottom fuel would have to stand {needed:.1f} in high to come in; "
        f"it stands at {levels.product_in:.1f} in."
    )


def _water_needed(levels: Levels | None, sg_liquid: float) -> str | None:
    if levels is None:
        return None
    space = _space(levels, sg_liquid)
    needed = ", ".join(
        f"{critical_groundwater(space, height):.1f} in for a hole at {place}"
        for place, height in _heights(levels)
    )
    stands = "" if levels.groundwater_in is None else f" It stands at {levels.groundwater_in:.1f} in."
    return f"To come in, it has to stand above {needed} (inches above the tank bottom).{stands}"


def _low_alarm(found: Triage, levels: Levels | None, sg_liquid: float) -> str | None:
    """What the bottom water did, and how far the level would fall: both tell an inner wall from an outer one."""
    said, rise = list[str](), found.bottom_water_rise_in
    if rise is not None:
        said.append(f"Bottom water moved {rise:+.2f} in over the readings.")
    if levels is not None:
        rest = settled_level(_space(levels, sg_liquid))
        said.append(
            f"Through a hole in the inner wall at the tank bottom the level would come to rest at about {rest:.1f} in."
        )
    return " ".join(said) or None


def _tide(found: Triage) -> str | None:
    along = found.tide_correlation
    return None if along is None else f"Correlation of the level with the tide: {along:+.2f}."
