"""Turns a key or a session into an actor."""

from django.utils import timezone
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.request import Request

from equipment.models import User
from equipment.services import keys
from equipment.tenancy import Actor


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
        """The holder and the actor; None leaves the request to the next way of signing in."""
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


def actor_of_request(request: Request) -> Actor:
    """The actor of a signed-in request: from its key, or from the memberships of the person in the session."""
    if isinstance(request.auth, Actor):
        return request.auth
    if not isinstance(request.user, User):
        raise exceptions.NotAuthenticated
    memberships = request.user.memberships.order_by("organisation_id").values_list("organisation_id", "role")
    return Actor(name=request.user.get_username(), roles=tuple(memberships))
