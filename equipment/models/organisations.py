"""Who acts here: organisations, and the keys that their programs carry."""

from django.db import models
from django.db.models import F, Q

from equipment.vocabulary import AccessRole, KeyRole, OrganisationKind


class Organisation(models.Model):
    """An operator of marinas, a service contractor, or an agency that inspects."""

    name = models.CharField(max_length=200, unique=True)
    kind = models.CharField(max_length=12, choices=OrganisationKind)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=OrganisationKind.values), name="organisation_kind_known"
            )
        ]

    def __str__(self) -> str:
        return self.name


class ApiKey(models.Model):
    """A program's key. The secret is shown once, when made; only its SHA-256 is kept.

    A key acts for its organisation and sees what the organisation's grants cover. It expires; a revoked or expired key
    stays on file, so that history can always name who posted.
    """

    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="keys")
    name = models.CharField(max_length=100)
    role = models.CharField(max_length=12, choices=KeyRole)
    prefix = models.CharField(max_length=12, unique=True)
    secret_sha256 = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")), name="key_expires_after_creation"
            ),
            models.CheckConstraint(condition=Q(role__in=KeyRole.values), name="key_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.prefix}… ({self.name})"


class FacilityAccess(models.Model):
    """A dated grant: what this organisation may do at this facility, from an instant to (not including) another."""

    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="grants")
    facility = models.ForeignKey("equipment.Facility", models.CASCADE, related_name="grants")
    role = models.CharField(max_length=12, choices=AccessRole)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)
    granted_by = models.CharField(max_length=200)

    class Meta:
        indexes = [
            models.Index(fields=["organisation", "facility", "starts_at"], name="grant_by_organisation")
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at=None) | Q(ends_at__gt=F("starts_at")), name="grant_ends_after_it_starts"
            ),
            models.CheckConstraint(condition=Q(role__in=AccessRole.values), name="grant_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.organisation} at {self.facility} as {self.role}"
