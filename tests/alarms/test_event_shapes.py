"""A batch is read at machine speed or field by field, and both read the same (our own promise).

Spellings of instants: ISO 8601 and RFC 3339; white space at the ends of a text: as `str.strip` has it.
"""

import json
from datetime import UTC, datetime
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.exceptions import ValidationError

from alarms.api import event_shapes
from alarms.api.event_shapes import IntakeOut, answer_of, read_batch, read_batch_by_fields
from alarms.services.intake import MAX_EVENTS, Intake
from equipment.faults import Fault

EVENT = {
    "id": "000481",
    "device": "SU1",
    "condition": "sump-liquid",
    "signal": "raised",
    "occurred_at": "2026-03-04T09:58:00-05:00",
    "payload": {"level_in": 2.5},
}


def batch(*events, **stated):
    return {"source": "console-1", "events": list(events) or [EVENT]} | stated


def both(sent):
    """What each way makes of it: reports, or the faults by place."""
    found = []
    for read in (read_batch, read_batch_by_fields):
        try:
            found.append(read(sent))
        except ValidationError as error:
            found.append(error.get_full_details())
    return found


def test_a_good_batch_is_read_without_asking_the_fields():
    with patch.object(event_shapes, "read_batch_by_fields", side_effect=AssertionError):
        [report] = read_batch(batch())

    assert report.occurred_at == datetime(2026, 3, 4, 14, 58, tzinfo=UTC)
    assert (report.source, report.id, report.device) == ("console-1", "000481", "SU1")


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"device": None},
        {"device": ""},
        {"device": " SU1 "},
        {"device": "\u2003SU1"},
        {"device": "SU1\x1f"},
        {"device": "a\nb"},
        {"device": "S"},
        {"device": 7},
        {"id": "x" * 100},
        {"id": "x" * 101},
        {"id": "x" + " " * 150},
        {"id": "x\x00y"},
        {"id": None},
        {"condition": "y" * 61},
        {"signal": "RAISED"},
        {"signal": None},
        {"payload": None},
        {"payload": []},
        {"payload": {}},
        {"payload": {"x": "y" * 3991}},
        {"payload": {"x": "y" * 3992}},
        {"payload": {"x": "é" * 665}},
        {"payload": {"x": "é" * 666}},
        {"payload": {"x": "\x1f" * 666}},
        {"payload": {"x": [1e15] * 210}},
        {"payload": {"x": [1e15] * 190, "y": 2**70}},
        {"payload": {"deep": [{"er": None}]}},
        {"colour": "red"},
        *(
            {"occurred_at": text}
            for text in (
                "2026-03-04T14:58:00Z",
                "2026-03-04T14:58:00.5Z",
                "2026-03-04T14:58:00.1234567Z",
                "2026-03-04T14:58Z",
                "2026-03-04 14:58:00Z",
                "2026-03-04T14:58:00z",
                "2026-03-04T14:58:60Z",
                "2026-03-04T24:00:00Z",
                "2026-02-29T14:58:00Z",
                "2026-03-04T14:58:00",
                "2026-03-04T14:58:00+14:00",
                "2026-03-04T14:58:00+99:00",
                "2026-03-04T14:58:00-0500",
                "0001-01-01T00:00:00+14:00",
                "9999-12-31T23:59:59-14:00",
                "2026-03-04T14:58:00Z\n",
                "\u0662026-03-04T14:58:00Z",
                "2026-W10-3T14:58:00Z",
            )
        ),
        {"occurred_at": 1772636280},
    ],
    ids=str,
)
def test_both_ways_read_the_same_and_refuse_the_same(change):
    quick, by_fields = both(batch(EVENT, EVENT | change))

    assert quick == by_fields


@pytest.mark.parametrize(
    "sent",
    [
        None,
        [],
        "text",
        {},
        {"source": "console-1"},
        batch(source=""),
        batch(more=1),
        batch(events=[]),
        batch(events={}),
        batch(events=[None]),
        batch(events=[EVENT] * (MAX_EVENTS + 1)),
        batch(events=[{}, EVENT, {"id": 1}]),
    ],
    ids=lambda sent: json.dumps(sent)[:60],
)
def test_both_ways_refuse_the_same_bodies(sent):
    quick, by_fields = both(sent)

    assert quick == by_fields
    assert not isinstance(quick, list) or not isinstance(quick[0], event_shapes.Report)


_texts = st.text(st.sampled_from("aZ9\u00e9 \t\n\x00\x1f\x85\u00a0\u2003\u200b"), max_size=6)
_instants = st.datetimes().map(lambda at: at.isoformat()) | st.datetimes(timezones=st.timezones()).map(
    lambda at: at.isoformat()
)


@given(
    st.fixed_dictionaries(
        {"id": _texts, "condition": _texts, "signal": st.sampled_from(["raised", "cleared", "on"])},
        optional={"device": _texts | st.none(), "payload": st.dictionaries(_texts, _texts, max_size=2)},
    ),
    _instants,
)
def test_both_ways_read_any_event_the_same(event, at):
    quick, by_fields = both(batch(event | {"occurred_at": at}))

    assert quick == by_fields


def test_the_answer_has_the_shape_that_the_api_describes():
    intake = Intake(
        accepted=2,
        repeated=1,
        opened=[4],
        joined=[],
        cleared=[5, 6],
        remarks=[Fault("/events/0", "late", "order")],
        conflicts=[],
    )

    assert answer_of(intake) == json.loads(json.dumps(IntakeOut(intake).data))
