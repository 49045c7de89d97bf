"""What a test is judged in, beside its own numbers: the day, the jurisdictions, and facts of the component."""

from datetime import date

import msgspec

from compliance.protocols.criteria import InForce, in_force
from equipment.physics.charts import Chart


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """`on` is the day of the test; `jurisdictions` stand widest first. The rest is None when nobody knows.

    `overfill_type` in the register's words: automatic shutoff, high-level alarm, vent flow restrictor. `chart` is the
    tank's own. `bulk_piping`: the line belongs to an airport hydrant system, or to a field-constructed tank over
    50,000 gal.
    """

    on: date
    jurisdictions: tuple[str, ...] = ("us-federal",)
    overfill_type: str | None = None
    chart: Chart | None = None
    bulk_piping: bool = False

    @property
    def numbers(self) -> InForce:
        return in_force(self.on, self.jurisdictions)
