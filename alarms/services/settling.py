"""Writes down what came of a try, and calls the next people where nobody of a step can be told.

Rows are locked in one order everywhere: facility, alarm, notice.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import F, QuerySet

from alarms.delivery import SENT, Answer
from alarms.models import Alarm, Attempt, Notice
from alarms.models.notices import IS_UNSENT
from alarms.services.climbing import climb
from alarms.services.mailboxes import MAIL_GAP, Claim, free, give_back
from equipment.services.facts import lock_facility

# Between tries after a transient failure; the last one repeats without end, since a mail is never given up for the
# server's sake (common practice, no source).
BACK_OFF_MINUTES = (1, 2, 4, 8, 15)


@transaction.atomic
def settle_sent(claimed: Claim, notices: Sequence[Notice], *, now: datetime) -> None:
    """The mail that carried them was taken; the person's minute begins."""
    told = Alarm.objects.filter(notices__in=notices).exclude(untold_since=None).order_by("pk")
    if connection.features.has_select_for_update:
        told = told.select_for_update(of=("self",))
    ids = list(told.values_list("pk", flat=True))
    Alarm.objects.filter(pk__in=ids).update(untold_since=None, untold_reason=None)
    _attempts(notices, SENT, now=now)
    _rows(notices).update(sent_at=now, failed_at=None, claimed_until=None, tries=F("tries") + 1)
    give_back(claimed, next_at=now + MAIL_GAP)


@transaction.atomic
def settle_later(notices: Sequence[Notice], answer: Answer, *, now: datetime) -> None:
    """To be tried again, each after its own wait."""
    _attempts(notices, answer, now=now)
    for tries in {one.tries for one in notices}:
        alike = [one for one in notices if one.tries == tries]
        _rows(alike).update(try_at=now + _wait(tries), claimed_until=None, tries=tries + 1)


@transaction.atomic
def settle_never(notice: Notice, answer: Answer, *, now: datetime) -> None:
    """Refused for good: sent is not told, so somebody else is called now."""
    alarm = _locked_alarm(notice)
    _attempts([notice], answer, now=now)
    _rows([notice]).filter(sent_at=None).update(failed_at=now, claimed_until=None, tries=F("tries") + 1)
    climb(alarm, notice, now=now)


@transaction.atomic
def settle_unseen(notice: Notice, *, now: datetime) -> None:
    """Not sent, since its person's organisation may not see the facility any more; somebody else is called now."""
    alarm = _locked_alarm(notice)
    waiting = _rows([notice]).filter(IS_UNSENT, free(now))
    if waiting.update(withdrawn_at=now, digest=None):
        climb(alarm, notice, now=now)


def _rows(notices: Sequence[Notice]) -> QuerySet[Notice]:
    return Notice.objects.filter(pk__in=[one.pk for one in notices])


def _attempts(notices: Sequence[Notice], answer: Answer, *, now: datetime) -> None:
    Attempt.objects.bulk_create(
        Attempt(notice=one, at=now, outcome=answer.outcome, code=answer.code[:20], text=answer.text)
        for one in notices
    )


def _wait(tries: int) -> timedelta:
    return timedelta(minutes=BACK_OFF_MINUTES[min(tries, len(BACK_OFF_MINUTES) - 1)])


def _locked_alarm(notice: Notice) -> Alarm:
    lock_facility(notice.facility_id)
    rows = Alarm.objects.select_related("facility", "component")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    return rows.get(notices=notice)
