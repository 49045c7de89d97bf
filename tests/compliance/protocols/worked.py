"""Published and derived numbers to hold the computations against: 183 examples, each with its source, page and note.

`verified` in the file: the number was read in the published source that the example names. The others follow from a
published rule by arithmetic. Names of equipment makers are withheld.
"""

import json
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from compliance.protocols import Setting, Verdict, verdict
from compliance.protocols.criteria import in_force

FEDERAL = Setting(on=date(2026, 3, 4))
NUMBERS = in_force(FEDERAL.on, ("us-federal",))
CALIFORNIA = in_force(FEDERAL.on, ("us-federal", "us-ca"))


class Example(msgspec.Struct, frozen=True):
    """One example: what goes in, and what comes out within which tolerance."""

    id: str
    topic: str
    source: str
    page: str
    verified: bool
    inputs: dict[str, dict[str, Any]]
    expected: dict[str, dict[str, Any]]
    note: str

    def __getitem__(self, name: str) -> Any:
        return self.inputs[name]["value"]


Answers = Mapping[str, Any]
Answer = Callable[[Example], Answers]

EXAMPLES: dict[str, Example] = {
    row["id"]: msgspec.convert(row, Example)
    for row in json.loads(Path(__file__).with_name("worked-examples.json").read_text(encoding="utf-8"))
}


def judged(activity: str, setting: Setting = FEDERAL, **measurements: object) -> Verdict:
    """The verdict on these measurements, which there must be one of."""
    found = verdict(activity, measurements, None, setting=setting)
    assert found is not None
    return found


def values(**names: str) -> Answer:
    """An answer that holds nothing but numbers in force under federal law."""
    return lambda example: {key: NUMBERS.number(name).value for key, name in names.items()}
