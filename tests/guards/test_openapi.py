"""The OpenAPI file is checked in, current, valid and complete."""

import difflib
import json
import re
from typing import Any

import pytest
import yaml
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiYamlRenderer
from drf_spectacular.validation import validate_schema

from equipment.activities.catalogue import slugs
from tests.guards.routes import routes
from tests.guards.test_sizes import ROOT

FILE = ROOT / "tests" / "schema" / "openapi.yaml"
ACCEPT = "accept the change: uv run manage.py spectacular --file tests/schema/openapi.yaml"


@pytest.fixture(scope="module")
def generated() -> str:
    schema = SchemaGenerator().get_schema(request=None, public=True)
    return OpenApiYamlRenderer().render(schema, renderer_context={}).decode()


@pytest.fixture(scope="module")
def description(generated) -> dict[str, Any]:
    return yaml.safe_load(generated)


def operations(description) -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{verb} {path}", operation)
        for path, verbs in description["paths"].items()
        for verb, operation in verbs.items()
    ]


def test_the_file_is_current(generated):
    kept = FILE.read_text(encoding="utf-8")

    difference = list(
        difflib.unified_diff(kept.splitlines(), generated.splitlines(), "kept", "now", lineterm="", n=1)
    )

    assert not difference, "\n".join([ACCEPT, *difference[:60]])


def test_the_file_is_a_valid_openapi_document(description):
    validate_schema(description)

    assert description["openapi"] == "3.1.1"


def test_every_route_is_described(description):
    described = {path.strip("/").replace("{", "<").replace("}", ">") for path in description["paths"]}

    missing = [
        str(route)
        for route in routes()
        if route.template.replace("int:", "").replace("str:", "").replace("slug:", "") not in described
    ]

    assert not missing


def test_every_operation_has_a_summary_and_an_example(description):
    lacking = []
    for name, operation in operations(description):
        bodies = [operation.get("requestBody", {})]
        bodies += [answer for status, answer in operation["responses"].items() if status.startswith("2")]
        media = [one for body in bodies for one in body.get("content", {}).values()]
        if not operation.get("summary") or (media and not any(one.get("examples") for one in media)):
            lacking.append(name)

    assert not lacking


def test_every_operation_that_answers_428_names_the_header_that_it_wants(description):
    lacking = []
    for name, operation in operations(description):
        named = {one["name"] for one in operation.get("parameters", []) if one["in"] == "header"}
        if "428" in operation["responses"] and not named & {"Idempotency-Key", "If-Match"}:
            lacking.append(name)

    assert not lacking


def test_every_header_of_an_answer_is_one_of_the_components(description):
    answers = [answer for _, one in operations(description) for answer in one["responses"].values()]
    answers += description["components"]["responses"].values()

    referred = {header["$ref"] for answer in answers for header in answer.get("headers", {}).values()}

    assert referred == {f"#/components/headers/{name}" for name in description["components"]["headers"]}


def test_a_posted_record_is_one_of_the_activities_by_name(description):
    mapping = description["components"]["schemas"]["RecordInRequest"]["discriminator"]["mapping"]

    assert set(mapping) == slugs()


def test_the_measurements_of_an_activity_are_typed_with_their_units(description):
    test = description["components"]["schemas"]["RecordLineLeakDetectorTest"]

    rate = test["properties"]["measurements"]["properties"]["leak_rate_gph"]

    alone, with_unit = rate["anyOf"]
    assert "number" in json.dumps(alone["type"])
    stated = description["components"]["schemas"][with_unit["$ref"].rpartition("/")[2]]
    assert "mL/min" in json.dumps(stated["properties"]["unit"], ensure_ascii=False)
    assert "gallons" in rate["description"].lower()


def test_the_documentation_page_loads_nothing_from_outside(client, db):
    page = client.get("/api/v1/docs").content.decode()

    addresses = re.findall(r"""(?:src|href)=["']([^"']+)""", page)

    assert addresses
    assert all(address.startswith("/static/") for address in addresses)


def test_the_assets_of_the_documentation_page_are_served(client, db):
    page = client.get("/api/v1/docs").content.decode()

    for address in re.findall(r"""(?:src|href)=["'](/static/[^"']+)""", page):
        answer = client.get(address)
        served = b"".join(answer.streaming_content)
        answer.close()

        assert (answer.status_code, bool(served)) == (200, True)


@pytest.mark.parametrize("accept", [None, "*/*", "application/json"])
def test_the_address_that_promises_json_answers_json(accept, client, db, description):
    answer = client.get("/api/v1/openapi.json", headers={"Accept": accept} if accept else {})

    assert answer.headers["Content-Type"] == "application/json"
    assert answer.json()["paths"].keys() == description["paths"].keys()


@pytest.mark.parametrize("route", [one for one in routes() if "GET" in one.verbs], ids=str)
def test_what_a_reading_takes_in_its_query_string_is_what_is_described(route, description):
    path = "/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route.template)

    described = description["paths"][path]["get"].get("parameters", [])

    asked = {one["name"] for one in described if one["in"] == "query"}
    assert asked == set(route.view.query_shape().fields)
