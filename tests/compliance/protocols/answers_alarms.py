"""What our code answers to the examples on alarms that chatter, flood and wait; chattering by the database."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta

import msgspec

from alarms.figure_queries import Actor
from alarms.figures import Figures, Gathered, Peak, Stood, Unanswered, figures_of, peak_of
from alarms.mark_queries import marks_of, with_marks
from alarms.marks import Mark, limits
from alarms.models import Alarm
from alarms.spans import Span
from tests import world
from tests.alarms.sites import deliver, report
from tests.compliance.protocols.worked import Answers, Example
from tests.world import NOW

SECOND = timedelta(seconds=1)
TEN_MINUTES_S = 600
# Where a person finds each metric of OPC 10000-9: a column of the figures, of a part of them, or of what is asked for.
# "Start of counting" and "reset" are the span that is asked for: nothing counts on, so nothing has to be reset.
METRICS: dict[str, tuple[type, str]] = {
    "total count": (Figures, "raises"),
    "start of counting": (Span, "first"),
    "longest time active": (Stood, "oldest_raised_at"),
    "longest time unacknowledged": (Unanswered, "longest_s"),
    "current rate": (Figures, "raises"),
    "maximum rate": (Peak, "raises"),
    "maximum re-alarm count": (Actor, "raises"),
    "average rate": (Figures, "raises_per_day"),
    "reset": (Span, "first"),
}


def alarms(example: Example) -> Answers:
    flood = limits().flood
    if example.id == "alarm-eemua":
        return {"flood": f"{flood.raises} in {flood.within_minutes} min"}
    if example.id == "alarm-opcua":
        return {"metrics": [name for name, (kind, column) in METRICS.items() if column in columns(kind)]}
    if example.id == "alarm-chatter":
        apart = 60 * example["window"] / (example["activations"] - 1)
        return {"chattering": chatters([number * apart for number in range(example["activations"])])}
    if example.id == "alarm-derived-binsplit":
        seconds = example["activation_seconds"]
        peak = peak_of(1, at(seconds), flood)
        bins = Counter(second // TEN_MINUTES_S for second in seconds)
        return {
            "flood_sliding": peak is not None and peak.flood,
            "flood_fixed_bins": max(bins.values()) >= flood.raises,
        }
    seconds = example["activation_seconds_same_tag"]
    figures = figures_of(
        Gathered(lines=(), standing=(), waiting=(), raises={1: at(seconds)}, exercises=0),
        span=timedelta(hours=example["observation"]),
        limit=flood,
        now=NOW,
    )
    return {
        "chattering": chatters(seconds),
        "flood": figures.floods > 0,
        "max_in_any_10min": figures.peak and figures.peak.raises,
        "average_per_hour": figures.raises_per_day / 24,
    }


def columns(kind: type) -> set[str]:
    return {field.name for field in (fields(kind) if is_dataclass(kind) else msgspec.structs.fields(kind))}


def at(seconds: Sequence[float]) -> list[datetime]:
    return [NOW + second * SECOND for second in seconds]


def chatters(seconds: Sequence[float]) -> bool:
    """One alarm raised at these seconds, and cleared half a second before each next one and after the last, as the
    service marks it."""
    site = world.facility(world.organisation("owner"), "OWN")
    world.line(site)
    raises = [report(occurred_at=moment) for moment in at(seconds)]
    end = NOW + (max(seconds) + 1) * SECOND
    clears = [report(signal="cleared", occurred_at=moment - SECOND / 2) for moment in [*at(seconds)[1:], end]]
    deliver(site, *raises, *clears, now=end)
    return Mark.CHATTERING in marks_of(with_marks(Alarm.objects.all(), at=end).latest("pk"))


ANSWERS = {"alarm-metrics": alarms}
