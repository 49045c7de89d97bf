"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from equipment.api.facilities import Facilities, FacilityDetail

urlpatterns: list[URLPattern | URLResolver] = [
    path("facilities", Facilities.as_view(), name="facilities"),
    path("facilities/<int:facility_id>", FacilityDetail.as_view(), name="facility"),
]
