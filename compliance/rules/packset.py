"""All loaded packs together: which rules a facility's packs give, with their overrides compiled in."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from compliance.rules.compiling import GrammarError, compile_rule
from compliance.rules.kinds import ALL_KINDS
from compliance.rules.pack import Rule
from compliance.rules.tables import ElectionTable, OverrideTable, RuleTable


@dataclass(frozen=True)
class RuleEntry:
    """A rule as written and the pack it belongs to."""

    table: RuleTable
    pack: str


@dataclass(frozen=True)
class OverrideEntry:
    """An override as written and the pack among whose facilities it acts."""

    table: OverrideTable
    pack: str


@dataclass(frozen=True)
class PackSet:
    """Rules, overrides, named conditions and holidays of every loaded pack.

    `digest` changes whenever any file does: a judgement made under another digest is stale.
    """

    rules: tuple[RuleEntry, ...]
    overrides: tuple[OverrideEntry, ...]
    named: Mapping[str, object]
    holidays: Mapping[str, frozenset[date]]
    digest: str
    _compiled: dict[str, Rule] = field(default_factory=dict, compare=False, repr=False)
    _chosen: dict[tuple[str, ...], tuple[Rule, ...]] = field(default_factory=dict, compare=False, repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """The packs that are loaded, in alphabetical order."""
        of_rules = {entry.pack for entry in self.rules}
        of_overrides = {entry.pack for entry in self.overrides}
        return tuple(sorted(of_rules | of_overrides | set(self.holidays)))

    def entry(self, rule_id: str) -> RuleEntry:
        """The rule as written. Raises KeyError."""
        for entry in self.rules:
            if entry.table.id == rule_id:
                return entry
        raise KeyError(rule_id)

    def rule(self, rule_id: str) -> Rule:
        """The rule without any override. Raises KeyError."""
        return self.compiled(self.entry(rule_id))

    def for_packs(self, names: tuple[str, ...]) -> tuple[Rule, ...]:
        """The rules of these packs in order of their ids, each as the packs' overrides leave it.

        Overrides act in the order of `names`, which goes from the widest jurisdiction to the narrowest.
        """
        if names not in self._chosen:
            entries = [entry for entry in self.rules if entry.pack in names]
            entries.sort(key=lambda entry: entry.table.id)
            self._chosen[names] = tuple(
                self.compiled(entry, self._overrides(entry, names)) for entry in entries
            )
        return self._chosen[names]

    def with_params(self, rule_id: str, names: tuple[str, ...], params: Mapping[str, object]) -> Rule:
        """The rule under the packs' overrides and then one agency decision. Raises KeyError or GrammarError."""
        entry = self.entry(rule_id)
        return self.compiled(entry, self._overrides(entry, names), params)

    def compiled(
        self,
        entry: RuleEntry,
        overrides: tuple[OverrideTable, ...] = (),
        params: Mapping[str, object] | None = None,
    ) -> Rule:
        """Compile once and keep. Raises GrammarError."""
        cites = [f"{override.rule} {override.params} {override.cite}" for override in overrides]
        key = json.dumps([entry.table.id, cites, params or {}], default=str, sort_keys=True)
        if key not in self._compiled:
            self._compiled[key] = compile_rule(
                entry.table,
                pack=entry.pack,
                named=self._named,
                overrides=overrides,
                params=params,
                elections=self._default_choices(),
            )
        return self._compiled[key]

    def check_rule(self, entry: RuleEntry) -> None:
        """What can be said without compiling: subjects, order of versions, elections. Raises GrammarError."""
        subjects = [entry.table.subject] if isinstance(entry.table.subject, str) else entry.table.subject
        for kind in subjects:
            if kind not in ALL_KINDS:
                raise GrammarError(
                    "subject", f"{kind!r} is no kind of item; known are {', '.join(ALL_KINDS)}"
                )
        _check_order(entry.table)
        for index, version in enumerate(entry.table.version):
            if version.election is not None:
                self._check_election(f"version[{index}].election", version.election)

    def _check_election(self, key: str, election: ElectionTable) -> None:
        default = self._default_choices().get(election.group)
        if default is None:
            raise GrammarError(
                key, f"no rule of the group {election.group!r} is the default; one choice must be"
            )
        if election.default and election.choice != default:
            raise GrammarError(key, f"the default of the group is {default!r} already; one default a group")

    def _default_choices(self) -> dict[str, str]:
        choices: dict[str, str] = {}
        for entry in self.rules:
            for version in entry.table.version:
                if version.election is not None and version.election.default:
                    choices.setdefault(version.election.group, version.election.choice)
        return choices

    def _overrides(self, entry: RuleEntry, names: tuple[str, ...]) -> tuple[OverrideTable, ...]:
        return tuple(
            override.table
            for name in names
            for override in self.overrides
            if override.pack == name and override.table.rule == entry.table.id
        )

    def _named(self, name: str) -> object:
        if name not in self.named:
            raise ValueError(f"no condition is named {name!r}; add it under [conditions] or correct the name")
        return self.named[name]


def _check_order(table: RuleTable) -> None:
    """Each wording begins after the one before it; only the first may have no first day."""
    for index, (earlier, later) in enumerate(zip(table.version, table.version[1:], strict=False), start=1):
        key = f"version[{index}].effective"
        if later.effective is None:
            raise GrammarError(key, "only the first version may leave it out (it then holds always)")
        if earlier.effective is not None and later.effective <= earlier.effective:
            detail = f"{later.effective} is not after {earlier.effective} before it; write versions in order"
            raise GrammarError(key, detail)
