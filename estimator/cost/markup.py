"""The markup chain from job cost to bid price."""

from collections.abc import Sequence
from decimal import Decimal

from estimator.cost.rates import DIRECT, INDIRECT
from estimator.models.estimate import Bid, CostLine
from estimator.models.job import Job
from estimator.money import round_money, round_to_step


def make_bid(job: Job, lines: Sequence[CostLine]) -> Bid:
    """Return the price from the cost lines and the markups of the Rates sheet.

    Office overhead and contingency are shares of job cost. Profit is ``cost x p`` as a markup
    or ``cost x p / (1 - p)`` as a margin on the price before bond. The bond is a share of the
    price that holds it: ``price = price before bond / (1 - bond)``. The price is then rounded to
    the step of the Rates sheet, if there is one. Tax comes on the price.
    """
    rates = job.rates
    direct = sum((line.amount for line in lines if line.section == DIRECT), Decimal(0))
    indirect = sum((line.amount for line in lines if line.section == INDIRECT), Decimal(0))
    job_cost = direct + indirect
    overhead = round_money(float(job_cost) * rates.office_overhead)
    contingency = round_money(float(job_cost) * rates.contingency)
    before_profit = job_cost + overhead + contingency
    profit = round_money(float(before_profit) * rates.profit)
    if rates.profit_basis == "margin on price":
        profit = round_money(float(before_profit) * rates.profit / (1 - rates.profit))
    before_bond = before_profit + profit
    bond = round_money(float(before_bond) / (1 - rates.bond) - float(before_bond))
    exact = before_bond + bond
    price = round_to_step(float(exact), rates.bid_step)
    tax = round_money(float(price) * rates.tax)
    return Bid(
        direct_cost=direct,
        indirect_cost=indirect,
        job_cost=job_cost,
        office_overhead=overhead,
        contingency=contingency,
        cost_before_profit=before_profit,
        profit=profit,
        price_before_bond=before_bond,
        bond=bond,
        rounding=price - exact,
        price=price,
        tax=tax,
        total=price + tax,
    )
