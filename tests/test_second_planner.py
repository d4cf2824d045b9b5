"""Plans of small random jobs against a second planner that lays joint after joint."""

import datetime as dt
import random

import pytest

from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates, Hold, Holiday, MonthWeather, OvertimeSpan
from estimator.models.places import Places
from estimator.plan import lay_out
from estimator.working_time.working_days import MONTH_NAMES
from tests import jobs
from tests.each import each
from tests.second_planner import Planner

NOWHERE = Places()
MACHINES = tuple(
    jobs.machine(name, min_gauge_mpa=0.01, four_week_rate=jobs.money(rate, "4 weeks"))
    for name, rate in (("M1", 900), ("M3", 800))
)


def random_job(seed):
    """Return a small job over all that the second planner knows."""
    chance = random.Random(seed)
    pick = chance.choice
    count = chance.randint(1, 5)
    crews = pick((1, 1, 2, 3))
    classes = pick((("M1",), ("M1", "M3", None)))
    runs = []
    for n in range(1, count + 1):
        earlier = [f"R{k}" for k in range(1, n)]
        after = pick((None, None, pick(earlier))) if earlier else None
        runs.append(jobs.run(
            f"R{n}", size=pick(("2", "4", "8", "12")), dr=pick((9.0, 11.0, 17.0)),
            segments_m=tuple(pick((24.0, 61.0, 130.0, 250.0)) for _ in range(pick((1, 1, 2)))),
            stick_length_m=pick((12.0, 12.5, 6.0)), string_length_m=pick((None, 40.0)),
            elbows=pick((0, 0, 1, 2)), tees=pick((0, 0, 1)), caps=pick((0, 1)),
            flange_adapters=pick((0, 0, 1)), branch_saddles=pick((0, 0, 2)),
            ef_closures=pick((0, 0, 1)), tie_ins=pick((0, 0, 1)), machine=pick(classes),
            fleet_class=pick(("M1", "M3", None)), joins=joined(chance, n, count, after),
            access_factor=pick((1.0, 1.2)), priority=pick((None, None, 1, 2)),
            crew=pick((None, None, None, chance.randint(1, crews))),
            after=after,
            earliest_start=pick((None, None, None, dt.date(2027, 3, chance.randint(1, 12)))),
        ))  # fmt: skip
    made = jobs.job(
        *runs, machines=MACHINES, crews=crews, start=dt.date(2027, 2, pick((22, 24, 25))),
        workdays=pick(("Mon-Fri", "Mon-Sat", "Sun-Thu")), shift_hours=pick((8.0, 9.0, 10.0)),
        efficiency=pick((0.7, 0.83, 1.0)), overtime_loss=pick((0.0, 0.2)),
        cool_in_wrapup=pick((False, True)),
        fitting_rule=pick(("cut in mid-stick", "set at stick end")),
        fitting_factor=pick((1.0, 1.5)), tie_in_factor=pick((1.0, 2.5)),
        test_joint_rule=pick(("none", "job start", "each size", "each day")),
        rework_share=pick((0.0, 0.02, 0.06)), machine_move_min=pick((20.0, 45.0)),
        own_rest_min=pick((None, 0.0, 70.0, 120.0, 200.0, 500.0)),
        machine_swap_min=pick((100.0, 240.0, 600.0)), risk_trials=0, option_crews=0,
        machines_per_crew=pick((1, 1, 2, 3)), night_hours=pick((0.0, 0.0, 8.0, 10.0)),
        night_slowing=pick((0.0, 0.1)), open_hold_days=pick((3, 8)),
    )  # fmt: skip
    ambient = {"Feb": pick((None, -3.0)), "Mar": pick((None, 5.0, -9.0))}
    lost = pick((0.0, 0.1, 0.3))
    weather = tuple(MonthWeather(month=name, lost_share=lost, ambient_c=ambient.get(name))
                    for name in MONTH_NAMES)  # fmt: skip
    overtime = OvertimeSpan(from_date=dt.date(2027, 2, 25), to_date=dt.date(2027, 3, 2),
                            shift_hours=pick((8.0, 12.0)))  # fmt: skip
    return made.model_copy(update={
        "weather": weather, "overtime": pick(((), (overtime,))),
        "holidays": pick(((), (Holiday(date=dt.date(2027, 3, 1)),))),
        "crew_dates": pick(((), tuple(crew_dates(chance, crews, runs)))),
        "holds": pick(((), (), tuple(holds(chance, runs)))),
    })  # fmt: skip


def joined(chance, n, count, after):
    """Return what the tie-ins of a run are fused to: what it follows, or one or two others."""
    others = [f"R{k}" for k in range(1, count + 1) if k != n]
    some = "; ".join(chance.sample(others, min(2, len(others)))) or None
    return chance.choice((None, after, chance.choice(others) if others else None, some))


def crew_dates(chance, crews, runs):
    """Yield when some crews come and leave, with how many machines, and how long they work.

    The first crew stays, and so does one that the schedule names for a run.
    """
    for crew in range(1, crews + 1):
        if chance.random() < 0.5:
            first = dt.date(2027, 2, 20) + days(chance, 12)
            stays = crew in (1, *(run.crew for run in runs))
            yield CrewDates(crew=crew, from_date=first, machines=chance.choice((None, 1, 2)),
                            to_date=None if stays else first + days(chance, 10),
                            shift_hours=chance.choice((None, 9.0, 12.0)))  # fmt: skip


def holds(chance, runs):
    """Yield one or two holds of a run or of all, some without a last date."""
    for _ in range(chance.randint(1, 2)):
        first = dt.date(2027, 2, 22) + days(chance, 14)
        last = chance.choice((None, first + days(chance, 5)))
        run = chance.choice((None, chance.choice(runs).run_id))
        yield Hold(run=run, from_date=first, to_date=last, cause="other")


def days(chance, most):
    return dt.timedelta(chance.randint(0, most))


def laid_out(job):
    """Return the lines of the second planner by row, like ``lines_of`` of the estimator."""
    second, found = Planner(job), {}
    for (*when, run_id), line in second.plan().items():
        key, of = (*when, second.row_of[run_id]), line.counts
        own = (
            of["plain"] + of["fitting"] + of["tie-in"],
            of["tie-in"],
            of["rework"],
            of["trial"],
            sum(of[kind] for kind in ("saddle", "bolt-up", "closure")),
            line.minutes,
        )
        found[key] = [one + other for one, other in zip(found.get(key, [0] * 6), own, strict=True)]
    return found


def lines_of(plan):
    """Return counts and minutes by date, shift, crew and run."""
    return {
        (line.date, line.shift, line.crew, line.run_id): (
            line.joints, line.tie_in_joints, line.rework_joints, line.test_joints,
            line.other_joints, line.minutes,
        )
        for line in plan.lines
    }  # fmt: skip


def resting_job(seed):
    """Return a job whose strings rest about as long as joints of other runs, or a change, take."""
    job, chance = random_job(seed), random.Random(seed)
    classes = chance.choice((("M1",), ("M1", "M3")))
    runs = tuple(
        run.model_copy(update={"machine": classes[n % len(classes)], "string_length_m": 40.0,
                               "segments_m": (250.0,)})
        for n, run in enumerate(job.runs)
    )  # fmt: skip
    moves = job.moves.model_copy(update={"machine_move_min": 20.0})
    fusion = job.fusion.model_copy(update={"own_rest_min": chance.choice((90.0, 130.0, 200.0))})
    return job.model_copy(update={"runs": runs, "moves": moves, "fusion": fusion})


def compare(job):
    sizer = Sizer(job, NOWHERE)
    ours, second = lines_of(lay_out(job, sizer.size_all(), sizer.cycle_on)), laid_out(job)
    assert ours.keys() == second.keys()
    for key, line in ours.items():
        assert list(line) == pytest.approx(second[key], abs=1e-6), key


@each("seed", range(200))
def test_two_planners_lay_out_the_same_days(seed):
    compare(random_job(seed))


@each("seed", range(100))
def test_two_planners_call_crews_back_at_the_same_minutes(seed):
    compare(resting_job(seed))


def test_these_jobs_send_crews_away_and_call_them_back():
    """Not only now and then: crews called between two joints, kept, or sent to other runs."""
    planners = [Planner(resting_job(seed)) for seed in range(100)]
    for planner in planners:
        planner.plan()
    assert sum(planner.called for planner in planners) >= 10
    assert sum(planner.waited for planner in planners) >= 1
    assert sum(len(planner.joined) for planner in planners) >= 20
    assert sum(planner.left_to_others for planner in planners) >= 5
