"""The line of JSON that `manage.py judge --json` prints for each file, member by member."""

import json
from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from compliance.rules.look_back import days_back
from tests.compliance.rules.test_history import SUBJECT, TESTED, detector

RULE = "annual-alld-test"
# Dates of every value: R3 was due on 2022-01-20 and R4, due on 2023-01-20, was done on 2023-03-01, 40 days late.
LATE = {"due": "2023-01-20", "done": "2023-03-01", "days_late": 40}


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "site.json"
    path.write_text(json.dumps(detector(*TESTED)))
    return path


def line(file, *options) -> dict:
    out = StringIO()
    call_command("judge", str(file), "--json", *options, stdout=out)
    [only] = out.getvalue().splitlines()
    return json.loads(only)


def test_a_line_has_these_members_and_no_others(file):
    told = line(file, "--on", "2024-03-15", "--packs", "us-federal", "--look-back", "5y")

    [finding] = [one for one in told["findings"] if (one["rule"], one["subject"]) == (RULE, SUBJECT)]

    assert list(told) == ["file", "on", "findings"]
    assert (told["file"], told["on"]) == (str(file), "2024-03-15")
    members = ["rule", "subject", "standing", "due", "late_intervals", "evidence", "why", "cite", "verified"]
    assert list(finding) == members
    assert (finding["standing"], finding["due"], finding["evidence"]) == ("met", "2025-02-28", ["R5"])
    assert finding["late_intervals"][-1] == LATE


@pytest.mark.parametrize(
    ("on", "look_back", "seen"),
    [
        ("2024-03-01", "12m", True),  # ended on 2023-03-01: twelve months to the day
        ("2024-03-02", "12m", False),
        ("2024-03-01", "366d", True),
        ("2024-03-01", "365d", False),
        ("2026-03-01", "3y", True),
        ("2026-03-02", "3y", False),
    ],
)
def test_the_look_back_is_counted_on_the_calendar(file, on, look_back, seen):
    told = line(file, "--on", on, "--look-back", look_back)

    [finding] = [one for one in told["findings"] if (one["rule"], one["subject"]) == (RULE, SUBJECT)]

    assert (LATE in finding["late_intervals"]) is seen


def test_an_instant_is_taken_with_its_offset(file):
    """2025-02-28 ends in New York five hours after it has ended in UTC."""
    standings = []
    for on in ("2025-03-01T04:59:00+00:00", "2025-03-01T05:01:00+00:00", "2025-03-01T00:01"):
        found = line(file, "--on", on)["findings"]
        standings += [one["standing"] for one in found if (one["rule"], one["subject"]) == (RULE, SUBJECT)]

    assert standings == ["due soon", "overdue", "overdue"]


@pytest.mark.parametrize("option", ["--packs=us-nowhere", "--on=9999-12-31", "--look-back=900y"])
def test_what_cannot_be_asked_is_refused_with_the_mend(file, option):
    with pytest.raises(CommandError, match=r"known are|is expected|is the most"):
        line(file, option)


@pytest.mark.parametrize(
    ("text", "day", "days"),
    [
        ("12m", date(2024, 2, 29), 366),  # back to 2023-02-28, the last day of that February
        ("12m", date(2025, 2, 28), 366),
        ("12m", date(2026, 2, 28), 365),
        ("1m", date(2026, 3, 31), 31),  # back to 2026-02-28
        ("5y", date(2026, 3, 4), 1826),
        ("30d", date(2026, 3, 4), 30),
        ("0d", date(2026, 3, 4), 0),
    ],
)
def test_months_and_years_are_reckoned_back_from_the_day(text, day, days):
    """Checked against the standard library's calendar: the difference of the two dates."""
    assert days_back(text, day) == days
