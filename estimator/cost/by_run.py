"""The job cost shared out over the runs by stated rules, each share to the cent.

A line of one run goes to that run; closures, bolt-ups and the like go by count to the runs of
their size band; all other lines go by labor-hours. What rounding leaves stays visible beside it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from estimator.cost.by_size import price_by_size, price_of
from estimator.cost.markup import cost_by_type, factor_of, price_factors
from estimator.cost.materials import tests_by_run, units_of
from estimator.display import convert
from estimator.models.estimate import CostLine, PricedJob
from estimator.models.job import Run
from estimator.models.kinds import (
    BY_HOURS,
    BY_JOINTS,
    BY_LENGTH,
    COUNTED_ITEMS,
    OWN_RUN,
    TESTED_LENGTH,
    AllocationBasis,
)
from estimator.models.plan import Plan
from estimator.models.run_costs import Allocation, BeforeBond, CostByRun, Pool, RunCost
from estimator.models.sized_run import SizedRun
from estimator.money import round_money
from estimator.standards.pipe_names import pipe_label
from estimator.steps.kinds import Amount, Minutes, Money, Share
from estimator.steps.marks import cents, least, number, total, total_of_products
from estimator.steps.recorder import step

NOTHING = round_money(0.0)
SHARE_DIGITS = 4

Units = Mapping[AllocationBasis, Mapping[str, float]]


@step("Cost of one unit", "amount / units of all runs")
def cost_of_unit(amount: Money, all_units: float) -> Money:
    """Return what one unit carries of an amount that is shared out."""
    return amount / all_units


@step(
    "{allocation.name}",
    "amount / {allocation.allocated_by} of all runs x {allocation.allocated_by} of this run; "
    "to the cent",
)
def allocated(allocation: Allocation, amount: Money, all_units: float, units: float) -> Money:
    """Return what a run carries of an amount that is shared out by units."""
    del allocation
    return cost_of_unit.fn(amount, all_units) * units


@step("Run cost", "direct and allocated cost")
def cost_of_run(amounts: Sequence[Amount]) -> Amount:
    """Return the cost of a run."""
    return total(amounts, NOTHING)


@step("Time of the run for tie-ins", "minutes of its tie-ins on the plan / of all its work")
def tie_in_time(tie_ins_min: Minutes, all_min: Minutes) -> Share:
    """Return the part of a run's working minutes that its tie-ins take."""
    return least(1.0, tie_ins_min / all_min)


@step("Cost of tie-ins", "part of the time x cost that follows the work")
def cost_of_tie_ins(share: Share, work: Amount) -> Money:
    """Return what tie-ins carry of the cost of a run."""
    return cents(share * number(work))


@step("Cost in its bid item", "cost of the run - tie-ins - what has items of its own")
def cost_in_item(cost: Amount, tie_ins: Amount, with_own_items: Sequence[Amount]) -> Amount:
    """Return the cost that a run gives to the item of its pipe."""
    return cost - tie_ins - total(with_own_items, NOTHING)


@step("Run price before bond", "each cost x the price factor of its type")
def run_before_bond(amounts: Sequence[Amount], factors: Sequence[float]) -> Money:
    """Return a cost of a run with the markups of its types."""
    return cents(total_of_products(amounts, factors))


@step("Tie-ins before bond", "part of the time x cost that follows the work x its price factors")
def tie_ins_before_bond(share: Share, amounts: Sequence[Amount], factors: Sequence[float]) -> Money:
    """Return what tie-ins carry of the cost of a run with the markups of its types."""
    return cents(share * total_of_products(amounts, factors))


@step("Item of its own before bond", "cost x the price factor of its type")
def apart_before_bond(amount: Amount, factor: float) -> Money:
    """Return a cost that the client pays for in another item, with the markups of its type."""
    return cents(factor * number(amount))


@step("In its bid item before bond", "run - tie-ins - what has items of its own")
def own_before_bond(run: Amount, tie_ins: Amount, apart: Sequence[Amount]) -> Amount:
    """Return what a run gives to the item of its pipe, with the markups of its types."""
    return cost_in_item.fn(run, tie_ins, apart)


class Allocator:
    """Shares the cost of a priced job out over its runs.

    Parameters
    ----------
    priced : PricedJob
        The job with its plan, cost lines and bid; ``allocated_by`` and ``charged_to`` of a line
        state its rule, and the price is shared in proportion to cost.
    labor_hours : mapping
        Paid hours of all people on each run.
    """

    def __init__(self, priced: PricedJob, labor_hours: Mapping[str, float]) -> None:
        self.priced, self.labor_hours = priced, labor_hours
        lines = priced.cost_lines
        self.units = self._units()
        self._lines: dict[Allocation, list[CostLine]] = {}
        for line in lines:
            self._lines.setdefault(line.allocation, []).append(line)
        self.allocations = tuple(self._lines)
        shared = [each for each in self.allocations if each.allocated_by != OWN_RUN]
        self.pools = tuple(pool for each in shared for pool in self._pools(each))
        self._shares = tuple(self._share(each) for each in self.allocations)
        self._minutes = _minutes_by_run(priced.plan)
        self._tie_ins_min = _tie_ins_by_run(priced.plan)
        rates = priced.job.rates
        factors = price_factors(cost_by_type(lines), rates)
        self._factors = tuple(
            factor_of(each.cost_type, factors, rates) for each in self.allocations
        )

    def own_pools(self) -> tuple[Pool, ...]:
        """Return the amounts that belong to one run each, type by type."""
        own = [each for each in self.allocations if each.allocated_by == OWN_RUN]
        return tuple(Pool(each, "", _total(self._lines[each]), 0.0) for each in own)

    def run_cost(self, run: Run, sized: SizedRun) -> RunCost:
        """Return what one run carries of the cost and of the price."""
        name, band = run.run_id, sized.timing.cycle.band
        amounts = tuple([one.amount(name, band) for one in self._shares])
        pairs = list(zip(self.allocations, amounts, strict=True))
        cost = cost_of_run([amount for amount in amounts if amount])
        share = self._tie_in_share(name)
        work = sum([amount for each, amount in pairs if is_work(each)], NOTHING)
        tie_ins = round_money(cost_of_tie_ins(share, work)) if share else NOTHING
        apart = [amount for each, amount in pairs if not each.with_pipe and amount]
        before_bond = self._before_bond(amounts, share)
        return RunCost(
            run_id=name,
            label=pipe_label(run.od_system, run.size, run.dr),
            band=band,
            labor_hours=self.units[BY_HOURS][name],
            tie_in_share=share,
            amounts=amounts,
            tie_ins=tie_ins,
            own_item=cost_in_item(cost, tie_ins, apart),
            before_bond=before_bond,
            price=price_of(self.priced.bid, before_bond.run),
        )

    def _before_bond(self, amounts: Sequence[Decimal], share: float) -> BeforeBond:
        """Return what the cost of a run comes to with its markups, and the parts of that."""
        found = [
            part for part in zip(self.allocations, amounts, self._factors, strict=True) if part[1]
        ]
        work = [part for part in found if is_work(part[0])]
        run = round_money(run_before_bond(*_columns(found)))
        tie_ins = round_money(tie_ins_before_bond(share, *_columns(work))) if share else NOTHING
        apart = [
            round_money(apart_before_bond(amount, factor))
            for each, amount, factor in found
            if not each.with_pipe
        ]
        return BeforeBond(run, tie_ins, own_before_bond(run, tie_ins, apart))

    def _share(self, allocation: Allocation) -> "_Share":
        if allocation.allocated_by == OWN_RUN:
            return _Share(allocation, _own_amounts(self._lines[allocation]), {}, {})
        rates = {
            pool.band: (float(pool.amount), pool.units)
            for pool in self.pools
            if pool.allocation == allocation
        }
        return _Share(allocation, {}, rates, self.units[allocation.allocated_by])

    def _tie_in_share(self, name: str) -> float:
        """Return the part of a run's working minutes that its tie-ins take, to 0.0001."""
        tie_ins_min = self._tie_ins_min.get(name)
        if not tie_ins_min:
            return 0.0
        return round(tie_in_time(tie_ins_min, self._minutes[name]), SHARE_DIGITS)

    def _units(self) -> Units:
        """Return by basis what each run has of it."""
        runs, tests = self.priced.runs, tests_by_run(self.priced.plan)
        hours = {run.run_id: self.labor_hours.get(run.run_id, 0.0) for run in runs}
        counts: dict[AllocationBasis, Mapping[str, float]] = {
            item.allocated_by: {run.run_id: units_of(item, run, tests) for run in runs}
            for item in COUNTED_ITEMS
        }
        joints = {run.run_id: run.counts.butt_joints for run in runs}
        return {
            **counts,
            BY_HOURS: hours,
            BY_LENGTH: self._lengths(),
            BY_JOINTS: joints,
            TESTED_LENGTH: self._tested_lengths(),
        }

    def _lengths(self) -> Mapping[str, float]:
        """Return the length of each run in the unit of the results."""
        system = self.priced.job.cover.unit_system
        return {run.run_id: convert(run.length_m, "length", system) for run in self.priced.job.runs}

    def _tested_lengths(self) -> Mapping[str, float]:
        """Return the length of each run with a test section, in the unit of the results."""
        lengths = self._lengths()
        return {
            run.run_id: lengths[run.run_id] if run.test_section else 0.0
            for run in self.priced.job.runs
        }

    def _pools(self, allocation: Allocation) -> Sequence[Pool]:
        members = self._lines[allocation]
        held = self.units[allocation.allocated_by]
        return [
            Pool(
                allocation,
                band,
                _total(line for line in members if line.charged_to == band),
                math.fsum(
                    held[run.run_id] for run in self.priced.runs if band in ("", run.cycle.band)
                ),
            )
            for band in dict.fromkeys(line.charged_to for line in members)
        ]


class _Share(NamedTuple):
    """How one allocation goes to the runs: amounts of their own, or shares.

    ``rates`` are by size band (empty for all) what is shared out and the units of all runs,
    ``units`` those of each run.
    """

    allocation: Allocation
    own: Mapping[str, Decimal]
    rates: Mapping[str, tuple[float, float]]
    units: Mapping[str, float]

    def amount(self, name: str, band: str) -> Decimal:
        """Return what a run of a size band carries."""
        if not self.rates:
            return self.own.get(name, NOTHING)
        known = self.rates.get(band if self.allocation.by_band else "")
        units = self.units[name]
        if known is None or not units:
            return NOTHING
        return round_money(allocated(self.allocation, *known, units))


def share_cost(priced: PricedJob, labor_hours: Mapping[str, float]) -> CostByRun:
    """Allocate the job cost and the price to runs and sizes; parameters are those of Allocator.

    Returns
    -------
    CostByRun
        Cost of each run and size; with the rounding they add up to the job cost exactly. Prices
        of runs may miss the bid price by some cents.
    """
    allocator = Allocator(priced, labor_hours)
    runs = tuple([allocator.run_cost(run, sized) for run, sized in priced.pairs])
    pools = (*allocator.pools, *allocator.own_pools())
    return CostByRun(allocator.allocations, pools, runs, price_by_size(priced, runs))


def is_work(allocation: Allocation) -> bool:
    """Return whether a share follows the crew's time on the run, so that tie-ins carry a part."""
    return allocation.allocated_by == BY_HOURS and allocation.with_pipe


def _columns(
    parts: Sequence[tuple[Allocation, Decimal, float]],
) -> tuple[list[Decimal], list[float]]:
    """Return amounts and price factors of some parts of a run's cost."""
    return [amount for _, amount, _ in parts], [factor for _, _, factor in parts]


def _own_amounts(lines: Sequence[CostLine]) -> Mapping[str, Decimal]:
    """Return the amounts of lines that belong to one run each, by run."""
    own: dict[str, Decimal] = {}
    for line in lines:
        own[line.charged_to] = own.get(line.charged_to, Decimal(0)) + line.amount
    return own


def _minutes_by_run(plan: Plan) -> Mapping[str, float]:
    minutes: dict[str, float] = {}
    for line in plan.lines:
        minutes[line.run_id] = minutes.get(line.run_id, 0.0) + line.minutes
    return minutes


def _tie_ins_by_run(plan: Plan) -> Mapping[str, float]:
    minutes: dict[str, float] = {}
    for line in plan.lines:
        if line.tie_in_joints:
            minutes[line.run_id] = minutes.get(line.run_id, 0.0) + line.tie_in_min
    return minutes


def _total(lines: Iterable[CostLine]) -> Decimal:
    return sum((line.amount for line in lines), Decimal(0))
