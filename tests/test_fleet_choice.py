"""Choice of classes and crews over the job: against all assignments, and all real estimates."""

import itertools
import math
import random
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.models.job_inputs import LEAST_COST
from estimator.optimize.first_answer import beyond_stock, search
from estimator.optimize.from_estimate import fleet_problem, run_minutes
from estimator.optimize.problem import (
    FleetClass,
    FleetProblem,
    Hire,
    SizeSetUp,
    WorkItem,
    bundles,
    total_cost,
)
from estimator.optimize.solver import _Program, solve
from estimator.pipeline import estimate
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests import fleet_brute_force, jobs
from tests.each import each
from tests.jobs import machine, money, run
from tests.workbook_factory import WorkbookFactory

EXAMPLES = Path(__file__).parent.parent / "examples"
GAP = 1e-4
CENT = 0.01


def random_problem(seed, items=5, classes=3, crews=2):
    """Return a problem with costs, sizes, stock and restrictions drawn by a seed."""
    draw = random.Random(seed)
    fleet = tuple(
        FleetClass(
            class_id=f"M{i}",
            hires=tuple(
                Hire(rate, rate * draw.choice([3, 3.5]), rate * draw.choice([9, 10]), rate / 2)
                for rate in draw.sample(range(80, 600, 20), draw.randint(1, 2))
            ),
            most_crews=draw.choice([1, 2, 2]),
            day_cost=draw.choice([0.0, 40.0]),
        )
        for i in range(classes)
    )
    names = [one.class_id for one in fleet]
    work = tuple(
        WorkItem(
            run_ids=(f"R{i}",),
            size=f"{draw.randrange(3)}",
            classes=tuple(sorted(draw.sample(names, draw.randint(1, classes)))),
            crews=draw.choice([(1, 2), (1, 2), (1,), (2,)])[:crews],
            minutes=draw.uniform(60, 6000),
            day_rate=draw.choice([1100.0, 1500.0, 2100.0]),
        )
        for i in range(items)
    )
    return FleetProblem(
        items=work,
        classes=fleet,
        sizes={f"{i}": SizeSetUp(20.0 + 35 * i, draw.choice([0.0, 70.0])) for i in range(3)},
        crews=crews,
        shift_min=505.0,
        move_min=30.0,
        swap_min=240.0,
        calendar_share=draw.choice([1.0, 1.4, 1.52]),
        haul_days=draw.choice([0, 1, 3]),
        equipment=(Hire(150, 450, 1350, 60),) if draw.random() < 0.5 else (),
        site_day=draw.choice([0.0, 650.0]),
        liquidated_damages=draw.choice([0.0, 800.0]),
        days_allowed=draw.choice([None, 10, 30]),
        least_days=draw.choice([0.0, 4.6]),
        crew_cost=draw.choice([0.0, 2500.0, 9000.0]),
    )


def held_to_every_assignment(problem):
    """Compare the answer, and what the model itself takes it to cost, with all assignments."""
    least = fleet_brute_force.least_cost(problem)
    program = _Program(problem)
    found = program.solve(nodes=100_000, gap=GAP)
    if least is None:
        assert found is None
        return
    model = program.solver.getInfo()
    assert least - CENT <= model.objective_function_value <= least * (1 + GAP) + CENT
    assert least * (1 - GAP) - CENT <= model.mip_dual_bound <= least + CENT
    assert found.finished
    assert least - CENT <= found.cost <= least * (1 + GAP) + CENT
    assert found.bound <= least + CENT
    assert fleet_brute_force.cost_of(problem, found.assignment) == pytest.approx(found.cost)


@pytest.mark.parametrize("seed", range(24))
def test_the_optimum_is_that_of_trying_every_assignment(seed):
    held_to_every_assignment(random_problem(seed, items=3 + seed % 3))


SMALL = (3, 5, 7, 9, 11, 16, 17, 20, 22, 25, 29, 33, 34, 35)
"""Seeds of problems of three items that differ in charges, deadlines, gear, haulage and crews."""


@each("seed", SMALL)
def test_the_model_costs_what_the_best_of_few_assignments_does(seed):
    held_to_every_assignment(random_problem(seed, items=3))


def test_two_crews_that_are_alike_may_have_as_many_days():
    """A day late costs more than a second crew: each takes one of two shifts."""
    fleet = (FleetClass("M1", (Hire(100, 300, 900, 0),), most_crews=2),)
    items = tuple(WorkItem((name,), "8", ("M1",), (1, 2), 505.0, 1000.0) for name in "AB")
    problem = FleetProblem(items, fleet, {"8": SizeSetUp(0.0)}, crews=2, shift_min=505.0,
                           liquidated_damages=5000.0, days_allowed=1)  # fmt: skip
    held_to_every_assignment(problem)
    assert {crew for _, crew in solve(problem).assignment} == {1, 2}


@given(st.integers(0, 10**6), st.data())
def test_the_cost_of_any_assignment_is_that_counted_apart(seed, data):
    problem = random_problem(seed)
    problem = replace(problem, classes=tuple(replace(one, most_crews=2) for one in problem.classes))
    assignment = [
        (data.draw(st.sampled_from(item.classes)), data.draw(st.sampled_from(item.crews)))
        for item in problem.items
    ]
    assert total_cost(problem, assignment) == pytest.approx(
        fleet_brute_force.cost_of(problem, assignment), abs=CENT
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_search_keeps_to_the_choices_and_is_never_below_the_least(seed):
    problem = random_problem(seed, items=4)
    found = search(problem)
    for item, (class_id, crew) in zip(problem.items, found, strict=True):
        assert class_id in item.classes
        assert crew in item.crews
    cost, least = fleet_brute_force.cost_of(problem, found), fleet_brute_force.least_cost(problem)
    assert (cost is None) == (beyond_stock(problem, found) > 0)
    if cost is not None:
        assert cost >= least - CENT


def test_without_any_branch_the_answer_of_the_search_is_kept_and_the_gap_is_reported():
    problem = random_problem(1, items=30)
    problem = replace(problem, classes=tuple(replace(one, most_crews=2) for one in problem.classes))
    found = solve(problem, nodes=0)
    assert not found.finished
    assert found.cost <= total_cost(problem, search(problem)) + CENT
    assert 0 <= found.bound < found.cost


def test_one_crew_by_hand():
    """Two items of one class: 1000 + 30 + 20 of a size change in shifts of 500 are 3 shifts.

    1 x 2 + 1 calendar days at 1 : 1 and no haulage, 3 days at 100 and two trips of 50: 400.
    Labor 3 x 1000, site 3 x 10, one day late at 7.
    """
    items = tuple(
        WorkItem((name,), name, ("M",), (1,), minutes, 1000.0)
        for name, minutes in (("a", 400.0), ("b", 660.0))
    )
    problem = FleetProblem(
        items=items,
        classes=(FleetClass("M", (Hire(100, 350, 1100, 50),), 1),),
        sizes={"a": SizeSetUp(20), "b": SizeSetUp(20)},
        crews=1,
        shift_min=500.0,
        move_min=30.0,
        calendar_share=1.0,
        site_day=10.0,
        liquidated_damages=7.0,
        days_allowed=2,
    )
    assert total_cost(problem, [("M", 1), ("M", 1)]) == pytest.approx(400 + 3000 + 30 + 7)
    assert solve(problem).cost == pytest.approx(3437)


def test_stock_leaves_nothing_to_choose_and_that_is_said():
    problem = random_problem(3)
    none_left = tuple(replace(one, most_crews=0) for one in problem.classes)
    assert solve(replace(problem, classes=none_left)) is None


@given(st.integers(1, 400), st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_bundles_hold_every_run_once_and_all_the_minutes(count, seed):
    items = [item for s in range(count // 5 + 1) for item in random_problem(seed + s % 3).items]
    bundled = list(bundles(items, 12, 36))
    assert sum(item.minutes for item in bundled) == pytest.approx(sum(i.minutes for i in items))
    names = sorted(name for item in bundled for name in item.run_ids)
    assert names == sorted(name for item in items for name in item.run_ids)
    assert len(bundled) <= max(12, len(items))


def two_class_job(**facts):
    """Two sizes, one that only the large machine takes, one that both take."""
    small = machine("S", od_max_mm=250.0, four_week_rate=money(900, "4 weeks"))
    large = machine(
        "L",
        day_rate=money(140),
        week_rate=money(420, "week"),
        four_week_rate=money(1260, "4 weeks"),
        delivery=money(400, "trip"),
    )
    return jobs.job(
        run("R1", size="8", segments_m=(120.0,)),
        run("R2", size="14", segments_m=(240.0,)),
        run("R3", size="8", segments_m=(130.0,)),
        machines=(small, large),
        **facts,
    )


def test_one_machine_for_all_is_cheaper_than_two_and_is_taken():
    found = estimate(two_class_job(fleet_choice=LEAST_COST))
    by_run = estimate(two_class_job())
    outcome = found.fleet_outcome
    assert {sized.machine.class_id for sized in by_run.runs} == {"S", "L"}
    assert {sized.machine.class_id for sized in found.runs} == {"L"}
    assert outcome.saving == by_run.bid.job_cost - found.bid.job_cost > 0
    assert outcome.candidates[0].job_cost == by_run.bid.job_cost
    assert outcome.asked == two_class_job(fleet_choice=LEAST_COST)
    assert "L costs less over the whole job" in found.runs[0].machine.rejected[-1].text
    assert "least total cost" in found.fleet.spans[0].why.text


def test_a_crew_day_costs_what_the_cost_sheet_pays_for_it():
    """Overtime, small tools and the further heads of a second machine, against the cost lines."""
    job = jobs.job(run(segments_m=(900.0,)), shift_hours=10.0, machines_per_crew=2)
    crew = (job.crew[0].model_copy(update={"further_heads": 0.5}), *job.crew[1:])
    prices = job.rates.model_copy(
        update={"subsistence": money(55, "person-day"), "small_tools": 0.04}
    )
    found = estimate(job.model_copy(update={"crew": crew, "rates": prices}))
    days = found.plan.crew_days
    assert {(day.kind, day.overtime_hours) for day in days} == {("work", 2.0)}
    paid = sum(line.amount for line in found.cost_lines if line.cost_type in ("Labor", "Per diem"))
    rate = fleet_problem(found).items[0].day_rate
    assert rate * len(days) == pytest.approx(float(paid), abs=0.02 * len(found.cost_lines))


def tiny_jobs():
    yield two_class_job(crews=2)
    yield two_class_job(crews=2, liquidated_damages=money(2000), deadline=jobs.job().dates.start)
    yield two_class_job(machine_swap_min=480.0, haul_days=3)
    yield two_class_job(crews=2, night_hours=8.0, night_premium=0.2, night_rental=1.5)
    both = two_class_job(crews=2)
    more = (
        run("R4", size="6", segments_m=(300.0,)),
        run("R5", size="12", segments_m=(90.0,), crew=2),
    )
    yield both.model_copy(update={"runs": (*both.runs[:2], *more)})


def orders_of(crews):
    """Return the places of runs in every order that gives some crew its runs in another order."""
    found = {}
    for order in itertools.permutations(range(1, len(crews) + 1)):
        runs = sorted(range(len(crews)), key=lambda n, order=order: (crews[n], order[n]))
        found.setdefault(tuple(runs), order)
    return found.values()


def test_orders_of_two_crews_by_hand():
    """Two runs of one crew in two orders, wherever the run of the other crew stands."""
    assert [order[0] < order[2] for order in orders_of((1, 2, 1))] == [True, False]
    assert len(orders_of((1, 1, 1))) == 6


def all_real_estimates(job):
    """Yield the job cost of every class, crew and order of the runs of each crew."""
    by_run = {item.run_ids[0]: item for item in fleet_problem(estimate(job)).items}
    choices = [
        itertools.product(by_run[r.run_id].classes, by_run[r.run_id].crews) for r in job.runs
    ]
    for given_to in itertools.product(*choices):
        for order in orders_of([crew for _, crew in given_to]):
            runs = tuple(
                one.model_copy(update={"fleet_class": class_id, "crew": crew, "priority": place})
                for one, (class_id, crew), place in zip(job.runs, given_to, order, strict=True)
            )
            yield estimate(job.model_copy(update={"runs": runs})).bid.job_cost


@pytest.mark.parametrize("number", range(5))
def test_the_pick_is_close_to_the_cheapest_of_all_real_estimates(number):
    """Every class, crew and order is estimated; the pick may be 3 % dearer than the cheapest."""
    job = list(tiny_jobs())[number]
    picked = estimate(job.changed(fleet_choice=LEAST_COST)).bid.job_cost
    assert picked <= estimate(job).bid.job_cost
    assert float(picked) <= 1.03 * float(min(all_real_estimates(job)))


def test_it_is_never_dearer_and_small_problems_are_solved_to_the_end():
    for crews, swap in itertools.product((1, 2), (0.0, 120.0, 600.0)):
        job = two_class_job(crews=crews, machine_swap_min=swap)
        asked = two_class_job(crews=crews, machine_swap_min=swap, fleet_choice=LEAST_COST)
        found, by_run = estimate(asked), estimate(job)
        assert found.bid.job_cost <= by_run.bid.job_cost
        assert found.fleet_outcome.finished
        assert 0 <= found.fleet_outcome.gap <= 0.001


def test_a_large_job_is_bundled_solved_and_no_dearer():
    copies = [
        one.model_copy(update={"run_id": f"{one.run_id}-{n}"})
        for n in range(200)
        for one in two_class_job().runs
    ]
    asked = two_class_job(crews=2, fleet_choice=LEAST_COST).model_copy(
        update={"runs": tuple(copies)}
    )
    outcome = estimate(asked).fleet_outcome
    assert (outcome.runs, outcome.items <= 36) == (600, True)
    assert outcome.saving >= 0
    assert outcome.bound <= outcome.model_cost


def test_minutes_of_a_run_are_those_that_the_plan_spends_but_for_what_is_left_of_shifts():
    """A shift of 505 min holds whole joints only; the plan books none of what is left."""
    found = estimate(jobs.job(run(segments_m=(1200.0,)), test_joint_rule="none", rework_share=0.0))
    (sized,) = found.runs
    planned = sum(line.minutes for line in found.plan.lines)
    whole = math.ceil(sized.counts.butt_joints / sized.cycle.joints_per_shift)
    assert planned <= run_minutes(found.job, sized) <= whole * found.job.shift.working_min + 1e-6


def test_each_segment_of_a_run_has_its_move():
    """By hand: three segments, a move of 30 min to each, are 90 min beside the joints."""
    found = estimate(jobs.job(run(segments_m=(400.0, 400.0, 400.0)), test_joint_rule="none"))
    (sized,), (item,) = found.runs, fleet_problem(found).items
    assert item.minutes - run_minutes(found.job, sized) == pytest.approx(90.0)


@pytest.mark.parametrize(
    "changes",
    [{}, {"shift_hours": 12.0, "overtime_loss": 0.1}, {"machines_per_crew": 2},
     {"night_hours": 10.0, "night_premium": 0.2, "night_slowing": 0.1, "night_rental": 1.5}],
)  # fmt: skip
def test_rates_of_the_choice_are_what_whole_days_cost_in_the_estimate(changes):
    """Reference: the cost lines of the estimate of one run that fills its days but the last."""
    job = jobs.job(run(segments_m=(2400.0,)), test_joint_rule="none", rework_share=0.0, **changes)
    rates = job.rates.model_copy(update={"damage_waiver": 0.1})
    crew = tuple(role.model_copy(update={"further_heads": 0.5}) for role in job.crew)
    found = estimate(job.model_copy(update={"rates": rates, "crew": crew}))
    problem = fleet_problem(found)
    teams = len(found.plan.crew_days)
    days = len({day.date for day in found.plan.crew_days})
    (item,), (taken,), (lifting,) = problem.items, problem.classes, problem.equipment
    assert days - 1 <= (item.minutes - problem.move_min) / problem.shift_min <= days
    labor = sum(float(one.amount) for one in found.cost_lines if one.cost_type == "Labor")
    whole_days = teams / (2 if job.shift.night_hours else 1)
    assert labor == pytest.approx(item.day_rate * whole_days, rel=0.01)
    rented = sum(float(one.amount) for one in found.cost_lines if one.cost_type == "Equipment")
    model = sum(hire.cost(found.fleet.spans[0].calendar_days) for hire in (*taken.hires, lifting))
    assert model == pytest.approx(rented, abs=0.05)


def test_hours_beyond_a_rental_day_are_in_the_cost_of_a_day():
    """By hand: 2 h beyond 8 at 900 / 160 each for machine and set, a tenth more with waiver."""
    job = jobs.job(run(segments_m=(1200.0,)))
    changes = {"rental_day_hours": 8.0, "damage_waiver": 0.1}
    dear = job.model_copy(update={"rates": job.rates.model_copy(update=changes)})
    without, with_hours = (fleet_problem(estimate(one)).classes[0] for one in (job, dear))
    more = with_hours.day_cost - without.day_cost
    assert more == pytest.approx(2 * 2 * 900 / 160 * 1.1)


# What the schedule asks for


def test_a_class_that_the_schedule_asks_for_is_taken_whatever_the_choice():
    for choice in ("run by run", LEAST_COST):
        job = two_class_job(fleet_choice=choice)
        first = job.runs[0].model_copy(update={"machine": "S"})
        found = estimate(job.model_copy(update={"runs": (first, *job.runs[1:])}))
        assert found.runs[0].machine.class_id == "S"
        assert found.runs[0].machine.why == "required by the schedule"


def schedule_asking(class_id):
    made = WorkbookFactory()
    made.tables["schedule"][0]["machine"] = class_id
    return made


def test_a_class_that_is_not_listed_is_refused_with_its_cell():
    made = schedule_asking("X9")
    with pytest.raises(InputError, match="'X9' is not on the Machines sheet") as caught:
        parse_job(FileSource(made.build()))
    assert str(caught.value).startswith(made.where("schedule", "machine", 0) + ": Machine: ")


def test_a_class_that_cannot_make_the_joints_is_refused_with_its_cell_and_the_reason():
    made = WorkbookFactory()
    parsed = parse_job(FileSource(made.build()))
    by_run = {sized.run_id: sized.machine for sized in estimate(parsed.job).runs}
    first = parsed.job.runs[0].run_id
    unfit = machine("TOY", od_min_mm=1.0, od_max_mm=20.0)
    job = parsed.job.model_copy(
        update={
            "machines": (*parsed.job.machines, unfit),
            "runs": (
                parsed.job.runs[0].model_copy(update={"machine": "TOY"}),
                *parsed.job.runs[1:],
            ),
        }
    )
    made.tables["schedule"][0]["machine"] = by_run[first].class_id
    places = parse_job(FileSource(made.build())).places
    with pytest.raises(InputError, match=r"Machine: TOY cannot make .*largest pipe") as caught:
        estimate(job, places)
    assert str(caught.value).startswith(made.where("schedule", "machine", 0))
    assert by_run[first].class_id in str(caught.value)


# Liquidated damages


def test_a_late_finish_is_charged_by_the_calendar_day():
    """The deadline is the first day: the days after it up to the finish are late."""
    start = jobs.job().dates.start
    free = estimate(jobs.job(run(segments_m=(900.0,)), deadline=start))
    late = (free.plan.finish - start).days
    charged = estimate(
        jobs.job(run(segments_m=(900.0,)), deadline=start, liquidated_damages=money(250))
    )
    (line,) = [ln for ln in charged.cost_lines if ln.key == "indirect.liquidated_damages"]
    assert late >= 3
    assert (line.quantity.value, line.amount) == (late, 250 * late)
    assert charged.bid.job_cost - free.bid.job_cost == 250 * late
    assert not [ln for ln in free.cost_lines if "late" in ln.key]


def test_in_time_there_is_no_charge():
    found = estimate(
        jobs.job(deadline=jobs.job().dates.start.replace(year=2028), liquidated_damages=money(9))
    )
    assert not [ln for ln in found.cost_lines if "late" in ln.key]
