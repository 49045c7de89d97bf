"""HEAD, OPTIONS and Allow. RFC 9110: 9.3.2 (HEAD as GET without content), 10.2.1 and 15.5.6 (405 and its Allow)."""

import pytest

from tests.equipment.api.calls import at, problem

VERBS = {
    "/api/v1/facilities": {"GET", "HEAD", "POST"},
    "/api/v1/keys": {"GET", "HEAD", "POST"},
    "/api/v1/rosters": {"POST"},
    "/api/v1/portfolio": {"GET", "HEAD"},
}


def allowed(answer) -> set[str]:
    return set(answer.headers["Allow"].split(", "))


@pytest.mark.parametrize("path", [path for path, verbs in VERBS.items() if "HEAD" in verbs])
def test_head_answers_what_get_would_without_its_content(path, own, owner_client):
    full, head = owner_client.get(path), owner_client.head(path)

    assert head.status_code == full.status_code == 200
    assert head.headers["Content-Type"] == full.headers["Content-Type"]
    assert head.content == b""


def test_head_sees_no_more_than_get(own, stranger_client):
    assert stranger_client.head(at(own)).status_code == 404


def test_head_does_not_exist_where_nothing_can_be_read(owner_client):
    assert owner_client.head("/api/v1/rosters").status_code == 405


@pytest.mark.parametrize(("path", "verbs"), VERBS.items(), ids=VERBS)
@pytest.mark.parametrize("verb", ["OPTIONS", "DELETE"])
def test_a_verb_that_is_refused_is_told_which_ones_are_not(verb, path, verbs, owner_client):
    refused = owner_client.generic(verb, path)

    assert problem(refused) == (405, "method-not-allowed")
    assert allowed(refused) == verbs


def test_allow_names_the_verbs_of_an_answer_too(own, owner_client):
    assert allowed(owner_client.get(at(own))) == {"GET", "HEAD", "PATCH"}
