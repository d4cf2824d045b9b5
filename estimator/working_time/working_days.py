"""Which dates are worked, and which of them weather takes."""

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

from estimator.inputs.weekdays import weekdays
from estimator.models.job import Job

MONTH_NAMES = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
LONGEST_SEARCH_DAYS = 400
TINY = 1e-9

DayKind = Literal["work", "weather", "off"]


class WorkingCalendar:
    """Days of a job from its start: off, worked, or lost to weather.

    Each working day adds its month's lost share to an account that starts at one half; the day
    on which the account reaches one is lost, and one is taken off. So whole days are lost, as
    many as the shares add up to, the nearest whole number.
    """

    def __init__(
        self,
        start: dt.date,
        workdays: str,
        holidays: Sequence[dt.date],
        lost_share_by_month: Sequence[float],
    ) -> None:
        self._days: list[DayKind] = []
        self._start = start
        self._weekdays = weekdays(workdays)
        self._holidays = frozenset(holidays)
        self._lost = tuple(lost_share_by_month)
        self._account = 0.5

    @classmethod
    def of(cls, job: Job) -> "WorkingCalendar":
        """Return the calendar that a job describes."""
        lost = {row.month: row.lost_share for row in job.weather}
        return _calendar_of(
            job.dates.start,
            job.dates.workdays,
            tuple(row.date for row in job.holidays if not row.worked),
            tuple(lost.get(month, 0.0) for month in MONTH_NAMES),
        )

    def kind(self, date: dt.date) -> DayKind:
        """Return what sort of day a date is; dates before the start are off."""
        index = (date - self._start).days
        if index < 0:
            return "off"
        while len(self._days) <= index:
            self._days.append(self._next_kind())
        return self._days[index]

    def is_open(self, date: dt.date) -> bool:
        """Return whether a date, before the start too, is a weekday of the job and no day off."""
        return date.weekday() in self._weekdays and date not in self._holidays

    def next_work(self, date: dt.date) -> dt.date:
        """Return the first worked date on or after this one."""
        day = max(date, self._start)
        for _ in range(LONGEST_SEARCH_DAYS):
            if self.kind(day) == "work":
                return day
            day += dt.timedelta(days=1)
        message = (
            f"No workday falls within {LONGEST_SEARCH_DAYS} days of {date}. Check the "
            "workweek and the holidays"
        )
        raise ValueError(message)

    def _next_kind(self) -> DayKind:
        date = self._start + dt.timedelta(days=len(self._days))
        if not self.is_open(date):
            return "off"
        self._account += self._lost[date.month - 1]
        if self._account >= 1 - TINY:
            self._account -= 1
            return "weather"
        return "work"


@lru_cache(maxsize=32)
def _calendar_of(
    start: dt.date, workdays: str, holidays: tuple[dt.date, ...], lost: tuple[float, ...]
) -> WorkingCalendar:
    """Return the calendar of a start, workdays and weather; it only ever grows."""
    return WorkingCalendar(start, workdays, holidays, lost)
