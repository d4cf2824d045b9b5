"""Machine-readable results in SI units: the keys of ``--json``."""

import datetime as dt
from typing import Any

from estimator.export.choices_as_json import fleet_choice_json
from estimator.export.money_as_json import money_json
from estimator.joint.fusion import fusion_force_n, gauge_mpa
from estimator.models.comparison import Comparison, Figures
from estimator.models.estimate import Estimate
from estimator.models.explanation import Explanation, Step
from estimator.models.hydrotest import HydroTest
from estimator.models.job import Job
from estimator.models.job_inputs import GROUPS
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.plan import PlanLine
from estimator.models.rental import RentalSpan
from estimator.models.sized_run import SizedRun
from estimator.models.study import Study
from estimator.version import VERSION

Json = dict[str, Any]
Range = tuple[float, float, float]

CHART_GOVERNS = (
    "The fusion machine's own chart governs force and gauge pressure, with drag measured for "
    "every joint; the figures here only check it."
)


def joint_json(
    geometry: PipeGeometry,
    fusion: FusionParameters,
    gauge: Range | None = None,
) -> Json:
    """Return one joint's measures and parameters.

    Parameters
    ----------
    geometry, fusion
        The pipe and what the method asks of it.
    gauge : tuple of float, optional
        Gauge pressure at low, nominal and high interfacial pressure, None without a piston
        area. [MPa]
    """
    force = [fusion_force_n(geometry.joint_area_mm2, p) for p in fusion.interfacial_mpa]
    return {
        "od_system": geometry.od_system,
        "size": geometry.size,
        "dr": geometry.dr,
        "od_mm": geometry.od_mm,
        "wall_mm": geometry.wall_mm,
        "id_mm": geometry.id_mm,
        "weight_kg_m": geometry.weight_kg_m,
        "joint_area_mm2": geometry.joint_area_mm2,
        "method": fusion.method,
        "heater_c": list(fusion.heater_c),
        "interfacial_mpa": list(fusion.interfacial_mpa),
        "bead_min_mm": fusion.bead_min_mm,
        "soak_s": fusion.soak_s,
        "open_close_max_s": fusion.open_close_max_s,
        "ramp_max_s": fusion.ramp_max_s,
        "cool_s": fusion.cool_s,
        "rest_s": fusion.rest_s,
        "force_n": force[1],
        "force_range_n": force,
        "gauge_mpa": None if gauge is None else gauge[1],
        "gauge_range_mpa": None if gauge is None else list(gauge),
        "caution": CHART_GOVERNS,
        "notes": list(fusion.notes),
        "sources": [source.model_dump() for source in (*geometry.sources, *fusion.sources)],
    }


def gauge_range(
    geometry: PipeGeometry,
    fusion: FusionParameters,
    piston_area_mm2: float | None,
    drag_mpa: float,
) -> Range | None:
    """Return gauge pressure at low, nominal and high pressure, None without a piston area."""
    if piston_area_mm2 is None:
        return None
    low, nominal, high = (
        gauge_mpa(geometry.joint_area_mm2, pressure, piston_area_mm2, drag_mpa)
        for pressure in fusion.interfacial_mpa
    )
    return low, nominal, high


def _plan_json(line: PlanLine) -> Json:
    found = line._asdict()
    del found["spent"]
    return {**found, "date": line.date.isoformat(), "moves": list(line.moves)}


def estimate_json(estimate: Estimate) -> Json:
    """Return the whole estimate; dates are ISO text, money is in the job's currency."""
    plan = estimate.plan
    return {
        "version": VERSION,
        "job": _job_json(estimate.job),
        "runs": [_run_json(estimate, run) for run in estimate.runs],
        "plan": [_plan_json(line) for line in plan.lines],
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
        "fleet_choice": fleet_choice_json(estimate),
        "warnings": [
            {"where": warning.where, "message": warning.message} for warning in estimate.warnings
        ],
    }


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
        "rejected": [rejection.model_dump() for rejection in run.machine.rejected],
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
    return {**span.model_dump(mode="json"), "calendar_days": span.calendar_days}


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
        "sources": [source.model_dump() for source in step.sources],
    }
