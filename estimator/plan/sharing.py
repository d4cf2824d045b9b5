"""Which of the runs that crews share a free crew takes, so that machines change seldom."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence

from estimator.models.sized_run import SizedRun
from estimator.plan.crews import CrewState
from estimator.plan.tasks import Task

WORTH_A_CHANGE = 0.5
"""Part of the time of a change-out by which it must bring the work forward."""

Pipe = tuple[str, float]
"""Machine class and outside diameter [mm]."""
ThereAt = Callable[[CrewState, Task], tuple[float, float]]
"""Gives when a crew can be at work, its moves made, and the minutes of these."""


class Alike:
    """Runs of one pipe that may begin: the first of them, and the minutes of work on all."""

    __slots__ = ("first", "work_min")

    def __init__(self, first: Task) -> None:
        self.first, self.work_min = first, 0.0


class Sharing:
    """Chooses among runs that rank alike and that no crew is named for.

    A crew goes on with its pipe, else with its machine. One that brings or changes a machine, or
    sets it up for other pipe, goes where most work is left for each crew: first by class, then by
    diameter. It leaves runs to a crew that has their machine, unless it can be at work there
    earlier by more than half of a change-out.
    """

    def __init__(
        self,
        crews: Sequence[CrewState],
        sized: Mapping[str, SizedRun],
        there_at: ThereAt,
        change_min: float,
    ) -> None:
        self.crews, self.sized, self.there_at = crews, sized, there_at
        self.gain_min = WORTH_A_CHANGE * change_min

    def among(self, task: Task) -> bool:
        """Return whether a task is a run that any of several crews may begin."""
        return task.crew is None and not task.was_left and len(self.crews) > 1

    def pipe_of(self, task: Task) -> Pipe:
        """Return the machine class and diameter of a run."""
        run = self.sized[task.run.run_id]
        return run.machine.class_id, run.geometry.od_mm

    def choice(self, crew: CrewState, tasks: Sequence[Task]) -> Task | None:
        """Return the run that a crew takes, of some in their order; None to leave all."""
        by_pipe: dict[Pipe, Alike] = {}
        for task in tasks:
            pipe = self.pipe_of(task)
            alike = by_pipe.get(pipe)
            if alike is None:
                alike = by_pipe[pipe] = Alike(task)
            alike.work_min += self._work_min(task)
        work_min: dict[str, float] = defaultdict(float)
        for (class_id, _), alike in by_pipe.items():
            work_min[class_id] += alike.work_min
        open_to = [
            pipe for pipe, alike in by_pipe.items() if not self._is_left(crew, pipe, alike.first)
        ]
        if not open_to:
            return None

        def rank(pipe: Pipe) -> tuple[bool, bool, float, float]:
            class_id, od_mm = pipe
            on_class = [one for one in self.crews if one is not crew and one.machine == class_id]
            on_pipe = sum(one.od_mm == od_mm for one in on_class)
            return (
                class_id != crew.machine,
                od_mm != crew.od_mm,
                -work_min[class_id] / (len(on_class) + 1),
                -by_pipe[pipe].work_min / (on_pipe + 1),
            )

        return by_pipe[min(open_to, key=rank)].first

    def _work_min(self, task: Task) -> float:
        """Return about how long the joints of a run take, one after the other."""
        run = self.sized[task.run.run_id]
        joints = run.counts.butt_joints + run.counts.rework_joints
        return joints * run.timing.cycle.plain.cycle_min

    def _is_left(self, crew: CrewState, pipe: Pipe, task: Task) -> bool:
        """Return whether a crew leaves a run to one that has its machine."""
        class_id, _ = pipe
        if crew.machine in {None, class_id}:
            return False
        there, _ = self.there_at(crew, task)
        return any(
            crew.works_between(there, self.there_at(one, task)[0], self.gain_min) <= self.gain_min
            for one in self.crews
            if one.machine == class_id and not one.is_gone
        )
