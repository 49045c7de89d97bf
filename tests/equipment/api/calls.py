"""How these tests call the API: JSON bodies, keys for repeats, and what a problem document is asked for."""

from itertools import count
from typing import Any

from rest_framework.response import Response
from rest_framework.test import APIClient

from equipment.models import Facility

_numbers = count(1)


def at(facility: Facility | int, rest: str = "") -> str:
    """The address of something at a facility."""
    number = facility.pk if isinstance(facility, Facility) else facility
    return f"/api/v1/facilities/{number}{rest}"


def post(client: APIClient, path: str, body: Any, *, key: str | None = None) -> Response:
    """A POST with an idempotency key of its own unless told."""
    headers = {"Idempotency-Key": key or f"test-{next(_numbers)}"}
    return client.post(path, body, format="json", headers=headers)


def patch(client: APIClient, path: str, body: Any, *, match: str = "*") -> Response:
    """A PATCH of whatever version there is, unless told."""
    return client.patch(path, body, format="json", headers={"If-Match": match})


def faults(response: Response) -> dict[str, str]:
    """Code by pointer of a problem document."""
    assert response.headers["Content-Type"] == "application/problem+json"
    return {one["pointer"]: one["code"] for one in response.json()["errors"]}


def problem(response: Response) -> tuple[int, str]:
    """Status and type; the status stands in the document as well (RFC 9457, 3.1.2)."""
    assert response.headers["Content-Type"] == "application/problem+json"
    assert response.json()["status"] == response.status_code
    return response.status_code, response.json()["type"].removeprefix("urn:problem:")
