"""Foreign tables read without a workbook, and what is said where they cannot be, by hand."""

import datetime as dt
import functools
import io
from dataclasses import replace

import openpyxl
import pytest

from estimator.errors import InputError, Problem, WorkbookError
from estimator.inputs.dictionary import fields
from estimator.takeoff import answers as answers_module
from estimator.takeoff import foreign, into, schedule
from estimator.takeoff import rows as rows_module
from estimator.takeoff import runs as runs_module
from estimator.takeoff.answers import Answer, Answers, load
from estimator.takeoff.columns import find_layout, match, split_header
from estimator.takeoff.foreign import ForeignTable, read_foreign
from estimator.takeoff.into import Import
from estimator.takeoff.rows import FittingRow, LeftOut, RowReader
from estimator.takeoff.runs import TakenRun, make_runs
from estimator.takeoff.schedule import cells_of, defaults_of, open_target
from estimator.takeoff.typed import Measured
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.sheet_scan import SheetMarks
from estimator.workbook.sheet.source import RawCell
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


# Which columns and rows are what


def layout_of(*rows, answers=None):
    """Return the layout of a table, and its readings by what was found."""
    answers = answers or Answers()
    layout = find_layout(table_of(*rows), answers, "ft")
    return layout, {one.found: one for one in answers.asked}


ROW = ("A", "12", "11", "60")


@each("rows, header_rows, first_row", [
    ([HEAD, ROW], (1, 1), 2),
    ([HEAD], (1, 1), 2),
    ([("Run", "Size", None, None), (None, None, "Length", "DR")], (1, 2), 3),
    ([("Run", "Size", None, None), (None, None, "Length", "DR"), ROW], (1, 2), 3),
    ([("Run", "Size", "Length", "Spec"), ("A", '12"', "60 ft", "DR 11")], (1, 1), 2),
    ([("Run", "Size", "DR", None), (None, "(in)", "-", "(LF)"), ROW], (1, 1), 3),
    ([("Run", "Size", "DR", None), (None, "(in)", "-", "(LF)")], (1, 1), 3),
    ([("see", "the", "notes", "x"), ROW], (0, 0), 1),
    ([], (0, 0), 1),
])  # fmt: skip
def test_the_rows_of_headers_and_the_first_entry(rows, header_rows, first_row):
    """The second row of headers adds names; one of figures, or of units alone, is none."""
    layout, _ = layout_of(*rows)
    found = layout.header_rows
    assert ((found.start, found.stop - 1), layout.first_row) == (header_rows, first_row)
    assert len(layout.headers) == max(map(len, rows), default=0)


def test_a_row_of_units_gives_those_of_the_columns_above():
    layout, said = layout_of(("Run", "Size", "DR", "Length"), (None, "in", "-", "m"), ROW)
    assert [(one.key, one.unit) for one in layout.columns] == [
        ("run_id", ""), ("size", "in"), ("dr", ""), ("segments_m", "m"),
    ]  # fmt: skip
    assert said["Length"].note == "unit from the row of units"
    assert layout_of(HEAD, ROW)[1]["Length (ft)"].note == "unit from the header"


@each("said", ["0", "2 to 1", "1 to 3", "first"])
def test_a_header_row_that_is_none_is_refused(said):
    answers = Answers().changed(Answer("header row", "", "1"), said)
    with pytest.raises(InputError, match=f"'{said}' is not a row of list.csv"):
        layout_of(HEAD, ROW, answers=answers)


def test_a_column_without_entries_is_not_asked_for():
    """Neither its header nor the shorter rows fill it; one beside it without a name is read."""
    layout, said = layout_of(
        ("Run", "Size", "DR", "Length", None, "Tees"), ("A", "12", "11", "60", "x"), ROW
    )
    assert [one.key for one in layout.columns] == ["run_id", "size", "dr", "segments_m"]
    assert said["column E"].meaning == "not used"
    assert "Tees" not in said


@each("headers, kept", [
    (("LF", "Length"), 2), (("Length", "LF"), 1), (("LF", "Footage"), 1),
    (("LF", "Length (ft)"), 2), (("Approx. length", "LF"), 2),
])  # fmt: skip
def test_of_two_columns_for_one_thing_the_surer_is_kept(headers, kept):
    """The schedule's own header is surest, of others the first."""
    layout, _ = layout_of(("Run", "Size", *headers), ("A", "12", "60", "60"))
    assert [one.position for one in layout.columns if one.key == "segments_m"] == [2 + kept]


@each("header, key", [
    ("$/ft", "pipe_price"), ("USD per LF", "pipe_price"), ("$/joint", ""), ("LF", "segments_m"),
])  # fmt: skip
def test_a_price_per_length_is_one_of_pipe(header, key):
    assert match(header) == key


def test_a_price_per_length_is_surer_than_a_unit_price():
    layout, _ = layout_of(("Run", "Size", "Unit price", "$/ft"), ("A", "12", "90", "42"))
    assert [one.position for one in layout.columns if one.key == "pipe_price"] == [4]


@each("headers, found, meaning, unit", [
    (("Length", "Qty"), "Qty", "Quantity", ""), (("DR", "Qty"), "Qty", "Quantity", "ft"),
    (("Length", "Qty"), "Length", "Length", "ft"), (("DR", "Zzz"), "Zzz", "not used", ""),
])  # fmt: skip
def test_a_quantity_is_in_the_unit_of_lengths_where_there_are_none(headers, found, meaning, unit):
    _, said = layout_of(("Run", "Size", *headers), ("A", "12", "11", "60"))
    assert (said[found].meaning, said[found].unit) == (meaning, unit)


@each("headers, meaning, unit", [
    (("Length", "Zzz"), "Quantity", ""), (("DR", "Zzz"), "Quantity", "ft"),
    (("Length", "Zzz"), "Length", "ft"), (("DR", "Zzz (m)"), "Length", "m"),
])  # fmt: skip
def test_a_column_that_the_user_names_has_the_unit_of_what_it_is(headers, meaning, unit):
    answers = Answers().changed(Answer("column", headers[1], "not used"), meaning)
    layout, _ = layout_of(("Run", "Size", *headers), ("A", "12", "11", "60"), answers=answers)
    assert layout.columns[-1].unit == unit


def test_a_list_without_headers_is_read_from_its_longest_column():
    """Letters by column: 1 + 13 + 1, against the 26 of the text."""
    layout, _ = layout_of(("A", "12 in DR 17 pipe, 1,450 LF"), ("see the notes", None), ("x",))
    assert [(one.position, one.key) for one in layout.columns] == [(2, "description")]


def test_columns_of_one_name_stay_apart():
    _, said = layout_of(("Run", "Size", "Tees", "Tees"), ("A", "12", "1", "2"))
    assert [*said] == ["", "Run", "Size", "Tees (column C)", "Tees (column D)"]


@each("head, entry, commas", [
    ("Coils of 12,5 m", "60", []), ("Length", "60,5", ["decimal mark"]),
])  # fmt: skip
def test_commas_before_decimals_are_looked_for_in_entries(head, entry, commas):
    _, said = layout_of(("Run", "Size", head), ("A", "12", entry))
    assert [one for one in said if one == "decimal mark"] == commas


NO_ENTRY = "neither pipe nor a fitting that is counted"


@each("row, why", [
    (("Total", None, None, "1,450"), "a row of totals"),
    (("Total", "12", None, "1,450"), "a row of totals"),
    (("Run", None, None, None), "a heading"), (("Run", "Size", None, None), "headers again"),
    (("Mill Road", None, None, "x"), NO_ENTRY), (("Run", "12", "11", "60"), None),
])  # fmt: skip
def test_what_is_an_entry_below_headers(row, why):
    _, _, left = runs_of((*HEAD[:3], "Zzz") if why == NO_ENTRY else HEAD, ROW, row)
    assert [one.why for one in left] == ([why] if why else [])


@each("text, alone", [
    ('24" 45 deg bend, DR 17', True), ("Vault to blow-off tee", False), ("Vault to 12 tee", False),
    ("", False), ("Road", False),
])  # fmt: skip
def test_a_fitting_is_alone_where_all_else_is_its_pipe(text, alone):
    assert rows_module._is_fitting_alone(text) is alone


def test_totals_are_shown_where_no_column_has_walls():
    _, _, left = runs_of(("Run", "Size", "Length"), ("A", "12", "60"), ("Total", None, "60"))
    assert [(one.row, one.why) for one in left] == [(3, "a row of totals")]


def test_hidden_rows_are_read_and_said():
    answers, marks = Answers(), SheetMarks(hidden_rows={2, 3})
    found, _, _ = taken(ForeignTable("list.csv", [[*HEAD], [*ROW]], marks), answers)
    said = [one.note for one in answers.asked if one.found == "Hidden rows"]
    assert (len(found.pipes), said) == (1, ["rows 2"])


def one_run(*rows, answers=None, units="US"):
    _, runs, problems = taken(table_of(*rows), answers or Answers(), units)
    assert (len(runs), problems) == (1, [])
    return runs[0]


def test_of_two_columns_that_the_user_calls_length_the_filled_one_counts():
    answers = Answers().changed(Answer("column", "Zzz", "not used"), "Length")
    run = one_run((*HEAD, "Zzz"), ROW, ("A", "12", "11", None, "70"), answers=answers)
    assert run.lengths == (Measured(60.0, "ft"), Measured(70.0, "ft"))


def test_what_a_description_says_stands_for_blank_cells():
    answers = Answers()
    row = ("A", None, None, None, '12" DR 17 pipe, 1,450 LF')
    run = one_run((*HEAD, "Description"), row, ("", "", "", "", ""), answers=answers)
    assert (run.values["size"], run.values["dr"]) == ("12", 17.0)
    assert {run.cells[key].where for key in ("size", "dr", "segments_m")} == {"list.csv!E2"}
    rule = "where its own cell is blank"
    said = [one.found.removesuffix(f" {rule}") for one in answers.asked if rule in one.found]
    assert sorted(said) == ["DR or SDR", "Length", "Size"]
    full = Answers()
    one_run((*HEAD, "Description"), (*ROW, "Road"), ("", "", "", "", "tee, 2 ea"), answers=full)
    assert not any(rule in one.found for one in full.asked)


def test_a_number_beside_a_length_is_left_aside_where_the_user_says_so():
    rule = Answer("rule", "Quantity beside a length", "so many equal lengths")
    run = one_run((*HEAD, "Qty"), (*ROW, "3"), answers=Answers().changed(rule, "not used"))
    assert run.lengths == (Measured(60.0, "ft"),)


def test_stations_keep_six_decimals():
    head = ("Run", "Size", "DR", "From station", "To station")
    run = one_run(head, ("A", "12", "11", "0+00", "0+10.1234567"))
    assert run.lengths == (Measured(10.123457, "ft"),)


@each("head, quantity, lengths", [
    ("Length", "60 ft; 18 m", ((60.0, "ft"), (18.0, "m"))), ("Length", "60 ft; 18 m; 5", None),
    ("Zzz", 95, None),
])  # fmt: skip
def test_lengths_of_a_quantity_have_units(head, quantity, lengths):
    table = table_of(("Run", "Size", head, "Qty"), ("A", "12", None, quantity))
    _, runs, _ = taken(table, Answers())
    assert [tuple((one.number, one.unit) for one in run.lengths) for run in runs] == (
        [lengths] if lengths else []
    )


def test_faults_stand_at_the_cell_that_was_read():
    _, _, problems = taken(table_of(("Run", "Size", "DR"), ("A", "12", "11")), Answers())
    assert [one.where for one in problems] == ["list.csv!A2"]
    head = (*HEAD, "Description", "Qty")
    rows = ((*ROW, None, None), (None, None, None, None, "90 ell", "some"))
    _, _, problems = taken(table_of(head, *rows), Answers())
    assert [one.where for one in problems] == ["list.csv!F3"]
    _, _, problems = taken(table_of(HEAD, ("A", dt.date(2027, 3, 1), "11", "60")), Answers())
    assert [one.where for one in problems] == ["list.csv!B2"]


def test_cells_are_read_as_the_schedule_takes_them():
    """Lengths and prices in the unit that is typed, else in that of the header."""
    head = ("Run", "Size (in)", "DR", "Length (ft)", "String length (ft)", "Pipe price ($/ft)",
            "Test section", "Priority")  # fmt: skip
    run = one_run(head, ("A", "8", "11", "60", "400", "42", 7, 2))
    assert [run.values[key] for key in ("size", "test_section", "priority")] == ["8", "7", 2]
    found = run.values["string_length_m"], run.values["pipe_price"]
    assert found == (Measured(400.0, "ft"), Measured(42.0, "ft"))
    run = one_run(head, ("A", "8", "11", "60", "120 m", "42/m", None, None))
    found = run.values["string_length_m"], run.values["pipe_price"]
    assert found == (Measured(120.0, "m"), Measured(42.0, "m"))


@each("listed, counts, said", [
    ("2 90 ells; 1 tee", {"elbows": 2, "tees": 1}, None), ("2 90 ells; tee", {"elbows": 2}, "tee"),
    ("2 90 ells; 2 signs", {"elbows": 2}, "2 signs"),
])  # fmt: skip
def test_fittings_listed_in_words_have_a_number_each(listed, counts, said):
    found, problems, _ = runs_of((*HEAD, "Fittings"), (*ROW, listed))
    assert found[0][3] == counts
    assert [one.split(" is not")[0] for one in problems] == (
        [f"Fittings in words: '{said}'"] if said else []
    )


# Rows into runs


def blanks_of(rows, defaults):
    """Return what is said for blank cells, by header."""
    answers = Answers()
    table = table_of(HEAD, *rows)
    found = RowReader(table, find_layout(table, answers, "ft"), answers).read()
    runs, _ = make_runs(found, answers, defaults, frozenset())
    said = {one.found: (one.meaning, one.unit, one.note) for one in answers.asked
            if one.what == "blank"}  # fmt: skip
    return runs, said


def test_blank_cells_that_a_run_needs_are_asked_for_but_size_and_wall():
    rows = (ROW, ("B", None, None, "60"))
    runs, said = blanks_of(rows, {"stick_length_m": Measured(50.0, "ft")})
    anywhere = "not stated in any row"
    assert said == {"OD system": ("IPS", "", anywhere), "Placement": ("", "", anywhere),
                    "Stick or coil length": ("50", "ft", anywhere)}  # fmt: skip
    assert [run.values.get("size") for run in runs] == ["12", None]
    assert runs[0].values["stick_length_m"] == Measured(50.0, "ft")


@each("what, said, key, value", [
    ("Stick or coil length", "12 m", "stick_length_m", Measured(12.0, "m")),
    ("Placement", "SURFACE", "placement", "surface"),
])  # fmt: skip
def test_what_the_user_says_for_blank_cells_is_taken(what, said, key, value):
    answers = Answers().changed(Answer("blank", what, ""), said)
    assert one_run(HEAD, ROW, answers=answers).values[key] == value


def test_what_no_row_leaves_blank_is_not_asked_for():
    answers = Answers()
    one_run((*HEAD, "Placement", "OD system"), (*ROW, "trench", "IPS"), answers=answers)
    assert [one.found for one in answers.asked if one.what == "blank"] == ["Stick or coil length"]


@each("rows, among, said", [
    ([3, 4], 2, "in any row"), ([3], 2, "in rows 3"),
    ([1, 2, 3, 4, 5, 6], 9, "in rows 1, 2, 3, 4, 5, 6"),
    ([1, 2, 3, 4, 5, 6, 7], 9, "in rows 1, 2, 3, 4, 5, 6 and 1 more"),
])  # fmt: skip
def test_six_rows_are_named(rows, among, said):
    assert runs_module._rows_named(rows, among) == said


def rules_of(*rows, answers=None):
    answers = answers or Answers()
    _, runs, problems = taken(table_of(*rows), answers)
    said = {one.found: one.meaning for one in answers.asked if one.what == "rule"}
    return runs, said, problems


MORE = ("Several rows of one run", "Rows of one run that differ in pipe or placement",
        "Pipe row without a run name")  # fmt: skip


@each("rows, names, said", [
    ([ROW, ("B", "12", "11", "60")], ["A", "B"], ()),
    ([ROW, ("A", "12 in", "11", "60")], ["A"], MORE[:1]),
    ([ROW, ("A", "8", "11", "60")], ["A-1", "A-2"], MORE[:2]),
    ([ROW, (None, "12", "11", "60")], ["A"], (MORE[2], MORE[0])),
    ([(None, "12", "11", "60"), ROW], ["row 2", "A"], ()),
])  # fmt: skip
def test_what_is_said_of_rows_of_one_run(rows, names, said):
    runs, found, _ = rules_of(HEAD, *rows)
    assert ([run.name for run in runs], tuple(found)) == (names, said)


def test_rows_that_are_a_run_each_are_not_said_to_differ():
    kept = Answers().changed(Answer("rule", MORE[0], "merged into one run"), "a run each")
    assert MORE[1] not in rules_of(HEAD, ROW, ("A", "8", "11", "60"), answers=kept)[1]


WITH_FITTINGS = ("Run", "Size", "DR", "Length (ft)", "Description", "Qty")


def pipe(name, size):
    return (name, size, "11", "60", None, None)


def loose(text, size=None, run=None):
    return (run, size, None, None, text, "1")


@each("rows, rule, counts", [
    ([pipe("A", "12"), loose("tee"), pipe("B", "8"), loose("cap")], "the run above",
     {"A": {"tees": 1}, "B": {"caps": 1}}),
    ([pipe("A", "12"), loose("tee", "12"), pipe("B", "8"), loose("cap", "8"), pipe("C", "8")],
     "the run above", {"A": {"tees": 1}, "B": {"caps": 1}, "C": {}}),
    ([pipe("A", "12"), pipe("B", "8"), loose("tee", "12"), loose("cap", run="B")],
     "the only run of that size", {"A": {"tees": 1}, "B": {"caps": 1}}),
    ([pipe("B", "12"), pipe("B", "8"), loose("cap", "8", "B")], None,
     {"B-1": {}, "B-2": {"caps": 1}}),
])  # fmt: skip
def test_loose_fittings_go_to_the_run_above_or_the_only_one_of_their_size(rows, rule, counts):
    runs, said, problems = rules_of(WITH_FITTINGS, *rows)
    assert problems == []
    assert said.get("Fittings without a run name") == rule
    assert {run.name: run.counts for run in runs} == counts


def test_of_loose_fittings_the_rows_are_named():
    answers = Answers()
    taken(table_of(WITH_FITTINGS, pipe("A", "12"), loose("tee", "12")), answers)
    notes = [one.note for one in answers.asked if one.found == "Fittings without a run name"]
    assert notes == ["in rows 3"]


HELP = "Name the run in its own column"


@each("rows, said", [
    ([loose("tee", run="X")], "Tees, no size, run 'X': no run of this table has that name"),
    ([loose("tee", "8", "A")],
     f"Tees, 8, run 'A': is not of the size of its run; of that size: B. {HELP}"),
    ([loose("tee", "6", "A")],
     f"Tees, 6, run 'A': is not of the size of its run; no run has that size. {HELP}"),
])  # fmt: skip
def test_a_fitting_without_a_place_is_said_why(rows, said):
    _, _, problems = rules_of(WITH_FITTINGS, pipe("A", "12"), pipe("B", "8"), *rows)
    assert [one.message for one in problems] == [said]


def test_of_runs_that_a_fitting_fits_six_are_named():
    runs = [TakenRun(f"R{n}", n, {}, ()) for n in range(1, 8)]
    cell = RawCell("list.csv", 9, 1)
    for fitting, whose in ((FittingRow(cell, "", "tees", 1), "no run"),
                           (FittingRow(cell, "R", "tees", 1), "run 'R'")):  # fmt: skip
        said = runs_module._no_run(runs_module._Homes(runs), fitting, runs)
        assert said == (
            f"Tees, no size, {whose}: fits several runs (R1, R2, R3, R4, R5, R6). {HELP}"
        )


# Files


def text_of(content):
    return foreign._from_text(content, "list.csv", Answers()).rows


def test_a_text_keeps_its_rows_and_what_looks_like_nothing():
    """Blank rows count, shorter rows are filled up; a cell of spaces is blank, NA is text."""
    assert text_of(b"Run,Size\nA,12,NA,60\n\n ,x,null,y\n") == [
        ["Run", "Size", None, None], ["A", "12", "NA", "60"], [None] * 4, [None, "x", "null", "y"],
    ]  # fmt: skip


@each("lines, found", [
    (["a,b,c", "d,e,f", "g,h"], (2, 3)), (["x", "y", "a,b"], (1, 2)), (["x"], (0, 0)),
    (["a,b", "c,d,e"], (1, 3)),
])  # fmt: skip
def test_a_separator_parts_most_lines_alike(lines, found):
    assert foreign._evenness(lines, ",") == found


@each("filled, said", [
    ("AB", "several sheets hold cells: A, B. Name one with --sheet"),
    ("", "no sheet holds any cell: A, B, C. Name one with --sheet"),
])  # fmt: skip
def test_the_sheet_of_a_book_must_be_plain(filled, said):
    book = openpyxl.Workbook()
    for name in "ABC":
        sheet = book.create_sheet(name)
        if name in filled:
            sheet["A1"] = "x"
    book.remove(book.worksheets[0])
    data = io.BytesIO()
    book.save(data)
    with pytest.raises(InputError) as refused:
        foreign._from_book(data.getvalue(), "list.xlsx", "")
    assert [one.message for one in refused.value.problems] == [said]


def test_a_choice_that_is_none_is_named_with_what_was_found():
    for found, where in (("Hidden rows", "rule 'Hidden rows'"), ("", "rule")):
        guess = Answer("rule", found, "all", choices=("all", "none"))
        with pytest.raises(InputError) as refused:
            Answers().changed(guess, "some").settle(guess)
        assert [one.where for one in refused.value.problems] == [where]


# Into the schedule


def test_runs_are_numbered_on_below_those_that_are_kept():
    table = table_of(("Size", "DR", "Length (ft)"), ("12", "11", "60"))
    blank = open_target(blank_book("US"), "job.xlsx")
    assert (blank.filled, blank.names) == ((), frozenset())
    first = into.read_takeoff(table, blank, Answers(), "")
    again = open_target(first.data, "job.xlsx")
    assert (again.filled, again.names) == ((6,), {"R01"})
    for mode, names, filled in (("append", {"R01", "R02"}, (6, 7)), ("replace", {"R01"}, (6,))):
        found = into.read_takeoff(table, again, Answers(), mode)
        done = open_target(found.data, "job.xlsx")
        assert (found.problems, done.filled, done.names) == ([], filled, names)


def with_rows(*rows, **changes):
    blank = target("US")
    return replace(blank, filled=rows, **changes)


def test_the_first_free_row_is_below_the_headers_or_the_rows_that_stay():
    rows = with_rows(8, 9, 12)
    assert schedule.first_free_row(with_rows(), "") == 6
    assert schedule.first_free_row(rows, "replace") == 6
    assert schedule.first_free_row(rows, "append") == 13
    with pytest.raises(InputError) as refused:
        schedule.first_free_row(rows, "")
    (problem,) = refused.value.problems
    assert problem.where == "Pipe schedule!A8"
    assert problem.message.startswith("rows 8 to 12 are filled in")


def test_names_are_those_of_filled_rows():
    cells = [(8, "A"), (9, "B"), (10, None)]
    table = replace(target("US").table, rows=[
        [RawCell("Pipe schedule", row, 1, name), RawCell("Pipe schedule", row, 2, "x")]
        for row, name in cells
    ])  # fmt: skip
    assert with_rows(8, 10, table=table).names == {"A"}


def test_defaults_are_in_the_unit_of_their_column():
    blank = target("US")
    metric = replace(blank, units={**blank.units, "stick_length_m": "m"})
    assert defaults_of(metric)["stick_length_m"] == Measured(12.0, "m")
    assert defaults_of(blank)["stick_length_m"] == Measured(50.0, "ft")
    assert defaults_of(target("SI"))["od_system"] == "ISO"


@each("value, shown", [(3, 3), ("x", "x"), (2.0, 2), (dt.date(2027, 3, 1), "2027-03-01")])
def test_values_are_shown_as_a_cell_takes_them(value, shown):
    found = schedule._shown("priority", value, target("US"))
    assert (found, type(found)) == (shown, type(shown))


def test_a_column_that_is_not_there_is_named_at_the_foreign_cell():
    blank = target("US")
    few = replace(blank, columns={key: at for key, at in blank.columns.items() if key != "tees"})
    run = one_run((*HEAD, "Tees"), (*ROW, "2"))
    for cells, where in ((run.cells, "list.csv!E2"), ({}, "Pipe schedule!A5")):
        with pytest.raises(InputError) as refused:
            schedule.with_runs(few, [replace(run, cells=cells)], "")
        assert [(one.where, one.message) for one in refused.value.problems] == [
            (where, "Tees: Pipe schedule has no such column. Add it with this header")
        ]


def test_angles_are_left_out_where_no_column_takes_them():
    runs = [TakenRun("A", 2, {"elbow_angles": "2 x 45"}, ()), TakenRun("B", 3, {}, ())]
    for columns, kept, said in (({"elbow_angles": 12}, True, []), ({}, False, ["left out"])):
        answers = Answers()
        into._drop_angles(runs, replace(target("US"), columns=columns), answers)
        assert "elbow_angles" in runs[0].values if kept else "elbow_angles" not in runs[0].values
        assert [one.meaning for one in answers.asked] == said


def test_what_the_reader_finds_stands_at_the_foreign_cell():
    """DR 99 is in no table; what was reported before is not said twice."""
    run = one_run(HEAD, ("A", "12", "99", "60"))
    data, rows = schedule.with_runs(target("US"), [run], "")
    found = schedule.faults_of(data, target("US"), rows, frozenset())
    assert {one.where for one in found} == {"list.csv!C2"}
    assert all(one.message.startswith("run A: ") for one in found)
    assert schedule.faults_of(data, target("US"), rows, frozenset({"list.csv!C2"})) == []
    unplaced = {row: replace(one, cells={}) for row, one in rows.items()}
    nowhere = schedule.faults_of(data, target("US"), unplaced, frozenset())
    assert {one.where for one in nowhere} == {"A"}


def test_the_schedule_must_be_a_table_with_units_of_its_own():
    book, data = openpyxl.Workbook(), io.BytesIO()
    book.save(data)
    with pytest.raises(WorkbookError, match=r"job\.xlsx has no Excel table"):
        open_target(data.getvalue(), "job.xlsx")
    blank = target("US")
    units = [cell._replace(value="m" if cell.column == blank.columns["segments_m"] else None)
             for cell in blank.table.units]  # fmt: skip
    raw = replace(blank.table, units=tuple(units))
    found = schedule._units(FileSource(blank.data), raw, blank.columns)
    assert (found["segments_m"], found["stick_length_m"], found["pipe_price"]) == ("m", "ft", "ft")
