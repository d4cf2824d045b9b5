"""What every part of an explanation needs: the run, and figures in the user's units."""

from collections.abc import Mapping, Sequence
from functools import cached_property, partial

from estimator.cost.by_run import Allocator
from estimator.data_class import dataclass
from estimator.display import unit_of
from estimator.equipment.power_needs import PowerNeeds
from estimator.explain.page import Page, record
from estimator.joint.cycle import time_run
from estimator.joint.takeoff import joints_before
from estimator.models.estimate import CostLine, Estimate
from estimator.models.job import Job, Run
from estimator.models.job_inputs import ShiftInputs
from estimator.models.joint import Source
from estimator.models.kinds import OWN_RUN
from estimator.models.places import Places
from estimator.models.plan import PlanLine
from estimator.models.sized_run import SizedRun
from estimator.plan.hours_by_run import HoursByRun
from estimator.steps.recorder import Recorded
from estimator.working_time.on_site import job_on
from estimator.working_time.shifts import Shifts


@dataclass(frozen=True)
class ExplainContext:
    """An estimate with what the explanations of its runs share, each worked out once."""

    estimate: Estimate
    places: Places

    @cached_property
    def allocator(self) -> Allocator:
        """Shares the cost of the job out over its runs."""
        return Allocator(self.estimate, self.estimate.labor_hours)

    @cached_property
    def joints_before(self) -> Mapping[str, int]:
        """Butt joints of the job that come before those of each run where rework is counted."""
        return joints_before(self.estimate.job.runs, [run.counts for run in self.estimate.runs])

    @cached_property
    def hours(self) -> tuple[HoursByRun, HoursByRun]:
        """Gives labor- and crew-hours of the runs; what all runs share is worked out here."""
        both = HoursByRun.labor(self.estimate.plan), HoursByRun.crew(self.estimate.plan)
        for hours in both:
            _ = hours.pools
        return both

    @cached_property
    def power_needs(self) -> PowerNeeds:
        """Gives the power need of the machine classes used."""
        return PowerNeeds(self.estimate.job, self.estimate.runs, self.estimate.plan)

    @cached_property
    def power_steps(self) -> Mapping[str, Sequence[Recorded]]:
        """How the power need of each machine class comes about."""
        needs = self.power_needs
        return {name: record(partial(needs.of, name)) for name in needs.hardest}

    @cached_property
    def sized(self) -> Mapping[str, SizedRun]:
        """Every run by its name."""
        return {run.run_id: run for run in self.estimate.runs}

    @cached_property
    def own_lines(self) -> Mapping[str, list[CostLine]]:
        """Cost lines that belong to one run alone, by the run."""
        lines: dict[str, list[CostLine]] = {}
        for line in self.estimate.cost_lines:
            if line.allocated_by == OWN_RUN:
                lines.setdefault(line.charged_to, []).append(line)
        return lines

    @cached_property
    def plan_lines(self) -> Mapping[str, list[PlanLine]]:
        """Lines of the plan by run, in order of time."""
        lines: dict[str, list[PlanLine]] = {}
        for line in self.estimate.plan.lines:
            lines.setdefault(line.run_id, []).append(line)
        return lines


@dataclass(frozen=True)
class Chain:
    """One run of an estimate, with the places of its inputs."""

    context: ExplainContext
    run: Run
    sized: SizedRun

    @property
    def estimate(self) -> Estimate:
        """The estimate."""
        return self.context.estimate

    @property
    def places(self) -> Places:
        """Where the inputs stand."""
        return self.context.places

    @property
    def job(self) -> Job:
        """The job."""
        return self.estimate.job

    @cached_property
    def crew_job(self) -> Job:
        """The job as the first crew of the run finds it in the day shift of its first day."""
        job, lines = self.job, self.context.plan_lines.get(self.run.run_id, ())
        date = self.run.earliest_start or job.dates.start
        if lines:
            date = lines[0].date
            job = job_on(job, lines[0].crew, date)
        return job.model_copy(update={"shift": Shifts.of(job).inputs_on(date)})

    @property
    def shift(self) -> ShiftInputs:
        """The shift inputs of that day shift."""
        return self.crew_job.shift

    @cached_property
    def timed(self) -> Sequence[Recorded]:
        """How the times of the run's joints and the joints of a shift come about."""
        job = self.crew_job
        timing, od_mm = self.sized.timing, self.sized.geometry.od_mm
        return record(lambda: time_run(job, self.run, od_mm, timing.fusion, timing.ambient_c))

    @cached_property
    def costed(self) -> Sequence[Recorded]:
        """How the run's part of cost and price comes about."""
        return record(lambda: self.context.allocator.run_cost(self.run, self.sized))

    @cached_property
    def page(self) -> Page:
        """Turns what the stages record into steps in the user's units."""
        cover = self.job.cover
        return Page(cover.unit_system, cover.currency, self.places)

    def unit(self, kind: str) -> str:
        """Return the user's unit of a physical kind."""
        return unit_of(kind, self.job.cover.unit_system)

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
