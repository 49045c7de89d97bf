"""The routes of this app. Status codes: RFC 9110; problems: RFC 9457; what each answers: our own promise."""

import pytest
from django.utils import timezone

from alarms.models import Alarm, Event
from alarms.services.escalation import escalate_due
from alarms.services.intake import MAX_EVENTS
from equipment.vocabulary import AccessRole, KeyRole
from tests import world
from tests.alarms.sites import contact, minutes, raised
from tests.conftest import client_of
from tests.world import NOW


def get(client, path, **asked):
    return client.get(f"/api/v1/{path}", asked, secure=True)


def post(client, path, body):
    return client.post(f"/api/v1/{path}", body, format="json", secure=True)


def put(client, path, body, match='"v0"'):
    headers = {"If-Match": match} if match else {}
    return client.put(f"/api/v1/{path}", body, format="json", secure=True, headers=headers)


def event(**stated):
    return {
        "id": "1",
        "device": "SU1",
        "condition": "sump-liquid",
        "signal": "raised",
        "occurred_at": (timezone.now() - minutes(1)).isoformat(),
    } | stated


def batch(*events):
    return {"source": "console-1", "events": list(events)}


def pointers(answer) -> list[str]:
    return [one["pointer"] for one in answer.json()["errors"]]


@pytest.fixture
def site(own):
    world.line(own)
    return own


def test_events_are_taken_in_and_a_repeat_answers_200(site, owner_client):
    path = f"facilities/{site.pk}/events"
    body = batch(event())
    first, again = post(owner_client, path, body), post(owner_client, path, body)

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == {
        "accepted": 1,
        "repeated": 0,
        "opened": [Alarm.objects.get().pk],
        "joined": [],
        "cleared": [],
        "remarks": [],
    }
    assert again.json() | {"repeated": 1, "accepted": 0} == again.json()


def test_a_gateway_with_no_other_right_may_deliver_events_and_nothing_else(site):
    gateway = world.organisation("Telemetry", "contractor")
    world.grant(gateway, site, AccessRole.GATEWAY)
    client = client_of(gateway)
    delivered = post(client, f"facilities/{site.pk}/events", batch(event()))
    alarm = Alarm.objects.get()

    assert delivered.status_code == 201
    assert post(client, f"alarms/{alarm.pk}/acknowledgement", {}).status_code == 403
    assert put(client, f"facilities/{site.pk}/call-list", {"steps": []}).status_code == 403


def test_a_reader_of_the_operator_may_look_and_not_signal(site, owner):
    client = client_of(owner)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, KeyRole.READER)}")

    assert get(client, f"facilities/{site.pk}/events").status_code == 200
    assert post(client, f"facilities/{site.pk}/events", batch(event())).status_code == 403


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"signal": "loud"}, "/events/0/signal"),
        ({"occurred_at": "2026-03-04T10:00:00"}, "/events/0/occurred_at"),
        ({"colour": "red"}, "/events/0/colour"),
        ({"id": ""}, "/events/0/id"),
        ({"id": 7}, "/events/0/id"),
        ({"payload": {"x": "y" * 5000}}, "/events/0/payload"),
    ],
    ids=str,
)
def test_what_is_wrong_is_pointed_at_and_nothing_is_stored(site, owner_client, wrong, pointer):
    answer = post(owner_client, f"facilities/{site.pk}/events", batch(event(**wrong), event(id="2")))

    assert answer.status_code == 422
    assert pointers(answer) == [pointer]
    assert answer["Content-Type"] == "application/problem+json"
    assert not Event.objects.exists()


def test_an_id_used_for_other_content_answers_409_after_the_rest_was_taken_in(site, owner_client):
    path = f"facilities/{site.pk}/events"
    post(owner_client, path, batch(event()))
    answer = post(owner_client, path, batch(event(device="P1"), event(id="2", device="SN1")))
    listed = get(owner_client, path).json()["results"]

    assert (answer.status_code, answer.json()["accepted"], pointers(answer)) == (409, 1, ["/events/0/id"])
    assert answer.json()["type"] == "urn:problem:event-id-reused"
    assert [(one["source_event_id"], bool(one["conflicts_with"])) for one in listed] == [
        ("1", True),
        ("2", False),
        ("1", False),
    ]


def test_events_are_listed_as_received_with_where_they_went(site, owner_client):
    post(
        owner_client, f"facilities/{site.pk}/events", batch(event(device="sump 9", payload={"level_in": 2.5}))
    )
    (only,) = get(owner_client, f"facilities/{site.pk}/events").json()["results"]

    assert (only["device"], only["component"], only["alarm"]) == ("sump 9", None, Alarm.objects.get().pk)
    assert only["payload"] == {"level_in": 2.5}
    assert "no component here goes by" in only["remark"]


def test_alarms_of_all_visible_facilities_are_listed_newest_first(
    site, foreign, owner_client, contractor_client
):
    alarms = [raised(site), raised(site, "SN1"), raised(foreign, "x")]

    for client in (owner_client, contractor_client):
        ids = [one["id"] for one in get(client, "alarms").json()["results"]]
        assert ids == [alarms[1].pk, alarms[0].pk]


def test_alarms_are_filtered(site, owner, owner_client):
    other = world.facility(owner, "OTHER")
    sump, line, there = raised(site), raised(site, "P1", "line-test-fail"), raised(other, "x")
    post(owner_client, f"alarms/{line.pk}/acknowledgement", {})
    Alarm.objects.filter(pk=line.pk).update(state="normal", ended_at=NOW)

    def ids(**asked):
        return {one["id"] for one in get(owner_client, "alarms", **asked).json()["results"]}

    assert ids(facility=other.pk) == {there.pk}
    assert ids(open="false") == {line.pk}
    assert ids(open="true") == {sump.pk, there.pk}
    assert ids(state="unacknowledged", facility=site.pk) == {sump.pk}
    assert ids(condition_class="monitoring result") == {line.pk}
    assert ids(condition="sump-liquid") == {sump.pk, there.pk}


@pytest.mark.parametrize(
    "asked", [{"state": "loud"}, {"open": "maybe"}, {"open": ""}, {"stat": "x"}, {"facility": "x"}]
)
def test_a_filter_that_cannot_be_read_is_refused(owner_client, asked):
    answer = get(owner_client, "alarms", **asked)

    assert answer.status_code == 422
    assert pointers(answer) == [f"/{next(iter(asked))}"]


def test_the_first_acknowledgement_answers_201_and_later_ones_repeat_it(
    site, owner_client, contractor_client
):
    path = f"alarms/{raised(site).pk}/acknowledgement"
    first = post(owner_client, path, {"note": "on my way"})
    later = post(contractor_client, path, {"note": "me too"})

    assert (first.status_code, later.status_code) == (201, 200)
    assert (first.json()["first"], later.json()["first"]) == (True, False)
    assert later.json()["acknowledged_note"] == "on my way"
    assert later.json()["alarm"] == first.json()["alarm"]


def test_notices_show_every_try(site, owner_client):
    put(owner_client, f"facilities/{site.pk}/call-list", steps((0, contact("Ann"))))
    alarm = raised(site)
    escalate_due(now=alarm.next_step_at, limit=10)
    notice = alarm.notices.get()
    notice.attempts.create(at=alarm.opened_at, outcome=4, code="450 4.7.1", text="later")
    (only,) = get(owner_client, f"alarms/{alarm.pk}/notices").json()["results"]

    assert (only["name"], only["step"], only["sent_at"]) == ("Ann", 1, None)
    assert [(one["outcome"], one["code"]) for one in only["attempts"]] == [(4, "450 4.7.1")]


ROUTES = [
    ("get", "facilities/{site}/events"),
    ("post", "facilities/{site}/events"),
    ("get", "alarms/{alarm}"),
    ("get", "alarms/{alarm}/notices"),
    ("post", "alarms/{alarm}/acknowledgement"),
    ("get", "facilities/{site}/call-list"),
    ("put", "facilities/{site}/call-list"),
    ("get", "facilities/{site}/call-list/preview"),
]


@pytest.mark.parametrize(("method", "route"), ROUTES)
def test_what_belongs_to_others_does_not_exist(site, stranger_client, method, route):
    alarm = raised(site)
    there = getattr(stranger_client, method)(
        f"/api/v1/{route.format(site=site.pk, alarm=alarm.pk)}", format="json", secure=True
    )
    nowhere = getattr(stranger_client, method)(
        f"/api/v1/{route.format(site=99999, alarm=99999)}", format="json", secure=True
    )

    assert (there.status_code, there.json()) == (404, nowhere.json())


def test_conditions_are_listed_for_everybody_who_signs_in(stranger_client, client):
    listed = get(stranger_client, "conditions").json()

    assert {"slug", "title", "meaning", "causes", "first_steps", "cautions"} <= set(listed[0])
    assert get(client, "conditions").status_code == 401


@pytest.mark.parametrize("route", ["alarms", "facilities/{site}/events", "alarms/{alarm}/notices"])
def test_the_number_of_queries_does_not_depend_on_the_number_of_rows(
    site, owner_client, django_assert_max_num_queries, django_assert_num_queries, route
):
    put(owner_client, f"facilities/{site.pk}/call-list", steps((0, contact("Ann"), contact("Bob"))))
    alarm = raised(site)
    path = route.format(site=site.pk, alarm=alarm.pk)
    with django_assert_max_num_queries(12) as spent:
        get(owner_client, path)
    for number in range(5):
        raised(site, f"device {number}")
    escalate_due(now=alarm.next_step_at, limit=10)

    with django_assert_num_queries(len(spent) + (1 if "notices" in route else 0)):
        assert get(owner_client, path).json()["results"]


def steps(*listed, repeat_minutes=30):
    return {
        "repeat_minutes": repeat_minutes,
        "steps": [
            {
                "after_minutes": after,
                "recipients": [
                    {"name": one.name, "email": one.email}
                    | ({"organisation": one.organisation} if one.organisation else {})
                    for one in people
                ],
            }
            for after, *people in listed
        ],
    }


@pytest.mark.parametrize(
    ("path", "asked", "known"),
    [
        ("alarms", {"mark": "none"}, "chattering"),
        ("alarms", {"state": "open"}, "unacknowledged"),
        ("alarms/figures", {"window": "week"}, "30d"),
    ],
)
def test_whoever_asks_by_an_unknown_word_is_told_the_known_ones(site, owner_client, path, asked, known):
    answer = get(owner_client, path, **asked)

    [fault] = answer.json()["errors"]
    [(name, word)] = asked.items()
    assert (answer.status_code, fault["pointer"]) == (422, f"/{name}")
    assert fault["detail"].startswith(f"{word!r} is none of: ")
    assert known in fault["detail"]


def test_a_batch_that_is_too_large_says_what_to_do(site, owner_client):
    body = batch(*(event(id=str(number)) for number in range(MAX_EVENTS + 1)))

    refused = post(owner_client, f"facilities/{site.pk}/events", body)

    [fault] = refused.json()["errors"]
    assert (refused.status_code, fault["pointer"]) == (422, "/events")
    assert "1000 events a request at most" in fault["detail"]
    assert "events/file" in fault["detail"]
    assert not Event.objects.exists()
