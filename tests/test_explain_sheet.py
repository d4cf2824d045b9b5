"""The Explain sheet and the column of Joints that leads to it: origins within two clicks."""

import functools
import re
from dataclasses import replace

import pytest

from estimator.display import convert, figure
from estimator.errors import InputError
from estimator.explain.one_run import explain
from estimator.explain.times import CREW, OF_ITS_DAYS
from estimator.inputs.dictionary import input_tables
from estimator.models.places import Places
from estimator.study import study
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.explain_sheet import MOST_DAYS, MOST_RUNS
from estimator.workbook.results.sheets import RESULT_SHEETS, result_sheets
from estimator.workbook.sheet.names import link_to, sheet_of
from tests import jobs
from tests.estimated import EXAMPLES, example, opened, saved
from tests.office import recalculate
from tests.one_page import book_of
from tests.test_explain import work_out
from tests.workbook_factory import WorkbookFactory

LINK = re.compile(r'=HYPERLINK\("#((?:[^"]|"")+)","((?:[^"]|"")*)"\)')
READ = ("Joints", "Explain", *(table.sheet for table in input_tables()))
LONGEST_LITERAL = 255
"""Letters that Excel takes in one text within a formula."""


@functools.cache
def written(name):
    """Return an example as read, estimated, and written with every run on Explain."""
    workbook, found = example(name)
    job = workbook.job.changed(explain_run="all")
    workbook, found = replace(workbook, job=job), replace(found, job=job)
    data = with_results(workbook, found)
    books = (book_of(data, READ, data_only=v) for v in (False, True))
    return workbook, found, *books


def links_of(sheet):
    for row in sheet.iter_rows():
        for cell in row:
            if match := LINK.fullmatch(str(cell.value)):
                yield cell, match[1].replace('""', '"'), match[2].replace('""', '"')


def at(book, reference):
    return book[sheet_of(reference)][reference.rpartition("!")[2].replace("$", "")]


def rows_of(book):
    """Return the steps on the Explain sheet: run, part, step, result, unit, sum, meaning ..."""
    rows = list(book["Explain"].iter_rows(values_only=True))
    start = next(n for n, row in enumerate(rows) if row[0] == "Run" and row[1] == "Part")
    return rows[start + 1 :]


def test_the_top_names_the_currency_and_a_job_of_one_run_names_no_other():
    workbook, _ = example("raw_water_main")
    first, *_ = workbook.job.runs
    one = first.model_copy(update={"after": None})
    job = workbook.job.model_copy(update={"runs": (one,), "scenarios": ()})
    found = study(job, Places(), ranges=False)
    names = {each: each for each in RESULT_SHEETS}
    (sheet,) = (
        sheet for sheet in result_sheets(found, Places(), (), names) if sheet.name == "Explain"
    )
    texts = [str(cell.value) for row in sheet.rows for cell in row.cells if cell and cell.value]
    assert f"Price, {job.cover.currency}" in texts
    assert [text for text in texts if text.startswith("The only run.")]
    assert not [text for text in texts if "highest price" in text]
    assert "ASTM F2620" in texts
    assert "f2620" not in texts


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_run_on_joints_leads_to_its_first_step(name):
    _, found, book, values = written(name)
    links = list(links_of(book["Joints"]))
    assert len(links) == len(found.job.runs)
    for cell, target, _ in links:
        run_id = book["Joints"].cell(cell.row, 1).value
        first = at(values, target)
        assert first.value == run_id
        assert values["Explain"].cell(first.row, 2).value == "Run"
        assert values["Explain"].cell(first.row - 1, 1).value != run_id


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_input_named_on_explain_is_led_to_and_filled_in(name):
    workbook, _, book, values = written(name)
    inputs = {workbook.places.where(*place) for place in workbook.places.cells}
    links = list(links_of(book["Explain"]))
    assert len(links) > 500
    for cell, target, text in links:
        assert text in inputs
        assert text == f"{sheet_of(target)}!{target.rpartition('!')[2]}"
        if at(values, target).value is None:  # left blank, which counts as 1
            step = [values["Explain"].cell(cell.row, column).value for column in (3, 4)]
            assert step == ["Access factor", 1], f"{cell.coordinate} leads to nothing"


def test_the_link_of_the_length_leads_to_the_length_that_was_typed():
    _, found, book, values = written("tailings_line")
    system = found.job.cover.unit_system
    lengths = {row[0]: row for row in rows_of(values) if row[1:3] == ("Pipe schedule", "Length")}
    targets = {text: target for _, target, text in links_of(book["Explain"])}
    for run in found.job.runs:
        row = lengths[run.run_id]
        typed = at(values, targets[row[7]]).value
        parts = [float(part) for part in str(typed).split(";")]
        assert sum(parts) == pytest.approx(row[3])
        assert convert(run.length_m, "length", system) == pytest.approx(row[3])


@pytest.mark.parametrize("name", EXAMPLES)
def test_sheet_shows_every_step_that_the_command_shows(name):
    workbook, found, _, values = written(name)
    rows = rows_of(values)
    for run in found.job.runs[::7]:
        shown = [row for row in rows if row[0] in (run.run_id, "All runs")]
        for part in explain(found, run.run_id, workbook.places).parts:
            if part.title in ("Machine", "Plan", "Labor-hours"):
                continue
            part_rows = [row for row in shown if row[1] == part.title]
            for row, step in zip(part_rows, part.steps, strict=True):
                assert (row[2], row[5] or "", row[7] or "") == (step.name, step.sum, step.where)
                if isinstance(step.value, float):
                    assert row[3] == pytest.approx(step.value, rel=6e-6, abs=0.006)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_sum_on_the_sheet_gives_its_result(name):
    rows = [row for row in rows_of(written(name)[3]) if row[5]]
    assert len(rows) > 500
    for row in rows:
        assert work_out(row[5]) == pytest.approx(row[3], rel=3e-5, abs=0.006), row


@pytest.mark.parametrize("name", EXAMPLES)
def test_how_found_adds_up_to_joints_and_cycle(name):
    """The line's own numbers give its own results, and those are the columns of the sheet."""
    _, found, _, values = written(name)
    sheet = values["Joints"]
    texts = [row[-1].value for row in sheet.iter_rows(min_row=5) if row[-1].value]
    for sized, text in zip(found.runs, texts, strict=True):
        count, minutes = text.split("; ")
        left, right = count.split(" = ")
        sticks, less, rest = re.match(r"(\d+) sticks? \(.*?\) - (\d+) segments?(.*)", left).groups()
        more = map(int, re.findall(r"\+ (\d+)", rest))
        assert (
            int(sticks) - int(less) + sum(more) == int(right.split()[0]) == sized.counts.butt_joints
        )
        whole, parts = minutes.split(" min: ")
        added = sum(float(part.split()[0]) for part in parts.split(" + "))
        assert added == pytest.approx(float(whole), abs=0.21)  # four roundings to 0.05
        assert float(whole) == pytest.approx(sized.cycle.plain.cycle_min, abs=0.051)


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_text_in_a_link_is_longer_than_excel_takes(name):
    book = written(name)[2]
    for sheet in ("Joints", "Explain"):
        for _, target, text in links_of(book[sheet]):
            assert max(len(target) + 1, len(text)) <= LONGEST_LITERAL


def specs_of(job, asked="all"):
    job = job.changed(explain_run=asked)
    names = {key: "Bob's steps" if key == "Explain" else key for key in RESULT_SHEETS}
    made = result_sheets(study(job), Places(), (), names)
    return dict(zip(RESULT_SHEETS, made, strict=True))


def test_of_a_large_job_the_first_runs_are_reported_and_the_command_for_the_others():
    count = MOST_RUNS + 3
    specs = specs_of(
        jobs.job(*(jobs.run(f"R{n}", segments_m=(24.0,)) for n in range(count)), crews=9)
    )
    rows = [[cell and cell.value for cell in row.cells] for row in specs["Explain"].rows]
    note = f"First {MOST_RUNS} of {count} runs. For any other run: estimator explain FILE RUN"
    assert rows[3][0].startswith(note)
    names = [row[0] for row in rows if row[1:2] == ["Run"]]
    assert names == [*(f"R{n}" for n in range(MOST_RUNS)), "All runs"]
    links = [row.cells[-1].formula for row in specs["Joints"].rows[-count - 1 : -1]]
    assert links[-1].startswith("HYPERLINK(\"#'Bob''s steps'!$A$1\",")
    first = int(re.search(r"\$A\$(\d+)", links[1])[1])
    assert rows[first - 1][0] == "R1"


@pytest.mark.parametrize(
    ("asked", "shown"), [(None, "long"), ("short", "short"), ("SHORT", "short")]
)
def test_one_run_is_explained_the_dearest_or_the_one_that_is_asked_for(asked, shown):
    job = jobs.job(jobs.run("short", segments_m=(50.0,)), jobs.run("long", segments_m=(900.0,)))
    specs = specs_of(job, asked)
    rows = [[cell and cell.value for cell in row.cells] for row in specs["Explain"].rows]
    assert [row[0] for row in rows if row[1:2] == ["Run"]] == [shown, "All runs"]
    other = 'Another run, or all: set "Run on Explain" on Job, or run "estimator explain FILE RUN".'
    assert other in rows[3][0]
    last = next(number for number, row in enumerate(rows, 1) if row[:2] == ["All runs", "Run"])
    assert specs["Explain"].print_area == f"A1:H{last - 1}"


def test_a_run_that_is_not_in_the_schedule_cannot_be_explained():
    factory = WorkbookFactory()
    factory.set("job", "explain_run", "R99")
    with pytest.raises(InputError) as caught:
        parse_workbook(factory.build())
    (problem,) = caught.value.problems
    assert problem.where == factory.where("job", "explain_run")
    assert problem.message == (
        "Run on Explain: 'R99' is not a run of the Pipe schedule. Enter a run, or all, or leave it "
        "blank"
    )


def test_numbers_show_their_thousands_and_money_its_cents():
    _, _, book, _ = written("raw_water_main")
    cells = [row[3] for row in book["Explain"].iter_rows(min_row=6) if row[4].value == "$"]
    assert len(cells) > 100
    assert {cell.number_format for cell in cells} == {"#,##0.00"}
    lengths = [row[3] for row in book["Explain"].iter_rows(min_row=6) if row[2].value == "Length"]
    assert {cell.number_format for cell in lengths} <= {"#,##0", "#,##0.0"}
    assert any(re.search(r"\d,\d{3}", str(row[5].value)) for row in book["Explain"].iter_rows())


def days_of(rows, part):
    return [
        row for row in rows if row[1:2] == [part] and (CREW in row[2] or " more days" in row[2])
    ]


def test_the_days_of_a_long_run_are_summed_up():
    job = jobs.job(jobs.run(segments_m=(4000.0,)))
    found = study(job)
    rows = [[c and c.value for c in row.cells] for row in specs_of(job)["Explain"].rows]
    lines = [line for line in found.plan.lines if line.run_id == "R1"]
    shown = days_of(rows, "Plan")
    assert [row[3] for row in shown[:-1]] == pytest.approx(
        [line.minutes for line in lines[:MOST_DAYS]], rel=1e-5
    )
    assert shown[-1][2] == f"{len(lines) - MOST_DAYS} more days"
    assert sum(row[3] for row in shown) == pytest.approx(sum(x.minutes for x in lines), rel=1e-5)
    (whole,) = (row[3] for row in rows if row[1:3] == ["Labor-hours", "Labor-hours"])
    days = days_of(rows, "Labor-hours")
    assert sum(row[3] for row in days) == pytest.approx(whole, rel=1e-5)
    for name in ("Labor-hours", "Crew-hours"):
        (added,) = (row for row in rows if row[1:3] == ["Labor-hours", name])
        assert work_out(added[5]) == pytest.approx(added[3], rel=3e-5)
        assert added[5].count("+") == MOST_DAYS


def test_change_outs_are_added_to_the_hours_of_a_long_run():
    rows = [row for row in rows_of(written("tailings_line")[3]) if row[1] == "Labor-hours"]
    changed = {row[0] for row in rows if row[2].startswith("Change-outs")}
    long_ones = changed & {row[0] for row in rows if " more days" in row[2]}
    assert long_ones
    for run_id in long_ones:
        of_run = {row[2]: row for row in rows if row[0] == run_id}
        days, whole = of_run[OF_ITS_DAYS], of_run["Labor-hours"]
        own = sum(row[3] for name, row in of_run.items() if name.startswith("Change-out,"))
        of_all = sum(row[3] for name, row in of_run.items() if name.startswith("Change-outs"))
        assert work_out(whole[5]) == pytest.approx(days[3] - own + of_all, rel=3e-5)
        assert days[5].count("+") <= MOST_DAYS
        assert of_run["Crew-hours"][5]


@pytest.mark.parametrize(("system", "rows"), [("SI", 1), ("US", 0)])
def test_the_inches_of_a_soak_by_the_wall_have_a_row_of_their_own_in_millimeters(system, rows):
    explained = explain(study(jobs.job(risk_trials=0, unit_system=system)), "R1")
    (fusion,) = (part for part in explained.parts if part.title == "Fusion")
    walls = [step for step in fusion.steps if step.name == "Wall, in inches"]
    assert len(walls) == rows
    for wall in walls:
        (soak,) = (step for step in fusion.steps if step.name == "Heat soak")
        assert wall.sum.endswith(" / 25.4")
        assert soak.sum == f"4.5 x {figure(wall.value)}"


def test_a_run_without_a_joint_is_reported_too():
    specs = specs_of(jobs.job(jobs.run(), jobs.run("short", segments_m=(10.0,))))
    rows = [[c and c.value for c in row.cells] for row in specs["Explain"].rows]
    text = {row[2]: row[3] for row in rows if row[0] == "short"}
    assert (text["Butt joints"], text["Labor-hours"], text["Run price"]) == (0, 0, 0)


@pytest.mark.parametrize(
    ("place", "formula"),
    [("Bob's \"job\"!D7", "HYPERLINK(\"#'Bob''s \"\"job\"\"'!D7\",\"x\")"),
     ("'Pipe schedule'!$D$7", "HYPERLINK(\"#'Pipe schedule'!$D$7\",\"x\")")],
)  # fmt: skip
def test_links_quote_the_name_of_the_sheet(place, formula):
    assert link_to(place, "x") == formula


def test_explain_shows_when_the_price_has_moved():
    workbook, _ = example("tailings_line")
    path = saved("tailings_line")
    assert "C3:D3" in map(str, opened("tailings_line")["Explain"].merged_cells.ranges)
    assert recalculate(path, sheets=("Explain",))["Explain"]["C3"] == "matches the Bid sheet"
    sheet, cell = workbook.places.where("rates", "", "fuel_price").split("!")
    moved = recalculate(path, {sheet: {cell: 9}}, sheets=("Explain",))
    assert moved["Explain"]["C3"] == "Prices have changed: run Estimate again"
