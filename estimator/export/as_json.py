"""Machine-readable results in SI units: the keys of ``--json``."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict

from estimator.cost.markup import TypeMarkup, markup_by_type
from estimator.display import describe
from estimator.errors import Problem
from estimator.export.joint_as_json import Json, joint_json
from estimator.export.weeks_as_json import weeks_json
from estimator.models.assumptions import Assumption, AssumptionTable, NoAssumptions
from estimator.models.choice import Reason
from estimator.models.comparison import Comparison, Figures
from estimator.models.estimate import CostLine, Estimate
from estimator.models.explanation import Explanation, Step
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.job_inputs import GROUPS
from estimator.models.options import Option, OptionTable
from estimator.models.plan import PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.revision import Revision
from estimator.models.run_costs import BidItem, CostByRun, RunCost, SizeCost
from estimator.models.sized_run import SizedRun
from estimator.models.study import Study
from estimator.version import SCHEMA_VERSION, VERSION
from estimator.whatif.options import remark, sentences


def _plan_json(line: PlanLine) -> Json:
    found = line._asdict()
    for key in ("made", "moved_min", "in_wrapup_min"):
        del found[key]
    return {**found, "date": line.date.isoformat(), "moves": list(line.moves)}


def estimate_json(estimate: Estimate) -> Json:
    """Return the whole estimate; dates are ISO text, money is in the job's currency."""
    plan = estimate.plan
    return {
        "schema_version": SCHEMA_VERSION,
        "version": VERSION,
        "job": _job_json(estimate.job),
        "runs": [_run_json(estimate, run) for run in estimate.runs],
        "plan": [_plan_json(line) for line in plan.lines],
        "plan_by_week": weeks_json(estimate),
        "equipment": [_span_json(span) for span in estimate.fleet.spans],
        "totals": {
            "butt_joints": estimate.butt_joints,
            "tie_in_joints": sum(run.counts.tie_in_joints for run in estimate.runs),
            "other_joints": sum(run.counts.other_joints for run in estimate.runs),
            "rework_joints": sum(run.counts.rework_joints for run in estimate.runs),
            "test_joints": sum(line.test_joints for line in plan.lines),
            "labor_hours": estimate.total_labor_hours,
            "crew_hours": estimate.total_crew_hours,
            "work_days": plan.work_days,
            "start": plan.start.isoformat(),
            "finish": estimate.finish.isoformat(),
            "joining_finish": plan.finish.isoformat(),
            "direct_cost": float(estimate.bid.direct_cost),
            "indirect_cost": float(estimate.bid.indirect_cost),
            "job_cost": float(estimate.bid.job_cost),
            "bid_price": float(estimate.bid.price),
            "total_with_tax": float(estimate.bid.total),
        },
        **money_json(estimate),
        "hydrotests": [_test_json(test) for test in estimate.tests],
        "risk": Study.of(estimate).risk.model_dump(mode="json"),
        "assumptions": assumptions_json(Study.of(estimate).assumptions),
        "fleet_choice": fleet_choice_json(estimate),
        "warnings": [_problem_json(warning) for warning in estimate.warnings],
    }


def check_json(
    runs: int | None, *, problems: Sequence[Problem] = (), warnings: Sequence[Problem] = ()
) -> Json:
    """Return what a check of the inputs found; runs are null where they cannot be estimated."""
    return {
        "version": VERSION,
        "runs": runs,
        "problems": [_problem_json(one) for one in problems],
        "warnings": [_problem_json(one) for one in warnings],
    }


def _problem_json(one: Problem) -> Json:
    return {"where": one.where, "message": one.message}


to_dict = estimate_json
"""Its name in the package."""


def _job_json(job: Job) -> Json:
    found: Json = {}
    for group in GROUPS:
        found |= getattr(job, group).model_dump(mode="json")
    return found


def _run_json(estimate: Estimate, run: SizedRun) -> Json:
    gauge = run.machine.gauge_mpa
    return {
        **joint_json(run.geometry, run.fusion, gauge),
        "run_id": run.run_id,
        "sticks": run.counts.sticks,
        "butt_joints": run.counts.butt_joints,
        "fitting_joints": run.counts.fitting_joints,
        "tie_in_joints": run.counts.tie_in_joints,
        "other_joints": run.counts.other_joints,
        "rework_joints": run.counts.rework_joints,
        "ambient_c": run.timing.ambient_c,
        "cycle_min": run.cycle.plain.cycle_min,
        "period_min": run.cycle.plain.period_min,
        "joints_per_shift": run.cycle.joints_per_shift,
        "labor_hours": estimate.labor_hours.get(run.run_id, 0.0),
        "crew_hours": estimate.crew_hours.get(run.run_id, 0.0),
        "machine": run.machine.class_id,
        "rejected": [_reason_json(rejection) for rejection in run.machine.rejected],
    }


def _test_json(test: HydroTest) -> Json:
    return {
        **test.model_dump(mode="json"),
        "start": test.start.isoformat(),
        "finish": test.finish.isoformat(),
        "hours_at_pressure": test.hours.at_pressure,
        "labor_hours": test.labor_hours,
    }


def _span_json(span: RentalSpan) -> Json:
    return {
        **span.model_dump(mode="json"),
        "calendar_days": span.calendar_days,
        "why": _reason_json(span.why),
        "rejected": [_reason_json(rejection) for rejection in span.rejected],
    }


def _reason_json(reason: Reason) -> Json:
    """Return a reason with its text in words, numbers in SI."""
    return {**asdict(reason), "text": describe(reason, "SI")}


def comparison_json(comparison: Comparison) -> Json:
    """Return the base and every scenario; figures are null where a scenario cannot be done."""
    return {
        "version": VERSION,
        "base": _figures_json(comparison.base, comparison),
        "scenarios": [
            {
                "name": outcome.name,
                "changes": list(outcome.changes),
                "note": outcome.note,
                "figures": outcome.figures and _figures_json(outcome.figures, comparison),
                "why_not": list(outcome.why_not),
            }
            for outcome in comparison.scenarios
        ],
    }


def _figures_json(found: Figures, comparison: Comparison) -> Json:
    base = comparison.base
    return {
        "butt_joints": found.joints,
        "work_days": found.work_days,
        "calendar_days": found.calendar_days,
        "start": found.start.isoformat(),
        "finish": found.finish.isoformat(),
        "days_late": found.days_late,
        "labor_hours": found.labor_hours,
        "crew_hours": found.crew_hours,
        "job_cost": float(found.job_cost),
        "bid_price": float(found.price),
        "price_against_base": float(found.price - base.price),
        "finish_against_base_days": (found.finish - base.finish).days,
    }


def revision_json(revision: Revision) -> Json:
    """Return two versions of a job side by side, and what each changed group comes to."""
    gaps = zip(revision.steps, revision.cost_changes, revision.price_changes, strict=True)
    return {
        "version": VERSION,
        "old": {"name": revision.old_name, **_version_json(revision.old)},
        "new": {"name": revision.new_name, **_version_json(revision.new)},
        "runs_added": list(revision.runs["added"]),
        "runs_removed": list(revision.runs["removed"]),
        "changes": [asdict(change) for change in revision.changes],
        "steps": [
            {
                "step": step.name,
                "changes": step.changes,
                "cost_change": float(cost),
                "price_change": float(gap),
                **_version_json(step.figures),
            }
            for step, cost, gap in gaps
        ],
        "costs": [
            {"name": one.name, "old": float(one.old), "new": float(one.new)}
            for one in (*revision.costs, *revision.chain)
        ],
    }


def _version_json(found: Figures) -> Json:
    return {
        "joints": found.joints,
        "work_days": found.work_days,
        "finish": found.finish.isoformat(),
        "labor_hours": found.labor_hours,
        "job_cost": float(found.job_cost),
        "price": float(found.price),
    }


def explanation_json(found: Explanation) -> Json:
    """Return how one run comes to its price; figures are in the units that each step names."""
    return {
        "version": VERSION,
        "run_id": found.run_id,
        "title": found.title,
        "parts": [
            {"title": part.title, "steps": [_step_json(step) for step in part.steps]}
            for part in found.parts
        ],
    }


def _step_json(step: Step) -> Json:
    value = step.value.isoformat() if isinstance(step.value, dt.date) else step.value
    return {
        "name": step.name,
        "value": value,
        "unit": step.unit,
        "sum": step.sum,
        "how": step.how,
        "where": step.where,
        "sources": [asdict(source) for source in step.sources],
    }


def money_json(estimate: Estimate) -> Json:
    """Return cost lines, price, cost by run and by size, and the items of the bid schedule.

    Amounts are in the job's currency. Runs and the rounding beside them add up to the job cost,
    items to the bid price.
    """
    by_run = estimate.by_run
    return {
        "cost_lines": [_line_json(line) for line in estimate.cost_lines],
        "price": {key: float(amount) for key, amount in asdict(estimate.bid).items()},
        "markup_by_type": [_markup_json(one) for one in markup_by_type(estimate)],
        "cost_by_run": [_run_cost_json(by_run, run) for run in by_run.runs],
        "cost_by_run_rounding": {
            share.name: float(by_run.rounding(share)) for share in by_run.allocations
        },
        "cost_by_size": [_size_json(size) for size in by_run.sizes],
        "bid_items": [_item_json(item) for item in estimate.items],
    }


def _markup_json(one: TypeMarkup) -> Json:
    return {
        "type": one.of_type,
        "job_cost": float(one.cost),
        "with_markups": float(one.marked),
        "overhead_share": one.overhead,
        "contingency_share": one.contingency,
        "profit_share": one.profit,
        "price_factor": one.factor,
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


def _run_cost_json(by_run: CostByRun, run: RunCost) -> Json:
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
        "number": item.number,
        "item": item.key,
        "holds": list(item.keys),
        "group": item.group,
        "description": item.description,
        "quantity": item.quantity,
        "unit": item.unit,
        "cost": float(item.cost),
        "before_bond": float(item.before_bond),
        "unit_price": float(item.unit_price),
        "amount": float(item.amount),
        "takes_rounding": item.balances,
        "price_typed_in": item.fixed_price,
    }


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
        "rests_on": option.rests_on,
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


def assumptions_json(table: AssumptionTable | NoAssumptions) -> Json:
    """Return the own assumptions at their defaults, heaviest first, or why none were weighed."""
    if isinstance(table, NoAssumptions):
        return {"reason": table.reason}
    return {"assumptions": [_assumption_json(one) for one in table.assumptions]}


def _assumption_json(one: Assumption) -> Json:
    return {
        "name": one.name,
        "where": one.where,
        "rows": one.rows,
        "value": one.value or None,
        "move": one.move or None,
        "price_change": None if one.change is None else float(one.change),
        "why_not": one.why_not or None,
    }
