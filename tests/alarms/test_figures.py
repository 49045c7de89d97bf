"""Percentiles, peaks and spans, against general libraries and slow counts. Sources stand beside the checks."""

import statistics
from datetime import UTC, date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from alarms.figures import Line, floods_in, nearest_rank, peak_of, to_acknowledgement, to_disposition
from alarms.marks import limits
from alarms.spans import Span, faults_of, windows_in
from equipment.moments import read_moment
from tests.world import NOW

NEW_YORK = ZoneInfo("America/New_York")
FLOOD = limits().flood


def moments(*seconds: float) -> list[datetime]:
    return [NOW + timedelta(seconds=one) for one in seconds]


def span(first: str | None = None, until: str | None = None, now: datetime = NOW) -> Span:
    return Span(
        first=read_moment(first) if first else None, until=read_moment(until) if until else None, now=now
    )


def line(alarm: int, *, opened: float = 0, acknowledged: float | None = None) -> Line:
    """An alarm raised at NOW; other moments in seconds after it."""
    return Line(
        alarm=alarm,
        facility=1,
        condition_class="operating",
        raised_at=NOW,
        opened_at=NOW + timedelta(seconds=opened),
        acknowledged_at=None if acknowledged is None else NOW + timedelta(seconds=acknowledged),
        disposed_at=None,
    )


def test_percentiles_are_those_of_numpy_and_of_the_standard_library():
    """NumPy's `inverted_cdf` is the nearest rank (Hyndman and Fan 1996, type 1); `median_low` is its median."""
    random = Random(7)
    for count in [*range(1, 40), 99, 100, 101, 1000]:
        values = sorted(random.choice([random.uniform(0, 9e5), 60.0]) for _ in range(count))

        assert nearest_rank(values, 50) == statistics.median_low(values)
        for percent in (50, 90):
            assert nearest_rank(values, percent) == np.percentile(values, percent, method="inverted_cdf")


def test_there_is_no_percentile_of_nothing():
    assert nearest_rank([], 50) is None


def test_what_still_waits_is_counted_beside_and_never_among_the_answered():
    lines = [line(1, acknowledged=60), line(2, acknowledged=300), line(3), line(4, opened=100)]

    waits = to_acknowledgement(lines, since="raised_at", now=NOW + timedelta(hours=2))
    assert (waits.answered, waits.waiting, waits.median_s, waits.p90_s) == (2, 2, 60, 300)
    assert (waits.longest_answered_s, waits.longest_answered_alarm) == (300, 2)
    assert (waits.longest_waiting_s, waits.longest_waiting_alarm) == (7200, 3)


def test_a_wait_counts_from_the_raise_or_from_when_it_reached_us():
    late = [line(1, opened=3600, acknowledged=3660)]

    assert to_acknowledgement(late, since="raised_at", now=NOW).median_s == 3660
    assert to_acknowledgement(late, since="opened_at", now=NOW).median_s == 60


def test_without_alarms_every_wait_is_unknown():
    waits = to_disposition([], since="raised_at", now=NOW)

    assert (waits.answered, waits.waiting, waits.median_s, waits.longest_waiting_s) == (0, 0, None, None)


def test_a_peak_across_the_edge_of_two_clock_intervals_is_seen():
    """Ten in 100 s around a full ten minutes: bins would count 5 and 5. EEMUA 191: a flood is ten."""
    peak = peak_of(1, moments(550, 560, 570, 580, 590, 610, 620, 630, 640, 650), FLOOD)

    assert peak is not None
    assert (peak.raises, peak.flood) == (10, True)
    assert [peak.first_at, peak.last_at] == moments(550, 650)


def test_nine_in_ten_minutes_are_no_flood():
    peak = peak_of(1, moments(*range(0, 600, 67)), FLOOD)

    assert peak is not None
    assert (peak.raises, peak.flood) == (9, False)


def test_a_peak_is_that_of_a_slow_count_over_random_raises():
    random = Random(3)
    for _ in range(200):
        came = sorted(moments(*(random.randrange(0, 7200, 30) for _ in range(random.randint(1, 60)))))
        most = max(sum(first <= one <= first + FLOOD.within for one in came) for first in came)

        found = peak_of(1, came, FLOOD)
        assert found is not None
        assert found.raises == most
        assert sum(found.first_at <= one <= found.last_at for one in came) == most


def test_a_flood_lasts_until_fewer_than_five_come_in_ten_minutes():
    """Its end: ISA-18.2 and EEMUA 191, from memory."""
    burst = [*range(0, 100, 10)]
    trickle = [*range(100, 2000, 120)]  # five in ten minutes: not over
    pause = [4000 + one for one in burst]

    assert list(floods_in(moments(*burst, *trickle), FLOOD)) == moments(90)
    assert list(floods_in(moments(*burst, *trickle, *pause), FLOOD)) == moments(90, 4090)
    assert list(floods_in(moments(*burst[:9]), FLOOD)) == []


def test_days_begin_at_local_midnight_also_when_the_clocks_change():
    """15 U.S.C. 260a: the second Sunday of March has 23 hours, the first Sunday of November 25."""
    later = datetime(2027, 1, 1, tzinfo=UTC)

    spring = span("2026-03-08", "2026-03-09", later).bounds(NEW_YORK)
    autumn = span("2026-11-01", "2026-11-02", later).bounds(NEW_YORK)
    assert spring == (datetime(2026, 3, 8, 5, tzinfo=UTC), datetime(2026, 3, 9, 4, tzinfo=UTC))
    assert autumn == (datetime(2026, 11, 1, 4, tzinfo=UTC), datetime(2026, 11, 2, 5, tzinfo=UTC))


def test_a_day_whose_midnight_is_skipped_begins_when_the_day_does():
    """Havana's clocks go from 23:59:59 (UTC-5) to 01:00 (UTC-4) on that Sunday (tz database, from memory)."""
    begin, _ = span("2026-03-08", None, datetime(2026, 4, 1, tzinfo=UTC)).bounds(ZoneInfo("America/Havana"))

    assert begin == datetime(2026, 3, 8, 5, tzinfo=UTC)


def test_without_bounds_a_span_is_the_last_thirty_local_days_and_today_so_far():
    """NOW is 10 in the morning in New York; 30 days before that day is 2 February."""
    assert span().bounds(NEW_YORK) == (datetime(2026, 2, 2, 5, tzinfo=UTC), NOW)


def test_what_lies_ahead_is_cut_off():
    assert span("2026-03-01", "2026-12-31").bounds(NEW_YORK)[1] == NOW


@pytest.mark.parametrize(
    ("first", "until", "code"),
    [
        ("2026-03-02", "2026-03-01", "order"),
        ("2026-03-01", "2026-03-01", "order"),
        ("2026-03-05", None, "order"),
        ("2026-03-01T12:00:00Z", "2026-03-01T11:59:59Z", "order"),
        ("2020-01-01", None, "too-long"),
    ],
)
def test_what_is_no_span_is_refused_at_its_beginning(first, until, code):
    [fault] = faults_of(span(first, until), [NEW_YORK, ZoneInfo("America/Los_Angeles")])

    assert (fault.pointer, fault.code) == ("/from", code)


def test_windows_end_at_midnights_of_the_span_and_are_as_long_as_their_days():
    windows = windows_in(span("2026-03-02", None), [NEW_YORK], days=7, step=1)

    assert windows.ends == (date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 4))
    start, end = windows.bounds(date(2026, 3, 10), NEW_YORK)
    assert end - start == timedelta(hours=7 * 24 - 1)


def test_windows_step_back_from_the_last_midnight():
    windows = windows_in(span("2026-01-30", "2026-03-01"), [NEW_YORK], days=30, step=7)

    assert [str(end) for end in windows.ends] == [
        "2026-02-01",
        "2026-02-08",
        "2026-02-15",
        "2026-02-22",
        "2026-03-01",
    ]
