"""The table of least cooling by the temperature of the air, and what is read from it."""

import pytest

from estimator.joint.cooling_by_air import cooling_by_air, least_cooling_s
from estimator.models.site_records import CoolingByAir

BANDS = [
    CoolingByAir(pipe="p", from_c=low, to_c=high, low_s=at_low, high_s=at_high)
    for low, high, at_low, at_high in (
        (10.0, 20.0, 500.0, 550.0), (20.0, 30.0, 600.0, 700.0), (30.0, 40.0, 800.0, 900.0),
    )
]  # fmt: skip


@pytest.mark.parametrize(("air_c", "cool_s"), [
    (None, 500.0), (10.0, 500.0), (15.0, 525.0), (20.0, 600.0), (25.0, 650.0), (30.0, 800.0),
    (35.0, 850.0), (40.0, 900.0), (9.9, None), (40.1, None),
])  # fmt: skip
def test_cooling_between_the_ends_of_a_band(air_c, cool_s):
    """On the line from end to end of the last band that begins at or below the air."""
    assert least_cooling_s(BANDS, air_c) == (None if cool_s is None else pytest.approx(cool_s))


def test_without_a_band_there_is_no_cooling():
    assert least_cooling_s([], None) is None
    assert least_cooling_s([], 20.0) is None


def test_bands_of_dvs_2207_hold_their_cooling_up_to_their_upper_end():
    """Up to 15, 25 and 40 C (DVS 2207-1, 2015): a step at an edge belongs to the band above it."""

    def steps(air_c):
        return float(1 + sum(air_c >= edge for edge in (15, 25, 40)))

    bands = cooling_by_air("p", "dvs2207", steps)
    assert [(band.to_c, band.low_s, band.high_s) for band in bands] == [
        (15.0, 1.0, 1.0), (25.0, 2.0, 2.0), (40.0, 3.0, 4.0)]  # fmt: skip


def test_where_air_changes_nothing_there_is_one_band():
    (band,) = cooling_by_air("p", "dvs2207", lambda air_c: 300.0)
    assert (band.to_c, band.low_s, band.high_s) == (40.0, 300.0, 300.0)
    assert band.from_c < 0
