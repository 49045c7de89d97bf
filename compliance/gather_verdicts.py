"""What the records on file come to by their own numbers: each judged in the setting of its day and its subjects.

The setting is that of the day of the test: the facility's jurisdictions and the device's type as a dated change last
said by then, else as the register says; and the chart that the tank had that day.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from compliance.protocols import Counted, Setting, counted, verdict
from compliance.protocols.registry import CHARTED
from equipment.activities.catalogue import catalogue
from equipment.models import (
    Component,
    Facility,
    FieldChange,
    OverfillDevice,
    PipingRun,
    Record,
    Tank,
    TankChart,
)
from equipment.physics.charts import Chart
from equipment.queries import chart_on

Charts = Mapping[int, list[TankChart]]
# 40 CFR 280.252(d): piping of field-constructed tanks over this size may follow the table of bulk piping.
BULK_TANK_GAL = 50_000
_Of = tuple[int | None, str]


class Settings:
    """What each record of one facility is judged in. `changes` stand oldest first, `charts` as `chart_rows_of` does."""

    def __init__(
        self,
        facility: Facility,
        components: Iterable[Component],
        changes: Iterable[FieldChange],
        charts: Charts,
    ) -> None:
        self._facility = facility
        self._components = {one.pk: one for one in components}
        self._charts = charts
        self._read: dict[int, Chart] = {}
        self._changes: dict[_Of, list[FieldChange]] = defaultdict(list)
        for change in changes:
            self._changes[change.component_id, change.field].append(change)

    def of(self, record: Record) -> list[Setting]:
        """One setting for each sort of subject; several buckets of one record share theirs."""
        subjects = [one.component_id for one in getattr(record, "named_subjects", [])]
        found = (self._of(record.performed_on, one, record.activity in CHARTED) for one in subjects or [None])
        return list(dict.fromkeys(found))

    def _of(self, day: date, subject: int | None, charted: bool) -> Setting:
        component = self._components.get(subject or 0)
        device = component if isinstance(component, OverfillDevice) else None
        jurisdictions = self._on(day, None, "jurisdictions", self._facility.jurisdictions)
        return Setting(
            on=day,
            jurisdictions=tuple(jurisdictions or ()),
            overfill_type=None
            if device is None
            else self._on(day, device.pk, "overfill_type", device.overfill_type),
            chart=self._chart(day, component) if charted else None,
            bulk_piping=isinstance(component, PipingRun) and self._is_bulk(component),
        )

    def _is_bulk(self, run: PipingRun) -> bool:
        """Whether its system holds an airport hydrant system's tank, or a field-constructed one over 50,000 gal."""
        tanks = [one for one in self._components.values() if isinstance(one, Tank)]
        return any(
            tank.airport_hydrant_system
            or (tank.field_constructed and (tank.compartment_capacity_gallons or 0) > BULK_TANK_GAL)
            for tank in tanks
            if run.parent_id is not None and run.parent_id in (tank.pk, tank.parent_id)
        )

    def _chart(self, day: date, component: Component | None) -> Chart | None:
        """Of the nearest place upwards that has one: the compartment, then the tank."""
        while component is not None:
            row = chart_on(self._charts.get(component.pk, ()), day)
            if row is not None:
                if row.pk not in self._read:
                    self._read[row.pk] = row.chart
                return self._read[row.pk]
            component = self._components.get(component.parent_id or 0)
        return None

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
