"""A contractor's van tests a line leak detector, and the operator's portfolio shows it the same minute."""

from datetime import UTC, datetime

import pytest
import time_machine

from compliance.services import assess
from tests import world

NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)


@pytest.fixture
def site(own):
    world.line(own)
    assess.drain(clock=lambda: NOW)
    return own


def test(subject: str, day: str, job: str) -> dict:
    return {
        "activity": "line-leak-detector-test",
        "subjects": [subject],
        "performed_at": day,
        "outcome": "pass",
        "measurements": world.LEAK_FOUND,
        "external_id": job,
    }


test.__test__ = False


@time_machine.travel(NOW, tick=False)
def test_from_a_posted_test_to_the_portfolio_and_back(site, contractor_client, owner_client):
    path = f"/api/v1/facilities/{site.pk}"
    before = owner_client.get(f"{path}/standing").json()["counts"]

    answer = contractor_client.post(
        f"{path}/records",
        {"technician": "R. Ames", "records": [test("LLD1", "2026-03-03", "job-1")]},
        format="json",
    )

    [move] = answer.json()["moved"]
    after = owner_client.get(f"{path}/standing").json()
    [obligation] = owner_client.get("/api/v1/obligations", {"rule": "annual-alld-test"}).json()["results"]
    # 40 CFR 280.40(a)(3): once every year, read as rolling from the last completion.
    assert move["after"]["due"] == obligation["due"] == "2027-03-03"
    assert (obligation["standing"], obligation["days_late"]) == ("met", 0)
    assert after["counts"]["no record"] == before["no record"] - 1
    assert after["fresh"] is True


@time_machine.travel(NOW, tick=False)
def test_a_whole_visit_moves_every_obligation_it_answers(site, contractor_client):
    bucket = {
        "activity": "spill-bucket-test",
        "subjects": ["SB1"],
        "performed_at": "2026-03-03",
        "outcome": "pass",
        "measurements": world.TIGHT_BUCKET,
        "external_id": "job-2",
    }

    answer = contractor_client.post(
        f"/api/v1/facilities/{site.pk}/records",
        {"records": [test("LLD1", "2026-03-03", "job-1"), bucket]},
        format="json",
    )

    moved = {move["rule"]: move["after"]["due"] for move in answer.json()["moved"]}
    # 40 CFR 280.35(a)(1)(ii): at least once every three years.
    assert moved == {"annual-alld-test": "2027-03-03", "spill-bucket-tightness-3y": "2029-03-03"}


@time_machine.travel(NOW, tick=False)
def test_a_failed_test_stays_failed_until_a_later_one_passes(site, contractor_client, owner_client):
    path = f"/api/v1/facilities/{site.pk}/records"
    failed = test("LLD1", "2026-03-02", "job-1") | {"outcome": "fail", "measurements": world.LEAK_MISSED}

    first = contractor_client.post(path, {"records": [failed]}, format="json").json()["moved"]
    second = contractor_client.post(
        path, {"records": [test("LLD1", "2026-03-04", "job-2")]}, format="json"
    ).json()["moved"]

    standings = [
        move["after"]["standing"]
        for moves in (first, second)
        for move in moves
        if move["rule"] == "annual-alld-test"
    ]
    assert standings == ["failed", "met"]


@time_machine.travel(NOW, tick=False)
def test_an_unknown_installation_date_cannot_be_decided_and_is_named(own, owner_client):
    """40 CFR 280.41(a): the regime follows the installation date; who does not know it is not excused."""
    world.component(own, "tank", "T9", compartment_capacity_gallons=4000)
    assess.drain(clock=lambda: NOW)

    rows = owner_client.get(
        f"/api/v1/facilities/{own.pk}/obligations", {"subject": "T9", "limit": 200}
    ).json()["results"]
    found = {row["rule"]: row for row in rows}

    for rule in ("tank-monitor-30d-any", "tank-monitor-30d-interstitial", "secondary-containment-new"):
        detail = owner_client.get(f"/api/v1/obligations/{found[rule]['id']}").json()
        assert detail["standing"] == "cannot decide"
        assert {"subject": "T9", "field": "installed_on"} in detail["finding"]["missing"]
