"""The forecast against a simulated site that knows nothing of the planner, and its parts."""

import datetime as dt
import functools
from dataclasses import replace

import numpy as np
import pytest

from estimator.joint.shared import Shared
from estimator.models.calendar import MonthWeather
from estimator.models.places import Places
from estimator.models.site_records import DailyRow, SiteRecords
from estimator.pipeline import estimate
from estimator.progress import forecast as module
from estimator.progress.baseline import baseline_of
from estimator.progress.forecast import Known, LearnedShare, forecast, forecast_finish
from estimator.progress.made import made_up_to
from estimator.progress.observed import Seen, paces, rework_seen, weather_seen
from estimator.progress.rest import at_pace
from estimator.progress.rest_surface import over_shifts
from estimator.progress.standing import standing_of
from estimator.progress.status import status_of
from estimator.working_time.working_days import MONTH_NAMES, WorkingCalendar
from tests import jobs
from tests.each import each
from tests.planned_site import day_at, site_as_planned
from tests.simulated_site import WEATHER, simulate, until
from tests.test_baseline import frozen

JOBS, SEED, JOB_SD = 300, 7, 0.30
MARKS = (0.10, 0.25, 0.50)


@functools.cache
def site_job(first=200):
    """Return a job of three sizes and one crew, without moves, with its baseline and calendar."""
    runs = (
        jobs.run("R1", size="10", segments_m=(12.0 * first,), priority=1),
        jobs.run("R2", size="16", segments_m=(12.0 * 300,), priority=2),
        jobs.run("R3", size="28", dr=17.0, segments_m=(12.0 * 120,), priority=3),
    )
    job = jobs.job(*runs, machine_move_min=0.0, machine_swap_min=0.0, test_joint_rule="none",
                   rework_extra_min=0.0)  # fmt: skip
    job = job.model_copy(
        update={
            "weather": tuple(MonthWeather(month=m, lost_share=WEATHER) for m in MONTH_NAMES),
            "size_bands": tuple(
                band.model_copy(update={"size_change_min": 0.0}) for band in job.size_bands
            ),
        }
    )
    found = estimate(job)
    calendar = WorkingCalendar.of(job)
    days = [job.dates.start + dt.timedelta(n) for n in range(1500)]
    return found, baseline_of(found), [day for day in days if calendar.is_open(day)]


def simulated(rng, job_sd=JOB_SD, first=200):
    found, baseline, days = site_job(first)
    wanted = [(run.run_id, run.pieces["stick"], *run.times["stick"]) for run in baseline.runs]
    return simulate(rng, wanted, found.job.shift.working_min, days, job_sd)


def known_at(site, date, first=200):
    found, baseline, _ = site_job(first)
    return Known(found, baseline, made_up_to(until(site.records, date), date))


# What is asked of the forecast, over 300 simulated jobs (900 forecasts): truth with a standard
# deviation of 0.30 of the job's pace, that of the prior. The range is the dates that it names, both
# ends in. With 300 jobs the cover of a true 80 % range has a standard deviation of 2.3 points.
@pytest.mark.slow
def test_ranges_cover_and_the_forecast_beats_plan_and_earned_schedule():
    rng = np.random.default_rng(SEED)
    found, baseline, days = site_job()
    number = {day: i for i, day in enumerate(days, 1)}
    planned = number[found.finish]
    covered = {mark: [] for mark in MARKS}
    errors = {mark: {"plan": [], "earned schedule": [], "forecast": []} for mark in MARKS}
    for _ in range(JOBS):
        site, shared = simulated(rng), Shared(Places())
        log = site.records.joint_log
        for mark in MARKS:
            date = log[int(mark * len(log))].date
            known = known_at(site, date)
            low, middle, high = (number[day] for day in forecast_finish(known, shared))
            schedule = status_of(found.job, baseline, known.made).schedule
            left = planned - schedule.earned_time
            slow = schedule.actual_time / max(schedule.earned_time, 0.5)
            covered[mark].append(low <= site.days <= high)
            errors[mark]["forecast"].append(middle - site.days)
            errors[mark]["plan"].append(number[date] + left - site.days)
            errors[mark]["earned schedule"].append(number[date] + left * slow - site.days)
    for mark in MARKS:
        assert 0.75 <= np.mean(covered[mark]) <= 0.85, (mark, np.mean(covered[mark]))
        assert abs(np.mean(errors[mark]["forecast"])) < 0.5, (mark, errors[mark]["forecast"])
        size = {name: np.mean(np.abs(values)) for name, values in errors[mark].items()}
        assert size["forecast"] <= min(size["plan"], size["earned schedule"]), (mark, size)


# Days of 10 % and joints of 20 % leave sqrt(0.10^2 / 22 days + 0.20^2 / 300 joints) = 2.46 % of
# chance in the mean of 300 joints, whoever takes it. The rule may lose a fifth to its robustness.
def test_pace_after_300_joints_is_as_sure_as_the_joints_allow():
    rng = np.random.default_rng(SEED)
    errors = []
    for _ in range(40):
        site = simulated(rng, first=301)
        date = site.records.joint_log[300].date
        known = known_at(site, date, first=301)
        days = paces(known.made, known.baseline, known.estimate.job)
        learned = module.learn(module.observations(days), module.Prior())
        band = known.baseline.by_run["R1"].band
        errors.append(learned.size(band).factor / site.pace[0] - 1)
    assert abs(np.mean(errors)) < 0.02
    assert np.std(errors) < 1.2 * 0.0246 + 2 * 0.0246 / np.sqrt(80)


@each("seed", range(9))
def test_one_wild_day_moves_the_median_less_than_two_days(seed):
    """A day three times as slow, after two, four and eight weeks of each of nine jobs."""
    _, _, days = site_job()
    number = {day: i for i, day in enumerate(days, 1)}
    site = simulated(np.random.default_rng(seed), 0.0)
    for now in (10, 20, 40):
        known = known_at(site, days[now])
        seen = paces(known.made, known.baseline, known.estimate.job)
        slow = replace(seen[5], factor=3 * seen[5].factor)
        plain = forecast_finish(known, Shared(Places()))
        with pytest.MonkeyPatch.context() as patch:
            wild = (*seen[:5], slow, *seen[6:])
            patch.setattr(module, "paces", lambda *_, wild=wild: wild)
            moved = forecast_finish(known, Shared(Places()))
        assert abs(number[moved.middle] - number[plain.middle]) < 2, (now, plain, moved)


# Seven joints a shift up to a pace, six beyond it: 84 joints take 12 or 14 days. A shift's own pace
# falls on either side as often, so that a day makes 6.5 and 84 take 12.92 (worked by hand).
def test_an_edge_between_whole_joints_is_the_mean_of_its_shifts():
    logs = np.array([-0.5, -1e-9, 1e-9, 0.5])
    rows = np.array([[12.0], [12.0], [14.0], [14.0]])
    found = over_shifts(logs, rows, 0.12)[:, 0]
    assert (found[0], found[3]) == pytest.approx((12.0, 14.0))
    assert found[1:3] == pytest.approx(84 / 6.5, abs=0.2)


def test_counts_say_what_clocks_say():
    """The pace of a site by numbers of joints alone is that by its clock times."""
    rng = np.random.default_rng(3)
    found, baseline, days = site_job()
    site = simulated(rng, 0.0)
    date = days[25]
    known = known_at(site, date)
    by_clock = module.learn(
        module.observations(paces(known.made, baseline, found.job)), module.Prior()
    )
    counts = {}
    for joint in known.made.judged.joints:
        key = joint.joint.date, joint.joint.run_id
        counts[key] = counts.get(key, 0) + 1
    hours = found.job.shift.shift_hours
    rows = tuple(
        DailyRow(date=day, crew=1, run_id=run, people=3, paid_hours=3 * hours, stick_joints=n)
        for (day, run), n in counts.items()
        if sum(other[0] == day for other in counts) == 1
    )
    made = made_up_to(SiteRecords(daily_record=rows), date)
    reported = paces(made, baseline, found.job)
    assert not any(pace.from_clock for pace in reported)
    by_count = module.learn(module.observations(reported), module.Prior())
    assert by_count.job_mean == pytest.approx(by_clock.job_mean, abs=0.08)


# 2 % counts for 200 joints, 4 of 100 were made again: (4 + 4) / 300.
def test_a_share_is_the_weighted_mean_of_planned_and_seen():
    assert LearnedShare(0.02, 200.0, Seen(4, 100)).mean == pytest.approx(8 / 300)


def test_rework_and_weather_are_counted_from_the_records():
    rng = np.random.default_rng(5)
    found, baseline, days = site_job()
    site = simulated(rng)
    date = days[30]
    made = known_at(site, date).made
    rejects = sum(joint.visual == "reject" for joint in made.records.joint_log)
    assert rework_seen(made) == Seen(rejects, len(made.records.joint_log))
    lost = len(made.records.lost_time)
    assert weather_seen(made, found.job, baseline.head.start) == Seen(lost, 31)


def test_only_crew_paced_time_takes_the_pace():
    job = site_job()[0].job
    slow = at_pace(job, dict.fromkeys("ABCDE", 2.0), 2.0)
    for before, after in zip(job.task_times, slow.task_times, strict=True):
        slower = before.paced_by == "crew" and before.applies_to == "butt joint"
        factor = 2.0 if slower else 1.0
        assert after.minutes("C") == factor * before.minutes("C")
    assert slow.fusion == job.fusion


def test_the_finish_alone_is_that_of_the_forecast():
    _, _, days = site_job()
    site = simulated(np.random.default_rng(11))
    for day in (days[8], days[30]):
        known = known_at(site, day)
        whole = forecast(known, Shared(Places())).finish
        assert forecast_finish(known, Shared(Places())) == whole


def test_the_finish_of_the_weeks_before_is_what_was_forecast_then():
    found, baseline, days = site_job()
    site = simulated(np.random.default_rng(11))
    date = days[20]
    got = standing_of(found, baseline, until(site.records, date), date, Shared(Places()))
    assert len(got.before) == 4  # four weeks of five days are gone by
    assert [(date - then).days % 7 for then, _ in got.before] == [0, 0, 0, 0]
    then, finish = got.before[0]
    known = known_at(site, then)
    assert finish == forecast(known, Shared(Places())).finish


def test_the_same_records_give_the_same_forecast():
    _, _, days = site_job()
    site = simulated(np.random.default_rng(9))
    one, other = (forecast(known_at(site, days[15]), Shared(Places())) for _ in range(2))
    assert one.finish == other.finish
    assert one.labor_hours == other.labor_hours
    assert one.labor_hours.low <= one.labor_hours.middle <= one.labor_hours.high
    assert one.cost is None


# Counts, hours, people and rain as in the plan: then the forecast is the plan, but for what a count
# leaves open and for the days of rain that fall otherwise from the status date on.
@pytest.mark.parametrize("name", ["raw_water_main", "plant_piping"])
@pytest.mark.parametrize("part", [0.3, 0.7])
def test_a_job_as_planned_is_forecast_as_planned(name, part):
    workbook, found, baseline = frozen(name)
    date = day_at(baseline, part)
    records = site_as_planned(found, baseline, date)
    got = standing_of(found, baseline, records, date, Shared(workbook.places)).forecast
    hours, cost = baseline.labor_hours, float(baseline.cost)
    assert abs((got.finish[1] - baseline.head.finish).days) <= 7
    assert got.labor_hours.middle == pytest.approx(hours, rel=0.03)
    assert got.cost.middle == pytest.approx(cost, rel=0.04)
    assert got.learned.job_mean == pytest.approx(0.0, abs=0.08)
    assert got.finish[0] <= got.finish[1] <= got.finish[2]
