"""What kind of file some bytes are, by their own first bytes and never by what the sender calls them.

Sources: JPEG, ITU-T T.81 annex B (start-of-image marker, then another marker); PNG, W3C, third edition, 5.2 (signature,
the first chunk is IHDR); PDF, ISO 32000-1, 7.5.2 (header); plain text, RFC 3629 (UTF-8).
"""

import re
from pathlib import PurePath

JPEG, PNG, PDF, TEXT = "image/jpeg", "image/png", "application/pdf", "text/plain"
SUFFIXES = {JPEG: (".jpg", ".jpeg"), PNG: (".png",), PDF: (".pdf",), TEXT: (".txt", ".csv", ".log", ".md")}
"""The kinds that are kept, each with the endings that suit it; the first is given to a name that has none of them."""

# Any but tab, line feed, form feed and carriage return: no text that people read holds one.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f]")


def media_type_of(content: bytes) -> str | None:
    """The kind, or None for any other. Markup (HTML, SVG, XML) is refused: a browser would run what stands in it."""
    if content.startswith(b"\xff\xd8\xff"):
        return JPEG
    if content.startswith(b"\x89PNG\r\n\x1a\n") and content[12:16] == b"IHDR":
        return PNG
    if content.startswith(b"%PDF-"):
        return PDF
    return TEXT if _is_plain(content) else None


def download_name(name: str, media_type: str) -> str:
    """The name with an ending of its kind, so that no program takes a text for a page or a script."""
    suffixes = SUFFIXES[media_type]
    return name if PurePath(name).suffix.lower() in suffixes else name + suffixes[0]


def _is_plain(content: bytes) -> bool:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    begun = text.lstrip()
    return bool(begun) and not begun.startswith("<") and _CONTROL.search(text) is None
