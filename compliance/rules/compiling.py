"""From the tables of a pack file to rules: parameters put in, conditions and expressions parsed, shapes checked."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import msgspec

from compliance.rules.conditions import Condition, parse_condition
from compliance.rules.expressions import Literal, Path, parse_path
from compliance.rules.kinds import PLACE_KINDS
from compliance.rules.moments import Quantity, parse_quantity
from compliance.rules.pack import Election, Retention, Rule, Source, Version
from compliance.rules.parameters import Parameters
from compliance.rules.record_index import outcomes_of, union, values_of
from compliance.rules.schedule import Monthly, Rolling, Schedule, ScheduleTable, parse_schedule
from compliance.rules.tables import (
    OverrideTable,
    RetentionTable,
    RuleTable,
    SourceTable,
    VersionTable,
    key_and_detail,
)

SHORT_NOTICE, LONG_NOTICE = parse_quantity("7 days"), parse_quantity("30 days")
"""Default notice: the short one for intervals up to 60 days, the long one for every other duty."""


class GrammarError(ValueError):
    """Something in a rule is not as the grammar wants it. `key` is the path of keys below the rule."""

    def __init__(self, key: str, detail: str) -> None:
        super().__init__(f"{key}: {detail}")
        self.key, self.detail = key, detail


@dataclass(frozen=True)
class VersionCompiler:
    """Compiles one wording. `named` gives the condition behind a name and raises ValueError for an unknown one."""

    table: VersionTable
    parameters: Parameters
    named: Callable[[str], object]

    def compile(self) -> Version:
        table = self.table
        self._check_shape()
        schedule = self._schedule()
        version = Version(
            effective=table.effective,
            begins=table.effective,
            off=table.off,
            applies=self._condition("applies", table.applies),
            unless=self._condition("unless", table.unless),
            suspended_when=self._condition("suspended_when", table.suspended_when),
            election=self._election(),
            schedule=schedule,
            must=self._condition("must", table.must),
            satisfied_by=tuple(self._sources()),
            evidence_on=self._path("evidence_on", table.evidence_on),
            per=self._path("per", table.per),
            notice=self._notice(schedule),
            retention=self._retention(),
            cite=table.cite,
            verified=table.verified,
        )
        unused = sorted(set(table.params) - self.parameters.used)
        if unused:
            raise GrammarError(f"params.{unused[0]}", "no part of this version reads it; remove it or use it")
        return version

    def _check_shape(self) -> None:
        table = self.table
        duties = [key for key in ("schedule", "must", "retention") if getattr(table, key) is not None]
        if table.off and duties:
            raise GrammarError(duties[0], "a version that is off has no duty; leave this key out")
        if not table.off and len(duties) != 1:
            raise GrammarError("schedule", "exactly one of `schedule`, `must` and `retention` is expected")
        if bool(table.satisfied_by) != (table.schedule is not None):
            raise GrammarError(
                "satisfied_by", "goes with a schedule: what evidence meets it? Nothing else needs it"
            )

    def _condition(self, key: str, source: object) -> Condition | None:
        if source is None:
            return None
        with _blaming(key):
            return parse_condition(self.parameters.fill(source), self._named)

    def _named(self, name: str) -> object:
        return self.parameters.fill(self.named(name))

    def _path(self, key: str, source: str | None) -> Path | None:
        if source is None:
            return None
        with _blaming(key):
            return parse_path(source)

    def _election(self) -> Election | None:
        table = self.table.election
        return None if table is None else Election(table.group, table.choice, table.default)

    def _schedule(self) -> Schedule | None:
        if self.table.schedule is None:
            return None
        with _blaming("schedule"):
            filled = self.parameters.fill(self.table.schedule)
            schedule = parse_schedule(msgspec.convert(filled, ScheduleTable))
            if "annual_on" in self.table.schedule and self.table.effective is None:
                raise ValueError("annual_on: the version needs `effective`, so that the first date is known")
            return schedule

    def _sources(self) -> Iterator[Source]:
        for index, raw in enumerate(self.table.satisfied_by):
            with _blaming(f"satisfied_by[{index}]"):
                yield self._source(msgspec.convert(self.parameters.fill(raw), SourceTable))

    def _source(self, table: SourceTable) -> Source:
        rows = "record" if table.activity is not None else table.kind
        if (table.activity is None) == (table.kind is None) or rows not in (
            "record",
            "document",
            "designation",
        ):
            raise ValueError('either `activity`, or `kind` = "document" or "designation" is expected')
        if table.outcome not in ("pass", "any"):
            raise ValueError(f'outcome: "pass" or "any" is expected, not {table.outcome!r}')
        strange = sorted(set(table.level) - set(PLACE_KINDS))
        if strange:
            raise ValueError(f"level: {strange[0]!r} is no kind of place or component")
        names = table.activity if table.activity is not None else table.type
        where, accept = self._condition("where", table.where), self._condition("accept", table.accept)
        when = self._condition("when", table.when)
        return Source(
            rows=rows,
            names=frozenset([names] if isinstance(names, str) else names or ()),
            where=where,
            accept=accept,
            when=when,
            needs_pass=rows == "record" and table.outcome == "pass",
            level=frozenset(table.level),
            alone=when is None and _reads_measurements_only(where) and _reads_measurements_only(accept),
        )

    def _notice(self, schedule: Schedule | None) -> Quantity:
        if self.table.notice is not None:
            with _blaming("notice"):
                return parse_quantity(self.parameters.fill(self.table.notice))
        if isinstance(schedule, Monthly):
            return SHORT_NOTICE
        if isinstance(schedule, Rolling) and schedule.every and schedule.every.roughly_days <= 61:
            return SHORT_NOTICE
        return LONG_NOTICE

    def _retention(self) -> Retention | None:
        if self.table.retention is None:
            return None
        with _blaming("retention"):
            table = msgspec.convert(self.parameters.fill(self.table.retention), RetentionTable)
            if table.age is None and table.since is not None:
                raise ValueError("from: says where `age` starts; `age` is missing")
            if table == RetentionTable():
                raise ValueError("at least one of age, until_next, count and while is expected")
            return Retention(
                age=None if table.age is None else parse_quantity(table.age),
                since=None if table.since is None else parse_path(table.since),
                until_next=table.until_next,
                count=table.count,
                while_=self._condition("while", table.while_),
            )


class _blaming:
    """Turn a complaint inside into one that names the key."""

    def __init__(self, key: str) -> None:
        self.key = key

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        if isinstance(error, GrammarError):
            raise GrammarError(f"{self.key}.{error.key}", error.detail) from None
        if isinstance(error, msgspec.ValidationError):
            key, detail = key_and_detail(error)
            raise GrammarError(f"{self.key}.{key}", detail) from None
        if isinstance(error, ValueError):
            raise GrammarError(self.key, str(error)) from None


def _reads_measurements_only(condition: Condition | None) -> bool:
    """No item, day or moment but the row's own measurements, compared with what is written in the rule."""
    tests = () if condition is None else condition.tests()
    return all(
        test.path[0] == "measurements"
        and isinstance(test.right, Literal)
        and not any(part.endswith("_at") for part in test.path)
        for test in tests
    )


def compile_rule(
    table: RuleTable,
    *,
    pack: str,
    named: Callable[[str], object],
    overrides: Sequence[OverrideTable] = (),
    params: Mapping[str, object] | None = None,
    elections: Mapping[str, str],
) -> Rule:
    """Compile a rule as overrides of packs, and then an agency's `params`, leave it. Raises GrammarError."""
    versions: list[VersionTable] = list(table.version)
    for override in overrides:
        versions = _overridden(versions, override)
    if params:
        versions = _with_params(versions, params)
    compiled = tuple(_compile_version(index, version, named) for index, version in enumerate(versions))
    subjects = [table.subject] if isinstance(table.subject, str) else table.subject
    return Rule(
        id=table.id,
        title=table.title,
        pack=pack,
        subject=frozenset(subjects),
        party=table.party,
        task=table.task or table.title,
        versions=compiled,
        activities=union([values_of(version.applies, "activity") for version in compiled if not version.off]),
        outcomes=union([outcomes_of(version.applies) for version in compiled if not version.off]),
        elections=elections,
    )


def _compile_version(index: int, table: VersionTable, named: Callable[[str], object]) -> Version:
    with _blaming(f"version[{index}]"):
        return VersionCompiler(table, Parameters(table.params), named).compile()


def _overridden(versions: list[VersionTable], override: OverrideTable) -> list[VersionTable]:
    if override.off:
        return [VersionTable(off=True, cite=override.cite, verified=override.verified or "")]
    if not (override.params or override.add_unless or override.add_satisfied_by):
        raise GrammarError(
            "override", "changes nothing; give params, add_unless, add_satisfied_by or off = true"
        )
    changed = _with_params(versions, override.params)
    return [version if version.off else _amended(version, override) for version in changed]


def _amended(version: VersionTable, override: OverrideTable) -> VersionTable:
    exemptions = [] if version.unless is None else _as_list(version.unless)
    return msgspec.structs.replace(
        version,
        unless=[*exemptions, *override.add_unless] or None,
        satisfied_by=[*version.satisfied_by, *override.add_satisfied_by],
        cite=f"{version.cite}; {override.cite}",
        verified=f"{version.verified}; {override.verified}" if override.verified else version.verified,
    )


def _as_list(condition: object) -> list[object]:
    return condition if isinstance(condition, list) else [condition]


def _with_params(versions: list[VersionTable], params: Mapping[str, object]) -> list[VersionTable]:
    known = {name for version in versions for name in version.params}
    unknown = sorted(set(params) - known)
    if unknown:
        has = f"it has {', '.join(sorted(known))}" if known else "it has none"
        raise GrammarError(f"params.{unknown[0]}", f"the rule has no such parameter ({has})")
    return [
        msgspec.structs.replace(
            version, params={name: params.get(name, value) for name, value in version.params.items()}
        )
        for version in versions
    ]
