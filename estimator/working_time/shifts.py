"""Shifts of each date: paid hours, working minutes, and how fast hands work in them."""

import datetime as dt
from collections.abc import Iterator, Sequence
from functools import lru_cache

from estimator.models.calendar import OvertimeSpan
from estimator.models.job import Job
from estimator.models.job_inputs import Idle, ShiftInputs
from estimator.models.plan import Shift, ShiftName
from estimator.steps.kinds import Hours
from estimator.steps.marks import either, greatest
from estimator.steps.recorder import step
from estimator.units import DAY_MIN, HOUR_MIN


@step("Equivalent hours at full productivity", "paid hours - overtime x productivity loss")
def full_pace_h(shift: ShiftInputs, paid_h: float) -> float:
    """Return the hours at full pace that a shift with slower overtime is worth.

    In the hours beyond straight time a crew keeps ``1 - loss`` of its pace. Machine-paced time
    is as it was.
    """
    return paid_h - greatest(0.0, paid_h - shift.straight_hours) * shift.overtime_loss


@step("Efficiency over the {name} shift", "efficiency x equivalent hours / paid hours")
def efficiency_in(name: ShiftName, shift: ShiftInputs, full_pace_h: Hours, paid_h: float) -> float:
    """Return the efficiency of crew work over one shift; at night it takes longer."""
    over_shift = shift.efficiency * (full_pace_h / paid_h)
    return either(
        name == "night", lambda: over_shift / (1 + shift.night_slowing), lambda: over_shift
    )


def inputs_of_shift(shift: ShiftInputs, hours: float, name: ShiftName) -> ShiftInputs:
    """Return the Job sheet as it holds in one shift: its hours, and the efficiency in them."""
    efficiency = efficiency_in(name, shift, full_pace_h(shift, hours), hours)
    return shift.model_copy(update={"shift_hours": hours, "efficiency": efficiency})


class Timetable:
    """The shifts of each date by their hours alone, so that jobs of unlike pace can share them.

    After the day shift comes the night shift, if ``night_hours`` are above 0.
    """

    def __init__(
        self, day_hours: float, night_hours: float, idle: Idle, overtime: tuple[OvertimeSpan, ...]
    ) -> None:
        self._day_hours, self._night_hours = day_hours, night_hours
        self._idle, self._overtime = idle, overtime
        self._names: tuple[ShiftName, ...] = ("day", "night") if night_hours else ("day",)
        self._by_date: dict[dt.date, tuple[Shift, ...]] = {}

    @staticmethod
    def of(job: Job) -> "Timetable":
        """Return the timetable of a job: the same for every job with these hours and breaks."""
        shift = job.shift
        return _timetable_of(shift.shift_hours, shift.night_hours, shift.idle, job.overtime)

    def on(self, date: dt.date) -> tuple[Shift, ...]:
        """Return the shifts of a date in order."""
        if date not in self._by_date:
            self._by_date[date] = tuple(self._shifts(date))
        return self._by_date[date]

    def hours(self, date: dt.date, name: ShiftName) -> float:
        """Return the paid hours of a shift of a date."""
        if name == "night":
            return self._night_hours
        if not self._overtime:
            return self._day_hours
        spans = (s.shift_hours for s in self._overtime if s.from_date <= date <= s.to_date)
        return next(spans, self._day_hours)

    def _shifts(self, date: dt.date) -> Iterator[Shift]:
        start = float(date.toordinal() * DAY_MIN)
        for name in self._names:
            hours = self.hours(date, name)
            yield Shift(date, name, hours, start, self._idle.left_of(hours))
            start += hours * HOUR_MIN


class Shifts:
    """The shifts of a job by date, and how fast hands work in each."""

    def __init__(self, shift: ShiftInputs, timetable: Timetable) -> None:
        self.shift, self._timetable = shift, timetable
        self._worked: dict[dt.date, tuple[float, ...]] = {}
        self._inputs: dict[tuple[float, ShiftName], ShiftInputs] = {}

    @staticmethod
    def of(job: Job) -> "Shifts":
        """Return the shifts of a job: the same for every job with these hours and overtime."""
        return _shifts_of(job.shift, Timetable.of(job))

    def on(self, date: dt.date) -> tuple[Shift, ...]:
        """Return the shifts of a date in order."""
        return self._timetable.on(date)

    def inputs_on(self, date: dt.date, name: ShiftName = "day") -> ShiftInputs:
        """Return the shift inputs as they hold in a shift of a date."""
        return self._inputs_of(self._timetable.hours(date, name), name)

    def engine_hours(self, dates: Sequence[dt.date]) -> float:
        """Return the hours of all shifts of some dates without their breaks."""
        total = 0.0
        for date in dates:
            for each in self._hours_worked(date):
                total += each
        return total

    def _hours_worked(self, date: dt.date) -> tuple[float, ...]:
        hours = self._worked.get(date)
        if hours is None:
            breaks = self.shift.breaks_min / HOUR_MIN
            hours = self._worked[date] = tuple([shift.hours - breaks for shift in self.on(date)])
        return hours

    def _inputs_of(self, hours: float, name: ShiftName) -> ShiftInputs:
        if (hours, name) not in self._inputs:
            self._inputs[hours, name] = inputs_of_shift(self.shift, hours, name)
        return self._inputs[hours, name]


@lru_cache(maxsize=32)
def _timetable_of(
    day_hours: float, night_hours: float, idle: Idle, overtime: tuple[OvertimeSpan, ...]
) -> Timetable:
    return Timetable(day_hours, night_hours, idle, overtime)


@lru_cache(maxsize=8)
def _shifts_of(shift: ShiftInputs, timetable: Timetable) -> Shifts:
    return Shifts(shift, timetable)
