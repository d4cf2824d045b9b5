"""The plan by week, and the weeks ahead by day, for programs: SI units, dates as ISO text."""

from collections.abc import Sequence

from estimator.export.joint_as_json import Json
from estimator.export.plain import plain
from estimator.export.rows import week_row
from estimator.models.hydrotest import HydroDay
from estimator.models.planned_job import PlannedJob
from estimator.models.weeks import CrewWork, DayAhead, GearMove, LookAhead, Week
from estimator.plan import weeks


def weeks_json(planned: PlannedJob) -> list[Json]:
    """Return each week of a job; labor-hours, joints and fuel add up to those of the job."""
    return [_week_json(week) for week in weeks(planned)]


def _week_json(week: Week) -> Json:
    return {
        **plain(week_row(week)),
        "runs": list(week.runs),
        "runs_begun": list(week.begun),
        "runs_finished": list(week.ended),
        **_coming(week.crews, week.deliveries, week.collections, week.tests),
    }


def look_ahead_json(ahead: LookAhead) -> Json:
    """Return the weeks ahead: each date, and what must be ready by when."""
    return {
        "days": [_day_json(day) for day in ahead.days],
        "ready": plain(ahead.ready),
        "deliveries": plain(ahead.deliveries),
        "collections": plain(ahead.collections),
    }


def _day_json(day: DayAhead) -> Json:
    return {
        "date": day.date.isoformat(),
        "kind": day.kind,
        "people": day.people,
        "joints_by_run": [
            {"crew": line.crew, "run_id": line.run_id, "joints": line.joints} for line in day.lines
        ],
        **_coming(day.crews, day.deliveries, day.collections, day.tests),
    }


def _coming(
    crews: Sequence[CrewWork],
    deliveries: Sequence[GearMove],
    collections: Sequence[GearMove],
    tests: Sequence[HydroDay],
) -> Json:
    return {
        "crews": plain(crews),
        "deliveries": plain(deliveries),
        "collections": plain(collections),
        "hydrotests": plain(tests),
    }
