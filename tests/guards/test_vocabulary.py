"""The register, the site document and the catalogue use the same words for the same things."""

import tomllib
from pathlib import Path
from typing import get_args, get_type_hints

import pytest

import compliance.rulepacks
from alarms.dispositions import FLAGS, MOMENTS, MONITORING, REFERENCES, WATER, WORDS, DispositionType
from compliance.gather import COMPONENT_FIELDS
from compliance.models import StandingWord
from compliance.rulepacks import installed_packs
from compliance.rules import component_rows, document_rows, findings, view
from equipment.activities.definitions import COMPONENT_KINDS
from equipment.models import MODEL_OF_KIND
from equipment.services.register import stated_fields
from equipment.vocabulary import Kind


def words_of(hint: object) -> set[str]:
    """Every text literal inside a type, however deep."""
    inner = [one for argument in get_args(hint) for one in words_of(argument)]
    return {one for one in get_args(hint) if isinstance(one, str)} | set(inner)


def test_every_kind_of_the_register_is_a_kind_of_the_document():
    assert set(COMPONENT_FIELDS) | {"tank_system"} == set(Kind.values)


def test_the_catalogue_knows_the_same_kinds():
    assert set(COMPONENT_KINDS) | {"tank_system"} == set(Kind.values)


def test_a_facility_may_name_exactly_the_packs_that_are_loaded(settings):
    assert set(settings.JURISDICTIONS) == set(installed_packs().names)


def test_stored_standings_are_those_of_the_engine():
    assert set(StandingWord.values) | {"not required"} == set(findings.STANDINGS)


@pytest.mark.parametrize("row", get_args(component_rows.AnyComponent))
def test_what_the_document_allows_for_a_component_can_be_put_on_file(row):
    model = MODEL_OF_KIND[str(row.__struct_config__.tag)]
    links = {"id", "parent", "replaces", "status"}

    assert set(row.__struct_fields__) - links <= set(stated_fields(model))


@pytest.mark.parametrize("row", get_args(component_rows.AnyComponent))
def test_choices_of_the_register_pass_in_the_document(row):
    fields = stated_fields(MODEL_OF_KIND[str(row.__struct_config__.tag)])
    hints = get_type_hints(row)

    for name, field in fields.items():
        allowed = words_of(hints.get(name))
        if field.choices and allowed:
            assert {value for value, _ in field.choices} <= allowed, name


def test_an_alarm_is_answered_in_the_same_words_on_file_and_in_the_document():
    hints = get_type_hints(document_rows.Disposition)
    evidence = set(document_rows.DispositionEvidence.__struct_fields__)

    assert words_of(hints["type"]) == set(DispositionType)
    assert evidence == {*MOMENTS, *WORDS, *FLAGS, *REFERENCES}
    assert set(view.EVIDENCE) == set(REFERENCES)


def test_the_rules_take_no_other_evidence_for_an_answer_than_the_doorway():
    pack = Path(compliance.rulepacks.__file__).parent / "us_federal" / "suspected_releases.toml"
    excused = tomllib.loads(pack.read_text(encoding="utf-8"))["conditions"]["release_excused"]

    def named(type: str, key: str) -> list[set[str]]:
        return [set(one[key]) for one in excused if one["disposition__type"] == type]

    assert named("device fault", "disposition__evidence__record__activity__in") == [MONITORING]
    assert named("water removed", "condition__in") == [WATER, WATER]
