"""Records of a facility: posted as visits, listed, withdrawn."""

from typing import Any, ClassVar

import msgspec
from django.db.models import Prefetch, QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api import activity_schemas  # noqa: F401 - registers the one-of by activity
from compliance.api.examples import RECORD, example
from compliance.api.record_shapes import MovedOut, RecordOut, RecordQuery, VisitIn, VisitOut, moved_fields
from compliance.queries import judged, kept_verdict
from compliance.services import submissions
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.idempotency import key_of, respond_once
from equipment.api.schema import KEY_IF_UNNAMED, body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.models import Record, RecordAttachment, RecordSubject
from equipment.services.submissions import Answer
from equipment.tenancy import Right

LINE_LEAK_DETECTOR_TEST = {
    "technician": "R. Ames",
    "records": [
        {
            "activity": "line-leak-detector-test",
            "subjects": ["LLD1"],
            "performed_at": "2026-02-27T14:05:00-05:00",
            "outcome": "pass",
            "measurements": {
                "simulated_leak": True,
                "leak_rate_gph": 3.0,
                "psi": 10.0,
                "minutes_to_detect": 4,
            },
            "external_id": "job-8812/LLD1",
            "attachments": [31],
        }
    ],
}


def records_with_all() -> QuerySet[Record]:
    """Records with everything that an answer shows, in a fixed number of queries."""
    subjects = Prefetch("record_subjects", RecordSubject.objects.select_related("component").order_by("pk"))
    files = Prefetch(
        "record_attachments", RecordAttachment.objects.select_related("attachment").order_by("pk")
    )
    rows = Record.objects.select_related("submitted_by", "superseded_by").annotate(verdict=kept_verdict())
    return rows.prefetch_related(subjects, files, "conflicts")


def _narrowed(rows: QuerySet[Record], asked: dict[str, Any]) -> QuerySet[Record]:
    """Those that fit the filters. A record that no protocol judges says nothing against itself."""
    if "verdict" in asked:
        rows = rows.filter(judged(outcome=asked["verdict"]))
    if "disagreement" not in asked:
        return rows
    disputed = judged(disagreement=True)
    return rows.filter(disputed if asked["disagreement"] else ~disputed)


class FacilityRecords(ScopedView, GenericAPIView[Record]):
    """What was done at a facility."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.RECORD}
    query_shape: ClassVar = RecordQuery
    serializer_class = RecordOut

    @extend_schema(
        operation_id="list_records",
        tags=["records"],
        summary="What was done at a facility, newest first",
        parameters=[RecordQuery],
        responses={200: RecordOut(many=True), **problem_responses(404, 422)},
        examples=[example("A test", RECORD)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page of records, withdrawn and superseded ones too: they say so."""
        facility = self.facility_or_404(facility_id)
        page = self.paginate_queryset(_narrowed(records_with_all().filter(facility=facility), self.asked))
        return self.get_paginated_response(RecordOut(page, many=True).data)

    @extend_schema(
        operation_id="post_visit",
        tags=["records"],
        summary="Post a visit of one or many records, all or nothing",
        description="Answers which obligations moved, each with rule and citation. Needs an `Idempotency-Key`, or an "
        "`external_id` on every record. The same content again changes nothing; other content under a used id is "
        "refused with 409, and both stay visible.",
        parameters=[KEY_IF_UNNAMED],
        request=VisitIn,
        responses={201: VisitOut, **body_problems(403, 404, 409, 428)},
        examples=[
            OpenApiExample("Line leak detector test", value=LINE_LEAK_DETECTOR_TEST, request_only=True)
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """Record the visit and judge the facility."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        visit = VisitIn(data=request.data)
        visit.is_valid(raise_exception=True)
        deeds = visit.deeds()
        key = key_of(request, required=not all(deed.external_id for deed in deeds))

        def work() -> Answer:
            done = submissions.submit_visit(
                facility=facility,
                submitted_by=organisation,
                entered_by=self.actor.name,
                deeds=deeds,
                now=self.now,
            )
            rows = records_with_all().in_bulk([record.pk for record in done.visit.records])
            ordered = [rows[record.pk] for record in done.visit.records]
            shown = {"records": ordered, "repeated": done.visit.repeated} | moved_fields(done.moves)
            body = VisitOut(shown).data
            return Answer(status=201 if done.visit.repeated < len(ordered) else 200, body=body)

        body = msgspec.json.encode(request.data, order="deterministic")
        return submissions.keeping_conflicts(
            lambda: respond_once(
                request, organisation=organisation, key=key, body=body, now=self.now, work=work
            ),
            entered_by=self.actor.name,
            now=self.now,
        )


class _RecordView(ScopedView):
    """Finds a record inside the caller's own facility."""

    def record_or_404(self, facility_id: int, record_id: int) -> Record:
        """The record; one of another facility does not exist."""
        facility = self.facility_or_404(facility_id)
        record = records_with_all().filter(facility=facility, pk=record_id).first()
        if record is None:
            raise Http404
        return record


class OneRecord(_RecordView):
    """One record of a facility."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_record",
        tags=["records"],
        summary="One record with its corrections and conflicts",
        responses={200: RecordOut, **problem_responses(404)},
        examples=[example("A test", RECORD)],
    )
    def get(self, request: Request, facility_id: int, record_id: int) -> Response:
        """The record as it is on file."""
        return Response(RecordOut(self.record_or_404(facility_id, record_id)).data)


class RecordWithdrawal(_RecordView):
    """Takes a record out that should never have been stated."""

    rights: ClassVar = {"POST": Right.RECORD}

    @extend_schema(
        operation_id="withdraw_record",
        tags=["records"],
        summary="Withdraw a record, with the reason",
        description="It stays readable and no longer counts. Only the organisation that sent it may withdraw it, or "
        "the facility's operator.",
        request=WithdrawalIn,
        responses={200: MovedOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("Wrong tank", value={"reason": "entered for the wrong tank"}, request_only=True)
        ],
    )
    def post(self, request: Request, facility_id: int, record_id: int) -> Response:
        """Withdraw it and answer what moved."""
        record = self.record_or_404(facility_id, record_id)
        organisation = self.organisation_at(record.facility)
        reason = reason_of(request)
        moves = submissions.withdraw(
            record=record,
            reason=reason,
            by=self.actor.name,
            organisation=organisation,
            now=self.now,
        )
        return Response(MovedOut(moved_fields(moves)).data)
