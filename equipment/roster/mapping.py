"""What a mapping file may say: which column feeds which element, and how the roster's words become ours."""

import difflib
import math
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Literal

import msgspec

from equipment.roster.elements import STATUS, Element, ElementType, out_of_range

Word = str | bool | list[str]
SHOWN_WORDS = 15
LONGEST_PREFIX = 20
_ANY_DAY = datetime(2001, 2, 3)  # noqa: DTZ001 - only to try a date format
_LISTS = (ElementType.WORDS, ElementType.TEXTS)
_WORDED = (ElementType.WORD, ElementType.WORDS)


class FileTable(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """How the bytes become rows."""

    encoding: str = "utf-8"
    delimiter: str = ","


class IdentityTable(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Which columns tell facilities, tanks and compartments apart, and how new facilities are called."""

    facility: str
    tank: str
    compartment: str | None = None
    code_prefix: str = ""
    name_when_empty: str = "Facility {facility}"
    tank_system: Literal["one a facility", "one a tank"] = "one a facility"


class DateTable(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Formats (strptime), tried in turn, and the dates that this roster writes when it does not know."""

    formats: tuple[str, ...] = ("%Y-%m-%d",)
    placeholders: tuple[str, ...] = ()


class ColumnTable(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """One column and the element it feeds. `words`: the roster's word, then ours; "" means that nobody said."""

    name: str
    feeds: str
    words: dict[str, Word] = {}
    separator: str | None = None


class FlagTable(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """A yes/no column that stands for one word of a list: yes adds the word to the element."""

    name: str
    adds: str
    word: str


class RosterMapping(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """A whole mapping file."""

    title: str
    identity: IdentityTable
    file: FileTable = FileTable()
    dates: DateTable = DateTable()
    constants: dict[str, dict[str, Any]] = {}
    column: tuple[ColumnTable, ...] = ()
    flag: tuple[FlagTable, ...] = ()
    ignored: tuple[str, ...] = ()

    def needed_columns(self) -> tuple[str, ...]:
        """Every column that the header must have, each once, in the order of the mapping."""
        identity = [self.identity.facility, self.identity.tank, self.identity.compartment or ""]
        named = [*identity, *(one.name for one in self.column), *(one.name for one in self.flag)]
        return tuple(dict.fromkeys(name for name in named if name))

    def fed(self) -> set[str]:
        """Names of the elements that a column or flag feeds."""
        return {one.feeds for one in self.column} | {one.adds for one in self.flag}


Complaint = tuple[tuple[str | int, ...], str]


def complaints(mapping: RosterMapping, elements: Mapping[str, Element]) -> Iterator[Complaint]:
    """What is wrong with the content: the path of keys, then the words. Shape was checked when it was read."""
    yield from _file_complaints(mapping)
    yield from _constant_complaints(mapping, elements)
    fed: dict[str, int] = {}
    for index, column in enumerate(mapping.column):
        yield from _column_complaints(("column", index), column, elements)
        if column.feeds in fed:
            yield ("column", index, "feeds"), f"{column.feeds} is fed by two columns; keep one"
        fed.setdefault(column.feeds, index)
    for index, flag in enumerate(mapping.flag):
        yield from _flag_complaints(("flag", index), flag, elements)
        if flag.adds in fed:
            yield ("flag", index, "adds"), f"{flag.adds} is fed by a column already; keep one of the two"
    constant = {f"{part}.{field}" for part, fields in mapping.constants.items() for field in fields}
    if both := sorted(constant & mapping.fed()):
        part, field = both[0].split(".")
        yield ("constants", part, field), f"{both[0]} is fed by a column as well; keep one of the two"
    if "facility.time_zone" not in constant | mapping.fed():
        yield ("constants",), "facility.time_zone is needed: days begin and end by it"


def _file_complaints(mapping: RosterMapping) -> Iterator[Complaint]:
    if not _keeps_ascii(mapping.file.encoding):
        yield ("file", "encoding"), f"{mapping.file.encoding!r} cannot be used; utf-8 and cp1252 are usual"
    if len(mapping.file.delimiter) != 1 or mapping.file.delimiter in '"\r\n':
        yield ("file", "delimiter"), "one character is needed, such as a comma, a semicolon or \\t"
    named = mapping.identity.name_when_empty.replace("{facility}", "1")
    if not named or "{" in named or not named.isprintable():
        yield ("identity", "name_when_empty"), "write a text in which only {facility} stands in braces"
    prefix = mapping.identity.code_prefix
    if not prefix.isprintable() or len(prefix) > LONGEST_PREFIX:
        yield (
            ("identity", "code_prefix"),
            f"at most {LONGEST_PREFIX} characters, none of them a control character",
        )
    for position, form in enumerate(mapping.dates.formats):
        try:
            back = datetime.strptime(_ANY_DAY.strftime(form), form)  # noqa: DTZ007
        except ValueError:
            back = None
        if back != _ANY_DAY:
            yield ("dates", "formats"), f"format {position + 1}, {form!r}, does not give year, month and day"


def _keeps_ascii(encoding: str) -> bool:
    """Whether commas and line ends can be found before anything is decoded."""
    plain = bytes(range(32, 127))
    try:
        return plain.decode(encoding) == plain.decode()
    except (LookupError, ValueError):
        return False


def _constant_complaints(mapping: RosterMapping, elements: Mapping[str, Element]) -> Iterator[Complaint]:
    for part, fields in mapping.constants.items():
        for field, value in fields.items():
            element = elements.get(f"{part}.{field}")
            path = ("constants", part, field)
            if element is None:
                yield path, _no_element(f"{part}.{field}", elements)
            elif fault := _value_fault(value, element):
                yield path, fault


def _column_complaints(
    path: tuple[str | int, ...], column: ColumnTable, elements: Mapping[str, Element]
) -> Iterator[Complaint]:
    element = elements.get(column.feeds)
    if element is None:
        yield (*path, "feeds"), _no_element(column.feeds, elements)
        return
    if column.separator == "":
        yield (*path, "separator"), "at least one character is needed"
    for source, word in column.words.items():
        if word != "" and (fault := _word_fault(word, element)):
            yield (*path, "words", source), fault


def _flag_complaints(
    path: tuple[str | int, ...], flag: FlagTable, elements: Mapping[str, Element]
) -> Iterator[Complaint]:
    element = elements.get(flag.adds)
    if element is None:
        yield (*path, "adds"), _no_element(flag.adds, elements)
    elif element.type not in _WORDED or element.field == STATUS:
        yield (*path, "adds"), f"{flag.adds} holds no words of a list; feed it by a column"
    elif flag.word not in element.words:
        yield (*path, "word"), _no_word(flag.word, element)


def _word_fault(word: Word, element: Element) -> str | None:
    """What is wrong with our word of a word table."""
    if isinstance(word, list) and element.type not in _LISTS:
        return f"{element.name} holds one value; write one word"
    for one in word if isinstance(word, list) else [word]:
        if fault := _value_fault([one] if element.type in _LISTS else one, element):
            return fault
    return None


def _value_fault(value: object, element: Element) -> str | None:
    match element.type:
        case ElementType.YES_NO:
            return None if isinstance(value, bool) else "write true or false"
        case ElementType.NUMBER | ElementType.WHOLE:
            return _number_fault(value, element)
        case ElementType.DAY:
            return "a day comes from a column"
        case ElementType.TEXTS | ElementType.WORDS:
            texts, wanted = value, "write a list of texts"
        case _:
            texts, wanted = [value], "write a text"
    if not isinstance(texts, list) or not all(isinstance(one, str) and one for one in texts):
        return wanted
    if not all(one.isprintable() for one in texts):
        return "leave out control characters"
    wrong = [one for one in texts if element.words and one not in element.words]
    return _no_word(wrong[0], element) if wrong else None


def _number_fault(value: object, element: Element) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return "write a number"
    if element.type is ElementType.WHOLE and not isinstance(value, int):
        return "write a whole number"
    return out_of_range(element, value)


def _no_word(word: str, element: Element) -> str:
    near = difflib.get_close_matches(word, element.words, n=SHOWN_WORDS, cutoff=0.0)
    known = ", ".join(element.words if len(element.words) <= SHOWN_WORDS else (*near, "…"))
    return f"{word!r} is not in the code list of {element.name}: {known}"


def _no_element(name: str, elements: Mapping[str, Element]) -> str:
    part = name.partition(".")[0]
    own = sorted(one for one in elements if one.startswith(f"{part}."))
    known = own or sorted({one.partition(".")[0] for one in elements})
    return f"{name!r} is no element of the register; known: {', '.join(known)}"
