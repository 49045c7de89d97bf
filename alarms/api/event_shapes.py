"""The shapes of events on the wire, and the reading of a batch of them."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any

import msgspec
from rest_framework import serializers

from alarms.matching import Signal
from alarms.models import Event
from alarms.services.intake import MAX_EVENTS, Intake, Report
from equipment.api.fields import InstantField
from equipment.api.scalars import TextField, WordField
from equipment.api.serializers import StrictSerializer

MAX_PAYLOAD = 4000


class EventIn(StrictSerializer):
    """One message of a device."""

    id = TextField(max_length=100, help_text="the source's own id of the message; a repeat changes nothing")
    device = TextField(
        max_length=100,
        required=False,
        allow_null=True,
        help_text="tag of the component, or what the device calls itself; null: the facility as a whole",
    )
    condition = TextField(max_length=60, help_text="slug of GET /api/v1/conditions; another word is kept too")
    signal = WordField(choices=list(Signal))
    occurred_at = InstantField(help_text="by the device's clock, with offset")
    payload = serializers.DictField(required=False, help_text="whatever else is known, kept as sent")

    def validate_payload(self, value: dict[str, Any]) -> dict[str, Any]:
        """Small enough to keep with every event."""
        if len(json.dumps(value)) > MAX_PAYLOAD:
            raise serializers.ValidationError(f"At most {MAX_PAYLOAD} characters as JSON.", code="too_large")
        return value


class EventLineIn(EventIn):
    """One message of a device, by itself: a line of a file."""

    source = TextField(  # type: ignore[assignment]
        max_length=100, help_text="your name of the console or gateway; ids are unique within it"
    )


class EventsIn(StrictSerializer):
    """A batch of one source."""

    source = TextField(  # type: ignore[assignment]
        max_length=100, help_text="your name of the console or gateway; ids are unique within it"
    )
    events = serializers.ListField(
        child=EventIn(),
        min_length=1,
        max_length=MAX_EVENTS,
        error_messages={
            "max_length": "{max_length} events a request at most, and none of these was kept; send them in several "
            "requests, or as a file to events/file."
        },
    )


# The same shapes once more for reading by machine speed. They take a part of what `EventsIn` takes, and read it alike;
# whatever they refuse, `EventsIn` decides about. Spaces at an end are cut off there, so that here no text has any.
_TRIMMED = r"^[^\s\x00](?:[^\x00]*[^\s\x00])?\Z"
_INSTANT = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,6})?(?:Z|[+-]\d\d:\d\d)\Z"
_Name = Annotated[str, msgspec.Meta(max_length=100, pattern=_TRIMMED)]


class _Event(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    id: _Name
    condition: Annotated[str, msgspec.Meta(max_length=60, pattern=_TRIMMED)]
    signal: Signal
    occurred_at: Annotated[str, msgspec.Meta(pattern=_INSTANT)]
    device: _Name | None = None
    payload: dict[str, Any] = {}


class _EventLine(_Event, kw_only=True):
    source: _Name


class _Events(msgspec.Struct, forbid_unknown_fields=True):
    source: _Name
    events: Annotated[list[_Event], msgspec.Meta(min_length=1, max_length=MAX_EVENTS)]


class RemarkOut(StrictSerializer):
    """Something people should know about an event that was taken in all the same."""

    pointer = serializers.CharField(help_text="JSON pointer into the body sent")
    detail = serializers.CharField()
    code = serializers.CharField()


class IntakeOut(StrictSerializer):
    """What the batch did; the lists hold ids of alarms."""

    accepted = serializers.IntegerField()
    repeated = serializers.IntegerField(help_text="events that were on file already")
    opened = serializers.ListField(child=serializers.IntegerField())
    joined = serializers.ListField(child=serializers.IntegerField())
    cleared = serializers.ListField(child=serializers.IntegerField())
    remarks = RemarkOut(many=True)


class EventOut(StrictSerializer):
    """A message as received, and where it went."""

    id = serializers.IntegerField()
    source = serializers.CharField()  # type: ignore[assignment]
    source_event_id = serializers.CharField()
    device = serializers.SerializerMethodField(help_text="what the device calls itself")
    condition = serializers.CharField()
    signal = serializers.ChoiceField(choices=list(Signal))
    occurred_at = serializers.DateTimeField()
    received_at = serializers.DateTimeField()
    received_from = serializers.CharField(source="received_from.name")
    payload = serializers.DictField()
    component = serializers.CharField(source="component.tag", allow_null=True, default=None)
    alarm = serializers.IntegerField(source="alarm_id", allow_null=True, help_text="null: it moved none")
    remark = serializers.CharField(allow_null=True)
    conflicts_with = serializers.IntegerField(
        source="conflicts_with_id", allow_null=True, help_text="the event of the same id that stands"
    )

    def get_device(self, event: Event) -> str | None:
        """None: the facility as a whole."""
        return event.device or None


BODY = {
    "source": "console-1",
    "events": [
        {
            "id": "000481",
            "device": "SU1",
            "condition": "sump-liquid",
            "signal": "raised",
            "occurred_at": "2026-03-04T09:58:00-05:00",
        }
    ],
}
INTAKE = {"accepted": 1, "repeated": 0, "opened": [12], "joined": [], "cleared": [], "remarks": []}
ON_FILE = {
    "id": 501,
    "source": "console-1",
    "source_event_id": "000481",
    "device": "SU1",
    "condition": "sump-liquid",
    "signal": "raised",
    "occurred_at": "2026-03-04T14:58:00Z",
    "received_at": "2026-03-04T15:00:00Z",
    "received_from": "Own Marinas",
    "payload": {},
    "component": "SU1",
    "alarm": 12,
    "remark": None,
    "conflicts_with": None,
}


def read_batch(sent: object) -> list[Report]:
    """The reports of a decoded body; ValidationError with every fault at its place.

    A batch without fault is read by msgspec, some ten times as fast as by fields; any other by `EventsIn`, so that what
    is right, what is wrong and the words for it are said in one place.
    """
    try:
        batch = msgspec.convert(sent, _Events)
        return [_report(batch.source, one) for one in batch.events]
    except (msgspec.ValidationError, OverflowError, ValueError):
        return read_batch_by_fields(sent)


def read_batch_by_fields(sent: object) -> list[Report]:
    """The same, field by field."""
    body = EventsIn(data=sent)
    body.is_valid(raise_exception=True)
    return [_checked(body.validated_data["source"], one) for one in body.validated_data["events"]]


def read_event(sent: object) -> Report:
    """The report of a decoded line with its source; ValidationError with every fault at its place."""
    try:
        line = msgspec.convert(sent, _EventLine)
        return _report(line.source, line)
    except (msgspec.ValidationError, OverflowError, ValueError):
        body = EventLineIn(data=sent)
        body.is_valid(raise_exception=True)
        return _checked(body.validated_data["source"], body.validated_data)


def _checked(source: str, one: Mapping[str, Any]) -> Report:
    return Report(
        source=source,
        id=one["id"],
        device=one.get("device") or "",
        condition=one["condition"],
        signal=Signal(one["signal"]),
        occurred_at=one["occurred_at"],
        payload=one.get("payload") or {},
    )


def answer_of(intake: Intake) -> dict[str, Any]:
    """An `IntakeOut`."""
    return {
        "accepted": intake.accepted,
        "repeated": intake.repeated,
        "opened": intake.opened,
        "joined": intake.joined,
        "cleared": intake.cleared,
        "remarks": [
            {"pointer": one.pointer, "detail": one.detail, "code": one.code} for one in intake.remarks
        ],
    }


def _report(source: str, one: _Event) -> Report:
    if one.payload and _is_too_large(one.payload):
        raise ValueError("the payload is too large")
    return Report(
        source=source,
        id=one.id,
        device=one.device or "",
        condition=one.condition,
        signal=one.signal,
        occurred_at=datetime.fromisoformat(one.occurred_at).astimezone(UTC),
        payload=one.payload,
    )


def _is_too_large(payload: dict[str, Any]) -> bool:
    """As `EventIn` sees it; what is far below the limit in the shortest spelling need not be written out in the other,
    which is at most six times as long (an escaped character)."""
    return 6 * len(msgspec.json.encode(payload)) > MAX_PAYLOAD and len(json.dumps(payload)) > MAX_PAYLOAD
