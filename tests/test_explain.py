"""The explanation of a run: every sum is worked out again, and the totals are the estimate's."""

import ast
import functools
import itertools
import json
import math
import operator
import re
import shutil
from pathlib import Path

import pytest

from estimator import api, pipeline
from estimator.cli import main
from estimator.cli.explain import lines
from estimator.display import figure
from estimator.explain.money import LEFT_BY_RUNS
from estimator.explain.one_run import UnknownRunError, explain
from estimator.explain.times import is_day
from estimator.standards.pipe_names import pipe_label
from tests import jobs
from tests.random_jobs import TRIAL_RULES

FOLDER = Path(__file__).parent.parent / "examples"
EXAMPLES = ("raw_water_main", "tailings_line", "plant_piping")
OPERATORS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul,
             ast.Div: operator.truediv}  # fmt: skip


def half_up(value, digits=0):
    return math.floor(round(value * 10**digits, 6) + 0.5) / 10**digits


FUNCTIONS = {"ROUNDUP": lambda x: math.ceil(round(x, 5)),
             "ROUNDDOWN": lambda x: math.floor(x + 1e-5),
             "MAX": max, "MIN": min, "ROUND": half_up}  # fmt: skip


THOUSANDS = re.compile(r"(?<=\d),(?=\d{3})")
"""The comma of thousands; the arguments of a function have a blank after theirs."""


@functools.cache
def work_out(text):
    """Work a printed sum out on nothing but the numbers in it; many runs print the same ones."""

    def value(node):
        match node:
            case ast.Constant(float() | int()):
                return node.value
            case ast.Name("pi"):
                return math.pi
            case ast.BinOp():
                return OPERATORS[type(node.op)](value(node.left), value(node.right))
            case ast.UnaryOp(ast.USub(), inner):
                return -value(inner)
            case ast.Call(ast.Name(name), arguments):
                return FUNCTIONS[name](*map(value, arguments))
        pytest.fail(f"{text} is no sum")

    plain = THOUSANDS.sub("", text.replace(" x ", " * "))
    return value(ast.parse(plain, mode="eval").body)


@functools.cache
def estimated(name):
    workbook = api.read_workbook(str(FOLDER / f"{name}.xlsx"))
    return workbook, pipeline.estimate(workbook.job, workbook.places)


@functools.cache
def explained(name):
    workbook, found = estimated(name)
    return found, [explain(found, run.run_id, workbook.places) for run in workbook.job.runs]


def value_of(found, part, name):
    return found.step(part, name).value


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_printed_sum_holds_on_the_numbers_it_shows(name):
    _, all_runs = explained(name)
    checked = 0
    for found in all_runs:
        for step in (step for part in found.parts for step in part.steps if step.sum):
            checked += 1
            shown = float(THOUSANDS.sub("", figure(step.value)))
            assert work_out(step.sum) == pytest.approx(shown, rel=3e-5, abs=0.006), step
    assert checked > 20 * len(all_runs)


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_step_with_a_sum_is_printed_without_it(name):
    _, all_runs = explained(name)
    for found in all_runs:
        text = " ".join("\n".join(lines(found)).split())
        for part in found.parts:
            for step in part.steps:
                if step.sum:
                    assert f"{step.sum} = {figure(step.value)}" in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_chain_ends_where_the_estimate_does(name):
    found, all_runs = explained(name)
    for sized, explanation in zip(found.runs, all_runs, strict=True):
        count, plain = sized.counts, sized.cycle.plain
        assert value_of(explanation, "Sticks and joints", "Sticks") == count.sticks
        assert value_of(explanation, "Sticks and joints", "Fitting joints") == count.fitting_joints
        assert value_of(explanation, "Sticks and joints", "Tie-in joints") == count.tie_in_joints
        assert value_of(explanation, "Sticks and joints", "Butt joints") == count.butt_joints
        assert value_of(explanation, "Sticks and joints", "Rework joints") == count.rework_joints
        assert value_of(explanation, "Cycle", "Cycle, stick joint") == pytest.approx(
            plain.cycle_min
        )
        assert value_of(explanation, "Cycle", "Crew time, stick joint") == pytest.approx(
            plain.attended_min
        )
        assert value_of(explanation, "Cycle", "Time per joint, stick joint") == pytest.approx(
            plain.period_min
        )
        per_shift = sized.cycle.joints_per_shift
        assert value_of(explanation, "Shift", "Joints per shift") == per_shift
        hours = found.labor_hours.get(sized.run_id, 0.0)
        assert value_of(explanation, "Labor-hours", "Labor-hours") == pytest.approx(hours)
        assert value_of(explanation, "Job price", "Bid price") == pytest.approx(
            float(found.bid.price)
        )


@pytest.mark.parametrize("name", EXAMPLES)
def test_days_of_the_run_are_those_of_the_plan_and_moves_add_up(name):
    found, all_runs = explained(name)
    change = {row.band: row.size_change_min for row in found.job.size_bands}
    for sized, explanation in zip(found.runs, all_runs, strict=True):
        plan = [line for line in found.plan.lines if line.run_id == sized.run_id]
        part = next(part for part in explanation.parts if part.title == "Plan")
        steps = [step for step in part.steps if is_day(step)]
        assert [step.value for step in steps] == pytest.approx([line.minutes for line in plan])
        inputs = found.job.moves
        minutes = {"move": inputs.machine_move_min, "machine change-out": inputs.machine_swap_min,
                   "size change": change[sized.cycle.band]}  # fmt: skip
        moves = [move for line in plan for move in line.moves]
        wanted = sum(minutes.get(move, 0) for move in moves)
        rests = moves.count("cooling rest") * sized.fusion.rest_s / 60
        shown = [
            float(term)
            for step, line in zip(steps, plan, strict=True)
            if line.moves
            for term in (step.sum or figure(step.value)).split(" + ")[-len(line.moves) :]
        ]
        assert wanted - 0.01 <= sum(shown) <= wanted + rests + 0.01


@pytest.mark.parametrize("name", EXAMPLES)
def test_runs_share_the_cost_and_the_price_out_whole(name):
    found, all_runs = explained(name)
    cost = [value_of(explanation, "Cost", "Run cost") for explanation in all_runs]
    price = [value_of(explanation, "Price", "Run price") for explanation in all_runs]
    left = sum(float(found.by_run.rounding(share)) for share in found.by_run.allocations)
    assert sum(cost) + left == pytest.approx(float(found.bid.job_cost), abs=0.001)
    # Each share and each price is rounded to the cent: by half a cent at most.
    assert abs(left) <= 0.005 * len(cost) * len(found.by_run.allocations)
    markup = float(found.bid.price / found.bid.job_cost)
    assert sum(price) == pytest.approx(
        float(found.bid.price), abs=0.005 * len(price) + markup * abs(left) + 0.001
    )
    for line in found.by_run.sizes:
        shares = [
            share
            for share, run in zip(price, found.job.runs, strict=True)
            if pipe_label(run.od_system, run.size, run.dr) == line.label
        ]
        assert sum(shares) == pytest.approx(float(line.price), abs=0.005 * (len(shares) + 1))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_other_class_is_named_with_its_reason(name):
    found, all_runs = explained(name)
    classes = {machine.class_id for machine in found.job.machines}
    for explanation in all_runs:
        taken, *others = next(part.steps for part in explanation.parts if part.title == "Machine")
        named = [step.name.partition(" ")[2].split(", ") for step in others]
        assert sorted(itertools.chain(*named)) == sorted(classes - {taken.value})
        assert all(step.how for step in others)


def test_the_size_of_the_pipe_stands_beside_its_material():
    """A text in the column of results takes one line, for which the name of pipe is too long."""
    _, all_runs = explained("tailings_line")
    pipe = all_runs[0].step("Pipe schedule", "Pipe")
    assert (pipe.value, pipe.how) == ("PE100", "900 mm SDR 9")


def test_classes_that_are_too_small_share_a_step():
    """Classes M1 to M5 take up to 125, 260, 360, 580 and 720 mm; M7 and M8 cost more than M6."""
    _, all_runs = explained("tailings_line")
    part = next(part for part in all_runs[0].parts if part.title == "Machine")
    small, *dearer = part.steps[1:]
    assert (small.name, small.how) == (
        "Classes M1, M2, M3, M4, M5",
        "largest pipe 125, 260, 360, 580, 720 mm, this pipe is 900 mm",
    )
    assert [step.name for step in dearer] == ["Class M7", "Class M8"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_run_prices_come_to_the_bid_price_with_what_rounding_leaves(name):
    found, all_runs = explained(name)
    prices = sum(value_of(explanation, "Price", "Run price") for explanation in all_runs)
    left = round(float(found.bid.price) - prices, 2)
    for explanation in all_runs:
        part = next(part for part in explanation.parts if part.title == "Price")
        shown = [step.value for step in part.steps if step.name == LEFT_BY_RUNS]
        assert shown == ([left] if left else [])


@pytest.mark.parametrize("name", EXAMPLES)
def test_figures_of_standards_carry_source_and_confidence(name):
    _, all_runs = explained(name)
    for explanation in all_runs:
        for part, step in (("Pipe", "Outside diameter"), ("Pipe", "Minimum wall"),
                           ("Fusion", "Heat soak"), ("Fusion", "Cool under pressure"),
                           ("Fusion", "Interfacial pressure")):  # fmt: skip
            assert all(s.text and s.confidence for s in explanation.step(part, step).sources)
            assert explanation.step(part, step).sources


def test_inputs_name_their_cells():
    workbook, _ = estimated("raw_water_main")
    _, all_runs = explained("raw_water_main")
    where = workbook.places.where("schedule", "R20", "elbows")
    explanation = next(explanation for explanation in all_runs if explanation.run_id == "R20")
    assert explanation.step("Sticks and joints", "Elbows").where == where


# By hand, docs/method.md: 1,000 ft in 50 ft sticks with 250 ft strings and two elbows cut into
# mid-stick: 20 sticks, 19 stick joints of which 3 are tie-ins, 4 at the elbows, 23 butt joints;
# 8 in IPS DR 11: wall 0.784 in, face 19.31 in2.
def test_the_worked_example_of_the_method_page_is_reported_step_by_step():
    run = jobs.run(segments_m=(304.8,), stick_length_m=15.24, string_length_m=76.2, elbows=2)
    job = jobs.job(run, unit_system="US")
    explanation = explain(pipeline.estimate(job), "R1")
    assert explanation.step("Pipe", "Minimum wall").sum == "ROUND(8.625 / 11 / 0.001) x 0.001"
    assert value_of(explanation, "Pipe", "Minimum wall") == pytest.approx(0.784)
    assert value_of(explanation, "Pipe", "Joint area") == pytest.approx(19.31, abs=0.005)
    assert explanation.step("Sticks and joints", "Sticks").sum == "ROUNDUP(1,000 / 50)"
    assert explanation.step("Sticks and joints", "Tie-in joints").value == 3
    assert explanation.step("Sticks and joints", "Butt joints").sum == "19 + 4 + 0"


@pytest.mark.parametrize("rule", TRIAL_RULES)
@pytest.mark.parametrize("machines", [1, 2, 3])
def test_sums_hold_under_every_rule_of_test_joints_and_machines(rule, machines):
    runs = (jobs.run("A", elbows=2, ef_closures=1, tie_ins=1, flange_adapters=2),
            jobs.run("B", size="6", reducers=1, reduce_to="4", branch_saddles=3))  # fmt: skip
    found = pipeline.estimate(jobs.job(*runs, test_joint_rule=rule, machines_per_crew=machines))
    for run in found.runs:
        explanation = explain(found, run.run_id)
        for part in explanation.parts:
            for step in part.steps:
                if step.sum:
                    assert work_out(step.sum) == pytest.approx(step.value, rel=3e-5, abs=0.006)
        part = next(part for part in explanation.parts if part.title == "Plan")
        shown = [step for step in part.steps if is_day(step)]
        lines_of_run = [line for line in found.plan.lines if line.run_id == run.run_id]
        assert [s.value for s in shown] == pytest.approx([ln.minutes for ln in lines_of_run])


@pytest.fixture
def example(tmp_path):
    return str(shutil.copy(FOLDER / "tailings_line.xlsx", tmp_path / "job.xlsx"))


def test_command_prints_the_chain_and_writes_nothing(example, capsys):
    before = Path(example).read_bytes()
    assert main(["explain", example, "T11"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Run T11: Tailings main, 3+054 to crest tee, 900 mm SDR 17")
    assert "mm2" in out
    assert "Run price" in out
    assert Path(example).read_bytes() == before


def test_command_gives_the_same_steps_as_json(example, capsys):
    assert main(["explain", example, "t11", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    explanation = next(t for t in explained("tailings_line")[1] if t.run_id == "T11")
    assert found["run_id"] == "T11"
    assert [part["title"] for part in found["parts"]] == [part.title for part in explanation.parts]
    (price,) = (s for p in found["parts"] for s in p["steps"] if s["name"] == "Run price")
    assert price["value"] == value_of(explanation, "Price", "Run price")


def test_unknown_run_is_reported_with_the_nearest_names(example, capsys):
    assert main(["explain", example, "T011"]) == 1
    assert "Nearest: T11, T01" in capsys.readouterr().err
    _, found = estimated("tailings_line")
    with pytest.raises(UnknownRunError, match=r"is not on the Pipe schedule\. Nearest: T"):
        explain(found, "nonsense")


def test_the_minutes_of_a_joint_can_be_checked_by_hand():
    """R20: crew-paced 4 + 6.5 + 5 + 3.5 + 6 = 25 min x 1.2 access / 0.8134; 1.75 + 0.3 machine.

    Its reducers end at 20 in IPS DR 17: wall 20 / 17 = 1.176 in, soak 4.5, cooling 11 min an inch.
    """
    found = explained("raw_water_main")[1][19]
    crew, machine = 25 * 1.2 / 0.8134, 1.75 + 0.3
    small = found.step("Cycle", "Time per joint, small end of a reducer")
    assert small.value == pytest.approx(crew * 1.5 + machine + 15.5 * 1.176, abs=0.001)
    fitting = found.step("Cycle", "Work outside cooling, fitting joint")
    assert "crew-paced ones x 1.5," in fitting.how
    assert fitting.where == "Job!B58"
    assert "x" not in found.step("Cycle", "Work outside cooling, stick joint").how.split()
    assert found.step("Fusion", "Interfacial pressure").how == "nominal 75"


def test_the_water_of_a_section_is_named_run_by_run():
    """Section TS-5 holds R17, 1,455 ft, and R20, 380 ft."""
    found = explained("raw_water_main")[1][19]
    first, second = (found.step("Hydrotest", f"Water, {run}").value for run in ("R17", "R20"))
    assert first / second == pytest.approx(1455 / 380)
