"""References between the rows of a document: every named id exists, and parents lead to the facility."""

from collections.abc import Iterator

from compliance.rules.component_rows import Row
from compliance.rules.document_rows import Alarm, CaseOverride, Disposition, Document
from compliance.rules.faults import Fault

PLACES = ("tank_systems", "components")
SECTIONS_OF: dict[tuple[str, str], tuple[str, ...]] = {
    ("components", "parent"): PLACES,
    ("components", "replaces"): ("components",),
    ("records", "supersedes"): ("records",),
    ("alarms", "component"): PLACES,
    ("deliveries", "subject"): PLACES,
    ("deliveries", "check"): ("records",),
    ("releases", "alarm"): ("alarms",),
    ("designations", "person"): ("people",),
    ("overrides", "document"): ("documents",),
}
"""Which lists a reference may lead to. The facility is always among the places."""

ANYWHERE = (
    ("records", "subject"),
    ("records", "regarding"),
    ("documents", "subject"),
    ("plans", "subject"),
    ("overrides", "subject"),
)
"""References that may lead to any row."""
EVIDENCE = {"delivery": "deliveries", "record": "records", "release": "releases", "second_month": "records"}


def reference_faults(document: Document) -> Iterator[Fault]:
    """Doubled ids, ids that lead nowhere, and parents that go round in a circle."""
    yield from _doubled(document)
    owners = {identity: section for section, _, row in rows_of(document) if (identity := _id(row))}
    owners[document.facility.id or "facility"] = "facility"
    for section, index, row in rows_of(document):
        for field in row.__struct_fields__:
            allowed = SECTIONS_OF.get((section, field))
            if allowed is None and (section, field) not in ANYWHERE:
                continue
            yield from _faults_of(getattr(row, field), f"/{section}/{index}/{field}", allowed, owners)
        if isinstance(row, Alarm) and row.disposition:
            yield from _evidence_faults(row.disposition, f"/{section}/{index}/disposition", owners)
    yield from _circles(document)


def rows_of(document: Document) -> Iterator[tuple[str, int, Row]]:
    """Section, index and row of everything but the facility and the changes."""
    for section in document.__struct_fields__:
        if section in ("version", "facility", "changes"):
            continue
        for index, row in enumerate(getattr(document, section)):
            yield section, index, row


def _id(row: Row) -> str | None:
    return None if isinstance(row, CaseOverride) else getattr(row, "id", None)


def _doubled(document: Document) -> Iterator[Fault]:
    seen = {document.facility.id: "/facility/id"}
    for section, index, row in rows_of(document):
        identity = _id(row)
        if identity is None:
            continue
        if identity in seen:
            yield Fault(
                f"/{section}/{index}/id", f"{identity!r} stands at {seen[identity]} already; ids are unique"
            )
        seen.setdefault(identity, f"/{section}/{index}/id")


def _faults_of(
    named: object, pointer: str, allowed: tuple[str, ...] | None, owners: dict[str, str]
) -> Iterator[Fault]:
    for position, identity in enumerate(named if isinstance(named, list) else [named]):
        if identity is None:
            continue
        at = f"{pointer}/{position}" if isinstance(named, list) else pointer
        owner = owners.get(identity)
        if owner is None:
            yield Fault(at, f"no row of the document has the id {identity!r}")
        elif allowed is not None and owner not in allowed and not (owner == "facility" and allowed == PLACES):
            yield Fault(at, f"{identity!r} stands in {owner}; one of {', '.join(allowed)} is expected")


def _evidence_faults(disposition: Disposition, pointer: str, owners: dict[str, str]) -> Iterator[Fault]:
    if disposition.evidence is None:
        return
    for field, section in EVIDENCE.items():
        named = getattr(disposition.evidence, field)
        yield from _faults_of(named, f"{pointer}/evidence/{field}", (section,), owners)


def _circles(document: Document) -> Iterator[Fault]:
    parents = {component.id: component.parent for component in document.components}
    for index, component in enumerate(document.components):
        seen, above = {component.id}, component.parent
        while above in parents and above not in seen:
            seen.add(above)
            above = parents[above]
        if above == component.id:
            yield Fault(
                f"/components/{index}/parent", "leads back to this component; parents end at the facility"
            )
