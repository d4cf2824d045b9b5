"""What-ifs on gear that is short and classes side by side, each value worked by hand."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.errors import EstimatorError
from estimator.models.choice import Reason
from estimator.models.plan import Plan, PlanLine
from estimator.models.rental import RentalSpan, TierMix
from estimator.whatif import machine_options, short_stock
from estimator.whatif.short_stock import passed_over, premium, shortages, with_plenty, within_stock
from tests.jobs import job, machine, money, run

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
DAYS = [MONDAY + n * DAY for n in range(60)]


def span(crew, first, last, class_id="M3", used=None, need=0.0, kind="machine"):
    days = DAYS[first : last + 1]
    return RentalSpan(kind=kind, class_id=class_id, crew=crew, quantity=1, on_rent=days[0],
                      off_rent=days[-1], used=tuple(days if used is None else used),
                      rate_periods=TierMix(days=1, weeks=0, four_weeks=0, cost=100.0),
                      fuel_l=0.0, why=Reason(text="", need=need))  # fmt: skip


def held(*spans, lines=(), **values):
    plan = SimpleNamespace(fleet=SimpleNamespace(spans=spans), plan=Plan(tuple(lines), ()))
    return SimpleNamespace(**{**vars(plan), **values})


def test_a_plan_is_short_while_it_holds_more_than_there_is():
    """Three crews, days 0 to 9, 5 to 14 and 7 to 8, and one in stock: from 5 to 9, two missing."""
    spans = span(1, 0, 9), span(2, 5, 14), span(3, 7, 8)
    (found,) = shortages(held(*spans).fleet, job(machines=(machine(stock=1),)))
    assert (found.period.first, found.period.last, found.quantity) == (DAYS[5], DAYS[9], 2)
    assert not list(shortages(held(*spans).fleet, job(machines=(machine(stock=3),))))


def test_gear_from_elsewhere_costs_the_part_above_the_rate():
    """Two at 400 at 1.25 times: 200."""
    assert premium(2, 400.0, 1.25) == 200.0


@pytest.mark.parametrize(("days", "rental"), [(1, 100), (5, 300), (8, 400)])
def test_both_ends_of_the_days_that_are_short_are_rented(days, rental, monkeypatch):
    """A day at 100, five days a week at 300, eight both; at 1.5 times half of it more."""
    made = job(machines=(machine(stock=1),), outside_rental=1.5)
    monkeypatch.setattr(short_stock, "replace", lambda priced, cost_lines, bid: cost_lines)
    monkeypatch.setattr(short_stock, "make_bid", lambda *asked: None)
    priced = held(span(1, 0, 20), span(2, 3, 2 + days), cost_lines=("own",),
                  job=SimpleNamespace(rates=made.rates))  # fmt: skip
    ((own, more), text) = short_stock._from_elsewhere(priced, made)
    assert (own, more.amount) == ("own", Decimal(rental) / 2)
    assert text.startswith("1 more of class M3 rented from elsewhere at 1.5 x its rate")


def test_the_cheaper_way_to_do_with_the_stock_is_taken(monkeypatch):
    """From elsewhere at 90 or by another class at 80; only from elsewhere where no class fits."""
    made, priced = job(machines=(machine(stock=1),)), held(span(1, 0, 9), span(2, 0, 9))
    at = {cost: SimpleNamespace(bid=SimpleNamespace(job_cost=cost)) for cost in (80, 90)}
    monkeypatch.setattr(short_stock, "_from_elsewhere", lambda *asked: (at[90], "elsewhere"))
    for way, chosen in (((at[80], "class"), "class"), (None, "elsewhere")):
        monkeypatch.setattr(short_stock, "_by_next_class", lambda *asked, way=way: way)
        assert within_stock(priced, made, None)[1] == chosen
    plenty = job(machines=(machine(stock=2),))
    assert within_stock(priced, plenty, None) == (priced, "")


def test_enough_of_each_class_is_what_all_crews_hold_at_once():
    """Three crews with two machines and one lifter each hold six; ten in stock stay ten."""
    made = job(machines=(machine("A", stock=1), machine("B", stock=10)), crews=3,
               machines_per_crew=2, lifters_per_crew=1)  # fmt: skip
    found = with_plenty(made)
    assert [row.stock for row in found.machines] == [6, 10]
    assert {row.stock for row in (*found.generators, *found.lifting)} == {6}


def priced_on_m3(*diameters_mm):
    runs = tuple(SimpleNamespace(machine=SimpleNamespace(class_id="M3"),
                                 geometry=SimpleNamespace(od_mm=od_mm))
                 for od_mm in diameters_mm)  # fmt: skip
    return held(span(1, 0, 9), runs=runs)


def test_a_class_at_a_lower_rate_is_passed_over_for_its_stock_alone():
    """Two machines a crew and one in stock. A class at the same rate, with two, or too small for
    219 and 914 mm is not."""
    low = money(800, "4 weeks")
    for other, names in (
        (machine("M2", stock=1, four_week_rate=low, od_max_mm=300.0), ["M2"]),
        (machine("M2", stock=1), []),
        (machine("M2", stock=2, four_week_rate=low), []),
        (machine("M2", stock=1, four_week_rate=low, od_max_mm=200.0), []),
    ):
        made = job(machines=(machine("M3"), other), machines_per_crew=2)
        assert passed_over(priced_on_m3(219.0, 914.0), made) == names


def test_a_set_or_lifter_is_passed_over_where_it_carries_the_need():
    """Crews with two sets of each; the need of 20 kW is just that of the class, 21 is more."""
    plain = job(machines_per_crew=2, generators_per_crew="one per machine")
    base = plain.generators[0]
    taken = base.model_copy(update={"class_id": "G9", "rated_kw": 60.0})
    other = base.model_copy(update={"class_id": "G1", "rated_kw": 20.0, "stock": 1,
                                    "four_week_rate": money(1, "4 weeks")})  # fmt: skip
    made = plain.model_copy(update={"generators": (taken, other)})
    for need, names in ((20.0, ["G1"]), (21.0, [])):
        needs = (need, 50.0)
        spans = [span(crew, 0, 9, "G9", need=kw, kind="generator") for crew, kw in enumerate(needs)]
        assert passed_over(held(*spans, runs=()), made) == names
    shared = made.changed(generators_per_crew="one shared")
    one = span(1, 0, 9, "G9", need=20.0, kind="generator")
    assert passed_over(held(one, runs=()), shared) == []


def line(day, crew, run_id, class_id="M3"):
    return PlanLine(DAYS[day], crew, run_id, class_id)


def test_runs_move_of_the_crew_that_works_least_with_what_is_short():
    """One missing from 5 to 9: of crew 2, with three days of work. Of two with as many days the
    last; a stay that is over by then, another class and days of another stay do not count."""
    lines = [line(5, 1, "A"), line(5, 2, "B"), line(6, 2, "other", "M9"), line(30, 2, "later"),
             line(7, 3, "C"), line(0, 4, "gone")]  # fmt: skip
    over = span(4, 0, 4, used=DAYS[:1])

    def moved(*spans, stock=1):
        item = machine(stock=stock)
        period = SimpleNamespace(first=DAYS[5], last=DAYS[9], quantity=2)
        short = short_stock.Short("machine", item, period, spans)
        return short_stock._runs_to_move(Plan(tuple(lines), ()), short)

    assert moved(span(1, 0, 9), span(2, 5, 7), over) == {"B"}
    assert moved(span(1, 5, 7), span(2, 5, 7)) == {"B"}
    assert moved(span(1, 0, 5), span(2, 9, 14, used=DAYS[5:6]), stock=0) == {"A", "B"}


def moves(monkeypatch, free, *found, kind="machine"):
    """Return what moving to the next class comes to, and the jobs that were priced on the way."""
    asked = []

    def again(changed):
        asked.append(changed)
        made = found[min(len(asked), len(found)) - 1]
        if made is None:
            raise EstimatorError("cannot be laid out")
        return made

    monkeypatch.setattr(short_stock, "free_classes", lambda *_: free)
    made = job(run("A"), run("B"), machines=(machine(stock=1), *free))
    short = span(1, 0, 9, used=DAYS[:1]), span(2, 5, 7)
    if kind != "machine":
        class_id = made.generators[0].class_id
        short = [span(crew, 0, 9, class_id, kind=kind) for crew in range(9)]
    lines = line(0, 1, "A"), line(5, 2, "B")
    return short_stock._by_next_class(held(*short, lines=lines), made, again), asked


def test_runs_of_a_class_that_is_short_go_to_the_free_one_at_the_lowest_rate(monkeypatch):
    """A, on one day, moves to M5 at 800, not to M4 at 900."""
    free = [machine("M4"), machine("M5", four_week_rate=money(800, "4 weeks"))]
    done = held(span(2, 5, 7))
    (found, text), (changed,) = moves(monkeypatch, free, done)
    assert (found, text) == (done, "class M5 in place of 1 short of class M3")
    assert [one.fleet_class for one in changed.runs] == ["M5", None]


def test_there_is_no_next_class_where_none_is_free_or_none_does(monkeypatch):
    """No free class, sets, what cannot be laid out; after four tries it is left."""
    still = held(span(1, 0, 9), span(2, 0, 9), lines=(line(0, 1, "A"), line(0, 2, "B")))
    free = [machine("M4")]
    for found, tries in ((moves(monkeypatch, [], still), 0), (moves(monkeypatch, free, None), 1),
                         (moves(monkeypatch, free, still, kind="generator"), 0),
                         (moves(monkeypatch, free, still), 4)):  # fmt: skip
        assert (found[0], len(found[1])) == (None, tries)


def test_runs_take_the_class_that_they_move_to():
    made = job(run("A"), run("B"))
    found = short_stock._with_class(made, {"B"}, "M9")
    assert [one.fleet_class for one in found.runs] == [None, "M9"]


def test_each_crew_that_joins_a_pipe_is_on_rent_by_itself():
    """Crew 1 on two days, given twice, and crew 2 on one: in order of the crews."""
    joined = [(2, DAYS[1]), (1, DAYS[0]), (1, DAYS[0]), (1, DAYS[1])]
    found = machine_options._uses(SimpleNamespace(job=job()), joined)
    assert [(use.crew, use.dates, use.quantity) for use in found] == [
        (1, (DAYS[0], DAYS[1]), 1), (2, (DAYS[1],), 1),
    ]  # fmt: skip
