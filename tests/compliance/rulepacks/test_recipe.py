"""The recipe "Add a rule" of DEVELOPERS.md, followed to the letter: one TOML file in a copy of the packs, no Python.

The rule is invented; its days are counted by hand.
"""

import re
import shutil
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command

from compliance.rulepacks import load_folder
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from tests.compliance.rulepacks.federal import PACKS, closed, component, record, site
from tests.guards.test_sizes import ROOT

RULE = "dock-hose-continuity-1y"


def example() -> str:
    """The file that stands under the recipe."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipe = guide[guide.index("**Add a rule.**") : guide.index("**Add an activity**")]
    [text] = re.findall(r"```toml\n(.*?)```", recipe, re.DOTALL)
    return str(text)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = Path(
        shutil.copytree(PACKS, tmp_path / "packs", ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    )
    (copy / "us_federal" / "dock_hoses.toml").write_text(example())
    return copy


@pytest.fixture
def found(folder):
    """What the new rule says about the hose on a day; None if nothing."""
    packs = load_folder(folder)

    def look(on: date, *records: dict, **more: object):
        hose = component("hose", brought_into_use_on="2025-01-31")
        document = read_document(site(hose, records=list(records), **more))
        judged = judge(document, packs, at=on).findings
        return next((finding for finding in judged if finding.rule == RULE), None)

    return look


def test_the_rule_is_judged_with_its_citation(found):
    """31 January 2025 and 30 days is 2 March."""
    finding = found(date(2025, 3, 2))

    assert (finding.subject, finding.standing, finding.due) == ("X1", "due soon", date(2025, 3, 2))
    assert (finding.cite, finding.verified) == ("Invented Code 12(b)", "MU")


def test_its_evidence_moves_the_due(found):
    measured = record("hose-continuity-test", "2025-02-28")

    assert found(date(2025, 3, 3)).standing == "no record"
    assert found(date(2025, 3, 3), measured).due == date(2026, 2, 28)


def test_it_knows_the_shared_conditions_of_the_pack(found):
    shut = {"changes": [closed("2025-02-01")]}

    assert found(date(2025, 3, 3), **shut).standing == "suspended"


def test_nobody_owes_it_before_the_file_is_there():
    judged = judge(read_document(site(component("hose"))), load_folder(None), at=date(2025, 3, 3))

    assert RULE not in {finding.rule for finding in judged.findings}


def test_the_copy_still_passes_the_check(folder):
    out = StringIO()

    call_command("check_rulepacks", str(folder), stdout=out)

    assert "126 of 126 slugs accounted for" in out.getvalue()
    assert f"Rules beyond the list: designate-class-b, {RULE}" in out.getvalue()
