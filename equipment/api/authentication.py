"""Turns a key into an actor. Only programs come here; nobody signs in."""

from django.utils import timezone
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.request import Request

from equipment.services import keys
from equipment.tenancy import Actor

NO_KEY = "Send Authorization: Bearer KEY; a manager of your organisation makes keys with POST /api/v1/keys."


class KeyHolder:
    """Stands where DRF expects a user; a program is nobody's account."""

    is_authenticated = True
    is_active = True
    pk = None

    def __init__(self, actor: Actor) -> None:
        self.actor = actor

    def __str__(self) -> str:
        return self.actor.name


class KeyAuthentication(BaseAuthentication):
    """`Authorization: Bearer <key>`."""

    def authenticate(self, request: Request) -> tuple[KeyHolder, Actor] | None:
        """The holder and the actor; None for a request without a key."""
        scheme, _, secret = get_authorization_header(request).decode("latin-1").partition(" ")
        if scheme.lower() != "bearer":
            return None
        actor = keys.actor_of(secret.strip(), now=timezone.now())
        if actor is None:
            raise exceptions.AuthenticationFailed(
                "The key is unknown, expired or revoked; ask your operator for a new one."
            )
        return KeyHolder(actor), actor

    def authenticate_header(self, request: Request) -> str:
        """What a client should send."""
        return 'Bearer realm="api"'
