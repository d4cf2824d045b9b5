"""The choice of machines over the job is the same however busy the machine is that works it out."""

import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from estimator.optimize.solver import MOST_NODES, _Program, solve
from tests.test_fleet_choice import random_problem

ROOT = Path(__file__).parent.parent
PAUSE_S = 4.5
"""Longer than any limit by the clock that a user would wait for."""
SOLVING = """
import sys
from tests.test_fault_same_answer import hard_problem
from estimator.optimize.solver import MOST_NODES, _Program
program = _Program(hard_problem())
print("begun", flush=True)
found = program.solve(MOST_NODES, 0.001)
print(found.cost, found.bound, found.finished, found.assignment)
"""


def hard_problem():
    """Return a problem whose best answer turns up only after some hundred branches."""
    problem = random_problem(2, items=30)
    plenty = tuple(replace(one, most_crews=2) for one in problem.classes)
    return replace(problem, classes=plenty)


def searching(seed):
    """Return another process that has begun its search."""
    environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}
    process = subprocess.Popen(
        [sys.executable, "-c", SOLVING], stdout=subprocess.PIPE, env=environment, text=True
    )
    process.stdout.readline()
    return process


def answer_of(process):
    with process:
        return process.stdout.read()


@pytest.mark.skipif(os.name == "nt", reason="asks for signals")
def test_a_machine_that_is_busy_elsewhere_finds_the_same():
    stopped = searching("1")
    time.sleep(0.6)
    stopped.send_signal(signal.SIGSTOP)
    begun = time.monotonic()
    undisturbed = answer_of(searching("2"))
    time.sleep(max(0.0, PAUSE_S - (time.monotonic() - begun)))
    stopped.send_signal(signal.SIGCONT)
    assert undisturbed
    assert answer_of(stopped) == undisturbed


def test_no_clock_ends_the_search():
    program = _Program(hard_problem())
    program.solve(0, 0.0)
    assert program.solver.getOptionValue("time_limit")[1] == float("inf")


def test_what_is_not_searched_to_the_end_says_how_far_it_may_be_off():
    found = solve(hard_problem(), nodes=1, gap=0.001)
    assert not found.finished
    assert 0 < found.gap < 0.02
    better = solve(hard_problem(), nodes=MOST_NODES, gap=0.001)
    assert better.cost <= found.cost
    assert found.bound <= better.cost
