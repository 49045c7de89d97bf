"""Names in a rule that lead nowhere: activities and measurements outside the catalogue, and fields that no item has."""

from collections.abc import Collection, Iterator, Mapping
from typing import get_args

from compliance.rules.component_rows import AnyComponent
from compliance.rules.conditions import Condition
from compliance.rules.document import ROW_TYPES
from compliance.rules.document_changes import Residue
from compliance.rules.document_rows import Disposition, DispositionEvidence, Facility
from compliance.rules.expressions import Path
from compliance.rules.items import KIND_OF
from compliance.rules.kinds import PLACE_KINDS
from compliance.rules.pack import Rule, Source, Version
from compliance.rules.schedule import Grid, OneOff, Rolling, YearDay
from compliance.rules.view import DERIVED, EVIDENCE, HOPS

FIELDS_OF: dict[str, frozenset[str]] = {
    "facility": frozenset(Facility.__struct_fields__),
    **{
        KIND_OF[section]: frozenset(row.__struct_fields__)
        for section, row in ROW_TYPES.items()
        if section in KIND_OF
    },
    **{str(row.__struct_config__.tag): frozenset(row.__struct_fields__) for row in get_args(AnyComponent)},
}
"""The fields that an item of each kind may state."""

_ALL_FIELDS = frozenset().union(*FIELDS_OF.values())
_FREE = ("measurements", "each", "performed_by")
"""What comes after these is not a field of an item."""
_INNER = {
    "disposition": frozenset(Disposition.__struct_fields__),
    "evidence": frozenset(DispositionEvidence.__struct_fields__),
}
"""The keys of an answer to an alarm and of its evidence. A slip there would excuse nothing, without a word."""


def unknown_names(rule: Rule, activities: Mapping[str, Collection[str]] | None) -> Iterator[tuple[str, str]]:
    """Key and complaint for each name that nothing answers to.

    `activities`: those that can be recorded, each with the names of its measurements; None leaves them unchecked.
    """
    for index, version in enumerate(rule.versions):
        for key, complaint in _unknown_in(version, rule, activities):
            yield f"version[{index}].{key}", complaint
    if activities is not None:
        for slug in sorted((rule.activities or frozenset()) - set(activities)):
            yield "version[0].applies.activity", _no_activity(slug)


def _unknown_in(
    version: Version, rule: Rule, activities: Mapping[str, Collection[str]] | None
) -> Iterator[tuple[str, str]]:
    for key, path in _paths(version):
        if complaint := _unreadable(path, rule.subject):
            yield key, complaint
        elif activities is not None and rule.subject == {"record"} and rule.activities is not None:
            yield from _unmeasured(key, path, rule.activities, activities)
    for number, source in enumerate(version.satisfied_by):
        for part, path in _evidence_paths(source):
            key = f"satisfied_by[{number}].{part}"
            if complaint := _unreadable(path, [source.rows]):
                yield key, complaint
            elif activities is not None and source.rows == "record":
                yield from _unmeasured(key, path, source.names, activities)
        if activities is not None and source.rows == "record":
            for slug in sorted(source.names - set(activities)):
                yield f"satisfied_by[{number}].activity", _no_activity(slug)


def _unmeasured(
    key: str, path: Path, slugs: Collection[str], activities: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, str]]:
    """A complaint if the path asks for a measurement that none of these activities has."""
    if path[0] != "measurements" or not slugs or not set(slugs) <= activities.keys():
        return
    measured = sorted(frozenset().union(*(activities[slug] for slug in slugs)))
    if len(path) > 1 and path[1] in measured:
        return
    has = f"measured are {', '.join(measured)}" if measured else "nothing is measured there"
    yield (
        f"{key}.{'__'.join(path)}",
        f"no measurement of {' or '.join(sorted(slugs))} is called {'__'.join(path[1:])!r} ({has}); "
        "correct the name or add it to the catalogue",
    )


def _no_activity(slug: str) -> str:
    return f"{slug!r} is no activity of the catalogue; correct it or add it there"


def _paths(version: Version) -> Iterator[tuple[str, Path]]:
    """The paths that are read on the rule's subject, and the key they stand in."""
    for key in ("applies", "unless", "suspended_when", "must"):
        yield from ((key, path) for path in _paths_of(getattr(version, key)))
    for number, source in enumerate(version.satisfied_by):
        yield from ((f"satisfied_by[{number}].when", path) for path in _paths_of(source.when))
        for condition in (source.where, source.accept):
            tests = () if condition is None else condition.tests()
            yield from ((f"satisfied_by[{number}]", path) for test in tests for path in test.right.paths())
    yield from (("schedule", path) for path in _schedule_paths(version))


def _evidence_paths(source: Source) -> Iterator[tuple[str, Path]]:
    """The paths that are read on the evidence itself."""
    for key in ("where", "accept"):
        condition: Condition | None = getattr(source, key)
        yield from ((key, test.path) for test in (() if condition is None else condition.tests()))


def _paths_of(condition: Condition | None) -> Iterator[Path]:
    for test in () if condition is None else condition.tests():
        yield test.path
        yield from test.right.paths()


def _schedule_paths(version: Version) -> Iterator[Path]:
    schedule = version.schedule
    match schedule:
        case OneOff():
            yield from schedule.due.paths()
            yield from () if schedule.opens is None else schedule.opens.paths()
        case Grid(anchor=anchor):
            if isinstance(anchor, YearDay):
                yield from () if anchor.key is None else (anchor.key,)
            else:
                yield from anchor.paths()
        case Rolling():
            for milestone in schedule.then:
                yield from milestone.due.paths()
    for first in getattr(schedule, "first", ()):
        yield from _paths_of(first.when)
        yield from first.due.paths()


def _unreadable(path: Path, subjects: Collection[str]) -> str:
    """A complaint if the path cannot lead anywhere for any of the subjects; empty if it can."""
    known = frozenset().union(*(FIELDS_OF[kind] for kind in subjects))
    for position, part in enumerate(path):
        if part in _FREE or part == "done" or path[position:] == ("since",):
            return ""
        if part in _INNER and part in known:
            known = _INNER[part]
        elif part in EVIDENCE and path[position - 1 : position] == ("evidence",):
            known = FIELDS_OF["record" if part == "second_month" else part]
        elif part in (*HOPS, *PLACE_KINDS, "parent", "subject", "previous"):
            known = FIELDS_OF.get(part, _ALL_FIELDS)
        elif part not in (*known, *DERIVED, *Residue.__struct_fields__, "status") and not part.startswith(
            "elected_"
        ):
            return f"no item that `{'__'.join(path)}` can lead to has a field {part!r}; correct the name"
    return ""
