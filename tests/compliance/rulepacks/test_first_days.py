"""No duty before its law: the first day of each federal wording against the published effective dates.

53 FR 37082 (22 December 1988) with its phase-in of release detection and its upgrade deadline; 80 FR 41566 (13 October
2015) with 11 April 2016 for containment and 13 October 2018 for upkeep and training. "After" a day begins the next day.
"""

from datetime import date, timedelta

import pytest

from tests.compliance.rulepacks.federal import packs

FIRST_DAYS = {
    # 53 FR 37082, effective 22 December 1988; 53 FR 43322 for financial responsibility.
    date(1988, 12, 22): """
        abatement-report change-in-service closure-assessment closure-contamination closure-empty-clean
        closure-notice confirmed-release-initial-response cp-impressed-60-days cp-test-3-years cp-test-6-months
        cp-test-after-repair delivery-constant-watch delivery-ullage-check emergency-generator-rd
        fr-alternate-after-cancel fr-certification-current fr-evidence-after-release fr-maintain
        fr-new-tank-certify fr-owner-bankruptcy free-product-report hazsub-interstitial-30d installation-certified
        inventory-control-monthly investigate-failed-result investigate-noticed-sign
        investigate-suspected-release investigate-suspected-release-inventory investigate-unusual-condition
        report-failed-result report-noticed-sign report-unusual-condition lining-inspection manual-gauging-weekly
        manual-gauging-with-tightness new-ust-notice no-cp-site-analysis overfill-prevention-present
        ownership-change-notice report-suspected-release report-suspected-release-inventory
        investigate-suspected-release-second-month report-suspected-release-second-month
        retest-tank-or-line-after-repair safe-suction-evidence site-characterisation-report small-spill-cleanup
        spill-report-petroleum temp-close-12-months temp-close-3-months""",
    # Two years for pressurised piping (280.40(c), 1988 edition).
    date(1990, 12, 22): """
        annual-alld-test pressurised-alld-present pressurised-line-monthly-monitoring
        pressurised-line-tightness-annual rd-coverage-continuous suction-line-monthly-monitoring
        suction-line-tightness-3y tank-tightness-5y""",
    # Five years for the last tanks (280.40(c), 1988 edition).
    date(1993, 12, 22): "no-method-must-close tank-monitor-30d-any",
    # Ten years to upgrade (280.21(a)).
    date(1998, 12, 22): "upgrade-or-close",
    # 80 FR 41566.
    date(2015, 10, 13): """
        compatibility-proof dual-wall-monitoring-stopped-test fuel-switch-notice overfill-inspection-3y
        previously-deferred-notice retest-containment-after-repair retest-spill-overfill-after-repair retrain-a-b
        spill-bucket-tightness-3y sump-tightness-3y""",
    # Installed or replaced after 13 October 2015 (280.20(c)(3)).
    date(2015, 10, 14): "vent-restrictor-ban",
    # Installed or replaced after 11 April 2016 (280.20, 280.41(a)(2), (b)(2)).
    date(2016, 4, 12): """
        new-piping-interstitial-30d replaced-run-whole-containment secondary-containment-new
        tank-monitor-30d-interstitial udc-new-dispenser""",
    # 280.36(a), 280.40(a)(3), 280.240, 280.243(a).
    date(2018, 10, 13): """
        annual-controller-test annual-handheld-electronic-test annual-probe-sensor-test annual-vacuum-pressure-test
        designate-a-b designate-class-b mute-sensor-put-right operator-list operator-training-proof
        spill-bucket-dual-wall-monitoring sump-dual-wall-monitoring train-a-b train-c walkthrough-30-day-rd
        walkthrough-30-day-spill walkthrough-annual-handheld walkthrough-annual-sump
        walkthrough-before-delivery-spill""",
}
EACH = [(rule, day) for day, rules in FIRST_DAYS.items() for rule in rules.split()]


@pytest.mark.parametrize(("rule", "day"), EACH)
def test_a_wording_is_in_force_from_its_published_day_and_not_before(rule, day):
    wordings = packs().rule(rule)

    assert wordings.on(day - timedelta(days=1)) is None
    assert wordings.on(day) is not None


def test_every_duty_has_a_published_first_day():
    """Periods for keeping records have none: they say of a record on file how long it is kept."""
    duties = {entry.table.id for entry in packs().rules if not entry.table.id.startswith("rec-")}

    assert duties == {rule for rule, _ in EACH}
