"""Dispensers and what stands around the tank pad and the dock."""

from django.db import models

from equipment.models.components import Component
from equipment.models.tanks import positive
from equipment.vocabulary import DispenserPlace, Kind, Wall


class Dispenser(Component):
    """Where fuel is sold, on land or on the dock."""

    KIND = Kind.DISPENSER

    place = models.CharField(max_length=10, choices=DispenserPlace, null=True, blank=True)
    dispenser_udc = models.BooleanField(null=True, blank=True, help_text="containment under it")
    dispenser_udc_wall_type = models.CharField(max_length=10, choices=Wall, null=True, blank=True)
    connection_installed_on = models.DateField(null=True, blank=True)


class Hose(Component):
    """A dispensing hose with its hanging hardware."""

    KIND = Kind.HOSE

    length_ft = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [positive("length_ft", "hose_length_above_zero")]


class EmergencyShutoff(Component):
    """The switch that stops every transfer."""

    KIND = Kind.EMERGENCY_SHUTOFF


class MonitoringConsole(Component):
    """The instrument that reads probes and sensors."""

    KIND = Kind.MONITORING_CONSOLE

    indoors = models.BooleanField(null=True, blank=True)
    outside_overfill_alarm = models.BooleanField(
        null=True, blank=True, help_text="horn or light that the delivery driver can see and hear"
    )


class MonitoringWell(Component):
    """A well through which vapour or groundwater beside the tank is watched."""

    KIND = Kind.MONITORING_WELL

    cap = models.BooleanField(null=True, blank=True)
    lock = models.BooleanField(null=True, blank=True)


class VacPressureDevice(Component):
    """A vacuum pump or pressure gauge of a monitored interstice."""

    KIND = Kind.VAC_PRESSURE_DEVICE


class HandheldDevice(Component):
    """A gauge stick, bailer or electronic sampler carried by hand."""

    KIND = Kind.HANDHELD_RD_DEVICE
