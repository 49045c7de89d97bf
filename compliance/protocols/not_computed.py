"""Why no outcome is computed of a record: its activity or method stands in `not_computed.toml` with the reason."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

import msgspec

from compliance.protocols.readings import Readings
from compliance.protocols.registry import ACTIVITIES, MONITORING

FILE = Path(__file__).with_name("not_computed.toml")
NOT_IN_FORCE = (
    "No criterion that it could be held against was in force that day where the facility lies, or the facility has not "
    "been judged since."
)
Words = Annotated[str, msgspec.Meta(min_length=1)]


class _Activity(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    slug: Words
    reason: Words


class _Method(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    activity: Words
    methods: tuple[Words, ...]
    reason: Words


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    activity: tuple[_Activity, ...]
    method: tuple[_Method, ...]


class NotComputed(msgspec.Struct, frozen=True, kw_only=True):
    """Reasons by activity, and by activity and method."""

    activities: Mapping[str, str]
    methods: Mapping[tuple[str, str], str]


@cache
def installed_reasons() -> NotComputed:
    """The reasons that come with the service, read once a process."""
    read = msgspec.toml.decode(FILE.read_bytes(), type=_File)
    return NotComputed(
        activities=MappingProxyType({each.slug: each.reason for each in read.activity}),
        methods=MappingProxyType(
            {(each.activity, method): each.reason for each in read.method for method in each.methods}
        ),
    )


def why_not(activity: str, measurements: Mapping[str, object]) -> str | None:
    """Why a record without a verdict has none; None where it measures nothing that anything is held against."""
    reasons = installed_reasons()
    method = Readings(measurements).word("method") or ""
    found = reasons.activities.get(activity) or reasons.methods.get((activity, method))
    if found is None and (activity in ACTIVITIES or activity in MONITORING):
        return NOT_IN_FORCE
    return found
