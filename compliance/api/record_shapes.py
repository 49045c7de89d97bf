"""Shapes of a posted visit and of records as answered."""

from typing import Any
from zoneinfo import ZoneInfo

from rest_framework import serializers

from compliance.api.verdict_shapes import NoVerdictField, VerdictField
from compliance.models import Obligation, VerdictWord
from compliance.services.obligations import Moves
from equipment.api.attachment_shapes import AttachmentsShown, attachment_numbers
from equipment.api.fields import MomentField
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import IdField, TextField, WordField
from equipment.api.serializers import StrictSerializer
from equipment.models import Record
from equipment.moments import Moment
from equipment.services.records import Deed
from equipment.vocabulary import Outcome

MAX_RECORDS = 200
_APART = ("performed_at", "subjects", "attachments")


class RecordIn(StrictSerializer):
    """One thing done. Which `measurements` there are depends on the activity: one schema each."""

    activity = TextField(max_length=60)
    subjects = serializers.ListField(
        child=TextField(max_length=30),
        default=list,
        max_length=100,
        help_text="tags; none: the facility, or the person",
    )
    person = IdField(
        allow_null=True,
        default=None,
        help_text="number of the person that it is about, for training",
    )
    performed_at = MomentField(help_text="when it was done")
    outcome = WordField(choices=Outcome.choices, allow_null=True, default=None)
    measurements = serializers.DictField(
        default=dict,
        help_text='in the units that their names state, or with one of their own: {"value": 189, "unit": "mL/min"}',
    )
    regarding = TextField(max_length=40, allow_null=True, default=None)
    note = TextField(max_length=2000, allow_null=True, default=None)
    external_id = TextField(max_length=100, allow_null=True, default=None)
    supersedes = IdField(
        allow_null=True,
        default=None,
        help_text="id of the record it corrects",
    )
    attachments = attachment_numbers()


class VisitIn(StrictSerializer):
    """A visit: one or many records, all or nothing. Who did the work is said once for all of them."""

    performer = TextField(max_length=200, allow_null=True, default=None, help_text="organisation")
    technician = TextField(max_length=200, allow_null=True, default=None)
    certificate = TextField(max_length=100, allow_null=True, default=None)
    records = serializers.ListField(child=RecordIn(), min_length=1, max_length=MAX_RECORDS)

    def deeds(self) -> list[Deed]:
        """The checked visit as the service takes it."""
        checked = dict(self.validated_data)
        rows = checked.pop("records")
        return [
            Deed(
                performed=row["performed_at"],
                subjects=tuple(row["subjects"]),
                attachments=tuple(row["attachments"]),
                **{name: value for name, value in row.items() if name not in _APART},
                **checked,
            )
            for row in rows
        ]


class RecordQuery(PagedQuery):
    """Which records to list. Both ask for what the numbers say, as last judged."""

    verdict = WordField(choices=VerdictWord.choices, required=False)
    disagreement = serializers.BooleanField(
        required=False,
        help_text="true: only records that say the opposite of their numbers; false: only others",
    )


class RecordWithdrawalOut(serializers.Serializer[Any]):
    """When, why and by whom a record was taken out."""

    at = serializers.DateTimeField(source="withdrawn_at")
    reason = serializers.CharField(source="withdrawn_reason")
    by = serializers.CharField(source="withdrawn_by")


class ConflictOut(serializers.Serializer[Any]):
    """A refused report that used the same external id for other content."""

    received_at = serializers.DateTimeField()
    entered_by = serializers.CharField()
    content = serializers.DictField()


class StatedOut(serializers.Serializer[Any]):
    """A value in the unit that its sender used."""

    value = serializers.FloatField()
    unit = serializers.CharField()


class RecordOut(serializers.Serializer[Any]):
    """A record as it is on file."""

    id = serializers.IntegerField(source="pk")
    facility = serializers.IntegerField(source="facility_id")
    activity = serializers.CharField()
    subjects = serializers.SerializerMethodField()
    person = serializers.IntegerField(source="person_id", allow_null=True)
    performed_at = serializers.SerializerMethodField()
    recorded_at = serializers.DateTimeField()
    submitted_by = serializers.CharField(source="submitted_by.name")
    entered_by = serializers.CharField()
    performer = serializers.CharField(allow_null=True)
    technician = serializers.CharField(allow_null=True)
    certificate = serializers.CharField(allow_null=True)
    outcome = serializers.ChoiceField(Outcome.choices, allow_null=True, help_text="as reported")
    verdict = VerdictField()
    no_verdict = NoVerdictField()
    measurements = serializers.DictField(help_text="in the units that their names state")
    stated_units = serializers.DictField(
        child=StatedOut(),
        allow_null=True,
        help_text="what came in another unit, as it was stated, by JSON pointer into measurements; null: nothing did",
    )
    regarding = serializers.CharField(allow_null=True)
    note = serializers.CharField(allow_null=True)
    external_id = serializers.CharField(allow_null=True)
    supersedes = serializers.IntegerField(source="supersedes_id", allow_null=True)
    superseded_by = serializers.SerializerMethodField()
    withdrawn = serializers.SerializerMethodField()
    attachments = AttachmentsShown("record_attachments")
    conflicts = ConflictOut(many=True, source="conflicts.all")

    def get_subjects(self, record: Record) -> list[str]:
        """Tags of what it is about; empty: the whole facility."""
        return [one.component.tag for one in record.record_subjects.all()]

    def get_performed_at(self, record: Record) -> str:
        """The instant where one was stated, else the local day."""
        return str(Moment(day=record.performed_on, instant=record.performed_at))

    def get_superseded_by(self, record: Record) -> int | None:
        """Id of the record that corrects this one."""
        later = getattr(record, "superseded_by", None)
        return later.pk if later else None

    def get_withdrawn(self, record: Record) -> dict[str, Any] | None:
        """Null while it stands."""
        return dict(RecordWithdrawalOut(record).data) if record.withdrawn_at else None


class PlaceOut(serializers.Serializer[Any]):
    """Where an obligation stands."""

    standing = serializers.CharField()
    due = serializers.SerializerMethodField()

    def get_due(self, obligation: Obligation) -> str | None:
        """A local day, or an instant of an hour clock."""
        return due_text(obligation)


class MoveOut(serializers.Serializer[Any]):
    """An obligation that moved: before, after, rule and citation. Null: it was not, or is no longer, asked for."""

    rule = serializers.CharField(source="either.rule")
    title = serializers.CharField(source="either.title")
    subject = serializers.CharField(source="either.subject")
    party = serializers.CharField(source="either.party")
    before = PlaceOut(allow_null=True)
    after = PlaceOut(allow_null=True)
    cite = serializers.CharField(source="either.cite")
    verified = serializers.CharField(source="either.verified")


class MovedOut(serializers.Serializer[Any]):
    """What a change of the facts moved."""

    moved = MoveOut(
        many=True, allow_null=True, help_text="null: on file, but the facility could not be judged"
    )
    remark = serializers.CharField(allow_null=True, help_text="what to do where moved is null")


class VisitOut(MovedOut):
    """What a visit left on file, and what it moved."""

    records = RecordOut(many=True)
    repeated = serializers.IntegerField(help_text="how many were on file already, by their external_id")


NOT_JUDGED = (
    "On file. The facility could not be judged; GET .../standing says why. "
    "It is judged again by itself once that is mended."
)


def moved_fields(moves: Moves | None) -> dict[str, Any]:
    """Moves with the remark that goes with their absence."""
    return {"moved": moves, "remark": NOT_JUDGED if moves is None else None}


def due_text(obligation: Obligation) -> str | None:
    """The due day, or the instant in the facility's zone, in ISO 8601; None where it cannot be computed."""
    if obligation.due_at is not None:
        return obligation.due_at.astimezone(ZoneInfo(obligation.facility.time_zone)).isoformat()
    return obligation.due_on.isoformat() if obligation.due_on else None
