"""Each token of a schedule, on invented rules. Where the token comes from a text, the text decides the dates:

- rolling: 40 CFR 280.36(a) "at least every 30 days" (2 January and 27 February 2026 are 56 days apart);
- month and gap: 62-761.600(1)(d) F.A.C. "each calendar month", no more than 35 days apart;
- fixed dates: 310 CMR 80.49(2)(d), (e): late leaves the date, more than 30 days early moves it;
- a sequence at the start: 23 CCR 2637(a): at installation, six months later, then every 36 months;
- a window with a too-early side: 62-761.405(1) F.A.C.: 30 to 45 days before;
- before expiry: 30 TAC 334.8(c)(5): received 30 days before the certificate expires.
"""

from datetime import date

import pytest

from tests.compliance.rules.sites import cup_test, site

EVIDENCE = 'satisfied_by = [{ activity = "cup-test" }]'


def scheduled(version, schedule, evidence=EVIDENCE):
    return version(f"schedule = {{ {schedule} }}\n{evidence}")


def lateness(finding):
    return [(late.due, late.done, late.days_late) for late in finding.late_intervals]


def test_a_rolling_due_counts_from_the_last_completion(version, finding):
    packs = scheduled(version, 'every = "30 days"')

    found = finding(packs, site(cup_test("2026-01-02"), cup_test("2026-02-27")), date(2026, 2, 28))

    assert (found.standing, found.due) == ("met", date(2026, 3, 29))
    assert lateness(found) == [(date(2026, 2, 1), date(2026, 2, 27), 26)]


def test_early_completion_brings_the_next_rolling_due_forward(version, finding):
    packs = scheduled(version, 'every = "3 years"')

    found = finding(packs, site(cup_test("2024-10-20"), cup_test("2025-06-01")), date(2025, 7, 1))

    assert found.due == date(2028, 6, 1)


def test_next_takes_an_expression_of_the_last_completion(version, finding):
    packs = scheduled(version, 'next = "end of month 1 month after done"')

    assert finding(packs, site(cup_test("2026-01-31")), date(2026, 2, 1)).due == date(2026, 2, 28)


def test_the_first_alternative_that_is_true_gives_the_first_due(version, finding):
    older = "{ when = { brought_into_use_on__lte = 2015-10-13 }, due = 2018-10-13 }"
    first = f"[{older}, {{ due = 'on brought_into_use_on' }}]"
    packs = scheduled(version, f'every = "3 years", first = {first}')

    older = finding(packs, site(bucket={"brought_into_use_on": "2015-10-13"}), date(2017, 1, 1))
    newer = finding(packs, site(bucket={"brought_into_use_on": "2015-10-14"}), date(2015, 10, 14))

    assert (older.due, newer.due) == (date(2018, 10, 13), date(2015, 10, 14))


def test_an_unknown_alternative_leaves_the_first_due_unknown_and_names_the_fact(version, finding):
    first = "[{ when = { brought_into_use_on__lte = 2015-10-13 }, due = 2018-10-13 }, { due = 2020-01-01 }]"
    packs = scheduled(version, f'every = "3 years", first = {first}')

    found = finding(packs, site(), date(2026, 1, 1))

    assert (found.standing, found.due) == ("no record", None)
    assert [(fact.subject, fact.field) for fact in found.missing] == [("SB", "brought_into_use_on")]


def test_without_first_the_first_due_is_the_later_of_taking_effect_and_first_use(version, finding):
    packs = version(f'effective = 2018-10-13\nschedule = {{ every = "1 year" }}\n{EVIDENCE}')

    found = finding(packs, site(bucket={"brought_into_use_on": "2001-05-01"}), date(2018, 10, 1))

    assert found.standing == "not required"
    assert finding(packs, site(bucket={"brought_into_use_on": "2001-05-01"}), date(2018, 10, 13)).due == date(
        2018, 10, 13
    )


def test_a_completion_before_the_rule_took_effect_starts_the_rolling(version, finding):
    """Federal trap 8.4: a test of 2017 was due again in 2020, whatever first due 2018 says (40 CFR 280.35(b))."""
    packs = version(
        f'effective = 2015-10-13\nschedule = {{ every = "3 years", first = 2018-10-13 }}\n{EVIDENCE}'
    )

    assert finding(packs, site(cup_test("2017-05-01")), date(2019, 1, 1)).due == date(2020, 5, 1)


def test_milestones_are_answered_one_by_one_before_rolling_begins(version, finding):
    packs = scheduled(
        version, 'every = "36 months", first = "on installed_on", then = ["6 months after installed_on"]'
    )
    bucket = {"installed_on": "2024-01-15"}

    at_installation = finding(packs, site(cup_test("2024-01-15"), bucket=bucket), date(2024, 2, 1))
    six_months_on = finding(
        packs, site(cup_test("2024-01-15"), cup_test("2024-07-10"), bucket=bucket), date(2024, 8, 1)
    )

    assert at_installation.due == date(2024, 7, 15)
    assert six_months_on.due == date(2027, 7, 10)


def test_two_completions_on_one_day_answer_one_milestone(version, finding):
    packs = scheduled(
        version, 'every = "36 months", first = "on installed_on", then = ["6 months after installed_on"]'
    )
    twice = site(
        cup_test("2024-01-15T09:00"), cup_test("2024-01-15T15:00"), bucket={"installed_on": "2024-01-15"}
    )

    assert finding(packs, twice, date(2024, 2, 1)).due == date(2024, 7, 15)


def test_a_milestone_at_an_age_is_not_answered_ten_years_early(version, finding):
    """Public case FC76: interstice test at 20 years; one at ten years says nothing about the age."""
    then = '{ due = "20 years after installed_on", opens = "19 years after installed_on" }'
    packs = scheduled(version, f'every = "2 years", first = "on installed_on", then = [{then}]')
    tests = [cup_test("2004-06-01"), cup_test("2014-06-01")]

    found = finding(packs, site(*tests, bucket={"installed_on": "2004-06-01"}), date(2024, 6, 30))

    assert (found.standing, found.due, found.days_late) == ("overdue", date(2024, 6, 1), 29)
    assert [row.evidence for row in found.not_counted] == ["cup-test@2014-06-01"]


@pytest.mark.parametrize(
    ("second", "late"), [("2026-02-05", []), ("2026-02-08", [(date(2026, 2, 5), date(2026, 2, 8), 3)])]
)
def test_once_a_month_may_still_be_too_far_apart(version, finding, second, late):
    packs = scheduled(version, 'each = "calendar month", max_gap = "35 days"')

    found = finding(packs, site(cup_test("2026-01-01"), cup_test(second)), date(2026, 2, 10))

    assert lateness(found) == late


def test_once_a_month_is_due_by_the_end_of_the_next_month(version, finding):
    packs = scheduled(version, 'each = "calendar month"')

    assert finding(packs, site(cup_test("2026-01-01")), date(2026, 1, 2)).due == date(2026, 2, 28)


ANCHORED = 'anchor = "on installed_on", every = "3 years", rebase_if_early = "30 days"'


@pytest.mark.parametrize(
    ("done", "next_due"),
    [
        ("2026-04-06", date(2029, 5, 6)),  # 30 days early: the dates stay
        ("2026-04-05", date(2029, 4, 5)),  # 31 days early: a new anchor
        ("2026-05-20", date(2029, 5, 6)),  # late: the dates stay
    ],
)
def test_fixed_dates_stay_unless_a_filing_is_more_than_thirty_days_early(version, finding, done, next_due):
    packs = scheduled(version, ANCHORED)

    found = finding(packs, site(cup_test(done), bucket={"installed_on": "2023-05-06"}), date(2026, 6, 1))

    assert found.due == next_due


def test_one_early_filing_does_not_answer_two_fixed_dates(version, finding):
    packs = scheduled(version, 'anchor = "on installed_on", every = "1 year"')
    rows = [cup_test("2025-03-01"), cup_test("2025-03-02")]

    found = finding(packs, site(*rows, bucket={"installed_on": "2024-05-06"}), date(2025, 4, 1))

    assert found.due == date(2026, 5, 6)


def test_fixed_dates_do_not_drift_at_month_ends(version, finding):
    packs = scheduled(version, 'anchor = "on installed_on", every = "1 month"')
    rows = [cup_test("2026-02-28"), cup_test("2026-03-30")]

    found = finding(packs, site(*rows, bucket={"installed_on": "2026-01-31"}), date(2026, 4, 1))

    assert found.due == date(2026, 4, 30)
    assert not found.late_intervals


def test_a_missed_stretch_of_fixed_dates_is_one_late_interval(version, finding):
    packs = scheduled(version, 'anchor = "on installed_on", every = "1 year"')
    rows = [cup_test("2021-05-01"), cup_test("2024-06-01")]

    found = finding(packs, site(*rows, bucket={"installed_on": "2020-05-06"}), date(2024, 7, 1))

    assert lateness(found) == [(date(2022, 5, 6), date(2024, 6, 1), 757)]
    assert found.due == date(2025, 5, 6)


def test_a_yearly_date_is_first_owed_after_the_rule_took_effect(version, finding):
    packs = version(f'effective = 2020-08-01\nschedule = {{ annual_on = "07-01" }}\n{EVIDENCE}')

    assert finding(packs, site(), date(2020, 9, 1)).due == date(2021, 7, 1)


def test_a_yearly_date_may_come_from_a_table_and_be_led(packs, finding):
    text = """
    pack = "invented"
    [[rule]]
    id = "renewal"
    title = "Invented renewal"
    subject = "facility"
    [[rule.version]]
    effective = 2020-01-01
    schedule = { annual_on = { key = "owner_number_last_digit", table = { 7 = "08-31" } }, lead = "30 days" }
    satisfied_by = [{ activity = "document-received", outcome = "any" }]
    cite = "Invented Code 2"
    verified = "M"
    """

    known = finding(packs(text), site(facility={"owner_number_last_digit": 7}), date(2020, 2, 1), subject="F")
    unknown = finding(packs(text), site(), date(2020, 2, 1), subject="F")

    assert known.due == date(2020, 8, 1)
    assert (unknown.standing, unknown.missing[0].field) == ("no record", "owner_number_last_digit")


EVENT = """
pack = "invented"
[[rule]]
id = "event-duty"
title = "Invented duty"
subject = "plan"
[[rule.version]]
schedule = { SCHEDULE }
evidence_on = "facility"
satisfied_by = [{ activity = "notice-to-agency", outcome = "any", where = { regarding = "=id" } }]
cite = "Invented Code 3"
verified = "M"
"""


def planned(*noticed):
    plan = {"id": "P", "type": "installation", "planned_on": "2026-07-15", "planned_at": "2026-07-15T08:00"}
    rows = [{"activity": "notice-to-agency", "performed_at": day, "regarding": "P"} for day in noticed]
    return site(*rows, plans=[plan])


@pytest.mark.parametrize(
    ("noticed", "standing"),
    [
        ("2026-05-30", "due soon"),  # 46 days before: too early, still open
        ("2026-05-31", "met"),  # 45 days
        ("2026-06-15", "met"),  # 30 days
    ],
)
def test_too_early_in_a_window_does_not_count(packs, finding, noticed, standing):
    window = 'opens = "45 days before planned_at", due = "30 days before planned_at"'
    found = finding(
        packs(EVENT.replace("SCHEDULE", window)), planned(noticed), date(2026, 6, 15), subject="P"
    )

    assert (found.standing, found.due) == (standing, date(2026, 6, 15))


def test_a_clock_in_hours_is_due_at_an_instant(packs, finding):
    found = finding(
        packs(EVENT.replace("SCHEDULE", 'due = "48 hours before planned_at"')),
        planned(),
        date(2026, 7, 1),
        subject="P",
    )

    assert found.due.isoformat() == "2026-07-13T08:00:00-04:00"


def test_the_earliest_evidence_answers_a_one_off(packs, finding):
    text = EVENT.replace("SCHEDULE", 'due = "30 days before planned_on"')

    found = finding(packs(text), planned("2026-06-10", "2026-06-20"), date(2026, 7, 1), subject="P")

    assert (found.standing, found.evidence, found.late_intervals) == (
        "met",
        ["notice-to-agency@2026-06-10"],
        [],
    )


def test_a_one_off_done_late_is_met_with_a_late_interval(packs, finding):
    text = EVENT.replace("SCHEDULE", 'due = "30 days before planned_on"')

    found = finding(packs(text), planned("2026-06-20"), date(2026, 7, 1), subject="P")

    assert (found.standing, lateness(found)) == ("met", [(date(2026, 6, 15), date(2026, 6, 20), 5)])


COVER = """
pack = "invented"
[[rule]]
id = "cover"
title = "Invented cover"
subject = "facility"
[[rule.version]]
schedule = { always = true }
satisfied_by = [{ kind = "document", type = "registration" }]
cite = "Invented Code 4"
verified = "M"
"""


def papers(*days):
    rows = [{"type": "registration", "issued_on": first, "expires_on": last} for first, last in days]
    return site(documents=rows)


@pytest.mark.parametrize(
    ("at", "standing"),
    [
        (date(2026, 11, 30), "met"),
        (date(2026, 12, 1), "due soon"),
        (date(2026, 12, 31), "due soon"),
        (date(2027, 1, 1), "overdue"),
    ],
)
def test_cover_holds_to_the_end_of_its_last_day(packs, finding, at, standing):
    found = finding(packs(COVER), papers(("2026-01-01", "2026-12-31")), at, subject="F")

    assert (found.standing, found.due) == (standing, date(2026, 12, 31))


def test_cover_that_follows_on_the_next_day_leaves_no_gap(packs, finding):
    joined = papers(("2025-01-01", "2025-12-31"), ("2026-01-01", "2026-12-31"))

    found = finding(packs(COVER), joined, date(2026, 2, 1), subject="F")

    assert (found.due, found.late_intervals) == (date(2026, 12, 31), [])


def test_uncovered_days_are_a_late_interval(packs, finding):
    gap = papers(("2025-01-01", "2025-12-31"), ("2026-01-04", "2026-12-31"))

    found = finding(packs(COVER), gap, date(2026, 2, 1), subject="F")

    assert lateness(found) == [(date(2025, 12, 31), date(2026, 1, 4), 3)]


def test_no_cover_ever_is_no_record(packs, finding):
    assert finding(packs(COVER), papers(), date(2026, 2, 1), subject="F").standing == "no record"


def test_a_paper_without_a_last_day_cannot_be_decided(packs, finding):
    found = finding(packs(COVER), papers(("2026-01-01", None)), date(2026, 2, 1), subject="F")

    assert (found.standing, found.missing[0].field) == ("cannot decide", "expires_on")
