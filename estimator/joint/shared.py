"""What the plans of one job and of its changed copies take over from each other."""

from collections.abc import Hashable, Sequence

from estimator.joint.known_joints import KnownJoints
from estimator.joint.sizing import Sizer
from estimator.models.job import Job
from estimator.models.places import Places


class Shared:
    """The sizers of one study, each found by all that sizing reads of a job.

    So a job with other weather, crews or prices is not sized anew, and one with other times
    keeps the fusion parameters and machine choices of its pipes.

    Parameters
    ----------
    places : Places
        Where the inputs stand in the workbook of the study.
    """

    def __init__(self, places: Places) -> None:
        self.places, self._known = places, KnownJoints()
        self._sizers: dict[Hashable, Sizer] = {}
        self.sound: dict[tuple[str, str], Sequence[object]] = {}
        """Values found within their limits, by table and key: those of the last job that was
        looked at, so that another one with the same ones is not looked at again."""

    def sizer(self, job: Job) -> Sizer:
        """Return the sizer of a job: the same for every job that is the same to sizing."""
        key = sizing_key(job)
        if key not in self._sizers:
            self._sizers[key] = Sizer(job, self.places, self._known)
        return self._sizers[key]


def sizing_key(job: Job) -> Hashable:
    """Return all that sizing reads of a job.

    Runs count as the same only where they are one object, which the sizer keeps alive: to compare
    thousands of them takes longer than it saves.
    """
    ambient = tuple((row.month, row.ambient_c) for row in job.weather)
    return (
        id(job.runs), job.counting, job.fusion, job.shift, job.overtime, job.crew_dates, job.site,
        ambient, job.dates.start, job.cover.unit_system, job.resources.machines_per_crew,
        job.machines, job.crew, job.size_bands, job.task_times, job.cold_factors,
    )  # fmt: skip
