"""The catalogue of conditions, against the classes of 40 CFR 280.50 (2015 text) and its own form."""

import pytest

from alarms.conditions import (
    FILE,
    STARTS_NO_CLOCK,
    ConditionClass,
    ConditionsError,
    Priority,
    condition_or_unlisted,
    conditions,
    law_clocks,
    law_of,
    load_conditions,
    load_law_clocks,
)
from equipment.vocabulary import Kind

# 40 CFR 280.50: (a) released product discovered, (b) unusual operating conditions "such as the erratic behavior of
# product dispensing equipment, the sudden loss of product, an unexplained presence of water in the tank, or liquid in
# the interstitial space of secondarily contained systems", (c) monitoring results "from a release detection method
# required under 280.41 and 280.42". So liquid in a dry interstice is (b), and (c) where it is the required method.
CLASSES = {
    "released product": {"product-found-outside"},
    "unusual operating condition": {
        "tank-interstice-liquid",
        "piping-interstice-liquid",
        "sump-fuel",
        "sump-liquid",
        "high-water",
        "erratic-dispensing",
        "sudden-loss",
    },
    "monitoring result": {
        "tank-test-fail",
        "line-test-fail",
        "line-leak-3-gph",
        "line-leak-0-2-gph",
        "line-leak-0-1-gph",
        "line-leak-detector-trip",
        "interstice-vacuum-lost",
        "monitoring-liquid-low",
        "monitoring-liquid-high",
        "inventory-over-limit",
        "vapour-or-groundwater-well",
    },
    # What starts no reporting clock: common practice, no source.
    "equipment fault": {"sensor-fault", "console-fault", "power-lost"},
    "operating": {
        "high-product",
        "overfill-90-percent",
        "overfill-95-percent",
        "overfill-level",
        "low-product",
        "delivery-needed",
        "emergency-stop",
        "test-due",
    },
}


@pytest.mark.parametrize("word", list(CLASSES))
def test_each_condition_has_the_class_that_the_regulation_gives_it(word):
    assert {slug for slug, one in conditions().items() if one.condition_class == word} == CLASSES[word]


def test_liquid_between_the_walls_or_in_a_sump_is_a_result_only_of_the_required_method():
    """40 CFR 280.50(b), (c)."""
    assert {slug for slug, one in conditions().items() if one.class_where_method} == {
        "tank-interstice-liquid",
        "piping-interstice-liquid",
        "sump-fuel",
        "sump-liquid",
    }


def test_the_word_that_people_look_for_is_there():
    """Common practice, no source: the liquid of a filled interstice is called brine; 40 CFR 280.50(b)(3) does too."""
    assert all("brine" in conditions()[f"monitoring-liquid-{way}"].title for way in ("low", "high"))


def test_of_a_lost_vacuum_the_fitting_comes_first():
    """Common practice, no source (from memory)."""
    assert "fitting" in conditions()["interstice-vacuum-lost"].causes[0]


def test_whatever_may_start_a_reporting_clock_names_the_regulation():
    for one in conditions().values():
        if one.condition_class not in (ConditionClass.EQUIPMENT_FAULT, ConditionClass.OPERATING):
            assert "40 CFR 280." in one.cite, one.slug


def test_only_operating_conditions_are_told_once():
    """Common practice, no source: what may be a leak climbs the call list until somebody answers."""
    low = [one for one in conditions().values() if one.priority == Priority.LOW]

    assert {one.condition_class for one in low} == {ConditionClass.OPERATING}


# 40 CFR 280.44(a), 280.43(h)(1), 280.44(b): what each of the three line tests has to find, in gallons an hour.
LINE_RATES = {"line-leak-3-gph": "3", "line-leak-0-2-gph": "0.2", "line-leak-0-1-gph": "0.1"}


@pytest.mark.parametrize(("slug", "rate"), LINE_RATES.items())
def test_a_line_leak_says_at_which_of_the_three_rates(slug, rate):
    assert f" {rate} gallons an hour" in conditions()[slug].title


# 40 CFR 280.20(c)(1)(ii): (A) shut off at no more than 95 percent, (B) restrict or alarm at no more than 90 percent.
@pytest.mark.parametrize(("percent", "paragraph"), [(95, "(A)"), (90, "(B)")])
def test_an_overfill_alarm_names_the_level_and_the_paragraph_that_sets_it(percent, paragraph):
    one = conditions()[f"overfill-{percent}-percent"]

    assert f"{percent} percent" in one.meaning
    assert f"280.20(c)(1)(ii){paragraph}" in one.cite


# Common practice, no source: what the trade looks for before it digs. The words show the kind of cause.
WATER, TEMPERATURE = ("rain", "water"), ("temperature", "cool", "warm", "cold")
FIRST = {
    "sump-liquid": WATER,
    "high-water": WATER,
    "tank-interstice-liquid": WATER,
    "piping-interstice-liquid": WATER,
    "monitoring-liquid-high": TEMPERATURE,
    "monitoring-liquid-low": TEMPERATURE,
    "tank-test-fail": TEMPERATURE,
    "line-test-fail": TEMPERATURE,
    "line-leak-0-2-gph": TEMPERATURE,
    "line-leak-0-1-gph": TEMPERATURE,
}


@pytest.mark.parametrize("slug", FIRST)
def test_water_and_temperature_come_first_where_they_are_the_likely_cause(slug):
    first, *_ = conditions()[slug].causes

    assert any(word in first for word in FIRST[slug]), first


@pytest.mark.parametrize("slug", FIRST)
def test_a_likely_harmless_cause_hides_no_leak(slug):
    """40 CFR 280.50: suspected until shown otherwise; so each of these still says what to check and report."""
    one = conditions()[slug]

    assert one.priority != Priority.LOW
    assert any("report in time" in step.casefold() for step in one.first_steps), slug


def test_every_condition_shows_the_standing_caution():
    for one in conditions().values():
        assert "does not replace the fire, electrical, environmental and worker-safety codes" in one.caution


def test_each_place_is_a_kind_of_the_register():
    assert {kind for one in conditions().values() for kind in one.at} <= set(Kind)
    assert not condition_or_unlisted("sump-liquid").can_be_at(Kind.TANK)
    assert all(
        condition_or_unlisted("sump-liquid").can_be_at(one) for one in (Kind.MONITORING_CONSOLE, Kind.SENSOR)
    )


def test_a_word_of_the_senders_own_is_urgent_and_of_unknown_class():
    one = condition_or_unlisted("odd-noise")

    assert (one.condition_class, one.priority) == (None, Priority.HIGH)
    assert "odd-noise" in one.title


BROKEN = {
    "class": ('class = "operating"', 'class = "harmless"', "Invalid enum value 'harmless'"),
    "caution": ('cautions = ["standing"]', 'cautions = ["none"]', "caution 'none' is none of"),
    "empty": (
        'slug = "test-due"\ntitle = "Device reminds of a test"',
        'slug = "test-due"\ntitle = ""',
        "empty",
    ),
    "unknown key": ('slug = "test-due"', 'slug = "test-due"\ncolour = "red"', "unknown field `colour`"),
    "twice": ('slug = "test-due"', 'slug = "low-product"', "stands twice"),
    "syntax": ("[[condition]]", "[[condition", "cannot be read as TOML"),
}


@pytest.mark.parametrize("mistake", list(BROKEN))
def test_a_faulty_file_does_not_load_and_says_where(tmp_path, mistake):
    right, wrong, words = BROKEN[mistake]
    text = FILE.read_text(encoding="utf-8")
    assert right in text
    broken = tmp_path / "conditions.toml"
    broken.write_text(text.replace(right, wrong), encoding="utf-8")

    with pytest.raises(ConditionsError, match=words) as caught:
        load_conditions(broken)

    assert str(broken) in str(caught.value)


def test_the_first_mail_can_name_the_usual_clock_of_each_class_that_280_50_is_about():
    """40 CFR 280.50 (a), (b) and (c): report within 24 hours, or another reasonable period of the agency's."""
    clocks = law_clocks()

    assert set(clocks) == set(ConditionClass) - STARTS_NO_CLOCK
    assert all("within 24 hours" in one.text and "agency" in one.text for one in clocks.values())
    assert [one.cite[:16] for one in clocks.values()] == [
        "40 CFR 280.50(a)",
        "40 CFR 280.50(b)",
        "40 CFR 280.50(c)",
    ]


def test_a_first_month_of_inventory_over_the_limit_names_its_second_month_and_no_24_hours_of_its_own():
    """40 CFR 280.50(c)(3): unless a second month of data does not confirm the initial result."""
    law = law_of("inventory-over-limit", "monitoring result")

    assert law is not None
    assert law.text.startswith("One month over the limit is normally not reported yet.")
    assert law.cite == "40 CFR 280.43(a), 280.50(c)(3)"
    assert law_of("tank-test-fail", "monitoring result") == law_clocks()[ConditionClass.MONITORING_RESULT]
    assert law_of("sensor-fault", "equipment fault") is None
    assert law_of("a word of the sender's", None) is None


def test_a_clock_of_an_unknown_class_is_named(tmp_path):
    file = tmp_path / "conditions.toml"
    file.write_text('[[law_clock]]\nclass = "odd"\ntext = "x"\ncite = "y"\n')

    with pytest.raises(ConditionsError, match="law_clock"):
        load_law_clocks(file)
