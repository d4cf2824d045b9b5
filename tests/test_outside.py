"""Nothing typed is lost unseen: beside and below tables, among named cells, in headings."""

import io

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.utils import get_column_letter, range_boundaries

from estimator.errors import InputError
from estimator.models.places import rows_text
from estimator.workbook.book import parse_workbook
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests.workbook_factory import WorkbookFactory
from workbook_template.builder import build_template


def read(factory):
    return parse_job(FileSource(factory.build()))


def problems(factory):
    with pytest.raises(InputError) as caught:
        read(factory)
    return [(problem.where, problem.message) for problem in caught.value.problems]


def with_typed(sheet, *cells):
    """Return a tidy workbook with more cells on a sheet, each (row, column, value) from 0."""

    def add(book):
        page = next(p for p in book.worksheets() if p.get_name() == sheet)
        for row, column, value in cells:
            page.write(row, column, value)

    return WorkbookFactory(extra=add)


def below(table, down=0):
    """Return the first cell below a table of the tidy workbook: its place, and row and column."""
    factory = WorkbookFactory()
    where = factory.where(table, factory.keys(table)[0], len(factory.tables[table]) + down)
    sheet, _, address = where.partition("!")
    row = int("".join(filter(str.isdigit, address))) - 1
    return sheet, where, row, 0


def test_runs_typed_right_below_the_schedule_are_refused_row_by_row():
    sheet, where, row, column = below("schedule")
    found = problems(with_typed(
        sheet, (row, column, "R8"), (row, column + 1, 5000), (row + 1, column, "R9")
    ))  # fmt: skip
    assert [place for place, _ in found] == [where, where.replace(f"A{row + 1}", f"A{row + 2}")]
    assert "'R8' and 1 more in this row: not in the table" in found[0][1]
    assert "extend the table over it" in found[0][1]


def test_a_row_below_a_blank_one_is_refused_and_a_single_note_is_reported():
    sheet, where, row, column = below("schedule", 1)
    found = problems(with_typed(sheet, (row, column, "R8"), (row, column + 1, 5000)))
    assert [place for place, _ in found] == [where]
    noted = read(with_typed(sheet, (row, column, "prices of the spring offer")))
    messages = [w.message for w in noted.warnings if w.where == where]
    assert len(messages) == 1
    assert "not read" in messages[0]


def test_a_value_that_touches_the_side_of_a_table_is_refused():
    factory = WorkbookFactory()
    row = int(
        factory.where("schedule", "segments_m", 0).rpartition("!")[2].lstrip("ABCDEFGHIJKLMNOP")
    )
    column = len(factory.keys("schedule"))
    found = problems(with_typed("Pipe schedule", (row - 1, column, 5000)))
    assert len(found) == 1
    assert "'5000': not in the table" in found[0][1]


def test_a_rate_of_no_input_is_refused_and_one_with_its_own_name_is_reported():
    factory = WorkbookFactory()
    row = len(factory.keys("rates")) + 4
    found = problems(with_typed("Rates", (row, 0, "Tracer wire"), (row, 1, 0.4)))
    assert [place for place, _ in found] == [f"Rates!B{row + 1}"]

    def add(book):
        page = next(p for p in book.worksheets() if p.get_name() == "Rates")
        page.write(row, 1, 0.4)
        book.define_name("tracer_wire", f"=Rates!$B${row + 1}")

    messages = read(WorkbookFactory(extra=add)).warnings
    assert [w.where for w in messages if "Rates has no input" in w.message] == [f"Rates!B{row + 1}"]


def test_how_many_fields_a_group_holds_is_no_stray_value():
    """Beside the name of a group stands no more than that."""
    row = len(WorkbookFactory().keys("rates")) + 4
    for said in ("1 field", "4 fields"):
        assert not read(with_typed("Rates", (row, 0, "Rental"), (row, 1, said))).warnings
    [(place, _)] = problems(with_typed("Rates", (row, 0, "Rental"), (row, 1, "4 trucks")))
    assert place == f"Rates!B{row + 1}"


@pytest.mark.parametrize(
    ("cells", "what"),
    [
        ({"run_id": "PHASE 2 - NORTH"}, "a heading"),
        ({"run_id": "Total", "segments_m": 5100}, "a row of totals"),
        ({"run_id": "Run", "od_system": "OD system"}, "a row of headers"),
    ],
)
def test_headings_and_totals_inside_the_schedule_give_one_message(cells, what):
    factory = WorkbookFactory()
    factory.tables["schedule"].insert(1, cells)
    found = problems(factory)
    assert [place for place, _ in found] == [factory.where("schedule", "run_id", 1)]
    assert what in found[0][1]


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(["schedule", "machines", "crew", "material_prices"]),
    st.integers(0, 6),
    st.integers(0, 3),
    st.integers(1, 10**6),
)
def test_no_number_below_a_table_is_ever_lost(table, down, column, number):
    sheet, _, row, _ = below(table, down)
    found = problems(with_typed(sheet, (row, column, number)))
    assert len(found) == 1
    assert str(number) in found[0][1]


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("example", [None])
def test_nothing_that_the_template_writes_is_taken_for_a_stray_value(system, example):
    with pytest.raises(InputError) as caught:
        parse_workbook(build_template(system, example))
    messages = "\n".join(str(problem) for problem in caught.value.problems)
    assert "not read" not in messages
    assert "delete this row" not in messages


def test_the_rows_read_are_reported():
    factory = WorkbookFactory()
    factory.tables["schedule"].insert(1, {})
    messages = read(factory).places.rows_read_text()
    first = int(factory.where("schedule", "run_id", 0).rpartition("!A")[2])
    count = len(factory.tables["schedule"]) - 1
    assert messages["Pipe schedule"].startswith(f"{count}: rows {first}, {first + 2}")


def test_rows_are_reported_as_spans():
    assert rows_text(tuple(range(6, 15))) == "9: rows 6 to 14"
    assert rows_text((6, 7, 10)) == "3: rows 6 to 7, 10"


def test_a_value_between_two_tables_is_reported_once():
    """On Bid items the owner's items end at column E and the bid terms begin at G."""
    book = openpyxl.load_workbook(io.BytesIO(build_template("US", "raw_water_main")))
    tables = book["Bid items"].tables
    left, right = (tables[name].ref for name in ("Bid_items", "Bid_terms"))
    column = get_column_letter(range_boundaries(left)[2] + 1)
    assert range_boundaries(right)[0] == range_boundaries(left)[2] + 2
    where = f"Bid items!{column}{range_boundaries(left)[1] + 1}"
    book["Bid items"][where.partition("!")[2]] = 12.5
    changed = io.BytesIO()
    book.save(changed)
    with pytest.raises(InputError) as caught:
        parse_workbook(changed.getvalue())
    found = [problem for problem in caught.value.problems if problem.where == where]
    assert len(found) == 1
    assert "not in the table" in found[0].message
