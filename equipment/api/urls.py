"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from equipment.api.access import GrantEnding, Grants
from equipment.api.activities import Activities, ActivityDetail
from equipment.api.attachments import (
    AttachmentContent,
    AttachmentDetail,
    Attachments,
    AttachmentWithdrawal,
)
from equipment.api.changes import Changes, ChangeWithdrawal
from equipment.api.chart_forms import ChartPicture, ChartTable
from equipment.api.charts import ChartDetail, Charts, ChartWithdrawal
from equipment.api.checklist import Checklist
from equipment.api.components import ComponentDetail, Components
from equipment.api.facilities import Facilities, FacilityDetail
from equipment.api.fact_routes import FACT_ROUTES
from equipment.api.inventory_days import InventoryDays, InventoryDayWithdrawal
from equipment.api.keys import KeyDetail, Keys
from equipment.api.organisations import Organisations
from equipment.api.rosters import RosterMappings, Rosters

FACILITY = "facilities/<int:facility_id>"
LEDGER = f"{FACILITY}/inventory/<str:tag>"
CHARTS = f"{FACILITY}/components/<str:tag>/charts"

urlpatterns: list[URLPattern | URLResolver] = [
    path("facilities", Facilities.as_view(), name="facilities"),
    path(FACILITY, FacilityDetail.as_view(), name="facility"),
    path(f"{FACILITY}/components", Components.as_view(), name="components"),
    path(f"{FACILITY}/components/<str:tag>", ComponentDetail.as_view(), name="component"),
    path(CHARTS, Charts.as_view(), name="charts"),
    path(f"{CHARTS}/<int:fact_id>", ChartDetail.as_view(), name="chart"),
    path(f"{CHARTS}/<int:fact_id>/table", ChartTable.as_view(), name="chart-table"),
    path(f"{CHARTS}/<int:fact_id>/picture", ChartPicture.as_view(), name="chart-picture"),
    path(f"{CHARTS}/<int:fact_id>/withdrawal", ChartWithdrawal.as_view(), name="chart-withdrawal"),
    path(f"{FACILITY}/changes", Changes.as_view(), name="changes"),
    path(
        f"{FACILITY}/changes/<str:change_id>/withdrawal", ChangeWithdrawal.as_view(), name="change-withdrawal"
    ),
    path(f"{FACILITY}/access", Grants.as_view(), name="grants"),
    path(f"{FACILITY}/access/<int:grant_id>/end", GrantEnding.as_view(), name="grant-end"),
    path(f"{FACILITY}/checklist", Checklist.as_view(), name="checklist"),
    path(f"{LEDGER}/days", InventoryDays.as_view(), name="inventory-days"),
    path(
        f"{LEDGER}/days/<int:entry_id>/withdrawal",
        InventoryDayWithdrawal.as_view(),
        name="inventory-day-withdrawal",
    ),
    path(f"{FACILITY}/attachments", Attachments.as_view(), name="attachments"),
    path("attachments/<int:attachment_id>", AttachmentDetail.as_view(), name="attachment"),
    path("attachments/<int:attachment_id>/content", AttachmentContent.as_view(), name="attachment-content"),
    path(
        "attachments/<int:attachment_id>/withdrawal",
        AttachmentWithdrawal.as_view(),
        name="attachment-withdrawal",
    ),
    path("keys", Keys.as_view(), name="keys"),
    path("keys/<int:key_id>", KeyDetail.as_view(), name="key"),
    path("organisations", Organisations.as_view(), name="organisations"),
    path("activities", Activities.as_view(), name="activities"),
    path("activities/<str:slug>", ActivityDetail.as_view(), name="activity"),
    path("rosters", Rosters.as_view(), name="rosters"),
    path("rosters/mappings", RosterMappings.as_view(), name="roster-mappings"),
    *FACT_ROUTES,
]
