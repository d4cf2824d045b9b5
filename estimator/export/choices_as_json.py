"""What was chosen, and what else there is, as JSON: the fleet over the job, and the options."""

from typing import Any

from estimator.models.estimate import Estimate
from estimator.models.options import Option, OptionTable
from estimator.version import VERSION
from estimator.whatif.options_text import remark, sentences

Json = dict[str, Any]


def fleet_choice_json(estimate: Estimate) -> Json | None:
    """Return how classes and crews were chosen over the job, None where they were not."""
    found = estimate.fleet_outcome
    if found is None:
        return None
    return {
        "kept": found.kept,
        "saving": float(found.saving),
        "model_cost": found.model_cost,
        "bound": found.bound,
        "gap": found.gap,
        "finished": found.finished,
        "runs": found.runs,
        "items": found.items,
        "note": found.note,
        "candidates": [
            {
                "name": one.name,
                "job_cost": None if one.job_cost is None else float(one.job_cost),
                "finish": one.finish and one.finish.isoformat(),
                "short_of_stock": one.short_of_stock,
                "why_not": one.why_not,
            }
            for one in found.candidates
        ],
    }


def options_json(table: OptionTable) -> Json:
    """Return every option; figures are null where one cannot be done."""
    return {
        "version": VERSION,
        "deadline": table.deadline and table.deadline.isoformat(),
        "currency": table.currency,
        "answers": list(sentences(table)),
        "options": [_option_json(table, option) for option in table.options],
    }


def _option_json(table: OptionTable, option: Option) -> Json:
    found = option.figures
    return {
        "crews": option.crews,
        "machines_per_crew": option.machines_per_crew,
        "shift_hours": option.shift_hours,
        "is_base": option.is_base,
        "better": option.better,
        "stock": option.stock,
        "why_not": option.why_not,
        "remark": remark(table, option) if found is not None else "",
        "figures": found
        and {
            "finish": found.finish.isoformat(),
            "days_late": found.days_late,
            "days_sooner": table.days_before_base(option),
            "labor_hours": found.labor_hours,
            "crew_hours": found.crew_hours,
            "job_cost": float(found.job_cost),
            "liquidated_damages": float(option.liquidated_damages),
            "more_cost": float(table.more_cost(option)),
            "bid_price": float(found.price),
        },
    }
