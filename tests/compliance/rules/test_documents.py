"""Reading a site document. Pointers are those of RFC 6901; the schema is checked with a general JSON Schema library."""

import json
from datetime import date
from decimal import Decimal

import jsonschema_rs
import pytest

from compliance.rules.document import DocumentError, read_document
from compliance.rules.document_schema import document_schema
from tests.compliance.rules.sites import cup_test, site


def faults(raw, **more):
    with pytest.raises(DocumentError) as refused:
        read_document(raw, **more)
    return {fault.pointer: fault.detail for fault in refused.value.faults}


def test_the_smallest_document_is_a_facility():
    assert read_document('{"facility": {}}').records == []


def test_null_and_absent_are_the_same():
    assert read_document({"facility": {"over_water": None}}) == read_document({"facility": {}})


def test_fields_of_ones_own_are_allowed_and_left_out():
    assert read_document({"facility": {"x_colour": "blue"}, "x_more": [1]}) == read_document({"facility": {}})


def test_days_decimals_and_instants_may_be_python_objects():
    bucket = {"installed_on": date(2020, 1, 1), "capacity_gal": Decimal("5.5")}

    [read] = read_document(site(bucket=bucket)).components

    assert (read.installed_on, read.capacity_gal) == (date(2020, 1, 1), 5.5)


@pytest.mark.parametrize(
    ("change", "pointer", "words"),
    [
        ({"facility": {"colour": "blue"}}, "/facility/colour", "begin a field of your own with x_"),
        ({"facility": {"time_zone": "Mars/Olympus"}}, "/facility/time_zone", "no IANA time zone"),
        ({"bucket": {"parent": "X"}}, "/components/0/parent", "no row of the document has the id 'X'"),
        ({"bucket": {"parent": "SB"}}, "/components/0/parent", "leads back"),
        ({"bucket": {"kind": "spill_pail"}}, "/components/0/kind", "spill_bucket"),
        (
            {"bucket": {"spill_bucket_wall_type": "thick"}},
            "/components/0/spill_bucket_wall_type",
            "single, double",
        ),
        ({"bucket": {"capacity_gal": -1}}, "/components/0/capacity_gal", ">= 0"),
        ({"bucket": {"id": "S"}}, "/components/0/id", "ids are unique"),
        ({"records": [cup_test("2026-02-30")]}, "/records/0/performed_at", "no moment"),
        ({"records": [cup_test("2026-02-03", supersedes="X")]}, "/records/0/supersedes", "no row"),
        ({"records": [cup_test("2026-02-03", "perfect")]}, "/records/0/outcome", "pass, fail, inconclusive"),
        ({"changes": [{"of": "SB", "on": "2026-01-01", "status": "shut"}]}, "/changes/0/status", "shut"),
        ({"changes": [{"of": "SB", "on": "2026-01-01", "sheen": True}]}, "/changes/0/sheen", "no such field"),
        ({"changes": [{"of": "SB", "on": "2026-01-01", "kind": "tank"}]}, "/changes/0/kind", "cannot change"),
        ({"changes": [{"of": "X", "on": "2026-01-01"}]}, "/changes/0/of", "no row"),
        ({"spils": []}, "/spils", "no such part"),
    ],
)
def test_a_fault_is_reported_with_its_pointer(change, pointer, words):
    records = change.pop("records", [])

    found = faults(site(*records, **change))

    assert words in found[pointer]


def test_one_bad_row_does_not_hide_another():
    rows = [cup_test("2026-02-03", "perfect"), cup_test("soon")]

    assert set(faults(site(*rows))) == {"/records/0/outcome", "/records/1/performed_at"}


def test_an_activity_outside_the_catalogue_is_refused():
    assert "/records/0/activity" in faults(site(cup_test("2026-02-03")), activities={"walkthrough"})


def test_what_is_not_json_is_refused():
    assert "is not JSON" in faults(b"{")[""]


def test_an_agency_decision_needs_its_letter():
    decision = {"rule": "cup-test", "params": {}}

    assert "document" in faults(site(overrides=[decision]))["/overrides/0"]


@pytest.fixture(scope="module")
def schema():
    return jsonschema_rs.validator_for(document_schema())


def test_the_schema_accepts_what_is_read(schema):
    document = site(
        cup_test("2026-02-03", x_note=1), changes=[{"of": "SB", "on": "2026-01-01", "residue_in": 0.5}]
    )

    assert schema.is_valid(json.loads(json.dumps(document)))


@pytest.mark.parametrize(
    "wrong", [{}, {"facility": {"colour": 1}}, {"facility": {}, "changes": [{"of": "F"}]}]
)
def test_the_schema_refuses_what_is_refused(schema, wrong):
    assert not schema.is_valid(wrong)


def test_an_alarm_that_no_catalogue_lists_is_read_and_its_class_is_unknown():
    """40 CFR 280.50: which clock it starts cannot be decided until somebody says what it is."""
    raw = site(alarms=[{"id": "A", "condition": "odd-noise", "raised_at": "2026-03-01T04:00"}])

    assert read_document(raw).alarms[0].condition_class is None
