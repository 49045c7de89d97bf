"""The one base view of everything that belongs to a facility: scoped lists, declared rights, one clock a request."""

from datetime import datetime
from typing import Any, ClassVar, NoReturn, cast

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone
from rest_framework import exceptions
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.views import APIView

from equipment.api.authentication import NO_KEY
from equipment.api.parsers import TooLarge, check_framing
from equipment.api.query_strings import StrictQuery, checked_query
from equipment.api.scalars import MAX_ID
from equipment.models import Facility, Organisation
from equipment.tenancy import (
    Actor,
    Right,
    acting_organisation,
    facilities_visible_to,
    refusal,
    refusal_at,
)


class ScopedView(APIView):
    """Knows who asks, when, and what they may see. Subclasses declare a right for each verb they answer.

    A verb without a declared right is refused before any query, so that a forgotten declaration shows at once. HEAD
    asks for what GET would answer (RFC 9110, 9.3.2) and needs the same right.

    A query string is as strict: `query_shape` says what may be asked when reading, nothing unless declared, and
    nothing at all when writing; what was asked is in `asked`.
    """

    rights: ClassVar[dict[str, Right]] = {}
    query_shape: ClassVar[type[StrictQuery]] = StrictQuery
    max_bytes: ClassVar[int | None] = None  # of a request, where it has a limit of its own
    too_large: ClassVar[str] = ""  # what to do then
    asked: dict[str, Any]
    now: datetime
    actor: Actor

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what is too large before anything reads it, read the key, and fix the clock and the actor."""
        if self.max_bytes is not None and int(request.META.get("CONTENT_LENGTH") or 0) > self.max_bytes:
            raise TooLarge(self.too_large)
        self.now = timezone.now()
        super().initial(request, *args, **kwargs)
        if any(map(_names_nothing, kwargs.values())):
            raise Http404
        if request.method not in self.allowed_methods:
            raise exceptions.MethodNotAllowed(str(request.method))
        reading = request.method in SAFE_METHODS
        if not reading:
            check_framing(request)
        self.actor = cast(Actor, request.auth)
        self.asked = checked_query(self.query_shape if reading else StrictQuery, request)

    def permission_denied(
        self, request: Request, message: str | None = None, code: str | None = None
    ) -> NoReturn:
        """Nothing is asked but a key: what a key may do is up to `rights`."""
        raise exceptions.NotAuthenticated(NO_KEY)

    @property
    def allowed_methods(self) -> list[str]:
        """The verbs that are answered, for Allow (RFC 9110, 10.2.1)."""
        return [verb for verb in super().allowed_methods if self._verb(verb) in self.rights]

    @property
    def right(self) -> Right:
        """The right that this request needs."""
        return self.rights[self._verb(str(self.request.method))]

    @staticmethod
    def _verb(method: str) -> str:
        return "GET" if method == "HEAD" else method

    def facilities(self) -> QuerySet[Facility]:
        """Every facility at which the actor holds the needed right."""
        return facilities_visible_to(self.actor, now=self.now, right=self.right)

    def facility_or_404(self, facility_id: int) -> Facility:
        """The facility; 404 when it is not the actor's to see, 403 when it is but the right is missing."""
        facility = self.facilities().filter(pk=facility_id).first()
        if facility is not None:
            return facility
        seen = facilities_visible_to(self.actor, now=self.now).filter(pk=facility_id).first()
        raise Http404 if seen is None else self.refusal_at(seen)

    def refusal_at(self, facility: Facility) -> PermissionDenied:
        """For a facility that the actor may see: who has the right that is missing."""
        return PermissionDenied(refusal_at(self.actor, facility, right=self.right, now=self.now))

    def organisation_at(self, facility: Facility) -> Organisation:
        """In whose name the actor uses the right here."""
        organisation = acting_organisation(self.actor, facility, right=self.right, now=self.now)
        if organisation is None:
            raise Http404
        return organisation

    def own_organisation_or_404(self, organisation_id: int) -> Organisation:
        """The actor's own organisation; 403 where the actor's role in it lacks the right."""
        if organisation_id != self.actor.organisation:
            raise Http404
        if not self.actor.may(self.right):
            raise PermissionDenied(refusal(self.actor, self.right))
        return Organisation.objects.get(pk=organisation_id)


def _names_nothing(part: object) -> bool:
    """True for a part of a path that a database would rather fail at than look for."""
    return part > MAX_ID if isinstance(part, int) else "\x00" in str(part)
