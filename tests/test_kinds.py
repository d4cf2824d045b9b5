"""The tables of kinds: one row is all that a new cost line or connection needs."""

import ast
import dataclasses
import re
from pathlib import Path

import pytest

from estimator import estimate
from estimator.cost import lines
from estimator.cost.counted import CountedLine
from estimator.cost.rates import DIRECT
from estimator.errors import UnknownNameError
from estimator.models import kinds
from estimator.models.crew import TaskTime
from estimator.models.estimate import Quantity
from estimator.models.kinds import (
    ALLOCATION_BASES,
    COST_TYPES,
    COUNTED_ITEMS,
    EACH_LINE,
    WITH_PIPE,
    CostType,
)
from estimator.models.rates import MaterialPrice
from estimator.workbook.book import parse_workbook, with_results
from tests.jobs import job, money, rates, run
from tests.office import errors_in, recalculate
from tests.one_page import sheet_of
from tests.workbook_factory import WorkbookFactory

PACKAGE = Path(kinds.__file__).parent.parent


def runs_counted(planned):
    return Quantity(float(len(planned.runs)))


@pytest.fixture(params=["Surveying", WITH_PIPE, EACH_LINE])
def surveyed(request, monkeypatch):
    """A new cost line of a new type: a row of each table and one function; a rate there is."""
    monkeypatch.setattr(kinds, "COST_TYPES", (*COST_TYPES, CostType("Survey", request.param)))
    line = CountedLine("survey", DIRECT, "Survey", "As-built survey", "by the run",
                       "hydro_equipment", runs_counted)  # fmt: skip
    monkeypatch.setattr(lines, "LINES", (*lines.LINES, line))
    return request.param


def test_a_new_cost_line_stands_in_the_bid_item_that_its_type_names(surveyed):
    """Three runs at 50.00: 150.00 in an item of its own, or in the prices of the pipe."""
    base = job(*(run(f"R{i}", tie_ins=i) for i in range(3)))
    asked = base.model_copy(update={"rates": rates(hydro_equipment=money(50, "test section"))})
    found = estimate(asked)
    costs = {item.description: float(item.cost) for item in found.items}
    before = {item.description: float(item.cost) for item in estimate(base).items}
    own = {"Surveying": "Surveying", EACH_LINE: "As-built survey"}.get(surveyed)
    added = {name: costs[name] - before.get(name, 0.0) for name in costs}
    grown = {name: round(more, 2) for name, more in added.items() if round(more, 2)}
    if own is not None:
        assert grown == {own: 150.0}
    else:
        assert costs.keys() == before.keys()
        assert sum(grown.values()) == pytest.approx(150.0, abs=0.02)
        assert {name.partition(" ")[0] for name in grown} == {"Butt", "Tie-in"}
    assert all(costs.values())
    assert sum(line.amount for line in found.cost_lines) == found.bid.job_cost


def test_a_new_cost_line_is_live_on_every_sheet(monkeypatch, tmp_path):
    """Two lines of one item: LibreOffice adds up what we cached."""
    added = CostType("Survey", "Surveying")
    monkeypatch.setattr(kinds, "COST_TYPES", (*COST_TYPES, added))
    new_lines = [
        CountedLine(key, DIRECT, "Survey", text, "by the run", "site_overhead", runs_counted)
        for key, text in (("survey", "As-built survey"), ("stakes", "Stakes"))
    ]
    monkeypatch.setattr(lines, "LINES", (*lines.LINES, *new_lines))
    workbook = parse_workbook(WorkbookFactory().build())
    found = estimate(workbook.job, workbook.places)
    path = tmp_path / "survey.xlsx"
    path.write_bytes(with_results(workbook, found))
    values = recalculate(path)
    assert errors_in(values) == []
    cached = sheet_of(path, "Bid schedule", data_only=True)
    row = next(row for row in cached.iter_rows() if row[1].value == "Surveying")
    item = next(item for item in found.items if item.description == "Surveying")
    assert float(item.cost) == 2 * len(found.runs) * found.job.rates.site_overhead.amount > 0
    theirs = values["Bid schedule"][row[5].coordinate]
    assert theirs == pytest.approx(float(item.amount), abs=0.004)
    assert row[5].value == pytest.approx(float(item.amount), abs=0.004)


def test_a_line_of_no_table_is_refused_with_what_there_is():
    """Where the row is written, and where a line is built without one."""
    with pytest.raises(UnknownNameError, match="cost type 'Survey' is not recognized"):
        CountedLine("survey", DIRECT, "Survey", "Survey", "", "site_overhead", runs_counted)
    with pytest.raises(UnknownNameError, match="basis of allocation 'runs' is not recognized"):
        CountedLine("survey", DIRECT, "Labor", "Survey", "", "site_overhead", runs_counted, "runs")
    (line, *_) = estimate(job(run())).cost_lines
    with pytest.raises(UnknownNameError, match="cost type 'Survey'"):
        _ = dataclasses.replace(line, cost_type="Survey").bid_item


def test_cost_types_and_drivers_of_all_lines_stand_in_their_tables():
    everything = run(elbows=1, ef_closures=1, flange_adapters=1, branch_saddles=1, tie_ins=1,
                     pipe_price=money(9.5, "m"), test_section="T")  # fmt: skip
    found = estimate(job(everything))
    names = [kind.name for kind in COST_TYPES]
    assert len(set(names)) == len(names)
    assert {line.cost_type for line in found.cost_lines} <= set(names)
    assert {line.allocated_by for line in found.cost_lines} <= set(ALLOCATION_BASES)
    assert {item.cost_type for item in COUNTED_ITEMS} <= set(names)
    shares = [share.name for share in found.by_run.allocations]
    assert len(set(shares)) == len(shares)


def test_trial_fusions_and_hydrotests_are_two_cost_types_and_two_items():
    tested = job(run(test_section="T")).model_copy(
        update={"rates": rates(hydro_equipment=money(500, "test section"))}
    )
    found = estimate(tested)
    items = {item.description: float(item.cost) for item in found.items}
    assert items["Trial fusions"] > 0
    by_type = {}
    for line in found.cost_lines:
        by_type[line.cost_type] = by_type.get(line.cost_type, 0.0) + float(line.amount)
    assert items["Hydrostatic testing"] == pytest.approx(by_type["Hydrotests"])
    assert by_type["Hydrotests"] >= 500
    assert items["Trial fusions"] == pytest.approx(by_type["Trial fusions"])


@pytest.mark.parametrize(("model", "field"), [(TaskTime, "applies_to"), (MaterialPrice, "what")])
def test_a_kind_that_is_in_no_table_is_refused(model, field):
    minutes = {f"min_{band}": 1.0 for band in "abcde"}
    values = {"task": "x", "paced_by": "crew", "hidden": False, **minutes}
    values = values if model is TaskTime else {}
    with pytest.raises(ValueError, match=r"must be one of .*branch saddle"):
        model(**values, **{field: "moon"})


def test_connections_are_named_in_their_table_alone():
    """Besides it only inputs name one: columns of the schedule, its rate."""
    inputs = {
        "models/job.py", "models/site_records.py", "joint/takeoff.py",
    }  # fmt: skip
    word = re.compile("saddle", re.IGNORECASE)
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if word.search(path.read_text("utf-8"))
    }
    assert found == inputs | {"models/kinds.py"}


NOT_TYPES = {"kinds.py", "run_costs.py"}


def test_no_list_of_cost_types_is_kept_beside_their_table():
    """What a type needs is a column of its row; sheets and groups of items have such names, too."""
    names = {kind.name for kind in COST_TYPES}
    for path in PACKAGE.rglob("*.py"):
        if path.relative_to(PACKAGE).parts[0] == "workbook" or path.name in NOT_TYPES:
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            parts = getattr(node, "elts", getattr(node, "keys", None))
            if isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict):
                listed = [one.value for one in parts or () if isinstance(one, ast.Constant)]
                assert len(names & set(map(str, listed))) < 2, f"{path}: {listed}"
