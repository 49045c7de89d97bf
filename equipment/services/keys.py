"""API keys: made once, shown once, stored as a hash."""

import hashlib
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta

from equipment.faults import Fault, refuse
from equipment.models import ApiKey, Organisation
from equipment.tenancy import Actor

PREFIX_LENGTH = 8
USE_NOTED_EVERY = timedelta(minutes=10)
# A year and a month of grace: a key is renewed once a season, and a forgotten one dies by itself.
MAX_LIFETIME = timedelta(days=400)


def sha256(secret: str) -> str:
    """Hex digest. A plain hash suffices: the secret is 256 random bits, nothing a dictionary holds."""
    return hashlib.sha256(secret.encode()).hexdigest()


def make_key(
    *,
    organisation: Organisation,
    name: str,
    role: str,
    now: datetime,
    expires_at: datetime,
    random: Callable[[int], str] = secrets.token_urlsafe,
) -> tuple[ApiKey, str]:
    """A new key and its secret, which is not kept: show it now or never."""
    secret = f"{random(6)[:PREFIX_LENGTH]}.{random(32)}"
    key = ApiKey.objects.create(
        organisation=organisation,
        name=name,
        role=role,
        prefix=secret[:PREFIX_LENGTH],
        secret_sha256=sha256(secret),
        created_at=now,
        expires_at=expires_at,
    )
    return key, secret


def issue_key(
    *, organisation: Organisation, name: str, role: str, expires_at: datetime, now: datetime
) -> tuple[ApiKey, str]:
    """A key as a manager orders one: it expires, at the latest after `MAX_LIFETIME`. Key and secret."""
    if expires_at <= now:
        refuse([Fault("/expires_at", "lies in the past", "past")])
    if expires_at - now > MAX_LIFETIME:
        refuse(
            [Fault("/expires_at", f"a key lives {MAX_LIFETIME.days} days at most; renew it then", "too-long")]
        )
    return make_key(organisation=organisation, name=name, role=role, expires_at=expires_at, now=now)


def actor_of(secret: str, *, now: datetime) -> Actor | None:
    """Whoever holds this secret; None when it is unknown, expired or revoked."""
    key = ApiKey.objects.filter(prefix=secret[:PREFIX_LENGTH]).select_related("organisation").first()
    if key is None or not secrets.compare_digest(key.secret_sha256, sha256(secret)):
        return None
    if key.expires_at <= now or (key.revoked_at is not None and key.revoked_at <= now):
        return None
    if key.last_used_at is None or now - key.last_used_at >= USE_NOTED_EVERY:
        ApiKey.objects.filter(pk=key.pk).update(last_used_at=now)
    return Actor(
        name=f"key {key.prefix} ({key.organisation.name})", organisation=key.organisation_id, role=key.role
    )


def revoke_key(key: ApiKey, *, now: datetime) -> None:
    """End a key now; the row stays, so that history can name it. Repeats change nothing."""
    ApiKey.objects.filter(pk=key.pk, revoked_at=None).update(revoked_at=now)
