"""What each crew brings besides its people and machines: mobilization, and overhead by the day."""

from estimator.cost.counted import CountedLine
from estimator.cost.rates import INDIRECT
from estimator.models.estimate import Quantity
from estimator.models.planned_job import PlannedJob

MOBILIZATION = "Mobilization"


def crews_at_work(planned: PlannedJob) -> Quantity:
    """Return the crews that the plan has work for."""
    return Quantity(float(len({day.crew for day in planned.plan.crew_days})))


def paid_crew_days(planned: PlannedJob) -> Quantity:
    """Return the dates on which a crew is paid, crew by crew, its two teams of a date as one."""
    return Quantity(float(len({(day.date, day.crew) for day in planned.plan.crew_days})))


CREW_LINES = (
    CountedLine(
        "indirect.crew_mobilization", INDIRECT, MOBILIZATION, "Mobilization of crews",
        "each crew with work, to site and back", "crew_mobilization", crews_at_work,
        own_item=MOBILIZATION,
    ),
    CountedLine(
        "indirect.crew_overhead", INDIRECT, "Jobsite overhead", "Overhead of crews",
        "paid dates of each crew", "crew_overhead", paid_crew_days,
    ),
)  # fmt: skip
