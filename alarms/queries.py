"""Reads alarms and notices for others; the number of queries does not depend on how many facilities are asked for.

Only the alarms of a past instant take two more for each facility where something has had a turn since.
"""

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

from django.db.models import Case, Exists, Min, OuterRef, Prefetch, Q, QuerySet, Subquery, When

from alarms.known import as_known
from alarms.lifecycle import State
from alarms.models import (
    Alarm,
    AlarmAttachment,
    AlarmKnowledge,
    AlarmSource,
    AlarmStep,
    Disposition,
    DispositionAttachment,
    Event,
    Exercise,
    ExerciseSensor,
    Notice,
    UnreadableLine,
)
from alarms.models.alarms import IS_ALARM, IS_OPEN, IS_WAITING, Untold
from alarms.models.exercises import CLOSES_AT
from alarms.models.notices import IS_UNSENT
from equipment.models import (
    Attachment,
    Compartment,
    ContainmentSump,
    Facility,
    Organisation,
    PipingRun,
    Sensor,
    Tank,
)

BETWEEN_WALLS = "interstitial monitoring"
"""As `TankMethod` and `PipingMethod` call it."""


def alarms_of(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, list[Alarm]]:
    """Every alarm by facility, oldest first, its component at hand. `discovered_at` None: as soon as it was raised.

    `known_at`: as it looked at that instant; never save such a row. None: as it is today.
    """
    sorted_out: dict[int, list[Alarm]] = defaultdict(list)
    rows = Alarm.objects.filter(facility__in=facility_ids).select_related("component")
    found = (
        rows.filter(IS_ALARM).order_by("raised_at", "pk")
        if known_at is None
        else as_known(list(rows.filter(opened_at__lte=known_at)), known_at)
    )
    for alarm in found:
        sorted_out[alarm.facility_id].append(alarm)
    return sorted_out


def dispositions_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[Disposition]]:
    """Answers that stand, by alarm, in the order in which they hold; of two of one moment the later stated is last."""
    rows = Disposition.objects.filter(_standing(facility_ids, known_at))
    rows = rows.select_related("record", "second_month", "delivery", "release").order_by("at", "pk")
    sorted_out: dict[int, list[Disposition]] = defaultdict(list)
    for row in rows.annotate(counts_for=_counts_for(known_at)):
        sorted_out[row.counts_for].append(row)
    return sorted_out


def knowledge_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[AlarmKnowledge]]:
    """What people stated about alarms, by alarm, in the order in which it was stated."""
    sorted_out: dict[int, list[AlarmKnowledge]] = defaultdict(list)
    rows = AlarmKnowledge.objects.filter(_standing(facility_ids, known_at)).order_by("recorded_at", "pk")
    for row in rows.annotate(counts_for=_counts_for(known_at)):
        sorted_out[row.counts_for].append(row)
    return sorted_out


def heard_from(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, dict[int, datetime]]:
    """By alarm, the organisations whose messages raised it, each with when the first of them reached us."""
    rows = AlarmSource.objects.filter(alarm__facility__in=facility_ids)
    if known_at is not None:
        rows = rows.filter(first_received_at__lte=known_at)
    firsts = rows.annotate(counts_for=_counts_for(known_at)).values_list("counts_for", "organisation_id")
    sorted_out: dict[int, dict[int, datetime]] = defaultdict(dict)
    for alarm, organisation, first in firsts.annotate(first=Min("first_received_at")).order_by("first"):
        sorted_out[alarm][organisation] = first
    return sorted_out


def raised_by(organisation: Organisation, alarm_ids: Collection[int]) -> set[int]:
    """Those of the alarms that a message of this organisation has raised."""
    here = Q(alarm__in=alarm_ids) | Q(alarm__merged_into__in=alarm_ids)
    rows = AlarmSource.objects.filter(here, organisation=organisation)
    return set(rows.annotate(counts_for=_counts_for()).values_list("counts_for", flat=True).distinct())


def liquid_facts_of(alarm: Alarm) -> dict[str, bool]:
    """`liquid_is_method` and `no_liquid`, as far as stated; the latest statement of each counts."""
    facts: dict[str, bool] = {}
    rows = AlarmKnowledge.objects.filter(_about(alarm), withdrawn_at=None)
    for row in rows.order_by("recorded_at", "pk"):
        facts |= stated_liquid(row)
    return facts


def stated_liquid(row: AlarmKnowledge) -> dict[str, bool]:
    """The liquid facts that this statement is about."""
    facts = {"liquid_is_method": row.liquid_is_method, "no_liquid": row.no_liquid}
    return {name: value for name, value in facts.items() if value is not None}


def _standing(facility_ids: Collection[int], known_at: datetime | None) -> Q:
    """On file by then, and not withdrawn by then."""
    here = Q(facility__in=facility_ids)
    if known_at is None:
        return here & Q(withdrawn_at=None)
    return here & Q(recorded_at__lte=known_at) & (Q(withdrawn_at=None) | Q(withdrawn_at__gt=known_at))


def _counts_for(known_at: datetime | None = None) -> Case:
    """The alarm for which what is said of an alarm counts: the one that this was merged into by then, if it was."""
    merged = Q(alarm__merged_at__lte=known_at) if known_at is not None else ~Q(alarm__merged_into=None)
    return Case(When(merged, then="alarm__merged_into"), default="alarm")


def _about(alarm: Alarm) -> Q:
    """What was said of the alarm, or of one that was merged into it."""
    return Q(alarm=alarm) | Q(alarm__merged_into=alarm)


def dispositions_at(alarm: Alarm) -> QuerySet[Disposition]:
    """Every answer to an alarm with its files, withdrawn ones too."""
    links = DispositionAttachment.objects.select_related("attachment").order_by("pk")
    files = Prefetch("disposition_attachments", links)
    return Disposition.objects.filter(_about(alarm)).select_related("submitted_by").prefetch_related(files)


def attachments_of_alarm(alarm: Alarm) -> QuerySet[Attachment]:
    """Every file of an alarm and of its answers, each once, withdrawn ones too; those of merged alarms are its own."""
    whole = Alarm.objects.filter(Q(pk=alarm.pk) | Q(merged_into=alarm)).values("pk")
    own = AlarmAttachment.objects.filter(alarm__in=whole).values("attachment")
    shown = DispositionAttachment.objects.filter(disposition__alarm__in=whole).values("attachment")
    rows = Attachment.objects.filter(Q(pk__in=own) | Q(pk__in=shown))
    return rows.select_related("submitted_by")


def oldest_waiting_notice(now: datetime) -> datetime | None:
    """Since when somebody should have been told and was not; None when nobody waits.

    Counts mails that were not sent yet, alarms whose next call (or their clock's) is overdue, since with a dead worker
    no mail is even written down, alarms that a fault of ours keeps back or shelved beyond their time, and function
    checks that were not closed. That a facility has nobody to tell shows on its alarm instead.
    """
    mails = Notice.objects.filter(IS_UNSENT, due_at__lte=now).aggregate(since=Min("due_at"))
    calls = Alarm.objects.filter(IS_WAITING, next_step_at__lte=now).aggregate(since=Min("next_step_at"))
    clocks = Alarm.objects.filter(clock_step_at__lte=now).aggregate(since=Min("clock_step_at"))
    held = Alarm.objects.filter(IS_WAITING, untold_reason=Untold.OUR_FAULT).aggregate(
        since=Min("untold_since")
    )
    shelved = Alarm.objects.filter(shelved_until__lte=now).aggregate(since=Min("shelved_until"))
    checks = (
        Exercise.objects.annotate(over_at=CLOSES_AT)
        .filter(closed_at=None, withdrawn_at=None, over_at__lte=now)
        .aggregate(since=Min("over_at"))
    )
    return min(
        (one["since"] for one in (mails, calls, clocks, held, shelved, checks) if one["since"] is not None),
        default=None,
    )


def steps_of(alarm: Alarm) -> QuerySet[AlarmStep]:
    """Every step that people took with an alarm, or with one that was merged into it, newest first."""
    return AlarmStep.objects.filter(_about(alarm)).order_by("-through", "-pk")


def closed_or_not(alarms: QuerySet[Alarm], *, is_closed: bool) -> QuerySet[Alarm]:
    """Only those that are over, answered for and disposed of, or only the others that stand for themselves."""
    closed = Q(state=State.NORMAL, is_disposed=True)
    rows = alarms.filter(IS_ALARM)
    return rows.filter(closed) if is_closed else rows.exclude(closed)


def alarms_at(facilities: QuerySet[Facility]) -> QuerySet[Alarm]:
    """The alarms of these facilities with what an answer shows of each: `told_at`, `is_disposed`."""
    sent = Notice.objects.filter(alarm=OuterRef("pk")).exclude(sent_at=None).order_by("-sent_at")
    rows = Alarm.objects.filter(facility__in=facilities).select_related("facility", "component")
    about = Q(alarm=OuterRef("pk")) | Q(alarm__merged_into=OuterRef("pk"))
    # What was said before it was raised once more does not speak of that.
    answers = Disposition.objects.filter(about, withdrawn_at=None, at__gte=OuterRef("last_raised_at"))
    return rows.annotate(told_at=Subquery(sent.values("sent_at")[:1]), is_disposed=Exists(answers))


def open_or_not(alarms: QuerySet[Alarm], *, is_open: bool) -> QuerySet[Alarm]:
    """Only those that are open, or only those that ended."""
    return alarms.filter(IS_OPEN) if is_open else alarms.exclude(IS_OPEN)


def events_at(facility: Facility) -> QuerySet[Event]:
    """Everything that devices of a facility said, conflicting messages too."""
    return Event.objects.filter(facility=facility).select_related("component", "received_from")


def exercises_at(facility: Facility) -> QuerySet[Exercise]:
    """Every function check of a facility, withdrawn ones too, with what an answer shows of each."""
    sensors = ExerciseSensor.objects.select_related("component", "record").order_by("pk")
    rows = Exercise.objects.filter(facility=facility).select_related("submitted_by")
    return rows.prefetch_related(Prefetch("sensors", sensors))


def unreadable_lines_at(facility: Facility) -> QuerySet[UnreadableLine]:
    """Lines of files that no event could be made of."""
    return UnreadableLine.objects.filter(facility=facility).select_related("received_from")


def notices_of(alarm: Alarm) -> QuerySet[Notice]:
    """Who was told about an alarm, and what came of each try."""
    rows = Notice.objects.filter(_about(alarm)).select_related("organisation", "digest")
    return rows.prefetch_related("attempts")


def watch_for_releases(component_ids: Collection[int]) -> set[int]:
    """Those of the components that are a release-detection method, as far as the register says.

    Sumps and sensors used for monitoring; tanks, compartments and pipes whose space between the walls is monitored.
    """
    ids = component_ids
    sumps = ContainmentSump.objects.filter(pk__in=ids, used_for_interstitial_monitoring=True)
    sensors = Sensor.objects.filter(pk__in=ids, used_for_release_detection=True)
    found = {*sumps.values_list("pk", flat=True), *sensors.values_list("pk", flat=True)}
    for model in (Tank, Compartment, PipingRun):
        stated = model.objects.filter(pk__in=ids).exclude(release_detection=None)
        found |= {one.pk for one in stated if BETWEEN_WALLS in list(one.release_detection or ())}
    return found
