"""Day-by-day plan: crews take runs by priority and make whole joints in each shift."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from estimator.cycle import pieces_in
from estimator.models.job import BANDS, Band, Job, JobFacts, Run
from estimator.models.plan import (
    CrewDay,
    JointTime,
    Plan,
    PlanLine,
    RunCycle,
    SizedRun,
)
from estimator.working_calendar import WorkingCalendar

Progress = Callable[[int, int], None]
PieceTime = tuple[float, float]
CycleOn = Callable[[str, dt.date], RunCycle]
ONE_DAY = dt.timedelta(days=1)
TINY = 1e-9


@dataclass
class Batch:
    """Equal pieces of work on one run, each of which fits inside one shift.

    ``time`` gives the period and the cycle of one piece from the times of the day on which it
    is made. Several pieces take a period each, and the last one its whole cycle.
    """

    field: str
    count: int
    time: Callable[[RunCycle], PieceTime]


@dataclass
class DayTally:
    """What one crew did on one run on one day, while it is being filled."""

    machine: str
    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[str] = field(default_factory=list)
    minutes: float = 0.0


@dataclass
class CrewState:
    """Where a crew stands: its day, the minutes left in it, what its machine is set up for."""

    number: int
    date: dt.date
    minutes_left: float
    machine: str | None = None
    od_mm: float | None = None
    tested: bool = False
    days: dict[dt.date, dict[str, DayTally]] = field(default_factory=dict)

    def tally(self, run: SizedRun) -> DayTally:
        """Return today's tally for the run, new if there is none."""
        day = self.days.setdefault(self.date, {})
        return day.setdefault(run.run_id, DayTally(run.machine.class_id))


class Planner:
    """Lays out the runs of a job over crews and days.

    Each time a crew is free it takes, of the runs it may do and that may start, the one with
    the lowest priority number and then the first in the schedule. Moves and size changes may
    go on the next morning; a joint, a test joint or a closure is never left over night.
    """

    def __init__(
        self,
        job: Job,
        sized: Sequence[SizedRun],
        cycle_on: CycleOn,
        progress: Progress | None = None,
    ) -> None:
        self.job, self.facts, self.cycle_on = job, job.facts, cycle_on
        self.calendar = WorkingCalendar.of(job)
        self.sized = {s.run_id: s for s in sized}
        self.progress = progress or (lambda done, total: None)
        self.size_change = {row.band: row.size_change_min for row in job.size_bands}
        first = self.calendar.next_work(self.facts.start)
        self.crews = [
            CrewState(n, first, self.facts.working_min) for n in range(1, self.facts.crews + 1)
        ]

    def plan(self) -> Plan:
        """Return the plan of all runs."""
        order = sorted(self.job.runs, key=lambda run: run.priority or math.inf)
        pending = list(order)
        while pending:
            crew, index = self._next_assignment(pending)
            run = pending.pop(index)
            sized = self.sized[run.run_id]
            if sized.count.has_work:
                self._do_run(crew, sized, run.earliest_start)
            self.progress(len(order) - len(pending), len(order))
        return Plan(lines=tuple(self._lines()), crew_days=tuple(self._crew_days()))

    def _next_assignment(self, pending: Sequence[Run]) -> tuple[CrewState, int]:
        """Return the crew that is free first and can do a run, and the run's place in the list."""
        for crew in sorted(self.crews, key=lambda c: (c.date, -c.minutes_left, c.number)):
            waiting: tuple[dt.date, int] | None = None
            for i, run in enumerate(pending):
                if run.crew not in (None, crew.number):
                    continue
                start = run.earliest_start or dt.date.min
                if start <= crew.date:
                    return crew, i
                waiting = min(waiting or (start, i), (start, i))
            if waiting is not None:
                return crew, waiting[1]
        message = "a run is assigned to a crew that does not exist"
        raise ValueError(message)

    def _do_run(self, crew: CrewState, run: SizedRun, earliest: dt.date | None) -> None:
        if earliest is not None and earliest > crew.date:
            self._go_to(crew, self.calendar.next_work(earliest))
        self._set_up(crew, run)
        for batch in self._batches(crew, run):
            self._work(crew, run, batch)

    def _go_to(self, crew: CrewState, date: dt.date) -> None:
        crew.date, crew.minutes_left = date, self.facts.working_min

    def _next_day(self, crew: CrewState) -> None:
        self._go_to(crew, self.calendar.next_work(crew.date + ONE_DAY))

    def _set_up(self, crew: CrewState, run: SizedRun) -> None:
        for name, minutes in set_up_moves(self.facts, crew, run, self.size_change):
            crew.tally(run).moves.append(name)
            while minutes > TINY:
                if crew.minutes_left <= TINY:
                    self._next_day(crew)
                step = min(minutes, crew.minutes_left)
                crew.tally(run).minutes += step
                crew.minutes_left -= step
                minutes -= step
        if crew.machine != run.machine.class_id or crew.od_mm != run.geometry.od_mm:
            crew.tested = crew.tested and self.facts.test_joint_rule == "job start"
        crew.machine, crew.od_mm = run.machine.class_id, run.geometry.od_mm

    def _batches(self, crew: CrewState, run: SizedRun) -> Iterator[Batch]:
        count = run.count
        if self.facts.test_joint_rule in ("job start", "each size") and not crew.tested:
            crew.tested = True
            yield Batch("test_joints", 1, lambda cycle: alone(self._test_minutes(cycle)))
        yield Batch("joints", count.plain_joints, lambda cycle: steady(cycle.plain))
        at_size = count.fitting_joints - count.small_ends
        yield Batch("joints", at_size, lambda cycle: steady(cycle.fitting))
        yield Batch(
            "joints", count.small_ends, lambda cycle: steady(cycle.small_end or cycle.fitting)
        )
        yield Batch("remade_joints", count.remade_joints, self._remake)
        yield Batch("tie_in_joints", count.tie_in_joints, lambda cycle: steady(cycle.tie_in))
        yield Batch("other_joints", count.saddles, lambda cycle: alone(cycle.saddle_min))
        yield Batch("other_joints", count.ef_closures, lambda cycle: alone(cycle.ef_closure_min))
        yield Batch("other_joints", count.bolt_ups, lambda cycle: alone(cycle.bolt_up_min))

    def _remake(self, cycle: RunCycle) -> PieceTime:
        return alone(cycle.plain.cycle_min + self.facts.remake_extra_min)

    def _test_minutes(self, cycle: RunCycle) -> float:
        return cycle.plain.cycle_min + self.facts.test_joint_extra_min

    def _work(self, crew: CrewState, run: SizedRun, batch: Batch) -> None:
        left = batch.count
        while left:
            if self.facts.test_joint_rule == "each day" and batch.field != "other_joints":
                self._daily_test(crew, run)
            period, whole = batch.time(self.cycle_on(run.run_id, crew.date))
            fit = min(left, pieces_in(crew.minutes_left, period, whole))
            if fit == 0:
                self._next_day(crew)
                continue
            tally = crew.tally(run)
            tally.counts[batch.field] += fit
            tally.minutes += fit * period
            crew.minutes_left -= fit * period
            left -= fit

    def _daily_test(self, crew: CrewState, run: SizedRun) -> None:
        today = crew.days.get(crew.date, {})
        if any(tally.counts["test_joints"] for tally in today.values()):
            return
        minutes = self._test_minutes(self.cycle_on(run.run_id, crew.date))
        if crew.minutes_left < minutes:
            self._next_day(crew)
            minutes = self._test_minutes(self.cycle_on(run.run_id, crew.date))
        tally = crew.tally(run)
        tally.counts["test_joints"] += 1
        tally.minutes += minutes
        crew.minutes_left -= minutes

    def _lines(self) -> Iterator[PlanLine]:
        entries = [
            (date, crew.number, run_id, tally)
            for crew in self.crews
            for date, day in crew.days.items()
            for run_id, tally in day.items()
        ]
        for date, number, run_id, tally in sorted(entries, key=lambda e: (e[0], e[1])):
            tie_ins = tally.counts["tie_in_joints"]
            yield PlanLine(
                date=date,
                crew=number,
                run_id=run_id,
                machine=tally.machine,
                joints=tally.counts["joints"] + tie_ins,
                tie_in_joints=tie_ins,
                remade_joints=tally.counts["remade_joints"],
                test_joints=tally.counts["test_joints"],
                other_joints=tally.counts["other_joints"],
                moves=tuple(tally.moves),
                minutes=tally.minutes,
            )

    def _crew_days(self) -> Iterator[CrewDay]:
        for crew in self.crews:
            if not crew.days:
                continue
            dates = sorted(crew.days)
            for date, following in zip(dates, [*dates[1:], None], strict=True):
                minutes = {run_id: tally.minutes for run_id, tally in crew.days[date].items()}
                yield self._crew_day(crew.number, date, minutes, self.facts.shift_hours)
                for lost in self._weather_days_between(date, following):
                    hours = self.facts.weather_paid_hours
                    yield self._crew_day(crew.number, lost, minutes, hours)

    def _weather_days_between(self, date: dt.date, following: dt.date | None) -> list[dt.date]:
        """Return the weather days that a crew sits out between two of its days.

        If it could have worked in between but had nothing to do, it is not on site.
        """
        if following is None:
            return []
        between = [date + ONE_DAY * n for n in range(1, (following - date).days)]
        kinds = [self.calendar.kind(day) for day in between]
        if "work" in kinds:
            return []
        return [day for day, kind in zip(between, kinds, strict=True) if kind == "weather"]

    def _crew_day(
        self, number: int, date: dt.date, run_minutes: dict[str, float], hours: float
    ) -> CrewDay:
        bands = {self.sized[run_id].cycle.band for run_id in run_minutes}
        heads = tuple(
            max(
                role.heads_with(band, self.facts.machines_per_crew)
                for band in BANDS
                if band in bands
            )
            for role in self.job.crew
        )
        total = sum(run_minutes.values())
        straight = min(hours, self.facts.straight_hours)
        return CrewDay(
            date=date,
            crew=number,
            kind=self.calendar.kind(date),
            heads=heads,
            straight_hours=straight,
            overtime_hours=hours - straight,
            run_shares=tuple(
                (run_id, minutes / total if total else 1 / len(run_minutes))
                for run_id, minutes in run_minutes.items()
            ),
        )


def steady(time: JointTime) -> PieceTime:
    """Return the times of a joint that is one of a row of joints."""
    return time.period_min, time.cycle_min


def alone(minutes: float) -> PieceTime:
    """Return the times of a piece of work that nothing else overlaps."""
    return minutes, minutes


def set_up_moves(
    facts: JobFacts, crew: CrewState, run: SizedRun, size_change: Mapping[Band, float]
) -> list[tuple[str, float]]:
    """Return the moves that a crew makes before a run, each with its minutes.

    The first run of a crew needs none: mobilisation brings the machine set up for it.
    """
    if crew.machine is None:
        return []
    if crew.machine != run.machine.class_id:
        return [("machine change", facts.machine_swap_min)]
    moves = [("move", facts.machine_move_min)]
    if crew.od_mm != run.geometry.od_mm:
        moves.append(("size change", size_change[run.cycle.band]))
    return moves


def lay_out(
    job: Job,
    sized: Sequence[SizedRun],
    cycle_on: CycleOn,
    progress: Progress | None = None,
) -> Plan:
    """Return the day-by-day plan of the job.

    Parameters
    ----------
    job : Job
        The job with its calendar, shift and crews.
    sized : sequence of SizedRun
        The counted runs, one for each run of the job.
    cycle_on : callable
        Gives the times of a run's joints on a date, by the ambient of its month.
    progress : callable, optional
        Called with (runs done, runs in all).
    """
    return Planner(job, sized, cycle_on, progress).plan()


def crew_hours_by_run(plan: Plan) -> dict[str, float]:
    """Return the paid crew-hours of each run: each paid day shared out by minutes worked."""
    hours: dict[str, float] = defaultdict(float)
    for day in plan.crew_days:
        for run_id, share in day.run_shares:
            hours[run_id] += share * day.crew_hours
    return dict(hours)
