"""Who is on duty: people who take turns, each for so many days from the hand-over time on."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import msgspec

from alarms.local_times import instant_of


class Turns(msgspec.Struct, frozen=True, kw_only=True):
    """From `starts_on` at `hand_over` on, `people` take turns of `turn_days` local days each, over and over."""

    people: int
    starts_on: date
    turn_days: int
    hand_over: time
    time_zone: str

    def __post_init__(self) -> None:
        if self.people < 1 or self.turn_days < 1:
            raise ValueError("a rota has at least one person, and a turn at least one day")

    def on_duty(self, at: datetime) -> int:
        """The place (from 0) of whoever is on duty at this instant. Before the first turn the order holds backwards,
        so that somebody always is."""
        return self.turn(at) % self.people

    def turn(self, at: datetime) -> int:
        """The number of the turn that holds this instant, the first being 0. It begins with the hand-over (inclusive)
        and ends with the next."""
        today = at.astimezone(ZoneInfo(self.time_zone)).date()
        number = (today - self.starts_on).days // self.turn_days
        return number if self.begins(number) <= at else number - 1

    def begins(self, number: int) -> datetime:
        """When this turn begins (UTC)."""
        day = self.starts_on + timedelta(days=number * self.turn_days)
        return instant_of(day, self.hand_over, ZoneInfo(self.time_zone))
