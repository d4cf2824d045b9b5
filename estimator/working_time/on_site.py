"""When each crew is on site, when runs are held, and the job as one crew finds it."""

import datetime as dt
from collections.abc import Iterator, Sequence
from functools import lru_cache

from estimator.models.calendar import CrewDates, Hold, OvertimeSpan
from estimator.models.job import Job
from estimator.working_time.working_days import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)
EVERY_DAY = ((dt.date.min, dt.date.max),)

Stay = tuple[dt.date, dt.date]
"""First and last date of a time on site."""


def stays_of(job: Job, crew: int) -> tuple[Stay, ...]:
    """Return the times on site of a crew, rising; without rows it is there from the start on.

    Rows with no workday between them are one time on site: the crew does not leave for a weekend.

    Parameters
    ----------
    job : Job
        The job with its crew dates.
    crew : int
        Number of the crew.
    """
    stays: list[Stay] = []
    for row in sorted(_rows_of(job.crew_dates, crew), key=lambda row: row.from_date):
        first, last = row.from_date, _last(row)
        if stays and not _workdays_between(job, stays[-1][1], first):
            first = stays.pop()[0]
        stays.append((first, last))
    return tuple(stays) or EVERY_DAY


def _rows_of(crew_dates: Sequence[CrewDates], crew: int) -> list[CrewDates]:
    return [row for row in crew_dates if row.crew == crew]


def _workdays_between(job: Job, last: dt.date, first: dt.date) -> bool:
    days, calendar = (first - last).days, WorkingCalendar.of(job)
    return any(calendar.is_open(last + ONE_DAY * n) for n in range(1, days))


def _last(row: CrewDates) -> dt.date:
    return row.to_date or dt.date.max


def stay_on(stays: Sequence[Stay], date: dt.date) -> Stay | None:
    """Return the time on site that holds a date, None where the crew is away."""
    return next((stay for stay in stays if stay[0] <= date <= stay[1]), None)


def next_on_site(stays: Sequence[Stay], date: dt.date) -> dt.date | None:
    """Return the first date on or after this one on which a crew is on site, None if never."""
    return next((max(date, first) for first, last in stays if last >= date), None)


def job_of_crew(job: Job, crew: int) -> Job:
    """Return the job with the paid shift of one crew, which goes before the Overtime table.

    The job itself where the crew's dates say nothing of it.
    """
    hours = tuple(
        OvertimeSpan(from_date=row.from_date, to_date=_last(row), shift_hours=row.shift_hours)
        for row in _rows_of(job.crew_dates, crew)
        if row.shift_hours is not None
    )
    return job.model_copy(update={"overtime": (*hours, *job.overtime)}) if hours else job


def machines_on(job: Job, crew: int, date: dt.date) -> int:
    """Return how many machines a crew runs on a date: those of its row, else of the Job sheet."""
    for row in job.crew_dates and _rows_of(job.crew_dates, crew):
        if row.machines and row.from_date <= date <= _last(row):
            return row.machines
    return job.resources.machines_per_crew


def job_on(job: Job, crew: int, date: dt.date) -> Job:
    """Return the job as a crew finds it on a date: with its paid shifts and its machines then."""
    own, machines = job_of_crew(job, crew), machines_on(job, crew, date)
    if machines == job.resources.machines_per_crew:
        return own
    resources = job.resources.model_copy(update={"machines_per_crew": machines})
    return own.model_copy(update={"resources": resources})


class Holds:
    """The dates on which runs may not be worked on."""

    @staticmethod
    def of(job: Job) -> "Holds":
        """Return the holds of a job: the same for every job with these."""
        return _holds_of(job.holds, job.shift.open_hold_days)

    def __init__(self, holds: tuple[Hold, ...], open_days: int) -> None:
        self._holds = holds
        self._open = dt.timedelta(days=open_days - 1)

    def __bool__(self) -> bool:
        return bool(self._holds)

    def on(self, run_id: str, date: dt.date) -> Hold | None:
        """Return the hold of a run on a date, the first in the table; None if it is free."""
        for hold in self._holds:
            if hold.run in (None, run_id) and hold.from_date <= date <= self.last(hold):
                return hold
        return None

    def free_from(self, run_id: str, date: dt.date) -> dt.date:
        """Return the first date on or after this one on which a run is not held."""
        while (hold := self.on(run_id, date)) is not None:
            date = self.last(hold) + ONE_DAY
        return date

    def last(self, hold: Hold) -> dt.date:
        """Return the last date of a hold, of an open one that it is planned to have."""
        return hold.to_date or hold.from_date + self._open

    def __iter__(self) -> Iterator[Hold]:
        return iter(self._holds)


@lru_cache(maxsize=32)
def _holds_of(holds: tuple[Hold, ...], open_days: int) -> Holds:
    return Holds(holds, open_days)
