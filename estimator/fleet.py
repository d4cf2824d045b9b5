"""What is on rent, from when to when, at which tiers: machines, generators, lifting gear."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from estimator.display import show
from estimator.errors import InputError, Problem
from estimator.models.job import Generator, Job, Lifter, RentalItem
from estimator.models.places import Places
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
from estimator.rental import cheapest_stays, cheapest_tiers
from estimator.soak_check import heater_duty_kw, joint_energy_kj
from estimator.units import HOUR_MIN


@dataclass(frozen=True)
class Use:
    """The dates on which a crew uses something, and how many of it at once."""

    crew: int
    dates: tuple[dt.date, ...]
    quantity: int


@dataclass(frozen=True)
class SizeNeed:
    """What a class must carry or give, and how that is told.

    ``table`` and ``key`` name the input that holds its size, ``kind`` its physical kind;
    ``why`` is a text with ``{need}`` and ``{limit}``, ``none`` the message where no class fits.
    """

    table: Literal["generators", "lifting"]
    key: str
    kind: str
    value: float
    why: str
    none: str


def rent(
    job: Job,
    kind: Literal["machine", "generator", "lifting"],
    item: RentalItem,
    use: Use,
    reasons: tuple[Reason, tuple[Rejection, ...], float],
) -> list[RentalSpan]:
    """Return the rental spans of one class over the dates it is used, haulage included.

    ``reasons`` holds why it was chosen, what was rejected, and its fuel in L/h.
    """
    why, rejected, fuel_l_h = reasons
    haul = dt.timedelta(days=job.facts.haul_days)
    shift_hours = job.facts.shift_hours - job.facts.breaks_min / HOUR_MIN
    return [
        RentalSpan(
            kind=kind,
            class_id=item.class_id,
            crew=use.crew,
            quantity=use.quantity,
            on_rent=dates[0] - haul,
            off_rent=dates[-1] + haul,
            work_days=len(dates),
            tiers=cheapest_tiers((dates[-1] - dates[0] + 2 * haul).days + 1, item),
            fuel_l=fuel_l_h * len(dates) * shift_hours * use.quantity,
            why=why,
            rejected=rejected,
        )
        for dates in cheapest_stays(use.dates, item, job.facts.haul_days)
    ]


def pick_lifter(job: Job, mass_kg: float) -> Lifter | None:
    """Return the smallest lifting class in stock that carries this mass, None if none does."""
    fit = [row for row in job.lifting if row.capacity >= mass_kg and row.stock > 0]
    return min(fit, key=lambda row: (row.capacity, row.four_week_rate.amount), default=None)


class FleetBuilder:
    """Collects the rental spans of each crew from the finished plan."""

    def __init__(self, job: Job, sized: Sequence[SizedRun], plan: Plan, places: Places) -> None:
        self.job, self.plan, self.places = job, plan, places
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
        hardest: dict[str, SizedRun] = {}
        for line in self.plan.lines:
            run = self.sized[line.run_id]
            known = hardest.setdefault(run.machine.class_id, run)
            if run.geometry.joint_area_mm2 > known.geometry.joint_area_mm2:
                hardest[run.machine.class_id] = run
        return {class_id: self._power_of(class_id, run) for class_id, run in hardest.items()}

    def _power_of(self, class_id: str, hardest: SizedRun) -> PowerNeed:
        heater_c = sum(hardest.fusion.heater_c) / 2
        energy_kj = joint_energy_kj(
            hardest.geometry.joint_area_mm2,
            heater_c,
            hardest.timing.ambient_c,
            hardest.fusion.soak_s,
        )
        need = power_need(self.machines[class_id], self.job.facts, heater_c)
        duty_kw = heater_duty_kw(energy_kj, hardest.cycle.plain.cycle_min)
        return need.model_copy(update={"joint_duty_kw": duty_kw})

    def _lines(self, crew: int) -> list[tuple[dt.date, SizedRun]]:
        return [
            (line.date, self.sized[line.run_id]) for line in self.plan.lines if line.crew == crew
        ]

    def _machine_spans(self, crew: int) -> list[RentalSpan]:
        spans: list[RentalSpan] = []
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
            spans += rent(self.job, "machine", machine, use, reasons)
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
        need = SizeNeed(
            table="generators",
            key="rated_kw",
            kind="power",
            value=largest.rated_needed_kw,
            why=f"runs {largest.running_kw:.1f} kW, starts {largest.starting_kw:.1f} kW, "
            f"{largest.derating:.0%} of rating left at the site: needs {{need}}, has {{limit}}",
            none=f"Rated output: got no set in stock that is large enough, {quantity} at once",
        )
        use = Use(crew, _days(lines), quantity)
        return self._sized_spans(need, chosen, use, chosen.fuel_half if chosen else 0.0)

    def _lifting_spans(self, crew: int) -> list[RentalSpan]:
        lines = self._lines(crew)
        heaviest = max((run for _, run in lines), key=lambda run: run.stick_mass_kg)
        mass = heaviest.stick_mass_kg * (1 + self.job.facts.lift_reserve)
        chosen = pick_lifter(self.job, mass)
        need = SizeNeed(
            table="lifting",
            key="capacity",
            kind="mass",
            value=mass,
            why=f"heaviest stick, run {heaviest.run_id}, with reserve {{need}}; capacity {{limit}}",
            none=f"Capacity: got no class in stock that carries a stick of run {heaviest.run_id}",
        )
        fuel_l_h = chosen.fuel_rate * self.job.facts.lift_working_share if chosen else 0.0
        return self._sized_spans(need, chosen, Use(crew, _days(lines), 1), fuel_l_h)

    def _sized_spans(
        self, need: SizeNeed, chosen: Generator | Lifter | None, use: Use, fuel_l_h: float
    ) -> list[RentalSpan]:
        """Return the spans of a class that was chosen by its size, or note that none fits."""
        items: tuple[Generator | Lifter, ...] = getattr(self.job, need.table)
        if chosen is None:
            first = items[0].class_id if items else ""
            asked = show(need.value, need.kind, self.job.facts.unit_system)
            where = self.places.where(need.table, first, need.key)
            self.problems.append(Problem(where, f"{need.none}, allowed {asked} or more"))
            return []
        why = Reason(
            text=need.why, kind=need.kind, need=need.value, limit=getattr(chosen, need.key)
        )
        rejected = tuple(
            Rejection(
                class_id=item.class_id,
                text="has {limit}, needs {need}",
                kind=need.kind,
                need=need.value,
                limit=getattr(item, need.key),
            )
            for item in items
            if getattr(item, need.key) < need.value
        )
        kind: Literal["generator", "lifting"] = (
            "generator" if need.table == "generators" else "lifting"
        )
        return rent(self.job, kind, chosen, use, (why, rejected, fuel_l_h))


def _days(lines: Sequence[tuple[dt.date, SizedRun]]) -> tuple[dt.date, ...]:
    return tuple(sorted({date for date, _ in lines}))


def _machine_reason(run: SizedRun, max_gauge: float | None) -> Reason:
    if run.machine.gauge_mpa is None or max_gauge is None:
        return Reason(text=f"{run.machine.why}, run {run.run_id}; works by hand lever")
    return Reason(
        text=f"{run.machine.why}, run {run.run_id}: gauge up to {{need}}, limit {{limit}}",
        kind="pressure",
        need=run.machine.gauge_mpa[2],
        limit=max_gauge,
    )


def equip(job: Job, sized: Sequence[SizedRun], plan: Plan, places: Places) -> Fleet:
    """Return what is on rent for the plan.

    Raises
    ------
    InputError
        If no generator or lifting class of the fleet sheets is large enough.
    """
    return FleetBuilder(job, sized, plan, places).build()
