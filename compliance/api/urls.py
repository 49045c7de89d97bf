"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from compliance.api.agency_overrides import OVERRIDE_ROUTES
from compliance.api.alarm_history import (
    FacilityAlarmHistory,
    FacilityAlarmHistoryPage,
    FacilityAlarmHistoryTable,
)
from compliance.api.brine_triage import BrineTriagesOfAlarm, BrineTriageWithdrawal
from compliance.api.delivery_checks import DeliveryChecks, DeliveryCheckWithdrawal, OneDeliveryCheck
from compliance.api.disagreements import Disagreements
from compliance.api.history import FacilityHistory
from compliance.api.inspection import FacilityInspection
from compliance.api.inventory import INVENTORY_ROUTES
from compliance.api.obligations import FacilityObligations, Obligations, OneObligation
from compliance.api.portfolio import OneStanding, Portfolio
from compliance.api.records import FacilityRecords, OneRecord, RecordWithdrawal
from compliance.api.retention import FacilityRetention, RecordRetention
from compliance.api.rules import OneRule, Rules
from compliance.api.site_document_schema import SiteDocumentSchema
from compliance.api.site_documents import FacilitySiteDocument, Judgements

AT = "facilities/<int:facility_id>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path(f"{AT}records", FacilityRecords.as_view()),
    path(f"{AT}records/<int:record_id>", OneRecord.as_view()),
    path(f"{AT}records/<int:record_id>/withdrawal", RecordWithdrawal.as_view()),
    path(f"{AT}records/<int:record_id>/retention", RecordRetention.as_view()),
    path(f"{AT}delivery-checks", DeliveryChecks.as_view()),
    path(f"{AT}delivery-checks/<int:check_id>", OneDeliveryCheck.as_view()),
    path(f"{AT}delivery-checks/<int:check_id>/withdrawal", DeliveryCheckWithdrawal.as_view()),
    path(f"{AT}retention", FacilityRetention.as_view()),
    path(f"{AT}alarm-history", FacilityAlarmHistory.as_view()),
    path(f"{AT}alarm-history.csv", FacilityAlarmHistoryTable.as_view()),
    path(f"{AT}alarm-history.html", FacilityAlarmHistoryPage.as_view()),
    path(f"{AT}history", FacilityHistory.as_view()),
    path(f"{AT}inspection", FacilityInspection.as_view()),
    path(f"{AT}obligations", FacilityObligations.as_view()),
    path(f"{AT}standing", OneStanding.as_view()),
    path(f"{AT}site-document", FacilitySiteDocument.as_view()),
    path("alarms/<int:alarm_id>/brine-triage", BrineTriagesOfAlarm.as_view()),
    path("alarms/<int:alarm_id>/brine-triage/<int:fact_id>/withdrawal", BrineTriageWithdrawal.as_view()),
    path("disagreements", Disagreements.as_view()),
    path("obligations", Obligations.as_view()),
    path("obligations/<int:obligation_id>", OneObligation.as_view()),
    path("portfolio", Portfolio.as_view()),
    path("site-document-schema", SiteDocumentSchema.as_view()),
    path("judgements", Judgements.as_view()),
    path("rules", Rules.as_view()),
    path("rules/<slug:rule_id>", OneRule.as_view()),
    *OVERRIDE_ROUTES,
    *INVENTORY_ROUTES,
]
