"""A gateway's key knocks on every address, with every verb: whoever takes the box off the dock can do no more."""

import pytest
from django.core.files.base import ContentFile

from alarms.models import Event
from equipment.tenancy import Right
from equipment.vocabulary import KeyRole
from tests.conftest import client_of
from tests.guards.routes import Route, routes
from tests.guards.test_tenancy import knock

ALL = [(route, verb) for route in routes() for verb in route.verbs]
KEPT_SHUT = [one for one in ALL if one[0].view.rights[one[1]] not in (Right.READ, Right.SIGNAL)]


@pytest.fixture
def gateway(owner):
    return client_of(owner, KeyRole.GATEWAY)


def sent(gateway, own, rest: str, content: str, media_type: str):
    return gateway.generic("POST", f"/api/v1/facilities/{own.pk}/events{rest}", content, media_type)


def test_it_delivers_events(own, gateway):
    event = '{"id": "e-9", "device": "MC1", "condition": "power-lost", "signal": "raised"'
    moment = '"occurred_at": "2026-03-04T15:00:00Z"}'

    batch = sent(gateway, own, "", f'{{"source": "box", "events": [{event}, {moment}]}}', "application/json")
    file = sent(gateway, own, "/file", f'{event}, "source": "other", {moment}\n', "application/x-ndjson")

    assert (batch.status_code, file.status_code) == (201, 201)
    assert Event.objects.filter(facility=own).count() == 2


def test_it_sees_the_facility(own, gateway):
    assert gateway.get(f"/api/v1/facilities/{own.pk}").status_code == 200


@pytest.mark.parametrize(("route", "verb"), KEPT_SHUT, ids=str)
def test_it_does_nothing_else_and_is_told_what_it_lacks_and_who_has_it(
    route: Route,
    verb: str,
    ids,
    gateway,
):
    address = route.filled(ids)
    # A roster comes as a form, and another kind of body is refused before anybody asks who sends it.
    form = {"file": ContentFile(b"a,b\n", name="a.csv")}
    answer = gateway.post(address, form) if "rosters" in address else knock(gateway, verb, address)

    assert answer.status_code == 403
    assert answer.headers["Content-Type"] == "application/problem+json"
    said = answer.json()["detail"]
    assert "(gateway) does not include: " in said
    assert "A key of role manager" in said
