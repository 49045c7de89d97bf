"""Alarms of a device that nobody had registered go over to its component once that is on file."""

from datetime import datetime
from typing import Any

from django.db.models import Q

from alarms.lifecycle import State
from alarms.matching import Key
from alarms.models import Alarm, Event
from alarms.models.alarms import IS_OPEN
from alarms.services import episodes
from alarms.services.calls import end_calls
from alarms.services.episode_rows import classes_of, write
from alarms.services.registered import Registered
from equipment.models import Facility
from equipment.services.facts import touch


def adopt(facility: Facility, registered: Registered, *, now: datetime) -> None:
    """Move each open alarm, with its messages, to the component that goes by its device's name now.

    Otherwise the clear that comes from the component could never end it. Where the component has an open alarm of the
    same condition by now, both are counted again as one. The caller holds the facility.
    """
    strangers = Alarm.objects.filter(IS_OPEN, facility=facility, component=None).exclude(device="")
    for alarm in strangers.order_by("pk"):
        day = alarm.last_raised_at.astimezone(registered.zone).date()
        component = registered.directory.find(alarm.device, day)
        if component is not None:
            _move(facility, alarm, Key(component, "", alarm.condition), now=now)


def _move(facility: Facility, alarm: Alarm, key: Key, *, now: datetime) -> None:
    messages = Q(alarm=alarm) | Q(alarm=None, component=None, device=alarm.device, condition=alarm.condition)
    Event.objects.filter(messages, facility=facility).update(component=key.component)
    there = Alarm.objects.filter(IS_OPEN, facility=facility, component=key.component, condition=key.condition)
    place: dict[str, Any] = {
        "component": key.component,
        "device": "",
        "condition_class": classes_of([key])[key],
    }
    twin = there.first()
    if twin is not None:
        # The database allows one open alarm for a place and condition: which of them it is comes out of the count.
        end_calls([alarm.pk], now=now)
        place |= {"merged_into": twin, "merged_at": now, "state": State.NORMAL, "shelved_until": None}
    Alarm.objects.filter(pk=alarm.pk).update(**place)
    if twin is not None:
        write(facility, episodes.count_anew(facility, key, since=alarm.raised_at, now=now), now=now)
    touch(facility.pk)
