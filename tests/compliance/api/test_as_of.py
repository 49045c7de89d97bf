"""Obligations and the portfolio as of another moment: facts known by then, rules then in force, nothing stored."""

from datetime import UTC, date, datetime, timedelta

import pytest

from compliance.models import Obligation, Standing
from compliance.services import assess
from equipment.models import Facility
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit, withdraw_record
from tests import world
from tests.equipment.api.calls import at, faults, problem
from tests.world import NOW

RULE, SUBJECT = "annual-alld-test", "LLD1"
# 40 CFR 280.40(a)(3): the test is annual, so one of 1 May 2024 is good to 1 May 2025.
DONE, DUE = date(2024, 5, 1), date(2025, 5, 1)
RECORDED = datetime(2024, 5, 2, 12, tzinfo=UTC)
BACKFILLED = datetime(2025, 9, 1, 12, tzinfo=UTC)


def detector_visit(site: Facility, on: date, recorded: datetime):
    deed = Deed(
        activity="line-leak-detector-test",
        performed=Moment(day=on),
        subjects=(SUBJECT,),
        outcome="pass",
        measurements={"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 4},
    )
    visit = record_visit(
        facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=recorded
    )
    return visit.records[0]


@pytest.fixture
def site(own) -> Facility:
    """Tested on 1 May 2024, recorded the next day; tested on 20 April 2025, recorded in September."""
    world.line(own)
    detector_visit(own, DONE, RECORDED)
    detector_visit(own, date(2025, 4, 20), BACKFILLED)
    return own


def place(client, site, **asked) -> tuple[str, str, int]:
    """Standing, due and days late of the detector's test."""
    answer = client.get(at(site, "/obligations"), {"rule": RULE, "subject": SUBJECT, **asked})
    assert answer.status_code == 200, answer.json()
    [row] = answer.json()["results"]
    return row["standing"], row["due"], row["days_late"]


@pytest.mark.parametrize(
    ("day", "seen"),
    [
        ("2024-05-01", ("no record", "2010-05-01", 5114)),  # done that day, recorded the day after
        ("2024-05-02", ("met", "2025-05-01", 0)),
        ("2025-05-01", ("due soon", "2025-05-01", 0)),
        ("2025-05-02", ("overdue", "2025-05-01", 1)),
        ("2025-08-31", ("overdue", "2025-05-01", 122)),
        ("2025-09-01", ("met", "2026-04-20", 0)),
    ],
)
def test_a_day_is_judged_by_what_was_on_file_at_its_end(site, owner_client, day, seen):
    assert place(owner_client, site, as_of=day) == seen


def test_with_what_is_known_today_it_was_met_all_along(site, owner_client):
    assert place(owner_client, site, as_of="2025-08-31", known="today") == ("met", "2026-04-20", 0)
    assert place(owner_client, site, as_of="2024-05-01", known="today") == ("met", "2025-05-01", 0)


def test_an_instant_counts_to_that_instant(site, owner_client):
    before, then = "2025-09-01T11:59:59Z", "2025-09-01T12:00:00Z"

    assert place(owner_client, site, as_of=before)[0] == "overdue"
    assert place(owner_client, site, as_of=then)[0] == "met"


def test_a_day_ends_at_the_facilitys_midnight(site, owner_client):
    """1 May 2025 ends in New York four hours after it has ended in UTC."""
    assert place(owner_client, site, as_of="2025-05-02T03:59:59Z")[0] == "due soon"
    assert place(owner_client, site, as_of="2025-05-02T04:00:00Z")[0] == "overdue"


def test_a_record_that_was_withdrawn_later_counted_then(site, owner_client):
    record = site.records.get(performed_on=DONE)
    withdraw_record(record=record, reason="another line", by="test", now=RECORDED + timedelta(days=30))

    assert place(owner_client, site, as_of="2024-05-10")[0] == "met"
    assert place(owner_client, site, as_of="2024-06-02")[0] == "no record"


def test_the_answer_has_the_shape_of_the_stored_one_without_an_id(site, owner_client):
    assess.drain(clock=lambda: NOW)
    path, asked = at(site, "/obligations"), {"rule": RULE}
    [stored] = owner_client.get(path, asked).json()["results"]

    [then] = owner_client.get(path, asked | {"as_of": NOW.isoformat()}).json()["results"]

    unlike = {"id", "changed_at", "days_late"}
    assert set(then) == set(stored)
    assert (then["id"], then["changed_at"]) == (None, None)
    assert {key: then[key] for key in then if key not in unlike} == {
        key: stored[key] for key in stored if key not in unlike
    }


def test_nothing_is_stored_by_asking(site, owner_client):
    for path in ("/obligations", "/history", "/inspection", "/retention"):
        assert owner_client.get(at(site, path)).status_code == 200
    owner_client.get(at(site, "/obligations"), {"as_of": "2025-01-01"})
    owner_client.get("/api/v1/portfolio", {"as_of": "2025-01-01"})

    assert (Obligation.objects.count(), Standing.objects.count()) == (0, 0)


def test_the_rules_are_those_of_the_day(own, owner_client):
    """40 CFR 280.35(a)(1)(ii): spill buckets are tested since 13 October 2015."""
    world.line(own)
    path = at(own, "/obligations")

    def rules(day: str) -> set[str]:
        asked = {"as_of": day, "known": "today", "limit": 200}
        return {row["rule"] for row in owner_client.get(path, asked).json()["results"]}

    assert "spill-bucket-tightness-3y" not in rules("2015-10-12")
    assert "spill-bucket-tightness-3y" in rules("2018-10-13")


def test_a_future_day_shows_what_comes_if_nothing_else_is_done(site, owner_client):
    assert place(owner_client, site, as_of="2026-04-21") == ("overdue", "2026-04-20", 1)


def test_the_filters_narrow_and_the_pages_follow_on(site, owner_client):
    path, asked = at(site, "/obligations"), {"as_of": "2025-08-31"}
    everything = owner_client.get(path, asked | {"limit": 200}).json()["results"]

    pages, following = [], f"{path}?as_of=2025-08-31&limit=5"
    while following:
        page = owner_client.get(following).json()
        pages += page["results"]
        following = page["next"]
    overdue = owner_client.get(path, asked | {"standing": "overdue", "limit": 200}).json()["results"]
    late = owner_client.get(path, asked | {"late_before": "2025-05-03T00:00:00Z", "limit": 200}).json()[
        "results"
    ]

    assert pages == everything
    assert overdue == [row for row in everything if row["standing"] == "overdue"]
    assert {row["due"] for row in late} == {
        row["due"] for row in everything if (row["due"] or "9") < "2025-05-03"
    }


def test_what_is_not_required_is_told_with_its_reason_when_asked_for(site, owner_client):
    path = at(site, "/obligations")

    rows = owner_client.get(path, {"include_not_required": "true", "standing": "not required"}).json()[
        "results"
    ]

    [monthly] = [row for row in rows if row["rule"] == "pressurised-line-monthly-monitoring"]
    assert monthly["reason"] == "the choice is line tightness"
    assert all(row["reason"] for row in rows)


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({"as_of": "soon"}, "/as_of"),
        ({"as_of": "2025-05-01T10:00:00"}, "/as_of"),
        ({"as_of": "2300-01-01"}, "/as_of"),
        ({"as_of": "2025-05-01", "known": "tomorrow"}, "/known"),
        ({"known": "today"}, "/known"),
        ({"asof": "2025-05-01"}, "/asof"),
        ({"standing": "fine"}, "/standing"),
        ({"as_of": "2019-12-30"}, "/as_of"),  # the facility came on file at midnight UTC of 1 January 2020
    ],
)
def test_what_cannot_be_asked_is_refused_at_its_parameter(site, owner_client, asked, pointer):
    assert set(faults(owner_client.get(at(site, "/obligations"), asked))) == {pointer}


@pytest.mark.parametrize("path", ["/api/v1/obligations", "/api/v1/portfolio"])
def test_a_list_that_does_not_know_a_parameter_never_answers_as_if_it_did(owner_client, path):
    assert set(faults(owner_client.get(path, {"as-of": "2025-05-01"}))) == {"/as-of"}


def test_a_cursor_that_no_answer_gave_is_refused(site, owner_client):
    answer = owner_client.get(at(site, "/obligations"), {"as_of": "2025-05-01", "cursor": "x"})

    assert faults(answer) == {"/cursor": "invalid"}


def test_a_facility_whose_packs_are_unknown_says_so(site, owner_client):
    Facility.objects.update(jurisdictions=["us-nowhere"])

    answer = owner_client.get(at(site, "/obligations"), {"as_of": "2025-05-01"})

    assert problem(answer) == (409, "cannot-be-judged")
    assert "us-nowhere" in answer.json()["detail"]


def portfolio(client, **asked) -> dict:
    answer = client.get("/api/v1/portfolio", asked)
    assert answer.status_code == 200, answer.json()
    return answer.json()


def test_a_row_of_the_portfolio_counts_what_the_obligations_say(site, owner_client):
    [row] = portfolio(owner_client, as_of="2025-08-31")["results"]

    asked = {"as_of": "2025-08-31", "limit": 200}
    rows = owner_client.get(at(site, "/obligations"), asked).json()["results"]
    assert sum(row["counts"].values()) == len(rows)
    assert row["counts"]["overdue"] == sum(one["standing"] == "overdue" for one in rows)
    assert row["worst"] == "overdue"
    assert (row["fresh"], row["last_error"]) == (True, "")


def test_the_portfolio_of_now_is_the_stored_one(site, owner_client):
    assess.drain(clock=lambda: NOW)
    [stored] = portfolio(owner_client)["results"]

    [then] = portfolio(owner_client, as_of=NOW.isoformat())["results"]

    # Whom a call list reached at a past moment is not kept.
    unlike = {"judged_at", "fresh", "nobody_to_tell"}
    assert then["nobody_to_tell"] is None
    assert {key: then[key] for key in then if key not in unlike} == {
        key: stored[key] for key in stored if key not in unlike
    }


def test_the_portfolio_leaves_out_what_was_not_on_file_by_then(site, owner, owner_client):
    """The day ends later in Chicago than in New York: each facility goes by its own zone."""
    midnight = datetime(2025, 6, 2, 4, 30, tzinfo=UTC)
    for code, zone in (("EAST", "America/New_York"), ("MID", "America/Chicago")):
        world.facility(owner, code, since=midnight, time_zone=zone)

    seen = [row["code"] for row in portfolio(owner_client, as_of="2025-06-01")["results"]]
    today = [row["code"] for row in portfolio(owner_client, as_of="2025-06-01", known="today")["results"]]

    assert seen == ["OWN", "MID"]
    assert today == ["OWN", "EAST", "MID"]


def test_one_facility_that_cannot_be_judged_stops_no_other(site, owner, owner_client):
    world.facility(owner, "BAD")
    Facility.objects.filter(code="BAD").update(
        jurisdictions=["us-nowhere"]
    )  # as if its pack had been taken away

    good, bad = portfolio(owner_client, as_of="2025-06-01")["results"]

    assert good["worst"] == "overdue"
    assert "us-nowhere" in bad["last_error"]


def test_the_portfolio_of_another_moment_comes_a_page_at_a_time(owner, owner_client):
    for number in range(3):
        world.facility(owner, f"N{number}")

    first = portfolio(owner_client, as_of="2025-06-01", limit=2)
    second = owner_client.get(first["next"]).json()

    assert [row["code"] for row in first["results"] + second["results"]] == ["N0", "N1", "N2"]
    assert second["next"] is None


def test_many_facilities_cost_as_many_queries_as_one(
    site, owner, owner_client, django_assert_max_num_queries
):
    portfolio(owner_client, as_of="2025-06-01")
    for number in range(8):
        world.line(world.facility(owner, f"N{number}"))

    with django_assert_max_num_queries(46):
        portfolio(owner_client, as_of="2025-06-01")


def test_a_stranger_sees_nothing_of_another_time_either(site, stranger_client):
    assert portfolio(stranger_client, as_of="2025-06-01")["results"] == []
    assert stranger_client.get(at(site, "/obligations"), {"as_of": "2025-06-01"}).status_code == 404
