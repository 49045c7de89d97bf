"""What the guards that knock on every address share."""

from datetime import time
from typing import Any

import pytest

from alarms.matching import Signal
from alarms.models import Alarm, Contact, Rota
from alarms.services.intake import Report, receive_events
from compliance.models import Obligation
from compliance.services import assess
from equipment.api.access import BODY as GRANT
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from equipment.vocabulary import OrganisationKind
from tests import world
from tests.equipment.files import attached
from tests.equipment.ledgers import inventory_day
from tests.equipment.statements import chart, delivery_check
from tests.world import NOW, TODAY

CHANGED = {"time_zone": "America/New_York", "changed_at": NOW, "changed_by": "test"}


@pytest.fixture
def ids(own, owner, attachment_folder) -> dict[str, Any]:
    """The owner's site with something at every address, and whom examples name; a value for each part of one."""
    tank = world.line(own)["T1"]
    deed = Deed(activity="walkthrough", performed=Moment(day=TODAY), measurements={"areas": ["spill"]})
    disputed = Deed(
        activity="spill-bucket-test",
        performed=Moment(day=TODAY),
        subjects=("SB1",),
        outcome="pass",
        measurements=world.LEAKING_BUCKET,
    )
    visit = record_visit(facility=own, submitted_by=owner, entered_by="test", deeds=[deed, disputed], now=NOW)
    record = visit.records[0]
    report = Report(
        source="console", id="1", device="SN1", condition="sump-fuel", signal=Signal.RAISED, occurred_at=NOW
    )
    receive_events(facility=own, source_org=owner, entered_by="test", events=[report], now=NOW)
    world.key(owner)
    world.organisation(GRANT["organisation"], OrganisationKind.CONTRACTOR)
    assess.drain(clock=lambda: NOW)
    rota = Rota.objects.create(
        organisation=owner, name="nights", starts_on=TODAY, turn_days=7, hand_over=time(8), **CHANGED
    )
    contact = Contact.objects.create(organisation=owner, name="Ann", email="ann@example.com")
    return {
        "facility_id": own.pk,
        "tag": "T1",
        "change_id": "status-1",
        "grant_id": own.grants.first().pk,
        "key_id": owner.keys.first().pk,
        "organisation_id": owner.pk,
        "fact_id": chart(own, tank).pk,
        "record_id": record.pk,
        "check_id": delivery_check(own).pk,
        "entry_id": inventory_day(own).pk,
        "month": "2026-03",
        "alarm_id": Alarm.objects.get().pk,
        "obligation_id": Obligation.objects.first().pk,
        "attachment_id": attached(own).pk,
        "priority": "high",
        "contact_id": contact.pk,
        "rota_id": rota.pk,
        "slug": "walkthrough",
        "rule_id": "annual-alld-test",
    }
