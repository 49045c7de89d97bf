"""Shapes of findings, delays and what could not be shown, as the engine says them."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

DUE = "a local day, in time to its end, or an instant of an hour clock with the facility's offset"


@extend_schema_field(OpenApiTypes.ANY)
class AnyValueField(serializers.JSONField):
    """Whatever JSON value was read."""


class DelayOut(serializers.Serializer[Any]):
    """A due that was missed and what ended it; `done` null: a new wording did."""

    due = serializers.CharField()
    done = serializers.CharField(allow_null=True)
    days_late = serializers.IntegerField()


class NotCountedOut(serializers.Serializer[Any]):
    """Evidence that does not count, and why."""

    evidence = serializers.CharField()
    reason = serializers.CharField()


class MissingFactOut(serializers.Serializer[Any]):
    """A field that nobody stated."""

    subject = serializers.CharField()
    field = serializers.CharField()


class ReadOut(serializers.Serializer[Any]):
    """What was read from the subject, and its value; null is unknown."""

    path = serializers.CharField()
    value = AnyValueField(allow_null=True)


class FindingOut(serializers.Serializer[Any]):
    """One rule judged for one item."""

    rule = serializers.CharField()
    title = serializers.CharField()
    task = serializers.CharField()
    version = serializers.CharField(allow_null=True, help_text="first day of the wording; null: always")
    pack = serializers.CharField()
    subject = serializers.CharField()
    subject_kind = serializers.CharField()
    party = serializers.CharField()
    standing = serializers.CharField()
    due = serializers.CharField(allow_null=True, help_text=DUE)
    days_late = serializers.IntegerField()
    late_intervals = DelayOut(many=True)
    evidence = serializers.ListField(child=serializers.CharField())
    not_counted = NotCountedOut(many=True)
    missing = MissingFactOut(many=True, help_text="facts without which it cannot be decided")
    could_change = MissingFactOut(many=True, help_text="facts that might exempt or suspend if stated")
    why = ReadOut(many=True)
    reason = serializers.CharField(help_text="why it is not required; empty where it is")
    sentence = serializers.CharField()
    cite = serializers.CharField()
    verified = serializers.CharField()


class LateOut(serializers.Serializer[Any]):
    """One rule late at one item, with what was on file before and after."""

    rule = serializers.CharField()
    pack = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    subject_kind = serializers.CharField()
    party = serializers.CharField()
    due = serializers.CharField(help_text=DUE)
    done = serializers.CharField(allow_null=True, help_text="null: it was not done")
    ended = serializers.CharField(
        allow_null=True, help_text="local day on which the delay, or the duty, ended; null: it runs on"
    )
    days_late = serializers.IntegerField(help_text="local days")
    before = serializers.ListField(
        child=serializers.CharField(), help_text="ids of the evidence on file when it fell due"
    )
    after = serializers.ListField(
        child=serializers.CharField(), help_text="ids of the evidence that ended the delay"
    )
    cite = serializers.CharField()
    verified = serializers.CharField()
    sentence = serializers.CharField()


class NotShownOut(serializers.Serializer[Any]):
    """A record that the rules wanted on file that day and that was not there."""

    rule = serializers.CharField()
    subject = serializers.CharField()
    record = serializers.CharField(allow_null=True, help_text="its id where it came on file later")
    recorded_at = serializers.CharField(allow_null=True)
    cite = serializers.CharField()
    verified = serializers.CharField()
    sentence = serializers.CharField()
