"""What is on rent, from when to when, at which tiers: machines, generators, lifting gear."""

from collections.abc import Sequence

from estimator.display import show_need
from estimator.equipment.crew_power import CrewPower
from estimator.equipment.generators import choose_sets, generator_spans
from estimator.equipment.lifting import Lines, lifting_spans
from estimator.equipment.power_needs import PowerNeeds
from estimator.equipment.spans import Chosen, Use, rent, stays, uses
from estimator.errors import InputError, Problem
from estimator.models.choice import Reason
from estimator.models.equipment import RentalItem
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.models.plan import Plan
from estimator.models.power import SetCheck
from estimator.models.rental import Fleet, RentalSpan
from estimator.models.sized_run import SizedRun
from estimator.working_time.on_site import job_of_crew


class FleetBuilder:
    """Collects the rental spans of each crew from the finished plan."""

    def __init__(
        self, job: Job, sized: Sequence[SizedRun], plan: Plan, places: Places, *, reasons: bool
    ) -> None:
        self.job, self.plan, self.places, self.reasons = job, plan, places, reasons
        self.sized = {s.run_id: s for s in sized}
        self.machines = {m.class_id: m for m in job.machines}
        self.problems: list[Problem] = []
        self.sets: list[SetCheck] = []
        self.needs = PowerNeeds(job, sized, plan)
        self.power = self.needs.all()

    def build(self) -> Fleet:
        """Return every span; raises InputError where no generator or lifting class fits."""
        spans = []
        for crew, planned in sorted(self.plan.by_crew.items()):
            job = job_of_crew(self.job, crew)
            lines = [(line.date, self.sized[line.run_id]) for line in planned]
            spans += self._machine_spans(job, crew, lines)
            spans += self._generator_spans(job, crew, lines)
            spans += lifting_spans(job, crew, lines, self.places, self.problems)
        if self.problems:
            raise InputError(self.problems)
        return Fleet(spans=tuple(spans), power=self.power, sets=tuple(self.sets))

    def _machine_spans(self, job: Job, crew: int, lines: Lines) -> list[RentalSpan]:
        spans: list[RentalSpan] = []
        for class_id in dict.fromkeys(run.machine.class_id for _, run in lines):
            own = [(date, run) for date, run in lines if run.machine.class_id == class_id]
            machine = self.machines[class_id]
            for stay in _stays(job, machine, uses(job, crew, (date for date, _ in own))):
                used = set(stay.dates)
                runs = [run for date, run in own if date in used]
                hardest = max(runs, key=lambda run: run.geometry.joint_area_mm2)
                chosen = Chosen(
                    kind="machine",
                    item=machine,
                    why=_machine_reason(hardest, machine.max_gauge_mpa),
                    rejected=hardest.machine.rejected,
                    fuel_l_h=machine.fuel_rate_l_h or 0.0,
                )
                spans.append(rent(job, chosen, stay))
        return spans

    def _generator_spans(self, job: Job, crew: int, all_lines: Lines) -> list[RentalSpan]:
        lines = [
            (date, run)
            for date, run in all_lines
            if not self.machines[run.machine.class_id].self_powered
        ]
        if not lines:
            return []
        if job.resources.shares_generator:
            return self._sets(CrewPower(job, crew, lines, self.power, sets=1, at_once=1))
        spans, at_once = [], 0
        for use in uses(job, crew, (date for date, _ in lines)):
            at_once += use.quantity
            used = set(use.dates)
            fed = [(date, run) for date, run in lines if date in used]
            spans += self._sets(
                CrewPower(job, crew, fed, self.power, sets=use.quantity, at_once=at_once)
            )
        return spans

    def _sets(self, supply: CrewPower) -> list[RentalSpan]:
        job = supply.job
        chosen = choose_sets(job, supply)
        if self.reasons:
            self.sets += supply.set_checks(chosen or {})
        if chosen is None:
            self.problems.append(self._no_generator(supply))
            return []
        if self.reasons:
            self.power |= supply.needs_on_sets(chosen)
        return generator_spans(job, supply, chosen, reasons=self.reasons)

    def _no_generator(self, supply: CrewPower) -> Problem:
        first = self.job.generators[0].class_id if self.job.generators else ""
        need, system = supply.needed(), self.job.cover.unit_system
        in_stock = [g.rated_kw for g in self.job.generators if g.stock >= supply.at_once]
        return Problem(
            self.places.where("generators", first, "rated_kw"),
            f"Rated output: no generator in stock is large enough ({supply.at_once} needed at "
            f"once). {need.name} needs {show_need(need.needed_kw, in_stock, 'power', system)}",
        )


def _stays(job: Job, item: RentalItem, each: Sequence[Use]) -> list[Use]:
    return [stay for use in each for stay in stays(job, item, use)]


def _machine_reason(run: SizedRun, max_gauge_mpa: float | None) -> Reason:
    if run.machine.gauge_mpa is None or max_gauge_mpa is None:
        return Reason(text=f"{run.machine.why}, run {run.run_id}; hand lever")
    return Reason(
        text=f"{run.machine.why}, run {run.run_id}; gauge up to {{need}}, limit {{limit}}",
        kind="pressure",
        need=run.machine.gauge_mpa[2],
        limit=max_gauge_mpa,
    )


def equip(
    job: Job,
    sized: Sequence[SizedRun],
    plan: Plan,
    places: Places,
    *,
    reasons: bool = True,
) -> Fleet:
    """Return what is on rent for the plan.

    Without ``reasons`` its generators come without the words why each class was taken and others
    were not, and without how each stands up to its load: for plans of which only totals are read.

    Raises
    ------
    InputError
        If no generator or lifting class of the fleet sheets is large enough.
    """
    return FleetBuilder(job, sized, plan, places, reasons=reasons).build()
