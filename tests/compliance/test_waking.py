"""Judging is woken by every doorway, and a broker that is away hurts nobody."""

import pytest
from kombu.exceptions import OperationalError
from rest_framework.test import APIClient

from compliance import waking
from tests import world


@pytest.fixture
def woken(monkeypatch, django_capture_on_commit_callbacks) -> list[str]:
    calls: list[str] = []
    monkeypatch.setattr(waking.assess_stale, "apply_async", lambda **_: calls.append("judge"))
    return calls


def test_a_request_that_states_something_wakes_judging(
    own, owner_client, woken, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        owner_client.post(
            f"/api/v1/facilities/{own.pk}/components", {"kind": "tank", "tag": "T1"}, format="json"
        )

    assert woken == ["judge"]


def test_a_request_that_only_reads_wakes_nobody(own, owner_client, woken, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        owner_client.get("/api/v1/facilities")

    assert woken == []


def test_a_refused_request_wakes_nobody(own, owner_client, woken, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        owner_client.post(f"/api/v1/facilities/{own.pk}/components", {"kind": "boat"}, format="json")

    assert woken == []


def test_events_that_were_taken_in_beside_a_reused_id_wake_judging(
    own, owner_client, woken, django_capture_on_commit_callbacks
):
    """The conflict answers 409, and a raise under a used id moves its alarm all the same."""
    world.line(own)
    said = {"device": "SN1", "condition": "sump-fuel", "signal": "raised"}
    first = said | {"id": "1", "occurred_at": "2026-03-04T14:00:00Z"}
    other = said | {"id": "1", "occurred_at": "2026-03-04T14:30:00Z"}

    with django_capture_on_commit_callbacks(execute=True):
        answer = owner_client.post(
            f"/api/v1/facilities/{own.pk}/events",
            {"source": "console", "events": [first, other]},
            format="json",
        )

    assert (answer.status_code, answer.json()["accepted"]) == (409, 1)
    assert woken == ["judge"]


def test_a_broker_that_is_away_changes_no_answer(transactional_db, monkeypatch):
    owner = world.organisation("Own Marinas")
    own = world.facility(owner)
    secret = world.key(owner)

    def away(**_):
        raise OperationalError("nobody there")

    monkeypatch.setattr(waking.assess_stale, "apply_async", away)
    client = APIClient(headers={"Authorization": f"Bearer {secret}"})
    answer = client.post(
        f"/api/v1/facilities/{own.pk}/components", {"kind": "tank", "tag": "T1"}, format="json"
    )

    assert answer.status_code == 201
