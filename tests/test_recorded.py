"""What the stages record is what the estimate holds, on random jobs; and it follows a rule."""

import ast
import functools
import importlib
import pathlib
import pkgutil
import random

import pytest

import estimator
from estimator import pipeline
from estimator.errors import InputError
from estimator.explain.one_run import explain
from estimator.explain.page import Page, labels
from estimator.explain.times import is_day
from estimator.inputs.dictionary import fields, input_tables
from estimator.joint.fusion import fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.joint.takeoff import joints_before
from estimator.models.job_inputs import GROUPS, ShiftInputs
from estimator.models.kinds import OWN_RUN
from estimator.models.study import Study
from estimator.steps.recorder import Recorder, Step
from estimator.workbook.book import parse_workbook
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from tests import jobs
from tests.away import away
from tests.estimated import example
from tests.random_jobs import random_workbook
from tests.test_explain import work_out

SEEDS, JOBS, SHOWN, WITH_SHEETS = range(40), 14, 400, 3
STAGES = ("standards", "working_time", "joint", "power", "plan", "equipment", "cost", "models")


@functools.cache
def recorded():
    """Return workbook, estimate and every recorded step of the first jobs that can be done."""
    found = []
    for seed in SEEDS:
        workbook = parse_workbook(random_workbook(seed, wide=True))
        job = away(workbook.job, seed)
        recorder = Recorder(labels)
        pipe_geometry.cache_clear()
        fusion_parameters.cache_clear()
        try:
            with recorder.on():
                estimated = pipeline.estimate(job, workbook.places)
        except InputError:
            continue
        found.append((workbook, estimated, recorder.steps))
        if len(found) == JOBS:
            break
    return found


OF_THE_STUDY = {
    "risk", "scenarios", "risk_trials", "risk_seed", "option_crews", "option_days_sooner",
    "option_overtime_step_hours", "option_longest_shift_hours",
}  # fmt: skip
"""What asks for further estimates, beside the one that is recorded; by table or key."""
CHOICE = {"fleet_choice"}
"""Asks for many estimates to take one of them: off here, so that the last number is the one."""
PARTS = {"schedule": "runs"}
METRIC_BY_INCH = "tailings_line"
"""An example in metric units by a method that states its times for each inch of wall."""


def held(job, table):
    """Return what a job holds in a table: its rows, or the groups of the Job sheet."""
    if table == "job":
        return [getattr(job, group) for group in GROUPS]
    return [job.rates] if table == "rates" else getattr(job, PARTS.get(table, table))


def test_every_input_is_off_its_default_in_some_of_the_jobs():
    """Of text that changes no figure, and of rows that always differ, nothing is asked."""
    jobs_read = [found.job for _, found, _ in recorded()]
    still = []
    for table in input_tables():
        for field in fields(table.table):
            if field.use or {table.table, field.key} & (OF_THE_STUDY | CHOICE):
                continue
            values = {
                repr(getattr(model, field.key))
                for job in jobs_read
                for model in held(job, table.table)
                if hasattr(model, field.key)
            }
            if len(values) < 2:
                still.append((table.table, field.key, values))
    assert still == []


def every_step():
    """Yield every step that a stage defines."""
    for place in pkgutil.walk_packages(estimator.__path__, "estimator."):
        if place.name.split(".")[1] in STAGES:
            module = importlib.import_module(place.name)
            for made in vars(module).values():
                if isinstance(made, Step) and made.fn.__module__ == place.name:
                    yield made


def numbers(steps, key, **given):
    """Return the numbers of a step, of the calls with some arguments."""
    return [
        one.value
        for one in steps
        if one.key == key and all(one.given[name] == value for name, value in given.items())
    ]


def test_every_step_of_the_stages_is_recorded(monkeypatch):
    """While the jobs are estimated, one of their runs is explained, or the sheets are made."""
    wanted = {made.fn for made in every_step()}
    seen = {one.key for _, _, steps in recorded() for one in steps}
    record = Recorder.record

    def noted(self, made, *args, **kwargs):
        seen.add(made.key)
        return record(self, made, *args, **kwargs)

    monkeypatch.setattr(Recorder, "record", noted)
    for workbook, found in (*(one[:2] for one in recorded()), example(METRIC_BY_INCH)):
        explain(found, found.runs[0].run_id, workbook.places)
    for workbook, found, _ in recorded()[:WITH_SHEETS]:
        names = {key: key for key in RESULT_SHEETS}
        for _ in each_sheet(Study.of(found), workbook.places, (), names):
            pass
    assert {fn.__name__ for fn in wanted} - seen == set()
    assert len({fn.__name__ for fn in wanted}) == len(wanted), "two steps of one name"


@pytest.mark.parametrize("number", range(JOBS))
def test_recorded_numbers_are_those_of_the_estimate(number):
    _, found, steps = recorded()[number]
    counts = [run.counts for run in found.runs]
    assert numbers(steps, "stick_count") == [count.sticks for count in counts]
    assert numbers(steps, "joints_of_sticks") == [count.stick_joints for count in counts]
    assert numbers(steps, "joints_at_all") == [count.fitting_joints for count in counts]
    assert numbers(steps, "tie_ins") == [count.tie_in_joints for count in counts]
    assert numbers(steps, "all_butt_joints") == [count.butt_joints for count in counts]
    before, share = joints_before(found.job.runs, counts), found.job.counting.rework_share
    for run, count in zip(found.job.runs, counts, strict=True):
        known = {"joints_before": before[run.run_id], "butt_joints": count.butt_joints}
        assert share == 0 or numbers(steps, "rework", **known)[-1] == count.rework_joints
    assert set(numbers(steps, "running_kw")) >= {p.running_kw for p in found.fleet.power.values()}
    ratings = {*numbers(steps, "rating_kw"), *numbers(steps, "rating_at_dip_kw")}
    assert ratings >= {check.needed_kw for check in found.fleet.sets}
    assert sorted(numbers(steps, "section_l")) == sorted(test.volume_l for test in found.tests)
    bid = found.bid
    for key, amount in (
        ("job_cost", bid.job_cost), ("unmarked", bid.unmarked),
        ("office_overhead", bid.office_overhead),
        ("contingency", bid.contingency), ("cost", bid.cost_before_profit),
        ("profit", bid.profit), ("before_bond", bid.price_before_bond), ("bond", bid.bond),
        ("rounding", bid.rounding), ("price", bid.price), ("tax", bid.tax), ("total", bid.total),
    ):  # fmt: skip
        assert f"{numbers(steps, key)[-1]:.2f}" == f"{amount:.2f}", key
    runs = found.by_run.runs
    assert numbers(steps, "cost_of_run") == [run.cost for run in runs]
    assert numbers(steps, "cost_in_item") == [run.own_item for run in runs]
    prices = [f"{price:.2f}" for price in numbers(steps, "price_of_part")]
    assert prices == [f"{part.price:.2f}" for part in (*runs, *found.by_run.sizes)]
    units = [f"{price:.2f}" for price in numbers(steps, "unit_price")]
    items = [one for one in found.items if one.quantity and one.parts and not one.fixed_price]
    for unit, item in zip(units, items, strict=True):
        assert item.balances or unit == f"{item.unit_price:.2f}", item.key
    for line in found.cost_lines:
        amounts = numbers(steps, "line_amount", quantity=line.quantity.value, rate=line.rate.value)
        assert f"{amounts[-1]:.2f}" == f"{line.amount:.2f}"


@pytest.mark.parametrize("number", range(JOBS))
def test_explain_ends_on_the_numbers_of_the_estimate(number):
    workbook, found, _ = recorded()[number]
    for run in found.runs:
        explained = explain(found, run.run_id, workbook.places)
        shown = {one.name: one.value for part in explained.parts for one in part.steps}
        for kind in ("plain", "fitting", "tie_in"):
            time, name = getattr(run.cycle, kind), f"{kind.replace('_', '-')} joint"
            if f"Cycle, {name}" in shown:
                assert shown[f"Cycle, {name}"] == time.cycle_min
                assert shown[f"Crew time, {name}"] == time.attended_min
                assert shown[f"Time per joint, {name}"] == time.period_min
        assert shown["Butt joints"] == run.counts.butt_joints
        assert shown.get("Joints per shift", 0) == run.cycle.joints_per_shift
        assert f"{shown['Bid price']:.2f}" == f"{found.bid.price:.2f}"


def steps_of(explained, title):
    """Return the steps of one part of an explanation, none where it has no such part."""
    return [one for part in explained.parts if part.title == title for one in part.steps]


@pytest.mark.parametrize("number", range(JOBS))
def test_explain_ends_on_plan_cost_lines_power_and_hydrotests_of_the_estimate(number):
    workbook, found, _ = recorded()[number]
    of_job = [line for line in found.cost_lines if line.allocated_by != OWN_RUN]
    lines = [(line.item, f"{line.amount:.2f}") for line in of_job]
    for run in found.runs:
        explained = explain(found, run.run_id, workbook.places)
        minutes = [one.value for one in steps_of(explained, "Plan") if is_day(one)]
        planned = [line.minutes for line in found.plan.lines if line.run_id == run.run_id]
        assert sorted(minutes) == pytest.approx(sorted(planned))
        (hours,) = (one for one in steps_of(explained, "Labor-hours") if one.name == "Labor-hours")
        assert hours.value == pytest.approx(found.labor_hours[run.run_id])
        priced = [(one.name, f"{one.value:.2f}") for one in steps_of(explained, "Cost of the job")]
        assert [line for line in priced if line[0] in {name for name, _ in lines}] == lines
        need = found.fleet.power[run.machine.class_id]
        shown = {one.name: one.value for one in steps_of(explained, "Power")}
        assert shown["Running load"] == pytest.approx(need.running_kw)
        assert shown["Load at motor start"] == pytest.approx(need.starting_kw)
        assert shown["Heater warm-up"] == pytest.approx(need.warm_up_min)
        assert shown["Average load of a shift"] == pytest.approx(need.mean_kw)
        tests = [test for test in found.tests if run.run_id in test.run_ids]
        shown = {one.name: one.value for one in steps_of(explained, "Hydrotest")}
        assert shown.get("Labor-hours of the test", 0) == sum(t.labor_hours for t in tests)
        for test in tests:
            assert shown["Filling"] / 60 == pytest.approx(test.hours.fill, abs=0.0051)


@pytest.mark.parametrize("number", range(JOBS))
def test_every_recorded_sum_holds_on_the_numbers_shown(number):
    """The page raises where units do not go together; the job's own units are worked out anew.

    Numbers are shown to six figures, which may turn a rounding to cents by one.
    """
    workbook, found, steps = recorded()[number]
    system = found.job.cover.unit_system
    for one in random.Random(number).sample(steps, min(SHOWN, len(steps))):
        for other in ("US", "SI"):
            Page(other, "$", workbook.places).show(one)
        shown = Page(system, "$", workbook.places).show(one)
        if shown.sum:
            assert work_out(shown.sum) == pytest.approx(shown.value, rel=3e-5, abs=0.011), shown


def test_a_new_rule_in_the_working_time_is_shown_at_once(monkeypatch):
    """30 minutes more off: 600 - 45 - 20 - 30 - 30 = 475 min, and the joints that fit it."""
    old = ShiftInputs.working_min.fget
    monkeypatch.setattr(ShiftInputs, "working_min", property(lambda shift: old(shift) - 30))
    found = pipeline.estimate(jobs.job(jobs.run()))
    explained = explain(found, "R1")
    assert explained.step("Shift", "Working time").value == 475
    assert explained.step("Shift", "Working time").sum == "10 x 60 - 45 - 20 - 30 - 30"
    joints = explained.step("Shift", "Joints per shift").value
    assert joints == found.runs[0].cycle.joints_per_shift


def test_explain_only_orders_and_leaves_out():
    """No number is worked out beside the stages; the page checks the units of what it shows."""
    signs = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.FloorDiv, ast.Mod, ast.Pow)
    folder = pathlib.Path(estimator.__path__[0], "explain")
    found = [
        f"{path.name}:{node.lineno}"
        for path in sorted(folder.glob("*.py"))
        if path.name != "page.py"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if (isinstance(node, ast.BinOp) and isinstance(node.op, signs))
        or (isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("sum", "round", "max"))
    ]
    assert found == []
