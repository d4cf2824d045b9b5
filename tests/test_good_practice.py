"""The written workbooks keep the habits that reviewers of spreadsheets ask for.

The list is that of the usual guides on spreadsheet modeling: inputs apart from results, one
consistent formula in a column, units, nothing hidden, nothing volatile, no links to other files,
no numbers buried in cost formulas, a check, version and date on every sheet.
"""

import io
import re
import zipfile

import openpyxl
import pytest
from openpyxl.utils import column_index_from_string, range_boundaries

from estimator.inputs.column import measured_kind
from estimator.inputs.dictionary import fields, input_tables
from estimator.workbook.read.columns import has_unit
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.results.sheets import RESULT_SHEETS
from tests.each import each
from tests.estimated import EXAMPLES, opened, written

VOLATILE = {"NOW", "TODAY", "RAND", "RANDBETWEEN", "OFFSET", "INDIRECT", "CELL", "INFO"}
SHEET_OF_TABLE = {
    "joints": "Joints", "plan": "Plan", "by_week": "Plan by week", "gantt": "Gantt",
    "hydrotest": "Hydrotests", "hydro_hours": "Hydrotests", "hydro_day": "Hydrotests",
    "fleet": "Equipment", "rental": "Equipment", "choice": "Equipment choice",
    "power": "Equipment choice",
    "cost": "Cost", "compare": "Compare", "options": "Options",
    "explain": "Explain",
}  # fmt: skip
UNIT_IN_A_COLUMN = {"cost"}
NO_UNIT = ("text", "date", "number", "count")
SUMS = ("Total", "Job")
MONEY_SHEETS = (
    "Cost",
    "Cost by run",
    "Price build-up",
    "Bid",
    "Bid schedule",
    "Compare",
    "Options",
)
STRUCTURAL = {0.0, 1.0, 2.0}
REFERENCE = re.compile(
    r"(?:(?P<sheet>'(?:[^']|'')+'|[A-Za-z_]+)!)?"
    r"(?P<abs_col>\$?)(?P<col>[A-Z]{1,3})(?P<abs_row>\$?)(?P<row>[0-9]+)(?![A-Za-z0-9(_])"
)
FROM_ELSEWHERE = {
    "cost": {"quantity", "rate"},
    "rental": {"rental", "delivery"},
    "fleet": {"stock", "mass"},
}
"""Columns that gather figures of other sheets, each row from its own cell."""


@pytest.fixture(params=EXAMPLES)
def book(request):
    return opened(request.param)


CLIENT = ("Bid", "Bid schedule")
"""The pages that go to the client."""


def formulas(sheet):
    for row in sheet.iter_rows():
        for cell in row:
            if isinstance(cell.value, str) and cell.value.startswith("="):
                yield cell


def bare(formula):
    """Return a formula without its texts."""
    return re.sub(r'"[^"]*"', '""', formula)


def relative(cell):
    """Return a formula with the references of its own sheet as steps from its cell."""

    def step(match):
        if match["sheet"]:
            return f"{match['sheet']}!{match['col']}"
        row, column = int(match["row"]), column_index_from_string(match["col"])
        down = f"R{row}" if match["abs_row"] else f"R[{row - cell.row}]"
        right = f"C{column}" if match["abs_col"] else f"C[{column - cell.column}]"
        return down + right

    return REFERENCE.sub(step, bare(cell.value))


def unit_below(cell, noun):
    """Return the unit below a noun in the same cell, None where the cell has another noun.

    A noun may take two lines, and say SDR for the DR of metric pipe.
    """
    said = str(cell.value or "").replace("\n", " ").replace("SDR", "DR")
    found = f"{said} ".startswith(f"{noun} ")
    return said.removeprefix(noun).strip() if found else None


def result_table(book, table):
    """Return the columns, their units, and the body rows of a result table as it was written."""
    columns = result_columns(table)
    sheet = book[SHEET_OF_TABLE[table]]
    headers = [column.header for column in columns]
    for row in sheet.iter_rows():
        for first in range(len(row) - len(headers) + 1):
            units = [*map(unit_below, row[first : first + len(headers)], headers)]
            if None not in units:
                left, top = row[first].column, row[first].row
                body = []
                for line in sheet.iter_rows(top + 1, None, left, left + len(headers) - 1):
                    if all(cell.value is None for cell in line) or line[0].value in SUMS:
                        break
                    body.append(line)
                return columns, units, body
    pytest.fail(f"table {table} is not on {sheet.title}")


def test_inputs_and_results_stand_on_sheets_of_their_own(book):
    inputs = {table.sheet for table in input_tables()}
    assert not inputs & set(RESULT_SHEETS)
    for name in inputs:
        texts = [cell for cell in formulas(book[name]) if not counts_the_changed(cell)]
        assert texts == []
    for name in RESULT_SHEETS:
        assert not book[name].tables
        assert not book[name].data_validations.dataValidation


def counts_the_changed(cell):
    """Return whether a cell of Job names what differs from its default, or counts the filled."""
    return cell.value.startswith("=COUNTA(") or "at defaults" in cell.value


def test_inputs_look_like_inputs_and_results_do_not(book):
    pale = {
        cell.fill.fgColor.rgb
        for name in ("Job", "Rates")
        for row in book[name].iter_rows(min_row=6, min_col=2, max_col=2)
        for cell in row
        if cell.value is not None and cell.border.left.style is not None
    }
    (yellow,) = pale
    for name in RESULT_SHEETS:
        for row in book[name].iter_rows():
            assert all(cell.fill.fgColor.rgb != yellow for cell in row)


@each("table", [t for t in SHEET_OF_TABLE if t != "choice"])
def test_each_column_of_a_table_has_one_formula_or_none(book, table):
    columns, _, body = result_table(book, table)
    for i, column in enumerate(columns):
        if column.key in FROM_ELSEWHERE.get(table, ()):
            continue
        cells = [line[i] for line in body]
        if table == "cost":
            cells = [cell for cell in cells if _is_line(cell.parent, cell.row)]
        shapes = {relative(c) if str(c.value).startswith("=") else "value" for c in cells
                  if c.value is not None}  # fmt: skip
        assert len(shapes) <= 1, f"{table}.{column.key}: {shapes}"


def _is_line(sheet, row):
    """Return whether a row of the Cost sheet is a cost line: it has a rate."""
    return sheet.cell(row, 6).value is not None


def test_cost_lines_all_multiply_their_own_quantity_and_rate(book):
    lines = [c for c in formulas(book["Cost"]) if c.column == 7 and _is_line(book["Cost"], c.row)]
    assert len(lines) > 10
    assert {relative(cell) for cell in lines} == {"=ROUND(R[0]C[-3]*R[0]C[-1],2)"}


@each("table", SHEET_OF_TABLE)
def test_each_column_of_a_result_table_has_its_unit_below_its_noun(book, table):
    columns, units, body = result_table(book, table)
    assert body
    for column, unit in zip(columns, units, strict=True):
        if column.kind not in NO_UNIT and not (
            table in UNIT_IN_A_COLUMN and column.kind == "money"
        ):
            assert unit, f"{table}.{column.key} has no unit"


def test_each_input_table_has_a_unit_row_above_its_header(book):
    for table in input_tables():
        if table.form != "table":
            continue
        sheet = book[table.sheet]
        left, top, _, _ = range_boundaries(sheet.tables[table.excel_name].ref)
        for column, field in enumerate(fields(table.table), left):
            assert sheet.cell(top, column).value == field.header
            if has_unit(field):
                has_one = measured_kind(field) != "" or field.kind in ("money", "percent")
                shown = sheet.cell(top - 1, column).value is not None
                assert shown is has_one, f"{table.table}.{field.key}"


def test_nothing_is_hidden(book):
    for sheet in book:
        assert sheet.sheet_state == "visible", sheet.title
        rows = sheet.row_dimensions.items()
        hidden_rows = [n for n, row in rows if row.hidden and not row.outlineLevel]
        hidden_columns = [n for n, column in sheet.column_dimensions.items() if column.hidden]
        assert (hidden_rows, hidden_columns) == ([], []), sheet.title


def test_no_formula_is_volatile(book):
    used = set()
    for sheet in book:
        for cell in formulas(sheet):
            used |= set(re.findall(r"([A-Z.]+)\(", re.sub(r"'[^']*'", "", bare(cell.value))))
    assert "ROUND" in used
    assert not used & VOLATILE


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_link_leads_out_of_the_workbook(name):
    data, book = written(name), opened(name)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert not [member for member in archive.namelist() if "externalLink" in member]
        for member in archive.namelist():
            if member.endswith(".rels"):
                assert b'TargetMode="External"' not in archive.read(member), member
    for sheet in book:
        assert not [c.coordinate for c in formulas(sheet) if "[" in re.sub(
            r"[A-Za-z_]+\[(?:\[[^\]]*\],?)*[^\]]*\]", "", bare(c.value))]  # fmt: skip


def numbers_in(formula):
    """Return the numbers written into a formula, other than rows of references."""
    left = REFERENCE.sub("R", bare(formula))
    left = re.sub(r"'(?:[^']|'')+'", "S", left)
    return {float(found) for found in re.findall(r"(?<![A-Za-z_.\d])\d+(?:\.\d+)?", left)}


def spells_the_price(cell):
    """Return whether a cell takes the price apart into digits and words, by tens and thousands."""
    labels = (row[0].value for row in cell.parent.iter_rows(max_row=cell.row, max_col=1))
    return "Price in hundredths" in labels


def test_no_number_is_buried_in_a_cost_formula(book):
    for name in MONEY_SHEETS:
        for cell in formulas(book[name]):
            if name == "Price build-up" and spells_the_price(cell):
                continue
            buried = numbers_in(cell.value) - STRUCTURAL
            assert not buried, f"{name}!{cell.coordinate}: {cell.value}"


def test_every_sheet_but_the_clients_shows_the_check_and_the_date(book):
    for name in RESULT_SHEETS:
        lines = [str(cell.value) for cell in book[name][2] if cell.value]
        text = next((line for line in lines if line.startswith('="Check status: "')), "")
        assert bool(text) == (name not in CLIENT), name
        if text:
            assert "'Checks'!$B$3" in text
            assert re.search(r"estimate of (\d\d? )?[A-Z][a-z]{2} (\d\d?, )?\d{4}", text)


def test_the_bid_shows_the_client_nothing_internal(book):
    for name in CLIENT:
        sheet = book[name]
        assert sheet.page_setup.orientation == "portrait"
        words = " ".join(
            str(cell.value).casefold()
            for row in sheet.iter_rows()
            for cell in row
            if cell.value is not None and not str(cell.value).startswith("=")
        )
        for internal in (
            "job cost", "profit", "overhead", "contingency", "markup", "wage", "check status",
            "efficiency", "rework", "accuracy", "rounding",
        ):  # fmt: skip
            assert internal not in words, f"{name}: {internal}"


def test_the_patterns_see_what_they_look_for():
    sheet = openpyxl.Workbook().active
    sheet["C5"] = "=ROUND(A5*'My rates'!$B$3,2)+B$1"
    sheet["C6"] = "=ROUND(A6*'My rates'!$B$3,2)+B$1"
    sheet["C7"] = "=ROUND(A6*'My rates'!$B$3,2)+B$1"
    one, same, other = (relative(sheet[cell]) for cell in ("C5", "C6", "C7"))
    assert one == same != other
    assert numbers_in("=ROUND(A5*1.15*'Rates 2027'!$B$33,2)") == {1.15, 2.0}
    assert numbers_in('=IF(A1="12",B2,0)') == {0.0}
