"""The plan by week and by day ahead: people, hours, joints, fuel, gear, tests, what must be ready.

Asked by result sheets and pages alone; everything is added up from the plan, the rental spans
and the hydrotests of a planned job, so that the weeks add up to the job.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypeVar

from estimator.models.hydrotest import HydroDay, HydroTest
from estimator.models.job import Run
from estimator.models.kinds import CONNECTIONS
from estimator.models.plan import CrewDay, PlanLine
from estimator.models.planned_job import PlannedJob
from estimator.models.rental import RentalSpan
from estimator.models.sized_run import SizedRun
from estimator.models.weeks import (
    CrewWork,
    DayAhead,
    GearMove,
    LookAhead,
    Readiness,
    ReadyItem,
    Week,
)
from estimator.steps.kinds import Share
from estimator.steps.marks import share_of
from estimator.steps.recorder import step
from estimator.working_time.on_site import job_of_crew
from estimator.working_time.shifts import Shifts
from estimator.working_time.working_days import WorkingCalendar

Item = TypeVar("Item")

ONE_DAY = dt.timedelta(days=1)
WEEK_DAYS = 7
WEEKS_AHEAD = 3
STICK, PIPE, OPEN_TRENCH, WATER = "stick", "pipe", "open trench", "water"
FINISHED, RESTRAINED, STRINGS_OF = "run finished", "run finished and restrained", "strings of run"
"""Words for what must be ready; the last three are of the run that an item names."""
FITTINGS = {
    "elbows": "elbow",
    "tees": "tee",
    "reducing_tees": "reducing tee",
    "reducers": "reducer",
    "caps": "cap",
    "flange_adapters": "flange adapter",
    "mj_adapters": "MJ adapter",
}
CONNECTION_PARTS = {
    column: kind.work
    for kind in reversed(CONNECTIONS)
    for column in kind.columns
    if column not in FITTINGS
}
"""Columns of the schedule that must be there with the pipe, and one of them in words."""


@step("Done", "joints so far / joints of the job")
def share_done(so_far: int, butt_joints: int) -> Share:
    """Return the part of the butt joints of a job that is made."""
    return share_of(so_far, butt_joints)


def weeks(planned: PlannedJob) -> tuple[Week, ...]:
    """Return every week from the first delivery to the last work, test or collection.

    Parameters
    ----------
    planned : PlannedJob
        The job, planned and equipped.

    Returns
    -------
    tuple of Week
        Monday to Sunday, without a gap; labor-hours, joints and fuel add up to those of the job.
    """
    return tuple(_ByDate(planned).weeks())


def days_ahead(
    planned: PlannedJob, first: dt.date | None = None, weeks_ahead: int = WEEKS_AHEAD
) -> tuple[DayAhead, ...]:
    """Return each date of the weeks ahead with what must be ready at its end.

    Parameters
    ----------
    planned : PlannedJob
        The job, planned and equipped.
    first : date, optional
        First date to show; None: the day before the first work.
    weeks_ahead : int, optional
        Weeks of seven dates.
    """
    by_date = _ByDate(planned)
    start = first or by_date.day_before(planned.plan.start)
    return by_date.days(start, weeks_ahead)


def look_ahead(
    planned: PlannedJob, first: dt.date | None = None, weeks_ahead: int = WEEKS_AHEAD
) -> LookAhead:
    """Return whole weeks from Monday on, with what must be ready in them or for them.

    Parameters
    ----------
    planned : PlannedJob
        The job, planned and equipped.
    first : date, optional
        A date of the first week; None: the one that the job asks for, or the first of work.
    weeks_ahead : int, optional
        Weeks of seven dates.
    """
    by_date = _ByDate(planned)
    first = first or planned.job.dates.look_ahead_from or planned.plan.start
    days = by_date.days(_monday(first), weeks_ahead)
    shown = {day.date for day in days}
    every = (one for items in by_date.ready.values() for one in items)
    wanted = [one for one in every if one.by in shown or one.before in shown]
    spans = planned.fleet.spans
    return LookAhead(
        days=days,
        ready=tuple(sorted(wanted, key=lambda one: (one.by, one.before))),
        deliveries=tuple(_move(s, s.on_rent) for s in spans if shown & {s.on_rent, s.used[0]}),
        collections=tuple(_move(s, s.off_rent) for s in spans if s.off_rent in shown),
    )


class _ByDate:
    """Everything of a planned job by its date."""

    def __init__(self, planned: PlannedJob) -> None:
        self.planned, self.job, self.plan = planned, planned.job, planned.plan
        self.calendar = WorkingCalendar.of(planned.job)
        self.lines = _grouped(self.plan.lines, lambda line: line.date)
        self.paid = _grouped(self.plan.crew_days, lambda day: day.date)
        spans = planned.fleet.spans
        self.deliveries = _grouped((_move(s, s.on_rent) for s in spans), lambda move: move.date)
        self.collections = _grouped((_move(s, s.off_rent) for s in spans), lambda move: move.date)
        test_days = [day for test in planned.tests for day in test.days]
        self.tests = _grouped(test_days, lambda day: day.date)
        self.people_of_test = {test.section: test.people for test in planned.tests}
        self.fuel = _fuel_by_day(planned)

    def weeks(self) -> Iterator[Week]:
        known = [*self.lines, *self.paid, *self.deliveries, *self.collections, *self.tests]
        first = _monday(min(known))
        while first <= max(known):
            yield self._week(first, [first + ONE_DAY * n for n in range(WEEK_DAYS)])
            first += ONE_DAY * WEEK_DAYS

    def days(self, first: dt.date, weeks_ahead: int) -> tuple[DayAhead, ...]:
        """Return each date of some weeks."""
        dates = (first + ONE_DAY * n for n in range(WEEK_DAYS * weeks_ahead))
        return tuple(self.day(date) for date in dates)

    def day(self, date: dt.date) -> DayAhead:
        crews, tests = self._crews([date]), tuple(self.tests.get(date, ()))
        return DayAhead(
            date=date,
            kind=self._kind(date),
            people=self._people(date),
            labor_hours=sum(one.labor_hours for one in crews) + self._test_hours(tests),
            lines=tuple(self.lines.get(date, ())),
            crews=crews,
            deliveries=tuple(self.deliveries.get(date, ())),
            collections=tuple(self.collections.get(date, ())),
            tests=tests,
            ready=tuple(self.ready.get(date, ())),
        )

    def day_before(self, date: dt.date) -> dt.date:
        """Return the last weekday of the job before a date that is no holiday."""
        date -= ONE_DAY
        while not self.calendar.is_open(date):
            date -= ONE_DAY
        return date

    def _week(self, first: dt.date, dates: list[dt.date]) -> Week:
        tests = [day for date in dates for day in self.tests.get(date, ())]
        crews = self._crews(dates)
        return Week(
            first=first,
            last=dates[-1],
            work_days=sum(date in self.lines for date in dates),
            lost_days=sum(date in self.paid and date not in self.lines for date in dates),
            people=max(self._people(date) for date in dates),
            labor_hours=sum(crew.labor_hours for crew in crews),
            test_hours=self._test_hours(tests),
            runs=tuple(dict.fromkeys(ln.run_id for d in dates for ln in self.lines.get(d, ()))),
            crews=crews,
            deliveries=tuple(m for date in dates for m in self.deliveries.get(date, ())),
            collections=tuple(m for date in dates for m in self.collections.get(date, ())),
            tests=tuple(tests),
            begun=self._runs_of(self._begun_on, dates),
            ended=self._runs_of(self._ended_on, dates),
        )

    @cached_property
    def _begun_on(self) -> dict[dt.date, list[tuple[int, str]]]:
        """Place and run of each that begins on a date."""
        return self._placed_on(0)

    @cached_property
    def _ended_on(self) -> dict[dt.date, list[tuple[int, str]]]:
        """Place and run of each that ends on a date."""
        return self._placed_on(1)

    def _placed_on(self, end: int) -> dict[dt.date, list[tuple[int, str]]]:
        found: dict[dt.date, list[tuple[int, str]]] = {}
        for place, (run_id, span) in enumerate(self.spans.items()):
            found.setdefault(span[end], []).append((place, run_id))
        return found

    @staticmethod
    def _runs_of(
        by_date: Mapping[dt.date, list[tuple[int, str]]], dates: list[dt.date]
    ) -> tuple[str, ...]:
        """Return the runs of some dates, in the order in which they begin."""
        found = sorted(placed for date in dates for placed in by_date.get(date, ()))
        return tuple(run_id for _, run_id in found)

    @cached_property
    def spans(self) -> dict[str, tuple[dt.date, dt.date]]:
        """First and last date of each run, in the order in which they begin."""
        found: dict[str, tuple[dt.date, dt.date]] = {}
        for line in self.plan.lines:
            first, _ = found.get(line.run_id, (line.date, line.date))
            found[line.run_id] = first, line.date
        return found

    def _crews(self, dates: list[dt.date]) -> tuple[CrewWork, ...]:
        paid = [day for date in dates for day in self.paid.get(date, ())]
        lines = [line for date in dates for line in self.lines.get(date, ())]
        fuel: dict[int, float] = defaultdict(float)
        for date in dates:
            for crew, liters in self.fuel.get(date, {}).items():
                fuel[crew] += liters
        return tuple(
            _crew_work(
                crew,
                [day for day in paid if day.crew == crew],
                [line for line in lines if line.crew == crew],
                fuel[crew],
            )
            for crew in sorted({day.crew for day in paid} | set(fuel))
        )

    def _test_hours(self, tests: Iterable[HydroDay]) -> float:
        return sum(day.hours * self.people_of_test[day.section] for day in tests)

    def _people(self, date: dt.date) -> float:
        joining = sum(sum(day.heads) for day in self.paid.get(date, ()))
        crews = {day.crew: day.section for day in self.tests.get(date, ())}
        return joining + sum(self.people_of_test[section] for section in crews.values())

    def _kind(self, date: dt.date) -> str:
        paid = self.paid.get(date, ())
        if paid and all(day.kind == "hold" for day in paid):
            return "hold"
        if date < self.job.dates.start and self.calendar.is_open(date):
            return "open"
        return self.calendar.kind(date)

    @cached_property
    def ready(self) -> dict[dt.date, list[Readiness]]:
        """What must be ready at the end of each date."""
        runs = {run.run_id: run for run in self.job.runs}
        sized = {one.run_id: one for one in self.planned.runs}
        found: list[Readiness] = []
        for run_id, (first, _) in self.spans.items():
            crew = next(line.crew for line in self.lines[first] if line.run_id == run_id)
            joined = [*_strings_to_join(runs[run_id])]
            later = [one for one in joined if self._is_at_work(one.name, first)]
            items = *_items(runs[run_id], sized[run_id]), *(x for x in joined if x not in later)
            found.append(Readiness(self.day_before(first), first, crew, run_id, items))
            if later:
                found += self._for_tie_ins(sized[run_id], crew, later)
        for test in self.planned.tests:
            by = self.day_before(test.start)
            items = tuple(_test_items(test))
            found.append(Readiness(by, test.start, test.crew, test.section, items, is_test=True))
        return _grouped(found, lambda one: one.by)

    def _is_at_work(self, run_id: str, first: dt.date) -> bool:
        """Return whether a run is worked on after a date."""
        return run_id in self.spans and self.spans[run_id][1] > first

    def _for_tie_ins(
        self, run: SizedRun, crew: int, strings: Sequence[ReadyItem]
    ) -> Iterator[Readiness]:
        """Yield the strings of other runs by when they must be there for the tie-ins of a run.

        Those that are joined on the day of the tie-ins itself are needed then.
        """
        date = self._tied_in_on(run)
        for one in strings:
            at_work = any(line.run_id == one.name for line in self.lines[date])
            by = date if at_work else self.day_before(date)
            yield Readiness(by, date, crew, run.run_id, (one,))

    def _tied_in_on(self, run: SizedRun) -> dt.date:
        """Return the date of the first tie-in of a run to other pipe; they are its last ones."""
        to_come = run.counts.tie_in_joints - run.counts.outside_tie_ins
        for date, lines in self.lines.items():
            to_come -= sum(line.tie_in_joints for line in lines if line.run_id == run.run_id)
            if to_come < 0:
                return date
        return self.spans[run.run_id][0]


def _crew_work(crew: int, paid: list[CrewDay], lines: list[PlanLine], fuel_l: float) -> CrewWork:
    return CrewWork(
        crew=crew,
        people=max((sum(day.heads) for day in paid), default=0.0),
        labor_hours=sum(day.labor_hours for day in paid),
        joints=sum(line.joints for line in lines),
        tie_ins=sum(line.tie_in_joints for line in lines),
        fuel_l=fuel_l,
    )


def _fuel_by_day(planned: PlannedJob) -> dict[dt.date, dict[int, float]]:
    """Return the fuel of each date and crew: that of each span over its days by engine hours."""
    found: dict[dt.date, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for span in planned.fleet.spans:
        shifts = Shifts.of(job_of_crew(planned.job, span.crew))
        total = shifts.engine_hours(span.used)
        for date in span.used:
            share = shifts.engine_hours([date]) / total
            found[date][span.crew] += span.fuel_l * share
    return found


def _move(span: RentalSpan, date: dt.date) -> GearMove:
    return GearMove(date, span.kind, span.class_id, span.quantity, span.crew)


def _items(run: Run, sized: SizedRun) -> Iterator[ReadyItem]:
    """Yield what must be at a run before its crew comes."""
    yield ReadyItem(STICK, sized.counts.sticks)
    yield ReadyItem(PIPE, run.length_m, "m")
    for column, word in (FITTINGS | CONNECTION_PARTS).items():
        number = getattr(run, column)
        if number:
            yield ReadyItem(word, number)
    if run.placement == "trench":
        yield ReadyItem(OPEN_TRENCH, run.length_m, "m")
    for name in run.followed_runs:
        yield ReadyItem(FINISHED, 1, name=name)


def _strings_to_join(run: Run) -> Iterator[ReadyItem]:
    """Yield the strings that must be there before a run is tied in to them."""
    for name in run.joined_runs:
        yield ReadyItem(STRINGS_OF, 1, name=name)


def _test_items(test: HydroTest) -> Iterator[ReadyItem]:
    yield ReadyItem(WATER, test.volume_l, "L")
    for run_id in test.run_ids:
        yield ReadyItem(RESTRAINED, 1, name=run_id)


def _grouped(
    items: Iterable[Item], date_of: Callable[[Item], dt.date]
) -> dict[dt.date, list[Item]]:
    found: dict[dt.date, list[Item]] = defaultdict(list)
    for item in items:
        found[date_of(item)].append(item)
    return dict(found)


def _monday(date: dt.date) -> dt.date:
    return date - ONE_DAY * date.weekday()
