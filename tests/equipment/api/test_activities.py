"""The catalogue and the walkthrough checklist through the API. Duties of a walkthrough: 40 CFR 280.36(a)."""

import jsonschema_rs
import pytest

from equipment.activities.catalogue import slugs
from tests import world
from tests.equipment.api.calls import at, faults, problem

CATALOGUE = "/api/v1/activities"


def test_the_whole_catalogue_is_listed_each_with_a_caution_and_a_source(contractor_client):
    listed = contractor_client.get(CATALOGUE).json()["results"]

    assert {one["slug"] for one in listed} == slugs()
    assert all(one["caution"] and one["cite"] and one["subjects"] for one in listed)


def test_the_list_of_one_subject_leaves_the_others_out(owner_client):
    listed = owner_client.get(f"{CATALOGUE}?subject=spill_bucket").json()["results"]

    assert "spill-bucket-test" in {one["slug"] for one in listed}
    assert all("spill_bucket" in one["subjects"] for one in listed)
    assert faults(owner_client.get(f"{CATALOGUE}?subject=bucket")) == {"/subject": "invalid_choice"}


@pytest.mark.parametrize("slug", sorted(slugs()))
def test_every_activity_comes_with_a_schema_that_its_example_meets(slug, owner_client):
    """JSON Schema 2020-12, judged by a general library."""
    shown = owner_client.get(f"{CATALOGUE}/{slug}").json()

    jsonschema_rs.validator_for(shown["measurements_schema"]).validate(shown["example"])
    assert shown["standing_caution"]


def test_an_activity_that_is_not_in_the_catalogue_is_not_found(owner_client):
    assert problem(owner_client.get(f"{CATALOGUE}/dance")) == (404, "not-found")


@pytest.fixture
def checklist(own) -> str:
    world.line(own)
    world.component(own, "spill_bucket", "SB2", label="diesel fill")
    world.component(own, "spill_bucket", "SB9", removed_on=world.TODAY)
    world.component(own, "vent", "V1")
    return at(own, "/checklist")


def test_each_question_is_asked_at_each_component_that_is_there(checklist, owner_client):
    rows = owner_client.get(checklist).json()["results"]

    damage = [row for row in rows if row["item"] == "spill-bucket-damage"]
    assert [(row["component"], row["label"]) for row in damage] == [("SB1", None), ("SB2", "diesel fill")]
    assert all(row["question"] and row["caution"] and row["source"] for row in rows)


def test_spill_equipment_is_asked_every_30_days_and_sumps_once_a_year(checklist, owner_client):
    """40 CFR 280.36(a)(1)(i) and (ii)."""

    def areas(frequency: str) -> set[str]:
        rows = owner_client.get(checklist, {"frequency": frequency}).json()["results"]
        return {row["area"] for row in rows}

    assert areas("30 days") == {"spill", "release detection", "operator's own"}
    assert areas("annual") == {"sumps", "operator's own"}
    assert areas("operator's own") == {"operator's own"}


def test_nothing_is_asked_of_kinds_that_are_not_there(checklist, owner_client):
    rows = owner_client.get(checklist).json()["results"]

    kinds = {row["kind"] for row in rows}
    assert "containment_sump" in kinds
    assert "hose" not in kinds
    assert {row["component"] for row in rows if row["kind"] == "facility"} <= {None}


def test_a_frequency_that_is_none_is_refused_with_the_known_ones(checklist, owner_client):
    refused = owner_client.get(checklist, {"frequency": "monthly"})

    assert faults(refused) == {"/frequency": "invalid_choice"}


def test_the_checklist_says_what_stands_under_every_task(checklist, contractor_client):
    assert "codes" in contractor_client.get(checklist).json()["standing_caution"]
