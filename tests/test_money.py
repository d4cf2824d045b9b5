from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.money import round_money, round_quantity

cents = st.integers(-10_000_000, 10_000_000)


# Half away from zero is what the spreadsheet function ROUND does (ISO/IEC 29500-1, ROUND).
@pytest.mark.parametrize(
    ("value", "rounded"),
    [(2.675, "2.68"), (-2.675, "-2.68"), (1.005, "1.01"), (0.125, "0.13"), (1e-9, "0.00")],
)
def test_round_money_goes_half_away_from_zero(value, rounded):
    assert round_money(value) == Decimal(rounded)


@given(cents)
def test_round_money_keeps_whole_cents(number):
    assert round_money(number / 100) == Decimal(number) / 100


@given(cents)
def test_round_money_takes_half_cents_away_from_zero(number):
    half = Decimal(number) / 100 + Decimal("0.005").copy_sign(number)
    assert round_money(float(half)) == half + Decimal("0.005").copy_sign(number)


def test_round_quantity_rounds_what_the_page_shows():
    assert round_quantity(2.0049999, 2) == 2.0
    assert round_quantity(0.1 + 0.2, 1) == 0.3
