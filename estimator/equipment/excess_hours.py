"""Paid hours of a date beyond those that a rental day covers."""

import datetime as dt
from collections.abc import Sequence

from estimator.models.job import Job
from estimator.models.job_inputs import ShiftInputs
from estimator.steps.kinds import Hours
from estimator.steps.marks import greatest
from estimator.steps.recorder import step
from estimator.working_time.shifts import Timetable


def hours_beyond(job: Job, dates: Sequence[dt.date]) -> float:
    """Return the paid hours of some dates beyond the rental days of the Rates sheet."""
    covered_h = job.rates.rental_day_hours
    if covered_h is None:
        return 0.0
    timetable = Timetable.of(job)
    hours = [timetable.hours(date, "day") for date in dates]
    beyond = {each: beyond_rental_day(job.shift, each, covered_h) for each in set(hours)}
    return sum([beyond[each] for each in hours])


def beyond_rental_day(shift: ShiftInputs, day_hours: float, covered_h: float) -> float:
    """Return the paid hours of a day and its night beyond what a rental day covers.

    A rental day covers one shift; with the rental multiple for two shifts it covers two. Where
    the night shift has no multiple, its hours are charged by the hour too.
    """
    shifts = 2 if shift.night_hours and shift.night_rental > 1 else 1
    return excess_h(day_hours, shift, covered_h, shifts)


@step("Excess hours of a date", "paid hours of day and night - hours that the rental days cover")
def excess_h(day_hours: Hours, shift: ShiftInputs, covered_h: float, shifts: int) -> Hours:
    """Return the paid hours of a date beyond those that one or two rental days cover."""
    return greatest(0.0, day_hours + shift.night_hours - covered_h * shifts)
