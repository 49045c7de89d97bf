"""Steps with an alarm through the API. States: ANSI/ISA-18.2 (from memory). The limits of shelving, that released
product is never shelved and that a repair has to be on file: common practice, no source; what a repair is: 40 CFR
280.33."""

from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit

import pytest
from django.utils import timezone

from alarms.closing import NO_DISPOSITION
from alarms.conditions import FILE, ConditionsError, load_longest_shelving, longest_shelving
from alarms.models import Alarm, Notice
from alarms.services import telling
from alarms.services.clocks import note_clock
from alarms.services.links import link_to_answer
from equipment.models import Record
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from equipment.services.stating import withdraw_fact
from equipment.vocabulary import AccessRole, OrganisationKind
from tests import world
from tests.alarms.sites import deliver, minutes, raised, report
from tests.alarms.test_api import get, post
from tests.conftest import client_of
from tests.world import TODAY

HOUR = timedelta(hours=1)


@pytest.fixture
def now() -> datetime:
    """The clock of the requests, to the second."""
    return timezone.now().replace(microsecond=0)


def shelving(until: datetime, reason: str = "A float that sticks.") -> dict:
    return {"reason": reason, "until": until.isoformat()}


def repaired(site, *tags: str, on=None, at: datetime | None = None, activity: str = "repair") -> Record:
    performed = Moment(instant=at) if at is not None else Moment(day=on or timezone.now().date())
    deed = Deed(activity=activity, performed=performed, subjects=tags, measurements={})
    visit = record_visit(
        facility=site,
        submitted_by=site.operator,
        entered_by="test",
        deeds=[deed],
        now=timezone.now(),
    )
    return Record.objects.get(pk=visit.records[0].pk)


def test_a_shelved_alarm_is_quiet_and_comes_back_by_itself(site, owner_client, now):
    alarm = raised(site, now=now)
    answer = post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(now + HOUR))

    assert answer.status_code == 201
    assert (answer.json()["state"], answer.json()["to_close"]) == (
        "shelved",
        ["still standing", "shelved", NO_DISPOSITION],
    )
    telling.drain(clock=lambda: now + minutes(30), at_most=HOUR)
    assert not Notice.objects.exists()
    telling.drain(clock=lambda: now + HOUR, at_most=minutes(1))
    alarm.refresh_from_db()
    assert (alarm.state, alarm.called_from, alarm.acknowledged_at) == ("unacknowledged", now + HOUR, None)
    assert [one.name for one in Notice.objects.all()] == ["Ann"]


def test_signals_of_a_shelved_alarm_are_counted_and_call_nobody(site, owner_client, now):
    alarm = raised(site, now=now)
    post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(now + HOUR))
    for minute in (1, 3, 5):
        moment = timezone.now() + minutes(minute)
        deliver(site, report(signal="cleared", occurred_at=moment), now=moment)
        deliver(site, report(occurred_at=moment + minutes(1)), now=moment + minutes(1))

    alarm.refresh_from_db()
    assert (alarm.state, alarm.occurrences, alarm.next_step_at) == ("shelved", 4, None)


def test_a_clock_of_the_law_calls_though_the_alarm_is_shelved(site, owner_client, now):
    """40 CFR 280.50: 24 hours, whatever people do with the alarm here; called at half of it (our choice)."""
    alarm = raised(site, now=now)
    post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(now + 20 * HOUR))
    note_clock(alarm_id=alarm.pk, text="report", since=now, until=now + 24 * HOUR, now=now)
    telling.drain(clock=lambda: now + 12 * HOUR, at_most=minutes(1))

    assert [one.subject.split(".")[0] for one in Notice.objects.all()] == ["Half of the legal time is over"]


@pytest.mark.parametrize(
    ("device", "condition", "longest"), [("P1", "line-test-fail", 8), ("SU1", "sump-liquid", 24)]
)
def test_how_long_depends_on_the_priority(site, owner_client, device, condition, longest):
    alarm = raised(site, device, condition, now=timezone.now())
    path = f"alarms/{alarm.pk}/shelving"
    refused = post(owner_client, path, shelving(timezone.now() + longest * HOUR + minutes(1)))
    taken = post(owner_client, path, shelving(timezone.now() + longest * HOUR - minutes(1)))

    assert (refused.status_code, taken.status_code) == (422, 201)
    assert [one["pointer"] for one in refused.json()["errors"]] == ["/until"]
    assert "at most" in refused.json()["errors"][0]["detail"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/reason"),
        ({"reason": "why"}, "/until"),
        ({"reason": "", "until": "2126-03-04T10:00:00Z"}, "/reason"),
        ({"reason": "why", "until": "2026-03-04T10:00:00"}, "/until"),
        ({"reason": "why", "until": "2020-03-04T10:00:00Z"}, "/until"),
        ({"reason": "why", "until": "9999-12-31T23:59:59Z"}, "/until"),
        ({"reason": "why", "until": 5}, "/until"),
        ({"reason": ["why"], "until": "2126-03-04T10:00:00Z"}, "/reason"),
        ({"reason": "why", "hours": 5}, "/hours"),
    ],
    ids=str,
)
def test_what_is_wrong_with_shelving_is_pointed_at_and_nothing_is_kept(site, owner_client, body, pointer):
    alarm = raised(site, now=timezone.now())
    answer = post(owner_client, f"alarms/{alarm.pk}/shelving", body)

    assert answer.status_code == 422
    assert pointer in [one["pointer"] for one in answer.json()["errors"]]
    alarm.refresh_from_db()
    assert (alarm.state, alarm.steps.count()) == ("unacknowledged", 0)


def test_released_product_is_never_shelved(site, owner_client):
    alarm = raised(site, "SU1", "product-found-outside", now=timezone.now())
    answer = post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(timezone.now() + HOUR))

    assert alarm.condition_class == "released product"
    assert (answer.status_code, answer.json()["type"]) == (409, "urn:problem:step-not-allowed")
    assert "Acknowledge it" in answer.json()["detail"]


def test_a_shelved_alarm_is_not_shelved_on(site, owner_client):
    """Else its limit would be none."""
    alarm = raised(site, now=timezone.now())
    path = f"alarms/{alarm.pk}/shelving"
    post(owner_client, path, shelving(timezone.now() + HOUR))
    answer = post(owner_client, path, shelving(timezone.now() + 2 * HOUR))

    assert answer.status_code == 409
    assert "What you can do with it now: end shelving, take out of service" in answer.json()["detail"]


@pytest.mark.parametrize(("cleared", "left"), [(True, "normal"), (False, "unacknowledged")])
def test_shelving_can_be_ended_early(site, owner_client, now, cleared, left):
    alarm = raised(site, now=now)
    post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(now + HOUR))
    if cleared:
        deliver(site, report(signal="cleared", occurred_at=timezone.now()), now=timezone.now())
    answer = post(owner_client, f"alarms/{alarm.pk}/shelving/end", {"note": "new float"})

    assert (answer.status_code, answer.json()["state"]) == (201, left)
    assert (answer.json()["next_step_at"] is not None) == (left == "unacknowledged")
    assert get(owner_client, f"alarms/{alarm.pk}/steps").json()["results"][0]["note"] == "new float"


def test_an_alarm_goes_out_of_service_and_comes_back_with_its_repair(site, owner_client, now):
    alarm = raised(site, now=now)
    post(owner_client, f"alarms/{alarm.pk}/out-of-service", {"reason": "sensor out"})
    record = repaired(site, "SU1")
    answer = post(owner_client, f"alarms/{alarm.pk}/return-to-service", {"record": record.pk})

    assert (answer.status_code, answer.json()["state"]) == (201, "unacknowledged"), "it still stands"
    newest, oldest = get(owner_client, f"alarms/{alarm.pk}/steps").json()["results"]
    assert (newest["kind"], newest["record"]) == ("return to service", record.pk)
    assert (oldest["kind"], oldest["note"]) == ("take out of service", "sensor out")


@pytest.mark.parametrize(("device", "tag"), [("SN1", "SU1"), ("SU1", "SN1")])
def test_the_repair_may_be_of_what_holds_the_sensor_or_of_a_sensor_in_the_sump(
    site, owner_client, device, tag
):
    parts = {one.tag: one for one in site.components.all()}
    parts["SN1"].parent = parts["SU1"]
    parts["SN1"].save()
    alarm = raised(site, device, now=timezone.now())
    post(owner_client, f"alarms/{alarm.pk}/out-of-service", {"reason": "pump out"})
    record = repaired(site, tag)

    assert (
        post(owner_client, f"alarms/{alarm.pk}/return-to-service", {"record": record.pk}).status_code == 201
    )


def unfit(name: str, site, foreign) -> int:
    match name:
        case "none":
            return 10**12
        case "foreign":
            world.line(foreign)
            return repaired(foreign, "SU1").pk
        case "before":
            return repaired(site, "SU1", at=timezone.now() - HOUR).pk
        case "the day before":
            return repaired(site, "SU1", on=TODAY).pk
        case "other component":
            return repaired(site, "SB1").pk
        case "of the piping":
            return repaired(site, "P1", activity="piping-replacement").pk
        case "withdrawn":
            record = repaired(site, "SU1")
            withdraw_fact(
                fact=record, organisation=site.operator, reason="wrong", by="test", now=timezone.now()
            )
            return record.pk
    raise AssertionError(name)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("none", "no record"),
        ("foreign", "no record"),
        ("before", "before the alarm was taken out"),
        ("the day before", "before the alarm was taken out"),
        ("other component", "not about SU1"),
        ("of the piping", "not about SU1"),
        ("withdrawn", "was withdrawn"),
    ],
)
def test_without_a_fitting_repair_it_stays_out_of_service(site, foreign, owner_client, name, says):
    alarm = raised(site, now=timezone.now())
    post(owner_client, f"alarms/{alarm.pk}/out-of-service", {"reason": "sensor out"})
    answer = post(
        owner_client, f"alarms/{alarm.pk}/return-to-service", {"record": unfit(name, site, foreign)}
    )

    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == "/record"
    assert says in fault["detail"]
    alarm.refresh_from_db()
    assert alarm.state == "out of service"


def test_a_latched_alarm_is_reset_by_whoever_looked(site, owner_client, now):
    """A failed line test: that a later one passes does not say what the first was."""
    alarm = raised(site, "P1", "line-test-fail", now=now)
    path = f"alarms/{alarm.pk}/reset"
    body = {"found": "Air in the line; tested tight."}
    standing = post(owner_client, path, body)
    deliver(site, report("P1", "line-test-fail", "cleared", occurred_at=timezone.now()), now=timezone.now())
    unanswered = post(owner_client, path, body)
    post(owner_client, f"alarms/{alarm.pk}/acknowledgement", {})
    shown = get(owner_client, f"alarms/{alarm.pk}").json()
    answer = post(owner_client, path, body)

    assert (standing.status_code, unanswered.status_code, answer.status_code) == (409, 409, 201)
    assert "acknowledge" in unanswered.json()["detail"]
    assert (shown["state"], shown["to_close"]) == ("latched-acknowledged", ["not reset", NO_DISPOSITION])
    assert (answer.json()["state"], answer.json()["to_close"]) == ("normal", [NO_DISPOSITION])


@pytest.mark.parametrize(
    ("step", "body"),
    [
        ("shelving", {"reason": "why", "until": "2126-03-04T10:00:00Z"}),
        ("shelving/end", {}),
        ("out-of-service", {"reason": "why"}),
        ("return-to-service", {"record": 1}),
        ("reset", {"found": "nothing"}),
    ],
)
def test_an_agency_may_look_and_take_no_step(site, step, body):
    agency = world.organisation("Harbour Agency", OrganisationKind.AGENCY)
    world.grant(agency, site, AccessRole.AGENCY)
    alarm, client = raised(site, now=timezone.now()), client_of(agency)

    assert post(client, f"alarms/{alarm.pk}/{step}", body).status_code == 403
    assert get(client, f"alarms/{alarm.pk}/steps").status_code == 200


def test_alarms_are_listed_by_what_is_missing(site, owner_client, now):
    alarm, other = raised(site, now=now), raised(site, "P1", "line-test-fail", now=now)
    deliver(site, report(signal="cleared", occurred_at=timezone.now()), now=timezone.now())
    post(owner_client, f"alarms/{alarm.pk}/acknowledgement", {})

    def ids(**asked):
        return {one["id"] for one in get(owner_client, "alarms", **asked).json()["results"]}

    assert ids(closed="true") == set()
    assert ids(closed="false") == {alarm.pk, other.pk}
    at = timezone.now()
    evidence = {"checked_at": at, "finding": "rain", "repaired_at": at, "liquid_removed_at": at}
    stated = {"type": "not releasing, fixed", "at": at.isoformat(), "evidence": evidence}
    stated["evidence"] = {k: v if isinstance(v, str) else v.isoformat() for k, v in evidence.items()}
    answer = owner_client.post(
        f"/api/v1/alarms/{alarm.pk}/dispositions", stated, format="json", headers={"Idempotency-Key": "1"}
    )
    assert answer.status_code == 201
    assert (ids(closed="true"), ids(closed="false")) == ({alarm.pk}, {other.pk})
    shown = get(owner_client, f"alarms/{alarm.pk}").json()
    assert (shown["closed"], shown["to_close"]) == (True, [])
    path = f"alarms/{alarm.pk}/dispositions/{answer.json()['id']}/withdrawal"
    post(owner_client, path, {"reason": "wrong alarm"})
    assert (ids(closed="true"), get(owner_client, f"alarms/{alarm.pk}").json()["closed"]) == (set(), False)


def test_the_catalogue_says_what_latches_and_how_long_what_is_shelved(owner_client):
    shown = {one["slug"]: one for one in get(owner_client, "conditions").json()}
    latching = {slug for slug, one in shown.items() if one["latches"]}

    assert latching == {
        "tank-test-fail",
        "line-test-fail",
        "line-leak-3-gph",
        "line-leak-0-2-gph",
        "line-leak-0-1-gph",
        "line-leak-detector-trip",
    }
    assert shown["product-found-outside"]["longest_shelving_hours"] is None
    assert shown["sump-liquid"]["longest_shelving_hours"] == 24


def test_the_page_behind_the_mail_says_that_the_alarm_is_shelved(site, owner_client, client, now):
    alarm = raised(site, now=now)
    telling.drain(clock=lambda: now, at_most=minutes(1))
    post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(now + HOUR))
    page = client.get(urlsplit(link_to_answer(Notice.objects.get().pk)).path, secure=True).content.decode()

    assert "A float that sticks." in page
    assert "Kept quiet for a limited time" in page


def test_the_limits_of_shelving_stand_in_the_data():
    assert load_longest_shelving(FILE) == longest_shelving()
    assert longest_shelving()["high"] < longest_shelving()["medium"] < longest_shelving()["low"]


@pytest.mark.parametrize(
    "wrong",
    [
        "",
        "[shelving]\nlongest_hours = {high = 8}",
        "[shelving]\nlongest_hours = {high = 0, medium = 1, low = 1}",
    ],
    ids=repr,
)
def test_a_file_without_limits_of_shelving_is_refused_with_the_place(tmp_path, wrong):
    path = tmp_path / "conditions.toml"
    path.write_text(wrong)

    with pytest.raises(ConditionsError, match=r"conditions\.toml: \[shelving"):
        load_longest_shelving(path)


def test_what_comes_back_is_told_as_late_as_the_clock_of_the_worker_says(site, owner_client):
    """A worker that stood still for a day lets it come back then, and calls from then on."""
    start = datetime.now(UTC).replace(microsecond=0)
    alarm = raised(site, now=start)
    post(owner_client, f"alarms/{alarm.pk}/shelving", shelving(start + HOUR))
    telling.drain(clock=lambda: start + 25 * HOUR, at_most=minutes(1))

    alarm.refresh_from_db()
    assert (alarm.last_turn_at, alarm.called_from) == (start + HOUR, start + 25 * HOUR)
    assert Alarm.objects.get().next_step_at == start + 25 * HOUR + minutes(10)
