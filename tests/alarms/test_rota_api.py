"""Rotas, hours, stand-ins and lists of a priority through the API. Holidays: 5 U.S.C. 6103; the rest is our own
promise. ETags: RFC 9110 section 13.1.1."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from alarms.models import Contact, Rota, Substitution
from tests import world
from tests.alarms.sites import contact, fallback, raised
from tests.alarms.test_api import get, pointers, put, steps

OFFICE = {
    "spans": [
        {"days": ["monday", "tuesday", "wednesday", "thursday", "friday"], "begins": "07:00", "ends": "17:00"}
    ],
    "closed_on": {"country": "US", "subdivision": "NY"},
}
ANN = {"name": "Ann", "email": "ann@example.com"}
BOB = {"name": "Bob", "email": "bob@example.com"}
CEM = {"name": "Cem", "email": "cem@example.com"}
ROTA = {
    "name": "nights",
    "people": [ANN, BOB],
    "starts_on": "2026-03-02",
    "turn_days": 7,
    "hand_over": "08:00",
    "time_zone": "America/New_York",
}


def post(client, path: str, body, key: str = "k1"):
    headers = {"Idempotency-Key": key}
    return client.post(f"/api/v1/{path}", json.dumps(body), content_type="application/json", headers=headers)


@pytest.fixture
def path(own) -> str:
    return f"facilities/{own.pk}/call-list"


@pytest.fixture
def mine(owner) -> str:
    return f"organisations/{owner.pk}"


def step(after: int, *people, **more):
    return {"after_minutes": after, "recipients": list(people), **more}


def calls(client, path: str, **asked):
    shown = get(client, f"{path}/preview", **asked).json()
    return [
        (one["at_local"], [who["name"] for who in one["recipients"]], one["fallback"])
        for one in shown["calls"]
    ]


def test_a_rota_is_stated_read_and_named_on_a_list(path, mine, owner, owner_client):
    made = post(owner_client, f"{mine}/rotas", ROTA)
    listed = put(owner_client, path, {"steps": [step(0, rotas=[made.json()["id"]])]})

    assert made.status_code == 201, made.content
    assert made.json() | ROTA == made.json()
    assert made.json()["on_duty"] in (ANN, BOB)
    assert listed.json()["steps"][0]["rotas"] == [
        {"id": made.json()["id"], "name": "nights", "organisation": owner.pk}
    ]
    # 9 March 2026, 08:00 by summer time (tz database): the second week begins.
    assert calls(owner_client, path, raised_at="2026-03-09T11:59:00Z", repeats=0)[0][1] == ["Ann"]
    assert calls(owner_client, path, raised_at="2026-03-09T12:00:00Z", repeats=0)[0][1] == ["Bob"]


def test_the_same_request_again_makes_no_second_rota(mine, owner_client):
    answers = [post(owner_client, f"{mine}/rotas", ROTA) for _ in range(2)]

    assert [one.status_code for one in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert Rota.objects.count() == 1


def test_a_rota_is_replaced_with_its_etag_only(mine, owner_client):
    made = post(owner_client, f"{mine}/rotas", ROTA).json()
    at = f"{mine}/rotas/{made['id']}"
    body = ROTA | {"people": [CEM]}
    answers = [put(owner_client, at, body, match) for match in (None, '"v9"', '"v1"', '"v1"')]

    assert [one.status_code for one in answers] == [428, 412, 200, 412]
    assert get(owner_client, at).json()["people"] == [CEM]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"people": []}, "/people"),
        ({"people": [ANN | {"email": "x"}]}, "/people/0/email"),
        ({"turn_days": 0}, "/turn_days"),
        ({"turn_days": "7"}, "/turn_days"),
        ({"hand_over": "24:00"}, "/hand_over"),
        ({"hand_over": "8:00"}, "/hand_over"),
        ({"hand_over": 8}, "/hand_over"),
        ({"time_zone": "New York"}, "/time_zone"),
        ({"time_zone": "../etc/passwd"}, "/time_zone"),
        ({"starts_on": "2026-02-29"}, "/starts_on"),
        ({"shifts": 3}, "/shifts"),
    ],
)
def test_what_is_wrong_with_a_rota_is_pointed_at(mine, owner_client, wrong, pointer):
    answer = post(owner_client, f"{mine}/rotas", ROTA | wrong)

    assert (answer.status_code, pointers(answer)) == (422, [pointer])
    assert not Rota.objects.exists()
    assert not Contact.objects.exists()


def test_two_rotas_of_one_name_are_refused(mine, owner_client):
    post(owner_client, f"{mine}/rotas", ROTA)

    assert pointers(post(owner_client, f"{mine}/rotas", ROTA, "k2")) == ["/name"]


def test_a_rota_of_a_stranger_is_no_rota(path, mine, stranger, owner_client, stranger_client):
    theirs = post(stranger_client, f"organisations/{stranger.pk}/rotas", ROTA).json()["id"]
    answers = [put(owner_client, path, {"steps": [step(0, rotas=[pk])]}) for pk in (theirs, 99999)]

    assert [pointers(one) for one in answers] == [["/steps/0/rotas/0"]] * 2
    assert get(owner_client, f"{mine}/rotas/{theirs}").status_code == 404
    assert get(owner_client, f"organisations/{stranger.pk}/rotas").status_code == 404


def test_a_contractor_adds_its_own_rota_and_not_the_operators(
    path, mine, contractor, owner_client, contractor_client
):
    owners = post(owner_client, f"{mine}/rotas", ROTA).json()["id"]
    own = post(contractor_client, f"organisations/{contractor.pk}/rotas", ROTA).json()["id"]

    refused = put(contractor_client, path, {"steps": [step(0, rotas=[owners])]})
    added = put(contractor_client, path, {"steps": [step(0, rotas=[own])]})

    assert (pointers(refused), added.status_code) == (["/steps/0/rotas/0"], 200)


def test_hours_of_a_step_are_kept_and_the_dry_run_says_who_is_passed_over(path, owner, owner_client):
    fallback(owner, "mia")
    stated = put(owner_client, path, {"steps": [step(0, ANN, hours=OFFICE), step(10, BOB)]})
    # Thanksgiving Day 2026 at noon in New York.
    shown = get(owner_client, f"{path}/preview", raised_at="2026-11-26T17:00:00Z", repeats=0).json()

    assert stated.json()["steps"][0]["hours"] == OFFICE | {"time_zone": None}
    [call] = shown["calls"]
    assert (call["number"], call["at_local"], call["recipients"][0]["name"]) == (
        2,
        "2026-11-26 12:00 EST",
        "Bob",
    )
    assert [(one["recipient"]["name"], one["why"], one["note"]) for one in call["passed_over"]] == [
        ("Ann", "holiday", "Thanksgiving Day (calendar of the step)")
    ]


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"spans": []}, "/spans"),
        ({"spans": [{"days": ["funday"], "begins": "07:00", "ends": "17:00"}]}, "/spans/0/days/0"),
        ({"spans": [{"days": ["monday"], "begins": "7", "ends": "17:00"}]}, "/spans/0/begins"),
        ({"closed_on": {"country": "XX"}}, "/closed_on/country"),
        ({"closed_on": {"country": "US", "subdivision": "ZZ"}}, "/closed_on/subdivision"),
        ({"time_zone": "Mars/Olympus"}, "/time_zone"),
    ],
)
def test_what_is_wrong_with_hours_is_pointed_at(path, owner_client, wrong, pointer):
    answer = put(owner_client, path, {"steps": [step(0, ANN, hours=OFFICE | wrong)]})

    assert (answer.status_code, pointers(answer)) == (422, [f"/steps/0/hours{pointer}"])


def test_hours_of_a_person_hold_wherever_they_are_listed(path, mine, owner_client):
    put(owner_client, path, {"steps": [step(0, ANN, BOB)]})
    ann = Contact.objects.get(name="Ann")
    at = f"{mine}/contacts/{ann.pk}"
    reach = {"time_zone": "America/Los_Angeles", "morning": "06:30", "hours": OFFICE}

    assert [put(owner_client, at, reach, match).status_code for match in ('"v7"', '"v1"')] == [412, 200]
    assert get(owner_client, at).json() | {"morning": "06:30", "version": 2} == get(owner_client, at).json()
    # 13:00 UTC on Wednesday 4 March 2026 is 08:00 in New York and 05:00 in Los Angeles.
    assert calls(owner_client, path, raised_at="2026-03-04T13:00:00Z", repeats=0)[0][1] == ["Bob"]
    assert calls(owner_client, path, raised_at="2026-03-04T15:00:00Z", repeats=0)[0][1] == ["Ann", "Bob"]


def test_people_of_another_organisation_are_not_there(path, contractor, owner_client, contractor_client):
    put(owner_client, path, {"steps": [step(0, ANN)]})
    ann = Contact.objects.get(name="Ann").pk

    assert get(contractor_client, f"organisations/{contractor.pk}/contacts/{ann}").status_code == 404
    assert get(contractor_client, f"organisations/{contractor.pk}/contacts").json()["results"] == []


def vacation(begins, ends, **more):
    return {"away": ANN, "stand_in": CEM, "begins": begins, "ends": ends, "reason": "Vacation."} | more


def test_a_stand_in_takes_the_calls_from_day_to_day(path, mine, owner_client):
    put(owner_client, path, {"steps": [step(0, ANN)]})
    zone = {"time_zone": "America/New_York"}
    put(owner_client, f"{mine}/contacts/{Contact.objects.get(name='Ann').pk}", zone, '"v1"')
    year = timezone.now().year + 1
    stated = post(owner_client, f"{mine}/stand-ins", vacation(f"{year}-02-27", f"{year}-02-28"))

    # Whole local days in New York, winter time: UTC-5.
    assert (stated.json()["begins"], stated.json()["ends"]) == (
        f"{year}-02-27T05:00:00Z",
        f"{year}-03-01T05:00:00Z",
    )
    around = [
        f"{year}-02-27T04:59:59Z",
        f"{year}-02-27T05:00:00Z",
        f"{year}-03-01T04:59:59Z",
        f"{year}-03-01T05:00:00Z",
    ]
    assert [calls(owner_client, path, raised_at=at, repeats=0)[0][1] for at in around] == [
        ["Ann"],
        ["Cem"],
        ["Cem"],
        ["Ann"],
    ]


def test_a_stand_in_that_is_withdrawn_takes_no_calls_and_stays_listed(path, mine, owner_client):
    put(owner_client, path, {"steps": [step(0, ANN)]})
    begins, ends = timezone.now(), timezone.now() + timedelta(days=9)
    stated = post(owner_client, f"{mine}/stand-ins", vacation(begins.isoformat(), ends.isoformat())).json()
    at = f"{mine}/stand-ins/{stated['id']}/withdrawal"
    answers = [post(owner_client, at, {"reason": reason}) for reason in ("Back.", "Back.", "Other.")]

    assert [one.status_code for one in answers] == [200, 200, 409]
    assert calls(owner_client, path, repeats=0)[0][1] == ["Ann"]
    assert get(owner_client, f"{mine}/stand-ins").json()["results"][0]["withdrawn_reason"] == "Back."


@pytest.mark.parametrize(
    ("stated", "pointer"),
    [
        (vacation("2126-07-01", "2126-07-14"), "/begins"),  # Ann's zone is not known
        (vacation("2126-07-02T00:00:00Z", "2126-07-01T00:00:00Z"), "/ends"),
        (vacation("2026-01-01T00:00:00Z", "2026-01-02T00:00:00Z"), "/ends"),
        (vacation("2126-07-01T00:00:00Z", "2126-07-02T00:00:00Z", away=BOB), "/away"),
        (vacation("2126-07-01T00:00:00Z", "2126-07-02T00:00:00Z", stand_in=ANN), "/stand_in"),
        (vacation("2126-07-01T00:00:00", "2126-07-02T00:00:00Z"), "/begins"),
        (vacation("2126-07-01T00:00:00Z", "2126-07-02T00:00:00Z", reason=""), "/reason"),
    ],
    ids=["zone", "order", "past", "unknown", "self", "offset", "reason"],
)
def test_what_is_wrong_with_a_stand_in_is_pointed_at(path, mine, owner_client, stated, pointer):
    put(owner_client, path, {"steps": [step(0, ANN)]})
    answer = post(owner_client, f"{mine}/stand-ins", stated)

    assert (answer.status_code, pointers(answer)) == (422, [pointer])
    assert not Substitution.objects.exists()


def test_a_reader_may_look_and_not_state(owner, mine, path, owner_client):
    client = type(owner_client)()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, 'reader')}")

    assert get(client, f"{mine}/rotas").status_code == 200
    assert post(client, f"{mine}/rotas", ROTA).status_code == 403


def test_a_priority_may_have_a_list_of_its_own(own, path, owner_client):
    put(owner_client, path, steps((0, contact("Ann"))))
    high = put(owner_client, f"{path}/high", steps((0, contact("Bob"))), '"v0"')

    assert (high.status_code, high.json()["priority"]) == (200, "high")
    at = "2026-03-04T15:00:00Z"
    for priority, told in (("high", "Bob"), ("medium", "Ann"), ("low", "Ann")):
        assert calls(owner_client, path, raised_at=at, priority=priority)[0][1] == [told]
    # Without steps the common list holds again.
    put(owner_client, f"{path}/high", {"steps": []}, '"v1"')
    assert calls(owner_client, path, raised_at=at, priority="high")[0][1] == ["Ann"]
    assert get(owner_client, f"{path}/urgent").status_code == 404


def test_a_new_list_of_a_priority_calls_waiting_alarms_of_that_priority_anew(own, path, owner_client):
    world.line(own)
    medium, high = raised(own, "SU1", "sump-liquid"), raised(own, "SU1", "sump-fuel")
    for alarm in (medium, high):
        type(alarm).objects.filter(pk=alarm.pk).update(next_step=7)
    put(owner_client, f"{path}/high", steps((0, contact("Ann"))), '"v0"')

    medium.refresh_from_db()
    high.refresh_from_db()
    assert (medium.next_step, high.next_step) == (7, 1)


def test_a_dry_run_shows_the_calls_of_a_clock(path, owner_client):
    put(owner_client, path, steps((0, contact("Ann")), (15, contact("Bob"))))
    shown = get(
        owner_client,
        f"{path}/preview",
        raised_at="2026-03-04T15:00:00Z",
        clock_from="2026-03-04T15:00:00Z",
        clock_until="2026-03-05T15:00:00Z",
        repeats=0,
    ).json()

    assert [(one["about"], one["number"], one["at"]) for one in shown["calls"]] == [
        ("alarm", 1, "2026-03-04T15:00:00Z"),
        ("alarm", 2, "2026-03-04T15:15:00Z"),
        ("clock", 1, "2026-03-05T03:00:00Z"),
        ("clock", 2, "2026-03-05T09:00:00Z"),
        ("clock", 3, "2026-03-05T15:00:00Z"),
    ]


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"clock_from": "2026-03-04T15:00:00Z"}, "/clock_until"),
        ({"clock_from": "2026-03-04T15:00:00Z", "clock_until": "2026-03-04T15:00:00Z"}, "/clock_until"),
        ({"priority": "urgent"}, "/priority"),
        ({"repeats": "9999"}, "/repeats"),
    ],
)
def test_what_is_wrong_with_a_dry_run_is_pointed_at(path, owner_client, asked, pointer):
    answer = get(owner_client, f"{path}/preview", **asked)

    assert (answer.status_code, pointers(answer)) == (422, [pointer])
