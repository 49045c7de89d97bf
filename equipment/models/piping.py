"""Piping, the sumps around it and what guards it against leaks, impact and corrosion."""

from django.db import models
from django.db.models import F, Q

from equipment.models.components import Component
from equipment.models.tanks import positive
from equipment.models.validators import EachOf
from equipment.vocabulary import (
    DetectorType,
    Kind,
    PipingElection,
    PipingMaterial,
    PipingMethod,
    PipingStyle,
    PipingWall,
    ProtectionSystem,
    SumpPlace,
    Wall,
)


class PipingRun(Component):
    """One run of piping, connected to one tank."""

    KIND = Kind.PIPING_RUN

    piping_style = models.CharField(max_length=20, choices=PipingStyle, null=True, blank=True)
    piping_wall_type = models.CharField(max_length=15, choices=PipingWall, null=True, blank=True)
    piping_material = models.JSONField(
        null=True,
        blank=True,
        validators=[EachOf(PipingMaterial.values)],
        help_text="every material, as a list",
    )
    release_detection = models.JSONField(
        null=True,
        blank=True,
        validators=[EachOf(PipingMethod.values)],
        help_text="every method in use, as a list",
    )
    elected_piping_release_detection = models.CharField(
        max_length=20, choices=PipingElection, null=True, blank=True
    )
    piping_line_leak_detector = models.BooleanField(null=True, blank=True)
    piping_automated_interstitial_monitoring = models.BooleanField(null=True, blank=True)
    replaced_on = models.DateField(
        null=True, blank=True, help_text="last replacement of half the run or more"
    )
    below_atmospheric = models.BooleanField(null=True, blank=True)
    slopes_to_tank = models.BooleanField(null=True, blank=True)
    single_check_valve = models.BooleanField(null=True, blank=True)
    check_valve_under_pump = models.BooleanField(null=True, blank=True)
    features_verifiable = models.BooleanField(null=True, blank=True)
    below_ground = models.BooleanField(null=True, blank=True)
    emergency_generator = models.BooleanField(null=True, blank=True)
    part_monitored_monthly = models.BooleanField(null=True, blank=True)
    both_walls_monitored = models.BooleanField(null=True, blank=True)
    secondary_containment_test_required = models.BooleanField(null=True, blank=True)
    containment_line = models.BooleanField(
        null=True, blank=True, help_text="lies inside a larger containment line"
    )
    entry_boots = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="seals where it enters sumps"
    )


class ContainmentSump(Component):
    """A liquid-tight box around pump, dispenser or fittings."""

    KIND = Kind.CONTAINMENT_SUMP

    place = models.CharField(max_length=15, choices=SumpPlace, null=True, blank=True)
    wall = models.CharField(max_length=10, choices=Wall, null=True, blank=True)
    used_for_interstitial_monitoring = models.BooleanField(null=True, blank=True)
    both_walls_monitored = models.BooleanField(null=True, blank=True)
    liquid_present = models.BooleanField(null=True, blank=True)
    secondary_containment_test_required = models.BooleanField(null=True, blank=True)
    capacity_gal = models.FloatField(null=True, blank=True)
    submersible_pump = models.BooleanField(null=True, blank=True)
    lid = models.BooleanField(null=True, blank=True)
    lid_seal = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [positive("capacity_gal", "sump_capacity_above_zero")]


class LineLeakDetector(Component):
    """Watches one pressurised run for a sudden leak."""

    KIND = Kind.LINE_LEAK_DETECTOR

    detector_type = models.CharField(max_length=12, choices=DetectorType, null=True, blank=True)


class Sensor(Component):
    """A probe in a tank, or a sensor in a sump or interstice."""

    KIND = Kind.SENSOR

    sensor_type = models.CharField(
        max_length=40, null=True, blank=True, help_text="probe, float, liquid, vacuum ..."
    )
    used_for_release_detection = models.BooleanField(null=True, blank=True)
    window_low_in = models.FloatField(null=True, blank=True, help_text="level at which it reports low")
    window_high_in = models.FloatField(null=True, blank=True, help_text="level at which it reports high")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(window_low_in=None)
                | Q(window_high_in=None)
                | Q(window_high_in__gt=F("window_low_in")),
                name="sensor_window_opens_upwards",
            )
        ]


class CathodicProtection(Component):
    """A corrosion protection system, hung on what it protects."""

    KIND = Kind.CATHODIC_PROTECTION

    cp_type = models.CharField(max_length=20, choices=ProtectionSystem, null=True, blank=True)


class ShearValve(Component):
    """Closes the line when a dispenser is knocked over."""

    KIND = Kind.SHEAR_VALVE


class ShoreValve(Component):
    """The hand valve where piping leaves land for the dock."""

    KIND = Kind.SHORE_VALVE
