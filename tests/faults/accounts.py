"""Holds what is on file and what the mail server took against what had to happen, alarm by alarm."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from alarms.causes import alarm_cause
from alarms.escalation import PROMPT, REPEAT_MINUTES, Call, Plan, call_at, foreseen
from alarms.models import Alarm, Notice
from tests.faults.catcher import Taken


@dataclass
class Account:
    """Counts of a run; `wrong` says in words what must not be, and is empty after a good one."""

    alarms: int = 0
    notices_foreseen: int = 0
    notices: int = 0
    overtaken: int = 0
    mails_owed: int = 0
    mails_taken: int = 0
    mails_taken_again: int = 0
    wrong: list[str] = field(default_factory=list)


def settle(plans: Mapping[int, Plan], taken: Sequence[Taken], *, until: datetime) -> Account:
    """Every call due by `until` of every alarm at these facilities (plans by id), against notices and mails.

    Nobody answered any alarm. Of repeats that came due before anybody looked only the newest is called, so that an
    earlier one may be missing if the next was due too when it was written down; these are `overtaken`.
    """
    account = Account(mails_taken=len(taken))
    by_alarm: dict[int, list[Notice]] = defaultdict(list)
    for notice in Notice.objects.filter(due_at__lte=until).select_related("digest"):
        by_alarm[notice.alarm_id or 0].append(notice)
    mails = Counter((one.message_id, one.to) for one in taken)
    told: dict[str, set[str]] = {}
    for alarm in Alarm.objects.all():
        account.alarms += 1
        plan = plans[alarm.facility_id]
        repeats = (until - alarm.opened_at) // timedelta(minutes=plan.repeat_minutes or REPEAT_MINUTES)
        calls = foreseen(plan, raised_at=alarm.opened_at, repeats=repeats + 1)
        told[alarm.device] = {person.email for call in calls for person in call.recipients}
        due = [call for call in calls if call.due_at <= until]
        _compare(account, alarm, _as_made(plan, due, by_alarm[alarm.pk]), by_alarm.pop(alarm.pk))
    account.wrong += [f"notice {one.pk} is of no alarm here" for rest in by_alarm.values() for one in rest]
    _compare_mails(account, taken, mails, told, until)
    return account


def _as_made(plan: Plan, calls: Iterable[Call], notices: Sequence[Notice]) -> list[Call]:
    """The calls with their people; a call that was made late goes to whoever could be reached when it was made."""
    made = {one.step: one.created_at for one in notices}
    return [
        call
        if made.get(call.number, call.due_at) - call.due_at <= PROMPT
        else call_at(plan, call.number, due_at=call.due_at, as_of=made[call.number]) or call
        for call in calls
    ]


def _compare(account: Account, alarm: Alarm, calls: Sequence[Call], notices: Iterable[Notice]) -> None:
    """Notices of one alarm, one a call and person, no more and no fewer."""
    found: Counter[tuple[int, str, datetime]] = Counter()
    made: dict[int, datetime] = {}
    for one in notices:
        account.notices += 1
        found[one.step, one.email, one.due_at] += 1
        made[one.step] = one.created_at
        if one.cause != alarm_cause(alarm.pk):
            account.wrong.append(f"{one} names another cause than alarm {alarm.pk}")
    for call, after in zip(calls, [*calls[1:], None], strict=True):
        for person in call.recipients:
            account.notices_foreseen += 1
            times = found.pop((call.number, person.email, call.due_at), 0)
            if times == 0 and after is not None and _overtaken(after, made):
                account.overtaken += 1
            elif times != 1:
                account.wrong.append(f"alarm {alarm.pk}, call {call.number}, {person.email}: {times} notices")
    account.wrong += [f"alarm {alarm.pk}: nobody foresaw {key}" for key in found]


def _overtaken(after: Call, made: Mapping[int, datetime]) -> bool:
    later = [made[number] for number in sorted(made) if number >= after.number]
    return bool(later) and later[0] >= after.due_at


def _compare_mails(
    account: Account,
    taken: Sequence[Taken],
    mails: Counter[tuple[str, str]],
    told: Mapping[str, set[str]],
    until: datetime,
) -> None:
    """Every notice's mail was taken at least once and names its alarm; no mail names an alarm to a stranger to it."""
    named: dict[tuple[str, str], set[str]] = defaultdict(set)
    for one in taken:
        named[one.message_id, one.to] |= one.devices
    for notice in Notice.objects.filter(due_at__lte=until).select_related("digest", "alarm"):
        account.mails_owed += 1
        mail = (notice.carried_as, notice.email)
        if mails[mail] == 0 or notice.sent_at is None:
            account.wrong.append(f"{notice} was never handed over")
        elif notice.alarm is None or notice.alarm.device not in named[mail]:
            account.wrong.append(f"{notice} is missing from the mail that carried it")
    account.mails_taken_again = sum(times - 1 for times in mails.values())
    for one in taken:
        strange = [device for device in one.devices if one.to not in told[device]]
        account.wrong += [f"{one.to} was told of {device} by mistake" for device in strange]
