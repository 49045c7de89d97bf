"""Photos and papers: the same bytes once, nothing half kept, and a damaged file told."""

import logging
from io import StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from equipment.faults import Invalid
from equipment.models import Attachment, Facility, Record, RecordAttachment
from equipment.moments import Moment
from equipment.services.attachments import MAX_BYTES, Damaged, content_of
from equipment.services.records import Deed, record_visit
from equipment.services.stating import withdraw_fact
from tests.equipment.files import JPEG, PNG, TEXT, attached, png
from tests.world import NOW, TODAY

pytestmark = pytest.mark.usefixtures("attachment_folder")


def stored() -> list[Path]:
    folder = Path(default_storage.location)
    return [path for path in folder.rglob("*") if path.is_file()]


def file_of(attachment) -> Path:
    return Path(default_storage.path(attachment.stored_name))


def withdrawn(attachment):
    return withdraw_fact(
        fact=attachment, organisation=attachment.submitted_by, reason="wrong sump", by="test", now=NOW
    )


def test_a_file_is_kept_as_it_was_sent(own):
    kept = attached(own, JPEG, name="sump.jpg")

    assert content_of(kept) == JPEG
    assert (kept.name, kept.media_type, kept.size_bytes) == ("sump.jpg", "image/jpeg", len(JPEG))


def test_the_same_bytes_are_one_attachment_whatever_they_are_called(own):
    first, second = attached(own), attached(own, name="again.png")

    assert (first.pk, second.name) == (second.pk, "sump.png")
    assert len(stored()) == 1


def test_another_facility_has_an_attachment_of_its_own(own, foreign):
    """Nobody learns from an answer what somebody else has on file."""
    mine, theirs = attached(own), attached(foreign)

    assert mine.pk != theirs.pk
    assert content_of(mine) == content_of(theirs)


def test_what_was_taken_back_stays_readable_and_can_be_sent_anew(own):
    first = withdrawn(attached(own))

    second = attached(own)

    assert content_of(first) == PNG
    assert second.pk != first.pk


@pytest.mark.parametrize(
    ("content", "code"),
    [(b"", "empty"), (b"x" * (MAX_BYTES + 1), "too-large"), (b"<svg/>", "wrong-kind")],
)
def test_what_is_not_kept_is_told_and_leaves_nothing(own, content, code):
    with pytest.raises(Invalid) as caught:
        attached(own, content)

    assert [(fault.pointer, fault.code) for fault in caught.value.faults] == [("/file", code)]
    assert not Attachment.objects.exists()
    assert not stored()


def test_the_limit_itself_is_kept(own):
    assert attached(own, b"x" * MAX_BYTES).size_bytes == MAX_BYTES


def test_a_crash_before_the_row_leaves_an_unused_file_at_most(own, monkeypatch):
    def die(self, *args, **kwargs):
        raise RuntimeError("killed")

    with monkeypatch.context() as patched:
        patched.setattr(Attachment, "save", die)
        with pytest.raises(RuntimeError):
            attached(own)

    assert not Attachment.objects.exists()
    assert [path.read_bytes() for path in stored()] == [PNG]
    assert content_of(attached(own)) == PNG


def test_a_write_that_breaks_off_leaves_nothing_under_the_name_of_the_file():
    class Breaking(ContentFile):
        def chunks(self, chunk_size=None):
            yield b"half"
            raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        default_storage.save("ab/abc", Breaking(b"whole"))

    assert not stored()


def test_a_write_that_breaks_off_leaves_the_file_that_was_there():
    default_storage.save("ab/abc", ContentFile(b"whole"))

    class Breaking(ContentFile):
        def chunks(self, chunk_size=None):
            raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        default_storage.save("ab/abc", Breaking(b"whole"))

    assert [path.read_bytes() for path in stored()] == [b"whole"]


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (Path.unlink, "missing from the storage"),
        (lambda path: path.write_bytes(b"x"), "altered in the storage"),
    ],
)
def test_a_damaged_file_is_told_and_logged_and_sending_it_again_mends_it(own, harm, told, caplog):
    kept = attached(own)
    harm(file_of(kept))

    with caplog.at_level(logging.ERROR), pytest.raises(Damaged, match=told):
        content_of(kept)

    assert told in caplog.text
    assert attached(own).pk == kept.pk
    assert content_of(kept) == PNG


def checked() -> str:
    out = StringIO()
    try:
        call_command("check_attachments", stdout=out)
    except CommandError as error:
        return f"{out.getvalue()}{error}"
    return out.getvalue()


def test_the_command_names_each_damaged_file_and_changes_nothing(own):
    whole, gone = attached(own), attached(own, TEXT, name="note.txt")
    assert "2 files are as they were sent" in checked()

    file_of(gone).unlink()

    told = checked()
    assert f"attachment {gone.pk} at facility {own.pk}, note.txt" in told
    assert "1 of 2 files are damaged" in told
    assert content_of(whole) == PNG


def visit(at: Facility, *attachments: int, **stated) -> Record:
    deed = Deed(
        activity="walkthrough",
        performed=Moment(day=TODAY),
        measurements={"areas": ["spill"]},
        attachments=attachments,
        **stated,
    )
    return record_visit(
        facility=at, submitted_by=at.operator, entered_by="test", deeds=[deed], now=NOW
    ).records[0]


def test_a_record_shows_each_file_once(own):
    photo, note = attached(own), attached(own, TEXT)

    record = visit(own, photo.pk, note.pk, photo.pk)

    shown = record.record_attachments.order_by("pk").values_list("attachment", flat=True)
    assert list(shown) == [photo.pk, note.pk]


@pytest.mark.parametrize(
    ("named", "code"),
    [
        (lambda own, foreign: attached(foreign), "unknown"),
        (lambda own, foreign: Attachment(pk=999_999), "unknown"),
        (lambda own, foreign: withdrawn(attached(own)), "withdrawn"),
    ],
)
def test_a_record_with_a_file_that_is_not_there_to_be_shown_is_refused_whole(own, foreign, named, code):
    good = attached(own, png(2))

    with pytest.raises(Invalid) as caught:
        visit(own, good.pk, named(own, foreign).pk)

    assert [(one.pointer, one.code) for one in caught.value.faults] == [("/records/0/attachments/1", code)]
    assert not Record.objects.exists()


def test_a_report_without_files_is_the_same_report_as_before_there_were_any():
    """A contractor's program repeats what it sent before this service knew files: that is no conflict."""
    deed = Deed(activity="walkthrough", performed=Moment(day=TODAY))

    assert "attachments" not in deed.content()
    assert (
        Deed(activity="walkthrough", performed=Moment(day=TODAY), attachments=(1,)).sha256() != deed.sha256()
    )


def test_the_database_lets_no_record_show_a_file_of_another_facility(own, foreign):
    record, theirs = visit(own), attached(foreign)

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        RecordAttachment.objects.create(record=record, attachment=theirs)


def test_the_database_keeps_the_same_bytes_once(own):
    kept = attached(own)
    kept.pk = None

    with pytest.raises(IntegrityError), transaction.atomic():
        kept.save()
