"""Figures of alarms as they are asked for and answered."""

from typing import Any

from rest_framework import serializers

from alarms.conditions import ConditionClass, condition_or_unlisted
from alarms.figure_queries import Actor
from alarms.models import Alarm
from alarms.spans import USUAL_DAYS, Span
from equipment.api.fields import MomentField
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import MAX_ID, ListedField
from equipment.api.serializers import StrictSerializer

DAYS = {"7d": 7, "30d": 30, "90d": 90}
WEEK = 7
CLASSES = list(ConditionClass)
NUMBER = "number of the alarm"


class SpanQuery(StrictQuery):
    """A span, right-open: from the first moment up to, and without, the last."""

    until = MomentField(
        required=False,
        help_text="the first moment after the span; a day begins at local midnight; now unless told",
    )

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """With `from`, which is no name that Python allows."""
        first = MomentField(
            required=False, help_text=f"its first moment; {USUAL_DAYS} local days before its end unless told"
        )
        return {"from": first, **super().get_fields()}

    @staticmethod
    def span(asked: dict[str, Any], now: Any) -> Span:
        """The span that a checked query asks for."""
        return Span(first=asked.get("from"), until=asked.get("until"), now=now)


class FiguresQuery(SpanQuery):
    """Which alarms, over which span and windows."""

    facility = serializers.IntegerField(
        required=False, min_value=1, max_value=MAX_ID, help_text="every one that you may see unless told"
    )
    window = ListedField(list(DAYS), required=False, help_text="adds sliding windows of so many local days")
    step = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=90,
        help_text="days from window to window; 1 for windows of 7 days, else 7",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A step is asked of windows only."""
        if "step" in attrs and "window" not in attrs:
            raise serializers.ValidationError({"step": "Name the length of the windows as well: window."})
        return attrs


class WaitsOut(StrictSerializer):
    """How long it took. Percentiles are by nearest rank over the answered alone; what still waits is counted beside."""

    answered = serializers.IntegerField()
    waiting = serializers.IntegerField()
    median_s = serializers.FloatField(allow_null=True, help_text="null: none was answered")
    p90_s = serializers.FloatField(allow_null=True)
    longest_answered_s = serializers.FloatField(allow_null=True)
    longest_answered_alarm = serializers.IntegerField(allow_null=True, help_text=NUMBER)
    longest_waiting_s = serializers.FloatField(allow_null=True, help_text="so far")
    longest_waiting_alarm = serializers.IntegerField(allow_null=True, help_text=NUMBER)


class BothOut(StrictSerializer):
    """The same wait from two beginnings."""

    from_raised = WaitsOut(help_text="from the raise by the device's clock")
    from_opened = WaitsOut(help_text="from when it reached us: before, nobody could answer")


class UnansweredOut(StrictSerializer):
    """What waits for an answer as of now, whenever it was raised."""

    alarms = serializers.IntegerField()
    longest_s = serializers.FloatField(
        allow_null=True, help_text="since the oldest of them reached us, or came back after an answer"
    )
    alarm = serializers.IntegerField(allow_null=True, help_text=NUMBER)


class StoodOut(StrictSerializer):
    """What stood when the span ended, whenever it was raised."""

    alarms = serializers.IntegerField()
    stale = serializers.IntegerField(help_text="of them for more than 24 hours without a pause")
    oldest_raised_at = serializers.DateTimeField(allow_null=True)
    oldest_alarm = serializers.IntegerField(allow_null=True, help_text=NUMBER)


class PeakOut(StrictSerializer):
    """The most raises at one facility within ten minutes, wherever they begin."""

    raises = serializers.IntegerField()
    facility = serializers.IntegerField()
    first_at = serializers.DateTimeField()
    last_at = serializers.DateTimeField()
    flood = serializers.BooleanField(help_text="10 or more: more than a person can answer")


class FiguresOut(StrictSerializer):
    """Figures of what was raised in the span, with answers until now."""

    alarms = serializers.IntegerField()
    exercises = serializers.IntegerField(
        help_text="alarms that function checks raised; they are in no other figure"
    )
    raises = serializers.IntegerField(help_text="an alarm that comes and goes is raised more than once")
    raises_per_day = serializers.FloatField()
    acknowledgement = BothOut(help_text="to the first acknowledgement")
    disposition = BothOut(help_text="to the moment from which the first disposition in force holds")
    without_disposition = serializers.IntegerField()
    chattering = serializers.IntegerField()
    fleeting = serializers.IntegerField()
    unacknowledged = UnansweredOut()
    standing = StoodOut()
    peak = PeakOut(allow_null=True, help_text="null: nothing was raised")
    floods = serializers.IntegerField()


class SpanOut(StrictSerializer):
    """The span at the facilities of one zone."""

    time_zone = serializers.CharField()
    first_at = serializers.DateTimeField()
    until_at = serializers.DateTimeField()


class ClassOut(StrictSerializer):
    """What was raised of one class; waits from when it reached us."""

    condition_class = serializers.ChoiceField(CLASSES, allow_null=True, help_text="null: unlisted words")
    alarms = serializers.IntegerField()
    acknowledgement = WaitsOut()
    disposition = WaitsOut()
    without_disposition = serializers.IntegerField()
    standing = serializers.IntegerField()


class ActorOut(StrictSerializer):
    """One condition at one place, however often it came and went."""

    facility = serializers.IntegerField()
    facility_name = serializers.CharField()
    component = serializers.CharField(allow_null=True, help_text="its tag")
    device = serializers.CharField(allow_null=True, help_text="where no component is known")
    condition = serializers.CharField()
    title = serializers.SerializerMethodField()
    condition_class = serializers.ChoiceField(CLASSES, allow_null=True)
    raises = serializers.IntegerField(help_text="in the span")
    share = serializers.SerializerMethodField(help_text="of all raises, 0 to 1")
    episodes = serializers.IntegerField(help_text="alarms that these raises belong to")
    last_raised_at = serializers.DateTimeField()

    def get_title(self, actor: Actor) -> str:
        """The condition in plain words."""
        return condition_or_unlisted(actor.condition).title

    def get_share(self, actor: Actor) -> float:
        """Its part of the load; the context says what the whole is."""
        return actor.raises / int(self.context["raises"])


class QuietOut(StrictSerializer):
    """An alarm that somebody keeps quiet."""

    id = serializers.IntegerField()
    facility = serializers.IntegerField(source="facility_id")
    facility_name = serializers.CharField(source="facility.name")
    place = serializers.CharField(help_text="tag, or what the device calls itself")
    condition = serializers.CharField()
    title = serializers.SerializerMethodField()
    condition_class = serializers.ChoiceField(CLASSES, allow_null=True)
    raised_at = serializers.DateTimeField()
    since = serializers.DateTimeField(source="quiet_since", allow_null=True)
    until = serializers.DateTimeField(
        source="shelved_until",
        allow_null=True,
        help_text="when it comes back by itself; null: out of service",
    )
    by = serializers.CharField(source="quiet_by", allow_null=True)
    reason = serializers.CharField(source="quiet_reason", allow_null=True)

    def get_title(self, alarm: Alarm) -> str:
        """The condition in plain words."""
        return condition_or_unlisted(alarm.condition).title


class FacilityFiguresOut(StrictSerializer):
    """The figures of one facility."""

    facility = serializers.IntegerField()
    name = serializers.CharField()
    span = SpanOut()
    figures = FiguresOut()


class WindowOut(StrictSerializer):
    """What was raised in the days before the midnight with which `until` begins; waits from when it reached us."""

    until = serializers.DateField()
    alarms = serializers.IntegerField()
    raises = serializers.IntegerField()
    acknowledgement = WaitsOut()
    disposition = WaitsOut()
    without_disposition = serializers.IntegerField()
    chattering = serializers.IntegerField()
    fleeting = serializers.IntegerField()


class ReportOut(StrictSerializer):
    """The figures over a span."""

    as_of = serializers.DateTimeField()
    spans = SpanOut(many=True, help_text="what the span is in the zone of each facility")
    figures = FiguresOut()
    classes = ClassOut(many=True)
    bad_actors = ActorOut(many=True, help_text="what was raised most in the span")
    shelved = QuietOut(many=True, help_text="as of now")
    out_of_service = QuietOut(many=True, help_text="as of now")
    facilities = FacilityFiguresOut(
        many=True, help_text="with anything to count, most alarms first; 100 at most"
    )
    windows = WindowOut(many=True, help_text="oldest first; none unless asked for")
