"""`manage.py import_roster`."""

import csv
import io
import json

import pytest
from django.core.management import CommandError, call_command

from equipment.models import Facility, Tank
from equipment.roster.report import CSV_HEADER, CsvReport, Outcome, Remark, RowReport, shown
from tests.equipment.roster.files import GOOD, MAPPING, SAMPLE, roster


@pytest.fixture
def files(owner, tmp_path):
    (tmp_path / "tanks.csv").write_text(roster(GOOD, GOOD.replace("S9,1", "S9,2").replace("12000", "=1+1")))
    (tmp_path / "map.toml").write_text(MAPPING, encoding="utf-8")
    return tmp_path


def run(*args: object, operator: str = "Own Marinas") -> str:
    out = io.StringIO()
    call_command("import_roster", *map(str, args), "--operator", operator, stdout=out, stderr=io.StringIO())
    return out.getvalue()


def test_the_shipped_mapping_imports_the_public_sample(owner):
    said = run(SAMPLE, "--mapping", "state-extract")

    assert "132 facilities opened, 934 components added" in said
    assert Tank.objects.count() == 402


def test_a_dry_run_says_so_and_stores_nothing(files):
    said = run(files / "tanks.csv", "--mapping", files / "map.toml", "--dry-run")

    assert "dry run, nothing was stored" in said
    assert not Facility.objects.exists()


def test_both_reports_hold_every_row(files):
    reports = "--report-json", files / "r.json", "--report-csv", files / "r.csv"

    run(files / "tanks.csv", "--mapping", files / "map.toml", *reports)

    document = json.loads((files / "r.json").read_text())
    table = list(csv.reader((files / "r.csv").read_text().splitlines()))
    assert [(row["row"], row["outcome"]) for row in document["rows"]] == [
        (2, "imported"),
        (3, "imported with remarks"),
    ]
    assert document["summary"]["components_added"] == 5
    assert table[0] == list(CSV_HEADER)
    assert table[2][:6] == ["3", "imported with remarks", "S9", "2", "capacity", "'=1+1"]


def test_constants_may_be_set_on_the_line(files):
    run(files / "tanks.csv", "--mapping", files / "map.toml", "--set", "time_zone=America/Chicago")

    assert Facility.objects.get().time_zone == "America/Chicago"


def test_a_list_is_set_with_commas(files, settings):
    settings.JURISDICTIONS = ["us-federal", "us-md"]

    run(files / "tanks.csv", "--mapping", files / "map.toml", "--set", "jurisdictions=us-federal,us-md")

    assert Facility.objects.get().jurisdictions == ["us-federal", "us-md"]


def test_an_update_is_asked_for_by_name(files):
    run(files / "tanks.csv", "--mapping", files / "map.toml")
    (files / "tanks.csv").write_text(roster(GOOD.replace("1998", "1999")))

    left = run(files / "tanks.csv", "--mapping", files / "map.toml")
    done = run(files / "tanks.csv", "--mapping", files / "map.toml", "--update")

    assert "1 rows differ" in left
    assert "1 facts updated" in done


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("nowhere.csv", "--mapping", "map.toml"), "No such file"),
        (("tanks.csv", "--mapping", "state-extrac"), "shipped with the project: state-extract"),
        (("tanks.csv", "--mapping", "state-extract"), "needs the column 'facility_id'"),
        (
            ("tanks.csv", "--mapping", "map.toml", "--set", "time_zone=Mars"),
            "code list of facility.time_zone",
        ),
        (("tanks.csv", "--mapping", "map.toml", "--set", "time_zone"), "time_zone=America/New_York"),
        (("tanks.csv", "--mapping", "map.toml", "--as-of", "2026-2-30"), "is no day; write 2026-02-27"),
        (("tanks.csv", "--mapping", "map.toml", "--as-of", "2999-01-01"), "lies in the future"),
    ],
)
def test_what_cannot_be_done_is_said_with_the_mend(args, words, files, monkeypatch):
    monkeypatch.chdir(files)

    with pytest.raises(CommandError, match=words):
        run(*args)


def test_an_unknown_operator_is_named_with_those_that_exist(files):
    with pytest.raises(CommandError, match="'Nobody'; known: Own Marinas"):
        run(files / "tanks.csv", "--mapping", files / "map.toml", operator="Nobody")


@pytest.mark.parametrize(
    ("value", "text"),
    [("=1+1", "'=1+1"), ("-5", "-5"), ("+5.5", "+5.5"), ("@x", "'@x"), ("-x", "'-x"), ("a=1", "a=1")],
)
def test_a_report_holds_no_formula(value, text):
    file = io.StringIO()

    CsvReport(file).add(RowReport(2, Outcome.REFUSED, "F", "1", (Remark("c", value, "r"),)))

    assert list(csv.reader(io.StringIO(file.getvalue())))[1][5] == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "unknown"),
        (True, "yes"),
        (12_000.0, "12000"),
        (["a", "b"], "a; b"),
        ([], "none"),
        ("a\x07", "a\\x07"),
    ],
)
def test_values_are_shown_as_people_read_them(value, text):
    assert shown(value) == text
