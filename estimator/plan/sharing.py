"""Which of the runs that crews share a free crew takes, so that machines change seldom."""

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence

from estimator.models.sized_run import SizedRun
from estimator.plan.crews import CrewState
from estimator.plan.tasks import Alike, Pipe, Task, rank_of
from estimator.units import MIN_S, S_MS

WORTH_A_CHANGE = 0.5
"""Part of the time of a change-out by which it must bring the work forward."""

ThereAt = Callable[[CrewState, Task], tuple[float, float]]
"""Gives when a crew can be at work, its moves made, and the minutes of these."""


def joints_min(run: SizedRun) -> float:
    """Return about how long the joints of a run take, one after the other."""
    joints = run.counts.butt_joints + run.counts.rework_joints
    return joints * run.timing.cycle.plain.cycle_min


class Sharing:
    """Chooses among runs that rank alike and that no crew is named for.

    A crew goes on with its pipe, else with its machine. One that brings or changes a machine, or
    sets it up for other pipe, goes where most work is left for each crew: first by class, then by
    diameter. It leaves runs to a crew that has their machine, unless it can be at work there
    earlier by more than half of a change-out.

    Not all crews can leave what there is: one that is left a run can get there, so it takes that,
    waits for it, or is at work of a lower priority number, which cannot fall from crew to crew for
    ever.
    """

    def __init__(
        self,
        crews: Sequence[CrewState],
        sized: Mapping[str, SizedRun],
        there_at: ThereAt,
        change_min: float,
    ) -> None:
        self.crews, self.there_at = crews, there_at
        self.gain_min = WORTH_A_CHANGE * change_min
        self.pipe_of = {name: (run.machine.class_id, run.geometry.od_mm)
                        for name, run in sized.items()}  # fmt: skip
        self.work_ms = {name: round(joints_min(run) * MIN_S * S_MS) for name, run in sized.items()}

    def choice(
        self, crew: CrewState, tasks: Sequence[Task], ripe: Mapping[Pipe, Alike]
    ) -> Task | None:
        """Return the run that a crew takes, of some in their order and ripe ones; None for none."""
        first: dict[Pipe, Task] = {}
        left_ms: dict[Pipe | str, int] = defaultdict(int)
        for task in tasks:
            name = task.run.run_id
            pipe = self.pipe_of[name]
            first.setdefault(pipe, task)
            left_ms[pipe] += self.work_ms[name]
        for pipe, alike in ripe.items():
            first[pipe] = min(first.get(pipe, alike.tasks[0]), alike.tasks[0], key=rank_of)
            left_ms[pipe] += alike.left_ms
        for pipe in first:
            left_ms[pipe[0]] += left_ms[pipe]

        def rank(pipe: Pipe) -> tuple[bool, bool, float, float, int]:
            class_id, od_mm = pipe
            on_class = [one for one in self.crews if one is not crew and one.machine == class_id]
            on_pipe = sum(one.od_mm == od_mm for one in on_class)
            return (
                class_id != crew.machine,
                od_mm != crew.od_mm,
                -left_ms[class_id] / (len(on_class) + 1),
                -left_ms[pipe] / (on_pipe + 1),
                first[pipe].rank[-1],
            )

        mine = [pipe for pipe, task in first.items() if not self._is_left(crew, pipe[0], task)]
        return first[min(mine, key=rank)] if mine else None

    def _is_left(self, crew: CrewState, class_id: str, task: Task) -> bool:
        """Return whether a crew leaves a run to one that has a machine of its class."""
        if crew.machine in {None, class_id}:
            return False
        there, _ = self.there_at(crew, task)
        others = [self.there_at(one, task)[0] for one in self.crews if one.machine == class_id]
        return any(
            moment <= there or crew.works_between(there, moment, self.gain_min) <= self.gain_min
            for moment in others
            if moment < math.inf
        )
