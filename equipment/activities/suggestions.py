"""The most helpful answer to a name or a word that nearly is one of ours."""

import difflib
import re

from equipment.activities.definitions import Measurement
from equipment.activities.units import stem

# As close as a slip of the finger; another word on purpose stays allowed.
SAME_WORD = 0.9
SLIP = 2


def unknown_name(name: str, known: tuple[Measurement, ...]) -> str:
    """What to do about a name that is none of these measurements: add the unit, convert, or correct it."""
    names = [each.name for each in known]
    if not names:
        return "this activity takes no measurements; a value of your own begins with x_"
    if bare := [each.name for each in known if each.unit and stem(each.name) == name]:
        return f"state the unit in the name: {' or '.join(bare)}"
    if other := [each for each in known if _in_another_unit(name, each)]:
        return f"convert it: {' or '.join(f'{each.name} is in {each.unit}' for each in other)}"
    if near := difflib.get_close_matches(name, names, n=1):
        return f"no such measurement; did you mean {near[0]}?"
    return f"no such measurement; known: {', '.join(names)}; a value of your own begins with x_"


def listed_word(text: str, words: tuple[str, ...]) -> str | None:
    """The listed word that a text nearly is; None when it is one, or is something else on purpose."""
    if text in words:
        return None
    plain = _plain(text)
    return next((word for word in words if _same(plain, _plain(word))), None)


def _in_another_unit(name: str, known: Measurement) -> bool:
    """Whether the name is this measurement in a unit that is not ours: `leak_rate_lph`."""
    bare = stem(known.name)
    if known.unit is None or bare in ("", known.name) or not name.startswith(f"{bare}_"):
        return False
    return "_" not in name.removeprefix(f"{bare}_")


def _same(text: str, word: str) -> bool:
    if text == word:
        return True
    if abs(len(text) - len(word)) > SLIP:
        return False
    return difflib.SequenceMatcher(None, text, word).ratio() >= SAME_WORD


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", " ", text).strip().casefold()
