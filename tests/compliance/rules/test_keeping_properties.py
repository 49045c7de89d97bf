"""The last day that is told is the last day on which the answer is "keep": on random documents, asked on both days.

The sorts of period are those of 40 CFR 280.34, 280.45, 280.31(d) and 280.245.
"""

from datetime import timedelta

import pytest
from hypothesis import given, settings

from compliance.rules.document import read_document
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet
from compliance.rules.retention import KEEP, MAY_GO, RetentionAnswer, retention
from tests.compliance.rules.generated import documents, judged_at

PERIODS = {
    "age": 'age = "1 year"',
    "next": "until_next = true",
    "count": "count = 2",
    "both": 'age = "2 years", until_next = true',
    "life": 'while = { subject__status__in = ["currently in use", "temporarily out of service"] }',
    "walls": "while = { subject__both_walls_monitored = true }",
}
RULE = """
[[rule]]
id = "keep-NAME"
title = "Invented keeping"
subject = "record"
[[rule.version]]
applies = { activity = "cup-test" }
retention = { KEYS }
cite = "Invented Code 1"
verified = "M"
"""


@pytest.fixture(scope="module")
def packs(tmp_path_factory) -> PackSet:
    folder = tmp_path_factory.mktemp("invented")
    rules = (RULE.replace("NAME", name).replace("KEYS", keys) for name, keys in PERIODS.items())
    (folder / "invented.toml").write_text('pack = "invented"' + "".join(rules))
    return load_packs([folder])


def answers(document, packs, at) -> dict[tuple[str, str], RetentionAnswer]:
    told = retention(document, packs, at, jurisdictions=["invented"])
    return {(one.rule, one.subject): one for one in told}


@settings(deadline=None, max_examples=80)
@given(raw=documents, at=judged_at)
def test_the_told_day_is_the_last_that_keeps(packs, raw, at):
    """A row may end within its last day, where something newer was done at an instant of it."""
    document = read_document(raw)

    for key, told in answers(document, packs, at).items():
        if told.until is None:
            continue
        last = answers(document, packs, told.until).get(key)
        after = answers(document, packs, told.until + timedelta(days=1)).get(key)
        if told.standing == KEEP:
            assert after is not None
            assert after.standing == MAY_GO
        if last is not None:
            assert last.standing == KEEP or last.until == told.until
