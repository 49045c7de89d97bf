"""What `check_rulepacks` says of the installed packs, and of copies in which something was broken.

126 slugs: 106 duties and 20 retention periods of 40 CFR Part 280.
"""

import re
import shutil
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.compliance.rulepacks.federal import PACKS
from tests.guards.test_sizes import ROOT

LIST, REASONS = "us_federal_duties.toml", "us_federal_not_judged.toml"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The installed packs, to be broken."""
    return Path(shutil.copytree(PACKS, tmp_path / "packs"))


def check(folder: Path) -> str:
    out = StringIO()
    call_command("check_rulepacks", str(folder), stdout=out)
    return out.getvalue()


def refusal(folder: Path) -> list[str]:
    with pytest.raises(CommandError) as refused:
        check(folder)
    return str(refused.value).splitlines()


def edit(file: Path, old: str, new: str) -> int:
    """Replace what stands once in the file; the line on which it stood."""
    text = file.read_text()
    assert text.count(old) == 1
    file.write_text(text.replace(old, new))
    return text[: text.index(old)].count("\n") + 1


def test_from_the_command_line_every_slug_is_accounted_for():
    ran = subprocess.run(
        [sys.executable, "manage.py", "check_rulepacks"], cwd=ROOT, capture_output=True, text=True, check=True
    )

    judged, not_judged = re.search(
        r"us-federal: 126 of 126 slugs accounted for: (\d+) judged by a rule, (\d+) not judged", ran.stdout
    ).groups()
    assert int(judged) + int(not_judged) == 126


def test_each_duty_without_a_rule_is_shown_with_its_paragraph(copy):
    told = " ".join(check(copy).split())

    assert "walkthrough-hydrant-pit │ 40 CFR 280.252(c) │ Airport hydrant pits" in told


def test_a_duty_that_is_neither_judged_nor_explained_is_refused_where_it_is_listed(copy):
    line = edit(copy / LIST, 'spill-bucket-tightness-3y = "', 'spill-bucket-tightness-4y = "')

    [fault] = refusal(copy)

    assert fault.startswith(f"{LIST}:{line}: spill-bucket-tightness-4y: no rule of the pack us-federal")
    assert f"{REASONS} gives no reason; write the rule" in fault


def test_a_rule_that_is_taken_out_leaves_its_duty_open(copy):
    (copy / "us_federal" / "walkthroughs.toml").unlink()

    faults = refusal(copy)

    assert any("walkthrough-30-day-spill: no rule of the pack" in fault for fault in faults)


def test_a_reason_for_a_duty_that_a_rule_judges_is_refused(copy):
    line = edit(copy / REASONS, 'id = "cp-continuous"', 'id = "cp-test-3-years"')

    faults = refusal(copy)

    assert f"{REASONS}:{line}: cp-test-3-years: a rule of the pack judges this duty; remove" in faults[1]
    assert "cp-continuous: no rule of the pack" in faults[0]


def test_a_reason_for_what_no_law_lists_is_refused(copy):
    with (copy / REASONS).open("a") as file:
        file.write('\n[[not_judged]]\nid = "invented"\ncite = "Invented Code 1"\nreason = "Invented."\n')

    [fault] = refusal(copy)

    assert re.match(rf"{REASONS}:\d+: invented: the list of duties of us-federal has no such slug", fault)


def test_a_reason_given_twice_is_refused(copy):
    edit(copy / REASONS, 'id = "repair-record"', 'id = "cp-continuous"')

    assert any("cp-continuous: stands here 2 times; keep one" in fault for fault in refusal(copy))


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        (REASONS, 'id = "cp-continuous"\ncite', 'id = "cp-continuous"\nciet', "ciet: no such key"),
        (LIST, "[duties]", "[duties", "is not valid TOML"),
    ],
)
def test_a_list_that_cannot_be_read_is_refused(copy, file, old, new, words):
    edit(copy / file, old, new)

    assert any(fault.startswith(f"{file}:") and words in fault for fault in refusal(copy))


def test_a_slug_in_both_lists_is_refused(copy):
    line = edit(copy / LIST, "[retention]\n", '[retention]\nclosure-notice = "VT"\n') + 1

    [fault] = refusal(copy)

    assert re.match(rf"{LIST}:\d+: closure-notice: stands in both lists; keep one", fault)
    assert int(fault.split(":")[1]) < line


def test_a_folder_that_is_not_there_is_named(tmp_path):
    assert refusal(tmp_path / "nowhere") == [
        f"{tmp_path}/nowhere is no folder; name one that holds pack folders"
    ]
