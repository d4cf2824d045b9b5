"""The check of the inputs: the same in every locale and with any letters, and no edit unseen."""

import io
import zipfile
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.worksheet.formula import ArrayFormula

from estimator import api
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.read.input_check import (
    LONGEST_JOINED,
    TEXT_MARK,
    TableWatch,
    UnitWatch,
    blank_sum,
    column_sum,
    watches,
)
from estimator.workbook.results.watch_sheet import number_style
from estimator.workbook.sheet import look
from estimator.workbook.sheet.spec import LONGEST_ARRAY_FORMULA, needs_array
from tests.office import LOCALES, after_edits, recalculate
from tests.one_page import sheet_of
from tests.workbook_factory import Formula, WorkbookFactory, us_tables

CHANGED = "Inputs changed: run Estimate again"
LETTERS = (
    "Mon\N{EN DASH}Sat", "\N{MINUS SIGN}5", "\N{LEFT DOUBLE QUOTATION MARK}x\u201d", "it\u2019s",
    "a\N{NO-BREAK SPACE}b", "_x0041_", "\N{SLIGHTLY SMILING FACE} ok", "\u65e5\u672c\u8a9e",
    "e\u0301 or \u00e9", "\u0634\u0628\u0643\u0629", "stra\u00dfe \u1e9e", "  pad ", "~*?", "=1+1",
    "two\nlines", "0,5", "1.5", "TRUE", "#N/A",
)  # fmt: skip
UNIT_ROW = -2
NUMBERS = (0.1 + 0.2, 12.3456785, 1.005, 123456.789, 2.6750005, 1 / 3)


EMPTY_TEXT = Formula('=IF(1=1,"",2)', "")


def built(factory):
    """Return the bytes of a workbook whose formulas for empty texts are saved as Excel does."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(factory.build())) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            data = old.read(name).replace(b"><f>IF(1=1,", b' t="str"><f>IF(1=1,')
            new.writestr(name, data)
    return stream.getvalue()


def estimated(factory, tmp_path):
    """Return the path of a workbook with its results."""
    workbook = parse_workbook(built(factory))
    path = tmp_path / "job.xlsx"
    path.write_bytes(with_results(workbook, api.estimate_workbook(workbook)))
    return path


def factory_with(texts=(), numbers=()):
    """Return a workbook with a run for each text and number."""
    tables = us_tables()
    first = tables["schedule"][0]
    rows = [dict(first, run_id=f"T{i}", description=text) for i, text in enumerate(texts)]
    rows += [dict(first, run_id=f"N{i}", segments_m=100 + x) for i, x in enumerate(numbers)]
    tables["schedule"] += rows
    return WorkbookFactory(tables=tables)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A workbook with odd letters where the check looks, and numbers of many digits."""
    factory = factory_with(numbers=NUMBERS)
    schedule = factory.tables["schedule"]
    schedule += [dict(schedule[0], run_id=text) for text in LETTERS]
    factory.set("crew", "role", "Foreman \N{EN DASH} \u201clead\u201d", row=1)
    factory.set("job", "currency", "\N{EURO SIGN}")
    factory.set("schedule", "access_factor", EMPTY_TEXT, row=2)
    return factory, estimated(factory, tmp_path_factory.mktemp("check"))


def cell(factory, table, key, value, row=0):
    sheet, address = factory.where(table, key, row).split("!")
    return {sheet: {address: value}}


def edits(factory):
    """Return edits of one or two cells, each of which must be seen."""
    last = len(factory.tables["schedule"]) - 1
    at = {text: row for row, text in enumerate(LETTERS, last + 1 - len(LETTERS))}
    rows = dict.fromkeys(("Mon-Sat", "-5", '"x"', "it's", "a b", "A", "\u00e9 or \u00e9"))
    plain = [
        cell(factory, "schedule", "run_id", typed, at[LETTERS[i]])
        for i, typed in enumerate(list(rows)[:6])
    ]
    swapped = cell(factory, "schedule", "segments_m", 380.0, 0)
    swapped["Pipe schedule"].update(
        cell(factory, "schedule", "segments_m", 1000.0, 1)["Pipe schedule"]
    )
    return [
        *plain,
        cell(factory, "schedule", "run_id", "r1"),
        cell(factory, "schedule", "segments_m", 1000.000001),
        cell(factory, "schedule", "segments_m", -1000.0),
        cell(factory, "schedule", "segments_m", "1000"),
        cell(factory, "schedule", "segments_m", None),
        cell(factory, "schedule", "tees", 0.0),
        cell(factory, "schedule", "tees", "x"),
        cell(factory, "schedule", "size", 8.0),
        cell(factory, "schedule", "size", "8 "),
        cell(factory, "schedule", "earliest_start", 46490.0, 1),
        swapped,
        cell(factory, "job", "crews", 2.0),
        cell(factory, "job", "crews", "1"),
        cell(factory, "job", "workdays", "Mon\N{EN DASH}Fri"),
        cell(factory, "job", "deadline", None),
        cell(factory, "job", "start", 46448.0),
        cell(factory, "weather", "lost_share", 0.100001, 3),
        cell(factory, "crew", "role", "Foreman - \u201clead\u201d", 1),
        cell(factory, "crew", "wage", 0.0),
        cell(factory, "schedule", "pipe_price", 0.0),
        cell(factory, "schedule", "segments_m", "m", UNIT_ROW),
        cell(factory, "schedule", "pipe_price", "$/m", UNIT_ROW),
        {"Job": {beside(factory.where("job", "shift_hours")): "min"}},
    ]


def beside(place):
    """Return the address right of a named cell of column B, where its unit stands."""
    return place.split("!")[1].replace("B", "C")


@pytest.mark.parametrize("locale", LOCALES)
def test_check_is_good_after_an_estimate_and_sees_every_edit(written, locale):
    """Reference: LibreOffice works out the formulas that Python's sums stand beside."""
    factory, path = written
    every = edits(factory)
    now, *after = after_edits(path, every, ("Checks", ["B3"]), locale)
    assert now == ["OK"]
    assert [edit for edit, found in zip(every, after, strict=True) if found != [CHANGED]] == []


@pytest.fixture(scope="module")
def usual(written):
    return recalculate(written[1])


@pytest.mark.parametrize("locale", LOCALES[1:])
def test_result_sheets_are_the_same_in_every_locale(written, usual, locale):
    assert recalculate(written[1], locale=locale) == usual


def test_prices_that_the_sheets_follow_do_not_disturb_the_check(written):
    factory, path = written
    prices = [
        cell(factory, "schedule", "pipe_price", 30.0),
        cell(factory, "crew", "wage", 39.5),
        cell(factory, "rates", "profit", 0.11),
        cell(factory, "job", "company", "Another \u201ccompany\u201d"),
    ]
    found = after_edits(path, prices, ("Checks", ["B3"]))
    assert found == [["OK"]] * (1 + len(prices))


def test_error_in_an_input_counts_as_a_change(written, tmp_path):
    factory, path = written
    book = openpyxl.load_workbook(path)
    sheet, address = factory.where("schedule", "segments_m", 0).split("!")
    book[sheet][address].value = "=NA()"
    book.save(tmp_path / "error.xlsx")
    assert recalculate(tmp_path / "error.xlsx")["Checks"]["B3"] == CHANGED


def test_texts_too_long_for_one_cell_are_kept_in_several(tmp_path):
    """A cell holds 32,767 letters; the longest texts here are 20,000 letters and blanks each."""
    factory = WorkbookFactory()
    factory.set("schedule", "od_system", "IPS" + " " * 20_000)
    factory.set("schedule", "size", "8" + " " * 20_000)
    source = parse_workbook(factory.build())
    tables = [w for w in watches(source.source, source.places) if isinstance(w, TableWatch)]
    schedule = next(w for w in tables if w.label.startswith("Pipe schedule"))
    longest = [max(map(len, group.texts)) for group in schedule.texts]
    assert len(longest) == 2
    assert max(longest) < LONGEST_JOINED
    path = tmp_path / "long.xlsx"
    path.write_bytes(with_results(source, api.estimate_workbook(source)))
    places = [cell(factory, "schedule", "od_system", "IPS" + " " * 19_999 + "S")]
    assert after_edits(path, places, ("Checks", ["B3"])) == [["OK"], [CHANGED]]


def test_array_formulas_are_short_enough_for_excel_to_take_from_a_program(written):
    """Excel takes 255 letters of a formula that a program sets as an array formula."""
    _, path = written
    sheet = sheet_of(path, "Input watch")
    cells = [found.value for row in sheet.iter_rows() for found in row]
    arrays = [value.text[1:] for value in cells if isinstance(value, ArrayFormula)]
    assert len(arrays) > len(us_tables()["schedule"][0])
    assert all(needs_array(text) for text in arrays)
    assert max(map(len, arrays)) <= LONGEST_ARRAY_FORMULA
    assert not any(needs_array(str(value)[1:]) for value in cells)


def test_a_changed_input_has_room_for_its_word(written):
    """The word is that of a formula; Arial bold of 9 points takes 97 pixels for the longer one."""
    _, path = written
    sheet = sheet_of(path, "Input watch")
    assert look.pixels_of(sheet.column_dimensions["E"].width - 0.711) >= 97 * 1.05 + 5
    total = sum(look.pixels_of(sheet.column_dimensions[one].width - 0.711) for one in "ABCDE")
    assert total <= look.box_pixels(across=False)


def scaled(value):
    """Return millionths, halves away from zero, of the 15 digits that spreadsheets show."""
    return int(Decimal(format(value * 1e6, ".15g")).quantize(Decimal(1), ROUND_HALF_UP))


# By hand: row 1 weighs 7919 % 20011 + 1 = 7920, row 2 4 * 7919 % 20011 + 1 = 11666; a text
# counts 1, a number its millionths modulo 999983, plus 2: 1 -> 1000000 % 999983 + 2 = 19.
@pytest.mark.parametrize(
    ("values", "total"),
    [([], 0), ([None, ""], 0), (["x"], 7920), ([0], 2 * 7920), ([1], 19 * 7920),
     ([None, "y"], 11666), ([True, 0.0000005], 19 * 7920 + 3 * 11666),
     ([-1], (999983 - 17 + 2) * 7920)],
)  # fmt: skip
def test_sum_of_a_column_worked_by_hand(values, total):
    assert column_sum(values) == total


cells = st.one_of(
    st.none(),
    st.text(max_size=3),
    st.integers(-(10**8), 10**8),
    st.floats(-1e8, 1e8, allow_nan=False),
)


@given(st.lists(cells, min_size=1, max_size=12), st.data())
def test_sum_of_a_column_sees_every_edit_of_one_number(values, data):
    row = data.draw(st.integers(0, len(values) - 1))
    typed = data.draw(st.integers(0, 10**7).map(lambda n: n / 100))
    old = values[row]
    number = isinstance(old, int | float)
    if number and (scaled(old) - scaled(typed)) % 999_983 == 0:
        return
    edited = [*values[:row], typed, *values[row + 1 :]]
    assert column_sum(edited) != column_sum(values)


def test_blank_sum_counts_places_of_blanks_and_zeros():
    assert blank_sum([None, 3, "", 0, "0", 0.0]) == 1 + 3 + 4 + 6


def test_formulas_name_the_table_column_so_that_added_rows_are_seen(written):
    factory, _ = written
    found = parse_workbook(built(factory))
    tables = [w for w in watches(found.source, found.places) if isinstance(w, TableWatch)]
    by_cells = {
        column.label
        for table in tables
        for column in table.columns
        if not column.reference.endswith("]")
    }
    assert by_cells <= {"Task times: Done while the last joint cools"}  # too long for a formula


def test_units_count_those_that_differ():
    """A unit of one cell that moved to the next is seen, and nothing of them is printed."""
    watch = UnitWatch("Crew: units that differ", ("A1", "B1"), ("h", 'in"'))
    assert watch.now() == '1-EXACT(T(A1),"h")+1-EXACT(T(B1),"in""")'


def test_each_input_that_is_watched_has_a_name_of_its_own(written):
    """Two tables of the Calendar have a From date; a table alone on its sheet needs no title."""
    factory, _ = written
    found = parse_workbook(built(factory))
    watched = list(watches(found.source, found.places))
    columns = [one.label for w in watched if isinstance(w, TableWatch) for one in w.columns]
    labels = [*(one.label for one in watched), *columns]
    assert [label for label in labels if labels.count(label) > 1] == []
    assert {"Calendar: Holds, From date", "Machines: rows", "Pipe schedule: Size"} <= {*labels}


def test_each_count_of_units_names_its_table(written):
    factory, _ = written
    found = parse_workbook(built(factory))
    units = [w.label for w in watches(found.source, found.places) if isinstance(w, UnitWatch)]
    assert len(set(units)) == len(units)


def test_large_numbers_have_their_thousands_marked():
    assert [number_style(value) for value in (1200.0, -10000, 1200.5, 999, 0.125)] == [
        "figure_0", "figure_0", "figure_2", "general", "general",
    ]  # fmt: skip


def test_text_mark_is_no_letter_of_any_key():
    assert not TEXT_MARK.isalnum()
    assert TEXT_MARK.isprintable()
    assert len(TEXT_MARK) == 1
