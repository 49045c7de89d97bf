"""Tank charts through the API: stated as JSON or CSV, computed, checked, read in three forms, withdrawn."""

from datetime import date, timedelta
from typing import Any
from xml.etree import ElementTree

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from equipment.api import chart_examples
from equipment.models import TankChart
from tests import world
from tests.equipment.api.calls import at, faults, post, problem
from tests.equipment.api.pictures import SMALLEST, off_the_page, overlapping, smallest_on_a_phone
from tests.equipment.statements import chart
from tests.world import TODAY

PATH = "/components/T1/charts"
ROWS = [{"depth_in": 0, "gal": 0}, {"depth_in": 48, "gal": 5_000}, {"depth_in": 96, "gal": 10_000}]
MAKERS: dict[str, Any] = {"source": "maker's chart", "rows": ROWS}


@pytest.fixture(autouse=True)
def tank(own):
    world.component(own, "tank_system", "S1")
    return world.component(
        own, "tank", "T1", parent="S1", diameter_in=96.0, compartment_capacity_gallons=10_000.0
    )


def form(content: str | bytes, **fields: str) -> dict[str, Any]:
    content = content.encode() if isinstance(content, str) else content
    return {"file": SimpleUploadedFile("chart.csv", content), "source": "maker's chart", **fields}


def upload(client, site, body: dict[str, Any], key: str = "one"):
    return client.post(at(site, PATH), body, format="multipart", headers={"Idempotency-Key": key})


@pytest.mark.parametrize(
    "body", [chart_examples.SUPPLIED, chart_examples.COMPUTED], ids=["supplied", "computed"]
)
def test_the_examples_of_the_description_are_accepted(body, own, owner_client):
    stated = post(owner_client, at(own, PATH), body)

    assert stated.status_code == 201, stated.json()
    assert set(stated.json()) == set(chart_examples.FULL_ANSWER)
    assert owner_client.get(at(own, f"{PATH}/{stated.json()['id']}")).json() == stated.json()


def test_the_answer_of_the_description_is_what_is_answered(own, owner_client):
    stated = post(owner_client, at(own, PATH), chart_examples.SUPPLIED).json()

    same = ("component", "source", "geometry", "rows", "capacity_gal", "full_in")
    assert {name: stated[name] for name in same} == {name: chart_examples.FULL_ANSWER[name] for name in same}


def test_device_heights_of_a_known_tank(own, owner_client):
    """96 in x 27 ft, flat ends: 90 percent at 80.978 in and 95 at 86.658 in (circular segment): 80 7/8 and 86 5/8."""
    body = {"source": "computed", "geometry": {"length_in": 324}, "step_in": 0.125}

    heights = post(owner_client, at(own, PATH), body).json()["device_heights"]

    assert [(each["percent"], each["depth_in"]) for each in heights] == [(90, 80.875), (95, 86.625)]


def test_the_same_request_again_states_nothing_new(own, owner_client):
    first = post(owner_client, at(own, PATH), MAKERS, key="once")
    again = post(owner_client, at(own, PATH), MAKERS, key="once")

    assert again.json() == first.json()
    assert again.headers["Idempotent-Replay"] == "true"
    assert TankChart.objects.count() == 1


def test_without_a_key_nothing_is_kept(own, owner_client):
    answer = owner_client.post(at(own, PATH), MAKERS, format="json")

    assert answer.status_code == 428
    assert not TankChart.objects.exists()


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"rows": [*ROWS, {"depth_in": 97, "gal": 10_100}]}, {"/rows/3/depth_in": "above-maximum"}),
        (
            {"rows": [ROWS[0], {"depth_in": 48, "gal": 5_000}, {"depth_in": 96, "gal": 4_000}]},
            {"/rows/2/gal": "decreasing"},
        ),
        ({"rows": [ROWS[0], {"depth_in": 48, "gal": -5}, ROWS[2]]}, {"/rows/1/gal": "decreasing"}),
        ({"rows": [{"depth_in": 0, "gal": -5}, ROWS[2]]}, {"/rows/0/gal": "below-minimum"}),
        ({"rows": [ROWS[1], ROWS[2]]}, {"/rows/0/depth_in": "missing", "/rows/0/gal": "above-maximum"}),
        ({"rows": [ROWS[0], ROWS[0] | {"depth_in": 96}]}, {"/rows/0/gal": "above-maximum"}),
        ({"rows": []}, {"/rows": "missing"}),
        ({"rows": [{"depth_in": "48", "gal": 1}]}, {"/rows/0/depth_in": "invalid"}),
        ({"rows": [{"depth_in": 1, "gal": 1, "litres": 4}]}, {"/rows/0/litres": "unknown"}),
        ({"source": "guess"}, {"/source": "invalid_choice"}),
        ({"source": "computed"}, {"/rows": "unexpected", "/geometry": "missing"}),
        ({"effective_on": "2999-01-01"}, {"/effective_on": "out_of_calendar"}),
        ({"geometry": {"diameter_in": 96, "length_in": -1}}, {"/geometry/length_in": "below-minimum"}),
        ({"geometry": {"length_in": 324, "slope": 1}}, {"/geometry/slope": "out-of-range"}),
        (
            {"geometry": {"length_in": 324, "heads": {"shape": "square"}}},
            {"/geometry/heads/shape": "invalid_choice"},
        ),
        ({"step_in": 1}, {"/step_in": "unexpected"}),
        ({"unit": "litres"}, {"/unit": "unknown"}),
    ],
)
def test_a_chart_that_cannot_be_is_refused_at_its_place(change, expected, own, owner_client):
    refused = post(owner_client, at(own, PATH), MAKERS | change)

    assert refused.status_code == 422
    told = faults(refused)
    assert expected.items() <= told.items(), told
    assert not TankChart.objects.exists()


@pytest.mark.parametrize(
    ("depth", "expected"),
    [(2_438, {"/rows/1/depth_in": "above-maximum"}), (8, {"/rows": "out-of-range"})],
    ids=["millimetres", "feet"],
)
def test_depths_in_another_unit_are_refused_where_nobody_knows_the_diameter(
    depth, expected, own, owner_client
):
    """96 in are 2,438 mm and 8 ft. 8 in wide, 10,000 gal of 231 in3 would lie 45,956 in (3,830 ft) long."""
    world.component(own, "tank", "T2", parent="S1")
    body = MAKERS | {"rows": [ROWS[0], {"depth_in": depth, "gal": 10_000}]}

    refused = post(owner_client, at(own, "/components/T2/charts"), body)

    assert faults(refused) == expected
    assert not TankChart.objects.exists()


def test_a_body_of_another_kind_is_told_which_ones_are_read(own, owner_client):
    refused = owner_client.post(
        at(own, PATH), "depth_in,gal", content_type="text/csv", headers={"Idempotency-Key": "one"}
    )

    assert problem(refused) == (415, "wrong-media-type")
    assert "Send application/json or multipart/form-data" in refused.json()["detail"]


def test_a_supplied_chart_that_parts_from_the_shape_is_flagged_and_counts(own, owner_client):
    body = MAKERS | {
        "geometry": {"length_in": 324},
        "rows": [ROWS[0], {"depth_in": 24, "gal": 2_600}, *ROWS[1:]],
    }

    stated = post(owner_client, at(own, PATH), body).json()

    [flagged] = stated["check"]["differences"]
    assert stated["check"]["basis"] == "the shape stated with the chart"
    assert flagged["depth_in"] == 24
    # A quarter of the depth holds 0.195501 of a flat-ended tank of 10,152.3 gal (circular segment).
    assert flagged["computed_gal"] == pytest.approx(0.195501 * 10_152.3, abs=0.1)
    assert flagged["percent"] == pytest.approx((2_600 - 1_984.8) / 100, abs=0.01)


def test_a_supplied_chart_is_held_against_the_registers_diameter(own, owner_client):
    rows = [ROWS[0], {"depth_in": 24, "gal": 2_600}, *ROWS[1:]]

    check = post(owner_client, at(own, PATH), MAKERS | {"rows": rows}).json()["check"]

    assert check["basis"] == "the register's diameter, flat ends and the chart's own capacity"
    assert [each["depth_in"] for each in check["differences"]] == [24]


def test_a_chart_that_stops_short_or_holds_another_capacity_is_remarked(own, owner_client):
    rows = [ROWS[0], {"depth_in": 90, "gal": 9_000}]

    remarks = post(owner_client, at(own, PATH), MAKERS | {"rows": rows}).json()["check"]["remarks"]

    assert any("ends at 90 in" in one for one in remarks)
    assert any("the register says 10,000" in one for one in remarks)


def test_a_later_chart_is_named_where_the_earlier_one_is_shown(own, owner_client, tank):
    first = chart(own, tank)
    second = chart(own, tank, effective_on=date(2026, 1, 1))

    listed = owner_client.get(at(own, PATH)).json()["results"]
    before = owner_client.get(at(own, PATH), {"on": "2025-12-31"}).json()["results"]
    after = owner_client.get(at(own, PATH), {"on": "2026-01-01"}).json()["results"]

    assert [(one["id"], one["replaced_on"]) for one in listed] == [
        (second.pk, None),
        (first.pk, "2026-01-01"),
    ]
    assert [one["id"] for one in before] == [first.pk]
    assert [one["id"] for one in after] == [second.pk]


def test_before_the_first_chart_none_holds(own, owner_client, tank):
    chart(own, tank, effective_on=TODAY)

    listed = owner_client.get(at(own, PATH), {"on": str(TODAY - timedelta(days=1))}).json()["results"]

    assert listed == []


def test_a_csv_file_is_read_with_depths_as_on_a_stick(own, owner_client):
    content = "\ufeffdepth_in;gal\r\n0;0\r\n48 1/2;5000\r\n\r\n96;10000.5\r\n"

    stated = upload(owner_client, own, form(content, geometry='{"length_in": 324}', note="Sheet 4"))

    assert stated.status_code == 201, stated.json()
    assert [tuple(row.values()) for row in stated.json()["rows"]] == [(0, 0), (48.5, 5_000), (96, 10_000.5)]
    assert stated.json()["check"]["basis"] == "the shape stated with the chart"
    assert stated.json()["note"] == "Sheet 4"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("", {"/file": "header"}),
        ("inches,gallons\n0,0\n", {"/file": "header"}),
        (b"\xff\xfe0\x00", {"/file": "encoding"}),
        ("depth_in,gal\n0,0\n48,5,000\n", {"/rows/1": "columns"}),
        ("depth_in,gal\n0,0\n48,many\n", {"/rows/1/gal": "type"}),
        ("depth_in,gal\n0,0\n48 9/8,5000\n", {"/rows/1/depth_in": "type"}),
        ("depth_in,gal\n0,0\n48,NaN\n", {"/rows/1/gal": "type"}),
        ("depth_in,gal\n0,0\n48,5000\n96,4000\n", {"/rows/2/gal": "decreasing"}),
        ("depth_in,gal\n" + "0,0\n" * 4_001, {"/file": "too-long"}),
    ],
)
def test_a_csv_file_that_cannot_be_read_names_the_place(content, expected, own, owner_client):
    refused = upload(owner_client, own, form(content))

    assert faults(refused) == expected
    assert not TankChart.objects.exists()


def test_a_file_beyond_the_limit_is_refused_before_it_is_read(own, owner_client):
    refused = upload(owner_client, own, form("x" * 600_000))

    assert problem(refused) == (413, "too-large")


def test_a_table_goes_out_as_it_came_in(own, owner_client, tank):
    fact = chart(own, tank)

    table = owner_client.get(at(own, f"{PATH}/{fact.pk}/table"))
    back = upload(owner_client, own, form(table.content.decode(), effective_on="2026-01-01"))

    assert table.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert table.headers["Content-Disposition"] == f'attachment; filename="T1-chart-{fact.pk}.csv"'
    assert back.json()["rows"] == ROWS


@pytest.mark.parametrize(("step", "rows"), [("1", 97), ("0.125", 96 * 8 + 1)])
def test_a_table_in_inches_or_eighths_is_interpolated(step, rows, own, owner_client, tank):
    fact = chart(own, tank)

    lines = owner_client.get(at(own, f"{PATH}/{fact.pk}/table"), {"step": step}).content.decode().split()

    assert len(lines) == rows + 1
    assert lines[-1] == "96,10000"
    assert "24,2500" in lines


def test_a_table_in_another_step_is_refused(own, owner_client, tank):
    fact = chart(own, tank)

    refused = owner_client.get(at(own, f"{PATH}/{fact.pk}/table"), {"step": "0.1"})

    assert faults(refused) == {"/step": "invalid_choice"}
    assert refused.json()["errors"][0]["detail"] == "'0.1' is none of: 1, 0.5, 0.25, 0.125."


@pytest.mark.parametrize("form_of_it", ["table", "picture"])
@pytest.mark.parametrize("accept", ["application/json", "text/html,*/*", "image/png"])
def test_the_address_says_which_form_is_answered(form_of_it, accept, own, owner_client, tank):
    fact = chart(own, tank)

    answer = owner_client.get(at(own, f"{PATH}/{fact.pk}/{form_of_it}"), headers={"Accept": accept})
    missing = owner_client.get(at(own, f"{PATH}/{fact.pk + 1}/{form_of_it}"), headers={"Accept": accept})

    assert answer.status_code == 200
    assert problem(missing) == (404, "not-found")


def test_the_picture_shows_curve_heights_and_flagged_rows_with_words(own, owner_client, tank):
    fact = chart(own, tank, ((0, 0), (24, 2_600), (48, 5_000), (96, 10_000)), note="<script>")

    answer = owner_client.get(at(own, f"{PATH}/{fact.pk}/picture"))

    assert answer.headers["Content-Type"] == "image/svg+xml"
    picture = ElementTree.fromstring(answer.content)
    words = " | ".join(picture.itertext())
    # 9,000 of 10,000 gal on a straight line from 5,000 gal at 48 in: 86.4 in, so 86 3/8.
    assert "90 %: 86 3/8 in, 8,997 gal" in words
    assert "95 %: 91 1/8 in, 9,492 gal" in words
    assert "1 of 4 rows part from the tank's shape by more than 2 percent" in words
    assert "24 in: chart 2,600 gal, shape 1,955 gal" in words
    assert "script" not in words


@pytest.mark.parametrize(
    "rows",
    [
        ((0, 0), (24, 2_600), (48, 5_000), (96, 10_000)),
        ((0, 0), (5, 9.5), (10, 10)),
        ((0, 0), (240, 400_000), (479, 1_000_000)),
    ],
    ids=["flagged", "tiny", "huge"],
)
def test_the_words_of_the_picture_can_be_read_on_a_phone(rows, own, owner_client):
    tank = world.component(own, "tank", "T2", parent="S1")
    fact = chart(own, tank, rows, effective_on=date(2026, 1, 1))

    picture = owner_client.get(at(own, f"/components/T2/charts/{fact.pk}/picture")).content

    assert overlapping(picture) == []
    assert off_the_page(picture) == []
    assert smallest_on_a_phone(picture) >= SMALLEST


def test_a_withdrawn_chart_says_so_everywhere(own, owner_client, tank):
    fact = chart(own, tank)

    taken = post(owner_client, at(own, f"{PATH}/{fact.pk}/withdrawal"), {"reason": "Another tank's sheet."})

    assert taken.json()["withdrawn_reason"] == "Another tank's sheet."
    assert b"withdrawn" in owner_client.get(at(own, f"{PATH}/{fact.pk}/picture")).content
    assert owner_client.get(at(own, PATH), {"on": str(TODAY)}).json()["results"] == []


def test_a_contractor_reads_charts_and_states_none(own, contractor_client, tank):
    fact = chart(own, tank)

    assert contractor_client.get(at(own, f"{PATH}/{fact.pk}")).status_code == 200
    assert problem(post(contractor_client, at(own, PATH), MAKERS)) == (403, "not-allowed")


def test_a_chart_is_found_at_its_own_tank_only(own, owner_client, tank):
    fact = chart(own, tank)
    world.component(own, "tank", "T2", parent="S1")

    assert owner_client.get(at(own, f"/components/T2/charts/{fact.pk}")).status_code == 404


def test_a_chart_of_a_bucket_is_refused(own, owner_client):
    world.component(own, "spill_bucket", "SB1", parent="T1")

    refused = post(owner_client, at(own, "/components/SB1/charts"), MAKERS)

    assert faults(refused) == {"": "wrong-kind"}
