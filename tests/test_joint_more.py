"""Runs that crews share: where a joint more would lower the price, Checks says so."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.joint.shared import Shared
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.study import study
from estimator.whatif import cheaper_with_a_joint_more
from estimator.whatif.joint_more import TELLING, with_crews
from tests.jobs import job, machine, run

NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}
FLEET = machine("S", od_max_mm=230.0), machine("L", od_min_mm=150.0)


NOWHERE = Places()


def of_joints(run_id, size, *joints):
    """Return a run of as many segments as numbers of joints are given."""
    segments = tuple(6.0 * (number + 1) for number in joints)
    return run(run_id, size=size, segments_m=segments, stick_length_m=6.0)


def shared_job(*sizes, **changes):
    rows = [of_joints(f"R{n}", *of_run) for n, of_run in enumerate(sizes, 1)]
    return job(*rows, machines=FLEET, **{"crews": 2, **NO_TESTS, **changes})


def first_two_first(sizes):
    """Return the job of three runs, of which two come before the third."""
    made = shared_job(*sizes)
    ranks = (1, 1, None)
    runs = [one.model_copy(update={"priority": rank})
            for one, rank in zip(made.runs, ranks, strict=True)]  # fmt: skip
    return made.model_copy(update={"runs": tuple(runs)})


def named(job_, places=NOWHERE):
    shared = Shared(places)
    found = estimate(job_, Places(), None, shared)
    return found, cheaper_with_a_joint_more(found, shared)


def test_a_fall_of_the_price_is_named_with_the_crews_that_save_it():
    """Crew 1 ends R1, 13 joints of 37.04 min, at minute 481.5 and is at R3 30 min later, 511.5.
    Crew 2 ends R2, 4 joints of 31.22, at 124.9 and is there with another machine after 240: 364.9,
    more than half of that before. With 5 joints it would be there at 396.1: crew 1 makes R3, and
    nobody rents a second machine L."""
    made = first_two_first((("12", 13), ("8", 4), ("12", 20)))
    found, (problem,) = named(made)
    assert {line.crew for line in found.plan.lines if line.run_id == "R3"} == {2}
    assert problem.message.startswith("One more joint in run R2 would lower the price by $")
    assert "(crew 1: run R3)" in problem.message
    pinned = made.model_copy(
        update={"runs": tuple(one.model_copy(update={"crew": crew})
                              for one, crew in zip(made.runs, (1, 2, 1), strict=True))}
    )  # fmt: skip
    saved = found.bid.price - estimate(pinned).bid.price
    assert f"this job costs ${saved:,.0f} less" in problem.message
    longer = first_two_first((("12", 13), ("8", 5), ("12", 20)))
    fall = found.bid.price - estimate(longer).bid.price
    assert f"by ${fall:,.0f}, because" in problem.message
    assert study(made).warnings[-1] == problem


def test_a_fall_is_named_at_the_length_that_was_typed():
    typed = Places(cells={("schedule", "R2", "segments_m"): "'Pipe schedule'!$E$6"})
    _, (problem,) = named(first_two_first((("12", 13), ("8", 4), ("12", 20))), typed)
    assert problem.where == "Pipe schedule!E6"


@pytest.mark.parametrize("changes", [{"crews": 1}, {}])
def test_nothing_is_named_where_nothing_falls(changes):
    """One crew shares nothing; two with one machine class and one size have nothing to change."""
    sizes = (("12", 13), ("8", 8), ("12", 20)) if changes else (("8", 13), ("8", 8), ("8", 20))
    assert named(shared_job(*sizes, **changes))[1] == ()


@settings(max_examples=15, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(["4", "8", "12"]), st.integers(2, 40))
        | st.tuples(st.sampled_from(["4", "8", "12"]), st.integers(2, 30), st.integers(2, 30)),
        min_size=3, max_size=5,
    ),
    st.integers(2, 3),
)  # fmt: skip
def test_a_fall_is_named_wherever_there_is_one(sizes, crews):
    """Each run a stick longer in turn, priced as a job of its own: no fall is left out."""
    found, problems = named(shared_job(*sizes, crews=crews))
    price = float(found.bid.price)
    falls = []
    for at in range(len(sizes)):
        longer = [(*one[:-1], one[-1] + (n == at)) for n, one in enumerate(sizes)]
        more = estimate(shared_job(*longer, crews=crews))
        if pairs(more) != pairs(found):
            falls.append(price - float(more.bid.price))
    worst = max(falls, default=0.0)
    assert bool(problems) == (worst >= TELLING * price)
    if problems:
        assert f"by ${worst:,.0f}, because" in problems[0].message


def pairs(found):
    return {(line.run_id, line.crew) for line in found.plan.lines}


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(["4", "8", "12"]), st.integers(2, 40), st.integers(1, 3)),
        min_size=3, max_size=6,
    ),
    st.data(),
)  # fmt: skip
def test_with_crews_entered_a_joint_more_saves_a_day_of_rent_at_most(rows, data):
    """A machine that comes a day later: $ 100 for it, its generator and its lifter, with markups of
    at most a third; never the hundreds of a machine less."""
    at = data.draw(st.integers(0, len(rows) - 1))

    def priced(more):
        made = shared_job(*((size, joints + more * (n == at))
                            for n, (size, joints, _) in enumerate(rows)), crews=3)  # fmt: skip
        crew_of = {f"R{n}": crew for n, (_, _, crew) in enumerate(rows, 1)}
        return float(estimate(with_crews(made, crew_of)).bid.price)

    assert priced(1) > priced(0) - 400.0
