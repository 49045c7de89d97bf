"""What starts the clocks of a suspected release, to the minute, and what answers them when no alarm is there.

40 CFR 280.50: within 24 hours of discovery; 280.52: within 7 days. Hours are read as elapsed hours.
"""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import judge
from tests.compliance.rulepacks.federal import component, finding, moment, packs, record, site, standing

ZONE = ZoneInfo("America/New_York")
BEGUN = "2025-06-10T08:00"
IN_TIME, TOO_LATE = "2025-06-11T08:00", "2025-06-11T08:01"
JUDGED = "2025-06-12T12:00"


def with_alarm(begun: str) -> dict:
    alarm = {"id": "E1", "component": "X1", "condition": "sump-fuel", "raised_at": begun}
    return site(component("containment_sump"), alarms=[alarm])


def with_result(begun: str, activity: str = "tank-tightness-test", outcome: str | None = "fail") -> dict:
    return site(component("tank"), records=[record(activity, begun, id="E1", outcome=outcome)])


def with_walkthrough(begun: str, unusual: bool | None = True) -> dict:
    walk = record("walkthrough", begun, id="E1", subject="F1", outcome=None, unusual_condition=unusual)
    return site(component("tank"), records=[walk])


def with_sign(begun: str) -> dict:
    return site(events=[{"id": "E1", "type": "sign of a release noticed", "at": begun}])


def with_inventory(begun: str) -> dict:
    over = {"net_gal": 500, "throughput_gal": 25_000}
    months = [
        record("inventory-month", "2025-01-31", id="E0", **over),
        record("inventory-month", begun, id="E1", **over),
    ]
    return site(component("tank"), records=months)


def with_spill(begun: str) -> dict:
    return site(spills=[{"id": "E1", "discovered_at": begun, "gal_to_environment": 30, "sheen": False}])


STARTS = [
    (with_alarm, "report-suspected-release", "280.50(c)"),
    (with_result, "report-failed-result", "280.50(c)"),
    (with_walkthrough, "report-unusual-condition", "280.50(b)"),
    (with_sign, "report-noticed-sign", "280.50(a)"),
    (with_inventory, "report-suspected-release-inventory", "280.43(a), 280.50(c)(3)"),
    (with_spill, "spill-report-petroleum", "280.53(a)(1)"),
]
WEEKS = [
    (with_alarm, "investigate-suspected-release"),
    (with_result, "investigate-failed-result"),
    (with_walkthrough, "investigate-unusual-condition"),
    (with_sign, "investigate-noticed-sign"),
    (with_inventory, "investigate-suspected-release-inventory"),
]


def local(at: datetime) -> str:
    """As the documents here write it: with the offset, since an hour stands twice in autumn."""
    return at.isoformat()


def after(begun: datetime, **elapsed: float) -> datetime:
    """So much elapsed time later: reckoned in UTC, by the standard library alone."""
    return (begun.astimezone(ZoneInfo("UTC")) + timedelta(**elapsed)).astimezone(ZONE)


def standing_at(document: dict, rule: str, at: datetime) -> str:
    return standing(document, rule, "E1", at.replace(tzinfo=None).isoformat())


@pytest.mark.parametrize(("start", "rule", "paragraph"), STARTS)
@pytest.mark.parametrize(
    "begun",
    [
        datetime(2025, 6, 10, 8, 0, tzinfo=ZONE),
        datetime(2025, 3, 8, 12, 0, tzinfo=ZONE),  # the clocks go forward on 9 March 2025
        datetime(2025, 11, 1, 12, 0, tzinfo=ZONE),  # and back on 2 November 2025
    ],
    ids=["june", "spring", "autumn"],
)
def test_the_report_is_due_24_elapsed_hours_after_discovery(start, rule, paragraph, begun):
    """15 U.S.C. 260a and the zone data set the days; 24 hours stay 24 hours."""
    document = start(local(begun))

    assert standing_at(document, rule, after(begun, hours=23, minutes=59)) == "due soon", paragraph
    assert standing_at(document, rule, after(begun, hours=24)) == "due soon", paragraph
    assert standing_at(document, rule, after(begun, hours=24, minutes=1)) == "overdue", paragraph


def test_in_spring_the_report_is_due_at_one_and_in_autumn_at_eleven():
    """From noon before a change of the clocks: by the wall clock it is 13:00 and 11:00."""
    spring = finding(with_sign("2025-03-08T12:00"), "report-noticed-sign", "E1", "2025-03-08T13:00")
    autumn = finding(with_sign("2025-11-01T12:00"), "report-noticed-sign", "E1", "2025-11-01T13:00")

    assert spring.due.astimezone(ZONE).isoformat() == "2025-03-09T13:00:00-04:00"
    assert autumn.due.astimezone(ZONE).isoformat() == "2025-11-02T11:00:00-05:00"


@pytest.mark.parametrize(("start", "rule"), WEEKS)
def test_the_investigation_is_due_on_the_seventh_day(start, rule):
    """40 CFR 280.52: within 7 days; the day itself is in time."""
    document = start(BEGUN)

    assert standing(document, rule, "E1", "2025-06-17T23:59") == "due soon"
    assert standing(document, rule, "E1", "2025-06-18T00:00") == "overdue"


@pytest.mark.parametrize(("start", "rule", "paragraph"), STARTS)
def test_a_report_about_it_answers_the_clock(start, rule, paragraph):
    document = start(BEGUN)
    told = "spill" if start is with_spill else "suspected release"
    report = record("report-to-agency", IN_TIME, subject="F1", outcome=None, report=told, regarding="E1")
    document.setdefault("records", []).append(report)

    found = finding(document, rule, "E1", JUDGED)

    assert (found.standing, len(found.late_intervals)) == ("met", 0), paragraph


@pytest.mark.parametrize(("start", "rule", "paragraph"), STARTS)
def test_a_report_about_something_else_answers_nothing(start, rule, paragraph):
    document = start(BEGUN)
    told = "spill" if start is with_spill else "suspected release"
    other = {"id": "E9", "type": "sign of a release noticed", "at": BEGUN}
    document["events"] = [*document.get("events", []), other]
    report = record("report-to-agency", IN_TIME, subject="F1", outcome=None, report=told, regarding="E9")
    document.setdefault("records", []).append(report)

    assert standing(document, rule, "E1", JUDGED) == "overdue", paragraph


@pytest.mark.parametrize(("start", "rule"), WEEKS)
@pytest.mark.parametrize("deed", ["system-test", "site-check"])
def test_a_system_test_or_site_check_answers_the_investigation(start, rule, deed):
    """40 CFR 280.52(a), (b): whatever it finds."""
    document = start(BEGUN)
    looked = record(deed, "2025-06-13", subject="F1", outcome="fail", regarding="E1")
    document.setdefault("records", []).append(looked)

    assert standing(document, rule, "E1", "2025-06-14") == "met"


@pytest.mark.parametrize(
    "activity",
    [
        "tank-tightness-test",
        "line-tightness-test",
        "electronic-line-test",
        "tank-monitoring-result",
        "piping-monitoring-result",
        "manual-tank-gauging",
    ],
)
@pytest.mark.parametrize(
    ("outcome", "expected"),
    [("fail", "overdue"), ("pass", "not required"), ("inconclusive", "not required"), (None, "not required")],
)
def test_a_failed_result_of_a_method_starts_the_clock(activity, outcome, expected):
    """40 CFR 280.50(c). A result that nobody stated is none; what it owes is said by the monitoring duty."""
    document = with_result(BEGUN, activity, outcome)

    assert standing(document, "report-failed-result", "E1", JUDGED) == expected


def test_the_second_inconclusive_result_in_a_row_starts_the_clock_and_the_first_does_not():
    """40 CFR 280.50(c), as read in the pack: a method that twice cannot say that there was no leak."""
    rows = [
        record("tank-monitoring-result", on, id=name, outcome="inconclusive")
        for name, on in (("E1", "2025-05-11"), ("E2", BEGUN))
    ]
    document = site(component("tank"), records=rows)

    assert standing(document, "report-failed-result", "E1", JUDGED) == "not required"
    assert standing(document, "report-failed-result", "E2", JUDGED) == "overdue"


def test_a_clean_result_between_two_inconclusive_ones_breaks_the_row():
    rows = [
        record("tank-monitoring-result", on, id=name, outcome=outcome)
        for name, on, outcome in (
            ("E0", "2025-04-11", "inconclusive"),
            ("E1", "2025-05-11", "pass"),
            ("E2", BEGUN, "inconclusive"),
        )
    ]

    assert (
        standing(site(component("tank"), records=rows), "report-failed-result", "E2", JUDGED)
        == "not required"
    )


@pytest.mark.parametrize("mark", [{"withdrawn": "wrong tank"}, None])
def test_a_result_that_was_taken_back_or_corrected_starts_nothing(mark):
    document = with_result(BEGUN)
    if mark:
        document["records"][0] |= mark
    else:
        document["records"].append({**record("tank-tightness-test", BEGUN, id="E2"), "supersedes": "E1"})

    rules = {one.rule for one in every_finding(document) if one.subject == "E1"}

    assert "report-failed-result" not in rules


def every_finding(document: dict) -> list[Finding]:
    return list(judge(read_document(document), packs(), at=moment(JUDGED)).findings)


@pytest.mark.parametrize("unusual", [False, None])
def test_a_walkthrough_that_found_nothing_unusual_starts_nothing(unusual):
    document = with_walkthrough(BEGUN, unusual)

    assert standing(document, "report-unusual-condition", "E1", JUDGED) == "not required"
    assert standing(document, "investigate-unusual-condition", "E1", JUDGED) == "not required"


REPAIR = {"id": "R1", "regarding": "E1", "outcome": None}


def result_chain(repaired: str = IN_TIME, tested: str = IN_TIME, **changed: object) -> dict:
    """A failed test, a repair that names it, a test that names the repair; `changed` in the last two."""
    rows = [
        {**record("repair", repaired, **REPAIR), **changed.get("repair", {})},
        {**record("tank-tightness-test", tested, id="N1", regarding="R1"), **changed.get("test", {})},
    ]
    document = with_result(BEGUN)
    document["records"] += rows
    return document


def test_a_repair_at_once_and_a_clean_result_afterwards_answer_a_failed_result():
    """40 CFR 280.50(c)(1)."""
    assert standing(result_chain(), "report-failed-result", "E1", JUDGED) == "met"
    assert standing(result_chain(), "investigate-failed-result", "E1", "2025-06-20") == "met"


@pytest.mark.parametrize(
    ("missing", "document"),
    [
        ("repaired after the 24th hour", result_chain(repaired=TOO_LATE, tested="2025-06-11T10:00")),
        ("the repair names no result", result_chain(repair={"regarding": None})),
        ("the clean result names no repair", result_chain(test={"regarding": None})),
        ("the clean result names the failed one", result_chain(test={"regarding": "E1"})),
        ("the result is not clean", result_chain(test={"outcome": "fail"})),
        ("the result says nothing", result_chain(test={"outcome": "inconclusive"})),
        ("the result was not stated", result_chain(test={"outcome": None})),
        ("the clean result is about another tank", result_chain(test={"subject": "F1"})),
        ("what it names is no repair", result_chain(repair={"activity": "spill-cleanup"})),
        ("the repair was withdrawn", result_chain(repair={"withdrawn": "never done"})),
    ],
    ids=lambda one: one.replace(" ", "-") if isinstance(one, str) else "",
)
def test_a_chain_that_lacks_a_part_answers_nothing(missing, document):
    """40 CFR 280.50(c)(1): defective, immediately repaired, and not confirmed afterwards: all of it."""
    assert standing(document, "report-failed-result", "E1", JUDGED) == "overdue", missing


def corrected(document: dict, id: str, **changed: object) -> dict:
    """The same document with one record corrected; whoever named that record still names it by the old id."""
    old = next(row for row in document["records"] if row["id"] == id)
    document["records"].append({**old, "id": f"{id}-corrected", "supersedes": id} | changed)
    return document


def test_whoever_names_a_record_means_it_as_it_was_corrected():
    """Plain reading: a repair that was done on another day than first written was done on that other day."""
    late = corrected(result_chain(tested="2025-06-11T10:00"), "R1", performed_at=TOO_LATE)
    early = corrected(result_chain(repaired=TOO_LATE, tested="2025-06-11T10:00"), "R1", performed_at=IN_TIME)
    twice = corrected(late, "R1-corrected", performed_at=IN_TIME)
    other = corrected(result_chain(), "R1", regarding=None)

    assert standing(early, "report-failed-result", "E1", JUDGED) == "met"
    assert standing(twice, "report-failed-result", "E1", JUDGED) == "met"
    assert standing(other, "report-failed-result", "E1", JUDGED) == "overdue"
    twice["records"].pop()
    assert standing(late, "report-failed-result", "E1", JUDGED) == "overdue"


def test_a_report_about_a_result_still_counts_when_the_result_is_corrected():
    document = with_result(BEGUN)
    told = record(
        "report-to-agency", IN_TIME, subject="F1", outcome=None, report="suspected release", regarding="E1"
    )
    document["records"].append(told)
    corrected(document, "E1", performed_at="2025-06-10T08:30")

    assert standing(document, "report-failed-result", "E1-corrected", JUDGED) == "met"


def test_a_correction_that_was_taken_back_corrects_nothing():
    document = corrected(result_chain(tested="2025-06-11T10:00"), "R1", performed_at=TOO_LATE)
    document["records"][-1]["withdrawn"] = "typed for another tank"

    assert standing(document, "report-failed-result", "E1", JUDGED) == "met"


def condition_chain(**changed: object) -> dict:
    """A walkthrough that found something, its repair with the liquid taken out, a test that names the repair."""
    rows = [
        record("repair", IN_TIME, **REPAIR, liquid=changed.get("liquid", "removed")),
        {**record("system-test", IN_TIME, id="N1", subject="F1", regarding="R1"), **changed.get("test", {})},
    ]
    document = with_walkthrough(BEGUN)
    rows[0] |= changed.get("repair", {})
    document["records"] += rows
    return document


@pytest.mark.parametrize("liquid", ["removed", "none found", "part of the method"])
def test_all_three_parts_answer_an_unusual_condition(liquid):
    """40 CFR 280.50(b)(1)-(3)."""
    assert standing(condition_chain(liquid=liquid), "report-unusual-condition", "E1", JUDGED) == "met"


@pytest.mark.parametrize(
    ("paragraph", "document"),
    [
        ("(b)(1): not tested", condition_chain(test={"activity": "spill-cleanup"})),
        ("(b)(1): a leak was found", condition_chain(test={"outcome": "fail"})),
        ("(b)(1): tested after a day", condition_chain(test={"performed_at": TOO_LATE})),
        ("(b)(2): repaired after a day", condition_chain(repair={"performed_at": TOO_LATE})),
        ("(b)(2): the repair is about something else", condition_chain(repair={"regarding": None})),
        ("(b)(3): liquid left in", condition_chain(liquid="left")),
        ("(b)(3): nobody said what became of the liquid", condition_chain(liquid=None)),
    ],
)
def test_an_unusual_condition_with_a_part_missing_is_reported(paragraph, document):
    assert standing(document, "report-unusual-condition", "E1", JUDGED) == "overdue", paragraph


def test_a_sign_of_a_release_has_no_exception():
    """40 CFR 280.50(a): only the report answers it."""
    document = with_sign(BEGUN)
    document["records"] = [
        record("repair", IN_TIME, **{**REPAIR, "subject": "F1"}, liquid="removed"),
        record("system-test", IN_TIME, id="N1", subject="F1", regarding="R1"),
    ]

    assert standing(document, "report-noticed-sign", "E1", JUDGED) == "overdue"
