"""Days and instants as people state them. A day is a whole local day at the facility; an instant has an offset."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

# A sender's clock may be a little ahead of ours; more than this is a mistake worth refusing.
CLOCK_SKEW = timedelta(minutes=5)
# Years that a register can mean; the rules read a wider span, so no stated day can stop a judgement.
FIRST_YEAR, LAST_YEAR = 1900, 2300


@dataclass(frozen=True)
class Moment:
    """A stated day, or a stated instant (aware, UTC)."""

    day: date | None = None
    instant: datetime | None = None

    def local_day(self, zone: ZoneInfo) -> date:
        """The local day on which it falls."""
        if self.instant is not None:
            return self.instant.astimezone(zone).date()
        assert self.day is not None
        return self.day

    def is_after(self, now: datetime, zone: ZoneInfo) -> bool:
        """Whether it lies in the future: a day after today at the facility, or an instant beyond the allowed skew."""
        if self.instant is not None:
            return self.instant > now + CLOCK_SKEW
        return self.local_day(zone) > now.astimezone(zone).date()

    def __str__(self) -> str:
        """ISO 8601, as it is stated on the wire."""
        return self.instant.isoformat() if self.instant is not None else str(self.day)


def read_moment(text: str) -> Moment:
    """`2026-02-27`, or `2026-02-27T14:05:00-05:00`. ValueError with the mend when it is neither."""
    if len(text) == len("2026-02-27"):
        day = date.fromisoformat(text)
        _in_reach(day.year)
        return Moment(day=day)
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError("a clock time needs an offset: 2026-02-27T14:05:00-05:00, or send the day alone")
    _in_reach(instant.year)
    return Moment(instant=instant.astimezone(UTC))


def _in_reach(year: int) -> None:
    """Far enough from both ends of the calendar that every zone and every interval can be reckoned."""
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise ValueError(f"years {FIRST_YEAR} to {LAST_YEAR} are read")
