"""Which alarms chatter, were fleeting or are stale: worked out from their events by the database, kept nowhere."""

from datetime import datetime

from django.db.models import (
    BooleanField,
    Case,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
    Window,
)
from django.db.models.functions import Coalesce, Lag
from django.db.models.lookups import Exact, IsNull

from alarms.marks import Mark, limits
from alarms.matching import Signal
from alarms.models import Alarm, Event
from alarms.models.events import COUNTS_AT


def with_marks(rows: QuerySet[Alarm], *, at: datetime) -> QuerySet[Alarm]:
    """The alarms, each with `is_chattering`, `is_fleeting` and `is_stale` as of the instant."""
    # A condition over what is not known is no mark.
    marks = {
        f"is_{mark}": Case(
            When(is_marked(mark, at), then=Value(True)),
            default=Value(False),
            output_field=BooleanField(),
        )
        for mark in Mark
    }
    return rows.annotate(**marks)


def marked(rows: QuerySet[Alarm], mark: Mark, *, at: datetime) -> QuerySet[Alarm]:
    """Only those with the mark as of the instant."""
    return rows.filter(is_marked(mark, at))


def marks_of(alarm: Alarm) -> list[Mark]:
    """The marks of a row that came through `with_marks`."""
    return [mark for mark in Mark if getattr(alarm, f"is_{mark}")]


def is_marked(mark: Mark, at: datetime) -> Q:
    """For a query of alarms: those with the mark as of the instant."""
    if mark == Mark.CHATTERING:
        return _chattering()
    return _fleeting() if mark == Mark.FLEETING else _stale(at)


def with_merged(*, deep: bool = False) -> QuerySet[Alarm, int]:
    """Inside a query about what belongs to the alarms of an outer query: the alarm, and those that merged into it.

    `deep`: inside a query inside that one.
    """
    outer = OuterRef(OuterRef(OuterRef("pk"))) if deep else OuterRef(OuterRef("pk"))
    return Alarm.objects.filter(Q(pk=outer) | Q(merged_into=outer)).values_list("pk", flat=True)


def _chattering() -> Q:
    """Some clear ended a time of which enough others began soon before; looked for only where there are enough raises.

    Without repeats, raises and clears take turns: the raise of a clear is the one before it, and that of the time
    before is two further back.
    """
    limit = limits().chattering
    signals = Event.objects.annotate(moment=COUNTS_AT)
    # Of one moment a raise counts first: a pulse shorter than the device's second is one.
    order = ["moment", "-signal", "pk"]
    before = Coalesce(Window(Lag("signal"), order_by=order), Value(""))
    told = signals.filter(alarm__in=with_merged(deep=True)).annotate(before=before)
    turns = signals.filter(pk__in=told.exclude(before=F("signal")).values("pk"))
    began, first = (Window(Lag("moment", back), order_by=order) for back in (1, 2 * limit.times - 1))
    apart = Case(
        When(signal=Signal.CLEARED, then=ExpressionWrapper(began - first, output_field=DurationField()))
    )
    close = turns.annotate(apart=apart).filter(apart__lte=limit.within)
    return Q(occurrences__gte=limit.times) & Q(Exists(close))


def _fleeting() -> Q:
    soon = F("raised_at") + Value(limits().fleeting.over_within, output_field=DurationField())
    unanswered = Q(acknowledged_at=None) | Q(acknowledged_at__gte=F("cleared_at"))
    return Q(occurrences=1, cleared_at__lte=soon) & unanswered


def _stale(at: datetime) -> Q:
    """It stood so long before the instant, did not clear since, and is not over."""
    before = at - limits().stale.stands
    signals = Event.objects.annotate(moment=COUNTS_AT)
    told = signals.filter(alarm__in=with_merged(), moment__lt=before)
    # At one instant a raise counts last: an alarm that may stand is not left out.
    stood = Subquery(told.order_by("-moment", "-signal", "-pk").values("signal")[:1])
    # One value an alarm, not NOT EXISTS: PostgreSQL makes that an anti join and reads every event for each alarm.
    since = signals.filter(alarm__in=with_merged(), signal=Signal.CLEARED, moment__gte=before, moment__lte=at)
    cleared = Subquery(since.values("pk")[:1])
    # One whose clear was lost has ended without it.
    stands = (Q(cleared_at=None) | Q(cleared_at__gt=at)) & (Q(ended_at=None) | Q(ended_at__gt=at))
    return Q(raised_at__lt=before) & stands & Q(Exact(stood, Value(Signal.RAISED))) & Q(IsNull(cleared, True))
