"""What a visit leaves on file: all of it or none, once however often it is sent, corrected but never edited."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from equipment.faults import Conflict, Invalid
from equipment.models import ConflictingReport, Facility, Record
from equipment.moments import Moment, read_moment
from equipment.services.records import Deed, ExternalIdReused, keep_conflict, record_visit, withdraw_record
from tests import world
from tests.world import NOW

BUCKET_TEST = Deed(
    activity="spill-bucket-test",
    performed=Moment(day=date(2026, 3, 2)),
    subjects=("SB1",),
    outcome="pass",
    measurements={"method": "liquid"},
    external_id="job-1",
)


@pytest.fixture
def site(own) -> Facility:
    world.line(own)
    return own


def visit(site, sender, *deeds, now=NOW):
    return record_visit(facility=site, submitted_by=sender, entered_by="test", deeds=deeds, now=now)


def faults_of(refusal) -> dict[str, str]:
    return {fault.pointer: fault.code for fault in refusal.value.faults}


def test_a_visit_is_on_file_with_its_subjects(site, contractor):
    [record] = visit(site, contractor, BUCKET_TEST).records

    assert record.performed_on == date(2026, 3, 2)
    assert [component.tag for component in record.subjects.all()] == ["SB1"]


def test_a_visit_raises_the_version_of_the_facts(site, contractor):
    before = Facility.objects.get(pk=site.pk).facts_version

    visit(site, contractor, BUCKET_TEST)

    assert Facility.objects.get(pk=site.pk).facts_version == before + 1


def test_the_same_report_again_changes_nothing(site, contractor):
    visit(site, contractor, BUCKET_TEST)
    version = Facility.objects.get(pk=site.pk).facts_version

    again = visit(site, contractor, BUCKET_TEST)

    assert again.repeated == 1
    assert Record.objects.count() == 1
    assert Facility.objects.get(pk=site.pk).facts_version == version


def test_other_content_under_a_used_id_is_refused(site, contractor):
    visit(site, contractor, BUCKET_TEST)

    with pytest.raises(ExternalIdReused) as refusal:
        visit(site, contractor, replace(BUCKET_TEST, outcome="fail"))

    assert Record.objects.get().outcome == "pass"
    assert faults_of(refusal) == {"/records/0/external_id": "reused"}


def test_a_contradicting_report_is_kept_beside_the_first_one_once(site, contractor):
    visit(site, contractor, BUCKET_TEST)
    with pytest.raises(ExternalIdReused) as refusal:
        visit(site, contractor, replace(BUCKET_TEST, outcome="fail"))

    keep_conflict(refusal.value, entered_by="test", now=NOW)
    keep_conflict(refusal.value, entered_by="test", now=NOW)

    assert ConflictingReport.objects.get().content["outcome"] == "fail"


def test_another_organisation_may_use_the_same_id(site, contractor, owner):
    visit(site, contractor, BUCKET_TEST)

    visit(site, owner, BUCKET_TEST)

    assert Record.objects.count() == 2


def test_one_bad_record_keeps_the_whole_visit_out(site, contractor):
    wrong = replace(BUCKET_TEST, subjects=("SB9",), external_id="job-2")

    with pytest.raises(Invalid) as refusal:
        visit(site, contractor, BUCKET_TEST, wrong)

    assert faults_of(refusal) == {"/records/1/subjects/0": "unknown"}
    assert Record.objects.count() == 0


def test_every_fault_of_a_visit_is_told_at_once(site, contractor):
    with pytest.raises(Invalid) as refusal:
        visit(
            site,
            contractor,
            replace(BUCKET_TEST, activity="bucket-dance"),
            replace(BUCKET_TEST, subjects=("T1",)),
            replace(BUCKET_TEST, external_id=None, subjects=(), measurements={"level_change": 1.0}),
            replace(BUCKET_TEST, external_id=None, performed=read_moment("2026-03-05")),
        )

    assert faults_of(refusal) == {
        "/records/0/activity": "unknown",
        "/records/0/external_id": "repeated",
        "/records/1/subjects/0": "wrong-kind",
        "/records/1/external_id": "repeated",
        "/records/2/measurements/level_change": "unknown",
        "/records/2/subjects": "missing",
        "/records/3/performed_at": "future",
    }


def test_a_component_of_another_facility_is_unknown_here(site, contractor, foreign):
    world.component(foreign, "spill_bucket", "SB7")

    with pytest.raises(Invalid) as refusal:
        visit(site, contractor, replace(BUCKET_TEST, subjects=("SB7",)))

    assert faults_of(refusal) == {"/records/0/subjects/0": "unknown"}


def test_a_correction_supersedes_and_the_first_report_stays(site, contractor):
    [first] = visit(site, contractor, BUCKET_TEST).records

    [second] = visit(
        site, contractor, replace(BUCKET_TEST, outcome="fail", external_id="job-1b", supersedes=first.pk)
    ).records

    assert Record.objects.get(pk=first.pk).superseded_by == second
    assert Record.objects.get(pk=first.pk).outcome == "pass"


def test_a_correction_sent_twice_is_a_repeat(site, contractor):
    [first] = visit(site, contractor, BUCKET_TEST).records
    correction = replace(BUCKET_TEST, outcome="fail", external_id="job-1b", supersedes=first.pk)
    visit(site, contractor, correction)

    again = visit(site, contractor, correction)

    assert again.repeated == 1


def test_a_record_is_corrected_once(site, contractor):
    [first] = visit(site, contractor, BUCKET_TEST).records
    visit(site, contractor, replace(BUCKET_TEST, external_id="job-1b", supersedes=first.pk))

    with pytest.raises(Invalid) as refusal:
        visit(site, contractor, replace(BUCKET_TEST, external_id="job-1c", supersedes=first.pk))

    assert faults_of(refusal) == {"/records/0/supersedes": "unknown"}


def test_a_withdrawn_record_stays_readable_with_the_reason(site, contractor):
    [record] = visit(site, contractor, BUCKET_TEST).records

    withdraw_record(record=record, reason="wrong bucket", by="R. Ames", now=NOW + timedelta(hours=1))

    kept = Record.objects.get(pk=record.pk)
    assert (kept.withdrawn_reason, kept.withdrawn_by) == ("wrong bucket", "R. Ames")


def test_withdrawing_twice_keeps_the_first_reason(site, contractor):
    [record] = visit(site, contractor, BUCKET_TEST).records
    withdraw_record(record=record, reason="wrong bucket", by="R. Ames", now=NOW)

    withdraw_record(record=record, reason="wrong bucket", by="somebody", now=NOW)
    with pytest.raises(Conflict):
        withdraw_record(record=record, reason="another reason", by="somebody", now=NOW)

    assert Record.objects.get(pk=record.pk).withdrawn_by == "R. Ames"
