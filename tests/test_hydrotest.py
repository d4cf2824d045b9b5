"""Hydrotests: water and hours by hand, slots in the calendar, cost, sheet and reader."""

import dataclasses
import datetime as dt
import functools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import InputError, api, estimate
from estimator.cost.hydrotest import water_unit, water_volume
from estimator.display import show_date, show_day
from estimator.errors import OutsideStandardError
from estimator.export.as_json import estimate_json
from estimator.export.as_text import summarize
from estimator.models.hydrotest import repeat_labor_hours
from estimator.models.job import Override
from estimator.models.risk_ranges import RiskRange
from estimator.plan.hydrotest import CrewClock, hydro_hours, pipe_volume_l, rule, sections
from estimator.standards import tables
from estimator.study import add_ranges
from estimator.units import FT_M, GAL_L, IN_MM, to_si
from estimator.whatif import compare
from estimator.workbook.book import parse_workbook, with_results
from estimator.working_time.working_days import WorkingCalendar
from tests.jobs import job, money, rates, run
from tests.office import errors_in, recalculate
from tests.one_page import sheet_of
from tests.workbook_factory import WorkbookFactory

PRICES = {
    "hydro_wage": money(46, "h"),
    "hydro_equipment": money(650, "test section"),
    "hydro_water": money(2, "m3"),
    "hydro_disposal": money(0.001, "L"),
}


def gallons(inside_in, length_ft):
    return pipe_volume_l(inside_in * IN_MM, length_ft * FT_M) / GAL_L


# Worked figure of the trade: 24 in DR 17, inside about 21.2 in, 1,000 ft: 18,300 gal.
def test_volume_is_the_trades_worked_figure():
    assert gallons(21.2, 1000) == pytest.approx(18_300, abs=50)


@pytest.mark.parametrize("inside_in", [2.0, 6.96, 21.2, 50.0])
def test_volume_follows_the_trades_rule_of_thumb(inside_in):
    """4.08 x ID^2 gal per 100 ft, printed to three figures."""
    assert gallons(inside_in, 100) == pytest.approx(4.08 * inside_in**2, rel=0.0013)


def test_volume_by_hand():
    """Bore of 200 mm: pi x 0.1^2 = 0.0314159 m2; 50 m hold 1.570796 m3."""
    assert pipe_volume_l(200.0, 50.0) == pytest.approx(1570.796, abs=0.001)


@pytest.mark.parametrize(("inside", "length"), [(0.0, 1.0), (math.nan, 1.0), (100.0, -1.0)])
def test_volume_refuses_what_is_no_pipe(inside, length):
    with pytest.raises(
        OutsideStandardError, match=r"(inside diameter|length) \[.*\] is .*, outside"
    ):
        pipe_volume_l(inside, length)


def test_rules_are_those_of_the_test_standard():
    """Total 8 h at pressure, rest 8 h, make-up 3 to 4 h, hold 1 h after a drop of 10 psi, 5 %."""
    assert (rule("time at pressure", "high"), rule("rest before repeat", "low")) == (8, 8)
    assert (rule("expansion", "low"), rule("expansion", "high")) == (3, 4)
    assert (rule("test pressure"), rule("hold"), rule("drop"), rule("band")) == (1.5, 1, 10, 5)
    sure = {row["rule"]: row["confidence"] for row in tables.load("hydrotest")}
    assert sure["time at pressure"] == "confirmed"
    assert sure["drop"] == sure["band"] == "from memory"


def test_hours_by_hand():
    """18,300 gal at 100 gal/min fill in 183 min = 3.05 h; the test itself takes 6 h.

    Set-up 4, bleeding 1, drain 2: 4 + 3.05 + 1 + 6 + 2 = 16.05 h.
    """
    found = hydro_hours(18_300 * GAL_L, job(hydro_fill_rate_l_s=to_si(100, "gal/min")).hydrotest)
    assert found.fill == 3.05
    assert found.at_pressure == 6
    assert found.total == pytest.approx(16.05)
    assert repeat_labor_hours(1, found.bleed, found.at_pressure) == 7


def test_own_phases_take_the_place_of_the_standards():
    found = hydro_hours(0.0, job(hydro_expansion_hours=2.5, hydro_hold_hours=2.0).hydrotest)
    assert (found.expansion, found.hold) == (2.5, 2.0)


@given(st.floats(0, 1e7), st.floats(0, 1e7), st.floats(0.1, 100))
def test_more_water_never_takes_less_time(volume, more, rate):
    given_inputs = job(hydro_fill_rate_l_s=rate).hydrotest
    assert hydro_hours(volume + more, given_inputs).total >= hydro_hours(volume, given_inputs).total


def two_sections(**changes):
    return job(
        run("D", priority=1),
        run("A", test_section="North"),
        run("B", test_section="north "),
        run("C", test_section="South", segments_m=(3000.0,)),
        **changes,
    )


def priced(given_job):
    return given_job.model_copy(update={"rates": rates(**PRICES)})


def test_runs_without_a_section_are_not_tested():
    found = estimate(job(run("A"), run("B")))
    assert found.tests == ()
    assert found.finish == found.plan.finish
    assert not [line for line in found.cost_lines if line.key.startswith("hydrotest")]


def test_section_names_are_alike_in_any_case():
    found = {name: [r.run_id for r in runs] for name, runs in sections(two_sections().runs).items()}
    assert found == {"North": ["A", "B"], "South": ["C"]}


def test_section_on_its_days_by_hand():
    """8 in IPS DR 11 is 8.625 in outside with a wall of 0.784 in, at the mean 0.831 in.

    Inside 6.963 in = 176.86 mm; 600 m hold 14.74 m3; at 6 L/s that is 2,457 s = 0.68 h. Set-up,
    filling and bleeding take 5.68 h of a shift of 10 h. The 6 h at pressure do not fit into the
    other 4.32 h and go on the next working day, with 2 h of draining.
    """
    north = estimate(two_sections()).tests[0]
    assert north.volume_l == pytest.approx(14_740, rel=0.001)
    assert north.hours.fill == 0.68
    first, second = north.days
    assert (first.work, first.hours) == (("setup", "filling", "bleeding"), pytest.approx(5.68))
    assert (second.work, second.hours) == (("at pressure", "drain and restore"), 8.0)
    assert second.date == north.pressure_date > first.date
    assert north.labor_hours == pytest.approx(2 * 13.68)


def test_filling_goes_on_for_whole_days():
    """73.7 m3 at 0.5 L/s take 147,400 s = 40.94 h: 6 h after the set-up, then 10 h a day."""
    found = estimate(job(run("C", test_section="S", segments_m=(3000.0,)), hydro_fill_rate_l_s=0.5))
    (test,) = found.tests
    assert test.hours.fill == pytest.approx(40.94, abs=0.01)
    assert [day.hours for day in test.days[:4]] == [10.0] * 4
    assert [day.work for day in test.days[1:4]] == [("filling",)] * 3
    assert test.days[4].work[:2] == ("filling", "bleeding")


@pytest.mark.parametrize(("rest_min", "days"), [(None, 1), (13 * 60, 1), (15 * 60, 2), (1440, 2)])
def test_joints_rest_before_the_test(rest_min, days):
    """A shift of 10 h leaves 14 h until the next; a longer rest takes one more day."""
    given_job = job(run(test_section="S"), workdays="Mon-Sun", own_rest_min=rest_min)
    found = estimate(given_job)
    assert (found.tests[0].ready - found.plan.finish).days == days


def test_rest_counts_from_the_end_of_the_night_shift():
    """Joints of the night rest from 20 h after the begin of the day: 5 h end on the day after."""
    found = estimate(
        job(run(test_section="S"), workdays="Mon-Sun", own_rest_min=5 * 60, night_hours=10.0)
    )
    last = max(found.plan.lines, key=lambda line: (line.date, line.shift))
    days = {"day": 1, "night": 2}[last.shift]
    assert (found.tests[0].ready - found.plan.finish).days == days
    assert {line.shift for line in found.plan.lines} == {"day", "night"}


def test_section_of_runs_without_joints_is_ready_at_the_start():
    given_job = job(run("A"), run("B", segments_m=(10.0,), test_section="S"))
    (test,) = estimate(given_job).tests
    assert test.ready == given_job.dates.start


lengths = st.lists(st.integers(2, 60), min_size=1, max_size=6)


@settings(max_examples=25, deadline=None)
@given(lengths, st.integers(1, 3), st.floats(0.3, 20), st.sampled_from([7.5, 10.0, 12.0]))
def test_tests_keep_their_rules(sticks, groups, rate, shift):
    runs = [
        run(f"R{i}", segments_m=(12.0 * n,), test_section=f"S{i % groups}")
        for i, n in enumerate(sticks)
    ]
    changes = {"hydro_fill_rate_l_s": rate, "shift_hours": shift, "straight_hours": 7.0}
    found = estimate(job(*runs, **changes))
    last = {line.run_id: line.date for line in found.plan.lines}
    calendar = WorkingCalendar.of(found.job)
    busy = {}
    for test in found.tests:
        assert all(test.start >= test.ready > last[run_id] for run_id in test.run_ids)
        assert sum("at pressure" in day.work for day in test.days) == 1
        assert sum(day.hours for day in test.days) == pytest.approx(test.hours.total)
        for day in test.days:
            assert calendar.kind(day.date) == "work"
            busy[day.crew, day.date] = busy.get((day.crew, day.date), 0.0) + day.hours
    assert all(hours <= shift + 1e-6 for hours in busy.values())
    two = estimate(job(*runs, hydro_crews=2, **changes))
    assert two.plan == found.plan
    assert two.finish <= found.finish


@given(st.lists(st.tuples(st.floats(0, 30), st.booleans()), max_size=8), st.floats(0, 9))
def test_a_later_begin_never_ends_earlier(phases, used):
    def end(used_hours):
        calendar = WorkingCalendar(dt.date(2027, 3, 1), "Mon-Fri", (), [0.1] * 12)
        crew = CrewClock(1, 10.0, calendar, dt.date(2027, 3, 1), used_hours)
        for hours, whole in phases:
            crew.work(min(hours, 10.0) if whole else hours, in_one_go=whole)
        return crew.date, round(crew.used_hours, 6)

    assert end(used) >= end(0.0)


def test_pressure_phases_must_fit_a_shift():
    short = two_sections(shift_hours=5.5, straight_hours=5.0)
    with pytest.raises(InputError, match=r"Shift length: 5\.5 h is too short for a hydrotest"):
        estimate(short)
    estimate(job(run(), shift_hours=5.5, straight_hours=5.0))


def test_too_long_at_pressure_is_reported():
    """1 h of raising, 6.5 h of expansion and 1 h of hold are 8.5 h; allowed are 8 h."""
    found = estimate(two_sections(hydro_expansion_hours=6.5))
    (warning,) = [w for w in found.warnings if "at pressure" in w.message]
    assert warning.serious
    assert warning.message.startswith("Hydrotests: 8.5 hours at pressure")
    at_limit = estimate(two_sections(hydro_expansion_hours=6.0))
    assert not [w for w in at_limit.warnings if "at pressure" in w.message]


def test_deadline_counts_the_tests():
    """Joined on the deadline, tested after it."""
    joined = estimate(two_sections()).plan.finish
    found = estimate(two_sections(deadline=joined))
    assert found.plan.finish == joined
    (warning,) = [w for w in found.warnings if w.message.startswith("Deadline")]
    assert show_date(found.finish, "SI") in warning.message
    assert f"through {show_day(found.finish, 'SI')}" in summarize(found, "x.xlsx")
    exported = estimate_json(found)
    assert exported["totals"]["finish"] == found.finish.isoformat()
    assert [test["section"] for test in exported["hydrotests"]] == ["North", "South"]


def test_scenario_of_more_test_crews():
    runs = [run(f"R{i}", segments_m=(24.0,), test_section=f"S{i}") for i in range(4)]
    more = Override(scenario="Two", key="hydro_crews", value=2, text="Hydrotest crews 2")
    given_job = job(*runs).model_copy(update={"scenarios": (more,)})
    comparison = compare(given_job)
    assert comparison.scenarios[0].figures.finish < comparison.base.finish


def test_cost_by_hand():
    """North 13.68 h, South with 73.7 m3 in 3.41 h 16.41 h; 2 people attend 60.18 h at 46.

    A repeat of each takes 2 x 7 h: 28 h at a tenth of 46. Water 14.74 + 73.70 m3 to 0.1 m3 at 2,
    and to 0.1 L at 0.001 each way.
    """
    found = estimate(priced(two_sections()))
    lines = {line.key: line for line in found.cost_lines if line.key.startswith("hydrotest")}
    amounts = {key.partition(".")[2]: float(line.amount) for key, line in lines.items()}
    assert amounts["labor_hours"] == round(60.18 * 46, 2)
    assert amounts["repeat_labor_hours"] == round(28 * 4.6, 2)
    assert amounts["equipment"] == 1300
    assert amounts["hydro_water"] == round((14.7 + 73.7) * 2, 2)
    assert amounts["hydro_disposal"] == pytest.approx(88.44, abs=0.02)
    after = {d.date for t in found.tests for d in t.days if d.date > found.plan.finish}
    assert amounts["site_overhead"] == 650 * len(after) > 0
    assert {line.cost_type for line in lines.values() if line.section == "Direct cost"} == {
        "Hydrotests"
    }
    bare = estimate(two_sections())
    assert not [line for line in bare.cost_lines if line.section == "Direct cost"
                and line.key.startswith("hydrotest")]  # fmt: skip


def test_only_tested_runs_carry_the_tests_by_their_length():
    """R1 of 100 m is tested, R2 of 300 m with it, R3 is not: a quarter, three quarters, nothing."""
    tested = {"test_section": "North"}
    runs = (
        run("R1", segments_m=(100.0,), **tested),
        run("R2", segments_m=(300.0,), **tested),
        run("R3"),
    )
    by_run = estimate(priced(job(*runs))).by_run
    (place,) = [
        i for i, share in enumerate(by_run.allocations) if share.allocated_by == "tested length"
    ]
    first, second, third = (one.amounts[place] for one in by_run.runs)
    assert third == 0 < first
    assert float(second) == pytest.approx(3 * float(first), abs=0.02)


def test_water_without_a_price_is_in_the_unit_of_the_results():
    found = estimate(two_sections())
    assert water_unit(found.job) == "L"
    assert water_unit(priced(found.job)) == "m3"
    assert water_volume(found.tests[0], "m3") == 14.7


def test_risk_stands_on_the_finish_with_tests():
    """Ranges without width give the plan as it is; wide ones move the finish with its tests."""
    still = with_risk(1.0, 1.0)
    assert {line.finish for line in still.risk.lines} == {still.finish}
    assert still.risk.base_finish == still.finish > still.plan.finish
    slow = with_risk(0.7, 1.6).risk.swings[0]
    assert slow.low_finish < still.finish < slow.high_finish


def with_risk(low, high):
    span = RiskRange(factor="productivity", low=low, likely=1.0, high=high, shape="PERT")
    given_job = two_sections(risk_trials=200).model_copy(update={"risk_ranges": (span,)})
    return add_ranges(estimate(given_job))


def factory():
    found = WorkbookFactory()
    for row in (0, 1):
        found.set("schedule", "test_section", "TS-1", row)
    first = found.tables["schedule"][0]
    found.tables["schedule"].append({**first, "run_id": "R3", "test_section": "TS-2"})
    return found


@functools.cache
def estimated(make):
    """Return a workbook, its estimate and its bytes with it, by what makes its factory."""
    workbook = parse_workbook(make().build())
    found = api.estimate_workbook(workbook)
    return workbook, found, with_results(workbook, found)


def written(tmp_path, make):
    workbook, found, data = estimated(make)
    path = tmp_path / "tests.xlsx"
    path.write_bytes(data)
    return path, workbook, found


def test_sheet_recalculates_to_the_cached_values(tmp_path):
    """Reference: LibreOffice recalculates every formula; then a wage changes without Python."""
    path, workbook, found = written(tmp_path, factory)
    office = recalculate(path)
    assert errors_in(office) == []
    cached = sheet_of(path, "Hydrotests", data_only=True)
    numbers = 0
    for row in cached.iter_rows():
        for cell in row:
            if isinstance(cell.value, int | float):
                numbers += 1
                assert office["Hydrotests"][cell.coordinate] == pytest.approx(cell.value, abs=0.004)
    assert numbers > 40
    wage = workbook.job.rates.hydro_wage.model_copy(update={"amount": 71.3})
    changed = workbook.job.rates.model_copy(update={"hydro_wage": wage})
    dearer = dataclasses.replace(workbook, job=workbook.job.model_copy(update={"rates": changed}))
    expected = api.estimate_workbook(dearer)
    sheet, cell = workbook.places.where("rates", "", "hydro_wage").split("!")
    values = recalculate(path, {sheet: {cell: 71.3}})
    row = next(c[1:] for c, v in values["Bid"].items() if c[0] == "A" and v == "Bid price")
    assert values["Bid"][f"E{row}"] == pytest.approx(float(expected.bid.price), abs=0.004)
    assert expected.bid.price > found.bid.price


def texts_of(path, sheet):
    return [
        str(c.value)
        for row in sheet_of(path, sheet).iter_rows()
        for c in row
        if c.value is not None
    ]


def test_sheet_without_tests_says_so(tmp_path):
    path, _, _ = written(tmp_path, WorkbookFactory)
    assert "No hydrotests. No run on the Pipe schedule has a test section." in texts_of(
        path, "Hydrotests"
    )
    excluded = "Hydrostatic testing, disinfection, and test water disposal"
    assert any(text.endswith(excluded) for text in texts_of(path, "Bid"))
    assert "Finish" in texts_of(path, "Plan by week")


def test_sheets_name_the_tests(tmp_path):
    path, _, _ = written(tmp_path, factory)
    assert {"TS-1", "R1, R2", "R3"} <= set(texts_of(path, "Hydrotests"))
    assert any("Confirmed: ASTM F2164 (21)" in text for text in texts_of(path, "Checks"))
    assert {"Fusion finish", "Finish with hydrotests"} <= set(texts_of(path, "Plan by week"))
    on_bid = texts_of(path, "Bid")
    assert "Hydrostatic testing" in on_bid
    text = " ".join(on_bid)
    assert "Hydrostatic testing, disinfection" not in text
    assert "Hydrostatic tests through " in text


def test_workbook_without_the_inputs_is_read_with_their_defaults():
    made = factory()
    for table in ("job", "rates"):
        made.columns[table] = [key for key in made.keys(table) if not key.startswith("hydro")]
    read = parse_workbook(made.build()).job
    assert read.hydrotest.hydro_fill_rate_l_s == pytest.approx(to_si(100, "gal/min"))
    assert (read.hydrotest.hydro_crews, read.hydrotest.hydro_expansion_hours) == (1, None)
    assert read.rates.hydro_water.per == "gal"
    assert len(estimate(read).tests) == 2


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("hydro_fill_rate_l_s", 0, r"Fill rate: 0 gal/min is outside .* \(0\.15\d* to"),
        ("hydro_crews", 0, r"Hydrotest crews: 0 is outside .* \(1 to 10\)"),
        ("hydro_hold_hours", 30, r"Hold time override: 30 h is outside .* \(0.1 to 24 h\)"),
        (
            "hydro_repeat_share",
            1.5,
            r"Probability of a repeat hydrotest: 1.5 is .* \(0% to 100%\)",
        ),
    ],
)
def test_bad_inputs_are_reported_at_their_cell(key, value, text):
    made = factory().set("job", key, value)
    with pytest.raises(InputError, match=text) as raised:
        parse_workbook(made.build())
    assert str(raised.value).startswith(made.where("job", key))


def test_filling_rate_may_have_another_unit():
    made = factory().set("job", "hydro_fill_rate_l_s", 36)
    made.units["job", "hydro_fill_rate_l_s"] = "m3/h"
    assert parse_workbook(made.build()).job.hydrotest.hydro_fill_rate_l_s == pytest.approx(10.0)
