"""The published schema of the site document: open to all, and each worked example is what it says."""

from datetime import date

import jsonschema_rs
import pytest

from compliance.api.site_document_schema import published_schema
from compliance.gather import COMPONENT_FIELDS
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.document_examples import worked_examples
from compliance.rules.judging import judge
from equipment import activities

EXAMPLES = {one["components"][-1]["kind"]: one for one in worked_examples()}


def test_whoever_asks_without_a_key_gets_a_valid_schema_with_its_examples(client):
    answer = client.get("/api/v1/site-document-schema")

    assert answer.status_code == 200
    jsonschema_rs.meta.validate(answer.json())
    assert answer.json() == published_schema()
    assert len(answer.json()["examples"]) == len(EXAMPLES)


def test_there_is_one_example_for_each_kind_of_component():
    assert sorted(EXAMPLES) == sorted(COMPONENT_FIELDS)
    assert len(worked_examples()) == len(EXAMPLES)


@pytest.mark.parametrize("kind", sorted(EXAMPLES))
def test_an_example_fits_the_schema_and_the_reader_and_can_be_judged(kind):
    example = EXAMPLES[kind]

    jsonschema_rs.validator_for(published_schema()).validate(example)
    document = read_document(example, activities=activities.slugs())
    judgement = judge(document, installed_packs(), at=date(2026, 3, 4))

    assert judgement.packs == ("us-federal",)


@pytest.mark.parametrize("kind", sorted(kind for kind, one in EXAMPLES.items() if one["records"]))
def test_the_record_of_an_example_is_one_that_the_catalogue_takes(kind):
    [record] = EXAMPLES[kind]["records"]

    found = activities.activity(record["activity"])

    assert kind in found.subjects
    assert set(record["measurements"]) <= {one.name for one in found.measurements}


def test_the_example_of_a_spill_bucket_is_met_for_three_years():
    """40 CFR 280.35(a)(1)(ii): tested at least once every three years."""
    findings = judge(read_document(EXAMPLES["spill_bucket"]), installed_packs(), at=date(2026, 3, 4)).findings

    [bucket] = [one for one in findings if (one.rule, one.subject) == ("spill-bucket-tightness-3y", "SB1")]

    assert (bucket.standing, bucket.due) == ("met", date(2029, 2, 20))
