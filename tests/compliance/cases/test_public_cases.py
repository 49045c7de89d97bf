"""Forty situations that people in the trade met, each with its public source inside its file, judged as they say.

A file holds a site document, the day, the packs and the findings that the source leads to; `more` holds further
runs of the same case, where what is not repeated is taken from the first. State packs beside this file hold only
what these cases ask of those states.
"""

import json
from datetime import date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from compliance.rulepacks import recordable
from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import judge
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet
from compliance.rules.retention import retention
from tests.compliance.rulepacks.federal import PACKS

HERE = Path(__file__).parent
RETENTION_ANSWERS = ("keep", "may go")


@cache
def packs() -> PackSet:
    return load_packs([PACKS / "us_federal", *sorted((HERE / "packs").iterdir())], activities=recordable())


def runs() -> list:
    """One parameter for each run of each case, with what the first run says filled in."""
    found = []
    for path in sorted(HERE.glob("FC*.json")):
        case = json.loads(path.read_text())
        more = case.pop("more", [])
        for number, run in enumerate([case, *more], start=1):
            found.append(pytest.param({**case, **run}, id=f"{case['id']}-{number}"))
    return found


def judged(case: dict) -> dict[tuple[str, str], list[Finding]]:
    """Every finding of the run, the not required ones too, by rule and subject."""
    facility = {**case["document"]["facility"], "jurisdictions": case["packs"]}
    document = read_document({**case["document"], "facility": facility})
    judgement = judge(document, packs(), at=moment(case), include_not_required=True)
    found: dict[tuple[str, str], list[Finding]] = {}
    for finding in judgement.findings:
        found.setdefault((finding.rule, finding.subject), []).append(finding)
    return found


def moment(case: dict) -> date | datetime:
    """The judged moment: a whole day, or a local instant of the facility."""
    if "T" not in case["on"]:
        return date.fromisoformat(case["on"])
    zone = ZoneInfo(case["document"]["facility"].get("time_zone") or "UTC")
    instant = datetime.fromisoformat(case["on"])
    return instant if instant.tzinfo else instant.replace(tzinfo=zone)


def as_local_text(due: date | datetime | None, zone: str) -> str | None:
    """As the cases write it: a day, or a local instant to the minute."""
    if isinstance(due, datetime):
        return due.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M")
    return None if due is None else due.isoformat()


def late_days(finding: Finding) -> set[int]:
    """The present delay and those of earlier intervals: a case names one of them."""
    return {finding.days_late, *(interval.days_late for interval in finding.late_intervals)}


def test_there_are_forty_cases_and_each_names_its_source():
    cases = [json.loads(path.read_text()) for path in sorted(HERE.glob("FC*.json"))]

    assert len(cases) == 40
    assert all(case["source"] and case["cite"] for case in cases)


@pytest.mark.parametrize("case", runs())
def test_a_public_case_is_judged_as_its_source_says(case):
    found = judged(case)
    zone = case["document"]["facility"].get("time_zone") or "UTC"

    for row in case["expect"]:
        if row["standing"] in RETENTION_ANSWERS:
            continue
        [finding] = found[row["rule"], row["subject"]]
        assert finding.standing == row["standing"], (row, finding)
        if "due" in row:
            assert as_local_text(finding.due, zone) == row["due"], (row, finding)
        if "days_late" in row:
            assert row["days_late"] in late_days(finding), (row, finding)
        if "late_intervals" in row:
            assert len(finding.late_intervals) == row["late_intervals"], (row, finding)


@pytest.mark.parametrize(
    "case",
    [run for run in runs() if any(row["standing"] in RETENTION_ANSWERS for row in run.values[0]["expect"])],
)
def test_a_public_case_about_keeping_records_is_answered_as_its_source_says(case):
    facility = {**case["document"]["facility"], "jurisdictions": case["packs"]}
    document = read_document({**case["document"], "facility": facility})

    answers = {
        (answer.rule, answer.subject): answer for answer in retention(document, packs(), at=moment(case))
    }

    for row in case["expect"]:
        if row["standing"] in RETENTION_ANSWERS:
            assert answers[row["rule"], row["subject"]].standing == row["standing"], row
