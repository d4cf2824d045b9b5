"""The job cost shared out over the runs by stated rules, each share to the cent.

A line of one run goes to that run; pieces go by count to the runs of their size band; all other
lines go by crew-hours. What rounding leaves of a share stays visible beside it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from estimator.cost.by_size import pipe_label, price_by_size, price_of
from estimator.cost.materials import pieces_of, tests_by_run
from estimator.display import convert
from estimator.models.estimate import Bid, CostLine
from estimator.models.job import Job
from estimator.models.kinds import BY_HOURS, OWN_RUN, PIECES, TESTED_LENGTH, Driver
from estimator.models.plan import Plan, SizedRun
from estimator.models.run_costs import CostByRun, Pool, RunCost, Share
from estimator.money import round_money

NOTHING = round_money(0.0)

Units = Mapping[Driver, Mapping[str, float]]
OwnAmounts = Mapping[tuple[Share, str], Decimal]


@dataclass(frozen=True)
class Sharing:
    """What the sharing rests on: the job, its runs, the plan and the paid hours of each run."""

    job: Job
    sized: Sequence[SizedRun]
    plan: Plan
    crew_hours: Mapping[str, float]

    def units(self) -> Units:
        """Return by driver what each run has of it."""
        tests = tests_by_run(self.plan)
        hours = {run.run_id: self.crew_hours.get(run.run_id, 0.0) for run in self.sized}
        counts: dict[Driver, Mapping[str, float]] = {
            piece.shared_by: {run.run_id: pieces_of(piece, run, tests) for run in self.sized}
            for piece in PIECES
        }
        return {**counts, BY_HOURS: hours, TESTED_LENGTH: self._tested_lengths()}

    def _tested_lengths(self) -> Mapping[str, float]:
        """Return the length of each run with a test section, in the unit of the results."""
        system = self.job.cover.unit_system
        return {
            run.run_id: convert(run.length_m, "length", system) if run.test_section else 0.0
            for run in self.job.runs
        }

    def tie_in_shares(self) -> Mapping[str, float]:
        """Return the part of each run's working minutes that its tie-ins take, to 0.0001."""
        minutes: dict[str, float] = {}
        for line in self.plan.lines:
            minutes[line.run_id] = minutes.get(line.run_id, 0.0) + line.minutes
        return {
            run.run_id: round(min(1.0, _tie_in_minutes(run) / minutes[run.run_id]), 4)
            if minutes.get(run.run_id)
            else 0.0
            for run in self.sized
        }


def share_cost(sharing: Sharing, lines: Sequence[CostLine], bid: Bid) -> CostByRun:
    """Share the job cost and the price out over runs and sizes.

    Parameters
    ----------
    sharing : Sharing
        The job, its runs, its plan and the crew-hours of each run.
    lines : sequence of CostLine
        Every cost line; ``shared_by`` and ``belongs_to`` state its rule.
    bid : Bid
        The price, shared in proportion to cost.

    Returns
    -------
    CostByRun
        Cost of each run and size; with the rounding they add up to the job cost exactly. Prices
        of runs may miss the bid price by some cents.
    """
    units = sharing.units()
    shares = tuple(dict.fromkeys(_share_of(line) for line in lines))
    pools = tuple(
        pool for share in shares if share.shared_by != OWN_RUN
        for pool in _pools(sharing, share, lines, units)
    )  # fmt: skip
    own = tuple(
        Pool(share, "", _total(line for line in lines if _share_of(line) == share), 0.0)
        for share in shares
        if share.shared_by == OWN_RUN
    )
    runs = _runs(sharing, shares, (pools, _own_amounts(lines)), bid)
    sizes = price_by_size(sharing.job, sharing.sized, runs, bid)
    return CostByRun(shares, (*pools, *own), runs, sizes)


def _share_of(line: CostLine) -> Share:
    return Share(line.cost_type, line.shared_by, bool(line.belongs_to))


def _pools(
    sharing: Sharing, share: Share, lines: Sequence[CostLine], units: Units
) -> Sequence[Pool]:
    members = [line for line in lines if _share_of(line) == share]
    held = units[share.shared_by]
    return [
        Pool(
            share,
            band,
            _total(line for line in members if line.belongs_to == band),
            math.fsum(held[run.run_id] for run in sharing.sized if band in ("", run.cycle.band)),
        )
        for band in dict.fromkeys(line.belongs_to for line in members)
    ]


def _runs(
    sharing: Sharing,
    shares: Sequence[Share],
    pools: tuple[Sequence[Pool], OwnAmounts],
    bid: Bid,
) -> tuple[RunCost, ...]:
    units, tie_in_shares = sharing.units(), sharing.tie_in_shares()
    rates = {(pool.share, pool.band): pool.per_unit for pool in pools[0]}

    def amount_of(share: Share, name: str, band: str) -> Decimal:
        if share.shared_by == OWN_RUN:
            return pools[1].get((share, name), Decimal(0))
        rate = rates.get((share, band if share.by_band else ""), 0.0)
        amount = rate * units[share.shared_by][name]
        return round_money(amount) if amount else NOTHING

    found = []
    for run, sized in zip(sharing.job.runs, sharing.sized, strict=True):
        name, band = run.run_id, sized.timing.cycle.band
        amounts = tuple([amount_of(share, name, band) for share in shares])
        cost = sum(amounts, Decimal(0))
        tie_ins = round_money(tie_in_shares[name] * float(_work(shares, amounts)))
        found.append(
            RunCost(
                run_id=name,
                label=pipe_label(run.od_system, run.size, run.dr),
                band=band,
                crew_hours=units[BY_HOURS][name],
                tie_in_share=tie_in_shares[name],
                amounts=amounts,
                tie_ins=tie_ins,
                own_item=cost - tie_ins - _lump_sums(shares, amounts),
                price=price_of(bid, cost),
            )
        )
    return tuple(found)


def is_work(share: Share) -> bool:
    """Return whether a share follows the crew's time on the run, so that tie-ins carry a part."""
    return share.shared_by == BY_HOURS and share.with_pipe


def _work(shares: Sequence[Share], amounts: Sequence[Decimal]) -> Decimal:
    pairs = zip(shares, amounts, strict=True)
    return sum((amount for share, amount in pairs if is_work(share)), Decimal(0))


def _lump_sums(shares: Sequence[Share], amounts: Sequence[Decimal]) -> Decimal:
    pairs = zip(shares, amounts, strict=True)
    return sum((amount for share, amount in pairs if not share.with_pipe), Decimal(0))


def _own_amounts(lines: Sequence[CostLine]) -> OwnAmounts:
    own: dict[tuple[Share, str], Decimal] = {}
    for line in lines:
        if line.shared_by == OWN_RUN:
            key = (_share_of(line), line.belongs_to)
            own[key] = own.get(key, Decimal(0)) + line.amount
    return own


def _total(lines: Iterable[CostLine]) -> Decimal:
    return sum((line.amount for line in lines), Decimal(0))


def _tie_in_minutes(run: SizedRun) -> float:
    return run.counts.tie_in_joints * run.cycle.tie_in.period_min
