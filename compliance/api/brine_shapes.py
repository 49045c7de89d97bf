"""Bodies and answers of a first look at a liquid-filled space."""

from typing import Any

from rest_framework import serializers

from compliance.protocols.brine import Interstice
from compliance.protocols.brine_advice import Levels
from compliance.services.brine import Look, Reading
from equipment.api.fact_shapes import FactOut
from equipment.api.fields import InstantField
from equipment.api.measured import quantity
from equipment.api.scalars import NumberField, WholeField
from equipment.api.serializers import StrictSerializer
from equipment.physics import brine

FEWEST_READINGS, MOST_READINGS = 2, 1000
RESULTS = ["consistent with temperature", "water coming in", "loss", "cannot tell"]
STICK_IN = 0.125
_UNKNOWN: dict[str, Any] = {"required": False, "allow_null": True, "default": None}


class SpaceIn(StrictSerializer):
    """The liquid and the surface at which its level is read. The free surface decides how far the level moves."""

    liquid_gal = quantity("liquid_gal", least=0.1, most=5000, help_text="liquid between the walls")
    free_surface_in2 = NumberField(
        min_value=0.1,
        max_value=100_000,
        help_text="area of the surface where the level stands: riser or reservoir; 12.566 for a 4 in bore",
    )
    mass_pct = NumberField(
        **_UNKNOWN,
        min_value=0,
        max_value=brine.STRONGEST_MASS_PCT,
        help_text="calcium chloride by mass; over 30 state its expansion; null: another liquid, then state the two "
        "below",
    )
    expansion_per_k = NumberField(
        **_UNKNOWN,
        min_value=1e-6,
        max_value=5e-3,
        help_text="part of its volume for one kelvin; null: as published for this brine",
    )
    specific_gravity = quantity(
        "specific_gravity",
        least=0.5,
        most=2,
        help_text="against fresh water; null: that of the brine",
        **_UNKNOWN,
    )
    reading_step_in = quantity(
        "reading_step_in", least=0.001, most=2, default=STICK_IN, help_text="finest step of stick or probe"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Either a brine of known strength, or a liquid whose two figures are stated."""
        if attrs["mass_pct"] is None:
            missing = [name for name in ("expansion_per_k", "specific_gravity") if attrs[name] is None]
            if missing:
                why = "State mass_pct, or this figure of the other liquid."
                raise serializers.ValidationError({name: [why] for name in missing}, code="missing")
        return attrs


class LevelsIn(StrictSerializer):
    """What stands beside the liquid, in inches above the tank bottom: needed to tell which hole moves it which way."""

    reservoir_in = quantity("reservoir_in", least=0, most=600, help_text="surface of the liquid")
    tank_height_in = quantity("tank_height_in", least=12, most=240, help_text="inside diameter of the tank")
    product_in = quantity("product_in", least=0, most=240, help_text="surface of the fuel")
    sg_product = quantity(
        "sg_product", least=0.5, most=1.1, help_text="gasoline about 0.74, diesel about 0.85"
    )
    groundwater_in = quantity(
        "groundwater_in",
        least=-1200,
        most=600,
        help_text="ground water; below the bottom: negative",
        **_UNKNOWN,
    )
    sg_groundwater = quantity(
        "sg_groundwater", least=0.9, most=1.1, default=1.0, help_text="1.025 where it is sea water"
    )
    ullage_in_wc = quantity(
        "ullage_in_wc", least=-100, most=100, default=0.0, help_text="gauge pressure above the fuel"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Fuel stands inside the tank."""
        if attrs["product_in"] > attrs["tank_height_in"]:
            raise serializers.ValidationError({"product_in": ["Is above the top of the tank; check both."]})
        return attrs


class BrineReadingIn(StrictSerializer):
    """One reading. Level and bottom water by the same stick each time."""

    at = InstantField(help_text="when it was read")
    level_in = quantity("level_in", least=-100, most=1000, help_text="from any fixed mark, upwards")
    temperature_degf = quantity("temperature_degf", least=-60, most=140, help_text="of the liquid")
    tide_ft = quantity("tide_ft", least=-100, most=100, help_text="height of the tide", **_UNKNOWN)
    bottom_water_in = quantity(
        "bottom_water_in", least=0, most=240, help_text="water under the fuel", **_UNKNOWN
    )


class BrineTriageIn(StrictSerializer):
    """A series of readings, with what is known of the space."""

    space = SpaceIn()
    levels = LevelsIn(required=False, allow_null=True, default=None)
    readings = serializers.ListField(
        child=BrineReadingIn(), min_length=FEWEST_READINGS, max_length=MOST_READINGS
    )

    def as_sent(self) -> dict[str, Any]:
        """The body in the sender's own units."""
        return dict(self.initial_data)

    def look(self) -> Look:
        """The checked body as the service takes it."""
        checked = self.validated_data
        space, levels = dict(checked["space"]), checked["levels"]
        strength = space["mass_pct"]
        return Look(
            space=Interstice(
                gallons=space["liquid_gal"],
                free_surface_in2=space["free_surface_in2"],
                mass_pct=brine.MOST_MASS_PCT if strength is None else strength,
                expansion=space["expansion_per_k"],
                reading_step_in=space["reading_step_in"],
            ),
            readings=[Reading(**each) for each in checked["readings"]],
            levels=Levels(**levels) if levels else None,
            specific_gravity=space["specific_gravity"],
        )


class NumbersOut(StrictSerializer):
    """The figures behind the result; null: the readings do not tell."""

    observed_in = serializers.FloatField(allow_null=True, help_text="from the first to the last readings")
    expected_in = serializers.FloatField(allow_null=True, help_text="what temperature explains of it")
    band_in = serializers.FloatField(allow_null=True, help_text="how far the two may differ")
    expected_in_a_kelvin = serializers.FloatField(allow_null=True)
    seen_in_a_kelvin = serializers.FloatField(allow_null=True, help_text="by regression")
    drift_in_a_day = serializers.FloatField(allow_null=True, help_text="with temperature taken out")
    drift_error = serializers.FloatField(allow_null=True, help_text="its standard error")
    drift_margin = serializers.FloatField(allow_null=True, help_text="either way, 95 percent")
    gallons_a_day = serializers.FloatField(allow_null=True, help_text="a loss is negative")
    errors_from_zero = serializers.FloatField(allow_null=True)
    errors_needed = serializers.FloatField(allow_null=True, help_text="to be sure when looking every day")
    tide_correlation = serializers.FloatField(allow_null=True)
    bottom_water_rise_in = serializers.FloatField(allow_null=True)
    specific_gravity = serializers.FloatField()
    expansion_per_k = serializers.FloatField()


class BreachOut(StrictSerializer):
    """A hole in one wall at one height, and what it does to the level."""

    wall = serializers.ChoiceField(["inner", "outer"])
    place = serializers.CharField()
    height_in = serializers.FloatField(help_text="above the tank bottom")
    direction = serializers.ChoiceField(
        ["up", "down", "still"], allow_null=True, help_text="null: ground water not known"
    )
    flow = serializers.CharField()
    silent_at_in = serializers.FloatField(
        help_text="height of fuel (inner) or ground water (outer) at which nothing moves; above it the level rises"
    )
    fits = serializers.BooleanField(allow_null=True, help_text="moves the level as the readings do")


class SayingOut(StrictSerializer):
    """A rule of thumb of the trade, and where physics differs from it."""

    saying = serializers.CharField()
    physics = serializers.CharField()
    here = serializers.CharField(allow_null=True, help_text="with the figures of this tank")
    bears_here = serializers.BooleanField()


class BrineAnswerOut(StrictSerializer):
    """What physics makes of the readings. Advice, never a disposition."""

    result = serializers.ChoiceField(RESULTS)
    sentence = serializers.CharField()
    numbers = NumbersOut()
    breaches = BreachOut(many=True, allow_null=True, help_text="null: levels were not sent")
    sayings = SayingOut(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    advice = serializers.CharField()
    cautions = serializers.ListField(child=serializers.CharField())


class BrineTriageOut(FactOut):
    """A look as on file: what was sent, in the sender's units, and what it told."""

    alarm = WholeField(source="alarm_id", read_only=True)
    stated = serializers.DictField(read_only=True)
    answer = BrineAnswerOut(read_only=True)
