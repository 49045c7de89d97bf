"""Bodies and answers about what an alarm turned out to be."""

from typing import Any

from alarms.dispositions import DispositionType
from equipment.api.attachment_shapes import NAMED, AttachmentsShown, attachment_numbers
from equipment.api.fact_shapes import FactOut
from equipment.api.fields import InstantField
from equipment.api.scalars import IdField, TextField, WholeField, WordField, YesNoField
from equipment.api.serializers import StrictSerializer


def _instant(help_text: str) -> InstantField:
    return InstantField(required=False, allow_null=True, help_text=help_text)


def _number(help_text: str) -> IdField:
    return IdField(required=False, allow_null=True, help_text=help_text)


def _words(help_text: str) -> TextField:
    return TextField(required=False, allow_null=True, max_length=2000, help_text=help_text)


class EvidenceIn(StrictSerializer):
    """What shows that the answer is true; each type needs the parts of its paragraph of 40 CFR 280.50."""

    checked_at = _instant("the equipment was checked for a release: (b)(1)")
    finding = _words("what that check found: (b)(1)")
    repaired_at = _instant("the defective part was repaired, calibrated or replaced: (b)(2), (c)(1), (c)(2)")
    liquid_removed_at = _instant("the liquid was taken out: (b)(3), (c)(2)")
    clean_result_at = _instant("monitoring afterwards showed no leak: (c)(1)")
    investigated_at = _instant("the alarm was investigated: (c)(4)")
    cause = _words("what it was instead of a release: (c)(4)")
    action = _words("what was done")
    no_defect = YesNoField(
        required=False,
        allow_null=True,
        help_text="true: the check found no defective part, so none was repaired: (b)(2)",
    )
    record = _number(
        "number of the record that shows it: the clean result, the test or function check that raised the alarm, the "
        "report to the agency, the system test or site check"
    )
    second_month = _number("number of the record of the second month of inventory: (c)(3)")
    delivery = _number("number of a delivery that explains the alarm: (c)(4)")
    release = _number("number of the release that was confirmed")


class DispositionIn(StrictSerializer):
    """An answer to an alarm."""

    type = WordField(choices=[str(one) for one in DispositionType])
    at = InstantField(help_text="from when on it holds; not before all of it was done")
    evidence = EvidenceIn(required=False, default=dict)
    attachments = attachment_numbers()


class EvidenceOut(StrictSerializer):
    """The evidence as on file; null: not stated. Numbers of facts at this facility."""

    checked_at = InstantField(allow_null=True)
    finding = TextField(allow_null=True)
    repaired_at = InstantField(allow_null=True)
    liquid_removed_at = InstantField(allow_null=True)
    clean_result_at = InstantField(allow_null=True)
    investigated_at = InstantField(allow_null=True)
    cause = TextField(allow_null=True)
    action = TextField(allow_null=True)
    no_defect = YesNoField(allow_null=True)
    record = WholeField(source="record_id", allow_null=True)
    second_month = WholeField(source="second_month_id", allow_null=True)
    delivery = WholeField(source="delivery_id", allow_null=True)
    release = WholeField(source="release_id", allow_null=True)


class DispositionOut(FactOut):
    """An answer as on file."""

    alarm = WholeField(source="alarm_id", read_only=True)
    type = WordField(choices=[str(one) for one in DispositionType], read_only=True)
    at = InstantField(read_only=True)
    evidence = EvidenceOut(source="*", read_only=True)
    attachments = AttachmentsShown("disposition_attachments")


DISPOSITION: dict[str, Any] = {
    "type": "device fault",
    "at": "2026-03-04T19:30:00Z",
    "evidence": {
        "repaired_at": "2026-03-04T17:40:00Z",
        "clean_result_at": "2026-03-04T19:20:00Z",
        "record": 88,
        "finding": "Float stuck; sensor replaced.",
    },
    "attachments": [31],
}
SHOWN: dict[str, Any] = DISPOSITION | {"attachments": [NAMED]}
ON_FILE: dict[str, Any] = {
    "id": 7,
    "alarm": 12,
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-03-04T19:31:00Z",
    "recorded_by": "R. Ames",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
}
