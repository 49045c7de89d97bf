"""Small site documents as plain dictionaries, and one finding of the federal pack about them."""

from datetime import date, datetime
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import compliance.rulepacks
from compliance.rulepacks import recordable
from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import judge
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet

PACKS = Path(compliance.rulepacks.__file__).parent
ZONE = ZoneInfo("America/New_York")


@cache
def packs() -> PackSet:
    """The federal pack alone, its activities checked against the catalogue."""
    return load_packs([PACKS / "us_federal"], activities=recordable())


def site(*components: dict, facility: dict | None = None, system: dict | None = None, **lists: list) -> dict:
    """A facility F1 with one tank system S1, the components and whatever other lists are given."""
    return {
        "facility": {
            "id": "F1",
            "jurisdictions": ["us-federal"],
            "time_zone": "America/New_York",
            **(facility or {}),
        },
        "tank_systems": [{"id": "S1", **(system or {})}],
        "components": list(components),
        **lists,
    }


def component(kind: str, id: str = "X1", parent: str = "S1", **fields: object) -> dict:
    return {"id": id, "kind": kind, "parent": parent, **fields}


def record(
    activity: str, on: str, *, subject: str | None = "X1", outcome: str | None = "pass", **rest: object
) -> dict:
    """A record; `id`, `regarding` and the like are its own fields, every other name is a measurement."""
    own = {name: rest.pop(name) for name in ("id", "regarding", "recorded_at") if name in rest}
    return {
        "activity": activity,
        "performed_at": on,
        "subject": subject,
        "outcome": outcome,
        "measurements": rest,
        **own,
    }


def closed(on: str, *, of: str = "S1", residue_in: float | None = None) -> dict:
    """Temporarily closed from that day; without a measured residue nobody knows whether it is empty."""
    return {"of": of, "on": on, "status": "temporarily out of service", "residue_in": residue_in}


def in_use(on: str, *, of: str = "S1") -> dict:
    return {"of": of, "on": on, "status": "currently in use"}


def moment(text: str) -> date | datetime:
    """A whole day, or an instant of the facility's local time."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE) if "T" in text else date.fromisoformat(text)


def finding(document: dict, rule: str, subject: str, on: str) -> Finding:
    """The one finding about that subject. Findings of duties that are not required are among those looked at."""
    judgement = judge(read_document(document), packs(), at=moment(on), include_not_required=True)
    [found] = [each for each in judgement.findings if (each.rule, each.subject) == (rule, subject)]
    return found


def standing(document: dict, rule: str, subject: str, on: str) -> str:
    return finding(document, rule, subject, on).standing


def lacks(found: Finding, fact: str) -> bool:
    """True if the finding names this fact as one that would decide."""
    return any(fact in (blank.field, blank.field.rpartition("__")[2]) for blank in found.missing)
