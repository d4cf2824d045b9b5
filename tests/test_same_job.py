"""One job in other words: in feet or in meters, its rows reversed or split, it costs the same."""

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from estimator.inputs.dictionary import Field, fields, input_tables
from estimator.models.job import Job
from estimator.pipeline import estimate
from estimator.units import UNITS, from_si, to_si
from estimator.workbook.book import parse_workbook
from tests.jobs import job, run
from tests.workbook_factory import WorkbookFactory


def in_si(item: Field, value: Any) -> Any:
    """Return a value of a US workbook as a workbook in SI units has it."""
    us, si = (item.unit_label(system).removeprefix("$/") for system in ("US", "SI"))
    if value is None or us not in UNITS or us == si:
        return value
    if item.kind == "money":
        return value / from_si(to_si(1.0, us), si)
    if isinstance(value, str):
        return "; ".join(repr(in_si(item, float(part))) for part in value.split(";"))
    return from_si(to_si(value, us), si)


def book_in_si(us: WorkbookFactory) -> WorkbookFactory:
    """Return the same workbook in SI units."""
    known = {(t.table, f.key): f for t in input_tables() for f in fields(t.table)}

    def row(table: str, values: dict[str, Any]) -> dict[str, Any]:
        return {key: in_si(known[table, key], value) for key, value in values.items()}

    named = {table: row(table, values) for table, values in us.named.items()}
    named["job"]["unit_system"] = "SI"
    tables = {table: [row(table, one) for one in rows] for table, rows in us.tables.items()}
    return WorkbookFactory(system="SI", named=named, tables=tables)


def read(factory: WorkbookFactory) -> Job:
    return parse_workbook(factory.build()).job


SCHEDULES = st.lists(
    st.fixed_dictionaries(
        {
            "size": st.sampled_from(["4", "6", "8", "12"]),
            "dr": st.sampled_from([11, 17]),
            "segments_m": st.integers(60, 3000) | st.sampled_from(["380; 40; 95", "600; 1000"]),
            "stick_length_m": st.sampled_from([40, 50]),
            "string_length_m": st.sampled_from([None, 250, 500]),
            "elbows": st.integers(0, 2),
            "tie_ins": st.integers(0, 2),
            "pipe_price": st.sampled_from([None, 12.25]),
        }
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=6, deadline=None)
@given(SCHEDULES, st.integers(1, 2), st.sampled_from(["none", "each size", "each day"]))
def test_a_job_in_feet_costs_what_it_costs_in_meters(rows, crews, rule):
    """Every input of the US workbook, limits and rates among them, converted cell by cell.

    Quantities such as fuel are billed to 0.01 of their own unit, a gallon or a liter: some cents.
    """
    us = WorkbookFactory()
    us.tables["schedule"] = [
        {"run_id": f"R{n}", "od_system": "IPS", "placement": "trench", **row}
        for n, row in enumerate(rows, 1)
    ]
    us.tables["other_costs"] = []
    us.tables["scenarios"] = []
    us.named["job"] |= {"crews": crews, "test_joint_rule": rule}
    feet, meters = (estimate(read(factory)) for factory in (us, book_in_si(us)))
    made = [[(n.date, n.crew, n.run_id, n.joints, n.moves) for n in found.plan.lines]
            for found in (feet, meters)]  # fmt: skip
    assert made[0] == made[1]
    assert float(feet.bid.price) == pytest.approx(float(meters.bid.price), abs=0.5)
    assert {s.class_id for s in feet.fleet.spans} == {s.class_id for s in meters.fleet.spans}


ROWS = st.lists(
    st.tuples(
        st.sampled_from(["4", "8", "12"]),
        st.lists(st.integers(1, 25), min_size=1, max_size=4),
        st.integers(0, 3),
        st.integers(0, 2),
        st.sampled_from([None, 1, 2]),
        st.sampled_from([None, 1, 2, 3]),
        st.sampled_from([None, 30.0]),
    ),
    min_size=1,
    max_size=4,
)
RULES = st.sampled_from(["none", "each size", "each size and wall", "each day"])


def whole_and_split(rows, crews):
    """Return runs of several segments, and the same segments as rows of their own.

    Fittings, and tie-ins to other pipe, are at the end of the last one.
    """
    whole, split = [], []
    for number, (size, sticks, elbows, tie_ins, priority, crew, string_m) in enumerate(rows, 1):
        lengths = tuple(6.0 * count for count in sticks)
        like = {"size": size, "stick_length_m": 6.0, "string_length_m": string_m,
                "priority": priority, "crew": crew and min(crew, crews)}  # fmt: skip
        ends = {"elbows": elbows, "tie_ins": tie_ins}
        whole.append(run(f"R{number}", segments_m=lengths, **ends, **like))
        for place, length in enumerate(lengths, 1):
            own = ends if place == len(lengths) else {}
            split.append(run(f"R{number}-{place}", segments_m=(length,), **own, **like))
    return whole, split


@settings(max_examples=40, deadline=None)
@given(ROWS, RULES, st.integers(1, 3), st.floats(0.0, 0.1), st.sampled_from([None, 0.0, 240.0]))
def test_a_job_reversed_or_split_costs_the_same(rows, rule, crews, share, rest_min):
    """Whatever crews share or are given, whatever is made again, however long strings rest."""
    assume(any(max(sticks) > 1 or elbows or tie_ins for _, sticks, elbows, tie_ins, *_ in rows))
    whole, split = whole_and_split(rows, crews)
    made = [
        estimate(job(*some, rework_share=share, test_joint_rule=rule, crews=crews,
                     own_rest_min=rest_min))
        for some in (whole, whole[::-1], split, split[::-1])
    ]  # fmt: skip
    assert len({found.bid.price for found in made}) == 1
    assert len({found.finish for found in made}) == 1
    assert len({sum(one.counts.rework_joints for one in found.runs) for found in made}) == 1


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(["4", "8", "12"]), st.integers(1, 30), st.integers(1, 30),
                  st.integers(1, 2)),
        min_size=1, max_size=4,
    ),
    RULES,
)  # fmt: skip
def test_a_segment_cut_in_two_adds_a_tie_in_and_a_move_and_nothing_else(rows, rule):
    """The joint at the cut is entered as a tie-in to the first part. With a tie-in that takes what
    a joint takes, strings that do not rest, and moves of no time, it costs the same."""
    whole, cut = [], []
    for n, (size, first, second, crew) in enumerate(rows, 1):
        like = {"size": size, "stick_length_m": 6.0, "crew": crew}
        whole.append(run(f"R{n}", segments_m=(6.0 * (first + second),), **like))
        cut += [
            run(f"R{n}-1", segments_m=(6.0 * first,), **like),
            run(f"R{n}-2", segments_m=(6.0 * second,), tie_ins=1, joins=f"R{n}-1", **like),
        ]
    free = {"tie_in_factor": 1.0, "own_rest_min": 0.0, "machine_move_min": 0.0,
            "rework_share": 0.0, "test_joint_rule": rule, "crews": 2}  # fmt: skip
    one, two = (estimate(job(*runs, **free)) for runs in (whole, cut))
    assert sum(x.counts.butt_joints for x in one.runs) == sum(
        x.counts.butt_joints for x in two.runs
    )
    assert one.bid.price == two.bid.price
    assert one.finish == two.finish


@pytest.mark.parametrize(("factor", "more_min"), [(1.0, 30.0), (2.0, 30.0 + 15.0 / 0.83)])
def test_a_cut_costs_the_same_crew_a_move_and_what_a_tie_in_takes_beyond_a_joint(factor, more_min):
    """8 in: 15 min of a joint are paced by the crew, at an efficiency of 83%; a move 30 min."""
    like = {"size": "8", "stick_length_m": 6.0}
    whole = [run("R1", segments_m=(120.0,), **like)]
    cut = [run("R1-1", segments_m=(72.0,), **like),
           run("R1-2", segments_m=(48.0,), tie_ins=1, joins="R1-1", **like)]  # fmt: skip
    rules = {"tie_in_factor": factor, "own_rest_min": 0.0, "rework_share": 0.0}
    one, two = (estimate(job(*runs, **rules)).plan.lines for runs in (whole, cut))
    assert [sum(line.joints for line in lines) for lines in (one, two)] == [19, 19]
    minutes = [sum(line.minutes for line in lines) for lines in (one, two)]
    assert minutes[1] - minutes[0] == pytest.approx(more_min)
