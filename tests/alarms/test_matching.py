"""Which component an event belongs to. What is said of names: common practice, no source."""

from datetime import date, timedelta

import pytest

from alarms.matching import Directory, Named, plain
from tests.world import TODAY


def test_a_device_is_found_by_its_tag_however_it_is_written():
    directory = Directory([Named(1, "SU1", "Fuel dock sump"), Named(2, "SU2")])

    assert [
        directory.find(name, TODAY) for name in ("SU1", "su1", "  SU2 ", "fuel  dock sump", "SU9", "")
    ] == [
        1,
        1,
        2,
        1,
        None,
        None,
    ]


def test_a_name_that_two_components_share_finds_neither():
    directory = Directory(
        [Named(1, "SU1", "Dock sump"), Named(2, "SU2", "dock sump"), Named(3, "t1"), Named(4, "T1")]
    )

    assert directory.find("Dock sump", TODAY) is None
    assert directory.find("T1", TODAY) == 4


def test_a_name_is_compared_without_its_odd_spaces():
    assert plain("  dock \t sump ") == "dock sump"


SWAP = date(2026, 2, 20)
A_DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("day", "found"), [(SWAP - A_DAY, 1), (SWAP, 2), (SWAP + A_DAY, 2)], ids=["before", "on", "after"]
)
def test_a_label_that_was_handed_on_names_the_sensor_that_is_there_on_the_day(day, found):
    """A message of a gateway that was offline over the swap still belongs to the old sensor."""
    old = Named(1, "SN1", "Fuel dock sump", date(2019, 5, 1), SWAP)
    new = Named(2, "SN7", "Fuel dock sump", SWAP)

    assert Directory([old, new]).find("fuel dock sump", day) == found


def test_a_sensor_that_was_removed_is_still_found_by_its_name():
    gone = Named(1, "SN1", "Fuel dock sump", removed_on=SWAP)

    assert Directory([gone]).find("Fuel dock sump", TODAY) == 1


def test_of_two_that_are_both_gone_neither_is_guessed():
    gone = [Named(one, f"SN{one}", "Fuel dock sump", removed_on=SWAP) for one in (1, 2)]

    assert Directory(gone).find("Fuel dock sump", TODAY) is None
