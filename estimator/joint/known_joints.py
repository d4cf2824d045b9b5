"""Fusion parameters and machine choices worked out so far, each found by what it rests on."""

from estimator.joint.machines import Demand
from estimator.models.equipment import Machine
from estimator.models.job import Job
from estimator.models.job_inputs import FusionInputs
from estimator.models.joint import FusionParameters
from estimator.models.sized_run import MachineChoice

FusionKey = tuple[float, float, float]
"""Diameter, wall and ambient."""
MachineKey = tuple[float, float, float, str, str | None, str | None]
"""Diameter, wall, ambient, placement, and the classes that the schedule and the fleet give."""
Asked = tuple[tuple[Machine, ...], FusionInputs, Demand]


class KnownJoints:
    """Tables that any number of jobs may fill and read.

    No job can get what another one left there unless both ask the same.
    """

    def __init__(self) -> None:
        self._fusions: dict[FusionInputs, dict[FusionKey, FusionParameters]] = {}
        self._choices: dict[Asked, dict[MachineKey, MachineChoice]] = {}

    def fusions(self, job: Job) -> dict[FusionKey, FusionParameters]:
        """Return the fusion parameters by pipe, for the method and own figures of a job."""
        return self._fusions.setdefault(job.fusion, {})

    def choices(self, job: Job) -> dict[MachineKey, MachineChoice]:
        """Return the machine choices by pipe, for the classes and demands of a job."""
        return self._choices.setdefault((job.machines, job.fusion, Demand.of(job)), {})
