"""A dozen foreign tables, each of another shape; what they hold is written out by hand."""

import csv
import datetime as dt
import io
import tempfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.takeoff import foreign
from estimator.takeoff.answers import KINDS, RULE, Answer, Answers, load
from estimator.takeoff.into import NOTHING
from tests.each import each
from tests.takeoffs import FOLDER, HEADER_ROW, blank_book, schedule, take
from tests.takeoffs import said as readings


def run(name, size, dr, length, **others):
    """Return the row of a run: IPS in a trench, in sticks of 50 ft, unless it says otherwise."""
    usual = {"OD system": "IPS", "Stick or coil length": 50, "Placement": "trench"}
    rest = {key.replace("_", " "): value for key, value in others.items()}
    return usual | {"Run": name, "Size": size, "DR or SDR": dr, "Length": length} | rest


MILL = {"OD system": "DIPS"}
METRIC = {"OD system": "ISO", "Stick or coil length": 12, "Material": "PE100"}
COIL, STICK_40 = {"Stick or coil length": 500}, {"Stick or coil length": 40}
FLANGES, REDUCE = "Flange adapters", "Reduce to"
WORDED = {"OD system": "IPS", "Material": "PE4710"}

TABLES = {
    "own_headers.csv": [
        run("R1", "12", 11, 1450, Description="Header", Material="PE4710", Elbows=3, Tees=1),
        run("R2", "8", 17, "700; 95", Description="Spur", Material="PE3608", Placement="surface")
        | MILL | STICK_40,
    ],
    # 8 ells, a 12 x 8 reducer on the 12 in, two caps on the 8 in; a lump sum is no pipe.
    "bid_form.csv": [
        run("1", "12", 17, 1450, Description='12" DR 17 HDPE pipe, IPS, PE4710, open cut',
            Elbows=8, Elbow_angles="8 x 90", Reducers=1) | WORDED | {REDUCE: "8"},
        run("3", "8", 11, 640, Description='8" DR 11 HDPE pipe, IPS, PE4710, by HDD', Caps=2,
            Placement="pullback") | WORDED,
    ],
    "merged_rows.csv": [
        run("FM-1", "12", 17, "700; 1450", Description="Mill Road; Mill Road north", Tees=1),
        run("FM-2-1", "12", 11, 640, Description="Creek", Placement="pullback"),
        run("FM-2-2", "12", 17, 90, Description="Creek east bank", Tees=2),
    ],
    "two_header_rows.csv": [
        run("A-1", "4", 11, 500) | STICK_40,
        run("A-2", "6", 11, 320, Placement="slipline") | STICK_40,
    ],
    # Stations 10+00 to 24+50 are 1,450 ft; 24+50 to 31+12.5 are 662.5 ft.
    "stations.csv": [
        run("L-1", "16", 17, 1450) | MILL, run("L-2", "16", 13.5, 662.5) | MILL,
    ],
    # 731.5 m / 0.3048 = 2,399.934383 ft, 12 m = 39.37007874 ft.
    "feet_and_inches.csv": [
        run("P-1", "1-1/4", 11, 40.5, Placement="plant") | STICK_40,
        run("P-2", "3", 9, "14 x 60", Placement="plant") | {"Stick or coil length": 60},
        run("P-3", "2", 9, "700; 1450", Placement="plant") | COIL,
        run("P-4", "20", 17, 2399.934383, Placement="plant")
        | {"Stick or coil length": 39.37007874},
    ],
    "fittings_in_words.csv": [
        run("S1", "8", 17, 900, Elbows=2, Elbow_angles="2 x 90", Tees=1),
        run("S2", "8", 17, 450, Elbows=3, Elbow_angles="3 x 45",
            Reducers=1) | {FLANGES: 2, REDUCE: "6"},
        run("S3", "8", 17, 60),
    ],
    # 4 + 6 + 1 elbows of 90, 45 and 22.5 degrees.
    "fitting_columns.csv": [
        run("B1", "10", 17, 3210, Elbows=11, Elbow_angles="4 x 90; 6 x 45; 1 x 22.5")
        | {"MJ adapters": 2, "EF closures": 1, "Tie-ins": 1},
        run("B2", "10", 17, 80, Tees=3) | {FLANGES: 4},
    ],
    "list_without_headers.csv": [
        run("R01", "12", 17, 1450, Description="12 in DR 17 HDPE IPS, 1,450 LF open cut", Elbows=8,
            Elbow_angles="8 x 90"),
        run("R02", "8", 11, 640, Description="8 in DR 11 HDPE IPS, 640 LF HDD",
            Placement="pullback") | {FLANGES: 2},
    ],
    "tabs_latin.txt": [
        run("T1", "6", 11, "14 x 60", Elbows=2, Elbow_angles="2 x 90"), run("T2", "6", 11, 25.5),
    ],
    "fitting_rows.csv": [
        run("F1", "12", 17, 1800, Description="HDPE pipe", Elbows=11,
            Elbow_angles="8 x 90; 3 x 45", Tees=1)
        | {"Pipe price": 42},
        run("F2", "6", 11, 420, Description="HDPE pipe", Placement="pullback")
        | {FLANGES: 2, "Pipe price": 11.25},
    ],
    "units_row_si.csv": [
        run("W1", "315", 17, 731.5) | METRIC,
        run("W2", "110", 11, "1450.25; 80", Placement="pullback") | METRIC,
    ],
}  # fmt: skip


@each("name", TABLES)
def test_each_table_is_read_as_by_hand(name):
    found = take(FOLDER / name, units="SI" if "_si" in name else "US")
    assert list(found.problems) == []
    assert schedule(found.data) == TABLES[name]


def test_every_table_of_the_folder_is_tried():
    assert {path.name for path in FOLDER.iterdir()} == set(TABLES)


def test_what_is_left_out_is_reported_with_its_row_and_why():
    reported = list(take(FOLDER / "merged_rows.csv").rows_left_out())
    assert reported == [
        "1 blank row: 9",
        "row 1, 'Force main pipe list': above the headers",
        "row 5, 'FM-1 subtotal': a row of totals",
        "row 6, 'Line': headers again",
        "row 10, 'Grand total': a row of totals",
    ]


def test_every_guess_is_reported():
    found = take(FOLDER / "bid_form.csv")
    assert found.answers.open == found.answers.asked
    assert readings(found, "header row") == {"": "4"}
    assert readings(found, "column")["Qty"] == "Quantity"
    assert readings(found, "fitting") == {"ell": "Elbows", "reducer": "Reducers", "end cap": "Caps"}
    assert readings(found, "left out") == {"Traffic control": "left out"}
    assert readings(found, "blank") == {"Stick or coil length": "50"}


def test_saved_readings_leave_nothing_to_ask_until_something_new_comes(tmp_path):
    first = take(FOLDER / "fitting_rows.csv")
    saved = first.answers.confirmed().saved()
    again = take(FOLDER / "fitting_rows.csv", answers=load(saved, "map.csv"))
    assert again.answers.open == ()
    text = (FOLDER / "fitting_rows.csv").read_text("utf-8")
    path = tmp_path / "next.csv"
    path.write_text(
        text.replace("tee,", "end cap,").replace("HDD", "bored and pulled back"), "utf-8"
    )
    new = take(path, answers=load(saved, "map.csv"))
    assert [one.found for one in new.answers.open] == ["bored and pulled back", "end cap"]


def test_a_changed_reading_is_followed():
    first = take(FOLDER / "merged_rows.csv")
    guess = next(one for one in first.answers.asked if one.found == "Several rows of one run")
    kept = take(FOLDER / "merged_rows.csv", answers=first.answers.changed(guess, "a run each"))
    names = [row["Run"] for row in schedule(kept.data)]
    assert names == ["FM-1-1", "FM-1-2", "FM-2-1", "FM-2-2"]


def test_a_column_that_is_not_used_is_not_read():
    first = take(FOLDER / "fitting_columns.csv")
    guess = next(one for one in first.answers.asked if one.found == "45s")
    found = take(FOLDER / "fitting_columns.csv", answers=first.answers.changed(guess, "not used"))
    assert schedule(found.data)[0]["Elbows"] == 5


@each("what, meaning", [("column", "Sise"), ("rule", "mixed"), ("header row", "99")])
def test_a_reading_that_is_no_choice_is_refused(what, meaning):
    first = take(FOLDER / "merged_rows.csv")
    guess = next(one for one in first.answers.asked if one.what == what)
    with pytest.raises(InputError, match=f"{meaning}.*(is not|Use one of)"):
        take(FOLDER / "merged_rows.csv", answers=first.answers.changed(guess, meaning))


def test_a_map_that_is_none_is_refused_row_by_row():
    bad = b"what,found,read as,unit,confirmed,note\ncolumn,Size\nshape,a,b,,yes,\n"
    with pytest.raises(InputError) as error:
        load(bad, "map.csv")
    assert [problem.where for problem in error.value.problems] == [
        "map.csv, row 2",
        "map.csv, row 3",
    ]


BAD = """Run,Size,DR,Length,Method,Elbows
G1,12,17,1450,open cut,2
G2,11,17,eight hundred,open cut,
G3,12,70,300,by camel,x
G1,12,11,-,open cut,
G5,12,17,-20,trench,
"""


def test_all_that_is_wrong_is_reported_at_once_with_the_foreign_cell(tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text(BAD, "utf-8")
    found = take(path)
    reported = {problem.where.partition("!")[2]: problem.message for problem in found.problems}
    assert reported.keys() == {"B3", "D3", "C4", "E4", "F4", "D5", "D6"}
    assert "IPS sizes run from" in reported["B3"]
    assert "not a number" in reported["D3"]
    assert "5 to 50" in reported["C4"]
    assert "by camel" in reported["E4"]
    assert "no length" in reported["D5"]


LOOSE = """Item,Size,DR,Length,Qty
pipe,12,17,100,
pipe,12,11,200,
90 ell,8,,,3
90 ell,12,,,3
"""


def test_a_fitting_that_fits_no_run_is_reported_and_not_given_away(tmp_path):
    path = tmp_path / "loose.csv"
    path.write_text(LOOSE, "utf-8")
    found = take(path)
    (problem,) = found.problems
    assert problem.where == "loose.csv!A4"
    assert "no run has that size" in problem.message
    assert [row.get("Elbows") for row in schedule(found.data)] == [None, 3]


def test_reducers_to_two_sizes_of_one_run_are_refused(tmp_path):
    path = tmp_path / "reducers.csv"
    path.write_text("Run,Item,Size,DR,Length,Qty\nA,pipe,12,17,90,\nA,12x8 reducer,,,,1\n"
                    "A,12x6 reducer,,,,1\n", "utf-8")  # fmt: skip
    (problem,) = take(path).problems
    assert problem.where == "reducers.csv!B4"
    assert "have 8 and 6" in problem.message


def foreign_book(path):
    """Make a workbook with a title, a formula, an error, a hidden row and two sheets."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Quantities"
    rows = [
        ["Pump station yard piping"], [],
        ["Line", "Size", "SDR", "Length, ft", "Tees"],
        ["Y1", 12, 17, 480, 1], ["Y2", 8.0, "SDR 11", 95.5, None], ["Y3", "6", 11, "#REF!", None],
        ["Y4", 6, 11, "=95+5", None],
    ]  # fmt: skip
    for row in rows:
        sheet.append(row)
    sheet.row_dimensions[5].hidden = True
    book.create_sheet("Notes")["A1"] = "nothing here"
    book.save(path)
    return path


def test_a_sheet_of_a_workbook_with_errors_and_formulas_that_were_never_saved(tmp_path):
    path = foreign_book(tmp_path / "yard.xlsx")
    found = take(path, sheet="quantities")
    reported = {problem.where: problem.message for problem in found.problems}
    assert reported.keys() == {"yard.xlsx Quantities!D6", "yard.xlsx Quantities!D7"}
    assert "#REF!" in reported["yard.xlsx Quantities!D6"]
    assert "no saved result" in reported["yard.xlsx Quantities!D7"]
    assert readings(found, "rule")["Hidden rows"] == "read like the others"
    assert schedule(found.data)[:2] == [run("Y1", "12", 17, 480, Tees=1), run("Y2", "8", 11, 95.5)]


def test_a_workbook_of_several_sheets_wants_one_named(tmp_path):
    path = foreign_book(tmp_path / "yard.xlsx")
    with pytest.raises(InputError, match="Quantities, Notes"):
        take(path)
    with pytest.raises(InputError, match="no sheet 'Yard'"):
        take(path, sheet="Yard")


def test_without_pandas_the_message_says_how_to_get_it(tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "pandas", None)
    with pytest.raises(foreign.EstimatorError, match=r"constraints/import\.txt"):
        take(FOLDER / "own_headers.csv")


@each("content", [b"", b"   \n\n"])
def test_an_empty_file_is_refused(content, tmp_path_factory):
    path = tmp_path_factory.mktemp("empty") / "none.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match="is empty"):
        take(path)


def test_a_run_whose_name_begins_like_a_total_is_no_total(tmp_path):
    path = tmp_path / "summit.csv"
    path.write_text("Run,Street,Size,DR,LF\nS1,Summit road,12,17,90\nTotal,,,,90\n", "utf-8")
    assert [row["Run"] for row in schedule(take(path).data)] == ["S1"]


def test_headers_over_two_rows_that_come_again_are_left_out(tmp_path):
    path = tmp_path / "again.csv"
    rows = ["Pipe,Pipe,Wall,Lin.", "No.,Size,SDR,Ft."]
    body = ["A,12,17,90", *rows, "B,12,17,80"]
    path.write_text("\n".join([*rows, *body]) + "\n", "utf-8")
    found = take(path)
    assert [row["Run"] for row in schedule(found.data)] == ["A", "B"]
    assert [one.why for one in found.left_out] == ["headers again", "headers again"]


def test_fittings_of_a_smaller_end_and_how_they_are_made(tmp_path):
    path = tmp_path / "made.csv"
    path.write_text("Run,Item,Size,DR,LF,Qty\nA,pipe,24,17,90,\nA,24x24x12 fab. reducing tee,,,,1\n"
                    "A,fabricated 90 ell,24,,,2\nA,sweep bend,24,,,3\n", "utf-8")  # fmt: skip
    (row,) = schedule(take(path).data)
    shown = {key: row.get(key) for key in ("Reducing tees", "Reduce to", "Elbows", "Sweeps")}
    assert shown == {"Reducing tees": 1, "Reduce to": "12", "Elbows": 2, "Sweeps": 3}
    assert row["Fittings made"] == "fabricated"


def test_angles_have_a_place_only_where_the_schedule_has_the_column(tmp_path):
    """A schedule from before the column: the elbows are kept, the angles named as left out."""
    path = tmp_path / "ells.csv"
    path.write_text("Run,Item,Size,DR,LF,Qty\nA,pipe,24,17,90,\nA,24 in 45 bend,24,,,2\n"
                    "A,24 in ell,24,,,3\n", "utf-8")  # fmt: skip
    (row,) = schedule(take(path).data)
    assert (row["Elbows"], row["Elbow angles"]) == (5, "2 x 45")
    found = take(path, data=book_with_header("Elbow angles", "Own remark"))
    (row,) = schedule(found.data)
    assert (row["Elbows"], row.get("Own remark")) == (5, None)
    assert readings(found, RULE)["Angles of elbows"] == "left out"


def book_with_header(header, other):
    """The blank workbook with a column of the pipe schedule under another header."""
    book = openpyxl.load_workbook(io.BytesIO(blank_book("US")))
    sheet = book["Pipe schedule"]
    (cell,) = (cell for cell in sheet[HEADER_ROW] if cell.value == header)
    (column,) = (one for one in sheet.tables["Pipe_schedule"].tableColumns if one.name == header)
    cell.value = column.name = other
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


def test_lengths_in_millimeters_are_not_taken_for_feet(tmp_path):
    path = tmp_path / "mm.csv"
    path.write_text("Run,Size,DR,Length (mm)\nA,12,17,9000\n", "utf-8")
    with pytest.raises(InputError, match=r"'mm' is not a unit for this column\. Use one of: m, ft"):
        take(path)


def test_a_header_dn_counts_millimeters(tmp_path):
    path = tmp_path / "dn.csv"
    path.write_text("Run,DN,SDR,Length (m)\nA,315,17,90\n", "utf-8")
    (row,) = schedule(take(path, units="SI").data)
    assert (row["OD system"], row["Size"], row["Length"]) == ("ISO", "315", 90)


def test_an_unknown_word_is_read_as_the_user_says(tmp_path):
    path = tmp_path / "camel.csv"
    path.write_text("Run,Size,DR,LF,Method\nA,12,17,90,by camel\n", "utf-8")
    first = take(path)
    guess = next(one for one in first.answers.asked if one.found == "by camel")
    assert (guess.meaning, len(first.problems)) == ("", 1)
    found = take(path, answers=first.answers.changed(guess, "Surface"))
    assert [row["Placement"] for row in schedule(found.data)] == ["surface"]


def test_a_size_that_became_a_date_is_reported(tmp_path):
    book = openpyxl.Workbook()
    for row in (["Run", "Size", "DR", "LF"], ["A", dt.datetime(2027, 3, 4), 11, 90]):
        book.active.append(row)
    book.save(tmp_path / "date.xlsx")
    (problem,) = take(tmp_path / "date.xlsx").problems
    assert problem.where == "date.xlsx Sheet!B2"
    assert "turned a size such as 3/4" in problem.message


def test_a_table_without_any_run_is_refused(tmp_path):
    path = tmp_path / "none.csv"
    path.write_text("Run,Size\nA,12\n", "utf-8")
    assert [problem.message for problem in take(path).problems] == [NOTHING]


NAMES = {
    "Run": ["Run", "Line No.", "Pipe ID", "Reach", "Alignment", "TAG"],
    "Size": ["Size", "Nom. Dia.", "NOMINAL SIZE", "Dia (in)", "Pipe dia."],
    "DR or SDR": ["DR", "SDR", "Dimension ratio", "SDR/DR"],
    "Length": ["Length", "Lin. Ft.", "LF", "Length (ft)", "Footage", "Installed length ft"],
    "Elbows": ["Elbows", "90s", "45 deg bends", "Ells"],
    "Tees": ["Tees", "Tee"],
}
JUNK = ("", "Subtotal", "SECTION B", "Grand total")


@st.composite
def tables(draw):
    """Draw a foreign table and the runs in it: names, order and junk as somebody may write it."""
    heads = draw(st.permutations(list(NAMES)))
    names = {head: draw(st.sampled_from(NAMES[head])) for head in heads}
    runs = [
        {
            "Run": f"L-{number}", "Size": draw(st.sampled_from(["4", "8", "12", "24"])),
            "DR or SDR": draw(st.sampled_from([11, 17])), "Length": draw(st.integers(60, 9000)),
            "Elbows": draw(st.integers(0, 9)), "Tees": draw(st.integers(0, 3)),
        }
        for number in range(draw(st.integers(1, 6)))
    ]  # fmt: skip
    lines = [",".join(names[head] for head in heads)]
    for one in runs:
        junk = draw(st.lists(st.sampled_from(JUNK), max_size=2))
        lines += [f"{text}{',' * (len(heads) - 1)}" for text in junk]
        typed = one | {
            "Length": draw(st.sampled_from(["{}", "{} LF", "{}'", "{} ft"])).format(one["Length"]),
            "Elbows": draw(st.sampled_from(["{}", "{} ea"])).format(one["Elbows"]),
            "Tees": one["Tees"] or draw(st.sampled_from(["-", "n/a", ""])),
        }
        lines.append(",".join(str(typed[head]) for head in heads))
    return "\n".join(lines) + "\n", runs


@settings(max_examples=12, deadline=None)
@given(tables())
def test_any_names_order_and_junk_give_the_same_runs(table):
    text, runs = table
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawn.csv"
        path.write_text(text, "utf-8")
        found = take(path)
    assert list(found.problems) == [], text
    rows = [{head: row.get(head, 0) for head in NAMES} for row in schedule(found.data)]
    assert rows == runs, text


def test_answers_without_anything_known_are_open():
    assert Answers().open == ()


@pytest.mark.parametrize("text", ["=1+1", "@SUM(1)", "+1", "-1", "\t=1", "'=1", "'quoted", "plain"])
def test_saved_readings_hold_no_formula_and_come_back_as_they_were(text):
    kind = KINDS[0]
    known = Answers({(kind, text): Answer(kind, text, text, confirmed=True)})
    saved = known.saved()
    cells = [cell for row in csv.reader(io.StringIO(saved.decode("utf-8-sig"))) for cell in row]
    assert not any(cell.startswith(("=", "+", "-", "@", "\t")) for cell in cells)
    again = load(saved, "map.csv")
    assert again.saved() == saved
    assert again.settle(Answer(kind, text, "guess")).meaning == text
