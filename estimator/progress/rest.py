"""The rest of a job from a status date on, as a job that the planner can lay out."""

import datetime as dt
from collections.abc import Mapping

from estimator.models.bands import BANDS, Band
from estimator.models.crew import TaskTime
from estimator.models.job import DoneRun, Job, Run
from estimator.models.kinds import BUTT_JOINT
from estimator.progress.made import MadeWork

FIRST = 1
"""Priority of runs under way: they go on before others begin, which move back by one."""


def rest_of(job: Job, made: MadeWork) -> Job:
    """Return the job without what is made, from the day after the status date.

    Crews, machines, crew dates and holds are those of the job as it is now. Rejects that are not
    replaced yet are made again, joints on hold are taken to pass. Runs under way go on first;
    sections that passed their hydrotest are not tested again.

    Parameters
    ----------
    job : Job
        The job as it is now, with the machine classes that were chosen for it.
    made : MadeWork
        What was made up to the status date.
    """
    passed = {name.casefold() for name in made.tests_passed}
    not_left = made.not_left
    runs = tuple(_rest_of_run(run, begun=run.run_id in not_left, passed=passed) for run in job.runs)
    done = tuple(DoneRun(run_id=run_id, pieces=dict(pieces)) for run_id, pieces in not_left.items())
    return job.changed(start=made.status + dt.timedelta(1)).model_copy(
        update={"runs": runs, "done": done}
    )


def _rest_of_run(run: Run, *, begun: bool, passed: set[str]) -> Run:
    changed: dict[str, object] = {}
    if begun:
        changed["priority"] = FIRST
    elif run.priority is not None:
        changed["priority"] = run.priority + 1
    if run.test_section is not None and run.test_section.casefold() in passed:
        changed["test_section"] = None
    return run.model_copy(update=changed) if changed else run


def at_pace(job: Job, pace_of: Mapping[Band, float], job_pace: float) -> Job:
    """Return the job with its crew-paced times at a learned pace, size by size.

    Crew-paced tasks of butt joints and size changes take the pace of their size, moves and the
    extra time of trial fusions and rework that of the job. Machine-paced time and connections
    stay: nothing shows their pace.
    """
    tasks = tuple(
        _task_at_pace(task, pace_of)
        if task.paced_by == "crew" and task.applies_to == BUTT_JOINT
        else task
        for task in job.task_times
    )
    bands = tuple(
        band.model_copy(
            update={"size_change_min": band.size_change_min * pace_of.get(band.band, job_pace)}
        )
        for band in job.size_bands
    )
    moved = {
        key: job.input(key) * job_pace
        for key in ("machine_move_min", "machine_swap_min", "test_joint_extra_min",
                    "rework_extra_min")
    }  # fmt: skip
    return job.changed(**moved).model_copy(update={"task_times": tasks, "size_bands": bands})


def _task_at_pace(task: TaskTime, pace_of: Mapping[Band, float]) -> TaskTime:
    minutes = {f"min_{band.lower()}": task.minutes(band) * pace_of[band] for band in BANDS}
    return task.model_copy(update=minutes)
