"""What the records on file come to by their own numbers: each judged in the setting of its day and its subjects.

The setting is that of the day of the test: the facility's jurisdictions and the device's type as a dated change last
said by then, else as the register says.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from compliance.protocols import Counted, Setting, counted, verdict
from equipment.activities.catalogue import catalogue
from equipment.models import Component, Facility, FieldChange, OverfillDevice, Record

_Of = tuple[int | None, str]


class Settings:
    """What each record of one facility is judged in. `changes` stand oldest first."""

    def __init__(
        self, facility: Facility, components: Iterable[Component], changes: Iterable[FieldChange]
    ) -> None:
        self._facility = facility
        self._devices = {one.pk: one for one in components if isinstance(one, OverfillDevice)}
        self._changes: dict[_Of, list[FieldChange]] = defaultdict(list)
        for change in changes:
            self._changes[change.component_id, change.field].append(change)

    def of(self, record: Record) -> list[Setting]:
        """One setting for each sort of subject; several buckets of one record share theirs."""
        subjects = [one.component_id for one in getattr(record, "named_subjects", [])]
        return list(
            dict.fromkeys(self._of(record.performed_on, component) for component in subjects or [None])
        )

    def _of(self, day: date, component: int | None) -> Setting:
        device = self._devices.get(component or 0)
        jurisdictions = self._on(day, None, "jurisdictions", self._facility.jurisdictions)
        return Setting(
            on=day,
            jurisdictions=tuple(jurisdictions or ()),
            overfill_type=None
            if device is None
            else self._on(day, device.pk, "overfill_type", device.overfill_type),
        )

    def _on(self, day: date, component: int | None, field: str, register: Any) -> Any:
        said = [one.value for one in self._changes.get((component, field), ()) if one.effective_on <= day]
        return said[-1] if said else register


def counted_records(records: Iterable[Record], settings: Settings) -> Mapping[int, Counted]:
    """What counts of each record, by its id. The records bring their subjects (`queries.records_of`)."""
    return {record.pk: _counted(record, settings) for record in records}


def _counted(record: Record, settings: Settings) -> Counted:
    activity = catalogue().get(record.activity)
    found = (
        verdict(record.activity, record.measurements, record.outcome, setting=setting)
        for setting in settings.of(record)
    )
    return counted(
        record.outcome,
        [each for each in found if each is not None],
        outcome_used=activity is not None and activity.outcome_used,
    )
