"""The baseline of a job: its estimate, frozen by day and by run, its sums checked."""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from estimator.cost import item_name, item_of_run
from estimator.errors import EstimatorError
from estimator.joint import butt_kinds
from estimator.joint.cycle import cooling_minutes, soak_minutes
from estimator.models.baseline import (
    FITTING,
    PIECES,
    STICK,
    TIE_IN,
    Baseline,
    BaselineDay,
    BaselineHead,
    BaselineItem,
    BaselineRun,
    ClaimRule,
    EarningRule,
    LumpSum,
    Pieces,
    PieceTime,
)
from estimator.models.estimate import CostLine, Estimate
from estimator.models.job import Job, Run
from estimator.models.kinds import (
    CONNECTIONS,
    EQUIPMENT,
    HYDROTESTS,
    JOBSITE_OVERHEAD,
    LABOR,
    OF_NO_JOINT,
    cost_type,
)
from estimator.models.plan import PlanLine
from estimator.models.run_costs import BidItem, RunCost
from estimator.models.sized_run import JointCount, JointTime, SizedRun
from estimator.money import round_money

CHECKSUM_LETTERS = 12
HOURS_TOLERANCE = 1e-6
KIND_OF_WORK: Mapping[str, str] = {
    butt_kinds.STICK.name: STICK,
    butt_kinds.FITTING.name: FITTING,
    butt_kinds.SMALL_END.name: FITTING,
    butt_kinds.TIE_IN.name: TIE_IN,
    **{kind.work: kind.key for kind in CONNECTIONS},
}
"""What a piece of the plan earns as."""
PIPE_PARTS = ("pipe of size", "pipe of run")
"""Parts of a bid item that furnish the pipe of runs."""
"""Cost types that no joint earns."""
NOTHING = Decimal("0.00")


def baseline_of(
    estimate: Estimate,
    number: int = 1,
    reason: str = "as awarded",
    changes: Sequence[str] = (),
) -> Baseline:
    """Return the baseline that an estimate gives.

    A run's labor-hours and cost are shared out over its pieces by their planned minutes, so that
    rework, trial fusions, moves and weather days are earned with the joints that they are for.
    Mobilization is earned with the first work, jobsite overhead by the days gone by, hydrotests
    with their section, the rest with the last work.

    Raises
    ------
    EstimatorError
        Where the parts do not add up to the estimate.
    """
    runs = tuple(_run(estimate, run, sized) for run, sized in estimate.pairs)
    made = Baseline(
        head=_head(estimate, number, reason, tuple(changes)),
        days=tuple(_days(estimate.plan.lines, {run.run_id: run for run in runs})),
        runs=runs,
        lump_sums=tuple(_lump_sums(estimate, runs)),
        items=tuple(_items(estimate)),
    )
    must_add_up(made)
    return made


def checksum_of(job: Job) -> str:
    """Return a short text that changes with any input of a job."""
    return hashlib.sha256(job.model_dump_json().encode()).hexdigest()[:CHECKSUM_LETTERS]


def must_add_up(baseline: Baseline) -> None:
    """Check that days and runs add up to the head.

    Raises
    ------
    EstimatorError
        With every sum that does not.
    """
    head = baseline.head
    by_day = sum(day.labor_hours for day in baseline.days)
    work = sum((day.cost for day in baseline.days), NOTHING)
    faults = [
        f"{name}: the parts add up to {parts:,.2f}, the head says {whole:,.2f}"
        for name, parts, whole in (
            ("Labor-hours by run", baseline.labor_hours, head.labor_hours),
            ("Labor-hours by day", by_day, head.labor_hours),
            ("Cost by run", float(baseline.cost), float(head.cost)),
            (
                "Cost by day",
                float(work + sum((one.cost for one in baseline.lump_sums), NOTHING)),
                float(head.cost),
            ),
        )
        if abs(parts - whole) > HOURS_TOLERANCE * max(1.0, whole)
    ]
    made: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for day in baseline.days:
        for kind, count in day.pieces.items():
            made[day.run_id][kind] += count
    faults += [
        f"Run {run.run_id}: {made[run.run_id][kind]} {kind} by day, {count} by run"
        for run in baseline.runs
        for kind, count in run.pieces.items()
        if made[run.run_id][kind] != count
    ]
    amounts = sum((item.amount for item in baseline.items), NOTHING)
    if amounts != head.price:
        faults.append(
            f"Bid items: they add up to {amounts:,.2f}, the bid price is {head.price:,.2f}"
        )
    if faults:
        raise EstimatorError(f"The baseline does not add up. {'; '.join(faults)}")


def _head(estimate: Estimate, number: int, reason: str, changes: tuple[str, ...]) -> BaselineHead:
    job = estimate.job
    return BaselineHead(
        number=number,
        reason=reason,
        changes=changes,
        estimate_date=job.cover.estimate_date,
        start=estimate.plan.start,
        finish=estimate.finish,
        deadline=job.dates.deadline,
        system=job.cover.unit_system,
        currency=job.cover.currency,
        checksum=checksum_of(estimate.asked_job),
        labor_hours=estimate.total_labor_hours,
        cost=estimate.bid.job_cost,
        price=estimate.bid.price,
    )


def piece_counts(counts: JointCount) -> Pieces:
    """Return the pieces of a run that earn, by kind."""
    return {
        STICK: counts.plain_joints,
        FITTING: counts.fitting_joints,
        TIE_IN: counts.tie_in_joints,
        **{kind.key: counts.others[kind.key] for kind in CONNECTIONS},
    }


def piece_times(sized: SizedRun) -> Mapping[str, PieceTime]:
    """Return the planned minutes of one piece of each kind, in the month in which the run begins.

    Heat soak, cooling and machine-paced tasks are the machine's. A crew that attends several
    machines in turn is held up by its own work or by a share of the cycle, whichever is longer.
    """
    cycle, fusion = sized.cycle, sized.fusion
    cool = cooling_minutes(fusion)
    fixed = soak_minutes(fusion) + sum(
        element.minutes
        for element in cycle.elements
        if element.paced_by == "machine" and not element.hidden
    )
    butt = {STICK: cycle.plain, FITTING: cycle.fitting, TIE_IN: cycle.tie_in}
    return {
        **{kind: _butt_time(time, fixed, cool) for kind, time in butt.items()},
        **{kind.key: PieceTime(cycle.other_min[kind.key], 0.0) for kind in CONNECTIONS},
    }


def _butt_time(time: JointTime, fixed: float, cool: float) -> PieceTime:
    if time.machines > 1 and time.attended_min >= time.cycle_min / time.machines:
        machine = fixed
    else:
        machine = (fixed + cool) / time.machines
    return PieceTime(time.period_min - machine, machine)


def _run(estimate: Estimate, run: Run, sized: SizedRun) -> BaselineRun:
    cost = estimate.by_run.by_run[run.run_id]
    by_type = _by_type(estimate, cost)
    labor, equipment = by_type.pop(LABOR, NOTHING), by_type.pop(EQUIPMENT, NOTHING)
    other = sum(
        (by_type[name] for name in by_type if cost_type(name).paid not in OF_NO_JOINT), NOTHING
    )
    return BaselineRun(
        run_id=run.run_id,
        bid_item=item_of_run(estimate.items, estimate.by_run, cost).description,
        pipe=cost.label,
        band=sized.cycle.band,
        length_m=run.length_m,
        pieces=piece_counts(sized.counts),
        times=piece_times(sized),
        labor_hours=estimate.labor_hours.get(run.run_id, 0.0),
        labor=labor,
        equipment=equipment,
        other=other,
        price=cost.price,
    )


def _by_type(estimate: Estimate, cost: RunCost) -> dict[str, Decimal]:
    found: dict[str, Decimal] = defaultdict(lambda: NOTHING)
    for allocation, amount in zip(estimate.by_run.allocations, cost.amounts, strict=True):
        found[allocation.cost_type] += amount
    return found


RULE_OF_LINES: Mapping[str, ClaimRule] = {
    item_name("Mobilization"): "start",
    item_name("Demobilization"): "finish",
    item_name("Hydrostatic testing"): "tests",
}
"""By what items of cost lines are claimed; all others by labor-hours earned."""


def _items(estimate: Estimate) -> Iterator[BaselineItem]:
    """Yield the bid items, each with the runs whose joining or pipe it pays for."""
    by_run = estimate.by_run
    joined = {run.run_id: item_of_run(estimate.items, by_run, run).key for run in by_run.runs}
    for item in estimate.items:
        pipes = {part.name for part in item.parts if part.kind in PIPE_PARTS}
        runs = tuple(
            run.run_id
            for run in by_run.runs
            if joined[run.run_id] == item.key or not pipes.isdisjoint((run.run_id, run.label))
        )
        yield BaselineItem(
            number=item.number,
            description=item.description,
            unit=item.unit,
            quantity=item.quantity,
            unit_price=item.unit_price,
            rule=_claim_rule(item, runs),
            runs=runs,
        )


def _claim_rule(item: BidItem, runs: Sequence[str]) -> ClaimRule:
    if runs:
        return "length"
    kinds = {part.kind for part in item.parts}
    if "tie-ins" in kinds and not item.lump_sum:
        return "tie-ins"
    rules = {RULE_OF_LINES.get(item_name(part.name), "work") for part in item.parts}
    return rules.pop() if kinds == {"lines"} and len(rules) == 1 else "work"


def _days(lines: Sequence[PlanLine], runs: Mapping[str, BaselineRun]) -> Iterator[BaselineDay]:
    """Yield the days; cost is rounded so that each run adds up to the cent."""
    done: dict[str, float] = defaultdict(float)
    by_day: dict[tuple[dt.date, int, str], list[PlanLine]] = defaultdict(list)
    for line in lines:
        by_day[line.date, line.crew, line.run_id].append(line)
    for (date, crew, run_id), shifts in sorted(by_day.items(), key=lambda entry: entry[0]):
        run, pieces = runs[run_id], _pieces_of(shifts)
        before, share = done[run_id], run.share(pieces)
        done[run_id] = before + share
        yield BaselineDay(
            date=date,
            crew=crew,
            run_id=run_id,
            pieces=pieces,
            rework=sum(line.rework_joints for line in shifts),
            trial_fusions=sum(line.test_joints for line in shifts),
            labor_hours=run.labor_hours * share,
            cost=_part(run.cost, done[run_id]) - _part(run.cost, before),
        )


def _part(cost: Decimal, share: float) -> Decimal:
    return round_money(float(cost) * min(1.0, share))


def _pieces_of(lines: Sequence[PlanLine]) -> Pieces:
    found = dict.fromkeys(PIECES, 0)
    for line in lines:
        for name, number, _ in line.made:
            if name in KIND_OF_WORK:
                found[KIND_OF_WORK[name]] += number
    return {kind: number for kind, number in found.items() if number}


def _lump_sums(estimate: Estimate, runs: Sequence[BaselineRun]) -> Iterator[LumpSum]:
    """Yield what no joint earns; what rounding by run leaves over comes last."""
    first, last = estimate.plan.start, estimate.finish
    left = estimate.bid.job_cost - sum((run.cost for run in runs), NOTHING)
    for line in estimate.cost_lines:
        if line.cost_type != HYDROTESTS and cost_type(line.cost_type).paid in OF_NO_JOINT:
            rule = _rule_of(line)
            begins = first if rule in ("start", "time") else last
            yield LumpSum(line.item, rule, begins, first if rule == "start" else last, line.amount)
            left -= line.amount
    for one in _tests(estimate):
        yield one
        left -= one.cost
    if left:
        yield LumpSum("Rounding of cost by run", "finish", last, last, left)


def _rule_of(line: CostLine) -> EarningRule:
    if line.cost_type == JOBSITE_OVERHEAD:
        return "time"
    return "start" if line.key == "indirect.mobilization" else "finish"


def _tests(estimate: Estimate) -> Iterator[LumpSum]:
    """Yield each test section with its part of the hydrotest cost, by length tested."""
    total = sum((x.amount for x in estimate.cost_lines if x.cost_type == HYDROTESTS), NOTHING)
    length = sum(test.length_m for test in estimate.tests)
    so_far = 0.0
    for test in estimate.tests:
        before, so_far = so_far, so_far + test.length_m
        cost = _part(total, so_far / length) - _part(total, before / length)
        yield LumpSum(test.section, "test", test.start, test.finish, cost)
