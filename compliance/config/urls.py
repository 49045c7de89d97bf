"""Every address of the service."""

from django.urls import URLPattern, URLResolver, include, path
from drf_spectacular.renderers import OpenApiJsonRenderer, OpenApiJsonRenderer2
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularSwaggerView

from compliance.api.health import HealthCheck

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/v1/", include("equipment.api.urls")),
    path("api/v1/", include("alarms.api.urls")),
    path("api/v1/", include("compliance.api.urls")),
    path(
        "api/v1/openapi.json",
        SpectacularJSONAPIView.as_view(
            permission_classes=[],
            authentication_classes=[],
            # application/json first: it is what the address promises.
            renderer_classes=[OpenApiJsonRenderer2, OpenApiJsonRenderer],
        ),
        name="openapi",
    ),
    path(
        "api/v1/docs",
        SpectacularSwaggerView.as_view(url_name="openapi", permission_classes=[], authentication_classes=[]),
        name="docs",
    ),
    path("alarms/", include("alarms.web.urls")),
    path("health", HealthCheck.as_view()),
]

handler400 = "equipment.api.problems.bad_request"
handler404 = "equipment.api.problems.not_found"
handler500 = "equipment.api.problems.server_error"
