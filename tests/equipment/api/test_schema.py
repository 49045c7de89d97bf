"""The OpenAPI description of the register: OpenAPI 3.1.1 (4.8.25 discriminator). Words of enumerations: EPA UST data
template of 3 Feb 2025, in lower case."""

import json
from functools import cache
from typing import Any

import jsonschema_rs
import pytest
from drf_spectacular.generators import SchemaGenerator

from equipment.api.component_shapes import ANSWER_OF_KIND, STATEMENT_OF_KIND
from equipment.api.urls import urlpatterns
from equipment.models import KINDS, MODEL_OF_KIND
from equipment.services.register import stated_fields
from tests import world
from tests.equipment.api.calls import at, post

# SpillBucketWallType, PipingStyle, TankStatus as published.
PUBLISHED = {
    ("spill_bucket", "spill_bucket_wall_type"): "Single / Double / Unknown",
    ("piping_run", "piping_wall_type"): "Single walled / Double walled / Other",
    (
        "tank",
        "tank_secondary_containment",
    ): "Single wall / Double wall / Triple wall / Jacketed / Excavation liner / "
    "Vault / Tank-within-a-tank retrofit / Other / Unknown",
}


@cache
def description() -> dict[str, Any]:
    generator = SchemaGenerator(patterns=urlpatterns)
    return dict(generator.get_schema(request=None, public=True))


def components() -> dict[str, Any]:
    return dict(description()["components"]["schemas"])


def resolved(answer: dict[str, Any]) -> dict[str, Any]:
    """An answer, wherever the description keeps it."""
    for step in answer.get("$ref", "#").split("/")[1:]:
        answer = description()[step] if step == "components" else answer[step]
    return answer


def words(schema: dict[str, Any]) -> list[str]:
    """The allowed words of a property, wherever the description keeps them."""
    refs = [part["$ref"].rsplit("/", 1)[-1] for part in schema.get("oneOf", []) if "$ref" in part]
    return [word for name in refs for word in components()[name].get("enum", [])]


def operations() -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{verb.upper()} {path}", operation)
        for path, verbs in description()["paths"].items()
        for verb, operation in verbs.items()
    ]


@pytest.mark.parametrize("kind", [model.KIND.value for model in KINDS])
def test_each_kind_is_described_with_exactly_its_stated_fields(kind):
    model = MODEL_OF_KIND[kind]
    stated, shown = components()[f"{model.__name__}InRequest"], components()[f"{model.__name__}Out"]

    assert set(stated["properties"]) == {*stated_fields(model), "kind", "parent", "replaces"}
    assert set(stated["properties"]) < set(shown["properties"])
    assert stated["required"] == ["kind"]
    assert stated["properties"]["kind"]["const"] == kind


@pytest.mark.parametrize(
    ("name", "shapes"), [("ComponentStatementRequest", STATEMENT_OF_KIND), ("Component", ANSWER_OF_KIND)]
)
def test_the_kinds_are_a_one_of_told_apart_by_kind(name, shapes):
    described = components()[name]

    assert described["discriminator"]["propertyName"] == "kind"
    assert set(described["discriminator"]["mapping"]) == set(shapes) == set(MODEL_OF_KIND)
    assert len(described["oneOf"]) == len(KINDS)


@pytest.mark.parametrize(("place", "published"), PUBLISHED.items())
def test_choices_are_those_published(place, published):
    kind, field = place
    schema = components()[f"{MODEL_OF_KIND[kind].__name__}InRequest"]["properties"][field]

    assert sorted(words(schema)) == sorted(published.lower().split(" / "))


def test_every_operation_has_a_summary_a_tag_an_example_and_its_refusals():
    for name, operation in operations():
        assert operation["summary"], name
        assert operation["tags"], name
        assert {"401", "429"} <= set(operation["responses"]), name
        answers = [one for status, one in operation["responses"].items() if status.startswith("2")]
        assert any(
            media.get("examples") for one in answers for media in one.get("content", {}).values()
        ) or answers == [{"description": "No response body"}], name


def test_every_refusal_is_the_one_problem_component():
    for name, operation in operations():
        for status, answer in operation["responses"].items():
            if status >= "4":
                schema = resolved(answer)["content"]["application/problem+json"]["schema"]
                assert schema == {"$ref": "#/components/schemas/Problem"}, name


def test_operation_ids_are_unique():
    names = [operation["operationId"] for _, operation in operations()]

    assert len(set(names)) == len(names)


@pytest.mark.parametrize("kind", [model.KIND.value for model in KINDS])
def test_what_is_answered_meets_the_description(kind, own, owner_client):
    """JSON Schema 2020-12, judged by a general library."""
    answer = post(owner_client, at(own, "/components"), {"kind": kind}).json()

    schema = {"$ref": "#/components/schemas/Component", "components": {"schemas": components()}}
    jsonschema_rs.Draft202012Validator(schema).validate(answer)


def test_a_refusal_meets_the_description(own, owner_client):
    answer = post(owner_client, at(own, "/components"), {"kind": "tank", "colour": "red"}).json()

    schema = {"$ref": "#/components/schemas/Problem", "components": {"schemas": components()}}
    jsonschema_rs.Draft202012Validator(schema).validate(answer)


def test_a_facility_meets_the_description(owner, owner_client):
    answer = owner_client.get(at(world.facility(owner, "S", season_opens="05-15"))).json()

    schema = {"$ref": "#/components/schemas/FacilityOut", "components": {"schemas": components()}}
    jsonschema_rs.Draft202012Validator(schema).validate(answer)


def test_the_examples_of_pages_show_addresses_such_as_ours():
    text = json.dumps(description())

    assert "https://example.org/api/v1/facilities?cursor=" in text
    assert "api.example.org" not in text
