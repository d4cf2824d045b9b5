"""The rental spans of a job as suppliers are asked for them: by what the equipment must do."""

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from estimator.equipment.haulage import ONE_DAY, Haulage
from estimator.equipment.lifting import with_reserve
from estimator.joint.machines import gauge_range, holds
from estimator.joint.small_ends import pipe_at, sizes_of
from estimator.models.equipment import Machine
from estimator.models.job import Job
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.rental import RentalSpan
from estimator.models.rental_request import LiftNeed, MachineNeed, PowerWanted, RequestLine
from estimator.models.sized_run import SizedRun
from estimator.power.load import electric_load
from estimator.standards import tables
from estimator.units import from_si
from estimator.working_time.ambient import MonthlyAmbient
from estimator.working_time.on_site import job_of_crew, machines_on
from estimator.working_time.shifts import Shifts
from estimator.working_time.working_days import WorkingCalendar

SOONER, LATER = dt.timedelta(14), dt.timedelta(28)
"""How far off rent may move: two weeks before, four weeks after; common practice."""


def request_lines(planned: PlannedJob) -> tuple[RequestLine, ...]:
    """Return a line for each rental span, in the order of the Equipment sheet.

    Parameters
    ----------
    planned : PlannedJob
        The job, planned and equipped.
    """
    return tuple(_line(planned, number, span) for number, span in enumerate(planned.fleet.spans, 1))


def _line(planned: PlannedJob, number: int, span: RentalSpan) -> RequestLine:
    calendar = WorkingCalendar.of(planned.job)
    job = job_of_crew(planned.job, span.crew)
    runs, price = _runs_of(planned, span), planned.job.rates.fuel_price
    if span.kind == "machine":
        need: MachineNeed | PowerWanted | LiftNeed = _machine(planned.job, span, runs)
    elif span.kind == "generator":
        need = _generator(planned, span, runs)
    else:
        heaviest = max(runs, key=lambda run: run.stick_mass_kg)
        lengths = {run.run_id: run.stick_length_m for run in planned.job.runs}
        need = LiftNeed(with_reserve(planned.job.equipment, heaviest), lengths[heaviest.run_id])
    return RequestLine(
        number=number,
        kind=span.kind,
        need=need,
        quantity=span.quantity,
        deliver_by=span.on_rent,
        off_rent=span.off_rent,
        earliest_off=_earliest_off(job, span),
        latest_off=_open_from(calendar, span.off_rent + LATER),
        work_days=span.work_days,
        shift_hours=job.shift.shift_hours,
        nights=bool(job.shift.night_hours),
        engine_h=Shifts.of(job).engine_hours(span.used),
        fuel_l=span.fuel_l,
        fuel_price_l=price.amount * from_si(1.0, price.per),
    )


def _earliest_off(job: Job, span: RentalSpan) -> dt.date:
    """Return the first date on which a span may go off rent.

    Two weeks before the plan, and not before its days in use are worked: from the first of them
    as planned, one after another on workdays, without the days between on which it waits. Haul
    days come after the last.
    """
    calendar = WorkingCalendar.of(job)
    last = span.used[0]
    for _ in range(span.work_days - 1):
        last = _open_from(calendar, last + ONE_DAY)
    worked = Haulage.of(job).collected(min(last, span.used[-1]))
    return max(worked, _open_from(calendar, span.off_rent - SOONER))


def _open_from(calendar: WorkingCalendar, date: dt.date) -> dt.date:
    while not calendar.is_open(date):
        date += ONE_DAY
    return date


def _runs_of(planned: PlannedJob, span: RentalSpan) -> list[SizedRun]:
    """Return the runs that the crew of a span works on while it is used, each once.

    Of a machine only those that are joined with it.
    """
    used, sized = set(span.used), {run.run_id: run for run in planned.runs}
    lines = [x for x in planned.plan.lines if x.crew == span.crew and x.date in used]
    if span.kind == "machine":
        lines = [line for line in lines if line.machine == span.class_id]
    return [sized[run_id] for run_id in dict.fromkeys(line.run_id for line in lines)]


class _End(NamedTuple):
    """Pipe that a machine joins: its measures, its fusion and the gauge with drag."""

    geometry: PipeGeometry
    fusion: FusionParameters
    gauge_mpa: tuple[float, float, float] | None


def _machine(job: Job, span: RentalSpan, runs: Sequence[SizedRun]) -> MachineNeed:
    machine = next(one for one in job.machines if one.class_id == span.class_id)
    ends = sorted(_ends(job, machine, runs), key=lambda end: -end.geometry.od_mm)
    pipes, gauges = [end.geometry for end in ends], [end.gauge_mpa for end in ends if end.gauge_mpa]
    drs = [pipe.dr for pipe in pipes]
    return MachineNeed(
        od_mm=(pipes[-1].od_mm, pipes[0].od_mm),
        dr=(min(drs), max(drs)),
        od_systems=tuple(dict.fromkeys(run.geometry.od_system for run in runs)),
        force_n=max(end.geometry.joint_area_mm2 * end.fusion.interfacial_mpa[2] for end in ends),
        gauge_mpa=(min(low for low, *_ in gauges), max(high for *_, high in gauges))
        if gauges
        else None,
        piston_area_mm2=machine.piston_area_mm2,
        sizes=tuple(dict.fromkeys((pipe.od_system, pipe.size) for pipe in pipes)),
        supply="" if machine.self_powered else _supply_of(machine),
        own_power=machine.self_powered,
    )


def _ends(job: Job, machine: Machine, runs: Sequence[SizedRun]) -> Iterator[_End]:
    """Yield the pipe of some runs, and of the small ends of their reducers that a machine holds."""
    by_id = {run.run_id: run for run in job.runs}
    for sized in runs:
        yield _End(sized.geometry, sized.fusion, sized.machine.gauge_mpa)
        run = by_id[sized.run_id]
        for size in sizes_of(run)[1:]:
            pipe, fusion = pipe_at(job.fusion, run, sized, size)
            if holds(machine, pipe.od_mm):
                yield _End(pipe, fusion, gauge_range(machine, pipe, fusion, job.fusion.drag_mpa))


def _generator(planned: PlannedJob, span: RentalSpan, runs: Sequence[SizedRun]) -> PowerWanted:
    """Return the hardest load of the machines that a set serves."""
    machines = {machine.class_id: machine for machine in planned.job.machines}
    served = [machines[run.machine.class_id] for run in runs]
    fed = [machine for machine in served if not machine.self_powered]
    at_once = _machines_on_set(planned.job, span)
    loads = [(electric_load(machine, planned.job.power, at_once), machine) for machine in fed]
    hardest = max(loads, key=lambda pair: pair[0].starting_kw)
    fed_on = _dates_with(planned.plan, span, hardest[1])
    _, hottest = MonthlyAmbient.of(planned.job).range_over(fed_on)
    return PowerWanted(
        running_kw=max(load.running_kw for load, _ in loads),
        running_kva=max(load.running_kva for load, _ in loads),
        starting_kw=hardest[0].starting_kw,
        rated_kw=span.why.need,
        dip=planned.job.power.start_dip,
        supply=" and ".join(dict.fromkeys(filter(None, map(_supply_of, fed)))),
        elevation_m=planned.job.site.elevation_m,
        hottest_c=hottest,
    )


def _dates_with(plan: Plan, span: RentalSpan, machine: Machine) -> list[dt.date]:
    """Return the dates on which the crew of a span works with a machine while it is used."""
    used = set(span.used)
    return [
        line.date
        for line in plan.lines
        if line.crew == span.crew and line.date in used and line.machine == machine.class_id
    ]


def _machines_on_set(job: Job, span: RentalSpan) -> int:
    """Return the most machines that one set of a span feeds at once."""
    if not job.resources.shares_generator:
        return 1
    return max(machines_on(job, span.crew, date) for date in span.used)


def _supply_of(machine: Machine) -> str:
    """Return the supply of a machine in words: phases, volts and frequency."""
    if machine.supply is None:
        return ""
    row = tables.find_row("supplies", "supply", machine.supply)
    phases, volts, hertz = (tables.number(row, key) for key in ("phases", "volts", "hz"))
    return f"{phases:g}-phase, {volts:g} V, {hertz:g} Hz"
