"""The call list through the API. If-Match: RFC 9110 section 13.1.1; the rest is our own promise."""

import pytest

from alarms.models import CallList
from tests import world
from tests.alarms.sites import contact, fallback, raised
from tests.alarms.test_api import get, pointers, put, steps


@pytest.fixture
def path(own) -> str:
    return f"facilities/{own.pk}/call-list"


def test_before_the_first_list_there_is_version_0(path, owner_client):
    answer = get(owner_client, path)

    assert (answer.status_code, answer["ETag"]) == (200, '"v0"')
    assert (answer.json()["version"], answer.json()["steps"]) == (0, [])


def test_a_list_is_stated_as_a_whole(path, owner, owner_client):
    body = steps((0, contact("Ann"), contact("Cem")), (15, contact("Bob")), repeat_minutes=20)
    stated = put(owner_client, path, body)
    read = get(owner_client, path)

    assert (stated.status_code, stated["ETag"]) == (200, '"v1"')
    assert stated.json() == read.json()
    assert (read.json()["repeat_minutes"], [one["after_minutes"] for one in read.json()["steps"]]) == (
        20,
        [0, 15],
    )
    assert read.json()["steps"][1]["recipients"] == [
        {"name": "Bob", "email": "bob@example.com", "organisation": owner.pk}
    ]


@pytest.mark.parametrize(
    ("match", "status"), [(None, 428), ('"v7"', 412), ('W/"v0"', 412), ('"v0"', 200), ("*", 200)]
)
def test_nobody_overwrites_what_they_have_not_read(path, owner_client, match, status):
    assert put(owner_client, path, steps((0, contact("Ann"))), match).status_code == status


def test_a_second_writer_with_the_old_version_is_told(path, owner_client):
    put(owner_client, path, steps((0, contact("Ann"))))
    late = put(owner_client, path, steps((0, contact("Bob"))), '"v0"')

    assert late.status_code == 412
    assert CallList.objects.get().version == 1


def one_step(after: int, *people: dict[str, str]):
    return {"steps": [{"after_minutes": after, "recipients": list(people)}]}


ANN = {"name": "Ann", "email": "ann@example.com"}


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (one_step(-1, ANN), "/steps/0/after_minutes"),
        (one_step(0), "/steps/0/recipients"),
        (one_step(0, ANN | {"email": "nobody"}), "/steps/0/recipients/0/email"),
        (steps((5, contact("Ann")), (5, contact("Bob"))), "/steps/1/after_minutes"),
        ({"steps": [], "repeat_minutes": 0}, "/repeat_minutes"),
        ({"stops": []}, "/stops"),
    ],
    ids=["minutes", "nobody", "address", "order", "repeat", "unknown"],
)
def test_what_is_wrong_is_pointed_at(path, owner_client, body, pointer):
    answer = put(owner_client, path, body)

    assert answer.status_code == 422
    assert pointer in pointers(answer)
    assert not CallList.objects.exists()


def test_an_organisation_that_may_not_see_the_facility_is_no_organisation(path, stranger, owner_client):
    answers = [put(owner_client, path, steps((0, contact("Eve", pk)))) for pk in (stranger.pk, 99999)]

    assert [pointers(one) for one in answers] == [["/steps/0/recipients/0/organisation"]] * 2
    assert answers[0].json() == answers[1].json()


def test_the_operator_lists_people_of_the_contractor(path, contractor, owner_client):
    assert put(owner_client, path, steps((0, contact("Tess", contractor.pk)))).status_code == 200


def test_a_contractor_keeps_the_operators_people_and_adds_its_own(
    path, owner, owner_client, contractor_client
):
    """Otherwise an address slipped in under the operator's name would be told long after the contractor had left."""
    put(owner_client, path, steps((0, contact("Ann"))))
    kept = put(contractor_client, path, steps((0, contact("Ann", owner.pk), contact("Tess"))), '"v1"')
    slipped_in = put(contractor_client, path, steps((0, contact("Eve", owner.pk))), '"v2"')

    assert kept.status_code == 200
    assert pointers(slipped_in) == ["/steps/0/recipients/0"]


NEVER_WEAKER = {
    "nobody is left": [],
    "taken off": [(0, ["Tess"])],
    "one of two taken off": [(0, ["Ann", "Tess"])],
    "called later": [(1, ["Ann"]), (15, ["Ann", "Bob"])],
    "no longer called again": [(0, ["Ann"]), (15, ["Ann", "Bob"]), (30, ["Tess"])],
    "called again a day later": [(0, ["Ann"]), (15, ["Bob"]), (1440, ["Ann", "Bob"])],
}


@pytest.mark.parametrize("stated", NEVER_WEAKER.values(), ids=NEVER_WEAKER)
def test_a_contractor_does_not_weaken_the_call_of_the_operators_people(
    own, path, owner, owner_client, contractor_client, stated
):
    """Otherwise a contractor's program could silence a site."""
    world.line(own)
    put(owner_client, path, steps((0, contact("Ann")), (15, contact("Ann"), contact("Bob"))))
    people = {"Ann": owner.pk, "Bob": owner.pk}
    body = steps(*((after, *(contact(one, people.get(one)) for one in names)) for after, names in stated))

    refused = put(contractor_client, path, body, '"v1"')

    assert (refused.status_code, set(pointers(refused))) == (422, {"/steps"})
    assert {one["code"] for one in refused.json()["errors"]} == {"not-yours"}
    assert get(contractor_client, path).json()["version"] == 1


def test_a_contractor_neither_slows_the_repeats_nor_narrows_the_hours(
    path, owner, owner_client, contractor_client
):
    put(owner_client, path, steps((0, contact("Ann")), repeat_minutes=30))
    slower = put(contractor_client, path, steps((0, contact("Ann", owner.pk)), repeat_minutes=60), '"v1"')
    narrow = steps((0, contact("Ann", owner.pk)))
    narrow["steps"][0]["hours"] = {"spans": [{"days": ["monday"], "begins": "08:00", "ends": "17:00"}]}
    narrower = put(contractor_client, path, narrow, '"v1"')

    assert [pointers(one) for one in (slower, narrower)] == [["/steps"], ["/steps"]]


def test_a_contractor_may_have_the_operators_people_called_earlier_and_more_often(
    path, owner, owner_client, contractor_client
):
    put(owner_client, path, steps((10, contact("Ann")), repeat_minutes=30))
    ann = contact("Ann", owner.pk)

    sooner = put(
        contractor_client, path, steps((0, ann), (40, ann, contact("Tess")), repeat_minutes=20), '"v1"'
    )

    assert sooner.status_code == 200, sooner.json()


def test_a_contractors_list_of_a_priority_keeps_whom_the_common_list_calls(
    own, path, owner, owner_client, contractor_client
):
    """A list of a priority stands in the place of the common one."""
    put(owner_client, path, steps((0, contact("Ann"))))
    high = f"{path}/high"

    without = put(contractor_client, high, steps((0, contact("Tess"))))
    with_her = put(contractor_client, high, steps((0, contact("Ann", owner.pk), contact("Tess"))))
    put(owner_client, high, steps((0, contact("Bob"))), '"v1"')
    back_to_common = put(contractor_client, high, {"steps": []}, '"v2"')

    assert (without.status_code, with_her.status_code, back_to_common.status_code) == (422, 200, 422)


def test_the_operator_takes_anybody_off(path, contractor, owner_client):
    put(owner_client, path, steps((0, contact("Ann"), contact("Tess", contractor.pk))))

    assert put(owner_client, path, steps((0, contact("Bob"))), '"v1"').status_code == 200


def test_a_preview_says_who_would_be_told_when_and_tells_nobody(own, path, owner_client):
    put(owner_client, path, steps((0, contact("Ann")), (15, contact("Bob"))))
    # Clocks in New York go forward on 8 March 2026 at 02:00 (tz database): 15 minutes after 01:50 EST is 03:05 EDT.
    shown = get(owner_client, f"{path}/preview", raised_at="2026-03-08T06:50:00Z").json()

    assert [(one["number"], one["at_local"], one["recipients"][0]["name"]) for one in shown["calls"]] == [
        (1, "2026-03-08 01:50 EST", "Ann"),
        (2, "2026-03-08 03:05 EDT", "Bob"),
        (3, "2026-03-08 03:35 EDT", "Bob"),
        (4, "2026-03-08 04:05 EDT", "Bob"),
    ]
    assert (shown["repeat_minutes"], shown["remarks"]) == (30, [])


def test_that_later_steps_are_not_called_for_what_is_not_urgent_is_said(path, owner_client):
    """An alarm of low priority is told once, to whoever is reached first: common practice, no source."""
    stated = put(owner_client, f"{path}/low", steps((0, contact("Ann")), (60, contact("Bob")))).json()
    shown = get(owner_client, f"{path}/preview", priority="low").json()

    assert [one["recipients"][0]["name"] for one in shown["calls"]] == ["Ann"]
    assert ["told once" in one for one in shown["remarks"]] == [True]
    assert stated["remarks"] == get(owner_client, f"{path}/low").json()["remarks"] == shown["remarks"]


def test_a_list_that_does_what_it_says_has_no_remark(path, owner_client):
    two = steps((0, contact("Ann")), (60, contact("Bob")))

    assert put(owner_client, f"{path}/high", two).json()["remarks"] == []
    assert put(owner_client, f"{path}/low", steps((0, contact("Ann")))).json()["remarks"] == []
    assert get(owner_client, f"{path}/preview", priority="low").json()["remarks"] == []


def test_a_preview_without_a_list_says_who_stands_in(own, owner, path, owner_client):
    nobody = get(owner_client, f"{path}/preview").json()
    fallback(owner, "mia")
    somebody = get(owner_client, f"{path}/preview").json()

    assert (nobody["calls"], "Nobody would be told" in nobody["remarks"][0]) == ([], True)
    assert somebody["calls"][0]["recipients"][0]["name"] == "mia"
    assert "operator's fallback people" in somebody["remarks"][0]


@pytest.mark.parametrize("asked", ["yesterday", "2026-03-08T06:50:00", ""])
def test_a_preview_needs_a_moment_with_an_offset(path, owner_client, asked):
    answer = get(owner_client, f"{path}/preview", raised_at=asked)

    assert (answer.status_code, pointers(answer)) == (422, ["/raised_at"])


def test_an_alarm_that_waits_is_called_by_the_new_list(own, path, owner_client):
    world.line(own)
    alarm = raised(own)
    put(owner_client, path, steps((0, contact("Ann"))))

    alarm.refresh_from_db()
    assert alarm.next_step == 1
    assert alarm.next_step_at is not None
