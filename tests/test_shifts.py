"""Overtime dates, pace in overtime, and the night shift: times, plan, cost and what is refused."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import api
from estimator.equipment.excess_hours import hours_beyond
from estimator.errors import InputError
from estimator.inputs.dictionary import fields
from estimator.joint.sizing import Sizer
from estimator.models.calendar import OvertimeSpan
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from estimator.working_time.shifts import Shifts, full_pace_h, inputs_of_shift
from tests.jobs import job, run
from tests.office import errors_in, recalculate
from tests.one_page import book_of
from tests.workbook_factory import WorkbookFactory

START = dt.date(2027, 3, 1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}


def overtime(first, last, hours):
    return OvertimeSpan(from_date=first, to_date=last, shift_hours=hours)


# Pace


def test_pace_by_hand():
    """Half the pace in 2 h beyond 8: work of 9 h in 10 h. Published (Thomas and Raynar, Journal of
    Construction Engineering and Management, 1997): 10 to 15 % lost in weeks of 50 h, five of 10."""
    shift = job(overtime_loss=0.5, straight_hours=8.0, efficiency=0.8).shift
    assert full_pace_h(shift, 10) == pytest.approx(9)
    assert inputs_of_shift(shift, 10, "day").efficiency == pytest.approx(0.8 * (1 - 0.10))


@given(st.floats(4, 16), st.floats(4, 16), st.floats(0, 0.9))
def test_pace_is_lost_only_in_overtime(hours, straight, loss):
    kept = full_pace_h(job(overtime_loss=loss, straight_hours=straight).shift, hours)
    assert kept <= hours
    if hours <= straight or loss == 0:
        assert kept == hours
    assert kept >= min(hours, straight) - 1e-9


def test_lost_pace_and_night_leave_soak_and_cooling_alone():
    """Crew-paced minutes x 10/9 x 1.2 at night in 10 h; all else of the cycle is as it was."""
    changed = {"overtime_loss": 0.5, "night_hours": 10.0, "night_slowing": 0.2}
    plain = Sizer(job(), Places()).cycle_on("R1", START)
    night = Sizer(job(**changed), Places()).cycle_on("R1", START, "night")
    for before, after in zip(plain.elements, night.elements, strict=True):
        slow = 10 / 9 * 1.2 if before.paced_by == "crew" else 1
        assert after.minutes == pytest.approx(before.minutes * slow)
    crew = sum(e.minutes for e in plain.elements if e.paced_by == "crew" and not e.hidden)
    grown = crew * (10 / 9 * 1.2 - 1)
    assert night.plain.cycle_min - plain.plain.cycle_min == pytest.approx(grown)


def test_inputs_of_a_shift_without_losses_are_those_of_the_job():
    assert inputs_of_shift(job().shift, 10.0, "day") == job().shift


# Dates


def test_overtime_dates_have_their_own_hours():
    spans = (overtime(dt.date(2027, 3, 3), dt.date(2027, 3, 4), 12.0),)
    shifts = Shifts.of(job().model_copy(update={"overtime": spans}))
    hours = [shifts.on(dt.date(2027, 3, day))[0].hours for day in (2, 3, 4, 5)]
    assert hours == [10, 12, 12, 10]


def test_overtime_makes_more_joints_and_is_paid():
    day = START + dt.timedelta(days=1)
    long_run = job(run(segments_m=(1500.0,)), **NO_TESTS)
    with_overtime = long_run.model_copy(update={"overtime": (overtime(day, day, 14.0),)})
    base, more = estimate(long_run), estimate(with_overtime)
    joints = [{ln.date: ln.joints for ln in e.plan.lines}[day] for e in (base, more)]
    cycle = base.runs[0].cycle.plain.cycle_min
    assert joints == [int(505 // cycle), int((505 + 240) // cycle)]
    paid = next(d for d in more.plan.crew_days if d.date == day)
    assert (paid.straight_hours, paid.overtime_hours) == (8, 6)


def test_fuel_follows_the_hours_of_the_shifts():
    """Hours of engines: shifts less 0.5 h of breaks; a night of 8 h adds 7.5 h to 9.5 h."""
    shifts = Shifts.of(job(night_hours=8.0))
    assert shifts.engine_hours([START]) == pytest.approx(9.5 + 7.5)


@pytest.mark.parametrize(
    ("night", "multiple", "hours"),
    [(0.0, 1.5, 2.0), (7.0, 1.5, 1.0), (5.0, 1.5, 0.0), (10.0, 1.5, 4.0), (7.0, 1.0, 9.0)],
)
def test_hours_beyond_a_rental_day_by_hand(night, multiple, hours):
    """A rental day of 8 h covers one shift, or two (16 h) where the multiple for two is paid.

    A day shift of 10 h and a night shift of 7 h are 17 h: 1 h beyond 16 with the multiple, 9 h
    beyond 8 without it.
    """
    made = job(shift_hours=10.0, night_hours=night, night_rental=multiple)
    for covered_h, excess_h in ((8.0, hours), (None, 0.0)):
        rates = made.rates.model_copy(update={"rental_day_hours": covered_h})
        given = made.model_copy(update={"rates": rates})
        assert hours_beyond(given, [START]) == pytest.approx(excess_h)


# Night


def night_job(**changes):
    values = {"night_hours": 8.0, "night_slowing": 0.1, "night_premium": 0.15,
              "night_rental": 1.5, **NO_TESTS, **changes}  # fmt: skip
    return job(run(segments_m=(1500.0,)), **values)


def test_night_team_goes_on_where_the_day_team_stopped():
    found = estimate(night_job())
    lines = found.plan.lines
    assert [(ln.date, ln.shift) for ln in lines[:4]] == [
        (START, "day"),
        (START, "night"),
        (START + dt.timedelta(days=1), "day"),
        (START + dt.timedelta(days=1), "night"),
    ]
    assert sum(ln.joints for ln in lines) == found.butt_joints
    sizer = Sizer(night_job(), Places())
    assert lines[1].joints == sizer.cycle_on("R1", START, "night").joints_per_shift
    assert [move for ln in lines for move in ln.moves] == []
    assert found.plan.finish < estimate(night_job(night_hours=0.0)).plan.finish


def test_night_cost_by_hand():
    """Premium: 15 % of the wage for each hour at night. Rental: half of it again, not delivery."""
    found = estimate(night_job())
    by_key = {line.key: line for line in found.cost_lines}
    nights = {ln.date for ln in found.plan.lines if ln.shift == "night"}
    operator = by_key["labor.night_differential.Operator"]
    assert operator.amount == Decimal(str(round(8 * len(nights) * 38 * 0.15, 2)))
    assert by_key["labor.night_differential.Laborer"].quantity.value == 1.5 * 8 * len(nights)
    rented = sum(line.amount for key, line in by_key.items()
                 if key.startswith("equipment.") and key.endswith("_rate"))  # fmt: skip
    assert by_key["equipment.two_shifts"].amount == rented / 2


def test_damage_waiver_takes_in_the_rental_of_two_shifts_by_hand():
    """12 % of the rental lines, of the half of them again for two shifts, and of hours beyond."""
    base = night_job()
    rates = base.rates.model_copy(update={"damage_waiver": 0.12, "rental_day_hours": 8.0})
    by_key = {ln.key: ln for ln in estimate(base.model_copy(update={"rates": rates})).cost_lines}
    charged = sum(line.amount for key, line in by_key.items()
                  if key.startswith("equipment.")
                  and key.endswith(("_rate", "_hours", "two_shifts")))  # fmt: skip
    assert any(key.endswith("_hours") for key in by_key)
    waiver = float(by_key["equipment.damage_waiver"].amount)
    assert waiver == pytest.approx(0.12 * float(charged), abs=0.02)


def test_without_nights_there_are_no_night_lines():
    keys = {line.key for line in estimate(night_job(night_hours=0.0)).cost_lines}
    assert not [key for key in keys if "night" in key or "two_shifts" in key]


def test_both_teams_are_paid_on_a_weather_day():
    wet = night_job()
    weather = tuple(w.model_copy(update={"lost_share": 0.3}) for w in wet.weather)
    days = estimate(wet.model_copy(update={"weather": weather})).plan.crew_days
    lost = [(day.date, day.shift, day.labor_hours) for day in days if day.kind == "weather"]
    assert len({date for date, _, _ in lost}) * 2 == len(lost) > 0
    assert {hours for _, _, hours in lost} == {2.5 * 2}


def test_each_team_makes_its_own_daily_test_joint():
    lines = estimate(night_job(test_joint_rule="each day")).plan.lines
    assert {ln.test_joints for ln in lines} == {1}


# Workbook


def night_workbook():
    factory = WorkbookFactory()
    factory.set("job", "night_hours", 6).set("job", "overtime_loss", 0.25)
    factory.tables["overtime"] = [
        {"from_date": dt.date(2027, 3, 8), "to_date": dt.date(2027, 3, 12), "shift_hours": 12}
    ]
    return factory


def problems(factory):
    with pytest.raises(InputError, match="!") as raised:
        parse_job(FileSource(factory.build()))
    return [str(problem) for problem in raised.value.problems]


def test_overtime_and_night_are_read():
    read = parse_job(FileSource(night_workbook().build())).job
    assert (read.shift.night_hours, read.shift.overtime_loss) == (6, 0.25)
    assert read.overtime == (overtime(dt.date(2027, 3, 8), dt.date(2027, 3, 12), 12.0),)


def test_workbook_without_the_table_and_the_cells_is_read():
    factory = WorkbookFactory(left_out={"overtime"})
    new = ("night_hours", "night_slowing", "night_premium", "night_rental", "overtime_loss",
           "relax_hours")  # fmt: skip
    factory.columns["job"] = [key for key in factory.keys("job") if key not in new]
    read = parse_job(FileSource(factory.build())).job
    assert (read.overtime, read.shift.night_hours, read.moves.relax_hours) == ((), 0, 0)
    assert read.shift.overtime_loss == 0


def test_new_workbook_loses_pace_in_overtime():
    """10 % in the hours beyond straight time: a labeled assumption, and what a blank means."""
    blank = WorkbookFactory().set("job", "overtime_loss", None)
    for factory in (WorkbookFactory(), blank):
        assert parse_job(FileSource(factory.build())).job.shift.overtime_loss == 0.1
    known = next(item for item in fields("job") if item.key == "overtime_loss")
    assert known.basis == "assumption"


def test_recalculated_night_workbook_equals_the_cached_values(tmp_path):
    """Reference: LibreOffice recalculates every formula of Plan, Cost and Bid."""
    workbook = parse_workbook(night_workbook().build())
    found = api.estimate_workbook(workbook)
    assert {"labor.night_differential.Operator", "equipment.two_shifts"} <= {
        line.key for line in found.cost_lines
    }
    data = with_results(workbook, found)
    path = tmp_path / "night.xlsx"
    path.write_bytes(data)
    office = recalculate(path)
    assert errors_in(office) == []
    shown = ("Plan", "Cost", "Bid")
    cached = book_of(data, shown, data_only=True)
    for name in shown:
        for row in cached[name].iter_rows():
            for cell in row:
                if isinstance(cell.value, float):
                    place = f"{name}!{cell.coordinate}"
                    assert office[name][cell.coordinate] == pytest.approx(cell.value, abs=0.004), (
                        place
                    )


def test_overtime_rows_that_run_backwards_or_overlap_are_refused():
    factory = WorkbookFactory()
    day = dt.date(2027, 3, 8)
    spans = [(day, day), (dt.date(2027, 3, 20), day), (day, dt.date(2027, 3, 9))]
    factory.tables["overtime"] = [
        {"from_date": first, "to_date": last, "shift_hours": 12} for first, last in spans
    ]
    where = [factory.where("overtime", key, row)
             for key, row in (("to_date", 1), ("from_date", 2), ("from_date", 0))]  # fmt: skip
    assert problems(factory) == [
        f"{where[0]}: To date: the date 2027-03-08 is before the From date (2027-03-20)",
        f"{where[1]}: From date: These dates overlap the row at {where[2]}. List each date once",
    ]


def test_shifts_without_time_for_work_are_refused():
    factory = WorkbookFactory().set("job", "night_hours", 1)
    found = problems(factory)
    assert found == [
        f"{factory.where('job', 'night_hours')}: Night shift length: 1 h leaves no time "
        "after startup, wrap-up and breaks (95 min)"
    ]


def test_day_and_night_are_no_longer_than_a_day():
    factory = night_workbook().set("job", "night_hours", 12).set("overtime", "shift_hours", 14)
    assert problems(factory) == [
        f"{factory.where('overtime', 'shift_hours')}: Shift length: 14 h plus "
        "Night shift length (12 h) is more than 24 h. Shorten one of them"
    ]
