"""The duties of `event_duties.toml` as documents to judge."""

import copy
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from tests.compliance.rulepacks.federal import site


@dataclass(frozen=True)
class EventDuty:
    """A duty that one event starts. `about`: the subject of the finding; `people` to `system`: what is there."""

    rule: str
    paragraph: str
    clock: str
    section: str
    event: dict
    answer: dict
    about: str = "E1"
    components: list[dict] = field(default_factory=list)
    people: list[dict] = field(default_factory=list)
    system: dict = field(default_factory=dict)

    def document(self, at: str, *done: str, without: str | None = None) -> dict:
        """The event at that moment, answered at each of the moments; `without`: a fact that nobody stated."""
        event = {"id": "E1", **_dated(self.event, at)}
        if self.section in ("changes", "tank_systems"):
            event = _dated(self.event, at)
        components = [{"id": "X1", "parent": "S1", **copy.deepcopy(each)} for each in self.components]
        records = [
            {"outcome": "pass", "performed_at": moment, **copy.deepcopy(self.answer)} for moment in done
        ]
        document = site(*components, system=self.system, people=self.people, records=records)
        if self.section == "tank_systems":
            document["tank_systems"] = [{"id": "E1", **event}]
        else:
            document[self.section] = [*document.get(self.section, []), event]
        for row in (event, *components, *document["tank_systems"]):
            _forget(row, without)
        return document

    def __str__(self) -> str:
        return f"{self.rule} 40 CFR {self.paragraph}"


def _dated(row: dict, at: str) -> dict:
    return {key: at if value == "AT" else copy.deepcopy(value) for key, value in row.items()}


def _forget(row: dict, fact: str | None) -> None:
    """Take the fact out of the row, or out of what the row measured."""
    row.pop(fact, None)
    if isinstance(row.get("measurements"), dict):
        row["measurements"].pop(fact, None)


EVENT_DUTIES = [
    EventDuty(**row)
    for row in tomllib.loads((Path(__file__).parent / "event_duties.toml").read_text())["duty"]
]


def event_duty(rule: str) -> EventDuty:
    [found] = [duty for duty in EVENT_DUTIES if duty.rule == rule]
    return found
