"""Papers with good days. Amounts: 40 CFR 280.93 asks 500,000 or 1,000,000 USD for one occurrence."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from equipment.faults import Conflict, Invalid
from equipment.models import Document, DocumentAttachment
from equipment.queries import documents_of
from equipment.services.stating import end_fact
from tests import world
from tests.equipment.files import PDF, attached
from tests.equipment.statements import document, faults_of
from tests.world import NOW, TODAY


def test_a_paper_is_filed_with_its_good_days_and_its_cover(own):
    filed = document(
        own,
        "financial responsibility",
        issued_on=date(2026, 1, 1),
        expires_on=date(2026, 12, 31),
        per_occurrence_usd=1_000_000,
    )

    assert Document.objects.get() == filed
    assert (filed.expires_on, filed.per_occurrence_usd) == (date(2026, 12, 31), 1_000_000)


def test_a_paper_may_be_about_some_components_only(own):
    world.line(own)

    document(own, "compatibility proof", subjects=("T1", "SB1", "T1"))

    [kept] = documents_of([own.pk])[own.pk]
    assert [one.component.tag for one in kept.named.all()] == ["T1", "SB1"]


def test_a_paper_about_a_component_of_another_facility_is_refused(own, foreign):
    world.component(foreign, "tank", "T9")

    with pytest.raises(Invalid) as refusal:
        document(own, subjects=("T9",))

    assert faults_of(refusal) == {"/subjects/0": "unknown"}
    assert Document.objects.count() == 0


def test_a_renewal_that_becomes_good_tomorrow_is_filed_today(own):
    tomorrow = TODAY + timedelta(days=1)

    document(own, issued_on=tomorrow, expires_on=TODAY + timedelta(days=366))

    assert Document.objects.get().issued_on == tomorrow


def test_a_paper_cannot_have_been_received_tomorrow(own):
    with pytest.raises(Invalid) as refusal:
        document(own, received_on=TODAY + timedelta(days=1))

    assert faults_of(refusal) == {"/received_on": "future"}


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({"issued_on": TODAY, "expires_on": TODAY - timedelta(days=1)}, "/expires_on"),
        ({"issued_on": TODAY, "ended_on": TODAY - timedelta(days=1)}, "/ended_on"),
        ({"annual_aggregate_usd": -1}, ""),
    ],
)
def test_what_no_paper_can_say_is_refused_with_its_place(own, fields, pointer):
    with pytest.raises(Invalid) as refusal:
        document(own, **fields)

    assert faults_of(refusal) == {pointer: "constraint"}


@pytest.mark.parametrize("day", [date(1899, 12, 31), date(2301, 1, 1)])
def test_a_year_that_nobody_can_mean_is_refused(own, day):
    with pytest.raises(Invalid) as refusal:
        document(own, expires_on=day)

    assert faults_of(refusal) == {"/expires_on": "out-of-calendar"}


def test_a_paper_may_be_good_for_one_day(own):
    document(own, issued_on=TODAY, expires_on=TODAY)

    assert Document.objects.count() == 1


@pytest.mark.parametrize("type", ["Registration", "registraton", "financial-responsibility"])
def test_a_type_that_nearly_is_a_known_word_is_refused(own, type):
    with pytest.raises(Invalid) as refusal:
        document(own, type)

    assert faults_of(refusal) == {"/type": "near-miss"}


def test_a_type_of_a_states_own_is_filed(own):
    assert document(own, "waterfront permit").type == "waterfront permit"


def test_a_cancelled_paper_keeps_what_it_says_and_gets_a_last_day(own):
    policy = document(own, expires_on=date(2026, 12, 31))

    end_fact(fact=policy, ended_on=TODAY, by="R. Ames", now=NOW)

    kept = Document.objects.get()
    assert (kept.expires_on, kept.ended_on) == (date(2026, 12, 31), TODAY)


def test_a_last_day_is_not_moved(own):
    policy = document(own, ended_on=TODAY)

    with pytest.raises(Conflict):
        end_fact(fact=policy, ended_on=TODAY + timedelta(days=9), by="test", now=NOW)

    assert Document.objects.get().end_recorded_at == NOW


def test_a_paper_shows_its_scanned_pages_in_their_order_and_each_once(own, attachment_folder):
    second, first = attached(own, PDF, name="page 2.pdf"), attached(own, name="page 1.png")

    filed = document(own, attachments=(first.pk, second.pk, first.pk))

    shown = filed.document_attachments.order_by("pk").values_list("attachment", flat=True)
    assert list(shown) == [first.pk, second.pk]


def test_a_paper_with_a_page_of_another_facility_is_refused_whole(own, foreign, attachment_folder):
    with pytest.raises(Invalid) as refusal:
        document(own, attachments=(attached(own).pk, attached(foreign).pk))

    assert faults_of(refusal) == {"/attachments/1": "unknown"}
    assert Document.objects.count() == 0


def test_the_database_lets_no_paper_show_a_file_of_another_facility(own, foreign, attachment_folder):
    paper, theirs = document(own), attached(foreign)

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        DocumentAttachment.objects.create(document=paper, attachment=theirs)
