"""History, inspection and retention of a facility through the API.

The rule: 40 CFR 280.40(a)(3), a line leak detector is tested every year; 280.45(b)(1), the test is kept three years.
"""

from datetime import UTC, date, datetime

import pytest

from equipment.models import Facility
from equipment.services.records import withdraw_record
from tests import world
from tests.compliance.api.test_as_of import RULE, SUBJECT, detector_visit
from tests.equipment.api.calls import at, faults
from tests.equipment.statements import designation, document, person
from tests.world import NOW

FIRST, SECOND = date(2023, 1, 10), date(2024, 2, 9)


def noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


@pytest.fixture
def site(own) -> Facility:
    """Tested on 10 January 2023, and 30 days late on 9 February 2024."""
    world.line(own)
    for day in (FIRST, SECOND):
        detector_visit(own, day, noon(day))
    return own


def refs(site) -> list[str]:
    return [f"record:{record.pk}" for record in site.records.order_by("performed_on")]


def history(client, site, **asked) -> list[dict]:
    answer = client.get(at(site, "/history"), {"rule": RULE, "subject": SUBJECT, **asked})
    assert answer.status_code == 200, answer.json()
    return answer.json()["results"]


def test_a_delay_is_told_with_the_evidence_before_and_after(site, owner_client):
    first, second = refs(site)

    told = history(owner_client, site, since="2024-01-01", until="2024-12-31")

    [delay] = told
    assert (delay["due"], delay["done"], delay["days_late"]) == ("2024-01-10", "2024-02-09", 30)
    assert (delay["before"], delay["after"]) == ([first], [second])
    assert "280.40(a)(3)" in delay["cite"]


def test_a_delay_that_runs_on_has_no_end(site, owner_client):
    [running] = history(owner_client, site, since="2024-03-01", until="2025-02-11")

    assert (running["due"], running["done"], running["ended"], running["days_late"]) == (
        "2025-02-09",
        None,
        None,
        2,
    )


def test_by_what_was_known_then_a_test_that_came_later_is_not_counted(site, owner_client):
    detector_visit(site, date(2025, 2, 1), noon(date(2025, 3, 1)))
    asked = {"since": "2025-01-01", "until": "2025-02-11"}

    assert history(owner_client, site, **asked) == []
    [running] = history(owner_client, site, **asked, known="then")
    assert running["days_late"] == 2


def test_without_a_filter_every_duty_is_told(site, owner_client):
    rows = owner_client.get(at(site, "/history"), {"limit": 200}).json()["results"]

    assert len({row["rule"] for row in rows}) > 3
    assert [row["due"][:10] for row in rows] == sorted(row["due"][:10] for row in rows)


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"since": "2025-01-02", "until": "2025-01-01"}, "/since"),
        ({"since": "then"}, "/since"),
        ({"on": "2025-01-01"}, "/on"),
    ],
)
def test_a_window_that_makes_no_sense_is_refused(site, owner_client, asked, pointer):
    assert set(faults(owner_client.get(at(site, "/history"), asked))) == {pointer}


def inspection(client, site, **asked) -> dict:
    answer = client.get(at(site, "/inspection"), asked)
    assert answer.status_code == 200, answer.json()
    return answer.json()


def test_an_inspector_finds_standings_delays_and_what_is_missing(site, owner_client):
    found = inspection(owner_client, site, on="2024-06-01")

    [test] = [row for row in found["standings"] if row["rule"] == RULE]
    [delay] = [row for row in found["late"] if row["rule"] == RULE]
    assert (found["on"], found["known"]) == ("2024-06-01", "then")
    assert (test["standing"], test["due"]) == ("met", "2025-02-09")
    assert delay["days_late"] == 30
    assert found["not_shown"]
    assert all(
        row["sentence"].endswith(".") for part in ("standings", "late", "not_shown") for row in found[part]
    )
    assert found["standings"][-1]["standing"] in ("met", "suspended")


def test_the_look_back_is_twelve_months_unless_told(site, owner_client):
    def delays(**asked) -> list[int]:
        found = inspection(owner_client, site, **asked)
        return [row["days_late"] for row in found["late"] if row["rule"] == RULE and row["done"]]

    assert delays(on="2025-02-09") == [30]
    assert delays(on="2025-02-10") == []
    assert delays(on="2025-02-10", look_back="13m") == [30]


def test_a_test_that_was_recorded_after_the_day_could_not_be_shown(site, owner_client):
    late = detector_visit(site, date(2024, 5, 1), noon(date(2024, 7, 1)))

    then = inspection(owner_client, site, on="2024-06-01")["not_shown"]
    today = inspection(owner_client, site, on="2024-06-01", known="today")["not_shown"]

    [missing] = [row for row in then if row["record"]]
    assert missing["record"] == f"record:{late.pk}"
    assert missing["cite"] == "40 CFR 280.45(b)(1)"
    assert [row for row in today if row["record"]] == []


@pytest.mark.parametrize(
    ("asked", "pointer"), [({"on": "x"}, "/on"), ({"look_back": "12"}, "/look_back"), ({"day": "1"}, "/day")]
)
def test_an_inspection_that_cannot_be_made_is_refused(site, owner_client, asked, pointer):
    assert set(faults(owner_client.get(at(site, "/inspection"), asked))) == {pointer}


def kept(client, site, **asked) -> dict[str, dict]:
    answer = client.get(at(site, "/retention"), asked)
    assert answer.status_code == 200, answer.json()
    return {row["subject"]: row for row in answer.json()["results"]}


def test_each_record_is_told_until_when_it_is_kept_and_by_which_rule(site, owner_client):
    record = site.records.get(performed_on=SECOND)

    one = owner_client.get(at(site, f"/records/{record.pk}/retention")).json()

    [rule] = one["rules"]
    assert (rule["rule"], rule["until"], rule["cite"]) == (
        "rec-annual-operation",
        "2027-02-09",
        "40 CFR 280.45(b)(1)",
    )
    assert one["until"] == "2027-02-09"
    assert one == kept(owner_client, site)[f"record:{record.pk}"]


def test_papers_and_designations_stand_in_the_list_too(site, owner_client):
    """40 CFR 280.245(b): while designated; 280.111: proof of cover until the site is closed."""
    cover = document(site, "financial responsibility", issued_on=date(2024, 1, 1))
    duty = designation(site, person(site.operator))
    other = document(site, "lease", issued_on=date(2024, 1, 1))

    rows = kept(owner_client, site)

    told = [rows[f"{kind}:{one.pk}"] for kind, one in (("document", cover), ("designation", duty))]
    assert [(one["keep"], one["until"]) for one in told] == [(True, None), (True, None)]
    assert told[1]["rules"][0]["cite"] == "40 CFR 280.245(a), (b)"
    assert (rows[f"document:{other.pk}"]["keep"], rows[f"document:{other.pk}"]["rules"]) == (True, [])


def test_what_may_be_discarded_is_advice_and_stays_on_file(own, owner_client):
    world.line(own)
    record = detector_visit(own, date(2020, 6, 1), noon(date(2020, 6, 1)))

    [row] = kept(owner_client, own, keep="false", kind="record").values()

    assert (row["keep"], row["until"]) == (False, "2023-06-01")
    assert "advice" in row["advice"]
    assert own.records.filter(pk=record.pk).exists()


def test_a_withdrawn_record_is_named_by_no_rule_and_kept(site, owner_client):
    record = site.records.get(performed_on=FIRST)
    withdraw_record(record=record, reason="another line", by="test", now=NOW)

    row = kept(owner_client, site)[f"record:{record.pk}"]

    assert (row["keep"], row["rules"]) == (True, [])


def test_a_record_of_another_facility_does_not_exist(site, owner, owner_client):
    other = world.facility(owner, "OTHER")
    record = site.records.first()

    assert owner_client.get(at(other, f"/records/{record.pk}/retention")).status_code == 404


@pytest.mark.parametrize("day", ["1900-01-01", "2299-12-31"])
@pytest.mark.parametrize(
    ("path", "name"), [("obligations", "as_of"), ("history", "until"), ("inspection", "on")]
)
def test_the_ends_of_the_calendar_can_be_asked_for(site, owner_client, day, path, name):
    answer = owner_client.get(at(site, f"/{path}"), {name: day, "known": "today"})

    assert answer.status_code == 200, answer.json()
