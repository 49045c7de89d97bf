"""A faulty catalogue file is refused with its file, its activity and the mend."""

from pathlib import Path

import pytest

from equipment.activities.catalogue import FOLDER
from equipment.activities.checklist import load_checklist
from equipment.activities.loading import CatalogueError, load_catalogue

CAUTIONS = '[care]\ntext = "Take care."\nsource = "common practice, no source"\n'
GOOD = """
[[activity]]
slug = "cup-test"
title = "Test of an example cup"
cite = "Example Code 1.23"
subjects = ["spill_bucket"]
passes_when = "tight"
cautions = ["care"]
[activity.measurements]
level_in = { type = "number", description = "Level." }
[activity.example]
level_in = 1
"""
ITEM = """
[[item]]
slug = "cup-clean"
kind = "spill_bucket"
question = "Is it clean?"
acceptable = "Clean."
area = "spill"
frequency = "30 days"
cautions = ["care"]
source = "Example Code 1.23"
"""
LEVEL = 'level_in = { type = "number", description = "Level." }'

MISTAKES = {
    "key spelled wrong": (
        "title =",
        "titel =",
        "cups.toml: activity cup-test: Object .* unknown field `titel`",
    ),
    "no citation": ('cite = "Example Code 1.23"', 'cite = " "', "cite is empty"),
    "subject unknown": ('"spill_bucket"', '"bucket"', "cup-test: subjects = .*spill_bucket"),
    "both outcomes": ("passes_when", 'outcome = "not used"\npasses_when', "either passes_when"),
    "no outcome": ('passes_when = "tight"\n', "", "either passes_when"),
    "odd outcome": ('passes_when = "tight"', 'outcome = "unused"', "either passes_when"),
    "caution unknown": ('["care"]', '["car"]', "known: care"),
    "no caution": ('["care"]', "[]", "name at least one"),
    "no unit": ("level_in = {", "level = {", "measurement level: end the name in its unit"),
    "unit twice": ('type = "number"', 'type = "number", unit = "count"', "end the name in its unit"),
    "unit invented": (LEVEL, 'x = { type = "number", unit = "cups", description = "Cups." }', "end the name"),
    "unit of a text": (LEVEL, 'a = { type = "text", unit = "count", description = "A." }', "only a number"),
    "type unknown": ('type = "number"', 'type = "float"', "measurement level_in: Invalid enum value 'float'"),
    "choice without choices": ('type = "number"', 'type = "choice"', "need different choices"),
    "choices of a number": ('type = "number"', 'type = "number", choices = ["a"]', "need different choices"),
    "words of a number": ('type = "number"', 'type = "number", words = ["a"]', "words belong to a text"),
    "rows without fields": ('type = "number"', 'type = "rows"', "rows need fields"),
    "bounds of a boolean": ('type = "number"', 'type = "boolean", min = 0', "min and max belong to a number"),
    "bounds exchanged": ('type = "number"', 'type = "number", min = 2, max = 1', "exchange them"),
    "own prefix": ("level_in = {", "x_level_in = {", "x_ is left to the sender"),
    "capital letters": ("level_in = {", "Level_in = {", "lower case"),
    "no description": ('description = "Level."', 'description = ""', "description is empty"),
    "other table": ("[[activity]]", "[extra]\n[[activity]]", "holds only"),
    "not TOML": ("[[activity]]", "[[activity", "cannot be read as TOML"),
}


def write(folder: Path, text: str, name: str = "cups.toml") -> Path:
    (folder / "cautions.toml").write_text(CAUTIONS)
    (folder / name).write_text(text)
    return folder


def test_a_good_file_loads_under_its_family(tmp_path):
    found = load_catalogue(write(tmp_path, GOOD))["cup-test"]

    assert (found.family, found.by_name["level_in"].unit) == ("cups", "inches")
    assert found.caution == "Take care."


@pytest.mark.parametrize(("old", "new", "message"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_is_refused_with_its_place(tmp_path, old, new, message):
    assert old in GOOD

    with pytest.raises(CatalogueError, match=message):
        load_catalogue(write(tmp_path, GOOD.replace(old, new, 1)))


def test_a_slug_in_two_files_names_both(tmp_path):
    write(tmp_path, GOOD, "mugs.toml")

    with pytest.raises(CatalogueError, match=r"mugs\.toml.*'cup-test' is also in cups\.toml"):
        load_catalogue(write(tmp_path, GOOD))


def test_an_empty_folder_is_refused(tmp_path):
    with pytest.raises(CatalogueError, match="no activity found"):
        load_catalogue(write(tmp_path, ITEM, "checklist.toml"))


def test_a_caution_needs_its_source(tmp_path):
    write(tmp_path, GOOD)
    (tmp_path / "cautions.toml").write_text('[care]\ntext = "Take care."\n')

    with pytest.raises(CatalogueError, match=r"cautions\.toml: care: .*source"):
        load_catalogue(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"spill_bucket"', '"bucket"', "item cup-clean: kind = 'bucket'"),
        ('"30 days"', '"monthly"', "Invalid enum value 'monthly'"),
        ('"Example Code 1.23"', '""', "source is empty"),
        ('"spill"', '"dock"', "Invalid enum value 'dock'"),
        ("[[item]]", ITEM + "[[item]]", "slug is used twice"),
    ],
)
def test_a_mistake_in_the_checklist_is_refused_with_its_item(tmp_path, old, new, message):
    folder = write(tmp_path, ITEM.replace(old, new, 1), "checklist.toml")

    with pytest.raises(CatalogueError, match=message):
        load_checklist(folder / "checklist.toml", folder / "cautions.toml")


def test_every_caution_of_the_catalogue_is_used():
    text = "".join(path.read_text() for path in FOLDER.glob("*.toml"))
    names = [
        line.strip("[]") for line in (FOLDER / "cautions.toml").read_text().splitlines() if line[:1] == "["
    ]

    assert [name for name in names if name != "standing" and f'"{name}"' not in text] == []
