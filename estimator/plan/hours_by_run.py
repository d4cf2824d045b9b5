"""Paid hours by run: shifts by minutes worked, change-outs by all runs of the class they bring."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.models.plan import CrewDay, Plan, PlanLine, ShiftName
from estimator.plan.crews import CHANGE_OUT, CONTINUED
from estimator.plan.paid_shifts import (
    crew_hours_of,
    crew_hours_of_days,
    labor_hours_of,
    labor_hours_of_days,
)
from estimator.steps.kinds import Hours, Minutes
from estimator.steps.recorder import step

HoursOf = Callable[[CrewDay, float, float], float]
SumOf = Callable[[Sequence[float]], float]


@step("Change-outs to class {class_id}, allocated", "their hours x minutes of the run / of all")
def share_of_change_outs(
    class_id: str, hours: Hours, minutes: Minutes, all_minutes: Minutes
) -> Hours:
    """Return the part that a run carries of the change-outs to its machine class."""
    del class_id
    return hours * minutes / all_minutes


@step("{what}", "all days - own change-outs + allocated part of those to the class")
def with_change_outs(
    what: str, days_h: Hours, own: Sequence[Hours], shares: Sequence[Hours]
) -> Hours:
    """Return the hours of a run with change-outs shared out over the runs of their class."""
    del what
    return days_h - sum(own) + sum(shares)


class ChangeOut(NamedTuple):
    """A change of machine before a run, in a paid shift."""

    day: CrewDay
    run_id: str
    class_id: str
    minutes: float


@dataclass(frozen=True)
class HoursByRun:
    """The paid hours of a plan, counted in one way, by run."""

    plan: Plan
    what: str
    hours_of: HoursOf
    sum_of: SumOf

    @classmethod
    def labor(cls, plan: Plan) -> "HoursByRun":
        """Return the hours of all people."""
        return cls(plan, "Labor-hours", labor_hours_of, labor_hours_of_days)

    @classmethod
    def crew(cls, plan: Plan) -> "HoursByRun":
        """Return the hours of crews on the clock, whatever their head count."""
        return cls(plan, "Crew-hours", crew_hours_of, crew_hours_of_days)

    def all(self) -> dict[str, float]:
        """Return the hours of every run that is worked on."""
        return {run_id: self.of(run_id) for run_id in self.plan.days_by_run}

    def of(self, run_id: str) -> float:
        """Return the hours of one run."""
        days = self.plan.days_by_run.get(run_id, [])
        whole = self.sum_of([self.hours_of(*day) for day in days])
        own = [self._hours(one) for one in self._own.get(run_id, ())]
        shares = list(self._shares(run_id))
        return with_change_outs(self.what, whole, own, shares) if own or shares else whole

    def _hours(self, one: ChangeOut) -> float:
        return self.hours_of(one.day, one.minutes, one.day.all_minutes)

    def _shares(self, run_id: str) -> Iterator[float]:
        for class_id, (hours, all_minutes) in self.pools.items():
            minutes = self._minutes[class_id].get(run_id)
            if minutes:
                yield share_of_change_outs(class_id, hours, minutes, all_minutes)

    @cached_property
    def _own(self) -> Mapping[str, list[ChangeOut]]:
        """The change-outs before each run, to a class that has work besides them."""
        days = {(day.date, day.crew, day.shift): day for day in self.plan.crew_days
                if day.kind == "work"}  # fmt: skip
        found: dict[str, list[ChangeOut]] = defaultdict(list)
        for line in self.plan.lines:
            minutes = change_out_min(line)
            if minutes and any(self._minutes[line.machine].values()):
                day = days[_shift_of(line)]
                found[line.run_id].append(ChangeOut(day, line.run_id, line.machine, minutes))
        return found

    @cached_property
    def pools(self) -> Mapping[str, tuple[float, float]]:
        """Hours of the change-outs to each class, and the minutes of all runs on it."""
        hours: dict[str, float] = defaultdict(float)
        for some in self._own.values():
            for one in some:
                hours[one.class_id] += self._hours(one)
        minutes = {class_id: sum(self._minutes[class_id].values()) for class_id in hours}
        return {class_id: (hours[class_id], minutes[class_id]) for class_id in hours}

    @cached_property
    def _minutes(self) -> Mapping[str, dict[str, float]]:
        """Minutes of each run on each class, its change-outs left out."""
        found: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for line in self.plan.lines:
            found[line.machine][line.run_id] += line.minutes - change_out_min(line)
        return found


def change_out_min(line: PlanLine) -> float:
    """Return the minutes of a line of the plan in which the crew changes its machine.

    What is left of a change for the next shift is of the same change.
    """
    if not line.moves:
        return 0.0
    pairs = zip(line.moves, line.moved_min, strict=True)
    return sum(minutes for name, minutes in pairs if name.removesuffix(CONTINUED) == CHANGE_OUT)


def _shift_of(line: PlanLine) -> tuple[dt.date, int, ShiftName]:
    return line.date, line.crew, line.shift


def labor_hours_by_run(plan: Plan) -> dict[str, float]:
    """Return the paid hours of all people by run."""
    return HoursByRun.labor(plan).all()


def crew_hours_by_run(plan: Plan) -> dict[str, float]:
    """Return the paid hours of crews on the clock by run."""
    return HoursByRun.crew(plan).all()
