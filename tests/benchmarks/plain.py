"""The peer of the intake benchmark: the shortest view that Django REST framework offers for the same rows.

A serializer made from the model, `many=True`, and `save()`, in one transaction: no repeats, no alarms, no remarks.
Served by the same settings but for the routes: `DJANGO_SETTINGS_MODULE=tests.benchmarks.plain_settings`.
"""

from django.db import transaction
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from alarms.models import Event
from equipment.models import Facility


class PlainEvent(serializers.ModelSerializer[Event]):
    """What a device sends, as the model spells it."""

    class Meta:
        model = Event
        fields = ["source", "source_event_id", "device", "condition", "signal", "occurred_at", "payload"]


class PlainEvents(APIView):
    """Store a list of them."""

    def post(self, request: Request, facility_id: int) -> Response:
        """201 with how many."""
        facility = Facility.objects.get(pk=facility_id)
        body = PlainEvent(data=request.data, many=True)
        body.is_valid(raise_exception=True)
        with transaction.atomic():
            body.save(
                facility=facility,
                received_from_id=facility.operator_id,
                entered_by=str(request.user),
                received_at=timezone.now(),
            )
        return Response({"accepted": len(request.data)}, status=201)


urlpatterns = [path("plain/facilities/<int:facility_id>/events", PlainEvents.as_view())]
