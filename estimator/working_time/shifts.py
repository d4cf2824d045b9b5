"""Shifts of each date: paid hours, working minutes, and how fast hands work in them."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from estimator.models.calendar import OvertimeSpan
from estimator.models.job import Job
from estimator.models.job_inputs import ShiftInputs
from estimator.models.plan import ShiftName
from estimator.units import DAY_MIN, HOUR_MIN


@dataclass(frozen=True)
class Shift:
    """One shift of one date; ``start`` counts minutes from the first day of the calendar.

    ``working_min`` is what start-up, wrap-up and breaks leave of the paid ``hours``.
    """

    date: dt.date
    name: ShiftName
    hours: float
    start: float
    working_min: float


def pace_loss(hours: float, straight_hours: float, loss: float) -> float:
    """Return by how much crew-paced time grows over a shift whose overtime is slower.

    In the hours beyond straight time a crew keeps ``1 - loss`` of its pace, so that the same
    work takes ``hours / (straight + (hours - straight) x (1 - loss))`` as long. Machine-paced
    time is as it was.

    Parameters
    ----------
    hours : float
        Paid hours of the shift, above 0.
    straight_hours : float
        Hours at straight time; a shorter shift has no overtime.
    loss : float
        Share of pace lost in the hours beyond, 0 to below 1.

    Examples
    --------
    >>> round(pace_loss(10, 8, 0.5), 3), pace_loss(8, 8, 0.5)
    (1.111, 1.0)
    """
    return hours / (hours - max(0.0, hours - straight_hours) * loss)


def beyond_rental_day(shift: ShiftInputs, day_hours: float, covered_h: float) -> float:
    """Return the paid hours of a day and its night beyond what a rental day covers.

    A rental day covers one shift; with the rental multiple for two shifts it covers two. Where
    the night shift has no multiple, its hours are charged by the hour too.
    """
    two = shift.night_hours and shift.night_rental > 1
    return max(0.0, day_hours + shift.night_hours - covered_h * (2 if two else 1))


def inputs_of_shift(shift: ShiftInputs, hours: float, name: ShiftName) -> ShiftInputs:
    """Return the Job sheet as it holds in one shift: its hours, and the efficiency in them."""
    slow = pace_loss(hours, shift.straight_hours, shift.overtime_loss)
    if name == "night":
        slow *= 1 + shift.night_slowing
    return shift.model_copy(
        update={"shift_hours": hours, "efficiency": shift.efficiency / slow},
    )


class Shifts:
    """The shifts of a job by date: the day shift, and after it the night shift if there is one."""

    def __init__(self, shift: ShiftInputs, overtime: tuple[OvertimeSpan, ...]) -> None:
        self.shift, self._overtime = shift, overtime
        self._by_date: dict[dt.date, tuple[Shift, ...]] = {}
        self._worked: dict[dt.date, tuple[float, ...]] = {}
        self._inputs: dict[tuple[float, ShiftName], ShiftInputs] = {}

    @staticmethod
    def of(job: Job) -> "Shifts":
        """Return the shifts of a job: the same for every job with these hours and overtime."""
        return _shifts_of(job.shift, job.overtime)

    def on(self, date: dt.date) -> tuple[Shift, ...]:
        """Return the shifts of a date in order."""
        if date not in self._by_date:
            self._by_date[date] = tuple(self._shifts(date))
        return self._by_date[date]

    def inputs_on(self, date: dt.date, name: ShiftName = "day") -> ShiftInputs:
        """Return the shift inputs as they hold in a shift of a date."""
        return self._inputs_of(self._hours(date, name), name)

    def engine_hours(self, dates: Sequence[dt.date]) -> float:
        """Return the hours of all shifts of some dates without their breaks."""
        breaks = self.shift.breaks_min / HOUR_MIN
        total = 0.0
        for date in dates:
            hours = self._worked.get(date)
            if hours is None:
                hours = self._worked[date] = tuple(
                    [shift.hours - breaks for shift in self.on(date)]
                )
            for each in hours:
                total += each
        return total

    def hours_beyond(self, dates: Sequence[dt.date], covered_h: float | None) -> float:
        """Return the paid hours of some dates beyond what a rental day covers; None: no limit."""
        if covered_h is None:
            return 0.0
        return sum(
            beyond_rental_day(self.shift, self._hours(date, "day"), covered_h) for date in dates
        )

    def _hours(self, date: dt.date, name: ShiftName) -> float:
        if name == "night":
            return self.shift.night_hours
        if not self._overtime:
            return self.shift.shift_hours
        spans = (s.shift_hours for s in self._overtime if s.from_date <= date <= s.to_date)
        return next(spans, self.shift.shift_hours)

    def _inputs_of(self, hours: float, name: ShiftName) -> ShiftInputs:
        if (hours, name) not in self._inputs:
            self._inputs[hours, name] = inputs_of_shift(self.shift, hours, name)
        return self._inputs[hours, name]

    def _shifts(self, date: dt.date) -> list[Shift]:
        start = float(date.toordinal() * DAY_MIN)
        names: list[ShiftName] = ["day", "night"] if self.shift.night_hours else ["day"]
        shifts = []
        for name in names:
            hours = self._hours(date, name)
            working_min = self._inputs_of(hours, name).working_min
            shifts.append(Shift(date, name, hours, start, working_min))
            start += hours * HOUR_MIN
        return shifts


@lru_cache(maxsize=8)
def _shifts_of(shift: ShiftInputs, overtime: tuple[OvertimeSpan, ...]) -> Shifts:
    return Shifts(shift, overtime)
