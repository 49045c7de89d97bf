"""What a file is, by its own bytes."""

import pytest

from equipment.media_types import download_name, media_type_of
from tests.equipment.files import JPEG, PDF, PNG, TEXT


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (JPEG, "image/jpeg"),
        (PNG, "image/png"),
        (PDF, "application/pdf"),
        (TEXT, "text/plain"),
        (b"\xef\xbb\xbfdepth_in,gal\n0,0\n", "text/plain"),
    ],
)
def test_a_kind_is_read_from_the_first_bytes_that_its_standard_sets(content, kind):
    """ITU-T T.81 annex B, W3C PNG 5.2, ISO 32000-1 7.5.2, RFC 3629."""
    assert media_type_of(content) == kind


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b" \n",
        b"<!doctype html><script>1</script>",
        b"\xef\xbb\xbf \n<html>",
        b'<svg xmlns="http://www.w3.org/2000/svg"/>',
        b'<?xml version="1.0"?><svg/>',
        b"GIF89a\x01\x00\x01\x00",
        b"PK\x03\x04 a packed folder",
        b"MZ\x90\x00 a program",
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIDAT",
        b"\xff\xd8 half a mark",
        b" %PDF-1.7 \x00",
        "in UTF-16".encode("utf-16"),
        b"caf\xe9 in Latin-1",
        b"a bell \x07 in a text",
        b"a zero \x00 in a text",
    ],
)
def test_markup_programs_and_other_kinds_are_none_of_them(content):
    assert media_type_of(content) is None


@pytest.mark.parametrize(
    ("name", "kind", "saved_as"),
    [
        ("sump.JPG", "image/jpeg", "sump.JPG"),
        ("sump.jpeg", "image/jpeg", "sump.jpeg"),
        ("levels.csv", "text/plain", "levels.csv"),
        ("page.html", "text/plain", "page.html.txt"),
        ("photo.exe", "image/png", "photo.exe.png"),
        ("report", "application/pdf", "report.pdf"),
    ],
)
def test_a_file_is_saved_under_an_ending_of_its_kind(name, kind, saved_as):
    """A browser opens what it saved by its ending."""
    assert download_name(name, kind) == saved_as
