"""The tables of a rule pack file as they are written: what keys exist and what may stand in them."""

import re
from datetime import date
from typing import Annotated

import msgspec

Words = Annotated[str, msgspec.Meta(pattern=r"\S")]
Slug = Annotated[str, msgspec.Meta(pattern=r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$")]
# Whose duty it is where a rule names nobody else (40 CFR 280.10).
USUAL_PARTY = "owner or operator"


class Table(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    """A table in which every key is known."""


class ElectionTable(Table, kw_only=True):
    group: Words
    choice: Words
    default: bool = False


class SourceTable(Table, kw_only=True):
    """One entry of `satisfied_by`: `activity`, or `kind` with or without `type`."""

    activity: str | list[str] | None = None
    kind: str | None = None
    type: str | list[str] | None = None
    where: object = None
    accept: object = None
    when: object = None
    outcome: str = "pass"
    level: list[str] = []


class RetentionTable(Table, kw_only=True, rename={"since": "from", "while_": "while"}):
    age: object = None
    since: str | None = None
    until_next: bool = False
    count: int | None = None
    while_: object = None


class VersionTable(Table, kw_only=True):
    effective: date | None = None
    off: bool = False
    applies: object = None
    unless: object = None
    suspended_when: object = None
    election: ElectionTable | None = None
    schedule: dict[str, object] | None = None
    must: object = None
    satisfied_by: list[dict[str, object]] = []
    evidence_on: str | None = None
    per: str | None = None
    params: dict[str, object] = {}
    notice: object = None
    retention: dict[str, object] | None = None
    cite: Words
    verified: Words


class RuleTable(Table, kw_only=True):
    id: Slug
    title: Words
    pack: Slug | None = None
    subject: str | list[str]
    party: Words = USUAL_PARTY
    task: Words | None = None
    version: Annotated[list[VersionTable], msgspec.Meta(min_length=1)]


class OverrideTable(Table, kw_only=True):
    rule: Slug
    pack: Slug | None = None
    params: dict[str, object] = {}
    add_unless: list[object] = []
    add_satisfied_by: list[dict[str, object]] = []
    off: bool = False
    cite: Words
    verified: Words | None = None


class CalendarTable(Table, kw_only=True):
    holidays: list[date]


class PackTable(Table, kw_only=True):
    """One file."""

    pack: Slug | None = None
    conditions: dict[str, object] = {}
    calendar: dict[str, CalendarTable] = {}
    rule: list[dict[str, object]] = []
    override: list[dict[str, object]] = []


_UNKNOWN_KEY = re.compile(r"Object contains unknown field `(.+)`")


def key_and_detail(error: msgspec.ValidationError) -> tuple[str, str]:
    """Split "expected x - at `$.a[0].b`" into the path of keys and the complaint."""
    detail, _, at = str(error).partition(" - at `")
    key = at.rstrip("`").removeprefix("$").removeprefix(".")
    if unknown := _UNKNOWN_KEY.fullmatch(detail):
        return f"{key}.{unknown[1]}".removeprefix("."), "no such key; correct or remove it"
    return key or "table", detail
