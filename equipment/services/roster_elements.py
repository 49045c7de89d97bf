"""Which elements a roster may feed: read off the register's own columns, so that the two cannot drift apart."""

from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django.db import models

from equipment.models import MODEL_OF_KIND, Facility
from equipment.models.validators import EachOf
from equipment.roster.code_lists import FACILITY_TYPES, SUBSTANCES
from equipment.roster.elements import (
    COMPARTMENT,
    FACILITY,
    PARTS,
    PRESENT,
    STATUS,
    STATUS_SINCE,
    TANK,
    Element,
    ElementType,
    number_element,
)
from equipment.services.register import stated_fields
from equipment.vocabulary import Status

# The identity of a mapping gives these.
_IDENTITY = {"code", "tag", "facility_id"}
_WORDS = {"facility_type1": FACILITY_TYPES, "substance": SUBSTANCES}


@cache
def register_elements() -> dict[str, Element]:
    """Every element by its name, `part.field`."""
    found = list(_of_model(FACILITY, Facility))
    for part in PARTS.values():
        found += [
            one for one in _of_model(part.name, MODEL_OF_KIND[part.kind]) if one.field not in part.fixed
        ]
        if part.name in (TANK, COMPARTMENT):
            found.append(Element(part.name, STATUS, ElementType.WORD, tuple(Status.values)))
            found.append(Element(part.name, STATUS_SINCE, ElementType.DAY))
        else:
            found.append(Element(part.name, PRESENT, ElementType.YES_NO))
    return {element.name: element for element in found}


def _of_model(part: str, model: type[models.Model]) -> list[Element]:
    columns = {name: column for name, column in stated_fields(model).items() if name not in _IDENTITY}
    return [
        element for name, column in columns.items() if (element := _element(part, name, column)) is not None
    ]


_PLAIN: tuple[tuple[type, ElementType], ...] = (
    (models.BooleanField, ElementType.YES_NO),
    (models.DateField, ElementType.DAY),
    (models.FloatField, ElementType.NUMBER),
    (models.IntegerField, ElementType.WHOLE),
)


def _element(part: str, name: str, column: "models.Field[Any, Any]") -> Element | None:
    if isinstance(column, models.DateTimeField):
        return None
    plain = next((type_ for column_type, type_ in _PLAIN if isinstance(column, column_type)), None)
    if plain in (ElementType.NUMBER, ElementType.WHOLE):
        return number_element(part, name, plain)
    if plain is not None:
        return Element(part, name, plain)
    words = _words_of(name, column)
    if isinstance(column, models.JSONField):
        return Element(part, name, ElementType.WORDS if words else ElementType.TEXTS, words)
    return Element(part, name, ElementType.WORD if words else ElementType.TEXT, words, column.max_length)


def _words_of(name: str, column: "models.Field[Any, Any]") -> tuple[str, ...]:
    """The code list of a column: its choices, those of its list entries, or the list that stands elsewhere."""
    if name == "time_zone":
        return tuple(sorted(available_timezones()))
    entries = tuple(word for one in column.validators if isinstance(one, EachOf) for word in one.words)
    return entries or tuple(str(value) for value, _ in column.choices or ()) or _WORDS.get(name, ())
