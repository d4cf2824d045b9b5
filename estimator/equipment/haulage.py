"""When rented gear is delivered and collected: days of haulage, on days that are worked."""

import datetime as dt
from functools import lru_cache

from estimator.models.job import Job
from estimator.working_time.working_days import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)


class Haulage:
    """Days on rent before the first and after the last use of a stay.

    Gear comes and goes on the weekdays of the job that are no holidays: on the last of them that
    leaves the days of haulage before the first use, and on the first of them that leaves as many
    after the last. Without a calendar they may come and go on any date.
    """

    @staticmethod
    def of(job: Job) -> "Haulage":
        """Return the haulage of a job: the same for every job with these days."""
        return _haulage(job.equipment.haul_days, WorkingCalendar.of(job))

    def __init__(self, days: int, calendar: WorkingCalendar | None = None) -> None:
        self.days, self._calendar = days, calendar
        self._comes: dict[dt.date, dt.date] = {}
        self._goes: dict[dt.date, dt.date] = {}

    def delivered(self, first_use: dt.date) -> dt.date:
        """Return the date on which gear for a first use comes."""
        date = self._comes.get(first_use)
        if date is None:
            date = self._open(first_use - ONE_DAY * self.days, -ONE_DAY)
            self._comes[first_use] = date
        return date

    def collected(self, last_use: dt.date) -> dt.date:
        """Return the date on which gear goes after its last use."""
        date = self._goes.get(last_use)
        if date is None:
            date = self._open(last_use + ONE_DAY * self.days, ONE_DAY)
            self._goes[last_use] = date
        return date

    def on_rent(self, first_use: dt.date, last_use: dt.date) -> int:
        """Return the calendar days of a stay, both ends counted."""
        return (self.collected(last_use) - self.delivered(first_use)).days + 1

    def _open(self, date: dt.date, step: dt.timedelta) -> dt.date:
        while self._calendar is not None and not self._calendar.is_open(date):
            date += step
        return date


@lru_cache(maxsize=32)
def _haulage(days: int, calendar: WorkingCalendar) -> Haulage:
    return Haulage(days, calendar)
