"""Conversion factors against NIST SP 811, and what must hold for every unit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.display import UNIT_LABELS
from estimator.errors import EstimatorError, UnknownNameError
from estimator.units import UNITS, from_si, parse_temperature, to_si

# NIST Special Publication 811 (2008), appendix B; tolerance is half of the last printed digit.
NIST_SP_811 = [
    ("in", 25.4, 0.0),
    ("ft", 0.3048, 0.0),
    ("lb", 0.45359237, 0.0),
    ("psi", 6.894757e-3, 0.5e-9),
    ("bar", 0.1, 0.0),
    ("in2", 645.16, 1e-12),
    ("lbf", 4.448222, 0.5e-6),
    ("gal", 3.785412, 0.5e-6),
    ("gal/h", 3.785412, 0.5e-6),
    ("lb/ft", 1.488164, 0.5e-6),
    ("hp", 0.7456999, 0.5e-7),
]


@pytest.mark.parametrize(("unit", "factor", "tolerance"), NIST_SP_811)
def test_to_si_matches_nist(unit, factor, tolerance):
    assert to_si(1.0, unit) == pytest.approx(factor, abs=tolerance, rel=0)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (59.0, 15.0)]
)
def test_to_si_converts_fixed_points_of_temperature(fahrenheit, celsius):
    assert to_si(fahrenheit, "F") == pytest.approx(celsius, abs=1e-12)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6))
def test_conversion_comes_back(unit, value):
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_a_larger_number_is_a_larger_quantity(unit, value, step):
    assert to_si(value + step, unit) > to_si(value, unit)


def test_each_kind_has_one_si_unit():
    for kind in {unit.kind for unit in UNITS.values()}:
        same = [u for u in UNITS.values() if u.kind == kind and u.factor == 1 and not u.offset]
        assert len(same) == 1, kind


def test_every_unit_shown_to_the_user_is_known():
    for kind, labels in UNIT_LABELS.items():
        expected = "length" if kind == "segments" else kind
        assert {UNITS[label].kind for label in labels.values()} == {expected}


@pytest.mark.parametrize("convert", [to_si, from_si])
def test_conversion_refuses_an_unknown_unit(convert):
    with pytest.raises(UnknownNameError, match=r"unit 'furlong' is not recognized.* m, ft"):
        convert(1.0, "furlong")


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("70F", 190 / 9), ("70 F", 190 / 9), ("20C", 20.0), (" -5.5 c ", -5.5), ("104 °F", 40.0)],
)
def test_parse_temperature_reads_number_and_unit(text, celsius):
    assert parse_temperature(text) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize("text", ["70", "F", "", "warm", "70K", "1e3F", "nanF", "20 C now"])
def test_parse_temperature_refuses_other_text(text):
    with pytest.raises(EstimatorError, match=r"is not a temperature. Enter a number with F or C"):
        parse_temperature(text)
