"""Facilities: one site with everything that sells fuel on it."""

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from equipment.models.organisations import Organisation
from equipment.models.validators import known_jurisdictions, zone_exists
from equipment.vocabulary import OwnerType, SpillWalkthrough

MONTH_DAY = RegexValidator(r"^(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$", "month and day, as 05-15")


class Facility(models.Model):
    """A marina with its site facts. Null means that nobody said; a rule that needs the fact then cannot decide.

    `facts_version` rises with every fact stated about the facility; whoever judged an older version is out of date.
    """

    operator = models.ForeignKey(Organisation, models.PROTECT, related_name="facilities")
    code = models.CharField(
        max_length=50, help_text="the operator's own short name of the site, unique for the operator"
    )
    name = models.CharField(max_length=100)
    facility_id = models.CharField(
        max_length=50, null=True, blank=True, help_text="number in the state's register"
    )
    facility_type1 = models.CharField(max_length=41, null=True, blank=True)
    owner_type = models.CharField(max_length=33, choices=OwnerType, null=True, blank=True)
    facility_address1 = models.CharField(max_length=100, null=True, blank=True)
    facility_city = models.CharField(max_length=100, null=True, blank=True)
    facility_county = models.CharField(max_length=100, null=True, blank=True)
    facility_zip_code = models.CharField(max_length=10, null=True, blank=True)
    facility_state = models.CharField(max_length=2, null=True, blank=True)
    facility_latitude = models.FloatField(null=True, blank=True)
    facility_longitude = models.FloatField(null=True, blank=True)
    time_zone = models.CharField(
        max_length=40, validators=[zone_exists], help_text="IANA name; days begin and end here"
    )
    jurisdictions = models.JSONField(
        default=list,
        blank=True,
        validators=[known_jurisdictions],
        help_text="rule packs that apply, widest first",
    )
    county_agency = models.CharField(max_length=100, null=True, blank=True)
    fire_code_edition = models.CharField(max_length=60, null=True, blank=True)
    over_water = models.BooleanField(null=True, blank=True)
    floating = models.BooleanField(null=True, blank=True)
    flood_prone = models.BooleanField(null=True, blank=True)
    attended = models.BooleanField(null=True, blank=True)
    season_opens = models.CharField(
        max_length=5, null=True, blank=True, validators=[MONTH_DAY], help_text="MM-DD"
    )
    season_closes = models.CharField(
        max_length=5, null=True, blank=True, validators=[MONTH_DAY], help_text="MM-DD"
    )
    serves_non_recreational_vessels = models.BooleanField(null=True, blank=True)
    largest_vessel_barrels = models.FloatField(null=True, blank=True)
    aboveground_oil_gal = models.FloatField(null=True, blank=True)
    petroleum_marketing = models.BooleanField(null=True, blank=True)
    previous_year_monthly_gal = models.FloatField(null=True, blank=True)
    owner_tank_count = models.PositiveIntegerField(null=True, blank=True)
    elected_spill_walkthrough = models.CharField(
        max_length=20, choices=SpillWalkthrough, null=True, blank=True
    )
    last_delivery_gap_days = models.PositiveIntegerField(null=True, blank=True)
    annual_refresher = models.BooleanField(null=True, blank=True)
    facts_version = models.PositiveBigIntegerField(default=1)
    facts_changed_at = models.DateTimeField(
        db_default=Now(),
        help_text="by the database's clock; only to tell how long a judgement has been out of date",
    )
    version = models.PositiveIntegerField(
        default=1, help_text="rises with each correction of this row (ETag)"
    )
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="facility_code_unique_for_operator"),
            models.CheckConstraint(
                condition=(Q(facility_latitude=None) | Q(facility_latitude__range=(-90, 90)))
                & (Q(facility_longitude=None) | Q(facility_longitude__range=(-180, 180))),
                name="facility_on_earth",
            ),
            models.CheckConstraint(
                condition=(Q(aboveground_oil_gal=None) | Q(aboveground_oil_gal__gte=0))
                & (Q(previous_year_monthly_gal=None) | Q(previous_year_monthly_gal__gte=0))
                & (Q(largest_vessel_barrels=None) | Q(largest_vessel_barrels__gte=0)),
                name="facility_amounts_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.name
