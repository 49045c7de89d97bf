"""What a posted record may look like: a text is a text, a number a number, nothing is turned into the other."""

import pytest

from equipment.models import Record
from tests import world
from tests.compliance.api.test_records import changed, records_of
from tests.equipment.api.calls import faults


@pytest.fixture
def site(own):
    world.line(own)
    return own


@pytest.mark.parametrize(
    ("stated", "pointer"),
    [
        ({"subjects": [5]}, "/records/0/subjects/0"),
        ({"subjects": [True]}, "/records/0/subjects/0"),
        ({"supersedes": "12"}, "/records/0/supersedes"),
        ({"supersedes": True}, "/records/0/supersedes"),
        ({"supersedes": 10**23}, "/records/0/supersedes"),
        ({"supersedes": 2**63}, "/records/0/supersedes"),
        ({"supersedes": 0}, "/records/0/supersedes"),
        ({"person": "1"}, "/records/0/person"),
        ({"person": 1.0}, "/records/0/person"),
        ({"activity": 7}, "/records/0/activity"),
        ({"outcome": True}, "/records/0/outcome"),
        ({"note": 12}, "/records/0/note"),
        ({"external_id": 8812}, "/records/0/external_id"),
        ({"regarding": 3}, "/records/0/regarding"),
    ],
    ids=str,
)
def test_a_value_of_another_type_is_refused_where_it_stands(stated, pointer, site, contractor_client):
    refused = contractor_client.post(
        records_of(site), changed(**stated), format="json", headers={"Idempotency-Key": "k"}
    )

    assert refused.status_code == 422
    assert pointer in faults(refused)
    assert not Record.objects.exists()


@pytest.mark.parametrize("name", ["performer", "technician", "certificate"])
def test_who_did_the_work_is_a_text(name, site, contractor_client):
    refused = contractor_client.post(records_of(site), changed() | {name: 7}, format="json")

    assert faults(refused) == {f"/{name}": "invalid"}
