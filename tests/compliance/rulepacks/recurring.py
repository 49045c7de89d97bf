"""The recurring duties of `recurring_duties.toml` as documents to judge."""

import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from tests.compliance.rulepacks.federal import component, record, site


@dataclass(frozen=True)
class Duty:
    """One recurring duty and the least that a document must state for it to be on."""

    rule: str
    paragraph: str
    interval: str
    kind: str
    activity: str
    fields: dict = field(default_factory=dict)
    measured: dict = field(default_factory=dict)
    facility_wide: bool = False
    outcome_counts: bool = True

    def document(self, *done: str, outcome: str = "pass", **more: object) -> dict:
        """The item, in use since 2015-06-01 unless said otherwise, with a record on each day."""
        fields = {
            "installed_on": "2015-06-01",
            "brought_into_use_on": "2015-06-01",
            **self.fields,
            **more.pop("fields", {}),
        }
        subject = None if self.facility_wide else self.subject
        records = [
            record(self.activity, on, subject=subject, outcome=outcome, **self.measured) for on in done
        ]
        if self.kind == "tank_system":
            system = {
                name: value
                for name, value in fields.items()
                if name in ("installed_on", "brought_into_use_on")
            }
            return site(system=system, records=records, **more)
        return site(*self.components(fields), records=records, **more)

    @property
    def subject(self) -> str:
        return "S1" if self.kind == "tank_system" else "X1"

    def components(self, fields: dict) -> list[dict]:
        """The item, and for a hand-held sampler the tank whose wells it is used at."""
        if self.rule != "annual-handheld-electronic-test":
            return [component(self.kind, **fields)]
        tank = component("tank", "T1", release_detection=["groundwater monitoring"])
        return [tank, component(self.kind, parent="T1", **fields)]

    def __str__(self) -> str:
        return f"{self.rule} 40 CFR {self.paragraph}"


DUTIES = [
    Duty(**row)
    for row in tomllib.loads((Path(__file__).parent / "recurring_duties.toml").read_text())["duty"]
]


def duty_of(rule: str) -> Duty:
    [found] = [duty for duty in DUTIES if duty.rule == rule]
    return found
