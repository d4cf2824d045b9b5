"""Float of each run: how many working days it can slip before the job's finish moves."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter
from itertools import groupby, pairwise

from estimator.models.job import Job
from estimator.models.plan import Plan, PlanLine
from estimator.working_calendar import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)

Link = tuple[int, int]


@dataclass(frozen=True)
class Stay:
    """A crew's unbroken stay on one run, from one working day to another, both counted.

    Days are numbers of working days, counted from the first day of the plan.
    """

    run_id: str
    crew: int
    first: int
    last: int


@dataclass(frozen=True)
class RunSpan:
    """When a run is worked, by whom, and how far it can slip.

    Parameters
    ----------
    run_id : str
        The run.
    crews : tuple of int
        Crews that work on it, in the order of their first day.
    machines : tuple of str
        Machine classes that are used, in the same order.
    first, last : datetime.date
        First and last day of work on it.
    joints : int
        Butt joints made, tie-ins included.
    float_days : int
        Working days it can slip without moving the job's finish, 0 or more; 0 is critical.
    """

    run_id: str
    crews: tuple[int, ...]
    machines: tuple[str, ...]
    first: dt.date
    last: dt.date
    joints: int
    float_days: int

    @property
    def is_critical(self) -> bool:
        """Whether any slip of this run moves the finish of the job."""
        return self.float_days == 0


def run_spans(job: Job, plan: Plan) -> dict[str, RunSpan]:
    """Return the span and the float of each run that is worked, by first day, crew and order.

    The float is that of a critical path over the finished plan: nothing is planned anew. A run
    that slips pushes the next stay of its own crew and the runs that start after it, and these
    push what follows them; each keeps the order, the crew and the days of work that it has in the
    plan. Whole working days without work between two of them take up slip; parts of a day do
    not, so the float is never more than the crews could make good.

    It leaves out that slipping work meets other weather and another ambient, that the crews could
    swap runs, and that a machine must be free: a machine class is not held to its stock. A run
    worked in several stays has the least float of them.

    Parameters
    ----------
    job : Job
        The job: its calendar, and which runs start after which.
    plan : Plan
        The finished plan of it.
    """
    days = _numbered_days(job, plan)
    stays = _stays(plan, days)
    floats: dict[str, int] = {}
    for stay, days_left in zip(stays, stay_floats(stays, links(job, stays)), strict=True):
        floats[stay.run_id] = min(days_left, floats.get(stay.run_id, days_left))
    lines_of: dict[str, list[PlanLine]] = defaultdict(list)
    for line in plan.lines:
        lines_of[line.run_id].append(line)
    return {run_id: _span(lines, floats[run_id]) for run_id, lines in lines_of.items()}


def stay_floats(stays: Sequence[Stay], follows: Sequence[Link]) -> list[int]:
    """Return by how many working days each stay can slip without moving the last day of all.

    Parameters
    ----------
    stays : sequence of Stay
        The stays as planned.
    follows : sequence of (int, int)
        Places of two stays of which the second must wait for the end of the first.

    Returns
    -------
    list of int
        Float of each stay, 0 or more. [working days]

    Raises
    ------
    graphlib.CycleError
        If stays wait for each other in a circle.

    Notes
    -----
    Backward pass of the critical path method: the least, over what follows, of its float and the
    whole days between; without followers, the days to the end.
    """
    finish = max((stay.last for stay in stays), default=0)
    after: dict[int, list[int]] = {place: [] for place in range(len(stays))}
    for before, later in follows:
        after[before].append(later)
    floats = [finish - stay.last for stay in stays]
    for place in TopologicalSorter(after).static_order():
        for later in after[place]:
            gap = max(0, stays[later].first - stays[place].last - 1)
            floats[place] = min(floats[place], floats[later] + gap)
    return floats


def links(job: Job, stays: Sequence[Stay]) -> list[Link]:
    """Return which stays wait for which: each crew's own order, and runs that start after others.

    Parameters
    ----------
    job : Job
        The job.
    stays : sequence of Stay
        Its stays, those of one crew in their order.
    """
    by_crew: dict[int, list[int]] = defaultdict(list)
    by_run: dict[str, list[int]] = defaultdict(list)
    for place, stay in enumerate(stays):
        by_crew[stay.crew].append(place)
        by_run[stay.run_id].append(place)
    found = [link for places in by_crew.values() for link in pairwise(places)]
    for run in job.runs:
        for name in run.followed_runs:
            found += [(one, other) for one in by_run[name] for other in by_run[run.run_id]]
    return found


def _numbered_days(job: Job, plan: Plan) -> Mapping[dt.date, int]:
    """Return the working days of the plan with their numbers."""
    calendar = WorkingCalendar.of(job)
    start, finish = plan.start, plan.finish
    dates = (start + ONE_DAY * step for step in range((finish - start).days + 1))
    worked = [date for date in dates if calendar.kind(date) == "work"]
    return {date: number for number, date in enumerate(worked)}


def _stays(plan: Plan, days: Mapping[dt.date, int]) -> list[Stay]:
    by_crew: dict[int, list[PlanLine]] = defaultdict(list)
    for line in plan.lines:
        by_crew[line.crew].append(line)
    return [stay for lines in by_crew.values() for stay in _stays_of_crew(lines, days)]


def _stays_of_crew(lines: Sequence[PlanLine], days: Mapping[dt.date, int]) -> Iterator[Stay]:
    for run_id, group in groupby(lines, key=lambda line: line.run_id):
        stay = list(group)
        yield Stay(run_id, stay[0].crew, days[stay[0].date], days[stay[-1].date])


def _span(lines: Sequence[PlanLine], float_days: int) -> RunSpan:
    return RunSpan(
        run_id=lines[0].run_id,
        crews=tuple(dict.fromkeys(line.crew for line in lines)),
        machines=tuple(dict.fromkeys(line.machine for line in lines)),
        first=lines[0].date,
        last=lines[-1].date,
        joints=sum(line.joints for line in lines),
        float_days=float_days,
    )
