"""Every route of the service, found in the urls themselves."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

# Addresses without a tenant: whoever asks gets the same.
PUBLIC = {
    "api/v1/openapi.json",
    "api/v1/docs",
    "api/v1/site-document-schema",
    "health",
    "alarms/answer/<str:token>",
    "alarms/answer-together/<str:token>",
}
# Parameters that name something which belongs to nobody.
SHARED = {"slug", "rule_id"}


@dataclass(frozen=True)
class Route:
    """An address as a template, its parameters, and the verbs it answers."""

    template: str
    parameters: frozenset[str]
    verbs: tuple[str, ...]
    view: Any = field(compare=False, repr=False)

    def filled(self, values: dict[str, object]) -> str:
        """The address with these values; KeyError names a parameter that no value is known for."""
        path = self.template
        for name in self.parameters:
            for converter in ("int", "str", "slug"):
                path = path.replace(f"<{converter}:{name}>", str(values[name]))
        return f"/{path}"

    def __str__(self) -> str:
        return self.template


def routes() -> list[Route]:
    """Every route that belongs to somebody."""
    return [route for route in _walk(get_resolver().url_patterns, "") if route.template not in PUBLIC]


def _walk(patterns: list[Any], prefix: str) -> Iterator[Route]:
    for pattern in patterns:
        template = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from _walk(pattern.url_patterns, template)
        elif isinstance(pattern, URLPattern):
            view = getattr(pattern.callback, "view_class", None)
            verbs = tuple(getattr(view, "rights", ()))
            yield Route(template, frozenset(pattern.pattern.converters), verbs, view)
