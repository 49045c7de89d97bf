"""The next due of a recurring schedule, one shape at a time, and what a completion does to it.

`Progress` is all that is remembered between completions, so a due can be computed afresh under another wording.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from compliance.rules.conditions import Blank
from compliance.rules.expressions import Expression, Path, as_moment
from compliance.rules.moments import LocalCalendar, Moment, end_of_month, plus_months
from compliance.rules.pack import Version
from compliance.rules.schedule import First, Grid, Milestone, Monthly, Recurring, Rolling, YearDay
from compliance.rules.view import ItemScope


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a recurring duty stands.

    `last`: the newest completion. `stage`: how many fixed dues (the first, then the milestones) are answered.
    `answered`: grid dates up to this moment are. `anchor`: the grid's anchor after an early filing set a new one.
    """

    last: Moment | None = None
    stage: int = 0
    answered: Moment | None = None
    anchor: date | None = None


def next_due(version: Version, progress: Progress, scope: ItemScope) -> Moment | None:
    """The due that the wording asks for after this progress; None if a fact it needs is unknown."""
    schedule = version.schedule
    match schedule:
        case Grid():
            return _grid_due(schedule, version, progress, scope)
        case Rolling() | Monthly():
            if progress.stage == 0 or progress.last is None:
                return first_due(schedule.first, version, scope)
            milestone = _milestone(schedule, progress.stage)
            if milestone is not None:
                return moment(milestone.due, scope)
            return _after(schedule, progress.last, scope)
        case _:
            raise TypeError(f"{type(schedule).__name__} does not recur")


def answer(
    version: Version, progress: Progress, done: Moment, due: Moment | None, scope: ItemScope
) -> Progress | None:
    """The progress after a completion; None if it comes too early to answer anything (a milestone, a grid date)."""
    schedule = version.schedule
    if isinstance(schedule, Grid):
        return _answer_grid(schedule, progress, done, due, scope.calendar)
    milestone = _milestone(schedule, progress.stage) if isinstance(schedule, Rolling) else None
    if milestone is not None and _is_early(milestone, progress, done, scope):
        return None
    return Progress(done, progress.stage + 1, progress.answered, progress.anchor)


def first_due(first: tuple[First, ...], version: Version, scope: ItemScope) -> Moment | None:
    """The first alternative whose condition is true; by default the later of taking effect and first use."""
    for alternative in first:
        truth = True if alternative.when is None else alternative.when.verdict(scope, scope).truth
        if truth is None:
            return None
        if truth:
            return moment(alternative.due, scope)
    if first:
        return None
    used = as_moment(scope.read(("brought_into_use_on",)), scope.calendar)
    if used is None or version.effective is None:
        return used
    return scope.calendar.later(version.effective, used)


def moment(expression: Expression, scope: ItemScope) -> Moment | None:
    return as_moment(expression.value(scope), scope.calendar)


def _milestone(schedule: Recurring, stage: int) -> Milestone | None:
    if isinstance(schedule, Rolling) and 1 <= stage <= len(schedule.then):
        return schedule.then[stage - 1]
    return None


def _is_early(milestone: Milestone, progress: Progress, done: Moment, scope: ItemScope) -> bool:
    """Before the milestone opens, or on the day of the completion that answered the due before it."""
    calendar = scope.calendar
    if progress.last is not None and calendar.days_between(progress.last, done) == 0:
        return True
    opens = None if milestone.opens is None else moment(milestone.opens, scope)
    return opens is not None and calendar.compare(done, opens) < 0


def _after(schedule: Rolling | Monthly, last: Moment, scope: ItemScope) -> Moment | None:
    calendar = scope.calendar
    if isinstance(schedule, Monthly):
        month_end = end_of_month(plus_months(calendar.day(last), 1))
        return (
            month_end
            if schedule.max_gap is None
            else calendar.earlier(month_end, calendar.shift(last, schedule.max_gap))
        )
    if schedule.every is not None:
        return calendar.shift(last, schedule.every)
    return None if schedule.next is None else moment(schedule.next, replace(scope, done=last))


def _grid_due(schedule: Grid, version: Version, progress: Progress, scope: ItemScope) -> Moment | None:
    """The first fixed date that is not answered. Each is computed from the anchor, so month ends do not drift."""
    calendar = scope.calendar
    anchor = progress.anchor or _anchor(schedule, scope)
    if anchor is None:
        return None
    step = 0
    if isinstance(schedule.anchor, YearDay):
        floor = _first_year_day_from(version, scope)
    else:
        step, floor = 1, anchor
    while True:
        due = _grid_date(schedule, anchor, step, calendar)
        if calendar.compare(due, floor) >= 0 and not _is_answered(due, progress, calendar):
            return due
        step += 1


def _is_answered(due: Moment, progress: Progress, calendar: LocalCalendar) -> bool:
    return progress.answered is not None and calendar.compare(due, progress.answered) <= 0


def _anchor(schedule: Grid, scope: ItemScope) -> date | None:
    if not isinstance(schedule.anchor, YearDay):
        anchor = moment(schedule.anchor, scope)
        return None if anchor is None else scope.calendar.day(anchor)
    key = schedule.anchor.key
    month_day = schedule.anchor.month_and_day(None if key is None else scope.read(key))
    return (
        None if month_day is None else date(1900, *month_day) if month_day != (2, 29) else date(1896, 2, 29)
    )


def _first_year_day_from(version: Version, scope: ItemScope) -> Moment:
    """A yearly date is owed from the day the wording took effect, or from first use if that is known and later."""
    assert version.effective is not None
    used = as_moment(scope.read(("brought_into_use_on",)), scope.calendar)
    return version.effective if used is None else scope.calendar.later(version.effective, used)


def _grid_date(schedule: Grid, anchor: date, step: int, calendar: LocalCalendar) -> Moment:
    every = replace(schedule.every, amount=schedule.every.amount * step)
    due = calendar.shift(anchor, every)
    return due if schedule.lead is None else calendar.shift(due, schedule.lead, back=True)


def _answer_grid(
    schedule: Grid, progress: Progress, done: Moment, due: Moment | None, calendar: LocalCalendar
) -> Progress | None:
    """A completion answers the earliest open date if it lies less than one period before it, and every date passed.

    After a missed stretch it answers what had passed and no date ahead, however near: one filing is not two. Late, the
    grid stays. More than `rebase_if_early` early, the day of completion is the new anchor.
    """
    day = calendar.day(done)
    after = replace(progress, last=done, stage=progress.stage + 1)
    if due is None:
        return replace(after, answered=day)
    if calendar.compare(day, calendar.shift(due, schedule.every, back=True)) <= 0:
        return None
    rebase = schedule.rebase_if_early
    if rebase is not None and calendar.compare(day, calendar.shift(due, rebase, back=True)) < 0:
        return replace(after, answered=None, anchor=day)
    return replace(after, answered=calendar.later(due, day))


def silent_facts(version: Version, progress: Progress, scope: ItemScope) -> tuple[Blank, ...]:
    """The facts whose absence keeps the next due from being computed."""
    paths = [path for path in _paths(version, progress) if scope.read(path) is None]
    return tuple(dict.fromkeys(scope.blank(path) for path in paths))


def _paths(version: Version, progress: Progress) -> Iterator[Path]:
    schedule = version.schedule
    match schedule:
        case Grid(anchor=YearDay(key=key)):
            yield from () if key is None else (key,)
        case Grid(anchor=anchor) if not isinstance(anchor, YearDay):
            yield from anchor.paths()
        case Rolling() | Monthly() if progress.stage == 0:
            yield from _first_paths(schedule.first)
        case Rolling(next=following, then=then):
            expressions = [milestone.due for milestone in then] + ([following] if following else [])
            for expression in expressions:
                yield from (path for path in expression.paths() if path != ("done",))


def _first_paths(first: tuple[First, ...]) -> Iterator[Path]:
    if not first:
        yield ("brought_into_use_on",)
    for alternative in first:
        if alternative.when is not None:
            yield from (test.path for test in alternative.when.tests() if test.lookup != "isnull")
        yield from alternative.due.paths()
