"""What a crew brings, and what it is paid while it waits: by hand, in options and in the choice."""

import datetime as dt
from dataclasses import replace

import pytest

from estimator import estimate
from estimator.models.job_inputs import LEAST_COST
from estimator.optimize.problem import total_cost
from estimator.whatif import assess
from estimator.whatif.options import described, remark
from tests.jobs import job, machine, money, rates, run

BRINGS = {"crew_mobilization": money(3000, "crew"), "crew_overhead": money(200, "crew-day")}


def two_runs(**facts):
    """Two runs of four days each for one crew: a crew alone is there for seven or eight."""
    made = job(run("R1", segments_m=(700.0,)), run("R2", segments_m=(700.0,)), **facts)
    return made.model_copy(update={"machines": (machine("M4"),)})


def with_rates(made, **changed):
    return made.model_copy(update={"rates": rates(**changed)})


@pytest.mark.parametrize("crews", [1, 2])
def test_every_crew_pays_its_mobilization_and_its_days(crews):
    plain = estimate(two_runs(crews=crews))
    found = estimate(with_rates(two_runs(crews=crews), **BRINGS))
    days = {(line.date, line.crew) for line in plain.plan.lines}
    more = float(found.bid.job_cost - plain.bid.job_cost)
    assert more == 3000 * crews + 200 * len(days)
    if crews == 2:
        assert len(days) == 8
    items = {item.description: float(item.cost) for item in found.items}
    assert items["Mobilization"] == 8500 + 3000 * crews


def test_a_further_crew_is_cheaper_by_less_than_without_its_mobilization():
    """3,000 more for the second crew, and 200 for each crew-day that two crews have more."""
    saved = {}
    for name, changed in (("plain", {}), ("brings", BRINGS)):
        table = assess(estimate(with_rates(two_runs(option_crews=2), **changed)))
        (two,) = [o for o in table.options
                  if (o.crews, o.machines_per_crew, o.shift_hours) == (2, 1, 10)]  # fmt: skip
        saved[name] = float(table.more_cost(two))
    days = [len({(line.date, line.crew) for line in estimate(two_runs(crews=crews)).plan.lines})
            for crews in (1, 2)]  # fmt: skip
    assert saved["brings"] - saved["plain"] == 3000 + 200 * (days[1] - days[0])


def test_an_option_says_what_it_rests_on():
    table = assess(estimate(two_runs(option_crews=2, overtime_loss=0.1)))
    by_choice = {(o.crews, o.machines_per_crew, o.shift_hours): o for o in table.options}
    assert by_choice[2, 1, 12].rests_on == (
        "needs 1 more crew of 2.5 people; what a crew brings is not priced (Mobilization per crew "
        "on Rates); assumes 4 hours of overtime a shift with 10% of its pace lost"
    )
    assert by_choice[1, 1, 8].rests_on == by_choice[1, 1, 10].rests_on == ""
    reported = remark(table, by_choice[2, 1, 12])
    assert by_choice[2, 1, 12].rests_on.partition(";")[0] in reported.lower()
    assert described(table, by_choice[2, 1, 10]).endswith(" (what a crew brings is not priced)")
    assert "priced" not in described(table, by_choice[1, 1, 12])
    priced = assess(estimate(with_rates(two_runs(option_crews=2), **BRINGS)))
    (two,) = [o for o in priced.options
              if (o.crews, o.machines_per_crew, o.shift_hours) == (2, 1, 10)]  # fmt: skip
    assert two.rests_on == "needs 1 more crew of 2.5 people"
    assert "priced" not in described(priced, two)


def test_the_choice_over_the_job_leaves_a_crew_at_home_that_costs_too_much():
    """Two crews are cheaper for the site overhead of each day, until the second one costs more."""
    made = two_runs(crews=2, fleet_choice=LEAST_COST)
    at_work = {}
    for amount in (0, 100_000):
        priced = estimate(with_rates(made, site_overhead=money(5000, "work day"),
                                     crew_mobilization=money(amount, "crew")))  # fmt: skip
        at_work[amount] = len({line.crew for line in priced.plan.lines})
    assert at_work == {0: 2, 100_000: 1}


def test_the_model_counts_each_crew_with_work_once():
    from tests.test_fleet_choice import random_problem

    problem = replace(random_problem(3), crew_cost=0.0)
    pairs = [(item.classes[0], item.crews[0]) for item in problem.items]
    crews = len({crew for _, crew in pairs})
    dearer = replace(problem, crew_cost=1000.0)
    assert total_cost(dearer, pairs) - total_cost(problem, pairs) == pytest.approx(1000.0 * crews)


# R1 is done on Monday 1 March; R2 may not start before Friday: three workdays of waiting.
FRIDAY = dt.date(2027, 3, 5)


def waiting(pay="not paid", longest=5, **facts):
    made = job(run("R1", segments_m=(60.0,)), run("R2", segments_m=(60.0,), earliest_start=FRIDAY),
               waiting_pay=pay, waiting_days=longest, weather_paid_hours=2.0, shift_hours=10.0,
               straight_hours=8.0, **facts)  # fmt: skip
    return estimate(made)


def waits(found):
    days = [day for day in found.plan.crew_days if day.kind == "waiting"]
    return [(day.date.day, day.straight_hours, day.overtime_hours) for day in days]


def test_a_crew_that_waits_is_paid_by_the_rule():
    """Straight pay with burden and small tools of a crew-hour: (38 + 1.5 x 27) x 1.42 x 1.03 =
    114.8141. Show-up: three times 2 h of it and a day of jobsite overhead, 650. A full shift adds
    the premium of 2 h, half of 78.50 an hour."""
    plain = waiting()
    assert waits(plain) == []
    showed = waiting("show-up hours")
    assert waits(showed) == [(day, 2.0, 0.0) for day in (2, 3, 4)]
    more = float(showed.bid.job_cost - plain.bid.job_cost)
    assert more == pytest.approx(3 * (2 * 114.8141 + 650), abs=0.05)
    full = waiting("full shift")
    assert waits(full) == [(day, 8.0, 2.0) for day in (2, 3, 4)]
    more = float(full.bid.job_cost - plain.bid.job_cost)
    assert more == pytest.approx(3 * (10 * 114.8141 + 2 * 78.5 / 2 + 650), abs=0.05)
    assert (plain.finish, showed.finish, full.finish) == (FRIDAY,) * 3


def test_a_longer_wait_than_is_paid_is_not_paid_at_all():
    assert len(waits(waiting("full shift", longest=3))) == 3
    assert waits(waiting("full shift", longest=2)) == []


def test_checks_say_how_a_wait_is_paid():
    for pay, reported in (("not paid", "The wait is not paid and not priced"),
                      ("show-up hours", "The wait is paid: show-up hours")):  # fmt: skip
        texts = [w.message for w in waiting(pay).warnings if " waits " in w.message]
        assert texts == [f"Crew 1 waits 3 workdays from 2 Mar 2027 for run R2. {reported}"]


def test_a_crew_that_waits_brings_its_overhead_too():
    plain = job(run("R1", segments_m=(60.0,)), run("R2", segments_m=(60.0,), earliest_start=FRIDAY),
                waiting_pay="show-up hours")  # fmt: skip
    found = estimate(with_rates(plain, **BRINGS))
    (line,) = [one for one in found.cost_lines if one.key == "indirect.crew_overhead"]
    assert line.quantity.value == 5
