"""Reads the alarms of a facility over a span with all that people did about them; the number of queries is fixed."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import msgspec
from django.db.models import Count, F, Max, Min, Prefetch, Q, QuerySet

from alarms.models import (
    Alarm,
    AlarmAttachment,
    AlarmKnowledge,
    AlarmStep,
    Disposition,
    DispositionAttachment,
    Notice,
)
from alarms.models.alarms import IS_ALARM
from equipment.models import Facility


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """One person who was told: mails that went out, and those that never could."""

    name: str
    organisation: str
    first_at: datetime | None
    last_at: datetime | None
    mails: int
    failed: int


@dataclass(frozen=True)
class Past:
    """One alarm with what is on file about it, each in order; answers with the withdrawn ones."""

    alarm: Alarm
    merged: list[int] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    steps: list[AlarmStep] = field(default_factory=list)
    answers: list[Disposition] = field(default_factory=list)
    statements: list[AlarmKnowledge] = field(default_factory=list)
    files: list[AlarmAttachment] = field(default_factory=list)

    @property
    def numbers(self) -> list[int]:
        """Its number, and those of alarms that turned out to be the same."""
        return [self.alarm.pk, *self.merged]


def alarms_in(facility: Facility, start: datetime, end: datetime) -> QuerySet[Alarm]:
    """The alarms that were raised in the span, stood in it, or were not answered yet; oldest first."""
    # None is over before its condition is.
    lasted = Q(raised_at__gte=start) | Q(ended_at=None) | Q(ended_at__gte=start)
    rows = Alarm.objects.filter(IS_ALARM, lasted, facility=facility, raised_at__lt=end)
    return rows.select_related("facility", "component", "exercise").order_by("raised_at", "pk")


def pasts_of(alarms: Iterable[Alarm]) -> list[Past]:
    """What is on file about each; what was said of an alarm that merged into it is told of the one that stayed."""
    pasts = {alarm.pk: Past(alarm) for alarm in alarms}
    stayed = {number: number for number in pasts}
    merged = Alarm.objects.filter(merged_into__in=pasts).order_by("pk").values_list("pk", "merged_into_id")
    for number, into in merged:
        if into is not None:
            stayed[number] = into
            pasts[into].merged.append(number)
    steps = AlarmStep.objects.select_related("record").order_by("at", "pk")
    shown = DispositionAttachment.objects.select_related("attachment").order_by("pk")
    answers = Disposition.objects.select_related(
        "submitted_by", "record", "second_month", "delivery", "release"
    ).prefetch_related(Prefetch("disposition_attachments", shown))
    for step in steps.filter(alarm__in=stayed):
        pasts[stayed[step.alarm_id]].steps.append(step)
    for answer in answers.filter(alarm__in=stayed).order_by("at", "pk"):
        pasts[stayed[answer.alarm_id]].answers.append(answer)
    for said in AlarmKnowledge.objects.filter(alarm__in=stayed).order_by("recorded_at", "pk"):
        pasts[stayed[said.alarm_id]].statements.append(said)
    files = AlarmAttachment.objects.filter(alarm__in=stayed).select_related("attachment")
    for file in files.order_by("attached_at", "pk"):
        pasts[stayed[file.alarm_id]].files.append(file)
    for number, told in _told(stayed):
        pasts[number].told.append(told)
    return list(pasts.values())


def _told(stayed: Mapping[int, int]) -> Iterator[tuple[int, Told]]:
    """By alarm and person, whoever was told first before the others; whom no mail reached comes last."""
    tried = Notice.objects.filter(Q(sent_at__isnull=False) | Q(failed_at__isnull=False), alarm__in=stayed)
    rows = tried.values("alarm_id", "name", "email", "organisation__name").annotate(
        first=Min("sent_at"), last=Max("sent_at"), mails=Count("sent_at"), failed=Count("failed_at")
    )
    people: dict[tuple[int, str], list[dict[str, Any]]] = defaultdict(list)
    for row in rows.order_by(F("first").asc(nulls_last=True), "name"):
        people[stayed[row["alarm_id"]], row["email"].lower()].append({**row})
    for (number, _), those in people.items():
        yield (
            number,
            Told(
                name=those[0]["name"],
                organisation=those[0]["organisation__name"],
                first_at=those[0]["first"],
                last_at=max((one["last"] for one in those if one["last"]), default=None),
                mails=sum(one["mails"] for one in those),
                failed=sum(one["failed"] for one in those),
            ),
        )
