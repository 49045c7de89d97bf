"""The recipe "Add or change a criterion" of DEVELOPERS.md, followed to the letter in a copy of the numbers.

The number is invented: one state halves the 1/8 in of PEI RP 1200, section 6.2.6, from 2030 on.
"""

import re
from datetime import date
from pathlib import Path

import pytest

from compliance.protocols import setting, spill_bucket
from compliance.protocols.criteria import HERE, in_force, load
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from tests.guards.test_sizes import ROOT

CRITERION = 'id = "bucket-water-fall"'
# Water falls by 3/32 in within an hour: less than 1/8, more than 1/16.
TEST = {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 10.90625}


def recipe() -> str:
    """The entry that stands under the recipe."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = guide[guide.index("**Add or change a criterion**") : guide.index("**Add a field to a kind")]
    [text] = re.findall(r"```toml\n(.*?)```", part, re.DOTALL)
    return str(text)


def as_list_entry(entry: str) -> str:
    """The same entry inside the brackets that the criterion is written with."""
    return "{ " + ", ".join(entry.strip().splitlines()[1:]) + " },"


@pytest.fixture
def numbers(tmp_path: Path):
    text = (HERE / "criteria.toml").read_text(encoding="utf-8")
    place = text.index("version = [", text.index(CRITERION)) + len("version = [")
    copy = tmp_path / "criteria.toml"
    copy.write_text(f"{text[:place]}{as_list_entry(recipe())} {text[place:]}", encoding="utf-8")
    return load(copy, HERE / "rules.toml")


@pytest.fixture
def outcome(numbers, monkeypatch):
    """What the bucket's protocol says on a day, with the copied numbers."""
    monkeypatch.setattr(setting, "in_force", lambda on, places: in_force(on, places, numbers))

    def judged(on: date, *jurisdictions: str) -> str:
        found = spill_bucket.judge(Readings(TEST), Setting(on=on, jurisdictions=jurisdictions))
        assert found is not None
        return found.outcome

    return judged


def test_a_state_halves_the_fall_from_its_day_on(outcome):
    assert outcome(date(2029, 12, 31), "us-federal", "us-zz") == "pass"
    assert outcome(date(2030, 1, 1), "us-federal", "us-zz") == "fail"


def test_elsewhere_nothing_changes(outcome):
    assert outcome(date(2030, 1, 1), "us-federal") == "pass"


def test_the_verdict_cites_the_new_number(numbers):
    found = in_force(date(2030, 1, 1), ("us-federal", "us-zz"), numbers).number("bucket-water-fall")

    assert (found.value, found.cite, found.unit) == (0.0625, "Invented Code 7(c)", "in")
