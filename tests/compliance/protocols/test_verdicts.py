"""What a verdict says beside its outcome: what is missing, what decided, and whether the record said the opposite."""

from datetime import date

import msgspec
import pytest

from compliance.protocols import Setting, verdict
from compliance.protocols.overfill import SHUTOFF
from compliance.protocols.registry import ACTIVITIES, METHODS, MONITORING
from equipment.activities.catalogue import catalogue
from tests.compliance.protocols.worked import FEDERAL, judged

WATER = {"method": "liquid", "minutes": 60, "level_change_in": 0.0625}
OF_THE_REGISTER = {"overfill_type"}
# Dock piping has its criterion in California; liquid that was not found leaves interstitial monitoring as reported.
EVERYWHERE = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-ca"))
FAILS_ONLY = {"interstitial monitoring"}


def test_a_verdict_carries_criterion_margin_rounding_and_source():
    found = judged("spill-bucket-test", **WATER)

    assert found.criterion is not None
    assert (found.criterion.value, found.criterion.unit, found.criterion.comparison) == (0.125, "in", "<")
    assert (found.measured, found.margin) == (0.0625, 0.0625)
    assert found.rounding == "read to 1/16 in, compared as read"
    assert found.source == "PEI RP 1200 section 6.2.6, p. 15"


@pytest.mark.parametrize(
    ("reported", "level", "disagreement"),
    [
        ("pass", 0.25, True),
        ("fail", 0.0, True),
        ("pass", 0.0, False),
        ("fail", 0.25, False),
        ("inconclusive", 0.25, False),
        (None, 0.25, False),
    ],
)
def test_a_record_that_says_the_opposite_of_its_numbers_is_flagged(reported, level, disagreement):
    found = verdict("spill-bucket-test", WATER | {"level_change_in": level}, reported, setting=FEDERAL)

    assert found is not None
    assert found.disagreement is disagreement
    assert found.reported == reported


def test_a_reported_pass_without_numbers_is_incomplete_and_no_disagreement():
    found = verdict("spill-bucket-test", {"method": "liquid"}, "pass", setting=FEDERAL)

    assert found is not None
    assert (found.outcome, found.disagreement) == ("incomplete", False)
    assert found.missing == ("level_start_in", "level_end_in", "minutes")


@pytest.mark.parametrize("slug", [*ACTIVITIES, *MONITORING])
def test_what_is_missing_is_named_as_the_catalogue_names_it(slug):
    names = {each.name for each in catalogue()[slug].measurements}
    methods = [name for name in METHODS if name not in FAILS_ONLY] if slug in MONITORING else [None]
    choices = catalogue()[slug].by_name["method"].choices if slug in MONITORING else ()

    for method in methods:
        found = verdict(slug, {"method": method} if method else {}, None, setting=EVERYWHERE)

        if method is not None and method not in choices:
            continue
        assert found is not None
        assert found.outcome == "incomplete"
        assert found.missing
        assert {name.split(".")[0] for name in found.missing} <= names | OF_THE_REGISTER


@pytest.mark.parametrize("slug", sorted(set(catalogue()) - set(ACTIVITIES) - set(MONITORING)))
def test_an_activity_without_a_numeric_protocol_has_no_verdict(slug):
    assert verdict(slug, catalogue()[slug].example, "pass", setting=FEDERAL) is None


def test_every_method_that_is_judged_is_one_of_the_catalogues():
    choices = {choice for slug in MONITORING for choice in catalogue()[slug].by_name["method"].choices}

    assert set(METHODS) <= choices


@pytest.mark.parametrize("method", ["visual", "pressure", "other"])
def test_a_bucket_tested_in_a_way_without_a_published_limit_has_no_verdict(method):
    assert verdict("spill-bucket-test", WATER | {"method": method}, "pass", setting=FEDERAL) is None


def test_before_its_criterion_was_in_force_nothing_is_judged():
    earlier = Setting(on=date(2011, 12, 31))

    assert verdict("spill-bucket-test", WATER, "pass", setting=earlier) is None
    assert verdict("spill-bucket-test", WATER, "pass", setting=Setting(on=date(2012, 1, 1))) is not None


def test_no_agency_is_named_by_a_standard_but_a_law_needs_its_jurisdiction():
    nowhere = Setting(on=FEDERAL.on, jurisdictions=())

    assert verdict("spill-bucket-test", WATER, None, setting=nowhere) is not None
    assert verdict("inventory-month", {"throughput_gal": 1, "net_gal": 0}, None, setting=nowhere) is None


def test_a_verdict_can_be_sent_as_json():
    found = judged("overfill-inspection", Setting(on=FEDERAL.on, overfill_type=SHUTOFF), set_level_pct=94)

    assert msgspec.json.decode(msgspec.json.encode(found))["outcome"] == "incomplete"


@pytest.mark.parametrize(
    "value", [True, "0.25", None, float("nan"), float("inf")], ids=["boolean", "text", "null", "nan", "inf"]
)
def test_what_is_no_number_counts_as_not_stated(value):
    found = judged("spill-bucket-test", method="liquid", minutes=60, level_change_in=value)

    assert found.outcome == "incomplete"
