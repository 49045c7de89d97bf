"""What a broken constraint means to whoever broke it."""

from collections.abc import Iterable

import pytest
from django.apps import apps
from django.db.models import Model

from equipment.faults import Fault, Invalid
from equipment.models import KINDS, Facility, FieldChange, StatusChange, Tank
from equipment.services.checking import MEANING, clean
from tests import world

REGISTER = (Facility, *KINDS, StatusChange, FieldChange)
MODELS = tuple(apps.get_app_config("equipment").get_models())


def constraints(models: Iterable[type[Model]]) -> set[str]:
    """Every constraint that a row of these models can break, inherited ones too."""
    return {
        constraint.name
        for model in models
        for _, constraints in model().get_constraints()
        for constraint in constraints
    }


def test_every_constraint_of_the_register_has_a_meaning():
    assert constraints(REGISTER) <= set(MEANING)


def test_every_meaning_belongs_to_a_constraint():
    assert set(MEANING) <= constraints(MODELS)


def test_every_meaning_points_at_a_field_or_at_the_whole():
    fields = {field.name for model in MODELS for field in model._meta.get_fields()}

    assert {pointer for pointer, _ in MEANING.values()} <= {"", "/reason", *(f"/{name}" for name in fields)}


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
