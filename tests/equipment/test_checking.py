"""What a broken constraint means to whoever broke it."""

import pytest

from equipment.faults import Fault, Invalid
from equipment.models import KINDS, Facility, FieldChange, StatusChange, Tank
from equipment.services.checking import MEANING, clean
from equipment.services.register import stated_fields
from tests import world

CHECKED = (Facility, *KINDS, StatusChange, FieldChange)


def constraints() -> dict[str, type]:
    """Every constraint that a checked row can break, inherited ones too."""
    return {
        constraint.name: model
        for model in CHECKED
        for _, constraints in model().get_constraints()
        for constraint in constraints
    }


def test_every_constraint_has_a_meaning_and_every_meaning_a_constraint():
    assert set(MEANING) == set(constraints())


def test_every_meaning_points_at_a_field_or_at_the_whole():
    links = {"tag", "kind", "parent", "replaces", "reason", "effective_on", "status"}
    fields = {name for model in CHECKED for name in stated_fields(model)} | links

    assert {pointer for pointer, _ in MEANING.values()} <= {"", *(f"/{name}" for name in fields)}


def test_several_broken_rules_come_in_one_refusal(own):
    tank = Tank(facility=own, kind="tank", tag="T1", ethanol_pct=101, diameter_in=0)

    with pytest.raises(Invalid) as caught:
        clean(tank)

    assert set(caught.value.faults) == {
        Fault("/ethanol_pct", "goes from 0 to 100", "constraint"),
        Fault("/diameter_in", "must be above zero; null means unknown", "constraint"),
    }


def test_a_row_in_order_is_not_refused(own):
    clean(world.component(own, "tank", "T1"))
