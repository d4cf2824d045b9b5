"""One pipeline: the stages by name, what plans of one study share, the one way in."""

import dataclasses
import re
import sys
from collections import Counter
from itertools import groupby
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import api
from estimator.errors import EstimatorError, Problem
from estimator.joint.fusion import fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.joint.shared import Shared
from estimator.models.calendar import CrewDates
from estimator.models.estimate import Estimate, PricedJob
from estimator.models.places import NO_PLACES
from estimator.models.study import Study
from estimator.pipeline import estimate, price
from estimator.plan import paid_again
from estimator.stages import plan_job, price_job, total_of
from estimator.study import Watcher, study
from estimator.workbook.book import parse_workbook
from tests.jobs import job, run
from tests.random_jobs import random_workbook
from tests.test_boundaries import NOUNS
from tests.test_caches import base, changed_jobs
from tests.workbook_factory import WorkbookFactory


def changed_runs(whole):
    first, *others = whole.runs
    for key, value in (("access_factor", 1.4), ("placement", "surface"), ("dr", 17.0),
                       ("size", "16"), ("segments_m", (55.0,)),
                       ("string_length_m", 60.0)):  # fmt: skip
        runs = (first.model_copy(update={key: value}), *others)
        yield key, whole.model_copy(update={"runs": runs})


def changed_lists(whole):
    nobody = {f"heads_{band}": 0.0 for band in "abcde"}
    few = tuple(role.model_copy(update=nobody) for role in whole.crew)
    bands = tuple(
        band.model_copy(update={"od_to_mm": band.od_to_mm * 0.4}) for band in whole.size_bands
    )
    tasks = tuple(task.scaled(1.3) for task in whole.task_times)
    machines = tuple(m.model_copy(update={"od_max_mm": 300.0}) for m in whole.machines)
    short_shift = CrewDates(crew=1, from_date=whole.dates.start, shift_hours=6.0)
    cold = tuple(c.model_copy(update={"factor": c.factor * 1.5}) for c in whole.cold_factors)
    for key, value in (("crew", few), ("size_bands", bands), ("task_times", tasks),
                       ("machines", machines), ("cold_factors", cold),
                       ("crew_dates", (short_shift,))):  # fmt: skip
        yield key, whole.model_copy(update={key: value})
    yield "unit_system", whole.model_copy(update={"machines": machines}).changed(unit_system="US")


def answer(changed, shared):
    try:
        return estimate(changed, shared=shared)
    except EstimatorError as error:
        return str(error)


def test_plans_of_one_study_never_get_what_another_job_left():
    """Each changed job is estimated twice: beside all others, and alone."""
    whole, shared = base().changed(overtime_loss=0.3), Shared(NO_PLACES)
    first, differ = answer(whole, shared), 0
    for changes in (changed_jobs, changed_runs, changed_lists):
        for key, changed in changes(whole):
            beside, alone = answer(changed, shared), answer(changed, Shared(NO_PLACES))
            assert beside == alone, f"{key}: a plan beside it changes the answer"
            differ += isinstance(alone, str) or alone.plan != first.plan or alone.bid != first.bid
    assert differ > 30


def test_a_job_with_other_prices_or_crews_is_not_sized_anew():
    whole, shared = base(), Shared(NO_PLACES)
    weather = tuple(month.model_copy(update={"lost_share": 0.3}) for month in whole.weather)
    alike = (whole.changed(crews=3), whole.model_copy(update={"weather": weather}))
    assert {id(shared.sizer(one)) for one in alike} == {id(shared.sizer(whole))}
    assert shared.sizer(whole.changed(efficiency=0.5)) is not shared.sizer(whole)


def test_each_stage_adds_to_the_one_before():
    whole = job(run("A", tie_ins=2), run("B", size="12"))
    priced = price_job(plan_job(whole, Shared(NO_PLACES)))
    full = estimate(whole)
    assert (type(priced), type(full)) == (PricedJob, Estimate)
    for one in dataclasses.fields(PricedJob):
        assert getattr(priced, one.name) == getattr(full, one.name)
    assert [given.run_id for given, _ in priced.pairs] == [one.run_id for one in priced.runs]


def without_words(fleet):
    """A fleet by what is paid for: its spans without why they were chosen."""
    return [
        span.model_copy(update={"why": (span.why.kind, span.why.need), "rejected": ()})
        for span in fleet.spans
    ]


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_a_total_is_that_of_the_whole_plan_and_its_lines_are_paid_alike(seed):
    """Of any job: without reasons, and with its paid shifts made anew over its lines."""
    whole = parse_workbook(random_workbook(seed, wide=seed % 2 == 1)).job
    try:
        planned = plan_job(whole, Shared(NO_PLACES))
    except EstimatorError as failed:
        with pytest.raises(type(failed), match=re.escape(str(failed))):
            total_of(whole, Shared(NO_PLACES))
        return
    full, total = price_job(planned), total_of(whole, Shared(NO_PLACES))
    assert (total.plan, total.tests, total.runs) == (full.plan, full.tests, full.runs)
    amounts = [[(line.key, line.amount) for line in one.cost_lines] for one in (total, full)]
    assert amounts[0] == amounts[1]
    assert total.bid == full.bid
    assert without_words(total.fleet) == without_words(full.fleet)
    assert paid_again(whole, full.runs, full.plan) == full.plan


def test_command_macro_and_programs_go_one_way():
    """The steps that are shown are those of the macro; reading warnings come first."""
    workbook = parse_workbook(WorkbookFactory().build())
    steps, planned = [], []
    read = Problem("Job!A1", "noticed while reading")
    watcher = Watcher(lambda done, total: planned.append((done, total)), steps.append)
    found = study(workbook.job, workbook.places, watcher, warnings=[read])
    assert steps[:2] == ["Running risk trials",
                         "Trying other crews, machines and shifts"]  # fmt: skip
    assert planned[-1] == (len(found.runs), len(found.runs))
    assert found.warnings[0] == read
    same = dataclasses.replace(workbook, warnings=(read,))
    assert api.estimate_workbook(same) == found
    alone = estimate(workbook.job, workbook.places).grown(Study)
    assert (alone.risk, alone.comparison) != (found.risk, found.comparison)
    with pytest.raises(TypeError):
        Estimate(risk=found.risk)


ESTIMATOR = f"{Path(api.__file__).parent}/"
ROOMS_LEFT_AND_ENTERED_AGAIN = 27
"""How often, where each function is read when it is first asked."""


def asked_in_order(call):
    """Return the code of every function of ours that a call asks, in order of the first asks."""
    met = {}

    def note(frame, event, arg):
        if event == "call" and frame.f_code.co_filename.startswith(ESTIMATOR):
            met.setdefault(frame.f_code)

    sys.setprofile(note)
    try:
        call()
    finally:
        sys.setprofile(None)
    return list(met)


def test_a_reader_of_one_run_seldom_goes_back_to_a_room():
    """From the row of the schedule to the bid, each function read where it is first asked."""
    asked, shared = job(run("A")), Shared(NO_PLACES)
    price(asked, Shared(NO_PLACES))
    for name, module in list(sys.modules.items()):
        if name.startswith("estimator."):
            for cached in vars(module).values():
                getattr(cached, "cache_clear", lambda: None)()
    rooms = [
        code.co_filename.removeprefix(ESTIMATOR).split("/")[0].removesuffix(".py")
        for code in asked_in_order(lambda: price(asked, shared))
    ]
    path = [room for room, _ in groupby(room for room in rooms if room not in NOUNS)]
    assert {"input_errors", "working_time", "joint", "plan", "equipment", "cost"} <= set(path)
    assert len(path) - len(set(path)) <= ROOMS_LEFT_AND_ENTERED_AGAIN


STAGES_OF_ONE_PRICE = (
    "must_hold", "count_job", "lay_out", "plan_tests", "equip", "cost_lines", "make_bid",
    "share_cost", "price_items",
)  # fmt: skip


def test_one_estimate_asks_each_stage_once_and_measures_each_pipe_once():
    """Two walls of one size, each in two runs: two pipes, four runs."""
    runs = [run(f"R{n}", dr=(11.0, 17.0)[n % 2], segments_m=(60.0 + n,)) for n in range(4)]
    asked = job(*runs)
    for cached in (pipe_geometry, fusion_parameters):
        cached.cache_clear()
    calls = Counter()

    def count(frame, event, arg):
        if event == "call" and "estimator" in frame.f_code.co_filename:
            calls[frame.f_code.co_name] += 1

    sys.setprofile(count)
    try:
        estimate(asked)
    finally:
        sys.setprofile(None)
    assert {name: calls[name] for name in STAGES_OF_ONE_PRICE} == dict.fromkeys(
        STAGES_OF_ONE_PRICE, 1
    )
    assert {name: calls[name] for name in ("measure", "ask_method")} == {
        "measure": 2,
        "ask_method": 2,
    }
