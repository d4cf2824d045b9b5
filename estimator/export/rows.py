"""The rows of an estimate for other programs: what tables, JSON and its schema are made from.

SI units with the unit at the end of each name, money in the job's currency as a number.
"""

import datetime as dt
from typing import NamedTuple

from estimator.cost import TypeMarkup
from estimator.display import describe
from estimator.export.joint_as_json import joint_figures
from estimator.models.assumptions import Assumption
from estimator.models.estimate import CostLine, Estimate
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Run
from estimator.models.plan import CrewDay, PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.run_costs import BidItem, RunCost, SizeCost
from estimator.models.sized_run import SizedRun
from estimator.models.weeks import Week


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
    trial_fusions: int
    other_joints: int
    moves: str
    minutes: float


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
    tie_ins: int
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
    """One cost line; money is in the job's currency.

    ``charged_to`` is its run where it is of one, its size band where it goes by pieces.
    """

    key: str
    section: str
    cost_type: str
    item: str
    quantity: float
    unit: str
    rate: float
    amount: float
    allocated_by: str
    charged_to: str


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


class SizeRow(NamedTuple):
    """Cost and price of all runs of one pipe."""

    pipe: str
    length_m: float
    butt_joints: int
    labor_hours: float
    cost: float
    own_item: float
    price: float


class MarkupRow(NamedTuple):
    """The markups of one type of cost."""

    type: str
    job_cost: float
    with_markups: float
    overhead_share: float
    contingency_share: float
    profit_share: float
    price_factor: float


class TotalsRow(NamedTuple):
    """The job in a few numbers."""

    butt_joints: int
    tie_in_joints: int
    other_joints: int
    rework_joints: int
    trial_fusions: int
    labor_hours: float
    crew_hours: float
    work_days: int
    start: dt.date
    finish: dt.date
    fusion_finish: dt.date
    direct_cost: float
    indirect_cost: float
    job_cost: float
    bid_price: float
    total_with_tax: float


class AssumptionRow(NamedTuple):
    """One own assumption at its default, and what it moves the price by."""

    name: str
    where: str
    rows: int
    value: str | None
    move: str | None
    price_change: float | None
    why_not: str | None


def run_row(estimate: Estimate, run: Run, sized: SizedRun) -> RunRow:
    """Return one run of the pipe schedule."""
    joint = joint_figures(sized.geometry, sized.fusion, sized.machine.gauge_mpa)._asdict()
    return RunRow(
        **{name: value for name, value in joint.items() if name in RunRow._fields},
        run_id=run.run_id,
        description=run.description or "",
        material=run.material,
        length_m=run.length_m,
        sticks=sized.counts.sticks,
        butt_joints=sized.counts.butt_joints,
        fitting_joints=sized.counts.fitting_joints,
        tie_in_joints=sized.counts.tie_in_joints,
        rework_joints=sized.counts.rework_joints,
        other_joints=sized.counts.other_joints,
        cycle_min=sized.cycle.plain.cycle_min,
        period_min=sized.cycle.plain.period_min,
        joints_per_shift=sized.cycle.joints_per_shift,
        labor_hours=estimate.labor_hours.get(run.run_id, 0.0),
        crew_hours=estimate.crew_hours.get(run.run_id, 0.0),
        machine=sized.machine.class_id,
    )


def plan_row(line: PlanLine) -> PlanRow:
    """Return one line of the plan."""
    own = {"moves": ", ".join(line.moves), "trial_fusions": line.test_joints}
    held = {name: getattr(line, name) for name in PlanRow._fields if name not in own}
    return PlanRow(**{**held, **own})


def shift_row(day: CrewDay) -> ShiftRow:
    """Return one paid shift."""
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


def week_row(week: Week) -> WeekRow:
    """Return one week."""
    return WeekRow(**{name: getattr(week, name) for name in WeekRow._fields})


def rental_row(span: RentalSpan) -> RentalRow:
    """Return one class on rent."""
    return RentalRow(
        kind=span.kind,
        class_id=span.class_id,
        crew=span.crew,
        quantity=span.quantity,
        on_rent=span.on_rent,
        off_rent=span.off_rent,
        calendar_days=span.calendar_days,
        work_days=span.work_days,
        four_weeks=span.rate_periods.four_weeks,
        weeks=span.rate_periods.weeks,
        days=span.rate_periods.days,
        rental_of_one=span.rate_periods.cost,
        excess_hours_of_one=span.excess_h,
        fuel_l=span.fuel_l,
        why=describe(span.why, "SI"),
    )


def cost_row(line: CostLine) -> CostRow:
    """Return one cost line."""
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
        charged_to=line.charged_to,
    )


def run_cost_row(run: RunCost) -> RunCostRow:
    """Return one run's part of cost and price."""
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


def bid_row(item: BidItem) -> BidRow:
    """Return one item of the bid schedule."""
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


def hydrotest_row(test: HydroTest) -> HydrotestRow:
    """Return one test section."""
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


def size_row(size: SizeCost) -> SizeRow:
    """Return cost and price of one pipe."""
    return SizeRow(
        pipe=size.label,
        length_m=size.length_m,
        butt_joints=size.butt_joints,
        labor_hours=size.labor_hours,
        cost=float(size.cost),
        own_item=float(size.own_item),
        price=float(size.price),
    )


def markup_row(one: TypeMarkup) -> MarkupRow:
    """Return the markups of one type of cost."""
    return MarkupRow(
        type=one.of_type,
        job_cost=float(one.cost),
        with_markups=float(one.marked),
        overhead_share=one.overhead,
        contingency_share=one.contingency,
        profit_share=one.profit,
        price_factor=one.factor,
    )


def totals_row(estimate: Estimate) -> TotalsRow:
    """Return the job in a few numbers."""
    plan, counts = estimate.plan, [run.counts for run in estimate.runs]
    return TotalsRow(
        butt_joints=estimate.butt_joints,
        tie_in_joints=sum(one.tie_in_joints for one in counts),
        other_joints=sum(one.other_joints for one in counts),
        rework_joints=sum(one.rework_joints for one in counts),
        trial_fusions=sum(line.test_joints for line in plan.lines),
        labor_hours=estimate.total_labor_hours,
        crew_hours=estimate.total_crew_hours,
        work_days=plan.work_days,
        start=plan.start,
        finish=estimate.finish,
        fusion_finish=plan.finish,
        direct_cost=float(estimate.bid.direct_cost),
        indirect_cost=float(estimate.bid.indirect_cost),
        job_cost=float(estimate.bid.job_cost),
        bid_price=float(estimate.bid.price),
        total_with_tax=float(estimate.bid.total),
    )


def assumption_row(one: Assumption) -> AssumptionRow:
    """Return one own assumption."""
    return AssumptionRow(
        name=one.name,
        where=one.where,
        rows=one.rows,
        value=one.value or None,
        move=one.move or None,
        price_change=None if one.change is None else float(one.change),
        why_not=one.why_not or None,
    )
