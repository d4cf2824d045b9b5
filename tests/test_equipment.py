"""Stock, limits, classes side by side, hours beyond the rental day and the Equipment sheet."""

import dataclasses
import datetime as dt
import functools
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import estimate
from estimator.cost.rental_lines import hours_beyond, hours_by_tier, hours_lines, hours_total
from estimator.display import describe, show_date
from estimator.equipment.stock import held_between, peak, periods, short_periods
from estimator.models.choice import Reason
from estimator.models.rental import RentalSpan, TierMix
from estimator.whatif.machine_options import pipe_options
from estimator.workbook.book import parse_workbook, with_results
from tests.jobs import job, machine, money, run
from tests.office import errors_in, recalculate
from tests.one_page import book_of, sheet_of

FOLDER = Path(__file__).parent.parent / "examples"
DAY = dt.timedelta(days=1)
MONDAY = dt.date(2027, 3, 1)


def span(first, days, quantity=1, **changes):
    values = {
        "kind": "machine",
        "class_id": "M3",
        "crew": 1,
        "quantity": quantity,
        "on_rent": MONDAY + first * DAY,
        "off_rent": MONDAY + (first + days - 1) * DAY,
        "used": tuple(MONDAY + (first + n) * DAY for n in range(days)),
        "rate_periods": TierMix(days=days, weeks=0, four_weeks=0, cost=100.0 * days),
        "fuel_l": 0.0,
        "why": Reason(text=""),
        **changes,
    }
    return RentalSpan(**values)


SPANS = st.lists(
    st.builds(span, st.integers(0, 40), st.integers(1, 30), st.integers(1, 3)),
    min_size=1,
    max_size=6,
)


@given(SPANS)
def test_peak_equals_counting_every_day(spans):
    """Reference: each date counted by itself."""
    dates = [MONDAY + n * DAY for n in range(80)]
    held = [sum(s.quantity for s in spans if s.on_rent <= d <= s.off_rent) for d in dates]
    assert peak(spans) == max(held)
    assert peak(spans) <= sum(s.quantity for s in spans)
    by_day = [p.quantity for p in periods(spans) for _ in range((p.last - p.first).days + 1)]
    assert by_day == [quantity for quantity in held if quantity]


@given(SPANS, st.integers(0, 6))
def test_short_periods_are_the_days_above_the_stock(spans, stock):
    """Reference: each date counted by itself; no two periods touch."""
    short = [
        d
        for d in (MONDAY + n * DAY for n in range(80))
        if sum(s.quantity for s in spans if s.on_rent <= d <= s.off_rent) > stock
    ]
    found = list(short_periods(spans, stock))
    days = [p.first + n * DAY for p in found for n in range((p.last - p.first).days + 1)]
    assert days == short
    assert all(one.last + DAY < other.first for one, other in pairwise(found))
    assert all(held_between(spans, p.first, p.last) == p.quantity for p in found)


def test_peak_counts_the_day_of_return_by_hand():
    """Two spans of 5 days that share their last and first day: 2 on that day, 1 on the others."""
    found = periods([span(0, 5), span(4, 5)])
    assert [(p.quantity, (p.last - p.first).days + 1) for p in found] == [(1, 4), (2, 1), (1, 4)]


def two_crews(*machines):
    return job(
        run("a", crew=1), run("b", crew=2), machines=machines or (machine("M", stock=1),), crews=2
    )


def warned(found, words):
    return [w for w in found.warnings if words in w.message]


def test_short_stock_is_reported_with_its_dates_and_no_way_out():
    found = estimate(two_crews())
    (warning,) = warned(found, "In stock")
    first, last = (show_date(day, "SI") for day in (dt.date(2027, 2, 26), found.plan.finish + DAY))
    assert warning.serious
    assert warning.message == (
        f"In stock: 1 of class M, but the plan needs 2 at once from {first} to "
        f"{last}: 1 short. No other class that fits is free on those dates. Rent "
        "more, or plan fewer crews at once"
    )


def test_short_stock_names_the_class_that_also_fits():
    dear = money(5000, "4 weeks")
    weak = machine("W", stock=1, max_gauge_mpa=0.5, four_week_rate=dear)
    other = machine("O", stock=1, four_week_rate=dear)
    found = estimate(two_crews(machine("M", stock=1), weak, other))
    (warning,) = warned(found, "In stock")
    assert warning.message.endswith("1 short. Class O also fits and is free on those dates")


def test_class_with_too_few_for_a_crew_is_rejected():
    few, enough = machine("F", stock=1), machine("E", four_week_rate=money(5000, "4 weeks"))
    found = estimate(job(machines=(few, enough), machines_per_crew=2))
    assert found.runs[0].machine.class_id == "E"
    assert found.runs[0].machine.rejected[0].text == "2 needed at once, only 1 in stock"


@pytest.mark.parametrize(
    ("changes", "share", "text"),
    [
        ({"max_gauge_mpa": 1.05}, 0.1, "close to the limit"),
        ({"max_gauge_mpa": 1.05}, 0.01, None),
        ({"max_gauge_mpa": 2.0}, 0.1, None),
        ({"min_gauge_mpa": 0.95}, 0.1, "close to the lowest readable"),
        ({"min_gauge_mpa": 0.5}, 0.1, None),
    ],
)
def test_machines_near_a_limit_are_reported(changes, share, text):
    """Gauge is scaled so that the highest, or for the least readable the lowest, is 1 MPa.

    1 MPa is above 0.9 x 1.05 = 0.945 and below 1.1 x 0.95 = 1.045, but not above 0.99 x 1.05.
    """
    end = 0 if "min_gauge_mpa" in changes else 2
    plain = estimate(
        job(machines=(machine("M", min_gauge_mpa=0.0, max_gauge_mpa=99.0),), drag_mpa=0.0)
    )
    area = 3000.0 * plain.runs[0].machine.gauge_mpa[end]
    bounds = {"min_gauge_mpa": 0.0, "max_gauge_mpa": 99.0, **changes}
    near = machine("M", piston_area_mm2=area, **bounds)
    found = estimate(job(machines=(near,), drag_mpa=0.0, near_limit=share))
    messages = [w.message for w in warned(found, "lass M: gauge")]
    assert len(messages) == (text is not None)
    assert text is None or text in messages[0]


def test_lifting_near_its_capacity_is_reported():
    base = job()
    stick = estimate(base).runs[0].stick_mass_kg * 1.25
    small, large = base.lifting
    near = small.model_copy(update={"capacity_kg": stick * 1.05})
    found = estimate(base.model_copy(update={"lifting": (near, large)}))
    assert warned(found, "is close to the capacity")
    far = small.model_copy(update={"capacity_kg": stick * 1.2})
    assert not warned(
        estimate(base.model_copy(update={"lifting": (far, large)})), "is close to the capacity"
    )


def test_classes_side_by_side_shows_rent_and_reasons_by_hand():
    """Seven days of work with a weekend between, and haulage before and after, are 11 days.

    With 100 a day, 300 a week and 900 for 4 weeks, two weeks at 600 are cheaper than a week and
    four days at 700; two trips make 700. The class that is dearer for 4 weeks costs the same.
    """
    dear = machine("D", four_week_rate=money(5000, "4 weeks"))
    small, weak = machine("S", od_max_mm=150.0), machine("W", max_gauge_mpa=0.5)
    base = job(
        run(segments_m=(1200.0,)), machines=(small, weak, machine("M", od_max_mm=219.075), dear)
    )
    found = estimate(base)
    (pipe,) = pipe_options(found)
    by_class = {option.machine.class_id: option for option in pipe.options}
    days = (found.plan.finish - found.plan.start).days + 3
    assert days == 11
    assert by_class["M"].rent == by_class["D"].rent == 700.0
    assert by_class["M"].taken
    assert [limit for limit, _ in by_class["M"].near] == ["diameter"]
    assert by_class["S"].rent is None
    assert describe(by_class["S"].obstacle, "SI") == (
        "largest pipe 150 mm, this pipe is 219.075 mm"
    )
    assert "max gauge pressure 5 bar" in describe(by_class["W"].obstacle, "SI")
    assert by_class["W"].gauge_mpa == by_class["M"].gauge_mpa


def with_rates(base, **changes):
    return base.model_copy(update={"rates": base.rates.model_copy(update=changes)})


def test_hours_beyond_the_rental_day_by_hand():
    """Shift of 10 h, rental day of 8 h: 2 h a day; 30 days of use, 2 machines: 120 h.

    One four-week of 160 h, one week of 40 h, two days of 8 h cover 216 h: 88.89, 22.22, 8.89 h.
    At 900, 300 and 100: 88.89 x 900/160 + 22.22 x 300/40 + 8.89 x 100/8 = 777.78.
    """
    base = with_rates(job(), rental_day_hours=8.0)
    tiers = TierMix(days=2, weeks=1, four_weeks=1, cost=1400.0)
    mixed = span(0, 30, 2, rate_periods=tiers, excess_h=30 * (10.0 - 8.0))
    assert hours_beyond(mixed) == 120.0
    by_tier = {rate: hours.value for rate, hours in hours_by_tier(base.rates, mixed).items()}
    assert by_tier == {"four_week_rate": 88.89, "week_rate": 22.22, "day_rate": 8.89}
    charge = sum(
        hours * rate
        for hours, rate in zip(by_tier.values(), (900 / 160, 300 / 40, 100 / 8), strict=True)
    )
    assert charge == pytest.approx(777.78, abs=0.01)


@pytest.mark.parametrize("covered", [None, 10.0, 12.0])
def test_no_hours_are_charged_inside_the_rental_day(covered):
    found = estimate(with_rates(job(), rental_day_hours=covered))
    assert found.bid == estimate(job()).bid
    assert {hours_beyond(span) for span in found.fleet.spans} == {0.0}


def test_every_span_counts_the_hours_beyond_of_its_days():
    """Shift of 10 h, rental day of 8 h: 2 h for each day of use and piece."""
    found = estimate(with_rates(job(), rental_day_hours=8.0))
    for span in found.fleet.spans:
        assert hours_beyond(span) == 2.0 * span.work_days * span.quantity > 0


def test_damage_waiver_is_a_share_of_rental_by_hand():
    """10 % of the rental lines without the deliveries."""
    plain, waived = estimate(job()), estimate(with_rates(job(), damage_waiver=0.1))
    rental = sum(s.rate_periods.cost * s.quantity for s in plain.fleet.spans)
    assert float(waived.bid.direct_cost - plain.bid.direct_cost) == pytest.approx(0.1 * rental)


@given(st.integers(1, 4), st.floats(4, 12), st.integers(1, 60))
def test_hours_of_the_tiers_make_up_all_hours_beyond(quantity, covered, days):
    base = with_rates(job(shift_hours=16.0), rental_day_hours=covered)
    one = span(0, days, quantity, excess_h=days * (16.0 - covered))
    hours = sum(tier.value for tier in hours_by_tier(base.rates, one).values())
    assert hours == pytest.approx(hours_beyond(one), abs=0.02)


@functools.cache
def charged(name):
    """Return an example with hours and waiver charged, its estimate and its sheets."""
    workbook = parse_workbook((FOLDER / f"{name}.xlsx").read_bytes())
    extras = {"damage_waiver": 0.12, "rental_day_hours": 8.0}
    stock = [m.model_copy(update={"stock": 1}) for m in workbook.job.machines]
    changed = with_rates(workbook.job, **extras).model_copy(update={"machines": tuple(stock)})
    workbook = dataclasses.replace(workbook, job=changed)
    found = estimate(changed, workbook.places)
    return workbook, found, with_results(workbook, found)


def rows_of(sheet, first_header):
    """Return the rows of a table as mappings by header, up to its total or an empty row.

    An empty row over the same header is where a page begins: the table goes on.
    """
    rows = list(sheet.iter_rows(values_only=True))
    tops = [i for i, row in enumerate(rows) if row[: len(first_header)] == first_header]
    heads = [str(head).partition("\n")[0] for head in rows[tops[0]]]
    found = []
    for number, row in enumerate(rows[tops[0] + 1 :], tops[0] + 1):
        if number in tops or number + 1 in tops:
            continue
        if row[0] in (None, "Total"):
            return found
        found.append(dict(zip(heads, row, strict=True)))
    return found


SUMMARY = ("Equipment", "Class", "In stock", "Peak on rent")
LINES = ("Equipment", "Class", "Crew", "Quantity", "On rent", "Off rent")


@pytest.mark.parametrize("name", ["raw_water_main", "tailings_line", "plant_piping"])
def test_summary_is_the_sum_of_the_rental_lines(name):
    """Reference: the rental lines as written, added up here."""
    _, found, data = charged(name)
    sheet = sheet_of(data, "Equipment", data_only=True)
    summary, lines = rows_of(sheet, SUMMARY), rows_of(sheet, LINES)
    assert len(lines) == len(found.fleet.spans)
    assert len(summary) == len({(line["Equipment"], line["Class"]) for line in lines})
    for row in summary:
        own = [
            ln for ln in lines if (ln["Equipment"], ln["Class"]) == (row["Equipment"], row["Class"])
        ]
        for key in ("Rental", "Delivery", "Diesel fuel", "Trips", "Working days on rent"):
            assert row[key] == pytest.approx(sum(line[key] for line in own)), key
        assert row["Peak on rent"] <= sum(line["Quantity"] for line in own)
        assert row["Short by"] == max(0, row["Peak on rent"] - row["In stock"])
        assert row["First on rent"] == min(line["On rent"] for line in own)
        assert row["Last off rent"] == max(line["Off rent"] for line in own)


def test_sheet_answers_when_the_24_inch_machine_is_on_rent_and_why_not_the_smaller_one():
    _, found, data = charged("raw_water_main")
    book = book_of(data, ("Equipment", "Equipment choice"), data_only=True)
    sheet = book["Equipment"]
    rows = [[cell.value for cell in line] for line in sheet.iter_rows()]
    ((class_id, use),) = [(r[1], r[3]) for r in rows if r[1] and "24 in IPS DR" in str(r[3])]
    (row,) = [r for r in rows_of(sheet, SUMMARY) if r["Class"] == class_id]
    spans = [s for s in found.fleet.spans if s.class_id == class_id]
    assert row["First on rent"].date() == min(s.on_rent for s in spans)
    assert "24 in IPS DR 11, 13.5, 17" in use
    why = book["Equipment choice"]
    texts = [str(c.value) for line in why.iter_rows() for c in line if c.value is not None]
    assert any("largest pipe" in text and "this pipe is 24 in" in text for text in texts)
    too_large = "M8: too large for 24\xa0in, smallest 30\xa0in"
    assert any(text.startswith("M") and text.endswith(too_large) for text in texts)
    smaller = [str(r[3]) for r in rows if str(r[3]).startswith("Needs ")]
    assert smaller[0].endswith(" lb; capacity: L0 130 lb, L1 1,000 lb, L2 2,000 lb")
    assert {"Percent\nload\n%", "Gauge,\nhigh\npsi"} <= set(texts)
    assert any(text.startswith("24 in IPS DR 11, trench") for text in texts)


def test_charges_of_excess_hours_are_those_of_the_cost_lines():
    """Each to the cent, so that the rows add up to their total and the waiver is on what is billed.

    Reference: the cost lines of the excess hours, added up here.
    """
    _, found, data = charged("plant_piping")
    sheet = sheet_of(data, "Equipment", data_only=True)
    rows = rows_of(sheet, (*LINES[:-1], "Charge\n$"))
    lines = {line.key: line.amount for line in found.cost_lines if line.key.endswith("_hours")}
    billed = [
        float(sum(amount for key, amount in lines.items() if key.split(".")[1] == str(number)))
        for number in range(len(found.fleet.spans))
    ]
    assert [row["Charge"] for row in rows] == pytest.approx(billed, abs=1e-6)
    assert any(value != pytest.approx(round(value)) for value in billed)
    assert hours_total(found.job, found.fleet) == pytest.approx(sum(billed), abs=1e-6)


def test_excess_hours_of_two_rents_differ_by_their_first_day():
    """The same machine for the same crew, equally long, once more 40 days later."""
    _, found, _ = charged("plant_piping")
    first = next(span for span in found.fleet.spans if span.excess_h)
    later = first.on_rent + dt.timedelta(40)
    spans = (first, first.model_copy(update={"on_rent": later}))
    fleet = found.fleet.model_copy(update={"spans": spans})
    lines = [(line.item, line.basis) for line in hours_lines(found.job, fleet)]
    assert lines
    assert len(set(lines)) == len(lines)
    assert any(f"from {show_date(later, 'US')}" in basis for _, basis in lines)


@pytest.mark.parametrize("name", ["plant_piping"])
def test_hours_and_waiver_recalculate_to_the_cent(name, tmp_path):
    """Reference: LibreOffice, with the two rates typed into the Rates sheet."""
    workbook, found, data = charged(name)
    path = tmp_path / "charged.xlsx"
    path.write_bytes(data)
    typed = {}
    stocks = {("machines", m.class_id, "stock"): 1 for m in workbook.job.machines}
    for place, value in {
        ("rates", "", "damage_waiver"): 0.12, ("rates", "", "rental_day_hours"): 8.0, **stocks,
    }.items():  # fmt: skip
        sheet, cell = workbook.places.where(*place).split("!")
        typed.setdefault(sheet, {})[cell] = value
    office = recalculate(path, typed)
    assert errors_in(office) == []
    ours = book_of(path, ("Equipment", "Cost"), data_only=True)
    for sheet in ("Equipment", "Cost"):
        for line in ours[sheet].iter_rows():
            for cell in line:
                if isinstance(cell.value, int | float):
                    theirs = office[sheet].get(cell.coordinate)
                    assert theirs == pytest.approx(cell.value, abs=0.004), cell.coordinate
    lines = {line.key: line for line in found.cost_lines}
    assert lines["equipment.damage_waiver"].amount > 0
    assert any(key.endswith("_hours") for key in lines)
