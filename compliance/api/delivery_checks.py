"""The check before a delivery: worked out and kept, listed, read, withdrawn."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.delivery_check_examples import ANSWER, ASKED, JOINED
from compliance.api.delivery_check_shapes import (
    DeliveryCheckIn,
    DeliveryCheckOut,
    NewDeliveryCheckOut,
    shown,
)
from compliance.api.record_shapes import MovedOut, moved_fields
from compliance.services import submissions
from compliance.services.delivery_checks import state_check
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.models import Record
from equipment.services.happenings import DELIVERY_CHECK
from equipment.tenancy import Right


class _CheckView(ScopedView):
    """Finds a check inside the caller's own facility."""

    def checks(self, facility_id: int) -> QuerySet[Record]:
        """Every check of the facility."""
        rows = Record.objects.filter(facility=self.facility_or_404(facility_id), activity=DELIVERY_CHECK)
        return rows.select_related("submitted_by", "facility")

    def check_or_404(self, facility_id: int, check_id: int) -> Record:
        """The check; one of another facility does not exist."""
        record = self.checks(facility_id).filter(pk=check_id).first()
        if record is None:
            raise Http404
        return record


class DeliveryChecks(_CheckView, GenericAPIView[Record]):
    """Checks before deliveries at a facility."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.RECORD}
    query_shape: ClassVar = PagedQuery

    @extend_schema(
        operation_id="list_delivery_checks",
        tags=["delivery checks"],
        summary="Checks before deliveries, newest first",
        parameters=[PagedQuery],
        responses={200: DeliveryCheckOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("as on file", value=ANSWER, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page, withdrawn ones too: they say so."""
        page = self.paginate_queryset(self.checks(facility_id)) or []
        return self.get_paginated_response(DeliveryCheckOut([shown(row) for row in page], many=True).data)

    @extend_schema(
        operation_id="check_before_delivery",
        tags=["delivery checks"],
        summary="Work out before a delivery whether the load fits, and keep the check",
        description=(
            "Room is what is left up to the limit of each tank's overfill device, by the tank's own chart, bottom "
            "water taken off; the federal text wants it to be greater than the load. A load that does not fit is "
            "answered with `refused` and the reasons, and the check is kept all the same. Send every spill bucket of "
            "the tanks with each of its points, and name the check in the delivery: that earns the exception of 40 "
            "CFR 280.36 for infrequent deliveries. An answer to an alarm may name the check as its `record`. It does "
            "not replace the people at the fill, local codes or the maker's instructions."
        ),
        request=DeliveryCheckIn,
        responses={201: NewDeliveryCheckOut, **body_problems(403, 404, 409, 428)},
        examples=[
            OpenApiExample("one tank", value=ASKED, request_only=True),
            OpenApiExample("a joined set", value=JOINED, request_only=True),
            OpenApiExample("as on file", value=ANSWER | {"moved": [], "remark": None}, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The check with its result and what it moved."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        body = DeliveryCheckIn(data=request.data)
        body.is_valid(raise_exception=True)
        asked = body.asked()

        def work() -> Mapping[str, Any]:
            done = state_check(
                facility=facility, asked=asked, submitted_by=organisation, by=self.actor.name, now=self.now
            )
            answer: dict[str, Any] = shown(done.record) | moved_fields(done.moves)
            return NewDeliveryCheckOut(answer).data

        return state_once(request, organisation=organisation, now=self.now, work=work)


class OneDeliveryCheck(_CheckView):
    """One check."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_delivery_check",
        tags=["delivery checks"],
        summary="One check before a delivery, with its result",
        responses={200: DeliveryCheckOut, **problem_responses(404)},
        examples=[OpenApiExample("as on file", value=ANSWER, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, check_id: int) -> Response:
        """The check as it is on file."""
        return Response(DeliveryCheckOut(shown(self.check_or_404(facility_id, check_id))).data)


class DeliveryCheckWithdrawal(_CheckView):
    """Takes back a check that should never have been stated."""

    rights: ClassVar = {"POST": Right.RECORD}

    @extend_schema(
        operation_id="withdraw_delivery_check",
        tags=["delivery checks"],
        summary="Withdraw a check before a delivery, with the reason",
        description="It stays readable and no longer counts. Only the organisation that sent it may withdraw it, or "
        "the facility's operator.",
        request=WithdrawalIn,
        responses={200: MovedOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("wrong tank", value={"reason": "read at the wrong fill"}, request_only=True)
        ],
    )
    def post(self, request: Request, facility_id: int, check_id: int) -> Response:
        """Withdraw it and answer what moved."""
        record = self.check_or_404(facility_id, check_id)
        organisation = self.organisation_at(record.facility)
        reason = reason_of(request)
        moves = submissions.withdraw(
            record=record,
            organisation=organisation,
            reason=reason,
            by=self.actor.name,
            now=self.now,
        )
        return Response(MovedOut(moved_fields(moves)).data)
