"""Scenarios: read with their cells, compared with jobs that were changed by hand, written."""

import datetime as dt
import json
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import api
from estimator.cli import main
from estimator.errors import InputError
from estimator.inputs.column import usual_unit
from estimator.inputs.dictionary import fields, overridable
from estimator.models.job import Override
from estimator.pipeline import estimate
from estimator.whatif import compare
from estimator.whatif.scenarios import by_name, figures, remark
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from estimator.workbook.sheet.layout import FREE
from tests import jobs
from tests.estimated import opened
from tests.jobs import job, run
from tests.laid_out import sheets_of
from tests.office import errors_in, recalculate
from tests.one_page import names_of, sheet_of
from tests.small_book import small_book
from tests.workbook_factory import Formula, WorkbookFactory

EXAMPLES = Path(__file__).parent.parent / "examples"
NAMES = ("raw_water_main", "tailings_line", "plant_piping")


def factory(*rows):
    made = WorkbookFactory()
    made.tables["scenarios"] = [
        dict(zip(("scenario", "input", "value", "note"), row, strict=False)) for row in rows
    ]
    return made


def read(made):
    return parse_job(FileSource(made.build())).job.scenarios


def problems(made):
    with pytest.raises(InputError) as caught:
        read(made)
    return [str(problem) for problem in caught.value.problems]


def override(key, value, scenario="What if"):
    return Override(scenario=scenario, key=key, value=value, text=f"{key} {value}")


def outcome(job, *overrides):
    (found,) = compare(job.model_copy(update={"scenarios": overrides})).scenarios
    return found


# Reading


def test_omit_is_read_by_the_name_it_had():
    (found,) = read(factory(("Less", "Omit runs", "R1")))
    assert (found.key, found.value, found.text) == ("left_out", "R1", "Omit R1")


def test_inputs_that_may_change_are_those_of_the_job_sheet_and_the_stick():
    wanted = {"crews", "machines_per_crew", "hydro_crews", "method", "shift_hours",
              "straight_hours", "night_hours", "start", "workdays", "efficiency", "test_joint_rule",
              "rework_share", "fitting_rule", "ambient_c", "stick_length_m",
              "left_out"}  # fmt: skip
    assert {field.key for field in overridable().values()} == wanted


@pytest.mark.parametrize(
    ("header", "typed", "key", "value", "text"),
    [("Crews", 3, "crews", 3, "Crews 3"),
     ("crews", "3", "crews", 3, "Crews 3"),
     ("Shift length", 12, "shift_hours", 12.0, "Shift length 12 h"),
     ("Shift length", "600 min", "shift_hours", 10.0, "Shift length 600 min"),
     ("Stick or coil length", 60, "stick_length_m", 18.288, "Stick or coil length 60 ft"),
     ("Stick or coil length", "18 m", "stick_length_m", 18.0, "Stick or coil length 18 m"),
     ("Ambient temperature", 50, "ambient_c", 10.0, "Ambient temperature 50 F"),
     ("Ambient temperature", "-5 C", "ambient_c", -5.0,
      "Ambient temperature -5 C"),
     ("Rework joints (cut-outs)", 0.05, "rework_share", 0.05, "Rework joints (cut-outs) 5%"),
     ("Crew efficiency", "70%", "efficiency", 0.7, "Crew efficiency 70%"),
     ("Start date", dt.date(2027, 5, 3), "start", dt.date(2027, 5, 3), "Start date May 3, 2027"),
     ("Start date", "2027-05-03", "start", dt.date(2027, 5, 3), "Start date May 3, 2027"),
     ("Fusion method", "ISO21307-SLP", "method", "iso21307-slp", "Fusion method iso21307-slp"),
     ("Workweek", "mon-sat", "workdays", "Mon-Sat", "Workweek Mon-Sat"),
     ("Trial fusions", "each day", "test_joint_rule", "each day", "Trial fusions each day")],
)  # fmt: skip
def test_a_value_is_read_as_its_input_would_be(header, typed, key, value, text):
    (found,) = read(factory(("S", header, typed, "why")))
    assert (found.key, found.text, found.note) == (key, text, "why")
    assert found.value == (pytest.approx(value) if isinstance(value, float) else value)
    assert type(found.value) is type(value)


@pytest.mark.parametrize(
    ("row", "key", "text"),
    [(("S", "Crews", 25), "value", "Value: Crews: 25 is outside the allowed range (1 to 20)"),
     (("S", "Crews", 1.5), "value", r"Value: Crews: 1.5 is not a whole number"),
     (("S", "Shift length", 20), "value", "Value: Shift length: 20 h is outside the allowed range"),
     (("S", "Fusion method", "glue"), "value", "Value: Fusion method: 'glue' is not a choice"),
     (("S", "Start date", "soon"), "value", "Value: Start date: 'soon' is not a date"),
     (("S", "Crews", "2 ft"), "value", ("Value: Crews: '2 ft' has a unit. Enter the number "
                                       "alone")),
     (("S", "Ambient temperature", "5 bar"), "value", "'5 bar' is in bar"),
     (("S", "Crews", None), "value", "Value: The cell is blank. Enter a value"),
     (("S", "Color", 2), "input", "Input: 'Color' is not a choice for this cell"),
     ((None, "Crews", 2), "scenario", "Scenario: The cell is blank. Enter a value"),
     ((" base ", "Crews", 2), "scenario", "Scenario: 'base' is the name of the base job"),
     (("S", "Crews", Formula("=1/0", "#DIV/0!")), "value", "The cell shows #DIV/0!")],
)  # fmt: skip
def test_a_fault_is_reported_with_its_cell(row, key, text):
    made = factory(("Good", "Crews", 2), row)
    (problem,) = problems(made)
    assert problem.startswith(made.where("scenarios", key, 1) + ": ")
    assert text in problem


def test_the_same_input_twice_in_one_scenario_is_refused():
    made = factory(("S", "Crews", 2), ("T", "Crews", 3), ("s", "Crews", 4))
    (problem,) = problems(made)
    where, before = (made.where("scenarios", "input", row) for row in (2, 0))
    assert problem == (
        f"{where}: Input: 'Crews' is already changed in 's', at {before}. Change each input once "
        "per scenario"
    )


def test_a_workbook_without_the_table_has_no_scenarios():
    made = WorkbookFactory(left_out={"scenarios"})
    assert read(made) == ()


def test_every_allowed_value_of_a_choice_is_taken():
    for header, field in overridable().items():
        for choice in field.allowed:
            (found,) = read(factory(("S", header, choice)))
            assert found.value == choice


# Comparing


def test_names_are_alike_whatever_their_case():
    rows = [override("crews", 2, "Fast"), override("start", dt.date(2027, 4, 1), "Other"),
            override("shift_hours", 12.0, "FAST")]  # fmt: skip
    assert [(name, len(changes)) for name, changes in by_name(rows)] == [("Fast", 2), ("Other", 1)]


@pytest.mark.parametrize(
    ("key", "value"),
    [("crews", 2), ("machines_per_crew", 2), ("method", "iso21307-slp"), ("shift_hours", 12.0),
     ("straight_hours", 10.0), ("start", dt.date(2027, 4, 5)), ("workdays", "Mon-Sat"),
     ("efficiency", 0.6), ("test_joint_rule", "each day"), ("rework_share", 0.1),
     ("fitting_rule", "set at stick end")],
)  # fmt: skip
def test_a_scenario_is_the_estimate_of_a_job_with_that_fact(key, value):
    runs = (jobs.run("A", elbows=3), jobs.run("B", segments_m=(900.0,), tie_ins=1))
    found = outcome(jobs.job(*runs), override(key, value))
    assert found.figures == figures(estimate(jobs.job(*runs, **{key: value})))
    assert found.figures != figures(estimate(jobs.job(*runs)))


def test_a_stick_length_is_that_of_every_run():
    runs = [jobs.run("A"), jobs.run("B", segments_m=(900.0,))]
    found = outcome(jobs.job(*runs), override("stick_length_m", 6.0))
    # 300 m and 900 m in sticks of 6 m: 49 and 149 joints.
    assert found.figures.joints == 49 + 149


def test_an_ambient_holds_in_every_month():
    job = jobs.job()
    weather = tuple(row.model_copy(update={"ambient_c": 25.0}) for row in job.weather)
    job = job.model_copy(update={"weather": weather})
    cold = outcome(job, override("ambient_c", -20.0))
    assert cold.figures == figures(estimate(jobs.job(ambient_c=-20.0)))
    assert cold.figures.labor_hours > figures(estimate(job)).labor_hours


def test_several_changes_act_together():
    found = outcome(jobs.job(), override("shift_hours", 12.0), override("workdays", "Mon-Sun"))
    assert found.figures == figures(estimate(jobs.job(shift_hours=12.0, workdays="Mon-Sun")))
    assert found.changes == ("shift_hours 12.0", "workdays Mon-Sun")


@pytest.mark.parametrize(
    ("changes", "why"),
    [({"crews": 1}, "B: Crew: 2 is above the 1 crew on the Job sheet"),
     ({"shift_hours": 6.0}, "8 h is longer than the shift length (6 h)"),
     ({"stick_length_m": 200.0},
     "A: String length: 100 m is shorter than one stick or coil (200 m)"),
     ({"method": "dvs2207", "ambient_c": 50.0}, "ambient temperature"),
     ({"machines_per_crew": 3, "efficiency": 0.3, "ambient_c": -46.5}, "Ambient temperature")],
)  # fmt: skip
def test_an_impossible_scenario_says_why_and_the_others_stand(changes, why):
    job = jobs.job(jobs.run("A", string_length_m=100.0), jobs.run("B", crew=2), crews=2)
    rows = (*(override(k, v, "Bad") for k, v in changes.items()), override("crews", 3, "Good"))
    bad, good = compare(job.model_copy(update={"scenarios": rows})).scenarios
    assert bad.figures is None
    assert why in " ".join(bad.why_not)
    assert remark(bad).startswith("Not possible. ")
    assert good.figures is not None


def test_a_missed_deadline_is_remarked():
    job = jobs.job(jobs.run(segments_m=(3000.0,)), deadline=dt.date(2027, 3, 31))
    late = outcome(job, override("start", dt.date(2027, 3, 29)))
    days = (late.figures.finish - dt.date(2027, 3, 31)).days
    assert days > 0
    assert remark(late) == f"Misses the deadline by {days} calendar days"


def test_an_unchanged_input_changes_nothing():
    job = jobs.job()
    assert outcome(job, override("crews", job.resources.crews)).figures == figures(estimate(job))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.4, 1.0), st.integers(1, 3))
def test_more_efficiency_never_takes_more_labor_hours(efficiency, machines):
    job = jobs.job(machines_per_crew=machines, efficiency=0.4)
    found = outcome(job, override("efficiency", efficiency))
    assert found.figures.labor_hours <= figures(estimate(job)).labor_hours + 1e-9


# Command and sheet


@pytest.fixture
def example(tmp_path, request):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book(request.param))
    return path


@pytest.mark.parametrize("example", NAMES, indirect=True)
def test_compare_prints_and_writes_every_scenario(example, capsys):
    assert main(["compare", str(example)]) == 0
    out = capsys.readouterr().out
    workbook = api.read_workbook(str(example))
    comparison = compare(workbook.job, workbook.places)
    assert len(comparison.scenarios) >= 3
    sheet = sheet_of(example, "Compare", data_only=True)
    assert "B4:E4" in map(str, sheet.merged_cells.ranges)
    rows = {row[0].value: row for row in sheet.iter_rows(min_row=5)}
    for found in comparison.scenarios:
        assert found.name in out
        row = rows[found.name]
        if found.figures is None:
            assert row[2].value.startswith("Not possible. ")
            assert all(cell.value in (None, "") for cell in row[3:14])
            continue
        assert f"{found.figures.price:,.2f}" in out
        assert row[9].value == pytest.approx(float(found.figures.price))
        assert row[4].value.date() == found.figures.finish
        assert row[10].value == pytest.approx(float(found.figures.price - comparison.base.price))


@pytest.mark.parametrize("example", ["plant_piping"], indirect=True)
def test_compare_gives_json_and_writes_to_another_file(example, tmp_path, capsys):
    before = example.read_bytes()
    other = tmp_path / "other.xlsx"
    assert main(["compare", str(example), "-o", str(other), "--json", "-"]) == 0
    captured = capsys.readouterr()
    found = json.loads(captured.out)
    assert [s["name"] for s in found["scenarios"]] == [
        "Fittings at stick ends", "Saturdays and longer shifts", "One crew",
    ]  # fmt: skip
    first, _, last = found["scenarios"]
    assert first["figures"]["butt_joints"] < found["base"]["butt_joints"]
    assert last["figures"] is None
    assert last["why_not"]
    assert "Workbook" in captured.err
    assert example.read_bytes() == before
    assert "Compare" in names_of(other)


@pytest.mark.parametrize("example", ["plant_piping"], indirect=True)
def test_compare_without_scenarios_is_refused_and_estimate_says_so_on_the_sheet(example, capsys):
    book = openpyxl.load_workbook(example)
    sheet = book["Scenarios"]
    for row in sheet[sheet.tables["Scenarios"].ref][1:]:
        for cell in row:
            cell.value = None
    book.save(example)
    assert main(["compare", str(example)]) == 1
    assert "Scenarios: The Scenarios table is empty" in capsys.readouterr().err
    assert main(["estimate", str(example)]) == 0
    written = sheet_of(example, "Compare")
    shown = [row[0].value for row in written.iter_rows()]
    row = 1 + shown.index("No scenarios. Fill in the Scenarios sheet and run Estimate again")
    assert f"A{row}:N{row}" in map(str, written.merged_cells.ranges)


def test_the_label_of_the_base_price_asks_its_column_for_room():
    """Beside it stands the state: a text that may run over empty cells would be broken."""
    spec = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Compare"]
    label = spec.rows[3].cells[0]
    assert label.value == "Base price"
    assert label.style not in FREE


def test_the_base_price_keeps_off_the_rule_and_heads_keep_off_each_other():
    """A blank row stands below the title's rule; a header of two words has a line for each."""
    spec = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Compare"]
    assert not any(spec.rows[2].cells)
    heads = [cell.value for cell in spec.rows[spec.freeze[0] - 1].cells]
    assert "Job\ncost\n$" in heads
    assert "Bid\nprice\n$" in heads


def test_a_base_and_six_scenarios_share_a_page_with_their_charts():
    sheet = opened("raw_water_main")["Compare"]
    assert len(sheet._charts) == 2
    assert not sheet.row_breaks.brk


@pytest.mark.parametrize("example", ["raw_water_main"], indirect=True)
def test_compare_sheet_says_when_prices_moved_and_the_light_when_a_scenario_did(example):
    main(["estimate", str(example)])
    workbook = api.read_workbook(str(example))
    sheet, cell = workbook.places.where("rates", "", "mobilization").split("!")
    calm, moved = recalculate(example), recalculate(example, {sheet: {cell: 99000}})
    assert errors_in(calm) == []
    assert calm["Compare"]["B4"] == "matches the Bid sheet"
    assert moved["Compare"]["B4"] == "Prices have changed: run Estimate again"
    assert moved["Checks"]["B3"] == "OK"
    changed = recalculate(example, {"Scenarios": {"C6": 3}})
    assert changed["Checks"]["B3"] == "Inputs changed: run Estimate again"
    status = [v for v in changed["Compare"].values() if str(v).startswith("Check status: ")]
    assert [v.partition(",")[0] for v in status] == ["Check status: Inputs changed"]


def test_units_of_a_value_are_those_of_the_results():
    stick = next(field for field in fields("schedule") if field.key == "stick_length_m")
    for system in ("US", "SI"):
        made = factory(("S", stick.header, 12))
        made.set("job", "unit_system", system)
        (found,) = read(made)
        assert found.text == f"Stick or coil length 12 {usual_unit(stick, system)}"


def test_a_scenario_marked_as_alternate_is_offered_on_the_bid_with_its_change_in_price():
    made = WorkbookFactory()
    made.tables["scenarios"] = [
        {"scenario": "Long days", "input": "Shift length", "value": 12, "alternate": "yes"},
        {"scenario": "Long days", "input": "Rework joints (cut-outs)", "value": 0},
        {"scenario": "Not offered", "input": "Shift length", "value": 9},
    ]
    workbook = parse_workbook(made.build())
    found = api.estimate_workbook(workbook)
    offered = [s for s in found.comparison.scenarios if s.is_alternate]
    assert [s.name for s in offered] == ["Long days"]
    bid = sheet_of(with_results(workbook, found), "Bid", data_only=True)
    rows = {str(row[1].value): row for row in bid.iter_rows() if len(row) > 6}
    change = float(offered[0].figures.price - found.bid.price)
    (reported,) = (row for text, row in rows.items() if text.startswith("Long days"))
    assert reported[0].value == "A1"
    assert reported[6].value == pytest.approx(change, abs=0.004)
    assert reported[6].number_format == '#,##0.00" add";#,##0.00" deduct";"no change in price"'
    assert not any("Not offered" in text for text in rows)
