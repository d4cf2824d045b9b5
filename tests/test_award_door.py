"""Both doors do the same: every action after award, on the file and in the open workbook.

LibreOffice holds the workbook as Excel would. Afterward every cell of every sheet, its formula and
its value, is compared with the file that the command wrote, opened in the same program.
"""

import datetime as dt
import functools
import io
from dataclasses import replace

import openpyxl
import pytest

from estimator import api
from estimator.after_award import CHANGE_ORDERS, NO_RECORDS, PAST_JOBS, QUOTES
from estimator.award_actions import ACTIONS, asked
from estimator.cli import main
from estimator.excel import live
from estimator.excel.award_work import WORK, inputs_changed, work_of
from estimator.excel.macro.open_inputs import OpenInputs
from estimator.pipeline import estimate
from estimator.progress.baseline import baseline_of
from estimator.workbook.book import parse_workbook, with_baseline, with_pages
from estimator.workbook.package.package import Package
from estimator.workbook.read.file_source import FileSource
from tests.lo_engine import open_app
from tests.site_book import GOOD, filled
from tests.workbook_factory import WorkbookFactory
from workbook_template.award_sheet import NAMES
from workbook_template.macro_book import build_macro_book

DAY = dt.date(2027, 4, 6)
LOGGER = "ID,Closed at,Welder\nR1-0003,{day} 08:12:30,A. Reyes\n"
QUOTE = {"supplier": "North", "line": 1, "day_rate": 400, "week_rate": 1500, "four_week_rate": 4500}
CHANGE = {"number": "1", "kind": "quantity", "what": "Longer", "status": "raised"}
PAST = {"job": "one", "band": "C", "joints": 40, "crew_min": 30}
APART = (QUOTES, CHANGE_ORDERS, PAST_JOBS)


@functools.cache
def bid():
    """Return a job of two short runs."""
    return WorkbookFactory().build()


@functools.cache
def awarded():
    """Return the job with a baseline, site records, a quote, a change, terms and a past job."""
    workbook = parse_workbook(bid())
    data = api.with_site_records(workbook)
    for name in APART:
        data = api.add_site_records(parse_workbook(data), NO_RECORDS, name)
    found = estimate(workbook.job, workbook.places)
    data = with_baseline(parse_workbook(data), found, baseline_of(found, 1, "as awarded"))
    made = {("joint_log", row): GOOD | {"date": DAY} for row in (0, 1)}
    days = {"date": DAY, "crew": 1, "run_id": "R1", "people": 4, "paid_hours": 40}
    columns = [("Joint no.", "ID"), ("Closed", "Closed at"), ("Operator", "Welder")]
    mapped = {
        ("logger_columns", row): {"ours": ours, "theirs": theirs}
        for row, (ours, theirs) in enumerate(columns)
    }
    return filled(
        {
            **made,
            **mapped,
            ("daily_record", 0): days,
            ("claim_terms", 0): {"retention": 0.1},
            ("changes", 0): CHANGE | {"date": DAY},
            ("quotes", 0): QUOTE,
            ("past_jobs", 0): PAST,
        },
        data,
    )


@functools.cache
def longer():
    """Return the same job with two tees more in its first run."""
    table = FileSource(awarded()).table("Pipe_schedule")
    at = next(n for n, cell in enumerate(table.headers) if cell.value == "Tees")
    sheet, _, address = table.rows[0][at].reference.rpartition("!")
    return Package.open(awarded()).fill_cells({sheet.strip("'"): {address.replace("$", ""): 2}})


CASES = {
    "Status": (awarded, "status", "--date", f"{DAY}"),
    "Status with options": (awarded, "status", "--date", f"{DAY}", "--options"),
    "Baseline": (bid, "baseline"),
    "New baseline": (awarded, "baseline", "--rebase", "change 3"),
    "Field cards": (bid, "cards"),
    "Start site records": (bid, "log", "--start"),
    "Update site records": (longer, "log", "--update"),
    "Log summary": (awarded, "log"),
    "Log pages": (awarded, "log", "--page", "R1"),
    "Join data logger": (awarded, "log", "--logger", "day5.csv"),
    "Start change orders": (bid, "claim", "--start"),
    "Progress claim": (awarded, "claim", "--date", f"{DAY}"),
    "Price a change": (awarded, "change", "1", "--with", "longer.xlsx", "--date", f"{DAY}"),
    "Rental request": (bid, "request"),
    "Take a quote": (awarded, "request", "--take", "1"),
    "Start past jobs": (bid, "past", "--start"),
    "Past job times": (awarded, "past"),
    "Take past times": (awarded, "past", "--take", "C"),
    "Look-ahead": (bid, "lookahead", "--from", "2027-03-15"),
}


def test_every_action_has_its_work_and_its_case():
    names = {one.name for one in ACTIONS}
    assert names == {*WORK, "Look-ahead"} == set(CASES)
    assert [CASES[one.name][1] for one in ACTIONS] == [one.command for one in ACTIONS]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "day5.csv").write_text(LOGGER.format(day=DAY), "utf-8")
    (tmp_path / "longer.xlsx").write_bytes(longer())
    monkeypatch.chdir(tmp_path)
    return tmp_path


def chosen(name):
    """Return an action with what its case types behind the command."""
    words = CASES[name][1:]
    files = [word for word in words if word.endswith((".csv", ".xlsx"))]
    details = [word for word in words[1:] if word in ("1", "C", "R1", "change 3")]
    dates = [dt.date.fromisoformat(word) for word in words if word.startswith("2027")]
    return asked(name, next(iter(dates), None), tuple(details), tuple(files), {})


def written(workbook, work):
    """Return the file with all of a work in it."""
    data = inputs_changed(workbook, work)
    return data if work.pages is None else with_pages(replace(workbook, data=data), work.pages)


@pytest.mark.parametrize("name", WORK)
def test_the_work_of_an_action_is_what_its_command_writes(name, folder):
    make, *words = CASES[name]
    path = folder / "job.xlsx"
    path.write_bytes(make())
    assert main([words[0], str(path), *words[1:]]) == 0
    made = written(parse_workbook(make()), work_of(parse_workbook(make()), chosen(name)))
    assert values_of(made) == values_of(path.read_bytes())


@pytest.mark.parametrize("name", ["Status", "Field cards", "Rental request", "Progress claim"])
def test_the_foot_of_a_page_says_which_job_and_estimate_it_is_of(name):
    workbook = parse_workbook(awarded())
    pages = work_of(workbook, chosen(name)).pages
    cover, keys = workbook.job.cover, tuple(pages.makers)
    dot = " \N{MIDDLE DOT} "
    of = f"of Jan 4, 2027, revision {cover.bid_revision}"
    bid = " ".join(filter(None, ("Bid", cover.bid_number)))
    foot = f"{cover.job_name}{dot}estimate {of}"
    if name == "Progress claim":
        foot = f"Claim 1, Apr 6, 2027{dot}{cover.job_name}{dot}{bid} {of}"
    specs = pages.specs(workbook.places, dict(zip(keys, keys, strict=True)))
    for spec in specs:
        assert spec.foot.text == foot
        assert spec.footer["Left"].startswith('&"Arial"&8&A') == (name != "Progress claim")


def values_of(data):
    """Return formula or value of every filled cell of a file, by sheet and place."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    }


# In a program that holds the workbook open


@pytest.fixture(scope="module")
def app():
    with open_app() as found:
        found.impl.copies_files = True
        yield found


def cells_of(book):
    """Return formula and value of every filled cell of every sheet, by sheet and place."""
    found = {}
    for sheet in book.sheets:
        name, (all_values, all_formulas) = sheet.name, sheet.impl.used_range.ask("formulas")
        for row, (formulas, values) in enumerate(zip(all_formulas, all_values, strict=True), 1):
            for column, (formula, value) in enumerate(zip(formulas, values, strict=True), 1):
                if formula != "":
                    shown = round(value, 6) if isinstance(value, float) else value
                    found[name, row, column] = formula if formula[:1] in "={" else "", shown
    return found


def hear(said):
    """Return what takes up what the user is shown."""
    return lambda _, outcome: said.append(outcome.text)


def typed_in(book):
    """Return formula or value of every cell; the office computes none anew where a table shrank."""
    return {place: formula or value for place, (formula, value) in cells_of(book).items()}


EACH_WAY = (
    "Field cards", "Start site records", "Update site records", "Join data logger",
    "Rental request", "Take a quote",
)  # fmt: skip
"""Pages alone, sheets to fill in, rows, cells, pages with a sheet, cells of an input sheet."""


@pytest.mark.parametrize("name", EACH_WAY)
def test_the_open_workbook_gets_what_the_command_writes(name, app, folder, capsys):
    make, *words = CASES[name]
    path, saved = folder / "job.xlsx", folder / "saved.xlsx"
    before = make()
    for each in (path, saved):
        each.write_bytes(before)
    assert main([words[0], str(saved), *words[1:]]) == 0
    book, same = app.books.open(path), app.books.open(saved)
    try:
        assert main(["press", str(path), "--do", *words]) == 0, capsys.readouterr().err
        app.calculate()
        here, there = cells_of(book), cells_of(same)
        different = [
            (place, here.get(place), there.get(place))
            for place in here.keys() | there.keys()
            if here.get(place) != there.get(place)
        ]
        assert different == []
        tables = [set(one.impl.doc.DatabaseRanges.ElementNames) for one in (book, same)]
        assert tables[0] == tables[1]
        assert path.read_bytes() == before, "a press saves nothing"
        assert (folder / "job.bak.xlsx").exists()
        assert name in capsys.readouterr().out
    finally:
        book.close()
        same.close()


def test_a_program_that_refuses_leaves_the_workbook_as_it_was(app, folder, monkeypatch):
    """The table has grown and some rows are in when a cell is refused: all is taken back."""
    path = folder / "job.xlsx"
    path.write_bytes(longer())
    book = app.books.open(path)
    try:
        before = typed_in(book)
        usual, calls = OpenInputs._set, []

        def refuse_third(self, cells, values):
            calls.append(cells)
            if len(calls) == 3:
                raise OSError("the disk of the program is full")
            usual(self, cells, values)

        monkeypatch.setattr(OpenInputs, "_set", refuse_third)
        said = []
        wanted = chosen("Update site records")
        assert not live.after_award_book(
            book, wanted, show=lambda _, outcome: said.append(outcome.text)
        )
        assert "(the disk of the program is full). Nothing was changed" in said[0]
        assert len(calls) == 3
        assert typed_in(book) == before
    finally:
        book.close()


def test_the_sheet_after_award_chooses_what_the_button_does(app, folder):
    """Each wrong cell is named; then the baseline that is asked for is there."""
    path = folder / "job.xlsm"
    path.write_bytes(build_macro_book("US", "plant_piping"))
    book = app.books.open(path)
    said = []

    def press():
        good = live.after_award_book(book, show=hear(said))
        return good, said[-1]

    try:
        sheet = book.sheets["After award"]
        cells = {name: sheet.range(f"B{4 + at}") for at, name in enumerate(NAMES)}
        assert press() == (
            False,
            "Inputs need attention.\n\nAfter award!B5: Status needs a date: last day counted",
        )
        cells["award_do"].value = "Statue"
        assert "After award!B4: 'Statue' is none of: Status, " in press()[1]
        cells["award_do"].value, cells["award_date"].value = "Look-ahead", "'soon"
        assert "After award!B5: 'soon' is not a date" in press()[1]
        cells["award_do"].value, cells["award_date"].value = "Baseline", None
        cells["award_detail"].value = "not used here"
        good, text = press()
        assert good, text
        assert text.startswith("Baseline\nBaseline 1 (as awarded): ")
        assert book.sheets["Baseline"].range("A1").value == "Baseline"
    finally:
        book.close()


def test_a_workbook_without_the_sheet_says_how_else(app, folder):
    path = folder / "job.xlsx"
    path.write_bytes(bid())
    book, said = app.books.open(path), []
    try:
        assert not live.after_award_book(
            book, None, show=lambda _, outcome: said.append(outcome.text)
        )
        assert said[0].startswith("This workbook has no sheet After award. From outside: estimator")
    finally:
        book.close()
