"""Reads JSON bodies strictly: bounded size, valid UTF-8, no name twice, no NaN, nothing a database could not store."""

import codecs
import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import IO, Any, NoReturn

from django.conf import settings
from rest_framework.exceptions import APIException, ParseError, UnsupportedMediaType
from rest_framework.parsers import JSONParser
from rest_framework.request import Request

MAX_DEPTH = 50
# The longest plain spelling of a float has some 325 digits; Python itself balks at 4,300.
MAX_DIGITS = 400


class TooLarge(APIException):
    status_code = 413


class LengthRequired(APIException):
    status_code = 411


class UnreadPacking(UnsupportedMediaType):
    """A body of the right kind in a coding that is not read; says so itself."""


def check_framing(request: Request) -> None:
    """Refuse a body that would be passed over or misread: one without a length, packed, or in another charset.

    Django reads no byte of a body whose length is not stated, so that a chunked one would pass for an empty one.
    """
    sent = request.headers
    if "Transfer-Encoding" in sent:
        raise LengthRequired("The body came in chunks and was not read; send Content-Length instead.")
    packing = sent.get("Content-Encoding", "identity").strip().lower()
    if packing not in ("", "identity"):
        raise _unsupported(f"A body packed as {packing!a:.40} is not read; send it without Content-Encoding.")
    charset = (request._request.content_params or {}).get("charset", "utf-8")
    if not _is_utf_8(charset):
        raise _unsupported(f"The charset {charset!a:.40} is not read; send UTF-8, as JSON always is.")


def _unsupported(detail: str) -> UnreadPacking:
    return UnreadPacking("", detail=detail)


def _is_utf_8(charset: str) -> bool:
    try:
        return codecs.lookup(charset).name == "utf-8"
    except (LookupError, ValueError):
        return False


class StrictJSONParser(JSONParser):
    """As DRF's, but the stream is read to the limit only, and each refusal says what to do."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The decoded body; a list, an object or a plain value."""
        return strict_json(_text(_bounded(stream)))


def strict_json(text: str, *, what: str = "body") -> Any:
    """The value that the text spells; ParseError with what to do. `what` is the thing that holds it."""
    try:
        body = json.loads(
            text,
            parse_constant=_not_json,
            object_pairs_hook=_object,
            **(_COUNTING_DIGITS if _LONG_NUMBER.search(text) else {}),
        )
    except RecursionError as error:
        raise ParseError("The JSON is nested too deeply.") from error
    except ValueError as error:
        raise ParseError(f"The {what} is not JSON: {error}") from error
    _bearable(body)
    if "\\u" in text:
        _storable(body)
    return body


def too_large() -> TooLarge:
    """The refusal of a body beyond the limit."""
    limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    return TooLarge(f"A body may hold {limit} bytes at most; send it in several requests.")


def _bounded(stream: IO[Any]) -> bytes:
    limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE or 0
    body: bytes = stream.read(limit + 1)
    if len(body) > limit:
        raise too_large()
    return body


def _text(body: bytes) -> str:
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ParseError(f"The body is not UTF-8: byte {error.start} cannot be read.") from error
    return text


def _not_json(word: str) -> NoReturn:
    raise ParseError(f"{word} is not a JSON number; leave an unknown value out or send null.")


def _whole(digits: str) -> int:
    return int(_of_bearable_length(digits))


def _fraction(digits: str) -> float:
    return float(_of_bearable_length(digits))


def _of_bearable_length(digits: str) -> str:
    if len(digits) > MAX_DIGITS:
        raise ParseError(
            f"A number of {len(digits)} characters begins with {digits[:12]}; {MAX_DIGITS} are read at most."
        )
    return digits


# A call for each number makes a large body three times as slow to read: only where a number may be too long.
_LONG_NUMBER = re.compile(rf"(?<![-+.0-9eE])[-+.0-9eE]{{{MAX_DIGITS + 1}}}")
_COUNTING_DIGITS: dict[str, Any] = {"parse_int": _whole, "parse_float": _fraction}


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """RFC 8259, 4: which of two values of one name counts is anybody's guess, and a fact must not hang on it."""
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = Counter(name for name, _ in pairs).most_common(1)[0][0]
        raise ParseError(f"The name {json.dumps(twice[:60])} stands twice in one object; send it once.")
    return found


def _bearable(body: object) -> None:
    """No deeper than anything here asks for, since whoever reads on does so recursively; no number that became
    infinite, since 1e400 is JSON and yet no database stores what it turns into."""
    level = [body]
    for _ in range(MAX_DEPTH):
        if any(isinstance(one, float) and math.isinf(one) for one in level):
            raise ParseError("A number lies beyond 1.8e308 and cannot be stored.")
        level = [inner for outer in level for inner in _inside(outer)]
        if not level:
            return
    raise ParseError(f"The JSON is nested too deeply; {MAX_DEPTH} levels are read.")


def _inside(value: object) -> Iterable[object]:
    if isinstance(value, dict):
        return value.values()
    return value if isinstance(value, list) else ()


def _storable(body: object) -> None:
    """Escapes can spell what no database stores: a lone surrogate, or the character zero."""
    try:
        written = json.dumps(body, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError as error:
        raise ParseError(
            "A text holds half of a surrogate pair (\\ud800 to \\udfff); send whole characters."
        ) from error
    if b"\\u0000" in written:
        raise ParseError("A text holds the character \\u0000, which cannot be stored.")
