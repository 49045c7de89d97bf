"""Alarms, spills and releases: which clock runs, and what has to be proven to stop it."""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import component, finding, lacks, record, site, standing

REPORT, INVESTIGATE = "report-suspected-release", "investigate-suspected-release"
RAISED = "2025-06-10T08:00"
IN_TIME, TOO_LATE = "2025-06-11T08:00", "2025-06-11T08:01"
"""The 24th hour itself, and the minute after it."""
JUDGED = "2025-06-12T12:00"

UNUSUAL, RESULT = "unusual operating condition", "monitoring result"


def alarm(kind: str, type: str | None = None, condition: str = "sump-liquid", **rest: object) -> dict:
    """An alarm with the disposition of that type; what is not a fact of the alarm is its evidence."""
    facts = {
        name: rest.pop(name)
        for name in ("no_liquid", "liquid_is_method", "discovered_at", "cleared_at")
        if name in rest
    }
    row = {"id": "A1", "condition": condition, "condition_class": kind, "raised_at": RAISED, **facts}
    if type is not None:
        row["disposition"] = {"type": type, "at": "2025-06-11T09:00", "evidence": rest}
    return site(component("containment_sump"), alarms=[{"component": "X1", **row}])


B = {"checked_at": IN_TIME, "repaired_at": IN_TIME, "liquid_removed_at": IN_TIME}
C1 = {"repaired_at": IN_TIME, "clean_result_at": "2025-06-11T08:30", "record": "clean"}
C2 = {"repaired_at": IN_TIME, "liquid_removed_at": IN_TIME}
C4 = {"investigated_at": IN_TIME, "cause": "the tank was filled during the test"}

WATER = {**B, "cause": "rain through the lid"}
NO_DEFECT = {**WATER, "repaired_at": None, "no_defect": True}
SOUND = {**B, "repaired_at": None, "no_defect": True}
CHECKED = {"record": "check", "cleared_at": "2025-06-10T08:20"}

RECORDS = {
    "M2": record("inventory-month", "2025-06-11", id="M2", throughput_gal=9000, net_gal=220),
    "over": record("inventory-month", "2025-06-11", id="over", throughput_gal=9000, net_gal=-221),
    "clean": record("tank-monitoring-result", "2025-06-11T08:30", id="clean"),
    "leak": record("tank-monitoring-result", "2025-06-11T08:30", id="leak", outcome="fail"),
    "unclear": record("tank-monitoring-result", "2025-06-11T08:30", id="unclear", outcome=None),
    "before": record("tank-monitoring-result", "2025-06-11T07:00", id="before"),
    "sensor": record("probe-sensor-test", "2025-06-11T08:30", id="sensor"),
    "check": record("sensor-function-check", "2025-06-10T08:10", id="check"),
    "mute": record("sensor-function-check", "2025-06-10T08:10", id="mute", outcome="fail"),
}
"""What the answers name. 1.0 percent of 9,000 gallons and 130 are 220 gallons: 40 CFR 280.43(a)."""


def on_file(document: dict, *others: dict) -> dict:
    """The document with the records that its answer names."""
    answer = document["alarms"][0].get("disposition") or {"evidence": {}}
    named = [answer["evidence"].get(name) for name in ("record", "second_month")]
    return document | {"records": [*(RECORDS[one] for one in named if one), *others]}


EXCUSED = [
    ("280.50(b)(1)-(3)", alarm(UNUSUAL, "not releasing, fixed", **B)),
    (
        "280.50(b)(1), (2): no liquid was in it",
        alarm(UNUSUAL, "not releasing, fixed", no_liquid=True, checked_at=IN_TIME, repaired_at=IN_TIME),
    ),
    ("280.50(b)(2): the check found no defective part", alarm(UNUSUAL, "not releasing, fixed", **SOUND)),
    (
        "280.50(b)(1), (2): a sale that nobody had entered",
        alarm(
            UNUSUAL,
            "not releasing, fixed",
            condition="sudden-loss",
            no_liquid=True,
            checked_at=IN_TIME,
            no_defect=True,
        ),
    ),
    ("280.50(c)(1)", alarm(RESULT, "device fault", **C1)),
    ("280.50(c)(2)", alarm(RESULT, "contained", **C2)),
    (
        "280.50(c)(2): the liquid belongs to the method",
        alarm(RESULT, "contained", liquid_is_method=True, repaired_at=IN_TIME),
    ),
    ("280.50(c)(4)", alarm(RESULT, "non-release event", **C4)),
    ("280.50(b)(1)-(3): water", alarm(UNUSUAL, "water removed", **WATER)),
    ("280.50(b)(2): nothing was defective", alarm(UNUSUAL, "water removed", **NO_DEFECT)),
    ("280.50(c)(4): water", alarm(RESULT, "water removed", condition="tank-interstice-liquid", **NO_DEFECT)),
    ("280.50(c)(4), as read here", alarm(RESULT, "exercise", **CHECKED)),
    ("280.50(c)(4), as read here", alarm(UNUSUAL, "exercise", **CHECKED)),
]

RUNNING = [
    ("280.50(a)-(c): nothing was recorded", alarm(RESULT)),
    (
        "280.50(b)(2): repaired after a day",
        alarm(UNUSUAL, "not releasing, fixed", **{**B, "repaired_at": TOO_LATE}),
    ),
    (
        "280.50(b)(3): liquid left in",
        alarm(UNUSUAL, "not releasing, fixed", checked_at=IN_TIME, repaired_at=IN_TIME),
    ),
    (
        "280.50(b)(3): liquid left in a sound sump",
        alarm(UNUSUAL, "not releasing, fixed", **{**SOUND, "liquid_removed_at": None}),
    ),
    (
        "280.50(b)(1): a sound part that was never checked",
        alarm(UNUSUAL, "not releasing, fixed", **{**SOUND, "checked_at": None}),
    ),
    (
        "280.50(b)(2): a part was defective, and nobody repaired it",
        alarm(UNUSUAL, "not releasing, fixed", **{**SOUND, "no_defect": False}),
    ),
    ("280.50(b)(1): never checked", alarm(UNUSUAL, "not releasing, fixed", **{**B, "checked_at": None})),
    ("280.50(c)(1): no clean result", alarm(RESULT, "device fault", repaired_at=IN_TIME)),
    *(
        (f"280.50(c)(1): the result is {name}", alarm(RESULT, "device fault", **{**C1, "record": name}))
        for name in ("leak", "unclear", "before", "sensor", None)
    ),
    *(
        (f"280.50(b): {name} is missing", alarm(UNUSUAL, "water removed", **{**WATER, name: None}))
        for name in WATER
    ),
    *(
        (f"280.50(b): {name} after a day", alarm(UNUSUAL, "water removed", **{**WATER, name: TOO_LATE}))
        for name in B
    ),
    (
        "280.50(b)(2): somebody says that a part was defective",
        alarm(UNUSUAL, "water removed", **{**NO_DEFECT, "no_defect": False}),
    ),
    (
        "280.50(c)(2): fuel is no water",
        alarm(RESULT, "water removed", condition="sump-fuel", **NO_DEFECT),
    ),
    ("the sensor did not answer", alarm(RESULT, "exercise", **{**CHECKED, "record": "mute"})),
    ("any record will not do", alarm(RESULT, "exercise", **{**CHECKED, "record": "sensor"})),
    ("no record", alarm(RESULT, "exercise", cleared_at=CHECKED["cleared_at"])),
    ("the alarm stands yet", alarm(RESULT, "exercise", record="check")),
    *(
        (f"{type!r} is no exception", alarm(RESULT, type, **{**B, **C4, "action": "done", "record": "clean"}))
        for type in (
            "fault put right",
            "filed as suspected release",
            "no release found",
            "confirmed release",
        )
    ),
    ("280.50(c)(2): liquid left in", alarm(RESULT, "contained", repaired_at=IN_TIME)),
    ("280.50(c)(4): no cause", alarm(RESULT, "non-release event", investigated_at=IN_TIME)),
    ("280.50(c): the exception of (b) is none of (c)", alarm(RESULT, "not releasing, fixed", **B)),
    ("280.50(b): the exceptions of (c) are none of (b)", alarm(UNUSUAL, "device fault", **C1)),
    (
        "280.50(a): product found outside has no exception",
        alarm("released product", "non-release event", condition="product-found-outside", **C4),
    ),
    (
        "280.50(b)(1): checked after a day",
        alarm(UNUSUAL, "not releasing, fixed", **{**B, "checked_at": TOO_LATE}),
    ),
    (
        "280.50(b)(3): emptied after a day",
        alarm(UNUSUAL, "not releasing, fixed", **{**B, "liquid_removed_at": TOO_LATE}),
    ),
    ("280.50(c)(1): repaired after a day", alarm(RESULT, "device fault", **{**C1, "repaired_at": TOO_LATE})),
    ("280.50(c)(2): repaired after a day", alarm(RESULT, "contained", **{**C2, "repaired_at": TOO_LATE})),
    (
        "280.50(c)(2): emptied after a day",
        alarm(RESULT, "contained", **{**C2, "liquid_removed_at": TOO_LATE}),
    ),
    (
        "280.50(c)(4): looked into after a day",
        alarm(RESULT, "non-release event", **{**C4, "investigated_at": TOO_LATE}),
    ),
    (
        "280.50(c)(3): inventory control only",
        alarm(RESULT, "second month clears", condition="tank-test-fail", second_month="M2"),
    ),
]


@pytest.mark.parametrize(("paragraph", "document"), EXCUSED)
def test_an_exception_with_all_its_parts_stops_both_clocks(paragraph, document):
    document = on_file(document)

    assert standing(document, REPORT, "A1", JUDGED) == "not required", paragraph
    assert standing(document, INVESTIGATE, "A1", JUDGED) == "not required", paragraph


@pytest.mark.parametrize(("paragraph", "document"), RUNNING)
def test_an_exception_that_lacks_a_part_stops_nothing(paragraph, document):
    document = on_file(document)

    assert standing(document, REPORT, "A1", JUDGED) == "overdue", paragraph
    assert standing(document, INVESTIGATE, "A1", JUDGED) == "due soon", paragraph


@pytest.mark.parametrize(
    ("correction", "expected"),
    [
        ({"outcome": "fail"}, "overdue"),
        ({"outcome": "pass"}, "not required"),
        ({"withdrawn": "x"}, "not required"),
    ],
)
def test_a_clean_result_that_was_corrected_counts_as_it_stands_by_now(correction, expected):
    """40 CFR 280.50(c)(1): what does not confirm the first result is the result, not its first telling."""
    later = (
        record("tank-monitoring-result", "2025-06-11T08:30", id="R2") | {"supersedes": "clean"} | correction
    )
    document = on_file(alarm(RESULT, "device fault", **C1), later)

    assert standing(document, REPORT, "A1", JUDGED) == expected


def test_a_clean_result_shows_nothing_before_it_was_there():
    """40 CFR 280.50(c)(1): somebody states the answer for an hour at which there was no clean result yet."""
    later = RECORDS["clean"] | {"performed_at": "2025-06-12T10:00"}
    document = alarm(RESULT, "device fault", **C1) | {"records": [later]}

    assert standing(document, REPORT, "A1", "2025-06-12T09:59") == "overdue"
    assert standing(document, REPORT, "A1", "2025-06-12T10:00") == "not required"


def test_a_clean_result_that_was_withdrawn_shows_nothing():
    """40 CFR 280.50(c)(1)."""
    document = alarm(RESULT, "device fault", **C1)
    document["records"] = [RECORDS["clean"] | {"withdrawn": "another tank"}]

    assert standing(document, REPORT, "A1", JUDGED) == "overdue"


def test_a_filed_report_answers_the_24_hours_and_leaves_the_investigation_due():
    """40 CFR 280.50: report within 24 hours; 280.52: investigate within 7 days all the same."""
    report = record(
        "report-to-agency",
        "2025-06-11T08:00",
        id="told",
        subject="F1",
        outcome=None,
        report="suspected release",
        regarding="A1",
    )
    document = alarm(RESULT, "filed as suspected release", record="told") | {"records": [report]}

    assert standing(document, REPORT, "A1", JUDGED) == "met"
    assert standing(document, INVESTIGATE, "A1", JUDGED) == "due soon"


def test_an_exception_does_not_reach_back_before_it_was_recorded():
    """40 CFR 280.50: at noon nobody had answered yet, whatever was entered the next day."""
    document = alarm(UNUSUAL, "not releasing, fixed", **B)

    assert standing(document, REPORT, "A1", "2025-06-10T12:00") == "due soon"


def test_the_clock_starts_when_somebody_finds_out():
    """40 CFR 280.50: within 24 hours of discovery."""
    document = alarm(RESULT, discovered_at="2025-06-11T07:00")

    assert standing(document, REPORT, "A1", "2025-06-12T07:00") == "due soon"
    assert standing(document, REPORT, "A1", "2025-06-12T07:01") == "overdue"


@pytest.mark.parametrize("kind", ["equipment fault", "operating"])
def test_a_fault_of_the_equipment_starts_no_reporting_clock(kind):
    """40 CFR 280.50: neither released product, nor an unusual condition, nor a monitoring result."""
    assert standing(alarm(kind, condition="power-lost"), REPORT, "A1", JUDGED) == "not required"


def months(first: float, second: float, gallons: int = 25_000) -> dict:
    rows = [
        record("inventory-month", "2025-05-31", id="M1", net_gal=first, throughput_gal=gallons),
        record("inventory-month", "2025-06-30", id="M2", net_gal=second, throughput_gal=gallons),
    ]
    return site(component("tank", release_detection=["inventory control"]), records=rows)


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (381, -381, "due soon"),
        (381, 380, "not required"),
        (380, 381, "not required"),
        (-381, -381, "due soon"),
    ],
)
def test_two_months_in_a_row_beyond_one_percent_and_130_gallons_are_reported(first, second, expected):
    """40 CFR 280.43(a): 1.0 percent of 25,000 gallons plus 130 gallons is 380 gallons."""
    document = months(first, second)

    assert standing(document, "report-suspected-release-inventory", "M2", "2025-06-30") == expected


def test_a_month_without_its_throughput_cannot_be_decided():
    """40 CFR 280.43(a): the limit hangs on what went through."""
    document = months(500, 500)
    del document["records"][1]["measurements"]["throughput_gal"]

    found = finding(document, "report-suspected-release-inventory", "M2", "2025-06-30")

    assert found.standing == "cannot decide"
    assert lacks(found, "throughput_gal")


def spill(gallons: float | None, sheen: bool | None) -> dict:
    row = {"id": "SP1", "discovered_at": RAISED, "gal_to_environment": gallons, "sheen": sheen}
    return site(spills=[row])


@pytest.mark.parametrize(
    ("gallons", "sheen", "report", "cleanup"),
    [
        (24.9, False, "not required", "due soon"),
        (25, False, "due soon", "not required"),
        (25.1, False, "due soon", "not required"),
        (1, True, "due soon", "not required"),
        (None, True, "due soon", "not required"),
        (12, None, "cannot decide", "cannot decide"),
        (None, False, "cannot decide", "cannot decide"),
        (26, None, "due soon", "not required"),
    ],
)
def test_a_spill_is_reported_from_25_gallons_or_with_any_sheen(gallons, sheen, report, cleanup):
    """40 CFR 280.53(a)(1), (b). Exactly 25 gallons, in neither, is read as reportable; a sheen is never assumed."""
    document = spill(gallons, sheen)

    assert standing(document, "spill-report-petroleum", "SP1", "2025-06-10T12:00") == report
    assert standing(document, "small-spill-cleanup", "SP1", "2025-06-10T12:00") == cleanup


def test_an_agency_that_set_another_amount_in_writing_changes_the_limit_for_that_spill():
    """40 CFR 280.53(a)(1): or another reasonable amount specified by the implementing agency."""
    document = spill(20, False)
    document["documents"] = [{"id": "L1", "type": "agency letter"}]
    document["overrides"] = [
        {"rule": "spill-report-petroleum", "subject": "SP1", "params": {"gal": 10}, "document": "L1"}
    ]

    assert standing(document, "spill-report-petroleum", "SP1", "2025-06-10T12:00") == "due soon"


def test_the_45_day_reports_run_side_by_side_with_the_20_day_one():
    """40 CFR 280.62(b), 280.63(b), 280.64(d): all from confirmation."""
    release = {"id": "R1", "confirmed_at": "2025-01-15T10:00", "free_product": True}
    document = site(releases=[release])

    due = {
        rule: finding(document, rule, "R1", "2025-01-20").due
        for rule in ("abatement-report", "site-characterisation-report", "free-product-report")
    }

    assert due == {
        "abatement-report": date(2025, 2, 4),
        "site-characterisation-report": date(2025, 3, 1),
        "free-product-report": date(2025, 3, 1),
    }


def test_a_release_identified_before_it_was_confirmed_is_reported_from_then():
    """40 CFR 280.61: within 24 hours of a release; anchored on the earlier of the two."""
    release = {"id": "R1", "identified_at": "2025-01-14T10:00", "confirmed_at": "2025-01-15T10:00"}
    document = site(releases=[release])

    assert standing(document, "confirmed-release-initial-response", "R1", "2025-01-15T10:01") == "overdue"


def test_a_release_without_a_stated_day_of_identification_counts_from_confirmation():
    """40 CFR 280.61: upon confirmation."""
    document = site(releases=[{"id": "R1", "confirmed_at": "2025-01-15T10:00"}])

    assert standing(document, "confirmed-release-initial-response", "R1", "2025-01-16T10:00") == "due soon"
    assert standing(document, "confirmed-release-initial-response", "R1", "2025-01-16T10:01") == "overdue"


def test_a_planned_test_excuses_only_if_its_record_is_named():
    """40 CFR 280.50(c)(4) gives examples of that kind; never for product found outside."""
    document = alarm(RESULT, "planned test", record="T1")
    document["records"] = [record("probe-sensor-test", "2025-06-10", id="T1", subject="X1")]

    assert standing(document, REPORT, "A1", JUDGED) == "not required"
    assert standing(alarm(RESULT, "planned test"), REPORT, "A1", JUDGED) == "overdue"
