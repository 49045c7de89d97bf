"""Rotas of an organisation: stated as a whole, and replaced as a whole."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from django.db import transaction
from django.db.models import QuerySet

from alarms.models import Rota, RotaTurn
from alarms.services.contacts import StatedContact, contact_of
from equipment.faults import Fault, Stale, refuse
from equipment.models import Organisation


@dataclass(frozen=True, kw_only=True)
class StatedRota:
    """A rota as stated; the people in the order of their turns."""

    name: str
    people: Sequence[StatedContact]
    starts_on: date
    turn_days: int
    hand_over: time
    time_zone: str


def rotas_of(organisation: Organisation) -> QuerySet[Rota]:
    """The organisation's rotas with their people at hand."""
    return Rota.objects.filter(organisation=organisation).prefetch_related("turns__contact")


@transaction.atomic
def make_rota(*, organisation: Organisation, stated: StatedRota, by: str, now: datetime) -> Rota:
    """A new rota; `Invalid` when the organisation has one of that name."""
    _refuse_name(organisation, stated.name, but=None)
    rota = Rota.objects.create(organisation=organisation, **_columns(stated, by, now))
    _put_people(rota, stated.people)
    return rota


@transaction.atomic
def replace_rota(*, rota: Rota, version: int, stated: StatedRota, by: str, now: datetime) -> Rota:
    """Put this in the place of version `version`; it counts from the next call on. `Stale` if somebody was faster."""
    _refuse_name(rota.organisation, stated.name, but=rota.pk)
    columns = _columns(stated, by, now) | {"version": version + 1}
    if not Rota.objects.filter(pk=rota.pk, version=version).update(**columns):
        raise Stale("Read the rota again, look at what changed, and send yours with the new ETag.")
    rota.turns.all().delete()
    _put_people(rota, stated.people)
    return rota


def _columns(stated: StatedRota, by: str, now: datetime) -> dict[str, object]:
    return {
        "name": stated.name,
        "starts_on": stated.starts_on,
        "turn_days": stated.turn_days,
        "hand_over": stated.hand_over,
        "time_zone": stated.time_zone,
        "changed_at": now,
        "changed_by": by,
    }


def _put_people(rota: Rota, people: Sequence[StatedContact]) -> None:
    RotaTurn.objects.bulk_create(
        RotaTurn(rota=rota, position=position, contact=contact_of(one, rota.organisation))
        for position, one in enumerate(people, start=1)
    )


def _refuse_name(organisation: Organisation, name: str, *, but: int | None) -> None:
    same = set(Rota.objects.filter(organisation=organisation, name=name).values_list("pk", flat=True))
    if same - {but}:
        refuse([Fault("/name", "another rota of this organisation has this name", "taken")])
