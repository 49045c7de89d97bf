"""Days of a ledger through the API: what is kept, and how what cannot be is refused (40 CFR 280.43(a))."""

from datetime import UTC, date, datetime
from itertools import count

import pytest
import time_machine

from equipment.models import InventoryDay, TankChart
from tests import world
from tests.world import NOW

KEYS = count()
DAY = {"on": "2026-03-02", "measured_by": "stick", "readings": [{"gal": 900}], "pumped_gal": 100}


@pytest.fixture
def site(own):
    world.component(own, "tank", "T1", compartment_capacity_gallons=10_000, diameter_in=96)
    return own


@pytest.fixture
def chart(site) -> TankChart:
    """The two rows of the Wisconsin course, step 13, inside a chart that begins empty and ends full."""
    tank = site.components.get(tag="T1")
    rows = [[0, 0], [33, 337], [34, 345], [96, 10_000]]
    return TankChart.objects.create(
        facility=site,
        component=tank,
        source="maker's chart",
        rows=rows,
        submitted_by=site.operator,
        recorded_at=NOW,
        recorded_by="test",
    )


@pytest.fixture
def send(site, owner_client):
    """Posts days of T1; answers the response."""

    def post(*days, tag="T1", client=owner_client, **more):
        with time_machine.travel(NOW, tick=False):
            return client.post(
                f"/api/v1/facilities/{site.pk}/inventory/{tag}/days",
                {"days": list(days), **more},
                format="json",
                headers={"Idempotency-Key": f"k{next(KEYS)}"},
            )

    return post


def errors(answer) -> list[tuple[str, str]]:
    return [(one["pointer"], one["code"]) for one in answer.json()["errors"]]


def test_a_day_is_kept_as_stated(send):
    answer = send(DAY)

    [day] = answer.json()["days"]
    assert answer.status_code == 201
    assert (day["on"], day["pumped_gal"], day["readings"][0]["gal"]) == ("2026-03-02", 100, 900)


def test_inches_become_gallons_between_the_rows_of_the_chart(send, chart):
    """Wisconsin course, step 13: 33 1/4 in between 337 and 345 gal is 339 gal."""
    answer = send(DAY | {"readings": [{"level_in": 33.25, "water_in": 0}]})

    assert answer.json()["days"][0]["readings"][0]["gal"] == 339


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"readings": [{"level_in": 97}]}, ("/days/0/readings/0/level_in", "above-maximum")),
        ({"readings": [{"gal": 10_001}]}, ("/days/0/readings/0/gal", "above-maximum")),
        ({"readings": [{"gal": -1}]}, ("/days/0/readings/0/gal", "min_value")),
        ({"readings": [{"level_in": 3, "water_in": 4}]}, ("/days/0/readings/0/water_in", "above-maximum")),
        ({"readings": []}, ("/days/0/readings", "missing")),
        ({"pumped_gal": None}, ("/days/0/meters", "missing")),
        ({"on": "2026-03-05"}, ("/days/0/on", "future")),
        ({"refill_gal": 2e6}, ("/days/0/refill_gal", "max_value")),
        (
            {"pumped_gal": None, "meters": [{"meter": "N", "start": 9_990, "end": 40, "rolls_over_at": 999}]},
            ("/days/0/meters/0/start", "above-maximum"),
        ),
        (
            {"pumped_gal": None, "meters": [{"meter": "N", "start": 9_990, "end": 40}]},
            ("/days/0/meters/0/end", "decreasing"),
        ),
        (
            {"deliveries": [{"receipt_gal": 800, "product_degf": 900}]},
            ("/days/0/deliveries/0/product_degf", "above-maximum"),
        ),
        (
            {"deliveries": [{"before": [{"gal": 900}], "after": [{"gal": 850}], "pumped_meanwhile_gal": 20}]},
            ("/days/0/deliveries/0", "below-minimum"),
        ),
    ],
)
def test_what_cannot_be_is_refused_at_its_place_and_nothing_is_kept(send, chart, change, place):
    answer = send(DAY | {"on": "2026-03-01"}, DAY | {"on": "2026-03-03"}, DAY | change)

    assert answer.status_code == 422
    assert errors(answer) == [(place[0].replace("/days/0", "/days/2"), place[1])]
    assert not InventoryDay.objects.exists()


@pytest.mark.parametrize("name", ["product_degf", "tank_degf"])
@pytest.mark.parametrize(
    ("degf", "code"), [(-58, None), (-58.5, "below-minimum"), (200, None), (200.5, "above-maximum")]
)
def test_a_temperature_that_no_fuel_has_is_refused(send, name, degf, code):
    """The tables of volume correction begin at -58 °F; no fuel over 200 °F: common practice, no source."""
    answer = send(DAY | {"deliveries": [{"receipt_gal": 800, name: degf}]})

    assert answer.status_code == (422 if code else 201)
    assert InventoryDay.objects.exists() is (code is None)
    if code:
        assert errors(answer) == [(f"/days/0/deliveries/0/{name}", code)]


def test_a_line_that_was_refilled_takes_its_own_volume(send):
    """Wisconsin course: 2 in by 75 ft is more than 12.2 gal; π/4 x 2² x 900 / 231 by hand is 12.24."""
    lines = [{"bore_in": 2, "length_ft": 75}]

    [day] = send(DAY | {"refilled_lines": lines, "note": "Line P1 repaired."}).json()["days"]

    assert day["refill_gal"] == pytest.approx(12.24, abs=0.001)
    assert day["note"] == "Line P1 repaired. Refilled a line of 2 in by 75 ft: 12.24 gal."


def test_what_filled_a_line_is_said_once(send):
    answer = send(DAY | {"refilled_lines": [{"bore_in": 2, "length_ft": 75}], "refill_gal": 12})

    assert errors(answer) == [("/days/0/refill_gal", "repeated")]
    assert not InventoryDay.objects.exists()


def test_a_level_without_a_chart_asks_for_the_chart_or_gallons(send):
    answer = send(DAY | {"readings": [{"level_in": 33}]})

    assert errors(answer) == [("/days/0/readings/0/level_in", "missing")]


def test_a_meter_that_rolled_over_says_where(send):
    rolled = {"meter": "N", "start": 9_990, "end": 40, "rolls_over_at": 10_000}

    assert send(DAY | {"pumped_gal": None, "meters": [rolled]}).status_code == 201


def test_a_meter_goes_on_from_the_day_before(send):
    first = DAY | {"pumped_gal": None, "meters": [{"meter": "N", "start": 0, "end": 100}]}
    wrong = first | {"on": "2026-03-03", "meters": [{"meter": "N", "start": 101, "end": 150}]}

    assert errors(send(first, wrong)) == [("/days/1/meters/0/start", "gap")]


def test_a_day_before_the_tank_was_installed_is_refused(send, site):
    world.component(site, "tank", "T2", installed_on=date(2026, 3, 2))

    early = send(DAY | {"on": "2026-03-01"}, tag="T2")

    assert errors(early) == [("/days/0/on", "out-of-range")]
    assert send(DAY, tag="T2").status_code == 201


def test_a_day_that_pumps_more_than_the_tank_held_is_kept_and_remarked(send):
    """900 gal in the morning, 84,320 by a meter of which a digit was misread."""
    meter = {"pumped_gal": None, "meters": [{"meter": "N", "start": 10_000, "end": 94_320}]}

    plain = send(DAY)
    answer = send(DAY | meter | {"on": "2026-03-03"})

    assert plain.json()["remarks"] == []
    assert answer.status_code == 201
    [remark] = answer.json()["remarks"]
    assert remark.startswith("The book falls below zero on 2026-03-03")


def test_two_closings_of_a_day_are_refused(send):
    assert errors(send(DAY, DAY)) == [("/days/0/on", "repeated"), ("/days/1/on", "repeated")]

    send(DAY)
    again = send(DAY | {"pumped_gal": 90})

    assert (again.status_code, errors(again)) == (409, [("/days/0/on", "repeated")])
    assert InventoryDay.objects.count() == 1


def test_a_correction_keeps_the_first_entry_with_who_and_when(send, site, owner_client):
    first = send(DAY).json()["days"][0]["id"]

    later = send(DAY | {"pumped_gal": 90, "supersedes": first, "reason": "meter misread"}).json()["days"][0]

    rows = owner_client.get(f"/api/v1/facilities/{site.pk}/inventory/T1/days").json()["results"]
    assert [(row["pumped_gal"], row["superseded_by"]) for row in rows] == [(90, None), (100, later["id"])]
    assert rows[0]["reason"] == "meter misread"
    assert all(row["recorded_by"] and row["recorded_at"] for row in rows)


def test_a_correction_of_what_no_longer_stands_is_refused(send):
    first = send(DAY).json()["days"][0]["id"]
    change = DAY | {"supersedes": first, "reason": "meter misread"}
    send(change)

    assert errors(send(change)) == [("/days/0/supersedes", "stale")]


def test_a_ledger_that_mixes_its_bases_is_refused(send):
    """Day 1 opens with 1,000, closes with 905 by stick and 900 by book."""
    first = DAY | {"opening_gal": 1_000, "readings": [{"gal": 905}]}
    book = DAY | {"on": "2026-03-03", "opening_gal": 900, "readings": [{"gal": 800}]}

    assert errors(send(first, book)) == [("/days/1/opening_gal", "mixed-basis")]
    assert send(first, book, basis="book").status_code == 201


def test_a_withdrawn_day_may_be_stated_again(send, site, owner_client):
    first = send(DAY).json()["days"][0]["id"]
    path = f"/api/v1/facilities/{site.pk}/inventory/T1/days/{first}/withdrawal"

    taken = owner_client.post(path, {"reason": "wrong tank"}, format="json")

    assert taken.json()["withdrawn"]["reason"] == "wrong tank"
    assert send(DAY).status_code == 201


def test_manifolded_tanks_are_one_ledger(send, site):
    world.component(site, "tank_system", "S1")
    for tag in ("T2", "T3"):
        world.component(site, "tank", tag, parent="S1", multiple_tanks=True)

    whole = send(DAY | {"readings": [{"tank": "T2", "gal": 400}, {"tank": "T3", "gal": 500}]}, tag="S1")
    half = send(DAY | {"on": "2026-03-01", "readings": [{"tank": "T2", "gal": 400}]}, tag="S1")

    assert whole.status_code == 201
    assert errors(half) == [("/days/0/readings", "missing")]
    assert send(DAY, tag="T2").status_code == 409


def test_another_contractors_day_is_not_corrected(send, contractor_client):
    first = send(DAY).json()["days"][0]["id"]

    answer = send(DAY | {"supersedes": first, "reason": "x"}, client=contractor_client)

    assert answer.status_code == 403


def test_the_day_is_the_sites_own(site, owner_client):
    """In New York it is still 7 March at 04:30 UTC, and 23 hours later, after the clocks went forward, 8 March."""
    path = f"/api/v1/facilities/{site.pk}/inventory/T1/days"
    body = {"days": [DAY | {"on": "2026-03-08"}]}
    answers = []
    for moment in (datetime(2026, 3, 8, 4, 30, tzinfo=UTC), datetime(2026, 3, 9, 3, 30, tzinfo=UTC)):
        with time_machine.travel(moment, tick=False):
            answers.append(
                owner_client.post(path, body, format="json", headers={"Idempotency-Key": f"k{next(KEYS)}"})
            )

    assert [answer.status_code for answer in answers] == [422, 201]
    assert InventoryDay.objects.get().on == date(2026, 3, 8)
