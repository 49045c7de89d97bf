"""The shape of the catalogue: what an activity is, and what may be measured in it."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal

import msgspec

COMPONENT_KINDS = (
    "tank",
    "compartment",
    "piping_run",
    "spill_bucket",
    "overfill_device",
    "containment_sump",
    "line_leak_detector",
    "sensor",
    "monitoring_console",
    "cathodic_protection",
    "monitoring_well",
    "vent",
    "fill_port",
    "dispenser",
    "shear_valve",
    "shore_valve",
    "emergency_shutoff",
    "hose",
    "vac_pressure_device",
    "handheld_rd_device",
)
SUBJECTS = (*COMPONENT_KINDS, "facility", "tank_system", "person")

MeasurementType = Literal[
    "number", "integer", "boolean", "text", "choice", "list-of-choice", "list-of-text", "rows"
]
NUMBERS = frozenset({"number", "integer"})
CHOICES = frozenset({"choice", "list-of-choice"})


class Measurement(msgspec.Struct, frozen=True, kw_only=True):
    """One named value of a record.

    `unit` is spelled out and None for what is not a number. `min` and `max` are inclusive: bounds of physics or of the
    definition, else the outermost of the unit (limits.toml), since a bad reading is a result and must be storable;
    `beyond` says what lies outside these.
    `words` are the terms that rules look for in a text; other text is allowed. `fields` are the
    columns of `rows`.
    """

    name: str
    type: MeasurementType
    description: str
    unit: str | None = None
    min: float | None = None
    max: float | None = None
    beyond: str = ""
    choices: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    required: bool = False
    fields: tuple["Measurement", ...] = ()


class Caution(msgspec.Struct, frozen=True, kw_only=True):
    """A safety sentence in our own words, with where it comes from."""

    text: str
    source: str


class Activity(msgspec.Struct, frozen=True, kw_only=True):
    """Something that is done and recorded: a test, an inspection, a report.

    `passes_when` says what an outcome of `pass` means; None: the record counts by having been done, or a
    rule compares its numbers. `subjects` are component kinds, `facility`, `tank_system` or `person`.
    """

    slug: str
    title: str
    family: str
    cite: str
    subjects: tuple[str, ...]
    passes_when: str | None
    cautions: tuple[Caution, ...]
    measurements: tuple[Measurement, ...]
    example: Mapping[str, Any]

    @property
    def caution(self) -> str:
        """All cautions as one text, to show beside the task."""
        return " ".join(caution.text for caution in self.cautions)

    @property
    def outcome_used(self) -> bool:
        return self.passes_when is not None

    @property
    def by_name(self) -> Mapping[str, Measurement]:
        return MappingProxyType({each.name: each for each in self.measurements})
