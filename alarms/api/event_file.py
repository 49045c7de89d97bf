"""Files of events: what a gateway kept while it was cut off, taken in in one request."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from tempfile import SpooledTemporaryFile
from typing import IO, Any, ClassVar, NamedTuple

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.event_lines import csv_lines, json_lines
from alarms.models import UnreadableLine
from alarms.queries import unreadable_lines_at
from alarms.services.event_files import MAX_LISTED, FileIntake, Line, LineFault, receive_lines
from alarms.tasks import tell
from equipment.api.parsers import TooLarge
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.faults import Fault, Invalid
from equipment.tenancy import Right
from equipment.waking import wake

MAX_LINES = 50_000
MAX_BYTES = 25 * 1024 * 1024
_IN_MEMORY = 1024 * 1024
NDJSON, CSV = "application/x-ndjson", "text/csv"


READERS: Mapping[str, Callable[[Iterable[bytes]], Iterator[Line]]] = {NDJSON: json_lines, CSV: csv_lines}


class Upload(NamedTuple):
    """A whole body, within the limits, and the media type by which its lines are read."""

    file: IO[bytes]
    media_type: str


class LinesParser(BaseParser):
    """Puts the body aside without keeping it in memory; refuses it whole when it is larger than a file may be."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The body as an `Upload`; `TooLarge` names the limit and what to do."""
        file = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - closed by the view
        try:
            _fill(file, stream)
        except BaseException:
            file.close()
            raise
        return Upload(file, self.media_type)


def _fill(file: IO[bytes], stream: IO[Any]) -> None:
    size, lines, last = 0, 0, b"\n"
    while chunk := stream.read(_IN_MEMORY):
        size += len(chunk)
        if size > MAX_BYTES:
            raise TooLarge(f"A file may hold {MAX_BYTES} bytes at most; send it in several parts.")
        lines += chunk.count(b"\n")
        last = chunk
        file.write(chunk)
    lines += not last.endswith(b"\n")
    if lines > MAX_LINES:
        raise TooLarge(f"A file may hold {MAX_LINES} lines at most, this has {lines}; send it in parts.")
    file.seek(0)


class NdjsonParser(LinesParser):
    """An event a line, as a JSON object."""

    media_type = NDJSON


class CsvParser(LinesParser):
    """An event a line, after a line that names the columns."""

    media_type = CSV


class LineFaultOut(StrictSerializer):
    """Something to know about a line of the file."""

    line = serializers.IntegerField(help_text="its number in the file, from 1")
    pointer = serializers.CharField(help_text="JSON pointer into the line; empty: the whole line")
    detail = serializers.CharField()
    code = serializers.CharField()


class EventFileOut(StrictSerializer):
    """What a file did. `accepted`, `repeated` and `unreadable` count lines; the three after them count alarms."""

    lines = serializers.IntegerField(help_text="lines that say something; empty ones and the header do not")
    accepted = serializers.IntegerField(help_text="events that were new")
    repeated = serializers.IntegerField(help_text="events that were on file already")
    unreadable = serializers.IntegerField(help_text="lines that are no events; kept as they came")
    opened = serializers.IntegerField()
    joined = serializers.IntegerField()
    cleared = serializers.IntegerField()
    problems = LineFaultOut(
        many=True, help_text=f"unreadable lines and ids used for other content; the first {MAX_LISTED}"
    )
    problems_total = serializers.IntegerField()
    remarks = LineFaultOut(
        many=True, help_text=f"what to know about events that were taken in; the first {MAX_LISTED}"
    )
    remarks_total = serializers.IntegerField()


class FaultOut(StrictSerializer):
    """One thing wrong with a line."""

    pointer = serializers.CharField(help_text="JSON pointer into the line; empty: the whole line")
    detail = serializers.CharField()
    code = serializers.CharField()


class UnreadableLineOut(StrictSerializer):
    """A line that is no event, as it was sent."""

    id = serializers.IntegerField()
    line = serializers.IntegerField(help_text="its number in the file, from 1")
    text = serializers.CharField()
    size = serializers.IntegerField(help_text="bytes sent; where text is shorter, the rest was cut off")
    received_at = serializers.DateTimeField()
    received_from = serializers.CharField(source="received_from.name")
    faults = FaultOut(many=True)


LINES = (
    '{"source": "console-1", "id": "000481", "device": "SU1", "condition": "sump-liquid", "signal": "raised", '
    '"occurred_at": "2026-03-04T09:58:00-05:00"}\n'
    '{"source": "console-1", "id": "000482", "device": "SU1", "condition": "sump-liquid", "signal": "cleared"}\n'
)
TABLE = (
    "source,id,device,condition,signal,occurred_at\n"
    "console-1,000481,SU1,sump-liquid,raised,2026-03-04T09:58:00-05:00\n"
    "console-1,000482,SU1,sump-liquid,cleared,\n"
)
MISSING = {"pointer": "/occurred_at", "detail": "This field is required.", "code": "required"}
DONE = {
    "lines": 2,
    "accepted": 1,
    "repeated": 0,
    "unreadable": 1,
    "opened": 1,
    "joined": 0,
    "cleared": 0,
    "problems": [{"line": 2, **MISSING}],
    "problems_total": 1,
    "remarks": [],
    "remarks_total": 0,
}
KEPT = {
    "id": 7,
    "line": 2,
    "text": LINES.splitlines()[1],
    "size": len(LINES.splitlines()[1]),
    "received_at": "2026-03-04T15:00:00Z",
    "received_from": "Own Marinas",
    "faults": [MISSING],
}


class EventFiles(ScopedView):
    """What devices of a facility said, as a file."""

    rights: ClassVar = {"POST": Right.SIGNAL}
    parser_classes = (NdjsonParser, CsvParser)

    @extend_schema(
        operation_id="deliver_event_file",
        tags=["alarms"],
        summary="Deliver a file of what a console or gateway reported",
        description=(
            f"Up to {MAX_LINES} lines and {MAX_BYTES} bytes: newline-delimited JSON, or CSV whose first line names the "
            "columns. A line is an event with its source. A larger file is refused whole. Lines are taken in a "
            "thousand at a time and nothing is dropped: a line that is no event is kept as it came and named in "
            "`problems`. Send the file again when in doubt, or when the connection broke: a repeat changes nothing."
        ),
        request={NDJSON: OpenApiTypes.STR, CSV: OpenApiTypes.STR},
        responses={201: EventFileOut, 200: EventFileOut, **body_problems(403, 404)},
        examples=[
            OpenApiExample("lines of JSON", value=LINES, request_only=True, media_type=NDJSON),
            OpenApiExample("a table", value=TABLE, request_only=True, media_type=CSV),
            OpenApiExample("one line lacks its moment", value=DONE, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """201 when an event was new, 200 when none was."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        upload: object = request.data
        if not isinstance(upload, Upload):
            raise Invalid("The file is empty.", [Fault("", "Send at least one line.", "empty")])
        with upload.file:
            file = receive_lines(
                facility=facility,
                source_org=organisation,
                entered_by=self.actor.name,
                lines=READERS[upload.media_type](upload.file),
                now=self.now,
            )
        wake(tell)
        if not file.lines:
            raise Invalid("The file is empty.", [Fault("", "Send at least one line with an event.", "empty")])
        return Response(_answer(file), status=201 if file.accepted else 200)


class UnreadableLines(ScopedView, GenericAPIView[UnreadableLine]):
    """Lines of files that are no events."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PagedQuery
    serializer_class = UnreadableLineOut

    @extend_schema(
        operation_id="list_unreadable_lines",
        tags=["alarms"],
        summary="Lines of event files that are no events, as they came, newest first",
        parameters=[PagedQuery],
        responses={200: UnreadableLineOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("one without its moment", value=KEPT, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        page = self.paginate_queryset(unreadable_lines_at(self.facility_or_404(facility_id)))
        return self.get_paginated_response(UnreadableLineOut(page, many=True).data)


def _answer(file: FileIntake) -> dict[str, Any]:
    """An `EventFileOut`."""
    return {
        "lines": file.lines,
        "accepted": file.accepted,
        "repeated": file.repeated,
        "unreadable": file.unreadable,
        "opened": len(file.opened),
        "joined": len(file.joined),
        "cleared": len(file.cleared),
        "problems": [_fault(one) for one in file.problems],
        "problems_total": file.problems_total,
        "remarks": [_fault(one) for one in file.remarks],
        "remarks_total": file.remarks_total,
    }


def _fault(one: LineFault) -> dict[str, Any]:
    return {
        "line": one.line,
        "pointer": one.fault.pointer,
        "detail": one.fault.detail,
        "code": one.fault.code,
    }
