"""Confirmed releases, held against the alarms on file: a slip in the number would leave that alarm's clock running."""

from typing import Any

from alarms.models import Alarm
from equipment.faults import Fault, refuse
from equipment.models import Facility, Release
from equipment.services import happenings


def state_release(*, facility: Facility, alarm: int | None, **stated: Any) -> Release:
    """As `equipment.services.happenings.state_release`; raises `Invalid` at `/alarm` where the facility has none."""
    if alarm is not None and not Alarm.objects.filter(facility=facility, pk=alarm).exists():
        refuse([Fault("/alarm", f"no alarm {alarm} at this facility", "unknown")])
    return happenings.state_release(facility=facility, alarm=alarm, **stated)
