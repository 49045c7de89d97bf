"""Shapes of a ledger's days as they are stated and as they are answered."""

from datetime import date
from typing import Any

import msgspec
from rest_framework import serializers

from equipment.api.fields import DayField
from equipment.api.scalars import IdField, NumberField, TextField, WordField, YesNoField
from equipment.api.serializers import StrictSerializer
from equipment.models import InventoryDay
from equipment.physics.ledger import line_refill
from equipment.physics.ledger_entries import Entry
from equipment.physics.ledger_readings import KEPT
from equipment.services.inventory import StatedDay
from equipment.vocabulary import LedgerBasis, LevelSource

MAX_DAYS = 100
MAX_TANKS = 12
# Only against a slip of the pen: no marina's tank holds, and no day moves, a million gallons.
MOST_GAL = 1_000_000


def amount(**options: Any) -> NumberField:
    """A level or a total; below zero there is none."""
    return NumberField(min_value=0, **options)


def gallons(**options: Any) -> NumberField:
    """A volume of one day."""
    return amount(max_value=MOST_GAL, **options)


def unknown(**options: Any) -> dict[str, Any]:
    """May be left out or null."""
    return {"allow_null": True, "default": None, **options}


class LedgerReadingIn(StrictSerializer):
    """What one tank held: a level on its chart, or gallons of product."""

    tank = TextField(max_length=30, **unknown(help_text="tag; needed where several tanks are one ledger"))
    level_in = amount(**unknown(help_text="inches from the bottom; needs the tank's chart"))
    gal = gallons(**unknown(help_text="gallons of product, where no level is stated"))
    water_in = amount(**unknown(help_text="water at the bottom, to 1/8 in; a day without keeps the last one"))


class LedgerMeterIn(StrictSerializer):
    """Totals of one meter."""

    meter = TextField(max_length=60, help_text="its name; a replaced meter gets a new one")
    start = amount(**unknown(help_text="the total of the day before, unless told"))
    end = amount()
    rolls_over_at = amount(**unknown(help_text="where it starts again from zero, on the day it did"))


class LedgerDeliveryIn(StrictSerializer):
    """Fuel that came that day, read before and after (40 CFR 280.43(a)(3)), else by its receipt."""

    before = serializers.ListField(child=LedgerReadingIn(), default=list, max_length=MAX_TANKS)
    after = serializers.ListField(child=LedgerReadingIn(), default=list, max_length=MAX_TANKS)
    pumped_meanwhile_gal = gallons(default=0.0)
    receipt_gal = gallons(**unknown(help_text="gross gallons"))
    receipt = TextField(max_length=100, **unknown(help_text="its number"))
    product_degf = NumberField(**unknown(help_text="of the delivered product"))
    tank_degf = NumberField(**unknown(help_text="of the product in the tank before"))
    api_gravity = NumberField(min_value=-10, max_value=150, **unknown(help_text="at 60 °F"))


class RefilledLineIn(StrictSerializer):
    """A line that stood empty for a repair and was filled again."""

    bore_in = NumberField(min_value=0.1, max_value=24, help_text="inside diameter, inches")
    length_ft = NumberField(min_value=0.1, max_value=10_000, help_text="length filled, feet")


class LedgerDayIn(StrictSerializer):
    """One operating day, or an idle one."""

    on = DayField(help_text="local day at the facility")
    idle = YesNoField(default=False, help_text="the site was shut; nothing else is stated")
    measured_by = WordField(choices=LevelSource.choices, **unknown())
    opening_gal = gallons(**unknown(help_text="needed on the first day of a ledger only"))
    readings = serializers.ListField(
        child=LedgerReadingIn(), default=list, max_length=MAX_TANKS, help_text="closing, one a tank"
    )
    meters = serializers.ListField(child=LedgerMeterIn(), default=list, max_length=100)
    pumped_gal = gallons(**unknown(help_text="where no totals are stated"))
    returned_gal = gallons(default=0.0, help_text="metered and poured back, as when a meter is tested")
    refill_gal = gallons(default=0.0, help_text="filled an empty line after a repair, past the meters")
    refilled_lines = serializers.ListField(
        child=RefilledLineIn(),
        default=list,
        max_length=20,
        help_text="instead of refill_gal: the lines that were filled; their gallons and sizes are kept as refill_gal "
        "and in the note",
    )
    deliveries = serializers.ListField(child=LedgerDeliveryIn(), default=list, max_length=20)
    note = TextField(max_length=1000, **unknown())
    supersedes = IdField(**unknown(help_text="id that it corrects"))
    reason = TextField(max_length=500, **unknown(help_text="why it was corrected"))

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """What filled a line is said once."""
        if attrs["refilled_lines"] and attrs["refill_gal"]:
            raise serializers.ValidationError(
                {"refill_gal": ["The lines say what filled them; send refilled_lines or refill_gal."]},
                code="repeated",
            )
        return attrs


class LedgerDaysIn(StrictSerializer):
    """Days of one ledger, all or nothing."""

    basis = WordField(
        choices=LedgerBasis.choices,
        default=LedgerBasis.STICK,
        help_text="what each opening_gal continues: the reading of the day before, or its book",
    )
    days = serializers.ListField(child=LedgerDayIn(), min_length=1, max_length=MAX_DAYS)

    def stated(self) -> list[StatedDay]:
        """The checked days as the service takes them."""
        basis = self.validated_data["basis"]
        return [_stated(dict(day), basis) for day in self.validated_data["days"]]


class LedgerReadingOut(StrictSerializer):
    """A reading with the gallons of its chart, the water in them."""

    tank = TextField()
    level_in = NumberField(allow_null=True)
    gal = NumberField()
    water_in = NumberField(allow_null=True)
    water_gal = NumberField(allow_null=True)


class LedgerMeterOut(StrictSerializer):
    """Totals as stated."""

    meter = TextField()
    end = NumberField()
    start = NumberField(allow_null=True)
    rolls_over_at = NumberField(allow_null=True)


class LedgerDeliveryOut(StrictSerializer):
    """A delivery as stated."""

    before = LedgerReadingOut(many=True)
    after = LedgerReadingOut(many=True)
    pumped_meanwhile_gal = NumberField()
    receipt_gal = NumberField(allow_null=True)
    receipt = TextField(allow_null=True)
    product_degf = NumberField(allow_null=True)
    tank_degf = NumberField(allow_null=True)
    api_gravity = NumberField(allow_null=True)


class LedgerDayOut(serializers.Serializer[Any]):
    """A day as it is on file."""

    id = serializers.IntegerField(source="pk")
    on = serializers.DateField()
    idle = serializers.BooleanField()
    measured_by = serializers.CharField(allow_null=True)
    opening_gal = serializers.FloatField(allow_null=True)
    basis = serializers.CharField(allow_null=True)
    readings = LedgerReadingOut(many=True)
    meters = LedgerMeterOut(many=True)
    pumped_gal = serializers.FloatField(allow_null=True)
    returned_gal = serializers.FloatField()
    refill_gal = serializers.FloatField()
    deliveries = LedgerDeliveryOut(many=True, source="deliveries.all")
    note = serializers.CharField(allow_null=True)
    submitted_by = serializers.CharField(source="submitted_by.name")
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField()
    supersedes = serializers.IntegerField(source="supersedes_id", allow_null=True)
    reason = serializers.CharField(allow_null=True)
    superseded_by = serializers.SerializerMethodField()
    withdrawn = serializers.SerializerMethodField()

    def get_superseded_by(self, row: InventoryDay) -> int | None:
        """The row that corrects this one and stands."""
        return next((one.pk for one in row.corrections.all() if one.withdrawn_at is None), None)

    def get_withdrawn(self, row: InventoryDay) -> dict[str, Any] | None:
        """Null while it stands."""
        if row.withdrawn_at is None:
            return None
        return {"at": row.withdrawn_at, "reason": row.withdrawn_reason, "by": row.withdrawn_by}


class LedgerDaysOut(serializers.Serializer[Any]):
    """What was put on file."""

    days = LedgerDayOut(many=True)
    remarks = serializers.ListField(
        child=TextField(), help_text="what is on file all the same and somebody should check"
    )


def _stated(day: dict[str, Any], basis: str) -> StatedDay:
    lines = day.pop("refilled_lines")
    own = {name: day.pop(name) for name in ("note", "supersedes", "reason")}
    if lines:
        day["refill_gal"] = round(sum(line_refill(one["bore_in"], one["length_ft"]) for one in lines), KEPT)
        own["note"] = " ".join(filter(None, (own["note"], *map(_refilled, lines))))
    if day["opening_gal"] is not None:
        day["basis"] = basis
    on: date = day["on"]
    return StatedDay(entry=msgspec.convert(day | {"on": on}, Entry), **own)


def _refilled(line: dict[str, Any]) -> str:
    gallons_in = line_refill(line["bore_in"], line["length_ft"])
    return f"Refilled a line of {line['bore_in']:g} in by {line['length_ft']:g} ft: {gallons_in:.2f} gal."
