"""A job laid out: what its runs take, day by day, before any money."""

import datetime as dt
from dataclasses import dataclass

from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.plan import Fleet, Plan, SizedRun


@dataclass(frozen=True)
class PlannedJob:
    """The job with its sized runs, the plan of its crews, what is on rent, and its hydrotests.

    Hydrotests stand in the order in which they begin.
    """

    job: Job
    runs: tuple[SizedRun, ...]
    plan: Plan
    fleet: Fleet
    tests: tuple[HydroTest, ...] = ()

    @property
    def finish(self) -> dt.date:
        """Last day of work, hydrotests included."""
        return max([self.plan.finish, *(test.finish for test in self.tests)])
