"""A job as a problem of choosing machine classes and crews: its figures for ``problem``.

Everything is taken from an estimate of the job as it stands, so that times, feasible classes
and the calendar are those of the estimate.
"""

import datetime as dt
from collections.abc import Sequence

from estimator.joint.cycle import test_minutes
from estimator.joint.machines import Demand, obstacle
from estimator.models.equipment import Machine
from estimator.models.job import Job, Run
from estimator.models.planned_job import PlannedJob
from estimator.models.sized_run import SizedRun
from estimator.optimize.day_prices import DayPrices
from estimator.optimize.problem import FleetClass, FleetProblem, Hire, SizeSetUp, WorkItem, bundles
from estimator.plan.crews import TriedPipe, pipe_to_try
from estimator.plan.tasks import (
    OUTSIDE_TIE_INS,
    STRING_TIE_INS,
    closing_batches,
    standing_batches,
    string_batches,
    tie_in_batches,
)
from estimator.power.generator import fuel_l_h, smallest_set
from estimator.power.load import electric_load, mean_load_kw
from estimator.units import HOUR_MIN, from_si
from estimator.working_time.ambient import MonthlyAmbient
from estimator.working_time.shifts import inputs_of_shift
from estimator.working_time.working_days import WorkingCalendar

LEAST_SPAN_DAYS = 28
MOST_SINGLE_ITEMS, MOST_ITEMS = 12, 36


def fleet_problem(estimate: PlannedJob) -> FleetProblem:
    """Return the problem of an estimated job, its runs in bundles if they are many.

    Parameters
    ----------
    estimate : Estimate
        The job with each run's class chosen by itself.
    """
    return _Builder(estimate).problem()


class _Builder:
    def __init__(self, estimate: PlannedJob) -> None:
        self.found, self.job = estimate, estimate.job
        self.prices = DayPrices(estimate)
        breaks = self.job.shift.breaks_min / HOUR_MIN
        worked = {line.date for line in estimate.plan.lines}
        _, hottest_c = MonthlyAmbient.of(self.job).range_over(worked)
        self.hottest = self.job.site.model_copy(update={"ambient_c": hottest_c})
        teams = filter(None, (self.job.shift.shift_hours, self.job.shift.night_hours))
        self.hours = sum(hours - breaks for hours in teams)

    def problem(self) -> FleetProblem:
        found = self.found
        working = [(run, sized) for run, sized in found.pairs if sized.counts.has_work]
        items = tuple(
            bundles([self._item(*pair) for pair in working], MOST_SINGLE_ITEMS, MOST_ITEMS)
        )
        used = {class_id for item in items for class_id in item.classes}
        dates = self.job.dates
        allowed = None if dates.deadline is None else (dates.deadline - dates.start).days + 1
        return FleetProblem(
            items=items,
            classes=tuple(self._class(m) for m in self.job.machines if m.class_id in used),
            sizes=self._set_ups([sized for _, sized in working]),
            crews=self.job.resources.crews,
            shift_min=self._day_min(),
            move_min=self.job.moves.machine_move_min,
            swap_min=self.job.moves.machine_swap_min,
            calendar_share=self._calendar_share(),
            haul_days=self.job.equipment.haul_days,
            equipment=self._equipment(),
            site_day=self.prices.site_day,
            crew_cost=self.prices.crew_mobilization,
            liquidated_damages=self.job.dates.liquidated_damages.amount,
            days_allowed=allowed,
            least_days=self._least_days(),
        )

    def _day_min(self) -> float:
        """Return the working minutes of a day at the pace of its day shift, by night as slower."""
        day = inputs_of_shift(self.job.shift, self.job.shift.shift_hours, "day")
        if not self.job.shift.night_hours:
            return day.working_min
        night = inputs_of_shift(self.job.shift, self.job.shift.night_hours, "night")
        return day.working_min + night.working_min * night.efficiency / day.efficiency

    def _item(self, run: Run, sized: SizedRun) -> WorkItem:
        feasible = [
            machine.class_id
            for machine in self.job.machines
            if obstacle(machine, run, sized.geometry, sized.fusion, Demand.of(self.job)) is None
            and run.machine in (None, machine.class_id)
        ]
        everyone = tuple(range(1, self.job.resources.crews + 1))
        return WorkItem(
            run_ids=(run.run_id,),
            size=_size(sized),
            classes=tuple(feasible),
            crews=everyone if run.crew is None else (run.crew,),
            minutes=run_minutes(self.job, sized) + self._moves_min(sized),
            day_rate=self.prices.crew_day(sized.cycle.at),
        )

    def _moves_min(self, sized: SizedRun) -> float:
        """Return the minutes of the moves to a run: one to each of its segments."""
        return self.job.moves.machine_move_min * max(1, len(sized.counts.by_segment))

    def _set_ups(self, working: Sequence[SizedRun]) -> dict[str, SizeSetUp]:
        """Return the set-up of each size, with a trial fusion of each pipe of it that needs one."""
        counting = self.job.counting
        change = {row.band: row.size_change_min for row in self.job.size_bands}
        tests: dict[str, dict[TriedPipe, float]] = {}
        for sized in working:
            pipe = pipe_to_try(counting, sized)
            of_size = tests.setdefault(_size(sized), {})
            if pipe:
                of_size[pipe] = test_minutes(sized.cycle.plain, counting)
        return {
            _size(sized): SizeSetUp(sized.cycle.at.of(change), sum(tests[_size(sized)].values()))
            for sized in working
        }

    def _class(self, machine: Machine) -> FleetClass:
        quantity = self.job.resources.machines_per_crew
        liters_h, hires = (
            (machine.fuel_rate_l_h or 0.0) * quantity,
            [self.prices.hire("machine", machine, quantity)],
        )
        beyond = self.prices.beyond("machine", machine, quantity)
        if not machine.self_powered:
            on_set = quantity if self.job.resources.shares_generator else 1
            sets = quantity // on_set
            load = electric_load(machine, self.job.power, on_set)
            item = smallest_set(self.job.generators, sets, [load], self.hottest, self.job.power)
            if item is not None:
                hires.append(self.prices.hire("generator", item, sets))
                beyond += self.prices.beyond("generator", item, sets)
                liters_h += sets * fuel_l_h(item, self._mean_kw(machine, on_set))
        price = self.job.rates.fuel_price
        return FleetClass(
            class_id=machine.class_id,
            hires=tuple(hires),
            most_crews=machine.stock // quantity,
            day_cost=from_si(liters_h * self.hours, price.per) * price.amount + beyond,
        )

    def _mean_kw(self, machine: Machine, on_set: int) -> float:
        """Return the mean load of a set; a class not yet used has its heater at its losses."""
        known = self.found.fleet.power.get(machine.class_id)
        duty = self.job.power.heater_loss_share if known is None else known.heater_duty
        return mean_load_kw(machine, self.job.power, duty, on_set)

    def _equipment(self) -> tuple[Hire, ...]:
        """Return the dearest lifting class on rent, as every crew's."""
        taken = {span.class_id for span in self.found.fleet.spans if span.kind == "lifting"}
        lifters = [lifter for lifter in self.job.lifting if lifter.class_id in taken]
        dearest = max(lifters, key=lambda one: one.four_week_rate.amount, default=None)
        each = self.job.resources.lifters_per_crew
        return () if dearest is None else (self.prices.hire("lifting", dearest, each),)

    def _calendar_share(self) -> float:
        """Return calendar days for each working day, over the job or four weeks."""
        calendar, start = WorkingCalendar.of(self.job), self.job.dates.start
        days = max(LEAST_SPAN_DAYS, (self.found.plan.finish - start).days + 1)
        kinds = [calendar.kind(start + dt.timedelta(days=n)) for n in range(days)]
        return days / max(1, kinds.count("work"))

    def _least_days(self) -> float:
        """Return the working days before which a run that starts late cannot be over."""
        share, latest = self._calendar_share(), 0.0
        for run, sized in self.found.pairs:
            if run.earliest_start is not None and sized.counts.has_work:
                waits = max(0, (run.earliest_start - self.job.dates.start).days) / share
                work = run_minutes(self.job, sized) / self.job.shift.working_min
                latest = max(latest, waits + work)
        return latest


def _size(sized: SizedRun) -> str:
    return f"{sized.geometry.od_mm:.3f}"


def run_minutes(job: Job, sized: SizedRun) -> float:
    """Return the working minutes of one run without the moves to it and test joints.

    A joint between two sticks takes its part of a whole shift, so that what is left of each
    shift after its last whole joint counts as spent.
    """
    count, cycle = sized.counts, sized.cycle
    batches = (
        *string_batches(job.counting, count),
        *standing_batches(count),
        *closing_batches(count),
        *tie_in_batches(job.counting, count, STRING_TIE_INS),
        *tie_in_batches(job.counting, count, OUTSIDE_TIE_INS),
    )
    work = sum(batch.count * batch.time(cycle).period_min for batch in batches)
    if not cycle.joints_per_shift:
        return work
    spare = job.shift.working_min / cycle.joints_per_shift - cycle.plain.period_min
    return work + count.plain_joints * spare
