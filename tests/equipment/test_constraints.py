"""The database itself refuses what must never be false, past every service; run on SQLite and on PostgreSQL.

Rows are written here as a careless program would: by UPDATE and bulk insert, without one of our checks.
"""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from equipment.models import (
    ApiKey,
    Compartment,
    Component,
    ContainmentSump,
    Facility,
    FacilityAccess,
    FieldChange,
    Hose,
    OverfillDevice,
    Record,
    RecordSubject,
    Sensor,
    SpillBucket,
    StatusChange,
    Tank,
    TankSystem,
    Vent,
)
from equipment.vocabulary import Kind
from tests import world

DAY = timedelta(days=1)


def refused(write: Callable[[], Any], name: str = "") -> None:
    """The write raises, and the words of the refusal hold `name`."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        write()
    assert name in str(caught.value)


def status(at: Facility, **fields: Any) -> StatusChange:
    stated = {"effective_on": world.TODAY, "status": "currently in use", "recorded_by": "test"}
    return StatusChange(facility=at, recorded_at=world.NOW, **(stated | fields))


def value(at: Facility, **fields: Any) -> FieldChange:
    stated = {"effective_on": world.TODAY, "field": "note", "value": "x", "recorded_by": "test"}
    return FieldChange(facility=at, recorded_at=world.NOW, **(stated | fields))


def record(at: Facility, **fields: Any) -> Record:
    return Record(
        facility=at,
        activity="spill-bucket-test",
        performed_on=world.TODAY,
        recorded_at=world.NOW,
        submitted_by=at.operator,
        entered_by="test",
        content_sha256="0" * 64,
        **fields,
    )


@pytest.fixture
def two(own, foreign) -> tuple[Component, Component]:
    """A tank of ours and one of theirs."""
    return world.component(own, "tank", "T1"), world.component(foreign, "tank", "T1")


@pytest.mark.parametrize(
    ("model", "field"),
    [
        (Tank, "compartment_capacity_gallons"),
        (Tank, "diameter_in"),
        (Compartment, "compartment_capacity_gallons"),
        (SpillBucket, "capacity_gal"),
        (ContainmentSump, "capacity_gal"),
        (Vent, "height_ft"),
        (Hose, "length_ft"),
    ],
)
def test_sizes_are_above_zero_or_unknown(model, field, own):
    one = world.component(own, model.KIND, "X1")
    rows = model.objects.filter(pk=one.pk)

    for wrong in (0, -1):
        refused(lambda wrong=wrong: rows.update(**{field: wrong}), "above_zero")

    for right in (0.001, None):
        assert rows.update(**{field: right}) == 1


@pytest.mark.parametrize(
    ("model", "field"),
    [(Tank, "ethanol_pct"), (Tank, "biodiesel_pct"), (OverfillDevice, "set_level_pct")],
)
def test_percentages_go_from_0_to_100(model, field, own):
    one = world.component(own, model.KIND, "X1")
    rows = model.objects.filter(pk=one.pk)

    for wrong in (-0.1, 100.1):
        refused(lambda wrong=wrong: rows.update(**{field: wrong}), "is_a_percentage")

    for right in (0, 100, None):
        assert rows.update(**{field: right}) == 1


def test_removed_is_not_before_installed(own):
    rows = Component.objects.filter(pk=world.component(own, "hose", installed_on=date(2020, 1, 2)).pk)

    refused(lambda: rows.update(removed_on=date(2020, 1, 1)), "removed_after_installed")

    assert rows.update(removed_on=date(2020, 1, 2)) == 1


def test_a_sensor_window_opens_upwards(own):
    rows = Sensor.objects.filter(pk=world.component(own, "sensor", window_low_in=2.5).pk)

    refused(lambda: rows.update(window_high_in=2.5), "sensor_window_opens_upwards")


def test_a_tag_is_taken_once_at_a_facility(two, own):
    refused(lambda: world_insert(own, "T1"))


def world_insert(at: Facility, tag: str, **fields: Any) -> None:
    Component.objects.bulk_create([Component(facility=at, kind=Kind.HOSE, tag=tag, **fields)])


def test_a_component_is_neither_its_own_parent_nor_its_own_successor(own):
    one = world.component(own, "hose")
    rows = Component.objects.filter(pk=one.pk)

    refused(lambda: rows.update(parent=one.pk), "component_not_its_own_parent")
    refused(lambda: rows.update(replaces=one.pk), "component_replaces_another")


def test_a_tank_system_hangs_on_the_facility(two, own):
    system = world.component(own, "tank_system")

    refused(
        lambda: TankSystem.objects.filter(pk=system.pk).update(parent=two[0]),
        "tank_system_hangs_on_the_facility",
    )


def test_a_component_has_a_known_kind(own):
    rows = Component.objects.filter(pk=world.component(own, "hose").pk)

    refused(lambda: rows.update(kind="pump"), "component_kind_known")


@pytest.mark.parametrize("link", ["parent", "replaces"])
def test_parent_and_predecessor_are_at_the_same_facility(link, two, own):
    mine, theirs = two
    hose = world.component(own, "hose", "H1")

    refused(lambda: Component.objects.filter(pk=hose.pk).update(**{link: theirs}), f"component_{link}")
    refused(lambda: world_insert(own, "H2", **{link: theirs}), f"component_{link}")

    assert Component.objects.filter(pk=hose.pk).update(**{link: mine}) == 1
    world_insert(own, "H2", **{link: mine})


@pytest.mark.parametrize("make", [status, value])
def test_a_change_is_about_a_component_of_its_own_facility(make, two, own):
    mine, theirs = two

    refused(make(own, component=theirs).save, "change_component")

    make(own, component=mine).save()


def test_a_change_is_not_moved_to_a_foreign_component(two, own):
    mine, theirs = two
    change = status(own, component=mine)
    change.save()

    refused(
        lambda: StatusChange.objects.filter(pk=change.pk).update(component=theirs), "statuschange_component"
    )


def test_a_record_is_about_components_of_its_own_facility(two, own):
    mine, theirs = two
    made = record(own)
    made.save()

    refused(RecordSubject(record=made, component=theirs).save, "recordsubject_component")
    refused(lambda: RecordSubject.objects.bulk_create([RecordSubject(record=made, component=theirs)]))

    RecordSubject(record=made, component=mine).save()


def test_a_record_supersedes_one_of_its_own_facility_and_that_once(own, foreign):
    theirs, first = record(foreign), record(own)
    theirs.save()
    first.save()

    refused(record(own, supersedes=theirs).save, "record_supersedes")
    record(own, supersedes=first).save()
    refused(record(own, supersedes=first).save)


@pytest.mark.parametrize("make", [status, value])
@pytest.mark.parametrize("whole", [True, False])
def test_one_change_a_day_stands(make, whole, two, own):
    subject = None if whole else two[0]
    first = make(own, component=subject)
    first.save()

    refused(make(own, component=subject).save)

    make(own, component=subject, effective_on=world.TODAY + DAY).save()
    type(first)._default_manager.filter(pk=first.pk).update(
        withdrawn_at=world.NOW, withdrawn_reason="wrong", withdrawn_by="test"
    )
    make(own, component=subject).save()


def test_two_facilities_may_state_the_same_day(own, foreign):
    for facility in (own, foreign):
        status(facility).save()


def test_a_status_is_a_known_word_and_its_residue_is_possible(own):
    for wrong in ({"status": "shut"}, {"residue_in": -0.1}, {"residue_pct": 100.1}, {"residue_pct": -1}):
        refused(status(own, **wrong).save)

    status(own, residue_in=0, residue_pct=0).save()


@pytest.mark.parametrize("make", [status, value, record])
@pytest.mark.parametrize("left_out", ["withdrawn_at", "withdrawn_reason", "withdrawn_by"])
def test_a_withdrawal_says_when_why_and_by_whom(make, left_out, own):
    made = make(own)
    made.save()
    rows = type(made)._default_manager.filter(pk=made.pk)
    whole = {"withdrawn_at": world.NOW, "withdrawn_reason": "wrong", "withdrawn_by": "test"}

    refused(lambda: rows.update(**(whole | {left_out: None})), "withdrawn_with_a_reason")

    assert rows.update(**whole) == 1


def test_an_external_id_is_used_once_by_an_organisation(own, foreign):
    for facility in (own, foreign):
        record(facility, external_id="job-1").save()

    refused(record(own, external_id="job-1").save)
    record(own).save()
    record(own).save()


def test_a_key_expires_after_it_was_made(owner):
    world.key(owner)

    refused(lambda: ApiKey.objects.update(expires_at=world.NOW), "key_expires_after_creation")
    refused(lambda: ApiKey.objects.update(role="king"), "key_role_known")


def test_a_grant_ends_after_it_began(own):
    rows = FacilityAccess.objects.filter(pk=own.grants.all()[0].pk)
    began = rows.get().starts_at

    for end in (began, began - DAY):
        refused(lambda end=end: rows.update(ends_at=end), "grant_ends_after_it_starts")
    refused(lambda: rows.update(role="king"), "grant_role_known")

    assert rows.update(ends_at=began + timedelta(microseconds=1)) == 1


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"facility_latitude": 90.1}, "facility_on_earth"),
        ({"facility_longitude": -180.1}, "facility_on_earth"),
        ({"aboveground_oil_gal": -1}, "facility_amounts_not_negative"),
        ({"previous_year_monthly_gal": -1}, "facility_amounts_not_negative"),
        ({"largest_vessel_barrels": -1}, "facility_amounts_not_negative"),
    ],
)
def test_a_facility_lies_on_earth_and_holds_no_negative_amounts(fields, name, own):
    refused(lambda: Facility.objects.filter(pk=own.pk).update(**fields), name)


def test_a_code_is_used_once_by_an_operator(own, foreign):
    second = world.facility(own.operator, "SECOND")

    refused(lambda: Facility.objects.filter(pk=second.pk).update(code="OWN"))

    assert Facility.objects.filter(pk=foreign.pk).update(code="OWN") == 1
