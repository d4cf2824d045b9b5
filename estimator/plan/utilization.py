"""How well crews and rented machines are used: days, minutes, and shares of what is paid."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from estimator.data_class import dataclass
from estimator.models.job import Job
from estimator.models.plan import CrewDay, Plan
from estimator.models.rental import Fleet
from estimator.working_time.on_site import job_of_crew
from estimator.working_time.shifts import Shifts


@dataclass(frozen=True)
class CrewUse:
    """What one crew does of what it is paid for.

    Parameters
    ----------
    crew : int
        Number of the crew.
    first, last : datetime.date
        First and last day of its work.
    work_days, weather_days : int
        Dates on which it works, and dates of weather or of a hold for which it is paid.
    labor_hours, crew_hours : float
        Hours of all its people, and of the crew as one, weather days included. [h]
    minutes : float
        Minutes in use: joints, moves, and waits inside a shift. [min]
    available_min : float
        Minutes of its shifts less start-up, wrap-up and breaks. [min]
    """

    crew: int
    first: dt.date
    last: dt.date
    work_days: int
    weather_days: int
    labor_hours: float
    crew_hours: float
    minutes: float
    available_min: float


@dataclass(frozen=True)
class MachineUse:
    """What one class of fusion machine does of the days it is on rent.

    Parameters
    ----------
    class_id : str
        The class.
    days_in_use, days_on_rent : int
        Machine-days of work and calendar machine-days on rent, haulage included, of all its spans.
    """

    class_id: str
    days_in_use: int
    days_on_rent: int


def crew_use(job: Job, plan: Plan) -> list[CrewUse]:
    """Return the use of each crew that works, by its number.

    Parameters
    ----------
    job : Job
        The job: its shifts.
    plan : Plan
        Its plan.
    """
    minutes: dict[int, float] = defaultdict(float)
    for line in plan.lines:
        minutes[line.crew] += line.minutes
    paid: dict[int, list[CrewDay]] = defaultdict(list)
    for day in plan.crew_days:
        paid[day.crew].append(day)
    return [
        _crew_use(Shifts.of(job_of_crew(job, crew)), crew, paid[crew], minutes[crew])
        for crew in sorted(minutes)
    ]


def _crew_use(shifts: Shifts, crew: int, days: Sequence[CrewDay], minutes: float) -> CrewUse:
    worked = [day for day in days if day.kind == "work"]
    dates = {day.date for day in worked}
    return CrewUse(
        crew=crew,
        first=min(dates),
        last=max(dates),
        work_days=len(dates),
        weather_days=len({day.date for day in days} - dates),
        labor_hours=sum(day.labor_hours for day in days),
        crew_hours=sum(day.crew_hours for day in days),
        minutes=minutes,
        available_min=sum(
            shift.working_min
            for day in worked
            for shift in shifts.on(day.date)
            if shift.name == day.shift
        ),
    )


def machine_use(fleet: Fleet) -> list[MachineUse]:
    """Return the use of each class of fusion machine on rent, in the order of the fleet."""
    spans: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for span in fleet.spans:
        if span.kind == "machine":
            days = span.work_days * span.quantity, span.calendar_days * span.quantity
            spans[span.class_id].append(days)
    return [MachineUse(name, *_sums(days)) for name, days in spans.items()]


def _sums(pairs: Sequence[tuple[int, int]]) -> tuple[int, int]:
    return sum(one for one, _ in pairs), sum(other for _, other in pairs)
