"""402 tanks of a public state register (see SOURCE.md), compared with the file itself as the csv module reads it."""

import csv
from collections import Counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from equipment.models import Component, Facility, FacilityAccess, PipingRun, StatusChange, Tank, TankSystem
from tests.equipment.roster.files import SAMPLE, Imported, shipped, take


@pytest.fixture
def source() -> list[dict[str, str]]:
    with SAMPLE.open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def first(owner) -> Imported:
    return take(SAMPLE.read_bytes(), owner, using=shipped())


def stated(source, column: str) -> Counter[str | None]:
    return Counter(row[column].lower() or None for row in source)


def on_file(rows, field: str) -> Counter[str | None]:
    return Counter(rows.values_list(field, flat=True))


def test_every_row_is_imported_or_refused_with_a_reason(first, source):
    assert len(source) == 402
    assert [row.row for row in first.rows] == list(range(2, 404))
    assert all(row.remarks for row in first.rows if "remarks" in row.outcome or row.outcome == "refused")
    assert first.summary.imported + first.summary.imported_with_remarks == 402


def test_facilities_tanks_and_systems_are_as_many_as_the_file_says(first, source):
    assert len({row["facility_id"] for row in source}) == 132
    assert Facility.objects.count() == TankSystem.objects.count() == 132
    assert set(Facility.objects.values_list("facility_id", flat=True)) == {
        row["facility_id"] for row in source
    }
    assert Tank.objects.count() == 402


@pytest.mark.parametrize(
    ("column", "field"),
    [("secondary_containment", "tank_secondary_containment"), ("substance", "substance")],
)
def test_words_of_tanks_are_counted_alike(first, source, column, field):
    assert on_file(Tank.objects, field) == stated(source, column)


def test_statuses_are_counted_alike(first, source):
    assert on_file(StatusChange.objects, "status") == stated(source, "status")


def test_piping_walls_are_counted_alike_but_for_the_two_tanks_without_a_word_about_piping(first, source):
    silent = [row for row in source if not row["pipe_material"] and not row["pipe_wall"]]

    assert len(silent) == 2
    assert on_file(PipingRun.objects, "piping_wall_type") + Counter({None: 2}) == stated(source, "pipe_wall")


def test_gallons_add_up(first, source):
    capacity = sum(Tank.objects.values_list("compartment_capacity_gallons", flat=True))

    assert capacity == sum(int(row["capacity_gal"]) for row in source)


def test_days_of_installation_are_those_of_the_file_but_for_the_placeholder(first, source):
    days = Counter(str(day) for day in Tank.objects.values_list("installed_on", flat=True))

    assert days == Counter(row["installed"].replace("1910-01-01", "None") for row in source)


def test_each_tank_hangs_on_its_system_and_each_run_on_its_tank(first):
    assert set(Tank.objects.values_list("parent__tag", flat=True)) == {"S1"}
    assert all(run.tag[1:] == run.parent.tag[1:] for run in PipingRun.objects.select_related("parent"))


def test_the_operator_may_state_facts_at_every_new_facility(first, owner):
    assert FacilityAccess.objects.filter(organisation=owner, role="operator").count() == 132


def test_the_report_speaks_of_what_the_sample_leaves_open(first, source):
    out = sum(row["status"] == "Temporarily out of service" for row in source)
    reasons = Counter(remark.column for remark in first.remarks)

    assert reasons == {"status": out, "installed": 3, "pipe_material": 2}
    assert "spill bucket, overfill device" in first.summary.notes[0]


def test_the_same_file_again_changes_nothing_and_writes_nothing(first, owner):
    before = list(Facility.objects.order_by("pk").values()), list(Component.objects.order_by("pk").values())

    with CaptureQueriesContext(
        connection,
    ) as queries:
        again = take(SAMPLE.read_bytes(), owner, using=shipped())

    assert set(again.outcomes) == {"unchanged"}
    assert len(again.rows) == 402
    assert not [one["sql"] for one in queries if one["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
    assert before == (
        list(Facility.objects.order_by("pk").values()),
        list(Component.objects.order_by("pk").values()),
    )


def test_a_dry_run_reports_the_same_and_stores_nothing(owner):
    tried = take(SAMPLE.read_bytes(), owner, using=shipped(), dry_run=True)

    assert not Facility.objects.exists()
    assert not Component.objects.exists()
    assert tried.summary.dry_run
    assert tried.rows == take(SAMPLE.read_bytes(), owner, using=shipped()).rows


def test_a_second_operator_gets_facilities_of_its_own(first, stranger):
    assert take(SAMPLE.read_bytes(), stranger, using=shipped()).summary.facilities_opened == 132
    assert Facility.objects.count() == 264


def test_components_are_bulk_created(owner):
    with CaptureQueriesContext(connection) as queries:
        take(SAMPLE.read_bytes(), owner, using=shipped())

    # SQLite takes 999 values a statement; row by row it would be two statements each for 934 components.
    assert len(queries) < 200
