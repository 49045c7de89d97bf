"""GET /health, for a load balancer or a watcher: no key, no tenant's data."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from compliance.api.examples import example
from compliance.services.health import examine


class HealthOut(serializers.Serializer[Any]):
    """Ages of the oldest waiting rows; null when nothing waits."""

    well = serializers.BooleanField()
    oldest_notice_s = serializers.FloatField(allow_null=True)
    oldest_stale_s = serializers.FloatField(allow_null=True)


class HealthCheck(APIView):
    """200 while no notice and no judgement has waited longer than five minutes, else 503."""

    authentication_classes = ()
    permission_classes = ()
    throttle_classes = ()

    @extend_schema(
        operation_id="get_health",
        tags=["service"],
        summary="Age of the oldest unsent notice and the oldest stale facility",
        auth=[],
        responses={200: HealthOut, 503: HealthOut},
        examples=[example("Nothing waits", {"well": True, "oldest_notice_s": None, "oldest_stale_s": None})],
    )
    def get(self, request: Request) -> Response:
        """The ages."""
        health = examine(now=timezone.now())
        return Response(HealthOut(health).data, status=200 if health.well else 503)
