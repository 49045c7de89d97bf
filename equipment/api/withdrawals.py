"""Taking back what should never have been stated: what every such doorway shares."""

from typing import TypeVar

from rest_framework.request import Request

from equipment.api.change_shapes import WithdrawalIn
from equipment.api.views import ScopedView
from equipment.models import Facility, FacilityFact
from equipment.services.stating import withdraw_fact

Taken = TypeVar("Taken", bound=FacilityFact)


def reason_of(request: Request) -> str:
    """Why, as the body says; ValidationError without it."""
    body = WithdrawalIn(data=request.data)
    body.is_valid(raise_exception=True)
    return str(body.validated_data["reason"])


def take_back(view: ScopedView, request: Request, fact: Taken, *, facility: Facility) -> Taken:
    """The fact of this facility withdrawn, in the name in which the actor acts there."""
    reason = reason_of(request)
    return withdraw_fact(
        fact=fact,
        organisation=view.organisation_at(facility),
        reason=reason,
        by=view.actor.name,
        now=view.now,
    )
