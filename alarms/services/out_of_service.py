"""Out of service: an alarm is kept quiet while its equipment is worked on, until a repair is on file."""

from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from alarms.lifecycle import STEPS, Step
from alarms.models import Alarm, AlarmStep
from alarms.services.exercise_marks import refuse_while_exercised
from alarms.services.stepping import Stated, StepNotAllowed, lock_alarm, refusal, take_step
from equipment.faults import Fault, refuse
from equipment.models import Component, Record

# Activities that put equipment right (40 CFR 280.33; 280.12).
REPAIRS = ("repair", "piping-replacement")


@transaction.atomic
def take_out(*, alarm: Alarm, by: str, reason: str, now: datetime) -> Alarm:
    """Keep the alarm quiet until somebody returns it to service. Raises `StepNotAllowed`.

    It counts as an answer; a running clock of the law calls all the same.
    """
    standing = lock_alarm(alarm.pk)
    refuse_while_exercised(standing)
    return take_step(standing, Stated(step=Step.TAKE_OUT, by=by, note=reason), now=now)


@transaction.atomic
def return_to_service(*, alarm: Alarm, by: str, note: str | None, record: int, now: datetime) -> Alarm:
    """Bring it back with the number of the record of the repair.

    Raises `StepNotAllowed`, or `Invalid` for a record that is not on file here, does not stand, is of something else,
    or was made before.
    """
    standing = lock_alarm(alarm.pk)
    if (standing.state, Step.RETURN) not in STEPS:
        raise StepNotAllowed(refusal(standing.state, Step.RETURN))
    taken = AlarmStep.objects.filter(alarm=standing, kind=Step.TAKE_OUT).order_by("-through", "-pk").first()
    found = Record.objects.filter(pk=record, facility=standing.facility_id).first()
    if found is None:
        refuse([Fault("/record", f"no record {record} at this facility", "unknown")])
    assert found is not None
    refuse(_unfit(found, standing, since=taken.at if taken is not None else standing.raised_at))
    stated = Stated(step=Step.RETURN, by=by, note=note, record=found)
    return take_step(standing, stated, now=now)


def _unfit(record: Record, alarm: Alarm, *, since: datetime) -> Iterator[Fault]:
    zone = ZoneInfo(alarm.facility.time_zone)
    if record.withdrawn_at is not None:
        yield Fault("/record", f"was withdrawn, because: {record.withdrawn_reason}", "withdrawn")
    elif hasattr(record, "superseded_by"):
        number = record.superseded_by.pk
        yield Fault("/record", f"was corrected by record {number}; name that one", "superseded")
    if record.activity not in REPAIRS:
        detail = f"is a record of {record.activity}; name one of: {', '.join(REPAIRS)}"
        yield Fault("/record", detail, "wrong-kind")
    elif not _is_about(record, alarm.component):
        tag = alarm.component.tag if alarm.component is not None else ""
        detail = (
            f"is not about {tag}, what it sits in, or a part of it; name the repair of what gave the alarm"
        )
        yield Fault("/record", detail, "wrong-kind")
    done = record.performed_at
    if done < since if done is not None else record.performed_on < since.astimezone(zone).date():
        detail = f"was made before the alarm was taken out of service at {since.isoformat()}"
        yield Fault("/record", detail, "order")


def _is_about(record: Record, component: Component | None) -> bool:
    """The repair of the component, of what it sits in (a sensor's sump), or of a part of it."""
    if component is None:
        return True
    subjects = list(record.subjects.select_related("parent__parent__parent"))
    return any(one.pk == component.parent_id or component in _line(one) for one in subjects)


def _line(component: Component) -> Iterator[Component]:
    """It, and whatever it is a part of."""
    place: Component | None = component
    while place is not None:
        yield place
        place = place.parent
