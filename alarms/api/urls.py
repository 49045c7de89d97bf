"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from alarms.api.acknowledgements import AcknowledgementOfAlarm
from alarms.api.alarms import AlarmDetail, Alarms
from alarms.api.attachments import AttachmentsOfAlarm
from alarms.api.call_list_preview import CallListPreview
from alarms.api.call_lists import CallListOfFacility, CallListOfPriority
from alarms.api.conditions import Conditions
from alarms.api.contacts import ContactDetail, Contacts
from alarms.api.dispositions import DispositionsOfAlarm, DispositionWithdrawal
from alarms.api.event_file import EventFiles, UnreadableLines
from alarms.api.events import Events
from alarms.api.exercises import FunctionCheckEnd, FunctionChecks, FunctionCheckWithdrawal
from alarms.api.fallback_people import FallbackPeople
from alarms.api.figures import AlarmFigures, AlarmFiguresTable
from alarms.api.knowledge import KnowledgeOfAlarm, KnowledgeWithdrawal
from alarms.api.notices import NoticesOfAlarm
from alarms.api.releases import RELEASE_ROUTES
from alarms.api.rotas import RotaDetail, Rotas
from alarms.api.stand_ins import StandIns, StandInWithdrawal
from alarms.api.steps import (
    EndOfShelving,
    OutOfServiceOfAlarm,
    ResetOfAlarm,
    ReturnToService,
    ShelvingOfAlarm,
    StepsOfAlarm,
)

urlpatterns: list[URLPattern | URLResolver] = [
    path("facilities/<int:facility_id>/events", Events.as_view(), name="events"),
    path("facilities/<int:facility_id>/events/file", EventFiles.as_view(), name="event-file"),
    path(
        "facilities/<int:facility_id>/events/unreadable", UnreadableLines.as_view(), name="unreadable-lines"
    ),
    path("facilities/<int:facility_id>/function-checks", FunctionChecks.as_view(), name="function-checks"),
    path(
        "facilities/<int:facility_id>/function-checks/<int:fact_id>/end",
        FunctionCheckEnd.as_view(),
        name="function-check-end",
    ),
    path(
        "facilities/<int:facility_id>/function-checks/<int:fact_id>/withdrawal",
        FunctionCheckWithdrawal.as_view(),
        name="function-check-withdrawal",
    ),
    path("facilities/<int:facility_id>/call-list", CallListOfFacility.as_view(), name="call-list"),
    path(
        "facilities/<int:facility_id>/call-list/preview", CallListPreview.as_view(), name="call-list-preview"
    ),
    path(
        "facilities/<int:facility_id>/call-list/<str:priority>",
        CallListOfPriority.as_view(),
        name="call-list-of-priority",
    ),
    path(
        "organisations/<int:organisation_id>/fallback-people",
        FallbackPeople.as_view(),
        name="fallback-people",
    ),
    path("organisations/<int:organisation_id>/contacts", Contacts.as_view(), name="contacts"),
    path(
        "organisations/<int:organisation_id>/contacts/<int:contact_id>",
        ContactDetail.as_view(),
        name="contact",
    ),
    path("organisations/<int:organisation_id>/rotas", Rotas.as_view(), name="rotas"),
    path("organisations/<int:organisation_id>/rotas/<int:rota_id>", RotaDetail.as_view(), name="rota"),
    path("organisations/<int:organisation_id>/stand-ins", StandIns.as_view(), name="stand-ins"),
    path(
        "organisations/<int:organisation_id>/stand-ins/<int:fact_id>/withdrawal",
        StandInWithdrawal.as_view(),
        name="stand-in-withdrawal",
    ),
    path("alarms", Alarms.as_view(), name="alarms"),
    path("alarms/figures", AlarmFigures.as_view(), name="alarm-figures"),
    path("alarms/figures.csv", AlarmFiguresTable.as_view(), name="alarm-figures-table"),
    path("alarms/<int:alarm_id>", AlarmDetail.as_view(), name="alarm"),
    path("alarms/<int:alarm_id>/notices", NoticesOfAlarm.as_view(), name="alarm-notices"),
    path("alarms/<int:alarm_id>/acknowledgement", AcknowledgementOfAlarm.as_view(), name="acknowledgement"),
    path("alarms/<int:alarm_id>/steps", StepsOfAlarm.as_view(), name="alarm-steps"),
    path("alarms/<int:alarm_id>/shelving", ShelvingOfAlarm.as_view(), name="shelving"),
    path("alarms/<int:alarm_id>/shelving/end", EndOfShelving.as_view(), name="end-of-shelving"),
    path("alarms/<int:alarm_id>/out-of-service", OutOfServiceOfAlarm.as_view(), name="out-of-service"),
    path("alarms/<int:alarm_id>/return-to-service", ReturnToService.as_view(), name="return-to-service"),
    path("alarms/<int:alarm_id>/reset", ResetOfAlarm.as_view(), name="reset"),
    path("alarms/<int:alarm_id>/dispositions", DispositionsOfAlarm.as_view(), name="dispositions"),
    path(
        "alarms/<int:alarm_id>/dispositions/<int:fact_id>/withdrawal",
        DispositionWithdrawal.as_view(),
        name="disposition-withdrawal",
    ),
    path("alarms/<int:alarm_id>/attachments", AttachmentsOfAlarm.as_view(), name="attachments-of-alarm"),
    path("alarms/<int:alarm_id>/knowledge", KnowledgeOfAlarm.as_view(), name="alarm-knowledge"),
    path(
        "alarms/<int:alarm_id>/knowledge/<int:fact_id>/withdrawal",
        KnowledgeWithdrawal.as_view(),
        name="alarm-knowledge-withdrawal",
    ),
    path("conditions", Conditions.as_view(), name="conditions"),
    *RELEASE_ROUTES,
]
