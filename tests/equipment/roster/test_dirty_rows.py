"""One faulty row of each kind between two good ones: what its message says, and that the good ones are imported."""

import pytest

from equipment.models import Facility, PipingRun, StatusChange, Tank
from equipment.roster.reading import RosterError
from tests.equipment.roster.files import GOOD, HEADER, roster, take

BEFORE = GOOD.replace("S9,1", "S1,1")
AFTER = GOOD.replace("S9,1", "S2,1")

# kind, row, column of the remark, words of the reason
REFUSED = [
    ("too few cells", "S9,1,Currently in use", "", "has 3 cells where the header has 8"),
    ("too many cells", GOOD + ",", "", "has 9 cells where the header has 8"),
    ("no facility", GOOD.replace("S9", " "), "site", "is empty"),
    ("no tank", GOOD.replace(",1,", ",,", 1), "tank", "is empty"),
    ("no letter in the tank", GOOD.replace(",1,", ",#,", 1), "tank", "no letter or digit"),
    ("long tank", GOOD.replace(",1,", f",{'1' * 27},", 1), "tank", "longer than 26 characters"),
    ("long facility", GOOD.replace("S9", "9" * 51), "site", "longer than 50 characters"),
    ("tank twice", BEFORE, "tank", "stands in row 2 already"),
    ("control character", GOOD.replace("Kent", "Ke\x07nt"), "county", "U+0007"),
    ("zero byte", GOOD.replace("Kent", "Ke\x00nt"), "county", "U+0000"),
    ("text after a quotation mark", GOOD.replace("Kent", '"Ke"nt'), "", "quotation marks"),
    ("one long line", GOOD.replace("Kent", "K" * 70_000), "", "longer than 65536 characters"),
]
KEPT = [
    (
        "no number",
        GOOD.replace("12000", "big"),
        "capacity",
        "is not a number",
        "compartment_capacity_gallons",
    ),
    (
        "not a number",
        GOOD.replace("12000", "nan"),
        "capacity",
        "is not a number",
        "compartment_capacity_gallons",
    ),
    (
        "zero capacity",
        GOOD.replace("12000", "0"),
        "capacity",
        "must be above 0",
        "compartment_capacity_gallons",
    ),
    (
        "below zero",
        GOOD.replace("12000", "-5"),
        "capacity",
        "must be above 0",
        "compartment_capacity_gallons",
    ),
    (
        "impossible day",
        GOOD.replace("1998-06-15", "1998-02-30"),
        "installed",
        "is no date of the form",
        "installed_on",
    ),
    (
        "other form of date",
        GOOD.replace("1998-06-15", "15.6.98"),
        "installed",
        "is no date of the form",
        "installed_on",
    ),
    (
        "future day",
        GOOD.replace("1998-06-15", "2026-03-05"),
        "installed",
        "after the day of the roster",
        "installed_on",
    ),
    ("placeholder", GOOD.replace("1998-06-15", "1900-01-01"), "installed", "an unknown date", "installed_on"),
]


@pytest.mark.parametrize(
    ("row", "column", "words"), [one[1:] for one in REFUSED], ids=[one[0] for one in REFUSED]
)
def test_a_row_that_cannot_be_used_is_refused_with_its_reason(row, column, words, owner):
    done = take(roster(BEFORE, row, AFTER), owner)

    assert done.outcomes == ["imported", "refused", "imported"]
    assert [(one.column, words in one.reason) for one in done.remarks] == [(column, True)]
    assert [one.row for one in done.rows] == [2, 3, 4]


@pytest.mark.parametrize(
    ("row", "column", "words", "field"), [one[1:] for one in KEPT], ids=[one[0] for one in KEPT]
)
def test_a_value_that_cannot_be_used_is_unknown_and_the_tank_is_imported(row, column, words, field, owner):
    done = take(roster(BEFORE, row, AFTER), owner)

    assert done.outcomes == ["imported", "imported with remarks", "imported"]
    assert [(one.column, words in one.reason) for one in done.remarks] == [(column, True)]
    assert getattr(Tank.objects.get(facility__facility_id="S9"), field) is None


def test_a_word_outside_the_code_list_is_unknown_and_never_guessed(owner):
    done = take(roster(GOOD.replace("FRP", "Fibreglas")), owner)

    assert "not in the code list of tank.tank_material_description" in done.reasons[0]
    assert Tank.objects.get().tank_material_description == "unknown"


def test_a_list_with_a_strange_word_says_that_part_of_it_is_unknown(owner):
    done = take(roster(GOOD.replace("Flex", "Flex; Unobtainium")), owner)

    assert "'Unobtainium' is not in the code list" in done.reasons[0]
    assert PipingRun.objects.get().piping_material == ["flexible plastic", "unknown"]


def test_several_values_in_a_cell_become_a_list(owner):
    take(roster(GOOD.replace("Flex", "Flex; Steel")), owner)

    assert PipingRun.objects.get().piping_material == ["flexible plastic", "steel"]


def test_an_empty_cell_is_unknown_and_never_a_no(owner):
    done = take(roster("S9,1,,,,,,"), owner)

    tank = Tank.objects.get()
    assert (tank.installed_on, tank.compartment_capacity_gallons, tank.tank_material_description) == (
        None,
        None,
        None,
    )
    assert StatusChange.objects.get().status == "unknown"
    assert done.reasons == [
        "no status is stated; kept as unknown",
        "no piping run is on file: nothing is stated about one; add it if it is there",
    ]


def test_bytes_of_another_encoding_refuse_only_their_row(owner):
    done = take(roster(BEFORE, GOOD.replace("Kent", "Pe\xf1asco"), AFTER).encode("cp1252"), owner)

    assert done.outcomes == ["imported", "refused", "imported"]
    assert "the byte 0xf1, which is not utf-8" in done.reasons[0]


def test_a_byte_order_mark_is_no_part_of_the_first_column(owner):
    assert take(roster(GOOD).encode("utf-8-sig"), owner).outcomes == ["imported"]


def test_blank_lines_are_counted_as_a_spreadsheet_does_and_are_no_rows(owner):
    done = take(roster(BEFORE, "", AFTER), owner)

    assert [one.row for one in done.rows] == [2, 4]


def test_a_quotation_mark_that_never_closes_costs_one_row(owner):
    rows = [GOOD.replace("S9", f"N{number}") for number in range(30)]

    done = take(roster(GOOD.replace("Kent", '"Kent'), *rows), owner)

    assert done.outcomes == ["refused"] + ["imported"] * 30
    assert "opens and does not close" in done.reasons[0]


def test_a_cell_may_span_lines_and_becomes_one_line(owner):
    take(roster(GOOD.replace("Kent", '"Kent,\r\nMaryland"')), owner)

    assert Facility.objects.get().facility_county == "Kent, Maryland"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "tanks.csv:1: the first line names the columns"),
        (roster(GOOD, header=HEADER.replace("installed", "built")), "needs the column 'installed'"),
        (roster(GOOD, header=HEADER.replace("county", "site")), "the column 'site' stands twice"),
        (roster(GOOD).encode("utf-16"), "the file is UTF-16; save it as CSV in UTF-8"),
    ],
)
def test_a_file_that_cannot_be_used_as_a_whole_says_where_and_why(content, words, owner):
    with pytest.raises(RosterError, match=words):
        take(content, owner)

    assert not Facility.objects.exists()
