"""The alarms of a span as answered: what is on file about each; an empty list says that nothing is."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from alarms.api.disposition_shapes import DispositionOut
from alarms.api.knowledge_shapes import KnowledgeOut
from alarms.conditions import ConditionClass, condition_or_unlisted
from alarms.lifecycle import State
from alarms.models import Alarm
from compliance.api.finding_shapes import DelayOut
from compliance.api.obligations import ANY_STANDING
from compliance.api.record_shapes import due_text
from compliance.models import Obligation
from compliance.services.alarm_history import Entry
from equipment.api.attachment_shapes import AttachmentNamed, AttachmentsShown
from equipment.models import Record


class ToldOut(serializers.Serializer[Any]):
    """A person who was told by mail; sent is not read."""

    name = serializers.CharField()
    organisation = serializers.CharField()
    first_at = serializers.DateTimeField(allow_null=True, help_text="null: no mail went out to this person")
    last_at = serializers.DateTimeField(allow_null=True)
    mails = serializers.IntegerField()
    failed = serializers.IntegerField()


class StepTakenOut(serializers.Serializer[Any]):
    """A step that somebody took with the alarm."""

    kind = serializers.CharField()
    at = serializers.DateTimeField()
    by = serializers.CharField()
    note = serializers.CharField(allow_null=True)
    until = serializers.DateTimeField(allow_null=True, help_text="the end of shelving")
    record = serializers.IntegerField(source="record_id", allow_null=True, help_text="the repair")


class ClockOut(serializers.Serializer[Any]):
    """What a rule asks of the alarm, judged now; `due` null: it asks for nothing, or nobody can tell."""

    rule = serializers.CharField()
    title = serializers.CharField()
    party = serializers.CharField()
    standing = serializers.ChoiceField(ANY_STANDING)
    runs_from = serializers.SerializerMethodField(help_text="the operator's discovery, else the raise")
    due = serializers.SerializerMethodField(help_text="an instant with its offset, or a local day to its end")
    late_intervals = DelayOut(many=True, source="finding.late_intervals")
    evidence = serializers.ListField(child=serializers.CharField(), source="finding.evidence")
    sentence = serializers.CharField(source="finding.sentence")
    cite = serializers.CharField()
    verified = serializers.CharField()

    @extend_schema_field(OpenApiTypes.DATETIME)
    def get_runs_from(self, clock: Obligation) -> str:
        """UTC."""
        alarm: Alarm = self.context["alarm"]
        begun = serializers.DateTimeField().to_representation(alarm.discovered_at or alarm.raised_at)
        return str(begun)

    def get_due(self, clock: Obligation) -> str | None:
        """As rules say it."""
        return due_text(clock)


class FiledOut(serializers.Serializer[Any]):
    """A record that names the alarm: a report to the agency, a test, a repair."""

    id = serializers.IntegerField()
    activity = serializers.CharField()
    performed_on = serializers.DateField()
    performed_at = serializers.DateTimeField(allow_null=True)
    recorded_at = serializers.DateTimeField()
    entered_by = serializers.CharField()
    submitted_by = serializers.CharField(source="submitted_by.name")
    outcome = serializers.CharField(allow_null=True)
    measurements = serializers.JSONField()
    note = serializers.CharField(allow_null=True)
    attachments = AttachmentsShown("record_attachments")
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    withdrawn_reason = serializers.CharField(allow_null=True)
    withdrawn_by = serializers.CharField(allow_null=True)
    superseded_by = serializers.SerializerMethodField()

    def get_superseded_by(self, record: Record) -> int | None:
        """Number of the record that corrects it."""
        later = getattr(record, "superseded_by", None)
        return None if later is None else later.pk


class AttachedOut(serializers.Serializer[Any]):
    """A photo or paper that somebody attached to the alarm itself."""

    file = AttachmentNamed(source="attachment")
    attached_at = serializers.DateTimeField()
    attached_by = serializers.CharField()


class PastAlarmOut(serializers.Serializer[Any]):
    """One alarm with what is on file about it; empty lists say that nothing is."""

    alarm = serializers.IntegerField(source="past.alarm.pk")
    merged = serializers.ListField(
        child=serializers.IntegerField(), source="past.merged", help_text="alarms that were the same"
    )
    component = serializers.CharField(source="past.alarm.component.tag", allow_null=True, default=None)
    device = serializers.CharField(source="past.alarm.device", help_text="where no component is known")
    condition = serializers.CharField(source="past.alarm.condition")
    title = serializers.SerializerMethodField()
    condition_class = serializers.ChoiceField(
        list(ConditionClass), source="past.alarm.condition_class", allow_null=True
    )
    exercise = serializers.IntegerField(
        source="past.alarm.exercise_id",
        allow_null=True,
        help_text="number of the function check that raised it",
    )
    stood_on_at = serializers.DateTimeField(
        source="past.alarm.stood_on_at", allow_null=True, help_text="when it turned out to be real after all"
    )
    priority = serializers.CharField(source="past.alarm.priority")
    state = serializers.ChoiceField(list(State), source="past.alarm.state", help_text="as of now")
    raised_at = serializers.DateTimeField(source="past.alarm.raised_at")
    opened_at = serializers.DateTimeField(source="past.alarm.opened_at", help_text="when it reached us")
    last_raised_at = serializers.DateTimeField(source="past.alarm.last_raised_at")
    occurrences = serializers.IntegerField(source="past.alarm.occurrences")
    cleared_at = serializers.DateTimeField(source="past.alarm.cleared_at", allow_null=True)
    untold_reason = serializers.CharField(source="past.alarm.untold_reason", allow_null=True)
    told = ToldOut(many=True, source="past.told")
    steps = StepTakenOut(many=True, source="past.steps")
    dispositions = DispositionOut(many=True, source="past.answers")
    statements = KnowledgeOut(many=True, source="past.statements")
    clocks = serializers.SerializerMethodField()
    attachments = AttachedOut(many=True, source="past.files")
    filed = FiledOut(many=True)

    def get_title(self, entry: Entry) -> str:
        """The condition in plain words."""
        return condition_or_unlisted(entry.past.alarm.condition).title

    @extend_schema_field(ClockOut(many=True))
    def get_clocks(self, entry: Entry) -> Any:
        """What the rules ask of it."""
        return ClockOut(entry.clocks, many=True, context={"alarm": entry.past.alarm}).data


class AlarmHistoryOut(serializers.Serializer[Any]):
    """The list, oldest alarm first."""

    facility = serializers.IntegerField(source="facility.pk")
    name = serializers.CharField(source="facility.name")
    time_zone = serializers.CharField(source="facility.time_zone")
    first_at = serializers.DateTimeField()
    until_at = serializers.DateTimeField()
    made_at = serializers.DateTimeField()
    made_for = serializers.CharField()
    unacknowledged = serializers.IntegerField(
        help_text="they wait for an answer now, also after an earlier one"
    )
    without_disposition = serializers.IntegerField()
    cannot_judge = serializers.CharField(allow_null=True, help_text="why no clock can be told of")
    alarms = PastAlarmOut(many=True, source="entries")
