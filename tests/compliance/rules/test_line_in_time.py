"""What suspension, exemption, election and changing law do to a due date.

The readings follow 40 CFR 280.70(a) (a system in temporary closure keeps its duties unless empty) and are choices on
the safe side where the text is silent: nothing is late before the duty existed, and a suspension never lengthens an
interval.
"""

from datetime import date

import pytest

from tests.compliance.rules.sites import cup_test, site

EVIDENCE = 'satisfied_by = [{ activity = "cup-test" }]'
MONTHLY = 'schedule = { every = "30 days" }\n' + EVIDENCE
SLEEPING = 'suspended_when = { status = "temporarily out of service" }\n' + MONTHLY


def closed(first, last=None):
    rows = [{"of": "S", "on": first, "status": "temporarily out of service"}]
    return rows + ([{"of": "S", "on": last, "status": "currently in use"}] if last else [])


def test_a_due_within_a_suspension_moves_to_the_day_of_return(version, finding):
    found = finding(
        version(SLEEPING),
        site(cup_test("2026-01-10"), changes=closed("2026-01-20", "2026-04-01")),
        date(2026, 4, 1),
    )

    assert (found.standing, found.due) == ("due soon", date(2026, 4, 1))


def test_a_due_missed_before_the_suspension_stays_missed(version, finding):
    changes = closed("2026-03-01", "2026-04-01")

    found = finding(version(SLEEPING), site(cup_test("2026-01-10"), changes=changes), date(2026, 4, 2))

    assert (found.standing, found.due, found.days_late) == ("overdue", date(2026, 2, 9), 52)


def test_a_due_after_the_return_is_not_moved(version, finding):
    found = finding(
        version(SLEEPING),
        site(cup_test("2026-01-10"), changes=closed("2026-01-12", "2026-01-20")),
        date(2026, 1, 25),
    )

    assert found.due == date(2026, 2, 9)


def test_a_suspended_duty_shows_the_date_that_waits(version, finding):
    found = finding(
        version(SLEEPING), site(cup_test("2026-01-10"), changes=closed("2026-01-20")), date(2026, 3, 1)
    )

    assert (found.standing, found.due, found.days_late) == ("suspended", date(2026, 2, 9), 20)


def test_what_is_done_during_a_suspension_counts(version, finding):
    document = site(
        cup_test("2026-01-10"), cup_test("2026-03-20"), changes=closed("2026-01-20", "2026-04-01")
    )

    found = finding(version(SLEEPING), document, date(2026, 4, 2))

    assert (found.due, found.late_intervals) == (date(2026, 4, 19), [])


def test_days_of_grace_after_the_return_are_added(version, finding):
    graced = SLEEPING.replace('every = "30 days"', 'every = "30 days", resume = "7 days"')
    document = site(cup_test("2026-01-10"), changes=closed("2026-01-20", "2026-04-01"))

    assert finding(version(graced), document, date(2026, 4, 2)).due == date(2026, 4, 8)


def test_a_duty_that_begins_with_a_fact_is_due_that_day_and_not_before(version, finding):
    applies = (
        'applies = { both_walls_monitored = false }\nschedule = { every = "3 years", first = 2018-10-13 }\n'
    )
    document = site(
        bucket={"both_walls_monitored": True},
        changes=[{"of": "SB", "on": "2026-03-01", "both_walls_monitored": False}],
    )

    found = finding(version(applies + EVIDENCE), document, date(2026, 3, 3))

    assert (found.standing, found.due, found.days_late) == ("no record", date(2026, 3, 1), 2)


def test_an_unproven_suspension_does_not_suspend_but_is_named(version, finding):
    empty = 'suspended_when = { status = "temporarily out of service", residue_in__lte = 1.0 }\n' + MONTHLY

    found = finding(
        version(empty), site(cup_test("2026-01-10"), changes=closed("2026-01-20")), date(2026, 3, 1)
    )

    assert found.standing == "overdue"
    assert [(fact.subject, fact.field) for fact in found.could_change] == [("SB", "residue_in")]


def test_a_residue_measured_for_an_earlier_closure_proves_nothing(version, finding):
    empty = 'suspended_when = { status = "temporarily out of service", residue_in__lte = 1.0 }\n' + MONTHLY
    rows = closed("2025-01-01", "2025-06-01") + closed("2026-01-20")
    rows[0]["residue_in"] = 0.5

    found = finding(version(empty), site(cup_test("2026-01-10"), changes=rows), date(2026, 3, 1))

    assert found.standing == "overdue"


def test_a_longer_interval_counts_from_the_last_completion_once_it_takes_effect(version, finding):
    packs = version(
        f'effective = 2020-01-01\nschedule = {{ every = "12 months" }}\n{EVIDENCE}',
        f'effective = 2022-07-01\nschedule = {{ every = "36 months" }}\n{EVIDENCE}',
    )

    assert finding(packs, site(cup_test("2021-08-15")), date(2022, 7, 1)).due == date(2024, 8, 15)


def test_a_shorter_interval_is_not_due_before_it_takes_effect(version, finding):
    packs = version(
        f'effective = 2020-01-01\nschedule = {{ every = "36 months" }}\n{EVIDENCE}',
        f'effective = 2022-07-01\nschedule = {{ every = "12 months" }}\n{EVIDENCE}',
    )

    found = finding(packs, site(cup_test("2020-08-15")), date(2022, 6, 1))

    assert (found.standing, found.due) == ("due soon", date(2022, 7, 1))


def test_a_new_wording_that_would_not_call_it_late_ends_the_delay(version, finding):
    packs = version(
        f'effective = 2020-01-01\nschedule = {{ every = "12 months" }}\n{EVIDENCE}',
        f'effective = 2022-07-01\nschedule = {{ every = "36 months" }}\n{EVIDENCE}',
    )

    found = finding(packs, site(cup_test("2021-05-15")), date(2022, 7, 2))

    assert (found.standing, found.due) == ("met", date(2024, 5, 15))
    assert [(late.due, late.done, late.days_late) for late in found.late_intervals] == [
        (date(2022, 5, 15), None, 47)
    ]


def test_the_old_wording_judges_the_past(version, finding):
    packs = version(
        f'effective = 2018-01-01\nschedule = {{ every = "12 months" }}\n{EVIDENCE}',
        f'effective = 2022-07-01\nschedule = {{ every = "36 months" }}\n{EVIDENCE}',
    )

    found = finding(packs, site(cup_test("2019-01-10"), cup_test("2020-03-10")), date(2023, 1, 1))

    assert [(late.due, late.done) for late in found.late_intervals] == [
        (date(2020, 1, 10), date(2020, 3, 10)),
        (date(2021, 3, 10), None),
    ]


def test_a_duty_that_is_lifted_for_some_years_is_due_on_the_day_it_returns(version, finding):
    """The shape of a tank fee suspended from 2021-07-01 to 2026-06-30 (Tennessee agency page)."""
    packs = version(
        f'effective = 1990-07-01\nschedule = {{ annual_on = "07-01" }}\n{EVIDENCE}',
        "effective = 2021-07-01\noff = true",
        f'effective = 2026-07-01\nschedule = {{ annual_on = "07-01" }}\n{EVIDENCE}',
    )
    paid = site(cup_test("2019-07-01"), cup_test("2020-06-25"))

    lifted, returned = finding(packs, paid, date(2025, 1, 1)), finding(packs, paid, date(2026, 7, 1))

    assert lifted.standing == "not required"
    assert (returned.due, returned.days_late, returned.late_intervals) == (date(2026, 7, 1), 0, [])


@pytest.mark.parametrize(("done", "counts"), [("2021-03-01", True), ("2023-03-01", False)])
def test_the_wording_of_the_day_judges_a_test(version, finding, done, counts):
    """A method given up later does not undo old tests, and is no good for new ones."""
    both = 'satisfied_by = [{ activity = "cup-test", accept = { measurements__method__in = ["visual", "liquid"] } }]'
    one = 'satisfied_by = [{ activity = "cup-test", accept = { measurements__method = "liquid" } }]'
    packs = version(
        f'effective = 2020-01-01\nschedule = {{ every = "3 years" }}\n{both}',
        f'effective = 2022-07-01\nschedule = {{ every = "3 years" }}\n{one}',
    )

    found = finding(packs, site(cup_test(done, measurements={"method": "visual"})), date(2023, 6, 1))

    assert bool(found.evidence) is counts


def test_a_one_off_that_fell_due_before_the_rule_took_effect_is_no_duty(packs, finding):
    text = """
    pack = "invented"
    [[rule]]
    id = "retest"
    title = "Invented retest"
    subject = "record"
    [[rule.version]]
    effective = 2015-10-13
    applies = { activity = "repair" }
    schedule = { due = "30 days after performed_at" }
    evidence_on = "subject"
    satisfied_by = [{ activity = "cup-test" }]
    cite = "Invented Code 5"
    verified = "M"
    """
    repairs = [
        {"id": day, "activity": "repair", "subject": "SB", "performed_at": day}
        for day in ("2015-09-12", "2015-09-13")
    ]

    before = finding(packs(text), site(*repairs), date(2016, 1, 1), subject="2015-09-12")
    after = finding(packs(text), site(*repairs), date(2016, 1, 1), subject="2015-09-13")

    assert (before.standing, after.standing) == ("not required", "overdue")


def test_nothing_is_required_of_what_is_removed_or_closed(version, finding):
    removed = finding(version(MONTHLY), site(bucket={"removed_on": "2026-01-05"}), date(2026, 1, 5))
    closed_down = [{"of": "S", "on": "2026-01-05", "status": "closed in place"}]

    assert removed.standing == "not required"
    assert finding(version(MONTHLY), site(changes=closed_down), date(2026, 1, 5)).standing == "not required"
