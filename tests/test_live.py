"""The macro over a live LibreOffice: the same cells as the file path, and nothing else touched.

What only Excel has (``Windows`` and ``Mac`` of ``live_native``) is not reached here.
"""

import dataclasses
import datetime as dt
import functools
import inspect
import io
import itertools
import re
import subprocess
import sys
import tempfile
import zipfile
from decimal import Decimal
from itertools import zip_longest
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
import xlwings as xw
from xlwings import constants, mac_dict

from estimator import api, pipeline
from estimator.errors import Problem, WorkbookError
from estimator.excel import live, work
from estimator.excel.macro.cells import as_text, contents
from estimator.excel.macro.native import (
    LABEL_SIDES,
    LANDSCAPE,
    LINE_STYLES,
    PORTRAIT,
    SINGLE_LINE,
    Mac,
    Native,
    Windows,
)
from estimator.excel.macro.problems import MOST_SHOWN, list_of, problem_sheet
from estimator.excel.macro.session import keep_copy, quiet
from estimator.excel.macro.source import LiveSource, raw_cell
from estimator.excel.macro.writer import ResultSheets
from estimator.files import backup_path, marked
from estimator.study import study
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.input_check import watches
from estimator.workbook.read.parse import parse_job
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet.areas import parse_area
from estimator.workbook.sheet.look import FOOTER, PAPER_CODES
from estimator.workbook.sheet.names import marker_name
from estimator.workbook.sheet.spec import Cell, DrawingSpec, Label, Row, SheetSpec, Stroke
from tests.com_objects import ComObject
from tests.estimated import small, studied_once, written
from tests.lo_engine import NativeBook, open_app
from tests.lo_engine_ranges import POINT, column_width, looks
from tests.office import USUAL_LOCALE
from tests.one_page import sheet_of
from tests.small_book import FIRST_RUNS, small_book

EXAMPLES = ("raw_water_main", "tailings_line", "plant_piping")
FIRST_OF = "the first runs of "
SMALL = f"{FIRST_OF}raw_water_main"
ONE_WHOLE = (EXAMPLES[0], *(f"{FIRST_OF}{name}" for name in EXAMPLES[1:]))
FOLDER = Path(__file__).parent.parent / "examples"
CENT = 0.004
BOX = 20_000
TEXTS = ["=1+1", "+cmd", "-2+3 pieces", "@SUM(A1)", "007", "3/4", "1-2", "TRUE", "'quoted",
         "12%", "1e5"]  # fmt: skip


def content_of(name):
    """Return the bytes of an example, or of one with the first runs of its schedule."""
    if name.startswith(FIRST_OF):
        return small_book(name.removeprefix(FIRST_OF))
    return (FOLDER / f"{name}.xlsx").read_bytes()


def from_file(name):
    """Return the bytes of an example with its results, as the command writes them."""
    if name.startswith(FIRST_OF):
        return small(name.removeprefix(FIRST_OF))
    return written(name)


@functools.cache
def any_book():
    """Return a workbook of one cell, for what is the same with all of them."""
    book, out = openpyxl.Workbook(), io.BytesIO()
    book.active.title = "Job"
    book.active["A1"].value = "a title"
    book.save(out)
    return out.getvalue()


@pytest.fixture(autouse=True)
def one_study_for_all(monkeypatch):
    """Study a job once for command and macro: ``test_open_workbook_gives_the_job_of_its_file``."""
    studied_once(monkeypatch)


@pytest.fixture(scope="module")
def app():
    with open_app() as found:
        found.impl.copies_files = True
        yield found


@pytest.fixture
def open_book(app, tmp_path, monkeypatch):
    """Return what opens a copy of an example, or bytes; the folder for copies is a test's own."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    opened = []

    def open_one(content, name="job.xlsx"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content_of(content))
        opened.append(app.books.open(path))
        return opened[-1]

    yield open_one
    for book in opened:
        if book.impl in book.impl.books.books:
            book.close()


def message_of(app):
    return app.impl.alerts[-1][0]


def everything(book, but=()):
    """Return formulas and constants of all sheets, by name."""
    return {sheet.name: sheet.used_range.formula for sheet in book.sheets if sheet.name not in but}


def looks_of(book, but=()):
    return {s.name: looks(s.used_range.impl) for s in book.sheets if s.name not in but}


def take_results_away(book):
    for key in {*RESULT_SHEETS} & {sheet.name for sheet in book.sheets}:
        book.sheets[key].delete()
        next(name for name in book.names if name.name == marker_name(key)).delete()


def cell_of(book, text, sheet):
    """Return the first cell of a sheet that shows a text."""
    for row, values in enumerate(book.sheets[sheet].used_range.options(ndim=2).value, 1):
        for column, value in enumerate(values, 1):
            if value == text:
                return book.sheets[sheet].range((row, column))
    message = f"{text} is not on {sheet}"
    raise AssertionError(message)


def price_on(book, sheet="Bid"):
    lines = book.sheets[sheet].range("A1:G80").value
    return next(line[4] for line in lines if line[0] == "Bid price")


# Reading


@pytest.mark.parametrize("name", ONE_WHOLE)
def test_open_workbook_gives_the_job_of_its_file(open_book, name):
    source = LiveSource(open_book(name))
    file = FileSource(content_of(name))
    read, expected = parse_job(source), parse_job(file)
    assert read.job == expected.job
    assert read.warnings == expected.warnings
    assert read.places.columns == expected.places.columns
    assert dict(read.places.cells) == dict(expected.places.cells)
    assert list(watches(source, read.places)) == list(watches(file, expected.places))


def test_hidden_rows_extra_columns_and_lost_tables_are_reported_as_for_a_file(open_book, tmp_path):
    """A row hidden, a column without use, and a table turned into an ordinary range."""
    book = openpyxl.load_workbook(io.BytesIO(content_of(SMALL)))
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
    name = next(name for name in book.names if name.name == "job_job_name")
    sheet.range("ZZ9000").formula = name.refers_to
    name.refers_to = "='Job'!$ZZ$9000"
    source = LiveSource(book)
    assert source.named_cell("job_job_name").where == "Job!ZZ9000"
    assert source.named_cell("job_start").value == dt.date(2027, 3, 1)
    assert len(source._together["Job"]) < BOX


def test_merged_named_cell_has_its_unit_beyond_the_merge(open_book):
    book = open_book(SMALL)
    place = LiveSource(book).named_cell("job_ambient_c")
    sheet = book.sheets["Job"]
    unit = sheet.range((place.row, place.column + 1)).value
    sheet.range((place.row, place.column + 2)).value = unit
    sheet.range((place.row, place.column + 1)).clear_contents()
    sheet.range((place.row, place.column), (place.row, place.column + 1)).merge()
    source = LiveSource(book)
    beside = source.unit_beside(source.named_cell("job_ambient_c"))
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


@pytest.mark.parametrize("name", ONE_WHOLE)
def test_every_cell_equals_the_file_path(app, open_book, name):
    """Values to the cent (Python's beside LibreOffice's own), formulas, looks, lines, rules."""
    book = open_book(name)
    before = everything(book, RESULT_SHEETS), looks_of(book, RESULT_SHEETS)
    assert live.estimate_book(book), message_of(app)
    assert (everything(book, RESULT_SHEETS), looks_of(book, RESULT_SHEETS)) == before
    file = open_book(from_file(name), "by file.xlsx")
    assert [sheet.name for sheet in book.sheets] == [sheet.name for sheet in file.sheets]
    for key in RESULT_SHEETS:
        compare_sheets(book.sheets[key], file.sheets[key])
    compare_heights(book.sheets["Bid"], file.sheets["Bid"])
    by_command = merged_in(from_file(name))
    assert by_command["Bid"]
    for key in RESULT_SHEETS:
        merged = book.sheets[key].impl.ask("merged", None, by_command[key])
        pairs = zip(by_command[key], merged, strict=True)
        assert [place for place, one in pairs if not one] == [], key
    assert "could not be made" not in message_of(app)


def merged_in(data):
    """Return the merged areas of each sheet of a file, as the office counts rows and columns."""
    found = {}
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        for sheet in Package.open(data).workbook_sheets():
            named = re.findall(rb'<mergeCell ref="([A-Z0-9:]+)"', file.read(sheet.part))
            areas = [parse_area(name.decode()) for name in named]
            found[sheet.name] = [
                (area.top - 1, area.left - 1, area.bottom - 1, area.right - 1) for area in areas
            ]
    return found


ROWS_LOOKED_AT = 300
"""The looks of a longer sheet repeat from run to run."""


def compare_sheets(live_sheet, file_sheet):
    name, ours, theirs = live_sheet.name, live_sheet.used_range, file_sheet.used_range
    assert ours.shape == theirs.shape
    values = (cells.options(ndim=2, err_to_str=True).value for cells in (ours, theirs))
    for row, pair in enumerate(zip(*values, strict=True), 1):
        for column, (one, other) in enumerate(zip(*pair, strict=True), 1):
            place = f"{name} row {row} column {column}"
            if isinstance(one, float):
                assert one == pytest.approx(other, abs=CENT), place
            else:
                assert one == other, place
    assert formulas_of(ours) == formulas_of(theirs)
    last = min(ours.shape[0], ROWS_LOOKED_AT), ours.shape[1]
    tops = [sheet.range((1, 1), last).impl for sheet in (live_sheet, file_sheet)]
    assert looks(tops[0]) == looks(tops[1])
    assert rules_of(live_sheet) == rules_of(file_sheet)
    assert [chart_of(c) for c in live_sheet.charts] == [chart_of(c) for c in file_sheet.charts]
    assert live_sheet.page_setup.print_area == file_sheet.page_setup.print_area
    widths = ([column_width(w) for w in cells.impl.ask("widths")] for cells in (ours, theirs))
    for column, (width, other) in enumerate(zip(*widths, strict=True), 1):
        # The office counts the margins of a cell in another way than the file format.
        assert width == pytest.approx(other, rel=0.08, abs=0.1), f"{name} column {column}"


def compare_heights(live_sheet, file_sheet):
    """Compare the rows whose height is set; the others follow their text in any program."""
    last = file_sheet.used_range.last_cell.row
    ours, theirs = (
        sheet.range((1, 1), (last, 1)).impl.ask("heights") for sheet in (live_sheet, file_sheet)
    )
    pairs = enumerate(zip(ours, theirs, strict=True), 1)
    fixed = {
        row: (one / POINT, other / POINT)
        for row, ((one, _), (other, is_fixed)) in pairs
        if is_fixed
    }
    assert fixed
    for row, (height, other) in fixed.items():
        assert height == pytest.approx(other, abs=0.1), f"row {row}"


def formulas_of(cells):
    return [
        (row, column, item)
        for row, items in enumerate(cells.formula, 1)
        for column, item in enumerate(items, 1)
        if item.startswith("=")
    ]


def rules_of(sheet):
    """Return the rules in their order, whether or not a range holds them in one collection."""
    return sorted(sheet.impl.ask("rules"), key=lambda rule: rule[0])


def chart_of(chart):
    impl = chart.impl
    labels = impl.category_axis.title, impl.value_axis.title
    ranges = [series.values for series in impl.series], impl.categories
    return impl.title, labels, ranges, impl.legend.visible, [s.color for s in impl.series]


@pytest.fixture
def for_a_user_of(app):
    """Return what makes the program that of a user of another language."""
    yield app.impl.office.set_locale
    app.impl.office.set_locale(USUAL_LOCALE)


def press_as_by_command(app, open_book, book):
    """Press, and find what the command writes, with saved values that are Python's.

    Checks of the inputs, rules and price are the same in every language.
    """
    file = open_book(from_file(SMALL), "file.xlsx")
    typed = book.sheets["Pipe schedule"].range("B6")
    typed.value = file.sheets["Pipe schedule"].range("B6").value = "0,5 \u2013 \u201cx\u201d"
    assert live.estimate_book(book), message_of(app)
    sheets = ResultSheets(book)
    checks = book.sheets[sheets.name_of("Checks")]
    assert checks.range("B3").value == "OK"
    bid, by_command = sheets.name_of("Bid"), formulas_of(file.sheets["Checks"].used_range)
    quoted = f"'{bid}'!" if " " in bid else f"{bid}!"
    theirs = [(row, column, text.replace("Bid!", quoted)) for row, column, text in by_command]
    assert formulas_of(checks.used_range) == theirs
    assert rules_of(book.sheets["Gantt"]) == rules_of(file.sheets["Gantt"])
    assert price_on(book, bid) == pytest.approx(price_on(file), abs=CENT)


def test_missing_sheets_come_last_in_their_order_and_are_marked(app, open_book):
    book = open_book(SMALL)
    take_results_away(book)
    names = [sheet.name for sheet in book.sheets]
    assert live.estimate_book(book), message_of(app)
    assert [sheet.name for sheet in book.sheets] == [*names, *RESULT_SHEETS]
    marks = {n.name: n.refers_to for n in book.names if n.name.startswith("_result_")}
    places = {key: key if key.isalnum() else f"'{key}'" for key in RESULT_SHEETS}
    assert marks == {marker_name(key): f"={place}!$A$1" for key, place in places.items()}


def test_second_press_replaces_our_sheets_under_the_names_the_user_gave_them(
    app, open_book, for_a_user_of
):
    """In Arabic, whose script is one apart, as in every language."""
    for_a_user_of("ar-SA")
    book = open_book(from_file(SMALL))
    book.sheets["Bid"].name = "Our bid"
    names = [sheet.name for sheet in book.sheets]
    book.sheets["Joints"].range("A200").value = "left over"
    press_as_by_command(app, open_book, book)
    assert [sheet.name for sheet in book.sheets] == names
    assert book.sheets["Joints"].range("A200").value is None
    assert "'Our bid'!" in str(book.sheets["Checks"].used_range.formula)
    assert len(book.sheets["Plan by week"].charts) == 1
    assert ResultSheets(book).name_of("Bid") == "Our bid"
    book.sheets["Pipe schedule"].range("A6").value = "R01\u2013"
    assert book.sheets["Checks"].range("B3").value == "Inputs changed: run Estimate again"


@pytest.fixture
def called_from(monkeypatch):
    """Return what makes a workbook the one whose button was pressed, as xlwings sees it."""
    return lambda book: monkeypatch.setattr(xw.Book, "_mock_caller", book, raising=False)


@pytest.fixture(scope="module")
def by_button(app, tmp_path_factory):
    """Return what a user finds after a press of the button, with texts like formulas typed in."""
    folder, found = tmp_path_factory.mktemp("by button"), SimpleNamespace()
    path = folder / "job.xlsx"
    path.write_bytes(small_book(runs=len(TEXTS)))
    book = app.books.open(path)
    sheet = book.sheets["Pipe schedule"]
    for row, text in enumerate(TEXTS, 6):
        sheet.range((row, 2)).value = as_text(text)
    sheet.activate()
    sheet.range("C9:D11").select()
    app.status_bar = "the user's own"
    app.impl.status_texts.clear()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(work, "study", study)
        patch.setattr(xw.Book, "_mock_caller", book, raising=False)
        try:
            live.estimate_active()
            found.message, found.status = message_of(app), app.status_bar
        finally:
            app.status_bar = False
    found.view = book.sheets.active.name, book.selection.address
    found.settings = app.screen_updating, app.enable_events, app.calculation
    found.progress = [text for text in app.impl.status_texts if text]
    found.texts = book.sheets["Joints"].range("B5").resize(len(TEXTS), 1).value
    found.copy = folder / "job.bak.xlsx"
    book.close()
    return found


def test_button_keeps_the_view_and_the_settings_of_the_user(by_button):
    assert "Bid price" in by_button.message
    assert by_button.view == ("Pipe schedule", "$C$9:$D$11")
    assert by_button.status == "the user's own"
    assert by_button.settings == (True, True, "automatic")
    assert "Estimate: Reading inputs" in by_button.progress
    last, count = RESULT_SHEETS[-1], len(RESULT_SHEETS)
    assert f"Estimate: Writing {last}, sheet {count} of {count}" in by_button.progress
    assert 3 < sum("Planning run" in text for text in by_button.progress) < 200


def test_text_of_the_user_stays_text_and_the_copy_has_what_was_typed(by_button):
    assert by_button.texts == TEXTS
    assert f"Backup of the workbook before this run: {by_button.copy}" in by_button.message
    kept = openpyxl.load_workbook(by_button.copy)
    assert [kept["Pipe schedule"].cell(row, 2).value for row in range(6, 17)] == TEXTS
    assert kept["Checks"]["B3"].value == "Not estimated yet"


def test_prices_stay_live_and_the_light_comes_on(app, open_book, for_a_user_of):
    """Also in German, and for a user who calculates by hand, who goes on doing so.

    Reference: the prices that Python gives, with the rate as it was and with a changed one.
    """
    for_a_user_of("de-DE")
    book = open_book(SMALL)
    workbook = parse_workbook(content_of(SMALL))
    app.calculation = "manual"
    try:
        press_as_by_command(app, open_book, book)
        assert app.calculation == "manual"
        found = api.estimate_workbook(workbook)
        assert price_on(book) == pytest.approx(float(found.bid.price), abs=CENT)
    finally:
        app.calculation = "automatic"
    start = book.sheets["Start"].used_range
    light = next(
        start(row, column)
        for row, column, formula in formulas_of(start)
        if formula.replace("$", "") == "=Checks!B3"
    )
    assert light.value == "OK"
    rates = workbook.job.rates.model_copy(update={"office_overhead": 0.17})
    job = workbook.job.model_copy(update={"rates": rates})
    place = workbook.places.where("rates", "", "office_overhead").split("!")
    book.sheets[place[0]].range(place[1]).value = 0.17
    price = price_on(book)
    priced = pipeline.estimate(job, workbook.places)
    assert price == pytest.approx(float(priced.bid.price), abs=CENT)
    assert light.value == "OK"
    where = workbook.places.where("schedule", workbook.job.runs[2].run_id, "segments_m").split("!")
    book.sheets[where[0]].range(where[1]).value = 361.5
    assert light.value == "Inputs changed: run Estimate again"


# Problems


def test_problems_are_reported_and_put_on_checks_and_all_else_is_kept(app, open_book):
    book = open_book(from_file(SMALL))
    schedule = book.sheets["Pipe schedule"]
    schedule.range("E8").value = "DR 99"
    schedule.range("G9").formula = "=NA()"
    before = everything(book, ["Checks"])
    assert not live.estimate_book(book)
    assert "Inputs need attention" in message_of(app)
    assert "Pipe schedule!E8: " in message_of(app)
    assert "Pipe schedule!G9: " in message_of(app)
    assert everything(book, ["Checks"]) == before
    checks = book.sheets["Checks"]
    assert checks.range("B3").value == "Inputs need attention"
    assert cell_of(book, "Pipe schedule!G9", "Checks").offset(0, 1).value.startswith("Length: ")


def test_check_writes_nothing_but_clears_an_old_list_of_problems(app, open_book, called_from):
    book = open_book(from_file(SMALL))
    called_from(book)
    before = everything(book)
    live.check_active()
    assert f"Inputs OK: {FIRST_RUNS} runs" in message_of(app)
    assert everything(book) == before
    cell = book.sheets["Pipe schedule"].range("E8")
    good = cell.value
    cell.value = "DR 99"
    assert not live.check_book(book)
    assert book.sheets["Checks"].range("B3").value == "Inputs need attention"
    cell.value = good
    assert live.check_book(book)
    assert book.sheets["Checks"].range("B3").value == "Inputs OK: run Estimate again"


def test_a_sheet_of_the_user_is_never_written_over(app, open_book):
    book = open_book(from_file(SMALL))
    next(name for name in book.names if name.name == "_result_Plan").delete()
    mine = book.sheets["Plan"]
    mine.range("A1").value = "my own plan"
    before = everything(book, ["Checks"])
    assert not live.estimate_book(book)
    assert (
        "Sheet 'Plan' is yours but has the name of a result sheet. Rename it and run again"
        in message_of(app)
    )
    assert everything(book, ["Checks"]) == before
    with pytest.raises(WorkbookError, match="Sheet 'plan' is yours"):
        ResultSheets(book).refuse_others(["plan"])


def filled(row):
    """Return the filled cells of a row; rows with a look alone stay in the used range."""
    return [(place, text) for place, text in enumerate(row or ()) if text]


def test_a_refused_write_puts_everything_back(app, open_book):
    """The Bid sheet is protected by the user: the sheets before it are already written then."""
    book = open_book(from_file(SMALL))
    place = parse_job(LiveSource(book)).places.where("schedule", "R03", "segments_m").split("!")
    book.sheets[place[0]].range(place[1]).value = 361.5
    book.sheets["Bid"].impl.x.protect("")
    before = everything(book)
    assert not live.estimate_book(book)
    assert "could not be written" in message_of(app)
    assert "unchanged, except perhaps Bid" in message_of(app)
    assert "job.bak.xlsx" in message_of(app)
    after = everything(book)
    pairs = ((name, *rows) for name in before for rows in zip_longest(before[name], after[name]))
    assert [pair for pair in pairs if filled(pair[1]) != filled(pair[2])] == []
    assert app.calculation == "automatic"


@pytest.mark.parametrize(
    ("question", "line"),
    [
        ("is_protected", "Protected: " + ", ".join(RESULT_SHEETS[:2])),
        ("has_fixed_sheets", "protected against new"),
    ],
)
def test_protected_workbook_gets_one_line_before_any_work(
    app, open_book, monkeypatch, question, line
):
    book = open_book(from_file(SMALL))
    if question == "has_fixed_sheets":
        take_results_away(book)
    before = everything(book)
    monkeypatch.setattr(Native, question, lambda *_: True)
    app.impl.status_texts.clear()
    assert not live.estimate_book(book)
    assert line in message_of(app)
    assert message_of(app).count("\n") == 0
    assert everything(book) == before
    assert "Estimate: Reading inputs" not in app.impl.status_texts


def test_busy_program_is_asked_nothing(open_book, monkeypatch):
    book = open_book(any_book())
    monkeypatch.setattr(Native, "is_busy", lambda _: True)
    for press in (live.estimate_book, live.check_book):
        with pytest.raises(WorkbookError, match="end the edit of a cell"):
            press(book)


def test_inputs_are_calculated_before_they_are_read_by_hand(app, open_book):
    """A rate that is a formula: with calculation by hand its cell still shows the old value."""
    book = open_book(SMALL)
    place = parse_workbook(content_of(SMALL)).places.where("rates", "", "profit").split("!")
    cell = book.sheets[place[0]].range(place[1])
    cell.formula = "=ZZ1+0.1"
    app.calculation = "manual"
    try:
        cell.sheet.range("ZZ1").value = 0.07
        with quiet(book):
            assert LiveSource(book).named_cell("rate_profit").value == pytest.approx(0.17)
    finally:
        app.calculation = "automatic"


def test_status_bar_is_given_back_from_a_press_that_was_killed(app, open_book):
    book = open_book(any_book())
    app.status_bar = "Estimate: Writing Plan, sheet 2 of 15"
    press = quiet(book)
    show_status = press.__enter__()
    show_status("Reading")
    assert app.status_bar == "Estimate: Reading"
    assert press.__exit__(KeyError, KeyError(), None) is False
    assert app.status_bar is False


def test_new_sheets_are_taken_away_again_if_writing_fails(app, open_book):
    book = open_book(SMALL)
    take_results_away(book)
    names = [sheet.name for sheet in book.sheets]
    sheets = ResultSheets(book)
    good = problem_sheet("Joints", ())
    bad = dataclasses.replace(good, name="Plan", rows=[Row((Cell(1, "no such style"),))])
    with pytest.raises(WorkbookError, match="result sheets are unchanged"):
        sheets.write({"Joints": good, "Plan": bad}, lambda text: None)
    assert [sheet.name for sheet in book.sheets] == names
    assert not any(name.name.startswith("_result_") for name in book.names)


# Copies


def test_unsaved_workbook_has_its_copy_in_the_temporary_folder(app, open_book, tmp_path):
    open_book(any_book()).close()
    book = xw.Book(impl=app.impl.books.open_unsaved(tmp_path / "job.xlsx"))
    try:
        assert book.fullname == "Book1"
        copy = keep_copy(book)
    finally:
        book.close()
    assert copy == str(tmp_path / "temporary" / "Book1.bak.xlsx")
    assert sheet_of(copy, "Job")["A1"].value is not None


def test_workbook_from_an_address_has_its_copy_in_the_temporary_folder(open_book, tmp_path):
    book = open_book(any_book())
    book.impl.path = "https://files.example.org/sites/jobs/Shared/job.xlsx"
    assert keep_copy(book) == str(tmp_path / "temporary" / "job.bak.xlsx")
    assert (tmp_path / "temporary" / "job.bak.xlsx").exists()


def test_copy_goes_elsewhere_if_the_folder_refuses_it(open_book, tmp_path):
    for number in range(1, 10):
        Path(backup_path(str(tmp_path / "job.xlsx"), number)).mkdir()
    assert keep_copy(open_book(any_book())) == str(tmp_path / "temporary" / "job.bak.xlsx")


def test_copy_spares_links_and_files_of_others_and_replaces_our_own(open_book, tmp_path):
    precious = tmp_path / "precious.xlsx"
    precious.write_bytes(b"of the user")
    (tmp_path / "job.bak.xlsx").symlink_to(precious)
    (tmp_path / "job.bak2.xlsx").write_bytes(b"also of the user")
    book = open_book(any_book())
    copies = {keep_copy(book) for _ in range(2)}
    assert copies == {str(tmp_path / "job.bak3.xlsx")}
    assert precious.read_bytes() == b"of the user"
    assert (tmp_path / "job.bak2.xlsx").read_bytes() == b"also of the user"
    assert sheet_of(tmp_path / "job.bak3.xlsx", "Job")["A1"].value is not None


def test_program_that_cannot_save_copies_has_its_file_copied(open_book, tmp_path, monkeypatch):
    """As Excel for Mac; of a workbook that was never saved there is no file, and so no copy."""
    monkeypatch.delattr(NativeBook, "SaveCopyAs")
    book = open_book(any_book())
    book.sheets["Job"].range("B6").value = "typed, not saved"
    copy = keep_copy(book)
    assert Path(copy).read_bytes() == marked((tmp_path / "job.xlsx").read_bytes())
    book.impl.path = ""
    assert keep_copy(book) == ""


def test_no_copy_means_no_change(app, open_book, tmp_path):
    book = open_book(SMALL)
    for folder, number in itertools.product(("", "temporary"), range(1, 10)):
        Path(backup_path(str(tmp_path / folder / "job.xlsx"), number)).mkdir()
    before = everything(book)
    assert not live.estimate_book(book)
    assert "No backup of the workbook could be saved" in message_of(app)
    assert everything(book) == before


# Without a spreadsheet program


def test_contents_are_rows_of_equal_length_and_safe():
    rows = [
        Row((Cell("=1", "text"), None, Cell(3, "int"))),
        Row((Cell(2.5, "num1", "A1*2"), Cell(dt.date(1904, 1, 2), "date"))),
        Row((Cell("", "text"), Cell(True, "center"))),
    ]
    assert contents(rows, dates_1904=True) == [
        ["'=1", None, 3.0], ["=A1*2", 1.0, None], [None, True, None],
    ]  # fmt: skip


def test_notes_of_a_press_are_a_dozen_lines_at_most(app, open_book, monkeypatch):
    book = open_book(from_file(SMALL))
    notes = [f"Gantt: the colors of A{row} could not be made" for row in range(1, 42)]
    monkeypatch.setattr(ResultSheets, "write", lambda *_: notes)
    assert live.estimate_book(book)
    lines = message_of(app).splitlines()
    assert sum(line.startswith("Gantt: the colors") for line in lines) == MOST_SHOWN == 12
    assert "and 29 more" in lines


def test_list_of_problems_is_short_enough_to_read():
    problems = [Problem(f"Job!B{row}", "got x") for row in range(1, 31)]
    lines = list_of(problems).splitlines()
    assert lines[0] == "Job!B1: got x"
    assert lines[MOST_SHOWN:] == [f"and {30 - MOST_SHOWN} more"]
    assert list_of([Problem("", "the whole workbook")]) == "the whole workbook"


class Refused(Exception):
    """What the bridge to Excel raises."""


class Obstinate:
    """An Excel object that refuses every question and every order."""

    def __getattr__(self, name):
        raise Refused(name)


def test_excel_on_a_mac_may_refuse_what_is_no_figure():
    book = SimpleNamespace(api=Obstinate())
    sheet = SimpleNamespace(api=Obstinate())
    mac = Mac(book)
    assert mac.is_1904() is False
    assert mac.is_protected(sheet) is False
    assert mac.has_fixed_sheets() is False
    assert mac.is_read_only() is False
    mac.take_filter_off(sheet)


class MacCells:
    """Cells of which Excel for Mac gives the shown texts of one row at most."""

    def __init__(self, rows):
        self.rows = rows

    def options(self, **_):
        return SimpleNamespace(value=[[None if t[:1] == "#" else t for t in r] for r in self.rows])

    def __getitem__(self, place):
        return MacCells([self.rows[place[0]]])

    @property
    def api(self):
        return SimpleNamespace(string_value=SimpleNamespace(get=self.shown))

    def shown(self):
        if len(self.rows) > 1:
            raise Refused
        return self.rows


def test_errors_of_cells_are_seen_on_a_mac_that_shows_one_row_at_a_time():
    rows = [["a", "#N/A"], ["#REF!", "b"]]
    assert Mac(None).values(MacCells(rows)) == rows


class Windowed:
    """Window of Excel, which freezes rows in the normal view only."""

    def __init__(self):
        self.orders = []

    def __setattr__(self, name, value):
        self.__dict__.setdefault(name, value)
        if name != "orders":
            self.orders.append((name, value))


def test_rows_are_frozen_in_the_normal_view():
    window = Windowed()
    Windows(SimpleNamespace(api=SimpleNamespace(Windows=lambda _: window))).freeze(6, 2)
    assert window.orders[0] == ("View", constants.WindowView.xlNormalView)
    assert window.orders[-1] == ("FreezePanes", True)


def test_pages_begin_after_the_rows_that_a_sheet_names():
    """Reference: Excel's HPageBreaks.Add takes the cell that is to stand first on the new page."""
    orders = []
    breaks = SimpleNamespace(Add=lambda cell: orders.append(cell))
    api = SimpleNamespace(ResetAllPageBreaks=lambda: orders.append("reset"), HPageBreaks=breaks,
                          VPageBreaks=breaks)  # fmt: skip
    sheet = SimpleNamespace(api=api, range=lambda cell: SimpleNamespace(api=cell))
    Windows(SimpleNamespace()).break_pages(sheet, (12, 40), (16,))
    assert orders == ["reset", (13, 1), (41, 1), (1, 17)]


@pytest.mark.parametrize(("ready", "busy"), [(True, False), (False, True), (None, True)])
def test_busy_excel_is_reported_from_its_answer_or_its_refusal(monkeypatch, ready, busy):
    bridge = SimpleNamespace(N_COM_ATTEMPTS=0)
    monkeypatch.setitem(sys.modules, "xlwings._xlwindows", bridge)
    api = Obstinate() if ready is None else SimpleNamespace(Ready=ready)
    excel = Windows(SimpleNamespace(app=SimpleNamespace(api=api)))
    assert excel.is_busy() is busy
    assert bridge.N_COM_ATTEMPTS == 0


def test_words_for_excel_on_a_mac_are_in_its_dictionary():
    """Reference: Excel's own AppleScript dictionary, which xlwings ships. Nothing is run."""
    source = inspect.getsource(Mac)
    used = set(re.findall(r"\.(\w+)\.(?:set|get)\(", source))
    used |= set(re.findall(r"words\.(\w+)", source)) | {f"{side.lower()}_footer" for side in FOOTER}
    tables = mac_dict.properties, mac_dict.enums, mac_dict.elements, mac_dict.classes
    assert used >= {"freeze_panes", "landscape", "indent_level", "shrink_to_fit", "underline"}
    assert used <= {word for table in tables for word, _ in table}


@pytest.fixture
def excel(monkeypatch):
    """Return a workbook of Excel for Windows over stand-ins, a sheet, a cell, and the orders."""
    orders = []
    workbook, sheet, cells, name = (
        SimpleNamespace(api=ComObject(kind, orders))
        for kind in ("Workbook", "Worksheet", "Range", "Name")
    )
    workbook.app = SimpleNamespace(api=ComObject("Application", orders))
    cells.sheet = sheet
    bridge = SimpleNamespace(N_COM_ATTEMPTS=0)
    monkeypatch.setitem(sys.modules, "xlwings._xlwindows", bridge)
    return SimpleNamespace(
        native=Windows(workbook), sheet=sheet, cells=cells, name=name, orders=orders
    )


PAGE = SheetSpec(
    "Plan", (), header_row=6, header_rows=2, repeated_columns=2, landscape=True, paper="a4"
)


def test_excel_on_windows_is_asked_by_members_that_it_has(excel):
    """Every question and order of ``Windows``, over objects that refuse what is not documented."""
    asked = excel.native
    assert not asked.is_busy()
    assert not asked.is_1904()
    assert not asked.is_online()
    assert not asked.has_fixed_sheets()
    assert not asked.is_protected(excel.sheet)
    assert asked.save_copy("copy.xlsx")
    asked.hide_name(excel.name)
    asked.indent(excel.cells, 2)
    asked.shrink(excel.cells)
    asked.underline(excel.cells)
    asked.freeze(6, 2)
    asked.color_tab(excel.sheet, (0x1F, 0x35, 0x50))
    asked.link(excel.cells, "'Plan'!A1")
    asked.filter(excel.cells)
    excel.sheet.api.AutoFilterMode = True
    asked.take_filter_off(excel.sheet)
    excel.sheet.range = lambda place: SimpleNamespace(api=place)
    asked.break_pages(excel.sheet, (9,))
    assert excel.orders == [
        ("Workbook.SaveCopyAs", ("copy.xlsx",)),
        ("Name.Visible", False),
        ("Range.IndentLevel", 2),
        ("Range.ShrinkToFit", True),
        ("Font.Underline", constants.UnderlineStyle.xlUnderlineStyleSingle),
        ("Window.View", constants.WindowView.xlNormalView),
        ("Window.FreezePanes", False),
        ("Window.ScrollRow", 1),
        ("Window.ScrollColumn", 1),
        ("Window.SplitRow", 6),
        ("Window.SplitColumn", 2),
        ("Window.FreezePanes", True),
        ("Tab.Color", 0x50351F),  # Excel has blue first
        ("Hyperlinks.Add", (excel.cells.api, "", "'Plan'!A1")),
        ("Worksheet.AutoFilterMode", False),
        ("Range.AutoFilter", ()),
        ("Worksheet.AutoFilterMode", True),
        ("Worksheet.AutoFilterMode", False),
        ("Worksheet.ResetAllPageBreaks", ()),
        ("HPageBreaks.Add", ((10, 1),)),
    ]


def test_excel_on_windows_names_points_and_joins_none_but_those_with_a_dash(excel):
    series = SimpleNamespace(api=ComObject("Series", excel.orders))
    excel.native.draw_line(series, "")
    excel.native.draw_line(series, "dash")
    excel.native.name_points(series, "left")
    places = constants.DataLabelPosition
    assert excel.orders == [
        ("Border.LineStyle", constants.LineStyle.xlLineStyleNone),
        ("Border.LineStyle", constants.LineStyle.xlDash),
        ("Series.HasDataLabels", True),
        ("DataLabels.ShowSeriesName", True),
        ("DataLabels.ShowValue", False),
        ("DataLabels.Position", places.xlLabelPositionLeft),
    ]
    assert {
        "right": places.xlLabelPositionRight, "left": places.xlLabelPositionLeft,
        "above": places.xlLabelPositionAbove, "below": places.xlLabelPositionBelow,
    } == LABEL_SIDES  # fmt: skip
    assert LINE_STYLES["sysDot"] == constants.LineStyle.xlDot


# A square of 2 x 2 units and a curve, drawn at 36 points a unit from (100, 200) on.
def test_excel_on_windows_draws_closed_shapes_and_their_names(excel):
    drawing = DrawingSpec(
        "B2", "A square", (2.0, 2.0), (4.0, 4.0),
        [Stroke("M 0 0 L 2 0 C 2 1 2 1 2 2 Z", "DDE2E8")], [Label("Good", 2.0, 1.0)],
    )  # fmt: skip
    excel.sheet.range = lambda place: SimpleNamespace(left=100.0, top=200.0)
    excel.sheet.api.Shapes.Item.AlternativeText = "A square"
    excel.orders.clear()
    excel.native.draw(excel.sheet, [drawing])
    assert excel.orders[0] == ("Shape.Delete", ())
    built = [order for order in excel.orders if order[0] == "FreeformBuilder.AddNodes"]
    assert ("FreeformBuilder()", (1, 100.0, 200.0)) in excel.orders
    assert built == [
        ("FreeformBuilder.AddNodes", (0, 0, 172.0, 200.0)),
        ("FreeformBuilder.AddNodes", (1, 1, 172.0, 236.0, 172.0, 236.0, 172.0, 272.0)),
        ("FreeformBuilder.AddNodes", (0, 0, 100.0, 200.0)),
    ]
    assert ("ColorFormat.RGB", 0xE8E2DD) in excel.orders  # Excel has blue first
    assert ("Shape()", (1, 148.0, 230.5, 48.0, 11.0)) in excel.orders
    assert ("Characters.Text", "Good") in excel.orders
    assert [value for name, value in excel.orders if name == "Shape.AlternativeText"] == [
        "A square", "A square"
    ]  # fmt: skip


def test_excel_on_windows_sets_a_page_in_one_talk_with_the_printer(excel):
    excel.native.set_up_page(excel.sheet, PAGE)
    first, *page, last = excel.orders
    assert (first, last) == (
        ("Application.PrintCommunication", False),
        ("Application.PrintCommunication", True),
    )
    assert dict(page)["PageSetup.Orientation"] == constants.PageOrientation.xlLandscape
    assert dict(page)["PageSetup.PaperSize"] == constants.PaperSize.xlPaperA4
    sides = {name for name, _ in page if name.endswith("Margin")}
    assert len(sides) == 6
    assert dict(page)["PageSetup.RightFooter"] == '&"Arial"&8Page &P of &N'
    excel.orders.clear()
    excel.native.repeat_header(excel.sheet, PAGE)
    assert excel.orders[1:-1] == [
        ("PageSetup.PrintTitleRows", "$5:$6"),
        ("PageSetup.PrintTitleColumns", "$A:$B"),
    ]


def test_a_sheet_in_excel_goes_to_the_other_paper_unless_it_is_on_one_of_its_own(excel):
    page = excel.sheet.api.PageSetup  # of Letter, whose code is 1
    excel.native.set_paper(excel.sheet, "letter")
    assert excel.orders == []
    excel.native.set_paper(excel.sheet, "a4")
    assert excel.orders == [("PageSetup.PaperSize", constants.PaperSize.xlPaperA4)]
    page.PaperSize = constants.PaperSize.xlPaperA3
    excel.orders.clear()
    excel.native.set_paper(excel.sheet, "letter")
    assert excel.orders == []


def test_stand_ins_refuse_what_excel_does_not_have(excel):
    with pytest.raises(AttributeError, match="PageSetup has no member PrintTitleRow"):
        excel.sheet.api.PageSetup.PrintTitleRow = "$1:$2"
    with pytest.raises(TypeError, match="takes no"):
        excel.sheet.api.PageSetup.Zoom = "100"


def test_codes_for_excel_on_windows_are_its_own():
    """Reference: the constants of Excel's object library, which xlwings ships."""
    sizes = constants.PaperSize
    assert {"letter": sizes.xlPaperLetter, "a4": sizes.xlPaperA4} == PAPER_CODES
    way = constants.PageOrientation
    assert (way.xlLandscape, way.xlPortrait) == (LANDSCAPE, PORTRAIT)
    assert constants.UnderlineStyle.xlUnderlineStyleSingle == SINGLE_LINE


def test_the_press_loads_nothing_that_it_does_not_need():
    heavy = "lxml python_calamine xlsxwriter openpyxl pandas matplotlib"
    code = (
        "import sys, xlwings; before = set(sys.modules); import estimator.excel.work; "
        f"print(sorted(set('{heavy}'.split()) & (set(sys.modules) - before)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert run.stdout.strip() == "[]"


def test_loading_a_press_reads_no_table():
    """Tables of inputs, results and standards are read when the first row of one is asked for."""
    code = (
        "import sys, xlwings; read = []; sys.addaudithook(lambda event, about: event == 'open' and "
        "str(about[0]).endswith('.csv') and read.append(about[0])); import estimator.excel.work; "
        "print(read); from estimator.inputs.dictionary import fields; fields('job'); "
        "print(len(read))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    loaded, then = run.stdout.splitlines()
    assert loaded == "[]"
    assert int(then) >= 2, "the question of this test is heard"


def test_the_process_of_a_press_ends_without_a_last_search_for_garbage():
    """What is registered first is called last, when all objects are set apart already."""
    code = (
        "import atexit, gc; atexit.register(lambda: print(gc.get_freeze_count() > 10_000)); "
        "import estimator.excel.live"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert run.stdout.strip() == "True"


def test_button_answers_before_the_estimator_is_loaded():
    """The status bar says that a press is under way before the long part of the loading."""
    code = (
        "import sys, estimator.excel.live as live; "
        "print(sum(name.startswith('estimator.') for name in sys.modules), "
        "'pydantic' in sys.modules, 'estimator.pipeline' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    count, *loaded = run.stdout.split()
    assert loaded == ["False", "False"]
    assert int(count) < 20
