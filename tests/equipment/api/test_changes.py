"""Dated changes through the API. Residue limits in mind: 40 CFR 280.70(a), one inch or 0.3 per cent by weight."""

import pytest

from equipment.models import FieldChange, StatusChange
from tests import world
from tests.equipment.api.calls import at, faults, post, problem

STATUS = {"type": "status", "component": "T1", "effective_on": "2026-02-27", "status": "currently in use"}
FIELD = {
    "type": "field",
    "component": "T1",
    "effective_on": "2026-02-27",
    "field": "both_walls_monitored",
    "value": False,
}


@pytest.fixture(autouse=True)
def tank(own):
    return world.component(own, "tank", "T1")


@pytest.fixture
def changes(own) -> str:
    return at(own, "/changes")


def test_a_status_is_stated_with_its_measured_residue(changes, owner_client):
    body = {**STATUS, "status": "temporarily out of service", "residue_in": 0.5, "residue_pct": 0.2}

    stated = post(owner_client, changes, body)

    assert stated.status_code == 201, stated.json()
    assert body.items() <= stated.json().items()
    assert stated.json()["withdrawn_at"] is None


def test_a_residue_that_nobody_measured_is_unknown_and_not_nil(changes, owner_client):
    stated = post(owner_client, changes, {**STATUS, "residue_pct": 0}).json()

    assert (stated["residue_in"], stated["residue_pct"]) == (None, 0)


def test_the_facility_itself_has_a_status_too(changes, owner_client):
    assert post(owner_client, changes, {**STATUS, "component": None}).json()["component"] is None


def test_a_field_changes_on_a_day_and_the_register_row_keeps_what_was_before(changes, own, owner_client):
    stated = post(owner_client, changes, FIELD)

    assert FIELD.items() <= stated.json().items()
    assert owner_client.get(at(own, "/components/T1")).json()["both_walls_monitored"] is None


def test_what_holds_today_stands_beside_what_the_row_says(changes, own, owner_client):
    for day, walls in (("2026-01-05", True), ("2026-02-27", False)):
        post(owner_client, changes, {**FIELD, "effective_on": day, "value": walls})
    post(owner_client, changes, STATUS)

    for shown in (
        owner_client.get(at(own, "/components/T1")).json(),
        owner_client.get(at(own, "/components")).json()["results"][0],
    ):
        assert shown["both_walls_monitored"] is None
        assert shown["changed"] == {"both_walls_monitored": {"value": False, "effective_on": "2026-02-27"}}
        assert shown["status"] == "currently in use"


def test_what_holds_about_the_facility_is_not_said_of_its_components(changes, own, owner_client):
    body = {
        "component": None,
        "type": "field",
        "effective_on": "2026-02-27",
        "field": "attended",
        "value": True,
    }
    post(owner_client, changes, body)

    for shown in (
        owner_client.get(at(own)).json(),
        owner_client.get("/api/v1/facilities").json()["results"][0],
    ):
        assert shown["changed"] == {"attended": {"value": True, "effective_on": "2026-02-27"}}
    assert owner_client.get(at(own, "/components/T1")).json()["changed"] == {}


def test_a_withdrawn_change_holds_no_longer(changes, own, owner_client):
    for day, name in (("2026-01-05", "currently in use"), ("2026-02-27", "abandoned")):
        stated = post(owner_client, changes, {**STATUS, "effective_on": day, "status": name}).json()
    post(owner_client, f"{changes}/{stated['id']}/withdrawal", {"reason": "wrong tank"})

    assert owner_client.get(at(own, "/components/T1")).json()["status"] == "currently in use"


def test_a_field_may_become_unknown(changes, owner_client):
    assert post(owner_client, changes, {**FIELD, "value": None}).json()["value"] is None


def test_every_statement_raises_the_facts_version(changes, own, owner_client):
    before = owner_client.get(at(own)).json()["facts_version"]

    for body in (STATUS, FIELD):
        post(owner_client, changes, body)

    assert owner_client.get(at(own)).json()["facts_version"] == before + 2


@pytest.mark.parametrize("body", [STATUS, FIELD])
def test_a_second_statement_of_the_same_day_is_refused(body, changes, owner_client):
    post(owner_client, changes, body)

    assert faults(post(owner_client, changes, body)) == {"/effective_on": "taken"}


@pytest.mark.parametrize("body", [STATUS, FIELD])
def test_the_same_key_states_it_once(body, changes, owner_client):
    first, again = (post(owner_client, changes, body, key="once") for _ in range(2))

    assert (again.status_code, again.json()) == (201, first.json())


def test_without_a_key_nothing_is_stated(changes, owner_client):
    assert problem(owner_client.post(changes, STATUS, format="json")) == (428, "idempotency-key-required")


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ({**STATUS, "status": "shut"}, {"/status": "invalid_choice"}),
        ({**STATUS, "component": "T9"}, {"/component": "unknown"}),
        ({**STATUS, "effective_on": "2099-01-01"}, {"/effective_on": "future"}),
        ({**STATUS, "effective_on": "27.02.2026"}, {"/effective_on": "invalid"}),
        ({**STATUS, "residue_in": -1}, {"": "constraint"}),
        ({**STATUS, "residue_pct": "some"}, {"/residue_pct": "invalid"}),
        ({**STATUS, "colour": "red"}, {"/colour": "unknown"}),
        ({**FIELD, "field": "colour"}, {"/field": "unknown"}),
        ({**FIELD, "field": "drain_valve"}, {"/field": "unknown"}),
        ({**FIELD, "field": "tag", "value": "T2"}, {"/field": "unknown"}),
        ({**FIELD, "value": "no"}, {"/value": "invalid"}),
        ({**FIELD, "field": "ethanol_pct", "value": True}, {"/value": "invalid"}),
        ({**FIELD, "field": "interstice", "value": "soup"}, {"/value": "invalid_choice"}),
        ({**FIELD, "field": "lined_on", "value": "2026-13-01"}, {"/value": "invalid"}),
        ({**FIELD, "component": None, "field": "name", "value": None}, {"/value": "null"}),
        ({"type": "mood"}, {"/type": "choice"}),
        ([], {"/type": "choice"}),
    ],
)
def test_a_bad_statement_is_refused_at_its_key(body, expected, changes, owner_client):
    refused = post(owner_client, changes, body)

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == expected
    assert not StatusChange.objects.exists()
    assert not FieldChange.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("lined_on", "2025-06-01"),
        ("release_detection", ["manual tank gauging"]),
        ("ethanol_pct", 10.0),
        ("substance", "premium"),
        ("interstice", "vacuum"),
    ],
)
def test_a_value_is_kept_as_it_was_sent(field, value, changes, owner_client):
    stated = post(owner_client, changes, {**FIELD, "field": field, "value": value})

    assert stated.json()["value"] == value
    assert owner_client.get(changes).json()["results"][0]["value"] == value


def test_the_list_mixes_both_types_newest_first_page_by_page(changes, own, owner_client):
    days = ("2026-01-05", "2026-01-06", "2026-01-07")
    for day in days:
        post(owner_client, changes, {**FIELD, "effective_on": day})
        post(owner_client, changes, {**STATUS, "effective_on": day})

    seen, address = [], f"{changes}?limit=2&component=T1"
    while address:
        page = owner_client.get(address).json()
        assert len(page["results"]) <= 2
        seen += [(one["effective_on"], one["type"]) for one in page["results"]]
        address = page["next"]

    assert seen == [(day, name) for day in reversed(days) for name in ("status", "field")]


def test_the_list_of_one_component_leaves_the_others_out(changes, own, owner_client):
    world.component(own, "tank", "T2")
    post(owner_client, changes, STATUS)
    post(owner_client, changes, {**STATUS, "component": "T2"})

    listed = owner_client.get(f"{changes}?component=T2").json()["results"]

    assert [one["component"] for one in listed] == ["T2"]


@pytest.mark.parametrize("cursor", ["x", "!!!", "MjAyNi0wMS0wNQ==", "ÿ"])
def test_a_cursor_of_ones_own_making_is_refused(cursor, changes, owner_client):
    assert faults(owner_client.get(changes, {"cursor": cursor})) == {"/cursor": "invalid"}


@pytest.mark.parametrize("body", [STATUS, FIELD])
def test_a_withdrawn_change_stays_in_the_list_with_its_reason(body, changes, owner_client):
    stated = post(owner_client, changes, body).json()

    taken = post(owner_client, f"{changes}/{stated['id']}/withdrawal", {"reason": "wrong tank"})

    assert taken.json()["withdrawn_reason"] == "wrong tank"
    assert taken.json()["withdrawn_at"] is not None
    assert owner_client.get(changes).json()["results"] == [taken.json()]


def test_after_a_withdrawal_the_day_is_free_again(changes, owner_client):
    stated = post(owner_client, changes, STATUS).json()
    post(owner_client, f"{changes}/{stated['id']}/withdrawal", {"reason": "wrong tank"})

    assert post(owner_client, changes, STATUS).status_code == 201


def test_the_same_withdrawal_again_changes_nothing_and_another_is_a_conflict(changes, owner_client):
    address = f"{changes}/{post(owner_client, changes, STATUS).json()['id']}/withdrawal"
    first = post(owner_client, address, {"reason": "wrong tank"})

    again = post(owner_client, address, {"reason": "wrong tank"})
    other = post(owner_client, address, {"reason": "wrong day"})

    assert again.json() == first.json()
    assert problem(other) == (409, "conflict")


@pytest.mark.parametrize("reason", [None, "", "   ", 5, "x" * 501])
def test_a_withdrawal_says_why(reason, changes, owner_client):
    address = f"{changes}/{post(owner_client, changes, STATUS).json()['id']}/withdrawal"

    assert list(faults(post(owner_client, address, {"reason": reason}))) == ["/reason"]


@pytest.mark.parametrize("name", ["status-999", "field-1", "mood-1", "status-", "1", f"status-{'9' * 30}"])
def test_a_change_that_is_not_there_is_not_found(name, changes, owner_client):
    post(owner_client, changes, STATUS)

    answer = post(owner_client, f"{changes}/{name}/withdrawal", {"reason": "wrong tank"})

    assert problem(answer) == (404, "not-found")
