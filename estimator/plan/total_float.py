"""Float of each run: how many working days it can slip before the job's finish moves."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from heapq import heapify, heappop, heappush
from itertools import groupby, pairwise
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.models.job import Job, Run
from estimator.models.plan import Plan, PlanLine
from estimator.working_time.working_days import WorkingCalendar

ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Stay:
    """A crew's unbroken stay on one run, from one working day to another, both counted.

    Days are numbers of working days, counted from the first day of the plan.
    """

    run_id: str
    crew: int
    first: int
    last: int


class Link(NamedTuple):
    """A stay that pushes another one when it slips by more than a gap.

    Parameters
    ----------
    before, later : int
        Places of the two stays.
    gap : int
        Free days between them, 0 or more. [working days]
    """

    before: int
    later: int
    gap: int


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
    """Return the span and the float of each run that is worked, in the order of their first lines.

    The float is that of a critical path over the finished plan: nothing is planned anew. A run
    that slips pushes the next work of its own crew, the runs that start after it, and the tie-ins
    of other runs to its strings; these push what follows them. Each keeps the order, the crew and
    the days of work that it has in the plan. Whole working days without work between two of them
    take up slip; parts of a day do not, so the float is never more than the crews could make
    good.

    It leaves out that slipping work meets other weather and another ambient, that the crews could
    swap runs, and that a machine must be free: a machine class is not held to its stock. A run
    worked in several stays has the least float of them.

    Parameters
    ----------
    job : Job
        The job: its calendar, which runs start after which, and which join which.
    plan : Plan
        The finished plan of it.
    """
    days = _numbered_days(job, plan)
    by_run: dict[str, list[PlanLine]] = defaultdict(list)
    for line in plan.lines:
        by_run[line.run_id].append(line)
    stays = _stays(plan, days)
    waits = [
        *_in_order(stays),
        *_after_runs(job.runs, stays),
        *_to_strings(job.runs, stays, by_run, days),
    ]
    floats: dict[str, int] = {}
    for stay, days_left in zip(stays, stay_floats(stays, waits), strict=True):
        floats[stay.run_id] = min(days_left, floats.get(stay.run_id, days_left))
    return {run_id: _span(lines, floats[run_id]) for run_id, lines in by_run.items()}


def stay_floats(stays: Sequence[Stay], links: Iterable[Link]) -> list[int]:
    """Return by how many working days each stay can slip without moving the last day of all.

    Parameters
    ----------
    stays : sequence of Stay
        The stays as planned.
    links : iterable of Link
        Which of them push which.

    Returns
    -------
    list of int
        Float of each stay, 0 or more. [working days]

    Notes
    -----
    Backward pass of the critical path method: the least, over what follows, of its float and the
    free days between; without followers, the days to the end. Taken as shortest ways from the
    end (Dijkstra), so that stays of one day that push each other do no harm.
    """
    finish = max((stay.last for stay in stays), default=0)
    before: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        before[link.later].append(link)
    floats = [finish - stay.last for stay in stays]
    open_ends = [(days, place) for place, days in enumerate(floats)]
    heapify(open_ends)
    while open_ends:
        days, place = heappop(open_ends)
        if days > floats[place]:
            continue
        for link in before[place]:
            if days + link.gap < floats[link.before]:
                floats[link.before] = days + link.gap
                heappush(open_ends, (days + link.gap, link.before))
    return floats


def _free_days(last: int, first: int) -> int:
    """Return the whole working days between a last and a first day of work."""
    return max(0, first - last - 1)


def _in_order(stays: Sequence[Stay]) -> Iterator[Link]:
    """Yield the links of each crew's own order."""
    by_crew: dict[int, list[int]] = defaultdict(list)
    for place, stay in enumerate(stays):
        by_crew[stay.crew].append(place)
    for places in by_crew.values():
        for one, other in pairwise(places):
            yield Link(one, other, _free_days(stays[one].last, stays[other].first))


def _after_runs(runs: Sequence[Run], stays: Sequence[Stay]) -> Iterator[Link]:
    """Yield the links from runs to those that start after them.

    A stay that ended later than the other run began was not waited for: where runs would hold up
    each other, the plan lets a run follow strings whose tie-ins are still to come.
    """
    by_run = _places(stays)
    for run in runs:
        for later in by_run[run.run_id]:
            start = stays[later].first
            for one in (place for name in run.followed_runs for place in by_run[name]):
                if stays[one].last <= start:
                    yield Link(one, later, _free_days(stays[one].last, start))


def _to_strings(
    runs: Sequence[Run],
    stays: Sequence[Stay],
    by_run: Mapping[str, Sequence[PlanLine]],
    days: Mapping[dt.date, int],
) -> Iterator[Link]:
    """Yield the links from the strings of runs to the tie-ins of runs that join them."""
    places = _places(stays)
    for run in runs:
        tied = [days[line.date] for line in by_run.get(run.run_id, ()) if line.tie_in_joints]
        for name in set(run.joined_runs) - {run.run_id}:
            strung = max((days[line.date] for line in by_run.get(name, ()) if _strings(line)),
                         default=None)  # fmt: skip
            tie_in = None if strung is None else min((n for n in tied if n >= strung), default=None)
            if strung is None or tie_in is None:
                continue
            gap = _free_days(strung, tie_in)
            for one in (place for place in places[name] if stays[place].first <= strung):
                for later in places[run.run_id]:
                    if stays[later].first <= tie_in <= stays[later].last:
                        yield Link(one, later, gap)


def _strings(line: PlanLine) -> bool:
    """Return whether joints inside strings are made."""
    return line.joints + line.rework_joints > line.tie_in_joints


def _places(stays: Sequence[Stay]) -> dict[str, list[int]]:
    by_run: dict[str, list[int]] = defaultdict(list)
    for place, stay in enumerate(stays):
        by_run[stay.run_id].append(place)
    return by_run


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
