"""The headers that a caller must know of are described, and asked for exactly where they are described.

Sources: RFC 6585, 3 (428), RFC 9110, 8.8.3 (ETag), 13.1.1 (If-Match) and 13.1.2 (If-None-Match). An
`Idempotency-Key` is common practice, no source.
"""

from tests.guards.knocking import WRITINGS, description, knock, operation
from tests.guards.routes import Route, routes

KEY, VERSION, KNOWN = "Idempotency-Key", "If-Match", "If-None-Match"
READINGS = [route for route in routes() if "GET" in route.verbs]


def described(route: Route, verb: str) -> dict[str, bool]:
    """The request headers of an operation, and whether each is required."""
    parameters = operation(route, verb).get("parameters", [])
    return {one["name"]: one.get("required", False) for one in parameters if one["in"] == "header"}


def answered(route: Route, verb: str) -> set[str]:
    """The headers of an operation's good answers."""
    answers = operation(route, verb)["responses"].items()
    return {header for status, one in answers if status.startswith("2") for header in one.get("headers", ())}


def test_without_a_header_an_operation_answers_428_exactly_where_it_requires_one(ids, owner_client):
    wrong = {}
    for route, verb in WRITINGS:
        wanted = [name for name, required in described(route, verb).items() if required]
        answer = knock(owner_client, route, verb, ids, {})
        detail = answer.json()["detail"] if answer.status_code == 428 else ""
        if (answer.status_code == 428) is not bool(wanted) or any(name not in detail for name in wanted):
            wrong[f"{verb} {route}"] = (answer.status_code, answer.content)

    assert not wrong


def test_a_key_is_read_exactly_where_it_is_described(ids, owner_client):
    wrong = {}
    for route, verb in WRITINGS:
        answer = knock(owner_client, route, verb, ids, {KEY: "k" * 201})
        read = f"{KEY} has 1 to" in answer.content.decode()
        if not read is (KEY in described(route, verb)) is ("Idempotent-Replay" in answered(route, verb)):
            wrong[f"{verb} {route}"] = (answer.status_code, answer.content)

    assert not wrong


def test_a_version_is_compared_exactly_where_it_is_described(ids, owner_client):
    wrong = {}
    for route, verb in WRITINGS:
        headers = {VERSION: '"v9999"', KEY: "once"}
        answer = knock(owner_client, route, verb, ids, headers)
        compared = answer.status_code == 412
        if not compared is (VERSION in described(route, verb)) is ("ETag" in answered(route, verb)):
            wrong[f"{verb} {route}"] = (answer.status_code, answer.content)

    assert not wrong


def test_a_reading_answers_with_the_headers_that_are_described(ids, owner_client):
    wrong = {}
    for route in READINGS:
        answer = owner_client.get(route.filled(ids))
        again = owner_client.get(route.filled(ids), headers={KNOWN: answer.headers.get("ETag", '"none"')})
        if ("ETag" in answer.headers) is not ("ETag" in answered(route, "GET")):
            wrong[str(route)] = answer.status_code
        known = again.status_code == 304
        if not known is (KNOWN in described(route, "GET")) is ("304" in operation(route, "GET")["responses"]):
            wrong[str(route)] = again.status_code

    assert not wrong


def test_whoever_is_too_fast_is_told_how_long_to_wait():
    """RFC 9110, 10.2.3."""
    assert "Retry-After" in description()["components"]["responses"]["Problem429"]["headers"]
