"""The engine against a plain interpretation of the same TOML: compiled rules, indexes and memory change no finding.

The plain one compiles each rule anew for each item, looks at every item for every rule and remembers nothing; see
`tests/benchmarks/judging.py`, where the two are raced.
"""

from datetime import date

import pytest

from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import findings_at, judge
from tests.benchmarks.judging import floor
from tests.benchmarks.marina import marina

DAYS = [date(2023, 3, 1), date(2024, 2, 29), date(2024, 12, 31), date(2026, 3, 4)]


def by_name(findings):
    return sorted(findings, key=lambda found: (found.rule, found.subject, found.party))


@pytest.mark.parametrize("on", DAYS, ids=str)
def test_the_engine_finds_what_a_plain_interpretation_finds(on):
    document, packs = read_document(marina()), installed_packs()

    plain = floor(document, packs, on=on, ahead=False)

    assert by_name(judge(document, packs, at=on).findings) == by_name(plain)
    assert len(plain) >= 80


@pytest.mark.parametrize("everything", [False, True])
def test_looking_ahead_changes_no_finding(everything):
    document, packs = read_document(marina()), installed_packs()

    ahead = judge(document, packs, at=DAYS[-1], include_not_required=everything).findings

    assert findings_at(document, packs, at=DAYS[-1], include_not_required=everything) == ahead
