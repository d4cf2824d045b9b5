"""Plan by shifts: crews take runs by priority and make whole joints in each shift."""

import datetime as dt
import math
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from estimator.display import name_runs
from estimator.errors import InputError, Problem
from estimator.joint.butt_kinds import alone
from estimator.joint.cycle import joints_in, test_minutes
from estimator.models.job import Job, Run
from estimator.models.places import NO_PLACES, Places
from estimator.models.plan import Plan, ShiftName, Work
from estimator.models.sized_run import JointCount, JointTime, RunCycle, SizedRun
from estimator.plan.crews import (
    ONE_DAY,
    TINY,
    CrewState,
    StoppedError,
    moves_from,
    pipe_to_try,
    set_up_moves,
)
from estimator.plan.paid_shifts import (
    Payroll,
    plan_lines,
)
from estimator.plan.sharing import Sharing
from estimator.plan.tasks import (
    AT_ONCE,
    LEFT,
    OUTSIDE_TIE_INS,
    REST,
    STRING_TIE_INS,
    STRINGS,
    TRIAL_FUSION,
    WAIT,
    Batch,
    RipeRuns,
    Task,
    TaskQueue,
    closing_batches,
    rank_of,
    standing_batches,
    string_batches,
    tie_in_batches,
    tie_ins_of,
)
from estimator.plan.units import units_of
from estimator.units import DAY_MIN, HOUR_MIN, MIN_S
from estimator.working_time.on_site import Holds
from estimator.working_time.roster import NEVER, Roster

__all__ = [
    "ONE_DAY",
    "CycleOn",
    "Planner",
    "Progress",
    "lay_out",
]

Progress = Callable[[int, int], None]
PULLED = ("pullback", "slipline")
MOVES_THERE_AND_BACK = 2
NOT_THERE = (math.inf, 0.0)
"""When a crew can be at work that leaves before, whatever its moves."""
INSIDE_STRINGS = ("joints", "rework_joints")
NO_BUTT_JOINT = "other_joints"


class CycleOn(Protocol):
    """Gives the times of a run's joints in a shift of a date, by the machines of a crew."""

    def __call__(
        self, run_id: str, date: dt.date, shift: ShiftName = "day", crew: int = 1, /
    ) -> RunCycle:
        """Return the times of the run's joints."""
        ...


class PieceTimes:
    """Times of one piece of each kind of work, and how many fit some minutes, each found once."""

    def __init__(self) -> None:
        self._times: dict[tuple[int, str], tuple[RunCycle, JointTime]] = {}
        self._fits: dict[tuple[float, int], int] = {}

    def of(self, batch: Batch, cycle: RunCycle) -> JointTime:
        """Return the times of one piece; the cycle is kept, so that its id stays its own."""
        key = id(cycle), batch.name
        known = self._times.get(key)
        if known is None:
            known = self._times[key] = cycle, batch.time(cycle)
        return known[1]

    def fit(self, minutes: float, time: JointTime) -> int:
        """Return how many pieces fit some minutes; the times are those that ``of`` gave."""
        key = minutes, id(time)
        found = self._fits.get(key)
        if found is None:
            found = self._fits[key] = joints_in(minutes, time)
        return found


def only_ties_in(counts: JointCount) -> bool:
    """Return whether a run has tie-ins to other pipe and nothing else."""
    alone = counts.outside_tie_ins == counts.butt_joints + counts.rework_joints
    return alone and not counts.other_joints


class Planner:
    """Lays out the runs of a job over crews and shifts.

    Each time a crew is free it takes, of the work it may do and that may begin, tie-ins that
    were left first, then the run with the lowest priority number, then the first by
    name; of runs that crews share, the one that ``Sharing`` chooses. Moves and size changes may
    go on in the next shift; a joint, a test joint or a closure is never left over to another
    shift. From a run whose strings rest, a crew goes to
    other work, and comes back between two joints of it when the rest ends.
    """

    def __init__(
        self,
        job: Job,
        sized: Sequence[SizedRun],
        cycle_on: CycleOn,
        progress: Progress | None = None,
        places: Places = NO_PLACES,
    ) -> None:
        self.job, self.cycle_on, self.places = job, cycle_on, places
        self.holds = Holds.of(job)
        self.has_holds = bool(self.holds)
        units = units_of(job.runs, sized)
        self.sized = {unit.run.run_id: unit.sized for unit in units}
        self.tie_ins_alone = {name for name, one in self.sized.items() if only_ties_in(one.counts)}
        self.payroll = Payroll(job, {one.run_id: one for one in sized})
        self.row_of = {unit.run.run_id: unit.row for unit in units}
        self.crews = [self._crew(n) for n in range(1, job.resources.crews + 1)]
        self.progress = progress or (lambda done, total: None)
        self.size_change = {row.band: row.size_change_min for row in job.size_bands}
        self.sharing = Sharing(self.crews, self.sized, self._there_at, job.moves.machine_swap_min)
        ripe = RipeRuns(self.sharing.pipe_of, self.sharing.work_ms)
        ripens = len(self.crews) > 1 and not self.has_holds
        may_ripen = self.sized.keys() - self.tie_ins_alone if ripens else set[str]()
        self.queue = TaskQueue([unit.run for unit in units], ripe, may_ripen)
        self.ranks = {unit.run.run_id: i for i, unit in enumerate(units)}
        self.pulled = {unit.run.run_id: unit.run.placement in PULLED for unit in units}
        self.jointed_at: dict[str, float] = {}
        self.done_at: dict[str, float] = {}
        self.left_by: dict[str, int] = {}
        self.stage_of: dict[str, int] = {}
        self.left_of: dict[tuple[str, int], list[Batch]] = {}
        self.tests_daily = job.counting.test_joint_rule == "each day"
        self.pieces = PieceTimes()
        self.moves_min: dict[tuple[str, float | None, str, float], float] = {}

    def _crew(self, number: int) -> CrewState:
        roster = Roster.of(self.job, number)
        return CrewState(number, roster, roster.first_on(self.job.dates.start), self.row_of)

    def plan(self, *, paid: bool = True) -> Plan:
        """Return the plan of all runs; not paid: without the shifts that the crews are paid."""
        begun, total = set[str](), len(self.job.runs)
        while self.queue:
            if not self.queue.any_ready():
                self.queue.break_deadlock()
            crew, task = self._next()
            self.queue.take(task)
            self._do(crew, task)
            begun.add(self.row_of[task.run.run_id])
            self.progress(len(begun), total)
        days = self.payroll.crew_days(self.crews) if paid else ()
        return Plan(lines=tuple(plan_lines(self.crews)), crew_days=tuple(days))

    def _next(self) -> tuple[CrewState, Task]:
        """Return the crew that can begin some work first, and that work."""
        best: tuple[float, CrewState, Task] | None = None
        self.queue.ripen(min(crew.now for crew in self.crews))
        for now, _, crew in sorted([(crew.now, crew.number, crew) for crew in self.crews]):
            if best is not None and best[0] <= now:
                break
            found = None if crew.is_gone else self._task_for(crew)
            if found is not None and (best is None or found[0] < best[0]):
                best = found[0], crew, found[1]
        if best is None:
            if self.queue.release_all():
                return self._next()
            raise self._nobody_left()
        return self._nearest(best[1], best[2]), best[2]

    def _nobody_left(self) -> InputError:
        """Return the fault of work that no crew is on site to do."""
        runs = [task.run for task in self.queue.all_ready()]
        names = [*dict.fromkeys(self.row_of[run.run_id] for run in runs)]
        named = [run for run in runs if run.crew is not None]
        crew = named[0].crew if named else None
        rows = [row for row in self.job.crew_dates if row.to_date and crew in (None, row.crew)]
        last = max(rows, key=lambda row: row.to_date or row.from_date, default=None)
        where = self.places.where("crew_dates", last.row_name if last else "", "to_date")
        crews = "the crew that the schedule names has" if named else "all crews have"
        return InputError(
            [
                Problem(
                    where,
                    f"Last date: {crews} left before "
                    f"{name_runs(names)} can be finished. Enter a later "
                    "date, or leave it blank",
                )
            ]
        )

    def _nearest(self, first: CrewState, task: Task) -> CrewState:
        """Return the crew that can be at work for any crew first, its moves counted.

        Tie-ins that were left go to any crew with a machine of their class, a new run to one that
        would take it next. A crew that is free only later than that need not be asked.
        """
        if task.crew is not None or len(self.crews) == 1:
            return first
        able = self._has_machine if task.was_left else self._takes_next
        nearest, soonest = first, min(self._there_at(first, task), NOT_THERE)
        for crew in self.crews:
            if crew.now > soonest[0]:
                continue
            there_at = self._there_at(crew, task)
            if there_at < soonest and able(crew, task):
                nearest, soonest = crew, there_at
        return nearest

    def _room_from(self, crew: CrewState, run: SizedRun, task: Task, moment: float) -> float:
        """Return from when on left work can be made, if it may begin at a moment.

        Where its first piece does not fit in what is left of that shift, and the crew has nothing
        else in it, it comes for the next one.
        """
        if moment <= crew.now or math.isinf(moment):
            return moment
        shift = crew.roster.holding(moment, crew.shift)
        if shift is NEVER or (shift.start == crew.shift.start and crew.today):
            return moment
        left = self._left_of(run, task.stage)
        cycle = self.cycle_on(self.row_of[run.run_id], shift.date, shift.name, crew.number)
        room = shift.start + shift.working_min - max(moment, shift.start)
        following = crew.roster.after(shift)
        away = following is NEVER or crew.roster.leaves_between(shift, following)
        fits = not left or joints_in(room, left[0].time(cycle))
        return moment if away or fits else following.start

    def _takes_next(self, crew: CrewState, task: Task) -> bool:
        found = None if crew.is_gone else self._task_for(crew)
        return found is not None and found[1] is task

    def _there_at(self, crew: CrewState, task: Task) -> tuple[float, float]:
        """Return when a crew can be at work, its moves made, and the minutes of these moves."""
        minutes = self._minutes_to(crew, self.sized[task.run.run_id])
        begins = self._begins(crew, task)
        if task.was_left:
            return max(crew.through(minutes), begins), minutes
        if begins <= crew.works_from(crew.now):
            return crew.through(minutes), minutes
        return begins + minutes, minutes

    def _minutes_to(self, crew: CrewState, run: SizedRun) -> float:
        """Return the minutes of the moves that a crew makes to a run."""
        if crew.machine is None or crew.run_id == run.run_id:
            return 0.0
        return self._moves_min(crew.machine, crew.od_mm, run)

    def _task_for(self, crew: CrewState) -> tuple[float, Task] | None:
        """Return the first work that a crew may begin now, else what it may begin first; and when.

        Where it leaves what it may begin now to another crew, what it may begin later. None where
        there is nothing.
        """
        waiting: tuple[float, Task] | None = None
        at_once, shared = crew.works_from(crew.now), list[Task]()
        pipe, now = (crew.machine, crew.od_mm), crew.now
        ripe = self.queue.ripe.first()
        for task in self.queue.ready_for(crew.number):
            alike = shared[0] if shared else ripe
            if alike and alike.rank < task.rank and alike.rank[:2] != task.rank[:2]:
                break
            for_any = task.crew is None and task.rank[0] != LEFT
            by_machine = not for_any or task.run.run_id in self.tie_ins_alone
            if by_machine and not self._has_machine(crew, task):
                continue
            free = task.ready_at <= now and not self.has_holds
            begins = at_once if free else self._begins(crew, task)
            if begins > at_once:
                if begins < (math.inf if waiting is None else waiting[0]):
                    waiting = begins, task
            elif for_any and len(self.crews) > 1:
                shared.append(task)
                if self.sharing.pipe_of[task.run.run_id] == pipe:
                    break
            elif not alike or task.rank < alike.rank:
                return begins, self._worth_a_wait(crew, task) or task
        alike = shared[0] if shared else ripe
        if alike is None:
            return waiting
        chosen = self.sharing.choice(crew, shared, self.queue.ripe.of(alike.rank[1]))
        if chosen is None:
            return waiting
        return at_once, self._worth_a_wait(crew, chosen) or chosen

    def _worth_a_wait(self, crew: CrewState, task: Task) -> Task | None:
        """Return own tie-ins that rest and for which a crew keeps its machine, None for none.

        It waits where a change of the machine for the work that comes next, and back again for
        the tie-ins, would take longer.
        """
        if crew.machine in {None, self.sized[task.run.run_id].machine.class_id}:
            return None
        resting = self._resting(crew)
        change = MOVES_THERE_AND_BACK * self.job.moves.machine_swap_min
        if resting is None or crew.leaves_before(resting.ready_at):
            return None
        return resting if crew.idle_until(resting.ready_at) <= change else None

    def _begins(self, crew: CrewState, task: Task) -> float:
        """Return when a crew can begin a task: in one of its shifts, and the run not held."""
        now, ready_at = crew.now, task.ready_at
        moment = crew.works_from(ready_at if ready_at > now else now)
        while self.has_holds and moment < math.inf:
            date = crew.roster.holding(moment, crew.shift).date
            free = self.holds.free_from(self.row_of[task.run.run_id], date)
            if free == date:
                break
            moment = crew.works_from(float(free.toordinal() * DAY_MIN))
        return moment

    def _has_machine(self, crew: CrewState, task: Task) -> bool:
        """Return whether a crew may do a task that goes by the machine beside it.

        Work that was left, tie-ins to other pipe among it, and a run of such tie-ins alone go to
        a crew that has a machine of the class at the time. Where no crew has, the crew that left
        the work takes it, and any crew what nobody has begun.
        """
        if task.crew is not None:
            return True
        run, able = self.sized[task.run.run_id], self.crews
        if self.has_holds or self.job.crew_dates:
            able = [one for one in self.crews if self._begins(one, task) < math.inf]
        with_it = [one for one in able if one.machine == run.machine.class_id]
        if with_it:
            return crew in with_it
        there = [one.number for one in able if one.machine]
        left_by = self.left_by.get(run.run_id)
        return left_by not in there or crew.number == left_by

    def _do(self, crew: CrewState, task: Task) -> None:
        """Do a task as far as the crew's time on site and the holds of the run allow."""
        run = self.sized[task.run.run_id]
        if not run.counts.has_work:
            self.queue.strings_done(run.run_id, task.ready_at)
            self.queue.finish(run.run_id, task.ready_at)
            return
        self.stage_of[run.run_id] = task.stage
        try:
            self._arrive(crew, run, task)
            self._do_stages(crew, run, task)
        except StoppedError as stopped:
            self._leave_rest(crew, task.run, stopped)

    def _arrive(self, crew: CrewState, run: SizedRun, task: Task) -> None:
        if not task.was_left:
            crew.wait(run, task.ready_at, task.word)
        elif crew.number != self.left_by[run.run_id] or self._is_held(crew, run.run_id):
            begins = self._room_from(crew, run, task, self._begins(crew, task))
            crew.wait(run, begins - self._minutes_to(crew, run), task.word)
        self.left_by[run.run_id] = crew.number
        self._set_up(crew, run)
        begins = self._room_from(crew, run, task, task.ready_at) if task.was_left else task.ready_at
        crew.wait(run, begins, task.word)

    def _do_stages(self, crew: CrewState, run: SizedRun, task: Task) -> None:
        self._do_stage(crew, run, task.stage)
        for stage in range(task.stage + 1, OUTSIDE_TIE_INS + 1):
            if not self._goes_on(crew, task.run, stage):
                return
            self.stage_of[run.run_id] = stage
            self._do_stage(crew, run, stage)
        self.queue.finish(run.run_id, self._done(crew, run))

    def _leave_rest(self, crew: CrewState, run: Run, stopped: StoppedError) -> None:
        """Leave the rest of a run that is held, or whose crew leaves the site."""
        stage, ready_at = self.stage_of[run.run_id], stopped.moment
        rank = LEFT, ready_at, self.ranks[run.run_id]
        self.queue.add(Task(rank, run, stage, ready_at, run.crew, WAIT))
        if stopped.has_left:
            self.queue.release(crew.number)

    def _goes_on(self, crew: CrewState, run: Run, stage: int) -> bool:
        """Return whether a crew goes on with a stage at once; if not, it is left for later."""
        sized = self.sized[run.run_id]
        if not tie_ins_of(sized.counts, stage):
            return True
        later = self._left(crew, run, stage)
        if stage == OUTSIDE_TIE_INS:
            if self.queue.missing_strings(run):
                self.queue.add_waiting(later)
                return False
            later = self.queue.after_joined(later)
        away = crew.leaves_before(later.ready_at)
        if away or self._pays_to_leave(crew, sized, later.ready_at):
            self.queue.add(later.for_any_crew() if away else later)
            return False
        crew.wait(sized, later.ready_at, later.word)
        return True

    def _left(self, crew: CrewState, run: Run, stage: int) -> Task:
        """Return tie-ins that a crew leaves: those to other pipe for any crew, if none is named."""
        ready_at = self._rested_at(run, stage)
        by = run.crew if stage == OUTSIDE_TIE_INS else crew.number
        return Task((LEFT, ready_at, self.ranks[run.run_id]), run, stage, ready_at, by, REST)

    def _pays_to_leave(self, crew: CrewState, run: SizedRun, moment: float) -> bool:
        """Return whether waiting for a moment costs more than moves to other work and back."""
        idle, moves = crew.idle_until(moment), self.job.moves
        least = MOVES_THERE_AND_BACK * min(moves.machine_move_min, moves.machine_swap_min)
        return idle > least and idle > self._there_and_back_min(crew, run)

    def _there_and_back_min(self, crew: CrewState, run: SizedRun) -> float:
        """Return the minutes of the moves from a run to the next work of its crew and back.

        With the trial fusions that other pipe asks for, here on the return and there again.
        """
        found = self._task_for(crew)
        if found is None or found[0] > crew.now:
            return MOVES_THERE_AND_BACK * self.job.moves.machine_move_min
        other = self.sized[found[1].run.run_id]
        trip = sum(self._moves_min(one.machine.class_id, one.geometry.od_mm, to)
                   for one, to in ((run, other), (other, run)))  # fmt: skip
        counting = self.job.counting
        here, there = (pipe_to_try(counting, one) for one in (run, other))
        if here and (here != there or run.machine.class_id != other.machine.class_id):
            trip += sum(
                test_minutes(self._cycle(crew, one).plain, counting) for one in (run, other)
            )
        return trip

    def _moves_min(self, machine: str, od_mm: float | None, run: SizedRun) -> float:
        """Return the minutes of the moves to a run with a machine set up for other pipe."""
        key = machine, od_mm, run.machine.class_id, run.geometry.od_mm
        known = self.moves_min.get(key)
        if known is None:
            moves = moves_from(self.job.moves, machine, od_mm, run, self.size_change)
            known = self.moves_min[key] = sum(minutes for _, minutes in moves)
        return known

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
        """Do what is left of a stage."""
        left = self._left_of(run, stage)
        while left:
            self._work(crew, run, left)
        if stage == STRING_TIE_INS:
            self.queue.strings_done(run.run_id, self._done(crew, run))

    def _left_of(self, run: SizedRun, stage: int) -> list[Batch]:
        """Return what is left of the work of a stage, in its order."""
        key = run.run_id, stage
        left = self.left_of.get(key)
        if left is None:
            left = self.left_of[key] = [*self._batches(run, stage)]
        return left

    def _batches(self, run: SizedRun, stage: int) -> Iterator[Batch]:
        if stage == STRINGS:
            yield from string_batches(self.job.counting, run.counts)
            yield from standing_batches(run.counts)
            return
        yield from tie_in_batches(self.job.counting, run.counts, stage)
        if stage == STRING_TIE_INS:
            yield from closing_batches(run.counts)

    def _done(self, crew: CrewState, run: SizedRun) -> float:
        """Return when the last piece so far of a run is cool, whoever made it, not before now."""
        return max(crew.now, self.done_at.get(run.run_id, crew.now))

    def _set_up(self, crew: CrewState, run: SizedRun) -> None:
        for name, minutes in set_up_moves(self.job.moves, crew, run, self.size_change):
            crew.spend_over_shifts(run, name, minutes)
        wanted = pipe_to_try(self.job.counting, run)
        if wanted and crew.machine != run.machine.class_id:
            crew.tried = None
        crew.run_id = run.run_id
        crew.machine, crew.od_mm = run.machine.class_id, run.geometry.od_mm
        if wanted is not None and crew.tried != wanted and self._has_butt_joints_left(run):
            self._work(crew, run, [self._test_batch()])
            crew.tried = wanted

    def _has_butt_joints_left(self, run: SizedRun) -> bool:
        """Return whether a run has joints to come that a trial fusion goes before."""
        stages = range(self.stage_of[run.run_id], OUTSIDE_TIE_INS + 1)
        return any(
            batch.field != NO_BUTT_JOINT for stage in stages for batch in self._left_of(run, stage)
        )

    def _test_batch(self) -> Batch:
        counting = self.job.counting
        return Batch(
            TRIAL_FUSION, "test_joints", 1, lambda cycle: alone(test_minutes(cycle.plain, counting))
        )

    def _work(self, crew: CrewState, run: SizedRun, left: list[Batch]) -> None:
        """Make the pieces of the first batch that is left, as many as fit in each shift.

        Between two joints of a string the crew leaves for other strings whose rest ends.

        Raises
        ------
        StoppedError
            Where a hold of the run begins, or the crew leaves; ``left`` then holds the rest.
        """
        batch = left[0]
        may_leave = batch.field in INSIDE_STRINGS and self.queue.has_left(crew.number)
        shift, time = crew.shift, None
        while batch.count:
            if self.has_holds:
                self._must_not_be_held(crew, run)
            called_in = self._called_in(crew, run, batch) if may_leave else math.inf
            if called_in <= TINY:
                self._tie_in_and_return(crew, run)
                may_leave = self.queue.has_left(crew.number)
                continue
            if self.tests_daily and self._needs_daily_test(crew, batch):
                self._daily_test(crew, run)
                continue
            if time is None or crew.shift is not shift:
                shift, time = crew.shift, self.pieces.of(batch, self._cycle(crew, run))
            fit = self.pieces.fit(crew.minutes_left, time)
            if fit == 0:
                crew.next_shift()
                continue
            pieces = min(batch.count, fit)
            if called_in < pieces * time.period_min:
                pieces = math.ceil((called_in - TINY) / time.period_min)
            self._make(crew, run, Work(batch.name, pieces, time.period_min), batch.field, time)
            batch.count -= pieces
        del left[:1]

    def _make(
        self, crew: CrewState, run: SizedRun, work: Work, field: str, time: JointTime
    ) -> None:
        """Make some pieces in the shift in hand."""
        run_id = run.run_id
        in_wrapup = crew.make(run, work, field)
        cooling_on = in_wrapup + time.cycle_min - time.period_min
        left = crew.minutes_left + time.into_wrapup_min
        done_at = crew.now + min(cooling_on, left)
        self.done_at[run_id] = max(done_at, self.done_at.get(run_id, done_at))
        if field in INSIDE_STRINGS or (field == "tie_in_joints" and self.pulled[run_id]):
            self.jointed_at[run_id] = done_at

    def _is_held(self, crew: CrewState, run_id: str) -> bool:
        return self.has_holds and self.holds.on(self.row_of[run_id], crew.shift.date) is not None

    def _must_not_be_held(self, crew: CrewState, run: SizedRun) -> None:
        if self._is_held(crew, run.run_id):
            free = self.holds.free_from(self.row_of[run.run_id], crew.shift.date)
            raise StoppedError(float(free.toordinal() * DAY_MIN))

    def _called_in(self, crew: CrewState, run: SizedRun, batch: Batch) -> float:
        """Return the minutes until a crew leaves the strings in hand for tie-ins that then rested.

        It stays (infinity) where no rest ends in this shift, where the pieces in hand are done
        in this shift, and where no tie-in fits in what would be left of the shift.
        """
        task = self._resting(crew)
        if task is None:
            return math.inf
        time = self.pieces.of(batch, self._cycle(crew, run))
        if self.pieces.fit(crew.minutes_left, time) >= batch.count:
            return math.inf
        other = self.sized[task.run.run_id]
        there = self._minutes_to(crew, other)
        leaves_in = max(0.0, task.ready_at - there - crew.now)
        begins = crew.minutes_left >= crew.shift.working_min - TINY and leaves_in <= TINY
        needed = leaves_in + there + self._cycle(crew, other).tie_in.cycle_min
        return leaves_in if begins or needed <= crew.minutes_left else math.inf

    def _resting(self, crew: CrewState) -> Task | None:
        """Return the first tie-ins of a crew's own strings that wait for nothing but their rest.

        Of those that it can make with the machine that it has.
        """
        found = None
        for task in self.queue.left_for(crew.number):
            if task.word != REST or self.left_by[task.run.run_id] != crew.number:
                continue
            if self.sized[task.run.run_id].machine.class_id != crew.machine:
                continue
            held = self._is_held(crew, task.run.run_id)
            if not held and self._has_machine(crew, task):
                found = task if found is None else min(found, task, key=rank_of)
        return found

    def _tie_in_and_return(self, crew: CrewState, run: SizedRun) -> None:
        task = self._resting(crew)
        if task is None:
            return
        shift, moment = crew.shift, crew.now
        self.queue.take(task)
        self._do(crew, task)
        if crew.roster.leaves_between(shift, crew.shift):
            raise StoppedError(moment, has_left=True)
        self._set_up(crew, run)

    def _cycle(self, crew: CrewState, run: SizedRun) -> RunCycle:
        row = self.row_of[run.run_id]
        cycle = crew.cycles.get(row)
        if cycle is None:
            shift = crew.shift
            cycle = self.cycle_on(row, shift.date, shift.name, crew.number)
            crew.cycles[row] = cycle
        return cycle

    def _needs_daily_test(self, crew: CrewState, batch: Batch) -> bool:
        if batch.field == NO_BUTT_JOINT:
            return False
        done = crew.today
        return not done or not any(["test_joints" in tally.counts for tally in done.values()])

    def _daily_test(self, crew: CrewState, run: SizedRun) -> None:
        """Make the test joint of the day, or begin the next shift where it does not fit."""
        minutes = test_minutes(self._cycle(crew, run).plain, self.job.counting)
        if crew.minutes_left < minutes:
            crew.next_shift()
            return
        crew.make(run, Work(TRIAL_FUSION, 1, minutes), "test_joints")


def lay_out(
    job: Job,
    sized: Sequence[SizedRun],
    cycle_on: CycleOn,
    progress: Progress | None = None,
    places: Places = NO_PLACES,
    *,
    paid: bool = True,
) -> Plan:
    """Return the plan of the job by shifts.

    Parameters
    ----------
    job : Job
        The job with its calendar, shifts and crews.
    sized : sequence of SizedRun
        The counted runs, one for each run of the job.
    cycle_on : callable
        Gives the times of a run's joints in a shift of a date, by the ambient of its month and
        the machines of a crew.
    progress : callable, optional
        Called with (runs begun, all runs).
    places : Places, optional
        Where the inputs stand.
    paid : bool
        Whether the plan has the shifts that the crews are paid, too.

    Raises
    ------
    InputError
        If the crews leave before all runs are finished.
    """
    planner = Planner(job, sized, cycle_on, progress, places)
    try:
        return planner.plan(paid=paid)
    finally:  # It asks its planner: a circle, which would keep both until a search for garbage.
        del planner.sharing
