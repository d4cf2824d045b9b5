"""What is on rent, from when to when, at which tiers: machines, generators, lifting gear."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from estimator.errors import InputError, Problem
from estimator.models.job import Job, Lifter, RentalItem
from estimator.models.plan import (
    Fleet,
    Plan,
    PowerNeed,
    Reason,
    Rejection,
    RentalSpan,
    SizedRun,
)
from estimator.power import choose_generator, power_need
from estimator.rental import cheapest_tiers


@dataclass(frozen=True)
class Use:
    """The dates on which a crew uses something, and how many of it at once."""

    crew: int
    dates: tuple[dt.date, ...]
    quantity: int


def rent(
    job: Job,
    kind: Literal["machine", "generator", "lifting"],
    item: RentalItem,
    use: Use,
    reasons: tuple[Reason, tuple[Rejection, ...], float],
) -> RentalSpan:
    """Return the rental span of one class over the dates it is used, haulage included.

    ``reasons`` holds why it was chosen, what was rejected, and its fuel in L/h.
    """
    why, rejected, fuel_l_h = reasons
    haul = dt.timedelta(days=job.facts.haul_days)
    on_rent, off_rent = use.dates[0] - haul, use.dates[-1] + haul
    hours = len(use.dates) * (job.facts.shift_hours - job.facts.breaks_min / 60)
    return RentalSpan(
        kind=kind,
        class_id=item.class_id,
        crew=use.crew,
        quantity=use.quantity,
        on_rent=on_rent,
        off_rent=off_rent,
        work_days=len(use.dates),
        tiers=cheapest_tiers((off_rent - on_rent).days + 1, item),
        fuel_l=fuel_l_h * hours * use.quantity,
        why=why,
        rejected=rejected,
    )


def pick_lifter(job: Job, mass_kg: float) -> Lifter | None:
    """Return the smallest lifting class in stock that carries this mass, None if none does."""
    fit = [row for row in job.lifting if row.capacity >= mass_kg and row.stock > 0]
    return min(fit, key=lambda row: (row.capacity, row.four_week_rate.amount), default=None)


class FleetBuilder:
    """Collects the rental spans of each crew from the finished plan."""

    def __init__(self, job: Job, sized: Sequence[SizedRun], plan: Plan) -> None:
        self.job, self.plan = job, plan
        self.sized = {s.run_id: s for s in sized}
        self.machines = {m.class_id: m for m in job.machines}
        self.problems: list[Problem] = []
        self.power = self._power()

    def build(self) -> Fleet:
        """Return every span; raises InputError where no generator or lifting class fits."""
        spans = []
        for crew in sorted({line.crew for line in self.plan.lines}):
            spans += self._machine_spans(crew)
            spans += self._generator_spans(crew)
            spans += self._lifting_spans(crew)
        if self.problems:
            raise InputError(self.problems)
        return Fleet(spans=tuple(spans), power=self.power)

    def _power(self) -> dict[str, PowerNeed]:
        target = {
            self.sized[line.run_id].machine.class_id: sum(self.sized[line.run_id].fusion.heater_c)
            / 2
            for line in self.plan.lines
        }
        return {
            class_id: power_need(self.machines[class_id], self.job.facts, heater_c)
            for class_id, heater_c in target.items()
        }

    def _lines(self, crew: int) -> list[tuple[dt.date, SizedRun]]:
        return [
            (line.date, self.sized[line.run_id]) for line in self.plan.lines if line.crew == crew
        ]

    def _machine_spans(self, crew: int) -> list[RentalSpan]:
        spans = []
        lines = self._lines(crew)
        for class_id in dict.fromkeys(run.machine.class_id for _, run in lines):
            runs = [run for _, run in lines if run.machine.class_id == class_id]
            dates = tuple(sorted({d for d, run in lines if run.machine.class_id == class_id}))
            hardest = max(runs, key=lambda run: run.geometry.joint_area_mm2)
            machine = self.machines[class_id]
            use = Use(crew, dates, self.job.facts.machines_per_crew)
            reasons = (
                _machine_reason(hardest, machine.max_gauge),
                hardest.machine.rejected,
                machine.fuel_rate or 0.0,
            )
            spans.append(rent(self.job, "machine", machine, use, reasons))
        return spans

    def _generator_spans(self, crew: int) -> list[RentalSpan]:
        lines = [
            (date, run)
            for date, run in self._lines(crew)
            if not self.machines[run.machine.class_id].self_powered
        ]
        if not lines:
            return []
        largest = max(
            (self.power[run.machine.class_id] for _, run in lines),
            key=lambda need: need.rated_needed_kw,
        )
        quantity = self.job.facts.machines_per_crew
        chosen = choose_generator(self.job.generators, largest.rated_needed_kw, quantity)
        if chosen is None:
            self.problems.append(
                Problem(
                    "Generators",
                    f"Rated output: got no set in stock that is large enough, "
                    f"allowed {largest.rated_needed_kw:.1f} kW or more ({quantity} at once)",
                )
            )
            return []
        why = Reason(
            text=f"runs {largest.running_kw:.1f} kW, starts {largest.starting_kw:.1f} kW, "
            f"{largest.derating:.0%} of rating left at the site: needs {{need}}, has {{limit}}",
            kind="power",
            need=largest.rated_needed_kw,
            limit=chosen.rated_kw,
        )
        rejected = tuple(
            Rejection(
                class_id=g.class_id,
                text="too small: {limit}, needs {need}",
                kind="power",
                need=largest.rated_needed_kw,
                limit=g.rated_kw,
            )
            for g in self.job.generators
            if g.rated_kw < largest.rated_needed_kw
        )
        dates = tuple(sorted({date for date, _ in lines}))
        reasons = (why, rejected, chosen.fuel_half)
        return [rent(self.job, "generator", chosen, Use(crew, dates, quantity), reasons)]

    def _lifting_spans(self, crew: int) -> list[RentalSpan]:
        lines = self._lines(crew)
        heaviest = max((run for _, run in lines), key=lambda run: run.stick_mass_kg)
        mass = heaviest.stick_mass_kg * (1 + self.job.facts.lift_reserve)
        chosen = pick_lifter(self.job, mass)
        if chosen is None:
            self.problems.append(
                Problem(
                    "Lifting",
                    f"Capacity: got no class in stock that carries a stick of run "
                    f"{heaviest.run_id}, allowed {mass:,.0f} kg or more",
                )
            )
            return []
        why = Reason(
            text=f"heaviest stick, run {heaviest.run_id}, with reserve {{need}}; "
            "capacity {limit}",
            kind="mass",
            need=mass,
            limit=chosen.capacity,
        )
        rejected = tuple(
            Rejection(
                class_id=row.class_id,
                text="carries {limit}, needs {need}",
                kind="mass",
                need=mass,
                limit=row.capacity,
            )
            for row in self.job.lifting
            if row.capacity < mass
        )
        dates = tuple(sorted({date for date, _ in lines}))
        fuel_l_h = chosen.fuel_rate * self.job.facts.lift_working_share
        return [rent(self.job, "lifting", chosen, Use(crew, dates, 1), (why, rejected, fuel_l_h))]


def _machine_reason(run: SizedRun, max_gauge: float | None) -> Reason:
    if run.machine.gauge_mpa is None or max_gauge is None:
        return Reason(text=f"cheapest class that fits run {run.run_id}; works by hand lever")
    return Reason(
        text=f"cheapest class that fits run {run.run_id}: gauge at the high end {{need}}, "
        "limit {limit}",
        kind="pressure",
        need=run.machine.gauge_mpa[2],
        limit=max_gauge,
    )


def equip(job: Job, sized: Sequence[SizedRun], plan: Plan) -> Fleet:
    """Return what is on rent for the plan.

    Raises
    ------
    InputError
        If no generator or lifting class of the fleet sheets is large enough.
    """
    return FleetBuilder(job, sized, plan).build()
