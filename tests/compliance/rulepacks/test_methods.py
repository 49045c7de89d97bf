"""Which monitoring methods a tank or a line may rest on, either side of 11 April 2016 (40 CFR 280.41 to 280.44)."""

import pytest

from tests.compliance.rulepacks.federal import component, record, site, standing

OLDER_DAY, NEWER_DAY = "2016-04-11", "2016-04-12"
OLDER_TANK_METHODS = [
    "automatic tank gauging",
    "vapor monitoring",
    "groundwater monitoring",
    "statistical inventory reconciliation",
    "other",
]
OLDER_LINE_METHODS = [
    "line tightness testing annual",
    "groundwater monitoring",
    "vapor monitoring",
    "statistical inventory reconciliation",
    "other",
]


def tank(method: str, installed: str, gallons: int = 8000, diameter: int | None = None) -> dict:
    return site(
        component(
            "tank",
            installed_on=installed,
            release_detection=[method],
            compartment_capacity_gallons=gallons,
            diameter_in=diameter,
        )
    )


def line(method: str, installed: str, style: str = "pressure") -> dict:
    return site(
        component("piping_run", installed_on=installed, piping_style=style, release_detection=[method])
    )


@pytest.mark.parametrize("method", OLDER_TANK_METHODS)
def test_these_methods_serve_a_tank_of_the_older_regime_only(method):
    """40 CFR 280.41(a)(1), (2)."""
    assert standing(tank(method, OLDER_DAY), "no-method-must-close", "X1", "2025-07-01") == "met"
    assert standing(tank(method, NEWER_DAY), "no-method-must-close", "X1", "2025-07-01") == "failed"


@pytest.mark.parametrize("installed", [OLDER_DAY, NEWER_DAY])
def test_interstitial_monitoring_serves_every_tank_and_line(installed):
    """40 CFR 280.41(a)(1), (2), (b)(1), (2)."""
    method = "interstitial monitoring"

    assert standing(tank(method, installed), "no-method-must-close", "X1", "2025-07-01") == "met"
    assert standing(line(method, installed), "rd-coverage-continuous", "X1", "2025-07-01") == "met"


def test_a_tightness_test_alone_serves_no_tank():
    """40 CFR 280.41(a)(1)(i): it goes with inventory control or manual gauging."""
    document = tank("tank tightness testing", OLDER_DAY)

    assert standing(document, "no-method-must-close", "X1", "2025-07-01") == "failed"


@pytest.mark.parametrize(
    ("gallons", "diameter", "day", "expected"),
    [
        (550, None, "2026-07-01", "met"),
        (551, 50, "2026-07-01", "failed"),
        (1000, 48, "2026-07-01", "met"),
        (1000, 64, "2026-07-01", "met"),
        (1001, 64, "2026-07-01", "failed"),
        (1001, 64, "2026-04-11", "met"),
        (2000, 64, "2026-04-11", "met"),
        (2001, 64, "2026-04-11", "failed"),
        (2000, 64, "2026-04-12", "failed"),
    ],
)
def test_manual_gauging_serves_by_size_and_beyond_its_table_for_ten_years(gallons, diameter, day, expected):
    """40 CFR 280.41(a)(1)(ii), 280.43(b)(5): 550 gallons, 1,000 with the diameters, 2,000 for ten years."""
    document = tank("manual tank gauging", OLDER_DAY, gallons, diameter)

    assert standing(document, "no-method-must-close", "X1", day) == expected


@pytest.mark.parametrize(("day", "expected"), [("2026-04-11", "met"), ("2026-04-12", "failed")])
def test_the_ten_years_of_gauging_with_tightness_tests_end_on_the_anniversary(day, expected):
    """40 CFR 280.43(b)(5), 280.41(a)(1)(i)."""
    document = tank("manual tank gauging", OLDER_DAY, 1500)

    assert standing(document, "manual-gauging-with-tightness", "X1", day) == expected


def test_a_newer_tank_cannot_be_gauged_by_hand():
    """40 CFR 280.41(a)(2)."""
    small, large = (tank("manual tank gauging", NEWER_DAY, gallons) for gallons in (500, 1500))

    assert standing(small, "no-method-must-close", "X1", "2025-07-01") == "failed"
    assert standing(small, "manual-gauging-weekly", "X1", "2025-07-01") == "not required"
    assert standing(large, "manual-gauging-with-tightness", "X1", "2025-07-01") == "failed"


@pytest.mark.parametrize("method", OLDER_LINE_METHODS)
def test_these_methods_serve_a_line_of_the_older_regime_only(method):
    """40 CFR 280.41(b)(1), (2)."""
    assert standing(line(method, OLDER_DAY), "rd-coverage-continuous", "X1", "2025-07-01") == "met"
    assert standing(line(method, NEWER_DAY), "rd-coverage-continuous", "X1", "2025-07-01") == "failed"


@pytest.mark.parametrize(
    ("style", "installed", "expected"),
    [
        ("suction", OLDER_DAY, "met"),
        ("suction", NEWER_DAY, "failed"),
        ("pressure", OLDER_DAY, "failed"),
    ],
)
def test_a_test_every_three_years_serves_older_suction_lines_only(style, installed, expected):
    """40 CFR 280.41(b)(1)(ii)."""
    document = line("line tightness testing 3 yr", installed, style)

    assert standing(document, "rd-coverage-continuous", "X1", "2025-07-01") == expected


@pytest.mark.parametrize(
    ("measured", "expected"),
    [
        ({"detectable_leak_gph": 0.1, "pressure_ratio": 1.5}, "met"),
        ({"detectable_leak_gph": 0.105, "pressure_ratio": 1.5}, "no record"),
        ({"detectable_leak_gph": 0.1, "pressure_ratio": 1.45}, "no record"),
    ],
)
def test_a_suction_line_is_tested_as_finely_and_as_hard(measured, expected):
    """40 CFR 280.44(b)."""
    run = component(
        "piping_run", piping_style="suction", installed_on="2010-01-01", brought_into_use_on="2010-01-01"
    )
    document = site(run, records=[record("line-tightness-test", "2025-06-01", **measured)])

    assert standing(document, "suction-line-tightness-3y", "X1", "2025-07-01") == expected
