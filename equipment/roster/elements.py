"""What a roster can say: the elements a column may feed, and the parts that hang on a tank."""

from collections.abc import Mapping
from enum import StrEnum

import msgspec

FACILITY = "facility"
TANK = "tank"
COMPARTMENT = "compartment"
PIPING_RUN = "piping_run"
SYSTEM = "system"
HOLDER = "holder"  # the compartment where the roster has them, else the tank

UNKNOWN = "unknown"
NO_PIPING = "no piping"
# Elements that no column of the register holds: they decide which rows are made.
STATUS = "status"
STATUS_SINCE = "status_since"
PRESENT = "present"


class ElementType(StrEnum):
    """How a cell is read."""

    TEXT = "text"
    TEXTS = "texts"
    WORD = "word"
    WORDS = "words"
    YES_NO = "yes or no"
    NUMBER = "number"
    WHOLE = "whole number"
    DAY = "day"


class Element(msgspec.Struct, frozen=True):
    """One thing a column can state: `part.field`, its type, and the limits of its value in the field's unit."""

    part: str
    field: str
    type: ElementType
    words: tuple[str, ...] = ()
    max_length: int | None = None
    above: float | None = None
    minimum: float | None = None
    maximum: float | None = None

    @property
    def name(self) -> str:
        """As mapping files write it."""
        return f"{self.part}.{self.field}"


class Part(msgspec.Struct, frozen=True):
    """A component that a row can state: its kind, the letters its tag begins with, and what it hangs on."""

    name: str
    kind: str
    prefix: str
    on: str
    label: str
    fixed: Mapping[str, str] = {}


def out_of_range(element: Element, number: float) -> str | None:
    """Which limit the number breaks, in words; None when it may stand."""
    if element.above is not None and number <= element.above:
        return f"must be above {element.above:g}"
    if element.minimum is not None and number < element.minimum:
        return f"must not be below {element.minimum:g}"
    if element.maximum is not None and number > element.maximum:
        return f"must not be above {element.maximum:g}"
    return None


# Tags follow the drawing of a tank pad: T1 with P1, SB1, OV1. A part stands after the one it hangs on.
PARTS: dict[str, Part] = {
    part.name: part
    for part in (
        Part(TANK, "tank", "T", SYSTEM, "tank"),
        Part(COMPARTMENT, "compartment", "C", TANK, "compartment"),
        Part(PIPING_RUN, "piping_run", "P", HOLDER, "piping run"),
        Part("line_leak_detector", "line_leak_detector", "LLD", PIPING_RUN, "line leak detector"),
        Part("spill_bucket", "spill_bucket", "SB", HOLDER, "spill bucket"),
        Part("overfill_device", "overfill_device", "OV", HOLDER, "overfill device"),
        Part("fill_port", "fill_port", "FP", HOLDER, "fill port"),
        Part("vent", "vent", "V", HOLDER, "vent"),
        Part("tank_top_sump", "containment_sump", "SU", TANK, "tank-top sump", {"place": "tank top"}),
        Part("dispenser_sump", "containment_sump", "SUD", TANK, "dispenser sump", {"place": "dispenser"}),
        Part(
            "tank_cathodic_protection", "cathodic_protection", "CP", TANK, "cathodic protection of the tank"
        ),
        Part(
            "piping_cathodic_protection",
            "cathodic_protection",
            "CPP",
            PIPING_RUN,
            "cathodic protection of the piping",
        ),
    )
}
# Of these every fuel tank has one, or the roster must say that it has none: silence is worth a remark.
EXPECTED_PARTS = (PIPING_RUN, "spill_bucket", "overfill_device")

ABOVE_ZERO = frozenset({"compartment_capacity_gallons", "diameter_in", "capacity_gal", "height_ft"})
RANGES: dict[str, tuple[float, float]] = {
    "facility_latitude": (-90, 90),
    "facility_longitude": (-180, 180),
    "ethanol_pct": (0, 100),
    "biodiesel_pct": (0, 100),
    "set_level_pct": (0, 100),
}


def number_element(part: str, field: str, type_: ElementType) -> Element:
    """A number with the limits that the register's own constraints hold; no quantity here is below zero."""
    if field in ABOVE_ZERO:
        return Element(part, field, type_, above=0)
    low, high = RANGES.get(field, (0, None))
    return Element(part, field, type_, minimum=low, maximum=high)
