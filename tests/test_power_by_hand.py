"""Power, units and time on site at their edges, each value worked by hand."""

import datetime as dt
from types import SimpleNamespace

import pytest

from estimator.equipment.crew_power import CrewPower
from estimator.errors import OutsideStandardError
from estimator.models.calendar import CrewDates
from estimator.models.equipment import Generator
from estimator.pipeline import estimate
from estimator.power import derating
from estimator.power.cables import Current, Wire, choose_cable
from estimator.power.generator import fuel_l_h, rating_kw, smallest_set
from estimator.power.load import Load, electric_load, heater_duty, warm_up_s
from estimator.power.motors import full_load_a, supply_named
from estimator.units import at_most, to_si
from estimator.working_time.on_site import stays_of
from estimator.working_time.working_days import weekdays
from tests.jobs import job, machine, rental

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)


def test_a_cable_may_lose_just_what_is_allowed():
    """1 ohm/m out and back, 1 A, 11.5 m: 23 V of 230 V. Half of that with the next wire."""
    listed = [Wire("thin", 1.0, 0.0), Wire("thick", 0.5, 0.0)]
    supply = supply_named("1-ph 230 V")
    for allowed, wire in ((0.1, "thin"), (0.0999, "thick")):
        found = choose_cable(listed, Current(1.0, 0.0), 11.5, supply, allowed)
        assert (found.wire, found.fits) == (wire, True)


def test_a_motor_a_shade_above_a_listed_size_still_counts_as_it():
    """Of kW motors 1 % is taken as rounding: 5.05 hp are 5 hp, 7.6 A at 460 V; 5.06 hp take the row
    of 7-1/2 hp, 11 A."""
    supply = supply_named("3-ph 460 V")
    assert full_load_a(to_si(5.05, "hp"), supply) == 7.6
    assert full_load_a(to_si(5.06, "hp"), supply) == 11.0


def test_a_heater_that_warms_longer_than_the_shift_draws_all_of_its_power():
    """570 min of engine time; 700 min of warm-up."""
    assert heater_duty(machine(), job().shift, job().power, 700.0, 0.4) == 1.0


def generator(class_id, rated_kw, stock=4):
    fuel = {"fuel_half_l_h": 2.6, "fuel_full_l_h": 4.6}
    return Generator(class_id=class_id, rated_kw=rated_kw, **fuel, **rental(stock=stock))


def test_the_smallest_set_carries_every_load_and_is_there_often_enough():
    """8 and 16 kW with a quarter more are 10 and 20 kW; at sea level and 20 C nothing is lost."""
    made = job(elevation_m=0.0)
    low, high = (Load(kw, kw, kw, 0.1) for kw in (8.0, 16.0))
    few, small = generator("few", 10.0, 1), generator("small", 11.0)
    large = generator("large", 20.0)
    every = (few, small, large)
    for loads, quantity, chosen in (
        ((low,), 1, few), ((low,), 2, small), ((high,), 1, large), ((low, high), 1, large),
        ((high, low), 1, large), ((low,), 5, None),
    ):  # fmt: skip
        assert smallest_set(every, quantity, loads, made.site, made.power) == chosen


def test_mean_load_of_some_days_is_that_of_each_of_them():
    """4 kW at 46 %, 3.5 kW of motors at 0.85 and 30 % of the time, 1.5 kW: 4.5753 kW, on three
    days as on one."""
    made = job()
    run = SimpleNamespace(machine=SimpleNamespace(class_id="M3"))
    lines = [(MONDAY + n * DAY, run) for n in range(3)]
    power = {"M3": SimpleNamespace(heater_duty=0.46)}
    checked = CrewPower(made, 1, lines, power, 1, 1).set_checks({"G15": [day for day, _ in lines]})
    assert checked[0].mean_kw == pytest.approx(4.5753, abs=0.00005)
    assert checked[1].mean_kw is None


def test_a_set_that_is_just_large_enough_lacks_stock_not_output():
    """Needed: the largest of what its checks ask for, which is taken as its rating."""
    run = SimpleNamespace(machine=SimpleNamespace(class_id="M3"))
    first = CrewPower(job(), 1, [(MONDAY, run)], {}, 1, 3)
    needed = first.trial(generator("G", 15.0, 1), [MONDAY]).check.needed_kw
    made = job().model_copy(update={"generators": (generator("G", needed, 1),)})
    (one,) = CrewPower(made, 1, [(MONDAY, run)], {}, 1, 3).rejected([MONDAY])
    assert one.text == "only 1 in stock, 3 needed"


def test_a_set_is_derated_for_the_months_of_its_own_loads():
    """Step rule: 3 % for each 5 C above 40 C. M3 works in March at 20 C: all is left. M1, of a
    tenth of the load, works in July at 50 C: 94 %. The set for both is that of M3 in March."""
    small = machine("M1", heater_kw=0.2, facer_kw=0.1, pump_kw=0.1)
    made = job(ambient_c=20.0, elevation_m=0.0, machines=(small, machine("M3")), site_load_kw=0.0)
    months = tuple(row.model_copy(update={"ambient_c": 50.0 if row.month == "Jul" else None})
                   for row in made.weather)  # fmt: skip
    made = made.model_copy(update={"weather": months})
    march, july = ((date, SimpleNamespace(machine=SimpleNamespace(class_id=name)))
                   for date, name in ((MONDAY, "M3"), (dt.date(2027, 7, 5), "M1")))  # fmt: skip
    power = {name: SimpleNamespace(heater_duty=0.5) for name in ("M1", "M3")}
    both = CrewPower(made, 1, [march, july], power, 1, 1)
    alone = CrewPower(made, 1, [march], power, 1, 1)
    assert both.needed().needed_kw == alone.needed().needed_kw
    left = [check.derating for check in both.set_checks({"G15": both.dates})[:1]]
    assert left == [1.0]
    hot = CrewPower(made, 1, [july, (july[0], march[1])], power, 1, 1)
    assert hot.set_checks({"G15": hot.dates})[0].derating == pytest.approx(0.94)
    assert hot.needed().needed_kw > alone.needed().needed_kw


def test_limits_near_nothing_are_kept_to_a_billionth():
    assert [at_most(value, 0.0) for value in (0.9e-9, 1.5e-9)] == [True, False]


def test_a_span_of_weekdays_has_two_ends():
    with pytest.raises(ValueError, match="'Wed-Fri' is not a weekday"):
        weekdays("Mon-Wed-Fri")


def test_a_crew_that_is_away_for_one_workday_comes_twice():
    """Saturdays are worked. To Thursday and from Saturday on: Friday lies between. To Friday and
    from Saturday on: nothing does. To Friday and from Monday on: Saturday does."""
    for last, first, times in ((3, 5, 2), (4, 5, 1), (4, 7, 2)):
        rows = tuple(
            CrewDates(crew=1, from_date=MONDAY + start * DAY, to_date=MONDAY + end * DAY)
            for start, end in ((0, last), (first, 20))
        )
        made = job(workdays="Mon-Sat").model_copy(update={"crew_dates": rows})
        assert len(stays_of(made, 1)) == times


def test_a_set_that_has_nothing_left_is_refused(monkeypatch):
    for left, refused in ((0.0, True), (0.01, False)):
        monkeypatch.setattr(derating, "left_above", lambda *_, left=left: left)
        if refused:
            with pytest.raises(OutsideStandardError):
                derating.derating(100.0, 20.0)
        else:
            assert derating.derating(100.0, 20.0) == pytest.approx(left**2)


def test_a_set_that_idles_burns_its_share_of_full_load():
    """1 L an hour at half load and 3 at full: the line comes to nothing at a quarter; idling is a
    tenth of the 3."""
    item = Generator(class_id="G1", rated_kw=10, fuel_half_l_h=1.0, fuel_full_l_h=3.0, **rental())
    assert fuel_l_h(item, 0.0) == pytest.approx(0.3)


def test_a_motor_at_rest_draws_its_start_over_its_power_factor():
    """2 kW at 0.85 are 2.353 kW; three times that at a power factor of 0.8 are 8.824 kVA."""
    found = electric_load(machine(), job().power)
    assert found.motor_start_kva == pytest.approx(3 * 2 / 0.85 / 0.8)


def test_a_start_goes_by_the_letter_of_the_motor_or_by_the_multiple():
    for letter, rule in (("G", "letter G"), (None, "3 x load")):
        found = estimate(job(machines=(machine(motor_letter=letter),)))
        assert found.fleet.power["M3"].start_rule == rule


def test_a_load_asks_for_its_margin_and_for_what_the_site_takes():
    """8 kW and a quarter more are 10; with 0.8 of the rating left at the site, 12.5."""
    assert rating_kw("load", 8.0, 0.25, 0.8) == pytest.approx(12.5)


def test_twice_the_heater_warms_in_half_the_time():
    slow, quick = (warm_up_s(20.0, heater, 20.0, 218.0) for heater in (2.0, 4.0))
    assert slow == pytest.approx(2 * quick)
