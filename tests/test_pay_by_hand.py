"""Pay of days worked by hand: Sundays, nights, and hours of part of a person."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

from estimator.cost.labor import labor_lines, role_hours
from estimator.models.plan import CrewDay, Plan
from tests.jobs import job, role

SUNDAY, MONDAY = dt.date(2027, 3, 7), dt.date(2027, 3, 8)


def day(date, straight, overtime, heads=(1.0, 1.5), **changes):
    return CrewDay(date=date, crew=1, kind="work", heads=heads, straight_hours=straight,
                   overtime_hours=overtime, run_minutes=(("R1", 60.0),), **changes)  # fmt: skip


def lines_of(made, *days):
    planned = SimpleNamespace(job=made, plan=Plan(lines=(), crew_days=days))
    return list(labor_lines(planned))


def paid(made, *days):
    """Return the amounts of the labor lines by their items."""
    return {line.item: line.amount for line in lines_of(made, *days)}


def test_a_sunday_at_one_and_three_quarters_by_hand():
    """8 h of an operator at 38 and of 1.5 laborers at 27; three quarters of the wage on top.

    38 x 0.75 x 8 = 228.00; 27 x 0.75 x 12 = 243.00. Burden of 42 % on 304 and 324: 127.68, 136.08.
    Small tools: 3 % of 304 + 127.68 + 324 + 136.08 = 891.76: 26.75.
    """
    found = paid(job(sunday_multiple=1.75), day(SUNDAY, 8.0, 0.0))
    assert found == {
        "Operator, wage": Decimal("304.00"), "Operator, burden": Decimal("127.68"),
        "Laborer, wage": Decimal("324.00"), "Laborer, burden": Decimal("136.08"),
        "Operator, Sunday and holiday premium": Decimal("228.00"),
        "Laborer, Sunday and holiday premium": Decimal("243.00"),
        "Small tools": Decimal("26.75"),
    }  # fmt: skip


def test_a_night_by_hand():
    """10 h, 2 of them overtime, 15 % for the night on all: 38 x 0.15 x 10 = 57.00;
    27 x 0.15 x 15 = 60.75; overtime 38 x 0.5 x 2 = 38.00 and 27 x 0.5 x 3 = 40.50."""
    found = paid(job(night_premium=0.15), day(MONDAY, 8.0, 2.0, shift="night"))
    assert found["Operator, night differential"] == Decimal("57.00")
    assert found["Laborer, night differential"] == Decimal("60.75")
    assert found["Operator, overtime premium"] == Decimal("38.00")
    assert found["Laborer, overtime premium"] == Decimal("40.50")


def test_hours_of_part_of_a_person_are_to_a_hundredth():
    """A third of a person for 8 h and 2 h: 2.6664 and 0.6666 are 2.67 and 0.67; by night 3.33."""
    made = job().model_copy(update={"crew": (role("Foreman", 0.3333, 60),)})
    plan = Plan(lines=(), crew_days=(day(MONDAY, 8.0, 2.0, heads=(0.3333,), shift="night"),))
    (hours,) = role_hours(made, plan)
    assert (hours.straight, hours.overtime, hours.total) == (2.67, 0.67, 3.34)
    night = paid(made.changed(night_premium=0.1), *plan.crew_days)["Foreman, night differential"]
    assert night == Decimal("19.98")


def test_each_class_of_hours_counts_once_in_the_quantity_of_a_line():
    """What the formula of the Cost sheet adds up, cell by cell."""
    lines = lines_of(job(), day(MONDAY, 8.0, 2.0), day(SUNDAY, 8.0, 0.0))
    terms = {line.item: line.quantity.terms for line in lines}
    assert terms["Operator, wage"] == tuple(
        (1, f"plan.{kind}.Operator") for kind in ("straight", "overtime", "saturday", "sunday")
    )
    assert terms["Laborer, overtime premium"] == ((1, "plan.overtime.Laborer"),)
    assert {factor for factor, _ in terms["Small tools"]} == {1}
    saturday = SUNDAY - dt.timedelta(1)
    days = day(SUNDAY, 8.0, 0.0), day(saturday, 8.0, 0.0), day(MONDAY, 8.0, 0.0, shift="night")
    lines = lines_of(job(sunday_multiple=2.0, saturday_multiple=1.25, night_premium=0.1), *days)
    terms = {line.item: line.quantity.terms for line in lines}
    for what, cell in (("Sunday and holiday premium", "sunday"), ("Saturday premium", "saturday"),
                       ("night differential", "night")):  # fmt: skip
        assert terms[f"Operator, {what}"] == ((1, f"plan.{cell}.Operator"),)
