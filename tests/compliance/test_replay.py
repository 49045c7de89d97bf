"""Export, import and replay: what is stored is what anybody gets from the exported document, byte for byte, and what
was said of a past moment stays said, whatever comes on file afterwards."""

import json
from datetime import timedelta

import pytest

from compliance.demo.staging import build
from compliance.gather import site_documents
from compliance.models import Obligation, Standing
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from compliance.services import assess
from compliance.services.as_of import AsOf, obligations_as_of
from equipment.models import AgencyOverride, Facility
from equipment.moments import Moment
from equipment.services.changes import state_change
from equipment.services.records import Deed, record_visit
from equipment.services.stating import withdraw_fact
from tests import world
from tests.compliance.test_gather_facts import state_everything
from tests.conftest import client_of
from tests.equipment.api.calls import at
from tests.equipment.statements import document, spill
from tests.world import NOW, TODAY

Key = tuple[str, str, str]


def canonical(finding: object) -> str:
    """With its keys in order (as RFC 8785 has them): PostgreSQL keeps JSON without an order of its own."""
    return json.dumps(finding, sort_keys=True)


def stored(facility: Facility) -> dict[Key, str]:
    rows = Obligation.objects.filter(facility=facility)
    return {(row.rule, row.subject, row.party): canonical(row.finding) for row in rows}


def posted(client, facility: Facility) -> dict[Key, str]:
    """Exported from one address and judged at the other, as text, without the count that grows by itself."""
    exported = client.get(at(facility, "/site-document")).content
    moment = Standing.objects.get(pk=facility.pk).judged_at.isoformat()
    body = {"document": json.loads(exported), "on": moment}
    findings = client.post("/api/v1/judgements", body, format="json").json()["findings"]
    for finding in findings:
        del finding["days_late"]
    return {(one["rule"], one["subject"], one["party"]): canonical(one) for one in findings}


def test_the_exported_document_gives_the_stored_findings_byte_for_byte(own, owner_client):
    world.line(own)
    record_visit(
        facility=own,
        submitted_by=own.operator,
        entered_by="test",
        deeds=[Deed(activity="walkthrough", performed=Moment(day=TODAY), measurements={"areas": ["spill"]})],
        now=NOW,
    )
    spill(own, gal_to_environment=30.0, sheen=True)
    document(own, "financial responsibility", expires_on=TODAY + timedelta(days=10))
    assess.drain(clock=lambda: NOW)

    assert posted(owner_client, own) == stored(own)
    assert len(stored(own)) > 10


def test_with_a_fact_of_every_kind_the_export_gives_the_stored_findings(own, owner, owner_client):
    state_everything(own)
    override = AgencyOverride.objects.get()  # names a rule that no loaded pack has
    withdraw_fact(fact=override, organisation=owner, reason="another case", by="test", now=NOW)
    assess.drain(clock=lambda: NOW)

    assert posted(owner_client, own) == stored(own)


@pytest.mark.django_db
def test_every_facility_of_the_demo_exports_what_is_stored():
    stage = build(now=NOW, progress=lambda name: None)
    client = client_of(stage.cast.operator)

    for facility in stage.facilities:
        assert stored(facility)
        assert posted(client, facility) == stored(facility)


def said(facility: Facility, as_of: AsOf) -> str:
    """Everything that is said of a moment, as text."""
    rows = obligations_as_of(facility, as_of, everything=True)
    return json.dumps([[row.rule, row.subject, row.party, row.finding] for row in rows])


def test_what_was_said_of_a_past_moment_stays_said_whatever_comes_on_file(own):
    world.line(own)
    spill(own, gal_to_environment=30.0)
    then = AsOf(NOW)
    before = said(own, then)

    later = NOW + timedelta(days=2)
    deed = Deed(activity="walkthrough", performed=Moment(day=TODAY), measurements={"areas": ["spill"]})
    record_visit(facility=own, submitted_by=own.operator, entered_by="test", deeds=[deed], now=later)
    state_change(
        facility=own, component=None, effective_on=TODAY, field="attended", value=True, by="test", now=later
    )

    assert said(own, then) == before
    assert said(own, AsOf(NOW, "today")) != before


def test_judging_the_same_facts_twice_gives_the_same_bytes(own):
    world.line(own)
    state = read_document(site_documents([own.pk])[own.pk])

    first, second = (judge(state, installed_packs(), at=NOW) for _ in range(2))

    assert first == second
