"""Tells alarms which clock of the law runs for them, so that the next mail can say so."""

from datetime import datetime

from alarms.models import Alarm
from alarms.services.clocks import note_clock
from compliance.gather_alarms import alarm_of_ref
from compliance.models import Obligation, StandingWord
from compliance.services.obligations import Moves
from equipment.models import Facility

RUNNING = (StandingWord.DUE_SOON, StandingWord.OVERDUE)


def tell_alarms(facility: Facility, moves: Moves, *, now: datetime) -> None:
    """Note at each alarm whose obligations moved the hour clock that ends first, or that none runs any more.

    A clock of an alarm runs from its discovery, which is its raise unless another moment was stated (40 CFR 280.50).
    """
    subjects = {move.either.subject for move in moves if move.either.subject_kind == "alarm"}
    if not subjects:
        return
    rows = Obligation.objects.filter(facility=facility, subject__in=subjects, standing__in=RUNNING)
    last_first = rows.exclude(due_at=None).order_by("-due_at", "-pk")
    clocks = {row.subject: row for row in last_first}
    numbers = {subject: alarm_of_ref(subject) for subject in sorted(subjects)}
    alarms = Alarm.objects.in_bulk([number for number in numbers.values() if number is not None])
    for subject, number in numbers.items():
        clock = clocks.get(subject)
        alarm = alarms.get(number) if number is not None else None
        if alarm is not None:
            note_clock(
                alarm_id=alarm.pk,
                text=f"{clock.title} ({clock.cite})"[:400] if clock else None,
                since=(alarm.discovered_at or alarm.raised_at) if clock else None,
                until=clock.due_at if clock else None,
                now=now,
            )
