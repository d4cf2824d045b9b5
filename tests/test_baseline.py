"""The baseline: what it freezes, that it adds up, that the sheet gives it back, and the command."""

import datetime as dt
import functools
import io
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.cli import main
from estimator.errors import EstimatorError, InputError
from estimator.models.baseline import PIECES, LumpSum, PieceTime
from estimator.models.sized_run import JointTime
from estimator.pipeline import estimate
from estimator.progress.baseline import _butt_time, baseline_of
from estimator.study import Study
from estimator.workbook.book import baseline_in, parse_workbook, with_baseline
from estimator.workbook.package.package import Package
from estimator.workbook.results.baseline_sheet import BY_RUN, SECTIONS, baseline_sheet, whole_parts
from estimator.workbook.results.builder import Context
from estimator.workbook.sheet import look
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.layout import EDGE, INDENT, laid_out
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import lines_of
from tests.one_page import names_of, sheet_of
from tests.small_book import small_book

NAMES = ("raw_water_main", "plant_piping")


@functools.cache
def frozen(name="raw_water_main"):
    workbook = parse_workbook(small_book(name))
    found = estimate(workbook.job, workbook.places)
    return workbook, found, baseline_of(found)


@pytest.mark.parametrize("name", NAMES)
def test_days_runs_and_lump_sums_add_up_to_the_estimate(name):
    _, found, made = frozen(name)
    assert made.cost == found.bid.job_cost
    assert made.labor_hours == pytest.approx(found.total_labor_hours, abs=1e-6)
    assert made.joints == found.butt_joints
    last = made.head.finish
    assert made.planned_cost(last) == found.bid.job_cost
    assert made.planned_hours(last) == pytest.approx(found.total_labor_hours, abs=1e-6)
    assert made.planned_joints(last) == found.butt_joints
    assert made.planned_hours(made.head.start - dt.timedelta(1)) == 0


@pytest.mark.parametrize("name", NAMES)
def test_all_pieces_of_a_run_earn_the_whole_run(name):
    _, found, made = frozen(name)
    for run in made.runs:
        assert run.share(run.pieces) == pytest.approx(1.0 if run.minutes else 0.0)
        assert run.labor_hours == pytest.approx(found.labor_hours.get(run.run_id, 0.0))


@pytest.mark.parametrize("name", NAMES)
def test_the_sheet_gives_the_baseline_back(name):
    workbook, found, made = frozen(name)
    assert baseline_in(workbook) is None
    data = with_baseline(workbook, found, made)
    assert baseline_in(parse_workbook(data)) == made


def test_tables_over_several_pages_have_their_headers_again_and_are_read_back(monkeypatch):
    """On low pages each table that goes on has its header there; reading leaves them out."""
    monkeypatch.setattr(look, "page_height", lambda paper, *, across, spare: 150.0)
    workbook, found, made = frozen()
    data = with_baseline(workbook, found, made)
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Baseline"]
    first = [row[0].value for row in sheet.iter_rows()]
    assert first.count("Run") > 1
    assert first.count("By day") == first.count("Date") == 1, "days are not printed"
    head = first.index(BY_RUN)
    begins = [first[page.id] for page in sheet.row_breaks.brk if page.id >= head]
    assert set(begins) <= {"Run", "Item", "Bid item", "Date", *SECTIONS}
    assert baseline_in(parse_workbook(data)) == made


def test_the_sheet_holds_values_only():
    data = with_baseline(*frozen())
    sheet = sheet_of(data, "Baseline")
    cells = [cell for row in sheet.iter_rows() for cell in row]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]


def test_a_changed_baseline_is_reported_with_its_sheet():
    workbook = openpyxl.load_workbook(io.BytesIO(with_baseline(*frozen())))
    sheet = workbook["Baseline"]
    place = next(row[0].row for row in sheet.iter_rows() if row[0].value == "By run") + 2
    column = next(cell.column for cell in sheet[place - 1] if cell.value == "Labor\n$")
    sheet.cell(place, column).value += 100
    changed = io.BytesIO()
    workbook.save(changed)
    with pytest.raises(InputError, match=r"Baseline!A1: .*Cost by run.*--rebase"):
        baseline_in(parse_workbook(changed.getvalue()))


# One machine: soak and cooling are the machine's, 30 of 72 min. Two machines and a crew at work for
# 40 min of each: the crew holds the joint up, and only the soak is not its own. Two machines and a
# crew at work for 20: half a cycle, 36 min, of which half of soak and cooling is the machine's.
@pytest.mark.parametrize(
    ("time", "wanted"),
    [
        (JointTime(72.0, 42.0, 72.0), PieceTime(42.0, 30.0)),
        (JointTime(72.0, 40.0, 40.0, machines=2), PieceTime(34.0, 6.0)),
        (JointTime(72.0, 20.0, 36.0, machines=2), PieceTime(21.0, 15.0)),
    ],
)
def test_minutes_of_a_joint_are_the_crews_or_the_machines(time, wanted):
    assert _butt_time(time, 6.0, 24.0) == pytest.approx(wanted)


def test_a_baseline_that_does_not_add_up_is_refused():
    _, found, made = frozen()
    short = replace(found, labor_hours={run.run_id: 1.0 for run in made.runs})
    with pytest.raises(EstimatorError, match="Labor-hours by run"):
        baseline_of(short)


DAY = dt.date(2027, 3, 1)


# 90.00 over 9 days: 10.00 a day; the fifth day is over when 50.00 are earned.
def test_overhead_is_planned_by_the_days_gone_by():
    one = LumpSum("Overhead", "time", DAY, DAY + dt.timedelta(8), Decimal("90.00"))
    days = [one.planned(DAY + dt.timedelta(n)) for n in (-1, 0, 4, 8, 20)]
    assert days == [0, 10, 50, 90, 90]


@given(st.lists(st.integers(0, 40), min_size=len(PIECES), max_size=len(PIECES)), st.data())
def test_shares_of_a_run_add_up(counts, data):
    _, _, made = frozen()
    run = made.runs[0]
    run = replace(run, pieces=dict(zip(PIECES, counts, strict=True)))
    some = {kind: data.draw(st.integers(0, n)) for kind, n in run.pieces.items()}
    rest = {kind: n - some[kind] for kind, n in run.pieces.items()}
    whole = run.share(run.pieces)
    assert run.share(some) + run.share(rest) == pytest.approx(whole)


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    return path


def test_command_writes_once_and_keeps_the_old_one(job, capsys):
    assert main(["baseline", str(job)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Baseline 1 (as awarded): ")
    before = job.read_bytes()
    assert main(["baseline", str(job)]) == 1
    assert "written once" in capsys.readouterr().err
    assert job.read_bytes() == before
    assert main(["baseline", str(job), "--rebase", "change 3"]) == 0
    assert "Baseline 1 is kept" in capsys.readouterr().out
    workbook = parse_workbook(job.read_bytes())
    assert baseline_in(workbook).head.number == 2
    assert baseline_in(workbook).head.reason == "change 3"
    names = names_of(job)
    assert {"Baseline", "Baseline 1"} <= set(names)


def test_an_estimate_leaves_the_baseline_alone(job):
    main(["baseline", str(job)])
    frozen_before = baseline_in(parse_workbook(job.read_bytes()))
    assert main(["estimate", str(job)]) == 0
    assert baseline_in(parse_workbook(job.read_bytes())) == frozen_before


def test_the_baseline_goes_with_the_paper_of_the_job(job):
    """Paper was Letter, code 1, when it was written; then Job says A4, which is 9."""
    places = parse_workbook(job.read_bytes()).places
    cell = places.where("job", "", "paper").partition("!")[2]
    main(["baseline", str(job)])
    assert str(sheet_of(job, "Baseline").page_setup.paperSize) == "1"
    job.write_bytes(Package.open(job.read_bytes()).fill_cells({"Job": {cell: "A4"}}))
    assert main(["estimate", str(job)]) == 0
    assert str(sheet_of(job, "Baseline").page_setup.paperSize) == "9"


def test_a_run_of_the_baseline_takes_two_lines_and_no_size_is_parted_from_its_ratio():
    """Two lines are 27 points, as on every sheet; "900 mm SDR" and its 11 stood on two lines.

    A ratio is whole, and so is a size with its unit and system.
    """
    for name in NAMES:
        workbook, found, made = frozen(name)
        context = Context(Study.of(found), workbook.places, {"Baseline": "Baseline"})
        spec = laid_out(baseline_sheet(context, "Baseline", made))
        pipes = {whole_parts(run.pipe) for run in made.runs}
        rows = [row for row in spec.rows if any(c and c.value in pipes for c in row.cells[2:3])]
        assert len(rows) == len(made.runs)
        if name == "raw_water_main":
            assert max(row.height for row in rows) <= 27.0
        room = look.pixels_of(spec.widths[2]) - EDGE - INDENT
        parts = [part for pipe in pipes for part in pipe.split(" ")]
        assert {len(part.split()) for part in parts} == {2, 3}
        assert not [part for part in parts if lines_of(part, room, look.TEXT) > 1]


def test_items_of_the_baseline_show_quantities_as_the_bid_schedule():
    """A lump sum of 1.0 and 92.0 joints stood beside lengths with a decimal that are whole."""
    workbook, found, made = frozen()
    _, *others = made.items
    length = next(item for item in others if item.unit == "LF")
    broken = tuple(replace(x, quantity=99.5) if x is length else x for x in made.items)
    for items, style in ((made.items, "int"), (broken, "num1")):
        context = Context(Study.of(found), workbook.places, {"Baseline": "Baseline"})
        spec = baseline_sheet(context, "Baseline", replace(made, items=items))
        rows = [[cell.value if cell else None for cell in row.cells] for row in spec.rows]
        top = next(n for n, row in enumerate(rows) if row[:1] == ["Bid items"])
        shown = {
            spec.rows[n].cells[4].value: spec.rows[n].cells[5].style
            for n in range(top, len(rows))
            if len(rows[n]) > 5 and rows[n][4] in ("LS", "EA", "LF")
        }
        assert shown == {"LS": "int", "EA": "int", "LF": style}


def sheet_rows(data):
    """Return the values of the Baseline sheet, row by row."""
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Baseline"]
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


def test_tables_that_are_printed_end_with_their_totals_and_are_read_without_them():
    workbook, found, made = frozen()
    rows = sheet_rows(with_baseline(workbook, found, made))
    first = [row[0] for row in rows]
    runs, lumps = (rows[n] for n, name in enumerate(first) if name == "Total")
    assert lumps[4] == pytest.approx(float(sum(one.cost for one in made.lump_sums)))
    assert runs[5:11] == [sum(run.pieces[kind] for run in made.runs) for kind in PIECES]
    assert rows[rows.index(lumps) + 1][0] is None


def test_the_words_of_an_item_run_over_three_columns():
    """In the column of the runs' names they took five lines, and the table nine pages."""
    workbook, found, made = frozen()
    spec = laid_out(one_sheet(workbook, found, made))
    first = [row.cells[0].value if row.cells and row.cells[0] else None for row in spec.rows]
    texts, top = {item.description for item in made.items}, first.index("Bid items")
    at = [number for number, text in enumerate(first, 1) if number > top and text in texts]
    merged = {(area.top, area.left): area.right for area in map(area_of, spec.merges)}
    assert len(at) == len(made.items)
    assert {merged[row, 1] for row in at} == {3}


def test_a_baseline_whose_items_stand_in_the_columns_beside_their_words_is_read():
    """The columns are found by their headers: a baseline is kept as it was written."""
    workbook, found, made = frozen()
    data = with_baseline(workbook, found, made)
    book = openpyxl.load_workbook(io.BytesIO(data))
    sheet = book["Baseline"]
    first = [row[0].value for row in sheet.iter_rows()]
    top = first.index("Bid items") + 2
    last = top + first[top:].index("By day")
    for area in list(sheet.merged_cells.ranges):
        if area.min_row >= top:
            sheet.unmerge_cells(str(area))
    sheet.move_range(f"D{top}:I{last}", cols=-2)
    changed = io.BytesIO()
    book.save(changed)
    assert sheet.cell(top, 2).value == "Item no."
    assert baseline_in(parse_workbook(changed.getvalue())).items == made.items


def one_sheet(workbook, found, made):
    context = Context(Study.of(found), workbook.places, {"Baseline": "Baseline"})
    return baseline_sheet(context, "Baseline", made)


def test_the_pipe_of_a_run_stands_off_its_bid_item():
    """The item fills its column: "800 mm SDR" ran into the size of the pipe beside it."""
    workbook, found, made = frozen()
    context = Context(Study.of(found), workbook.places, {"Baseline": "Baseline"})
    spec = baseline_sheet(context, "Baseline", made)
    pipe = whole_parts(made.runs[0].pipe)
    cell = next(
        row.cells[2]
        for row in spec.rows
        if len(row.cells) > 2 and row.cells[2] and row.cells[2].value == pipe
    )
    assert STYLES[cell.style].indent == 1


def test_runs_of_an_item_stay_on_their_page():
    """Thirty runs in one item: merged to the last column of the first page, and wrapped."""
    workbook, found, made = frozen()
    item = replace(made.items[0], runs=tuple(f"R{number:02d}" for number in range(1, 31)))
    long = replace(made, items=(item, *made.items[1:]))
    context = Context(Study.of(found), workbook.places, {"Baseline": "Baseline"})
    spec = laid_out(baseline_sheet(context, "Baseline", long))
    first = [row.cells[0].value if row.cells and row.cells[0] else None for row in spec.rows]
    row = first.index("Bid items") + 3
    area = next(a for a in map(area_of, spec.merges) if a.top == row and a.left == 9)
    printed = area_of(spec.print_area)
    assert area.right == printed.right, "the page ends there"
    assert not spec.column_breaks
    heads = spec.rows[first.index("By run") + 1].cells
    assert heads[printed.right - 1].value == "Saddles", "all that a run is made of is printed"
    assert first[printed.bottom :].index("By day") <= 1, "what prints ends above the days"
    cell = spec.rows[row - 1].cells[8]
    assert STYLES[cell.style].wrap
    room = sum(map(look.pixels_of, spec.widths[8 : area.right]))
    lines = lines_of(cell.value, room, look.TEXT)
    assert lines > 1
    assert spec.rows[row - 1].height >= lines * look.LINE
