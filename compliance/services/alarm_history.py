"""The alarms of a facility over a span, for whoever inspects it: what happened, who did what, which clock ran, what was
filed. It tells what is on file, and where nothing is."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Prefetch

from alarms.dispositions import alarm_ref
from alarms.history_queries import Past, alarms_in, pasts_of
from alarms.lifecycle import WAITING
from alarms.spans import Span, faults_of
from compliance.models import Obligation
from compliance.rules.applicability import DOES_NOT_APPLY
from compliance.services.as_of import AsOf, CannotJudge, obligations_as_of
from equipment.faults import Fault, refuse
from equipment.models import Facility, Record, RecordAttachment

MOST_ALARMS = 2000
NOT_REQUIRED = "not required"


@dataclass(frozen=True)
class Entry:
    """One alarm: what people did, what the law asks of it as of now, and the records that name it."""

    past: Past
    clocks: list[Obligation] = field(default_factory=list)
    filed: list[Record] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class AlarmHistory:
    """The list. `cannot_judge`: why no clock can be told of."""

    facility: Facility
    first_at: datetime
    until_at: datetime
    made_at: datetime
    made_for: str
    entries: list[Entry]
    cannot_judge: str | None = None

    @property
    def unacknowledged(self) -> int:
        """How many wait for an answer now: those that came back after one, too."""
        return sum(entry.past.alarm.state in WAITING for entry in self.entries)

    @property
    def without_disposition(self) -> int:
        """How many have no disposition in force."""
        return sum(
            all(answer.withdrawn_at is not None for answer in entry.past.answers) for entry in self.entries
        )


def alarm_history(facility: Facility, span: Span, *, made_for: str) -> AlarmHistory:
    """Every alarm that was raised in the span, stood in it, or had not been answered before it.

    Judged as of now by all that is on file today, since clocks and answers go on after the span. Raises `Invalid` where
    the span is none or holds too many alarms for one list.
    """
    zone = ZoneInfo(facility.time_zone)
    refuse(faults_of(span, [zone]))
    start, end = span.bounds(zone)
    alarms = list(alarms_in(facility, start, end)[: MOST_ALARMS + 1])
    if len(alarms) > MOST_ALARMS:
        detail = f"the span holds more than {MOST_ALARMS} alarms; ask for a shorter one"
        refuse([Fault("/from", detail, "too-many")])
    clocks, cannot_judge = _clocks(facility, span.now) if alarms else ({}, None)
    pasts = pasts_of(alarms)
    filed = _filed(facility, pasts)
    return AlarmHistory(
        facility=facility,
        first_at=start,
        until_at=end,
        made_at=span.now,
        made_for=made_for,
        entries=[
            Entry(past, clocks.get(alarm_ref(past.alarm.pk), []), filed[past.alarm.pk]) for past in pasts
        ],
        cannot_judge=cannot_judge,
    )


def _clocks(facility: Facility, now: datetime) -> tuple[dict[str, list[Obligation]], str | None]:
    """What the rules ask of each alarm, that which they excuse too, but not rules about other alarms: by id in the
    site document."""
    found: dict[str, list[Obligation]] = defaultdict(list)
    try:
        rows = obligations_as_of(facility, AsOf(now, "today"), everything=True)
    except CannotJudge as error:
        return found, error.detail
    for row in rows:
        if row.subject_kind == "alarm" and not _is_about_others(row):
            found[row.subject].append(row)
    return found, None


def _is_about_others(row: Obligation) -> bool:
    """A rule that does not apply to this sort of alarm at all has no clock that could run for it."""
    return row.standing == NOT_REQUIRED and row.finding["reason"].startswith(DOES_NOT_APPLY)


def _filed(facility: Facility, pasts: list[Past]) -> dict[int, list[Record]]:
    """Records that name an alarm, withdrawn and superseded ones too, by the alarm."""
    named = {alarm_ref(number): past.alarm.pk for past in pasts for number in past.numbers}
    rows = Record.objects.filter(facility=facility, regarding__in=named).select_related("submitted_by")
    found: dict[int, list[Record]] = defaultdict(list)
    shown = RecordAttachment.objects.select_related("attachment").order_by("pk")
    rows = rows.prefetch_related(Prefetch("record_attachments", shown))
    for row in rows.select_related("superseded_by").order_by("performed_on", "performed_at", "pk"):
        found[named[str(row.regarding)]].append(row)
    return found
