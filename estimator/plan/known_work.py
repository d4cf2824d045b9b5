"""LaidWork that was laid out before, for jobs that differ in nothing that laying out asks for."""

import datetime as dt
from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import NamedTuple, Protocol

from estimator.models.job import Job, Run
from estimator.models.plan import PlanLine, ShiftName
from estimator.models.sized_run import RunCycle, SizedRun
from estimator.plan.crews import CrewState
from estimator.working_time.on_site import Holds
from estimator.working_time.roster import Roster

MOST_RUNS = 500
"""Runs of a job up to which its work is kept: what-ifs of a larger one are few."""

Result = tuple[Sequence[CrewState], tuple[PlanLine, ...]]
"""The crews with what they did, and the lines of the plan."""
Question = tuple[str, dt.date, ShiftName, int]
"""Run, date, shift and crew whose times were asked for."""


class CycleOn(Protocol):
    """Gives the times of a run's joints in a shift of a date, by the machines of a crew."""

    def __call__(
        self, run_id: str, date: dt.date, shift: ShiftName = "day", crew: int = 1, /
    ) -> RunCycle:
        """Return the times of the run's joints."""
        ...


LayOut = Callable[[CycleOn], Result]


class Asked:
    """Times as they are given, each noted with what was asked."""

    def __init__(self, cycle_on: CycleOn) -> None:
        self._cycle_on = cycle_on
        self.answers: dict[Question, RunCycle] = {}

    def __call__(
        self, run_id: str, date: dt.date, shift: ShiftName = "day", crew: int = 1, /
    ) -> RunCycle:
        """Return the times of the run's joints."""
        cycle = self._cycle_on(run_id, date, shift, crew)
        self.answers[run_id, date, shift, crew] = cycle
        return cycle


class LaidWork(NamedTuple):
    """What the crews do, and all that it was laid out from."""

    inputs: Hashable
    runs: Sequence[Run]
    sized: Sequence[SizedRun]
    answers: Mapping[Question, RunCycle]
    result: Result

    def is_that_of(self, sized: Sequence[SizedRun], cycle_on: CycleOn) -> bool:
        """Return whether runs that are sized anew and their times come to the same work.

        The planner asks one question after the other. With the same answers it would ask the
        same, and where one raises here, it would raise there.
        """
        return all(map(_alike, self.sized, sized)) and all(
            cycle_on(*question) == answer for question, answer in self.answers.items()
        )


def _alike(one: SizedRun, other: SizedRun) -> bool:
    """Return whether the planner can see no difference between two sizings of a run."""
    return one is other or (
        one.cycle == other.cycle
        and one.machine.class_id == other.machine.class_id
        and one.fusion.rest_s == other.fusion.rest_s
        and one.counts == other.counts
        and one.geometry == other.geometry
    )


class KnownWork:
    """The work of the first plan of a study, which most what-ifs that change no work equal."""

    def __init__(self) -> None:
        self._first: LaidWork | None = None

    def of(self, job: Job, sized: Sequence[SizedRun], cycle_on: CycleOn, lay_out: LayOut) -> Result:
        """Return the work of a job: that of the first one where it is the same."""
        first = self._first
        if first is None:
            asked = Asked(cycle_on)
            result = lay_out(asked)
            self._first = LaidWork(inputs_of(job), job.runs, sized, asked.answers, result)
            return result
        known = first.inputs == inputs_of(job) and first.is_that_of(sized, cycle_on)
        return first.result if known else lay_out(cycle_on)


def inputs_of(job: Job) -> Hashable:
    """Return all that laying out reads besides the sized runs and their times.

    Runs count as the same only where they are of one table, which is kept alive.
    """
    rosters = tuple(Roster.of(job, n) for n in range(1, job.resources.crews + 1))
    changes = tuple((row.band, row.size_change_min) for row in job.size_bands)
    holds = Holds.of(job)
    return id(job.runs), rosters, job.dates.start, holds, job.counting, job.moves, changes


def is_kept(job: Job) -> bool:
    """Return whether the work of a job is worth keeping."""
    return len(job.runs) <= MOST_RUNS
