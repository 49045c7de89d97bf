"""Components through the API. Code lists: EPA UST data template, 3 Feb 2025."""

import pytest

from equipment.models import KINDS, Component
from equipment.services.register import stated_fields
from tests import world
from tests.equipment.api.calls import at, faults, patch, post, problem

TANK = {"kind": "tank", "tag": "T1"}


def test_a_component_of_every_kind_is_added_read_and_listed(own, owner_client):
    for model in KINDS:
        added = post(owner_client, at(own, "/components"), {"kind": model.KIND, "label": "one"})

        assert added.status_code == 201, added.json()
        read = owner_client.get(at(own, f"/components/{added.json()['tag']}")).json()
        assert read == added.json()
        assert set(stated_fields(model)) < set(read)

    listed = owner_client.get(at(own, "/components")).json()["results"]
    assert {one["kind"] for one in listed} == {model.KIND for model in KINDS}


@pytest.mark.parametrize("kind", [model.KIND for model in KINDS])
def test_nothing_stated_is_answered_as_null_everywhere(kind, own, owner_client):
    added = post(owner_client, at(own, "/components"), {"kind": kind}).json()

    named = {"facility", "kind", "tag", "version", "changed"}
    assert {name: value for name, value in added.items() if name not in named and value is not None} == {}


def test_unknown_stated_no_and_nothing_said_are_three_answers(own, owner_client):
    said = {"kind": "spill_bucket", "spill_bucket_wall_type": "unknown", "drain_valve": False}

    added = post(owner_client, at(own, "/components"), said).json()

    assert added["spill_bucket_wall_type"] == "unknown"
    assert added["drain_valve"] is False
    assert added["both_walls_monitored"] is None


def test_a_tag_left_out_is_the_next_free_one_of_its_kind(own, owner_client):
    post(owner_client, at(own, "/components"), TANK)

    tags = [post(owner_client, at(own, "/components"), {"kind": "tank"}).json()["tag"] for _ in range(2)]

    assert tags == ["T2", "T3"]


def test_without_tag_or_key_a_repeat_could_not_be_recognised(own, owner_client):
    refused = owner_client.post(at(own, "/components"), {"kind": "tank"}, format="json")

    assert problem(refused) == (428, "idempotency-key-required")


def test_the_same_key_adds_one_component(own, owner_client):
    first, again = (
        post(owner_client, at(own, "/components"), {"kind": "tank"}, key="add-1") for _ in range(2)
    )

    assert again.json() == first.json()
    assert Component.objects.count() == 1


def test_a_tag_is_taken_once(own, owner_client):
    post(owner_client, at(own, "/components"), TANK)

    assert faults(post(owner_client, at(own, "/components"), TANK)) == {"/tag": "taken"}


def test_parent_and_replaced_one_are_named_by_tag(own, owner_client):
    for body in (TANK, {"kind": "spill_bucket", "tag": "SB1", "parent": "T1"}):
        post(owner_client, at(own, "/components"), body)

    newer = post(
        owner_client,
        at(own, "/components"),
        {"kind": "spill_bucket", "tag": "SB2", "parent": "T1", "replaces": "SB1"},
    ).json()

    assert (newer["parent"], newer["replaces"]) == ("T1", "SB1")


@pytest.mark.parametrize("link", ["parent", "replaces"])
def test_a_link_to_nothing_is_refused_at_the_link(link, own, owner_client):
    refused = post(owner_client, at(own, "/components"), {**TANK, link: "T9"})

    assert faults(refused) == {f"/{link}": "unknown"}


@pytest.mark.parametrize("body", [{}, {"kind": "pump"}, {"kind": None}, {"kind": ["tank"]}, [], "tank", None])
def test_a_body_without_a_known_kind_is_refused_with_the_kinds(body, own, owner_client):
    refused = post(owner_client, at(own, "/components"), body)

    assert faults(refused) == {"/kind": "choice"}
    assert "spill_bucket" in refused.json()["errors"][0]["detail"]


@pytest.mark.parametrize(
    ("kind", "field", "value", "code"),
    [
        ("tank", "compartment_capacity_gallons", 0, "constraint"),
        ("tank", "ethanol_pct", 101, "constraint"),
        ("tank", "compartment_capacity_gallons", 1e300, "not_finite"),
        ("tank", "tank_material_description", "wood", "invalid_choice"),
        ("tank", "installed_on", "2026-02-30", "invalid"),
        ("tank", "installed_on", "2026-02-27T10:00:00Z", "invalid"),
        ("tank", "tag", "1st tank", "invalid"),
        ("tank", "tag", "T" * 31, "max_length"),
        ("tank", "drain_valve", True, "unknown"),
        ("tank", "version", 3, "unknown"),
        ("vent", "height_ft", -1, "constraint"),
        ("hose", "length_ft", "18", "invalid"),
        ("piping_run", "piping_material", "steel", "not_a_list"),
        ("piping_run", "piping_material", ["steel", "steel"], "repeated"),
        ("piping_run", "entry_boots", 40_000, "max_value"),
    ],
)
def test_a_bad_value_is_refused_at_its_key(kind, field, value, code, own, owner_client):
    refused = post(owner_client, at(own, "/components"), {"kind": kind, field: value})

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == {f"/{field}": code}
    assert not Component.objects.exists()


def test_a_wrong_word_in_a_list_is_pointed_at(own, owner_client):
    body = {"kind": "piping_run", "piping_material": ["steel", "cheese"]}

    refused = post(owner_client, at(own, "/components"), body)

    assert faults(refused) == {"/piping_material/1": "invalid_choice"}


def test_removed_before_installed_is_refused(own, owner_client):
    body = {"kind": "hose", "installed_on": "2020-01-02", "removed_on": "2020-01-01"}

    assert faults(post(owner_client, at(own, "/components"), body)) == {"/removed_on": "constraint"}


def test_a_sensor_window_opens_upwards(own, owner_client):
    body = {"kind": "sensor", "window_low_in": 3, "window_high_in": 2.5}

    assert faults(post(owner_client, at(own, "/components"), body)) == {"/window_high_in": "constraint"}


def test_the_list_filters_by_kind_and_by_removal(own, owner_client):
    world.component(own, "tank", "T1")
    world.component(own, "hose", "H1", removed_on=world.TODAY)
    world.component(own, "hose", "H2")

    def tags(query: str) -> list[str]:
        listed = owner_client.get(at(own, f"/components?{query}")).json()["results"]
        return [one["tag"] for one in listed]

    assert tags("kind=hose") == ["H2", "H1"]
    assert tags("removed=true") == ["H1"]
    assert tags("kind=hose&removed=false") == ["H2"]
    assert faults(owner_client.get(at(own, "/components?kind=pump"))) == {"/kind": "invalid_choice"}


def test_the_list_asks_one_query_a_kind_however_many_rows(own, owner_client, django_assert_max_num_queries):
    for number in range(40):
        world.component(own, "hose", f"H{number}", parent="H0" if number else None)
    owner_client.get(at(own, "/components"))

    with django_assert_max_num_queries(7):
        assert len(owner_client.get(at(own, "/components")).json()["results"]) == 40


def test_a_correction_changes_what_was_sent_and_nothing_else(own, owner_client):
    world.component(own, "spill_bucket", "SB1", capacity_gal=15.0)

    corrected = patch(owner_client, at(own, "/components/SB1"), {"kind": "spill_bucket", "drain_valve": True})

    assert corrected.status_code == 200, corrected.json()
    assert (corrected.json()["drain_valve"], corrected.json()["capacity_gal"]) == (True, 15.0)
    assert corrected.json()["version"] == 2


def test_a_kind_is_never_corrected_into_another(own, owner_client):
    world.component(own, "tank", "T1")

    refused = patch(owner_client, at(own, "/components/T1"), {"kind": "hose"})

    assert faults(refused) == {"/kind": "invalid_choice"}


def test_a_wrong_parent_is_corrected(own, owner_client):
    for tag in ("T1", "T2"):
        world.component(own, "tank", tag)
    world.component(own, "spill_bucket", "SB1", parent="T1")

    assert patch(owner_client, at(own, "/components/SB1"), {"parent": "T2"}).json()["parent"] == "T2"
    assert patch(owner_client, at(own, "/components/SB1"), {"parent": None}).json()["parent"] is None


@pytest.mark.parametrize("link", ["parent", "replaces"])
@pytest.mark.parametrize("end", ["H1", "H3"])
def test_links_never_run_in_a_circle(link, end, own, owner_client):
    world.component(own, "hose", "H1")
    world.component(own, "hose", "H2", **{link: "H1"})
    world.component(own, "hose", "H3", **{link: "H2"})

    assert faults(patch(owner_client, at(own, "/components/H1"), {link: end})) == {f"/{link}": "loop"}


def test_a_tank_system_hangs_on_nothing(own, owner_client):
    world.component(own, "tank", "T1")

    refused = post(owner_client, at(own, "/components"), {"kind": "tank_system", "parent": "T1"})

    assert faults(refused) == {"/parent": "constraint"}


def test_a_tag_may_be_corrected_to_a_free_one(own, owner_client):
    world.component(own, "hose", "H1")
    world.component(own, "hose", "H2")

    assert faults(patch(owner_client, at(own, "/components/H1"), {"tag": "H2"})) == {"/tag": "taken"}
    assert patch(owner_client, at(own, "/components/H1"), {"tag": "H9"}).json()["tag"] == "H9"


def test_an_unknown_tag_is_not_found(own, owner_client):
    for answer in (
        owner_client.get(at(own, "/components/T1")),
        patch(owner_client, at(own, "/components/T1"), {}),
    ):
        assert problem(answer) == (404, "not-found")
