"""Reads one cell: the value it states, or unknown and the reason. Nothing is guessed and nothing empty becomes a no."""

import difflib
import re
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from equipment.roster.elements import UNKNOWN, Element, ElementType, out_of_range
from equipment.roster.mapping import ColumnTable, DateTable, Word

Reading = tuple[Any, str | None]  # the value (None: unknown), and why it is not what the cell says
YES = frozenset({"yes", "y", "true"})
NO = frozenset({"no", "n", "false"})
NOT_SAID = frozenset({"", "unknown", "unk", "?"})
_NUMBER = re.compile(r"[+-]?(\d{1,15}|\d{1,3}(,\d{3}){1,4})(\.\d{1,6})?")


def plain(text: str) -> str:
    """A word as words are compared: one space between, no difference between capital and small letters."""
    return " ".join(text.split()).casefold()


class CellReader:
    """Reads the cells of one column for one element. Days after `as_of`, the day of the roster, are refused."""

    def __init__(self, column: ColumnTable, element: Element, dates: DateTable, *, as_of: date) -> None:
        self.column = column.name
        self.element = element
        self._separator = column.separator
        self._dates = dates
        self._as_of = as_of
        own: dict[str, Word] = {plain(word): word for word in element.words}
        self._words = own | {plain(source): word for source, word in column.words.items()}
        self._read = {
            ElementType.TEXT: self._text,
            ElementType.TEXTS: self._list,
            ElementType.WORD: self._word,
            ElementType.WORDS: self._list,
            ElementType.YES_NO: self._yes_no,
            ElementType.NUMBER: self._number,
            ElementType.WHOLE: self._number,
            ElementType.DAY: self._day,
        }[element.type]

    def read(self, cell: str) -> Reading:
        """The cell's value and a reason for whatever was not taken as it stands."""
        text = cell.strip()
        if not text:
            return None, None
        word = self._words.get(plain(text))
        if word is None:
            return self._read(text)
        if word == "":
            return None, None
        if self.element.type in (ElementType.WORDS, ElementType.TEXTS) and not isinstance(word, list):
            return [word], None
        return word, None

    def _text(self, text: str) -> Reading:
        limit = self.element.max_length
        if limit is not None and len(text) > limit:
            return None, f"is longer than {limit} characters; kept as unknown"
        return text, None

    def _word(self, text: str) -> Reading:
        unknown = UNKNOWN if UNKNOWN in self.element.words else None
        if plain(text) in NOT_SAID:
            return unknown, None
        return (
            unknown,
            f"is not in the code list of {self.element.name} and has no word in the mapping{self._near(text)}",
        )

    def _list(self, text: str) -> Reading:
        pieces = text.split(self._separator) if self._separator else [text]
        found: list[str] = []
        strange: list[str] = []
        for piece in filter(None, map(str.strip, pieces)):
            word = self._words.get(plain(piece))
            if word is None and self.element.type is ElementType.TEXTS:
                word = piece
            if word is None and plain(piece) not in NOT_SAID:
                strange.append(piece)
            if word is None and UNKNOWN in self.element.words:
                word = UNKNOWN
            found += word if isinstance(word, list) else [str(word)] if word else []
        if not strange:
            return list(dict.fromkeys(found)) or None, None
        reason = (
            f"{strange[0]!r} is not in the code list of {self.element.name} and has no word in the mapping"
        )
        # A list says "these and no others", so one that cannot be read to its end is unknown as a whole,
        # unless it can say so itself.
        kept = list(dict.fromkeys(found)) if UNKNOWN in self.element.words else None
        return kept, f"{reason}{self._near(strange[0])}"

    def _yes_no(self, text: str) -> Reading:
        answer = plain(text)
        if answer in YES or answer in NO:
            return answer in YES, None
        return None, None if answer in NOT_SAID else "is neither yes nor no; kept as unknown"

    def _number(self, text: str) -> Reading:
        if plain(text) in NOT_SAID:
            return None, None
        if not _NUMBER.fullmatch(text):
            return None, "is not a number (digits, with a point for decimals); kept as unknown"
        number = float(text.replace(",", ""))
        if reason := out_of_range(self.element, number):
            return None, f"{reason}; kept as unknown"
        if self.element.type is ElementType.WHOLE:
            return (
                (int(number), None)
                if number.is_integer()
                else (None, "is not a whole number; kept as unknown")
            )
        return number, None

    def _day(self, text: str) -> Reading:
        if plain(text) in NOT_SAID:
            return None, None
        if text in self._dates.placeholders:
            return None, "is what this roster writes for an unknown date; kept as unknown"
        day = parse_day(text, self._dates.formats)
        if day is None:
            return None, f"is no date of the form {' or '.join(self._dates.formats)}; kept as unknown"
        if day > self._as_of:
            return None, f"lies after the day of the roster, {self._as_of}; kept as unknown"
        return day, None

    def _near(self, text: str) -> str:
        near = difflib.get_close_matches(plain(text), self.element.words, n=1, cutoff=0.7)
        return f" (near: {near[0]!r}); kept as unknown" if near else "; kept as unknown"


def parse_day(text: str, formats: Iterable[str]) -> date | None:
    """The day in the first format that fits, None when none does. A date of the calendar only: no 30 February."""
    for form in formats:
        if form == "%Y-%m-%d" and len(text) == 10:
            try:
                return date.fromisoformat(text)
            except ValueError:
                continue
        try:
            return datetime.strptime(text, form).date()  # noqa: DTZ007 - a day has no zone
        except ValueError:
            continue
    return None
