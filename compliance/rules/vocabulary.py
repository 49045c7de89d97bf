"""Names in a rule that lead nowhere: activities outside the catalogue."""

from collections.abc import Collection, Iterator

from compliance.rules.pack import Rule


def unknown_names(rule: Rule, activities: Collection[str] | None) -> Iterator[tuple[str, str]]:
    """Key and complaint for each name that nothing answers to. `activities` None: not checked."""
    if activities is None:
        return
    for index, version in enumerate(rule.versions):
        for number, source in enumerate(version.satisfied_by):
            if source.rows == "record":
                for slug in sorted(source.names - set(activities)):
                    yield f"version[{index}].satisfied_by[{number}].activity", _no_activity(slug)
    for slug in sorted((rule.activities or frozenset()) - set(activities)):
        yield "version[0].applies.activity", _no_activity(slug)


def _no_activity(slug: str) -> str:
    return f"{slug!r} is no activity of the catalogue; correct it or add it there"
