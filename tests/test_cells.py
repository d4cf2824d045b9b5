"""Cell values as people type them; expected values are worked out by hand from the text."""

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import EstimatorError
from estimator.inputs.column import Column, allowed_range, usual_unit
from estimator.inputs.dictionary import fields, input_tables, squeeze
from estimator.inputs.trade_units import written
from estimator.models.kinds import CONNECTIONS, CONSUMABLES, TRIAL_FUSIONS
from estimator.models.rates import MoneyRate
from estimator.units import UNITS
from estimator.workbook.read.cells import (
    CellError,
    to_amount,
    to_choice,
    to_choices,
    to_count,
    to_date,
    to_number,
    to_ratio,
    to_segments,
    to_share,
    to_text,
    to_yes_no,
)
from estimator.workbook.read.columns import column_unit, default_value, read_value
from estimator.workbook.read.size_text import to_size
from estimator.workbook.read.unit_text import ALIASES, unit_label
from tests.each import each

ALL_FIELDS = [field for table in input_tables() for field in fields(table.table)]


def the(table: str, key: str):
    return next(field for field in fields(table) if field.key == key)


@pytest.mark.parametrize(
    ("value", "unit", "number"),
    [
        (1250, "", 1250.0),
        ("1,250", "", 1250.0),
        ("1,250,000.5", "", 1250000.5),
        ("1 250", "", 1250.0),
        ("1\u00a0250", "", 1250.0),
        ("1\u202f250\u00a0m", "m", 1250.0),
        ("1\u2009250", "", 1250.0),
        ("  -3.5 ", "", -3.5),
        ("\u22123.5", "", -3.5),
        ("+7", "", 7.0),
        (".5", "", 0.5),
        ("5.", "", 5.0),
        ('24"', "in", 24.0),
        ("24 in", "in", 24.0),
        ("24 in.", "in", 24.0),
        ("24\u2033", "in", 24.0),
        ("24 INCHES", "in", 24.0),
        ("50'", "ft", 50.0),
        ("1,250.5 ft", "ft", 1250.5),
        ("70 \u00b0F", "F", 70.0),
        ("2 gal / h", "gal/h", 2.0),
        ("4.7 sq in", "in2", 4.7),
    ],
)
def test_to_number_reads_what_people_type(value, unit, number):
    assert to_number(value, unit) == number


@pytest.mark.parametrize("text", ["1,25", "0,125", "12,5000", "1.250,5", "1,250,00", "1, 250"])
def test_to_number_refuses_a_comma_that_can_be_read_in_two_ways(text):
    with pytest.raises(CellError, match="can be read two ways"):
        to_number(text)


@pytest.mark.parametrize(
    ("value", "unit", "message"),
    [
        (
            "24 in",
            "ft",
            ("'24 in' is in in, but this column is in ft. Convert it, or change the unit cell"),
        ),
        (
            "15%",
            "ft",
            ("'15%' is in %, but this column is in ft. Convert it, or change the unit cell"),
        ),
        ("24 in", "", "'24 in' has a unit. Enter the number alone"),
        ("24 cubits", "ft", r"'24 cubits' is not a number. Enter a number in ft"),
        ("1-1/4", "in", r"'1-1/4' is not a number. Enter a number in in"),
        ("twelve", "", "'twelve' is not a number"),
        ("1 25", "", "'1 25' is not a number"),
        ("", "", "'' is not a number"),
        (".", "", r"'\.' is not a number"),
        (True, "", "TRUE is not a number"),
        (None, "", "a blank cell is not a number"),
        (math.inf, "", "inf is not a number"),
        (dt.date(2027, 3, 4), "", "the date 2027-03-04 is not a number"),
        (dt.time(8, 30), "h", "the time 08:30:00 is not a number"),
        ("9" * 400, "", r"'9{37}\.\.\.' is not a number"),
    ],
)
def test_to_number_says_what_it_got_and_what_is_allowed(value, unit, message):
    with pytest.raises(CellError, match=f"^{message}$"):
        to_number(value, unit)


@given(st.text(), st.sampled_from(["", *UNITS]))
def test_to_number_returns_a_finite_number_or_says_why_not(text, unit):
    try:
        number = to_number(text, unit)
    except CellError:
        return
    assert math.isfinite(number)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e15, max_value=1e15))
def test_to_number_reads_back_any_number_written_with_grouping(number):
    text = f"{number:,.6f}"
    assert to_number(text) == float(text.replace(",", ""))
    assert to_number(text.replace(",", "\u202f")) == float(text.replace(",", ""))


@given(st.sampled_from(ALL_FIELDS), st.text() | st.floats() | st.booleans() | st.dates())
def test_no_value_makes_any_kind_of_field_crash(field, value):
    column = Column(field, usual_unit(field, "US"))
    try:
        found = read_value(value, column, {"od_system": "IPS"})
    except EstimatorError:
        return
    assert found is not None


@pytest.mark.parametrize(
    ("value", "share"), [(0.15, 0.15), ("15%", 0.15), ("15 %", 0.15), ("0.15", 0.15), (0, 0.0)]
)
def test_to_share_reads_fractions_and_percent_signs(value, share):
    assert to_share(value) == pytest.approx(share, rel=1e-15)


def test_a_percent_typed_as_a_plain_number_is_refused_with_a_hint():
    rework = Column(the("job", "rework_share"), "%")
    with pytest.raises(CellError, match=r"15 is outside .*\(0% to 20%\)\. Type 15% or 0.15$"):
        read_value(15, rework, {})
    with pytest.raises(CellError, match=r"85 is outside the allowed range \(0% to 20%\)$"):
        read_value(85, rework, {})
    with pytest.raises(CellError, match=r"'30%' is outside .* \(0% to 20%\)$"):
        read_value("30%", rework, {})


def test_to_amount_drops_a_currency_sign():
    assert to_amount("$1,250.50") == 1250.5
    assert to_amount("\u20ac 12") == 12.0


def test_to_count_takes_whole_numbers_only():
    assert (to_count(3.0), to_count("12")) == (3, 12)
    with pytest.raises(CellError, match=r"2.5 is not a whole number"):
        to_count(2.5)


def test_to_segments_splits_at_semicolons_only():
    assert to_segments("380; 212;95 ft;", "ft") == (380.0, 212.0, 95.0)
    assert to_segments(1000.0, "ft") == (1000.0,)
    assert to_segments("14 x 60", "ft") == (60.0,) * 14
    assert to_segments("2 X 60 ft; 3 \u00d7 12.5", "ft") == (60.0, 60.0, 12.5, 12.5, 12.5)
    assert to_segments("700 + 1450", "ft") == (700.0, 1450.0)
    for wrong in ("0 x 60", "2000 x 60", "3 x", "x 60", "2.5 x 60"):
        with pytest.raises(CellError):
            to_segments(wrong, "ft")
    with pytest.raises(CellError, match=r"^'0 x 60': enter 1 to 1,000 equal segments\. Separate"):
        to_segments("0 x 60", "ft")
    with pytest.raises(CellError, match=r"groups of three digits\. Separate segments"):
        to_segments("380, 212", "ft")
    with pytest.raises(CellError, match="'' is not a number"):
        to_segments("380;;95", "ft")


@pytest.mark.parametrize(
    "value",
    [
        dt.date(2027, 3, 15),
        dt.datetime(2027, 3, 15, 7, 30),
        "2027-03-15",
        " 2027-3-15 ",
        "2027-03-15 00:00:00",
        46461,
        46461.0,
    ],
)
def test_to_date_reads_dates_iso_text_and_serial_numbers(value):
    # 46461 days after 1899-12-30; 2027-01-01 is 46388 in every spreadsheet program
    assert to_date(value) == dt.date(2027, 3, 15)


def test_to_date_counts_serial_numbers_of_1904_workbooks_from_1904():
    # the two systems lie 1462 days apart
    assert to_date(46461 - 1462, dates_1904=True) == dt.date(2027, 3, 15)


@pytest.mark.parametrize(
    "value",
    ["03/04/2027", "2027-02-30", "soon", 15, 1e12, -4, True, dt.date(1900, 1, 5), dt.time(8)],
)
def test_to_date_refuses_what_is_no_plausible_date(value):
    with pytest.raises(CellError, match="Enter a date such as 2027-03-15, from 1990 to 2099"):
        to_date(value)


@pytest.mark.parametrize("value", ["yes", " YES ", "y", "true", True])
def test_to_yes_no_reads_yes(value):
    assert to_yes_no(value) is True


@pytest.mark.parametrize("value", ["no", "N", "False", False])
def test_to_yes_no_reads_no(value):
    assert to_yes_no(value) is False


def test_to_yes_no_refuses_the_rest():
    with pytest.raises(CellError, match="'maybe' is not yes or no"):
        to_yes_no("maybe")


def test_to_choice_ignores_case_spaces_and_long_dashes():
    allowed = ("cut in mid-stick", "set at stick end")
    assert to_choice(" Cut  in MID\u2013stick\u00a0", allowed) == "cut in mid-stick"
    with pytest.raises(CellError, match="Use one of: cut in mid-stick, set at stick end"):
        to_choice("foo", allowed)


def test_to_choices_reads_several_once():
    allowed = ("any", "trench", "pullback")
    assert to_choices("Trench; PULLBACK, trench", allowed) == ("trench", "pullback")
    with pytest.raises(CellError, match=r"'moon' is not a choice .*: any, trench, pullback"):
        to_choices("trench; moon", allowed)


def test_to_text_writes_numbers_and_dates_as_they_look():
    values = (" A1 ", 101.0, 2.5, dt.date(2027, 3, 4), True)
    assert [to_text(value) for value in values] == ["A1", "101", "2.5", "2027-03-04", "TRUE"]


@pytest.mark.parametrize(
    ("value", "od_system", "size"),
    [
        (8.0, "IPS", "8"),
        (8, "DIPS", "8"),
        (1.25, "IPS", "1-1/4"),
        (0.75, "CTS", "3/4"),
        ('24"', "IPS", "24"),
        ("24\u201d", "IPS", "24"),
        ("24 in.", "IPS", "24"),
        ("24 inches", "IPS", "24"),
        ("1 1/4", "IPS", "1-1/4"),
        ("1-1/4", "IPS", "1-1/4"),
        ("1\u20131/4", "IPS", "1-1/4"),
        ('8" IPS', "IPS", "8"),
        ("DN110", "ISO", "110"),
        ("dn 110", "ISO", "110"),
        ("110 mm", "ISO", "110"),
    ],
)
def test_to_size_returns_the_spelling_of_the_tables(value, od_system, size):
    assert to_size(value, od_system) == size


def test_to_size_names_the_nearest_sizes():
    with pytest.raises(
        CellError, match=r"9 is not a listed size\. IPS sizes run from 1/2 to 65; nearest: 7, 8, 10"
    ):
        to_size(9, "IPS")
    with pytest.raises(
        CellError, match=r"'foo' is not a listed size. IPS sizes run from 1/2 to 65$"
    ):
        to_size("foo", "IPS")
    with pytest.raises(CellError, match=r"'DN 20' is not a listed size\. IPS sizes"):
        to_size("DN 20", "IPS")
    with pytest.raises(
        CellError, match=r"'8 in' is not a listed size\. ISO sizes run from 16 to 2500"
    ):
        to_size("8 in", "ISO")


def test_to_size_explains_a_size_that_became_a_date():
    with pytest.raises(CellError, match=r"into the date 2027-03-04\. Type the size as text"):
        to_size(dt.date(2027, 3, 4), "IPS")


@pytest.mark.parametrize(
    ("value", "ratio"), [(11, 11.0), ("DR 11", 11.0), ("sdr\u00a017", 17.0), ("S 8", 17.0)]
)
def test_to_ratio_reads_every_way_to_state_a_wall(value, ratio):
    assert to_ratio(value) == ratio


def test_to_ratio_refuses_a_pressure_class_with_the_reason():
    with pytest.raises(EstimatorError, match="a pressure class does not give the wall"):
        to_ratio("PN 10")


def test_unit_label_knows_every_label_and_alias():
    for label in UNITS:
        assert unit_label(f" {label.upper()} ") == label
    for label, others in ALIASES.items():
        assert {unit_label(other) for other in others} == {label}
        assert all(other == squeeze(other) for other in others)
    assert unit_label("furlong") is None


@pytest.mark.parametrize(
    ("table", "key", "text", "unit"),
    [
        ("schedule", "segments_m", "m", "m"),
        ("schedule", "segments_m", "Feet", "ft"),
        ("schedule", "pipe_price", "USD / m", "m"),
        ("rates", "fuel_price", "$/liter", "L"),
        ("machines", "four_week_rate", "EUR/4 Weeks", "4 weeks"),
        ("machines", "max_gauge_mpa", "kPa", "kPa"),
        ("machines", "stock", "-", ""),
        ("crew", "wage", "$/hr", "h"),
        ("crew", "wage", "$/h", "h"),
        ("rates", "test_joint_cost", "$/EA", "test"),
        ("rates", "test_joint_cost", "$/test", "test"),
        ("rates", "hydro_equipment", "$/EA", "test section"),
        ("rates", "mobilization", "$/LS", "lump sum"),
        ("rates", "mobilization", "$/lump sum", "lump sum"),
        ("rates", "site_overhead", "$/workday", "work day"),
        ("rates", "site_overhead", "$/work day", "work day"),
        ("material_prices", "price_a", "$/EA", "each"),
        ("material_prices", "price_a", "$/each", "each"),
        ("generators", "fuel_full_l_h", "gal/hr", "gal/h"),
        ("crew", "burden", "%", "%"),
        ("job", "breaks_min", "hours", "h"),
        ("schedule", "size", "whatever", ""),
    ],
)
def test_column_unit_reads_the_unit_row(table, key, text, unit):
    assert column_unit(the(table, key), text) == unit


def test_cells_write_units_as_the_trade_does():
    """Both spellings are read (above), so a workbook from before reads as it did."""
    kinds = (CONSUMABLES, TRIAL_FUSIONS, *(kind.counted_item for kind in CONNECTIONS))
    pieces = {item.unit for item in kinds} - {CONSUMABLES.unit}
    assert {written(unit, "US") for unit in pieces} == {"EA"}
    for table, key, us, si in (
        ("crew", "wage", "$/hr", "$/h"), ("job", "shift_hours", "hr", "h"),
        ("machines", "fuel_rate_l_h", "gal/hr", "L/h"), ("rates", "mobilization", "$/LS", "$/LS"),
        ("rates", "saddle_cost", "$/EA", "$/EA"), ("material_prices", "price_b", "$/EA", "$/EA"),
        ("schedule", "pipe_price", "$/ft", "$/m"),
        ("rates", "site_overhead", "$/workday", "$/workday"),
    ):  # fmt: skip
        assert [the(table, key).unit_text(system) for system in ("US", "SI")] == [us, si]


@pytest.mark.parametrize(
    ("table", "key", "text", "message"),
    [
        ("schedule", "segments_m", "furlong", "'furlong' is not a unit for this column. Use m, ft"),
        ("schedule", "segments_m", "in", "'in' is not a unit for this column. Use m, ft"),
        ("machines", "od_max_mm", "ft", "'ft' is not a unit for this column. Use mm, in"),
        (
            "schedule",
            "pipe_price",
            "$/in",
            r"'\$/in' is not a unit for this price. Use a price per m, ft",
        ),
        (
            "schedule",
            "pipe_price",
            "$",
            r"'\$' is not a unit for this price. Use a price per m, ft",
        ),
        (
            "machines",
            "day_rate",
            "$/week",
            r"'\$/week' is not a unit for this price. Use a price per day",
        ),
        (
            "schedule",
            "access_factor",
            "%",
            "'%' is not a unit for this column. Use none: leave the cell blank",
        ),
        ("job", "crews", "h", "'h' is not a unit for this column. Use none: leave the cell blank"),
        ("crew", "burden", "$", r"'\$' is not a unit for this column. Use %"),
    ],
)
def test_column_unit_refuses_unknown_and_wrong_units(table, key, text, message):
    with pytest.raises(CellError, match=f"^{message}$"):
        column_unit(the(table, key), text)


def test_values_are_held_in_si_and_times_in_their_own_unit():
    # 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 psi = 0.006894757 MPa (NIST SP 811, appendix B)
    assert read_value(1000, Column(the("schedule", "stick_length_m"), "ft"), {}) == 304.8
    assert read_value("14 in", Column(the("machines", "od_max_mm"), "in"), {}) == pytest.approx(
        355.6
    )
    drag = read_value(30, Column(the("job", "drag_mpa"), "psi"), {})
    assert drag == pytest.approx(30 * 0.006894757, rel=1e-7)
    assert read_value(0.75, Column(the("job", "startup_min"), "h"), {}) == 45.0
    assert read_value(600, Column(the("job", "shift_hours"), "min"), {}) == 10.0
    assert read_value(45.1, Column(the("job", "startup_min"), "min"), {}) == 45.1
    price = read_value("$21.50", Column(the("schedule", "pipe_price"), "ft"), {})
    assert price == MoneyRate(amount=21.5, per="ft")


def test_limits_are_shown_in_the_unit_of_the_column_and_rounded_inwards():
    stick = Column(the("schedule", "stick_length_m"), "ft")
    with pytest.raises(CellError, match=r"5,000 ft is outside .* \(3.281 to 3,280 ft\)"):
        read_value(5000, stick, {})
    assert read_value(3.281, stick, {}) == pytest.approx(1.0000488)
    assert read_value(3280, stick, {}) == pytest.approx(999.744)
    assert allowed_range(Column(the("job", "drag_mpa"), "bar")) == "0 to 50 bar"
    assert allowed_range(Column(the("job", "startup_min"), "h")) == "0 to 4 h"


def test_a_limit_in_another_unit_can_be_typed_exactly():
    # -76 F is -60 C, the lower limit; the conversion leaves a rest in the last digit
    cold = Column(the("cold_factors", "from_c"), "F")
    assert read_value(-76, cold, {}) == pytest.approx(-60.0)


@each("field", ALL_FIELDS, ids=lambda f: f"{f.table}.{f.key}")
@each("system", ["US", "SI"])
def test_every_default_of_the_dictionary_can_be_read(field, system):
    value = default_value(field, system)
    assert (value is None) == (field.default(system) == "")


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_usual_unit_is_the_one_that_the_unit_row_names(system):
    for field in ALL_FIELDS:
        assert usual_unit(field, system) == column_unit(field, field.unit_label(system)), field
