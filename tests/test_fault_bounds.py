"""What is too large is refused with its sheet and range, or costs what is in it and no more."""

import datetime as dt
import io
import re
import tracemalloc
import zipfile

import openpyxl
import pytest

from estimator.cli import main
from estimator.equipment.class_by_day import DayLevel, _blocks
from estimator.errors import InputError, WorkbookError
from estimator.inputs.dictionary import input_tables
from estimator.workbook.book import parse_workbook
from estimator.workbook.package import zip_file
from estimator.workbook.read import parse_rows
from estimator.workbook.read.file_source import MOST_BLANK_ROWS, MOST_CELLS, FileSource
from estimator.workbook.read.sheet_scan import scan_sheet
from tests.counted import lines_of
from tests.workbook_factory import WorkbookFactory

LINES_A_ROW = 600
"""More than the reading of a blank row takes."""
SCHEDULE = "xl/worksheets/sheet2.xml"
NAME = next(table.excel_name for table in input_tables() if table.table == "schedule")


def changed(data, name, change):
    """Return a workbook with one of its parts changed."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w", 8) as new:
        for member in old.namelist():
            content = old.read(member)
            new.writestr(member, change(content) if member == name else content)
    return stream.getvalue()


def part_of_table(data, name):
    with zipfile.ZipFile(io.BytesIO(data)) as members:
        parts = [one for one in members.namelist() if one.startswith("xl/tables/")]
        return next(one for one in parts if f'name="{name}"'.encode() in members.read(one))


def stretched(rows):
    """Return a workbook whose Pipe schedule table reaches down to a row, all blank below two."""
    data = WorkbookFactory().build()
    table = part_of_table(data, NAME)
    return changed(
        data, table, lambda xml: re.sub(rb'(ref="[A-Z]+\d+:[A-Z]+)\d+', rb"\g<1>%d" % rows, xml)
    )


@pytest.mark.parametrize("rows", [100_000, 1_048_576])
def test_a_table_stretched_over_blank_rows_costs_no_more_than_its_runs(rows):
    data = stretched(rows)
    plain = WorkbookFactory().build()
    tidy = parse_workbook(plain).job
    tracemalloc.start()
    try:
        workbook = parse_workbook(data)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert workbook.job == tidy
    assert most < 100e6
    least = lines_of(lambda: parse_workbook(plain))
    assert lines_of(lambda: parse_workbook(data)) < least + LINES_A_ROW * MOST_BLANK_ROWS


def test_a_cell_far_from_the_inputs_is_refused_with_its_sheet():
    row = 1 + MOST_CELLS // 10
    cell = b'<row r="%d"><c r="J%d"><v>1</v></c></row></sheetData>' % (row, row)
    data = WorkbookFactory().build()
    far = changed(data, SCHEDULE, lambda xml: xml.replace(b"</sheetData>", cell))
    with pytest.raises(
        WorkbookError, match=rf"^Pipe schedule: cells are in use as far as [A-Z]+{row}"
    ):
        parse_workbook(far)


def test_a_far_cell_that_is_not_the_last_in_the_file_is_seen_too():
    row = 1 + MOST_CELLS // 10
    cell = b'<sheetData><row r="%d"><c r="J%d"><v>1</v></c></row>' % (row, row)
    data = WorkbookFactory().build()
    far = changed(data, SCHEDULE, lambda xml: xml.replace(b"<sheetData>", cell))
    with pytest.raises(WorkbookError, match=rf"cells are in use as far as [A-Z]+{row}"):
        parse_workbook(far)


def test_rows_out_of_order_are_read_as_in_order():
    data = WorkbookFactory().build()

    def turned(xml):
        rows = re.findall(rb"<row .*?</row>", xml)
        return xml.replace(b"".join(rows), b"".join(reversed(rows)))

    shuffled = changed(data, SCHEDULE, turned)
    assert shuffled != data
    assert parse_workbook(shuffled).job == parse_workbook(data).job


@pytest.mark.parametrize("part", ["xl/sharedStrings.xml", "xl/styles.xml", SCHEDULE])
def test_what_unpacks_beyond_the_budget_is_refused_with_its_part(part, monkeypatch):
    monkeypatch.setattr(zip_file, "MOST_BYTES_READ", 3_000_000)
    data = WorkbookFactory().build()
    big = changed(data, part, lambda xml: xml + b" " * 4_000_000)
    assert len(big) < 100_000
    with pytest.raises(WorkbookError, match=rf"more than 2 MiB as far as its part {part}"):
        FileSource(big).table(NAME)


def test_more_rows_than_an_estimate_holds_are_refused_with_their_range(monkeypatch):
    monkeypatch.setattr(parse_rows, "MOST_ROWS", 1)
    factory = WorkbookFactory()
    with pytest.raises(
        InputError, match=r"Pipe schedule!A7:[A-Z]+8: Pipe schedule has 2 rows. Use 1"
    ):
        parse_workbook(factory.build())


def scanned(cells):
    """Scan a row of formulas without addresses."""
    row = b"<c><f>1</f></c>" * cells
    marks = scan_sheet(b"<worksheet><sheetData><row>%b</row></sheetData></worksheet>" % row)
    assert marks.uncached == {(1, column) for column in range(1, cells + 1)}


def in_blocks(days):
    """Put days of one need into blocks."""
    first = dt.date(2027, 1, 1)
    (block,) = _blocks([DayLevel(first + dt.timedelta(days=day), 0) for day in range(days)], 0)
    assert len(block.dates) == days


def in_merged_blocks(days):
    """Put days of needs that change each day into as many blocks as are looked at."""
    first = dt.date(2027, 1, 1)
    needs = [DayLevel(first + dt.timedelta(days=day), day % 2) for day in range(days)]
    assert sum(len(block.dates) for block in _blocks(needs, 0)) == days


# Quadratic work grows sixteen times over four times the size, linear work four times.
@pytest.mark.parametrize("work", [scanned, in_blocks, in_merged_blocks])
def test_work_grows_with_what_is_there_and_not_faster(work):
    few, many = (lines_of(lambda size=size: work(size)) for size in (250, 1000))
    assert many < 6 * few


def takeoff_book():
    book = openpyxl.Workbook()
    for row in (["Line", "Size (in)", "DR", "Length (ft)"], ["A1", 12, 11, 400]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


FAR_CELL = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_a_take_off_that_would_not_fit_into_memory_is_refused(
    ending, tmp_path, capsys, monkeypatch
):
    path, into = tmp_path / f"takeoff{ending}", tmp_path / "job.xlsx"
    into.write_bytes(WorkbookFactory().build())
    before = into.read_bytes()
    data = takeoff_book()
    if ending == ".xlsx":
        sheet = "xl/worksheets/sheet1.xml"
        data = changed(data, sheet, lambda xml: xml.replace(b"</sheetData>", FAR_CELL))
    else:
        monkeypatch.setattr(zip_file, "MOST_BYTES_READ", 1 << 10)
    path.write_bytes(data)
    assert main(["import", str(path), "--into", str(into), "--yes", "--append"]) == 1
    said = (
        "Sheet: cells are in use as far as XFD1048576" if ending == ".xlsx" else "unpacks to more"
    )
    assert said in capsys.readouterr().err
    assert into.read_bytes() == before
