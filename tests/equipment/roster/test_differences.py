"""A roster that says something else than the register: reported and left, or applied on request."""

import re
from datetime import date

import pytest

from equipment.models import Component, Facility, FieldChange, PipingRun, StatusChange, Tank
from equipment.services import changes
from equipment.services.roster_sites import Sites
from tests import world
from tests.equipment.roster.files import GOOD, MAPPING, mapping, roster, take
from tests.world import NOW, TODAY

LATER = date(2026, 3, 3)


@pytest.fixture
def tank(owner) -> Tank:
    """One tank from a roster of 1 March."""
    take(roster(GOOD), owner, as_of=date(2026, 3, 1))
    return Tank.objects.get()


def facts(tank: Tank) -> int:
    return Facility.objects.get(pk=tank.facility_id).facts_version


def test_what_differs_is_reported_and_left(tank, owner):
    before = facts(tank)

    done = take(roster(GOOD.replace("12000", "10000")), owner)

    tank.refresh_from_db()
    assert done.outcomes == ["unchanged"]
    assert done.reasons == ["differs from the register: capacity, ours: 12000, theirs: 10000"]
    assert (tank.compartment_capacity_gallons, facts(tank)) == (12_000, before)
    assert (done.summary.differing, done.rows[0].differs) == (1, True)


def test_an_update_becomes_a_dated_change_and_earlier_days_keep_their_value(tank, owner):
    done = take(roster(GOOD.replace("12000", "10000")), owner, as_of=LATER, update=True)

    change = FieldChange.objects.get()
    tank.refresh_from_db()
    assert done.outcomes == ["imported with remarks"]
    assert done.reasons == ["updated: capacity, was 12000, now 10000 (from 2026-03-03)"]
    assert (change.field, change.value, change.effective_on) == (
        "compartment_capacity_gallons",
        10_000,
        LATER,
    )
    assert tank.compartment_capacity_gallons == 12_000


@pytest.mark.parametrize(
    "row",
    [
        GOOD.replace("12000", "10000"),
        GOOD.replace("1998-06-15", "1999-06-15"),
        GOOD.replace("Kent", "Cecil"),
        GOOD.replace("Flex", "Steel"),
        GOOD.replace("Currently in use", "Abandoned"),
    ],
)
def test_an_update_made_once_leaves_nothing_for_the_second_time(row, tank, owner):
    take(roster(row), owner, update=True)
    before = facts(tank)

    again = take(roster(row), owner, update=True)

    assert again.outcomes == ["unchanged"]
    assert facts(tank) == before


def test_a_day_of_installation_that_differs_is_corrected_not_dated(tank, owner):
    take(roster(GOOD.replace("1998-06-15", "06/16/1998")), owner, update=True)

    tank.refresh_from_db()
    assert (tank.installed_on, tank.version) == (date(1998, 6, 16), 2)
    assert not FieldChange.objects.exists()


def test_what_was_unknown_is_filled_in_only_on_request(owner):
    take(roster(GOOD.replace("12000", "")), owner)

    left = take(roster(GOOD), owner)
    capacity = Tank.objects.get().compartment_capacity_gallons
    filled = take(roster(GOOD), owner, update=True)

    assert left.reasons == ["differs from the register: capacity, ours: unknown, theirs: 12000"]
    assert (capacity, Tank.objects.get().compartment_capacity_gallons) == (None, 12_000)
    assert filled.summary.facts_updated == 1


@pytest.mark.parametrize("row", ["S9,1,,,,,,", "S9,1,Unknown,,,Unknown,Unknown,"])
def test_what_the_roster_leaves_open_contradicts_nothing(row, tank, owner):
    done = take(roster(row), owner)

    assert (done.outcomes, done.summary.differing) == (["unchanged"], 0)


def test_the_present_value_counts_not_the_first_one(tank, owner):
    changes.state_change(
        facility=tank.facility,
        component=tank,
        effective_on=date(2026, 3, 2),
        field="compartment_capacity_gallons",
        value=9_000,
        by="test",
        now=NOW,
    )

    assert take(roster(GOOD.replace("12000", "9000")), owner).summary.differing == 0
    assert "ours: 9000, theirs: 12000" in take(roster(GOOD), owner).reasons[0]


@pytest.mark.parametrize("update", [False, True])
def test_an_older_roster_does_not_speak_against_a_later_day(update, tank, owner):
    changes.state_status(
        facility=tank.facility,
        component=tank,
        effective_on=LATER,
        status="temporarily out of service",
        residue_in=None,
        residue_pct=None,
        by="test",
        now=NOW,
    )

    done = take(roster(GOOD), owner, as_of=date(2026, 3, 2), update=update)

    assert (done.outcomes, done.summary.differing) == (["unchanged"], 1)
    assert StatusChange.objects.order_by("-effective_on")[0].status == "temporarily out of service"
    assert ("of a later day, 2026-03-03" in done.reasons[0]) is update


def test_a_status_of_the_whole_site_reaches_the_tank(owner):
    site = world.facility(owner, "H", facility_id="S9", facility_state="MD")
    world.component(site, "tank", "T1")
    changes.state_status(
        facility=site,
        component=None,
        effective_on=TODAY,
        status="closed in place",
        residue_in=None,
        residue_pct=None,
        by="test",
        now=NOW,
    )

    done = take(roster("S9,1,Closed in place,,,,,"), owner)

    assert done.summary.differing == 0


def test_a_part_that_is_not_on_file_is_added_only_on_request(owner):
    take(roster(GOOD.replace("Flex", "")), owner)

    left = take(roster(GOOD), owner)
    added = take(roster(GOOD), owner, update=True)

    assert left.reasons == ["differs from the register: pipe, ours: none on file, theirs: piping run"]
    assert "(added as P1)" in added.reasons[0]
    assert PipingRun.objects.get().parent == Component.objects.get(tag="T1")


def test_a_site_registered_by_hand_is_recognised_by_its_number(owner):
    site = world.facility(owner, "HARBOR", facility_id="S9", facility_state="MD")
    world.component(site, "tank_system", "SYS")

    done = take(roster(GOOD), owner)

    assert (done.summary.facilities_opened, Facility.objects.count()) == (0, 1)
    assert Tank.objects.get().parent.tag == "SYS"
    assert done.reasons == ["differs from the register: county, ours: unknown, theirs: Kent"]


def test_a_run_registered_by_hand_under_another_tag_is_the_tanks_run(owner):
    site = world.facility(owner, "S9", facility_id="S9", facility_state="MD", facility_county="KENT")
    world.component(
        site,
        "tank",
        "T1",
        compartment_capacity_gallons=12_000,
        installed_on=date(1998, 6, 15),
        tank_material_description="fiberglass reinforced plastic",
    )
    world.component(site, "piping_run", "NORTH", parent="T1", piping_material=["flexible plastic"])

    assert take(roster(GOOD), owner).remarks == []


def test_the_same_number_in_another_state_is_another_site(owner):
    world.facility(owner, "DE-9", facility_id="S9", facility_state="DE")

    assert take(roster(GOOD), owner).summary.facilities_opened == 1


def test_a_code_that_another_site_has_refuses_the_row(owner):
    world.facility(owner, "S9", facility_id="8", facility_state="MD")

    done = take(roster(GOOD), owner)

    assert done.outcomes == ["refused"]
    assert "has the code 'S9'; set code_prefix in the mapping" in done.reasons[0]


def test_a_code_prefix_keeps_codes_apart(owner):
    world.facility(owner, "S9", facility_id="8", facility_state="MD")

    take(roster(GOOD), owner, using=mapping(MAPPING.replace('site"\n', 'site"\ncode_prefix = "MD-"\n', 1)))

    assert Facility.objects.get(facility_id="S9").code == "MD-S9"


def test_a_tag_that_something_else_has_refuses_the_row(owner):
    site = world.facility(owner, "S9", facility_id="S9", facility_state="MD")
    world.component(site, "vent", "T1")

    assert "the tag T1 is a vent in the register" in take(roster(GOOD), owner).reasons[0]


def test_a_facility_where_the_operator_no_longer_acts_is_left_alone(owner):
    site = world.facility(owner, "S9", facility_id="S9", facility_state="MD")
    site.grants.update(ends_at=NOW)

    assert "no longer acts at this facility" in take(roster(GOOD), owner).reasons[0]


def test_rows_that_contradict_each_other_are_told_so_and_the_first_one_counts(owner):
    done = take(roster(GOOD, GOOD.replace("S9,1", "S9,2").replace("Kent", "Cecil")), owner, update=True)

    assert done.outcomes == ["imported", "imported with remarks"]
    assert done.reasons == ["contradicts row 2, which says Kent; the first one counts"]
    assert Facility.objects.get().facility_county == "Kent"


def test_a_new_tank_of_a_known_site_touches_it_once(tank, owner):
    before = facts(tank)

    take(roster(GOOD, *(GOOD.replace("S9,1", f"S9,{number}") for number in range(2, 6))), owner)

    assert Tank.objects.count() == 5
    assert facts(tank) == before + 1


def test_what_the_database_refuses_harms_only_its_own_facility(owner, monkeypatch):
    """As when somebody else opens a site of the same code at the same moment."""
    world.facility(owner, "S9", facility_id="8", facility_state="MD")
    monkeypatch.setattr(Sites, "with_code", lambda self, code: None)

    done = take(roster(GOOD.replace("S9", "S1"), GOOD, GOOD.replace("S9", "S2")), owner)

    assert done.outcomes == ["imported", "refused", "imported"]
    # Only PostgreSQL says which of its constraints was broken.
    assert done.reasons[0].startswith("the register refused its facility: ")
    assert re.search("the same code or tag was added|has this code", done.reasons[0])
    assert (done.summary.facilities_opened, Tank.objects.count()) == (2, 2)
