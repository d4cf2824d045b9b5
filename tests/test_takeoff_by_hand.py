"""Foreign tables read without a workbook, and what is said where they cannot be, by hand."""

import datetime as dt
import functools

import pytest

from estimator.errors import InputError, Problem
from estimator.inputs.dictionary import fields
from estimator.takeoff import answers as answers_module
from estimator.takeoff import foreign, into, schedule
from estimator.takeoff.answers import Answer, Answers, load
from estimator.takeoff.columns import find_layout, split_header
from estimator.takeoff.foreign import ForeignTable, read_foreign
from estimator.takeoff.into import Import
from estimator.takeoff.rows import LeftOut, RowReader
from estimator.takeoff.runs import make_runs
from estimator.takeoff.schedule import cells_of, defaults_of, open_target
from estimator.takeoff.typed import Measured
from tests.each import each
from tests.takeoffs import FOLDER, blank_book
from tests.test_takeoff import TABLES

HEADERS = {field.key: field.header for field in fields("schedule")}


@functools.cache
def target(units):
    return open_target(blank_book(units), "job.xlsx")


def taken(table, answers, units="US"):
    """Return the rows, runs and problems of a table."""
    into = target(units)
    layout = find_layout(table, answers, into.length_unit)
    found = RowReader(table, layout, answers).read()
    runs, problems = make_runs(found, answers, defaults_of(into), frozenset())
    return found, runs, [*found.problems, *problems]


def before_faults():
    """Write the blank workbooks, which is slow; every case is ready then."""
    for units in ("US", "SI"):
        target(units)
    return ("test_",)


@each("name", TABLES)
def test_each_table_gives_the_runs_that_are_written_out(name):
    answers, units = Answers(), "SI" if "_si" in name else "US"
    table = read_foreign(str(FOLDER / name), "", answers)
    _, runs, problems = taken(table, answers, units)
    assert problems == []
    rows = [{HEADERS[key]: value for key, value in cells_of(run, target(units))} for run in runs]
    assert rows == TABLES[name]


def table_of(*rows):
    return ForeignTable("list.csv", [list(row) for row in rows])


def runs_of(*rows, units="US"):
    found, runs, problems = taken(table_of(*rows), Answers(), units)
    said = [(run.name, run.values.get("size"), [(one.number, one.unit) for one in run.lengths],
             run.counts) for run in runs]  # fmt: skip
    return said, [problem.message for problem in problems], found.left_out


HEAD = ("Run", "Size", "DR", "Length (ft)")


@each("quantity, length, lengths", [
    ("14", "60", [60.0] * 14), ("2", "60", [60.0] * 2), ("1", "60", [60.0]),
    ("3", "60; 40", [60.0, 40.0]), (None, "60", [60.0]),
])  # fmt: skip
def test_a_number_beside_a_length_is_so_many_of_them(quantity, length, lengths):
    """Of several lengths the number says nothing."""
    found, problems, _ = runs_of((*HEAD, "Qty"), ("A", "12", "11", length, quantity))
    assert (found, problems) == ([("A", "12", [(one, "ft") for one in lengths], {})], [])


@each("first, last, found, said", [
    ("10+00", "24+50", [1450.0], []), ("0+00", "0+00.5", [0.5], []),
    ("24+50", "24+50", [], ["From station: the stations end before they begin: 0"]),
    ("24+50", "10+00", [], ["From station: the stations end before they begin: -1450"]),
    ("10+00", None, [], ["Length: this row has a size and a wall, but no length"]),
    (None, "10+00", [], ["Length: this row has a size and a wall, but no length"]),
])  # fmt: skip
def test_a_length_between_stations(first, last, found, said):
    head = ("Run", "Size", "DR", "From station", "To station")
    runs, problems, _ = runs_of(head, ("A", "12", "11", first, last))
    assert [number for _, _, lengths, _ in runs for number, _ in lengths] == found
    assert problems == said


@each("head, row, lengths", [
    (("Description", "Qty", "Unit"), ('12" DR 17 pipe', "1450", "LF"), [(1450.0, "ft")]),
    (("Description", "Qty", "Unit"), ('12" DR 17 pipe', "95", "m"), [(95.0, "m")]),
    (("Description", "Qty", "Unit"), ('12" DR 17 tee', "3", "EA"), None),
    (("Description", "Qty (ft)", "Item"), ('12" DR 17 pipe', "1450", "7"), [(1450.0, "ft")]),
    (("Description", "Size", "DR", "Qty"), ("Road", "12", "17", "1450"), [(1450.0, "ft")]),
    (("Description", "Size", "Qty"), ("Road", "12", "95 m"), [(95.0, "m")]),
    (("Description", "Size", "Qty"), ("Road", "12", "95"), None),
    (("Description", "Size", "Item"), ('DR 17 pipe, 1,450 LF', "12", "7"), [(1450.0, "ft")]),
])  # fmt: skip
def test_a_quantity_is_a_length_where_something_says_so(head, row, lengths):
    """A unit beside it, in its header or its cell, or a size and a wall; else it counts pieces."""
    runs, _, _ = runs_of(head, row)
    assert [found for _, _, found, _ in runs] == ([lengths] if lengths else [])


def test_a_metric_list_is_in_the_diameters_of_iso():
    """Three of five are in millimeters; of four two are not most."""
    head = ("Run", "Size", "DR", "Length (ft)")
    sizes = ("110 mm", "DN 110", "110 mm", "4", "6")
    for count, system in ((5, "ISO"), (0, "IPS")):
        rows = [(f"R{n}", size, "11", "60") for n, size in enumerate(sizes)]
        kept = rows if count else [rows[0], rows[1], rows[3], rows[4]]
        _, runs, _ = taken(table_of(head, *kept), Answers())
        assert {run.values["od_system"] for run in runs} == {system}


def test_rows_of_one_name_are_one_run_where_their_pipe_is_alike():
    rows = (("A", "12", "11", "60"), ("A", "12", "11", "40"), ("B", "12", "11", "30"),
            ("B", "8", "11", "20"))  # fmt: skip
    found, problems, _ = runs_of(HEAD, *rows)
    assert [(name, size, [n for n, _ in lengths]) for name, size, lengths, _ in found] == [
        ("A", "12", [60.0, 40.0]), ("B-1", "12", [30.0]), ("B-2", "8", [20.0]),
    ]  # fmt: skip
    assert problems == []
    answers = Answers()
    taken(table_of(HEAD, *rows), answers)
    guess = next(one for one in answers.asked if one.found == "Several rows of one run")
    assert guess.note == "A, B"
    _, kept, _ = taken(table_of(HEAD, *rows), answers.changed(guess, "A run each"))
    assert [run.name for run in kept] == ["A-1", "A-2", "B-1", "B-2"]


def test_a_row_without_a_name_goes_on_with_the_run_above():
    found, _, _ = runs_of(HEAD, ("A", "12", "11", "60"), (None, "12", "11", "40"))
    assert [(name, len(lengths)) for name, _, lengths, _ in found] == [("A", 2)]
    unnamed, _, _ = runs_of(HEAD, (None, "12", "11", "60"), (None, "12", "11", "40"))
    assert [name for name, *_ in unnamed] == ["R01", "R02"]


@each("row, why", [
    ((None, None, None, None), "blank"), (("Mill Road", None, None, None), "a heading"),
    (("Total", None, None, "1,450"), "a row of totals"), (HEAD, "headers again"),
    (("Traffic control", None, None, "x"), None),
])  # fmt: skip
def test_rows_that_are_no_entry_are_left_out_with_why(row, why):
    _, _, left = runs_of(("Pipe list", None, None, None), HEAD, ("A", "12", "11", "60"), row)
    assert [(one.row, one.why) for one in left if one.row != 4] == [(1, "above the headers")]
    if why:
        assert [one.why for one in left if one.row == 4] == [why]


def test_a_run_named_like_a_total_is_no_total():
    found, _, left = runs_of(HEAD, ("Total Road", "12", "11", "60"))
    assert (len(found), left) == (1, [])


@each("row, said", [
    (("A", "12", "11", None), "Length: this row has a size and a wall, but no length"),
    (("A", "12", "11", "x"), "Length: 'x' is not a number"),
    (("A", "12", "wide", "60"), "DR or SDR: 'wide' is not"),
])  # fmt: skip
def test_what_cannot_be_read_is_named_with_its_column(row, said):
    _, problems, _ = runs_of(HEAD, row)
    assert len(problems) == 1
    assert problems[0].startswith(said)


def test_fittings_go_to_the_run_that_they_name_or_fit():
    """Two elbows by name, three of that size alone; one whose size no run has has no place."""
    head = ("Run", "Size", "DR", "Length (ft)", "Description", "Qty")
    rows = (("A", "12", "11", "60", None, None), ("B", "8", "11", "40", None, None),
            ("A", None, None, None, "90 ell", "2"), (None, "8", None, None, "90 ell", "3"),
            (None, "6", None, None, "cap", "1"))  # fmt: skip
    found, problems, _ = runs_of(head, *rows)
    counts = {name: count for name, _, _, count in found}
    assert counts["A"] == {"elbows": 2}
    assert len(problems) == 1


# Readings that are kept


def test_readings_say_what_is_open_and_keep_what_was_confirmed():
    answers = Answers()
    guess = Answer("rule", "Hidden rows", "all", choices=("all", "none"))
    assert answers.settle(guess) == guess
    assert [one.found for one in answers.open] == ["Hidden rows"]
    sure = answers.confirmed()
    assert sure.settle(guess).confirmed
    assert sure.open == ()
    other = answers.changed(guess, " None ")
    assert (other.settle(guess).meaning, other.open) == ("none", ())
    with pytest.raises(InputError, match=r"'some' is not a choice\. Use one of: all, none"):
        answers.changed(guess, "some").settle(guess)


KEPT = b"what,found,read as,unit,confirmed,note\n"


def test_readings_come_back_as_they_were_saved():
    """Unconfirmed ones are open again; a text that looks like a formula is one of text."""
    answers = Answers()
    sure = Answer("column", "=Size", "Size", "in", "as in row 3")
    answers.settle(sure)
    answers.settle(Answer("file", "separator", "comma"))
    open_again = load(answers.saved(), "map.csv")
    assert answers.saved().decode("utf-8-sig").splitlines()[1:] == [
        "file,separator,comma,,no,", "column,'=Size,Size,in,no,as in row 3",
    ]  # fmt: skip
    assert not open_again.settle(sure).confirmed
    back = load(answers.confirmed().saved(), "map.csv").settle(sure)
    assert (back.confirmed, back.found, back.meaning, back.unit) == (True, "=Size", "Size", "in")
    assert [answers_module._typed(text) for text in ("'=1", "'one", "one")] == ["=1", "'one", "one"]


@each("content, said", [
    (b"", [("map.csv", "must begin with the heads")]),
    (b"what,found\n", [("map.csv", "must begin with the heads")]),
    (KEPT + b"\nshape,a,b,,yes,\ncolumn,a\ncolumn,Size,Size,,yes,\n",
     [("map.csv, row 3", "['shape', 'a', 'b', '', 'yes', ''] is not a reading"),
      ("map.csv, row 4", "['column', 'a'] is not a reading")]),
])  # fmt: skip
def test_a_file_that_holds_no_readings_is_refused_row_by_row(content, said):
    with pytest.raises(InputError) as refused:
        load(content, "map.csv")
    found = [(one.where, one.message) for one in refused.value.problems]
    assert [where for where, _ in found] == [where for where, _ in said]
    for (_, message), (_, text) in zip(found, said, strict=True):
        assert message.startswith(text)


def test_a_file_of_heads_alone_holds_no_readings():
    assert load(KEPT, "map.csv").asked == ()


# What is said of the import


def test_rows_left_out_are_counted_and_named():
    """Nine blank rows, of which eight are named, and thirty-one with text, of which thirty are."""
    left = [LeftOut(row, "", "blank") for row in range(1, 10)]
    left += [LeftOut(row, "x", "a heading") for row in range(10, 41)]
    made = Import(Answers(), (), "ft", left, (), b"")
    first, second, *_, last = made.rows_left_out()
    assert first == "9 blank rows: 1, 2, 3, 4, 5, 6, 7, 8 and 1 more"
    assert (second, last) == ("row 10, 'x': a heading", "and 1 more rows")
    few = Import(Answers(), (), "ft", [*left[:8], *left[9:39]], (), b"")
    said = list(few.rows_left_out())
    assert (said[0], len(said)) == ("8 blank rows: 1, 2, 3, 4, 5, 6, 7, 8", 31)
    assert list(Import(Answers(), (), "ft", (), (), b"").rows_left_out()) == []
    assert made.totals == "0 runs, 0 ft, 0 fittings"


def test_problems_come_in_the_order_of_their_rows():
    where = ("list.csv!B12", "list.csv!A3", "map.csv")
    found = [into._order(Problem(one, "x")) for one in where]
    assert found == [(12, "list.csv!B12"), (3, "list.csv!A3"), (0, "map.csv")]


@each("text, name, unit", [
    ("Length [m]", "Length", "m"), ("Nom. Dia. (in)", "Nom. Dia.", "in"), ("LF", "LF", "ft"),
    ("Length, LF", "Length", "ft"), ("Length (see note)", "Length (see note)", ""),
    ("Price $/ft", "Price $/ft", "ft"), ("Size", "Size", ""),
])  # fmt: skip
def test_a_header_states_its_unit(text, name, unit):
    assert split_header(text) == (name, unit)


@each("value, unit, found", [
    (Measured(42.0, "ft"), "ft", 42), (Measured(42.0), "m", 42),
    (Measured(10.0, "ft"), "m", 32.80839895), (Measured(10.0, "m"), "ft", 3.048),
])  # fmt: skip
def test_a_price_per_foot_is_less_than_per_meter(value, unit, found):
    """10 a foot are 10 / 0.3048 a meter; 10 a meter are 3.048 a foot."""
    assert schedule._price(value, unit) == found


@each("cell, kept", [
    (None, None), ("", None), (True, True), (3, 3), (2.5, 2.5), ("x", "x"),
    (dt.datetime(2027, 3, 1, 8), dt.datetime(2027, 3, 1, 8)), (dt.date(2027, 3, 1),) * 2,
    (dt.time(8), dt.time(8)), (complex(1, 2), "(1+2j)"),
])  # fmt: skip
def test_values_of_pandas_become_those_of_cells(cell, kept):
    assert foreign._plain(cell) == kept


def test_a_sheet_is_found_in_any_case():
    assert foreign._wanted(["Pipe", "Bid"], "", "b.xlsx") == ["Pipe", "Bid"]
    assert foreign._wanted(["Pipe", "Bid"], "bid", "b.xlsx") == ["Bid"]
    with pytest.raises(InputError, match=r"b.xlsx has no sheet 'List'. It has: Pipe, Bid"):
        foreign._wanted(["Pipe", "Bid"], "List", "b.xlsx")


def test_columns_to_the_right_that_hold_nothing_are_left_out():
    assert foreign._narrow([["a", None, None], ["b", "c", None]]) == [["a", None], ["b", "c"]]
    assert foreign._narrow([[None, None]]) == [[]]
    blank = ForeignTable("t", [[" ", "x"], []])
    assert [cell.value for cell in blank.cells(1)] == [None, "x"]
    assert [cell.value for cell in blank.cells(2)] == [None, None]
    assert ForeignTable("t", []).width == 0
