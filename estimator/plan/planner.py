"""Plan by shifts: crews take runs by priority and make whole joints in each shift."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from estimator.joint.cycle import joints_in
from estimator.models.job import Job, Run
from estimator.models.plan import Plan, RunCycle, ShiftName, SizedRun
from estimator.plan.crews import ONE_DAY, CrewState, Roster, set_up_moves
from estimator.plan.paid_shifts import Payroll, plan_lines
from estimator.plan.tasks import (
    AT_ONCE,
    OUTSIDE_TIE_INS,
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
    closure is never left over to another shift.
    """

    def __init__(
        self,
        job: Job,
        sized: Sequence[SizedRun],
        cycle_on: CycleOn,
        progress: Progress | None = None,
    ) -> None:
        self.job, self.facts, self.cycle_on = job, job.facts, cycle_on
        self.roster = Roster.of(job)
        self.sized = {s.run_id: s for s in sized}
        self.progress = progress or (lambda done, total: None)
        self.size_change = {row.band: row.size_change_min for row in job.size_bands}
        self.queue = TaskQueue(job.runs)
        self.ranks = {run.run_id: i for i, run in enumerate(job.runs)}
        self.pulled = {run.run_id: run.placement in PULLED for run in job.runs}
        self.jointed_at: dict[str, float] = {}
        self.done_at: dict[str, float] = {}
        first = self.roster.first_on(self.facts.start)
        self.crews = [
            CrewState(n, self.roster, first, first.working_min)
            for n in range(1, self.facts.crews + 1)
        ]

    def plan(self) -> Plan:
        """Return the plan of all runs."""
        begun, total = 0, len(self.job.runs)
        while self.queue:
            if not self.queue.any_ready():
                self.queue.loosen()
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
        return best[1], best[2]

    def _task_for(self, crew: CrewState) -> Task | None:
        """Return the first work that a crew may begin now, else what it may begin first."""
        waiting: Task | None = None
        for task in self.queue.ready_for(crew.number):
            if task.ready_at <= crew.now:
                return task
            if waiting is None or task.ready_at < waiting.ready_at:
                waiting = task
        return waiting

    def _do(self, crew: CrewState, task: Task) -> None:
        run = self.sized[task.run.run_id]
        if not run.counts.has_work:
            self.queue.strings_done(run.run_id, task.ready_at)
            self.queue.finish(run.run_id, task.ready_at)
            return
        if task.stage == STRINGS:
            crew.wait(run, task.ready_at, task.word)
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
        ready_at, word = self._rested_at(run, stage), "rest"
        later = Task((0, ready_at, self.ranks[run.run_id]), run, stage, ready_at, crew.number, word)
        if stage == OUTSIDE_TIE_INS:
            if self.queue.missing_strings(run):
                self.queue.add_waiting(later)
                return False
            later = self.queue.after_joined(later)
        if crew.idle_until(later.ready_at) > MOVES_THERE_AND_BACK * self.facts.machine_move_min:
            self.queue.add(later)
            return False
        crew.wait(sized, later.ready_at, later.word)
        return True

    def _rested_at(self, run: Run, stage: int) -> float:
        """Return when the strings of a run may be tied in.

        Their last joint rests before handling. A pulled string is pulled after that, and then
        relaxes before its tie-ins to other pipe.
        """
        rest_min = (self.sized[run.run_id].fusion.rest_s or 0.0) / MIN_S
        rested_at = self.jointed_at.get(run.run_id, AT_ONCE) + rest_min
        if stage == OUTSIDE_TIE_INS and self.pulled[run.run_id]:
            rested_at += self.facts.relax_hours * HOUR_MIN
        return rested_at

    def _do_stage(self, crew: CrewState, run: SizedRun, stage: int) -> None:
        if stage == STRINGS:
            self._work(crew, run, string_batches(self.facts, run.counts))
            if run.counts.plain_joints + run.counts.fitting_joints + run.counts.remade_joints:
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
        for name, minutes in set_up_moves(self.facts, crew, run, self.size_change):
            crew.spend_over_shifts(run, name, minutes)
        if crew.machine != run.machine.class_id or crew.od_mm != run.geometry.od_mm:
            crew.tested = crew.tested and self.facts.test_joint_rule == "job start"
        crew.run_id = run.run_id
        crew.machine, crew.od_mm = run.machine.class_id, run.geometry.od_mm
        if self.facts.test_joint_rule in ("job start", "each size") and not crew.tested:
            crew.tested = True
            self._work(crew, run, [self._test_batch()])

    def _test_batch(self) -> Batch:
        return Batch("test_joints", 1, lambda cycle: alone(test_minutes(self.facts, cycle)))

    def _work(self, crew: CrewState, run: SizedRun, batches: Iterable[Batch]) -> None:
        for batch in batches:
            if batch.count:
                self._make(crew, run, batch)

    def _make(self, crew: CrewState, run: SizedRun, batch: Batch) -> None:
        """Make the pieces of a batch, as many as fit in each shift."""
        left = batch.count
        while left:
            if self.facts.test_joint_rule == "each day" and batch.field != "other_joints":
                self._daily_test(crew, run)
            time = batch.time(self._cycle(crew, run))
            fit = min(left, joints_in(crew.minutes_left, time))
            if fit == 0:
                crew.next_shift()
                continue
            crew.tally(run).counts[batch.field] += fit
            crew.spend(run, fit * time.period_min)
            cooling_on = time.cycle_min - time.period_min
            self.done_at[run.run_id] = crew.now + min(cooling_on, crew.minutes_left)
            left -= fit

    def _cycle(self, crew: CrewState, run: SizedRun) -> RunCycle:
        return self.cycle_on(run.run_id, crew.shift.date, crew.shift.name)

    def _daily_test(self, crew: CrewState, run: SizedRun) -> None:
        done = crew.shifts.get(crew.shift, {})
        if any(tally.counts["test_joints"] for tally in done.values()):
            return
        if crew.minutes_left < test_minutes(self.facts, self._cycle(crew, run)):
            crew.next_shift()
        crew.tally(run).counts["test_joints"] += 1
        crew.spend(run, test_minutes(self.facts, self._cycle(crew, run)))


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
