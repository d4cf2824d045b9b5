"""The generators of one crew: the smallest set that passes every check, and its fuel."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from estimator.models.equipment import Generator, Machine
from estimator.models.job import Job
from estimator.models.plan import Reason, Rejection, RentalSpan, SizedRun
from estimator.models.power import PowerNeed, SetCheck
from estimator.power.generator import (
    Check,
    SetKind,
    checks,
    deciding,
    fuel_l_h,
    kind_of,
    site_share,
    smallest_set,
    usual_kind,
    voltage_dip,
)
from estimator.power.load import Load, electric_load, mean_load_kw
from estimator.working_time.shifts import Shifts

DatedRuns = Sequence[tuple[dt.date, SizedRun]]


@dataclass(frozen=True)
class Trial:
    """One generator class against the hardest load of a crew."""

    item: Generator
    load: Load
    check: Check
    fails: str


class CrewPower:
    """The loads of one crew's machines on their generators, and the set for them.

    Parameters
    ----------
    job : Job
        The job.
    crew : int
        Number of the crew.
    lines : sequence
        Each date with the run worked on, machines with their own power left out.
    power : mapping
        Power need by machine class.
    """

    def __init__(
        self, job: Job, crew: int, lines: DatedRuns, power: Mapping[str, PowerNeed]
    ) -> None:
        self.job, self.crew, self.power = job, crew, power
        machines = job.resources.machines_per_crew
        self.machines_on_set = machines if job.resources.shares_generator else 1
        self.shifts = Shifts.of(job)
        self.quantity = machines // self.machines_on_set
        self.classes = _classes_by_date(lines)
        known = {machine.class_id: machine for machine in job.machines}
        used = dict.fromkeys(run.machine.class_id for _, run in lines)
        self.machines: dict[str, Machine] = {class_id: known[class_id] for class_id in used}
        self.loads = [
            electric_load(machine, job.power, self.machines_on_set)
            for machine in self.machines.values()
        ]
        self._fuel: dict[dt.date, float] = {}
        self._hourly: dict[tuple[str, ...], float] = {}
        self._mean: dict[tuple[str, ...], float] = {}
        self.trials = [self._try(item) for item in job.generators]
        self.chosen = self._choose()

    def _hardest(self, kind: SetKind) -> tuple[Load, Check]:
        found = [(load, deciding(load, kind, self.job.site, self.job.power)) for load in self.loads]
        return max(found, key=lambda pair: pair[1].needed_kw)

    def _try(self, item: Generator) -> Trial:
        load, check = self._hardest(kind_of(item))
        fails = ""
        if item.rated_kw < check.needed_kw:
            fails = self._too_small(item, load)
        elif item.stock < self.quantity:
            fails = f"{item.stock} in stock, {self.quantity} needed"
        return Trial(item, load, check, fails)

    def _too_small(self, item: Generator, load: Load) -> str:
        failed = [
            check.name
            for check in checks(load, kind_of(item), self.job.site, self.job.power)
            if check.needed_kw > item.rated_kw
        ]
        return f"too small for {', '.join(failed)}"

    def _choose(self) -> Trial | None:
        job = self.job
        taken = smallest_set(job.generators, self.quantity, self.loads, job.site, job.power)
        return next((trial for trial in self.trials if trial.item is taken), None)

    @property
    def needed(self) -> Check:
        """The deciding check for the set that was chosen, for the usual kind where none was."""
        return self.chosen.check if self.chosen else self._hardest(usual_kind())[1]

    def why(self) -> Reason:
        """Return why the set was chosen; there must be one."""
        trial = self._taken()
        share = site_share(kind_of(trial.item), self.job.site, self.job.power)
        on_set = "machine" if self.machines_on_set == 1 else f"{self.machines_on_set} machines"
        return Reason(
            text=f"{on_set} and site load run {trial.load.running_kw:.1f} kW, "
            f"{trial.load.running_kva:.1f} kVA, start {trial.load.starting_kw:.1f} kW; dip "
            f"{self._dip(trial):.0%}; {share:.0%} of rating left; "
            f"{trial.check.name} decides: needs {{need}}, has {{limit}}",
            kind="power",
            need=trial.check.needed_kw,
            limit=trial.item.rated_kw,
        )

    def rejected(self) -> tuple[Rejection, ...]:
        """Return every class that fails, and why."""
        return tuple(
            Rejection(
                class_id=trial.item.class_id,
                text=f"has {{limit}}, {trial.check.name} needs {{need}}"
                if trial.item.rated_kw < trial.check.needed_kw
                else trial.fails,
                kind="power",
                need=trial.check.needed_kw,
                limit=trial.item.rated_kw,
            )
            for trial in self.trials
            if trial.fails
        )

    def set_checks(self) -> tuple[SetCheck, ...]:
        """Return how each class stands up to the load."""
        return tuple(self._set_check(trial) for trial in self.trials)

    def _set_check(self, trial: Trial) -> SetCheck:
        taken = trial is self.chosen
        days = list(self.classes)
        return SetCheck(
            crew=self.crew,
            class_id=trial.item.class_id,
            machines=self.machines_on_set,
            rated_kw=trial.item.rated_kw,
            derating=site_share(kind_of(trial.item), self.job.site, self.job.power),
            needed_kw=trial.check.needed_kw,
            decides=trial.check.name,
            dip=self._dip(trial),
            passes=not trial.fails,
            verdict="taken" if taken else trial.fails or "passes; a smaller or cheaper set does",
            mean_kw=sum(map(self.mean_kw, days)) / len(days) if taken else None,
            fuel_l_day=sum(map(self.fuel_l, days)) / len(days) if taken else None,
        )

    def _dip(self, trial: Trial) -> float:
        largest = max(load.motor_start_kva for load in self.loads)
        return voltage_dip(kind_of(trial.item), trial.item.rated_kw, largest)

    def mean_kw(self, date: dt.date) -> float:
        """Return the mean load of one set on a day, the mean of the classes used that day."""
        used = self.classes[date]
        if used not in self._mean:
            self._mean[used] = self._mean_of(used)
        return self._mean[used]

    def _mean_of(self, used: tuple[str, ...]) -> float:
        loads = [
            mean_load_kw(
                self.machines[class_id],
                self.job.power,
                self.power[class_id].heater_duty,
                self.machines_on_set,
            )
            for class_id in used
        ]
        return sum(loads) / len(loads)

    def fuel_l(self, date: dt.date) -> float:
        """Return what all sets of the crew burn on a day [L]."""
        if date not in self._fuel:
            used = self.classes[date]
            hourly = self._hourly.get(used)
            if hourly is None:
                hourly = self._hourly[used] = fuel_l_h(self._taken().item, self.mean_kw(date))
            self._fuel[date] = hourly * self.shifts.engine_hours([date]) * self.quantity
        return self._fuel[date]

    def _taken(self) -> Trial:
        if self.chosen is None:
            raise LookupError("no generator class passes")
        return self.chosen

    def with_fuel(self, span: RentalSpan) -> RentalSpan:
        """Return a rental span of the set with the fuel of the days on which it is used."""
        return span.model_copy(update={"fuel_l": sum(map(self.fuel_l, span.used))})

    def needs_on_set(self) -> dict[str, PowerNeed]:
        """Return the power need of each machine class, by the kind of set that was chosen."""
        kind, site, power = kind_of(self._taken().item), self.job.site, self.job.power
        return {
            class_id: self.power[class_id].model_copy(
                update={
                    "derating": site_share(kind, site, power),
                    "rated_needed_kw": deciding(
                        electric_load(machine, power), kind, site, power
                    ).needed_kw,
                }
            )
            for class_id, machine in self.machines.items()
        }


def _classes_by_date(lines: DatedRuns) -> dict[dt.date, tuple[str, ...]]:
    found: dict[dt.date, dict[str, None]] = {}
    for date, run in lines:
        found.setdefault(date, {})[run.machine.class_id] = None
    return {date: tuple(found[date]) for date in sorted(found)}
