"""What hangs on a tank: compartments, piping, buckets, flags, and what silence and a no mean."""

from datetime import date

import pytest

from equipment.models import (
    CathodicProtection,
    Compartment,
    Component,
    ContainmentSump,
    Facility,
    LineLeakDetector,
    OverfillDevice,
    PipingRun,
    SpillBucket,
    StatusChange,
    Tank,
    TankSystem,
)
from tests.equipment.roster.files import Imported, mapping, take

HEAD = """
title = "Parts"
[identity]
facility = "site"
tank = "tank"
{identity}
[constants.facility]
time_zone = "America/New_York"
"""


def column(name: str, feeds: str, more: str = "") -> str:
    return f'[[column]]\nname = "{name}"\nfeeds = "{feeds}"\n{more}\n'


def flag(name: str, adds: str, word: str) -> str:
    return f'[[flag]]\nname = "{name}"\nadds = "{adds}"\nword = "{word}"\n'


def run(owner, tables: str, text: str, identity: str = "") -> Imported:
    return take(text, owner, using=mapping(HEAD.replace("{identity}", identity) + tables))


ATG = flag("atg", "tank.release_detection", "automatic tank gauging")
SIR = flag("sir", "tank.release_detection", "statistical inventory reconciliation")


@pytest.mark.parametrize(
    ("atg", "sir", "methods"),
    [
        ("Yes", "No", ["automatic tank gauging"]),
        ("Y", "y", ["automatic tank gauging", "statistical inventory reconciliation"]),
        ("No", "No", []),
        ("No", "", None),
        ("", "", None),
        ("Unknown", "No", None),
        ("Yes", "maybe", None),
    ],
)
def test_flags_make_a_list_of_methods_and_silence_is_no_no(atg, sir, methods, owner):
    run(owner, ATG + SIR, f"site,tank,atg,sir\nS,1,{atg},{sir}\n")

    assert Tank.objects.get().release_detection == methods


def test_a_yes_beside_a_silence_is_remarked(owner):
    assert "not said: sir" in run(owner, ATG + SIR, "site,tank,atg,sir\nS,1,Yes,\n").reasons[0]


def test_two_flags_for_one_word_are_unknown(owner):
    tables = (
        flag("alarm", "overfill_device.overfill_type", "high-level alarm")
        + flag("shutoff", "overfill_device.overfill_type", "automatic shutoff")
        + column("overfill", "overfill_device.present")
    )

    done = run(owner, tables, "site,tank,alarm,shutoff,overfill\nS,1,Yes,Yes,Yes\nS,2,Yes,No,\n")

    assert "holds one word" in done.reasons[0]
    assert list(OverfillDevice.objects.order_by("tag").values_list("tag", "overfill_type")) == [
        ("OV1", None),
        ("OV2", "high-level alarm"),
    ]


@pytest.mark.parametrize(("said", "there"), [("Yes", True), ("No", False), ("", False), ("?", False)])
def test_a_bucket_is_there_only_when_the_roster_says_so(said, there, owner):
    run(owner, column("bucket", "spill_bucket.present"), f"site,tank,bucket\nS,1,{said}\n")

    assert SpillBucket.objects.exists() is there


@pytest.mark.parametrize(("said", "remarked"), [("No", False), ("", True)])
def test_silence_about_a_bucket_is_remarked_and_a_no_is_not(said, remarked, owner):
    done = run(owner, column("bucket", "spill_bucket.present"), f"site,tank,bucket\nS,1,{said}\n")

    assert ("no spill bucket is on file" in "".join(done.reasons)) is remarked


@pytest.mark.parametrize(
    "table", [column("pipe", "piping_run.piping_style"), column("pipe", "piping_run.piping_material")]
)
def test_no_piping_is_knowledge(table, owner):
    done = run(owner, table, "site,tank,pipe\nS,1,No piping\n")

    assert not PipingRun.objects.exists()
    assert done.remarks == []


def test_a_detector_shows_that_there_is_a_run(owner):
    run(owner, column("lld", "line_leak_detector.detector_type"), "site,tank,lld\nS,1,Mechanical\n")

    assert LineLeakDetector.objects.get().parent == PipingRun.objects.get().component_ptr


def test_a_detector_on_no_piping_is_a_contradiction(owner):
    tables = column("pipe", "piping_run.piping_style") + column("lld", "line_leak_detector.detector_type")

    done = run(owner, tables, "site,tank,pipe,lld\nS,1,No piping,Electronic\n")

    assert "the piping run it belongs to is denied" in done.reasons[0]
    assert set(Component.objects.values_list("tag", flat=True)) == {"S1", "T1"}


def test_compartments_carry_their_own_product_and_parts(owner):
    tables = (
        column("gal", "compartment.compartment_capacity_gallons")
        + column("product", "compartment.substance")
        + column("wall", "spill_bucket.spill_bucket_wall_type")
        + column("shell", "tank.tank_secondary_containment")
        + column("sump", "tank_top_sump.wall")
    )
    text = (
        "site,tank,part,gal,product,wall,shell,sump\n"
        "S,1,A,6000,Gasoline (non-ethanol),Single,Double wall,Double\n"
        "S,1,B,4000,Kerosene,Double,Double wall,Double\n"
        "S,2,,8000,Marine fuel,Single,Single wall,\n"
    )

    done = run(owner, tables, text, 'compartment = "part"')

    assert done.outcomes == ["imported"] * 3
    assert set(Compartment.objects.values_list("tag", "compartment_capacity_gallons", "parent__tag")) == {
        ("C1.A", 6000, "T1"),
        ("C1.B", 4000, "T1"),
    }
    assert set(SpillBucket.objects.values_list("tag", "parent__tag")) == {
        ("SB1.A", "C1.A"),
        ("SB1.B", "C1.B"),
        ("SB2", "T2"),
    }
    assert list(Tank.objects.order_by("tag").values_list("substance", flat=True)) == [None, "marine fuel"]
    assert ContainmentSump.objects.get().place == "tank top"
    assert run(owner, tables, text, 'compartment = "part"').outcomes == ["unchanged"] * 3


def test_one_system_a_tank_where_the_mapping_says_so(owner):
    run(owner, "", "site,tank\nS,1\nS,2\n", 'tank_system = "one a tank"')

    assert set(Tank.objects.values_list("tag", "parent__tag")) == {("T1", "S1"), ("T2", "S2")}
    assert TankSystem.objects.count() == 2


def test_protection_hangs_on_what_it_protects(owner):
    tables = column("cp", "tank_cathodic_protection.cp_type") + column(
        "pipe_cp", "piping_cathodic_protection.cp_type"
    )

    run(owner, tables, "site,tank,cp,pipe_cp\nS,1,Impressed current,Galvanic\n")

    assert set(CathodicProtection.objects.values_list("tag", "parent__tag", "cp_type")) == {
        ("CP1", "T1", "impressed current"),
        ("CPP1", "P1", "galvanic"),
    }


def test_a_status_with_its_day_begins_on_that_day(owner):
    tables = column("status", "tank.status") + column("since", "tank.status_since")

    done = run(owner, tables, "site,tank,status,since\nS,1,Temporarily out of service,2025-11-05\n")

    change = StatusChange.objects.get()
    assert (change.effective_on, change.status) == (date(2025, 11, 5), "temporarily out of service")
    assert done.remarks == []


def test_a_tank_removed_before_it_was_installed_keeps_neither_as_fact_of_removal(owner):
    tables = column("in", "tank.installed_on") + column("out", "tank.removed_on")

    done = run(owner, tables, "site,tank,in,out\nS,1,1999-01-01,1998-01-01\n")

    assert "lies before installation" in done.reasons[0]
    assert Tank.objects.get().removed_on is None


def test_a_tank_name_that_makes_no_tag_is_kept_as_its_label(owner):
    done = run(owner, "", 'site,tank\nS,"No 2, north"\nS,No-2-north\n')

    assert list(Tank.objects.values_list("tag", "label")) == [("TNo-2-north", "No 2, north")]
    assert done.outcomes == ["imported", "refused"]


def test_a_word_may_mean_that_nobody_said(owner):
    table = column("gal", "tank.compartment_capacity_gallons", 'words = { "Not listed" = "" }')

    assert run(owner, table, "site,tank,gal\nS,1,NOT LISTED\n").remarks == []


def test_a_zone_may_come_from_the_file(owner):
    tables = column("zone", "facility.time_zone")
    using = mapping(HEAD.replace("{identity}", "").replace('time_zone = "America/New_York"', "") + tables)

    done = take("site,tank,zone\nS,1,america/chicago\nR,1,Mars/North\n", owner, using=using)

    assert Facility.objects.get().time_zone == "America/Chicago"
    assert done.outcomes == ["imported", "refused"]
    assert "the facility cannot be opened" in done.reasons[-1]
