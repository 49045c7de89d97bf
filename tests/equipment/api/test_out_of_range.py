"""Numbers and moments that no column holds: refused where they stand, and never our fault."""

import json
from typing import Any

import pytest
from django.db import DataError
from rest_framework.exceptions import ValidationError

from equipment.api.facilities import Facilities
from equipment.api.scalars import WholeField
from tests.equipment.api.calls import at, problem

ROOT = "/api/v1/facilities"


@pytest.mark.parametrize("number", [2**63, -(2**63) - 1, 10**30])
def test_a_whole_number_wider_than_any_column_is_no_whole_number_here(number):
    """SQLite and PostgreSQL both hold -2^63 to 2^63 - 1 (their documentation: INTEGER, bigint)."""
    with pytest.raises(ValidationError) as refused:
        WholeField().run_validation(number)

    assert refused.value.get_codes() == ["out_of_range"]


@pytest.mark.parametrize("error", [OverflowError("int too large"), DataError("bigint out of range")])
def test_a_value_that_only_the_database_finds_too_large_is_no_fault_of_ours(
    error, owner_client, monkeypatch, caplog
):
    def broken(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr(Facilities, "get", broken)

    refused = owner_client.get(ROOT)

    assert problem(refused) == (422, "invalid-content")
    assert str(error) not in json.dumps(refused.json())
    assert any(record.exc_info for record in caplog.records)


@pytest.mark.parametrize("number", [2**63, 10**40])
def test_an_id_beyond_every_column_names_nothing(number, owner_client):
    assert problem(owner_client.get(at(number))) == (404, "not-found")
    assert problem(owner_client.get(f"/api/v1/alarms/{number}")) == (404, "not-found")
