"""Whatever JSON is sent to whatever route, the answer is an answer: stored, or a problem that says where."""

import json
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from equipment.models import MODEL_OF_KIND, Facility
from equipment.services.register import stated_fields
from tests import world
from tests.equipment.api.calls import at

NASTY = [
    None,
    True,
    False,
    0,
    -1,
    2**31,
    2**63,
    10**30,
    1e308,
    -0.0,
    0.1,
    "",
    " ",
    "x" * 2000,
    "NaN",
    "0",
    "ÿ",
    [],
    {},
]
DAYS = [
    "0001-01-01",
    "9999-12-31",
    "2026-02-29",
    "2026-02-27",
    "2026-02-27T10:00:00Z",
    "9999-12-31T23:59:59-14:00",
]
WORDS = [
    "unknown",
    "steel",
    "double wall",
    "currently in use",
    "T1",
    "S1",
    "manager",
    "contractor",
    "Own Marinas",
]
leaf = (
    st.sampled_from(NASTY + DAYS + WORDS) | st.text(max_size=8) | st.integers() | st.floats(allow_nan=False)
)
value = st.recursive(
    leaf,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
FIELDS = sorted({name for model in (Facility, *MODEL_OF_KIND.values()) for name in stated_fields(model)})
OTHER_KEYS = [
    "kind",
    "type",
    "tag",
    "parent",
    "replaces",
    "component",
    "field",
    "value",
    "effective_on",
    "status",
]
KEYS = [
    *OTHER_KEYS,
    "residue_in",
    "operator",
    "organisation",
    "role",
    "starts_at",
    "ends_at",
    "expires_at",
    "reason",
]
body = st.dictionaries(st.sampled_from(KEYS + FIELDS), value, max_size=6)
kind = st.fixed_dictionaries({"kind": st.sampled_from(sorted(MODEL_OF_KIND))})
change = st.fixed_dictionaries(
    {"type": st.sampled_from(["status", "field"]), "effective_on": st.sampled_from(DAYS), "value": value},
    optional={"field": st.sampled_from(FIELDS), "status": st.sampled_from(["abandoned", "unknown"])},
)
numbers = count(1)
ROUTES = {
    "facilities": ("POST", "/api/v1/facilities", body),
    "a facility": ("PATCH", "", body),
    "components": ("POST", "/components", st.builds(lambda a, b: a | b, body, kind)),
    "a component": ("PATCH", "/components/T1", body),
    "changes": ("POST", "/changes", st.builds(lambda a, b: a | b, body, change)),
    "access": ("POST", "/access", body),
    "the end of a grant": ("POST", "/access/{grant}/end", body),
    "keys": ("POST", "/api/v1/keys", body),
}


@pytest.mark.parametrize(("verb", "path", "bodies"), ROUTES.values(), ids=ROUTES)
def test_any_body_gets_an_answer(verb, path, bodies, own, owner_client):
    world.component(own, "tank", "T1")
    grant = own.grants.order_by("-pk")[0].pk
    address = path if path.startswith("/api") else at(own, path.format(grant=grant))

    @settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(sent=bodies | value)
    def knock(sent: Any) -> None:
        answer = owner_client.generic(
            verb,
            address,
            json.dumps(sent),
            content_type="application/json",
            headers={"Idempotency-Key": str(next(numbers)), "If-Match": "*"},
        )
        assert answer.status_code < 500
        if answer.status_code == 422:
            assert all(
                one["pointer"].startswith("/") or not one["pointer"] for one in answer.json()["errors"]
            )

    knock()


@pytest.mark.parametrize("key", ["limit", "cursor", "kind", "removed", "name", "component", "frequency", "x"])
@pytest.mark.parametrize("text", ["", "0", "-1", "1e9", "\x00", "ÿ", "' OR 1=1", "[]", "9" * 40])
def test_any_query_gets_an_answer(key, text, own, owner_client):
    for path in ("", "/components", "/changes", "/access", "/checklist"):
        assert owner_client.get(at(own, path), {key: text}).status_code < 500
    for path in ("facilities", "keys", "organisations", "activities"):
        assert owner_client.get(f"/api/v1/{path}", {key: text}).status_code < 500


@pytest.mark.parametrize("tag", ["%00", "%FF", "T1%0A", "..", "%2F", "T1;x", "a" * 500])
def test_any_tag_gets_an_answer(tag, own, owner_client):
    for path in (f"/components/{tag}", f"/changes/{tag}/withdrawal"):
        assert owner_client.get(at(own, path)).status_code in (404, 405)
