"""The macro over a live LibreOffice: the same cells as the file path, and nothing else touched.

What only Excel has (``Windows`` and ``Mac`` of ``live_native``) is not reached here.
"""

import dataclasses
import datetime as dt
import functools
import shutil
import subprocess
import sys
import tempfile
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
import xlwings as xw

from estimator import api
from estimator.errors import WorkbookError
from estimator.excel import live
from estimator.excel.live_cells import as_text, contents
from estimator.excel.live_source import LiveSource, raw_cell
from estimator.excel.live_writer import ResultSheets
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.checksum import input_sums
from estimator.workbook.file_source import FileSource
from estimator.workbook.parse import parse_job
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet_spec import Cell, Row
from tests.lo_engine import open_app
from tests.lo_engine_ranges import looks

EXAMPLES = ("raw_water_main", "tailings_line", "plant_piping")
SMALL = "raw_water_main"
FOLDER = Path(__file__).parent.parent / "examples"
CENT = 0.004
BOX = 20_000


@pytest.fixture(scope="module")
def app():
    with open_app() as found:
        yield found


@pytest.fixture
def open_book(app, tmp_path, monkeypatch):
    """Return what opens a copy of an example, or bytes; the folder for copies is a test's own."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    opened = []

    def open_one(content, name="job.xlsx"):
        path = tmp_path / name
        if isinstance(content, bytes):
            path.write_bytes(content)
        else:
            shutil.copy(FOLDER / f"{content}.xlsx", path)
        opened.append(app.books.open(path))
        return opened[-1]

    yield open_one
    for book in opened:
        if book.impl in book.impl.books.books:
            book.close()


@functools.cache
def from_file(name):
    """Return the bytes of an example with its results, as the command writes them."""
    workbook = parse_workbook((FOLDER / f"{name}.xlsx").read_bytes())
    return with_results(workbook, api.estimate_workbook(workbook))


def told(app):
    return app.impl.alerts[-1][0]


def everything(book, but=()):
    """Return formulas, constants and looks of all sheets, by name."""
    found = {}
    for sheet in book.sheets:
        if sheet.name not in but:
            cells = sheet.used_range
            found[sheet.name] = (cells.formula, looks(cells.impl))
    return found


def cell_of(book, text, sheet):
    """Return the first cell of a sheet that shows a text."""
    for row, values in enumerate(book.sheets[sheet].used_range.options(ndim=2).value, 1):
        for column, value in enumerate(values, 1):
            if value == text:
                return book.sheets[sheet].range((row, column))
    message = f"{text} is not on {sheet}"
    raise AssertionError(message)


# Reading


@pytest.mark.parametrize("name", EXAMPLES)
def test_open_workbook_gives_the_job_of_its_file(open_book, name):
    source = LiveSource(open_book(name))
    file = FileSource((FOLDER / f"{name}.xlsx").read_bytes())
    read, expected = parse_job(source), parse_job(file)
    assert read.job == expected.job
    assert read.warnings == expected.warnings
    assert read.places.columns == expected.places.columns
    assert dict(read.places.cells) == dict(expected.places.cells)
    assert list(input_sums(source, read.places)) == list(input_sums(file, expected.places))


def test_hidden_rows_extra_columns_and_lost_tables_are_told_as_for_a_file(open_book, tmp_path):
    """A row hidden, a column without use, and a table turned into an ordinary range."""
    book = openpyxl.load_workbook(FOLDER / f"{SMALL}.xlsx")
    schedule = book["Pipe schedule"]
    schedule.row_dimensions[9].hidden = True
    crew = book["Crew"]
    del crew.tables["Crew"]
    path = tmp_path / "changed.xlsx"
    book.save(path)
    read = parse_job(LiveSource(open_book(path.read_bytes())))
    expected = parse_job(FileSource(path.read_bytes()))
    assert read.job == expected.job
    assert read.warnings == expected.warnings
    assert any("hidden" in warning.message for warning in read.warnings)
    assert any("Excel table Crew is missing" in warning.message for warning in read.warnings)


def test_cells_far_apart_are_read_one_by_one(open_book):
    """A named cell that the user has moved far away costs no read of all cells between."""
    book = open_book(SMALL)
    sheet = book.sheets["Job"]
    sheet.range("ZZ9000").formula = "=B5"
    name = next(name for name in book.names if name.name == "job_job_name")
    assert name.refers_to.endswith("$B$5")
    name.refers_to = "='Job'!$ZZ$9000"
    source = LiveSource(book)
    assert source.named_cell("job_job_name").where == "Job!ZZ9000"
    assert source.named_cell("job_start").value == dt.date(2027, 3, 1)
    assert len(source._together["Job"]) < BOX


def test_merged_named_cell_has_its_unit_beyond_the_merge(open_book):
    book = open_book(SMALL)
    place = LiveSource(book).named_cell("job_ambient")
    sheet = book.sheets["Job"]
    unit = sheet.range((place.row, place.column + 1)).value
    sheet.range((place.row, place.column + 2)).value = unit
    sheet.range((place.row, place.column + 1)).clear_contents()
    sheet.range((place.row, place.column), (place.row, place.column + 1)).merge()
    source = LiveSource(book)
    beside = source.unit_beside(source.named_cell("job_ambient"))
    assert (beside.column, beside.value) == (place.column + 2, unit)


@pytest.mark.parametrize(
    ("given", "value", "error"),
    [("#N/A", None, "#N/A"), (-2146826243, None, "#ERROR!"), (Decimal("4.5"), 4.5, ""),
     (dt.datetime(2027, 3, 1), dt.date(2027, 3, 1), ""), ("", None, ""), (None, None, ""),
     (dt.datetime(1899, 12, 30, 7, 30), dt.time(7, 30), ""), (True, True, ""), ("x", "x", ""),
     (dt.datetime(2027, 3, 1, 6), dt.datetime(2027, 3, 1, 6), "")],
)  # fmt: skip
def test_values_of_excel_become_those_of_a_file(given, value, error):
    cell = raw_cell("Job", 1, 1, given)
    assert (cell.value, cell.error) == (value, error)


# Writing


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_cell_equals_the_file_path(app, open_book, name):
    """Values to the cent (Python's beside LibreOffice's own), formulas, looks, lines, rules."""
    book = open_book(name)
    before = everything(book)
    assert live.estimate_book(book), told(app)
    file = open_book(from_file(name), "by file.xlsx")
    assert [sheet.name for sheet in book.sheets] == [sheet.name for sheet in file.sheets]
    for key in RESULT_SHEETS:
        compare_sheets(book.sheets[key], file.sheets[key])
    assert "could not be made" not in told(app)
    after = everything(book, RESULT_SHEETS)
    assert {sheet: after[sheet] for sheet in before} == before


def compare_sheets(live_sheet, file_sheet):
    ours, theirs = live_sheet.used_range, file_sheet.used_range
    assert ours.shape == theirs.shape
    values = (cells.options(ndim=2, err_to_str=True).value for cells in (ours, theirs))
    for row, pair in enumerate(zip(*values, strict=True), 1):
        for column, (one, other) in enumerate(zip(*pair, strict=True), 1):
            place = f"{live_sheet.name} row {row} column {column}"
            if isinstance(one, float):
                assert one == pytest.approx(other, abs=CENT), place
            else:
                assert one == other, place
    assert formulas_of(ours) == formulas_of(theirs)
    assert looks(ours.impl) == looks(theirs.impl)
    assert rules_of(live_sheet) == rules_of(file_sheet)
    assert [chart_of(c) for c in live_sheet.charts] == [chart_of(c) for c in file_sheet.charts]
    assert merges_of(ours) == merges_of(theirs)
    assert live_sheet.page_setup.print_area == file_sheet.page_setup.print_area


def formulas_of(cells):
    return [
        (row, column, item)
        for row, items in enumerate(cells.formula)
        for column, item in enumerate(items)
        if item.startswith("=")
    ]


def rules_of(sheet):
    rules = sheet.impl.x.ConditionalFormats.ConditionalFormats
    return [(rule.Range.RangeAddressesAsString, rule.getByIndex(0).Formula1) for rule in rules]


def chart_of(chart):
    impl = chart.impl
    labels = impl.category_axis.title, impl.value_axis.title
    ranges = [series.values for series in impl.series], impl.categories
    return impl.title, labels, ranges, impl.legend.visible, [s.colour for s in impl.series]


def merges_of(cells):
    rows = range(1, cells.shape[0] + 1)
    areas = {cells(row, column).merge_area.address for row in rows for column in (1, 2)}
    return {area for area in areas if ":" in area}


def test_widths_and_heights_are_those_of_the_description(app, open_book):
    book, file = open_book(SMALL), open_book(from_file(SMALL), "by file.xlsx")
    assert live.estimate_book(book), told(app)
    for key in ("Joints", "Plan", "Bid"):
        ours, theirs = book.sheets[key], file.sheets[key]
        for column in range(1, ours.used_range.shape[1] + 1):
            width = ours.range((1, column)).column_width
            # The office counts the margins of a cell in another way than the file format.
            assert width == pytest.approx(theirs.range((1, column)).column_width, rel=0.08)
    rows = [
        row for row in range(1, 69)
        if not file.sheets["Bid"].range((row, 1)).impl.x.Rows.OptimalHeight
    ]  # fmt: skip
    assert rows
    for row in rows:
        ours, theirs = (b.sheets["Bid"].range((row, 1)).row_height for b in (book, file))
        assert ours == pytest.approx(theirs, abs=0.1)


def test_second_press_replaces_our_sheets_under_the_names_the_user_gave_them(app, open_book):
    book = open_book(from_file(SMALL))
    book.sheets["Bid"].name = "Our bid"
    names = [sheet.name for sheet in book.sheets]
    book.sheets["Joints"].range("A200").value = "left over"
    assert live.estimate_book(book), told(app)
    assert [sheet.name for sheet in book.sheets] == names
    assert book.sheets["Joints"].range("A200").value is None
    assert "'Our bid'!" in str(book.sheets["Checks"].used_range.formula)
    assert len(book.sheets["Plan"].charts) == 1
    assert ResultSheets(book).name_of("Bid") == "Our bid"


def test_view_and_settings_of_the_user_are_kept(app, open_book):
    book = open_book(SMALL)
    sheet = book.sheets["Pipe schedule"]
    sheet.activate()
    sheet.range("C9:D11").select()
    app.status_bar = "the user's own"
    try:
        assert live.estimate_book(book), told(app)
        assert book.sheets.active.name == "Pipe schedule"
        assert book.selection.address == "$C$9:$D$11"
        assert app.status_bar == "the user's own"
    finally:
        app.status_bar = False
    assert (app.screen_updating, app.enable_events, app.calculation) == (True, True, "automatic")
    texts = [text for text in app.impl.status_texts if text]
    assert "Estimate: reading the inputs" in texts
    assert "Estimate: writing Checks (7 of 7)" in texts
    assert 3 < sum("planning" in text for text in texts) < 200


def test_a_user_who_calculates_by_hand_goes_on_doing_so_and_sees_figures(app, open_book):
    book = open_book(SMALL)
    app.calculation = "manual"
    try:
        assert live.estimate_book(book), told(app)
        assert app.calculation == "manual"
        price = cell_of(book, "Bid price", "Bid").offset(0, 5).value
    finally:
        app.calculation = "automatic"
    found = api.estimate_workbook(parse_workbook((FOLDER / f"{SMALL}.xlsx").read_bytes()))
    assert price == pytest.approx(float(found.bid.price), abs=CENT)


def test_text_of_the_user_stays_text(app, open_book):
    texts = ["=1+1", "+cmd", "-2+3 pieces", "@SUM(A1)", "007", "3/4", "1-2", "TRUE", "'quoted",
             "12%", "1e5", "\u2007x"]  # fmt: skip
    book = open_book(SMALL)
    schedule = book.sheets["Pipe schedule"]
    for row, text in enumerate(texts, 6):
        schedule.range((row, 2)).value = as_text(text)
    assert live.estimate_book(book), told(app)
    shown = book.sheets["Joints"].range("B7").resize(len(texts), 1).value
    assert shown == texts


def test_prices_stay_live_and_the_light_comes_on(app, open_book):
    """Reference: the price that Python gives when it estimates with the changed rate."""
    book = open_book(SMALL)
    assert live.estimate_book(book), told(app)
    light = next(
        cell for row in book.sheets["Start"].used_range.rows for cell in row
        if str(cell.formula).replace("$", "").endswith("Checks!B3")
    )  # fmt: skip
    assert light.value == "OK"
    workbook = parse_workbook((FOLDER / f"{SMALL}.xlsx").read_bytes())
    rates = workbook.job.rates.model_copy(update={"office_overhead": 0.17})
    job = workbook.job.model_copy(update={"rates": rates})
    place = workbook.places.where("rates", "", "office_overhead").split("!")
    book.sheets[place[0]].range(place[1]).value = 0.17
    price = cell_of(book, "Bid price", "Bid").offset(0, 5).value
    assert price == pytest.approx(float(api.estimate(job, workbook.places).bid.price), abs=CENT)
    assert light.value == "OK"
    where = workbook.places.where("schedule", workbook.job.runs[2].run_id, "length").split("!")
    book.sheets[where[0]].range(where[1]).value = 361.5
    assert light.value == "Inputs changed: estimate again"


# Problems


def test_problems_are_told_and_put_on_checks_and_all_else_is_kept(app, open_book):
    book = open_book(from_file(SMALL))
    schedule = book.sheets["Pipe schedule"]
    schedule.range("E8").value = "DR 99"
    schedule.range("G9").formula = "=NA()"
    before = everything(book, ["Checks"])
    assert not live.estimate_book(book)
    assert "Inputs need attention" in told(app)
    assert "Pipe schedule!E8: " in told(app)
    assert "Pipe schedule!G9: " in told(app)
    after = everything(book, ["Checks"])
    assert {s: v for s, v in after.items() if s != "Start"} == {
        s: v for s, v in before.items() if s != "Start"
    }
    checks = book.sheets["Checks"]
    assert checks.range("B3").value == "Inputs need attention"
    assert cell_of(book, "Pipe schedule!G9", "Checks").offset(0, 1).value.startswith("Length: got")


def test_check_writes_nothing_but_clears_an_old_list_of_problems(app, open_book):
    book = open_book(from_file(SMALL))
    before = everything(book)
    assert live.check_book(book)
    assert "Inputs are good: 40 runs" in told(app)
    assert everything(book) == before
    cell = book.sheets["Pipe schedule"].range("E8")
    good = cell.value
    cell.value = "DR 99"
    assert not live.check_book(book)
    assert book.sheets["Checks"].range("B3").value == "Inputs need attention"
    cell.value = good
    assert live.check_book(book)
    assert book.sheets["Checks"].range("B3").value == "Inputs are good: estimate again"


def test_a_sheet_of_the_user_is_never_written_over(app, open_book):
    book = open_book(SMALL)
    mine = book.sheets.add("plan", after=book.sheets["Start"])
    mine.range("A1").value = "my own plan"
    before = everything(book)
    assert not live.estimate_book(book)
    assert "Sheet 'Plan' is not one of ours: rename it and run again" in told(app)
    after = everything(book, ["Checks"])
    assert {sheet: after[sheet] for sheet in before if sheet != "Start"} == {
        sheet: found for sheet, found in before.items() if sheet != "Start"
    }
    mine.name = "Checks"
    with pytest.raises(WorkbookError, match="Sheet 'Checks' is not one of ours"):
        ResultSheets(book).refuse_others(["Checks"])


def test_a_refused_write_puts_everything_back(app, open_book):
    """The Bid sheet is protected by the user: the sheets before it are already written then."""
    book = open_book(from_file(SMALL))
    place = parse_job(LiveSource(book)).places.where("schedule", "R03", "length").split("!")
    book.sheets[place[0]].range(place[1]).value = 361.5
    book.sheets["Bid"].impl.x.protect("")
    before = {name: cells for name, (cells, _) in everything(book).items()}
    assert not live.estimate_book(book)
    assert "could not be written" in told(app)
    assert "job.bak.xlsx" in told(app)
    after = {name: cells for name, (cells, _) in everything(book).items()}
    assert after == before
    assert app.calculation == "automatic"
    book.sheets["Bid"].impl.x.unprotect("")
    assert live.estimate_book(book), told(app)


def test_new_sheets_are_taken_away_again_if_writing_fails(app, open_book):
    book = open_book(SMALL)
    names = [sheet.name for sheet in book.sheets]
    sheets = ResultSheets(book)
    good = dataclasses.replace(live.problem_sheet("Joints", ()))
    bad = dataclasses.replace(good, name="Plan", rows=[Row((Cell(1, "no such style"),))])
    with pytest.raises(WorkbookError, match="hold what they held before"):
        sheets.write({"Joints": good, "Plan": bad}, lambda text: None)
    assert [sheet.name for sheet in book.sheets] == names
    assert not any(name.name.startswith("_result_") for name in book.names)


# Copies


def test_copy_beside_the_workbook_holds_what_was_there_before(app, open_book, tmp_path):
    book = open_book(SMALL)
    book.sheets["Pipe schedule"].range("B6").value = "typed, not saved"
    assert live.estimate_book(book), told(app)
    copy = tmp_path / "job.bak.xlsx"
    assert f"The workbook as it was before: {copy}" in told(app)
    kept = openpyxl.load_workbook(copy)
    assert kept["Pipe schedule"]["B6"].value == "typed, not saved"
    assert "Joints" not in kept.sheetnames


def test_unsaved_workbook_has_its_copy_in_the_temporary_folder(app, open_book, tmp_path):
    open_book(SMALL).close()
    impl = app.impl.books.open_unsaved(tmp_path / "job.xlsx")
    book = xw.Book(impl=impl)
    try:
        assert book.fullname == "Book1"
        assert live.estimate_book(book), told(app)
        assert str(tmp_path / "temporary" / "Book1.bak.xlsx") in told(app)
        assert (tmp_path / "temporary" / "Book1.bak.xlsx").exists()
    finally:
        book.close()


def test_workbook_from_an_address_has_its_copy_in_the_temporary_folder(app, open_book, tmp_path):
    book = open_book(SMALL)
    book.impl.path = "https://files.example.org/sites/jobs/Shared/job.xlsx"
    assert live.estimate_book(book), told(app)
    assert str(tmp_path / "temporary" / "job.bak.xlsx") in told(app)
    assert (tmp_path / "temporary" / "job.bak.xlsx").exists()


def test_no_copy_means_no_change(app, open_book, tmp_path):
    book = open_book(SMALL)
    for place in (tmp_path / "job.bak.xlsx", tmp_path / "temporary" / "job.bak.xlsx"):
        place.mkdir()
    before = everything(book)
    assert not live.estimate_book(book)
    assert "No copy of the workbook could be saved" in told(app)
    assert everything(book) == before


def test_button_of_the_workbook(app, open_book):
    """xlwings hands the macro the workbook whose button was pressed."""
    book = open_book(SMALL)
    book.set_mock_caller()
    try:
        live.check_active()
        assert "Inputs are good" in told(app)
        live.estimate_active()
    finally:
        del xw.Book._mock_caller
    assert book.sheets["Checks"].range("B3").value == "OK"


# Without a spreadsheet program


def test_contents_are_rows_of_equal_length_and_safe():
    rows = [
        Row((Cell("=1", "text"), None, Cell(3, "int"))),
        Row((Cell(2.5, "num1", "A1*2"), Cell(dt.date(1904, 1, 2), "date"))),
        Row((Cell("", "text"), Cell(True, "centre"))),
    ]
    assert contents(rows, dates_1904=True) == [
        ["'=1", None, 3.0], ["=A1*2", 1.0, None], [None, True, None],
    ]  # fmt: skip


def test_the_press_loads_nothing_that_it_does_not_need():
    heavy = "lxml python_calamine xlsxwriter openpyxl pandas matplotlib zipfile"
    code = (
        "import sys, xlwings; before = set(sys.modules); import estimator.excel.live; "
        f"print(sorted(set('{heavy}'.split()) & (set(sys.modules) - before)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert run.stdout.strip() == "[]"
