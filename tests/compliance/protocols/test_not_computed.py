"""What the catalogue measures in numbers is judged, or stands with its reason in the list of what is not."""

from itertools import chain

import pytest

from compliance.protocols import Setting, verdict
from compliance.protocols.not_computed import NOT_IN_FORCE, installed_reasons, why_not
from compliance.protocols.registry import ACTIVITIES, METHODS, MONITORING
from equipment.activities.catalogue import catalogue
from equipment.activities.definitions import NUMBERS
from tests.compliance.protocols.worked import FEDERAL

NOT_COMPUTED, NOT_BY_METHOD = installed_reasons().activities, installed_reasons().methods
JUDGED = {*ACTIVITIES, *MONITORING}
SETTING = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-ca"))
BY_METHOD = [
    (activity.slug, method)
    for activity in catalogue().values()
    if activity.slug in JUDGED and "method" in activity.by_name
    for method in activity.by_name["method"].choices
]


def has_numbers(slug: str) -> bool:
    measured = catalogue()[slug].measurements
    columns = chain.from_iterable(each.fields for each in measured)
    return any(each.type in NUMBERS for each in chain(measured, columns))


@pytest.mark.parametrize("slug", [slug for slug in catalogue() if has_numbers(slug)])
def test_an_activity_with_numbers_is_judged_or_says_why_not(slug):
    assert (slug in JUDGED) != (slug in NOT_COMPUTED)


@pytest.mark.parametrize(("slug", "method"), BY_METHOD)
def test_a_method_of_a_judged_activity_is_judged_or_says_why_not(slug, method):
    liquid = {"interstice_liquid": True} if method == "interstitial monitoring" else {}

    found = verdict(slug, {"method": method} | liquid, None, setting=SETTING)

    assert (found is not None) != ((slug, method) in NOT_BY_METHOD)


def test_what_is_listed_exists_and_gives_a_reason():
    assert set(NOT_COMPUTED) <= set(catalogue())
    assert set(NOT_BY_METHOD) <= set(BY_METHOD)
    assert all(len(reason) > 20 for reason in (*NOT_COMPUTED.values(), *NOT_BY_METHOD.values()))


def test_every_judged_method_belongs_to_an_activity_that_has_it():
    assert set(METHODS) <= {method for slug, method in BY_METHOD if slug in MONITORING}


@pytest.mark.parametrize(
    ("slug", "measurements", "words"),
    [
        ("hose-continuity-test", {"ohms": 900}, "PEI RP400"),
        ("spill-bucket-test", {"method": "visual"}, "looking at a bucket is no tightness test"),
        ("dock-line-pressure-test", {}, NOT_IN_FORCE),
        ("sump-test", {"method": "liquid"}, NOT_IN_FORCE),
    ],
)
def test_a_record_without_a_verdict_is_told_why(slug, measurements, words):
    assert words in why_not(slug, measurements)


def test_what_measures_nothing_needs_no_reason():
    assert why_not("walkthrough", {"areas": ["spill"]}) is None
