"""Plan by shifts: crews take runs by priority and make whole joints in each shift."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from estimator.joint.cycle import joints_in
from estimator.models.job import Job, Run
from estimator.models.plan import Plan, RunCycle, ShiftName, SizedRun
from estimator.plan.crews import (
    ONE_DAY,
    TINY,
    CrewState,
    Roster,
    moves_from,
    set_up_moves,
)
from estimator.plan.paid_shifts import Payroll, plan_lines
from estimator.plan.tasks import (
    AT_ONCE,
    LEFT,
    OUTSIDE_TIE_INS,
    REST,
    STRING_TIE_INS,
    STRINGS,
    Batch,
    Task,
    TaskQueue,
    alone,
    closing_batches,
    standing_batches,
    string_batches,
    test_minutes,
    tie_in_batch,
)
from estimator.units import HOUR_MIN, MIN_S

__all__ = ["ONE_DAY", "CycleOn", "Planner", "Progress", "crew_hours_by_run", "lay_out"]

Progress = Callable[[int, int], None]
PULLED = ("pull-in", "slip-line")
MOVES_THERE_AND_BACK = 2
INSIDE_STRINGS = ("joints", "rework_joints")


class CycleOn(Protocol):
    """Gives the times of a run's joints in a shift of a date."""

    def __call__(self, run_id: str, date: dt.date, shift: ShiftName = "day", /) -> RunCycle:
        """Return the times of the run's joints."""
        ...


class Planner:
    """Lays out the runs of a job over crews and shifts.

    Each time a crew is free it takes, of the work it may do and that may begin, tie-ins that
    were left first, then the run with the lowest priority number, then the first in the
    schedule. Moves and size changes may go on in the next shift; a joint, a test joint or a
    closure is never left over to another shift. From a run whose strings rest, a crew goes to
    other work, and comes back between two joints of it when the rest ends.
    """

    def __init__(
        self,
        job: Job,
        sized: Sequence[SizedRun],
        cycle_on: CycleOn,
        progress: Progress | None = None,
    ) -> None:
        self.job, self.cycle_on = job, cycle_on
        self.roster = Roster.of(job)
        self.sized = {s.run_id: s for s in sized}
        self.progress = progress or (lambda done, total: None)
        self.size_change = {row.band: row.size_change_min for row in job.size_bands}
        self.queue = TaskQueue(job.runs)
        self.ranks = {run.run_id: i for i, run in enumerate(job.runs)}
        self.pulled = {run.run_id: run.placement in PULLED for run in job.runs}
        self.jointed_at: dict[str, float] = {}
        self.done_at: dict[str, float] = {}
        self.strung_by: dict[str, int] = {}
        first = self.roster.first_on(self.job.dates.start)
        self.crews = [
            CrewState(n, self.roster, first, first.working_min)
            for n in range(1, self.job.resources.crews + 1)
        ]

    def plan(self) -> Plan:
        """Return the plan of all runs."""
        begun, total = 0, len(self.job.runs)
        while self.queue:
            if not self.queue.any_ready():
                self.queue.break_deadlock()
            crew, task = self._next()
            self.queue.take(task)
            self._do(crew, task)
            begun += task.stage == STRINGS
            self.progress(begun, total)
        paid = Payroll(self.job, self.sized, self.roster.calendar).crew_days(self.crews)
        return Plan(lines=tuple(plan_lines(self.crews)), crew_days=tuple(paid))

    def _next(self) -> tuple[CrewState, Task]:
        """Return the crew that can begin some work first, and that work."""
        best: tuple[float, CrewState, Task] | None = None
        for crew in sorted(self.crews, key=lambda c: (c.now, c.number)):
            if best is not None and best[0] <= crew.now:
                break
            task = self._task_for(crew)
            if task is not None and (best is None or task.ready_at < best[0]):
                best = max(crew.now, task.ready_at), crew, task
        if best is None:
            message = "a run is assigned to a crew that does not exist"
            raise ValueError(message)
        return self._nearest(best[1], best[2]), best[2]

    def _nearest(self, found: CrewState, task: Task) -> CrewState:
        """Return the crew that can be at left tie-ins first, its moves counted."""
        if task.crew is not None or task.stage == STRINGS:
            return found
        run = self.sized[task.run.run_id]
        able = [crew for crew in self.crews if self._has_machine(crew, task)]
        return min(
            able,
            key=lambda crew: max(crew.now + self._minutes_to(crew, run), task.ready_at),
        )

    def _minutes_to(self, crew: CrewState, run: SizedRun) -> float:
        """Return the minutes of the moves that a crew makes to a run."""
        moves = set_up_moves(self.job.moves, crew, run, self.size_change)
        return sum(minutes for _, minutes in moves)

    def _task_for(self, crew: CrewState) -> Task | None:
        """Return the first work that a crew may begin now, else what it may begin first."""
        waiting: Task | None = None
        for task in self.queue.ready_for(crew.number):
            if not self._has_machine(crew, task):
                continue
            if task.ready_at <= crew.now:
                return task
            if waiting is None or task.ready_at < waiting.ready_at:
                waiting = task
        return waiting

    def _has_machine(self, crew: CrewState, task: Task) -> bool:
        """Return whether a crew may do a task with the machine beside it.

        A run of tie-ins to other pipe alone, or these tie-ins of any run, go to a crew that has a
        machine of the class at the time. Where no crew has, the crew that made the strings takes
        them, and any crew a run of nothing else.
        """
        if not self._only_ties_in(task):
            return True
        run = self.sized[task.run.run_id]
        with_it = [one for one in self.crews if one.machine == run.machine.class_id]
        if with_it:
            return crew in with_it
        return crew.number == self.strung_by.get(run.run_id, crew.number)

    def _only_ties_in(self, task: Task) -> bool:
        if task.crew is not None:
            return False
        count = self.sized[task.run.run_id].counts
        alone = count.outside_tie_ins == count.butt_joints + count.rework_joints
        return task.stage == OUTSIDE_TIE_INS or (alone and not count.other_joints)

    def _do(self, crew: CrewState, task: Task) -> None:
        run = self.sized[task.run.run_id]
        if not run.counts.has_work:
            self.queue.strings_done(run.run_id, task.ready_at)
            self.queue.finish(run.run_id, task.ready_at)
            return
        if task.stage == STRINGS:
            crew.wait(run, task.ready_at, task.word)
        elif crew.number != self.strung_by[run.run_id]:
            crew.wait(run, task.ready_at - self._minutes_to(crew, run), task.word)
        self._set_up(crew, run)
        crew.wait(run, task.ready_at, task.word)
        self._do_stage(crew, run, task.stage)
        for stage in range(task.stage + 1, OUTSIDE_TIE_INS + 1):
            if not self._goes_on(crew, task.run, stage):
                return
            self._do_stage(crew, run, stage)
        self.queue.finish(run.run_id, self._done(crew, run))

    def _goes_on(self, crew: CrewState, run: Run, stage: int) -> bool:
        """Return whether a crew goes on with a stage at once; if not, it is left for later."""
        sized = self.sized[run.run_id]
        if not tie_in_batch(sized.counts, stage).count:
            return True
        later = self._left(crew, run, stage)
        if stage == OUTSIDE_TIE_INS:
            if self.queue.missing_strings(run):
                self.queue.add_waiting(later)
                return False
            later = self.queue.after_joined(later)
        if crew.idle_until(later.ready_at) > self._there_and_back_min(crew, sized):
            self.queue.add(later)
            return False
        crew.wait(sized, later.ready_at, later.word)
        return True

    def _left(self, crew: CrewState, run: Run, stage: int) -> Task:
        """Return tie-ins that a crew leaves: those to other pipe for any crew, if none is named."""
        ready_at, number = self._rested_at(run, stage), crew.number
        by = run.crew if stage == OUTSIDE_TIE_INS else number
        self.strung_by[run.run_id] = number
        return Task((LEFT, ready_at, self.ranks[run.run_id]), run, stage, ready_at, by, REST)

    def _there_and_back_min(self, crew: CrewState, run: SizedRun) -> float:
        """Return the minutes of the moves from a run to the next work of its crew and back."""
        task = self._task_for(crew)
        if task is None or task.ready_at > crew.now:
            return MOVES_THERE_AND_BACK * self.job.moves.machine_move_min
        other = self.sized[task.run.run_id]
        return self._moves_min(run, other) + self._moves_min(other, run)

    def _moves_min(self, one: SizedRun, other: SizedRun) -> float:
        set_up_for = one.machine.class_id, one.geometry.od_mm
        moves = moves_from(self.job.moves, set_up_for, other, self.size_change)
        return sum(minutes for _, minutes in moves)

    def _rested_at(self, run: Run, stage: int) -> float:
        """Return when the strings of a run may be tied in.

        Their last joint rests before handling. A pulled string is pulled after that, and then
        relaxes before its tie-ins to other pipe.
        """
        rest_min = (self.sized[run.run_id].fusion.rest_s or 0.0) / MIN_S
        rested_at = self.jointed_at.get(run.run_id, AT_ONCE) + rest_min
        if stage == OUTSIDE_TIE_INS and self.pulled[run.run_id]:
            rested_at += self.job.moves.relax_hours * HOUR_MIN
        return rested_at

    def _do_stage(self, crew: CrewState, run: SizedRun, stage: int) -> None:
        if stage == STRINGS:
            self._work(crew, run, string_batches(self.job.counting, run.counts))
            if run.counts.plain_joints + run.counts.fitting_joints + run.counts.rework_joints:
                self.jointed_at[run.run_id] = self.done_at[run.run_id]
            self._work(crew, run, standing_batches(run.counts))
            return
        self._work(crew, run, [tie_in_batch(run.counts, stage)])
        if stage == STRING_TIE_INS:
            if self.pulled[run.run_id] and tie_in_batch(run.counts, stage).count:
                self.jointed_at[run.run_id] = self.done_at[run.run_id]
            self._work(crew, run, closing_batches(run.counts))
            self.queue.strings_done(run.run_id, self._done(crew, run))

    def _done(self, crew: CrewState, run: SizedRun) -> float:
        """Return when the last piece so far of a run is cool, not before now."""
        return max(crew.now, self.done_at.get(run.run_id, crew.now))

    def _set_up(self, crew: CrewState, run: SizedRun) -> None:
        for name, minutes in set_up_moves(self.job.moves, crew, run, self.size_change):
            crew.spend_over_shifts(run, name, minutes)
        if crew.machine != run.machine.class_id or crew.od_mm != run.geometry.od_mm:
            crew.tested = crew.tested and self.job.counting.test_joint_rule == "job start"
        crew.run_id = run.run_id
        crew.machine, crew.od_mm = run.machine.class_id, run.geometry.od_mm
        if self.job.counting.test_joint_rule in ("job start", "each size") and not crew.tested:
            crew.tested = True
            self._work(crew, run, [self._test_batch()])

    def _test_batch(self) -> Batch:
        return Batch("test_joints", 1, lambda cycle: alone(test_minutes(self.job.counting, cycle)))

    def _work(self, crew: CrewState, run: SizedRun, batches: Iterable[Batch]) -> None:
        for batch in batches:
            if batch.count:
                self._make(crew, run, batch)

    def _make(self, crew: CrewState, run: SizedRun, batch: Batch) -> None:
        """Make the pieces of a batch, as many as fit in each shift.

        Between two joints of a string the crew leaves for other strings whose rest ends.
        """
        left = batch.count
        while left:
            called_in = self._called_in(crew, run, batch, left)
            if called_in <= TINY:
                self._tie_in_and_return(crew, run)
                continue
            if self.job.counting.test_joint_rule == "each day" and batch.field != "other_joints":
                self._daily_test(crew, run)
            time = batch.time(self._cycle(crew, run))
            fit = min(left, joints_in(crew.minutes_left, time))
            if fit == 0:
                crew.next_shift()
                continue
            if called_in < fit * time.period_min:
                fit = math.ceil((called_in - TINY) / time.period_min)
            crew.tally(run).counts[batch.field] += fit
            crew.spend(run, fit * time.period_min)
            cooling_on = time.cycle_min - time.period_min
            self.done_at[run.run_id] = crew.now + min(cooling_on, crew.minutes_left)
            left -= fit

    def _called_in(self, crew: CrewState, run: SizedRun, batch: Batch, left: int) -> float:
        """Return the minutes until a crew leaves the strings in hand for tie-ins that then rested.

        It stays (infinity) where no rest ends in this shift, where the pieces in hand are done
        in this shift, and where no tie-in fits in what would be left of the shift.
        """
        task = self._resting(crew) if batch.field in INSIDE_STRINGS else None
        if task is None or joints_in(crew.minutes_left, batch.time(self._cycle(crew, run))) >= left:
            return math.inf
        other = self.sized[task.run.run_id]
        there = self._minutes_to(crew, other)
        leaves_in = max(0.0, task.ready_at - there - crew.now)
        begins = crew.minutes_left >= crew.shift.working_min - TINY and leaves_in <= TINY
        needed = leaves_in + there + self._cycle(crew, other).tie_in.cycle_min
        return leaves_in if begins or needed <= crew.minutes_left else math.inf

    def _resting(self, crew: CrewState) -> Task | None:
        """Return the tie-ins of a crew's own strings that wait for nothing but their rest."""
        for task in self.queue.left_for(crew.number):
            own = self.strung_by[task.run.run_id] == crew.number
            if own and task.word == REST and self._has_machine(crew, task):
                return task
        return None

    def _tie_in_and_return(self, crew: CrewState, run: SizedRun) -> None:
        task = self._resting(crew)
        if task is not None:
            self.queue.take(task)
            self._do(crew, task)
            self._set_up(crew, run)

    def _cycle(self, crew: CrewState, run: SizedRun) -> RunCycle:
        return self.cycle_on(run.run_id, crew.shift.date, crew.shift.name)

    def _daily_test(self, crew: CrewState, run: SizedRun) -> None:
        done = crew.shifts.get(crew.shift, {})
        if any(tally.counts["test_joints"] for tally in done.values()):
            return
        if crew.minutes_left < test_minutes(self.job.counting, self._cycle(crew, run)):
            crew.next_shift()
        crew.tally(run).counts["test_joints"] += 1
        crew.spend(run, test_minutes(self.job.counting, self._cycle(crew, run)))


def lay_out(
    job: Job,
    sized: Sequence[SizedRun],
    cycle_on: CycleOn,
    progress: Progress | None = None,
) -> Plan:
    """Return the plan of the job by shifts.

    Parameters
    ----------
    job : Job
        The job with its calendar, shifts and crews.
    sized : sequence of SizedRun
        The counted runs, one for each run of the job.
    cycle_on : callable
        Gives the times of a run's joints in a shift of a date, by the ambient of its month.
    progress : callable, optional
        Called with (runs begun, runs in all).
    """
    return Planner(job, sized, cycle_on, progress).plan()


def crew_hours_by_run(plan: Plan) -> dict[str, float]:
    """Return the paid crew-hours of each run: each paid shift shared out by minutes worked."""
    hours: dict[str, float] = defaultdict(float)
    for day in plan.crew_days:
        for run_id, share in day.run_shares:
            hours[run_id] += share * day.crew_hours
    return dict(hours)
