"""The shifts that a crew works, one after the other."""

import datetime as dt
import math
from functools import lru_cache

from estimator.models.job import Job
from estimator.models.plan import Shift, ShiftName
from estimator.units import DAY_MIN
from estimator.working_time.on_site import (
    EVERY_DAY,
    ONE_DAY,
    Stay,
    job_of_crew,
    next_on_site,
    stay_on,
    stays_of,
)
from estimator.working_time.shifts import Timetable
from estimator.working_time.working_days import WorkingCalendar

NEVER = Shift(dt.date.max, "day", 0.0, math.inf, 0.0)
"""The shift of a crew that has left for good."""


class Roster:
    """The shifts that a crew works, one after the other."""

    @staticmethod
    def of(job: Job, crew: int = 1) -> "Roster":
        """Return the roster of a crew: the same for all crews with these shifts and stays."""
        timetable = Timetable.of(job_of_crew(job, crew))
        return _roster_of(WorkingCalendar.of(job), timetable, stays_of(job, crew))

    def __init__(
        self, calendar: WorkingCalendar, timetable: Timetable, stays: tuple[Stay, ...] = EVERY_DAY
    ) -> None:
        self.calendar, self.stays, self._timetable = calendar, stays, timetable
        self._after: dict[float, Shift] = {}

    def first_on(self, date: dt.date) -> Shift:
        """Return the first shift of the first worked date on site on or after this one."""
        while True:
            there = next_on_site(self.stays, date)
            if there is None:
                return NEVER
            date = self.calendar.next_work(there)
            if stay_on(self.stays, date):
                return self._timetable.on(date)[0]

    def shift(self, date: dt.date, name: ShiftName) -> Shift:
        """Return the shift of a name on a date."""
        return next(one for one in self._timetable.on(date) if one.name == name)

    def after(self, shift: Shift) -> Shift:
        """Return the shift that follows: by night, or on the next worked date."""
        if shift is NEVER:
            return NEVER
        following = self._after.get(shift.start)
        if following is None:
            later = [other for other in self._timetable.on(shift.date) if other.start > shift.start]
            following = later[0] if later else self.first_on(shift.date + ONE_DAY)
            self._after[shift.start] = following
        return following

    def holding(self, moment: float, earliest: Shift) -> Shift:
        """Return the shift in which work that may begin at a moment begins, or the next one."""
        shift = earliest
        date = dt.date.fromordinal(max(1, int(moment // DAY_MIN)))
        if date > shift.date:
            shift = self.first_on(date)
        while shift.start + shift.working_min <= moment:
            shift = self.after(shift)
        return shift

    def leaves_between(self, one: Shift, other: Shift) -> bool:
        """Return whether a time on site ends between two shifts."""
        if self.stays is EVERY_DAY:
            return False
        return stay_on(self.stays, one.date) != stay_on(self.stays, other.date)


@lru_cache(maxsize=64)
def _roster_of(calendar: WorkingCalendar, timetable: Timetable, stays: tuple[Stay, ...]) -> Roster:
    return Roster(calendar, timetable, stays)
