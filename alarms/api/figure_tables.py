"""Figures as tables: a line for each facility, or one for each window."""

from alarms.api.tables import Cell, table
from alarms.figures import Figures, Waits
from alarms.services.figures import Report

WAIT = ("answered", "waiting", "median_s", "p90_s", "longest_answered_s", "longest_waiting_s")
COUNTS = ("without_disposition", "chattering", "fleeting")
FACILITY_COLUMNS = (
    "facility",
    "name",
    "from",
    "until",
    "alarms",
    "exercises",
    "raises",
    "raises_per_day",
    *(f"acknowledgement_from_raised_{name}" for name in WAIT),
    *(f"acknowledgement_from_opened_{name}" for name in WAIT),
    *(f"disposition_from_raised_{name}" for name in WAIT),
    *(f"disposition_from_opened_{name}" for name in WAIT),
    *COUNTS,
    "unacknowledged_now",
    "longest_unacknowledged_s",
    "standing_at_end",
    "stale_at_end",
    "peak_raises_in_10_min",
    "floods",
)
WINDOW_COLUMNS = (
    "until",
    "alarms",
    "raises",
    *(f"acknowledgement_from_opened_{name}" for name in WAIT),
    *(f"disposition_from_opened_{name}" for name in WAIT),
    *COUNTS,
)


def facilities_table(report: Report) -> str:
    """All of them together first, then each with anything to count. The first line has no facility and no span: days
    begin at each facility's own midnight."""
    rows: list[list[Cell]] = [[None, "all", None, None, *_cells(report.figures)]]
    for one in report.facilities:
        rows.append(
            [one.facility, one.name, one.span.first_at, one.span.until_at, *_cells(one.figures)],
        )
    return table(FACILITY_COLUMNS, rows)


def windows_table(report: Report) -> str:
    """A line for each window, oldest first."""
    return table(
        WINDOW_COLUMNS,
        (
            [
                one.until.isoformat(),
                one.alarms,
                one.raises,
                *_wait(one.acknowledgement),
                *_wait(one.disposition),
                one.without_disposition,
                one.chattering,
                one.fleeting,
            ]
            for one in report.windows
        ),
    )


def _cells(figures: Figures) -> list[Cell]:
    return [
        figures.alarms,
        figures.exercises,
        figures.raises,
        figures.raises_per_day,
        *_wait(figures.acknowledgement.from_raised),
        *_wait(figures.acknowledgement.from_opened),
        *_wait(figures.disposition.from_raised),
        *_wait(figures.disposition.from_opened),
        figures.without_disposition,
        figures.chattering,
        figures.fleeting,
        figures.unacknowledged.alarms,
        figures.unacknowledged.longest_s,
        figures.standing.alarms,
        figures.standing.stale,
        figures.peak.raises if figures.peak else 0,
        figures.floods,
    ]


def _wait(waits: Waits) -> list[Cell]:
    return [getattr(waits, name) for name in WAIT]
