"""Tells alarms which clock of the law runs for them, so that the next mail can say so."""

from alarms.services.clocks import note_clock
from compliance.gather_alarms import alarm_of_ref
from compliance.models import Obligation, StandingWord
from compliance.services.obligations import Moves
from equipment.models import Facility

RUNNING = (StandingWord.DUE_SOON, StandingWord.OVERDUE)


def tell_alarms(facility: Facility, moves: Moves) -> None:
    """Note at each alarm whose obligations moved the hour clock that ends first, or that none runs any more."""
    subjects = {move.either.subject for move in moves if move.either.subject_kind == "alarm"}
    if not subjects:
        return
    rows = Obligation.objects.filter(facility=facility, subject__in=subjects, standing__in=RUNNING)
    last_first = rows.exclude(due_at=None).order_by("-due_at", "-pk")
    clocks = {row.subject: row for row in last_first}
    for subject in sorted(subjects):
        number = alarm_of_ref(subject)
        clock = clocks.get(subject)
        if number is not None:
            note_clock(
                alarm_id=number,
                text=f"{clock.title} ({clock.cite})"[:400] if clock else None,
                until=clock.due_at if clock else None,
            )
