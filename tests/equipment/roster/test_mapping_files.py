"""Faulty mapping files: the message names file, line, key and mend."""

import pytest

from equipment.roster.mapping_file import MappingError, line_of
from equipment.services.rosters import mapping_of
from tests.equipment.roster.files import MAPPING, SHIPPED, mapping, shipped

# old text, new text, text on the line that must be named, words of the message
FAULTS = [
    ('tank = "tank"', 'tank = "tank"\ncolour = "red"', "colour", "identity.colour: no such key"),
    (
        'feeds = "tank.installed_on"',
        'feeds = "tank.installed_on"\nfeed = "x"',
        "feed =",
        "column.2.feed: no such key",
    ),
    ('feeds = "tank.installed_on"', 'feeds = "tank.instaled"', "instaled", "is no element of the register"),
    ('feeds = "tank.installed_on"', 'feeds = "boat.length"', "boat", "known: compartment, dispenser_sump"),
    ('feeds = "tank.installed_on"', "feeds = 7", "feeds = 7", "Expected `str`"),
    (
        'feeds = "tank.installed_on"',
        'feeds = "tank.status"',
        'feeds = "tank.status"',
        "is fed by two columns",
    ),
    (
        '"fiberglass reinforced plastic"',
        '"fibreglass"',
        "fibreglass",
        "is not in the code list of tank.tank_material",
    ),
    ('separator = ";"', 'separator = ""', 'separator = ""', "at least one character"),
    ('"%m/%d/%Y"', '"%m/%Y"', "%m/%Y", "does not give year, month and day"),
    ('"America/New_York"', '"America/New_Yorck"', "New_Yorck", "America/New_York"),
    ('time_zone = "America/New_York"', "", "[constants.facility]", "facility.time_zone is needed"),
    (
        'jurisdictions = ["us-federal"]',
        'jurisdictions = "us-federal"',
        "jurisdictions",
        "write a list of texts",
    ),
    ('facility_state = "MD"', "floating = 1", "floating", "write true or false"),
    ('facility_state = "MD"', "facility_latitude = 91.0", "latitude", "must not be above 90"),
    ('facility_state = "MD"', "owner_tank_count = 1.5", "owner_tank_count", "write a whole number"),
    ('facility_state = "MD"', 'facility_county = "Kent"', "facility_county =", "is fed by a column as well"),
    (
        'title = "Test"',
        'title = "Test"\nfile = { encoding = "utf-16" }',
        "encoding",
        "'utf-16' cannot be used",
    ),
    ('title = "Test"', 'title = "Test"\nfile = { delimiter = "::" }', "delimiter", "one character is needed"),
    (
        'tank = "tank"',
        'tank = "tank"\nname_when_empty = "{code}"',
        "name_when",
        "only {facility} stands in braces",
    ),
    (
        'tank = "tank"',
        'tank = "tank"\ntank_system = "one a pump"',
        "tank_system",
        "Invalid enum value 'one a pump'",
    ),
    ('title = "Test"', 'title = "Test', 'title = "Test', "is not valid TOML"),
    ('title = "Test"', "", "", "missing required field `title`"),
]


@pytest.mark.parametrize(("old", "new", "line", "words"), FAULTS, ids=[one[3] for one in FAULTS])
def test_a_faulty_mapping_names_the_line_and_the_mend(old, new, line, words):
    text = MAPPING.strip().replace(old, new, 1)

    with pytest.raises(MappingError) as caught:
        mapping(text)

    place, _, message = str(caught.value.faults[0]).partition(": ")
    assert words in message
    assert line in text.splitlines()[int(place.removeprefix("test.toml:")) - 1]


def test_every_fault_of_the_content_is_named_at_once():
    text = MAPPING.replace("tank.installed_on", "tank.x").replace("facility.facility_county", "facility.y")

    with pytest.raises(MappingError) as caught:
        mapping(text)

    assert len(caught.value.faults) == 2


def test_a_flag_adds_a_word_of_a_list():
    flag = '[[flag]]\nname = "atg"\nadds = "tank.release_detection"\nword = "gauge"\n'

    with pytest.raises(MappingError, match=r"flag.1.word: 'gauge' is not in the code list"):
        mapping(MAPPING + flag)


def test_bytes_that_are_no_utf8_are_named_by_line():
    with pytest.raises(MappingError, match=r"test\.toml:2: is not UTF-8"):
        mapping_of(b'title = "a"\n# \xff\n', name="test.toml")


def test_the_caller_may_state_other_constants_than_the_file():
    stated = mapping_of(SHIPPED.read_bytes(), name="m", constants={"facility": {"facility_state": "NY"}})

    assert stated.constants["facility"]["facility_state"] == "NY"
    assert stated.constants["facility"]["time_zone"] == shipped().constants["facility"]["time_zone"]


def test_the_shipped_mapping_needs_the_columns_of_the_sample():
    assert len(shipped().needed_columns()) == 14


@pytest.mark.parametrize(
    ("path", "line"), [(("a",), 1), (("b", "c"), 3), (("d", 1, "e"), 7), (("b", "none"), 2), ((), 1)]
)
def test_lines_are_found_by_path(path, line):
    assert line_of("a = 1\n[b]\nc = 2\n[[d]]\ne = 1\n[[d]]\ne = 2\n", path) == line
