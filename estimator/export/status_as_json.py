"""Where a job stands, as data for other programs. Hours, days and money; dates as ISO text."""

from typing import Any

from estimator.models.options import NoOptions, OptionTable
from estimator.progress.earned_value import EarnedValue
from estimator.progress.forecast import Finish, Forecast, LearnedShare, Range
from estimator.progress.standing import Standing
from estimator.progress.status import RunStatus


def status_json(standing: Standing) -> dict[str, Any]:
    """Return a standing; what is not known is null, and ``missing`` says why."""
    status = standing.status
    return {
        "date": status.date.isoformat(),
        "baseline": {
            "number": status.baseline.head.number,
            "reason": status.baseline.head.reason,
            "finish": status.baseline.head.finish.isoformat(),
        },
        "joints": {
            "baseline": status.baseline.joints,
            "planned": status.joints_planned,
            "made": status.joints_made,
            "accepted": status.joints_accepted,
        },
        "labor_hours": _earned_value(status.hours, known=status.hours_known),
        "cost": _earned_value(status.money, known=status.money_known),
        "schedule_days": {
            "earned": status.schedule.earned_time,
            "gone_by": status.schedule.actual_time,
            "variance": status.schedule.variance,
            "index": status.schedule.index,
            "planned_duration": status.schedule.planned_duration,
            "duration": status.schedule.duration,
            "finish": None
            if status.textbook_finish is None
            else status.textbook_finish.isoformat(),
        },
        "labor_variance": None
        if status.variance is None
        else {
            "rate": status.variance.rate,
            "pace": status.variance.pace,
            "quantity": status.variance.quantity,
            "weather": status.variance.weather,
            "total": round(status.variance.total, 2),
        },
        "runs": [_run(run) for run in status.runs],
        "worst_runs": [run.run.run_id for run in status.worst],
        "lost_time": [line._asdict() for line in status.lost],
        "decisions": list(status.decisions),
        "missing": list(status.missing),
        "forecast": None if standing.forecast is None else _forecast(standing.forecast),
        "forecast_before": [
            {"date": date.isoformat(), "finish": _finish(finish)}
            for date, finish in standing.before
        ],
        "no_forecast": standing.no_forecast,
        "ways_back": None if standing.ways_back is None else _ways_back(standing.ways_back),
    }


def _ways_back(ways: OptionTable | NoOptions) -> dict[str, Any]:
    if isinstance(ways, NoOptions):
        return {"options": [], "reason": ways.reason}
    return {
        "options": [
            {
                "name": one.name,
                "finish": one.figures.finish.isoformat(),
                "days_sooner": ways.days_before_base(one),
                "more_cost": float(ways.more_cost(one)),
            }
            for one in ways.sooner_ones
            if one.figures is not None
        ],
        "reason": "",
    }


def _earned_value(value: EarnedValue, *, known: bool) -> dict[str, Any]:
    found: dict[str, Any] = {
        "baseline": value.budget,
        "planned": value.planned,
        "earned": value.earned,
        "schedule_variance": value.schedule_variance,
        "schedule_index": value.schedule_index,
    }
    needs_actual = {
        "actual": value.actual,
        "cost_variance": value.cost_variance,
        "cost_index": value.cost_index,
        "eac_at_present_cost": value.eac_at_present_cost,
        "eac_as_planned": value.eac_as_planned,
        "eac_at_cost_and_schedule": value.eac_at_cost_and_schedule,
        "to_complete_index": value.to_complete_index,
    }
    return found | (needs_actual if known else dict.fromkeys(needs_actual))


def _run(run: RunStatus) -> dict[str, Any]:
    return {
        "run_id": run.run.run_id,
        "accepted": run.accepted,
        "planned": run.planned,
        "planned_hours": run.planned_hours,
        "earned_hours": run.earned_hours,
        "actual_hours": run.actual_hours,
        "lost_to_weather_hours": run.lost_hours,
        "why": run.why,
    }


def _finish(finish: Finish) -> dict[str, str]:
    return {
        "p10": finish.low.isoformat(),
        "p50": finish.middle.isoformat(),
        "p90": finish.high.isoformat(),
    }


def _forecast(forecast: Forecast) -> dict[str, Any]:
    return {
        "finish": _finish(forecast.finish),
        "labor_hours": _range(forecast.labor_hours),
        "cost": None if forecast.cost is None else _range(forecast.cost),
        "deadline_probability": forecast.deadline_share,
        "pace_by_size": {
            size: {**_range(band), "days_seen": forecast.pace(size).shifts}
            for size, band in forecast.bands.items()
        },
        "rework_share": _share(forecast.rework),
        "weather_share": _share(forecast.weather),
        "draws": forecast.draws,
        "plans": forecast.plans,
    }  # fmt: skip


def _range(span: Range) -> dict[str, float]:
    return {"p10": span.low, "p50": span.middle, "p90": span.high}


def _share(share: LearnedShare) -> dict[str, float]:
    return {
        "planned": share.planned,
        "seen": share.seen.hits,
        "out_of": share.seen.out_of,
        "forecast": share.mean,
    }
