"""What one job leaves in memory for the next: never anything that changes its answer."""

import datetime as dt
import gc
import importlib
import inspect
import pkgutil
import weakref
from typing import Literal, get_origin

import pytest

import estimator
from estimator.errors import EstimatorError, InputError
from estimator.joint.shared import Shared
from estimator.models.calendar import CrewDates, Holiday, MonthWeather, OvertimeSpan
from estimator.models.job_inputs import GROUP_OF
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.plan import planner
from tests.jobs import job, money, run

STEPS = {
    "workdays": "Mon-Sat",
    "start": dt.date(2027, 5, 3),
    "deadline": dt.date(2027, 3, 9),
    "test_joint_rule": "each day",
    "fitting_rule": "set at stick end",
    "generators_per_crew": "one shared",
    "removal_place": "shop",
    "straight_week_hours": 40.0,
}
"""Other values of inputs that are no numbers, or that have no higher one."""


def base():
    return job(
        run("R1", segments_m=(700.0,), elbows=3),
        run("R2", size="12", earliest_start=dt.date(2027, 4, 12), string_length_m=120.0),
        night_hours=8.0,
        crews=2,
        test_joint_extra_min=31.0,
    )


def changed_inputs(whole):
    for key in GROUP_OF:
        value = whole.input(key)
        if key in STEPS:
            yield key, STEPS[key]
        elif isinstance(value, int | float) and not isinstance(value, bool):
            step = value + 1 if isinstance(value, int) else value * 1.07 + 0.01 * (not value)
            yield key, step


def changed_jobs(whole):
    for key, value in changed_inputs(whole):
        yield key, whole.changed(**{key: value})
    item = whole.machines[0]
    for key in ("day_rate", "week_rate", "four_week_rate", "delivery"):
        dearer = money(getattr(item, key).amount * 0.6, getattr(item, key).per)
        other = item.model_copy(update={key: dearer})
        yield key, whole.model_copy(update={"machines": (other,)})
    spans = (
        OvertimeSpan(from_date=dt.date(2027, 3, 2), to_date=dt.date(2027, 3, 4), shift_hours=12.0),
    )
    lost = tuple(
        MonthWeather(month=row.month, lost_share=0.3, ambient_c=5.0) for row in whole.weather
    )
    holidays = (Holiday(date=dt.date(2027, 3, 3)),)
    for key, value in (("overtime", spans), ("weather", lost), ("holidays", holidays)):
        yield key, whole.model_copy(update={key: value})


def caches():
    modules = [
        importlib.import_module(found.name)
        for found in pkgutil.walk_packages(estimator.__path__, "estimator.")
        if "excel" not in found.name and not found.name.endswith("__main__")
    ]
    every = {id(x): x for module in modules for x in vars(module).values()}
    return [x for x in every.values() if hasattr(x, "cache_clear")]


def answer(changed):
    try:
        return estimate(changed)
    except EstimatorError as error:
        return str(error)


def test_a_job_never_gets_what_another_job_left_in_memory():
    known = caches()
    assert len(known) > 20
    base_answer = estimate(base())
    differ = 0
    for key, changed in changed_jobs(base()):
        warm = answer(changed)
        for cached in known:
            cached.cache_clear()
        cold = answer(changed)
        assert warm == cold, f"{key}: an earlier job changes the answer"
        differ += cold.plan != base_answer.plan or cold.bid != base_answer.bid
        estimate(base())
    assert differ > 25


def test_every_cache_is_bounded_but_those_by_names_of_ours():
    """Names of tables, columns and rules are few; anything else could grow with every job."""
    for cached in caches():
        if cached.cache_parameters()["maxsize"] is None:
            types = inspect.get_annotations(cached.__wrapped__)
            types.pop("return")
            by_names = all(kind is str or get_origin(kind) is Literal for kind in types.values())
            assert by_names, cached.__qualname__


def test_a_value_found_sound_says_nothing_of_another():
    """What was within its limits in one job of a study is looked at anew where it is changed."""
    whole, shared = base(), Shared(Places())
    estimate(whole, shared=shared)
    dear = whole.machines[0].model_copy(update={"day_rate": money(-1.0, "day")})
    for changed in (
        whole.changed(efficiency=7.0),
        whole.model_copy(update={"machines": (dear, *whole.machines[1:])}),
    ):
        with pytest.raises(InputError, match="allowed range"):
            estimate(changed, shared=shared)
    assert estimate(whole, shared=shared).bid == estimate(whole).bid


@pytest.mark.parametrize("days", [None, 1])
def test_a_plan_made_lets_its_planner_go_at_once(monkeypatch, days):
    """The search for garbage is seldom, so that a planner in a circle would stay to the end; also
    where the crews leave before the runs are done and there is no plan."""
    made = []
    begin = planner.Planner.__init__

    def noted(self, *args):
        begin(self, *args)
        made.extend((weakref.ref(self), weakref.ref(self.sharing)))

    monkeypatch.setattr(planner.Planner, "__init__", noted)
    whole = base()
    if days:
        first = whole.dates.start
        left = CrewDates(crew=1, from_date=first, to_date=first)
        whole = job(run("R1", segments_m=(7000.0,)), crew_dates=(left,))
    gc.disable()
    try:
        found = answer(whole)
        alive = [one() for one in made if one() is not None]
    finally:
        gc.enable()
    assert isinstance(found, str) is bool(days)
    assert made
    assert not alive
