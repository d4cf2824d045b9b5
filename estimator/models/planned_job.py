"""A job laid out: what its runs take, day by day, before any money."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import cached_property
from typing import Any, TypeVar

from estimator.data_class import dataclass
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job, Run
from estimator.models.plan import Plan
from estimator.models.rental import Fleet
from estimator.models.sized_run import SizedRun

Later = TypeVar("Later", bound="PlannedJob")


@dataclass(frozen=True, kw_only=True)
class PlannedJob:
    """The job with its sized runs, the plan of its crews, what is on rent, and its hydrotests.

    Hydrotests stand in the order in which they begin. Each later stage adds to it: ``PricedJob``,
    ``Estimate``, ``Study``.
    """

    job: Job
    runs: tuple[SizedRun, ...]
    plan: Plan
    fleet: Fleet
    tests: tuple[HydroTest, ...] = ()

    def grown(self, kind: type[Later], **added: Any) -> Later:  # noqa: ANN401
        """Return the same as a later stage knows it, with what that stage adds."""
        return kind(**{one.name: getattr(self, one.name) for one in fields(self)}, **added)

    @cached_property
    def pairs(self) -> Sequence[tuple[Run, SizedRun]]:
        """Each run of the schedule with what sizing made of it."""
        return list(zip(self.job.runs, self.runs, strict=True))

    @cached_property
    def place_of_run(self) -> Mapping[str, int]:
        """Place of each run in the schedule."""
        return {run.run_id: place for place, run in enumerate(self.job.runs)}

    @property
    def finish(self) -> dt.date:
        """Last day of work, hydrotests included."""
        return last_day(self.plan, self.tests)

    @property
    def total_labor_hours(self) -> float:
        """Paid hours of all people on the crews."""
        return sum(day.labor_hours for day in self.plan.crew_days)

    @property
    def total_crew_hours(self) -> float:
        """Paid hours of the crews on the clock."""
        return sum(day.crew_hours for day in self.plan.crew_days)

    @cached_property
    def butt_joints(self) -> int:
        """Butt joints of the job, tie-ins and fittings included, rework joints not."""
        return sum(run.counts.butt_joints for run in self.runs)


def last_day(plan: Plan, tests: Sequence[HydroTest]) -> dt.date:
    """Return the last day of work, hydrotests included."""
    return max([plan.finish, *(test.finish for test in tests)])
