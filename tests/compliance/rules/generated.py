"""Random documents for property tests: facts before, around and after the judged moment, many of them unknown."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from hypothesis import strategies as st

from compliance.rules.loading import load_packs
from tests.compliance.rules.sites import cup_test, site

PACKS = load_packs([Path(__file__).parent / "packs"])
FIRST, LAST = date(2015, 1, 1), date(2026, 12, 31)

days = st.dates(FIRST, LAST).map(date.isoformat)
instants = st.datetimes(datetime(2015, 1, 1), datetime(2026, 12, 31)).map(
    lambda at: at.isoformat(timespec="minutes")
)
moments = days | instants
judged_at = st.datetimes(datetime(2015, 1, 1), datetime(2027, 6, 1), timezones=st.just(UTC))

tests = st.builds(
    lambda at, outcome, method: cup_test(at, outcome, measurements={"method": method}),
    moments,
    st.sampled_from(["pass", "pass", "pass", "fail", "inconclusive", None]),
    st.sampled_from(["liquid", "liquid", "vacuum", "visual", None]),
)
facility_rows = st.builds(
    lambda activity, at: {"activity": activity, "performed_at": at},
    st.sampled_from(["fee-paid", "report-to-agency"]),
    moments,
)
statuses = st.builds(
    lambda of, on, status, residue: {"of": of, "on": on, "status": status, "residue_in": residue},
    st.sampled_from(["S", "SB", "F"]),
    moments,
    st.sampled_from(["temporarily out of service", "currently in use", "unknown"]),
    st.sampled_from([0.5, 2.0, None]),
)
walls = st.builds(lambda on: {"of": "SB", "on": on, "both_walls_monitored": False}, moments)
alarms = st.builds(
    lambda at, known, answered: {
        "condition": "high-water",
        "raised_at": at,
        "known_by": [{"party": "owner", "at": known}],
        "disposition": {"type": "planned test", "at": answered, "evidence": {"repaired_at": answered}},
    },
    instants,
    instants,
    instants,
)
papers = st.builds(
    lambda first, length: {
        "type": "registration",
        "issued_on": first.isoformat(),
        "expires_on": (first + timedelta(days=length)).isoformat(),
    },
    st.dates(FIRST, LAST),
    st.integers(0, 900),
)
deliveries = st.builds(lambda at: {"subject": "S", "started_at": at}, moments)
buckets = st.fixed_dictionaries(
    {
        "installed_on": days | st.none(),
        "brought_into_use_on": days | st.none(),
        "both_walls_monitored": st.just(True) | st.none(),
    }
)
elections = st.sampled_from([{}, {"elected_spill_walkthrough": "before delivery"}])

documents = st.builds(
    lambda rows, more, changes, walls, alarms, documents, deliveries, bucket, facility: site(
        *rows,
        *more,
        changes=changes + walls,
        alarms=alarms,
        documents=documents,
        deliveries=deliveries,
        bucket=bucket,
        facility=facility,
    ),
    st.lists(tests, max_size=8),
    st.lists(facility_rows, max_size=4),
    st.lists(statuses, max_size=4),
    st.lists(walls, max_size=1),
    st.lists(alarms, max_size=2),
    st.lists(papers, max_size=3),
    st.lists(deliveries, max_size=5),
    buckets,
    elections,
)
