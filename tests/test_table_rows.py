"""Rows put into a table of the user's: all else stays byte for byte, and the table grows whole."""

import io
import zipfile

import openpyxl
import pytest
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import PatternFill
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table, TableStyleInfo

from estimator.errors import InputError, WorkbookError
from estimator.workbook.package.package import Package
from estimator.workbook.package.table_rows import TableRows
from tests.small_book import small_book


def members(data):
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist()}


def own_table(*, totals=False, below=None, merged=None):
    """Return a workbook with a table A3:D5: two filled rows, and a formula in column D."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Pipes"
    for row in (["Pipes"], [], ["Run", "Length", "Note", "Twice"]):
        sheet.append(row)
    sheet.append(["A", 10, "keep", "=B4*2+$B$4"])
    sheet.append(["B", 20, None, "=B5*2+$B$4"])
    table = Table(
        displayName="Pipes", ref="A3:D5", tableStyleInfo=TableStyleInfo("TableStyleLight1")
    )
    if totals:
        table.totalsRowCount = 1
    sheet.add_table(table)
    rule = DataValidation(type="decimal", operator="between", formula1="1", formula2="99")
    rule.add("B4:B5")
    sheet.add_data_validation(rule)
    fill = PatternFill(bgColor="FFCCCC", fill_type="solid")
    sheet.conditional_formatting.add("A4:A5", FormulaRule(formula=["LEN(A4)=0"], fill=fill))
    sheet["F1"] = "=SUM(B4:B5)"
    if below:
        sheet[below] = "note"
    if merged:
        sheet.merge_cells(merged)
    book.create_sheet("Else")["A1"] = "=Pipes!B4"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def put(data, first, rows, **options):
    return Package.open(data).put_table_rows(TableRows("Pipes", first, rows, **options))


def test_only_the_sheet_and_the_list_of_sheets_change():
    before = small_book()
    asked = TableRows("Pipe_schedule", 20, [{1: "X", 7: 12.5}])
    after = Package.open(before).put_table_rows(asked)
    old, new = members(before), members(after)
    assert old.keys() == new.keys()
    changed = {name for name in old if old[name] != new[name]}
    assert changed == {"xl/worksheets/sheet3.xml"}


def test_the_table_grows_with_its_formulas_validations_and_looks():
    data = put(own_table(), 6, [{1: "C", 2: 30}, {1: "D", 2: 40.5}])
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Pipes"]
    assert sheet.tables["Pipes"].ref == "A3:D7"
    assert [[cell.value for cell in row] for row in sheet["A6:D7"]] == [
        ["C", 30, None, "=B6*2+$B$4"], ["D", 40.5, None, "=B7*2+$B$4"],
    ]  # fmt: skip
    assert [
        str(area) for one in sheet.data_validations.dataValidation for area in one.sqref.ranges
    ] == ["B4:B7"]
    assert [str(one.sqref) for one in sheet.conditional_formatting] == ["A4:A7"]


def test_saved_results_that_may_be_old_are_taken_away():
    package = Package.open(put(own_table(), 4, [{2: 11}]))
    for sheet in package.workbook_sheets():
        xml = package.part(sheet.part)
        assert xml.count(b"<f") > 0
        assert b"<f>B4*2+$B$4</f><v" not in xml
    assert b"</f><v>" not in package.part(package.workbook_sheets()[1].part)


def test_clearing_takes_what_is_typed_and_leaves_formulas():
    data = put(own_table(), 4, [{1: "Z", 2: 5}], clear=True)
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Pipes"]
    assert [[cell.value for cell in row] for row in sheet["A4:D5"]] == [
        ["Z", 5, None, "=B4*2+$B$4"], [None, None, None, "=B5*2+$B$4"],
    ]  # fmt: skip


def test_text_of_others_never_becomes_a_formula():
    data = put(own_table(), 4, [{1: "=1+1", 3: "a<b & \x07"}])
    cell = openpyxl.load_workbook(io.BytesIO(data))["Pipes"]["A4"]
    assert (cell.value, cell.data_type, cell.quotePrefix) == ("=1+1", "s", True)


def test_a_row_is_as_high_as_its_text_needs():
    """The description column is 28 letters wide: 60 letters take two lines or more."""
    asked = TableRows("Pipe_schedule", 40, [{1: "X", 2: "a long way " * 6}, {1: "Y", 2: "short"}])
    sheet = openpyxl.load_workbook(io.BytesIO(Package.open(small_book()).put_table_rows(asked)))
    heights = sheet["Pipe schedule"].row_dimensions
    assert heights[40].height >= 2 * 13
    assert heights[41].height is None


def test_a_formula_in_the_way_is_not_replaced():
    with pytest.raises(InputError, match="Pipes!D4: holds a formula"):
        put(own_table(), 4, [{1: "A", 4: 7}])


def test_what_stands_below_is_not_written_over():
    with pytest.raises(InputError, match="Pipes!C7: is where the table must grow"):
        put(own_table(below="C7"), 6, [{1: "C"}, {1: "D"}])
    with pytest.raises(InputError, match="merged cells"):
        put(own_table(merged="B7:E8"), 6, [{1: "C"}, {1: "D"}])
    sheet = openpyxl.load_workbook(io.BytesIO(put(own_table(below="G7"), 6, [{1: "C"}, {1: "D"}])))
    assert sheet["Pipes"]["G7"].value == "note"


def test_a_row_of_totals_keeps_its_place():
    with pytest.raises(WorkbookError, match="row of totals"):
        put(own_table(totals=True), 6, [{1: "C"}])


def test_a_table_that_is_not_there_is_named():
    with pytest.raises(WorkbookError, match="no table Nothing"):
        Package.open(own_table()).put_table_rows(TableRows("Nothing", 4, []))
