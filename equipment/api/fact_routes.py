"""Addresses of the facts of a facility, made from the list in `fact_resources`, and of an organisation's people."""

from collections.abc import Iterator

from django.urls import URLPattern, path

from equipment.api.fact_resources import RESOURCES, Resource
from equipment.api.fact_views import end_view, list_view, withdrawal_view
from equipment.api.people import People


def routes_of(resource: Resource) -> Iterator[URLPattern]:
    """The addresses of one resource: its list, its withdrawals and, where it has one, the end of each."""
    rows = f"facilities/<int:facility_id>/{resource.path}"
    yield path(rows, list_view(resource).as_view(), name=resource.path)
    yield path(
        f"{rows}/<int:fact_id>/withdrawal",
        withdrawal_view(resource).as_view(),
        name=f"{resource.path}-withdrawal",
    )
    if resource.ends:
        yield path(f"{rows}/<int:fact_id>/end", end_view(resource).as_view(), name=f"{resource.path}-end")


FACT_ROUTES: list[URLPattern] = [
    *(route for resource in RESOURCES for route in routes_of(resource)),
    path("organisations/<int:organisation_id>/people", People.as_view(), name="people"),
]
