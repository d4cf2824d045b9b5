"""The plan: who joins what on which day.

In: sized runs, crews, shifts and the calendar.
Out: lines of the plan, paid shifts, float of the runs, use of crews, hydrotest days.
May not know: rates, rent or price.
"""

from estimator.plan.by_week import look_ahead, weeks
from estimator.plan.hours_by_run import crew_hours_by_run, labor_hours_by_run
from estimator.plan.hydrotest import plan_tests
from estimator.plan.other_first import OtherFirst, others_first
from estimator.plan.paid_shifts import paid_again, people_at
from estimator.plan.planner import Progress, lay_out
from estimator.plan.total_float import RunSpan, run_spans

__all__ = [
    "OtherFirst",
    "Progress",
    "RunSpan",
    "crew_hours_by_run",
    "labor_hours_by_run",
    "lay_out",
    "look_ahead",
    "others_first",
    "paid_again",
    "people_at",
    "plan_tests",
    "run_spans",
    "weeks",
]
