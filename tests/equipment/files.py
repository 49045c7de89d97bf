"""Small files of every kind, made by the words of their standards, and one put on file."""

import struct
import zlib
from datetime import datetime

from equipment.models import Attachment, Facility, Organisation
from equipment.services.attachments import keep_attachment
from tests.world import NOW


def png(width: int = 1) -> bytes:
    """A white line of so many pixels (W3C PNG, third edition, 5.2 to 5.6: signature, IHDR, IDAT, IEND)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, 1, 8, 0, 0, 0, 0)
    line = zlib.compress(b"\x00" + b"\xff" * width)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", line) + chunk(b"IEND", b"")


# ITU-T T.81, B.1.1.3: SOI, an application segment with the JFIF mark, EOI.
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xff\xd9"
# ISO 32000-1, 7.5.2 and 7.5.5: header and end.
PDF = b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer\n<< /Root 1 0 R >>\n%%EOF\n"
TEXT = "Float stuck; cleaned. 3 µm filter.\r\n".encode()
PNG = png()


def attached(
    at: Facility,
    content: bytes = PNG,
    *,
    name: str = "sump.png",
    by: Organisation | None = None,
    now: datetime = NOW,
) -> Attachment:
    """The file on file at this facility."""
    kept, _ = keep_attachment(
        facility=at, submitted_by=by or at.operator, by="test", now=now, name=name, content=content
    )
    return kept
