"""Sends what is written down: claim, send outside any transaction, mark. A crash may repeat a mail, never lose one."""

import logging
from collections.abc import Callable, Sequence
from datetime import datetime

from django.core.mail import EmailMultiAlternatives

from alarms.delivery import DONE, LATER, NEVER, SENT, Answer, answer_of, is_servers
from alarms.models import Alarm, Notice
from alarms.services.digest_mail import Entry, compose_digest, entry_of
from alarms.services.lost_access import withdraw_unseen
from alarms.services.mail import compose
from alarms.services.mailboxes import MAIL_GAP, Claim, Person, claim, give_back, whose_turn
from alarms.services.parcels import Parcel, take
from alarms.services.settling import settle_later, settle_never, settle_sent

# A mail that cannot even be written is a fault of ours: after so many tries the next people are told.
MAX_OWN_FAULTS = 5
log = logging.getLogger(__name__)


def send_due(*, now: datetime, clock: Callable[[], datetime], limit: int) -> int:
    """Send up to `limit` people the mail that is owed to them by `now`; how many mails were tried, or taken back.

    `clock` tells the time of each claim and mark. What is due for a person when their turn comes goes in one mail; then
    they have a minute's rest. Fresh notices go before those that failed already, and one that breaks keeps none of the
    others waiting.
    """
    tried = 0
    for person in whose_turn(now=now, limit=limit):
        try:
            tried += _send_to(person, clock)
        except Exception:
            log.exception("could not mark mails to organisation %s; tried again later", person.organisation)
    return tried


def _send_to(person: Person, clock: Callable[[], datetime]) -> int:
    """1 when this worker had a mail to send or to take back, 0 when another one has it or nothing is left."""
    now = clock()
    claimed = claim(person, now=now)
    if claimed is None:
        return 0
    withdrawn = withdraw_unseen(person, now=now)
    parcel = take(claimed, now=now)
    if parcel is None:
        give_back(claimed, next_at=now)
        return min(withdrawn, 1)
    if parcel.digest is None:
        _settle(claimed, parcel.notices, _try_one(parcel.notices[-1], now), clock)
    else:
        _send_together(claimed, parcel, clock)
    return 1


def _try_one(notice: Notice, now: datetime) -> Answer:
    try:
        alarm = Alarm.objects.select_related("facility", "component").get(notices=notice)
        return _hand_over(compose(notice, alarm, now=now))
    except Exception as error:
        return _answer(error, [notice])


def _send_together(claimed: Claim, parcel: Parcel, clock: Callable[[], datetime]) -> None:
    """One mail for all; a notice that cannot be written is put aside, so that it does not hold up the others."""
    entries, broken = _entries(parcel.notices)
    good = [entry.notice for entry in entries]
    answer = SENT
    if parcel.digest is not None and entries:
        try:
            answer = _hand_over(compose_digest(parcel.digest, entries))
        except Exception as error:
            answer = _answer(error, good)
    _settle(claimed, good, answer, clock)
    if broken:
        Notice.objects.filter(pk__in=[notice.pk for notice, _ in broken]).update(digest=None)
    for notice, fault in broken:
        _settle_failed([notice], fault, clock)


def _entries(notices: Sequence[Notice]) -> tuple[list[Entry], list[tuple[Notice, Answer]]]:
    alarms = Alarm.objects.select_related("facility", "component", "exercise").in_bulk(
        [one.alarm_id for one in notices if one.alarm_id is not None]
    )
    entries, broken = [], []
    for notice in notices:
        try:
            entries.append(entry_of(notice, alarms[notice.alarm_id or 0]))
        except Exception as error:
            broken.append((notice, _answer(error, [notice])))
    return entries, broken


def _hand_over(mail: EmailMultiAlternatives) -> Answer:
    return SENT if mail.send() else Answer(LATER, "", "the mail system took no recipient")


def _answer(error: Exception, notices: Sequence[Notice]) -> Answer:
    answer = answer_of(error)
    names = ", ".join(str(one.pk) for one in notices[:10])
    log.warning("notice %s was not sent: %s", names, answer.text, exc_info=not is_servers(error))
    hopeless = not is_servers(error) and max(one.tries for one in notices) + 1 >= MAX_OWN_FAULTS
    return answer._replace(outcome=NEVER) if hopeless else answer


def _settle(claimed: Claim, notices: Sequence[Notice], answer: Answer, clock: Callable[[], datetime]) -> None:
    if answer.outcome == DONE and notices:
        settle_sent(claimed, notices, now=clock())
        return
    _settle_failed(notices, answer, clock)
    now = clock()
    # A lost connection may have left the mail with the server. A refusal has not: whoever comes next need not wait.
    give_back(claimed, next_at=now + MAIL_GAP if answer.outcome == LATER else now)


def _settle_failed(notices: Sequence[Notice], answer: Answer, clock: Callable[[], datetime]) -> None:
    if answer.outcome == LATER:
        settle_later(notices, answer, now=clock())
    elif answer.outcome == NEVER:
        for notice in notices:
            settle_never(notice, answer, now=clock())
