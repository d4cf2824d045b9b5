"""What every part of an explanation needs: the run, and figures in the user's units."""

from dataclasses import dataclass
from functools import cached_property

from estimator.display import convert, unit_of
from estimator.models.estimate import Estimate
from estimator.models.explanation import Step
from estimator.models.job import Job, JobFacts, Run
from estimator.models.joint import Source
from estimator.models.places import Places
from estimator.models.plan import SizedRun
from estimator.sizing import Sizer
from estimator.sums import Sum, num


@dataclass(frozen=True)
class Chain:
    """One run of an estimate, with the places of its inputs."""

    found: Estimate
    places: Places
    run: Run
    sized: SizedRun

    @property
    def job(self) -> Job:
        """The job."""
        return self.found.job

    @cached_property
    def sizer(self) -> Sizer:
        """Gives the times of the run's joints on any day."""
        return Sizer(self.job, self.places)

    @cached_property
    def facts(self) -> JobFacts:
        """The Job sheet as it holds in the day shift of the run's first day."""
        dates = [ln.date for ln in self.found.plan.lines if ln.run_id == self.run.run_id]
        first = min(dates, default=self.run.earliest_start or self.job.facts.start)
        return self.sizer.shifts.facts_on(first)

    def unit(self, kind: str) -> str:
        """Return the user's unit of a physical kind."""
        return unit_of(kind, self.job.facts.unit_system)

    def num(self, value: float, kind: str) -> Sum:
        """Return an SI value as a number in the user's unit."""
        return num(convert(value, kind, self.job.facts.unit_system))

    def cell(self, table: str, row: str, key: str) -> str:
        """Return the place of an input, empty where it was not read from a cell."""
        return self.places.where(table, row, key) if self.places.cell(table, row, key) else ""

    def run_cell(self, key: str) -> str:
        """Return the place of an input of the run."""
        return self.cell("schedule", self.run.run_id, key)

    def fact_cell(self, key: str) -> str:
        """Return the place of an input of the Job sheet."""
        return self.cell("job", "", key)

    def sources(self, figure: str) -> tuple[Source, ...]:
        """Return the sources of a figure of the pipe or of the fusion method."""
        known = (*self.sized.geometry.sources, *self.sized.fusion.sources)
        return tuple(source for source in known if source.figure == figure)


def worked(name: str, found: Sum, unit: str = "", how: str = "", where: str = "") -> Step:
    """Return the step of a sum; a plain number is a given one."""
    text = "" if found.is_plain else found.text
    return Step(name, found.value, unit, text, how, where)
