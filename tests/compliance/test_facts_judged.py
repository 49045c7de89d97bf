"""What is put on file about people, papers and spills is what the federal rules judge. Citations beside each check."""

from datetime import date, timedelta

from compliance.gather import site_documents
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from tests import world
from tests.equipment.statements import designation, document, person, spill
from tests.world import NOW, TODAY


def standings(site, rule: str) -> dict[str, str]:
    """Standing by subject."""
    judged = judge(read_document(site_documents([site.pk])[site.pk]), installed_packs(), at=NOW)
    return {one.subject: one.standing for one in judged.findings if one.rule == rule}


def test_training_counts_for_whoever_was_trained_and_for_nobody_else(own, owner):
    """40 CFR 280.243(b): within 30 days of assuming duties."""
    started = TODAY - timedelta(days=60)
    trained, other = (
        designation(own, person(owner, name), "A", assumed_duties_on=started) for name in ("Ames", "Baker")
    )
    training = Deed(
        activity="operator-training",
        performed=Moment(day=started + timedelta(days=10)),
        person=trained.person_id,
        outcome="pass",
        measurements={"operator_class": "A"},
    )

    record_visit(facility=own, submitted_by=owner, entered_by="test", deeds=[training], now=NOW)

    assert standings(own, "train-a-b") == {
        f"designation:{trained.pk}": "met",
        f"designation:{other.pk}": "overdue",
    }


def test_a_designation_names_the_operator_until_it_ends(own, owner):
    """40 CFR 280.240: a Class A operator at every moment."""
    before = standings(own, "designate-a-b")
    designation(own, person(owner), "A/B", assumed_duties_on=date(2020, 1, 1))

    after = standings(own, "designate-a-b")

    assert (set(before.values()), set(after.values())) == ({"no record"}, {"met"})


def test_a_paper_that_is_good_today_is_found(own):
    """40 CFR 280.93(a)(1) and (b)(1): 1,000,000 USD for one occurrence and a year, at a marketer with few tanks."""
    world.line(own)
    own.petroleum_marketing, own.owner_tank_count = True, 3
    own.save()
    cover = {"per_occurrence_usd": 1_000_000, "annual_aggregate_usd": 1_000_000}

    document(
        own,
        "financial responsibility",
        issued_on=TODAY - timedelta(days=90),
        expires_on=TODAY + timedelta(days=275),
        **cover,
    )

    assert list(standings(own, "fr-maintain").values()) == ["met"]


def test_a_spill_with_a_sheen_starts_its_report(own):
    """40 CFR 280.53(a)(1): any sheen is reported within 24 hours, whatever the gallons."""
    stated = spill(own, Moment(instant=NOW - timedelta(hours=30)), gal_to_environment=1.0, sheen=True)

    assert standings(own, "spill-report-petroleum") == {f"spill:{stated.pk}": "overdue"}
