"""The tank and what sits on it."""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.validators import EachOf
from equipment.vocabulary import (
    Interstice,
    Kind,
    OverfillType,
    PortUse,
    TankContainment,
    TankMaterial,
    TankMethod,
    TankProtection,
    Wall,
)


def positive(field: str, name: str) -> models.CheckConstraint:
    """Unknown, or above zero."""
    return models.CheckConstraint(condition=Q(**{field: None}) | Q(**{f"{field}__gt": 0}), name=name)


def percent(field: str, name: str) -> models.CheckConstraint:
    """Unknown, or from 0 to 100."""
    return models.CheckConstraint(
        condition=Q(**{field: None}) | Q(**{f"{field}__range": (0, 100)}), name=name
    )


class Tank(Component):
    """One underground shell. A tank without compartments carries capacity, product and methods itself."""

    KIND = Kind.TANK

    compartment_capacity_gallons = models.FloatField(null=True, blank=True)
    diameter_in = models.FloatField(null=True, blank=True)
    substance = models.CharField(max_length=105, null=True, blank=True)
    ethanol_pct = models.FloatField(null=True, blank=True)
    biodiesel_pct = models.FloatField(null=True, blank=True)
    release_detection = models.JSONField(
        null=True,
        blank=True,
        validators=[EachOf(TankMethod.values)],
        help_text="every method in use, as a list",
    )
    tank_material_description = models.CharField(max_length=60, choices=TankMaterial, null=True, blank=True)
    tank_secondary_containment = models.CharField(
        max_length=30, choices=TankContainment, null=True, blank=True
    )
    interstice = models.CharField(max_length=15, choices=Interstice, null=True, blank=True)
    interstice_reservoir = models.BooleanField(
        null=True, blank=True, help_text="has a reservoir for its liquid"
    )
    interstice_level_in = models.FloatField(
        null=True, blank=True, help_text="normal liquid level in the reservoir"
    )
    hazardous_substance = models.BooleanField(null=True, blank=True)
    emergency_generator = models.BooleanField(
        null=True, blank=True, help_text="feeds emergency generators solely"
    )
    field_constructed = models.BooleanField(null=True, blank=True)
    airport_hydrant_system = models.BooleanField(null=True, blank=True)
    federally_regulated = models.BooleanField(null=True, blank=True)
    multiple_tanks = models.BooleanField(null=True, blank=True, help_text="siphon or manifold")
    compartmentalized_ust = models.BooleanField(null=True, blank=True)
    cp_type = models.CharField(max_length=20, choices=TankProtection, null=True, blank=True)
    lined_on = models.DateField(null=True, blank=True)
    fill_max_gal_per_transfer = models.FloatField(null=True, blank=True)
    part_monitored_monthly = models.BooleanField(null=True, blank=True)
    both_walls_monitored = models.BooleanField(null=True, blank=True)
    secondary_containment_test_required = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [
            positive("compartment_capacity_gallons", "tank_capacity_above_zero"),
            positive("diameter_in", "tank_diameter_above_zero"),
            percent("ethanol_pct", "tank_ethanol_is_a_percentage"),
            percent("biodiesel_pct", "tank_biodiesel_is_a_percentage"),
        ]


class Compartment(Component):
    """A part of a tank that holds its own product."""

    KIND = Kind.COMPARTMENT

    compartment_capacity_gallons = models.FloatField(null=True, blank=True)
    substance = models.CharField(max_length=105, null=True, blank=True)
    release_detection = models.JSONField(
        null=True,
        blank=True,
        validators=[EachOf(TankMethod.values)],
        help_text="every method in use, as a list",
    )
    fill_max_gal_per_transfer = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [positive("compartment_capacity_gallons", "compartment_capacity_above_zero")]


class FillPort(Component):
    """A riser with its cap, lock, adaptor and drop tube; also a second port kept for gauging or access."""

    KIND = Kind.FILL_PORT

    port_use = models.CharField(max_length=15, choices=PortUse, null=True, blank=True)
    cap = models.BooleanField(null=True, blank=True)
    lock = models.BooleanField(null=True, blank=True)
    adaptor = models.BooleanField(null=True, blank=True)
    drop_tube = models.BooleanField(null=True, blank=True)


class SpillBucket(Component):
    """The cup around a fill port that catches what drips when the hose comes off."""

    KIND = Kind.SPILL_BUCKET

    spill_bucket_wall_type = models.CharField(max_length=10, choices=Wall, null=True, blank=True)
    both_walls_monitored = models.BooleanField(null=True, blank=True)
    fill_max_gal_per_transfer = models.FloatField(null=True, blank=True)
    capacity_gal = models.FloatField(null=True, blank=True)
    drain_valve = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [positive("capacity_gal", "spill_bucket_capacity_above_zero")]


class OverfillDevice(Component):
    """What stops, restricts or announces a delivery before the tank is full."""

    KIND = Kind.OVERFILL_DEVICE

    overfill_type = models.CharField(max_length=25, choices=OverfillType, null=True, blank=True)
    set_level_pct = models.FloatField(null=True, blank=True)
    fill_max_gal_per_transfer = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [percent("set_level_pct", "overfill_level_is_a_percentage")]


class Vent(Component):
    """The pipe through which a tank breathes."""

    KIND = Kind.VENT

    height_ft = models.FloatField(null=True, blank=True, help_text="opening above ground")
    cap = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [positive("height_ft", "vent_height_above_zero")]
