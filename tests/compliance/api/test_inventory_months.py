"""A month of a ledger through the API while it is not over, or where no ledger is kept (40 CFR 280.43(a))."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from equipment.models import Record
from tests import world
from tests.equipment.api.calls import at, post
from tests.equipment.ledgers import inventory_day

MONTH = "/inventory/T1/months/2026-03"


@pytest.fixture(autouse=True)
def ledger(own):
    """The last of February and the first three days of March are on file; it is the fourth."""
    world.component(own, "tank_system", "S1")
    world.component(own, "tank", "T1", parent="S1", compartment_capacity_gallons=10_000)
    for number in range(4):
        inventory_day(own, date(2026, 2, 28) + timedelta(days=number))


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(world.NOW, tick=False):
        yield


def test_days_to_come_are_not_missing(own, owner_client):
    month = owner_client.get(at(own, MONTH)).json()

    assert (month["complete"], month["missing"]) == (False, ["2026-03-04"])
    assert month["remarks"][0] == "The month runs until 2026-03-31; close it when it is over."


def test_a_month_that_is_not_over_is_not_closed(own, owner_client):
    inventory_day(own, world.TODAY)

    refused = post(owner_client, at(own, f"{MONTH}/reconciliation"), {})

    assert refused.status_code == 422
    [error] = refused.json()["errors"]
    assert (error["code"], error["detail"]) == (
        "future",
        "the month runs until 2026-03-31; close it when it is over",
    )
    assert not Record.objects.exists()


def test_a_month_is_over_on_the_evening_of_its_last_day(own, owner_client):
    for number in range(28):
        with time_machine.travel(world.NOW + timedelta(days=number), tick=False):
            on = (world.TODAY + timedelta(days=number)).isoformat()
            day = {"on": on, "measured_by": "stick", "readings": [{"gal": 900}], "pumped_gal": 0}
            post(owner_client, at(own, "/inventory/T1/days"), {"days": [day]})

    with time_machine.travel(datetime(2026, 4, 1, 2, tzinfo=UTC), tick=False):  # 22:00 in New York
        closed = post(owner_client, at(own, f"{MONTH}/reconciliation"), {})

    assert closed.status_code == 201, closed.json()
    assert closed.json()["month"]["complete"]


def test_a_system_without_manifolded_tanks_says_that_it_keeps_no_ledger(own, owner_client):
    month = owner_client.get(at(own, "/inventory/S1/months/2026-02")).json()

    assert month["tanks"] == []
    assert month["remarks"][0].startswith("No tank was in the ledger of S1")


def test_a_month_over_its_limit_is_told_what_its_meters_may_make_up(own, owner_client):
    """40 CFR 280.43(a)(5): 6 cubic inches on 5 gal are 6 / 1,155; of 31,000 gal pumped they are 161 gal."""
    day = {"measured_by": "stick", "readings": [{"gal": 900}], "pumped_gal": 1_000}
    came = {"deliveries": [{"receipt_gal": 1_500}]}
    days = [
        day | came | {"on": (date(2026, 1, 1) + timedelta(days=number)).isoformat()} for number in range(31)
    ]
    stated = post(
        owner_client, at(own, "/inventory/T1/days"), {"days": [days[0] | {"opening_gal": 900}, *days[1:]]}
    )
    assert stated.status_code == 201, stated.json()

    month = owner_client.get(at(own, "/inventory/T1/months/2026-01")).json()

    assert [one["exceeded"] for one in month["rules"]] == [True]
    assert any("may make up 161 gal of it" in remark for remark in month["remarks"])


def test_a_month_that_is_not_complete_names_days_that_cannot_be(own, owner_client):
    """900 gal were left on the third; nobody pumps 950 on the fourth."""
    inventory_day(own, world.TODAY, pumped_gal=950.0)

    month = owner_client.get(at(own, MONTH)).json()

    assert not month["complete"]
    assert any(one.startswith("The book falls below zero on 2026-03-04:") for one in month["remarks"])


def test_a_month_with_a_missing_day_names_it_and_is_not_closed(own, owner_client):
    for on in (date(2026, 1, 1), date(2026, 1, 3)):
        inventory_day(own, on)

    refused = post(owner_client, at(own, "/inventory/T1/months/2026-01/reconciliation"), {})

    assert refused.status_code == 422
    assert "no entry on 2026-01-02, 2026-01-04" in refused.json()["errors"][0]["detail"]
    assert not Record.objects.exists()
