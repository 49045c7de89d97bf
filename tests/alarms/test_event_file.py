"""Files of events: nothing is dropped, and what is wrong is told line by line (our own promise).

Formats: newline-delimited JSON is RFC 8259 texts one a line; CSV is RFC 4180, less line breaks within a cell. Statuses:
RFC 9110.
"""

import csv
import io
import json
from datetime import timedelta

import pytest
from django.utils import timezone

from alarms.api import event_file
from alarms.models import Alarm, Event, UnreadableLine
from alarms.services import event_files
from tests.alarms.test_api import get, pointers

NDJSON, CSV = "application/x-ndjson", "text/csv"
HEADER = ["source", "id", "device", "condition", "signal", "occurred_at", "payload"]
COUNTS = ("lines", "accepted", "repeated", "unreadable", "problems_total", "remarks_total")


def event(number: int = 1, **stated):
    at = timezone.now() - timedelta(hours=1) + timedelta(seconds=number / 10)
    return {
        "source": "console-1",
        "id": f"e{number}",
        "device": "SU1",
        "condition": "sump-liquid",
        "signal": "raised",
        "occurred_at": at.isoformat(),
    } | stated


def without(name: str, **stated):
    sent = event(**stated)
    del sent[name]
    return sent


def lines(*events) -> bytes:
    """Objects as JSON, texts and bytes as they are."""
    parts = [one if isinstance(one, str | bytes) else json.dumps(one) for one in events]
    return b"\n".join(one if isinstance(one, bytes) else one.encode() for one in parts) + b"\n"


def table(*events) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, HEADER, restval="")
    writer.writeheader()
    writer.writerows(events)
    return out.getvalue().encode()


@pytest.fixture
def send(site, owner_client):
    def post(body: bytes, media_type: str = NDJSON):
        path = f"/api/v1/facilities/{site.pk}/events/file"
        return owner_client.generic("POST", path, body, content_type=media_type, secure=True)

    return post


def counts(answer) -> list[int]:
    return [answer.json()[name] for name in COUNTS]


@pytest.mark.parametrize("media_type", [NDJSON, CSV])
def test_a_file_goes_the_way_of_every_event(send, media_type):
    sent = [
        event(1, payload='{"level_in": 2.5}' if media_type == CSV else {"level_in": 2.5}),
        event(2, signal="cleared"),
        event(3, device=""),
    ]
    if media_type == NDJSON:
        sent[2]["device"] = None
    body = table(*sent) if media_type == CSV else lines(*sent)
    first, again = send(body, media_type), send(body, media_type)

    assert (first.status_code, again.status_code) == (201, 200)
    assert (counts(first), counts(again)) == ([3, 3, 0, 0, 0, 0], [3, 0, 3, 0, 0, 0])
    assert [first.json()[name] for name in ("opened", "joined", "cleared")] == [2, 0, 1]
    assert Event.objects.get(source_event_id="e1").payload == {"level_in": 2.5}
    assert list(Alarm.objects.order_by("pk").values_list("component__tag", flat=True)) == ["SU1", None]


BAD = {
    "no JSON": ("{not json", "", "unreadable"),
    "a list": ("[1, 2]", "", "invalid"),
    "a name twice": ('{"id": "1", "id": "2"}', "", "unreadable"),
    "no number": ('{"id": NaN}', "", "unreadable"),
    "half a character": ('{"id": "\\ud800"}', "", "unreadable"),
    "no UTF-8": (b'{"id": "\xff"}', "", "unreadable"),
    "too deep": ("[" * 10_000, "", "unreadable"),
    "too long": (json.dumps({"id": "x" * 40_000}), "", "unreadable"),
    "a key missing": (json.dumps(without("occurred_at")), "/occurred_at", "required"),
    "a strange key": (json.dumps(event() | {"colour": "red"}), "/colour", "unknown"),
    "a strange signal": (json.dumps(event(signal="loud")), "/signal", "invalid_choice"),
}


@pytest.mark.parametrize("case", BAD.values(), ids=BAD)
def test_a_line_that_is_no_event_is_kept_and_told_and_holds_up_no_other(send, case, site, owner_client):
    bad, pointer, code = case
    body = lines(event(1), bad, event(2, device="SN1"))
    first, again = send(body), send(body)
    kept = get(owner_client, f"facilities/{site.pk}/events/unreadable").json()["results"]
    raw = bad if isinstance(bad, bytes) else bad.encode()

    assert (counts(first), counts(again)) == ([3, 2, 0, 1, 1, 0], [3, 0, 2, 1, 1, 0])
    [problem] = first.json()["problems"]
    assert (problem["line"], problem["pointer"], problem["code"]) == (2, pointer, code)
    assert [(one["line"], one["size"]) for one in kept] == [(2, len(raw))]
    assert kept[0]["text"] == raw.decode("utf-8", "backslashreplace")[:32_768]
    assert kept[0]["faults"] == [{key: problem[key] for key in ("pointer", "detail", "code")}]


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        ("console-1,e9,SU1", "cells"),
        ('console-1,"e9,SU1,sump-liquid,raised,2026-03-04T10:00:00Z,', "CSV"),
        ("console-1,e9,SU1,sump-liquid,raised,2026-03-04T10:00:00Z,{", "JSON"),
        ("console-1,,SU1,sump-liquid,raised,2026-03-04T10:00:00Z,", "required"),
        (b"console-1,e\x009,SU1,sump-liquid,raised,2026-03-04T10:00:00Z,", "ull char"),
    ],
    ids=["cells missing", "an open quote", "payload no JSON", "no id", "the character zero"],
)
def test_a_line_of_a_table_that_is_no_event_is_kept_and_told(send, bad, word):
    raw = bad if isinstance(bad, bytes) else bad.encode()
    answer = send(table(event(1)) + raw + b"\r\n" + table(event(2)).splitlines()[1], CSV)

    assert counts(answer)[:4] == [3, 2, 0, 1]
    assert word in answer.json()["problems"][0]["detail"]
    assert UnreadableLine.objects.get().line == 3


def test_each_line_of_the_future_is_an_event_that_counts_at_its_receipt(send):
    future = [event(number, occurred_at="2126-03-04T10:00:00Z") for number in (1, 3, 5)]
    answer = send(lines(event(0), future[0], event(2), future[1], event(4), future[2]))

    assert counts(answer)[:4] == [6, 6, 0, 0]
    remarks = answer.json()["remarks"]
    assert [one["line"] for one in remarks if one["code"] == "future"] == [2, 4, 6]


def test_several_faults_of_one_line_are_all_told(send):
    answer = send(lines(without("id", signal="loud"), event(2)))

    assert {one["pointer"] for one in answer.json()["problems"]} == {"/id", "/signal"}
    assert answer.json()["unreadable"] == 1


def test_an_id_used_for_other_content_is_kept_beside_and_named_by_its_line(send):
    answer = send(lines(event(1), "", event(2), event(1, device="SN1")))

    [problem] = answer.json()["problems"]
    assert answer.status_code == 201
    assert (problem["line"], problem["pointer"], problem["code"]) == (4, "/id", "reused")
    assert Event.objects.exclude(conflicts_with=None).count() == 1


def test_remarks_about_events_that_were_taken_in_name_their_line(send):
    answer = send(lines(event(1), event(2, device="sump 9")))

    [remark] = answer.json()["remarks"]
    assert (remark["line"], remark["pointer"], remark["code"]) == (2, "/device", "unknown-device")


def test_five_thousand_lines_are_taken_in_a_thousand_at_a_time_and_none_is_dropped(send):
    """That 50,000 are is shown by tests/benchmarks/event_file.py, which takes its time."""
    sent = [
        event(number, signal="raised" if number % 2 else "cleared") if number % 10 else f"noise {number}"
        for number in range(1, 5001)
    ]
    answer = send(lines(*sent))

    assert counts(answer)[:5] == [5000, 4500, 0, 500, 500]
    assert (Event.objects.count(), UnreadableLine.objects.count()) == (4500, 500)
    assert [one["line"] for one in answer.json()["problems"]] == list(range(10, 5001, 10))
    assert (Alarm.objects.count(), Alarm.objects.get().occurrences) == (1, 2500)


def test_so_many_problems_are_listed_and_all_are_counted(send, monkeypatch):
    monkeypatch.setattr(event_files, "MAX_LISTED", 3)
    answer = send(lines(*(f"noise {number}" for number in range(10))))

    assert [one["line"] for one in answer.json()["problems"]] == [1, 2, 3]
    assert (answer.status_code, answer.json()["problems_total"], UnreadableLine.objects.count()) == (
        200,
        10,
        10,
    )


@pytest.mark.parametrize(
    ("limit", "allowed", "named"),
    [("MAX_LINES", 2, "2 lines at most, this has 3"), ("MAX_BYTES", 300, "300 bytes at most")],
)
def test_a_file_beyond_a_limit_is_refused_whole_and_the_limit_named(send, monkeypatch, limit, allowed, named):
    monkeypatch.setattr(event_file, limit, allowed)
    answer = send(lines(event(1), event(2), event(3)).rstrip())

    assert answer.status_code == 413
    assert answer["Content-Type"] == "application/problem+json"
    assert named in answer.json()["detail"]
    assert not Event.objects.exists()


@pytest.mark.parametrize(
    ("body", "media_type", "status"),
    [
        (b"", NDJSON, 422),
        (b"\n\n", NDJSON, 422),
        (b",".join(name.encode() for name in HEADER), CSV, 422),
        (b"source,id,colour\n", CSV, 422),
        (b"\xff\n", CSV, 422),
        (b"{}", "application/json", 415),
    ],
)
def test_what_is_no_file_of_events_is_refused(send, body, media_type, status):
    answer = send(body, media_type)

    assert answer.status_code == status
    assert answer["Content-Type"] == "application/problem+json"
    assert not UnreadableLine.objects.exists()


def test_the_header_is_told_what_it_lacks(send):
    answer = send(b"source,id,colour\n", CSV)

    assert pointers(answer) == ["/1"]
    assert "condition is missing" in answer.json()["errors"][0]["detail"]


def test_a_byte_order_mark_and_line_ends_of_any_kind_are_no_part_of_a_line(send):
    body = b"\xef\xbb\xbf" + lines(event(1)).rstrip() + b"\r\n\r\n" + lines(event(2)).rstrip()

    assert counts(send(body)) == [2, 2, 0, 0, 0, 0]
