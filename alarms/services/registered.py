"""What the register says of the places that devices report about: their names, their first and their last days."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from alarms.matching import Directory, Named
from equipment.models import Component, Facility
from equipment.vocabulary import Kind


@dataclass(frozen=True)
class Registered:
    """The components of one facility by name and by id. A day is None where nobody said, or where there is none.

    `place`: the kind of the component, for a sensor that of what it hangs on where that is known.
    """

    directory: Directory
    zone: ZoneInfo
    installed: Mapping[int, date | None]
    removed: Mapping[int, date | None]
    place: Mapping[int, str]

    def first_day(self, component: int | None) -> date | None:
        """Before this local day nothing can have been reported from there; None when that is not known.

        A component's own day; for the facility as a whole, and for a device nobody registered, the day of its oldest
        component, which is known only when the day of every component is.
        """
        if component is not None:
            return self.installed[component]
        days = [day for day in self.installed.values() if day is not None]
        return min(days) if days and len(days) == len(self.installed) else None


def registered_at(facility: Facility) -> Registered:
    """The facility's components, in one query; removed ones too."""
    rows = Component.objects.filter(facility=facility)
    named = ("pk", "tag", "label", "installed_on", "removed_on")
    found = list(rows.values_list(*named, "kind", "parent__kind"))
    return Registered(
        directory=Directory(Named(*row[: len(named)]) for row in found),
        zone=ZoneInfo(facility.time_zone),
        installed={pk: installed for pk, _, _, installed, *_ in found},
        removed={pk: removed for pk, _, _, _, removed, *_ in found},
        place={
            pk: (above if kind == Kind.SENSOR and above else kind) for pk, _, _, _, _, kind, above in found
        },
    )
