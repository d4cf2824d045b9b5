"""Pieces of work of a run, in stages; and which runs may start, which still wait for others."""

import math
from bisect import bisect_left, insort
from collections import ChainMap, defaultdict
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from functools import partial
from heapq import heappop, heappush, merge
from typing import NamedTuple

from estimator.joint.butt_kinds import FITTING, REWORK, SMALL_END, STICK, TIE_IN, ButtKind, alone
from estimator.models.job import Run
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import AFTER_TIE_INS, ON_STRINGS, Connection
from estimator.models.sized_run import JointCount, JointTime, RunCycle
from estimator.plan.units import row_of
from estimator.units import DAY_MIN

STRINGS, STRING_TIE_INS, OUTSIDE_TIE_INS = 0, 1, 2
"""Stages of a run: its strings; joints between them; joints to other pipe."""
AT_ONCE = -math.inf
TRIAL_FUSION = "trial fusion"
REST = "cooling rest"
"""What tie-ins wait for that wait for their own strings alone."""
WAIT = "waiting"
"""What work waits with for a date or the end of a hold; for a run, its name comes after."""
LEFT, NEW = 0, 1
"""Work that was left, such as tie-ins, comes before new runs."""


class Batch:
    """Equal pieces of work on one run, each of which fits inside one shift.

    ``time`` gives the times of one piece from those of the shift in which it is made; ``field``
    counts the pieces on the line of the plan. ``count`` goes down as they are made.
    """

    __slots__ = ("count", "field", "name", "time")

    def __init__(
        self, name: str, field: str, count: int, time: Callable[[RunCycle], JointTime]
    ) -> None:
        self.name, self.field, self.count, self.time = name, field, count, time


def _butt_batch(counting: CountingInputs, kind: ButtKind, number: int) -> Batch:
    return Batch(kind.name, kind.field, number, lambda cycle: kind.time(cycle, counting))


def string_batches(counting: CountingInputs, count: JointCount) -> Iterator[Batch]:
    """Yield the joints inside the strings of a run: between sticks, at fittings, rework."""
    for kind in (STICK, FITTING, SMALL_END, REWORK):
        if number := kind.number(count):
            yield _butt_batch(counting, kind, number)


def standing_batches(count: JointCount) -> Iterator[Batch]:
    """Yield the connections that can be made on strings at rest."""
    return _connection_batches(count, ON_STRINGS)


def closing_batches(count: JointCount) -> Iterator[Batch]:
    """Yield the connections that are made when the strings are tied together."""
    return _connection_batches(count, AFTER_TIE_INS)


def _connection_batches(count: JointCount, kinds: Iterable[Connection]) -> Iterator[Batch]:
    for kind in kinds:
        if number := count.others[kind.key]:
            yield Batch(kind.work, "other_joints", number, partial(_connection_time, kind.key))


def _connection_time(key: str, cycle: RunCycle) -> JointTime:
    return alone(cycle.other_min[key])


def tie_ins_of(count: JointCount, stage: int) -> int:
    """Return the tie-ins of one stage: between strings, or to pipe outside the run."""
    outside = count.outside_tie_ins
    return outside if stage == OUTSIDE_TIE_INS else TIE_IN.number(count) - outside


def tie_in_batches(counting: CountingInputs, count: JointCount, stage: int) -> Iterator[Batch]:
    """Yield the tie-ins of one stage, where there are any."""
    if number := tie_ins_of(count, stage):
        yield _butt_batch(counting, TIE_IN, number)


class Task(NamedTuple):
    """A run, or the stages of it that were left for later, with the moment it may begin.

    Tie-ins that were left come before new runs; no two tasks have the same rank. ``crew`` is the
    only crew that may do it, None for any.
    """

    rank: tuple[int, float, int]
    run: Run
    stage: int
    ready_at: float
    crew: int | None
    word: str

    @property
    def was_left(self) -> bool:
        """Whether a crew has begun the run and left this of it for later."""
        return self.rank[0] == LEFT

    def for_any_crew(self) -> "Task":
        """Return the task for any crew, if the schedule names none."""
        return self._replace(crew=self.run.crew)


Pipe = tuple[str, float]
"""Machine class and outside diameter [mm]."""


class Alike:
    """Runs of one pipe and priority, by rank, and the milliseconds of work on all of them."""

    __slots__ = ("left_ms", "tasks")

    def __init__(self) -> None:
        self.tasks: list[Task] = []
        self.left_ms = 0


class RipeRuns:
    """Runs that crews share and that each crew may begin at once, by priority and by pipe."""

    def __init__(self, pipe_of: Mapping[str, Pipe], work_ms: Mapping[str, int]) -> None:
        self._pipe_of, self._work_ms = pipe_of, work_ms
        self._levels: dict[float, dict[Pipe, Alike]] = {}
        self._priorities: list[float] = []

    def __bool__(self) -> bool:
        return bool(self._levels)

    def __iter__(self) -> Iterator[Task]:
        for level in self._levels.values():
            for alike in level.values():
                yield from alike.tasks

    def of(self, priority: float) -> Mapping[Pipe, Alike]:
        """Return the runs of a priority."""
        return self._levels.get(priority, {})

    def first(self) -> Task | None:
        """Return the first by rank, None for none."""
        if not self._priorities:
            return None
        return min((one.tasks[0] for one in self.of(self._priorities[0]).values()), key=rank_of)

    def add(self, task: Task) -> None:
        """Add a run."""
        name, priority = task.run.run_id, task.rank[1]
        if priority not in self._levels:
            self._levels[priority] = {}
            insort(self._priorities, priority)
        alike = self._levels[priority].setdefault(self._pipe_of[name], Alike())
        insort(alike.tasks, task, key=rank_of)
        alike.left_ms += self._work_ms[name]

    def take(self, task: Task) -> bool:
        """Take a run out; return whether it was here."""
        name, priority = task.run.run_id, task.rank[1]
        level = self._levels.get(priority, {})
        alike = level.get(self._pipe_of[name])
        if task.rank[0] == LEFT or alike is None or not _taken(alike.tasks, task):
            return False
        alike.left_ms -= self._work_ms[name]
        if not alike.tasks:
            del level[self._pipe_of[name]]
        if not level:
            del self._levels[priority]
            self._priorities.remove(priority)
        return True


def _taken(tasks: list[Task], task: Task) -> bool:
    """Take a task out of some in order of rank; return whether it was among them."""
    at = bisect_left(tasks, task.rank, key=rank_of)
    if at == len(tasks) or tasks[at] is not task:
        return False
    del tasks[at]
    return True


class TaskQueue:
    """Tasks that may begin, and runs and tie-ins that wait for other runs.

    A run waits until every run that it follows is finished; tie-ins wait until the strings of
    the runs that they join are there. Tie-ins that wait for a run hold up no run that would
    hold up that one: where nothing else is left, a run follows strings whose tie-ins are still
    to come. The runs come in the order of their names.
    """

    def __init__(
        self,
        runs: Sequence[Run],
        ripe: RipeRuns | None = None,
        may_ripen: Container[str] = (),
    ) -> None:
        self.ripe = RipeRuns({}, {}) if ripe is None else ripe
        self._may_ripen = may_ripen
        self._to_ripen: list[tuple[float, tuple[int, float, int], Task]] = []
        known = {run.run_id for run in runs}
        self._ready: dict[int | None, list[Task]] = defaultdict(list)
        self.strings_at: dict[str, float] = {}
        self._finished_at: dict[str, float] = {}
        self._blocked: dict[str, Task] = {}
        self._unmet: dict[str, set[str]] = {}
        self._followers: dict[str, list[str]] = defaultdict(list)
        self._unjoined: dict[str, tuple[Task, set[str]]] = {}
        self._joining: dict[str, list[str]] = defaultdict(list)
        for i, run in enumerate(runs):
            self._add_run(Task((NEW, run.priority or math.inf, i), run, STRINGS,
                               start_of(run), run.crew, WAIT), known)  # fmt: skip
        for tasks in self._ready.values():
            tasks.sort(key=rank_of)
        for task in self._ready.get(None, ()):
            self._note(task)

    def __bool__(self) -> bool:
        return self.any_ready() or bool(self._blocked or self._unjoined)

    def any_ready(self) -> bool:
        """Return whether there is work that waits for no other run."""
        return bool(self.ripe) or any(self._ready.values())

    def ripen(self, moment: float) -> None:
        """Note that each crew stands at a moment or later: shared runs before it are ripe."""
        waiting = self._to_ripen
        while waiting and waiting[0][0] <= moment:
            task = heappop(waiting)[2]
            if _taken(self._ready[None], task):
                self.ripe.add(task)

    def _note(self, task: Task) -> None:
        """Note a shared run that is ripe later."""
        if task.crew is None and not task.was_left and task.run.run_id in self._may_ripen:
            heappush(self._to_ripen, (task.ready_at, task.rank, task))

    def ready_for(self, crew: int) -> Iterator[Task]:
        """Yield work that a crew may do and that waits for no other run, by rank; no ripe runs."""
        shared, own = self._ready.get(None, ()), self._ready.get(crew, ())
        return merge(shared, own, key=rank_of) if shared and own else iter(shared or own)

    def all_ready(self) -> list[Task]:
        """Return all work that waits for no other run."""
        return [*self.ripe, *(task for tasks in self._ready.values() for task in tasks)]

    def release(self, crew: int) -> None:
        """Give what a crew has left to any crew, where the schedule names none."""
        for task in self._released(crew):
            self.take(task)
            self.add(task.for_any_crew())

    def _released(self, crew: int) -> list[Task]:
        tasks = self._ready.get(crew, ())
        return [task for task in tasks if task.was_left and task.run.crew is None]

    def release_all(self) -> bool:
        """Give what any crew has left to any crew; return whether there was any."""
        held = [c for c in self._ready if c is not None and self._released(c)]
        for crew in held:
            self.release(crew)
        return bool(held)

    def has_left(self, crew: int) -> bool:
        """Return whether there is work that was left and that a crew may do."""
        shared, own = self._ready.get(None), self._ready.get(crew)
        return bool((shared and shared[0].rank[0] == LEFT) or (own and own[0].rank[0] == LEFT))

    def left_for(self, crew: int) -> Iterator[Task]:
        """Yield the work that was left and that a crew may do."""
        for key in (None, crew):
            for task in self._ready.get(key, ()):
                if task.rank[0] != LEFT:
                    break
                yield task

    def take(self, task: Task) -> None:
        """Take out work that is done now."""
        if task.crew is not None or not self.ripe.take(task):
            _taken(self._ready[task.crew], task)

    def add(self, task: Task) -> None:
        """Add tie-ins that may begin at a known moment."""
        insort(self._ready[task.crew], task, key=rank_of)
        self._note(task)

    def add_waiting(self, task: Task) -> None:
        """Add tie-ins that may begin when the strings of the joined runs are there."""
        missing = self.missing_strings(task.run)
        self._unjoined[task.run.run_id] = task, missing
        for name in missing:
            self._joining[name].append(task.run.run_id)

    def missing_strings(self, run: Run) -> set[str]:
        """Return the joined runs whose strings are not there yet."""
        return {n for n in run.joined_runs if n not in self.strings_at} - {run.run_id}

    def after_joined(self, task: Task) -> Task:
        """Return tie-ins whose joined runs are all there, not before the last of them."""
        others = [name for name in task.run.joined_runs if name != task.run.run_id]
        return _later(task, others, self.strings_at)

    def strings_done(self, run_id: str, moment: float) -> None:
        """Note that the strings of a run are there; tie-ins to them may begin."""
        self.strings_at[run_id] = moment
        for waiting in self._joining.pop(run_id, ()):
            task, missing = self._unjoined[waiting]
            missing.discard(run_id)
            if not missing:
                del self._unjoined[waiting]
                self.add(self.after_joined(task))

    def finish(self, run_id: str, moment: float) -> None:
        """Note that a run is finished; runs that follow it may begin."""
        self._finished_at[run_id] = moment
        for follower in self._followers[run_id]:
            self._unmet[follower].discard(run_id)
            if not self._unmet[follower] and follower in self._blocked:
                self._release(follower)

    def break_deadlock(self) -> None:
        """Where nothing may begin, let a run follow runs whose strings are there.

        Raises
        ------
        ValueError
            If runs follow each other in a circle.
        """
        for run_id in self._blocked:
            if self._unmet[run_id] <= self.strings_at.keys():
                self._release(run_id)
                return
        message = f"These runs wait for each other: {', '.join(self._blocked)}"
        raise ValueError(message)

    def _add_run(self, task: Task, known: set[str]) -> None:
        run = task.run
        unknown = {*run.followed_runs, *run.joined_runs} - known
        if unknown:
            message = (
                f"Run {run.run_id} starts after runs that do not exist: "
                f"{', '.join(sorted(unknown))}"
            )
            raise ValueError(message)
        if not run.followed_runs:
            self._ready[task.crew].append(task)
            return
        self._blocked[run.run_id] = task
        self._unmet[run.run_id] = set(run.followed_runs)
        for before in self._unmet[run.run_id]:
            self._followers[before].append(run.run_id)

    def _release(self, run_id: str) -> None:
        """Let a run begin after the runs it follows, or their strings where they wait for it."""
        task = self._blocked.pop(run_id)
        done = ChainMap(self._finished_at, self.strings_at)
        self.add(_later(task, task.run.followed_runs, done))


def rank_of(task: Task) -> tuple[int, float, int]:
    """Return by what tasks are put in order."""
    return task.rank


def start_of(run: Run) -> float:
    """Return the first minute of a run's earliest start."""
    return AT_ONCE if run.earliest_start is None else run.earliest_start.toordinal() * DAY_MIN


def waiting_on(name: str) -> str:
    """Return the word of a wait on a run, or on a segment of one.

    >>> waiting_on("R4")
    'waiting on R4'
    """
    return f"{WAIT} on {row_of(name)}"


def _later(task: Task, runs: Sequence[str], moments: Mapping[str, float]) -> Task:
    """Return the task not before the moments of some runs; the last one is what it waits on."""
    last = max(runs, key=moments.__getitem__, default=None)
    if last is None or moments[last] <= task.ready_at:
        return task
    return Task(task.rank, task.run, task.stage, moments[last], task.crew, waiting_on(last))
