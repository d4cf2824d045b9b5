"""Second look at a finished estimate: what the user should know before trusting it."""

import dataclasses
import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache

from estimator.display import counted, name_runs, show, show_date
from estimator.errors import Problem
from estimator.joint.geometry import pipe_od_mm
from estimator.joint.machines import holds
from estimator.models.estimate import Estimate
from estimator.models.joint import PipeGeometry
from estimator.models.places import Places
from estimator.models.sized_run import SizedRun
from estimator.plan.hydrotest import rule
from estimator.standards import tables
from estimator.units import at_most
from estimator.warnings.bid import lump_sum_below_zero, owner_items_unmatched
from estimator.warnings.fittings import unpriced_fittings
from estimator.warnings.limits import (
    cables_to_settle,
    lifting_near_capacity,
    machines_already_on_site,
    machines_near_limit,
    sets_at_low_load,
    stock_exceeded,
)
from estimator.warnings.on_site import crews_waiting, open_holds, time_lost_to_holds
from estimator.warnings.plausible import PLAUSIBLE
from estimator.warnings.price_jumps import price_jumps
from estimator.working_time.working_days import WorkingCalendar

RATE_SERIES = ("practitioners", "remembered")
SHORT_DAY_HOURS, LONG_DAY_HOURS = 8, 10


def with_warnings(estimate: Estimate, places: Places) -> Estimate:
    """Return the estimate with every warning that its results call for."""
    checks = (
        deadline_missed,
        too_long_at_pressure,
        method_notes,
        runs_without_joints,
        rates_outside_band,
        machines_near_limit,
        lifting_near_capacity,
        warm_up_longer_than_start_up,
        stock_exceeded,
        machines_already_on_site,
        cables_to_settle,
        sets_at_low_load,
        small_ends_out_of_range,
        mixed_ends,
        crews_waiting,
        time_lost_to_holds,
        open_holds,
        unpriced_fittings,
        unpriced_labor,
        second_machine_pays_little,
        owner_items_unmatched,
        lump_sum_below_zero,
        price_jumps,
        *PLAUSIBLE,
    )
    warnings = [problem for check in checks for problem in check(estimate, places)]
    return dataclasses.replace(estimate, warnings=(*estimate.warnings, *warnings))


def deadline_missed(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Say by how many workdays the plan misses the deadline."""
    deadline, finish = estimate.job.dates.deadline, estimate.finish
    if deadline is None or finish <= deadline:
        return
    calendar = WorkingCalendar.of(estimate.job)
    days = (finish - deadline).days
    late = sum(calendar.kind(deadline + dt.timedelta(days=n)) == "work" for n in range(1, days + 1))
    charged = any(line.key == "indirect.liquidated_damages" for line in estimate.cost_lines)
    carried = "carry markup"
    if estimate.job.rates.damages_carry == "no markup":
        carried = "carry no markup"
    system = estimate.job.cover.unit_system
    charge = f"; liquidated damages are in the job cost and {carried}" if charged else ""
    yield Problem(
        places.where("job", "", "deadline"),
        f"Deadline: the plan finishes {show_date(finish, system)}, {counted(late, 'workday')} "
        f"after {show_date(deadline, system)}. Add crews, machines or hours{charge}",
        serious=True,
    )


def too_long_at_pressure(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where a hydrotest stands longer at pressure than the test standard allows."""
    if not estimate.tests:
        return
    hours, limit = estimate.tests[0].hours.at_pressure, rule("time at pressure", "high")
    if hours > limit:
        yield Problem(
            places.where("job", "", "hydro_expansion_hours"),
            f"Hydrotests: {hours:g} hours at pressure, from pressurizing to the end of the hold, "
            f"is over the limit of {limit:g} hours. Past it, depressurize and let the pipe rest "
            "before a repeat",
            serious=True,
        )


def method_notes(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Pass on what the fusion method says about the weather or the wall."""
    for note, run_ids in estimate.method_notes.items():
        yield Problem(places.where("job", "", "method"), f"{note} ({name_runs(run_ids)})")


def runs_without_joints(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Name runs in which nothing is joined."""
    for run in estimate.runs:
        if not run.counts.has_work:
            yield Problem(
                places.where("schedule", run.run_id, "segments_m"),
                f"Run {run.run_id} is one stick with no fitting. No joint is counted",
            )


@lru_cache(maxsize=256)
def rate_band(od_mm: float) -> tuple[float, float, str] | None:
    """Return the lowest and highest joints a day for this diameter, and how well known.

    The band spans what practitioners report and what is remembered; None outside both.
    """
    rows = [
        row
        for series in RATE_SERIES
        for row in tables.find_rows("joining_rates", series=series)
        if not at_most(od_mm, tables.number(row, "od_from_mm"))
        and at_most(od_mm, tables.number(row, "od_to_mm"))
    ]
    if not rows:
        return None
    low = min(tables.number(row, "rate_low") for row in rows)
    high = max(tables.number(row, "rate_high") for row in rows)
    known = {str(row["confidence"]) for row in rows}
    return low, high, " and ".join(sorted(known))


def rates_outside_band(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where joints per shift lie outside the customary band for the diameter."""
    easy = {run.run_id for run in estimate.job.runs if run.access_factor <= 1}
    groups: dict[tuple[float, float, str], list[SizedRun]] = defaultdict(list)
    for run in estimate.runs:
        band = rate_band(run.geometry.od_mm)
        if band is None or run.run_id not in easy or not run.counts.plain_joints:
            continue
        if run.cycle.plain.machines > 1:
            continue
        per_hour = run.cycle.joints_per_shift / run.cycle.shift_hours
        if per_hour * LONG_DAY_HOURS < band[0] or per_hour * SHORT_DAY_HOURS > band[1]:
            groups[band].append(run)
    for (low, high, confidence), runs in groups.items():
        rates = sorted({run.cycle.joints_per_shift for run in runs})
        text = f"{rates[0]} to {rates[-1]}" if len(rates) > 1 else f"{rates[0]}"
        alike = (
            f"Customary joints per day of 8 to 10 hours for the diameter, any wall ({confidence})"
        )
        yield Problem(
            places.where("schedule", runs[0].run_id, "size"),
            f"{text} joints per shift, customary {low:g} to {high:g}: "
            f"{name_runs([run.run_id for run in runs])}. {alike}",
            alike=alike,
        )


def warm_up_longer_than_start_up(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where a heater plate is not hot when the start-up is over."""
    start_up = estimate.job.shift.startup_min
    for class_id, need in estimate.fleet.power.items():
        if need.warm_up_min > start_up:
            yield Problem(
                places.where("job", "", "startup_min"),
                f"Daily startup is {start_up:.0f} min, but the class {class_id} heater needs "
                f"about {need.warm_up_min:.0f} min to warm up",
            )


def small_ends_out_of_range(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where the machine of a run cannot hold the smaller end of its reducers."""
    system = estimate.job.cover.unit_system
    classes = {machine.class_id: machine for machine in estimate.job.machines}
    for run, sized in estimate.pairs:
        if not run.small_ends or run.reduce_to is None:
            continue
        od_mm = pipe_od_mm(run.od_system, run.reduce_to)
        machine = classes[sized.machine.class_id]
        if holds(machine, od_mm):
            continue
        fit = [m.class_id for m in estimate.job.machines if holds(m, od_mm)]
        yield Problem(
            places.where("schedule", run.run_id, "reduce_to"),
            f"Run {run.run_id}: class {machine.class_id} does not clamp the small end "
            f"({show(od_mm, 'small_length', system)}). Those joints also need "
            f"{' or '.join(fit) or 'a class that is not listed'}, which is not priced",
        )


def mixed_ends(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where runs that are fused together differ in wall or material, or cannot be fused."""
    geometry = {run.run_id: run.geometry for run in estimate.runs}
    runs = {run.run_id: run for run in estimate.job.runs}
    for run in estimate.job.runs:
        for other in (runs[run_id] for run_id in run.joined_runs if run_id in runs):
            text = _mismatch(geometry[run.run_id], geometry[other.run_id])
            if text is None and run.material != other.material:
                text = f"materials {run.material} and {other.material} differ. Use a procedure "
                text += "qualified for both"
            if text is not None:
                where = places.where("schedule", run.run_id, "joins")
                yield Problem(where, f"Runs {run.run_id} and {other.run_id}: {text}")


def _mismatch(one: PipeGeometry, other: PipeGeometry) -> str | None:
    """Return why two pipe ends do not match, None if they do."""
    same = tables.find_row("limits", "quantity", "difference of like diameters")
    if abs(one.od_mm - other.od_mm) > tables.number(same, "high"):
        return "outside diameters differ. They cannot be fused without a reducer"
    limit = tables.find_row("f2620_times", "item", "unlike_wall")
    thin, thick = sorted((one.wall_mm, other.wall_mm))
    if thick / thin - 1 > tables.number(limit, "value") / 100:
        return (
            f"walls differ by {thick / thin - 1:.0%}, more than about {limit['value']:g}% "
            f"({limit['confidence']}). Butt fusion is for like walls"
        )
    return None


def unpriced_labor(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Warn where people on the crew have no wage."""
    free = [role.role for role in estimate.job.crew if not role.wage.amount]
    if free:
        yield Problem(
            places.where("crew", free[0], "wage"),
            f"Wage: 0 for {', '.join(free)}. This labor is not in the price",
            serious=True,
        )


def second_machine_pays_little(estimate: Estimate, places: Places) -> Iterator[Problem]:
    """Say where the crew's own attended time sets the pace of its machines."""
    bound: dict[int, list[str]] = defaultdict(list)
    for run in estimate.runs:
        time = run.cycle.plain
        if time.machines > 1 and time.attended_min > time.cycle_min / time.machines:
            bound[time.machines].append(run.run_id)
    for machines, run_ids in sorted(bound.items()):
        yield Problem(
            places.where("job", "", "machines_per_crew"),
            f"Machines per crew: with {machines} machines, the crew's own work sets the pace. "
            f"Check that head count and lifting equipment can serve them all: {name_runs(run_ids)}",
        )
