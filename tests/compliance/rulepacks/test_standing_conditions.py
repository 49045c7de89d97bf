"""Federal duties without a date: how something has to be. True is met, false is failed, unknown names the fact."""

import pytest

from tests.compliance.rulepacks.federal import component, finding, lacks, record, site

NEW = {"installed_on": "2016-04-12"}
OLD = {"installed_on": "2016-04-11"}
SAFE = {
    "below_atmospheric": True,
    "slopes_to_tank": True,
    "single_check_valve": True,
    "check_valve_under_pump": True,
    "features_verifiable": True,
}
CONTAINED = {"tank_secondary_containment": "double wall", "release_detection": ["interstitial monitoring"]}


def item(kind: str, **fields: object) -> dict:
    return site(component(kind, **fields))


def closure(**measurements: object) -> dict:
    return site(records=[record("permanent-closure", "2025-05-01", subject="S1", id="X1", **measurements)])


def training(**measurements: object) -> dict:
    taught = record("operator-training", "2025-05-01", subject="X0", id="X1", **measurements)
    return site(people=[{"id": "X0"}], records=[taught])


def delivery(**fields: object) -> dict:
    row = {"id": "X1", "subject": "T1", "started_at": "2025-05-01T09:00", **fields}
    return site(component("tank", "T1"), deliveries=[row])


def replacement(fraction: float | None, **run: object) -> dict:
    done = record("piping-replacement", "2025-05-01", subject="P1", id="X1", fraction_replaced=fraction)
    return site(component("piping_run", "P1", **run), records=[done])


def designation(**fields: object) -> dict:
    row = {"id": "X1", "person": "P1", "operator_class": "A", **fields}
    return site(people=[{"id": "P1"}], designations=[row])


def system(**fields: object) -> dict:
    return site(system={"id": "X1", **fields})


TANK = {"compartment_capacity_gallons": 10_000, **OLD}
RUN = {"piping_style": "pressure", **OLD}

MET = [
    ("secondary-containment-new", "280.20", item("tank", **NEW, **CONTAINED)),
    (
        "udc-new-dispenser",
        "280.20(f)",
        item("dispenser", connection_installed_on="2016-04-12", dispenser_udc=True, **NEW),
    ),
    (
        "vent-restrictor-ban",
        "280.20(c)(3)",
        item("overfill_device", installed_on="2015-10-14", overfill_type="high-level alarm"),
    ),
    (
        "overfill-prevention-present",
        "280.20(c)(1)(ii)(A)",
        item("overfill_device", overfill_type="automatic shutoff", set_level_pct=95),
    ),
    (
        "overfill-prevention-present",
        "280.20(c)(1)(ii)(B)",
        item("overfill_device", overfill_type="high-level alarm", set_level_pct=90),
    ),
    ("upgrade-or-close", "280.21(a)", system(meets_new_or_upgraded_standard=True)),
    (
        "pressurised-alld-present",
        "280.41(b)(1)(i)(A)",
        item("piping_run", piping_style="pressure", piping_line_leak_detector=True),
    ),
    ("safe-suction-evidence", "280.41(b)(1)(ii)", item("piping_run", piping_style="suction", **SAFE)),
    (
        "rd-coverage-continuous",
        "280.40(a)(1)",
        item("piping_run", release_detection=["line tightness testing annual"], **RUN),
    ),
    ("no-method-must-close", "280.40(c)", item("tank", release_detection=["automatic tank gauging"], **TANK)),
    (
        "replaced-run-whole-containment",
        "280.20",
        replacement(0.5, piping_wall_type="double walled", release_detection=["interstitial monitoring"]),
    ),
    ("delivery-ullage-check", "280.30(a)", delivery(ullage_gal=3000, ordered_gal=2999)),
    ("delivery-constant-watch", "280.30(a)", delivery(watched_throughout=True)),
    ("closure-assessment", "280.72(a)", closure(assessed=True)),
    ("closure-empty-clean", "280.71(b)", closure(way="in place")),
    ("operator-list", "280.245(a)", designation(assumed_duties_on="2025-01-01")),
    (
        "operator-training-proof",
        "280.245(b)",
        training(trainer="a school", form="exam", operator_class="A"),
    ),
    (
        "operator-training-proof",
        "280.245(b)(3)",
        training(trainer="a school", form="field", areas=["spills"]),
    ),
]
FAILED = [
    ("secondary-containment-new", "280.20", item("tank", **NEW, **{**CONTAINED, "release_detection": []})),
    (
        "secondary-containment-new",
        "280.20",
        item("tank", **NEW, **{**CONTAINED, "tank_secondary_containment": "single wall"}),
    ),
    (
        "udc-new-dispenser",
        "280.20(f)",
        item("dispenser", connection_installed_on="2016-04-12", dispenser_udc=False, **NEW),
    ),
    (
        "vent-restrictor-ban",
        "280.20(c)(3)",
        item("overfill_device", installed_on="2015-10-14", overfill_type="vent flow restrictor"),
    ),
    (
        "overfill-prevention-present",
        "280.20(c)(1)(ii)(A)",
        item("overfill_device", overfill_type="automatic shutoff", set_level_pct=95.1),
    ),
    (
        "overfill-prevention-present",
        "280.20(c)(1)(ii)(B)",
        item("overfill_device", overfill_type="high-level alarm", set_level_pct=90.5),
    ),
    ("upgrade-or-close", "280.21(a)", system(meets_new_or_upgraded_standard=False)),
    (
        "pressurised-alld-present",
        "280.41(b)(1)(i)(A)",
        item("piping_run", piping_style="pressure", piping_line_leak_detector=False),
    ),
    (
        "safe-suction-evidence",
        "280.41(b)(1)(ii)(C)",
        item("piping_run", piping_style="suction", **{**SAFE, "single_check_valve": False}),
    ),
    (
        "rd-coverage-continuous",
        "280.40(a)(1)",
        item("piping_run", release_detection=["line tightness testing 3 yr"], **RUN),
    ),
    (
        "rd-coverage-continuous",
        "280.41(b)(2)",
        item("piping_run", **{**RUN, **NEW}, release_detection=["line tightness testing annual"]),
    ),
    (
        "no-method-must-close",
        "280.41(a)(2)",
        item("tank", release_detection=["automatic tank gauging"], **{**TANK, **NEW}),
    ),
    ("no-method-must-close", "280.43(b)", item("tank", release_detection=["manual tank gauging"], **TANK)),
    (
        "replaced-run-whole-containment",
        "280.20",
        replacement(0.5, piping_wall_type="single walled", release_detection=["interstitial monitoring"]),
    ),
    ("delivery-ullage-check", "280.30(a)", delivery(ullage_gal=3000, ordered_gal=3000)),
    ("delivery-constant-watch", "280.30(a)", delivery(watched_throughout=False)),
    ("closure-assessment", "280.72(a)", closure(assessed=False)),
    ("operator-list", "280.245(a)", designation()),
    ("operator-training-proof", "280.245(b)", training(trainer="a school", operator_class="A")),
]
UNKNOWN = [
    ("secondary-containment-new", "tank_secondary_containment", item("tank", **NEW)),
    ("secondary-containment-new", "installed_on", item("tank", **CONTAINED)),
    ("udc-new-dispenser", "dispenser_udc", item("dispenser", connection_installed_on="2016-04-12", **NEW)),
    ("udc-new-dispenser", "connection_installed_on", item("dispenser", dispenser_udc=False, **NEW)),
    ("vent-restrictor-ban", "overfill_type", item("overfill_device", installed_on="2015-10-14")),
    (
        "vent-restrictor-ban",
        "installed_on",
        item("overfill_device", overfill_type="vent flow restrictor"),
    ),
    (
        "overfill-prevention-present",
        "set_level_pct",
        item("overfill_device", overfill_type="automatic shutoff"),
    ),
    ("upgrade-or-close", "meets_new_or_upgraded_standard", system()),
    ("pressurised-alld-present", "piping_line_leak_detector", item("piping_run", piping_style="pressure")),
    ("pressurised-alld-present", "piping_style", item("piping_run", piping_line_leak_detector=False)),
    (
        "safe-suction-evidence",
        "slopes_to_tank",
        item("piping_run", piping_style="suction", **{**SAFE, "slopes_to_tank": None}),
    ),
    ("rd-coverage-continuous", "release_detection", item("piping_run", **RUN)),
    ("no-method-must-close", "release_detection", item("tank", **TANK)),
    (
        "replaced-run-whole-containment",
        "fraction_replaced",
        replacement(None, piping_wall_type="single walled"),
    ),
    ("replaced-run-whole-containment", "piping_wall_type", replacement(0.6)),
    ("delivery-ullage-check", "ullage_gal", delivery(ordered_gal=3000)),
    ("delivery-ullage-check", "ordered_gal", delivery(ullage_gal=3000)),
    ("delivery-constant-watch", "watched_throughout", delivery()),
    ("closure-assessment", "assessed", closure()),
    ("closure-empty-clean", "way", closure()),
]
NOT_REQUIRED = [
    ("secondary-containment-new", "280.20: the day itself is the older regime", item("tank", **OLD)),
    (
        "udc-new-dispenser",
        "280.20(f): a dispenser on its old connection",
        item("dispenser", connection_installed_on="2010-01-01", dispenser_udc=False, **NEW),
    ),
    (
        "udc-new-dispenser",
        "280.20(f): connection of the last old day",
        item("dispenser", connection_installed_on="2016-04-11", dispenser_udc=False, **NEW),
    ),
    (
        "udc-new-dispenser",
        "280.20(f): dispenser of the last old day",
        item("dispenser", connection_installed_on="2016-04-12", dispenser_udc=False, **OLD),
    ),
    (
        "vent-restrictor-ban",
        "280.20(c)(3): installed on the last old day",
        item("overfill_device", installed_on="2015-10-13", overfill_type="vent flow restrictor"),
    ),
    (
        "overfill-prevention-present",
        "280.20(c)(2)(ii): never more than 25 gallons at a time",
        item("overfill_device", fill_max_gal_per_transfer=25, overfill_type="other"),
    ),
    (
        "pressurised-alld-present",
        "280.41(b): piping above the dock is not underground",
        item("piping_run", piping_style="pressure", below_ground=False),
    ),
    (
        "safe-suction-evidence",
        "280.41(b)(1)(ii): nobody claims it",
        item("piping_run", piping_style="suction"),
    ),
    (
        "rd-coverage-continuous",
        "280.41(b)(1)(ii)(A)-(E)",
        item("piping_run", piping_style="suction", **OLD, **SAFE),
    ),
    (
        "replaced-run-whole-containment",
        "280.12 replaced: less than half",
        replacement(0.49, piping_wall_type="single walled"),
    ),
    (
        "no-method-must-close",
        "280.10(b): a tank that the part does not reach",
        item("tank", federally_regulated=False, release_detection=[], **TANK),
    ),
]


def named(rows: list) -> list:
    return [pytest.param(rule, note, document, id=f"{rule} {note}") for rule, note, document in rows]


@pytest.mark.parametrize(("rule", "paragraph", "document"), named(MET))
def test_as_the_paragraph_wants_it_is_met(rule, paragraph, document):
    assert finding(document, rule, "X1", "2025-07-01").standing == "met", paragraph


@pytest.mark.parametrize(("rule", "paragraph", "document"), named(FAILED))
def test_against_the_paragraph_it_is_failed(rule, paragraph, document):
    assert finding(document, rule, "X1", "2025-07-01").standing == "failed", paragraph


@pytest.mark.parametrize(("rule", "fact", "document"), named(UNKNOWN))
def test_a_fact_that_nobody_stated_is_named(rule, fact, document):
    """Never "not required" and never "met": what nobody stated decides nothing."""
    found = finding(document, rule, "X1", "2025-07-01")

    assert found.standing == "cannot decide"
    assert lacks(found, fact)


@pytest.mark.parametrize(("rule", "why", "document"), named(NOT_REQUIRED))
def test_outside_the_paragraph_nothing_is_required(rule, why, document):
    assert finding(document, rule, "X1", "2025-07-01").standing == "not required", why
