"""The money of an estimate as JSON: cost lines, the steps of the price, cost by run, bid items."""

from dataclasses import asdict
from typing import Any

from estimator.models.estimate import CostLine, Estimate
from estimator.models.run_costs import BidItem, CostByRun, RunCost, SizeCost

Json = dict[str, Any]


def money_json(estimate: Estimate) -> Json:
    """Return cost lines, price, cost by run and by size, and the items of the bid schedule.

    Amounts are in the job's currency. Runs and the rounding beside them add up to the job cost,
    items and ``bid_items_rounding`` to the bid price.
    """
    by_run = estimate.by_run
    items = sum(float(item.amount) for item in estimate.items)
    return {
        "cost_lines": [_line_json(line) for line in estimate.cost_lines],
        "price": {key: float(amount) for key, amount in asdict(estimate.bid).items()},
        "cost_by_run": [_run_json(by_run, run) for run in by_run.runs],
        "cost_by_run_rounding": {
            share.name: float(by_run.rounding(share)) for share in by_run.allocations
        },
        "cost_by_size": [_size_json(size) for size in by_run.sizes],
        "bid_items": [_item_json(item) for item in estimate.items],
        "bid_items_rounding": round(float(estimate.bid.price) - items, 2),
    }


def _line_json(line: CostLine) -> Json:
    return {
        "key": line.key,
        "section": line.section,
        "cost_type": line.cost_type,
        "item": line.item,
        "quantity": line.quantity.value,
        "unit": line.unit,
        "rate": line.rate.value,
        "amount": float(line.amount),
        "allocated_by": line.allocated_by,
        "belongs_to": line.belongs_to,
    }


def _run_json(by_run: CostByRun, run: RunCost) -> Json:
    return {
        "run_id": run.run_id,
        "pipe": run.label,
        "size_band": run.band,
        "labor_hours": run.labor_hours,
        "shares": {
            share.name: float(amount)
            for share, amount in zip(by_run.allocations, run.amounts, strict=True)
        },
        "cost": float(run.cost),
        "tie_ins": float(run.tie_ins),
        "own_item": float(run.own_item),
        "price": float(run.price),
    }


def _size_json(size: SizeCost) -> Json:
    return {
        "pipe": size.label,
        "length_m": size.length_m,
        "butt_joints": size.butt_joints,
        "labor_hours": size.labor_hours,
        "cost": float(size.cost),
        "own_item": float(size.own_item),
        "price": float(size.price),
    }


def _item_json(item: BidItem) -> Json:
    return {
        "description": item.description,
        "quantity": item.quantity,
        "unit": item.unit,
        "cost": float(item.cost),
        "unit_price": float(item.unit_price),
        "amount": float(item.amount),
    }
