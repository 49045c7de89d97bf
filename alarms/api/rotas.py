"""Rotas of an organisation: who is on duty when."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.contacts import PersonShape
from alarms.api.hours_shapes import ClockField, ZoneField
from alarms.models import Rota
from alarms.services.contacts import StatedContact
from alarms.services.plans import turns_of
from alarms.services.rotas import StatedRota, make_rota, replace_rota, rotas_of
from equipment.api.etags import check_match, tagged
from equipment.api.fields import DayField, InstantField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right

MAX_TURNS = 100


class RotaIn(StrictSerializer):
    """The whole rota; people take turns in this order, over and over."""

    name = TextField(max_length=100)
    people = serializers.ListField(child=PersonShape(), min_length=1, max_length=MAX_TURNS)
    starts_on = DayField(help_text="local day on which the first person's first turn begins")
    turn_days = WholeField(min_value=1, max_value=366, help_text="7: a week")
    hand_over = ClockField(help_text="the turn begins then (inclusive) and ends with the next")
    time_zone = ZoneField(max_length=50)


class RotaOut(StrictSerializer):
    """A rota, with whoever is on duty now."""

    id = serializers.IntegerField(help_text="names it in the steps of a call list")
    version = serializers.IntegerField(help_text="the ETag names it")
    name = serializers.CharField()
    people = serializers.SerializerMethodField()
    starts_on = serializers.DateField()
    turn_days = serializers.IntegerField()
    hand_over = ClockField()
    time_zone = serializers.CharField()
    on_duty = serializers.SerializerMethodField()
    on_duty_until = serializers.SerializerMethodField()
    changed_at = InstantField()
    changed_by = serializers.CharField()

    @extend_schema_field(PersonShape(many=True))
    def get_people(self, rota: Rota) -> list[dict[str, str]]:
        """In the order of their turns."""
        return [_person(turn) for turn in _turns(rota)]

    @extend_schema_field(PersonShape(allow_null=True))
    def get_on_duty(self, rota: Rota) -> dict[str, str] | None:
        """Whoever is on duty now, whether or not somebody stands in."""
        turns = _turns(rota)
        if not turns:
            return None
        return _person(turns[turns_of(rota, people=len(turns)).on_duty(self.context["now"])])

    @extend_schema_field(serializers.DateTimeField())
    def get_on_duty_until(self, rota: Rota) -> str:
        """The next hand-over."""
        turns = turns_of(rota, people=max(len(_turns(rota)), 1))
        ends = turns.begins(turns.turn(self.context["now"]) + 1)
        return str(serializers.DateTimeField().to_representation(ends))


BODY = {
    "name": "nights",
    "people": [{"name": "Ann", "email": "ann@example.com"}, {"name": "Bob", "email": "bob@example.com"}],
    "starts_on": "2026-03-02",
    "turn_days": 7,
    "hand_over": "08:00",
    "time_zone": "America/New_York",
}
ANSWER: dict[str, Any] = {
    "id": 3,
    "version": 1,
    **BODY,
    "on_duty": {"name": "Ann", "email": "ann@example.com"},
    "on_duty_until": "2026-03-09T12:00:00Z",
    "changed_at": "2026-03-01T12:00:00Z",
    "changed_by": "dock office",
}
BODY_EXAMPLE = OpenApiExample("a week each", value=BODY, request_only=True)
ANSWER_EXAMPLE = OpenApiExample("a week each", value=ANSWER, response_only=True)


class Rotas(ScopedView, GenericAPIView[Rota]):
    """Those of the caller's own organisation."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = RotaOut

    @extend_schema(
        operation_id="list_rotas",
        tags=["alarms"],
        summary="Rotas of your organisation, newest entry first",
        parameters=[PagedQuery],
        responses={200: RotaOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int) -> Response:
        """One page of rotas."""
        page = self.paginate_queryset(rotas_of(self.own_organisation_or_404(organisation_id)))
        return self.get_paginated_response(RotaOut(page, many=True, context={"now": self.now}).data)

    @extend_schema(
        operation_id="make_rota",
        tags=["alarms"],
        summary="State who of your organisation takes turns",
        description="Name it in the steps of a call list by its id: whoever is on duty then is told.",
        request=RotaIn,
        responses={201: RotaOut, **body_problems(403, 404, 409, 428)},
        examples=[BODY_EXAMPLE, ANSWER_EXAMPLE],
    )
    def post(self, request: Request, organisation_id: int) -> Response:
        """The rota with its id."""
        organisation = self.own_organisation_or_404(organisation_id)
        stated = _stated(request)

        def work() -> Mapping[str, Any]:
            rota = make_rota(organisation=organisation, stated=stated, by=self.actor.name, now=self.now)
            row = rotas_of(organisation).get(pk=rota.pk)
            return RotaOut(row, context={"now": self.now}).data

        return state_once(request, organisation=organisation, now=self.now, work=work)


class RotaDetail(ScopedView):
    """One rota."""

    rights: ClassVar = {"GET": Right.READ, "PUT": Right.ANSWER}

    @extend_schema(
        operation_id="get_rota",
        tags=["alarms"],
        summary="A rota, and who is on duty now",
        responses={200: RotaOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int, rota_id: int) -> Response:
        """The rota with its ETag."""
        return self._answer(self._rota_or_404(organisation_id, rota_id))

    @extend_schema(
        operation_id="put_rota",
        tags=["alarms"],
        summary="State a rota anew",
        description="Holds on every list that names it, from the next call on.",
        request=RotaIn,
        responses={200: RotaOut, **body_problems(403, 404, 412, 428)},
        examples=[BODY_EXAMPLE, ANSWER_EXAMPLE],
    )
    def put(self, request: Request, organisation_id: int, rota_id: int) -> Response:
        """The rota as it stands now, with its new ETag."""
        rota = self._rota_or_404(organisation_id, rota_id)
        check_match(request, rota.version)
        replace_rota(
            rota=rota, version=rota.version, stated=_stated(request), by=self.actor.name, now=self.now
        )
        return self._answer(self._rota_or_404(organisation_id, rota_id))

    def _rota_or_404(self, organisation_id: int, rota_id: int) -> Rota:
        rota = rotas_of(self.own_organisation_or_404(organisation_id)).filter(pk=rota_id).first()
        if rota is None:
            raise Http404
        return rota

    def _answer(self, rota: Rota) -> Response:
        return tagged(Response(RotaOut(rota, context={"now": self.now}).data), rota.version)


def _stated(request: Request) -> StatedRota:
    body = RotaIn(data=request.data)
    body.is_valid(raise_exception=True)
    checked = dict(body.validated_data)
    people = [StatedContact(organisation=None, **one) for one in checked.pop("people")]
    return StatedRota(people=people, **checked)


def _turns(rota: Rota) -> list[Any]:
    return sorted(rota.turns.all(), key=lambda turn: turn.position)


def _person(turn: Any) -> dict[str, str]:
    return {"name": turn.contact.name, "email": turn.contact.email}
