"""Everything that the Status sheet shows: where the job stands, its forecast, the next week."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.display import show_date
from estimator.equipment.on_rent import still_there
from estimator.errors import EstimatorError
from estimator.joint.shared import Shared
from estimator.models.baseline import Baseline
from estimator.models.estimate import Estimate
from estimator.models.options import NoOptions, OptionTable
from estimator.models.planned_job import PlannedJob
from estimator.models.site_records import SiteRecords
from estimator.progress.forecast import Finish, Forecast, Known, forecast, forecast_finish
from estimator.progress.made import MadeWork, made_up_to
from estimator.progress.status import CurvePoint, Status, status_of

WEEK = dt.timedelta(7)
OTHER_WORK = "+"
"""Stands for the joints of a run with other work alone."""
WEEKS_BEFORE, MOST_RUNS = 6, 300
"""Weeks of which the forecast is worked out again, and the runs up to which it is."""


class CrewWeek(NamedTuple):
    """What one crew is to do in the next week: for each date in words, joints, labor-hours."""

    crew: int
    days: tuple[str, ...]
    joints: int
    labor_hours: float


@dataclass(frozen=True)
class NextWeek:
    """The next week of the plan of what is left, Monday to Sunday, days without work left out."""

    dates: tuple[dt.date, ...]
    crews: tuple[CrewWeek, ...]


class Band(NamedTuple):
    """Labor-hours earned by the forecast up to a date: 10, 50 and 90 % of the finish."""

    date: dt.date
    late: float
    middle: float
    early: float


@dataclass(frozen=True)
class Standing:
    """A job on a status date.

    ``forecast`` is None where nothing is left or it cannot be laid out; ``no_forecast`` says why.
    """

    status: Status
    made: MadeWork
    forecast: Forecast | None
    no_forecast: str
    next_week: NextWeek | None
    bands: tuple[Band, ...]
    before: tuple[tuple[dt.date, Finish], ...] = ()
    """What the forecast of the finish was in the weeks before, by what was known then."""
    ways_back: OptionTable | NoOptions | None = None
    """Other crews, machines and shifts from the status date on; None where nobody asked."""


def standing_of(
    estimate: Estimate, baseline: Baseline, records: SiteRecords, date: dt.date, shared: Shared
) -> Standing:
    """Return where a job stands on a date, and when it ends.

    Parameters
    ----------
    estimate : Estimate
        The job as it is now.
    baseline : Baseline
        What it is compared with.
    records : SiteRecords
        What was written down on site.
    date : date
        The status date; what happened later is left out.
    shared : Shared
        What the plans of the job have in common.

    Raises
    ------
    EstimatorError
        If nothing was made up to the date, or it is before the baseline begins.
    """
    made = made_up_to(records, date)
    if not made.days:
        shown = show_date(date, baseline.head.system)
        message = (
            f"Nothing was made up to {shown}: the Joint log and the Daily record "
            "have no row up to then. Enter what was made, or give a later date"
        )
        raise EstimatorError(message)
    status = status_of(estimate.job, baseline, made)
    known = Known(
        estimate,
        baseline,
        made,
        actual_hours=status.hours.actual if status.hours_known else None,
        actual_cost=status.money.actual if status.money_known else None,
    )
    found, why = None, "Nothing is left to fuse"
    try:
        found = forecast(known, shared)
    except EstimatorError as error:
        why = f"What is left cannot be laid out: {str(error).partition(chr(10))[0]}"
    if found is not None:
        idle = tuple(_idle(records, found, date))
        status = replace(status, decisions=(*status.decisions, *idle))
    return Standing(
        status=status,
        made=made,
        forecast=found,
        no_forecast="" if found else why,
        next_week=None if found is None else next_week(found.plan, date),
        bands=() if found is None else tuple(_bands(status, found)),
        before=() if found is None else tuple(_before(known, records, shared)),
    )


def _idle(records: SiteRecords, forecast: Forecast, date: dt.date) -> Iterator[str]:
    """Yield each class on rent that nothing of what is left needs."""
    needed = {span.class_id.casefold() for span in forecast.plan.fleet.spans}
    for class_id in still_there(records.on_rent, date):
        if class_id.casefold() not in needed:
            yield f"{class_id} is on rent and nothing that is left needs it: end its rent"


def _before(known: Known, records: SiteRecords, shared: Shared) -> Iterator[tuple[dt.date, Finish]]:
    """Yield the finish that was forecast at the end of each of some weeks before."""
    start, status = known.baseline.head.start, known.made.status
    weeks = range(WEEKS_BEFORE, 0, -1) if len(known.estimate.job.runs) <= MOST_RUNS else ()
    for date in (status - number * WEEK for number in weeks):
        made = made_up_to(records, date)
        if date < start or not made.days:
            continue
        try:
            finish = forecast_finish(Known(known.estimate, known.baseline, made), shared)
        except EstimatorError:
            continue
        if finish is not None:
            yield date, finish


def next_week(plan: PlannedJob, status: dt.date) -> NextWeek:
    """Return what the plan has in the first week, Monday to Sunday, that begins after a date."""
    monday = status + dt.timedelta(7 - status.weekday())
    lines = [line for line in plan.plan.lines if monday <= line.date < monday + WEEK]
    tests = [day for test in plan.tests for day in test.days if monday <= day.date < monday + WEEK]
    paid = [day for day in plan.plan.crew_days if monday <= day.date < monday + WEEK]
    dates = tuple(sorted({day.date for day in paid} | {day.date for day in tests}))
    work: dict[tuple[int, dt.date], list[str]] = defaultdict(list)
    for line in lines:
        made = line.joints + line.rework_joints
        what = f"{line.run_id}: {made or OTHER_WORK}"
        if what not in work[line.crew, line.date]:
            work[line.crew, line.date].append(what)
    for day in paid:
        if day.kind != "work" and not work[day.crew, day.date]:
            work[day.crew, day.date].append(day.kind)
    crews = [
        CrewWeek(
            crew=crew,
            days=tuple(", ".join(work.get((crew, date), ())) for date in dates),
            joints=sum(x.joints + x.rework_joints for x in lines if x.crew == crew),
            labor_hours=sum(day.labor_hours for day in paid if day.crew == crew),
        )
        for crew in sorted({day.crew for day in paid})
    ]
    return NextWeek(dates, tuple(crews))


def _bands(status: Status, forecast: Forecast) -> Iterator[Band]:
    """Yield what the forecast earns up to each date of the curve after the status date.

    The plan of the rest earns in proportion to its labor-hours; the early and the late finish
    shrink and stretch its dates.
    """
    days: dict[dt.date, float] = defaultdict(float)
    for day in forecast.plan.plan.crew_days:
        days[day.date] += day.labor_hours
    total = sum(days.values())
    left = status.hours.budget - status.hours.earned
    end = max(forecast.plan.finish, forecast.finish[1])
    low, middle, high = ((date - status.date).days / max(1, (end - status.date).days)
                         for date in forecast.finish)  # fmt: skip

    def earned(date: dt.date, stretch: float) -> float:
        past = (date - status.date).days / stretch if stretch else 0.0
        done = sum(hours for day, hours in days.items() if (day - status.date).days <= past)
        return status.hours.earned + left * done / total

    for date in _dates_after(status.curve, status.date, forecast.finish[2]):
        yield Band(date, earned(date, high), earned(date, middle), earned(date, low))


def _dates_after(
    curve: tuple[CurvePoint, ...], status: dt.date, last: dt.date
) -> Iterator[dt.date]:
    yield status
    date = status
    known = [point.date for point in curve if point.date > status]
    yield from known
    date = max([status, *known])
    while date < last:
        date += WEEK
        yield date
