"""Past jobs teach the next bid: crew-paced times by size, with how many joints and what spread.

Nothing is taken by itself: a suggestion stands beside the present time, and the estimator takes or
leaves it.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.display import counted
from estimator.models.bands import BANDS, Band
from estimator.models.baseline import Baseline
from estimator.models.crew import TaskTime
from estimator.models.job import Job
from estimator.models.kinds import BUTT_JOINT
from estimator.models.past_jobs import PastJob
from estimator.progress.made import MadeWork
from estimator.progress.observed import paces

TENTH = 1.2816
"""Standard deviations from the mean to 10 and 90 % of a normal distribution."""


class PastTime(NamedTuple):
    """Crew-paced minutes of a joint before efficiency, seen on some joints of a past job."""

    job: str
    band: Band
    joints: int
    minutes: float


@dataclass(frozen=True)
class Suggestion:
    """What past jobs say of one size band; minutes are before efficiency.

    ``low`` and ``high`` are the times between which 8 of 10 days or jobs lie; None where there is
    one observation only.
    """

    band: Band
    jobs: tuple[str, ...]
    joints: int
    observations: int
    present_min: float
    suggested_min: float
    low_min: float | None
    high_min: float | None

    @property
    def factor(self) -> float:
        """Suggested over present time."""
        return self.suggested_min / self.present_min

    @property
    def basis(self) -> str:
        """What Basis says once it is taken."""
        return f"size {self.band}: own records, {counted(self.joints, 'joint')}"


def crew_task_minutes(task_times: Sequence[TaskTime], band: Band) -> float:
    """Return the minutes of the crew-paced tasks of a butt joint, before efficiency."""
    return sum(task.minutes(band) for task in crew_butt_tasks(task_times))


def crew_butt_tasks(task_times: Sequence[TaskTime]) -> list[TaskTime]:
    """Return the crew-paced tasks of a butt joint."""
    return [
        task for task in task_times if task.applies_to == BUTT_JOINT and task.paced_by == "crew"
    ]


def of_closed_job(
    name: str, job: Job, baseline: Baseline, made: MadeWork, efficiency: float
) -> Iterator[PastTime]:
    """Yield what the site records of a job say, day by day and size by size.

    ``efficiency`` is that of the next job, by which its times are divided.
    """
    for day in paces(made, baseline, job):
        band = next(band for band in BANDS if band == day.size)
        minutes = (
            crew_task_minutes(job.task_times, band) * day.factor * efficiency / job.shift.efficiency
        )
        yield PastTime(name, band, day.joints, minutes)


def of_table(rows: Iterable[PastJob], efficiency: float) -> Iterator[PastTime]:
    """Yield what the table of past jobs says; clocked minutes hold the lost ones, tasks do not."""
    for row in rows:
        yield PastTime(row.job, row.band, row.joints, row.crew_min * efficiency)


def suggestions(
    task_times: Sequence[TaskTime], times: Sequence[PastTime]
) -> tuple[Suggestion, ...]:
    """Return a suggestion for each size band that past jobs have and the tasks have a time for.

    The suggested time is the mean of logarithms, weighed by joints; the spread is that of the
    observations around it.
    """
    by_band: dict[Band, list[PastTime]] = defaultdict(list)
    for time in times:
        by_band[time.band].append(time)
    return tuple(
        _suggestion(band, by_band[band], present)
        for band in BANDS
        if by_band[band] and (present := crew_task_minutes(task_times, band)) > 0
    )


def _suggestion(band: Band, times: Sequence[PastTime], present: float) -> Suggestion:
    joints = sum(time.joints for time in times)
    logs = [(time.joints / joints, math.log(time.minutes)) for time in times]
    mean = sum(weight * log for weight, log in logs)
    low = high = None
    if len(times) > 1:
        left = 1 - sum(weight**2 for weight, _ in logs)
        variance = sum(weight * (log - mean) ** 2 for weight, log in logs) / left
        low, high = (math.exp(mean + sign * TENTH * math.sqrt(variance)) for sign in (-1, 1))
    return Suggestion(
        band=band,
        jobs=tuple(dict.fromkeys(time.job for time in times)),
        joints=joints,
        observations=len(times),
        present_min=present,
        suggested_min=math.exp(mean),
        low_min=low,
        high_min=high,
    )
