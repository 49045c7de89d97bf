"""Sends what is written down: claim, send outside any transaction, mark. A crash may repeat a mail, never lose one."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import F, Q

from alarms import delivery
from alarms.delivery import LATER, NEVER, SENT, Answer, answer_of, is_servers
from alarms.models import Alarm, Attempt, Notice
from alarms.models.notices import IS_UNSENT
from alarms.services.climbing import climb
from alarms.services.mail import compose
from equipment.services.facts import lock_facility

# Longer than any send takes; when it ends, another worker takes the notice over.
LEASE = timedelta(minutes=3)
# Between tries after a transient failure; the last one repeats without end, since a mail is never given up for the
# server's sake (common practice, no source).
BACK_OFF_MINUTES = (1, 2, 4, 8, 15)
# A mail that cannot even be written is a fault of ours: after so many tries the next people are told.
MAX_OWN_FAULTS = 5
log = logging.getLogger(__name__)


def send_due(*, now: datetime, clock: Callable[[], datetime], limit: int) -> int:
    """Try up to `limit` notices whose turn has come by `now`; how many were tried here.

    `clock` tells the time of each claim and mark. Fresh notices go before those that failed already, and one that
    breaks keeps none of the others waiting.
    """
    turn = Notice.objects.filter(IS_UNSENT, _free(now), try_at__lte=now).order_by("tries", "due_at", "pk")
    tried = 0
    for pk in list(turn.values_list("pk", flat=True)[:limit]):
        try:
            tried += _send_one(pk, clock)
        except Exception:
            log.exception("could not mark notice %s; it is tried again when its claim ends", pk)
    return tried


def _free(now: datetime) -> Q:
    return Q(claimed_until=None) | Q(claimed_until__lte=now)


def _send_one(pk: int, clock: Callable[[], datetime]) -> int:
    """1 when this worker had the notice, 0 when another one has it or it is settled."""
    now = clock()
    if not Notice.objects.filter(IS_UNSENT, _free(now), pk=pk).update(claimed_until=now + LEASE):
        return 0
    notice = Notice.objects.get(pk=pk)
    _settle(notice, _try(notice, now), now=clock())
    return 1


def _try(notice: Notice, now: datetime) -> Answer:
    try:
        alarm = Alarm.objects.select_related("facility", "component").get(notices=notice)
        if not compose(notice, alarm, now=now).send():
            return Answer(LATER, "", "the mail system took no recipient")
    except Exception as error:
        answer = answer_of(error)
        log.warning("notice %s was not sent: %s", notice.pk, answer.text, exc_info=not is_servers(error))
        hopeless = not is_servers(error) and notice.tries + 1 >= MAX_OWN_FAULTS
        return answer._replace(outcome=NEVER) if hopeless else answer
    return SENT


@transaction.atomic
def _settle(notice: Notice, answer: Answer, *, now: datetime) -> None:
    """Write down what came of the try. Facility, alarm, notice: the lock order."""
    alarm = _locked_alarm(notice) if answer.outcome == NEVER else None
    Attempt.objects.create(
        notice=notice, at=now, outcome=answer.outcome, code=answer.code[:20], text=answer.text
    )
    row = Notice.objects.filter(pk=notice.pk)
    match answer.outcome:
        case delivery.DONE:
            Alarm.objects.filter(notices=notice).exclude(untold_since=None).update(
                untold_since=None, untold_reason=None
            )
            row.update(sent_at=now, failed_at=None, claimed_until=None, tries=F("tries") + 1)
        case delivery.LATER:
            row.update(try_at=now + _wait(notice.tries), claimed_until=None, tries=F("tries") + 1)
        case _:
            row.filter(sent_at=None).update(failed_at=now, claimed_until=None, tries=F("tries") + 1)
    if alarm is not None:
        climb(alarm, notice, now=now)


def _wait(tries: int) -> timedelta:
    return timedelta(minutes=BACK_OFF_MINUTES[min(tries, len(BACK_OFF_MINUTES) - 1)])


def _locked_alarm(notice: Notice) -> Alarm:
    lock_facility(notice.facility_id)
    rows = Alarm.objects.select_related("facility", "component")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(of=("self",))
    return rows.get(notices=notice)
