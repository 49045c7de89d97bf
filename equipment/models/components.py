"""What every component has, and the tank system that the others belong to."""

from typing import ClassVar

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q

from equipment.models.facilities import Facility
from equipment.vocabulary import Kind

TAG = RegexValidator(
    r"^[A-Za-z][A-Za-z0-9._-]*$", "a letter, then letters, digits, dots, dashes or underscores"
)


class Component(models.Model):
    """One row a thing that can be pointed at on site; the kinds below add their own columns.

    Ask for a kind by its own model; this table is for what all kinds share: the place in the tree (`parent`), the tag
    that people and programs call it by, and the three dates that rules compare.
    """

    KIND: ClassVar[Kind]

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="components")
    kind = models.CharField(max_length=24, choices=Kind)
    tag = models.CharField(
        max_length=30, validators=[TAG], help_text="short name, unique at the facility: T1, SB2"
    )
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="children")
    label = models.CharField(max_length=100, null=True, blank=True, help_text="what people call it")
    installed_on = models.DateField(null=True, blank=True)
    brought_into_use_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    replaces = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    rated_for_area = models.BooleanField(
        null=True, blank=True, help_text="listed for the hazardous area it stands in"
    )
    note = models.CharField(max_length=1000, null=True, blank=True)
    version = models.PositiveIntegerField(
        default=1, help_text="rises with each correction of this row (ETag)"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["facility", "tag"], name="tag_unique_at_facility"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="component_kind_known"),
            models.CheckConstraint(
                condition=Q(removed_on=None) | Q(installed_on=None) | Q(removed_on__gte=F("installed_on")),
                name="removed_after_installed",
            ),
            models.CheckConstraint(
                condition=Q(parent=None) | ~Q(parent=F("id")), name="component_not_its_own_parent"
            ),
            models.CheckConstraint(
                condition=Q(replaces=None) | ~Q(replaces=F("id")), name="component_replaces_another"
            ),
            models.CheckConstraint(
                condition=~Q(kind=Kind.TANK_SYSTEM) | Q(parent=None), name="tank_system_hangs_on_the_facility"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tag} ({self.get_kind_display()})"


class TankSystem(Component):
    """Tanks, piping and ancillary equipment that belong together: what the regulation calls a UST system.

    It is a component too, so that a status, a record or a duty can be about the system as a whole.
    """

    KIND = Kind.TANK_SYSTEM

    meets_new_or_upgraded_standard = models.BooleanField(
        null=True, blank=True, help_text="40 CFR 280.20 or 280.21 met"
    )
