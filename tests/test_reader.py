"""Whole input workbooks, tidy and messy, as files into jobs; every file here is a real one."""

import datetime as dt
import io
import random
import re
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimator.errors import InputError, WorkbookError
from estimator.inputs.column import measured_kind, usual_unit
from estimator.inputs.dictionary import fields, input_tables
from estimator.models.job_inputs import GROUPS
from estimator.models.rates import MoneyRate
from estimator.units import from_si, to_si
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests import office
from tests.workbook_factory import Formula, Styled, WorkbookFactory, us_tables

TABLES = [table for table in input_tables() if table.form == "table"]


def read(factory):
    return parse_job(FileSource(factory.build()))


def problems(factory):
    with pytest.raises(InputError, match=r".+: .+") as caught:
        read(factory)
    return [str(problem) for problem in caught.value.problems]


def warnings(factory):
    return [str(problem) for problem in read(factory).warnings]


def flat(value, path=""):
    """Yield every leaf of nested dicts and sequences with its path."""
    if isinstance(value, dict | list | tuple):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        for key, item in items:
            yield from flat(item, f"{path}.{key}")
    else:
        yield path, value


def assert_same_job(job, other):
    """Compare every value; numbers may differ in the last digits by unit conversion."""
    expected = dict(flat(job.model_dump()))
    found = dict(flat(other.model_dump()))
    assert found == {
        path: pytest.approx(value, rel=1e-12) if isinstance(value, float) else value
        for path, value in expected.items()
    }


@pytest.fixture(scope="module")
def tidy():
    return read(WorkbookFactory())


def test_a_tidy_us_job_is_read_in_si(tidy):
    first, second = tidy.job.runs
    assert (first.run_id, first.size, first.dr, first.material) == ("R1", "8", 11.0, "PE4710")
    assert first.length == (pytest.approx(304.8),)
    assert first.stick_length_m == pytest.approx(15.24)
    assert (first.elbows, first.tees, first.reducers, first.reduce_to) == (2, 0, 1, "6")
    assert first.pipe_price == MoneyRate(amount=21.5, per="ft")
    assert second.length == pytest.approx((115.824, 64.6176, 28.956))
    assert (second.dr, second.string_length_m) == (17.0, pytest.approx(121.92))
    assert second.earliest_start == dt.date(2027, 4, 12)
    assert second.pipe_price is None
    assert tidy.job.site.ambient_c == pytest.approx(21.1111, abs=1e-4)
    assert (tidy.job.shift.shift_hours, tidy.job.shift.startup_min, tidy.job.shift.efficiency) == (
        10.0,
        45.0,
        0.83,
    )
    assert (tidy.job.dates.start, tidy.job.dates.deadline) == (
        dt.date(2027, 3, 1),
        dt.date(2027, 9, 30),
    )
    lever, hydraulic = tidy.job.machines
    assert (lever.self_powered, lever.piston_area_mm2, lever.placements) == (False, None, ("any",))
    assert hydraulic.self_powered
    assert hydraulic.placements == ("trench", "surface")
    assert hydraulic.od_max_mm == pytest.approx(355.6)
    assert hydraulic.fuel_rate_l_h == pytest.approx(3.02833, abs=1e-5)
    assert tidy.job.rates.fuel_price == MoneyRate(amount=4.2, per="gal")
    assert [row.band for row in tidy.job.size_bands] == list("ABCDE")
    assert tidy.job.holidays[0].date == dt.date(2027, 7, 5)
    assert len(tidy.job.weather) == 12
    assert tidy.warnings == ()


def test_places_name_every_cell_and_column(tidy):
    factory = WorkbookFactory()
    places = tidy.places
    assert places.where("schedule", "R2", "dr") == factory.where("schedule", "dr", 1)
    assert places.where("job", "", "start") == factory.where("job", "start")
    assert places.cell("cold_factors", "10", "factor") is None
    assert places.cell("task_times", "Log", "min_b") == "'Task times'!$K$8"
    assert places.cell("holidays", "2027-07-05", "holiday") == "'Calendar'!$B$7"
    assert places.columns["schedule", "segments_m"] == "'Pipe schedule'!$G$7:$G$8"
    assert places.columns["rates", "fuel_price"] == "'Rates'!$B$3"
    runs = sum(len(fields(table.table)) for table in input_tables() if table.form != "table")
    rows = sum(len(fields(t.table)) * len(us_tables()[t.table]) for t in TABLES)
    assert len(places.cells) == len(list(places.cells)) == runs + rows
    assert all(places.cells[place] for place in places.cells)


def in_si(factory):
    """The same job with SI unit rows; the results stay in US units."""
    for table in input_tables():
        if table.form == "table":
            targets = factory.tables[table.table]
        else:
            targets = [factory.named[table.table]]
        for field in fields(table.table):
            if not measured_kind(field) or field.kind == "money":
                continue
            old, new = usual_unit(field, "US"), usual_unit(field, "SI")
            new = {"min": "h", "h": "min"}.get(new, new)
            factory.units[table.table, field.key] = new
            for values in targets:
                values[field.key] = converted(values.get(field.key), old, new)
    return factory


def converted(value, old, new):
    if value is None:
        return None
    if isinstance(value, str):
        return "; ".join(repr(converted(float(v), old, new)) for v in value.split(";"))
    return from_si(to_si(value, old), new)


def test_a_unit_row_in_the_other_system_gives_the_same_job(tidy):
    parsed = read(in_si(WorkbookFactory()))
    assert_same_job(tidy.job, parsed.job)
    assert parsed.warnings == ()


def test_money_keeps_the_unit_it_is_given_in():
    factory = WorkbookFactory(units={("schedule", "pipe_price"): "EUR/m"})
    assert read(factory).job.runs[0].pipe_price == MoneyRate(amount=21.5, per="m")


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_any_order_of_columns_gives_the_same_job(tidy, random_source):
    factory = WorkbookFactory()
    for table in TABLES:
        keys = factory.keys(table.table)
        random_source.shuffle(keys)
        factory.columns[table.table] = keys
    assert read(factory).job == tidy.job


VALUES = (
    st.none()
    | st.text(st.characters(min_codepoint=32, max_codepoint=0x2100), max_size=12)
    | st.integers(-(10**9), 10**9)
    | st.floats(-1e12, 1e12, allow_nan=False)
    | st.booleans()
    | st.dates(dt.date(1900, 3, 1), dt.date(2199, 1, 1))
)
CELLS = [(t.table, f.key) for t in input_tables() for f in fields(t.table)]


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(CELLS), VALUES, min_size=1, max_size=12))
def test_any_values_give_a_job_or_problems_with_their_places(changes):
    factory = WorkbookFactory()
    for (table, key), value in changes.items():
        factory.set(table, key, value)
    try:
        job = read(factory).job
    except InputError as error:
        for problem in error.problems:
            assert re.fullmatch(r"[A-Z][a-z ]+![A-Z]+[0-9]+", problem.where)
            assert re.match(r".+: .+", problem.message)
    else:
        assert job.runs


def test_a_messy_layout_gives_the_same_job(tidy):
    factory = WorkbookFactory(
        sheet_names={"Job": "The job's facts", "Pipe schedule": "Takeoff", "Rates": "Prices & c."},
        sheet_order=("Rates", "Risk inputs", "Calendar", "Pipe schedule", "Task times", "Crew",
                     "Lifting", "Generators", "Machines", "Job", "Scenarios", "Material prices",
                     "Other costs", "Fitting prices"),
        shift=(7, 3),
        merged_titles=True,
        totals={"schedule", "crew"},
        headers={"dr": " dr  OR\nsdr ", "od_system": "OD SYSTEM", "min_a": "band  a"},
        options={"date_1904": True},
    )  # fmt: skip
    factory.tables["schedule"].insert(1, {})
    factory.tables["schedule"].append({"run_id": "   "})
    parsed = read(factory)
    assert parsed.job == tidy.job
    assert parsed.warnings == ()
    assert parsed.places.where("schedule", "R2", "dr") == factory.where("schedule", "dr", 2)
    assert parsed.places.columns["schedule", "run_id"] == "'Takeoff'!$D$14:$D$17"
    assert parsed.places.cell("job", "", "start").startswith("'The job''s facts'!$E$")


def test_messy_values_give_the_same_job(tidy):
    factory = WorkbookFactory()
    changes = {
        ("schedule", "od_system", 0): " ips ",
        ("schedule", "size", 0): 8.0,
        ("schedule", "dr", 0): " DR\u00a011",
        ("schedule", "segments_m", 0): "1,000 ft",
        ("schedule", "stick_length_m", 0): "50'",
        ("schedule", "placement", 0): "Trench\u00a0",
        ("schedule", "elbows", 0): "2",
        ("schedule", "reduce_to", 0): '6"',
        ("schedule", "pipe_price", 0): "$21.50",
        ("schedule", "size", 1): "DN 110",
        ("schedule", "segments_m", 1): "380 ft;212 ft ; 95",
        ("schedule", "earliest_start", 1): "2027-04-12",
        ("machines", "self_powered", 0): False,
        ("machines", "self_powered", 1): "Y",
        ("machines", "placements", 1): "Surface, TRENCH",
        ("crew", "burden", 0): "42%",
        ("crew", "burden", 1): Styled(0.42, "0%"),
        ("holidays", "date", 0): 46573,
        ("job", "ambient_c", 0): "70 \u00b0F",
        ("job", "start", 0): dt.datetime(2027, 3, 1, 7, 30),
        ("job", "method", 0): "F2620",
        ("job", "efficiency", 0): "83 %",
    }
    for (table, key, row), value in changes.items():
        factory.set(table, key, value, row)
    job = read(factory).job
    machines = job.machines
    assert machines[1].placements == ("surface", "trench")
    reordered = machines[1].model_copy(update={"placements": tidy.job.machines[1].placements})
    assert job.model_copy(update={"machines": (machines[0], reordered)}) == tidy.job


def test_a_bare_serial_number_in_a_1904_workbook_is_read_by_its_own_calendar():
    factory = WorkbookFactory(options={"date_1904": True})
    factory.set("holidays", "date", 46573 - 1462)
    assert read(factory).job.holidays[0].date == dt.date(2027, 7, 5)


def test_missing_optional_columns_and_blanks_take_the_defaults():
    dropped = ("material", "elbows", "access_factor", "crew", "basis", "description")
    factory = WorkbookFactory()
    factory.columns["schedule"] = [k for k in factory.keys("schedule") if k not in dropped]
    factory.columns["job"] = [k for k in factory.keys("job") if k not in ("deadline",)]
    factory.set("schedule", "reducers", "  ")
    parsed = read(factory)
    run = parsed.job.runs[1]
    assert (run.material, run.elbows, run.access_factor, run.crew) == ("PE4710", 0, 1.0, None)
    assert parsed.job.runs[0].reducers == 0
    assert parsed.job.dates.deadline is None
    assert ("schedule", "elbows") not in parsed.places.columns
    assert parsed.places.cell("schedule", "R1", "elbows") is None
    assert parsed.places.where("schedule", "R1", "elbows") == "R1"


def test_si_defaults_hold_in_an_si_job():
    factory = in_si(WorkbookFactory()).set("job", "unit_system", "si")
    assert read(factory).job.runs[0].material == "PE100"


def test_missing_required_columns_are_named_at_the_header():
    factory = WorkbookFactory()
    factory.columns["schedule"] = [
        key for key in factory.keys("schedule") if key not in ("dr", "segments_m")
    ]
    where = factory.where("schedule", "run_id", -1)
    assert problems(factory) == [
        f"{where}: DR or SDR: the column is missing. Add a column with this header",
        f"{where}: Length: the column is missing. Add a column with this header",
    ]


def test_extra_columns_give_one_warning():
    factory = WorkbookFactory()
    factory.columns["schedule"] = ["Zone", *factory.keys("schedule"), "Notes"]
    where = factory.where("schedule", "Zone", -1)
    assert warnings(factory) == [(f"{where}: The estimate does not use these columns: Zone, Notes")]


def test_the_same_header_twice_is_an_error():
    factory = WorkbookFactory()
    factory.columns["schedule"] = [*factory.keys("schedule"), "L ength"]
    assert problems(factory) == [
        f"{factory.where('schedule', 'L ength', -1)}: Length: this header is already used at "
        f"{factory.where('schedule', 'segments_m', -1)}. Keep one"
    ]


def test_hidden_rows_count_and_give_one_warning(tidy):
    factory = WorkbookFactory(hidden_rows={"weather": {1, 3, 4}, "schedule": {1}})
    parsed = read(factory)
    assert parsed.job == tidy.job
    assert [str(problem) for problem in parsed.warnings] == [
        f"{factory.where('schedule', 'run_id', 1)}: 1 hidden row is included (row 8)",
        f"{factory.where('weather', 'month', 1)}: 3 hidden rows are included (rows 8, 10, 11)",
    ]


def test_an_empty_unit_cell_falls_back_with_a_warning(tidy):
    factory = WorkbookFactory(units={
        ("schedule", "segments_m"): None, ("job", "drag_mpa"): "", ("rates", "fuel_price"): None,
        ("crew", "burden"): None, ("machines", "stock"): None, ("machines", "day_rate"): None,
    })  # fmt: skip
    parsed = read(factory)
    assert parsed.job == tidy.job
    unit_of_drag = factory.where("job", "drag_mpa").replace("!B", "!C")
    unit_of_fuel = factory.where("rates", "fuel_price").replace("!B", "!C")
    assert [str(problem) for problem in parsed.warnings] == [
        f"{unit_of_drag}: Drag pressure allowance: the unit cell is blank. Read as psi",
        f"{factory.where('schedule', 'segments_m', -2)}: Length: the unit cell is blank. "
        "Read as ft",
        f"{unit_of_fuel}: Diesel fuel: the unit cell is blank. Read as gal",
    ]


def test_wrong_units_are_errors_at_their_cells():
    factory = WorkbookFactory(units={
        ("schedule", "segments_m"): "furlong", ("machines", "od_max_mm"): "psi",
        ("crew", "wage"): "$/day", ("job", "elevation_m"): Formula("=NA()", "#N/A"),
        ("rates", "fuel_price"): Formula('="$/gal"'),
    })  # fmt: skip
    beside = {
        table: factory.where(table, key).replace("!B", "!C")
        for table, key in (("job", "elevation_m"), ("rates", "fuel_price"))
    }
    assert problems(factory) == [
        (
            f"{beside['job']}: Site elevation: The unit cell: The cell shows #N/A. Fix the "
            "formula in that cell. The usual unit is ft"
        ),
        (
            f"{factory.where('schedule', 'segments_m', -2)}: "
            "Length: 'furlong' is not a unit for this "
            "column. Use m, ft"
        ),
        (
            f"{factory.where('machines', 'od_max_mm', -2)}: Max OD: 'psi' is not a unit for this "
            "column. Use mm, in"
        ),
        (
            f"{factory.where('crew', 'wage', -2)}: Wage: '$/day' is not a unit for this price. "
            "Use a price per h"
        ),
        f"{beside['rates']}: Diesel fuel: The unit cell: The formula has no saved result. Open "
        "the file in a spreadsheet program, let it calculate, and save it. The usual unit is "
        "$/gal",
    ]


def test_headers_in_the_first_row_have_no_unit_row():
    data = WorkbookFactory().build()
    book = openpyxl.load_workbook(io.BytesIO(data))
    sheet = book["Lifting"]
    sheet.delete_rows(1, 5)
    sheet.tables["Lifting"].ref = "A1:K2"
    parsed = parse_job(FileSource(saved(book)))
    assert parsed.job.lifting == parse_job(FileSource(data)).job.lifting
    assert [str(problem) for problem in parsed.warnings] == [
        "Lifting!C1: Capacity: the unit cell is blank. Read as lb",
        "Lifting!D1: Fuel while running: the unit cell is blank. Read as gal/h",
        "Lifting!J1: Shipping weight: the unit cell is blank. Read as lb",
    ]


def test_formulas_with_saved_results_are_read(tidy):
    factory = WorkbookFactory()
    factory.set("schedule", "segments_m", Formula("=500+500", 1000))
    factory.set("schedule", "od_system", Formula('="IPS"', "IPS"))
    factory.set("machines", "self_powered", Formula("=1=2", False))
    assert read(factory).job == tidy.job


def test_formulas_without_saved_results_and_errors_are_named():
    factory = WorkbookFactory()
    factory.set("schedule", "segments_m", Formula("=500+500"))
    factory.set("schedule", "tees", Formula("=A1"), 1)
    factory.set("machines", "od_max_mm", Formula("=1/0", "#DIV/0!"))
    factory.set("job", "start", Formula("=Nowhere!A1", "#REF!"))
    factory.set("job", "prepared_by", Formula("=NA()", "#N/A"))
    never = (
        "The formula has no saved result. Open the file in a spreadsheet program, let it "
        "calculate, and save it"
    )
    assert problems(factory) == [
        (
            f"{factory.where('job', 'start')}: Start date: The cell shows #REF!. Fix the formula "
            "in that cell"
        ),
        (
            f"{factory.where('job', 'prepared_by')}: Prepared by: The cell shows #N/A. Fix the "
            "formula in that cell"
        ),
        f"{factory.where('schedule', 'segments_m')}: Length: {never}",
        f"{factory.where('schedule', 'tees', 1)}: Tees: {never}",
        (
            f"{factory.where('machines', 'od_max_mm')}: Max OD: The cell shows #DIV/0!. Fix the "
            "formula in that cell"
        ),
    ]


def test_every_problem_is_reported_at_once_in_the_order_of_the_sheets():
    factory = WorkbookFactory(sheet_names={"Pipe schedule": "Aaa"}, left_out={"lifting"})
    faults = {
        ("weather", "lost_share", 3): 95,
        ("rates", "profit", 0): "lots",
        ("schedule", "size", 1): "foo",
        ("schedule", "od_system", 0): "XPS",
        ("schedule", "run_id", 1): "r1",
        ("schedule", "segments_m", 0): None,
        ("machines", "stock", 1): 1.5,
        ("task_times", "hidden", 1): "perhaps",
        ("size_bands", "od_to_mm", 0): -5,
        ("job", "method", 0): "glue",
        ("job", "estimate_date", 0): "yesterday",
    }
    for (table, key, row), value in faults.items():
        factory.set(table, key, value, row)
    found = problems(factory)
    assert [problem.partition(": ")[0] for problem in found] == [
        factory.where("job", "estimate_date"),
        factory.where("job", "method"),
        factory.where("schedule", "od_system"),
        factory.where("schedule", "segments_m"),
        factory.where("schedule", "run_id", 1),
        factory.where("schedule", "size", 1),
        factory.where("machines", "stock", 1),
        "Lifting",
        factory.where("size_bands", "od_to_mm"),
        factory.where("task_times", "hidden", 1),
        factory.where("weather", "lost_share", 3),
        factory.where("rates", "profit"),
    ]
    assert f"{factory.where('schedule', 'run_id', 1)}: Run: 'r1' is already used in " in found[4]
    assert "Size: 'foo' is not a listed size. ISO sizes run from 16 to 2500" in found[5]


def test_a_missing_table_and_a_missing_name_are_named():
    factory = WorkbookFactory(left_out={"generators"})
    factory.columns["rates"] = [key for key in factory.keys("rates") if key != "profit"]
    assert problems(factory) == [
        "Generators: The Excel table Generators (Generators for rent) is missing. Add a "
        "table with that name and its unit row above the headers",
        "Rates: Profit: no cell is named rate_profit. Define that name for one cell",
    ]


def test_a_workbook_of_something_else_is_reported_in_a_few_lines():
    book = openpyxl.Workbook()
    book.active["A1"] = "Shopping"
    with pytest.raises(InputError, match="Job: This sheet has none of its named cells") as caught:
        parse_job(FileSource(saved(book)))
    assert len(caught.value.problems) == sum(t.needed for t in input_tables())


def test_a_workbook_without_ranges_is_read_without_complaint(tidy):
    parsed = read(WorkbookFactory(left_out={"risk"}))
    assert parsed.job.risk_ranges == ()
    assert parsed.warnings == tidy.warnings
    assert [span.factor for span in tidy.job.risk_ranges] == ["productivity", "wages"]


def test_a_table_that_became_a_range_is_read_with_a_warning(tidy):
    factory = WorkbookFactory(ranges={"size_bands", "schedule"})
    parsed = read(factory)
    assert parsed.job == tidy.job
    assert [str(problem) for problem in parsed.warnings] == [
        "Pipe schedule!A6: The Excel table Pipe_schedule is missing. The cells from here to "
        "row 8 were read instead",
        "Task times!A6: The Excel table Size_bands is missing. The cells from here to row 11 "
        "were read instead",
    ]


def test_a_range_with_a_gap_is_refused_because_rows_would_be_lost():
    factory = WorkbookFactory(ranges={"schedule"})
    factory.tables["schedule"].insert(1, {})
    assert problems(factory)[0].startswith("Pipe schedule: The Excel table Pipe_schedule")


def test_a_range_without_all_required_headers_is_no_table():
    factory = WorkbookFactory(ranges={"lifting"}, headers={"capacity_kg": "Strength"})
    assert problems(factory)[0].startswith("Lifting: The Excel table Lifting")


CROSS_CHECKS = [
    ("machines", "class_id", 1, {"class_id": "m1"}, "Class: 'm1' is already used in Machines!A7"),
    ("crew", "role", 1, {"role": "OPERATOR"}, "Role: 'OPERATOR' is already used in Crew!A7"),
    ("size_bands", "band", 1, {"band": "A"}, "Band: 'A' is already used in Task times!A7"),
    ("weather", "month", 1, {"month": "Jan"}, "Month: 'Jan' is already used in Calendar!E7"),
    ("size_bands", "od_to_mm", 2, {"od_to_mm": 12}, "Max OD: 12 in is not above 13 in in the row"),
    ("cold_factors", "from_c", 1, {"from_c": -50}, "Ambient from: -50 F is not above -50 F"),
    ("job", "deadline", 0, {"deadline": dt.date(2027, 2, 1)},
     "Deadline: the date 2027-02-01 is before the start date (2027-03-01)"),
    ("job", "straight_hours", 0, {"straight_hours": 12},
     "Straight time per shift: 12 h is longer than the shift length (10 h)"),
    ("job", "startup_min", 0, {"startup_min": 240, "wrapup_min": 240, "breaks_min": 120},
     "Daily startup: Startup, wrap-up and breaks take 600 min and leave no time in a shift of "
     "600 min"),
    ("schedule", "reduce_to", 0, {"reduce_to": None},
     "Reduce to: The cell is blank. Enter the smaller size of the 1 reducer"),
    ("schedule", "reduce_to", 0, {"reduce_to": "10"},
     "Reduce to: '10' is not smaller than the run's 8"),
    ("schedule", "reduce_to", 0, {"reduce_to": 9}, "Reduce to: 9 is not a listed size. IPS"),
    ("schedule", "dr", 0, {"dr": 60}, "DR or SDR: 60 is outside the allowed range (5 to 50)"),
    ("schedule", "dr", 1, {"size": "16", "dr": 41}, "DR or SDR: calculated metric wall"),
    ("schedule", "string_length_m", 1, {"string_length_m": 30},
     "String length: 30 ft is shorter than one stick or coil (40 ft)"),
    ("schedule", "crew", 1, {"crew": 2}, "Crew: 2 is above the 1 crew on the Job sheet"),
    ("machines", "od_min_mm", 0, {"od_min_mm": 5}, "Min OD: 5 in is above Max OD (4.5 in)"),
    ("machines", "min_gauge_mpa", 1, {"min_gauge_mpa": 600, "max_gauge_mpa": 500},
     "Min readable gauge: 600 psi is above Max gauge pressure (500 psi)"),
    ("machines", "piston_area_mm2", 1, {"piston_area_mm2": None},
     "Piston area: The cell is blank. A hydraulic machine needs a value"),
    ("machines", "max_gauge_mpa", 1, {"max_gauge_mpa": None},
     "Max gauge pressure: The cell is blank. A hydraulic machine needs a value"),
    ("machines", "fuel_rate_l_h", 1, {"fuel_rate_l_h": None},
     "Fuel while running: The cell is blank. A machine with onboard power needs a value"),
    ("generators", "fuel_full_l_h", 0, {"fuel_full_l_h": 0.5},
     "Fuel at full load: 0.5 gal/h is below the fuel at half load (0.75 gal/h)"),
    ("generators", "fuel_quarter_l_h", 0, {"fuel_quarter_l_h": 0.9},
     "Fuel at quarter load: 0.9 gal/h is above the fuel at half load (0.75 gal/h)"),
    ("machines", "motor_letter", 0, {"motor_letter": "V"},
     "Motor code letter: 'V' is not a choice for this cell. Use one of: A, B"),
    ("schedule", "size", 0, {"size": dt.date(2027, 3, 4)},
     "Size: the spreadsheet turned"),
    ("schedule", "segments_m", 0, {"segments_m": "12 m"},
     "Length: '12 m' is in m, but this column is in ft. Convert it, or change the unit cell"),
    ("schedule", "stick_length_m", 0, {"stick_length_m": 5000},
     "Stick or coil length: 5,000 ft is outside the allowed range (3.281 to 3,280 ft)"),
    ("risk", "low", 0, {"low": 1.1}, "Low: 1.1 is above Most likely (1)"),
    ("risk", "likely", 1, {"likely": 1.2}, "Most likely: 1.2 is above High (1.1)"),
    ("risk", "factor", 1, {"factor": "productivity"}, "Factor: 'productivity' is already used"),
]  # fmt: skip


@pytest.mark.parametrize(("table", "key", "row", "changes", "message"), CROSS_CHECKS)
def test_inputs_that_contradict_each_other_are_reported_at_their_cell(
    table, key, row, changes, message
):
    factory = WorkbookFactory()
    for changed, value in changes.items():
        factory.set(table, changed, value, row)
    found = problems(factory)
    expected = f"{factory.where(table, key, row)}: {message}"
    assert any(problem.startswith(expected) for problem in found), found


def test_an_empty_schedule_and_other_empty_tables_are_errors():
    factory = WorkbookFactory()
    factory.tables.update({"schedule": [], "crew": [{}], "holidays": [], "lifting": []})
    assert problems(factory) == [
        "Pipe schedule!A6: Pipe schedule: the table is empty. Enter at least one row",
        "Crew!A6: Crew: the table is empty. Enter at least one row",
    ]


def test_a_fleet_without_stock_is_an_error():
    factory = WorkbookFactory().set("machines", "stock", 0).set("machines", "stock", 0, 1)
    where = factory.where("machines", "stock")
    assert problems(factory) == [
        f"{where}: In stock: Every class has 0 in stock. Enter 1 or more for at least one class"
    ]


def test_missing_months_are_named():
    factory = WorkbookFactory()
    del factory.tables["weather"][10:]
    assert problems(factory) == [
        f"{factory.where('weather', 'month', -1)}: Month: The table has 10 of 12 months. "
        f"Add Nov, Dec"
    ]


def test_doubtful_rates_and_dates_are_warnings():
    factory = WorkbookFactory()
    factory.set("job", "start", dt.date(2026, 12, 1))
    factory.set("machines", "week_rate", 90)
    factory.set("generators", "week_rate", 600)
    factory.set("lifting", "four_week_rate", 5000)
    assert warnings(factory) == [
        f"{factory.where('job', 'start')}: Start date: the date 2026-12-01 is before the "
        f"estimate date (2027-01-04)",
        f"{factory.where('machines', 'week_rate')}: Week rate: 90 is below the Day rate (95), so "
        f"the Day rate is never the cheaper one. Check both rates",
        f"{factory.where('machines', 'four_week_rate')}: 4-week rate: 855 is more than 4 x the "
        f"Week rate (90), so the 4-week rate is never the cheaper one. Check both rates",
        f"{factory.where('generators', 'week_rate')}: Week rate: 600 is more than 7 x the Day rate "
        f"(80), so the Week rate is never the cheaper one. Check both rates",
        f"{factory.where('lifting', 'four_week_rate')}: 4-week rate: 5,000 is more than 4 x the "
        f"Week rate (930), so the 4-week rate is never the cheaper one. Check both rates",
    ]  # fmt: skip


def saved(book):
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_file_that_openpyxl_wrote_reads_the_same(tidy):
    factory = WorkbookFactory(merged_titles=True, hidden_rows={"weather": {2}})
    again = parse_job(FileSource(saved(openpyxl.load_workbook(io.BytesIO(factory.build())))))
    assert again.job == tidy.job
    assert dict(again.places.cells) == dict(tidy.places.cells)
    assert len(again.warnings) == 1


def test_formulas_that_openpyxl_wrote_were_never_calculated():
    book = openpyxl.load_workbook(io.BytesIO(WorkbookFactory().build()))
    book["Pipe schedule"]["G7"] = "=500+500"
    deadline = book.defined_names["job_deadline"].attr_text.rpartition("!")[2].replace("$", "")
    book["Job"][deadline] = "=TODAY()+200"
    text = rf"Job!{deadline}: Deadline: The formula has no.*\n.*schedule!G7"
    with pytest.raises(InputError, match=text):
        parse_job(FileSource(saved(book)))


def test_tables_and_names_are_found_in_any_case():
    source = FileSource(WorkbookFactory().build())
    assert source.table("PIPE_schedule") == source.table("Pipe_schedule") is not None
    assert source.named_cell("JOB_START") == source.named_cell("job_start") is not None
    assert source.table("No_such_table") is None
    assert source.named_cell("no_such_name") is None


def test_rich_text_and_inline_text_are_read_as_text():
    factory = WorkbookFactory()
    book = openpyxl.load_workbook(io.BytesIO(factory.build()))
    bold = openpyxl.cell.text.InlineFont(b=True)
    blocks = openpyxl.cell.rich_text.CellRichText
    book["Pipe schedule"]["B7"] = blocks(
        "From ", openpyxl.cell.rich_text.TextBlock(bold, "node 1"), " to 2"
    )
    data = saved(book)
    assert parse_job(FileSource(data)).job.runs[0].description == "From node 1 to 2"
    part = "xl/worksheets/sheet2.xml"
    xml = zipfile.ZipFile(io.BytesIO(data)).read(part).decode()
    cell = re.search(r'<c r="B7"[^>]*?(?:/>|>.*?</c>)', xml)
    inline = '<c r="B7" t="inlineStr"><is><r><t>In</t></r><r><t>line</t></r></is></c>'
    changed = xml.replace(cell[0], inline)
    assert parse_job(FileSource(with_part(data, part, changed))).job.runs[0].description == "Inline"


def with_part(data, part, xml):
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            new.writestr(name, xml if name == part else old.read(name))
    return stream.getvalue()


def test_shared_formulas_are_read_and_their_missing_results_are_seen():
    data = WorkbookFactory().build()
    part = "xl/worksheets/sheet2.xml"
    xml = zipfile.ZipFile(io.BytesIO(data)).read(part).decode()
    first = re.search(r'<c r="H7"[^>]*><v>50</v></c>', xml)[0]
    second = re.search(r'<c r="H8"[^>]*><v>40</v></c>', xml)[0]
    xml = xml.replace(first, '<c r="H7"><f t="shared" ref="H7:H8" si="0">20+30</f><v>50</v></c>')
    kept = xml.replace(second, '<c r="H8"><f t="shared" si="0"/><v>50</v></c>')
    runs = parse_job(FileSource(with_part(data, part, kept))).job.runs
    assert [run.stick_length_m for run in runs] == pytest.approx([15.24, 15.24])
    lost = xml.replace(second, '<c r="H8"><f t="shared" si="0"/></c>')
    with pytest.raises(
        InputError, match="Pipe schedule!H8: Stick or coil length: The formula has no"
    ):
        parse_job(FileSource(with_part(data, part, lost)))


def test_a_merged_named_cell_has_its_unit_right_of_the_merged_cells(tidy):
    book = openpyxl.load_workbook(io.BytesIO(WorkbookFactory().build()))
    sheet = book["Job"]
    row = next(cell.row for cell in sheet["A"] if cell.value == "Drag pressure allowance")
    sheet.cell(row, 4).value, sheet.cell(row, 3).value = "bar", None
    sheet.cell(row, 2).value = 2
    sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=3)
    book.defined_names["job_drag_mpa"].attr_text = f"Job!$B${row}:$C${row}"
    parsed = parse_job(FileSource(saved(book)))
    assert parsed.job.fusion.drag_mpa == pytest.approx(0.2)
    assert parsed.places.cell("job", "", "drag_mpa") == f"'Job'!$B${row}"


def test_a_header_row_that_is_switched_off_still_names_its_columns(tidy):
    book = openpyxl.load_workbook(io.BytesIO(WorkbookFactory().build()))
    sheet = book["Lifting"]
    table = sheet.tables["Lifting"]
    table.headerRowCount, table.ref, table.autoFilter = 0, "A7:J7", None
    for cell in sheet[6]:
        cell.value = None
    assert parse_job(FileSource(saved(book))).job.lifting == tidy.job.lifting


def test_names_that_point_nowhere_or_at_several_cells_are_missing():
    book = openpyxl.load_workbook(io.BytesIO(WorkbookFactory().build()))
    book.defined_names["job_drag_mpa"].attr_text = "#REF!"
    book.defined_names["job_crews"].attr_text = "Job!$B$20:$B$21"
    with pytest.raises(
        InputError, match=r"no cell is named job_crews.*\n.*no cell is named job_drag_mpa"
    ):
        parse_job(FileSource(saved(book)))


def test_a_cell_far_away_from_the_inputs_is_refused_before_memory_runs_out():
    book = openpyxl.load_workbook(io.BytesIO(WorkbookFactory().build()))
    book["Crew"]["XFD1048576"] = "stray"
    with pytest.raises(WorkbookError, match="Crew: cells are in use as far as XFD1048576"):
        parse_job(FileSource(saved(book)))


@pytest.mark.parametrize(
    "broken", ["<worksheet><sheetData>", '<worksheet><row r="x"/></worksheet>']
)
def test_a_damaged_sheet_is_refused(broken):
    data = with_part(WorkbookFactory().build(), "xl/worksheets/sheet2.xml", broken)
    with pytest.raises(WorkbookError, match="The file is damaged in one of its sheets"):
        parse_job(FileSource(data))


def test_other_files_are_refused():
    with pytest.raises(WorkbookError, match=r"not an \.xlsx or \.xlsm workbook"):
        FileSource(b"Run,Size\nR1,8\n")


def test_a_file_that_libreoffice_saved_reads_the_same(tidy, tmp_path):
    factory = WorkbookFactory(merged_titles=True, hidden_rows={"weather": {2}})
    factory.set("schedule", "segments_m", Formula("=500+500", 1000))
    factory.set("crew", "burden", Styled(0.42, "0%"))
    mine, theirs = tmp_path / "mine.xlsx", tmp_path / "theirs.xlsx"
    mine.write_bytes(factory.build())
    office.convert(mine, theirs)
    again = parse_job(FileSource(theirs.read_bytes()))
    assert_same_job(tidy.job, again.job)
    assert dict(again.places.cells) == dict(tidy.places.cells)
    assert [str(problem) for problem in again.warnings] == [
        "Calendar!E9: 1 hidden row is included (row 9)"
    ]


def test_ten_thousand_runs_are_read():
    factory = WorkbookFactory()
    rows = factory.tables["schedule"]
    numbers = random.Random(5)
    factory.tables["schedule"] = [
        {**rows[n % 2], "run_id": f"R{n}", "segments_m": numbers.randint(100, 9000)}
        for n in range(10_000)
    ]
    parsed = read(factory)
    assert len(parsed.job.runs) == 10_000
    last = factory.tables["schedule"][-1]
    assert parsed.job.runs[-1].length_m == pytest.approx(last["segments_m"] * 0.3048)


def test_every_input_of_the_job_sheet_stands_in_one_group():
    grouped = [key for group in GROUPS.values() for key in group.model_fields]
    assert sorted(grouped) == sorted(field.key for field in fields("job"))


def test_an_unknown_item_of_material_prices_is_an_error_at_its_cell():
    factory = WorkbookFactory()
    factory.tables["material_prices"].append({"what": "wipes", "price_a": 3})
    (found,) = problems(factory)
    assert found.startswith("Material prices!A8: Item: 'wipes' is not a choice for this cell. ")
    assert "butt joint consumables" in found
