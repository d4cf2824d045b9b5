"""A site that is simulated day by day, knowing nothing of the planner: the truth of a forecast.

One crew joins runs of three sizes one after the other. Its crew-paced time has a factor for the
job, one for the size, one for the day and one for the joint; a size follows the one before in the
same shift, as in a job without time for size changes. Days are lost to weather and joints are made
again, each with a chance that is drawn for the job. What comes out is a joint log with
clock times, as it is typed on site, and the date of the last joint.
"""

import datetime as dt
from dataclasses import dataclass

import numpy as np

from estimator.models.site_records import LoggedJoint, LostTime, SiteRecords

START_MIN = 7 * 60.0
SIZE_SD, DAY_SD, JOINT_SD = 0.08, 0.10, 0.20
WEATHER, WEATHER_WORTH, REWORK, REWORK_WORTH = 0.08, 40.0, 0.02, 200.0


@dataclass(frozen=True)
class Site:
    """What happened: the records, and the working days, lost ones too, that it took."""

    records: SiteRecords
    days: int
    pace: tuple[float, ...]


def simulate(rng, runs, working_min, calendar_days, job_sd):
    """Return a simulated site.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where chance comes from.
    runs : sequence of (run id, joints, crew minutes, machine minutes)
        In the order in which they are made.
    working_min : float
        Minutes of a day for joints.
    calendar_days : sequence of date
        Days on which work could be done.
    job_sd : float
        Standard deviation of the logarithm of the job's pace.
    """
    job = rng.normal(0.0, job_sd)
    paces = [job + rng.normal(0.0, SIZE_SD) for _ in runs]
    wet = rng.beta(WEATHER * WEATHER_WORTH, (1 - WEATHER) * WEATHER_WORTH)
    bad = rng.beta(REWORK * REWORK_WORTH, (1 - REWORK) * REWORK_WORTH)
    joints, lost = [], []
    queue = [run for run in zip(runs, paces, strict=True) for _ in range(run[0][1])]
    day, made = -1, 0
    while made < len(queue):
        day += 1
        date = calendar_days[day]
        if rng.random() < wet:
            lost.append(LostTime(date=date, crew=1, minutes=600.0, cause="weather"))
            continue
        today, clock = rng.normal(0.0, DAY_SD), 0.0
        while made < len(queue):
            (run_id, _, crew_min, machine_min), pace = queue[made]
            noise = np.exp(rng.normal(-(JOINT_SD**2) / 2, JOINT_SD))
            crew = crew_min * np.exp(pace + today) * noise
            if clock + crew + machine_min > working_min:
                break
            rejected = rng.random() < bad
            joints.append(_joint(len(joints), run_id, date, (clock + crew, machine_min), rejected))
            clock += crew + machine_min
            made += not rejected
    records = SiteRecords(joint_log=tuple(joints), lost_time=tuple(lost))
    return Site(records, day + 1, tuple(float(np.exp(pace)) for pace in paces))


LIKE_ALL = LoggedJoint(
    joint_no="J0000",
    run_id="R1",
    kind="stick",
    pipe="R1",
    soak_min_s=1.0,
    date=dt.date(2027, 3, 1),
    crew=1,
    machine_no="M1",
    operator="A",
    heat_start_min=START_MIN,
    heater_out_min=START_MIN,
    closed_min=START_MIN,
    cool_end_min=START_MIN,
    visual="pass",
    rework_as=None,
)


def _joint(number, run_id, date, when, rejected):
    """Return a joint like all others but for these fields, which need no check again."""
    begun, machine_min = START_MIN + float(when[0]), when[1]
    out = begun + 0.4 * machine_min
    return LIKE_ALL.model_copy(
        update={
            "joint_no": f"J{number:04d}",
            "run_id": run_id,
            "pipe": run_id,
            "date": date,
            "heat_start_min": begun,
            "heater_out_min": out,
            "closed_min": out,
            "cool_end_min": begun + machine_min,
            "visual": "reject" if rejected else "pass",
        }
    )


def until(records, date):
    """Return the records as they stand at the end of a date."""
    return SiteRecords(
        joint_log=tuple(joint for joint in records.joint_log if joint.date <= date),
        lost_time=tuple(line for line in records.lost_time if line.date <= date),
    )
