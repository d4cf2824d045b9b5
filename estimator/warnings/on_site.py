"""Crews that stand still: waits for runs, and time lost to holds by cause."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from estimator.display import counted, show_date
from estimator.errors import Problem
from estimator.models.calendar import Hold
from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.models.plan import CrewDay
from estimator.working_time.on_site import Holds, stay_on, stays_of
from estimator.working_time.working_days import WorkingCalendar


def crews_waiting(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name working days on which a crew waits for a run that may not start yet."""
    for crew, lines in sorted(estimate.plan.by_crew.items()):
        for before, after in pairwise(lines):
            days = (after.date - before.date).days
            between = [before.date + dt.timedelta(days=n) for n in range(1, days)]
            idle = [date for date in between if _waits(estimate, crew, date)]
            if idle:
                since = show_date(idle[0], estimate.job.cover.unit_system)
                where, held = _held_by(estimate, places, after.run_id, idle[0])
                yield Problem(
                    where,
                    f"Crew {crew} waits {counted(len(idle), 'workday')} from {since} "
                    f"for run {after.run_id}{held}. {_pay_of(estimate, crew, idle[0])}",
                )


def _waits(estimate: Estimate, crew: int, date: dt.date) -> bool:
    """Return whether a crew could work on a date, is there, and has nothing to do."""
    if WorkingCalendar.of(estimate.job).kind(date) != "work":
        return False
    if any(day.kind != "waiting" for day in _paid(estimate, crew, date)):
        return False
    return stay_on(stays_of(estimate.job, crew), date) is not None


def _paid(estimate: Estimate, crew: int, date: dt.date) -> list[CrewDay]:
    days = estimate.plan.crew_days
    return [day for day in days if day.crew == crew and day.date == date]


def _pay_of(estimate: Estimate, crew: int, date: dt.date) -> str:
    """Return how a wait that begins on a date is paid."""
    if _paid(estimate, crew, date):
        return f"The wait is paid: {estimate.job.shift.waiting_pay}"
    return "The wait is not paid and not priced"


def _held_by(estimate: Estimate, places: Places, run_id: str, date: dt.date) -> tuple[str, str]:
    """Return the cell that makes a crew wait for a run, and the hold that does."""
    hold = Holds.of(estimate.job).on(run_id, date)
    if hold is not None:
        return places.where("holds", hold.row_name, "from_date"), f", held by {hold.cause}"
    starts = {run.run_id: run.earliest_start for run in estimate.job.runs}
    key = "earliest_start" if starts[run_id] else "after"
    return places.where("schedule", run_id, key), ""


def time_lost_to_holds(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name the crew-days and labor-hours that holds take, by cause and by who bears them."""
    days: dict[tuple[str, str], set[tuple[dt.date, int]]] = defaultdict(set)
    hours: dict[tuple[str, str], float] = defaultdict(float)
    first: dict[tuple[str, str], Hold] = {}
    for day in estimate.plan.crew_days:
        if day.hold is None:
            continue
        key = day.hold.cause, day.hold.charge_to
        days[key].add((day.date, day.crew))
        hours[key] += day.labor_hours
        first.setdefault(key, day.hold)
    for (cause, bearer), lost in days.items():
        yield Problem(
            places.where("holds", first[cause, bearer].row_name, "cause"),
            f"Holds, {cause}: {counted(len(lost), 'crew-day')} and "
            f"{hours[cause, bearer]:.1f} labor-hours, charged to {bearer}; they are in the job "
            "cost",
        )


def open_holds(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name holds without a last date, and until when the plan takes them to last."""
    holds = Holds.of(estimate.job)
    for hold in holds:
        if hold.to_date is None:
            last = show_date(holds.last(hold), estimate.job.cover.unit_system)
            yield Problem(
                places.where("holds", hold.row_name, "to_date"),
                f"Hold of {hold.run or 'all runs'} is open: planned as if its last date were "
                f"{last}. Enter the date when it is known",
                serious=True,
            )
