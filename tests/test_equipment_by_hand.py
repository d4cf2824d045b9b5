"""Equipment on small made-up jobs, each value worked by hand: requests, stays, classes, rent."""

import datetime as dt
import math
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator import estimate
from estimator.equipment import class_by_day, fleet, rental_request
from estimator.equipment.class_by_day import (
    Block,
    DayLevel,
    Terms,
    _Beside,
    _Choice,
    _worth_a_look,
    choose_by_level,
    rank,
)
from estimator.equipment.crew_power import CrewPower, Fed
from estimator.equipment.fleet import FleetBuilder, _machine_reason, equip
from estimator.equipment.generators import choose_sets
from estimator.equipment.haulage import Haulage
from estimator.equipment.lifting import _chosen, _rejection, _too_heavy, day_needs, fuel_a_day
from estimator.equipment.near_limits import near_capacity, near_limits
from estimator.equipment.on_rent import rent_to_date
from estimator.equipment.power_needs import PowerNeeds
from estimator.equipment.quotes import compare_quotes, quote_cost
from estimator.equipment.rental_request import request_lines
from estimator.equipment.rental_tiers import cheapest_mix, cheapest_stays
from estimator.equipment.spans import Use, burned_l, rent_cost
from estimator.equipment.stock import peak, peak_weight_kg, short_of_stock
from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates, Holiday
from estimator.models.choice import Reason
from estimator.models.equipment import Generator, Lifter
from estimator.models.places import Places
from estimator.models.plan import Plan, PlanLine
from estimator.models.quotes import Quote
from estimator.models.rental import RentalSpan, TierMix
from estimator.models.rental_request import LiftNeed, RequestLine
from estimator.models.site_records import OnRent
from estimator.plan import lay_out
from estimator.power.generator import kind_of, voltage_dip
from estimator.power.load import mean_load_kw
from tests.jobs import job, machine, money, rates, rental, run

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
DAYS = [MONDAY + n * DAY for n in range(60)]

SMALL = machine("M3", supply="3-ph 230 V")
LARGE = machine("M9", heater_kw=10.0, facer_kw=3.0, pump_kw=4.0, supply="3-ph 460 V")


# Lowest, middle and highest gauge pressure; None where a lever shows none.
GAUGES_MPA = {"R1": (2.0, 3.0, 4.0), "R2": (3.0, 5.0, 7.0), "crew 2": (1.0, 9.0, 12.0),
              "later": None, "M9": (6.0, 8.0, 10.0)}  # fmt: skip


def sized(run_id, class_id, size, od_mm, dr, area_mm2, mass_kg):
    """A run of which only what a request asks for is known."""
    geometry = SimpleNamespace(od_mm=od_mm, dr=dr, joint_area_mm2=area_mm2, size=size,
                               od_system="IPS")  # fmt: skip
    return SimpleNamespace(
        run_id=run_id, geometry=geometry, fusion=SimpleNamespace(interfacial_mpa=(0.4, 0.5, 0.6)),
        machine=SimpleNamespace(class_id=class_id, gauge_mpa=GAUGES_MPA.get(run_id)),
        stick_mass_kg=mass_kg,
    )  # fmt: skip


SIZED = (
    sized("R1", "M3", "8", 219.0, 17.0, 5_000.0, 100.0),
    sized("R2", "M3", "12", 324.0, 11.0, 20_000.0, 300.0),
    sized("crew 2", "M3", "36", 914.0, 7.0, 90_000.0, 4_000.0),
    sized("later", "M3", "4", 114.0, 21.0, 2_000.0, 20.0),
    sized("M9", "M9", "24", 610.0, 9.0, 70_000.0, 200.0),
)
LINES = (
    PlanLine(DAYS[0], 1, "R1", "M3"), PlanLine(DAYS[0], 1, "R2", "M3"),
    PlanLine(DAYS[0], 2, "crew 2", "M3"), PlanLine(DAYS[10], 1, "later", "M3"),
    PlanLine(DAYS[1], 1, "M9", "M9"),
)  # fmt: skip
STICKS_M = {"R1": 12.0, "R2": 15.0, "crew 2": 18.0, "later": 6.0, "M9": 13.0}


def span(kind, used, on=MONDAY - 3 * DAY, off=MONDAY + 4 * DAY, class_id="M3"):
    return RentalSpan(kind=kind, class_id=class_id, crew=1, quantity=1, on_rent=on, off_rent=off,
                      used=used, rate_periods=TierMix(days=1, weeks=0, four_weeks=0, cost=100.0),
                      fuel_l=0.0, why=Reason(text="", need=25.0))  # fmt: skip


def asked(*spans, **changes):
    """Return the lines of a request for some spans of the made-up plan."""
    runs = [run(name, stick_length_m=length) for name, length in STICKS_M.items()]
    made = job(*runs, machines=(SMALL, LARGE), **changes)
    planned = SimpleNamespace(job=made, runs=SIZED, fleet=SimpleNamespace(spans=spans),
                              plan=SimpleNamespace(lines=LINES))  # fmt: skip
    return request_lines(planned)


def test_a_machine_is_asked_for_by_the_runs_that_its_crew_joins_with_it_on_its_days():
    """R1 and R2 alone: 219 to 324 mm, DR 11 to 17; 20,000 mm2 x 0.6 MPa = 12,000 N; 2 to 7 MPa."""
    (line,) = asked(span("machine", (DAYS[0], DAYS[1])))
    assert line.need.od_mm == (219.0, 324.0)
    assert line.need.dr == (11.0, 17.0)
    assert line.need.force_n == pytest.approx(12_000.0)
    assert line.need.gauge_mpa == (2.0, 7.0)
    assert line.need.sizes == (("IPS", "12"), ("IPS", "8"))


def test_a_generator_is_asked_for_by_the_hardest_of_the_machines_on_it():
    """Motors of 7 kW at 0.85 take 8.235 kW, at a power factor of 0.8 beside 0.75 times that in
    reactive power: 10 + 8.235 + 1.5 = 19.735 kW, hypot(19.735, 6.176) kVA. While the one of 4 kW
    starts at three times its 4.706 kW: 19.735 + 9.412 kW. The small one stays below on all."""
    (line,) = asked(span("generator", (DAYS[0], DAYS[1])))
    running = 10 + 7 / 0.85 + 1.5
    assert line.need.running_kw == pytest.approx(running)
    assert line.need.running_kva == pytest.approx(math.hypot(running, 7 / 0.85 * 0.75))
    assert line.need.starting_kw == pytest.approx(running + 2 * 4 / 0.85)
    assert line.need.supply == "3-phase, 230 V, 60 Hz and 3-phase, 460 V, 60 Hz"
    assert line.need.rated_kw == 25.0


def test_lifting_gear_is_asked_for_by_the_heaviest_stick_of_the_crew():
    """300 kg of R2, 15 m long, and a quarter more; the 4,000 kg are those of the other crew."""
    (line,) = asked(span("lifting", (DAYS[0], DAYS[1])))
    assert line.need == LiftNeed(mass_kg=375.0, stick_m=15.0)


def test_what_is_lifted_on_a_day_is_its_heaviest_stick_however_light():
    """0.4 kg and a quarter more are 0.5; 100 and 300 kg on one day are 375."""
    runs = [sized(str(kg), "M3", "2", 60.0, 11.0, 1.0, kg) for kg in (0.4, 100.0, 300.0)]
    lines = list(zip((DAYS[0], DAYS[1], DAYS[1]), runs, strict=True))
    assert [need.mass_kg for need in day_needs(job().equipment, lines)] == [0.5, 375.0]


def test_off_rent_moves_no_further_back_than_its_days_in_use_allow():
    """Of a full week, not at all; of its Monday and Friday, to the Tuesday, and with a day of
    haulage to the Wednesday; of six weeks, two weeks before their end, a Friday, and four after."""
    full, ends = tuple(DAYS[:5]), (DAYS[0], DAYS[4])
    week, waits, long = asked(
        span("machine", full), span("machine", ends),
        span("machine", (DAYS[0], DAYS[39]), off=DAYS[39]), haul_days=0,
    )  # fmt: skip
    assert (week.earliest_off, waits.earliest_off) == (DAYS[4], DAYS[1])
    assert (DAYS[39].weekday(), long.earliest_off) == (4, DAYS[25])
    assert long.latest_off == DAYS[67 - 28] + 28 * DAY
    (hauled,) = asked(span("machine", ends, off=DAYS[7]), haul_days=1)
    assert hauled.earliest_off == DAYS[2]


def test_days_in_use_are_worked_on_workdays_that_are_no_holidays():
    """Delivered on a Saturday, used from Monday, 30 August, six days with a wait, gone on Friday,
    10 September. Monday to Saturday are six days: off on Monday, the 6th; a holiday on that day
    moves it to Tuesday, and one on the Wednesday before moves the last day, too."""
    monday, friday = dt.date(2027, 8, 30), dt.date(2027, 9, 10)
    used = tuple(monday + n * DAY for n in (0, 1, 2, 7, 8, 10))
    for holidays, earliest in (((), 7), ((7,), 8), ((2,), 8)):
        off_days = tuple(Holiday(date=monday + n * DAY) for n in holidays)
        made = job(workdays="Mon-Sat", haul_days=1).model_copy(update={"holidays": off_days})
        waits = span("machine", used, on=monday - 2 * DAY, off=friday)
        assert rental_request._earliest_off(made, waits) == monday + earliest * DAY


def test_a_day_that_is_not_worked_moves_to_the_next_that_is():
    """Off rent two weeks after a Saturday and a Sunday: on the Monday."""
    for off in (DAYS[40], DAYS[41]):
        (line,) = asked(span("machine", (DAYS[0], DAYS[38]), off=off))
        assert (line.earliest_off, line.latest_off) == (DAYS[28], DAYS[42] + 28 * DAY)


def test_fuel_is_priced_by_the_liter():
    """4.00 a gallon of 3.785411784 L."""
    made = job(*map(run, STICKS_M), machines=(SMALL,)).model_copy(
        update={"rates": rates(fuel_price=money(4, "gal"))}
    )
    fleet = SimpleNamespace(spans=(span("machine", (DAYS[0],)),))
    plan = SimpleNamespace(lines=LINES)
    planned = SimpleNamespace(job=made, runs=SIZED, plan=plan, fleet=fleet)
    assert request_lines(planned)[0].fuel_price_l == pytest.approx(4 / 3.785411784)


def test_a_load_is_close_to_a_class_above_the_share_that_is_left():
    """A quarter of 1,000 kg: 750 are not close yet, 751 are."""
    assert [near_capacity(need, 1000.0, 0.25) for need in (750.0, 751.0)] == [False, True]


def test_rent_of_a_piece_that_came_today_is_a_day_and_its_trip():
    """100 and 50; what comes tomorrow has cost nothing."""
    made = job(machines=(machine(),))
    came = [OnRent(class_id="M3", on_rent=date) for date in (MONDAY, MONDAY + DAY)]
    assert rent_to_date(made, came[:1], MONDAY) == Decimal("150.00")
    assert rent_to_date(made, came[1:], MONDAY) == Decimal(0)


def test_rent_of_two_pieces_is_twice_that_of_one():
    """Monday to Friday, there the Friday before and gone the Monday after: 11 days, two weeks at
    300 and two trips at 50 each: 700."""
    made = job()
    dates = tuple(DAYS[:5])
    assert [rent_cost(made, machine(), Use(1, dates, n)) for n in (1, 2)] == [700.0, 1400.0]


def test_nothing_on_rent_has_no_peak():
    assert peak([]) == 0


def test_of_two_ways_that_cost_the_same_the_one_with_fewer_stays_is_taken():
    """Monday and Thursday at 100 a day: kept it is 400 and two trips; returned between, 200 and
    four. At 100 a trip both are 600; at 99 it goes back, at 101 it stays."""
    dates = [DAYS[0], DAYS[3]]
    for trip, stays in ((99, 2), (100, 1), (101, 1)):
        item = machine(week_rate=money(5000, "week"), four_week_rate=money(9000, "4 weeks"),
                       delivery=money(trip, "trip"))  # fmt: skip
        assert len(cheapest_stays(dates, item, Haulage(0))) == stays, trip


def lifter(class_id, **changes):
    return Lifter(class_id=class_id, capacity_kg=500, fuel_rate_l_h=0.0, **rental(**changes))


def served(*ranked, levels=(0,)):
    """Return the class that has each day of a week of some weeks that need some level."""
    days = [DayLevel(DAYS[7 * week + n], level) for week, level in enumerate(levels)
            for n in range(7)]  # fmt: skip
    return choose_by_level(days, ranked, Terms(Haulage(0)))


def test_of_two_classes_that_cost_the_same_the_smaller_is_taken():
    """A week: 300 for either, though the larger is cheaper by the day."""
    small, large = lifter("S"), lifter("L", day_rate=money(60))
    assert list(served(small, large)) == ["S"]


def test_a_larger_class_is_looked_at_where_one_of_its_rates_is_lower():
    """A week at 200 in place of 300, the day at 100 for both: the larger one."""
    small, large = lifter("S"), lifter("L", week_rate=money(200, "week"))
    assert list(served(small, large)) == ["L"]


def test_of_two_ways_that_cost_the_same_the_one_with_fewer_changes_is_taken():
    """Two weeks, the second for the large class. Alone: two weeks at 350 and two trips, 800. The
    small one before it: 250 and 350 and four trips, 800 too."""
    small = lifter("S", week_rate=money(250, "week"))
    large = lifter("L", week_rate=money(350, "week"))
    assert served(small, large, levels=(0, 1)) == {"L": tuple(DAYS[:14])}


def test_days_that_a_class_may_be_away_between_are_asked_for_by_themselves():
    """Monday and Wednesday, trips free: the small one costs two days at 100, the large one 240 or a
    week at 250. Kept over Tuesday the small one would be 300."""
    free = money(0, "trip")
    small = lifter("S", week_rate=money(600, "week"), delivery=free)
    large = lifter("L", day_rate=money(120), week_rate=money(250, "week"), delivery=free)
    days = [DayLevel(DAYS[0], 0), DayLevel(DAYS[2], 0)]
    assert list(choose_by_level(days, (small, large), Terms(Haulage(0)))) == ["S"]
    days = [DayLevel(DAYS[n], 0) for n in range(3)]
    assert list(choose_by_level(days, (small, large), Terms(Haulage(0)))) == ["L"]


def test_a_class_of_which_just_enough_are_in_stock_is_ranked():
    found = rank([lifter("none", stock=1), lifter("just", stock=2), lifter("more", stock=3)], 2)
    assert [row.class_id for row in found] == ["just", "more"]


def test_too_many_changes_of_need_are_joined_where_they_span_the_fewest_days(monkeypatch):
    """Days 0, 10, 11 and 30 in two blocks: 10 and 11 first, then 0 with them: 11 days, not 20."""
    monkeypatch.setattr(class_by_day, "MOST_BLOCKS", 2)
    blocks = [Block((DAYS[day],), level) for level, day in enumerate((0, 10, 11, 30))]
    found = class_by_day._merged(blocks)
    assert [(block.dates, block.level) for block in found] == [
        ((DAYS[0], DAYS[10], DAYS[11]), 2), ((DAYS[30],), 3),
    ]  # fmt: skip


def test_blocks_are_joined_by_the_days_that_they_span_by_then(monkeypatch):
    """0, 10, 11 with 15, 30 and 42 in three: 10 and 11 to 15 span 5. From 0 they are 15 then, no
    longer the 10 from 0 to 10: 30 and 42, which span 12, are next."""
    monkeypatch.setattr(class_by_day, "MOST_BLOCKS", 3)
    days = ((0,), (10,), (11, 15), (30,), (42,))
    blocks = [Block(tuple(DAYS[n] for n in some), 0) for some in days]
    found = class_by_day._merged(blocks)
    assert [block.dates for block in found] == [
        (DAYS[0],), (DAYS[10], DAYS[11], DAYS[15]), (DAYS[30], DAYS[42]),
    ]  # fmt: skip


def test_fuel_at_its_price_decides_between_two_sets():
    """Monday to Sunday at 10 and 30 L a day, without haulage: 400 and 300 of rental. At 2.00 a
    liter 140 and 420 on top: the small one; at 0.25 it is 17.50 and 52.50: the large one."""
    small = Generator(class_id="G1", rated_kw=10, fuel_half_l_h=1, fuel_full_l_h=1,
                      **rental(week_rate=money(400, "week")))  # fmt: skip
    large = Generator(class_id="G2", rated_kw=20, fuel_half_l_h=3, fuel_full_l_h=3, **rental())
    liters = {"G1": 20.0, "G2": 60.0}
    supply = SimpleNamespace(
        at_once=2, quantity=2, fed=dict.fromkeys(DAYS[:7], ("M3",)),
        trial=lambda item, dates: SimpleNamespace(fails=""),
        fuel_l=lambda item, date: liters[item.class_id],
    )  # fmt: skip
    for price, chosen in ((2.0, "G1"), (0.25, "G2")):
        made = job(haul_days=0, workdays="Mon-Sun").model_copy(
            update={"generators": (small, large), "rates": rates(fuel_price=money(price, "L"))}
        )
        assert list(choose_sets(made, supply)) == [chosen]


def test_one_supplier_for_all_lines_and_none():
    """Ten days for two lines at 100 and at 90 a day: 1,900 from one; the other quotes for one."""
    lines = [RequestLine(number=n, kind="lifting", need=LiftNeed(100.0, 12.0), quantity=1,
                         deliver_by=MONDAY, off_rent=DAYS[9], earliest_off=DAYS[9],
                         latest_off=DAYS[9], work_days=8, shift_hours=10.0, nights=False)
             for n in (1, 2)]  # fmt: skip

    def quote(line, supplier, rate):
        return Quote(line=line, supplier=supplier, day_rate=rate, week_rate=5000.0,
                     four_week_rate=9000.0)  # fmt: skip

    both = [quote(1, "A", 100.0), quote(2, "A", 90.0), quote(1, "B", 80.0)]
    (choice,) = compare_quotes(lines, both, 0.2, MONDAY).choices
    assert (choice.single, choice.single_cost) == ("A", Decimal(1900))
    (choice,) = compare_quotes(lines, both[2:], 0.2, MONDAY).choices
    assert (choice.single, choice.single_cost, choice.open_lines) == ("", Decimal(0), (2,))


def generator(class_id="G1", rated_kw=10.0, **changes):
    return Generator(class_id=class_id, rated_kw=rated_kw, fuel_half_l_h=1, fuel_full_l_h=1,
                     **rental(**changes))  # fmt: skip


def test_a_plan_of_classes_has_its_cost_and_its_number_of_stays():
    """Monday and Wednesday for the small class, Tuesday for the large at ten times its rates. The
    small one stays three days, 300 and 100 for trips; the large one comes for a day, 1,000 and
    100."""
    large = lifter("L", day_rate=money(1000), week_rate=money(5000, "week"),
                   four_week_rate=money(9000, "4 weeks"))  # fmt: skip
    blocks = [Block((DAYS[n],), level) for n, level in enumerate((0, 1, 0))]
    choice = _Choice(blocks, (lifter("S"), large), Terms(Haulage(0)))
    assert choice._best(0, 2, -1) == (1500.0, 2)


def test_a_class_that_no_day_needs_is_looked_at_where_anything_of_it_is_less():
    """Another day rate, or less fuel at half load though more at full; not the same for more."""
    base = {"fuel_half_l_h": 2.0, "fuel_full_l_h": 3.0}
    small = generator("S").model_copy(update=base)
    for changes, places in (
        ({"day_rate": money(99)}, [0, 1]), ({"fuel_half_l_h": 1.0, "fuel_full_l_h": 9.0}, [0, 1]),
        ({"fuel_full_l_h": 9.0}, [0]), ({}, [0]),
    ):  # fmt: skip
        other = generator("L").model_copy(update={**base, **changes})
        assert _worth_a_look((small, other), {0}) == places


def test_a_generator_of_which_just_enough_are_in_stock_may_be_taken():
    supply = SimpleNamespace(_hardest=lambda kind, used: ("M3", SimpleNamespace(needed_kw=10.0)),
                             loads={"M3": None}, at_once=2)  # fmt: skip
    fails = [CrewPower._try(supply, generator(stock=stock), ("M3",)).fails for stock in (1, 2)]
    assert fails == ["only 1 in stock, 2 needed", ""]


def test_the_dip_is_that_of_the_largest_motor_that_a_set_feeds():
    loads = {name: SimpleNamespace(motor_start_kva=kva) for name, kva in (("a", 10.0), ("b", 30.0))}
    supply = SimpleNamespace(loads=loads, _used=lambda dates: ("a", "b"))
    item = generator()
    assert CrewPower._dip(supply, item, DAYS[:1]) == voltage_dip(kind_of(item), 10.0, 30.0)


def test_the_mean_load_of_a_day_is_that_of_its_classes():
    made, duty = job(machines=(SMALL, LARGE)), SimpleNamespace(heater_duty=0.5)
    machines = {row.class_id: row for row in made.machines}
    supply = SimpleNamespace(machines=machines, job=made, power={"M3": duty, "M9": duty})
    each = [mean_load_kw(row, made.power, 0.5, 1) for row in (SMALL, LARGE)]
    found = CrewPower._mean_of(supply, (Fed("M3", 1, 20.0), Fed("M9", 1, 20.0)))
    assert found == pytest.approx((each[0] + each[1]) / 2)
    assert each[0] != each[1]


def test_all_sets_of_a_crew_burn_fuel():
    """Two sets at 3 L an hour for 9.5 h."""
    used = (Fed("M3", 1, 20.0),)
    supply = SimpleNamespace(fed={MONDAY: used}, _hourly={("G1", used): 3.0}, quantity=2,
                             _engine_hours=lambda date: 9.5)  # fmt: skip
    assert CrewPower.fuel_l(supply, generator(), MONDAY) == 57.0


def test_a_machine_is_explained_by_its_hardest_joint():
    """12 in has the larger joint; without a gauge or its limit nothing is said of pressure."""
    found = estimate(job(run("R1"), run("R2", size="12")))
    (span,) = [one for one in found.fleet.spans if one.kind == "machine"]
    assert "run R2; gauge up to" in span.why.text
    assert span.fuel_l == 0.0
    for gauge, limit, shown in (((0, 0, 9.0), 25.0, "gauge up to"), (None, 25.0, "hand lever"),
                                ((0, 0, 9.0), None, "hand lever")):  # fmt: skip
        sized_run = SimpleNamespace(run_id="R1", machine=SimpleNamespace(gauge_mpa=gauge, why=""))
        assert shown in _machine_reason(sized_run, limit).text


def test_a_crew_that_shares_one_generator_needs_one():
    """Two machines of a crew on one set; there is but one of each class."""
    made = job(machines_per_crew=2, generators_per_crew="one shared", site_load_kw=0.0)
    stock = tuple(row.model_copy(update={"stock": 1}) for row in made.generators)
    found = estimate(made.model_copy(update={"generators": stock}))
    (span,) = [one for one in found.fleet.spans if one.kind == "generator"]
    assert span.quantity == 1


def test_what_is_too_small_is_held_against_the_largest_of_which_there_are_enough():
    supply = SimpleNamespace(at_once=4, needed=lambda: SimpleNamespace(name="starting",
                                                                       needed_kw=99.0))  # fmt: skip
    message = FleetBuilder._no_generator(
        SimpleNamespace(job=job(), places=Places()), supply
    ).message
    assert message.endswith("starting needs 99 kW; the largest in stock has 60 kW")
    supply.at_once = 5
    message = FleetBuilder._no_generator(
        SimpleNamespace(job=job(), places=Places()), supply
    ).message
    assert message.endswith("starting needs 99 kW or more")


def test_fuel_of_a_lifter_on_a_day():
    """4 L an hour, working 0.4 of ten hours: 16 L at 1.60."""
    item = lifter("L1").model_copy(update={"fuel_rate_l_h": 4.0})
    assert fuel_a_day(job(), item, 10.0) == pytest.approx(25.60)


# Quotes and requests


def quoted(**changes):
    return Quote(**{"line": 1, "supplier": "A", "day_rate": 100.0, **changes})


def asked_line(**changes):
    """A lifter from Monday to Wednesday, for ten hours a day."""
    values = {
        "number": 1,
        "kind": "lifting",
        "need": LiftNeed(100.0, 12.0),
        "quantity": 1,
        "deliver_by": MONDAY,
        "off_rent": DAYS[2],
        "earliest_off": DAYS[2],
        "latest_off": DAYS[2],
        "work_days": 3,
        "shift_hours": 10.0,
        "nights": False,
    }
    return RequestLine(**{**values, **changes})


def test_hours_beyond_those_of_a_quote_cost_what_it_says():
    """Three days at 100. Ten hours a day are two more than eight: six over the days, at 20 each;
    without a price for them, or without hours, or at ten hours a day, nothing."""
    for changes, cost in (
        ({"day_hours": 8.0, "excess_hour": 20.0}, 420), ({"day_hours": 8.0}, 300),
        ({"excess_hour": 20.0}, 300), ({"day_hours": 10.0, "excess_hour": 20.0}, 300),
    ):  # fmt: skip
        assert quote_cost(quoted(**changes), asked_line()) == cost


def test_a_stay_is_a_day_at_least():
    assert quote_cost(quoted(), asked_line(), more_days=-9) == 100


def test_a_quote_is_valid_on_its_last_day():
    for until, lapsed in ((MONDAY, False), (MONDAY - DAY, True), (None, False)):
        (one,) = compare_quotes([asked_line()], [quoted(valid_until=until)], 0.2, MONDAY).quotes
        assert one.lapsed is lapsed


def test_of_two_suppliers_for_all_lines_the_cheaper_is_named():
    quotes = [quoted(supplier=name, day_rate=rate) for name, rate in (("A", 90.0), ("B", 80.0))]
    (choice,) = compare_quotes([asked_line()], quotes, 0.2, MONDAY).choices
    assert (choice.single, choice.single_cost) == ("B", Decimal(240))


def test_lines_of_a_request_count_from_one_and_name_the_supply_of_what_has_a_cord():
    first, second = asked(span("machine", (DAYS[0],)), span("machine", (DAYS[1],), class_id="M9"))
    assert (first.number, second.number) == (1, 2)
    assert (first.need.supply, second.need.supply) == ("3-phase, 230 V, 60 Hz",
                                                       "3-phase, 460 V, 60 Hz")  # fmt: skip
    own = SMALL.model_copy(update={"self_powered": True})
    need = rental_request._machine(
        job(run("R1"), machines=(own,)), span("machine", (DAYS[0],)), SIZED[:1]
    )
    assert (need.supply, need.own_power) == ("", True)


def test_a_set_feeds_as_many_machines_as_share_it_on_its_busiest_day():
    """One on Monday, three on Tuesday; each its own set where they do not share."""
    rows = tuple(CrewDates(crew=1, from_date=date, to_date=date, machines=number)
                 for date, number in ((DAYS[0], 1), (DAYS[1], 3)))  # fmt: skip
    for rule, number in (("one shared", 3), ("one per machine", 1)):
        made = job(generators_per_crew=rule).model_copy(update={"crew_dates": rows})
        assert rental_request._machines_on_set(made, span("generator", tuple(DAYS[:2]))) == number


# Limits, lifting and tiers


def test_what_is_close_to_a_limit():
    """A quarter of 25 MPa is left at 18.75, and 0.3 and a quarter of it are 0.375."""

    def near(od_mm=500.0, gauge=(1.0, 1.0, 1.0)):
        return [(word, why.text.split()[-5]) for word, why in
                near_limits(machine(), od_mm, gauge, 0.25)]  # fmt: skip

    words = [[word for word, _ in near(gauge=(low, 1.0, high))]
             for low, high in ((0.375, 18.75), (0.374, 18.76))]  # fmt: skip
    assert words == [[], ["gauge low", "gauge high"][::-1]]
    assert [near(od) for od in (500.0, 1300.0, 60.0)] == [
        [], [("diameter", "largest")], [("diameter", "smallest")],
    ]  # fmt: skip
    assert near(gauge=None) == []


def test_of_two_like_runs_the_first_is_the_hardest_of_its_class():
    runs = [sized(name, "M3", "8", 219.0, 11.0, 5_000.0, 100.0) for name in ("R1", "R2")]
    lines = tuple(PlanLine(DAYS[0], 1, name, "M3") for name in ("R1", "R2"))
    found = PowerNeeds(job(), runs, Plan(lines, ())).hardest
    assert found["M3"].run_id == "R1"


def test_what_is_too_heavy_is_held_against_what_there_is_enough_of():
    """17,000 kg and a quarter more are 21,250; two lifters at once, and just two of each class."""
    made = job(lifters_per_crew=2)
    rows = tuple(row.model_copy(update={"stock": 2}) for row in made.lifting)
    heavy = [(MONDAY, sized("R1", "M3", "8", 219.0, 11.0, 5_000.0, 17_000.0))]
    problem = _too_heavy(made.model_copy(update={"lifting": rows}), heavy, Places())
    assert problem.where == "L1"
    assert problem.message.endswith("needs 21,250 kg; the largest in stock has 20,000 kg")
    problem = _too_heavy(made.model_copy(update={"lifting": ()}), heavy, Places())
    assert problem.where == "capacity_kg"


def test_a_smaller_class_of_which_there_are_enough_costs_more():
    for stock, text in ((1, "2 needed at once, only 1 in stock"),
                        (2, "fits, but a class already on rent costs less")):  # fmt: skip
        assert _rejection(2, lifter("L1", stock=stock), 500.0).text == text


def test_a_span_of_each_tier():
    """36 days at 100 a day, 300 a week and 900 for four: one of each; 5 days are a week."""
    assert cheapest_mix(36, 100.0, 300.0, 900.0) == TierMix(
        days=1, weeks=1, four_weeks=1, cost=1300
    )
    assert cheapest_mix(5, 100.0, 300.0, 900.0) == TierMix(days=0, weeks=1, four_weeks=0, cost=300)


def test_gear_that_is_short_and_what_it_weighs_and_burns():
    """Five at once of three in stock: two are short, of ten none. Two sets burn 3 L an hour for
    ten hours; five of 200 kg are a ton."""
    assert [short_of_stock(5, stock) for stock in (3, 10)] == [2, 0]
    assert burned_l(3.0, 10.0, 2) == 60.0
    assert peak_weight_kg(200.0, 5) == 1000.0


def test_a_lifter_burns_fuel_for_the_share_of_the_day_that_it_works():
    """4 L an hour for 0.4 of it."""
    item = lifter("L1").model_copy(update={"fuel_rate_l_h": 4.0})
    assert _chosen(job(), item, SIZED[0]).fuel_l_h == pytest.approx(1.6)


def test_the_dates_of_a_machine_are_those_of_its_crew_while_the_set_is_used():
    lines = (PlanLine(DAYS[0], 1, "R1", "M3"), PlanLine(DAYS[1], 1, "R1", "M9"),
             PlanLine(DAYS[2], 2, "R2", "M3"), PlanLine(DAYS[3], 1, "R1", "M3"))  # fmt: skip
    used = span("generator", tuple(DAYS[:3]))
    found = rental_request._dates_with(Plan(lines, ()), used, machine("M3"))
    assert found == [DAYS[0]]


def test_load_and_fuel_of_a_set_are_means_of_the_days_for_which_it_was_chosen():
    """2 and 4 kW on its two days, 30 L over them: 3 kW and 15 L a day; what was not chosen has
    neither."""
    trial = SimpleNamespace(fed=Fed("M3", 1, 20.0), fails="",
                            check=SimpleNamespace(needed_kw=5.0, name="running"))  # fmt: skip
    supply = SimpleNamespace(
        crew=1, dates=tuple(DAYS[:3]), trial=lambda item, dates: trial,
        mean_kw={DAYS[0]: 2.0, DAYS[1]: 4.0}.__getitem__, fuel_of=lambda item, dates: 30.0,
        _left=lambda item, fed: 0.9, _dip=lambda item, dates: 0.1,
    )  # fmt: skip
    for chosen, means, verdict in (({"G1": tuple(DAYS[:2])}, (3.0, 15.0), "selected"),
                                   ({}, (None, None), "not needed")):  # fmt: skip
        found = CrewPower._set_check(supply, generator(), chosen)
        assert (found.mean_kw, found.fuel_l_day) == means
        assert found.passes
        assert found.verdict.startswith(verdict)
    trial.fails = "too small"
    found = CrewPower._set_check(supply, generator(), {})
    assert (found.passes, found.verdict) == (False, "too small")


def test_a_class_of_machine_needs_power_as_in_the_hottest_of_its_months():
    """Fed at 10, 40 and 25 C in turn: what the site leaves of a rating at 40 C, on the set that
    fed it first."""
    made = job(machines=(SMALL,))
    supply = SimpleNamespace(
        job=made.model_copy(update={"generators": (generator("G1"), generator("G2"))}),
        fed={DAYS[n]: (Fed("M3", 1, warm),) for n, warm in enumerate((10.0, 40.0, 25.0))},
        machines={"M3": SMALL}, _left=lambda item, fed: (item.class_id, fed.ambient_c),
        _site=lambda fed: made.site.model_copy(update={"ambient_c": fed.ambient_c}),
        power={"M3": SimpleNamespace(model_copy=lambda update: update)},
    )  # fmt: skip
    found = CrewPower.needs_on_sets(supply, {"G1": DAYS[:1], "G2": DAYS[1:3]})
    assert found["M3"]["derating"] == ("G1", 40.0)


def test_what_a_class_on_rent_serves_and_burns_beside_others():
    """Of five blocks at 10, 20 ... it serves those of its own level: 10, 30 and 50."""
    beside = _Beside((0, 1, 0, 2, 0), 0, lambda block: 10.0 * (block + 1))
    assert [beside.fuel(*ends) for ends in ((0, 5), (0, 3), (1, 3), (2, 5), (3, 3))] == [
        90.0, 40.0, 30.0, 80.0, 0.0,
    ]  # fmt: skip
    assert (beside.next_hard, beside.last_hard) == ([1, 1, 3, 3, 5], [-1, 1, 1, 3, 3])


def test_a_class_that_stays_burns_fuel_before_and_after_a_larger_one():
    """The small one has Monday and the Wednesday and Thursday, at 10 a day. For Tuesday the large
    one comes: 1,000, 100 for trips and 20 of fuel."""
    large = lifter("L", day_rate=money(1000), week_rate=money(5000, "week"),
                   four_week_rate=money(9000, "4 weeks"))  # fmt: skip
    dates = ((DAYS[0],), (DAYS[1],), (DAYS[2], DAYS[3]))
    blocks = [Block(some, level) for some, level in zip(dates, (0, 1, 0), strict=True)]
    terms = Terms(Haulage(0), {"S": 10.0, "L": 20.0})
    choice = _Choice(blocks, (lifter("S"), large), terms)
    found = [choice._best(first, last, 0) for first, last in ((0, 0), (0, 1), (1, 2), (0, 2))]
    assert found == [(10.0, 0), (1130.0, 1), (1140.0, 1), (1150.0, 1)]
    assert choice._best(0, 2, 1) == (80.0, 0)


def test_why_a_smaller_lifter_is_not_taken_is_said_of_no_other():
    classes = (("L1", 400.0), ("L2", 500.0), ("same", 500.0), ("L3", 600.0))
    rows = [lifter(name).model_copy(update={"capacity_kg": mass}) for name, mass in classes]
    made = job().model_copy(update={"lifting": tuple(rows)})
    assert [one.class_id for one in _chosen(made, rows[1], SIZED[0]).rejected] == ["L1"]


def test_a_set_is_too_small_for_what_asks_more_than_it_gives():
    checks = [SimpleNamespace(name=name, needed_kw=kw)
              for name, kw in (("running", 10.0), ("starting", 10.1))]  # fmt: skip
    supply = SimpleNamespace(_checks=lambda kind, fed: checks)
    said = CrewPower._too_small(supply, generator(rated_kw=10.0), Fed("M3", 1, 20.0))
    assert said == "too small: fails starting"
    all_fail = CrewPower._too_small(supply, generator(rated_kw=9.0), Fed("M3", 1, 20.0))
    assert all_fail == "too small: fails every check"


@pytest.mark.parametrize(("machines", "said"), [(1, "machine"), (2, "2 machines")])
def test_what_a_set_feeds_is_one_machine_or_so_many(machines, said):
    load = SimpleNamespace(running_kw=5.0, running_kva=6.0, starting_kw=8.0)
    trial = SimpleNamespace(fed=Fed("M3", machines, 20.0), load=load,
                            check=SimpleNamespace(name="starting"))  # fmt: skip
    supply = SimpleNamespace(trial=lambda *_: trial, _left=lambda *_: 0.5, _dip=lambda *_: 0.1,
                             need=lambda item, dates, text: text)  # fmt: skip
    text = CrewPower.why(supply, generator(), DAYS[:1])
    assert text.startswith(f"{said} and site load: running 5.0 kW")
    assert text.count(":") == 1


def test_without_reasons_generators_are_the_same_without_their_words():
    made = job()
    sizer = Sizer(made, Places())
    runs = sizer.size_all()
    plan = lay_out(made, runs, sizer.cycle_on)
    full, bare = (equip(made, runs, plan, Places(), reasons=each) for each in (True, False))
    (one,), (other,) = ([span for span in found.spans if span.kind == "generator"]
                        for found in (full, bare))  # fmt: skip
    kept = {"why": other.why, "rejected": ()}
    assert one.model_copy(update=kept) == other
    assert (one.why.need, one.why.limit) == (other.why.need, other.why.limit)
    assert one.why.text.startswith("machine and site load")
    assert (other.why.text, other.rejected) == ("", ())


@pytest.mark.parametrize("reasons", [True, False])
def test_how_sets_stand_up_to_their_load_is_one_of_the_reasons(reasons, monkeypatch):
    monkeypatch.setattr(fleet, "choose_sets", lambda *_: {"G15": DAYS[:1]})
    monkeypatch.setattr(fleet, "generator_spans", lambda *_, reasons: [reasons])
    supply = SimpleNamespace(job=job(), set_checks=lambda _: ["check"],
                             needs_on_sets=lambda _: {"M3": "on its set"})  # fmt: skip
    builder = object.__new__(FleetBuilder)
    builder.reasons, builder.sets, builder.power = reasons, [], {"M3": "at all"}
    assert builder._sets(supply) == [reasons]
    found = builder.sets, builder.power["M3"]
    assert found == ((["check"], "on its set") if reasons else ([], "at all"))


def test_a_set_must_be_there_for_those_on_site_before(monkeypatch):
    """Two machines on Monday, one more from then to Tuesday: two sets, then three at once."""
    uses = [SimpleNamespace(dates=dates, quantity=n) for dates, n in ((DAYS[:1], 2), (DAYS[:2], 1))]
    monkeypatch.setattr(fleet, "uses", lambda *_: uses)
    monkeypatch.setattr(fleet, "CrewPower", lambda job, crew, fed, power, *, sets, at_once: (
        len(fed), sets, at_once,
    ))  # fmt: skip
    builder = object.__new__(FleetBuilder)
    builder.machines, builder.power = {"M3": SimpleNamespace(self_powered=False)}, {}
    builder._sets = lambda supply: [supply]
    of_m3 = SimpleNamespace(machine=SimpleNamespace(class_id="M3"))
    found = builder._generator_spans(job(), 1, [(date, of_m3) for date in DAYS[:2]])
    assert found == [(1, 2, 2), (2, 1, 3)]
