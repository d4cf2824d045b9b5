"""The input workbook: built from the dictionary, readable by everyone, always the same bytes."""

import csv
import datetime as dt
import filecmp
import functools
import io
import math
import re
import shutil
import subprocess
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import range_boundaries
from python_calamine import CalamineWorkbook
from xlsxwriter.worksheet import Worksheet

from estimator.display import counted, show_date
from estimator.errors import InputError, UnknownNameError
from estimator.inputs.dictionary import fields, input_tables
from estimator.joint.geometry import pipe_geometry
from estimator.models.bands import BANDS
from estimator.pipeline import estimate
from estimator.units import from_si, to_si
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE, INDENT, RESERVE
from estimator.workbook.sheet.names import marker_name, sheet_of
from estimator.workbook.sheet.text_width import line_breadths, text_pixels
from tests import office
from tests.each import each
from tests.one_page import names_of
from tests.small_book import small_book
from workbook_template import (
    build_template,
    example_names,
    example_system,
    table_sheet,
)
from workbook_template.__main__ import main
from workbook_template.content import job_files, named_overrides, own_rows, table_rows, typed
from workbook_template.page import InputSheet
from workbook_template.rules import allowed, choices, inwards, limits
from workbook_template.takeoff_example import TAKEOFF

EXAMPLES = Path(__file__).parent.parent / "examples"
COUNTY_RUNS = 9
"""Runs of the examples whose schedule comes from a takeoff."""
VARIANTS = [("US", None), ("SI", None), *((example_system(n), n) for n in example_names())]
TABLES = [table for table in input_tables() if table.form == "table"]
NAMED = [table for table in input_tables() if table.form != "table"]
SYSTEMS = ("US", "SI")
IN_MM = 25.4
SAMPLES = "Sample classes. Replace them with your supplier's quote"
PLANNING = "Planning figures. The maker's data sheet governs"
PAGE_LINK = re.compile(
    r'=HYPERLINK\(IF\(Checks!\$A\$4="Bid price","#\'(?P<page>[^\']+)\'!A1","#\'Checks\'!A1"\),'
    r'"(?P<text>[^"]+)"\)'
)


@functools.cache
def built(system, example=None):
    return build_template(system, example)


@functools.cache
def opened(system):
    """Return the empty workbook of a unit system as a second reader has it."""
    return openpyxl.load_workbook(io.BytesIO(built(system)))


@pytest.fixture(scope="module", params=VARIANTS, ids=lambda v: v[1] or f"empty {v[0]}")
def variant(request):
    """Every workbook that can be built, as its system, example and openpyxl workbook."""
    system, example = request.param
    data = built(system, example)
    return system, example, openpyxl.load_workbook(io.BytesIO(data))


def table_cells(book, table):
    """Return the header row, unit row and body rows of an Excel table."""
    sheet = book[table.sheet]
    left, top, right, bottom = range_boundaries(sheet.tables[table.excel_name].ref)
    rows = list(sheet.iter_rows(top - 1, bottom, left, right))
    return rows[1], rows[0], rows[2:]


def validations_at(sheet, cell):
    """Return the data validations that hold for a cell."""
    return [v for v in sheet.data_validations.dataValidation if cell.coordinate in v.sqref]


def test_sheets_stand_in_the_agreed_order(variant):
    _, _, book = variant
    assert book.sheetnames == [
        "Start", "Job", "Pipe schedule", "Machines", "Generators", "Lifting", "Crew",
        "Task times", "Rates", "Material prices", "Fitting prices", "Other costs", "Calendar",
        "Risk inputs", "Bid items", "Scenarios", "Checks",
    ]  # fmt: skip


def test_first_estimate_adds_the_other_result_sheets_in_order():
    assert names_of(_estimated(small_book()))[-len(RESULT_SHEETS) :] == [
        "Checks", "Bid", "Bid schedule", "Basis of estimate", "Price build-up", "Cost",
        "Cost by run", "Item prices", "Risk", "Compare", "Options", "Plan by week", "Look-ahead",
        "Gantt", "Hydrotests", "Labor", "Joint counts", "Joint parameters", "Equipment",
        "Equipment choice", "Joints", "Plan", "Explain", "Input watch",
    ]  # fmt: skip


def test_sheet_list_agrees_with_the_dictionary():
    inputs = {row["sheet"] for row in own_rows("sheets.csv")}
    assert inputs == {table.sheet for table in input_tables()}


@each("table", TABLES, ids=lambda t: t.table)
def test_table_shows_every_field_with_its_unit_above(variant, table):
    system, _, book = variant
    headers, units, body = table_cells(book, table)
    assert [cell.value for cell in headers] == [f.header for f in fields(table.table)]
    shown = [cell.value or "" for cell in units]
    assert shown == [f.unit_text(system).strip("-") for f in fields(table.table)]
    assert body


@each("table", TABLES, ids=lambda t: t.table)
def test_table_holds_the_rows_of_its_source_and_then_empty_ones(variant, table):
    system, example, book = variant
    *_, body = table_cells(book, table)
    if table.table == "schedule" and example and job_files(example, TAKEOFF):
        return  # its rows come from a takeoff: tests/test_county.py
    wanted = [list(row.values()) for row in table_rows(table.table, system, example)]
    found = [[as_date(cell.value) for cell in row] for row in body]
    assert found[: len(wanted)] == wanted
    assert all(value is None for row in found[len(wanted) :] for value in row)


def as_date(value):
    return value.date() if isinstance(value, dt.datetime) else value


def test_schedule_leaves_room_for_more_runs(variant):
    _, example, book = variant
    *_, body = table_cells(book, next(t for t in TABLES if t.table == "schedule"))
    empty = [row for row in body if all(cell.value is None for cell in row)]
    on_its_pages = {"raw_water_main": 7, "plant_piping": 3}
    assert len(empty) >= on_its_pages.get(example, 8 if example else 48)


@each("table", NAMED, ids=lambda t: t.table)
def test_defined_names_point_at_values_beside_their_label_and_unit(variant, table):
    system, example, book = variant
    own = named_overrides(table.table, example) if example else {}
    for field in fields(table.table):
        ((sheet, address),) = book.defined_names[field.cell_name].destinations
        assert sheet == table.sheet
        cell = book[sheet][address.replace("$", "")]
        assert book[sheet].cell(cell.row, cell.column - 1).value == field.header
        beside = book[sheet].cell(cell.row, cell.column + 1).value or ""
        assert beside == field.unit_text(system).strip("-")
        text = own.get(field.key, field.default(system))
        assert as_date(cell.value) == typed(field, text)


def test_checks_carries_its_hidden_mark_and_says_that_it_waits(variant):
    _, _, book = variant
    mark = book.defined_names[marker_name("Checks")]
    assert mark.hidden
    assert sheet_of(mark.attr_text) == "Checks"
    assert mark.attr_text.endswith("!$A$1")
    shown = [book["Checks"][cell].value for cell in ("A1", "A2", "A3", "B3")]
    how = "Run Estimate: it fills in this sheet and adds the other results."
    assert shown == ["Checks", how, "Check status", "Not estimated yet"]


def test_only_what_shows_results_or_changes_is_a_formula(variant):
    """On Start what Checks says, on Job and Rates the lines of the groups, and no input cell."""
    _, _, book = variant
    formulas = {
        f"{sheet.title}!{cell.coordinate}": cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }
    assert [text for text in formulas.values() if text == "=Checks!$B$3"] == ["=Checks!$B$3"]
    assert {place.split("!")[0] for place in formulas} == {"Start", "Job", "Rates"}
    assert not any("!B" in place for place in formulas if not place.startswith("Start!"))


def group_lines(book, table):
    """Return the rows of a sheet's group lines, and those of the fields of each group."""
    sheet = book[table.sheet]
    names = (book.defined_names[field.cell_name] for field in fields(table.table))
    fields_at = [int(next(name.destinations)[1].rpartition("$")[2]) for name in names]
    lines = [row for row in range(5, sheet.max_row) if str(sheet.cell(row, 4).value)[:3] == "=IF"]
    return {
        line: [row for row in fields_at if line < row < end]
        for line, end in zip(lines, [*lines[1:], sheet.max_row + 1], strict=True)
    }


def test_a_closed_group_hides_its_fields_and_a_free_row_ends_it(variant):
    _, _, book = variant
    job = next(table for table in NAMED if table.table == "job")
    rows, groups = book["Job"].row_dimensions, group_lines(book, job)
    assert len(groups) == 12
    for line, members in groups.items():
        assert rows[line].collapsed
        assert not rows[line].outlineLevel
        assert all(rows[row].outlineLevel == 1 and rows[row].hidden for row in members)
        after = rows[members[-1] + 1]
        assert not after.outlineLevel
        assert not after.hidden
        assert book["Job"].cell(members[-1] + 1, 1).value is None
    assert not book["Job"].sheet_properties.outlinePr.summaryBelow


def test_the_twelve_fields_of_every_job_stand_first_and_open(variant):
    _, _, book = variant
    found = [book["Job"].cell(row, 1).value for row in range(5, 17)]
    assert found == [
        "Job name", "Bid to", "Estimate date", "Units for results", "Currency", "Fusion method",
        "Ambient temperature", "Start date", "Deadline", "Workweek", "Shift length", "Crews",
    ]  # fmt: skip
    assert not any(book["Job"].row_dimensions[row].hidden for row in range(1, 17))


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_row_of_an_input_grows_with_what_is_typed_into_it(system):
    """The programs leave a row alone that the file marks as one whose height somebody chose."""
    book = openpyxl.load_workbook(io.BytesIO(built(system)))
    lines = {*group_lines(book, next(table for table in NAMED if table.table == "job"))}
    chosen, fitted = row_heights(built(system), "Job")
    assert chosen >= lines
    assert len(fitted) > 40
    assert {str(book["Job"].cell(row, 5).value) for row in chosen - lines if row > 4} == {"None"}
    assert row_heights(built(system), "Crew")[0] == {1, 2, 3, 4, 5}, "the head, nothing typed"


def row_heights(data, name):
    """Return the rows of a sheet with a height that is to stay, and those with another one."""
    package = Package.open(data)
    (part,) = (one.part for one in package.workbook_sheets() if one.name == name)
    rows = re.findall(r'<row r="(\d+)"([^>]*) ht="[^"]*"([^>]*)', package.part(part).decode())
    chosen = {int(row) for row, *more in rows if "customHeight" in "".join(more)}
    return chosen, {int(row) for row, *_ in rows} - chosen


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_page_and_every_input_sheet_is_led_to_from_start(system):
    book = opened(system)
    cells = [cell for row in book["Start"] for cell in row]
    links = [cell.hyperlink.location for cell in cells if cell.hyperlink]
    assert {link.split("!")[0].strip("'") for link in links} == set(book.sheetnames) - {"Start"}
    pages = [found for cell in cells if (found := PAGE_LINK.fullmatch(str(cell.value)))]
    assert all(page["page"] == page["text"] for page in pages)
    assert {page["page"] for page in pages} == set(RESULT_SHEETS) - {"Checks", "Input watch"}


def test_links_lead_to_checks_before_the_first_estimate_and_to_the_page_after_it(tmp_path):
    """Their texts stay in the file, so that a reader of saved values finds them, too."""
    path = tmp_path / "job.xlsx"
    for saved in (first := small_book(), _estimated(first)):
        path.write_bytes(saved)
        start = CalamineWorkbook.from_path(path).get_sheet_by_name("Start").to_python()
        assert {"Bid", "Price build-up", "Cost"} <= {cell for row in start for cell in row}
        watched = office.recalculate(path, sheets=("Checks",))["Checks"]
        assert (watched.get("A4") == "Bid price") is (saved is not first)


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice")
def test_start_shows_the_price_with_its_currency_and_when_the_estimate_was_made(tmp_path):
    data = small_book()
    job = parse_workbook(data).job
    path = tmp_path / "job.xlsx"
    path.write_bytes(_estimated(data))
    price = f"{estimate(job).bid.price:,.2f}"
    for currency, shown in (("$", f"${price}"), ("CAD", f"CAD {price}")):
        found = office.recalculate(path, {"Job": {"B9": currency}}, sheets=("Start",))["Start"]
        assert (found["B4"], found["D4"]) == (shown, "before tax")
        dated = show_date(job.cover.estimate_date, "US")
        assert found["E2"] == f"estimate of {dated}, revision {job.cover.bid_revision}"
    path.write_bytes(data)
    found = office.recalculate(path, sheets=("Start",))["Start"]
    assert not any(found.get(cell) for cell in ("E2", "B4", "D4"))


def _estimated(data):
    book = parse_workbook(data)
    return with_results(book, estimate(book.job, book.places))


@each("table", input_tables(), ids=lambda t: t.table)
def test_every_limited_field_is_validated_in_the_units_of_the_sheet(variant, table):
    system, _, book = variant
    sheet = book[table.sheet]
    for index, field in enumerate(fields(table.table)):
        if table.form == "table":
            *_, body = table_cells(book, table)
            cells = [body[0][index], body[-1][index]]
        else:
            ((_, address),) = book.defined_names[field.cell_name].destinations
            cells = [sheet[address.replace("$", "")]]
        for cell in cells:
            found = validations_at(sheet, cell)
            if field.allowed:
                offered = ",".join(choices(field, system))
                assert found[0].formula1 == f'"{offered}"'
            elif field.kind in ("ratio", "segments"):
                assert found[0].type == "custom"
            elif field.minimum is not None:
                assert_limits(field, system, found[0])
            elif field.kind == "date":
                assert found[0].type == "date"


def assert_limits(field, system, rule):
    """The limits, back in SI, lie inside those of the dictionary and within 0.1 % of them."""
    for text, wanted in ((rule.formula1, field.minimum), (rule.formula2, field.maximum)):
        value = float(text)
        si = to_si(value, field.unit_label(system)) if field.quantity else value
        assert field.minimum - 1e-9 <= si <= field.maximum * (1 + 1e-9)
        assert si == pytest.approx(wanted, rel=1e-3, abs=1e-9)
    low, high = limits(field, system)
    assert low < high
    assert rule.error.startswith(f"{field.header}: enter ")
    unit = field.unit_text(system)
    assert not field.quantity or unit in rule.error


def test_temperature_limits_in_the_us_template_are_fahrenheit():
    # -45 C is -49 F and 55 C is 131 F by the definition of the two scales.
    (ambient,) = (f for f in fields("job") if f.key == "ambient_c")
    assert limits(ambient, "US") == (-49.0, 131.0)
    assert allowed(ambient, "US") == "-49 to 131 F"


@given(st.floats(1e-6, 1e9), st.sampled_from([-1.0, 1.0]))
def test_inwards_rounds_to_four_figures_on_the_safe_side(size, sign):
    value = sign * size
    up, down = inwards(value, math.ceil), inwards(value, math.floor)
    noise = abs(value) * 1e-8
    assert down - noise <= value <= up + noise
    assert up - down <= abs(value) * 1.001e-3
    assert float(f"{up:.4g}") == up


def test_inputs_are_framed_on_pale_yellow_and_sizes_are_text(variant):
    _, _, book = variant
    for table in TABLES:
        *_, body = table_cells(book, table)
        for cell, field in zip(body[0], fields(table.table), strict=True):
            assert cell.fill.fgColor.rgb == f"FF{look.INPUT}"
            assert cell.border.left.style == cell.border.bottom.style == "thin"
            if field.kind == "size":
                assert cell.number_format == "@"
            if field.kind == "percent":
                assert cell.number_format.removesuffix(look.CLEAR).endswith("%")
            if cell.alignment.horizontal == "right":
                assert cell.number_format.endswith(look.CLEAR), "a number stands off its frame"


def test_each_look_of_a_cell_stands_on_a_line_beside_what_it_means(variant):
    """The look that Start explains is the one that the input sheets have."""
    _, _, book = variant
    start, job = book["Start"], book["Job"]
    first = next(row for row in range(1, 99) if start.cell(row, 1).value == "How cells look") + 1
    typed, missing = start.cell(first, 1), start.cell(first + 1, 1)
    assert typed.fill.fgColor.rgb == job["B5"].fill.fgColor.rgb == f"FF{look.INPUT}"
    (rule,) = (rule for area in job.conditional_formatting if "B5" in area.cells
               for rule in area.rules)  # fmt: skip
    assert missing.fill.fgColor.rgb == rule.dxf.fill.bgColor.rgb
    meant = [start.cell(first + n, 2).value for n in range(3)]
    assert [text.partition(":")[0] for text in meant] == [
        "Yellow and framed",
        "Ochre",
        "No fill and no frame",
    ]


def test_the_notes_of_the_twelve_fields_take_one_line(variant):
    _, _, book = variant
    job = book["Job"]
    rows = {job.cell(row, 1).value: row for row in range(5, 17)}
    tall = {name for name, row in rows.items() if (job.row_dimensions[row].height or 15) > look.ROW}
    assert tall <= {"Job name", "Bid to"}


def test_sizes_of_the_examples_are_stored_as_text():
    for name in example_names():
        book = openpyxl.load_workbook(EXAMPLES / f"{name}.xlsx")
        headers, _, body = table_cells(book, next(t for t in TABLES if t.table == "schedule"))
        column = [cell.value for cell in headers].index("Size")
        sizes = [row[column].value for row in body if row[0].value is not None]
        assert sizes
        assert all(isinstance(size, str) for size in sizes)


def test_header_notes_say_what_is_allowed(variant):
    system, _, book = variant
    for table in TABLES:
        headers, *_ = table_cells(book, table)
        for cell, field in zip(headers, fields(table.table), strict=True):
            if not (field.required or field.note or allowed(field, system)):
                assert cell.comment is None, "a note would say nothing"
                continue
            assert field.note in cell.comment.text
            assert allowed(field, system) in cell.comment.text
            assert "e+" not in allowed(field, system), "1e+06 is no number for an estimator"


def column_pixels(sheet, number):
    """Return the pixels of a column; columns of one width stand together in the file."""
    spans = sheet.column_dimensions.values()
    return next(7 * span.width for span in spans if span.min <= number <= span.max)


def test_headers_stand_over_their_cells_and_off_each_other(variant):
    """A text is inset and so off a number before it; others leave 4 pixels and a blank.

    Of a line that wraps in a column up to 6 % broader, as LibreOffice draws it, too.
    """
    _, _, book = variant
    for table in TABLES:
        headers, units, body = table_cells(book, table)
        for header, unit, cell in zip(headers, units, body[0], strict=True):
            side = cell.alignment.horizontal
            assert header.alignment.horizontal == unit.alignment.horizontal == side
            assert header.alignment.indent == cell.alignment.indent == (side == "left")
            if side != "left":
                room = column_pixels(book[table.sheet], header.column) - 5
                lines = line_breadths(header.value, room * 1.06, look.TEXT, bold=True)
                assert max(lines) <= room - 4, header.value


def test_the_groups_of_rates_stand_whole_and_fill_the_first_of_two_pages(variant):
    """Each under its title and header: the next group has no room on the first page."""
    _, _, book = variant
    assert not book["Job"].row_breaks.brk
    rates = book["Rates"]
    assert rates.print_title_rows == "$1:$4"
    (stop,) = rates.row_breaks.brk
    starts = [cell.row for cell in rates["A"] if cell.font.b and cell.fill.fill_type]
    second = starts.index(stop.id + 1)
    page = look.page_height("a4", across=False)
    assert _points_to(rates, starts[second]) <= page < _points_to(rates, starts[second + 1])


def _points_to(sheet, end):
    """Points of the rows above one."""
    rows = [sheet.row_dimensions[row] for row in range(1, end)]
    return sum(0.0 if row.hidden else row.height or look.ROW for row in rows)


def test_no_header_takes_more_than_two_lines(variant):
    """The unit above it stays in sight: at most one blank line is between the two."""
    _, _, book = variant
    for table in TABLES:
        headers, *_ = table_cells(book, table)
        for cell in headers:
            indent = INDENT if cell.alignment.indent else 0
            room = (column_pixels(book[table.sheet], cell.column) - EDGE - indent) / RESERVE
            lines = [*line_breadths(cell.value, room + 0.5, look.TEXT, bold=True)]
            assert len(lines) <= 2, (table.title, cell.value)


def test_sheets_are_set_up_for_printing(variant):
    _, _, book = variant
    for sheet in book:
        assert not sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.scale in (None, 100)
        assert sheet.page_setup.paperSize in (None, "1", 1, 9, "9")
        assert "&P" in sheet.oddFooter.right.text
        assert sheet.oddFooter.center.text == "&A"
    for table in TABLES:
        sheet = book[table.sheet]
        headers, *_ = table_cells(book, table)
        assert sheet.freeze_panes == f"B{headers[0].row + 1}"


def test_no_header_word_is_wider_than_its_column(variant):
    _, _, book = variant
    for table in TABLES:
        headers, *_ = table_cells(book, table)
        for cell in headers:
            room = column_pixels(book[table.sheet], cell.column) - 5
            words = (text_pixels(word, look.TEXT, bold=True) for word in cell.value.split())
            assert max(words) * 1.05 <= room, cell.value


def test_calamine_reads_every_sheet():
    for system in SYSTEMS:
        book = CalamineWorkbook.from_filelike(io.BytesIO(built(system)))
        rows = book.get_sheet_by_name("Crew").to_python()
        assert rows[0][0] == "Crew"
        assert len(book.sheet_names) == 17


def test_light_has_no_cached_value_so_that_it_is_calculated_on_load():
    with zipfile.ZipFile(io.BytesIO(built("US"))) as package:
        start = package.read("xl/worksheets/sheet1.xml").decode()
    assert re.search(r"<f>Checks!\$B\$3</f><v></v>", start)


@pytest.mark.parametrize(("system", "example"), VARIANTS)
def test_build_gives_the_same_bytes_each_time(system, example):
    assert build_template(system, example) == built(system, example)


def test_no_formula_has_a_function_that_needs_a_prefix(monkeypatch):
    monkeypatch.setattr(InputSheet, "_prepare_formula", Worksheet._prepare_formula)
    assert build_template("US", "raw_water_main") == built("US", "raw_water_main")


def test_committed_examples_are_what_the_command_builds(tmp_path, capsys):
    assert main(["build-examples", str(tmp_path)]) == 0
    built = sorted(p.name for p in tmp_path.iterdir())
    assert len(capsys.readouterr().out.splitlines()) == len(built) > len(example_names())
    assert sorted(p.name for p in EXAMPLES.iterdir() if p.suffix != ".ipynb") == built
    _, *other = filecmp.cmpfiles(tmp_path, EXAMPLES, built, shallow=False)
    assert other == [[], []], "run python -m workbook_template build-examples"


def test_unknown_example_is_refused():
    with pytest.raises(
        UnknownNameError, match=r"example 'nowhere' is not recognized.* plant_piping"
    ):
        build_template("US", "nowhere")


def test_example_in_the_other_unit_system_is_refused():
    with pytest.raises(InputError, match=r"tailings_line: unit system must be SI, got US"):
        build_template("US", "tailings_line")


def test_groups_of_the_named_sheets_begin_at_known_fields():
    for row in own_rows("groups.csv"):
        assert row["first_key"] in {field.key for field in fields(row["table"])}
    for table in NAMED:
        first = next(row for row in own_rows("groups.csv") if row["table"] == table.table)
        assert first["first_key"] == fields(table.table)[0].key


@pytest.mark.parametrize("name", example_names())
def test_example_reads_without_a_warning(name):
    workbook = parse_workbook((EXAMPLES / f"{name}.xlsx").read_bytes())
    assert workbook.warnings == ()
    assert workbook.job.fusion.method == "f2620"
    rows = table_rows("schedule", example_system(name), name)
    assert len(workbook.job.runs) == (len(rows) or COUNTY_RUNS)


@pytest.mark.parametrize(
    ("name", "runs", "low", "high"),
    [
        ("raw_water_main", 40, 700, 1100),
        ("tailings_line", 60, 700, 1500),
        ("plant_piping", 120, 1000, 2500),
        ("county_force_main", COUNTY_RUNS, 300, 450),
        ("county_force_main_addendum_1", COUNTY_RUNS, 300, 450),
    ],
)
def test_example_is_a_job_of_the_size_it_is_meant_to_be(name, runs, low, high):
    job = parse_workbook((EXAMPLES / f"{name}.xlsx").read_bytes()).job
    found = estimate(job)
    assert len(found.runs) == runs
    assert low <= found.butt_joints <= high
    assert found.finish <= job.dates.deadline
    assert found.plan.start.year == found.plan.finish.year == 2027


def test_example_walls_stay_inside_the_removal_time_table():
    # ASTM F2620 as quoted: removal times are given from 0.20 to 4.5 in of wall.
    for name in example_names():
        for run in table_rows("schedule", example_system(name), name):
            pipe = pipe_geometry(run["od_system"], run["size"], float(run["dr"]), run["material"])
            assert 0.20 < pipe.wall_mm / IN_MM < 4.5


@pytest.mark.parametrize("system", SYSTEMS)
def test_each_size_band_has_two_machine_classes(system):
    unit = "in" if system == "US" else "mm"
    machines = [
        (to_si(row["od_min_mm"], unit), to_si(row["od_max_mm"], unit))
        for row in table_rows("machines", system, None)
    ]
    tops = {
        row["band"]: to_si(row["od_to_mm"], unit) for row in table_rows("size_bands", system, None)
    }
    assert tuple(tops) == BANDS
    sizes = {"A": 60.325, "B": 273.05, "C": 508.0, "D": 863.6, "E": 1066.8}
    for band, od in sizes.items():
        assert od <= tops[band]
        assert sum(low <= od <= high for low, high in machines) >= 2


def test_thick_walls_of_the_tailings_job_are_too_much_for_some_classes():
    job = parse_workbook((EXAMPLES / "tailings_line.xlsx").read_bytes()).job
    refused = [why for run in estimate(job).runs for why in run.machine.rejected]
    assert {why.class_id for why in refused if why.kind == "pressure"} >= {"M4", "M5"}


@pytest.mark.parametrize("system", SYSTEMS)
def test_rental_rates_rise_with_the_class_and_longer_terms_are_cheaper_by_the_day(system):
    for table in ("machines", "generators", "lifting"):
        rows = table_rows(table, system, None)
        for row in rows:
            assert row["four_week_rate"] <= 4 * row["week_rate"] <= 20 * row["day_rate"]
        days = [row["day_rate"] for row in rows]
        assert days == sorted(days)


def test_si_fleet_is_near_the_us_fleet():
    for table, key, unit in (
        ("machines", "piston_area_mm2", "in2"),
        ("machines", "plate_mass_kg", "lb"),
        ("machines", "max_gauge_mpa", "psi"),
        ("generators", "fuel_half_l_h", "gal/h"),
        ("lifting", "capacity_kg", "lb"),
    ):
        for us, si in zip(
            table_rows(table, "US", None), table_rows(table, "SI", None), strict=True
        ):
            if us[key] is not None:
                in_si = si[key] * (0.1 if key == "max_gauge_mpa" else 1.0)
                assert from_si(in_si, unit) == pytest.approx(us[key], rel=0.12)


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    """The texts of the metric template and of an example, as LibreOffice loads and prints them."""
    reader = shutil.which("pdftotext")
    if shutil.which("soffice") is None or reader is None:
        pytest.skip("needs LibreOffice and pdftotext")
    folder = tmp_path_factory.mktemp("rendered")
    files = [folder / "empty.xlsx", folder / "example.xlsx"]
    files[0].write_bytes(built("SI"))
    files[1].write_bytes(built("US", "plant_piping"))
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}",
         "--convert-to", "pdf", "--outdir", str(folder), *map(str, files)],
        check=True, timeout=240, stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    commands = ([reader, "-layout", str(path.with_suffix(".pdf")), "-"] for path in files)
    return [
        subprocess.run(command, check=True, capture_output=True, timeout=60).stdout.decode()
        for command in commands
    ]


@pytest.mark.parametrize("system", SYSTEMS)
def test_only_the_job_itself_is_empty_in_the_template(system):
    empty = {table.table for table in TABLES if not table_rows(table.table, system, None)}
    assert empty == {
        "schedule", "holidays", "overtime", "crew_dates", "holds", "fitting_prices", "other_costs",
        "owner_items", "bid_terms", "scenarios",
    }  # fmt: skip


def test_libreoffice_calculates_the_light_on_load(rendered):
    for text in rendered:
        on_start, on_checks = (
            line.removeprefix("Check status").split("  ")[-1].strip()
            for line in text.splitlines()
            if line.startswith("Check status")
        )
        assert on_start == on_checks == "Not estimated yet"


PAGES_AT_MOST = (30, 55)
"""Of a workbook printed whole at 100 %, without runs and with 120 of them: nearly all of them are
those of the input tables."""


def test_libreoffice_prints_no_overfull_cell(rendered):
    for text, most in zip(rendered, PAGES_AT_MOST, strict=True):
        assert "Pipe schedule" in text
        assert "###" not in text
        assert text.count("\f") <= most


def test_header_rows_are_repeated_where_a_table_goes_on_to_a_second_page(monkeypatch):
    """LibreOffice lays out all pages anew for each sheet that repeats rows: 0.05 s each."""
    assert _repeating(opened("US")) == {"Pipe schedule", "Rates"}
    rows_of = table_sheet.table_rows

    def many(table, system, example):
        return rows_of(table, system, example) * (5 if table == "machines" else 1)

    monkeypatch.setattr(table_sheet, "table_rows", many)
    more = openpyxl.load_workbook(io.BytesIO(build_template("US")))
    assert _repeating(more) == {"Pipe schedule", "Machines", "Rates"}


def _repeating(book):
    found = {sheet.title: sheet.print_title_rows for sheet in book if sheet.print_title_rows}
    assert set(found.values()) == {"$1:$5", "$1:$4"}
    return set(found)


LONG_LISTS = {"Pipe schedule", "Fitting prices", "Bid items"}


@pytest.mark.parametrize("system", ["US", "SI"])
def test_only_sheets_that_may_pass_the_end_of_their_page_are_without_a_print_area(system):
    """LibreOffice breaks a million rows of each such sheet into pages: 6 ms for each of them."""
    book = opened(system)
    assert {sheet.title for sheet in book if not sheet.print_area} == LONG_LISTS
    last = {sheet.title: sheet.print_area.split(":")[-1] for sheet in book if sheet.print_area}
    assert last["Job"] == f"$D${book['Job'].max_row}"
    assert last["Start"].startswith("$E$")


def test_the_pipe_schedule_prints_no_page_of_spare_rows():
    """The page of 501 - 24 - 45 - 26.6 = 405 points holds 27 rows of 15; 40 runs are on two."""
    book = openpyxl.load_workbook(io.BytesIO(build_template("US", "raw_water_main")))
    sheet = book["Pipe schedule"]
    runs = [row for row in range(6, sheet.max_row + 1) if sheet.cell(row, 1).value]
    heights = [sheet.row_dimensions[row].height or 15.0 for row in range(6, sheet.max_row + 1)]
    assert len(runs) == 40 < len(heights)
    assert sum(heights) <= 2 * 405
    last, spare = sheet["A45"], sheet["A46"]
    assert last.fill.fgColor.rgb == f"FF{look.INPUT}"
    assert (spare.fill.fill_type, spare.border.left.style) == (None, None)
    (rule,) = (
        rule
        for area in sheet.conditional_formatting
        if str(area.sqref) == f"A46:AG{sheet.max_row}"
        for rule in area.rules
    )
    assert (rule.formula, rule.dxf.fill.bgColor.rgb) == (["1=1"], f"FF{look.INPUT}")
    heads = [sheet.cell(1, 1 + start.id).value for start in sheet.col_breaks.brk]
    assert heads == ["Pipe schedule: fittings", "Pipe schedule: connections, order and price"]
    assert [sheet.cell(5, 1 + start.id).value for start in sheet.col_breaks.brk] == [
        "Elbows", "EF closures",
    ]  # fmt: skip


@pytest.mark.parametrize(("system", "shown"), [("US", "mmm d, yyyy"), ("SI", "d mmm yyyy")])
def test_a_date_on_job_shows_as_on_the_pages_and_stays_a_date(system, shown):
    job = opened(system)["Job"]
    rows = {job.cell(row, 1).value: row for row in range(5, 17)}
    formats = {job.cell(rows[name], 2).number_format for name in ("Estimate date", "Deadline")}
    assert formats == {shown}
    example = {"US": "raw_water_main", "SI": "tailings_line"}[system]
    filled = openpyxl.load_workbook(io.BytesIO(build_template(system, example)))["Job"]
    assert filled.cell(rows["Estimate date"], 2).is_date


@pytest.mark.parametrize(("system", "shown"), [("US", "mmm d, yyyy"), ("SI", "d mmm yyyy")])
def test_dates_in_tables_show_as_on_the_pages_and_have_room(system, shown):
    """Tables showed 2027-03-01 where every page showed Mar 1, 2027."""
    book = opened(system)
    broadest = text_pixels({"US": "Sep 22, 2027", "SI": "22 Sep 2027"}[system], look.TEXT)
    dates = [
        (book[table.sheet], cell)
        for table in TABLES
        for field, cell in zip(fields(table.table), table_cells(book, table)[2][0], strict=True)
        if field.kind == "date"
    ]
    assert {cell.number_format for _, cell in dates} == {shown}
    for sheet, cell in dates:
        pixels = column_pixels(sheet, cell.column)
        assert pixels >= broadest * RESERVE + EDGE, (sheet.title, cell.coordinate)


def test_holds_are_the_third_page_of_the_calendar():
    """Dates with letters took a fourth: crew dates no longer stood beside overtime."""
    sheet = opened("US")["Calendar"]
    begun = [sheet.cell(1, 1 + start.id).value for start in sheet.col_breaks.brk]
    assert begun == ["Overtime", "Holds"]


@pytest.mark.parametrize(
    ("name", "header", "kept"),
    [
        ("Machines", "Shipping weight", True),
        ("Pipe schedule", "Length", True),
        ("Lifting", "In stock", False),
        ("Machines", "Heater power", False),
    ],
)
def test_whole_numbers_from_a_thousand_on_have_their_thousands_marked(name, header, kept):
    """42000 lb stood beside 36,000.00 $; a number format alone would round 1250.5 ft."""
    sheet = opened("US")[name]
    (head,) = (cell for cell in sheet[5] if cell.value == header)
    cell = f"${head.column_letter}6"
    rules = [
        (rule.formula, rule.dxf.numFmt.formatCode)
        for found in sheet.conditional_formatting
        if cell.replace("$", "") in found.sqref
        for rule in found.rules
        if rule.dxf.numFmt
    ]
    wanted = [f"AND(N({cell})>=1000,INT(N({cell}))=N({cell}))"]
    assert rules == ([(wanted, "#,##0_)")] if kept else [])


def test_the_name_of_a_job_takes_two_lines():
    """It took three, and that of the owner two, in a column narrower than half of its notes."""
    job = openpyxl.load_workbook(io.BytesIO(build_template("US", "raw_water_main")))["Job"]
    assert job["A5"].value == "Job name"
    assert job.row_dimensions[5].height <= 2 * look.LINE + look.LINES_MARGIN + look.HEIGHT_STEP


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_line_of_a_group_says_how_many_fields_it_holds(system):
    """With no word beside it, the number was read as that of the changed ones."""
    book = opened(system)
    for table in NAMED:
        for row, members in group_lines(book, table).items():
            line = [cell.value for cell in book[table.sheet][row]]
            assert line[1:3] == [counted(len(members), "field"), None]
            assert '"all at defaults"' in line[3]


def test_a_name_of_a_group_has_room_before_how_many_fields_it_holds():
    """That of the joint counts was cut off: it was as broad as a column and a half."""
    book = opened("US")
    for table in NAMED:
        room = (column_pixels(book[table.sheet], 1) - EDGE) / RESERVE
        for row in group_lines(book, table):
            name = book[table.sheet].cell(row, 1).value
            assert text_pixels(name, look.TEXT, bold=True) <= room, name


@pytest.mark.parametrize("name", ["Job", "Rates"])
def test_below_the_groups_stands_how_one_is_opened(name):
    sheet = opened("US")[name]
    last = max(cell.row for cell in sheet["A"] if cell.value)
    assert not sheet.row_dimensions[last].outlineLevel
    assert sheet.print_area.endswith(f"${last}")
    assert "+" in sheet.cell(last, 1).value
    room = sum(column_pixels(sheet, column) for column in range(1, 5)) - EDGE
    assert text_pixels(sheet.cell(last, 1).value, look.SMALL) * RESERVE <= room
    assert not any(sheet.cell(last, column).value for column in range(2, 5))


@pytest.mark.parametrize(("name", "what"), [("Job", "more"), ("Rates", "fields")])
def test_titles_say_how_many_fields_the_groups_hold_and_how_many_are_changed(name, what):
    data = io.BytesIO(built("US", "raw_water_main"))
    sheet = openpyxl.load_workbook(data, data_only=True)[name]
    held = [int(str(value).split()[0]) for value in column_values(sheet, 2, " field")]
    changed = [int(str(value).split()[0]) for value in column_values(sheet, 4, " changed: ")]
    assert sheet["D1"].value == ("12 of 12 filled" if name == "Job" else None)
    assert sheet["D2"].value == f"{sum(held)} {what} in {len(held)} groups, {sum(changed)} changed"


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_head_of_values_stands_over_them(system):
    """Off the frame as they are: texts on Job, numbers on Rates."""
    book = opened(system)
    heads = [book[name]["B4"].alignment for name in ("Job", "Rates")]
    assert [(head.horizontal, head.indent) for head in heads] == [("left", 1), ("right", 1)]


def column_values(sheet, column, part):
    """Return the values of a column, from the first input down, that hold a text."""
    values = (sheet.cell(row, column).value for row in range(5, sheet.max_row + 1))
    return [value for value in values if part in str(value)]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_pages_of_what_is_rented_begin_with_a_question_and_say_it(system):
    book = opened(system)
    begun = {
        name: [
            tuple(book[name].cell(row, 1 + start.id).value for row in (1, 2, 5))
            for start in book[name].col_breaks.brk
        ]
        for name in ("Machines", "Generators")
    }
    assert begun == {
        "Machines": [
            ("Fusion machines for rent: heater, motors and use", SAMPLES, "Heater power"),
            ("Fusion machines for rent: rates", SAMPLES, "Day rate"),
        ],
        "Generators": [("Generators for rent: rates", PLANNING, "Day rate")],
    }


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_broadest_text_of_a_page_has_the_room_that_the_others_give_up(system):
    """Rows of two lines with a text of one read as if one were missing."""
    sheet = opened(system)["Lifting"]
    assert [sheet.row_dimensions[row].height for row in range(6, 15)] == [None] * 9


@pytest.mark.parametrize(
    ("name", "header"),
    [("Scenarios", "Value"), ("Pipe schedule", "Length"), ("Pipe schedule", "DR or SDR")],
)
def test_texts_stand_as_far_from_the_frame_as_numbers_in_a_column_of_both(name, header):
    """A format of one part insets numbers alone: 45 stood off the frame, 45; 60 on it."""
    sheet = opened("US")[name]
    (head,) = (cell for cell in sheet[5] if cell.value == header)
    shown = sheet.cell(6, head.column).number_format
    assert shown == "General_);-General_);General_);@_)"


@pytest.mark.parametrize(
    ("system", "example", "wrapped"),
    [("US", "raw_water_main", ["40; 40; 40; 40; 40"]), ("SI", "tailings_line", [])],
)
def test_of_the_runs_only_one_of_five_lengths_takes_two_lines(system, example, wrapped):
    """Of 40 US and 60 SI runs; in narrower columns one line stood on rows of two."""
    sheet = openpyxl.load_workbook(io.BytesIO(build_template(system, example)))["Pipe schedule"]
    high = [row for row in range(6, sheet.max_row + 1) if sheet.row_dimensions[row].height]
    assert [sheet.cell(row, 7).value for row in high] == wrapped


def test_the_print_area_of_the_pipe_schedule_ends_with_the_last_run():
    """A new job prints its first page to be filled in by hand, to row 5 + 27."""
    names = ElementTree.fromstring(
        zipfile.ZipFile(io.BytesIO(build_template("US"))).read("xl/workbook.xml")
    ).iterfind(".//{*}definedName")
    (area,) = (
        name.text for name in names
        if name.get("name") == "_xlnm.Print_Area" and name.text.startswith("'Pipe")
    )  # fmt: skip
    runs = "'Pipe schedule'!$A$6:$A$9999"
    assert area == (
        "'Pipe schedule'!$A$1:INDEX('Pipe schedule'!$AG$1:$AG$9999,"
        f'MAX(32,MAX(({runs}<>"")*ROW({runs}))))'
    )


def test_a_table_may_grow_to_the_end_of_its_page_and_is_printed(monkeypatch):
    """A4 across is the lower page, 7.07 in less 8 points, 501: 54.75 above the headers.

    Crew: headers on two lines, 2 x 11.6 + 3.4 = 26.6, so (501 - 81.35) / 15 = 27 rows below.
    """
    assert opened("US")["Crew"].print_area == "'Crew'!$A$1:$K$32"
    rows_of = table_sheet.table_rows

    def many(table, system, example):
        return rows_of(table, system, example) * (5 if table == "crew" else 1)

    monkeypatch.setattr(table_sheet, "table_rows", many)
    book = openpyxl.load_workbook(io.BytesIO(build_template("US")))
    assert not book["Crew"].print_area, "four rows are left on its page"


def test_first_column_is_repeated_only_where_it_names_every_row_of_the_sheet():
    book = opened("US")
    named = {sheet.title for sheet in book if sheet.print_title_cols}
    assert "Pipe schedule" in named
    assert all(len(book[title].tables) == 1 for title in named)


LEANING = {(2, 8), (4, 12), (12, 36), (32, 65)}
"""Spans in inches that examples took from one list once."""


@pytest.mark.parametrize("system", ["us", "si"])
def test_fleets_of_new_workbooks_have_round_limits_of_our_own(system):
    """A piston area has two figures, a diameter three at most; all is marked as assumed."""
    path = Path(table_sheet.__file__).parent / "defaults" / f"machines_{system}.csv"
    for row in csv.DictReader(path.read_text("utf-8").splitlines()):
        span = float(row["od_min_mm"]), float(row["od_max_mm"])
        assert span not in LEANING
        assert all(len(f"{end:g}".replace(".", "").strip("0")) <= 3 for end in span)
        area = row["piston_area_mm2"]
        assert not area or len(f"{float(area):g}".replace(".", "").strip("0")) <= 2
        assert row["basis"] == "assumption"
        assert "force" not in row["description"].casefold()
