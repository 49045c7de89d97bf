"""Knowledge only grows: what was known at one instant is known at every later one, and what comes on file afterwards
never changes what is said of that instant. On random documents against invented rules of every shape."""

import json
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.rules.document import read_document
from compliance.rules.facts import Facts
from compliance.rules.findings import Finding
from compliance.rules.history import late_history
from compliance.rules.judging import judge
from tests.compliance.rules.generated import PACKS, documents, judged_at, moments

recordings = st.lists(moments | st.none(), min_size=12, max_size=12)


def recorded(raw, when) -> dict:
    """The document with its records recorded at these moments (None: when they were done)."""
    rows = [
        row | {"id": f"R{number}", "recorded_at": at or row["performed_at"]}
        for number, (row, at) in enumerate(zip(raw["records"], when, strict=False))
    ]
    return raw | {"records": rows}


def findings(raw, at: datetime, known_at: datetime | None = None) -> list[Finding]:
    names = PACKS.names
    return judge(read_document(raw), PACKS, at=at, known_at=known_at, jurisdictions=names).findings


def written(found: list[Finding]) -> bytes:
    return msgspec.json.encode(found)


@settings(deadline=None, max_examples=60)
@given(documents, recordings, judged_at, st.integers(0, 900))
def test_what_was_known_stays_known(raw, when, at, days):
    document = read_document(recorded(raw, when))

    earlier, later = Facts(document, at), Facts(document, at + timedelta(days=days))

    assert set(earlier.items) <= set(later.items)
    assert set(later.items) <= set(Facts(document).items)


@settings(deadline=None, max_examples=60)
@given(documents, recordings, judged_at, moments)
def test_a_record_that_is_recorded_later_changes_nothing_of_what_was_said_then(raw, when, at, done):
    known = recorded(raw, when)
    late = {
        "id": "LATE",
        "activity": "cup-test",
        "subject": "SB",
        "performed_at": done,
        "recorded_at": (at + timedelta(seconds=1)).isoformat(),
        "outcome": "pass",
        "measurements": {"method": "liquid"},
    }

    grown = known | {"records": [*known["records"], late]}

    assert written(findings(grown, at, at)) == written(findings(known, at, at))


@settings(deadline=None, max_examples=60)
@given(documents, recordings, judged_at)
def test_leaving_out_what_was_unknown_is_what_known_at_means(raw, when, at):
    document = recorded(raw, when)
    known = {ref for ref, item in Facts(read_document(document), at).items.items() if item.kind == "record"}

    by_hand = document | {"records": [row for row in document["records"] if row["id"] in known]}

    assert written(findings(document, at, at)) == written(findings(by_hand, at))


@settings(deadline=None, max_examples=60)
@given(documents, judged_at)
def test_judging_is_deterministic_and_a_document_survives_its_way_through_text(raw, at):
    first = written(findings(raw, at))

    assert written(findings(raw, at)) == first
    assert written(findings(json.loads(json.dumps(raw)), at)) == first
    assert (
        msgspec.json.encode(
            judge(read_document(json.dumps(raw)), PACKS, at=at, jurisdictions=PACKS.names).findings
        )
        == first
    )


@settings(deadline=None, max_examples=60)
@given(documents, judged_at, st.integers(0, 3000))
def test_the_history_tells_each_late_interval_that_the_findings_tell(raw, at, days):
    """Two ways to the same delays: from the findings of the last moment, and from the history of the window."""
    since = at.astimezone(ZoneInfo("America/New_York")).date() - timedelta(days=days)
    document = read_document(raw)

    told = late_history(document, PACKS, since=since, until=at, jurisdictions=PACKS.names)
    found = judge(document, PACKS, at=at, jurisdictions=PACKS.names, look_back_days=days).findings

    seen = {(late.rule, late.subject, late.party, late.due, late.done) for late in told}
    expected = {
        (one.rule, one.subject, one.party, late.due, late.done)
        for one in found
        for late in one.late_intervals
    }
    assert expected <= seen
    assert all(late.days_late >= 0 and (late.done is None or late.ended is not None) for late in told)
