"""Reads obligations and standings for the doorways."""

from datetime import datetime
from typing import Any

from django.db.models import Exists, F, Min, OuterRef, Q, QuerySet, Subquery

from compliance.models import Obligation, RecordVerdict, Standing
from compliance.rulepacks import law_digest
from equipment.models import Facility


def obligations_at(facilities: QuerySet[Facility]) -> QuerySet[Obligation]:
    """Obligations of these facilities, with what an answer shows."""
    return Obligation.objects.filter(facility__in=facilities).select_related("facility")


def portfolio_of(facilities: QuerySet[Facility]) -> QuerySet[Standing]:
    """Standings of these facilities; a facility that was never judged has none yet."""
    return Standing.objects.filter(facility__in=facilities).select_related("facility__operator")


def kept_verdict() -> Subquery:
    """For a query of records: the verdict of each as answered; null where no protocol judges it."""
    return Subquery(RecordVerdict.objects.filter(record=OuterRef("pk")).values("body"))


def judged(**fields: Any) -> Exists:
    """For a query of records: those whose kept verdict has these fields."""
    return Exists(RecordVerdict.objects.filter(record=OuterRef("pk"), **fields))


def stale_standings(*, now: datetime) -> QuerySet[Standing]:
    """Standings that a judgement now could change: other facts, other packs, or their moment has come."""
    return Standing.objects.filter(
        ~Q(facts_version=F("facility__facts_version"))
        | ~Q(packs_digest=law_digest())
        | Q(changes_at__lte=now)
    )


def oldest_stale(*, now: datetime) -> datetime | None:
    """Since when the longest-waiting facility has been out of date; None when all are fresh.

    Facilities that failed and wait for another turn are left out: they show their error instead.
    """
    waiting = Standing.objects.filter(facility=OuterRef("pk"), retry_at__gt=now)
    judged = Standing.objects.filter(facility=OuterRef("pk"), facts_version=OuterRef("facts_version"))
    by_facts = Facility.objects.filter(~Exists(waiting), ~Exists(judged)).aggregate(
        at=Min("facts_changed_at")
    )["at"]
    by_time = Standing.objects.filter(Q(retry_at=None) | Q(retry_at__lte=now), changes_at__lte=now)
    moments = [by_facts, by_time.aggregate(at=Min("changes_at"))["at"]]
    return min((moment for moment in moments if moment is not None), default=None)
