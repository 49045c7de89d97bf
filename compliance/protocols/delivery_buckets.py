"""Whether spill buckets were looked at before a delivery, point by point (40 CFR 280.36(a)(1)(i)(A))."""

from collections.abc import Iterator, Sequence

import msgspec

POINTS = ("undamaged", "liquid_removed", "fill_pipe_clear", "cap_secure")
MUST_BE_DONE = ("liquid_removed", "fill_pipe_clear")


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody saw and did at one bucket; None: not looked at. `liquid_removed`: or none was there."""

    tag: str
    undamaged: bool | None = None
    liquid_removed: bool | None = None
    fill_pipe_clear: bool | None = None
    cap_secure: bool | None = None
    interstice_dry: bool | None = None


class Bucket(msgspec.Struct, frozen=True):
    """A bucket by the register. `monitored`: its space between two walls is monitored, so that it is looked at too."""

    tag: str
    monitored: bool


def lacking(buckets: Sequence[Bucket], looks: Sequence[Look]) -> list[str]:
    """What keeps the look from being complete, in words; empty: every bucket was looked at and emptied."""
    if not buckets:
        return ["The register shows no spill bucket at these tanks, so this check proves no look into one."]
    seen = {look.tag: look for look in looks}
    return [sentence for bucket in buckets for sentence in _lacking(bucket, seen.get(bucket.tag))]


def _lacking(bucket: Bucket, look: Look | None) -> Iterator[str]:
    if look is None:
        yield f"{bucket.tag} was not looked at."
        return
    points = (*POINTS, "interstice_dry") if bucket.monitored else POINTS
    missing = [name for name in points if getattr(look, name) is None]
    if missing:
        yield f"{bucket.tag}: nobody said {', '.join(missing).replace('_', ' ')}."
    undone = [name for name in MUST_BE_DONE if getattr(look, name) is False]
    if undone:
        yield f"{bucket.tag}: not done: {', '.join(undone).replace('_', ' ')}."


def found(looks: Sequence[Look]) -> list[str]:
    """What was seen that needs somebody before the truck connects."""
    return [
        f"{look.tag}: {words}"
        for look in looks
        for name, words in (
            ("undamaged", "is damaged; have it put right and tested before fuel goes through it."),
            ("cap_secure", "its fill cap does not sit tight; replace it."),
            ("interstice_dry", "its space between the walls is wet; find out where from."),
        )
        if getattr(look, name) is False
    ]
