"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from equipment.api.components import ComponentDetail, Components
from equipment.api.facilities import Facilities, FacilityDetail

urlpatterns: list[URLPattern | URLResolver] = [
    path("facilities", Facilities.as_view(), name="facilities"),
    path("facilities/<int:facility_id>", FacilityDetail.as_view(), name="facility"),
    path("facilities/<int:facility_id>/components", Components.as_view(), name="components"),
    path("facilities/<int:facility_id>/components/<str:tag>", ComponentDetail.as_view(), name="component"),
]
