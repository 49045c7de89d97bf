"""The check before a delivery through the API: room, refusal, joined tanks, cautions, and what it later serves."""

from datetime import date
from typing import Any

import pytest

from compliance.api import delivery_check_examples
from equipment.models import Component, Record
from tests import world
from tests.equipment.api.calls import at, faults, post, problem
from tests.equipment.statements import chart

PATH = "/delivery-checks"
WHEN = "2026-03-02T09:00:00-05:00"
LOOKED = {
    "tag": "SB1",
    "undamaged": True,
    "liquid_removed": True,
    "fill_pipe_clear": True,
    "cap_secure": True,
}
# A straight chart: 10,000 gal in 96 in; 45.12 in hold 4,700 gal.
ROWS = ((0, 0), (45.12, 4_700), (96, 10_000))


@pytest.fixture(autouse=True)
def parts(own) -> dict[str, Component]:
    """T1 with an automatic shutoff and its chart."""
    parts = world.line(own)
    chart(own, parts["T1"], ROWS)
    return parts


def body(**change: Any) -> dict[str, Any]:
    stated = {
        "checked_at": WHEN,
        "order_gal": 4_000,
        "tanks": [{"tag": "T1", "level_in": 45.12, "water_in": 0}],
    }
    return stated | {"watcher": "R. Ames"} | change


def check(client, site, **change: Any) -> dict[str, Any]:
    answer = post(client, at(site, PATH), body(**change))
    assert answer.status_code == 201, answer.json()
    return dict(answer.json())


def test_the_room_ends_where_the_shutoff_acts(own, owner_client):
    """Published arithmetic: 10,000 gal x limit - 4,700 (Wisconsin course, there with 90 percent: 4,300)."""
    told = check(owner_client, own)

    assert (told["room_gal"], told["largest_order_gal"], told["fits"], told["refused"]) == (
        4_800,
        4_799,
        True,
        False,
    )
    assert told["tanks"][0]["limit_because"].startswith(
        "OV1, automatic shutoff: 95 percent (40 CFR 280.20(c)"
    )
    assert told["reasons"] == []


def test_an_alarm_ends_it_at_ninety_percent(own, owner_client):
    world.component(own, "overfill_device", "OV2", parent="T1", overfill_type="high-level alarm")

    assert check(owner_client, own)["room_gal"] == 4_300


@pytest.mark.parametrize(("order", "refused"), [(4_799, False), (4_800, True), (4_801, True)])
def test_room_for_exactly_the_load_is_not_enough(order, refused, own, owner_client):
    """40 CFR 280.30(a): the volume available is greater than the volume of product to be transferred."""
    told = check(owner_client, own, order_gal=order)

    assert told["refused"] is refused
    assert ["280.30(a)" in one for one in told["reasons"]] == [True] * refused


def test_another_jurisdiction_may_want_more(own, owner_client):
    """23 CCR 2635 as quoted in county files: 103 percent of the load, or 200 gal more, whichever is less."""
    told = check(owner_client, own, order_gal=4_700, jurisdictions=["us-ca"])

    assert told["refused"] is True
    assert [(rule["required_gal"], rule["fits"]) for rule in told["rules"]] == [(4_700, True), (4_841, False)]
    assert told["largest_order_gal"] == 4_660


def test_bottom_water_takes_room_and_is_no_product(own, owner_client):
    told = check(owner_client, own, tanks=[{"tag": "T1", "level_in": 45.12, "water_in": 4.512}])

    assert told["room_gal"] == pytest.approx(4_800)
    assert told["tanks"][0]["water_gal"] == pytest.approx(470)
    assert told["tanks"][0]["product_gal"] == pytest.approx(4_230)


def test_interpolated_gallons_are_told_without_the_digits_of_the_computer(own, owner_client):
    """45 1/8 in lie 0.005 / 50.88 of the way from 4,700 to 10,000 gal: 4,700.520833..."""
    told = check(owner_client, own, tanks=[{"tag": "T1", "level_in": 45.125, "water_in": 0}])

    assert (told["tanks"][0]["product_gal"], told["room_gal"]) == (4_700.520833, 4_799.479167)


def test_gallons_of_a_gauge_do_as_well_as_a_stick(own, owner_client):
    told = check(owner_client, own, tanks=[{"tag": "T1", "product_gal": 4_600, "water_gal": 100}])

    assert told["room_gal"] == 4_800


def test_without_a_chart_the_plate_serves_for_gallons_and_says_so(own, owner_client):
    world.component(own, "tank", "T2", parent="S1", compartment_capacity_gallons=8_000.0)

    told = check(owner_client, own, tanks=[{"tag": "T2", "product_gal": 1_000, "water_gal": 0}])

    assert told["room_gal"] == 6_200
    assert any("name plate" in one for one in told["remarks"])
    assert any("no overfill device is on file" in one for one in told["remarks"])


def test_the_chart_of_the_day_of_the_check_counts(own, owner_client, parts):
    chart(own, parts["T1"], ((0, 0), (96, 9_000)), effective_on=date(2026, 3, 1))

    told = check(owner_client, own, tanks=[{"tag": "T1", "level_in": 48, "water_in": 0}])
    before = check(
        owner_client, own, checked_at="2026-02-28", tanks=[{"tag": "T1", "level_in": 48, "water_in": 0}]
    )

    assert told["tanks"][0]["capacity_gal"] == 9_000
    assert before["tanks"][0]["capacity_gal"] == 10_000


def test_joined_tanks_are_one_volume(own, owner_client, parts):
    """Siphon-linked tanks fill as one: rooms are added, a tank above its own limit takes from the others."""
    two = world.component(own, "tank", "T2", parent="S1", multiple_tanks=True)
    chart(own, two, ROWS)
    world.component(own, "overfill_device", "OV2", parent="T2", overfill_type="high-level alarm")

    told = check(
        owner_client,
        own,
        order_gal=4_799,
        tanks=[
            {"tag": "T1", "level_in": 45.12, "water_in": 0},
            {"tag": "T2", "product_gal": 9_200, "water_gal": 0},
        ],
    )

    assert (told["joined"], told["room_gal"]) == (True, 4_600)
    assert told["refused"] is True
    assert any("does not say that T1 is joined" in one for one in told["remarks"])


def test_a_joined_tank_alone_is_half_a_reading(own, owner_client):
    for tag in ("T2", "T3"):
        world.component(
            own, "tank", tag, parent="S1", multiple_tanks=True, compartment_capacity_gallons=8_000.0
        )

    refused = post(owner_client, at(own, PATH), body(tanks=[{"tag": "T2", "product_gal": 10}]))

    assert faults(refused) == {"/tanks": "joined"}
    assert "T3" in refused.json()["errors"][0]["detail"]


def test_tanks_that_are_not_joined_are_checked_one_by_one(own, owner_client):
    world.component(
        own, "tank", "T2", parent="S1", multiple_tanks=False, compartment_capacity_gallons=8_000.0
    )

    tanks = [{"tag": "T1", "level_in": 40}, {"tag": "T2", "product_gal": 10}]

    assert faults(post(owner_client, at(own, PATH), body(tanks=tanks))) == {"/tanks/1/tag": "not-joined"}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"tanks": [{"tag": "T1", "level_in": 97}]}, {"/tanks/0/level_in": "above-maximum"}),
        ({"tanks": [{"tag": "T1", "level_in": -1}]}, {"/tanks/0/level_in": "below-minimum"}),
        (
            {"tanks": [{"tag": "T1", "level_in": 10, "product_degf": 900}]},
            {"/tanks/0/product_degf": "above-maximum"},
        ),
        ({"tanks": [{"tag": "T9", "level_in": 10}]}, {"/tanks/0/tag": "unknown"}),
        ({"tanks": [{"tag": "SB1", "level_in": 10}]}, {"/tanks/0/tag": "wrong-kind"}),
        (
            {"tanks": [{"tag": "T1", "level_in": 1}, {"tag": "T1", "level_in": 1}]},
            {"/tanks/1/tag": "repeated"},
        ),
        ({"tanks": []}, {"/tanks": "empty"}),
        ({"spill_buckets": [{"tag": "T1"}]}, {"/spill_buckets/0/tag": "wrong-kind"}),
        ({"spill_buckets": [LOOKED, LOOKED]}, {"/spill_buckets/1/tag": "repeated"}),
        ({"order_gal": 0}, {"/order_gal": "out-of-range"}),
        ({"load_degf": 900}, {"/load_degf": "above-maximum"}),
        ({"api_gravity": 600}, {"/api_gravity": "out-of-range"}),
        ({"api_gravity": 40, "api_read_degf": 900}, {"/api_read_degf": "above-maximum"}),
        ({"jurisdictions": ["us-zz"]}, {"/jurisdictions/0": "unknown"}),
        ({"checked_at": "2999-01-01T00:00:00Z"}, {"/checked_at": "unreadable"}),
        ({"checked_at": "1988-12-21"}, {"/checked_at": "too-early"}),
        ({"unit": "litres"}, {"/unit": "unknown"}),
    ],
)
def test_a_check_that_cannot_be_is_refused_at_its_place(change, expected, own, owner_client):
    refused = post(owner_client, at(own, PATH), body(**change))

    assert refused.status_code == 422
    assert faults(refused) == expected
    assert not Record.objects.exists()


def test_a_check_before_the_tank_was_installed_is_refused(own, owner_client):
    world.component(own, "tank", "T2", parent="S1", installed_on=date(2026, 3, 3))
    tanks = [{"tag": "T2", "product_gal": 10}]

    refused = post(owner_client, at(own, PATH), body(tanks=tanks))

    assert faults(refused) == {"/tanks/0/tag": "not-there-yet"}


@pytest.mark.parametrize(
    ("status", "refused", "told_in"),
    [
        ("closed in place", True, "reasons"),
        ("temporarily out of service", False, "remarks"),
        ("currently in use", False, None),
    ],
)
def test_nothing_goes_into_a_closed_tank(status, refused, told_in, own, owner_client):
    change = {"type": "status", "component": "T1", "effective_on": "2026-02-01", "status": status}
    assert post(owner_client, at(own, "/changes"), change).status_code == 201

    told = check(owner_client, own)

    assert told["refused"] is refused
    assert [name for name in ("reasons", "remarks") if any(status in one for one in told[name])] == (
        [told_in] if told_in else []
    )


def test_a_tank_that_was_closed_later_took_the_load(own, owner_client):
    change = {
        "type": "status",
        "component": "T1",
        "effective_on": "2026-03-03",
        "status": "closed in place",
    }
    post(owner_client, at(own, "/changes"), change)

    assert check(owner_client, own)["refused"] is False


def test_the_room_that_is_told_is_rounded_down(own, owner_client):
    """45 in hold 4,700 x 45 / 45.12 = 4,687.5 gal; 45 1/8 in, a row further, 4,700.520833: room 4,799.479167 gal."""
    told = check(owner_client, own, order_gal=1_000_000, tanks=[{"tag": "T1", "level_in": 45.125}])

    assert told["reasons"][0].startswith(
        "A load of 1000000 gal needs more than 1000000 gal of room; there are 4799.4 gal. Order 4799 gal at most"
    )


def test_a_divided_tank_is_checked_by_compartment(own, owner_client):
    world.component(own, "compartment", "C1", parent="T1", compartment_capacity_gallons=4_000.0)

    whole = post(owner_client, at(own, PATH), body())
    told = check(owner_client, own, order_gal=10, tanks=[{"tag": "C1", "product_gal": 1_000, "water_gal": 0}])

    assert faults(whole) == {"/tanks/0/tag": "divided"}
    # The device of the tank counts where the compartment shows none of its own.
    assert told["room_gal"] == 2_800


@pytest.mark.parametrize(
    ("material", "walls", "pumped", "refused", "warned"),
    [
        ("fiberglass reinforced plastic", "double wall", True, True, True),
        ("fiberglass reinforced plastic", "double wall", False, False, True),
        ("fiberglass reinforced plastic", "single wall", True, False, False),
        ("jacketed steel", "double wall", True, False, False),
        (None, None, True, False, True),
    ],
)
def test_double_walled_fibreglass_is_filled_by_gravity_only(
    material, walls, pumped, refused, warned, own, owner_client
):
    """Common practice, no source: such tanks are made for the pressure of the air."""
    world.component(
        own,
        "tank",
        "T2",
        parent="S1",
        compartment_capacity_gallons=8_000.0,
        tank_material_description=material,
        tank_secondary_containment=walls,
    )

    told = check(owner_client, own, pumped=pumped, tanks=[{"tag": "T2", "product_gal": 10, "water_gal": 0}])

    assert told["refused"] is refused
    assert told["fits"] is True
    assert any("by gravity only" in one["text"] for one in told["cautions"]) is warned


def test_the_cautions_say_that_somebody_watches_throughout(own, owner_client):
    told = check(owner_client, own, watcher=None)

    assert any("watches the whole transfer" in one["text"] for one in told["cautions"])
    assert any("Nobody is named who watches" in one for one in told["remarks"])


def test_warming_up_is_advice_and_alters_no_figure(own, owner_client):
    tanks = [{"tag": "T1", "level_in": 45.12, "water_in": 0, "product_degf": 80}]

    told = check(owner_client, own, order_gal=4_790, load_degf=40, api_gravity=60, tanks=tanks)

    assert told["growth_gal"] > 100
    assert (told["room_gal"], told["fits"]) == (4_800, True)
    assert any("order less" in one for one in told["remarks"])


def test_a_hydrometer_read_at_another_temperature_is_carried_to_60_degrees(own, owner_client):
    """US Army QM5097: 40.5 API at 83 °F is 38.7 at 60 °F."""
    tanks = [{"tag": "T1", "level_in": 45.12, "water_in": 0, "product_degf": 80}]
    load = {"order_gal": 4_000, "load_degf": 40, "tanks": tanks}

    read = check(owner_client, own, api_gravity=40.5, api_read_degf=83, **load)
    known = check(owner_client, own, api_gravity=38.7, **load)

    assert read["api_read_degf"] == 83
    assert read["growth_gal"] == pytest.approx(known["growth_gal"], abs=0.1)
    assert read["growth_gal"] != pytest.approx(
        check(owner_client, own, api_gravity=40.5, **load)["growth_gal"], abs=0.1
    )


def test_a_check_is_kept_read_and_answered_once(own, owner_client):
    first = post(owner_client, at(own, PATH), body(), key="once")
    again = post(owner_client, at(own, PATH), body(), key="once")
    told = first.json()

    assert again.json() == told
    assert owner_client.get(at(own, f"{PATH}/{told['id']}")).json() == {
        name: value for name, value in told.items() if name not in ("moved", "remark")
    }
    assert [one["id"] for one in owner_client.get(at(own, PATH)).json()["results"]] == [told["id"]]


def test_a_load_that_does_not_fit_is_kept_too(own, owner_client):
    told = check(owner_client, own, order_gal=9_000)

    assert owner_client.get(at(own, f"{PATH}/{told['id']}")).json()["refused"] is True


@pytest.mark.parametrize("asked", [delivery_check_examples.ASKED])
def test_the_example_of_the_description_is_accepted(asked, own, owner_client):
    stated = post(owner_client, at(own, PATH), asked)

    assert stated.status_code == 201, stated.json()
    assert set(stated.json()) == set(delivery_check_examples.ANSWER) | {"moved", "remark"}


def test_a_check_is_withdrawn_with_a_reason(own, owner_client):
    number = check(owner_client, own)["id"]

    answer = post(owner_client, at(own, f"{PATH}/{number}/withdrawal"), {"reason": "read at the wrong fill"})

    assert answer.status_code == 200
    assert (
        owner_client.get(at(own, f"{PATH}/{number}")).json()["withdrawn"]["reason"]
        == "read at the wrong fill"
    )


def test_room_is_worked_out_never_posted_as_a_record(own, owner_client):
    record = {
        "activity": "pre-delivery-check",
        "performed_at": "2026-03-02",
        "measurements": {"order_gal": 1, "tanks": []},
    }

    refused = post(owner_client, at(own, "/records"), {"records": [record]})

    assert faults(refused) == {"/records/0/activity": "elsewhere"}


def test_other_records_are_no_checks(own, owner_client):
    walk = {"activity": "walkthrough", "performed_at": "2026-03-02", "measurements": {"areas": ["spill"]}}
    number = post(owner_client, at(own, "/records"), {"records": [walk]}).json()["records"][0]["id"]

    assert problem(owner_client.get(at(own, f"{PATH}/{number}"))) == (404, "not-found")
    assert owner_client.get(at(own, PATH)).json()["results"] == []


def test_a_contractor_may_check_and_a_stranger_sees_nothing(own, contractor_client, stranger_client):
    number = check(contractor_client, own)["id"]

    assert problem(stranger_client.get(at(own, f"{PATH}/{number}"))) == (404, "not-found")
