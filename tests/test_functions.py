"""Cell functions: as plain Python, and as Excel calls them through xlwings' own Windows code."""

import datetime as dt
import importlib.util
import inspect
import io
import math
import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import range_boundaries
from xlsxwriter import Workbook

from estimator.cli.functions import add_options
from estimator.errors import UnknownNameError
from estimator.excel import functions, functions_vba
from estimator.excel.cell_functions.arguments import ARGUMENTS
from estimator.excel.cell_functions.reading import Like, Number
from estimator.inputs.dictionary import fields, input_tables
from tests.data import read_cases
from tests.each import each
from tests.win32stub import ERRORS, MISSING, MODULE, Cells, Excel, PyTime
from workbook_template.content import table_rows
from workbook_template.docs_pages import functions_page
from workbook_template.function_examples import examples, machine_rows
from workbook_template.functions_sheet import NAME, NOTES, add_functions_sheet
from workbook_template.styles import FONT, Styles

ROOT = Path(__file__).parent.parent
NAMES = (
    "PE_OD", "PE_WALL", "PE_ID", "PE_WEIGHT", "PE_JOINTS", "PE_BEAD", "PE_SOAK", "PE_OPEN_CLOSE",
    "PE_COOL", "PE_GAUGE", "PE_CYCLE", "PE_SHIFT_JOINTS", "PE_LABOR_HOURS", "PE_MACHINE",
    "PE_HEATER_KW", "PE_GENERATOR_KW", "PE_RENTAL",
)  # fmt: skip
CATALOG = functions.catalog()
EVERY = (*CATALOG, *functions.catalog(old=True))
EVERY_ARGUMENT = [
    pytest.param(known, argument.name, id=f"{known.name} {argument.name}")
    for known in CATALOG
    for argument in known.arguments
]
SYSTEMS = ("US", "SI")
NEVER_LONGER_THAN = 255
TODAY = PyTime(2027, 3, 4, tzinfo=dt.UTC)
IN2_MM2 = 645.16
PSI_BAR = 0.0689476

needs_xlwings = pytest.mark.skipif(
    importlib.util.find_spec("xlwings") is None, reason="needs xlwings"
)


@pytest.fixture(scope="module")
def excel():
    program = Excel()
    yield program
    program.close()


def function(name):
    return getattr(functions, name)


def machines(system="US"):
    return machine_rows(system, None)


def good_values(name, system="US"):
    """Return a value for every argument of a function, none of them blank."""
    (example,) = (e for e in examples(system) if e.function.name == name)
    values = {a: v if v is not None else usual(a, system) for a, v in example.values.items()}
    return {**values, **({"machines_range": machines(system)} if example.takes_machines else {})}


def usual(argument, system):
    return ARGUMENTS[argument].reading.usual(system) if argument != "drag_allowance" else 30


def as_excel(value):
    """Return a Python value as the argument that Excel hands over: numbers as float."""
    if isinstance(value, list):
        rows = value if isinstance(value[0], list) else [[cell] for cell in value]
        return Cells(tuple(tuple(as_excel(cell) for cell in row) for row in rows))
    return float(value) if type(value) is int else value


# Values, against what is published or worked by hand

WORKED = [
    # ASTM F714 / AWWA C906 sizes and D3035 walls, as in the published tables of tests/data.
    ("PE_OD", ("IPS", "24"), 24.0, 0.0005),
    ("PE_OD", ("DIPS", "24"), 25.8, 0.0005),
    ("PE_OD", ("ISO", "110", "SI"), 110.0, 0.05),
    ("PE_OD", ("IPS", "24", "SI"), 609.6, 0.05),
    ("PE_OD", ("OD", "335 mm", "SI"), 335.0, 0),
    ("PE_WALL", ("IPS", 24, "DR 17"), 1.412, 0.0005),
    ("PE_WALL", ("ISO", "110", "SDR 11", "SI"), 10.0, 0.05),
    # Handbook of the trade: 4 in DR 11, mean ID 3.633 in and 2.29 lb/ft.
    ("PE_ID", ("IPS", 4, 11), 3.633, 0.0005),
    ("PE_WEIGHT", ("IPS", 4, 11), 2.29, 0.005),
    # 2.29 lb/ft is 2.29 x 0.45359 / 0.3048 = 3.41 kg/m.
    ("PE_WEIGHT", ("IPS", 4, 11, "SI"), 3.41, 0.008),
    # Chain rule: 20 sticks, 19 joints; two elbows 2 x 2, a tee 3, an adapter 1, a tie-in 1.
    ("PE_JOINTS", (1000, 50), 19, 0),
    ("PE_JOINTS", (1000, 50, 2, 1, 0, 0, 1, 1), 28, 0),
    ("PE_JOINTS", (1000, 50, 2, 1, 0, 0, 1, 1, "set at stick end"), 25, 0),
    # Segments 8, 5 and 2 sticks: 7 + 4 + 1.
    ("PE_JOINTS", ("380; 212; 95", 50), 12, 0),
    # ASTM F2620 bead by outside diameter: 6.625 in 3/16 in, 24 in 3/8 in (10 mm as printed).
    ("PE_BEAD", ("IPS", 6, 11), 0.1875, 1e-9),
    ("PE_BEAD", ("IPS", 24, 17), 0.375, 1e-9),
    ("PE_BEAD", ("IPS", 24, 17, "f2620", "SI"), 10.0, 0.5),
    # ASTM F2620: 4.5 min and 11 min per inch; 24 in DR 17 has 1.412 in.
    ("PE_SOAK", ("IPS", 24, 17), 6.354, 1e-9),
    ("PE_COOL", ("IPS", 24, 17), 15.532, 1e-9),
    # DVS 2207-1, 15 to 25 C: 7 mm 7.5 min, 12 mm 12 min, so 10 mm 10.2 min; soak 10 s per mm.
    ("PE_COOL", ("ISO", 110, 11, "dvs2207", 20, "SI"), 10.2, 1e-9),
    ("PE_SOAK", ("ISO", 110, 11, "dvs2207"), 100 / 60, 1e-9),
    # ASTM F2620 removal times: 15 s from 0.55 in, 20 s from 1.18 in.
    ("PE_OPEN_CLOSE", ("IPS", 8, 11), 15, 0),
    ("PE_OPEN_CLOSE", ("IPS", 24, 17), 20, 0),
    # Operator manuals print 338 psi for 8 in DR 11, 75 psi, 4.71 in2 and 30 psi drag.
    ("PE_GAUGE", ("IPS", 8, 11, 4.71, 30), 338, 0.5),
    ("PE_GAUGE", ("IPS", 8, 11, 4.71 * IN2_MM2, 30 * PSI_BAR, "f2620", "SI"), 338 * PSI_BAR, 0.04),
    # 30 / 0.83 + 6.354 + 15.532.
    ("PE_CYCLE", ("IPS", 24, 17, 30), 58.0306, 0.00005),
    ("PE_CYCLE", ("IPS", 24, 17, 30, "f2620", 70, "100%"), 51.886, 1e-9),
    # (600 - 95) / 55.5 = 9.1; 100 joints at 9 a shift are 12 shifts of 10 h and 3.5 people.
    ("PE_SHIFT_JOINTS", (55.5, 10, 95), 9, 0),
    ("PE_LABOR_HOURS", (100, 9, 10, 3.5), 420, 0),
    # 20 kg of aluminum from 20 C to 425 F (218.3 C) in 30 min:
    # 20 x 0.90 x 198.33 / 0.7 / 1800 = 2.833 kW.
    ("PE_HEATER_KW", (20, 30, "f2620", 20, "SI"), 2.8333, 0.00005),
    # The motor draws 5.6 / 0.85 = 6.588 kW, at the start three times that: 9.5 + 19.765 kW;
    # 1500 m takes 3 %, 50 C another 6 %.
    ("PE_GENERATOR_KW", (9.5, 0, 5.6), 29.2647, 0.00005),
    ("PE_GENERATOR_KW", (9.5, 0, 5.6, 1500, 50, 0.25, 3, "SI"), 29.264706 / 0.97 / 0.94, 0.00005),
    # Without a motor the margin rules: 10 x 1.25.
    ("PE_GENERATOR_KW", (10, 0, 0), 12.5, 1e-9),
    # Rates 1 : 3 : 9 of the trade: 29 calendar days are a four-week and a day.
    ("PE_RENTAL", (29, 100, 300, 900), 1000, 0),
    ("PE_RENTAL", (3, 100, 300, 900), 300, 0),
]
CASES = [pytest.param(*case, id=f"{case[0]}{case[1]}") for case in WORKED]


@pytest.mark.parametrize(("name", "arguments", "expected", "tolerance"), CASES)
def test_function_gives_the_published_value(name, arguments, expected, tolerance):
    assert function(name)(*arguments) == pytest.approx(expected, abs=tolerance)


@needs_xlwings
def test_excel_gets_the_published_values_too(excel):
    for name, arguments, expected, tolerance in WORKED:
        left_out = len(inspect.signature(function(name)).parameters) - len(arguments)
        given = (*map(as_excel, arguments), *[MISSING] * left_out)
        assert excel.call(name, *given) == pytest.approx(expected, abs=tolerance), name


# 24 in DR 17: face pi x (24 - 1.412) x 1.412 = 100.2 in2, at 90 psi 9,018 lbf. M4 ends at 22 in;
# M5 (10 in2) needs 902 psi and 30 psi drag, limit 2,000 psi; M6 and M7 cost more.
# 2 in DR 11 fits the cheapest class M1, by hand lever.
# 54 in DR 17: M7 ends at 52 in, M8 takes it, but not in a trench.
@pytest.mark.parametrize(
    ("size", "dr", "placement", "answer"),
    [
        (24, 17, "trench", "M5"),
        (2, 11, "trench", "M1"),
        (54, 17, "surface", "M8"),
        (54, 17, "trench", "no class fits; closest M8: not for trench work"),
        # 10.75 in DR 5: face pi x 8.6 x 2.15 = 58.1 in2; M3 (3.2 in2) would need 1,634 psi and the
        # drag, limit 1,500 psi; M4 (7 in2) needs 747 psi.
        (10, 5, "plant", "M4"),
    ],
)
def test_machine_by_hand(size, dr, placement, answer):
    assert function("PE_MACHINE")("IPS", size, dr, machines(), "f2620", placement) == answer


def test_machine_says_what_misses_where_the_force_is_too_small():
    # 12.75 in DR 7.3: t = 1.747 in, face pi x 11.003 x 1.747 = 60.4 in2; 90 psi / 3.2 in2 + 30 psi
    # = 1,728 psi, above the 1,500 psi of M3, the only class left in this table.
    only_m3 = [machines()[0], *(row for row in machines() if row[0] == "M3")]
    answer = function("PE_MACHINE")("IPS", 12, 7.3, only_m3)
    assert re.fullmatch(
        r"no class fits; closest M3: needs 1,72\d psi, max gauge pressure 1,500 psi", answer
    )


def test_machine_names_the_class_whose_range_ends_nearest():
    table = [row for row in machines() if row[0] in ("Class", "M1", "M4")]
    answer = function("PE_MACHINE")("IPS", 36, 17, table)
    assert answer == ("no class fits; closest M4: largest pipe 22 in, this pipe is 36 in")


def test_machine_table_may_be_in_si_units():
    # dn 315 SDR 11 by DVS 2207-1: M3 takes 110 to 355 mm and is the cheapest that does.
    assert function("PE_MACHINE")("ISO", 315, 11, machines("SI"), "dvs2207", units="SI") == "M3"


OD_CASES = read_cases("published/astm_awwa_iso_outside_diameters")
WALL_CASES = read_cases("published/astm_d3035_f714_minimum_walls")
WEIGHT_CASES = read_cases("arithmetic/pipe_weights")
PROCESS_CASES = read_cases("arithmetic/derived_process_times")


def column(cases, key):
    return [case[key] for case in cases]


def test_a_column_of_diameters_matches_the_published_tables():
    systems = [basis.split()[0] for basis in column(OD_CASES, "basis")]
    found = function("PE_OD")(systems, column(OD_CASES, "nominal_size"))
    assert found == pytest.approx([float(od) for od in column(OD_CASES, "od_in")], abs=0.00051)


@needs_xlwings
def test_a_column_of_walls_matches_astm_tables_in_excel(excel):
    given = [Cells.column(*column(WALL_CASES, k)) for k in ("basis", "nominal_size", "dr")]
    found = excel.call("PE_WALL", *given, MISSING)
    assert [len(row) for row in found] == [1] * len(WALL_CASES)
    walls = [float(wall) for wall in column(WALL_CASES, "min_wall_in")]
    assert [row[0] for row in found] == pytest.approx(walls, abs=1e-9)


@pytest.mark.parametrize(("unit", "system"), [("lb/ft", "US"), ("kg/m", "SI")])
def test_a_column_of_weights_matches_our_own_table(unit, system):
    cases = [case for case in WEIGHT_CASES if case["unit"] == unit]
    assert cases
    systems = [basis.split()[0] for basis in column(cases, "basis")]
    pipe = systems, column(cases, "nominal_size"), column(cases, "dr_or_sdr")
    weights = [float(weight) for weight in column(cases, "computed_weight")]
    assert function("PE_WEIGHT")(*pipe, system) == pytest.approx(weights, abs=0.00051)
    inside = [float(inch) for inch in column(cases, "mean_id_in")]
    assert function("PE_ID")(*pipe) == pytest.approx(inside, abs=0.00051)


def test_columns_of_times_match_the_derived_check_table():
    # Worked by hand from the two methods, printed to 0.1 min (0.1 in the wall is rounding).
    sizes, systems = zip(*(case["size"].split() for case in PROCESS_CASES), strict=True)
    pipe = list(systems), list(sizes), column(PROCESS_CASES, "DR")
    for key, found in {
        "soak_min_4.5perin": function("PE_SOAK")(*pipe),
        "cool_min_11perin": function("PE_COOL")(*pipe),
        "cool_min_DVS_15to25C": function("PE_COOL")(*pipe, "dvs2207"),
    }.items():
        printed = [float(value) for value in column(PROCESS_CASES, key)]
        assert found == pytest.approx(printed, abs=0.062), key


# One cell, a row, a column, a block


def test_the_result_has_the_shape_of_the_blocks():
    wall = function("PE_WALL")
    assert wall("IPS", "24", 17) == pytest.approx(1.412)
    assert wall("IPS", ["24", "8"], 17) == [wall("IPS", "24", 17), wall("IPS", "8", 17)]
    block = wall("IPS", [["24", "8"], ["6", "4"]], [[17, 17], [11, 11]])
    assert block == [wall("IPS", ["24", "8"], 17), wall("IPS", ["6", "4"], 11)]
    assert wall("IPS", ["24", "8"], [[17]]) == [[wall("IPS", "24", 17)], [wall("IPS", "8", 17)]]
    assert wall("IPS", [], 17) == [""]


@needs_xlwings
def test_excel_gets_rows_and_columns_in_their_shape(excel):
    across = excel.call("PE_OD", "IPS", Cells((("24", "8", "6"),)), MISSING)
    assert across == pytest.approx([24.0, 8.625, 6.625])
    down = excel.call("PE_OD", Cells.column("IPS"), Cells.column("24", "8"), MISSING)
    assert [cell for row in down for cell in row] == pytest.approx([24.0, 8.625])
    # An array that is worked out in the formula comes as values, not as a range.
    assert excel.call("PE_OD", (("IPS",), ("DIPS",)), 24.0, MISSING) == [[24.0], [25.8]]


def test_blocks_of_different_shape_are_refused_with_their_shapes():
    text = function("PE_WALL")("IPS", ["24", "8"], [17, 11, 9])
    assert text == (
        "Ranges must all have the same rows and columns. Found (rows x columns): "
        "size 2 x 1, dr 3 x 1"
    )


pipes = st.tuples(
    st.sampled_from(["IPS", "DIPS", "ISO", "PVC", None]),
    st.sampled_from(["8", 24, "110", 315.0, "9-9/9", "", None]),
    st.sampled_from([11, "SDR 17", 32.5, 99, "PN 10", None]),
)


@given(st.lists(pipes, min_size=1, max_size=12), st.sampled_from(SYSTEMS))
def test_a_column_is_answered_as_its_rows_one_by_one(rows, system):
    columns = [list(cells) for cells in zip(*rows, strict=True)]
    for name in ("PE_WALL", "PE_WEIGHT"):
        one_by_one = [function(name)(*row, system) for row in rows]
        assert function(name)(*columns, system) == one_by_one


# Blanks, error values, dates, truth values and other wrong input


@each(("known", "argument"), EVERY_ARGUMENT)
@each("blank", [None, "", "  "], ids=repr)
def test_a_blank_gives_a_blank_where_a_value_is_needed(known, argument, blank):
    values = good_values(known.name)
    values[argument] = [[blank]] if argument == "machines_range" else blank
    answer = function(known.name)(**values)
    optional = next(a.optional for a in known.arguments if a.name == argument)
    assert (answer == "") == (not optional)
    assert isinstance(answer, float | int | str)


@each("known", CATALOG, ids=lambda known: known.name)
def test_an_argument_left_out_is_one_left_blank(known):
    values = good_values(known.name)
    needed = {a.name: values[a.name] for a in known.arguments if not a.optional}
    left_blank = {a.name: needed.get(a.name) for a in known.arguments}
    answer = function(known.name)(**needed)
    assert answer == function(known.name)(**left_blank)
    assert answer != ""


@needs_xlwings
@each(("known", "argument"), EVERY_ARGUMENT)
def test_an_error_value_never_becomes_a_number_in_excel(excel, known, argument):
    values = {name: as_excel(value) for name, value in good_values(known.name).items()}
    for error, code in ERRORS.items():
        if argument == "machines_range":
            head, first, *others = values[argument].rows
            bad = Cells((head, (*first[:2], code, *first[3:]), *others))
        else:
            bad = Cells.column(code)
        answer = excel.call(known.name, *{**values, argument: bad}.values())
        text = error if error not in ("#SPILL!", "#CALC!") else "#..."
        assert answer.startswith(f"{argument}: ")
        assert f"The cell shows {text}. Fix the formula in that cell" in answer


@needs_xlwings
def test_an_error_value_inside_a_formula_is_reported_too(excel):
    answer = excel.call("PE_WALL", "IPS", ERRORS["#DIV/0!"], 17.0, MISSING)
    assert answer == "size: The cell shows #DIV/0!. Fix the formula in that cell"


@needs_xlwings
@each(("known", "argument"), EVERY_ARGUMENT)
def test_a_date_is_refused_in_excel(excel, known, argument):
    if argument == "machines_range":
        return
    values = {name: as_excel(value) for name, value in good_values(known.name).items()}
    answer = excel.call(known.name, *{**values, argument: Cells.column(TODAY)}.values())
    assert answer.startswith(f"{argument}: ")
    assert "the date 2027-03-04" in answer


@needs_xlwings
@each("truth", [True, False])
@each(("known", "argument"), EVERY_ARGUMENT)
def test_a_truth_value_is_refused_in_excel(excel, known, argument, truth):
    if argument == "machines_range":
        return
    values = {name: as_excel(value) for name, value in good_values(known.name).items()}
    excel.call(known.name, *{**values, argument: float(truth)}.values())  # equal, yet no answer
    answer = excel.call(known.name, *{**values, argument: truth}.values())
    assert answer == f"{argument}: {str(truth).upper()} is not a number or text"


@pytest.mark.parametrize(
    ("name", "arguments", "text"),
    [
        ("PE_WALL", ("IPS", "7-7/8", 17), r"size: '7-7/8' is not .*; nearest: .*"),
        ("PE_WALL", ("PVC", "8", 17), r"od_system: 'PVC' is not a choice .*: IPS, DIPS.*"),
        ("PE_WALL", ("IPS", "8", "PN 10"), r"dr: 'PN 10' is .*; a pressure class does not .*"),
        ("PE_WALL", ("IPS", "8", 0), r"dr: 0 is outside .* \(5 to 50\)"),
        ("PE_WALL", ("IPS", "8", 17, "metric"), r"units: 'metric' is not a choice .*: US, SI"),
        ("PE_OD", ("IPS", TODAY), r"size: the spreadsheet .*2027-03-04\. Type the size as text.*"),
        ("PE_COOL", ("IPS", 8, 11, "f2620", 200), r"ambient: 200 F is outside .* \(-49 to 131 F\)"),
        ("PE_COOL", ("IPS", 8, 11, "f2620", "20 C"), r"ambient: .* is in C, .* in F.*"),
        ("PE_COOL", ("IPS", 8, 11, "wet"), r"method: 'wet' is not a choice .*: f2620, .*"),
        ("PE_COOL", ("ISO", 110, 11, "dvs2207", 50, "SI"), r"ambient .* is 50, .*40 or less.*"),
        ("PE_COOL", ("ISO", 1600, 6, "dvs2207"), r"wall thickness .* is \d+.*"),
        ("PE_GAUGE", ("IPS", 8, 11, 0, 30), r"piston_area: 0 in2 is outside .*"),
        ("PE_CYCLE", ("IPS", 8, 11, -1), r"handling_minutes: -1 is outside .*\(0 to 14,400 min\)"),
        ("PE_CYCLE", ("IPS", 8, 11, 20, None, None, 83), r"efficiency: 83 is .*Type 83% or 0.83"),
        ("PE_SHIFT_JOINTS", (0, 10, 95), r"cycle_min: 0 is outside .*\(0\.01 to 14,400 min\)"),
        ("PE_SHIFT_JOINTS", (60, 10, 700), r"working time \(min\) is -100, .*0 or more.*"),
        ("PE_JOINTS", ("380, 212", 50), r"length: '380, 212' can be .*semicolons"),
        ("PE_JOINTS", (100, 0), r"stick_length: 0 is outside .*\(0\.1 to 100,000\)"),
        ("PE_JOINTS", (100, 12, 1.5), r"elbows: 1\.5 is not a whole number"),
        ("PE_LABOR_HOURS", (10.5, 9, 10, 3), r"joints: 10\.5 is not a whole number"),
        ("PE_LABOR_HOURS", (10, 0, 10, 3), r"joints_per_shift: 0 is outside .*\(0\.01 to .*"),
        ("PE_RENTAL", (0, 1, 3, 9), r"days: 0 is outside .*\(1 to 3,660\)"),
        ("PE_RENTAL", (4, "about 5", 3, 9), r"day_rate: 'about 5' is not a number"),
        ("PE_GENERATOR_KW", (1, 0, 0, 1e9), r"elevation: 1,000,000,000 ft is outside .*"),
        ("PE_OPEN_CLOSE", ("ISO", 110, 11, "iso21307-slp"), r"none given by the method"),
        ("PE_MACHINE", ("IPS", 24, 17, "Machines"), r".* Class: the column is missing.*"),
    ],
)  # fmt: skip
def test_wrong_input_gives_a_short_text(name, arguments, text):
    answer = function(name)(*arguments)
    assert re.fullmatch(text, answer)
    assert len(answer) <= NEVER_LONGER_THAN


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda t: t[1:], "A1, Class: the column is missing. Add a column with this header"),
        (
            lambda t: t[:1],
            "A1, Fusion machines for rent: the table is empty. Enter at least one row",
        ),
        (lambda t: with_cell(t, 3, "Min OD", "wide"), "C4, Min OD: 'wide' is not a number"),
        (
            lambda t: with_cell(t, 3, "Piston area", None),
            "F4, Piston area: The cell is blank. A hydraulic",
        ),
        (lambda t: with_cell(t, 3, "In stock", True), "V4, In stock: TRUE is not a number"),
        (
            lambda t: with_cell(t, 3, "Class", "M1"),
            "A4, Class: 'M1' is already used in",
        ),
    ],
    ids=["no header", "header only", "text", "no piston", "truth value", "class twice"],
)
def test_a_faulty_machine_table_is_reported_with_its_cell(change, text):
    answer = function("PE_MACHINE")("IPS", 24, 17, change(machines()))
    assert answer.startswith(f"machines_range: {text}")


def with_cell(table, row, header, value):
    changed = [list(cells) for cells in table]
    changed[row][table[0].index(header)] = value
    return changed


def test_machine_columns_may_stand_in_any_order_with_blank_rows_between():
    table = [list(reversed(row)) for row in machines()]
    table.insert(3, [None] * len(table[0]))
    assert function("PE_MACHINE")("IPS", 24, 17, table) == "M5"


def test_a_changed_machine_table_changes_the_answer():
    # M5 out of stock: M6 is the next dearer class that takes 24 in.
    table = machines()
    row = [cells[0] for cells in table].index("M5")
    assert function("PE_MACHINE")("IPS", 24, 17, table) == "M5"
    assert function("PE_MACHINE")("IPS", 24, 17, with_cell(table, row, "In stock", 0)) == "M6"


@needs_xlwings
def test_one_bad_row_leaves_the_others_alone_in_excel(excel):
    sizes = Cells.column("24", None, ERRORS["#REF!"], "7-7/8", TODAY, True, "24")
    answers = [row[0] for row in excel.call("PE_OD", "IPS", sizes, MISSING)]
    assert answers[0] == answers[-1] == pytest.approx(24.0)
    assert answers[1] == ""
    assert all(answer.startswith("size: ") for answer in answers[2:-1])


@needs_xlwings
def test_cells_in_a_currency_format_are_numbers(excel):
    # COM hands cells in a currency format over as decimals.
    rates = [Cells.column(Decimal(rate)) for rate in ("100", "300", "900")]
    assert excel.call("PE_RENTAL", Cells.column(29.0), *rates) == 1000.0
    table = as_excel([[Decimal(c) if type(c) is int else c for c in row] for row in machines()])
    assert excel.call("PE_MACHINE", "IPS", 24.0, 17.0, table, *[MISSING] * 4) == "M5"


anything = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12), st.dates(),
    st.datetimes(), st.times(), st.decimals(-1_000_000, 1_000_000, places=4),
    st.sampled_from([*ERRORS, *ERRORS.values()]),
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
@given(st.data())
def test_no_input_ever_raises_or_gives_a_number_that_is_none(name, data):
    values = good_values(name)
    for argument in data.draw(st.sets(st.sampled_from(sorted(values)), min_size=1)):
        values[argument] = data.draw(anything)
    answer = function(name)(**values)
    assert isinstance(answer, str) or math.isfinite(answer)
    assert not isinstance(answer, str) or len(answer) <= NEVER_LONGER_THAN


# Long columns


@needs_xlwings
@pytest.mark.parametrize("known", CATALOG, ids=lambda known: known.name)
def test_ten_thousand_rows_are_answered_row_by_row(excel, known):
    values = {name: as_excel(value) for name, value in good_values(known.name).items()}
    first = next(iter(values))
    others = list(values)[1:]
    needed = {a.name for a in known.arguments if not a.optional}
    for name in others:
        if name in needed and name != "machines_range":
            values[name] = Cells.column(*[values[name]] * 10_000)
    varied = [values[first]] * 10_000
    if isinstance(values[first], float):
        varied = [values[first] + row % 300 for row in range(10_000)]
    answers = excel.call(known.name, *{**values, first: Cells.column(*varied)}.values())
    assert len(answers) == 10_000
    one = function(known.name)(**{**good_values(known.name), first: varied[299]})
    assert answers[299] == [one]


# What Excel is reported about the functions


@pytest.fixture(scope="module")
def imported(excel):
    return excel.import_functions()


def vba_functions(text):
    """Return the lines of each function of a VBA module, without their indent."""
    found = {}
    for name, body in re.findall(r"^Function (\w+)(.*?)^End Function$", text, re.DOTALL | re.M):
        found[name] = [line.strip() for line in f"Function {name}{body}".splitlines()]
    return found


@needs_xlwings
def test_xlwings_writes_every_function_with_its_arguments(imported):
    written = vba_functions(imported.vba)
    assert sorted(written) == sorted(known.name for known in EVERY)
    wanted = (
        "Function PE_COOL(od_system, size, dr, Optional method, Optional ambient, Optional units)"
    )
    assert written["PE_COOL"][0] == wanted
    for known in EVERY:
        declared = written[known.name][0].partition("(")[2].rstrip(")").split(", ")
        assert declared == [f"{'Optional ' * a.optional}{a.name}" for a in known.arguments]
        assert any(f'XLPy.CallUDF("{MODULE}", "{known.name}"' in s for s in written[known.name])


@needs_xlwings
def test_the_function_wizard_is_reported_what_everything_means(imported):
    assert sorted(imported.options) == sorted(known.name for known in EVERY)
    for known in EVERY:
        options = imported.options[known.name]
        assert options["Description"] == known.description
        assert options["ArgumentDescriptions"] == [a.doc for a in known.arguments]
        assert options["Category"] == "Polyethylene fusion"
        for text in (options["Description"], *options["ArgumentDescriptions"]):
            assert 0 < len(text) <= NEVER_LONGER_THAN


@needs_xlwings
def test_our_module_calls_python_as_the_one_that_xlwings_writes(imported):
    ours, theirs = vba_functions(functions_vba.module_text()), vba_functions(imported.vba)
    first = f'Attribute VB_Name = "{functions_vba.NAME}"'
    assert functions_vba.module_text().splitlines()[0] == first == imported.vba.splitlines()[0]
    assert list(ours) == [known.name for known in EVERY]
    for name, lines in theirs.items():
        head, windows = lines[0], lines[2:5]  # between #If App = "Microsoft Excel" and #Else
        tail = lines[lines.index("failed:") :]
        assert windows[-1] == "Exit Function"
        mine = ours[name]
        assert mine[0] == head
        start = mine.index("#Else") + 1
        assert mine[start : start + 3] == windows
        assert mine[start + 3] == "#End If"
        assert mine[start + 4 :] == tail


def test_our_module_says_on_a_mac_why_there_is_no_result():
    for name, lines in vba_functions(functions_vba.module_text()).items():
        start = lines.index("#If Mac Then")
        assert lines[start + 1 : start + 3] == [
            f'{name} = "{functions_vba.ON_MAC}"',
            "Exit Function",
        ]
        assert lines[1] == f'Attribute {name}.VB_Description = "{description(name)}"'
        assert max(map(len, lines)) < 1000


def description(name):
    return next(known.description for known in EVERY if known.name == name)


# Help, page and sheet


def test_the_names_are_those_agreed():
    assert tuple(known.name for known in CATALOG) == NAMES


@each("name", sorted(ARGUMENTS))
def test_the_help_states_the_usual_value_that_counts(name):
    reading, doc = ARGUMENTS[name].reading, ARGUMENTS[name].doc
    optional = {a.optional for known in CATALOG for a in known.arguments if a.name == name}
    assert len(optional) == 1, "an argument is used, and optional everywhere or nowhere"
    stated = doc.partition("; blank: ")[2] if "; blank: " in doc else ""
    if not optional.pop():
        assert not stated
        return
    assert isinstance(reading, Like)
    (field,) = (f for f in fields(reading.table) if f.key == reading.key)
    usual_texts = [f"{field.default(s)} {unit(field, s)}".strip() for s in SYSTEMS]
    assert stated in (" or ".join(usual_texts), usual_texts[0])
    assert stated == usual_texts[0] or usual_texts[0] != usual_texts[1]


def unit(field, system):
    return field.unit_label(system) if field.quantity else ""


def test_the_help_names_the_choices_and_the_table():
    for name, argument in ARGUMENTS.items():
        if isinstance(argument.reading, Like):
            (field,) = (f for f in fields(argument.reading.table) if f.key == argument.reading.key)
            assert all(choice in argument.doc for choice in field.allowed), name
        elif isinstance(argument.reading, Number):
            assert argument.reading.low < argument.reading.high
    excel_name = next(t.excel_name for t in input_tables() if t.table == "machines")
    assert f"{excel_name}[#All]" in ARGUMENTS["machines_range"].doc


def test_the_page_of_the_docs_is_fresh_and_has_every_function():
    page = (ROOT / "docs" / "functions.md").read_text("utf-8")
    assert page == functions_page()
    for known in CATALOG:
        assert f"\n## {known.name}\n\n`{known.signature}`\n" in page
        assert f"\n- `={known.name}(" in page


@each("known", CATALOG, ids=lambda known: known.name)
def test_examples_hold_no_argument_that_is_not_there(known):
    from workbook_template.content import own_rows

    rows = [r["argument"] for r in own_rows("function_examples.csv") if r["function"] == known.name]
    names = [argument.name for argument in known.arguments]
    assert rows == [name for name in names if name in rows]
    assert {a.name for a in known.arguments if not a.optional} <= set(rows)


def functions_sheet(system):
    """Return the sheet as a reader without macros sees it: formulas, and saved results."""
    buffer = io.BytesIO()
    with Workbook(buffer, {"in_memory": True, "default_format_properties": dict(FONT)}) as book:
        add_functions_sheet(book, system, Styles(book, system))
    return (
        openpyxl.load_workbook(io.BytesIO(buffer.getvalue()), data_only=saved)[NAME]
        for saved in (False, True)
    )


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_sheet_has_a_live_example_of_every_function(system):
    formulas, results = functions_sheet(system)
    seen = []
    for (cell,) in formulas.iter_rows(max_col=1):
        if not hasattr(cell.value, "text"):
            continue
        name, given = re.fullmatch(r"=(PE_\w+)\((.*)\)", cell.value.text).groups()
        seen.append(name)
        arguments = [referred(results, text, system) for text in given.split(",")]
        answers = function(name)(*arguments)
        rows = results[cell.value.ref]
        cells = [rows] if not isinstance(rows, tuple) else [row[0] for row in rows]
        shown = [one.value for one in cells]
        assert shown == (answers if isinstance(answers, list) else [answers])
        assert "" not in shown
        headers = [c.value for c in results[cell.row - 1][1:]]
        assert [h.strip("[]") for h in headers if h] == names_of(name)
    assert tuple(seen) == (*NAMES, "PE_COOL")


def names_of(name):
    return list(inspect.signature(function(name)).parameters)


def referred(sheet, text, system):
    """Return what a reference of a formula points to: a value, or a column of values."""
    if text == "Machines[#All]":
        return machines(system)
    left, top, right, bottom = range_boundaries(text)
    assert left == right
    values = [sheet.cell(row, left).value for row in range(top, bottom + 1)]
    return values if len(values) > 1 else values[0]


def test_every_example_has_its_own_answer_in_either_system():
    for us, si in zip(examples("US"), examples("SI"), strict=True):
        assert not isinstance(us.result("US"), str) or us.function.name == "PE_MACHINE"
        assert us.formula.startswith(f"={us.function.name}(")
        assert ("SI" in si.values.values()) == ("units" in si.values)
    assert len(NOTES) == 2


def test_the_template_has_no_class_that_the_examples_lack():
    classes = {row["class_id"] for row in table_rows("machines", "US", None)}
    assert {row[0] for row in machines()[1:]} == classes


# The command


def test_the_command_shows_every_function_and_argument(capsys):
    assert run_command() == 0
    text = capsys.readouterr().out
    for known in CATALOG:
        flat = " ".join(text.split())
        assert known.signature in flat
        assert known.description in flat
        assert all(f"{a.name} " in flat and a.doc in flat for a in known.arguments)
    assert max(map(len, text.splitlines())) <= 96


def run_command(name=None):
    import argparse

    parser = argparse.ArgumentParser()
    add_options(parser)
    options = parser.parse_args([] if name is None else [name])
    return options.run(options)


@pytest.mark.parametrize("asked", ["PE_GAUGE", "gauge", "Pe_Gauge"])
def test_the_command_shows_one_function(asked, capsys):
    assert run_command(asked) == 0
    assert re.findall(r"PE_\w+", capsys.readouterr().out) == ["PE_GAUGE"]


def test_the_command_refuses_a_function_that_is_not_there():
    with pytest.raises(UnknownNameError, match=r"cell function 'mass' is not recognized.* PE_OD, "):
        run_command("mass")


# Import


def python(code):
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_importing_the_functions_reads_no_table_and_loads_nothing_heavy():
    code = (
        "import sys\n"
        "sys.modules['pandas'] = None  # xlwings loads it where it is there, and does without\n"
        "import estimator.excel.functions\n"
        "from estimator.standards import tables\n"
        "from estimator.inputs import dictionary\n"
        "heavy = {'lxml', 'python_calamine', 'xlsxwriter', 'openpyxl', 'pandas', 'matplotlib'}\n"
        "ours = {'estimator.api', 'estimator.files', 'estimator.pipeline', 'workbook_template'}\n"
        "read = tables.load.cache_info().currsize + dictionary.fields.cache_info().currsize\n"
        "print(sorted(name for name in heavy | ours if sys.modules.get(name)), read)\n"
    )
    assert python(code) == "[] 0"


def test_without_xlwings_the_functions_are_plain_python():
    code = (
        "import sys\n"
        "sys.modules['xlwings'] = None\n"
        "from estimator.excel.functions import PE_OD, catalog\n"
        "print(PE_OD('IPS', '24'), len(catalog()))\n"
    )
    assert python(code) == f"24.0 {len(NAMES)}"


def test_the_stand_ins_for_windows_stay_out_of_this_process():
    assert "pythoncom" not in sys.modules
    assert not hasattr(function("PE_OD"), "__xlfunc__")
