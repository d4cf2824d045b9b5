"""An estimate as flat tables with typed columns, for programs: SI units, the unit in each name."""

import datetime as dt
from collections.abc import Mapping
from importlib import import_module
from typing import Any, NamedTuple

from estimator.display import describe
from estimator.errors import EstimatorError
from estimator.joint.fusion import fusion_force_n
from estimator.models.estimate import CostLine, Estimate
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Run
from estimator.models.plan import CrewDay, PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.run_costs import BidItem, RunCost
from estimator.models.sized_run import SizedRun
from estimator.plan.by_week import weeks

NEEDS_PANDAS = (
    "to_pandas needs pandas, which is not installed here. Install it, for example: "
    "pip install --require-hashes -r constraints/import.txt"
)


class RunRow(NamedTuple):
    """One run of the pipe schedule: pipe, joints, fusion, time of a stick joint, hours."""

    run_id: str
    description: str
    od_system: str
    size: str
    dr: float
    material: str
    length_m: float
    od_mm: float
    wall_mm: float
    weight_kg_m: float
    sticks: int
    butt_joints: int
    fitting_joints: int
    tie_in_joints: int
    rework_joints: int
    other_joints: int
    method: str
    soak_s: float
    open_close_max_s: float | None
    cool_s: float
    bead_min_mm: float
    force_n: float
    gauge_mpa: float | None
    cycle_min: float
    period_min: float
    joints_per_shift: int
    labor_hours: float
    crew_hours: float
    machine: str


class RejectedRow(NamedTuple):
    """A machine class that a run did not take, and why in words with SI units."""

    run_id: str
    machine: str
    why: str


class PlanRow(NamedTuple):
    """What one crew makes of one run in one shift; ``joints`` hold the tie-ins too."""

    date: dt.date
    crew: int
    shift: str
    run_id: str
    machine: str
    joints: int
    tie_in_joints: int
    rework_joints: int
    test_joints: int
    other_joints: int
    moves: str
    worked_min: float


class ShiftRow(NamedTuple):
    """One paid shift of one crew; ``kind`` is work, weather or hold."""

    date: dt.date
    crew: int
    shift: str
    kind: str
    people: float
    straight_hours: float
    overtime_hours: float
    labor_hours: float


class WeekRow(NamedTuple):
    """One week of the job, Monday to Sunday."""

    first: dt.date
    last: dt.date
    work_days: int
    lost_days: int
    people: float
    labor_hours: float
    test_hours: float
    joints: int
    tie_in_joints: int
    fuel_l: float


class RentalRow(NamedTuple):
    """One class of equipment on rent for one crew, and how it is billed for one piece."""

    kind: str
    class_id: str
    crew: int
    quantity: int
    on_rent: dt.date
    off_rent: dt.date
    calendar_days: int
    work_days: int
    four_weeks: int
    weeks: int
    days: int
    rental_of_one: float
    excess_hours_of_one: float
    fuel_l: float
    why: str


class CostRow(NamedTuple):
    """One cost line; money is in the job's currency."""

    key: str
    section: str
    cost_type: str
    item: str
    quantity: float
    unit: str
    rate: float
    amount: float
    allocated_by: str
    run_id: str


class RunCostRow(NamedTuple):
    """One run's part of cost and price."""

    run_id: str
    pipe: str
    size_band: str
    labor_hours: float
    cost: float
    tie_ins: float
    own_item: float
    price: float


class BidRow(NamedTuple):
    """One item of the bid schedule."""

    number: str
    item: str
    group: str
    description: str
    quantity: float
    unit: str
    cost: float
    unit_price: float
    amount: float


class HydrotestRow(NamedTuple):
    """One test section."""

    section: str
    runs: str
    length_m: float
    volume_l: float
    start: dt.date
    pressure_date: dt.date
    finish: dt.date
    hours_at_pressure: float
    hours: float
    labor_hours: float


class WarningRow(NamedTuple):
    """One warning with the cell that it is about, empty where there is none."""

    where: str
    message: str


class Tables(NamedTuple):
    """Every result table of an estimate, row by row."""

    runs: tuple[RunRow, ...]
    rejected: tuple[RejectedRow, ...]
    plan: tuple[PlanRow, ...]
    shifts: tuple[ShiftRow, ...]
    weeks: tuple[WeekRow, ...]
    rental: tuple[RentalRow, ...]
    cost_lines: tuple[CostRow, ...]
    cost_by_run: tuple[RunCostRow, ...]
    bid_items: tuple[BidRow, ...]
    hydrotests: tuple[HydrotestRow, ...]
    warnings: tuple[WarningRow, ...]


ROWS: Mapping[str, Any] = {name: kind.__args__[0] for name, kind in Tables.__annotations__.items()}
"""The kind of row of each table; its fields are the columns."""


def tables(estimate: Estimate) -> Tables:
    """Return every result table of an estimate.

    Parameters
    ----------
    estimate : Estimate
        As ``estimate`` returns it.

    Returns
    -------
    Tables
        SI units, named at the end of a column (``cool_s``, ``force_n``); a quantity and its rate
        are in the unit beside them; money is in the job's currency.
    """
    job = estimate.job
    return Tables(
        runs=tuple(
            _run(estimate, run, sized) for run, sized in zip(job.runs, estimate.runs, strict=True)
        ),
        rejected=tuple(
            RejectedRow(sized.run_id, one.class_id, describe(one, "SI"))
            for sized in estimate.runs
            for one in sized.machine.rejected
        ),
        plan=tuple(map(_plan, estimate.plan.lines)),
        shifts=tuple(map(_shift, estimate.plan.crew_days)),
        weeks=_weeks(estimate),
        rental=tuple(map(_rental, estimate.fleet.spans)),
        cost_lines=tuple(map(_cost, estimate.cost_lines)),
        cost_by_run=tuple(map(_run_cost, estimate.by_run.runs)),
        bid_items=tuple(map(_item, estimate.items)),
        hydrotests=tuple(map(_test, estimate.tests)),
        warnings=tuple(WarningRow(one.where, one.message) for one in estimate.warnings),
    )


def to_pandas(estimate: Estimate) -> dict[str, Any]:
    """Return every result table as a DataFrame, by its name; dates are of kind datetime64.

    Raises
    ------
    EstimatorError
        If pandas is not installed.
    """
    try:
        pandas = import_module("pandas")
    except ImportError as error:
        raise EstimatorError(NEEDS_PANDAS) from error
    return {
        name: _frame(pandas, ROWS[name], rows) for name, rows in tables(estimate)._asdict().items()
    }


def _frame(pandas: Any, kind: Any, rows: tuple[Any, ...]) -> Any:  # noqa: ANN401 - a DataFrame
    frame = pandas.DataFrame(rows, columns=kind._fields)
    dates = [name for name, of in kind.__annotations__.items() if of is dt.date]
    return frame.astype(dict.fromkeys(dates, "datetime64[s]"))


def _run(estimate: Estimate, run: Run, sized: SizedRun) -> RunRow:
    pipe, fusion, counts = sized.geometry, sized.fusion, sized.counts
    gauge = sized.machine.gauge_mpa
    return RunRow(
        run_id=run.run_id,
        description=run.description or "",
        od_system=run.od_system,
        size=str(run.size),
        dr=run.dr,
        material=run.material,
        length_m=run.length_m,
        od_mm=pipe.od_mm,
        wall_mm=pipe.wall_mm,
        weight_kg_m=pipe.weight_kg_m,
        sticks=counts.sticks,
        butt_joints=counts.butt_joints,
        fitting_joints=counts.fitting_joints,
        tie_in_joints=counts.tie_in_joints,
        rework_joints=counts.rework_joints,
        other_joints=counts.other_joints,
        method=fusion.method,
        soak_s=fusion.soak_s,
        open_close_max_s=fusion.open_close_max_s,
        cool_s=fusion.cool_s,
        bead_min_mm=fusion.bead_min_mm,
        force_n=fusion_force_n(pipe.joint_area_mm2, fusion.interfacial_mpa[1]),
        gauge_mpa=None if gauge is None else gauge[1],
        cycle_min=sized.cycle.plain.cycle_min,
        period_min=sized.cycle.plain.period_min,
        joints_per_shift=sized.cycle.joints_per_shift,
        labor_hours=estimate.labor_hours.get(run.run_id, 0.0),
        crew_hours=estimate.crew_hours.get(run.run_id, 0.0),
        machine=sized.machine.class_id,
    )


def _plan(line: PlanLine) -> PlanRow:
    made = {name: getattr(line, name) for name in PlanRow._fields if hasattr(line, name)}
    return PlanRow(**{**made, "moves": ", ".join(line.moves)}, worked_min=line.minutes)


def _shift(day: CrewDay) -> ShiftRow:
    return ShiftRow(
        date=day.date,
        crew=day.crew,
        shift=day.shift,
        kind=day.kind,
        people=sum(day.heads),
        straight_hours=day.straight_hours,
        overtime_hours=day.overtime_hours,
        labor_hours=day.labor_hours,
    )


def _weeks(estimate: Estimate) -> tuple[WeekRow, ...]:
    return tuple(
        WeekRow(
            first=week.first,
            last=week.last,
            work_days=week.work_days,
            lost_days=week.lost_days,
            people=week.people,
            labor_hours=week.labor_hours,
            test_hours=week.test_hours,
            joints=week.joints,
            tie_in_joints=week.tie_ins,
            fuel_l=week.fuel_l,
        )
        for week in weeks(estimate)
    )


def _rental(span: RentalSpan) -> RentalRow:
    return RentalRow(
        kind=span.kind,
        class_id=span.class_id,
        crew=span.crew,
        quantity=span.quantity,
        on_rent=span.on_rent,
        off_rent=span.off_rent,
        calendar_days=span.calendar_days,
        work_days=span.work_days,
        four_weeks=span.tiers.four_weeks,
        weeks=span.tiers.weeks,
        days=span.tiers.days,
        rental_of_one=span.tiers.cost,
        excess_hours_of_one=span.beyond_h,
        fuel_l=span.fuel_l,
        why=describe(span.why, "SI"),
    )


def _cost(line: CostLine) -> CostRow:
    return CostRow(
        key=line.key,
        section=line.section,
        cost_type=line.cost_type,
        item=line.item,
        quantity=line.quantity.value,
        unit=line.unit,
        rate=line.rate.value,
        amount=float(line.amount),
        allocated_by=line.allocated_by,
        run_id=line.belongs_to,
    )


def _run_cost(run: RunCost) -> RunCostRow:
    return RunCostRow(
        run_id=run.run_id,
        pipe=run.label,
        size_band=run.band,
        labor_hours=run.labor_hours,
        cost=float(run.cost),
        tie_ins=float(run.tie_ins),
        own_item=float(run.own_item),
        price=float(run.price),
    )


def _item(item: BidItem) -> BidRow:
    return BidRow(
        number=str(item.number),
        item=item.key,
        group=item.group,
        description=item.description,
        quantity=item.quantity,
        unit=item.unit,
        cost=float(item.cost),
        unit_price=float(item.unit_price),
        amount=float(item.amount),
    )


def _test(test: HydroTest) -> HydrotestRow:
    return HydrotestRow(
        section=test.section,
        runs=", ".join(test.run_ids),
        length_m=test.length_m,
        volume_l=test.volume_l,
        start=test.start,
        pressure_date=test.pressure_date,
        finish=test.finish,
        hours_at_pressure=test.hours.at_pressure,
        hours=test.hours.total,
        labor_hours=test.labor_hours,
    )
