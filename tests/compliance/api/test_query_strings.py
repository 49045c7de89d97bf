"""Query strings of lists: what a filter or a cursor cannot mean is refused at its name, the same in every list."""

from base64 import b64encode

import pytest
from rest_framework.pagination import Cursor
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory

from compliance.services import assess
from equipment.api.paging import NewestFirst
from tests import world
from tests.equipment.api.calls import faults
from tests.world import NOW

LISTS = [
    "portfolio",
    "portfolio?as_of=2026-03-01",
    "obligations",
    "alarms",
    "facilities",
    "keys",
    "organisations",
    "facilities/{}/records",
    "facilities/{}/events",
    "facilities/{}/obligations",
    "facilities/{}/obligations?as_of=2026-03-01",
    "facilities/{}/history",
    "facilities/{}/components",
    "facilities/{}/access",
]
# No page of ours gave these.
CURSORS = {
    "a position of letters": "cD1hYmM=",
    "a name that no cursor has": "cD0lMDA=",
    "beyond every id": b64encode(b"p=" + b"9" * 19).decode(),
    "forty digits": b64encode(b"p=" + b"9" * 40).decode(),
    "digits of another script": b64encode(b"p=%D9%A3").decode(),
    "a negative offset": b64encode(b"o=-1").decode(),
    "another direction": b64encode(b"r=2&p=4").decode(),
    "two positions": b64encode(b"p=4&p=5").decode(),
    "another name": b64encode(b"x=4").decode(),
    "nothing in it": "",
    "no base64": "!!!",
    "not ASCII": "ÿ",
}


@pytest.fixture
def ask(own, owner_client):
    world.line(own)
    assess.drain(clock=lambda: NOW)

    def get(path: str, **asked: str):
        address, _, query = path.format(own.pk).partition("?")
        return owner_client.get(f"/api/v1/{address}", dict([query.split("=")] if query else []) | asked)

    return get


@pytest.mark.parametrize("cursor", CURSORS.values(), ids=CURSORS)
def test_a_cursor_that_no_answer_gave_is_refused_the_same_way_everywhere(cursor, ask):
    refused = {path: ask(path, cursor=cursor) for path in LISTS}

    assert {path: answer.status_code for path, answer in refused.items()} == dict.fromkeys(LISTS, 422)
    assert all(set(faults(answer)) == {"/cursor"} for answer in refused.values())


@pytest.mark.parametrize("path", LISTS)
@pytest.mark.parametrize(
    "asked", [("limit", "abc"), ("limit", "0"), ("limit", "201"), ("standng", "overdue")]
)
def test_a_parameter_that_is_misspelt_or_out_of_range_is_refused(asked, path, ask):
    name, text = asked

    refused = ask(path, **{name: text})

    assert set(faults(refused)) == {f"/{name}"}
    assert "stored" not in refused.json()["detail"]


@pytest.mark.parametrize("number", [2**63, 10**30])
def test_a_facility_beyond_every_id_is_refused(number, ask):
    assert faults(ask("alarms", facility=str(number))) == {"/facility": "max_value"}


@pytest.mark.parametrize(
    "text", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "2026-03-01T10:00"]
)
@pytest.mark.parametrize("path", ["obligations", "facilities/{}/obligations"])
def test_an_instant_that_cannot_be_told_in_utc_is_refused(path, text, ask):
    assert set(faults(ask(path, late_before=text))) == {"/late_before"}


@pytest.mark.parametrize(
    "cursor", [Cursor(1050, False, "7"), Cursor(0, True, "9007199254740993"), Cursor(3, True, None)]
)
def test_a_cursor_of_ours_is_read_as_it_was_written(cursor):
    """An offset beyond 1,000 stays what it is: cut off, a list of so many equal rows would never end."""
    pages, factory = NewestFirst(), APIRequestFactory()
    pages.base_url = "http://testserver/api/v1/portfolio"

    link = pages.encode_cursor(cursor)

    assert pages.decode_cursor(Request(factory.get(link))) == cursor


def test_every_row_is_met_once_page_by_page(own, owner, owner_client):
    for number in range(4):
        world.facility(owner, f"F{number}")
    link, met = "/api/v1/facilities?limit=2", []
    while link:
        page = owner_client.get(link).json()
        met += [one["id"] for one in page["results"]]
        link = page["next"]

    assert met == sorted(set(met), reverse=True)
    assert len(met) == 5


ONES = ["facilities/{}", "facilities/{}/standing", "facilities/{}/site-document", "facilities/{}/records/1"]


@pytest.mark.parametrize("path", [*ONES, "rules", "conditions", "rosters/mappings"])
def test_what_takes_no_parameters_never_answers_as_if_it_did(path, ask):
    assert faults(ask(path, as_of="2020-01-01")) == {"/as_of": "unknown"}


def test_what_is_stated_takes_no_parameters_either(own, owner_client):
    body = {"kind": "tank", "tag": "T9"}

    refused = owner_client.post(f"/api/v1/facilities/{own.pk}/components?dry_run=true", body, format="json")

    assert faults(refused) == {"/dry_run": "unknown"}
    assert not own.components.exists()


@pytest.mark.parametrize("asked", [{}, {"as_of": "2026-03-01"}])
def test_what_is_not_required_is_asked_for_in_so_many_words(asked, ask):
    refused = ask("facilities/{}/obligations", standing="not required", **asked)

    assert "include_not_required=true" in refused.json()["errors"][0]["detail"]


def test_what_is_not_required_is_listed_by_itself(ask):
    listed = ask("facilities/{}/obligations", standing="not required", include_not_required="true")

    assert {one["standing"] for one in listed.json()["results"]} == {"not required"}
