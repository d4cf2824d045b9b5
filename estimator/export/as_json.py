"""Machine-readable results in SI units: the keys of ``--json``."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, fields

from estimator.cost import markup_by_type
from estimator.display import describe
from estimator.errors import Problem
from estimator.export import rows
from estimator.export.joint_as_json import Json, joint_json
from estimator.export.plain import plain
from estimator.export.weeks_as_json import weeks_json
from estimator.models.assumptions import AssumptionTable, NoAssumptions
from estimator.models.choice import Reason
from estimator.models.comparison import Comparison, Figures
from estimator.models.estimate import Estimate
from estimator.models.explanation import Explanation, Step
from estimator.models.fleet_outcome import FleetOutcome
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job, Run
from estimator.models.job_inputs import GROUPS
from estimator.models.options import Option, OptionTable
from estimator.models.plan import PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.revision import Revision
from estimator.models.run_costs import BidItem, CostByRun, RunCost
from estimator.models.sized_run import SizedRun
from estimator.models.study import Study
from estimator.version import SCHEMA_VERSION, VERSION
from estimator.whatif import sentences
from estimator.whatif.options import remark

ALSO_OF_TEST = ("start", "finish", "hours_at_pressure", "labor_hours")
"""What follows from the fields of a hydrotest and stands beside them."""
FLEET_FIGURES = (
    *(one.name for one in fields(FleetOutcome) if one.name != "asked"),
    "saving",
    "gap",
)
"""What is said of the fleet optimization, beside the job that was asked about."""


def estimate_json(estimate: Estimate) -> Json:
    """Return the whole estimate; dates are ISO text, money is in the job's currency."""
    return {
        "schema_version": SCHEMA_VERSION,
        "version": VERSION,
        "job": _job_json(estimate.job),
        "runs": [_run_json(estimate, run, sized) for run, sized in estimate.pairs],
        "plan": [_plan_json(line) for line in estimate.plan.lines],
        "plan_by_week": weeks_json(estimate),
        "equipment": [_span_json(span) for span in estimate.fleet.spans],
        "totals": plain(rows.totals_row(estimate)),
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
    return rows.WarningRow(one.where, one.message)._asdict()


to_dict = estimate_json
"""Its name in the package."""


def _job_json(job: Job) -> Json:
    found: Json = {}
    for group in GROUPS:
        found |= getattr(job, group).model_dump(mode="json")
    return found


def _run_json(estimate: Estimate, run: Run, sized: SizedRun) -> Json:
    return {
        **joint_json(sized.geometry, sized.fusion, sized.machine.gauge_mpa),
        **plain(rows.run_row(estimate, run, sized)),
        "ambient_c": sized.timing.ambient_c,
        "rejected": [_reason_json(rejection) for rejection in sized.machine.rejected],
    }


def _plan_json(line: PlanLine) -> Json:
    return {**plain(rows.plan_row(line)), "moves": list(line.moves)}


def _test_json(test: HydroTest) -> Json:
    row = rows.hydrotest_row(test)
    return {**plain(test), **{name: plain(getattr(row, name)) for name in ALSO_OF_TEST}}


def _span_json(span: RentalSpan) -> Json:
    return {
        **plain(span),
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


def _figures_json(figures: Figures, comparison: Comparison) -> Json:
    base = comparison.base
    return {
        "butt_joints": figures.joints,
        "work_days": figures.work_days,
        "calendar_days": figures.calendar_days,
        "start": figures.start.isoformat(),
        "finish": figures.finish.isoformat(),
        "days_late": figures.days_late,
        "labor_hours": figures.labor_hours,
        "crew_hours": figures.crew_hours,
        "job_cost": float(figures.job_cost),
        "bid_price": float(figures.price),
        "price_change_from_base": float(figures.price - base.price),
        "finish_change_from_base_days": (figures.finish - base.finish).days,
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


def _version_json(figures: Figures) -> Json:
    return {
        "joints": figures.joints,
        "work_days": figures.work_days,
        "finish": figures.finish.isoformat(),
        "labor_hours": figures.labor_hours,
        "job_cost": float(figures.job_cost),
        "price": float(figures.price),
    }


def explanation_json(explanation: Explanation) -> Json:
    """Return how one run comes to its price; figures are in the units that each step names."""
    return {
        "version": VERSION,
        "run_id": explanation.run_id,
        "title": explanation.title,
        "parts": [
            {"title": part.title, "steps": [_step_json(step) for step in part.steps]}
            for part in explanation.parts
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
        "cost_lines": [plain(rows.cost_row(line)) for line in estimate.cost_lines],
        "price": plain(estimate.bid),
        "markup_by_type": [plain(rows.markup_row(one)) for one in markup_by_type(estimate)],
        "cost_by_run": [_run_cost_json(by_run, run) for run in by_run.runs],
        "cost_by_run_rounding": {
            share.name: float(by_run.rounding(share)) for share in by_run.allocations
        },
        "cost_by_size": [plain(rows.size_row(size)) for size in by_run.sizes],
        "bid_items": [_item_json(item) for item in estimate.items],
    }


def _run_cost_json(by_run: CostByRun, run: RunCost) -> Json:
    shares = zip(by_run.allocations, run.amounts, strict=True)
    return {
        **plain(rows.run_cost_row(run)),
        "shares": {share.name: float(amount) for share, amount in shares},
    }


def _item_json(item: BidItem) -> Json:
    return {
        **plain(rows.bid_row(item)),
        "holds": list(item.keys),
        "before_bond": float(item.before_bond),
        "takes_rounding": item.balances,
        "price_typed_in": item.fixed_price,
    }


def fleet_choice_json(estimate: Estimate) -> Json | None:
    """Return how classes and crews were chosen over the job, None where they were not."""
    found = estimate.fleet_outcome
    if found is None:
        return None
    return {name: plain(getattr(found, name)) for name in FLEET_FIGURES}


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
    return {"assumptions": [plain(rows.assumption_row(one)) for one in table.assumptions]}
