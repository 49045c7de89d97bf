"""The alarms of a span for an inspector: our own promise of what the list shows. Clocks: 40 CFR 280.50, 280.52."""

import csv
import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.dispositions import FLAGS, MOMENTS, REFERENCES, WORDS
from alarms.lifecycle import ACTS, State
from alarms.models import Alarm, DispositionAttachment
from alarms.services.alarm_attachments import attach
from alarms.services.answering import acknowledge
from alarms.services.running_out import end_shelving_due
from alarms.services.shelving import shelve
from alarms.spans import Span
from compliance.services import alarm_history as listing
from compliance.services.alarm_history_words import DONE, EVIDENCE
from equipment.models import Facility, RecordAttachment
from equipment.services.records import withdraw_record
from equipment.services.stating import withdraw_fact
from tests import world
from tests.alarms.answers import WATER_OUT, answer, knowing, told
from tests.alarms.exercises import inside, plan, signal
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.alarms.test_sending import tell
from tests.equipment.api.calls import at, faults
from tests.equipment.files import TEXT, attached
from tests.world import NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LATER = NOW + timedelta(days=2)
SPAN = {"from": "2026-03-04", "until": "2026-03-05"}


class _Page(HTMLParser):
    """The texts of a page, and every element with its attributes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.texts))


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def site(own) -> Facility:
    world.line(own)
    call_list(own, (0, [contact("Ann")]), (10, [contact("Bob")]))
    return own


@pytest.fixture
def answered(site) -> Alarm:
    """Fuel in a sump, told to Ann, acknowledged by Bob, reported to the agency."""
    alarm = raised(site, "SN1", "sump-fuel")
    tell()
    acknowledge(alarm=alarm, by="Bob", note="Pump is off.", now=NOW + minutes(7))
    told(alarm, agency="state agency", number="2026-0117")
    return alarm


def listed(client, site, **asked) -> dict:
    got = client.get(at(site, "/alarm-history"), SPAN | asked)
    assert got.status_code == 200, got.json()
    return got.json()


def page(client, site, **asked) -> _Page:
    got = client.get(at(site, "/alarm-history.html"), SPAN | asked)
    assert (got.status_code, got.headers["Content-Type"]) == (200, "text/html; charset=utf-8")
    return _Page(got.content.decode())


def test_an_alarm_stands_with_who_was_told_and_who_answered(site, answered, owner_client):
    body = listed(owner_client, site)

    [alarm] = body["alarms"]
    assert (alarm["alarm"], alarm["component"], alarm["title"]) == (answered.pk, "SN1", "Fuel in a sump")
    [ann] = alarm["told"]
    assert (ann["name"], ann["organisation"], ann["mails"]) == ("Ann", "Own Marinas", 1)
    assert ann["first_at"].startswith("2026-03-04T15:00:0")
    [step] = alarm["steps"]
    assert (step["kind"], step["by"], step["note"]) == ("acknowledge", "Bob", "Pump is off.")
    assert step["at"] == "2026-03-04T15:07:00Z"
    assert (body["unacknowledged"], body["without_disposition"]) == (0, 1)


def test_the_clock_is_told_with_its_end_and_with_what_was_filed(site, answered, owner_client):
    """40 CFR 280.50: reported within 24 hours; 280.52: investigated within 7 days."""
    [alarm] = listed(owner_client, site)["alarms"]

    clocks = {clock["rule"]: clock for clock in alarm["clocks"]}
    reported = clocks["report-suspected-release"]
    assert (reported["standing"], reported["due"]) == ("met", "2026-03-05T10:00:00-05:00")
    assert reported["runs_from"] == "2026-03-04T15:00:00Z"
    [filed] = alarm["filed"]
    assert reported["evidence"] == [f"record:{filed['id']}"]
    assert filed["measurements"]["number"] == "2026-0117"
    assert (
        clocks["investigate-suspected-release"]["due"],
        clocks["investigate-suspected-release"]["standing"],
    ) == (
        "2026-03-11",
        "due soon",
    )


def test_a_clock_that_an_exception_stopped_says_why(site, owner_client):
    """40 CFR 280.50(b): found not to release, put right and emptied within the day."""
    alarm = raised(site, "SU1")
    answer(alarm, "water removed", **WATER_OUT)

    [shown] = listed(owner_client, site)["alarms"]
    assert {clock["standing"] for clock in shown["clocks"]} == {"not required"}
    text = page(owner_client, site).text
    assert "water removed, from Wed 04 Mar 2026 15:00 EST, stated by R. Ames (Own Marinas)" in text
    assert "liquid removed Wed 04 Mar 2026 11:00 EST" in text
    assert "cause: rain through the lid" in text


def test_what_is_not_on_file_is_said_to_be_missing(site, owner_client):
    raised(site, "SN1", "sump-fuel")

    text = page(owner_client, site).text
    for missing in (
        "no mail about it went out",
        "nobody has acknowledged it",
        "it has no disposition",
        "no record names this alarm",
    ):
        assert f"Nothing on file: {missing}." in text
    assert "Suspected release reported within 24 hours (owner or operator): overdue" in text
    assert "1 not acknowledged, 1 without a disposition in force" in text


def test_a_disposition_that_was_withdrawn_is_struck_and_does_not_count(site, owner, owner_client):
    alarm = raised(site, "SU1")
    given = answer(alarm, "water removed", **WATER_OUT)
    withdraw_fact(fact=given, organisation=owner, reason="wrong sump", by="Ann", now=NOW + 6 * HOUR)

    body, shown = listed(owner_client, site), page(owner_client, site)
    assert body["without_disposition"] == 1
    assert body["alarms"][0]["dispositions"][0]["withdrawn_reason"] == "wrong sump"
    assert ("del", {}) in shown.elements
    assert "withdrawn Wed 04 Mar 2026 16:00 EST by Ann: wrong sump" in shown.text


def test_a_report_that_was_withdrawn_is_struck(site, owner_client, answered):
    [record] = site.records.all()
    withdraw_record(record=record, reason="never sent", by="Ann", now=NOW + 6 * HOUR)

    [alarm] = listed(owner_client, site)["alarms"]
    assert alarm["filed"][0]["withdrawn_reason"] == "never sent"
    assert {clock["standing"] for clock in alarm["clocks"]} == {"overdue", "due soon"}


def test_who_knew_when_is_told(site, owner_client):
    knowing(raised(site, "SU1"), discovered_at=NOW + 2 * HOUR)

    assert "the operator learned of it Wed 04 Mar 2026 12:00 EST" in page(owner_client, site).text
    reported = listed(owner_client, site)["alarms"][0]["clocks"]
    assert {clock["due"] for clock in reported} == {"2026-03-05T12:00:00-05:00", "2026-03-11"}


def test_only_rules_about_this_sort_of_alarm_are_told_of_it(site, owner_client):
    """40 CFR 280.50(c)(3): a first month of inventory has its own rules, and no other alarm has those."""
    raised(site, "SU1")
    raised(site, "T1", "inventory-over-limit")

    rules = [{clock["rule"] for clock in alarm["clocks"]} for alarm in listed(owner_client, site)["alarms"]]
    both = {"report-suspected-release", "investigate-suspected-release"}
    assert rules == [both, {f"{one}-second-month" for one in both}]


@pytest.mark.parametrize(
    ("began", "ended", "acknowledged", "shown"),
    [
        (-30, -20, True, False),  # over and answered before the span
        (-30, -20, False, True),  # over, but nobody had answered
        (-30, 3, True, True),  # stood into the span
        (-30, None, True, True),
        (0, 1, True, True),
        (24, None, True, False),  # begins with the first instant after the span
    ],
)
def test_the_span_holds_what_was_raised_stood_or_was_not_answered_in_it(
    site, owner_client, began, ended, acknowledged, shown
):
    """Hours from midnight in New York on 4 March, 05:00 UTC."""
    midnight = datetime(2026, 3, 4, 5, tzinfo=UTC)
    alarm = raised(site, "SU1", now=midnight + began * HOUR)
    if acknowledged:
        acknowledge(alarm=alarm, by="Ann", note=None, now=midnight + (began + 0.5) * HOUR)
    if ended is not None:
        cleared = midnight + ended * HOUR
        deliver(site, report(signal="cleared", occurred_at=cleared), now=cleared)

    assert bool(listed(owner_client, site)["alarms"]) is shown


def test_an_alarm_whose_clear_was_lost_says_so_and_is_in_no_later_span(site, owner_client):
    alarm = raised(site, "SU1", now=NOW - 4 * DAY)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW - 4 * DAY + HOUR)
    anew = raised(site, "SU1", now=NOW - 2 * DAY)

    assert [one["alarm"] for one in listed(owner_client, site)["alarms"]] == [anew.pk]
    text = page(owner_client, site, **{"from": "2026-02-27"}).text
    assert "No message says when it was over." in text
    assert "Raised anew Mon 02 Mar 2026 10:00 EST, as an alarm of its own: its clear was lost." in text


def test_what_came_back_from_its_shelf_is_not_acknowledged(site, owner_client):
    shelve(alarm=raised(site), by="Ann", reason="dry", until=NOW + HOUR, now=NOW)
    assert listed(owner_client, site)["unacknowledged"] == 0

    end_shelving_due(now=NOW + HOUR, limit=1)
    assert listed(owner_client, site)["unacknowledged"] == 1


def test_a_day_on_which_the_clocks_change_has_its_own_length(site, owner_client):
    """15 U.S.C. 260a: 8 March 2026 has 23 hours in New York."""
    with time_machine.travel(datetime(2026, 4, 1, tzinfo=UTC), tick=False):
        body = listed(owner_client, site, **{"from": "2026-03-08", "until": "2026-03-09"})

    assert (body["first_at"], body["until_at"]) == ("2026-03-08T05:00:00Z", "2026-03-09T04:00:00Z")


def test_an_alarm_that_turned_out_to_be_another_is_listed_once_with_what_was_said_of_both(site, owner_client):
    stayed, merged = raised(site, "SU1"), raised(site, "SN1", now=NOW + HOUR)
    answer(merged, "water removed", **(WATER_OUT | {"checked_at": NOW + 2 * HOUR}))
    Alarm.objects.filter(pk=merged.pk).update(merged_into=stayed, merged_at=LATER, state=State.NORMAL)

    [alarm] = listed(owner_client, site)["alarms"]
    assert (alarm["alarm"], alarm["merged"], len(alarm["dispositions"])) == (stayed.pk, [merged.pk], 1)
    assert f"the same as alarm {merged.pk}" in page(owner_client, site).text


def test_an_exercise_is_told_as_one(site, owner_client):
    check = plan(site, "SN1")
    signal(site, "raised", inside(5))

    [alarm] = listed(owner_client, site)["alarms"]
    assert (alarm["exercise"], alarm["stood_on_at"]) == (check.pk, None)
    assert f"Raised in function check {check.pk}, led by R. Ames" in page(owner_client, site).text

    Alarm.objects.update(stood_on_at=NOW + 3 * HOUR)
    assert "real since Wed 04 Mar 2026 13:00 EST" in page(owner_client, site).text


def test_shelving_is_told_with_its_end_and_its_reason(site, owner_client):
    shelve(alarm=raised(site, "SU1"), by="Ann", reason="pump is being changed", until=NOW + 8 * HOUR, now=NOW)

    text = page(owner_client, site).text
    assert "shelved Wed 04 Mar 2026 10:00 EST by Ann" in text
    assert "pump is being changed; until Wed 04 Mar 2026 18:00 EST" in text
    assert listed(owner_client, site)["unacknowledged"] == 0


def test_an_empty_list_says_what_that_shows(site, owner_client):
    shown = page(owner_client, site)

    assert "it does not show that there was nothing" in shown.text


def test_what_people_wrote_stays_text(own, owner_client):
    """OWASP, cross-site scripting: markup from outside is escaped wherever it is shown."""
    own.name = "<script>alert(1)</script>"
    own.facility_address1 = '"><img src=x onerror=alert(1)>'
    own.save()
    alarm = raised(own, "<b>probe</b>", "<i>odd</i>")
    acknowledge(
        alarm=alarm, by="<a href=javascript:x>Ann</a>", note="<style>*{display:none}</style>", now=NOW
    )

    shown = page(owner_client, own)
    tags = {tag for tag, _ in shown.elements}
    assert not tags & {"script", "img", "a", "b", "i", "iframe", "link", "object", "form"}
    assert sum(tag == "style" for tag, _ in shown.elements) == 1
    assert not [name for _, attributes in shown.elements for name in attributes if name.startswith("on")]
    assert "<b>probe</b>" in shown.text


def test_the_page_may_load_and_run_nothing(site, owner_client):
    headers = owner_client.get(at(site, "/alarm-history.html")).headers

    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert headers["Cache-Control"] == "private, no-store"


def test_the_table_has_a_line_for_each_alarm_with_the_words_of_the_page(site, answered, owner_client):
    raised(site, "SN1", "sensor-fault", now=NOW + HOUR)

    got = owner_client.get(at(site, "/alarm-history.csv"), SPAN)
    fuel, fault = csv.DictReader(got.content.decode().splitlines())
    assert got.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert (fuel["alarm"], fuel["what"]) == (str(answered.pk), "Fuel in a sump")
    assert "acknowledged Wed 04 Mar 2026 10:07 EST by Bob (Pump is off.)" in fuel["answered"]
    assert " | " in fuel["clock_of_the_law"]
    assert fault["clock_of_the_law"].startswith("None by the hour: 40 CFR 280.50")
    assert fault["answered"] == "Nothing on file: nobody has acknowledged it."


def test_an_alarm_of_unknown_class_leaves_its_clock_open(site, owner_client):
    raised(site, "SU1", "a word of its own")

    assert "cannot decide" in page(owner_client, site).text


def test_a_facility_that_cannot_be_judged_is_listed_all_the_same(site, owner_client, answered):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["nowhere"])

    body = listed(owner_client, site)
    assert body["cannot_judge"]
    assert [alarm["clocks"] for alarm in body["alarms"]] == [[]]
    assert "It cannot be told which clock runs" in page(owner_client, site).text


def test_a_list_that_is_too_long_is_refused(site, owner_client, monkeypatch):
    monkeypatch.setattr(listing, "MOST_ALARMS", 1)
    raised(site, "SU1")
    raised(site, "SN1")

    refused = owner_client.get(at(site, "/alarm-history"), SPAN)
    assert (refused.status_code, faults(refused)) == (422, {"/from": "too-many"})


@pytest.mark.parametrize("form", ["", ".csv", ".html"])
def test_what_is_no_span_is_refused_as_a_problem_in_every_form(site, owner_client, form):
    refused = owner_client.get(
        at(site, f"/alarm-history{form}"), {"from": "2026-03-04", "until": "2026-03-03"}
    )

    assert refused.status_code == 422
    assert refused.headers["Content-Type"] == "application/problem+json"


def test_the_number_of_queries_does_not_grow(site, answered, attachment_folder):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            listing.alarm_history(site, Span(first=None, until=None, now=LATER), made_for="test")
        return len(counted)

    def with_everything(alarm: Alarm) -> None:
        told(alarm)
        given = answer(alarm, "water removed", **WATER_OUT)
        DispositionAttachment.objects.create(disposition=given, attachment=photo)
        knowing(alarm, no_liquid=False)
        attach(alarm=alarm, attachments=[photo.pk], by="Ann", organisation=site.operator, now=NOW)

    photo = attached(site)
    with_everything(raised(site, "T1", "high-water"))
    one = queries()
    for number in range(6):
        alarm = raised(site, f"probe {number}", "high-water")
        acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)
        with_everything(alarm)

    assert queries() == one


def test_photos_and_papers_are_named_where_they_belong(site, owner_client, answered, attachment_folder):
    photo, note = attached(site), attached(site, TEXT, name="service.txt")
    attach(alarm=answered, attachments=[photo.pk], by="Bob", organisation=site.operator, now=NOW + HOUR)
    RecordAttachment.objects.create(record=site.records.get(), attachment=note)

    [alarm] = listed(owner_client, site)["alarms"]
    assert [one["file"]["id"] for one in alarm["attachments"]] == [photo.pk]
    assert [one["id"] for one in alarm["filed"][0]["attachments"]] == [note.pk]
    text = page(owner_client, site).text
    assert f"{photo.name} (file {photo.pk}, " in text
    assert "attached Wed 04 Mar 2026 11:00 EST by Bob" in text
    assert f"shows service.txt (file {note.pk}, text/plain" in text


def test_every_part_of_a_proof_and_every_step_has_its_words():
    assert set(EVIDENCE) == {*MOMENTS, *WORDS, *FLAGS, *REFERENCES}
    assert set(DONE) == set(ACTS)
