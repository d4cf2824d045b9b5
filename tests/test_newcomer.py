"""The way of a newcomer from a foreign takeoff to the client's page, by commands and typing alone.

What is typed are the values of the county example that a new workbook does not have; the bid must
come out as that of the example, which is built in another way.
"""

import shutil

import openpyxl

from estimator.cli import main
from estimator.inputs.dictionary import fields, input_tables
from tests.estimated import FOLDER, written
from tests.one_page import book_of
from workbook_template.content import named_values, table_rows

EXAMPLE = "county_force_main"
CLIENTS = ("Bid", "Bid schedule")
TABLES = ("weather", "holidays", "fitting_prices", "other_costs", "owner_items", "bid_terms",
          "scenarios")  # fmt: skip
SECONDS_A_CELL = 6
"""Own assumption: three for a number, more for a text."""
MOST_CELLS = 300


def named_cell(book, name):
    sheet, _, cell = book.defined_names[name].attr_text.rpartition("!")
    return book[sheet.strip("'")][cell.replace("$", "")]


def put(cell, value):
    """Type a value where another one stands; return how many cells that is."""
    if cell.value == value or value is None:
        return 0
    cell.value = value
    return 1


def type_facts(book):
    cells = 0
    for table in ("job", "rates"):
        wanted = named_values(table, "US", EXAMPLE)
        usual = named_values(table, "US", None)
        for field in fields(table):
            if wanted[field.key] != usual[field.key]:
                cells += put(named_cell(book, field.cell_names[0]), wanted[field.key])
    return cells


def type_table(book, name):
    table = next(one for one in input_tables() if one.table == name)
    sheet = book[table.sheet]
    first = sheet[sheet.tables[table.excel_name].ref.partition(":")[0]]
    columns = {sheet.cell(first.row, column).value: column
               for column in range(first.column, first.column + len(fields(name)))}  # fmt: skip
    cells = 0
    for row, values in enumerate(table_rows(name, "US", EXAMPLE), first.row + 1):
        for field in fields(name):
            if field.key != "basis":
                cells += put(sheet.cell(row, columns[field.header]), values[field.key])
    return cells


def test_the_path_of_the_quick_start_leads_to_the_bid_of_the_example(tmp_path, capsys):
    job, takeoff = str(tmp_path / "bid.xlsx"), str(tmp_path / "takeoff.csv")
    shutil.copy(FOLDER / f"{EXAMPLE}_takeoff.csv", takeoff)
    assert main(["new", job, "--units", "us", "--no-company"]) == 0
    assert main(["import", takeoff, "--into", job, "--yes"]) == 0
    assert "9 runs" in capsys.readouterr().out
    book = openpyxl.load_workbook(job)
    cells = type_facts(book) + sum(type_table(book, name) for name in TABLES)
    book.save(job)
    assert main(["check", job]) == 0
    assert main(["estimate", job]) == 0
    capsys.readouterr()
    ours = book_of(job, CLIENTS, data_only=True)
    theirs = book_of(written(EXAMPLE), CLIENTS, data_only=True)
    for sheet in CLIENTS:
        assert values(ours[sheet]) == values(theirs[sheet])
    assert 100 < cells <= MOST_CELLS
    assert cells * SECONDS_A_CELL <= 30 * 60


def values(sheet):
    return [[cell.value for cell in row] for row in sheet.iter_rows()]
