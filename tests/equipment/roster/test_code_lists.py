"""The register's words against EPA UST data template, 3 Feb 2025 (words as published: epa-ust-template-words.toml)."""

import tomllib
from pathlib import Path

import pytest
from django.db.models import CheckConstraint, Q

from equipment.models import KINDS, Facility
from equipment.roster.cells import CellReader
from equipment.roster.mapping import ColumnTable, DateTable
from equipment.services.roster_elements import register_elements
from tests.world import TODAY

PUBLISHED = tomllib.loads((Path(__file__).parent / "epa-ust-template-words.toml").read_text(encoding="utf-8"))
FIELD_OF = {
    "FacilityType1": "facility.facility_type1",
    "OwnerType": "facility.owner_type",
    "TankStatus": "tank.status",
    "CompartmentStatus": "compartment.status",
    "TankMaterialDescription": "tank.tank_material_description",
    "Substance": "tank.substance",
    "SpillBucketWallType": "spill_bucket.spill_bucket_wall_type",
    "PipingWallType": "piping_run.piping_wall_type",
}
PAIRS = [(FIELD_OF[name], word) for name in FIELD_OF for word in PUBLISHED[name]]


@pytest.mark.parametrize("name", FIELD_OF)
def test_our_list_is_the_published_one(name):
    assert set(register_elements()[FIELD_OF[name]].words) == {word.lower() for word in PUBLISHED[name]}


@pytest.mark.parametrize(("field", "word"), PAIRS)
def test_each_published_word_is_read_without_a_word_table(field, word):
    reader = CellReader(ColumnTable("c", field), register_elements()[field], DateTable(), as_of=TODAY)

    assert reader.read(f" {word.upper()} ") == (word.lower(), None)


@pytest.mark.parametrize(
    ("name", "field", "shortened"),
    [
        # The standard's number, and the examples, are left out of our word.
        (
            "TankSecondaryContainment",
            "tank.tank_secondary_containment",
            {"tank-within-a-tank retrofit ul standard 1856": "tank-within-a-tank retrofit"},
        ),
        (
            "PipingStyle",
            "piping_run.piping_style",
            {"non-operational e.g., fill line, vent line, gravity": "non-operational"},
        ),
    ],
)
def test_where_our_word_is_shorter_than_the_published_one_the_others_agree(name, field, shortened):
    published = {shortened.get(word.lower(), word.lower()) for word in PUBLISHED[name]}

    assert published <= set(register_elements()[field].words)


def test_limits_of_numbers_are_those_of_the_registers_constraints():
    above_zero, from_to = set(), {}
    for constraint in (one for model in (*KINDS, Facility) for one in model._meta.constraints):
        for path, value in _terms(constraint):
            name, _, test = path.partition("__")
            if test == "gt" and value == 0:
                above_zero.add(name)
            elif test == "range":
                from_to[name] = value

    assert {one.field for one in register_elements().values() if one.above == 0} <= above_zero
    assert {
        one.field: (one.minimum, one.maximum)
        for one in register_elements().values()
        if one.maximum is not None
    }.items() <= from_to.items()


def _terms(constraint):
    """(field__test, value) of every comparison in a check constraint."""
    waiting = [constraint.condition] if isinstance(constraint, CheckConstraint) else []
    while waiting:
        one = waiting.pop()
        if isinstance(one, Q):
            waiting += one.children
        elif isinstance(one, tuple):
            yield one
