"""What is on file about people, papers, fuel and plans, as rows of the site document that its reader accepts."""

from datetime import date

import pytest

from compliance.gather_facts import further_facts, without_loose_ends
from compliance.rules.document import read_document
from equipment.moments import Moment, read_moment
from equipment.services.happenings import Knowledge, state_release, state_site_event
from equipment.services.papers import state_agency_finding, state_agency_override
from equipment.services.records import Deed, record_visit
from equipment.services.stating import end_fact, withdraw_fact
from tests import world
from tests.equipment.statements import delivery, designation, document, person, plan, spill, told
from tests.world import NOW, TODAY

TANKS = {"tank_systems": [{"id": "S1"}], "components": [{"id": "T1", "kind": "tank", "parent": "S1"}]}


def state_everything(site) -> None:
    """A fact of each kind."""
    world.component(site, "tank_system", "S1")
    world.component(site, "tank", "T1", parent="S1")
    ames = person(site.operator)
    designation(site, ames, assumed_duties_on=TODAY)
    letter = document(site, "agency letter", subjects=("T1",), issued_on=TODAY, number="L-7")
    delivery(site, read_moment("2026-03-02T14:05:00-05:00"), subjects=("T1",), delivered_gal=10.0)
    spill(site, known_by=[Knowledge("operator", NOW)], sheen=False)
    confirmed = Moment(day=TODAY)
    state_release(**told(site), identified_at=None, confirmed_at=confirmed, alarm=31, fields={})
    state_agency_finding(**told(site), fields={"type": "order", "served_on": TODAY})
    state_site_event(**told(site), happened_at=Moment(day=TODAY), fields={"type": "flood warning"})
    plan(site, subjects=("T1",))
    state_agency_override(
        **told(site),
        component="T1",
        document=letter.pk,
        params={"period": "60 days"},
        fields={"rule": "spill-report", "from_on": TODAY},
    )


def read(facts, **lists):
    return read_document(without_loose_ends({"facility": {"id": "facility:1"}, **TANKS, **lists, **facts}))


def test_every_kind_of_fact_is_a_row_that_the_reader_accepts(own):
    state_everything(own)

    facts = further_facts([own.pk])[own.pk]
    read(facts)

    assert {name: len(rows) for name, rows in facts.items()} == {
        "people": 1,
        "designations": 1,
        "documents": 1,
        "deliveries": 1,
        "spills": 1,
        "releases": 1,
        "findings": 1,
        "events": 1,
        "plans": 1,
        "overrides": 1,
    }


def test_an_instant_is_stated_with_its_offset_and_a_day_as_a_day(own):
    state_everything(own)

    facts = further_facts([own.pk])[own.pk]

    assert facts["deliveries"][0]["started_at"] == "2026-03-02T19:05:00+00:00"
    assert facts["spills"][0]["discovered_at"] == TODAY.isoformat()


def test_what_nobody_said_is_left_out_and_a_stated_no_is_kept(own):
    state_everything(own)

    [row] = further_facts([own.pk])[own.pk]["spills"]

    assert row["sheen"] is False
    assert "gal_to_environment" not in row


def test_an_override_names_its_letter_and_its_first_day(own):
    state_everything(own)

    facts = further_facts([own.pk])[own.pk]

    assert facts["overrides"] == [
        {
            "rule": "spill-report",
            "subject": "T1",
            "params": {"period": "60 days"},
            "from": TODAY.isoformat(),
            "document": facts["documents"][0]["id"],
        }
    ]


def test_a_cancelled_paper_is_good_to_the_sooner_day(own):
    policy = document(own, "financial responsibility", expires_on=date(2026, 12, 31))
    end_fact(fact=policy, ended_on=TODAY, by="test", now=NOW)

    assert further_facts([own.pk])[own.pk]["documents"][0]["expires_on"] == TODAY.isoformat()


def test_a_trained_person_stands_among_the_people_without_a_designation(own, owner):
    ames = person(owner)
    training = Deed(activity="operator-training", performed=Moment(day=TODAY), person=ames.pk)
    record_visit(facility=own, submitted_by=owner, entered_by="test", deeds=[training], now=NOW)

    assert further_facts([own.pk])[own.pk] == {"people": [{"id": f"person:{ames.pk}", "label": "R. Ames"}]}


def test_a_withdrawn_plan_says_so_and_a_withdrawn_spill_is_gone(own, owner):
    for fact in (plan(own), spill(own)):
        withdraw_fact(fact=fact, organisation=owner, reason="other marina", by="test", now=NOW)

    facts = further_facts([own.pk])[own.pk]

    assert [row["withdrawn"] for row in facts["plans"]] == ["other marina"]
    assert "spills" not in facts


def test_a_report_about_a_withdrawn_spill_does_not_stop_the_reader(own, owner):
    stated = spill(own)
    report = {"activity": "spill-cleanup", "performed_at": "2026-03-04", "regarding": f"spill:{stated.pk}"}
    withdraw_fact(fact=stated, organisation=owner, reason="water, not fuel", by="test", now=NOW)

    document = without_loose_ends({"facility": {}, "records": [report], **further_facts([own.pk])[own.pk]})

    assert document["records"][0]["x_regarding"] == f"spill:{stated.pk}"
    assert read_document(document).records[0].regarding is None


def test_a_report_about_a_spill_on_file_keeps_its_name(own):
    stated = spill(own)
    report = {"activity": "spill-cleanup", "performed_at": "2026-03-04", "regarding": f"spill:{stated.pk}"}

    read_back = read(further_facts([own.pk])[own.pk], records=[report])

    assert read_back.records[0].regarding == f"spill:{stated.pk}"


def test_a_release_names_its_alarm_where_the_document_holds_it(own):
    state_everything(own)
    alarm = {"id": "alarm:31", "condition": "high-water", "raised_at": "2026-03-04"}

    with_it = read(further_facts([own.pk])[own.pk], alarms=[alarm])
    without = read(further_facts([own.pk])[own.pk])

    assert (with_it.releases[0].alarm, without.releases[0].alarm) == ("alarm:31", None)


def test_each_facility_has_its_own_facts(own, foreign):
    spill(own, gal_to_environment=1.0)
    spill(foreign, gal_to_environment=2.0)

    facts = further_facts([own.pk, foreign.pk])

    assert [facts[site.pk]["spills"][0]["gal_to_environment"] for site in (own, foreign)] == [1.0, 2.0]


@pytest.mark.parametrize("count", [1, 6])
def test_the_number_of_queries_does_not_depend_on_how_many_facilities(
    owner, count, django_assert_num_queries
):
    sites = [world.facility(owner, f"N{number}") for number in range(count)]
    for site in sites:
        state_everything(site)

    # People 3, subjects of papers, deliveries and plans 6, knowledge of spills 1, the nine lists themselves.
    with django_assert_num_queries(16):
        further_facts([site.pk for site in sites])
