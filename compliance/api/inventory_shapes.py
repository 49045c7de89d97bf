"""Shapes of a reconciled month and of a ledger's trend, as answered."""

from typing import Any

from rest_framework import serializers

from compliance.api.record_shapes import MovedOut, RecordOut
from compliance.protocols.inventory_periods import CALENDAR_MONTH
from compliance.services.inventory import Month
from equipment.models import Record

ACTIONS = ("none", "recheck", "report")


def maybe(**options: Any) -> serializers.FloatField:
    """A figure, null while it cannot be known."""
    return serializers.FloatField(allow_null=True, **options)


class LedgerLineOut(serializers.Serializer[Any]):
    """A day's book and what the reading was over (positive) or short of it."""

    on = serializers.DateField()
    book_gal = serializers.FloatField()
    over_short_gal = serializers.FloatField()
    cumulative_gal = serializers.FloatField(help_text="the month's figure so far")


class InventoryRuleOut(serializers.Serializer[Any]):
    """One jurisdiction's rule over one of its periods."""

    jurisdiction = serializers.CharField(source="rule.jurisdiction")
    period = serializers.CharField(source="rule.period", help_text=f"{CALENDAR_MONTH!r}, or so many days")
    first = serializers.DateField()
    last = serializers.DateField()
    percent = serializers.FloatField(source="rule.percent", help_text="of gallons pumped")
    constant_gal = serializers.FloatField(source="rule.constant_gal")
    counts = serializers.CharField(source="rule.counts", help_text="over and short, or short alone")
    periods_to_report = serializers.IntegerField(
        source="rule.months_to_report", help_text="so many in a row over the limit are reported"
    )
    allowance_gal = maybe()
    net_gal = maybe()
    exceeded = serializers.BooleanField(allow_null=True)
    action = serializers.ChoiceField(choices=ACTIONS, allow_null=True)
    passed_over = serializers.ListField(
        child=serializers.DateField(), help_text="first days of earlier periods that are incomplete"
    )
    cite = serializers.CharField(source="rule.cite")
    verified = serializers.CharField(source="rule.verified")


class TemperatureOut(serializers.Serializer[Any]):
    """What temperature may explain of a delivery day; it changes no figure."""

    on = serializers.DateField()
    delivered_gal = serializers.FloatField(help_text="gross, by gauge where it was read, else by receipt")
    receipt_gal = maybe()
    against_receipt_gal = maybe(help_text="gauge minus receipt")
    factor = maybe(help_text="gallons at the delivered temperature to gallons at 60 °F")
    net_at_60f_gal = maybe()
    growth_gal = maybe(help_text="by which the load grows (negative: shrinks) to the tank's temperature")
    over_short_gal = maybe(help_text="of that day, as it counts")
    without_growth_gal = maybe(help_text="the same less the growth: for the eye only")
    lacking = serializers.ListField(child=serializers.CharField(), help_text="what nobody stated")


class ClosedOut(serializers.Serializer[Any]):
    """The record that closed the month."""

    record = serializers.IntegerField(source="pk")
    recorded_at = serializers.DateTimeField()
    entered_by = serializers.CharField()
    measurements = serializers.DictField()


class InventoryMonthOut(serializers.Serializer[Any]):
    """A month of a ledger, gross gallons."""

    tanks = serializers.ListField(child=serializers.CharField())
    first = serializers.DateField(source="span.first")
    last = serializers.DateField(source="span.last")
    basis = serializers.CharField()
    complete = serializers.BooleanField(source="span.complete")
    missing = serializers.ListField(
        child=serializers.DateField(), help_text="days without an entry, up to today"
    )
    faults = serializers.SerializerMethodField()
    opening_gal = maybe(source="span.opening_gal")
    delivered_gal = serializers.FloatField(source="span.delivered_gal")
    pumped_gal = serializers.FloatField(source="span.pumped_gal")
    closing_gal = maybe(source="span.closing_gal")
    net_gal = maybe(source="span.net_gal", help_text="over is positive, short negative")
    water_in = maybe(source="span.water_in", help_text="last read in the month")
    amended_days = serializers.IntegerField(source="span.amended")
    operating_days = serializers.IntegerField(source="span.days_stated")
    idle_days = serializers.IntegerField(source="span.idle_days")
    days = LedgerLineOut(many=True, source="span.days")
    rules = InventoryRuleOut(many=True, source="outcomes")
    temperature = TemperatureOut(many=True)
    closed = ClosedOut(allow_null=True)
    out_of_date = serializers.SerializerMethodField()
    differs = serializers.ListField(child=serializers.CharField())
    remarks = serializers.ListField(child=serializers.CharField())

    def get_faults(self, month: Month) -> list[dict[str, str]]:
        """Days whose meters or deliveries cannot be read."""
        return [{"on": on.isoformat(), "detail": fault.detail} for on, fault in month.span.faults]

    def get_out_of_date(self, month: Month) -> bool:
        """The ledger says something else than the record that closed the month; close it again."""
        closed: Record | None = month.closed
        return closed is not None and (bool(month.differs) or not month.span.complete)


class MonthClosedOut(MovedOut):
    """The record of the month, and what it moved."""

    record = RecordOut()
    month = InventoryMonthOut()


class TrendDayOut(serializers.Serializer[Any]):
    """A day of the trend."""

    on = serializers.DateField()
    over_short_gal = serializers.FloatField()
    month_gal = serializers.FloatField(help_text="sum of the month so far")
    running_gal = serializers.FloatField(help_text="sum since the first day shown")


class InventoryTrendOut(serializers.Serializer[Any]):
    """Over and short through time."""

    first = serializers.DateField()
    last = serializers.DateField()
    gal_per_day = maybe(
        help_text="slope of the running sum, a loss negative; null under 30 days. No leak test."
    )
    gal_per_hour = maybe()
    days = TrendDayOut(many=True)
    periods = InventoryRuleOut(many=True)
