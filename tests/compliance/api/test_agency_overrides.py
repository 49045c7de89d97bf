"""An agency's decision is held against the loaded rules, so that a slip of the finger never stops a facility from being
judged. The rule: 40 CFR 280.35(a)(1)(ii), a spill bucket is tested every three years."""

import pytest

from compliance.gather import site_documents
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from equipment.models import AgencyOverride
from tests import world
from tests.equipment.api.calls import at, faults, post
from tests.equipment.statements import document
from tests.world import NOW

RULE = "spill-bucket-tightness-3y"


@pytest.fixture
def body(own) -> dict[str, object]:
    world.line(own)
    letter = document(own, "agency letter")
    return {"rule": RULE, "component": "SB1", "document": letter.pk, "params": {"interval": "2 years"}}


def test_a_decision_that_fits_a_rule_is_judged_by(own, owner_client, body):
    stated = post(owner_client, at(own, "/agency-overrides"), body)

    judged = judge(read_document(site_documents([own.pk])[own.pk]), installed_packs(), at=NOW)
    [finding] = [one for one in judged.findings if (one.rule, one.subject) == (RULE, "SB1")]

    assert stated.status_code == 201, stated.json()
    assert "agency letter" in finding.cite


@pytest.mark.parametrize(
    ("slip", "pointer"),
    [
        ({"rule": "spill-bucket-tightness"}, "/rule"),
        ({"params": {"intervall": "2 years"}}, "/params"),
        ({"params": {"interval": "soon"}}, "/params"),
        ({"params": {"interval": True}}, "/params"),
        ({"params": {"interval": 2}}, "/params"),
    ],
)
def test_a_decision_that_fits_no_rule_is_refused(own, owner_client, body, slip, pointer):
    answer = post(owner_client, at(own, "/agency-overrides"), body | slip)

    assert set(faults(answer)) == {pointer}
    assert AgencyOverride.objects.count() == 0
