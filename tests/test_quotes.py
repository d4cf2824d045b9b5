"""Quotes: what they cost on our dates, whether they fit, the cheapest choice, and taking one."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import api
from estimator.cli import main
from estimator.equipment.quotes import compare_quotes, quote_cost
from estimator.equipment.rental_request import request_lines
from estimator.models.quotes import Quote
from estimator.models.rental_request import LiftNeed, MachineNeed, PowerWanted, RequestLine
from tests.estimated import example
from tests.one_page import names_of
from tests.small_book import small_book

FIRST = dt.date(2027, 3, 1)
MACHINE = MachineNeed(
    (300.0, 610.0), (11.0, 17.0), ("IPS",), 60000.0, None, None, ("24 IPS",), "", own_power=False
)
TOO_LOW = "gauge limit is below force and drag"
ORDER = dt.date(2027, 2, 1)


def line(number=1, kind="machine", need=MACHINE, days=30, **changes):
    values = {
        "number": number, "kind": kind, "need": need, "quantity": 1, "deliver_by": FIRST,
        "off_rent": FIRST + dt.timedelta(days - 1), "earliest_off": FIRST, "latest_off": FIRST,
        "work_days": 20, "shift_hours": 10.0, "nights": False,
    }  # fmt: skip
    return RequestLine(**{**values, **changes})


def quote(supplier="A", number=1, **changes):
    values = {"supplier": supplier, "line": number, "day_rate": 100.0, "week_rate": 400.0,
              "four_week_rate": 1200.0}  # fmt: skip
    return Quote(**{**values, **changes})


# 30 days: 4 weeks and 2 days, 1200 + 200 = 1400. With 50 each way 1500; with 10 % waiver on the
# rent 1640. 14 days later, 44 days: 4 weeks, 2 weeks and 2 days, 1200 + 800 + 200 = 2200. A week
# sooner, 23 days: 3 weeks and 2 days are 1400, so 4 weeks at 1200.
def test_cost_by_hand():
    assert quote_cost(quote(), line()) == Decimal("1400.00")
    full = quote(delivery=50.0, collection=50.0, waiver=0.1)
    assert quote_cost(full, line()) == Decimal("1640.00")
    assert quote_cost(quote(), line(), 14) == Decimal("2200.00")
    assert quote_cost(quote(), line(), -7) == Decimal("1200.00")
    assert quote_cost(quote(), line(quantity=2)) == Decimal("2800.00")


# 14 days at 40 on each of 2 machines are 1120, on top of 2800.
def test_two_weeks_on_standby_are_paid_at_the_standby_rate_where_there_is_one():
    found = compare_quotes([line(quantity=2)], [quote("A", standby=40.0), quote("B")], 0.2, ORDER)
    held = {one.quote.supplier: one.cost_held for one in found.quotes}
    assert held == {"A": Decimal("3920.00"), "B": None}


# 10 h shifts against 8 h: 2 h x 20 days x 15 = 600; day and night 12 h x 20 x 15 = 3600.
def test_hours_beyond_the_rental_day_are_paid():
    beyond = quote(day_hours=8.0, excess_hour=15.0)
    assert quote_cost(beyond, line()) == Decimal("2000.00")
    assert quote_cost(beyond, line(nights=True)) == Decimal("5000.00")


# Engines of 2 machines run 150 h each at 4 L/h and 1.50 a liter: 1800, on top of 2800 of rent.
# Without a figure of the quote, the 1,000 L of the planned class: 1500. Days of use move with off
# rent: 44 of 30 days burn 44/30 of it, 2640, on top of 2 x 2200.
def test_fuel_is_that_of_the_quote_else_that_of_the_planned_class():
    asked = line(quantity=2, engine_h=150.0, fuel_l=1000.0, fuel_price_l=1.5)
    assert quote_cost(quote(fuel_l_h=4.0), asked) == Decimal("4600.00")
    assert quote_cost(quote(), asked) == Decimal("4300.00")
    assert quote_cost(quote(fuel_l_h=4.0), asked, 14) == Decimal("7040.00")
    assert quote_cost(quote(fuel_l_h=0.0), asked) == Decimal("2800.00")


def test_what_a_quote_does_not_say_is_not_held_against_it():
    """No gauge limit beside the piston area; and there on the very day is in time."""
    silent = quote(piston_area_mm2=3000.0, earliest=FIRST)
    (one,) = compare_quotes([line()], [silent], 0.2, ORDER).quotes
    assert one.why_not == ()


def test_a_line_has_the_hours_and_the_fuel_of_its_span():
    """Fuel of all lines at the price of the job is its fuel line, to the rounding of volumes."""
    found = example("raw_water_main")[1]
    lines = request_lines(found)
    fuel = next(float(x.amount) for x in found.cost_lines if x.cost_type == "Fuel")
    priced = sum(one.fuel_l * one.fuel_price_l for one in lines)
    assert priced == pytest.approx(fuel, abs=0.05 * len(lines) * 4.2)
    assert all(one.engine_h > 0 for one in lines)


def test_a_minimum_period_is_billed_and_missing_tiers_are_made_of_shorter_ones():
    assert quote_cost(quote(minimum_days=30), line(days=3)) == Decimal("1400.00")
    assert quote_cost(quote(week_rate=None, four_week_rate=None), line(days=10)) == Decimal("1000")


@given(
    st.lists(st.floats(0, 5000), min_size=3, max_size=3), st.integers(1, 200), st.integers(0, 60)
)
def test_more_days_never_cost_less(rates, days, more):
    day, week, four = rates
    one = quote(day_rate=day, week_rate=week, four_week_rate=four, delivery=10.0)
    assert quote_cost(one, line(days=days), more) >= quote_cost(one, line(days=days))


# 60 kN on 8000 mm2 is 7.5 MPa, with 0.2 MPa of drag 7.7.
@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({}, ()),
        ({"od_from_mm": 315.0}, ("smallest pipe is too large",)),
        ({"od_to_mm": 600.0}, ("largest pipe is too small",)),
        ({"piston_area_mm2": 8e3, "gauge_limit_mpa": 7.8}, ()),
        ({"piston_area_mm2": 8e3, "gauge_limit_mpa": 7.6}, (TOO_LOW,)),
        ({"earliest": FIRST + dt.timedelta(1)}, ("comes too late",)),
    ],
)  # fmt: skip
def test_a_machine_that_does_not_fit_says_why(changes, why):
    found = compare_quotes([line()], [quote(**changes)], 0.2, ORDER)
    assert found.quotes[0].why_not == why


def test_generators_and_lifting_are_checked_by_what_they_carry():
    power = PowerWanted(10.0, 11.0, 20.0, 22.0, 0.3, "", 0.0, 30.0)
    lines = [line(1, "generator", power), line(2, "lifting", LiftNeed(1500.0, 12.0))]
    quotes = [quote(rated_kw=21.0), quote(rated_kw=30.0), quote(number=2, capacity_kg=1400.0)]
    found = compare_quotes(lines, quotes, 0.2, ORDER)
    whys = {one.number: one.why_not for one in found.quotes}
    assert whys == {1: ("rated output is too small",), 2: (), 3: ("capacity is too small",)}


# Supplier A has both lines at 1400 + 1400 = 2800; B only line 1 at 700 (half of A's rates): the mix
# is 700 + 1400 = 2100. C would be cheapest of all but is no longer valid.
def test_cheapest_single_supplier_and_mix():
    cheap = {"day_rate": 50.0, "week_rate": 200.0, "four_week_rate": 600.0}
    quotes = [
        quote("A"), quote("A", 2), quote("B", **cheap),
        quote("C", day_rate=1.0, valid_until=ORDER - dt.timedelta(1)), quote("D", 9),
    ]  # fmt: skip
    found = compare_quotes([line(), line(2)], quotes, 0.2, ORDER)
    (choice,) = found.choices
    assert (choice.single, choice.single_cost) == ("A", Decimal("2800.00"))
    assert choice.mix_cost == Decimal("2100.00")
    assert [one.quote.supplier for one in choice.mix] == ["B", "A"]
    assert choice.open_lines == ()
    assert found.unknown == (5,)
    assert next(one for one in found.quotes if one.quote.supplier == "C").lapsed


def test_a_line_without_a_fitting_quote_stays_open():
    found = compare_quotes([line(), line(2)], [quote()], 0.2, ORDER)
    assert found.choices[0].open_lines == (2,)
    assert found.choices[0].single == ""


def type_quotes(path, rows):
    """Type quotes into the Quotes sheet as a user does."""
    book = openpyxl.load_workbook(path)
    sheet = book["Quotes"]
    head = next(row[0].row for row in sheet.iter_rows() if row[0].value == "Supplier")
    columns = {cell.value: cell.column for cell in sheet[head]}
    for at, row in enumerate(rows, head + 1):
        for header, value in row.items():
            sheet.cell(at, columns[header]).value = value
    book.save(path)


def test_request_adds_the_sheet_compares_and_takes(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["request", str(path)]) == 0
    assert "Quotes" in capsys.readouterr().out
    assert main(["request", str(path), "--take", "1"]) == 1
    assert "Enter the quotes on the sheet Quotes first" in capsys.readouterr().err
    rows = [
        {"Supplier": "Supplier 1", "Line": 1, "Day": 777, "Week": 2222, "4 weeks": 6666,
         "Deliver": 300, "Collect": 500},
        {"Supplier": "Supplier 2", "Line": 1, "Day": 900, "Pipe to": 20},
        {"Supplier": "Supplier 3", "Line": 99, "Day": 900},
    ]  # fmt: skip
    type_quotes(path, rows)
    assert main(["request", str(path)]) == 0
    out = capsys.readouterr().out
    assert "cheapest single supplier Supplier 1" in out
    assert "largest pipe is too small" in out
    assert "Quote comparison" in names_of(path)
    before = api.read_workbook(str(path)).job
    assert main(["request", str(path), "--take", "1"]) == 0
    assert "now has the rates of Supplier 1" in capsys.readouterr().out
    after = api.read_workbook(str(path)).job
    changed = [one for one in after.machines if one not in before.machines]
    (machine,) = changed
    rates = (machine.day_rate.amount, machine.week_rate.amount, machine.four_week_rate.amount)
    assert rates == (777, 2222, 6666)
    assert machine.delivery.amount == 400
    assert machine.basis == "quote of Supplier 1, line 1"
    for number in ("3", "7"):
        assert main(["request", str(path), "--take", number]) == 1
        known = f"There is no quote {number} for a line of the request. Enter one of: 1, 2"
        assert known in capsys.readouterr().err


def test_a_bad_quote_is_reported_with_its_cell(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    main(["request", str(path)])
    type_quotes(path, [{"Supplier": "Supplier 1", "Line": 1, "Day": -5}])
    before = path.read_bytes()
    assert main(["request", str(path)]) == 1
    assert "Quotes!" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_costs_do_not_depend_on_the_number_of_the_line():
    assert quote_cost(quote(), line()) == quote_cost(quote(), replace(line(), number=4))
