"""Late intervals of a window, with the evidence before and after.

The rule: 40 CFR 280.40(a)(3), a line leak detector is tested every year; the day counts read the calendar itself.
"""

from datetime import date

from compliance.rules.document import read_document
from compliance.rules.history import Late, late_history
from tests.compliance.rulepacks.federal import component, packs, record, site

RULE, SUBJECT = "annual-alld-test", "X1"


def detector_test(on: str, id: str, **rest):
    return record(
        "line-leak-detector-test",
        on,
        id=id,
        simulated_leak=True,
        leak_rate_gph=3.0,
        minutes_to_detect=4,
        **rest,
    )


def detector(*tests: dict, **lists) -> dict:
    line = component("piping_run", "P1", piping_style="pressure", brought_into_use_on="2019-01-15")
    part = component("line_leak_detector", SUBJECT, "P1", brought_into_use_on="2019-01-15")
    bucket = component("spill_bucket", "B1", brought_into_use_on="2019-01-15")
    return site(line, part, bucket, records=list(tests), **lists)


def late(document: dict, *, since=date(2019, 1, 1), until=date(2026, 3, 4), **asked) -> list[Late]:
    asked = {"rule": RULE, "subject": SUBJECT} | asked
    return late_history(read_document(document), packs(), since=since, until=until, **asked)


TESTED = [
    detector_test("2019-01-15", "R0"),
    detector_test("2020-01-10", "R1"),
    detector_test("2021-01-20", "R2"),
    detector_test("2022-01-20", "R3"),
    detector_test("2023-03-01", "R4"),
    detector_test("2024-02-29", "R5"),
]


def test_each_delay_is_told_with_its_days_and_the_tests_on_either_side():
    first, second, running = late(detector(*TESTED))

    assert (first.due, first.done, first.days_late) == (date(2021, 1, 10), date(2021, 1, 20), 10)
    assert (first.before, first.after) == (["R1"], ["R2"])
    assert (second.due, second.done, second.days_late) == (date(2023, 1, 20), date(2023, 3, 1), 40)
    assert (second.before, second.after) == (["R3"], ["R4"])
    assert (running.due, running.done, running.ended) == (date(2025, 2, 28), None, None)
    assert (running.days_late, running.before, running.after) == (369, ["R5"], [])


def test_a_window_leaves_out_what_had_ended_before_it():
    """A delay that ended on the first day of the window is in it."""
    document = detector(*TESTED[:5])

    assert [one.due for one in late(document, since=date(2023, 3, 1), until=date(2023, 6, 1))] == [
        date(2023, 1, 20)
    ]
    assert late(document, since=date(2023, 3, 2), until=date(2023, 6, 1)) == []


def test_the_window_ends_the_knowledge_of_deeds():
    [first, second] = late(detector(*TESTED), until=date(2023, 2, 1))

    assert first.done == date(2021, 1, 20)
    assert (second.due, second.done, second.days_late) == (date(2023, 1, 20), None, 12)


def test_a_delay_stays_although_the_line_was_closed_later():
    closing = [{"of": "S1", "on": "2023-06-01", "status": "closed in place"}]

    told = late(detector(*TESTED[:3], changes=closing))

    assert [(one.due, one.done, one.ended, one.days_late) for one in told] == [
        (date(2021, 1, 10), date(2021, 1, 20), date(2021, 1, 20), 10),
        (date(2022, 1, 20), None, date(2023, 6, 1), 497),
    ]


def test_what_was_recorded_later_is_left_out_of_what_was_known():
    backfilled = [*TESTED[:4], detector_test("2023-01-15", "R4", recorded_at="2024-06-01")]
    asked = {"since": date(2022, 6, 1), "until": date(2023, 6, 1)}

    assert late(detector(*backfilled), **asked) == []
    [running] = late(detector(*backfilled), **asked, known_at=date(2023, 6, 1))
    assert (running.due, running.days_late) == (date(2023, 1, 20), 132)


def test_a_filter_by_rule_and_subject_narrows_and_none_tells_of_all():
    document = detector(*TESTED)

    everything = late(document, rule=None, subject=None)

    assert {one.rule for one in everything} > {RULE}
    assert [one for one in everything if (one.rule, one.subject) == (RULE, SUBJECT)] == late(document)


def test_the_sentence_says_how_late_with_both_days():
    first, _, running = late(detector(*TESTED))

    assert first.sentence.endswith("due 2021-01-10, done 2021-01-20, 10 days late.")
    assert running.sentence.endswith("due 2025-02-28, not done, 369 days late so far.")
    assert "280.40(a)(3)" in first.cite


def test_an_hour_clock_that_was_missed_by_hours_is_late_by_less_than_a_day():
    """40 CFR 280.53(a): a spill of more than 25 gallons is reported within 24 hours."""
    spill = {"id": "SP1", "discovered_at": "2025-06-02T08:00", "gal_to_environment": 40.0}
    report = {
        "id": "R1",
        "activity": "report-to-agency",
        "performed_at": "2025-06-03T11:30",
        "regarding": "SP1",
        "measurements": {"report": "spill"},
    }
    document = site(spills=[spill], records=[report])

    [told] = late(document, rule="spill-report-petroleum", subject="SP1")

    assert (told.due.isoformat(), told.days_late) == ("2025-06-03T08:00:00-04:00", 0)
    assert told.after == ["R1"]
    assert told.sentence.endswith("due 2025-06-03 at 08:00, done 2025-06-03 at 11:30, less than a day late.")
