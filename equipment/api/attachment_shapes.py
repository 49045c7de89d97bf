"""How attached files are named in bodies and shown in answers."""

from typing import Any

from rest_framework import serializers

from equipment.api.fact_shapes import FactOut
from equipment.api.scalars import IdField, TextField, WholeField, WordField, YesNoField
from equipment.api.serializers import StrictSerializer
from equipment.media_types import SUFFIXES
from equipment.services.attachments import MAX_ATTACHMENTS


def attachment_numbers(*, required: bool = False, allow_empty: bool = True) -> serializers.ListField:
    """The field of a body that names attached files of the same facility; left out, none unless `required`."""
    absent: dict[str, Any] = {"required": True} if required else {"default": list}
    return serializers.ListField(
        child=IdField(),
        **absent,
        allow_empty=allow_empty,
        max_length=MAX_ATTACHMENTS,
        help_text="numbers of photos and papers at this facility that show it; send each file first",
    )


class AttachmentNamed(StrictSerializer):
    """A file that something on file shows; `attachments/{id}/content` answers its bytes."""

    id = WholeField(source="pk", read_only=True)
    name = TextField(read_only=True)
    media_type = WordField(choices=list(SUFFIXES), read_only=True)
    size_bytes = WholeField(read_only=True)
    withdrawn = YesNoField(source="is_withdrawn", read_only=True)


class AttachmentsShown(serializers.ListField):
    """The files that something shows, by the name of its rows of links."""

    def __init__(self, links: str) -> None:
        super().__init__(child=AttachmentNamed(), source="*", read_only=True)
        self.links = links

    def to_representation(self, data: Any) -> list[Any]:
        """In the order in which they were named."""
        files = [link.attachment for link in getattr(data, self.links).all()]
        return list(AttachmentNamed(files, many=True).data)


class AttachmentOut(FactOut):
    """A file as on file."""

    facility = WholeField(source="facility_id", read_only=True)
    name = TextField(read_only=True, help_text="as its sender called it")
    media_type = WordField(
        choices=list(SUFFIXES), read_only=True, help_text="by its content, whatever its sender called it"
    )
    size_bytes = WholeField(read_only=True)
    sha256 = TextField(read_only=True, help_text="of its bytes; also the entity tag of its content")


NAMED: dict[str, Any] = {
    "id": 31,
    "name": "sump-2.jpg",
    "media_type": "image/jpeg",
    "size_bytes": 482113,
    "withdrawn": False,
}
ATTACHMENT: dict[str, Any] = {
    "id": 31,
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-03-04T19:31:00Z",
    "recorded_by": "R. Ames",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
    "facility": 3,
    "name": "sump-2.jpg",
    "media_type": "image/jpeg",
    "size_bytes": 482113,
    "sha256": "9f2c4a1be07d1c6b1f0f5f7d2f0a5b9f7d4c3e2a1908f7e6d5c4b3a291807f6e",
}
