"""Has stale facilities judged and keeps what comes out. Safe to run anywhere, any number of times, by any number."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from compliance.gather import Gathered, gather
from compliance.models import Obligation, Standing
from compliance.queries import stale_standings
from compliance.rulepacks import installed_packs, law_digest
from compliance.rules.document import read_document
from compliance.rules.judging import Judgement, judge
from compliance.services.alarm_clocks import tell_alarms
from compliance.services.obligations import Moves, keep_findings
from compliance.services.summary import NOT_JUDGED, rank_of, summarise
from compliance.services.verdicts import count_open, keep_verdicts
from equipment.models import Facility
from equipment.services.facts import lock_facility

LEASE = timedelta(minutes=5)
RETRY_AFTER = timedelta(hours=1)
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Tally:
    """What a drain did."""

    judged: int = 0
    failed: int = 0

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(self.judged + other.judged, self.failed + other.failed)


def drain(*, clock: Callable[[], datetime], at_most: timedelta | None = None, batch: int = 50) -> Tally:
    """Judge stale facilities until none is left that could be claimed, or the time is used up."""
    open_standings(Facility.objects.all())
    until = None if at_most is None else clock() + at_most
    total = Tally()
    while (until is None or clock() < until) and (claimed := _claim(now=clock(), limit=batch)):
        total += _assess_claimed(claimed, now=clock())
    return total


def is_drained(*, now: datetime) -> bool:
    """Whether nothing is left that could be claimed."""
    return not stale_standings(now=now).filter(_free(now)).exists()


def assess_locked(facility: Facility, *, now: datetime) -> Moves:
    """Judge one facility inside the caller's transaction, which holds the facility's lock. Answers what moved."""
    standing, _ = Standing.objects.get_or_create(facility=facility)
    version = Facility.objects.values_list("facts_version", flat=True).get(pk=facility.pk)
    gathered = gather([facility.pk])[facility.pk]
    keep_verdicts(facility, gathered.counted)
    judgement = _judge(gathered, now=now)
    return _keep(standing, facility, gathered, judgement, version=version, now=now)


def freshen_locked(facility: Facility, *, now: datetime) -> None:
    """Judge the facility, if it is stale, before something happens to it: what moves then is due to that alone."""
    if (
        not Standing.objects.filter(pk=facility.pk).exists()
        or stale_standings(now=now).filter(pk=facility.pk).exists()
    ):
        assess_locked(facility, now=now)


def moved_by(work: Callable[[], object], facility: Facility, *, now: datetime) -> Moves | None:
    """Do the work on the facility's facts and tell what it moved; the caller holds the facility's lock.

    A fact is never refused because judging fails: then the work stands, the failure is noted for the drain to try
    again, and the answer is None.
    """
    try:
        with transaction.atomic():
            freshen_locked(facility, now=now)
    except Exception as error:
        _note_failure(facility.pk, error, now=now)
    work()
    try:
        with transaction.atomic():
            return assess_locked(facility, now=now)
    except Exception as error:
        _note_failure(facility.pk, error, now=now)
        return None


def open_standings(facilities: QuerySet[Facility]) -> None:
    """A row for each facility that has none yet: not judged, hence first in the portfolio."""
    unknown = facilities.filter(~Exists(Standing.objects.filter(facility=OuterRef("pk"))))
    rows = [Standing(facility_id=pk) for pk in unknown.values_list("pk", flat=True)]
    for row in rows:
        row.rank = rank_of(row, NOT_JUDGED)
    Standing.objects.bulk_create(rows, ignore_conflicts=True)


def _claim(*, now: datetime, limit: int) -> list[int]:
    """Ids of stale facilities that are ours for the length of a lease.

    A conditional update, since row locks do nothing on SQLite: whoever's update hits the row has it.
    """
    free = _free(now)
    candidates = list(
        stale_standings(now=now).filter(free).order_by("pk").values_list("pk", flat=True)[:limit]
    )
    return [
        pk
        for pk in candidates
        if Standing.objects.filter(Q(claimed_until=None) | Q(claimed_until__lte=now), pk=pk).update(
            claimed_until=now + LEASE
        )
        == 1
    ]


def _free(now: datetime) -> Q:
    """Claimed by nobody, and not waiting for another turn over the very facts that failed."""
    waits = Q(retry_at__gt=now, failed_version=F("facility__facts_version"))
    return (Q(claimed_until=None) | Q(claimed_until__lte=now)) & ~waits


def _assess_claimed(facility_ids: list[int], *, now: datetime) -> Tally:
    # Versions are read before the facts: a fact that arrives in between makes the judgement stale, never wrong.
    versions = dict(Facility.objects.filter(pk__in=facility_ids).values_list("pk", "facts_version"))
    gathered = _gathered(facility_ids)
    total = Tally()
    for pk in facility_ids:
        try:
            one = gathered.get(pk) or gather([pk])[pk]
            _assess_one(pk, one, version=versions[pk], now=now)
            total += Tally(judged=1)
        except Exception as error:
            # One facility that cannot be judged must not stop the others; it says so and waits for a later turn.
            _note_drained_failure(pk, error, version=versions[pk], now=now)
            total += Tally(failed=1)
    return total


def _note_drained_failure(facility_id: int, error: Exception, *, version: int, now: datetime) -> None:
    """What went wrong over facts that have moved on meanwhile says nothing of those that count now."""
    with transaction.atomic():
        if lock_facility(facility_id).facts_version == version:
            _note_failure(facility_id, error, now=now)
        else:
            log.warning("could not judge what facility %s was a moment ago", facility_id, exc_info=error)
            Standing.objects.filter(pk=facility_id).update(claimed_until=None)


def _note_failure(facility_id: int, error: Exception, *, now: datetime) -> None:
    """Keep what went wrong where the portfolio shows it first; new facts are tried at once, these in an hour. The
    caller holds the facility's lock.
    """
    log.error("could not judge facility %s", facility_id, exc_info=error)
    standing, _ = Standing.objects.get_or_create(facility_id=facility_id)
    standing.retry_at = now + RETRY_AFTER
    standing.claimed_until = None
    standing.last_error = str(error)[:500] or repr(error)[:500]
    standing.failed_version = Facility.objects.values_list("facts_version", flat=True).get(pk=facility_id)
    standing.rank = rank_of(standing, NOT_JUDGED)
    standing.save()
    _keep_verdicts_alone(facility_id)


def _keep_verdicts_alone(facility_id: int) -> None:
    """What a test comes to by its numbers can be told where the rules cannot be judged."""
    try:
        with transaction.atomic():
            facility = lock_facility(facility_id)
            keep_verdicts(facility, gather([facility_id])[facility_id].counted)
    except Exception:
        log.exception("could not keep the verdicts of facility %s", facility_id)


def _gathered(facility_ids: list[int]) -> dict[int, Gathered]:
    """All documents in one go; none when one of them cannot be built, so that each is then built by itself."""
    try:
        return gather(facility_ids)
    except Exception:
        log.exception("could not gather %s facilities at once", len(facility_ids))
        return {}


def _assess_one(facility_id: int, gathered: Gathered, *, version: int, now: datetime) -> None:
    """Judge outside any transaction, then write under the lock unless the facts have moved on meanwhile."""
    judgement = _judge(gathered, now=now)
    with transaction.atomic():
        facility = lock_facility(facility_id)
        standing = Standing.objects.get(pk=facility_id)
        if facility.facts_version == version:
            keep_verdicts(facility, gathered.counted)
            _keep(standing, facility, gathered, judgement, version=version, now=now)
        else:
            Standing.objects.filter(pk=facility_id).update(claimed_until=None)


def _judge(gathered: Gathered, *, now: datetime) -> Judgement:
    return judge(read_document(gathered.document), installed_packs(), at=now)


def _keep(
    standing: Standing,
    facility: Facility,
    gathered: Gathered,
    judgement: Judgement,
    *,
    version: int,
    now: datetime,
) -> Moves:
    moves = keep_findings(facility, judgement.findings, now=now)
    tell_alarms(facility, moves, now=now)
    summarise(standing, judgement.findings)
    count_open(standing, gathered.document)
    standing.facts_version = version
    standing.packs_digest = law_digest()
    standing.judged_at = now
    standing.changes_at = judgement.changes_at
    standing.next_late_from = _next_late_from(facility, now=now)
    standing.claimed_until = standing.retry_at = standing.failed_version = None
    standing.last_error = ""
    standing.save()
    return moves


def _next_late_from(facility: Facility, *, now: datetime) -> datetime | None:
    coming = Obligation.objects.filter(facility=facility, late_from__gt=now).order_by("late_from")
    return coming.values_list("late_from", flat=True).first()
