"""The door of the engine: which packs apply, which moment is judged, and what is judged at all."""

from datetime import UTC, date, datetime

import pytest

from compliance.rules.document import DocumentError, read_document
from compliance.rules.judging import judge
from tests.compliance.rules.sites import cup_test, site

RETEST = """
[[rule]]
id = "retest"
title = "Invented retest"
subject = "record"
[[rule.version]]
applies = { activity = "repair" }
schedule = { due = "30 days after performed_at" }
evidence_on = "subject"
satisfied_by = [{ activity = "cup-test" }]
cite = "Invented Code 1"
verified = "M"
"""
REPAIR = {"id": "R", "activity": "repair", "subject": "SB", "performed_at": "2026-01-10T14:00"}


def judged(packs, raw, at=date(2026, 1, 15), **more):
    return judge(read_document(raw), packs, at=at, **more)


ABOUT_FAILS = RETEST.replace('{ activity = "repair" }', '{ activity = "repair", outcome = "fail" }')


@pytest.mark.parametrize(
    ("outcome", "standing"), [("fail", "due soon"), (None, "cannot decide"), ("pass", "not required")]
)
def test_a_rule_about_one_outcome_asks_nothing_of_another_but_asks_for_an_unstated_one(
    packs, outcome, standing
):
    failed = site(REPAIR | {"outcome": outcome})

    found = judged(packs('pack = "us-federal"\n' + ABOUT_FAILS), failed).findings

    assert [one.standing for one in found] == ([] if standing == "not required" else [standing])


def test_an_outcome_that_changes_later_is_not_taken_for_what_it_was(packs):
    corrected = site(
        REPAIR | {"outcome": "pass"}, changes=[{"of": "R", "on": "2026-01-20", "outcome": "fail"}]
    )
    federal = packs('pack = "us-federal"\n' + ABOUT_FAILS)

    assert judged(federal, corrected).changes_at == datetime(2026, 1, 20, 5, tzinfo=UTC)
    assert [one.standing for one in judged(federal, corrected, at=date(2026, 1, 20)).findings] == ["due soon"]


def test_a_facility_without_jurisdictions_is_under_the_federal_pack(packs):
    federal = packs('pack = "us-federal"\n' + RETEST)

    assert judged(federal, site(REPAIR)).packs == ("us-federal",)


def test_without_jurisdictions_and_without_the_federal_pack_nothing_is_guessed(packs):
    with pytest.raises(DocumentError, match="/facility/jurisdictions"):
        judged(packs('pack = "invented"\n' + RETEST), site(REPAIR))


def test_a_jurisdiction_that_is_not_loaded_is_an_error_with_its_place(packs):
    with pytest.raises(DocumentError) as refused:
        judged(
            packs('pack = "invented"\n' + RETEST),
            site(REPAIR, facility={"jurisdictions": ["invented", "mars"]}),
        )

    assert [fault.pointer for fault in refused.value.faults] == ["/facility/jurisdictions/1"]


def test_other_jurisdictions_from_a_day_on_change_the_judgement_then(packs):
    both = packs('pack = "invented"\n' + RETEST + RETEST.replace('"retest"', '"more"\npack = "other"'))
    move = {"of": "F", "on": "2026-01-20", "jurisdictions": ["invented", "other"]}
    raw = site(REPAIR, facility={"jurisdictions": ["invented"]}, changes=[move])

    now = judged(both, raw)

    assert now.changes_at == datetime(2026, 1, 20, 5, tzinfo=UTC)
    assert len(judged(both, raw, at=now.changes_at).findings) == 2


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        (date(2026, 1, 10), 1),  # a day is judged at its last instant
        (datetime(2026, 1, 10, 13, 59), 0),  # without an offset: local time
        (datetime(2026, 1, 10, 14, 0), 1),
        (datetime(2026, 1, 10, 18, 59, tzinfo=UTC), 0),
        (datetime(2026, 1, 10, 19, 0, tzinfo=UTC), 1),
    ],
)
def test_what_has_not_happened_yet_is_not_judged(packs, at, expected):
    """A repair dated after the judged moment must not have started its retest clock."""
    invented = packs('pack = "invented"\n' + RETEST)

    assert len(judged(invented, site(REPAIR), at=at, jurisdictions=["invented"]).findings) == expected


def test_a_withdrawn_record_starts_no_clock(packs):
    invented = packs('pack = "invented"\n' + RETEST)

    withdrawn = site(REPAIR | {"withdrawn": "typed for the wrong bucket"})

    assert judged(invented, withdrawn, jurisdictions=["invented"]).findings == []


def test_a_repair_of_two_items_is_answered_only_when_both_are_tested(packs):
    invented = packs('pack = "invented"\n' + RETEST)
    other = {"id": "SB2", "kind": "spill_bucket", "parent": "S"}
    both = site(REPAIR | {"subject": ["SB", "SB2"]}, cup_test("2026-01-12"))
    both["components"].append(other)

    [one_tested] = judged(invented, both, jurisdictions=["invented"]).findings
    both["records"].append(cup_test("2026-01-13", subject="SB2"))
    [both_tested] = judged(invented, both, jurisdictions=["invented"]).findings

    assert (one_tested.standing, both_tested.standing) == ("due soon", "met")


PARTIES = """
pack = "invented"
[[rule]]
id = "party-report"
title = "Invented report"
subject = "alarm"
[[rule.version]]
per = "known_by"
schedule = { due = "2 hours after each__at" }
evidence_on = "facility"
satisfied_by = [{ activity = "report-to-agency", outcome = "any", where = { measurements__by = "=each__party" } }]
cite = "6 NYCRR 613-2.4(a)"
verified = "M"
"""


def alarm_known_by(*known):
    alarm = {"id": "A", "condition": "sump-fuel", "raised_at": "2026-03-01T08:00"}
    return alarm | {"known_by": [{"party": party, "at": at} for party, at in known]}


def test_each_party_has_a_clock_from_its_own_knowledge(packs):
    """6 NYCRR 613-2.4(a): two hours for every person who knows."""
    known = alarm_known_by(("owner", "2026-03-01T08:00"), ("contractor", "2026-03-01T11:00"))
    by_owner = {
        "activity": "report-to-agency",
        "performed_at": "2026-03-01T09:30",
        "measurements": {"by": "owner"},
    }

    found = judged(
        packs(PARTIES),
        site(by_owner, alarms=[known]),
        at=datetime(2026, 3, 1, 13, 1),
        jurisdictions=["invented"],
    )

    assert [(one.party, one.standing) for one in found.findings] == [
        ("owner", "met"),
        ("contractor", "overdue"),
    ]


def test_where_nobody_said_who_knew_it_cannot_be_decided(packs):
    found = judged(
        packs(PARTIES), site(alarms=[alarm_known_by()]), at=date(2026, 3, 1), jurisdictions=["invented"]
    )

    [one] = found.findings
    assert (one.standing, one.missing[0].field) == ("cannot decide", "known_by")
