"""What people type in takeoffs: every spelling that the issue names, and what must always hold."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import EstimatorError
from estimator.takeoff import typed, words
from estimator.takeoff.typed import Measured
from estimator.workbook.read.cells import CellError
from tests.each import each

WHOLE = st.integers(min_value=0, max_value=99_999)
TENTHS = st.integers(min_value=1, max_value=999_999).map(lambda n: n / 10)


@each("text", ["-", "\u2013", "\u2014", "n/a", "N/A", "NA", "none", " nil ", "", None])
def test_nothing_is_nothing(text):
    assert typed.is_nothing(text)


@each("text", ["0", "x", "HDD", "TBD", 0, "nano"])
def test_something_is_something(text):
    assert not typed.is_nothing(text)


@each("word", ["", " ea", " EA", " each", " pcs", " pc.", " no.", "ea"])
def test_a_count_takes_any_word_for_a_piece(word):
    assert typed.to_count(f"8{word}") == 8


@given(WHOLE)
def test_a_count_comes_back_from_each_spelling(number):
    for text in (number, float(number), f"{number} ea", f"({number})", f"{number:,} pcs"):
        assert typed.to_count(text) == number


@each("text", ["2.5 ea", "8 ft", "eight", "-3", "1,5 ea"])
def test_what_is_no_count_is_refused(text):
    with pytest.raises(CellError):
        typed.to_count(text)


# By hand: 40 ft, 40 ft 6 in = 40.5 ft, 3/4 in = 0.0625 ft.
@each("text, number, unit", [
    ("40'-0\"", 40, "ft"), ("40'", 40, "ft"), ("40'-6\"", 40.5, "ft"), ("40 ft 6 in", 40.5, "ft"),
    ("40'-0 3/4\"", 40.0625, "ft"), ("731.5 m", 731.5, "m"), ("1,450 LF", 1450, "ft"),
    ("1450 lin. ft.", 1450, "ft"), ("1450 L.F.", 1450, "ft"), ("95", 95, ""), (95.5, 95.5, ""),
    ("1 450 lm", 1450, "m"),
])  # fmt: skip
def test_a_length_with_its_unit(text, number, unit):
    assert typed.to_measured(text) == Measured(number, unit)


@each("text", ["40 in2", "95 furlongs", "eight", "731,5 m", "12 kg", "40'-"])
def test_what_is_no_length_is_refused(text):
    with pytest.raises(CellError):
        typed.to_measured(text)


@given(TENTHS, st.sampled_from(["ft", "m", "LF", "'", " feet", " meters"]))
def test_a_length_comes_back_with_any_unit(number, unit):
    found = typed.to_measured(f"{number}{unit}")
    assert found.number == pytest.approx(number)
    assert found.unit == ("m" if unit.strip().startswith("m") else "ft")


@given(st.lists(TENTHS, min_size=1, max_size=6), st.sampled_from([" + ", "; ", ";"]))
def test_lengths_added_up_are_its_segments(lengths, sign):
    found = typed.to_lengths(sign.join(str(one) for one in lengths))
    assert [one.number for one in found] == pytest.approx(lengths)


@given(st.integers(min_value=1, max_value=200), TENTHS)
def test_equal_lengths_are_as_many(number, length):
    assert typed.to_lengths(f"{number} x {length}") == (Measured(length),) * number


def test_a_unit_typed_once_holds_for_all_lengths():
    assert typed.to_lengths("700 + 1450 ft") == (Measured(700, "ft"), Measured(1450, "ft"))


@each("text", ["10+00", "700+14", "Sta. 3+050"])
def test_a_station_is_no_sum_of_lengths(text):
    with pytest.raises(CellError, match="station"):
        typed.to_lengths(text)


# By hand: station 12+50 is 12 x 100 + 50 ft; 3+050 is 3 x 1000 + 50 m.
@each("text, distance", [
    ("12+50", 1250), ("12+50.25", 1250.25), ("3+050", 3050), ("Sta. 0+10", 10),
])  # fmt: skip
def test_stations(text, distance):
    assert typed.to_station(text) == distance


@each("text, number, said", [
    ("500 coil", 500, "coil"), ("coil of 500 ft", 500, "coil"), ("40' sticks", 40, "stick"),
    ("50 ft jts", 50, "stick"), (50, 50, ""), ("12 m", 12, ""),
])  # fmt: skip
def test_sticks_and_coils(text, number, said):
    measured, kind = typed.to_stick(text)
    assert (measured.number, kind) == (number, said)


@each("text, amount, unit", [
    ("42.00/ft", 42, "ft"), ("$42.00 / LF", 42, "ft"), ("1,042.5 per m", 1042.5, "m"), (42, 42, ""),
])  # fmt: skip
def test_prices(text, amount, unit):
    assert typed.to_price(text) == Measured(amount, unit)


@each("text", ["42/ea", "42/ft/day", "on request"])
def test_what_is_no_price_per_length_is_refused(text):
    with pytest.raises(CellError):
        typed.to_price(text)


# By hand: a price of 1 per ft is 1 / 0.3048 per m.
def test_a_length_in_another_unit():
    assert Measured(100, "ft").within("m") == pytest.approx(30.48)
    assert Measured(100).within("m") == 100


@each("text, size", [
    ('12" DR 17 HDPE', "12 in"), ("12-inch", "12 in"), ("1 1/4 in ell", "1 1/4 in"),
    ("DN 315 bend", "315"), ("PE 100 d 315 mm", "315 mm"), ("45 bend", None),
    ("90 ell, 8 ea", None),
])  # fmt: skip
def test_the_size_in_a_text(text, size):
    assert typed.size_in(text) == size


@each("text, ratio", [
    ("DR 17", 17), ("12 in SDR-13.5 pipe", 13.5), ("DR 17 to DR 11", None), ("PC 160", None),
])  # fmt: skip
def test_the_wall_in_a_text(text, ratio):
    assert typed.ratio_in(text) == ratio


@each("text, number", [
    ("12 in 90 ell, 8 ea", 8), ("(2) 45 bends", 2), ("12 in 90 ell", None), ("3 x tee", 3),
])  # fmt: skip
def test_the_count_in_a_text(text, number):
    assert typed.count_in(text) == number


@given(st.integers(min_value=0, max_value=999), st.integers(min_value=0, max_value=99))
def test_a_comma_before_decimals_becomes_a_point(whole, part):
    text = f"{whole},{part:02}"
    assert typed.has_comma_decimals(text)
    assert float(typed.with_points(text)) == pytest.approx(whole + part / 100)


READERS = (
    typed.to_count, typed.to_lengths, typed.to_stick, typed.to_price, typed.to_ratio,
    typed.to_station,
)  # fmt: skip


@given(st.text(max_size=30) | st.text(alphabet="0123456789+-x'\"/., ftme", max_size=12))
def test_any_text_is_read_or_refused_in_words(text):
    for read in READERS:
        with contextlib.suppress(EstimatorError):
            assert read(text) is not None


@each("read, value, found", [
    (typed.to_measured, "40' 1/2\"", Measured(40 + 0.5 / 12, "ft")),
    (typed.to_measured, "40 ft.", Measured(40, "ft")),
    (typed.to_measured, "12 m.", Measured(12, "m")),
    (typed.to_ratio, "12 in SDR-17", 17.0), (typed.to_ratio, "17", 17.0), (typed.to_ratio, 17, 17),
    (typed.to_size, 12.0, "12"), (typed.to_size, "12\u00a0in", "12 in"),
    (typed.has_comma_decimals, "1.450,500", True), (typed.has_comma_decimals, "1,450", False),
    (typed.count_before, "12 in 90 ell, 8 ea", 8), (typed.count_before, "2-90 ell", 2),
    (typed.count_before, "tee", None), (typed.length_in, "95 m of pipe", Measured(95, "m")),
    (typed.length_in, "1,450 LF of pipe", Measured(1450, "ft")),
    (typed.angle_in, "1 deg elbow", 1.0), (typed.angle_in, "0 deg elbow", None),
    (typed.angle_in, "90 deg elbow", 90.0), (typed.angle_in, "11-1/4 bends", 11.25),
])  # fmt: skip
def test_what_is_typed_is_read(read, value, found):
    assert read(value) == found


def test_the_surest_word_counts_then_the_longest():
    """Of words that begin alike the longer one stands there; of two that are as sure, too."""
    assert words.find("column", "size system of pipe").meaning == "od_system"
    assert words.find("column", "material dr").meaning == "material"
    assert words.find("column", "dr material").meaning == "material"
    assert words.find("column", "price, length").meaning == "segments_m"
    found = words.find_last("column", "Approx. Length", 5)
    assert (found.meaning, found.rank) == ("segments_m", 6)
