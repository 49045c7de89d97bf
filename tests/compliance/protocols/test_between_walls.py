"""Spaces between walls: tight as the procedure calls it (40 CFR 280.33(d); 23 CCR 2637; PEI RP 1200 section 4.3)."""

import pytest

from tests.compliance.protocols.worked import judged

VACUUM = {"method": "vacuum", "minutes": 60, "vacuum_start_in_hg": 10, "procedure_minutes": 60}
PRESSURE = {"method": "pressure", "minutes": 60, "pressure_start_psi": 5, "procedure_minutes": 60}
LIQUID = {"method": "liquid", "minutes": 240, "level_start_in": 12, "procedure_minutes": 240}


def space(**numbers):
    return judged("secondary-containment-test", **numbers)


@pytest.mark.parametrize(
    "unchanged",
    [
        VACUUM | {"vacuum_end_in_hg": 10},
        PRESSURE | {"pressure_end_psi": 5},
        LIQUID | {"level_end_in": 12},
    ],
)
def test_a_space_that_changed_by_nothing_is_tight_under_any_procedure(unchanged):
    assert space(**unchanged).outcome == "pass"


@pytest.mark.parametrize(
    ("numbers", "end", "allowed"),
    [
        (VACUUM, ("vacuum_end_in_hg", 9, 8.9), ("allowed_loss_in_hg", 1)),
        (PRESSURE, ("pressure_end_psi", 4.5, 4.4), ("allowed_loss_psi", 0.5)),
        (LIQUID, ("level_end_in", 11, 10.9), ("allowed_change_in", 1)),
        (LIQUID, ("level_end_in", 13, 13.1), ("allowed_change_in", 1)),
    ],
)
def test_a_loss_at_what_the_procedure_allows_passes_and_one_beyond_fails(numbers, end, allowed):
    name, at, beyond = end
    stated = numbers | {allowed[0]: allowed[1]}

    assert [space(**stated | {name: each}).outcome for each in (at, beyond)] == ["pass", "fail"]


def test_a_loss_without_the_limit_of_the_procedure_asks_for_the_limit():
    found = space(**VACUUM, vacuum_end_in_hg=9)

    assert (found.outcome, found.missing) == ("incomplete", ("allowed_loss_in_hg",))


def test_liquid_that_rises_shows_the_same_hole_as_liquid_that_falls():
    """Ground water that comes in, where the table stands high."""
    assert space(**LIQUID, level_end_in=13.5, allowed_change_in=1).outcome == "fail"


@pytest.mark.parametrize(
    "change", [{"since_delivery_h": 7.9}, {"dispensing_stopped": False}, {"minutes": 239}], ids=str
)
def test_a_liquid_test_that_was_not_left_alone_proves_nothing(change):
    """PEI RP 1200 section 4.3: no delivery in the 8 hours before, no dispensing during the test."""
    assert space(**LIQUID | {"level_end_in": 12} | change).outcome == "inconclusive"
    assert space(**LIQUID, level_end_in=12, since_delivery_h=8, dispensing_stopped=True).outcome == "pass"


def test_the_rest_after_a_delivery_belongs_to_liquid_alone():
    assert space(**VACUUM, vacuum_end_in_hg=10, since_delivery_h=1).outcome == "pass"


def test_two_walls_with_nothing_between_them_prove_nothing_by_staying_so():
    assert space(**VACUUM | {"vacuum_start_in_hg": 0}, vacuum_end_in_hg=0).outcome == "inconclusive"


def test_the_method_is_seen_from_the_numbers_where_it_was_not_stated():
    assert space(**VACUUM | {"method": None}, vacuum_end_in_hg=10).outcome == "pass"
    assert space(minutes=60).missing == ("method",)


def test_what_the_test_was_not_told_is_said_beside_the_outcome():
    found = space(
        method="liquid",
        minutes=240,
        level_start_in=12,
        level_end_in=12,
        groundwater_start_in=-3,
        groundwater_end_in=4,
    )

    assert found.outcome == "pass"
    assert "the length was not judged" in found.notes[0]
    assert "-3 to 4 in" in found.notes[1]


def test_liquid_in_a_space_that_should_be_dry_is_no_pass():
    """40 CFR 280.43(g), 280.50(b)."""
    for activity in ("tank-monitoring-result", "piping-monitoring-result"):
        assert judged(activity, method="interstitial monitoring", interstice_liquid=True).outcome == "fail"
