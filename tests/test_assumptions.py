"""Own assumptions at their defaults, by what each moves the price; the Basis of estimate sheet."""

import json
from decimal import Decimal
from functools import cache

import pytest

from estimator import api
from estimator.cli.command import main
from estimator.export.as_json import assumptions_json
from estimator.export.as_text import summarize
from estimator.joint.shared import Shared
from estimator.models.assumptions import NoAssumptions
from estimator.models.job import Job
from estimator.models.places import Places
from estimator.pipeline import estimate, price
from estimator.stages import total_of
from estimator.study import study
from estimator.whatif import weigh, weigh_all, weighing
from estimator.whatif.default_inputs import GROUPS, at_defaults
from estimator.workbook.book import parse_workbook
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from tests.estimated import EXAMPLES, FOLDER
from tests.jobs import job, money, rates, run
from tests.small_book import small_book
from tests.workbook_factory import WorkbookFactory


@cache
def small():
    """The workbook of two runs, in which nothing is set but what a job must have."""
    factory = WorkbookFactory()
    for row in factory.tables["crew"]:
        row["basis"] = "assumption"
    factory.tables["crew"][1]["basis"] = "payroll of 2026"
    return parse_workbook(factory.build())


def weighed(workbook):
    shared = Shared(workbook.places)
    return weigh_all(estimate(workbook.job, workbook.places, shared=shared), shared)


def by_name(table):
    return {(one.table, one.key): one for one in table.assumptions}


@cache
def few_runs(name):
    """The first runs of an example."""
    return parse_workbook(small_book(name))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_move_gives_the_price_of_the_whole_estimate(name):
    """Whatever is made anew for it or taken from another plan: the price rests on nothing else."""
    given = few_runs(name).job.changed(fleet_choice="run by run")
    found, shared = estimate(given), Shared(Places())
    held = {(one.table, one.key, one.name): one for one in at_defaults(given)}
    moved = 0
    for one in weigh_all(found, shared).assumptions:
        origin = held[one.table, one.key, one.name]
        if one.change is None:
            continue
        change = dict(origin.moves)[one.move]
        whole = price(change(given).model_copy(update={"scenarios": ()}), Shared(Places()))
        assert one.change == whole.bid.price - found.bid.price, one.key
        moved += 1
    assert moved > 40


def test_a_markup_moved_by_a_tenth_moves_the_price_as_worked_by_hand():
    """Cost before profit x 0.012 / (1 - bond): profit of 12 % goes to 13.2 %."""
    workbook = small()
    found = estimate(workbook.job, workbook.places)
    one = by_name(weighed(workbook))["rates", "profit"]
    cost, bond = float(found.bid.cost_before_profit), workbook.job.rates.bond
    assert (one.value, one.move) == ("12%", "to 13.2%")
    assert float(one.change) == pytest.approx(cost * 0.012 / (1 - bond), abs=0.02)
    assert one.where == workbook.places.where("rates", "", "profit")


def test_what_was_changed_is_no_assumption_at_its_default():
    before = by_name(weighed(small()))
    assert ("job", "efficiency") in before
    factory = WorkbookFactory()
    factory.named["job"]["efficiency"] = 0.8
    factory.named["rates"]["profit"] = 0.15
    after = by_name(weighed(parse_workbook(factory.build())))
    assert before.keys() - after.keys() >= {("job", "efficiency"), ("rates", "profit")}


def test_rows_count_while_their_basis_says_so():
    """Of two roles one has a source: only the other one's wage is moved."""
    workbook = small()
    one = by_name(weighed(workbook))["crew", "wage"]
    assert one.rows == 1
    crew = list(workbook.job.crew)
    raised = crew[0].wage.model_copy(update={"amount": crew[0].wage.amount * 1.1})
    crew[0] = crew[0].model_copy(update={"wage": raised})
    other = price(workbook.job.model_copy(update={"crew": tuple(crew)}), Shared(Places()))
    base = price(workbook.job, Shared(Places()))
    assert one.change == other.bid.price - base.bid.price > 0
    assert (
        by_name(weighed(parse_workbook(WorkbookFactory().build())))
        .keys()
        .isdisjoint({("crew", "wage")})
    )


def test_the_heaviest_comes_first_and_zero_is_not_moved():
    table = weighed(small())
    sizes = [abs(one.change or Decimal(0)) for one in table.assumptions]
    assert sizes == sorted(sizes, reverse=True)
    zero = by_name(table)["rates", "subsistence"]
    assert (zero.change, zero.why_not) == (None, "it is 0")
    assert all(one.change for one in table.weighed)


def test_a_move_that_cannot_be_done_gives_way_to_the_next():
    """Nothing lifts more than 10 % above the class; the shift at its limit goes down."""
    long = job(shift_hours=16.0, straight_hours=16.0)
    held = {one.key: one for one in at_defaults(long)}
    assert "shift_hours" not in held
    table = weigh_all(estimate(job()), Shared(Places()))
    assert all(one.change is not None or one.why_not for one in table.assumptions)


def test_every_group_names_columns_of_its_table():
    for group in GROUPS:
        model = type(getattr(_example_job(), group.part)[0])
        assert set(group.keys) <= set(model.model_fields), group.name
        assert "basis" in model.model_fields


def _example_job() -> Job:
    return few_runs("raw_water_main").job


def test_large_jobs_are_weighed_on_demand():
    runs = [run(f"R{i}", segments_m=(24.0,)) for i in range(300)]
    found = estimate(job(*runs, risk_trials=0, option_crews=0))
    reported = weigh(found, Shared(Places()))
    assert isinstance(reported, NoAssumptions)
    assert "estimator basis" in reported.reason
    assert "reason" in assumptions_json(reported)


def test_text_and_json_name_the_five_heaviest():
    workbook = small()
    found = study(workbook.job, workbook.places)
    lines = summarize(found, "x.xlsx").splitlines()
    (at,) = (i for i, line in enumerate(lines) if line.startswith("Assumptions"))
    five = found.assumptions.weighed[:5]
    for line, one in zip(lines[at + 1 : at + 6], five, strict=True):
        assert line.startswith(f"  {one.where}: {one.name}")
        assert line.endswith(f"{one.change:+,.0f}")
    reported = assumptions_json(found.assumptions)["assumptions"]
    assert [one["price_change"] for one in reported[:5]] == [float(one.change) for one in five]


def test_the_command_prints_every_assumption(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small().data)
    target = tmp_path / "reported.json"
    assert main(["basis", str(path), "--json", str(target)]) == 0
    printed = capsys.readouterr().out
    reported = json.loads(target.read_text("utf-8"))["assumptions"]
    for one in reported:
        assert one["name"] in printed
    assert f"{len(reported)} own assumptions still at the default" in printed


def test_only_what_a_plan_rests_on_is_planned_anew(monkeypatch):
    workbook = parse_workbook((FOLDER / "raw_water_main.xlsx").read_bytes())
    shared = Shared(workbook.places)
    found = estimate(workbook.job, workbook.places, shared=shared)
    planned = []
    monkeypatch.setattr(
        weighing, "total_of", lambda job, own: planned.append(job) or total_of(job, own)
    )
    weighed = weigh_all(found, shared).assumptions
    reach = [one.reach for one in at_defaults(found.job)]
    assert len(weighed) == len(reach) > 50
    assert len(planned) <= reach.count("plan") < 45


def basis_rows(found, places):
    names = {name: name for name in RESULT_SHEETS}
    spec = dict(each_sheet(found, places, (), names))["Basis of estimate"]
    return [[cell.value if cell else None for cell in row.cells] for row in spec.rows]


def test_the_basis_sheet_shows_price_range_weights_and_warnings():
    workbook = small()
    found = study(workbook.job, workbook.places)
    rows = basis_rows(found, workbook.places)
    text = [value for row in rows for value in row if isinstance(value, str)]
    assert "INTERNAL: not for the client" in text
    (price_row,) = (row for row in rows if row and row[0] == "Bid price")
    assert price_row[2] == float(found.bid.price)
    assert price_row[5] == found.risk.covered_share
    five = [one.name for one in found.assumptions.weighed[:5]]
    shown = [row[0] for row in rows if row and row[0] in five]
    assert shown == five
    (ranged,) = (one for one in text if one.startswith("Range without contingency, "))
    assert ranged.endswith(" trials")
    assert any(f"Open warnings: {len(found.warnings) or 'none'}" in one for one in text)
    assert {"Judgment of the estimator", "Prepared by", "Reviewed by, date"} <= set(text)


def test_the_basis_sheet_says_why_there_is_no_range():
    given = job().model_copy(update={"rates": rates(mobilization=money(1, "lump sum"))})
    text = [str(v) for row in basis_rows(study(given, ranges=False), Places()) for v in row if v]
    assert any(line.startswith("No range: ") for line in text)
    assert not {"Probability", "Finish"} & set(text), "no header over an empty table"
    assert not any(line.startswith("Range ") for line in text)
    assert any(line.startswith("Not weighed: ") for line in text)


def test_readme_keeps_its_promise():
    """README: assumed figures are listed by weight on the Basis of estimate sheet."""
    for name in EXAMPLES:
        table = api.assumptions_of(study(few_runs(name).job, ranges=False), Places())
        assert len(table.weighed) > 5
