"""Routes of this app under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from alarms.api.acknowledgements import AcknowledgementOfAlarm
from alarms.api.alarms import AlarmDetail, Alarms
from alarms.api.call_list_preview import CallListPreview
from alarms.api.call_lists import CallListOfFacility, CallListOfPriority
from alarms.api.conditions import Conditions
from alarms.api.dispositions import DispositionsOfAlarm, DispositionWithdrawal, KnowledgeOfAlarm
from alarms.api.events import Events
from alarms.api.notices import NoticesOfAlarm

urlpatterns: list[URLPattern | URLResolver] = [
    path("facilities/<int:facility_id>/events", Events.as_view(), name="events"),
    path("facilities/<int:facility_id>/call-list", CallListOfFacility.as_view(), name="call-list"),
    path(
        "facilities/<int:facility_id>/call-list/preview", CallListPreview.as_view(), name="call-list-preview"
    ),
    path(
        "facilities/<int:facility_id>/call-list/<str:priority>",
        CallListOfPriority.as_view(),
        name="call-list-of-priority",
    ),
    path("alarms", Alarms.as_view(), name="alarms"),
    path("alarms/<int:alarm_id>", AlarmDetail.as_view(), name="alarm"),
    path("alarms/<int:alarm_id>/notices", NoticesOfAlarm.as_view(), name="alarm-notices"),
    path("alarms/<int:alarm_id>/acknowledgement", AcknowledgementOfAlarm.as_view(), name="acknowledgement"),
    path("alarms/<int:alarm_id>/dispositions", DispositionsOfAlarm.as_view(), name="dispositions"),
    path(
        "alarms/<int:alarm_id>/dispositions/<int:fact_id>/withdrawal",
        DispositionWithdrawal.as_view(),
        name="disposition-withdrawal",
    ),
    path("alarms/<int:alarm_id>/knowledge", KnowledgeOfAlarm.as_view(), name="alarm-knowledge"),
    path("conditions", Conditions.as_view(), name="conditions"),
]
