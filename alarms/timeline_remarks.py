"""What people should know about where a message went, beside the plain fact that it was taken in."""

from collections.abc import Iterator

import msgspec

from alarms.matching import Effect, Signal
from alarms.timeline import Episode, Placed
from alarms.timeline_rows import Row, Work

ENDED = "arrived after its episode had ended; nobody is told again"


class Placement(msgspec.Struct, frozen=True):
    """Where a message went. `remark` is for people; None when all is as expected."""

    effect: Effect
    row: Row | None = None
    remark: str | None = None


def placement_of(one: Placed, work: Work) -> Placement:
    """Where this message of a batch went, in the words of what was known before it."""
    if one.episode is None:
        return Placement(Effect.NONE, None, "cleared, though no raise of it is known")
    row = work.row_of(one.episode)
    if one.heard.signal == Signal.CLEARED:
        return _clear(one, row, one.episode)
    remarks = "; ".join(_raise(one, row, one.episode, work))
    opened = one.effect == Effect.OPENED and row.before is None
    return Placement(Effect.OPENED if opened else Effect.JOINED, row, remarks or None)


def _clear(one: Placed, row: Row, episode: Episode) -> Placement:
    at, before = one.heard.at, row.before
    if before is None or one.effect == Effect.JOINED:
        remark = "had cleared before" if one.effect == Effect.JOINED else None
        return Placement(one.effect, row, remark)
    if before.ended_at is not None and episode.ended_at is not None:
        return Placement(Effect.JOINED, row, ENDED)
    if at < before.last_raised_at:
        if episode.ended_at is None:
            return Placement(Effect.JOINED, row, "arrived late: the condition was raised again since")
        remark = "arrived late: its alarm had ended then; what was raised since is an alarm of its own"
        return Placement(Effect.CLEARED, row, remark)
    if before.cleared_at is not None and at < before.cleared_at:
        return Placement(Effect.JOINED, row, "had cleared before")
    return Placement(Effect.CLEARED, row)


def _raise(one: Placed, row: Row, episode: Episode, work: Work) -> Iterator[str]:
    at, before = one.heard.at, row.before
    if one.lapsed:
        yield "the earlier episode was never cleared; this begins a new one"
    if before is None:
        if _cleared_before(episode, work):
            yield "its clear had arrived before it"
        return
    if at < before.raised_at:
        yield _moved_back(before, one)
    if before.ended_at is not None and episode.ended_at is None and at >= before.ended_at:
        yield "came back soon after it had ended: the same alarm with one more occurrence"
    if before.ended_at is not None and episode.ended_at is not None:
        yield ENDED
    elif before.cleared_at is not None and at < before.cleared_at:
        yield "arrived late: the condition had cleared since"
    same = [other.alarm for other in work.rows if other.merged_into is row and other.is_newly_merged]
    if same:
        numbers = ", ".join(str(number) for number in same)
        yield f"shows that this was one alarm all along; merged into it: {numbers}"


def _cleared_before(episode: Episode, work: Work) -> bool:
    """By a clear that was on file already: messages on file have a number above zero."""
    return any(
        one.effect == Effect.CLEARED and one.episode is episode and one.heard.ref > 0 for one in work.placed
    )


def _moved_back(before: Episode, one: Placed) -> str:
    """Whoever sees a duty overdue at once has to find out why."""
    return (
        f"moves the beginning of its alarm back from {before.raised_at.isoformat()} to {one.heard.at.isoformat()}; "
        "what the law counts from there may be overdue at once"
    )
