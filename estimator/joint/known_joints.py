"""What jobs have worked out so far of their joints, each found by all that it rests on."""

from collections.abc import Hashable, Sequence
from typing import NamedTuple

from estimator.joint.cycle import KnownHandWork
from estimator.joint.machines import Demand
from estimator.joint.takeoff import count_job, count_joints
from estimator.models.equipment import Machine
from estimator.models.job import Job, Run
from estimator.models.job_inputs import CountingInputs, FusionInputs
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.sized_run import JointCount, MachineChoice, RunCycle

FusionKey = tuple[float, float, float]
"""Diameter, wall and ambient."""
PipeKey = tuple[str, str, float, str]
"""System, size, ratio and material."""
MachineKey = tuple[float, float, float, str, str | None, str | None]
"""Diameter, wall, ambient, placement, and the classes that the schedule and the fleet give."""
TimesKey = tuple[float, float, float, float, float, float, float]
"""Diameter, soak, cooling, cold and access factor, and efficiency and hours of the shift."""
Asked = tuple[tuple[Machine, ...], FusionInputs, Demand]


class KnownTimes(NamedTuple):
    """Times of the joints of a run, and of the work by hand in them."""

    of_runs: dict[TimesKey, RunCycle]
    by_hand: KnownHandWork


class KnownJoints:
    """Tables that any number of jobs may fill and read.

    No job can get what another one left there unless both ask the same.
    """

    def __init__(self) -> None:
        self._fusions: dict[FusionInputs, dict[FusionKey, FusionParameters]] = {}
        self._choices: dict[Asked, dict[MachineKey, MachineChoice]] = {}
        self._times: dict[Hashable, KnownTimes] = {}
        self.geometries: dict[PipeKey, PipeGeometry] = {}
        self._runs: dict[tuple[int, str], tuple[Run, JointCount]] = {}
        self._jobs: dict[tuple[int, CountingInputs], tuple[Sequence[Run], list[JointCount]]] = {}

    def counts(self, job: Job) -> list[JointCount]:
        """Return the joints of every run of a job, for its rules of counting.

        Runs count as the same only where they are one object, which is kept alive here.
        """
        key = id(job.runs), job.counting
        if key not in self._jobs:
            self._jobs[key] = job.runs, count_job(job.runs, job.counting, self._count)
        return self._jobs[key][1]

    def _count(self, run: Run, fitting_rule: str) -> JointCount:
        key = id(run), fitting_rule
        if key not in self._runs:
            self._runs[key] = run, count_joints(run, fitting_rule)
        return self._runs[key][1]

    def fusions(self, asked: FusionInputs) -> dict[FusionKey, FusionParameters]:
        """Return the fusion parameters by pipe, for the method and own figures asked for."""
        return self._fusions.setdefault(asked, {})

    def times(self, job: Job) -> KnownTimes:
        """Return times by pipe, cold, access and shift, for all else that ``time_run`` reads."""
        rests_on = (
            job.task_times, job.size_bands, job.shift, job.counting,
            job.resources.machines_per_crew,
        )  # fmt: skip
        return self._times.setdefault(rests_on, KnownTimes({}, {}))

    def choices(self, job: Job) -> dict[MachineKey, MachineChoice]:
        """Return the machine choices by pipe, for the classes and demands of a job."""
        return self._choices.setdefault((job.machines, job.fusion, Demand.of(job)), {})
