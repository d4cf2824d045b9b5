"""The job cost shared out over the runs by stated rules, each share to the cent.

A line of one run goes to that run; closures, bolt-ups and the like go by count to the runs of
their size band; all other lines go by labor-hours. What rounding leaves stays visible beside it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from estimator.cost.by_size import pipe_label, price_by_size, price_of
from estimator.cost.materials import tests_by_run, units_of
from estimator.display import convert
from estimator.models.estimate import Bid, CostLine, PricedJob
from estimator.models.kinds import BY_HOURS, COUNTED_ITEMS, OWN_RUN, TESTED_LENGTH, AllocationBasis
from estimator.models.planned_job import PlannedJob
from estimator.models.run_costs import Allocation, CostByRun, Pool, RunCost
from estimator.models.sized_run import SizedRun
from estimator.money import round_money

NOTHING = round_money(0.0)

Units = Mapping[AllocationBasis, Mapping[str, float]]
OwnAmounts = Mapping[tuple[Allocation, str], Decimal]


@dataclass(frozen=True)
class Sharing:
    """What the sharing rests on: the planned job, and the paid hours of each run."""

    planned: PlannedJob
    labor_hours: Mapping[str, float]

    def units(self) -> Units:
        """Return by driver what each run has of it."""
        tests = tests_by_run(self.planned.plan)
        hours = {run.run_id: self.labor_hours.get(run.run_id, 0.0) for run in self.planned.runs}
        counts: dict[AllocationBasis, Mapping[str, float]] = {
            item.allocated_by: {run.run_id: units_of(item, run, tests) for run in self.planned.runs}
            for item in COUNTED_ITEMS
        }
        return {**counts, BY_HOURS: hours, TESTED_LENGTH: self._tested_lengths()}

    def _tested_lengths(self) -> Mapping[str, float]:
        """Return the length of each run with a test section, in the unit of the results."""
        system = self.planned.job.cover.unit_system
        return {
            run.run_id: convert(run.length_m, "length", system) if run.test_section else 0.0
            for run in self.planned.job.runs
        }

    def tie_in_shares(self) -> Mapping[str, float]:
        """Return the part of each run's working minutes that its tie-ins take, to 0.0001."""
        minutes: dict[str, float] = {}
        for line in self.planned.plan.lines:
            minutes[line.run_id] = minutes.get(line.run_id, 0.0) + line.minutes
        return {
            run.run_id: round(min(1.0, _tie_in_minutes(run) / minutes[run.run_id]), 4)
            if minutes.get(run.run_id)
            else 0.0
            for run in self.planned.runs
        }


def share_cost(priced: PricedJob, labor_hours: Mapping[str, float]) -> CostByRun:
    """Allocate the job cost and the price out over runs and sizes.

    Parameters
    ----------
    priced : PricedJob
        The job with its plan, cost lines and bid; ``allocated_by`` and ``belongs_to`` of a line
        state its rule, and the price is shared in proportion to cost.
    labor_hours : mapping
        Paid hours of all people on each run.

    Returns
    -------
    CostByRun
        Cost of each run and size; with the rounding they add up to the job cost exactly. Prices
        of runs may miss the bid price by some cents.
    """
    lines, sharing = priced.cost_lines, Sharing(priced, labor_hours)
    units = sharing.units()
    allocations = tuple(dict.fromkeys(_allocation_of(line) for line in lines))
    pools = tuple(
        pool for allocation in allocations if allocation.allocated_by != OWN_RUN
        for pool in _pools(sharing, allocation, lines, units)
    )  # fmt: skip
    own = tuple(
        Pool(
            allocation,
            "",
            _total(line for line in lines if _allocation_of(line) == allocation),
            0.0,
        )
        for allocation in allocations
        if allocation.allocated_by == OWN_RUN
    )
    runs = _runs(sharing, allocations, (pools, _own_amounts(lines)), priced.bid)
    sizes = price_by_size(priced, runs)
    return CostByRun(allocations, (*pools, *own), runs, sizes)


def _allocation_of(line: CostLine) -> Allocation:
    return Allocation(line.cost_type, line.allocated_by, bool(line.belongs_to))


def _pools(
    sharing: Sharing, allocation: Allocation, lines: Sequence[CostLine], units: Units
) -> Sequence[Pool]:
    members = [line for line in lines if _allocation_of(line) == allocation]
    held = units[allocation.allocated_by]
    return [
        Pool(
            allocation,
            band,
            _total(line for line in members if line.belongs_to == band),
            math.fsum(
                held[run.run_id] for run in sharing.planned.runs if band in ("", run.cycle.band)
            ),
        )
        for band in dict.fromkeys(line.belongs_to for line in members)
    ]


def _runs(
    sharing: Sharing,
    allocations: Sequence[Allocation],
    pools: tuple[Sequence[Pool], OwnAmounts],
    bid: Bid,
) -> tuple[RunCost, ...]:
    units, tie_in_shares = sharing.units(), sharing.tie_in_shares()
    rates = {(pool.allocation, pool.band): pool.per_unit for pool in pools[0]}

    def amount_of(allocation: Allocation, name: str, band: str) -> Decimal:
        if allocation.allocated_by == OWN_RUN:
            return pools[1].get((allocation, name), Decimal(0))
        rate = rates.get((allocation, band if allocation.by_band else ""), 0.0)
        amount = rate * units[allocation.allocated_by][name]
        return round_money(amount) if amount else NOTHING

    found = []
    for run, sized in sharing.planned.pairs:
        name, band = run.run_id, sized.timing.cycle.band
        amounts = tuple([amount_of(allocation, name, band) for allocation in allocations])
        cost = sum(amounts, Decimal(0))
        tie_ins = round_money(tie_in_shares[name] * float(_work(allocations, amounts)))
        found.append(
            RunCost(
                run_id=name,
                label=pipe_label(run.od_system, run.size, run.dr),
                band=band,
                labor_hours=units[BY_HOURS][name],
                tie_in_share=tie_in_shares[name],
                amounts=amounts,
                tie_ins=tie_ins,
                own_item=cost - tie_ins - _lump_sums(allocations, amounts),
                price=price_of(bid, cost),
            )
        )
    return tuple(found)


def is_work(allocation: Allocation) -> bool:
    """Return whether a share follows the crew's time on the run, so that tie-ins carry a part."""
    return allocation.allocated_by == BY_HOURS and allocation.with_pipe


def _work(allocations: Sequence[Allocation], amounts: Sequence[Decimal]) -> Decimal:
    pairs = zip(allocations, amounts, strict=True)
    return sum((amount for allocation, amount in pairs if is_work(allocation)), Decimal(0))


def _lump_sums(allocations: Sequence[Allocation], amounts: Sequence[Decimal]) -> Decimal:
    pairs = zip(allocations, amounts, strict=True)
    return sum((amount for allocation, amount in pairs if not allocation.with_pipe), Decimal(0))


def _own_amounts(lines: Sequence[CostLine]) -> OwnAmounts:
    own: dict[tuple[Allocation, str], Decimal] = {}
    for line in lines:
        if line.allocated_by == OWN_RUN:
            key = (_allocation_of(line), line.belongs_to)
            own[key] = own.get(key, Decimal(0)) + line.amount
    return own


def _total(lines: Iterable[CostLine]) -> Decimal:
    return sum((line.amount for line in lines), Decimal(0))


def _tie_in_minutes(run: SizedRun) -> float:
    return run.counts.tie_in_joints * run.cycle.tie_in.period_min
