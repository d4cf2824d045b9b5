"""Runs that crews share: who takes which, worked by hand.

A joint of 12 in takes 37.04 min, of 8 in 31.22; a move 30, a change of the machine 240.
"""

import datetime as dt
from types import SimpleNamespace

import pytest

from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.plan.crews import CrewState
from estimator.plan.sharing import Sharing, joints_min
from estimator.plan.tasks import NEW, STRINGS, WAIT, RipeRuns, Task, TaskQueue, start_of
from estimator.working_time.roster import Roster
from tests.each import each
from tests.jobs import job, machine, run

FLEET = machine("S", od_max_mm=230.0), machine("L", od_min_mm=230.0)


def crews_of(*sizes, machines=FLEET, crew_dates=(), **changes):
    """Return by crew the runs that it makes, in their order, two crews sharing all."""
    rows = [
        run(f"R{n}", size=size, segments_m=(6.0 * (joints + 1),), stick_length_m=6.0, **of_run)
        for n, (size, joints, of_run) in enumerate(sizes, 1)
    ]
    free = {"test_joint_rule": "none", "rework_share": 0.0, "crews": 2}
    made = job(*rows, machines=machines, **{**free, **changes})
    found = estimate(made.model_copy(update={"crew_dates": crew_dates}))
    taken = {}
    for line in found.plan.lines:
        taken.setdefault(line.crew, dict.fromkeys(()))[line.run_id] = None
    return {crew: [*runs] for crew, runs in taken.items()}


def rows(*sizes):
    return [(size, joints, {}) for size, joints in sizes]


def test_the_second_crew_brings_the_machine_with_most_work_left_per_crew():
    """12 in: 40 joints, 1,482 min. Crew 1 brings that machine; 20 joints are left, 741 min, half of
    them 370 for each of two crews; 8 in: 20 joints, 624 min. Crew 2 brings the machine for 8 in.
    Done after 654 min, it could be at R2 at 894, crew 1 at 771."""
    assert crews_of(*rows(("12", 20), ("12", 20), ("8", 10), ("8", 10))) == {
        1: ["R1", "R2"],
        2: ["R3", "R4"],
    }


def test_two_crews_bring_the_same_machine_where_that_has_most_work():
    """12 in: 80 joints in four runs. After crew 1 took one, 2,222 min are left, 1,111 for each of
    two crews; 8 in: 624."""
    taken = crews_of(*rows(("8", 10), ("8", 10), *[("12", 20)] * 4))
    assert (taken[1][0], taken[2][0]) == ("R3", "R4")


def test_a_crew_goes_on_with_its_pipe():
    """Crew 1 brings the machine for 12 in (741 min against 9 x 31.22 and five joints of 4 in), crew
    2 the other one for 8 in, and makes all of 8 in before it sets up for 4 in."""
    taken = crews_of(*rows(("8", 5), ("4", 5), ("8", 4), ("12", 20)))
    assert taken == {1: ["R4"], 2: ["R1", "R3", "R2"]}


@pytest.mark.parametrize(("joints", "by"), [(4, 2), (5, 1)])
def test_a_run_is_left_to_the_crew_with_the_machine_up_to_half_a_change_out(joints, by):
    """Crew 1 ends 13 joints at minute 481.5 and is at R3 at 511.5. Crew 2 could be there after 4
    joints at 364.9, 147 min before; after 5 joints at 396.1, 115 min before: not worth it."""
    first = {"priority": 1}
    taken = crews_of(("12", 13, first), ("8", joints, first), ("12", 20, {}))
    assert (taken[1][0], taken[2][0]) == ("R1", "R2")
    assert "R3" in taken[by]
    assert "R3" not in taken[3 - by]


def test_priorities_go_first():
    sizes = [("12", 20, {}), ("8", 10, {"priority": 1}), ("8", 10, {"priority": 1})]
    taken = crews_of(*sizes)
    assert (taken[1][0], taken[2][0]) == ("R2", "R3")


def test_runs_that_name_a_crew_come_in_the_order_of_names():
    """Crew 2 makes 4 in between two runs of 8 in."""
    sizes = [("12", 20, {"crew": 1}), *[(size, 5, {"crew": 2}) for size in ("8", "4", "8")]]
    assert crews_of(*sizes)[2] == ["R2", "R3", "R4"]


def test_a_crew_that_leaves_a_run_waits_for_that_of_its_machine():
    """With two machines crew 1 makes 13 joints of 12 in until minute 331, crew 2 ten of 8 in until
    238; R3 follows R2 when its last joint is cool, at 246. Then crew 1 leaves R3 to crew 2, and
    crew 2 leaves R4 to crew 1: crew 2 waits for R3, and no machine changes."""
    sizes = [("12", 13, {"priority": 1}), ("8", 10, {"priority": 1}),
             ("8", 5, {"priority": 2, "after": "R2"}), ("12", 5, {"priority": 3})]  # fmt: skip
    assert crews_of(*sizes, machines_per_crew=2) == {1: ["R1", "R4"], 2: ["R2", "R3"]}


def test_a_crew_that_leaves_before_it_could_be_there_leaves_a_run_to_the_other():
    """Crew 2 is done with 12 joints of 8 in at minute 375 of its last day, which has 505: it is
    never at R3, 240 min away. Crew 1, at minute 481, is there in the next shift."""
    dates = CrewDates(crew=2, from_date=dt.date(2027, 3, 1), to_date=dt.date(2027, 3, 1))
    sizes = [("12", 13, {"priority": 1}), ("8", 12, {"priority": 1}), ("12", 20, {})]
    assert crews_of(*sizes, crew_dates=(dates,)) == {1: ["R1", "R3"], 2: ["R2"]}


def test_a_run_is_not_left_to_a_crew_that_is_never_there():
    """The last day of both, of 505 min. Crew 1 makes 13 joints of 12 in until minute 481 and would
    be at R4, 30 min on, after it; crew 2 makes five of 8 in until 156 and is there at 396."""
    day = dt.date(2027, 3, 1)
    dates = [CrewDates(crew=crew, from_date=day, to_date=last)
             for crew, last in ((1, day), (2, day), (3, None))]  # fmt: skip
    sizes = [("12", 13, {"priority": 1}), ("8", 5, {"priority": 1}), ("8", 20, {"crew": 3}),
             ("12", 2, {})]  # fmt: skip
    taken = crews_of(*sizes, crew_dates=tuple(dates), crews=3)
    assert taken == {1: ["R1"], 2: ["R2", "R4"], 3: ["R3"]}


def test_the_second_crew_brings_another_machine_where_that_has_more_for_it():
    """After R1, 30 joints of 12 in are left, 1,111 min: 556 for each of two crews; 8 in: 624."""
    taken = crews_of(*rows(("12", 20), ("12", 30), ("8", 10), ("8", 10)))
    assert (taken[1][0], taken[2][0]) == ("R1", "R3")


@pytest.mark.parametrize(("joints", "then"), [(30, "R2"), (20, "R3")])
def test_within_a_class_the_second_crew_sets_up_for_the_diameter_with_most_left(joints, then):
    """A joint of 4 in takes 16.48 min, 24 of them 395. Of 8 in, 30 joints are left for two crews,
    468 min each, or 20, 312 each."""
    taken = crews_of(*rows(("8", 10), ("8", joints), ("4", 24)))
    assert (taken[1][0], taken[2][0]) == ("R1", then)


def test_the_sizes_of_a_class_count_together():
    """8 in: 15 joints, 468 min, and 4 in: 20, 330; 12 in: 20 joints, 741 min."""
    assert crews_of(*rows(("12", 20), ("8", 15), ("4", 20)))[1][0] == "R2"


def test_joints_that_are_made_again_count_as_work():
    """20 joints and ten of them again, at 31.22 min."""
    sized = Sizer(job(run(size="8", segments_m=(126.0,), stick_length_m=6.0), rework_share=0.5),
                  Places()).size_all()  # fmt: skip
    assert joints_min(sized[0]) == pytest.approx(30 * 31.22, abs=0.2)


def test_one_crew_makes_its_runs_in_the_order_of_names():
    taken = crews_of(*rows(("8", 5), ("12", 20), ("8", 5), ("12", 5)), crews=1)
    assert taken == {1: ["R1", "R2", "R3", "R4"]}


@pytest.mark.parametrize(("minutes", "left"), [(120.0, True), (120.1, False)])
def test_half_a_change_out_before_the_other_crew_is_not_worth_a_change(minutes, left):
    crew = SimpleNamespace(machine="S", works_between=lambda *_: minutes)
    other = SimpleNamespace(machine="L")
    sharing = Sharing([crew, other], {}, lambda one, _: (0.0 if one is crew else 500.0, 0.0), 240.0)
    assert sharing._is_left(crew, "L", None) is left


SIZES = {"A": "8", "B": "4", "C": "8"}
A, B, C = (Task((NEW, 1.0, row), run(name, size=size), STRINGS, 0.0, None, WAIT)
           for row, (name, size) in enumerate(SIZES.items()))  # fmt: skip


def shared_by_one_crew():
    """Return a crew that has brought no machine yet, and its choice among runs of equal work."""
    made = job(*(task.run for task in (A, B, C)), rework_share=0.0)
    sized = {one.run_id: one for one in Sizer(made, Places()).size_all()}
    roster = Roster.of(made, 1)
    crew = CrewState(1, roster, roster.first_on(made.dates.start), {})
    sharing = Sharing([crew], sized, lambda *_: (0.0, 0.0), 240.0)
    assert sharing.work_ms["A"] == pytest.approx(60_000 * joints_min(sized["A"]), abs=1)
    sharing.work_ms = {"A": 5, "B": 10, "C": 5}
    return crew, sharing


def ripe_of(sharing, *tasks):
    ripe = RipeRuns(sharing.pipe_of, sharing.work_ms)
    for task in tasks:
        ripe.add(task)
    return ripe


@each("ready, ripe, first", [
    ([B], [A, C], A), ([A, C], [B], A), ([B], [C, A], A), ([A], [C], A), ([C], [A], A),
    ([C], [B], B),
])  # fmt: skip
def test_of_pipes_with_as_much_work_the_first_in_the_schedule_is_taken(ready, ripe, first):
    """A and C of 8 in are 10, as B of 4 in; of one pipe the first, ripe or not. C alone is 5."""
    crew, sharing = shared_by_one_crew()
    assert sharing.choice(crew, ready, ripe_of(sharing, *ripe).of(1.0)) is first


def test_ripe_runs_stand_by_pipe_with_their_work():
    """8 in: A and C, 10; 4 in: B, 10. The first of all goes, then B comes before C."""
    _, sharing = shared_by_one_crew()
    ripe = ripe_of(sharing, C, B, A)
    eight, four = sharing.pipe_of["A"], sharing.pipe_of["B"]
    level = ripe.of(1.0)
    assert {pipe: (alike.tasks, alike.left_ms) for pipe, alike in level.items()} == {
        eight: ([A, C], 10), four: ([B], 10),
    }  # fmt: skip
    assert ripe.first() is A
    assert (ripe.take(A), ripe.take(A)) == (True, False)
    assert (ripe.first(), level[eight].left_ms) == (B, 5)
    assert (ripe.take(B), ripe.take(C), ripe.first(), bool(ripe)) == (True, True, None, False)


def test_shared_runs_are_ripe_once_each_crew_stands_at_their_start():
    """A may begin on Tuesday, C too but may not ripen; B is of a crew, and stays in its row."""
    tuesday = dt.date(2027, 3, 2)
    a, b, c = (task.run.model_copy(update={"earliest_start": tuesday, "crew": crew})
               for task, crew in ((A, None), (B, 1), (C, None)))  # fmt: skip
    ripe = RipeRuns({"A": ("S", 219.0)}, {"A": 7})
    queue, start = TaskQueue([a, b, c], ripe, {"A", "B"}), start_of(a)
    queue.ripen(start - 1)
    assert not ripe
    queue.ripen(start)
    assert [task.run for task in ripe] == [a]
    assert [task.run for task in queue.ready_for(1)] == [b, c]
    assert {task.run.run_id for task in queue.all_ready()} == {"A", "B", "C"}
    queue.take(ripe.first())
    assert (bool(ripe), queue.any_ready()) == (False, True)
