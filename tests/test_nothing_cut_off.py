"""Nothing is cut off: every text against its cell and the empty cells that it may run over.

The measure is the installed typeface with the advance widths of Arial, read by Pillow; columns are
counted as the file format counts them, and taken 1 % broader than the letters, no more.
"""

import dataclasses
import datetime as dt
import functools
import re

import openpyxl
import pytest
from openpyxl.utils import get_column_letter, range_boundaries
from PIL import ImageFont

from estimator import api
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.print_sets import READERS
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet.look import box_pixels
from estimator.workbook.sheet.text_width import number_text
from tests.estimated import EXAMPLES, FOLDER, opened
from tests.one_page import book_of, names_of
from tests.site_book import all_pages_under_way
from tests.small_book import small_book

LONG = (
    "Reach 14, pressure-reducing vault to school road, along the old railroad embankment, phase 2b"
)
EDGE, INDENT, LINE_POINTS = 5, 9, 11.4
HANDED_ON = {*(name for names in READERS.values() for name in names), "Compare", "Options"}
"""Pages of the print sets, and what is decided by."""
LEAST_SHRUNK = 0.06
"""Share of its cell that a text may shrink: what LibreOffice draws a column broader than its
letters, so that the text has its size there, and 8.5 points of 9 where a column has bare pixels."""
PARTS = {"ddd": "%a", "d": "%d", "mmm": "%b", "yyyy": "%Y", "yy": "%y", "mm": "%m", "dd": "%d"}


@functools.cache
def typeface(size, bold):
    name = "LiberationSans-Bold.ttf" if bold else "LiberationSans-Regular.ttf"
    return ImageFont.truetype(name, round(size * 100))


def breadth(text, font):
    return pixels(text, font.sz, bool(font.b))


@functools.cache
def pixels(text, size, bold):
    return typeface(size, bold).getlength(text) / 75


class Measured:
    """One sheet: column widths in pixels, merged cells, and what its cells show."""

    def __init__(self, sheet):
        self.sheet = sheet
        self.merged = {}
        for area in sheet.merged_cells.ranges:
            self.merged[area.min_row, area.min_col] = area.max_row, area.max_col
        last = sheet.max_column
        if sheet.print_area:
            last = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))[2]
        self.last = last
        broad = max(sheet.max_column, last)
        self.pixels = {n: self._pixels(n) for n in range(1, broad + 1)}

    def _pixels(self, number):
        for letters, dimension in self.sheet.column_dimensions.items():
            first, last = dimension.min or 0, dimension.max or 0
            if first <= number <= last or letters == get_column_letter(number):
                return dimension.width * 7
        return 64

    def faults(self):
        for row in self.sheet.iter_rows(max_col=self.last):
            for cell in row:
                if cell.value not in (None, "") and not self.fits(cell):
                    yield f"{self.sheet.title}!{cell.coordinate}: {cell.value!r}"

    def fits(self, cell):
        bottom, right = self.merged.get((cell.row, cell.column), (cell.row, cell.column))
        own = sum(self.pixels[n] for n in range(cell.column, right + 1))
        room = own - EDGE - INDENT * int(cell.alignment.indent or 0)
        if not isinstance(cell.value, str):
            return breadth(shown(cell), cell.font) <= room
        if cell.alignment.wrap_text:
            heights = (
                self.sheet.row_dimensions[n].height or 15 for n in range(cell.row, bottom + 1)
            )
            return self.lines(cell, room) * LINE_POINTS * cell.font.sz / 9 <= sum(heights)
        if cell.alignment.shrink_to_fit:
            return breadth(cell.value, cell.font) <= room + LEAST_SHRUNK * own
        return breadth(cell.value, cell.font) <= room + self.beside(cell, right)

    def fits_with(self, cell, text):
        """Return whether another text than that of a cell has room in it."""
        cell.value, now = text, cell.value
        try:
            return self.fits(cell)
        finally:
            cell.value = now

    def lines(self, cell, room):
        count = 0
        for line in cell.value.split("\n"):
            used, count = 0.0, count + 1
            for word in re.findall(r"[^\s-]*-|[^\s-]+ ?| ", line):
                long = breadth(word, cell.font)
                if used and used + breadth(word.rstrip(), cell.font) > room * 1.01:
                    used, count = 0.0, count + 1
                used += long
        return count

    def beside(self, cell, right):
        """Return the breadth of the empty cells that a line of text may run over."""
        pixels = 0
        if cell.alignment.horizontal in (None, "general", "left", "center"):
            n = right + 1
            while n <= self.last and self.sheet.cell(cell.row, n).value in (None, ""):
                pixels, n = pixels + self.pixels[n], n + 1
        if cell.alignment.horizontal in ("right", "center"):
            n = cell.column - 1
            while n >= 1 and self.sheet.cell(cell.row, n).value in (None, ""):
                pixels, n = pixels + self.pixels[n], n - 1
        return pixels


def shown(cell):
    if isinstance(cell.value, bool):
        return str(cell.value).upper()
    if isinstance(cell.value, dt.timedelta):
        return number_text(cell.value / dt.timedelta(days=1), cell.number_format)
    if isinstance(cell.value, dt.date):
        code = re.sub("[a-z]+", lambda part: PARTS.get(part[0], part[0]), cell.number_format)
        return cell.value.strftime(code)
    return number_text(cell.value, cell.number_format)


def faults_of(book, names):
    return [fault for name in names for fault in Measured(book[name]).faults()]


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_of_a_result_sheet_is_cut_off(name):
    assert faults_of(opened(name, values=True), RESULT_SHEETS) == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_is_cut_off_with_long_names_and_large_amounts(name):
    """A job of the first runs over the turn of the year, long descriptions, the highest wage."""
    workbook = parse_workbook(small_book(name))
    job = workbook.job
    runs = tuple(run.model_copy(update={"description": f"{LONG} {run.run_id}"}) for run in job.runs)
    crew = tuple(
        role.model_copy(update={"wage": role.wage.model_copy(update={"amount": 999.0})})
        for role in job.crew
    )
    cover = job.cover.model_copy(update={"job_name": LONG, "company": LONG, "bid_to": LONG})
    dates = job.dates.model_copy(update={"start": dt.date(2027, 12, 13), "deadline": None})
    changed = job.model_copy(update={"runs": runs, "crew": crew, "cover": cover, "dates": dates})
    workbook = dataclasses.replace(workbook, job=changed)
    data = with_results(workbook, api.estimate_workbook(workbook))
    book = book_of(data, RESULT_SHEETS, data_only=True)
    assert faults_of(book, RESULT_SHEETS) == []


@pytest.mark.parametrize("name", [*EXAMPLES, "county_force_main"])
def test_nothing_of_an_input_sheet_is_cut_off(name):
    book = openpyxl.load_workbook(FOLDER / f"{name}.xlsx", data_only=True)
    inputs = book.sheetnames[: book.sheetnames.index(RESULT_SHEETS[0])]
    assert len(inputs) > 12
    assert faults_of(book, inputs) == []


def test_nothing_of_the_pages_after_award_is_cut_off():
    """Not measured: numbers typed into the Joint log, which show as many places as fit."""
    every = names_of(all_pages_under_way())
    names = every[every.index(RESULT_SHEETS[-1]) + 1 :]
    book = book_of(all_pages_under_way(), names, data_only=True)
    assert {"Status", "Field cards", "Claim 1", "Request machines"} <= set(names)
    assert faults_of(book, [name for name in names if name != "Joint log"]) == []


def arguments(call):
    """Return the arguments of a function call, none where it is anything else."""
    parts, depth, quoted = [""], 0, False
    for letter in call[call.index("(") :]:
        quoted ^= letter == '"'
        depth += {"(": 1, ")": -1}.get(letter, 0) * (not quoted)
        if letter == "," and depth == 1 and not quoted:
            parts.append("")
        else:
            parts[-1] += letter
    return [parts[0][1:], *parts[1:-1], parts[-1].removesuffix(")")]


def shown_by(formula):
    """Yield the texts between which a formula chooses."""
    if re.fullmatch('"[^"]*"', formula):
        yield formula[1:-1]
    elif formula.startswith("IF("):
        for way in arguments(formula)[1:]:
            yield from shown_by(way)


def test_texts_between_which_a_formula_chooses():
    formula = 'IF(OR(A1="x",B1>0),"one, or (two",IF(A2,A3,"three"))'
    assert [*shown_by(formula)] == ["one, or (two", "three"]


def test_nothing_is_cut_off_of_what_a_formula_may_show():
    """A price or an input that changes after the estimate turns texts of live cells into others."""
    live, values = (opened("raw_water_main", values=only) for only in (False, True))
    found, faults = set(), []
    for sheet in (name for name in RESULT_SHEETS if name in HANDED_ON):
        measured = Measured(values[sheet])
        for cell in (cell for row in live[sheet].iter_rows(max_col=measured.last) for cell in row):
            for text in shown_by(str(cell.value)[1:]) if cell.data_type == "f" else ():
                found.add(text)
                if not measured.fits_with(values[sheet][cell.coordinate], text):
                    faults.append(f"{sheet}!{cell.coordinate}: {text}")
    assert faults == []
    assert {"unbalanced", "Prices have changed: run Estimate again"} <= found


def test_a_text_that_is_cut_off_is_found():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append([LONG, "next"])
    assert faults_of(book, [sheet.title]) == [f"{sheet.title}!A1: {LONG!r}"]


@pytest.mark.parametrize("name", EXAMPLES)
def test_compare_is_one_page_broad(name):
    measured = Measured(opened(name, values=True)["Compare"])
    assert sum(measured.pixels[n] for n in range(1, measured.last + 1)) <= box_pixels(across=True)
