"""Plans function checks, ends them early and takes them back."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from alarms.exercises import DAY, MAX_TOGETHER, Window, lacks_of, too_much
from alarms.models import Exercise, ExerciseSensor
from equipment.faults import Conflict, Fault, no_component, refuse
from equipment.models import Component, Facility, Organisation
from equipment.services.facts import lock_facility
from equipment.services.stating import state_fact, withdraw_fact
from equipment.vocabulary import Kind

MAX_SENSORS = 100


@transaction.atomic
def plan_exercise(
    *,
    facility: Facility,
    submitted_by: Organisation,
    led_by: str,
    sensors: Sequence[str],
    starts_at: datetime | None,
    ends_at: datetime,
    note: str | None,
    by: str,
    now: datetime,
) -> Exercise:
    """Plan a function check of the sensors, by tag. `starts_at` None: from now on.

    Raises `Invalid` with a pointer to each fault: a window that has begun, is too long or too far ahead, a tag that is
    no sensor here or was taken out, a sensor that has another check in that time or too many around it.
    """
    facility = lock_facility(facility.pk)
    window = Window(starts_at or now, ends_at)
    found = {one.tag: one for one in Component.objects.filter(facility=facility, tag__in=sensors)}
    refuse(Fault(f"/{lack.field}", lack.detail, lack.code) for lack in lacks_of(window, now=now))
    refuse(_unfit(sensors, found, facility, window))
    refuse(_taken(sensors, facility, window))
    exercise = state_fact(
        Exercise,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields={"led_by": led_by, "starts_at": window.starts_at, "ends_at": ends_at, "note": note},
    )
    ExerciseSensor.objects.bulk_create(
        ExerciseSensor(exercise=exercise, component=found[tag]) for tag in sensors
    )
    return exercise


@transaction.atomic
def end_exercise(*, exercise: Exercise, by: str, now: datetime) -> Exercise:
    """End it now, before its planned end; whatever still is in alarm is real from then on. Once ended it stays so."""
    lock_facility(exercise.facility_id)
    exercise.refresh_from_db()
    if exercise.withdrawn_at is not None:
        raise Conflict(f"It was withdrawn, because: {exercise.withdrawn_reason}")
    if exercise.ended_at is not None:
        return exercise
    if now < exercise.starts_at:
        raise Conflict(
            f"It begins at {exercise.starts_at.isoformat()}; withdraw it if it is not to take place."
        )
    if now < exercise.ends_at:
        exercise.ended_at, exercise.ended_by = now, by
        exercise.save(update_fields=["ended_at", "ended_by"])
    return exercise


@transaction.atomic
def withdraw_exercise(
    *, exercise: Exercise, organisation: Organisation, reason: str, by: str, now: datetime
) -> Exercise:
    """Take back a check that has not begun. One that has is a fact about the alarms in it, and can only be ended."""
    lock_facility(exercise.facility_id)
    exercise.refresh_from_db()
    if exercise.withdrawn_at is None and now >= exercise.starts_at:
        raise Conflict(f"It began at {exercise.starts_at.isoformat()}; end it instead.")
    return withdraw_fact(fact=exercise, organisation=organisation, reason=reason, by=by, now=now)


def _unfit(
    sensors: Sequence[str], found: Mapping[str, Component], facility: Facility, window: Window
) -> Iterator[Fault]:
    day = window.starts_at.astimezone(ZoneInfo(facility.time_zone)).date()
    if not 1 <= len(sensors) <= MAX_SENSORS:
        yield Fault("/sensors", f"name 1 to {MAX_SENSORS} sensors; this names {len(sensors)}", "count")
    for index, tag in enumerate(sensors):
        place, component = f"/sensors/{index}", found.get(tag)
        if tag in sensors[:index]:
            yield Fault(place, f"{tag} stands twice; name each sensor once", "repeated")
        elif component is None:
            yield no_component(place, tag)
        elif component.kind != Kind.SENSOR:
            detail = f"{tag} is a {component.get_kind_display()}; name the sensor that is to be driven"
            yield Fault(place, detail, "wrong-kind")
        elif component.removed_on is not None and component.removed_on <= day:
            yield Fault(place, f"{tag} was removed on {component.removed_on}", "removed")


def _taken(sensors: Sequence[str], facility: Facility, window: Window) -> Iterator[Fault]:
    """Sensors that have a check in that time, since an alarm belongs to one at most, or too many around it."""
    rows = ExerciseSensor.objects.filter(
        exercise__facility=facility,
        exercise__withdrawn_at=None,
        exercise__starts_at__gt=window.starts_at - DAY,
        exercise__starts_at__lt=window.starts_at + DAY,
        component__tag__in=sensors,
    )
    others: dict[str, list[Exercise]] = defaultdict(list)
    for row in rows.select_related("exercise", "component").order_by("pk"):
        others[row.component.tag].append(row.exercise)
    for index, tag in enumerate(sensors):
        place = f"/sensors/{index}"
        inside = next((one for one in others[tag] if one.window.overlaps(window)), None)
        if inside is not None:
            detail = (
                f"{tag} has function check {inside.pk} from {inside.window.starts_at.isoformat()} to "
                f"{inside.window.ends_at.isoformat()}; choose another time, or withdraw that one"
            )
            yield Fault(place, detail, "overlap")
        elif too_much(window, [one.window for one in others[tag]]):
            hours = int(MAX_TOGETHER.total_seconds()) // 3600
            detail = f"{tag} would be under check for more than {hours} hours within a day; plan it for another day"
            yield Fault(place, detail, "too-long")
