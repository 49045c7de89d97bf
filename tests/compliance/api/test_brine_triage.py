"""A first look at a liquid-filled space, over HTTP: computed, kept, and never an answer to the alarm.

Physics: level change = expansion x volume x temperature / free surface, 231 in3 a gallon; what drifts beside it is loss
or gain. 100 gal over 12.566 in2 that falls an inch a day loses 12.566 / 231 = 0.054 gal a day (worked here by hand).
"""

from datetime import UTC, datetime

import pytest
import time_machine

from alarms.models import Alarm, AlarmKnowledge, Disposition
from compliance.api.brine_examples import STATED
from compliance.models import BrineTriage
from tests import world
from tests.alarms.sites import raised
from tests.conftest import client_of

LATER = datetime(2026, 3, 4, 19, 31, tzinfo=UTC)
RAISED = datetime(2026, 3, 1, 14, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def alarm(own) -> Alarm:
    world.component(own, "tank_system", "S1")
    world.component(own, "tank", "T1", parent="S1", interstice="liquid-filled")
    return raised(own, "T1", "monitoring-liquid-low", now=RAISED)


def look(client, alarm: Alarm, body: dict, *, key: str = "k1"):
    url = f"/api/v1/alarms/{alarm.pk}/brine-triage"
    return client.post(url, body, format="json", headers={"Idempotency-Key": key})


def test_a_level_that_falls_an_inch_a_day_is_called_a_loss_of_its_volume(alarm, owner_client):
    answer = look(owner_client, alarm, STATED)

    assert answer.status_code == 201, answer.json()
    found = answer.json()["answer"]
    assert found["result"] == "loss"
    drift, surface = found["numbers"]["drift_in_a_day"], STATED["space"]["free_surface_in2"]
    assert found["numbers"]["gallons_a_day"] == pytest.approx(drift * surface / 231, rel=1e-6)
    assert drift == pytest.approx(-1.03, abs=0.05)  # -9.25 in over nine days
    assert {row["direction"] for row in found["breaches"] if row["fits"]} == {"down"}


def test_what_was_sent_is_kept_with_its_own_units(alarm, owner_client):
    look(owner_client, alarm, STATED)

    [listed] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/brine-triage").json()["results"]
    assert listed["stated"]["levels"]["product_in"] == {"value": 1524, "unit": "mm"}
    assert "60.0 in" in listed["answer"]["sayings"][0]["here"]  # 1,524 mm are 60 in: 25.4 mm an inch, exact


def test_it_is_advice_and_leaves_alarm_clock_and_answers_as_they_are(alarm, owner_client):
    before = Alarm.objects.values().get(pk=alarm.pk)

    answer = look(owner_client, alarm, STATED)

    assert "no disposition" in answer.json()["answer"]["advice"]
    assert Alarm.objects.values().get(pk=alarm.pk) == before
    assert not Disposition.objects.exists()
    assert not AlarmKnowledge.objects.exists()


def test_a_repeat_is_kept_once(alarm, owner_client):
    first, second = (look(owner_client, alarm, STATED) for _ in range(2))

    assert (first.status_code, second.json()) == (201, first.json())
    assert BrineTriage.objects.count() == 1


def test_a_level_without_a_number_and_a_future_reading_are_refused_and_nothing_is_kept(alarm, owner_client):
    bad = [
        *STATED["readings"],
        {"at": "2026-03-05T14:00:00Z", "level_in": 3.0, "temperature_degf": 52.0},
    ]
    future = look(owner_client, alarm, STATED | {"readings": bad})
    worded = look(owner_client, alarm, STATED | {"readings": [{"at": "2026-03-01T14:00:00Z"}]}, key="k2")

    assert (future.status_code, worded.status_code) == (422, 422)
    assert [fault["pointer"] for fault in future.json()["errors"]] == ["/readings/10/at"]
    assert not BrineTriage.objects.exists()


def test_900_degrees_in_a_wall_are_refused_with_the_place(alarm, owner_client):
    hot = [*STATED["readings"][:-1], STATED["readings"][-1] | {"temperature_degf": 900}]

    answer = look(owner_client, alarm, STATED | {"readings": hot})

    assert answer.status_code == 422
    assert "/readings/9/temperature_degf" in {fault["pointer"] for fault in answer.json()["errors"]}


@pytest.mark.parametrize(
    ("given", "place", "code"),
    [
        ({"value": 11.1, "unit": "°C"}, None, None),
        ({"value": 11.1, "unit": "degc"}, None, None),
        ({"value": 11.1, "unit": "mm"}, "/unit", "unit"),
        ({"value": 11.1, "unit": "kelvin"}, "/unit", "unit"),
        ({"value": 11.1, "unit": 7}, "/unit", "unit"),
        ({"value": 11.1}, "/unit", "missing"),
        ({"value": "11.1", "unit": "°C"}, "/value", "type"),
        ({"value": 1e300, "unit": "°C"}, "/value", "too-large"),
        ({"value": 11.1, "unit": "°C", "a/b": 1}, "/a~1b", "unknown"),
        ({"value": 482.2, "unit": "°C"}, "", "high"),
        ("52 °F", "", "form"),
    ],
)
def test_units_are_spelt_as_in_records(given, place, code, alarm, owner_client):
    readings = [STATED["readings"][0] | {"temperature_degf": given}, *STATED["readings"][1:]]

    answer = look(owner_client, alarm, STATED | {"readings": readings})

    told = [(one["pointer"], one["code"]) for one in answer.json().get("errors", [])]
    assert told == ([(f"/readings/0/temperature_degf{place}", code)] if code else [])
    assert answer.status_code == (422 if code else 201)


def test_an_alarm_about_a_dry_sump_is_refused_with_the_reason(own, owner_client):
    world.component(own, "tank_system", "S2")
    dry = raised(own, "SU9", "sump-liquid", now=RAISED)

    answer = look(owner_client, dry, STATED)

    assert answer.status_code == 409
    assert "filled on purpose" in answer.json()["detail"]


def test_a_look_taken_back_stays_listed_with_the_reason(alarm, owner_client):
    made = look(owner_client, alarm, STATED).json()

    taken = owner_client.post(
        f"/api/v1/alarms/{alarm.pk}/brine-triage/{made['id']}/withdrawal",
        {"reason": "Read at the wrong riser."},
        format="json",
    )

    assert taken.json()["withdrawn_reason"] == "Read at the wrong riser."
    [listed] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/brine-triage").json()["results"]
    assert listed["withdrawn_at"] is not None


def test_strangers_find_nothing(alarm, stranger, owner_client):
    made = look(owner_client, alarm, STATED).json()
    knocking = client_of(stranger)

    url = f"/api/v1/alarms/{alarm.pk}/brine-triage"
    assert knocking.get(url).status_code == 404
    assert look(knocking, alarm, STATED).status_code == 404
    taken = knocking.post(f"{url}/{made['id']}/withdrawal", {"reason": "mine"}, format="json")
    assert taken.status_code == 404


STRONG = {"liquid_gal": 100, "free_surface_in2": 12.566, "mass_pct": 35}


def test_a_brine_stronger_than_the_published_fit_needs_its_expansion(alarm, owner_client):
    """The handbook's table at 20 °C goes on to 40 percent: half way from 1.2816 to 1.3957 g/mL at 35."""
    refused = look(owner_client, alarm, STATED | {"space": STRONG})
    taken = look(owner_client, alarm, STATED | {"space": STRONG | {"expansion_per_k": 4e-4}}, key="k2")

    assert [(one["pointer"], one["code"]) for one in refused.json()["errors"]] == [
        ("/space/expansion_per_k", "missing")
    ]
    assert taken.status_code == 201, taken.json()
    found = taken.json()["answer"]
    assert found["numbers"]["specific_gravity"] == pytest.approx((1.2816 + 1.3957) / 2, abs=1e-9)
    assert any("handbook's at 20 °C" in note for note in found["notes"])


def test_the_saying_about_low_alarms_tells_where_the_level_would_come_to_rest(alarm, owner_client):
    """Fuel at 60 in, SG 0.74, against brine of 1.25: 60 x 0.74 / 1.25 = 35.5 in above the tank bottom."""
    space = STATED["space"] | {"specific_gravity": 1.25}
    levels = STATED["levels"] | {"product_in": 60, "sg_product": 0.74}

    answer = look(owner_client, alarm, STATED | {"space": space, "levels": levels})

    said = {one["saying"]: one["here"] for one in answer.json()["answer"]["sayings"]}
    assert "come to rest at about 35.5 in" in said["A low alarm means the inner wall leaks."]


def test_a_level_near_the_tank_top_asks_for_the_makers_setting(alarm, owner_client):
    """About 3 in over the tank top, by one tank maker's manual."""
    low = STATED | {"levels": STATED["levels"] | {"reservoir_in": 97}}

    usual, found = look(owner_client, alarm, STATED), look(owner_client, alarm, low, key="k2")

    assert not any("over the tank top" in note for note in usual.json()["answer"]["notes"])
    assert any("stands 1.0 in over the tank top" in note for note in found.json()["answer"]["notes"])


def test_the_weight_of_fuel_may_be_stated_by_the_gallon(alarm, owner_client):
    """6.2 lb/gal is 0.7437 times water of 999.012 kg/m³: pound and gallon are exact in both."""
    heavy = STATED["levels"] | {"sg_product": {"value": 6.2, "unit": "lb/gal"}}

    answer = look(owner_client, alarm, STATED | {"levels": heavy})

    numbers = answer.json()["answer"]["numbers"]
    bottom = next(row for row in answer.json()["answer"]["breaches"] if row["wall"] == "inner")
    assert bottom["silent_at_in"] == pytest.approx(numbers["specific_gravity"] * 99 / 0.743660, rel=1e-4)
