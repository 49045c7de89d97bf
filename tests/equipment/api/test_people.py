"""The people of an organisation through the API: its own business and nobody else's."""

import pytest

from equipment.models import Person
from equipment.vocabulary import KeyRole
from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import faults, post, problem
from tests.equipment.statements import person


def people(organisation) -> str:
    return f"/api/v1/organisations/{organisation.pk}/people"


def test_a_person_is_put_on_the_list_and_numbered(owner, owner_client):
    added = post(owner_client, people(owner), {"name": "R. Ames"})

    assert added.status_code == 201, added.json()
    assert owner_client.get(people(owner)).json()["results"] == [added.json()]


def test_two_people_may_share_a_name(owner, owner_client):
    one, other = (post(owner_client, people(owner), {"name": "R. Ames"}).json() for _ in range(2))

    assert one["id"] != other["id"]


def test_the_same_request_again_adds_nobody(owner, owner_client):
    for _ in range(2):
        post(owner_client, people(owner), {"name": "R. Ames"}, key="ames")

    assert Person.objects.count() == 1


@pytest.mark.parametrize("body", [{}, {"name": ""}, {"name": None}, {"name": 7}, {"name": "x" * 201}])
def test_a_person_has_a_name(owner, owner_client, body):
    assert set(faults(post(owner_client, people(owner), body))) == {"/name"}


def test_no_contact_data_is_taken(owner, owner_client):
    answer = post(owner_client, people(owner), {"name": "R. Ames", "phone": "555 0100"})

    assert faults(answer) == {"/phone": "unknown"}


def test_the_people_of_others_do_not_exist(
    own, owner, owner_client, contractor, contractor_client, stranger_client
):
    person(owner)

    answers = [
        stranger_client.get(people(owner)),
        contractor_client.get(people(owner)),
        owner_client.get(people(contractor)),
        post(contractor_client, people(owner), {"name": "R. Ames"}),
    ]

    assert {answer.status_code for answer in answers} == {404}
    assert Person.objects.count() == 1


def test_a_reader_reads_and_adds_nobody(owner):
    reader = client_of(owner)
    reader.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, KeyRole.READER)}")

    assert reader.get(people(owner)).status_code == 200
    assert problem(post(reader, people(owner), {"name": "R. Ames"})) == (403, "not-allowed")
