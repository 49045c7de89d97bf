"""Which component an event belongs to. What is said of names: common practice, no source."""

from alarms.matching import Directory, Named, plain


def test_a_device_is_found_by_its_tag_however_it_is_written():
    directory = Directory([Named(1, "SU1", "Fuel dock sump"), Named(2, "SU2")])

    assert [directory.find(name) for name in ("SU1", "su1", "  SU2 ", "fuel  dock sump", "SU9", "")] == [
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

    assert directory.find("Dock sump") is None
    assert directory.find("T1") == 4


def test_a_name_is_compared_without_its_odd_spaces():
    assert plain("  dock \t sump ") == "dock sump"
