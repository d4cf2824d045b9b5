"""The generators of one crew: how each class stands up to its loads by date, and its fuel."""

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from estimator.models.choice import Reason, Rejection
from estimator.models.equipment import Generator, Machine
from estimator.models.job import Job
from estimator.models.job_inputs import PowerInputs, SiteInputs
from estimator.models.power import PowerNeed, SetCheck
from estimator.models.sized_run import SizedRun
from estimator.power.generator import (
    Check,
    SetKind,
    checks,
    fuel_l_h,
    hardest_of,
    kind_of,
    site_share,
    usual_kind,
    voltage_dip,
)
from estimator.power.load import Load, electric_load, mean_load_kw
from estimator.units import at_most
from estimator.working_time.ambient import MonthlyAmbient
from estimator.working_time.on_site import machines_on
from estimator.working_time.shifts import Shifts

DatedRuns = Sequence[tuple[dt.date, SizedRun]]


Dates = Sequence[dt.date]


class Fed(NamedTuple):
    """What one set feeds at once: machines of a class, how many, and in what ambient."""

    class_id: str
    machines: int
    ambient_c: float


@lru_cache(maxsize=1024)
def known_checks(
    load: Load, kind: SetKind, site: SiteInputs, power: PowerInputs
) -> tuple[Check, ...]:
    """Return every check of a kind of set, worked out once for all plans with this load."""
    return checks(load, kind, site, power)


class Trial(NamedTuple):
    """One generator class against the hardest load of a crew on some dates."""

    item: Generator
    fed: Fed
    load: Load
    check: Check
    fails: str


class CrewPower:
    """The loads of one crew's machines by date, and how a generator class stands up to them.

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
    sets : int
        How many sets the crew has for these machines on each of the dates.
    at_once : int
        How many sets it has on them at once, these among them.
    """

    def __init__(
        self,
        job: Job,
        crew: int,
        lines: DatedRuns,
        power: Mapping[str, PowerNeed],
        sets: int,
        at_once: int,
    ) -> None:
        self.job, self.crew, self.power = job, crew, power
        self.quantity, self.at_once = sets, at_once
        self.shifts, self.ambient = Shifts.of(job), MonthlyAmbient.of(job)
        self.fed = self._fed_by_date(lines)
        known = {machine.class_id: machine for machine in job.machines}
        used = dict.fromkeys(fed for each in self.fed.values() for fed in each)
        self.machines: dict[str, Machine] = {fed.class_id: known[fed.class_id] for fed in used}
        self.loads = {
            fed: electric_load(self.machines[fed.class_id], job.power, fed.machines) for fed in used
        }
        self._trials: dict[tuple[str, tuple[Fed, ...]], Trial] = {}
        self._checked: dict[tuple[SetKind, Fed], tuple[Check, ...]] = {}
        self._used_on: dict[tuple[dt.date, ...], tuple[Fed, ...]] = {}
        self._hourly: dict[tuple[str, tuple[Fed, ...]], float] = {}
        self._engine_h: dict[dt.date, float] = {}
        self._mean: dict[tuple[Fed, ...], float] = {}

    def _fed_by_date(self, lines: DatedRuns) -> dict[dt.date, tuple[Fed, ...]]:
        shared = self.job.resources.shares_generator
        found: dict[dt.date, dict[Fed, None]] = {}
        for date, run in lines:
            machines = machines_on(self.job, self.crew, date) if shared else 1
            fed = Fed(run.machine.class_id, machines, self.ambient.on(date))
            found.setdefault(date, {})[fed] = None
        return {date: tuple(found[date]) for date in sorted(found)}

    def _site(self, fed: Fed) -> SiteInputs:
        """Return the site as it is in the month in which a set feeds some machines."""
        return self.job.site.model_copy(update={"ambient_c": fed.ambient_c})

    def _left(self, item: Generator, fed: Fed) -> float:
        """Return the share of its rating that a class has left in that month."""
        return site_share(kind_of(item), self._site(fed), self.job.power)

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """The dates on which the crew needs power, rising."""
        return tuple(self.fed)

    def _used(self, dates: Dates) -> tuple[Fed, ...]:
        """Return what a set feeds on some dates by its first use."""
        key = tuple(dates)
        used = self._used_on.get(key)
        if used is None:
            each_day = dict.fromkeys(map(self.fed.__getitem__, key))
            used = tuple(dict.fromkeys(fed for each in each_day for fed in each))
            self._used_on[key] = used
        return used

    def _hardest(self, kind: SetKind, used: Sequence[Fed]) -> tuple[Fed, Check]:
        found = [(fed, self._decides(kind, fed)) for fed in used]
        return max(found, key=lambda pair: pair[1].needed_kw)

    def _decides(self, kind: SetKind, fed: Fed) -> Check:
        return hardest_of(self._checks(kind, fed))

    def _checks(self, kind: SetKind, fed: Fed) -> tuple[Check, ...]:
        known = self._checked.get((kind, fed))
        if known is None:
            known = known_checks(self.loads[fed], kind, self._site(fed), self.job.power)
            self._checked[kind, fed] = known
        return known

    def trial(self, item: Generator, dates: Dates) -> Trial:
        """Return how a class stands up to the loads of some dates."""
        key = item.class_id, self._used(dates)
        if key not in self._trials:
            self._trials[key] = self._try(item, key[1])
        return self._trials[key]

    def _try(self, item: Generator, used: Sequence[Fed]) -> Trial:
        fed, check = self._hardest(kind_of(item), used)
        fails = ""
        if not at_most(check.needed_kw, item.rated_kw):
            fails = self._too_small(item, fed)
        elif item.stock < self.at_once:
            fails = f"only {item.stock} in stock, {self.at_once} needed"
        return Trial(item, fed, self.loads[fed], check, fails)

    def _too_small(self, item: Generator, fed: Fed) -> str:
        checks = self._checks(kind_of(item), fed)
        failed = [check.name for check in checks if not at_most(check.needed_kw, item.rated_kw)]
        names = ", ".join(failed) if len(failed) < len(checks) else "every check"
        return f"too small: fails {names}"

    def needed(self) -> Check:
        """Return what the hardest of all loads asks of the usual kind of set."""
        return self._hardest(usual_kind(), tuple(self.loads))[1]

    def need(self, item: Generator, dates: Dates, text: str = "") -> Reason:
        """Return what a set must carry on some dates, and what it does."""
        needed_kw = self.trial(item, dates).check.needed_kw
        return Reason(text=text, kind="power", need=needed_kw, limit=item.rated_kw)

    def why(self, item: Generator, dates: Dates) -> Reason:
        """Return why a set was chosen for some dates."""
        trial = self.trial(item, dates)
        share, machines = self._left(item, trial.fed), trial.fed.machines
        on_set = "machine" if machines == 1 else f"{machines} machines"
        text = (
            f"{on_set} and site load: running {trial.load.running_kw:.1f} kW "
            f"({trial.load.running_kva:.1f} kVA), starting {trial.load.starting_kw:.1f} kW; dip "
            f"{self._dip(item, dates):.0%}; derated to {share:.0%}. "
            f"Governed by {trial.check.name} (needs {{need}}, has {{limit}})"
        )
        return self.need(item, dates, text)

    def rejected(self, dates: Dates) -> tuple[Rejection, ...]:
        """Return every class that fails on some dates, and why."""
        trials = (self.trial(item, dates) for item in self.job.generators)
        return tuple(
            Rejection(
                class_id=trial.item.class_id,
                text=f"has {{limit}}, {trial.check.name} needs {{need}}"
                if not at_most(trial.check.needed_kw, trial.item.rated_kw)
                else trial.fails,
                kind="power",
                need=trial.check.needed_kw,
                limit=trial.item.rated_kw,
            )
            for trial in trials
            if trial.fails
        )

    def set_checks(self, chosen: Mapping[str, Dates]) -> tuple[SetCheck, ...]:
        """Return how each class stands up to the load of the dates for which it was chosen.

        A class that was not chosen is held against the load of all dates.
        """
        return tuple(self._set_check(item, chosen) for item in self.job.generators)

    def _set_check(self, item: Generator, chosen: Mapping[str, Dates]) -> SetCheck:
        days = chosen.get(item.class_id)
        trial = self.trial(item, days or self.dates)
        return SetCheck(
            crew=self.crew,
            class_id=item.class_id,
            machines=trial.fed.machines,
            rated_kw=item.rated_kw,
            derating=self._left(item, trial.fed),
            needed_kw=trial.check.needed_kw,
            decides=trial.check.name,
            dip=self._dip(item, days or self.dates),
            passes=not trial.fails,
            verdict="selected" if days else trial.fails or "not needed",
            mean_kw=sum(map(self.mean_kw, days)) / len(days) if days else None,
            fuel_l_day=self.fuel_of(item, days) / len(days) if days else None,
        )

    def _dip(self, item: Generator, dates: Dates) -> float:
        largest = max(self.loads[fed].motor_start_kva for fed in self._used(dates))
        return voltage_dip(kind_of(item), item.rated_kw, largest)

    def mean_kw(self, date: dt.date) -> float:
        """Return the mean load of one set on a day, the mean of the classes used that day."""
        used = self.fed[date]
        if used not in self._mean:
            self._mean[used] = self._mean_of(used)
        return self._mean[used]

    def _mean_of(self, used: tuple[Fed, ...]) -> float:
        loads = [
            mean_load_kw(
                self.machines[fed.class_id],
                self.job.power,
                self.power[fed.class_id].heater_duty,
                fed.machines,
            )
            for fed in used
        ]
        return sum(loads) / len(loads)

    def fuel_l(self, item: Generator, date: dt.date) -> float:
        """Return what all sets of the crew burn on a day, if they are of a class [L]."""
        key = item.class_id, self.fed[date]
        hourly = self._hourly.get(key)
        if hourly is None:
            hourly = self._hourly[key] = fuel_l_h(item, self.mean_kw(date))
        return hourly * self._engine_hours(date) * self.quantity

    def _engine_hours(self, date: dt.date) -> float:
        hours = self._engine_h.get(date)
        if hours is None:
            hours = self._engine_h[date] = self.shifts.engine_hours([date])
        return hours

    def fuel_of(self, item: Generator, dates: Dates) -> float:
        """Return what all sets of the crew burn on some dates [L]."""
        return sum(self.fuel_l(item, date) for date in dates)

    def needs_on_sets(self, chosen: Mapping[str, Dates]) -> dict[str, PowerNeed]:
        """Return the power need of each machine class, by the set that feeds it first.

        In the hottest of the months in which it is fed.
        """
        items = {item.class_id: item for item in self.job.generators}
        set_on = {date: items[name] for name, dates in chosen.items() for date in dates}
        fed_by: dict[str, Generator] = {}
        hottest: dict[str, Fed] = {}
        for date, used in self.fed.items():
            for fed in used:
                fed_by.setdefault(fed.class_id, set_on[date])
                known = hottest.setdefault(fed.class_id, fed)
                hottest[fed.class_id] = max(known, fed, key=lambda one: one.ambient_c)
        found: dict[str, PowerNeed] = {}
        for class_id, item in fed_by.items():
            fed = hottest[class_id]
            kind, load = kind_of(item), electric_load(self.machines[class_id], self.job.power)
            update = {
                "derating": self._left(item, fed),
                "rated_needed_kw": hardest_of(
                    known_checks(load, kind, self._site(fed), self.job.power)
                ).needed_kw,
            }
            found[class_id] = self.power[class_id].model_copy(update=update)
        return found
