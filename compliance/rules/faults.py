"""One thing that is wrong with a site document, and where."""

import re
from dataclasses import dataclass

import msgspec


@dataclass(frozen=True, slots=True)
class Fault:
    """`pointer` is a JSON pointer (RFC 6901) into the document; `detail` says what was expected."""

    pointer: str
    detail: str

    def __str__(self) -> str:
        return f"{self.pointer or '/'}: {self.detail}"


class DocumentError(ValueError):
    """The document cannot be judged. `faults` lists everything that was found."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


_STEP = re.compile(r"\.([^.\[\]]+)|\[(\d+|\.\.\.)\]")
_UNKNOWN_FIELD = re.compile(r"Object contains unknown field `(.+)`")


def fault_of(error: msgspec.ValidationError, pointer: str) -> Fault:
    """The fault behind a validation error of a value that stands at `pointer`."""
    detail, _, at = str(error).partition(" - at `$")
    for key, index in _STEP.findall(at.rstrip("`")):
        pointer += f"/{key or index}"
    if unknown := _UNKNOWN_FIELD.fullmatch(detail):
        return Fault(
            f"{pointer}/{unknown[1]}", "no such field; correct the name, or begin a field of your own with x_"
        )
    return Fault(pointer, detail)
