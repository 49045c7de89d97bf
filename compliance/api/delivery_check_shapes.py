"""Bodies and answers of the check before a delivery."""

from functools import cache
from typing import Any

from rest_framework import serializers

from alarms.api.conditions import CautionOut
from compliance.api.record_shapes import MoveOut, RecordWithdrawalOut
from compliance.protocols.delivery_buckets import Look
from compliance.protocols.delivery_tanks import Reading
from compliance.services.delivery_checks import Asked
from equipment.activities.catalogue import FOLDER, catalogue
from equipment.activities.definitions import Caution
from equipment.activities.loading import CAUTIONS_FILE, load_cautions
from equipment.api.fields import InstantField, MomentField
from equipment.api.scalars import NumberField, TextField, WholeField, YesNoField
from equipment.api.serializers import StrictSerializer
from equipment.models import Record
from equipment.moments import Moment
from equipment.services.happenings import DELIVERY_CHECK

MAX_TANKS, MAX_BUCKETS = 20, 100
GRAVITY = "gravity-fill"


def _number(help_text: str) -> NumberField:
    return NumberField(required=False, allow_null=True, default=None, help_text=help_text)


def _said(help_text: str) -> YesNoField:
    return YesNoField(required=False, allow_null=True, default=None, help_text=help_text)


class TankReading(StrictSerializer):
    """One tank as read just before the delivery: by stick, or as the gallons of a gauge."""

    tag = TextField(max_length=30, help_text="tank or compartment")
    level_in = _number("stick reading of the top of the liquid, water included")
    water_in = _number("water at the bottom, by stick or probe")
    product_gal = _number("instead of level_in: product by a gauge, without the water")
    water_gal = _number("beside product_gal: water by a gauge")
    product_degf = _number("temperature of the product, °F")

    def to_internal_value(self, data: Any) -> Reading:
        """The reading."""
        return Reading(**super().to_internal_value(data))


class BucketLook(StrictSerializer):
    """What was seen and done at a spill bucket: the points of 40 CFR 280.36(a)(1)(i)(A)."""

    tag = TextField(max_length=30, help_text="spill bucket")
    undamaged = _said("it shows no damage")
    liquid_removed = _said("liquid and debris were taken out, or there were none")
    fill_pipe_clear = _said("nothing is in the way in the fill pipe")
    cap_secure = _said("the cap sits tight on the fill pipe")
    interstice_dry = _said("the monitored space between two walls is dry")

    def to_internal_value(self, data: Any) -> Look:
        """The look."""
        return Look(**super().to_internal_value(data))


class DeliveryCheckIn(StrictSerializer):
    """What is read and asked before a delivery. Tanks named together are joined and take the load as one volume."""

    checked_at = MomentField(help_text="when it was read, right before the delivery")
    order_gal = NumberField(help_text="the whole load for these tanks")
    tanks = TankReading(many=True, allow_empty=False, help_text="one, or each of a joined set")
    spill_buckets = BucketLook(many=True, required=False, default=list)
    jurisdictions = serializers.ListField(
        child=TextField(max_length=30),
        required=False,
        allow_null=True,
        default=None,
        max_length=10,
        help_text="whose rules about room hold; the facility's unless stated, us-federal always",
    )
    load_degf = _number("temperature of the load, °F; for advice only")
    api_gravity = _number("API gravity of the load at 60 °F; for advice only")
    api_read_degf = _number("temperature at which a hydrometer showed api_gravity; null: it holds at 60 °F")
    pumped = _said("the load is pumped in, not run in by gravity")
    watcher = TextField(
        required=False, allow_null=True, default=None, max_length=200, help_text="who watches throughout"
    )
    note = TextField(required=False, allow_null=True, default=None, max_length=2000)

    def validate_tanks(self, value: list[Reading]) -> list[Reading]:
        """No more than a tank field has."""
        return _few(value, MAX_TANKS)

    def validate_spill_buckets(self, value: list[Look]) -> list[Look]:
        """No more than a site has."""
        return _few(value, MAX_BUCKETS)

    def asked(self) -> Asked:
        """The checked body as the service takes it."""
        told = dict(self.validated_data)
        stated = told.pop("jurisdictions")
        return Asked(
            tanks=tuple(told.pop("tanks")),
            buckets=tuple(told.pop("spill_buckets")),
            jurisdictions=None if stated is None else tuple(stated),
            **told,
        )


def _few(value: list[Any], most: int) -> list[Any]:
    if len(value) > most:
        raise serializers.ValidationError(f"{most} are read at most.", code="too-long")
    return value


class CheckedTankOut(serializers.Serializer[Any]):
    """A tank as read, and what was reckoned with."""

    component = TextField()
    level_in = NumberField(allow_null=True, default=None)
    water_in = NumberField(allow_null=True, default=None)
    product_gal = NumberField()
    water_gal = NumberField()
    product_degf = NumberField(allow_null=True, default=None)
    capacity_gal = NumberField(help_text="by the chart, else by the plate")
    limit_pct = NumberField(help_text="percent of capacity to which it may be filled")
    limit_because = TextField()
    charted = YesNoField(help_text="by the tank's own chart")
    gravity_only = YesNoField(
        allow_null=True, default=None, help_text="double-walled fibreglass; null: not known"
    )


class AskedRuleOut(serializers.Serializer[Any]):
    """What one rule asks for this load."""

    cite = TextField()
    required_gal = NumberField()
    largest_order_gal = NumberField()
    fits = YesNoField()


class SeenBucketOut(serializers.Serializer[Any]):
    """A spill bucket as seen; null: not looked at."""

    component = TextField()
    undamaged = YesNoField(allow_null=True, default=None)
    liquid_removed = YesNoField(allow_null=True, default=None)
    fill_pipe_clear = YesNoField(allow_null=True, default=None)
    cap_secure = YesNoField(allow_null=True, default=None)
    interstice_dry = YesNoField(allow_null=True, default=None)


class DeliveryCheckOut(serializers.Serializer[Any]):
    """A check as it is on file, with its result. It does not decide that a delivery is safe; people there do."""

    id = WholeField()
    checked_at = TextField(help_text="the instant where one was stated, else the local day")
    refused = YesNoField(help_text="do not put the load in as ordered; reasons say why")
    reasons = serializers.ListField(child=TextField())
    fits = YesNoField(help_text="the room is enough under every rule")
    order_gal = NumberField()
    room_gal = NumberField(help_text="up to the limit of each tank's device, water taken off")
    largest_order_gal = NumberField(help_text="whole gallons that every rule allows")
    joined = YesNoField(help_text="the tanks were taken as one volume")
    tanks = CheckedTankOut(many=True)
    rules = AskedRuleOut(many=True)
    spill_buckets = SeenBucketOut(many=True)
    spill_buckets_checked = YesNoField(
        help_text="each was looked at and emptied: a delivery that names this check earns the exception of 280.36"
    )
    pumped = YesNoField(allow_null=True)
    watcher = TextField(allow_null=True)
    load_degf = NumberField(allow_null=True)
    api_gravity = NumberField(allow_null=True)
    api_read_degf = NumberField(allow_null=True)
    growth_gal = NumberField(allow_null=True, help_text="advice; no figure of the check")
    remarks = serializers.ListField(child=TextField())
    cautions = CautionOut(many=True)
    note = TextField(allow_null=True)
    submitted_by = TextField()
    recorded_at = InstantField()
    recorded_by = TextField()
    withdrawn = RecordWithdrawalOut(allow_null=True)


class NewDeliveryCheckOut(DeliveryCheckOut):
    """A check, and the obligations that it moved."""

    moved = MoveOut(
        many=True, allow_null=True, help_text="null: on file, but the facility could not be judged"
    )
    remark = TextField(allow_null=True, help_text="what to do where moved is null")


PLAIN = ("pumped", "watcher", "load_degf", "api_gravity", "api_read_degf", "growth_gal")
LISTS = ("reasons", "remarks", "rules", "spill_buckets", "tanks")
FIGURES = ("refused", "fits", "order_gal", "room_gal", "largest_order_gal", "joined", "spill_buckets_checked")


def shown(record: Record) -> dict[str, Any]:
    """A record of a check as the API shows it."""
    told = record.measurements
    return {
        "id": record.pk,
        "checked_at": str(Moment(day=record.performed_on, instant=record.performed_at)),
        **{name: told[name] for name in FIGURES},
        **{name: told.get(name, []) for name in LISTS},
        **{name: told.get(name) for name in PLAIN},
        "cautions": [{"text": one.text, "source": one.source} for one in cautions_of(record)],
        "note": record.note,
        "submitted_by": record.submitted_by.name,
        "recorded_at": record.recorded_at,
        "recorded_by": record.entered_by,
        "withdrawn": record if record.withdrawn_at else None,
    }


def cautions_of(record: Record) -> list[Caution]:
    """Those of the activity; the one about filling by gravity unless no tank of the check can be meant."""
    every = catalogue()[DELIVERY_CHECK].cautions
    meant = any(row.get("gravity_only") is not False for row in record.measurements["tanks"])
    return [one for one in every if meant or one != _gravity_fill()]


@cache
def _gravity_fill() -> Caution:
    return load_cautions(FOLDER / CAUTIONS_FILE)[GRAVITY]
