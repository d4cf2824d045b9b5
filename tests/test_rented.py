"""What is on rent: its cost by hand, where it stands in the status, and what is refused."""

import datetime as dt
from decimal import Decimal

import pytest

from estimator.after_award import records_of
from estimator.equipment.on_rent import price_of_excess_hour, rent_to_date, still_there
from estimator.errors import InputError
from estimator.joint.shared import Shared
from estimator.models.rental_kinds import rental_items
from estimator.models.site_records import ActualCost, OnRent, SiteRecords
from estimator.progress.made import made_up_to
from estimator.progress.standing import standing_of
from estimator.progress.status import status_of
from estimator.workbook.book import parse_workbook
from tests import jobs
from tests.site_book import filled
from tests.test_baseline import frozen
from tests.test_status import as_planned, part_way

FIRST = dt.date(2027, 3, 1)


def rented(days=None, **changes):
    off = None if days is None else FIRST + dt.timedelta(days - 1)
    return OnRent(**{"class_id": "M-A", "on_rent": FIRST, "off_rent": off, **changes})


def job():
    return jobs.job(machines=(jobs.machine(class_id="M-A"),))


# At 100, 300 and 900: 30 days are 4 weeks and 2 days, 900 + 200, and two trips of 50. On the tenth
# day it is still there: a week and three days, 300 + 300, and the one trip.
def test_rent_to_date_by_hand():
    after = FIRST + dt.timedelta(60)
    assert rent_to_date(job(), [rented(30)], after) == Decimal("1200.00")
    assert rent_to_date(job(), [rented(30, quantity=2)], after) == Decimal("2400.00")
    tenth = FIRST + dt.timedelta(9)
    assert rent_to_date(job(), [rented(30)], tenth) == Decimal("650.00")
    assert rent_to_date(job(), [rented()], tenth) == Decimal("650.00")
    assert rent_to_date(job(), [rented()], FIRST - dt.timedelta(1)) == 0
    assert still_there([rented(30), rented(5)], tenth) == ("M-A",)
    assert still_there([rented(5)], tenth) == ()


# Ten days are two weeks (of equal cost to a week and three days), 600, for 80 hours: an hour is
# 7.50. Eight more hours are 60; a waiver of 10 % of 660 is 66; the one trip is 50. Two pieces rent
# for 1200 and make two trips, the hours are those of both. Without hours on Rates none is beyond.
def test_excess_hours_and_the_damage_waiver_by_hand():
    tenth = FIRST + dt.timedelta(9)
    rates = {"rental_day_hours": 8, "rental_week_hours": 40, "rental_four_week_hours": 160}
    priced = with_rates(damage_waiver=0.1, **rates)
    assert rent_to_date(priced, [rented(excess_h=8)], tenth) == Decimal("776.00")
    two = [rented(excess_h=8, quantity=2)]
    assert rent_to_date(priced, two, tenth) == Decimal("1486.00")
    unlimited = with_rates(damage_waiver=0, **dict.fromkeys(rates))
    assert rent_to_date(unlimited, [rented(excess_h=8)], tenth) == Decimal("650.00")


# A span of the estimate worked hour for hour as planned costs here what its lines cost there.
def test_a_span_as_planned_costs_what_its_lines_cost():
    _, found, _ = frozen()
    rates = found.job.rates
    for number, span in enumerate(found.fleet.spans):
        item = rental_items(found.job)[span.kind, span.class_id]
        beyond = span.excess_h * span.quantity
        row = OnRent(class_id=span.class_id, on_rent=span.on_rent, off_rent=span.off_rent,
                     quantity=span.quantity, excess_h=beyond)  # fmt: skip
        hours = beyond * price_of_excess_hour(span.rate_periods, item, rates)
        rent = span.quantity * span.rate_periods.cost + hours
        trips = 2 * span.quantity * item.delivery.amount
        wanted = rent * (1 + (rates.damage_waiver or 0)) + trips
        lines = [
            line.amount for line in found.cost_lines if line.key.startswith(f"equipment.{number}.")
        ]
        assert float(sum(lines)) == pytest.approx(rent + trips, abs=0.2)  # hours to 0.01
        got = rent_to_date(found.job, [row], span.off_rent)
        assert float(got) == pytest.approx(wanted, abs=0.01)


def with_rates(**changes):
    return job().model_copy(update={"rates": job().rates.model_copy(update=changes)})


def test_what_came_today_is_there_and_what_left_today_is_not():
    assert still_there([rented()], FIRST) == ("M-A",)
    assert still_there([rented(10)], FIRST + dt.timedelta(9)) == ()


def record_of(costs, rows=()):
    baseline, date = frozen()[2], part_way()
    daily = as_planned(baseline, date)
    lines = tuple(ActualCost(date=date, cost_type=kind, amount=amount) for kind, amount in costs)
    return SiteRecords(daily_record=daily, actual_cost=lines, on_rent=rows), date


def spent(costs, rows=()):
    _, found, baseline = frozen()
    records, date = record_of(costs, rows)
    return status_of(found.job, baseline, made_up_to(records, date)).money.actual


# Labor that is not in Actual cost is hours x the baseline's rate, rent that is not is that of On
# rent; what is there is taken as it is.
def test_actual_cost_takes_labor_and_rent_from_the_records_where_they_are_not_entered():
    _, found, baseline = frozen()
    records, date = record_of(())
    hours = sum(row.paid_hours for row in records.daily_record)
    machine = found.job.machines[0].class_id
    rows = (OnRent(class_id=machine.lower(), on_rent=baseline.head.start),)
    rent = float(rent_to_date(found.job, rows, date))
    assert rent > 0
    labor = hours * baseline.labor_rate
    assert spent([("Materials", 1000.0)]) == pytest.approx(1000 + labor)
    assert spent([("Labor", 500.0)]) == pytest.approx(500)
    assert spent([("Labor", 500.0)], rows) == pytest.approx(500 + rent)
    assert spent([("Labor", 500.0), ("Equipment", 70.0)], rows) == pytest.approx(570)


def test_what_nothing_needs_any_more_is_a_decision():
    workbook, found, baseline = frozen()
    records, date = record_of([("Labor", 500.0)])
    needed = found.fleet.spans[0].class_id
    unused = next(
        one.class_id
        for one in found.job.machines
        if one.class_id not in {span.class_id for span in found.fleet.spans}
    )
    rows = tuple(OnRent(class_id=name, on_rent=FIRST) for name in (needed, unused))
    records = records.model_copy(update={"on_rent": rows})
    got = standing_of(found, baseline, records, date, Shared(workbook.places))
    texts = [text for text in got.status.decisions if "on rent" in text]
    assert texts == [f"{unused} is on rent and nothing that is left needs it: end its rent"]


def test_a_class_that_is_unknown_and_dates_that_run_backwards_are_refused_together():
    rows = {
        ("on_rent", 0): {"class_id": "X", "on_rent": FIRST},
        ("on_rent", 1): {
            "class_id": frozen()[1].job.machines[0].class_id,
            "on_rent": FIRST,
            "off_rent": FIRST - dt.timedelta(3),
        },
    }
    with pytest.raises(InputError) as caught:
        records_of(parse_workbook(filled(rows)))
    texts = [problem.message for problem in caught.value.problems]
    assert any("'X' is not a class on Machines" in text for text in texts)
    assert any("is before" in text for text in texts)
    assert all(problem.where.startswith("Actual cost!") for problem in caught.value.problems)
