"""The formula's joints per shift beside a discrete-event simulation (simpy) of the same work.

One operator attends m machines. On each he does the part of a joint before cooling and what may be
done while it cools; when it is cool he takes the joint off and sets up the next one in the same
visit. Machines are attended in the order in which they ask. No joint is begun that would not be
cool before the shift ends.
"""

import itertools
import math

import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.joint.cycle import gain_of_another, joint_time, joints_in, machines_that_pay
from estimator.models.sized_run import CycleElement

SHIFT_MIN = 505.0
TINY = 1e-6


def finished(before, hidden, after, cool, machines, shift=SHIFT_MIN, most=None):
    """Return when each joint is done, up to the end of the shift or as many as are asked for."""
    world = simpy.Environment()
    operator = simpy.Resource(world, capacity=1)
    enough, done = world.event(), []
    cycle = before + max(hidden, cool) + after

    def machine():
        holds_a_joint = False
        while True:
            with operator.request() as turn:
                yield turn
                if holds_a_joint:
                    yield world.timeout(after)
                    done.append(world.now)
                    if len(done) == most:
                        enough.succeed()
                if world.now + cycle > shift + TINY:
                    return
                yield world.timeout(before)
                cooled = world.timeout(cool)
                yield world.timeout(hidden)
            yield cooled
            holds_a_joint = True

    for _ in range(machines):
        world.process(machine())
    world.run(until=enough if most else shift + TINY)
    return done


def simulated(*times):
    """Return the joints that are done by the end of the shift."""
    return len(finished(*times))


def timed(before, hidden, after, cool, machines):
    parts = [(before, False), (hidden, True), (after, False)]
    elements = [
        CycleElement(task="x", minutes=minutes, paced_by="crew", hidden=is_hidden)
        for minutes, is_hidden in parts
    ]
    return joint_time(elements, 0.0, cool, machines)


GRID = tuple(itertools.product((4, 9, 17, 30), (0, 3), (2, 8, 16), (1, 6, 12, 25, 60, 130)))


@pytest.mark.parametrize("machines", [1, 2, 3])
def test_joints_per_shift_within_one_of_the_simulation_over_a_grid(machines):
    found = {
        times: (joints_in(SHIFT_MIN, timed(*times, machines)), simulated(*times, machines))
        for times in GRID
    }
    assert {times: both for times, both in found.items() if abs(both[0] - both[1]) > 1} == {}


def minutes(low, high):
    """Return times in whole hundredths, so that neither side rests on the last digit of a float."""
    return st.integers(round(low * 100), round(high * 100)).map(lambda hundredths: hundredths / 100)


some_minutes = minutes(2, 60)


@settings(max_examples=400, deadline=None)
@given(some_minutes, minutes(0, 15), some_minutes, minutes(0, 150), st.integers(1, 3),
       st.sampled_from([240.0, 385.0, 505.0, 700.0]))  # fmt: skip
def test_joints_per_shift_within_one_of_the_simulation(
    before, hidden, after, cool, machines, shift
):
    times = before, hidden, after, cool, machines
    made = joints_in(shift, timed(*times))
    assert abs(made - simulated(*times, shift)) <= 1
    if machines == 1:
        assert made == simulated(*times, shift)


RUN_IN, COUNTED = 60, 600
"""Joints before the work repeats itself, and those after; whole rounds of 1, 2 and 3 machines."""


def long_run(*times):
    """Return the minutes from one joint to the next over many joints of the simulation."""
    done = finished(*times, shift=math.inf, most=RUN_IN + COUNTED)
    return (done[-1] - done[RUN_IN - 1]) / COUNTED


@settings(max_examples=40, deadline=None)
@given(some_minutes, minutes(0, 15), some_minutes, minutes(0, 150), st.integers(1, 3))
def test_period_is_that_of_a_long_simulation(before, hidden, after, cool, machines):
    times = before, hidden, after, cool, machines
    assert long_run(*times) == pytest.approx(timed(*times).period_min, rel=0.01)


@settings(max_examples=40, deadline=None)
@given(some_minutes, minutes(0, 15), some_minutes, minutes(0, 150))
def test_machines_that_pay_are_those_that_shorten_the_period_of_a_simulation(
    before, hidden, after, cool
):
    times = before, hidden, after, cool
    periods = [long_run(*times, machines) for machines in (1, 2, 3)]
    paying = 1 + sum(b < 0.985 * a for a, b in itertools.pairwise(periods))
    pays = machines_that_pay(timed(*times, 1))
    gains = [gain_of_another(timed(*times, machines)) for machines in (1, 2)]
    assert pays - sum(0 < gain < 0.03 for gain in gains) <= paying <= pays
    for gain, (one, more) in zip(gains, itertools.pairwise(periods), strict=True):
        assert gain == pytest.approx(one / more - 1, abs=0.02)


def test_second_machine_at_36_in_dr_17():
    """By hand: 23 of 74 min is cooling; 74 / (74 - 23) = 1.45; a third gains none."""
    alone = timed(41.5, 0, 9.5, 23, 1)
    assert alone.cycle_min == 74
    assert machines_that_pay(alone) == 2
    assert gain_of_another(alone) == pytest.approx(74 / (74 - 23) - 1)
    assert gain_of_another(timed(41.5, 0, 9.5, 23, 2)) == 0


def test_three_machines_with_long_cooling_finish_together():
    """By hand: cycle 150, attended 10; each machine makes 3 joints in 505 min, nine altogether."""
    assert joints_in(SHIFT_MIN, timed(6, 0, 4, 140, 3)) == 9
