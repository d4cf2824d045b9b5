"""Plan by week and Look-ahead as they are written, beside the plan that they come from."""

import datetime as dt
import json
import re
from collections import Counter
from dataclasses import replace
from functools import cache

import pytest
from openpyxl.utils import column_index_from_string

from estimator import api
from estimator.cli.command import main
from estimator.cli.lookahead import _made, shown
from estimator.models.calendar import Hold, MonthWeather
from estimator.models.places import Places
from estimator.models.plan import PlanLine
from estimator.models.weeks import GearMove
from estimator.plan import weeks
from estimator.plan.by_week import look_ahead
from estimator.study import study
from estimator.workbook.package.chart_xml import ChartWriter
from estimator.workbook.results import builder, week_sheet
from estimator.workbook.results.look_ahead_sheet import LABEL, READY_HEADS
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.ready_words import all_due
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from estimator.workbook.results.week_sheet import events, fuel_in_its_unit
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.look import LINE, LINES_MARGIN, pixels_of
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.styles import STYLES
from estimator.working_time.working_days import MONTH_NAMES
from tests.jobs import job, run
from tests.one_page import sheet_of
from tests.small_book import small_book

MONDAY = dt.date(2027, 3, 1)
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}


@cache
def two_crews():
    """Two crews of 2.5 people, one run each, and a hydrotest of both."""
    runs = (
        run("R1", segments_m=(1212.0,), elbows=2, crew=1, test_section="S1"),
        run("R2", segments_m=(1100.0,), placement="surface", crew=2, test_section="S1"),
    )
    return study(job(*runs, crews=2, option_crews=0, risk_trials=0, **NO_TESTS), Places())


@cache
def sheets():
    names = {name: name for name in RESULT_SHEETS}
    return dict(each_sheet(two_crews(), Places(), (), names))


def rows_of(name):
    return [[noun(cell) for cell in row.cells] for row in sheets()[name].rows]


def _values(row):
    return [cell and cell.value for cell in row.cells]


def noun(cell):
    """Return the value of a cell, of a header without its unit."""
    if cell is None or not cell.style.startswith("header"):
        return cell and cell.value
    return cell.value and cell.value.partition("\n")[0]


def table(name, head):
    """Return the rows below a header row until an empty one, as dicts."""
    rows = rows_of(name)
    at = next(n for n, row in enumerate(rows) if row[: len(head)] == head)
    body = []
    for row in rows[at + 1 :]:
        if not any(value is not None for value in row):
            break
        body.append(dict(zip(rows[at], row, strict=False)))
    return body


def test_weeks_by_crew_add_up_to_the_weeks():
    weekly = [row for row in table("Plan by week", ["Week starting", "Days worked"])
              if isinstance(row["Week starting"], dt.date)]  # fmt: skip
    by_crew = [row for row in table("Plan by week", ["Week starting", "Crew"]) if row["Crew"]]
    assert {row["Crew"] for row in by_crew} == {1, 2}
    for key in ("Labor-hours", "Butt joints", "Diesel fuel"):
        for week in weekly:
            crews = [row[key] for row in by_crew if row["Week starting"] == week["Week starting"]]
            assert sum(crews) == pytest.approx(week[key]), key
    fuel = [row["Diesel fuel"] for row in (*weekly, *by_crew)]
    assert fuel == [round(one) for one in fuel], "as shown, so that they add up as shown"
    full = next(row for row in weekly if row["Week starting"] == MONDAY)
    assert (full["Days worked"], full["Runs"]) == (5, "R1, R2")
    assert (full["People"], full["Labor-hours"]) == (5.0, 2 * 2.5 * 10 * 5)


def test_a_long_description_goes_on_in_a_second_line_of_the_look_ahead():
    """It does not run over the line before the first day, on which nothing of it is made."""
    name = "Return water main, barge landing to 0+300, north side of the haul road, area 2"
    runs = run("R0", segments_m=(1212.0,)), run("R1", segments_m=(1212.0,), description=name)
    found = study(job(*runs, option_crews=0, risk_trials=0), Places())
    names = {name: name for name in RESULT_SHEETS}
    sheet = laid_out(dict(each_sheet(found, Places(), (), names))["Look-ahead"])
    named = next(row for row in sheet.rows if _values(row)[:1] == [f"R1  {name}"])
    assert named.height > LINE + LINES_MARGIN


def test_the_curve_has_a_date_for_each_week_also_where_a_header_stands_again(monkeypatch):
    """A date axis falls back to serial numbers where its range has a gap."""
    found, made = two_crews(), []
    every = weeks(found)
    monkeypatch.setattr(week_sheet, "with_headers_again",
                        lambda build: made.append(build) or build(frozenset()))  # fmt: skip
    list(each_sheet(found, Places(), (), {name: name for name in RESULT_SHEETS}))
    (build,) = made
    plain = build(frozenset())
    second = next(row for row in range(1, 99) if value_of(plain, "A", row) == every[1].first)
    for again in (frozenset(), frozenset({second})):
        sheet = build(again)
        assert len(sheet.breaks) == len(again)
        (chart,) = sheet.charts
        for reference, kind in ((chart.categories, dt.date), (chart.series[0][1], float)):
            column, first, last = re.findall(r"\$([A-Z]+)\$(\d+):\$[A-Z]+\$(\d+)", reference)[0]
            values = [value_of(sheet, column, row) for row in range(int(first), int(last) + 1)]
            assert len(values) == len(every)
            assert all(isinstance(value, kind) for value in values), values


def value_of(sheet, column, row):
    """Return what a cell says, None where there is none."""
    cells = sheet.rows[row - 1].cells if row <= len(sheet.rows) else ()
    at = column_index_from_string(column)
    cell = cells[at - 1] if at <= len(cells) else None
    return cell and cell.value


def test_checks_compare_the_weeks_with_joints_hours_fuel_and_tests():
    checked = [row for row in rows_of("Checks") if row and " vs. by week" in str(row[0])]
    assert len(checked) == 4
    assert [row[-1] for row in checked] == ["OK"] * 4


def test_look_ahead_has_a_row_for_each_crew_and_run():
    rows = rows_of("Look-ahead")
    names = [str(row[0]).partition("  ")[0] for row in rows if row]
    first, second = (rows[names.index(name)] for name in ("R1", "R2"))
    assert names.count("R1") == names.count("R2") == 1
    found = two_crews()
    made = {ln.date: ln.joints for ln in found.plan.lines if ln.run_id == "R1"}
    ahead = api.look_ahead_of(found)
    shown = [made.get(day.date) for day in ahead.days if day.date.weekday() < 5]
    assert first[1:-1] == shown
    assert second[-1]
    assert first[-1] == sum(value or 0 for value in shown)


def test_days_of_the_look_ahead_are_equally_broad_under_one_header():
    """Two crews and a hydrotest stand under the same dates; a week is no broader than another."""
    sheet = sheets()["Look-ahead"]
    heads = [row for row in rows_of("Look-ahead") if row and row[0] == LABEL]
    assert len(heads) == 1
    days = [at for at, value in enumerate(heads[0]) if isinstance(value, dt.date)]
    assert len({sheet.widths[at] for at in days}) == 1
    assert sheet.widths[days[0]] > 4, "room for the labor-hours of a day"


def test_days_of_long_weeks_are_equally_broad_too():
    """Three weeks of six days lose some to weather and take more hours than two digits hold."""
    rainy = tuple(MonthWeather(month=month, lost_share=0.2) for month in MONTH_NAMES)
    runs = (run(f"R{n}", segments_m=(6000.0,), crew=n) for n in range(1, 6))
    made = job(*runs, crews=5, workdays="Mon-Sat", option_crews=0, risk_trials=0)
    made = made.model_copy(update={"weather": rainy})
    names = {name: name for name in RESULT_SHEETS}
    page = dict(each_sheet(study(made, Places()), Places(), (), names))["Look-ahead"]
    lost = next(cells for cells in map(_values, page.rows) if str(cells[:1])[2:6] == "Days")
    assert lost[0] == "Days lost (w: weather)"
    assert {*lost[1:]} == {"w", None}
    found = laid_out(page)
    assert len({*found.widths[1:19]}) == 1


@pytest.mark.parametrize(
    ("workdays", "length_m"),
    [("Tue", 300.0), ("Sun", 300.0), ("Mon, Thu", 300.0), ("Mon-Fri", 60.0)],
)
def test_look_ahead_of_one_or_two_weekdays_has_room_for_its_list(workdays, length_m):
    """Gear without haulage comes on the one day on which 60 m are joined."""
    one = run(segments_m=(length_m,))
    made = job(one, workdays=workdays, haul_days=0, option_crews=0, risk_trials=0, **NO_TESTS)
    names = {name: name for name in RESULT_SHEETS}
    page = dict(each_sheet(study(made, Places()), Places(), (), names))["Look-ahead"]
    shown = [cell.value for row in page.rows for cell in row.cells if cell]
    assert [value for value in shown if value in READY_HEADS] == list(READY_HEADS)


def test_sums_over_a_long_plan_are_stored_as_numbers(monkeypatch):
    def formulas(found):
        return {
            name: [cell.formula for row in found[name].rows for cell in row.cells
                   if cell is not None and cell.formula and "SUMIFS" in cell.formula]
            for name in ("Plan by week", "Look-ahead")
        }  # fmt: skip

    assert all(formulas(sheets()).values())
    lines = len(two_crews().plan.lines)
    monkeypatch.setattr(builder, "MOST_ADDED_UP", 2 * lines)
    names = {name: name for name in RESULT_SHEETS}
    stored = dict(each_sheet(two_crews(), Places(), (), names))
    assert not any(formulas(stored).values())
    for name in ("Plan by week", "Look-ahead"):
        values = [
            [[cell and cell.value for cell in row.cells] for row in found[name].rows]
            for found in (sheets(), stored)
        ]
        assert values[0] == values[1]


def test_what_is_due_says_who_and_by_when():
    due = all_due(two_crews(), api.look_ahead_of(two_crews()))
    pipe = next(one for one in due if one.run_id == "R1")
    assert pipe.by == dt.date(2027, 2, 26)
    assert pipe.what == "101 sticks of 8 in IPS DR 11 strung, 1,212 m"
    assert pipe.who == "Pipe supply"
    assert {one.who for one in due if one.run_id is None} <= {"Rental supplier", "Buyer",
                                                              "Superintendent"}  # fmt: skip
    assert not [one for one in due if one.run_id == "R2" and "Trench" in one.what]


def test_the_list_of_what_must_be_ready_says_who_waits_and_leaves_out_what_goes():
    """Gear that is collected need not be ready for anybody."""
    rows = rows_of("Look-ahead")
    start = next(n for n, row in enumerate(rows) if row[:1] == ["Ready before the crew comes"])
    at = rows[start + 1].index("If not")
    due = {row[0]: row[at] for row in rows[start + 2 :] if len(row) > 1 and row[0]}
    assert api.look_ahead_of(two_crews()).collections
    assert not [what for what in due if "collected" in what]
    assert {due[what] for what in due if what.endswith("delivered")} == {"the crew waits"}
    assert due["56,797 L of test water"] == "the test waits"
    assert due["R1, R2 finished and restrained"] is None, "said once for the test"


def ready_rows(*runs, holds=(), **inputs):
    """Return the rows of what must be ready, by the names of their columns."""
    made = job(*runs, option_crews=0, risk_trials=0, **{**NO_TESTS, **inputs})
    made = made.model_copy(update={"holds": holds})
    names = {name: name for name in RESULT_SHEETS}
    page = dict(each_sheet(study(made, Places()), Places(), (), names))["Look-ahead"]
    rows = [_values(row) for row in page.rows]
    heads = next(row for row in rows if row[:1] == ["What"])
    places = {name: at for at, name in enumerate(heads) if name}
    below = rows[rows.index(heads) + 1 : -1]
    return [{name: row[at] for name, at in places.items()} for row in below]


def if_not(*runs, **inputs):
    """Return what is said of each run that is not ready, by the run."""
    rows = ready_rows(*runs, **inputs)
    return {str(row["For"]).partition(",")[0]: row["If not"] for row in rows if row["For"]}


def test_what_a_run_waits_for_says_once_whom_it_is_for_and_what_if_not():
    rows = ready_rows(run(segments_m=(1212.0,), elbows=2))
    of_run = [row for row in rows if row["Needed by"] and row["Who"] != "Rental supplier"]
    assert len(of_run) == 3, "pipe, elbows, trench"
    assert [row["For"] for row in of_run] == ["R1, crew 1", None, None]
    assert [row["If not"] for row in of_run] == ["the finish moves", None, None]


def test_a_run_that_is_not_ready_names_its_float():
    """R2 is over three days before the 9 days of R1: nothing waits for it."""
    said = if_not(run("R1", segments_m=(1818.0,), crew=1), run("R2", segments_m=(900.0,), crew=2),
                  crews=2)  # fmt: skip
    assert said["R1"] == "the finish moves"
    spare, then = said["R2"].split(", ")
    assert re.fullmatch(r"\d days of float", spare)
    assert then == "then the finish moves"


THREE = [{"run_id": f"R{n}", "segments_m": (606.0,)} for n in (1, 2, 3)]
"""Runs of one pipe and crew, one after the other."""


def test_the_next_run_of_the_crew_may_come_first():
    said = if_not(*(run(**one) for one in THREE))
    assert said["R1"] == "R2 first if ready, no extra move"
    assert said["R2"] == "R3 first if ready, no extra move"
    assert said["R3"] == "the finish moves"


@pytest.mark.parametrize(("of_first", "of_second"), [
    ({}, {"earliest_start": dt.date(2027, 3, 2)}), ({}, {"after": "R1"}),
    ({}, {"joins": "R1", "tie_ins": 1}), ({"priority": 1}, {}),
])  # fmt: skip
def test_a_run_that_the_schedule_keeps_in_its_place_does_not_come_first(of_first, of_second):
    """Its date, a run before it, or a priority."""
    first, second, third = THREE
    said = if_not(run(**first, **of_first), run(**second, **of_second), run(**third))
    assert said["R1"] == "the finish moves"


def test_a_run_that_is_held_does_not_come_first():
    held = Hold(run="R2", from_date=MONDAY, to_date=MONDAY, cause="no pipe")
    said = if_not(*(run(**one) for one in THREE), holds=(held,))
    assert said["R1"] == "the finish moves"


def test_a_run_that_others_wait_for_does_not_give_way():
    first, second, third = THREE
    runs = run(**first), run(**second), run(**third, after="R1")
    assert if_not(*runs)["R1"] == "R2 first if ready, no extra move"
    waits = run(**{**third, "segments_m": (300.0,)}, after="R1", crew=2)
    long = run(**{**second, "segments_m": (2400.0,)}, crew=1)
    said = if_not(run(**first, crew=1), long, waits, crews=2)
    assert said["R1"] == "the finish moves"


def test_minutes_of_another_order_are_those_of_the_job():
    """R1 between R2 and R3, 10 in of the second band, takes a change of sizes more."""
    first, second, third = THREE
    runs = run(**first), run(**second, size="10"), run(**third, size="10")
    change = job(*runs).size_bands[1].size_change_min
    assert if_not(*runs)["R1"] == f"R2 first if ready, {change:.0f} min more"


@pytest.mark.parametrize("workdays", ["Mon-Fri", "Mon-Sat"])
def test_what_if_a_run_with_float_is_not_ready_stands_on_one_line(workdays):
    """Beside a hydrotest, whose crew is the longest of those that wait."""
    runs = (run("R1", segments_m=(6000.0,), crew=1),
            run("R2", segments_m=(606.0,), crew=2, test_section="RW-1"))  # fmt: skip
    made = job(*runs, crews=2, workdays=workdays, option_crews=0, risk_trials=0, **NO_TESTS)
    names = {name: name for name in RESULT_SHEETS}
    page = laid_out(dict(each_sheet(study(made, Places()), Places(), (), names))["Look-ahead"])
    (floats,) = [row for row in page.rows
                 if any("days of float" in str(value) for value in _values(row))]  # fmt: skip
    assert floats.height < LINE + LINE


def test_the_list_has_as_many_lines_to_write_on_as_its_page_has_room_for():
    short = ready_rows(run(segments_m=(1212.0,)))
    assert [row["What"] for row in short[-3:]] == ["Other:", None, None]
    many = ready_rows(*(run(f"R{n}", segments_m=(60.0,)) for n in range(1, 6)))
    assert [row["What"] for row in many].index("Other:") >= len(many) - 3


def test_runs_that_follow_each_other_stand_as_a_stretch():
    order = {f"R{n}": n for n in range(1, 12)}
    assert in_stretches(["R2", "R1"], order) == "R1, R2"
    assert in_stretches(["R9", "R10", "R11", "R2"], order) == "R2, R9 to R11"


def test_command_prints_the_weeks_from_a_date(tmp_path, capsys):
    path, out, data = (tmp_path / name for name in ("a.xlsx", "b.xlsx", "a.json"))
    path.write_bytes(small_book(runs=12))
    asked = ["lookahead", str(path), "--from", "2027-04-20", "-o", str(out), "--json", str(data)]
    assert main(asked) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("Look-ahead Apr 19, 2027 to May 9, 2027")
    assert "Pipe supply" in printed
    ahead = json.loads(data.read_text("utf-8"))
    assert ahead["days"][0]["date"] == "2027-04-19"
    sheet = sheet_of(out, "Look-ahead")
    days = {c.value.date() for row in sheet.iter_rows() for c in row if c.number_format == "d"}
    assert min(days) == dt.date(2027, 4, 19)


def test_the_printed_days_hold_hydrotests():
    """Two people raise for 1 h, expand for 4, hold for 1 and drain for 2 on the second day."""
    lines = shown(two_crews(), look_ahead(two_crews()))
    tested = [line for line in lines if line.endswith("test crew 1: S1")]
    assert re.search(r"^Wed 10 Mar +2 +15\.3 +test crew", tested[0])
    assert re.search(r"^Thu 11 Mar +2 +16 +test crew", tested[1])


def test_a_line_of_the_weeks_names_tie_ins_rework_and_moves():
    line = PlanLine(MONDAY, 1, "R1", "M3", joints=33, tie_in_joints=8)
    assert _made(line) == "R1 33 (8 tie-ins)"
    rework = line._replace(joints=0, tie_in_joints=0, rework_joints=1)
    assert _made(rework) == "R1 0 (1 rework joint)"
    moved = PlanLine(MONDAY, 1, "R1", "M3", moves=("move", "move", "size change"))
    assert _made(moved) == "R1 0 (move, size change)"


def test_command_refuses_what_is_no_date(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["lookahead", "a.xlsx", "--from", "soon"])
    assert "'soon' is not a date such as 2027-03-15" in capsys.readouterr().err


def test_what_comes_and_goes_on_a_date_is_said_after_it_once():
    """On Monday two machines come and a lift goes, on Tuesday a generator goes."""
    estimate = two_crews()
    tuesday = MONDAY + dt.timedelta(days=1)
    week = weeks(estimate)[0]._replace(
        first=MONDAY,
        last=MONDAY + dt.timedelta(days=6),
        deliveries=(GearMove(MONDAY, "machine", "M5", 2, 1),),
        collections=(
            GearMove(tuesday, "generator", "G40", 1, 1), GearMove(MONDAY, "lift", "L5", 1, 1),
        ),
    )  # fmt: skip
    said = [text for text in events(estimate, week) if "test" not in text]
    wanted = ["Mon\xa01 deliver 2 M5, collect L5", "Tue\xa02 collect G40"]
    assert said == wanted, "no line ends between a weekday and its number"


@pytest.mark.parametrize(("gone", "across"), [(1, False), (6, True)])
def test_weeks_on_two_pages_lie_across_where_much_comes_and_goes(monkeypatch, gone, across):
    """49 weeks: six machines and their days take three lines and more on a narrow page."""
    moved = "; ".join(f"Mon {n} collect M{n}" for n in range(1, gone + 1))
    monkeypatch.setattr(week_sheet, "events", lambda estimate, week: iter((moved,)))
    runs = [run(f"R{n}", segments_m=(900.0,)) for n in range(50)]
    found = study(job(*runs, option_crews=0, risk_trials=0, **NO_TESTS), Places())
    names = {key: key for key in RESULT_SHEETS}
    page = dict(each_sheet(found, Places(), (), names))["Plan by week"]
    assert page.landscape is across
    other = laid_out(replace(page, landscape=not across))
    assert pages_down(page) <= pages_down(other)


def test_weeks_over_new_year_have_their_year_in_both_tables():
    runs = (run(name, segments_m=(1212.0,), crew=crew) for crew, name in ((1, "R1"), (2, "R2")))
    dates = {"start": dt.date(2027, 12, 20), "deadline": None}
    made = job(*runs, crews=2, option_crews=0, risk_trials=0, **dates)
    names = {name: name for name in RESULT_SHEETS}
    spec = dict(each_sheet(study(made, Places()), Places(), (), names))["Plan by week"]
    weeks = [row.cells[0] for row in spec.rows if row.cells and row.cells[0] is not None]
    styles = [cell.style for cell in weeks if isinstance(cell.value, dt.date)]
    assert len(styles) >= 3 * 2
    assert set(styles) == {"week_year", "week_year_kept"}


@pytest.mark.parametrize(("name", "length_m", "across"), [
    ("Reach-{:03}", 700.0, True), ("R{}", 700.0, False), ("Reach-{:03}", 120.0, False),
])  # fmt: skip
def test_weeks_on_several_pages_lie_across_where_their_runs_are_long(name, length_m, across):
    """ "Reach-001 to Reach-003" has 22 letters; 60 runs of 58 sticks take over 42 weeks."""
    runs = [run(name.format(n), segments_m=(length_m,)) for n in range(60)]
    found = study(job(*runs, option_crews=0, risk_trials=0, **NO_TESTS), Places())
    names = {key: key for key in RESULT_SHEETS}
    page = dict(each_sheet(found, Places(), (), names))["Plan by week"]
    assert page.landscape is across
    assert (len(weeks(found)) > 42) is (length_m > 120)


@pytest.mark.parametrize(("system", "code"), [("US", "mmm d 'yy"), ("SI", "d mmm yy")])
def test_dates_on_the_axis_of_a_chart_follow_the_unit_system(system, code):
    made = job(run("R1", segments_m=(6000.0,)), unit_system=system, option_crews=0, risk_trials=0)
    found = study(made, Places())
    names = {name: name for name in RESULT_SHEETS}
    spec = dict(each_sheet(found, Places(), (), names))["Plan by week"]
    (part,) = [ChartWriter([spec]).render(chart, spec.axis_dates) for chart in spec.charts]
    axis = re.search(r"<c:dateAx>.*?</c:dateAx>", part.decode(), re.S)[0]
    assert f'formatCode="{code}"' in axis


@pytest.mark.parametrize("system", ["US", "SI"])
def test_days_of_the_plan_leave_room_for_what_runs_are_called(system):
    """A weekday and a short date take 95 pixels at most: Wed Sep 22 '27, Wed 22 Sep 27."""
    named = run(
        "N00001", segments_m=(300.0,), description="Reach 2, valve vault to air-release tee"
    )
    made = job(named, unit_system=system, option_crews=0, risk_trials=0, **NO_TESTS)
    names = {name: name for name in RESULT_SHEETS}
    plan = laid_out(dict(each_sheet(study(made, Places()), Places(), (), names))["Plan"])
    date, _, description = map(pixels_of, plan.widths[:3])
    assert date <= 95
    assert description >= 125


def cell_at(spec, row, column):
    return spec.rows[row - 1].cells[column - 1]


def rows_under(spec, head):
    """Return the numbers of the rows below a header until one without numbers, the total last."""
    starts = [n for n, row in enumerate(spec.rows, 1) if _nouns(row)[: len(head)] == head]
    found, number = [], starts[0] + 1
    while any(cell and cell.value is not None for cell in spec.rows[number - 1].cells[:12]):
        found.append(number)
        number += 1
    return found


def _nouns(row):
    return [noun(cell) for cell in row.cells]


def test_the_job_is_done_at_the_foot_of_the_weeks():
    spec = sheets()["Plan by week"]
    rows = rows_under(spec, ["Week starting", "Days worked"])
    total = next(n for n in rows if cell_at(spec, n, 1).value == "Job")
    done = cell_at(spec, total, 7)
    assert (done.value, STYLES[done.style].number_format) == (1.0, "0%")
    assert done.formula == f"G{total - 1}"


def test_curve_has_what_is_done_at_the_end_of_each_week():
    """The percent of a Monday to Sunday stands over its Sunday."""
    spec = sheets()["Plan by week"]
    (chart,) = spec.charts
    shown = {}
    for name, cells in (("ends", chart.categories), ("done", chart.series[0][1])):
        column, first, last = re.search(r"\$(\w+)\$(\d+):\$\w+\$(\d+)$", cells).groups()
        at = column_index_from_string(column)
        shown[name] = [cell_at(spec, n, at) for n in range(int(first), int(last) + 1)]
        assert at > 12, "beside the page"
    found = two_crews()
    made = {day: sum(ln.joints for ln in found.plan.lines if ln.date <= day)
            for day in (cell.value for cell in shown["ends"])}  # fmt: skip
    assert all(day.weekday() == 6 for day in made)
    assert [cell.value for cell in shown["done"]] == pytest.approx(
        [joints / found.butt_joints for joints in made.values()]
    )
    assert spec.print_area.partition(":")[2].startswith("$L$")


def long_weeks_of_two_crews():
    """Return Plan by week of two crews over some forty weeks."""
    runs = [run(f"R{n}", segments_m=(1500.0,), crew=1 + n % 2) for n in range(60)]
    found = study(job(*runs, crews=2, option_crews=0, risk_trials=0, **NO_TESTS), Places())
    names = {key: key for key in RESULT_SHEETS}
    return dict(each_sheet(found, Places(), (), names))["Plan by week"]


def test_weeks_of_crews_have_their_own_header_a_total_and_stay_together():
    spec = long_weeks_of_two_crews()
    assert spec.header_row is None
    heads = [
        n for n, row in enumerate(spec.rows, 1) if _nouns(row)[:2] == ["Week starting", "Crew"]
    ]
    assert len(heads) > 1, "the table goes on over a page"
    assert all(None not in _nouns(spec.rows[n - 1])[:11] for n in heads)
    last = max(n for n, row in enumerate(spec.rows, 1) if row.cells and row.cells[0])
    assert cell_at(spec, last, 1).value == "Total"
    job_row = next(n for n, row in enumerate(spec.rows, 1) if _nouns(row)[:1] == ["Job"])
    for at in (5, 6, 7, 9, 11):
        assert cell_at(spec, last, at).value == pytest.approx(cell_at(spec, job_row, at).value)
    for head in heads[1:]:
        before, after = (cell_at(spec, n, 1).value for n in (head - 2, head + 1))
        assert before != after, "a week is on one page"


def test_fuel_and_hours_of_the_look_ahead_add_up_as_they_are_shown():
    """The days hold what they show: their sum is the sum of the plan, rounded as it is shown."""
    found = two_crews()
    days = look_ahead(found).days
    fuel = sum(one.fuel_l for day in days for one in day.crews)
    wanted = {
        "Diesel fuel": fuel_in_its_unit(found, fuel),
        "Labor-hours": sum(day.labor_hours for day in days),
    }
    for label, amount in wanted.items():
        row = next(
            r for r in sheets()["Look-ahead"].rows if str(_values(r)[:1])[2:].startswith(label)
        )
        *shown, total = row.cells[1:]
        places = {"#,##0": 0, "#,##0.0": 1}[STYLES[total.style].number_format]
        assert total.value == pytest.approx(amount, abs=0.51 / 10**places)
        held = [cell.value for cell in shown if cell.value is not None]
        assert held == [round(one, places) for one in held]
        assert total.value == pytest.approx(sum(held))


def test_look_ahead_explains_its_signs_and_has_room_for_why_days_are_lost():
    rainy = tuple(MonthWeather(month=month, lost_share=0.2) for month in MONTH_NAMES)
    made = job(run(segments_m=(6000.0,)), option_crews=0, risk_trials=0)
    made = made.model_copy(update={"weather": rainy})
    names = {name: name for name in RESULT_SHEETS}
    page = dict(each_sheet(study(made, Places()), Places(), (), names))["Look-ahead"]
    rows = [_values(row) for row in page.rows]
    lost = next(cells for cells in rows if cells[:1] == ["Days lost (w: weather)"])
    assert {*lost[1:16]} == {"w", None}
    assert "+ is work without a butt joint" in rows[-1][0]
    assert "Other:" in [row[0] for row in rows[-4:-1] if row]


@pytest.mark.parametrize(("start", "code"), [
    (dt.date(2027, 3, 1), "ddd d mmm"), (dt.date(2027, 12, 27), "ddd d mmm yy"),
])  # fmt: skip
def test_dates_of_the_plan_have_their_year_only_over_a_new_year(start, code):
    made = job(run(segments_m=(1200.0,)), option_crews=0, risk_trials=0, start=start, deadline=None)
    names = {name: name for name in RESULT_SHEETS}
    page = dict(each_sheet(study(made, Places()), Places(), (), names))["Plan"]
    dates = [cell for row in page.rows for cell in row.cells[:1]
             if cell and isinstance(cell.value, dt.date)]  # fmt: skip
    assert {STYLES[cell.style.partition(", close")[0]].number_format for cell in dates} == {code}


def test_tables_of_labor_and_of_test_days_end_in_their_sums():
    labor, tests = rows_of("Labor"), rows_of("Hydrotests")
    found = two_crews()
    sums = next(row for row in labor if row[:1] == ["Total"])
    assert sum(sums[1:5]) == pytest.approx(sum(day.labor_hours for day in found.plan.crew_days))
    (by_day,) = [row for row in tests[-12:] if row[:1] == ["Total"]]
    assert by_day[3] == pytest.approx(sum(day.hours for test in found.tests for day in test.days))


def test_labor_hours_have_a_total_of_each_role_and_of_all_crews():
    """Each total is that of its hours by class; the crews' one is that of all roles."""
    rows = [_values(row) for row in sheets()["Labor"].rows]
    heads = next(n for n, cells in enumerate(rows) if cells[:1] == ["Role"])
    at = [noun(cell) for cell in sheets()["Labor"].rows[heads].cells].index("Total hours")
    roles = rows[heads + 1 : rows.index(next(c for c in rows[heads:] if c[:1] == ["Total"]))]
    for cells in roles:
        assert cells[at] == pytest.approx(sum(cells[1:at]))
    of_roles, of_crews = (cells for cells in rows if cells[:1] == ["Total"])
    paid = sum(day.labor_hours for day in two_crews().plan.crew_days)
    assert (of_roles[at], of_crews[3]) == (pytest.approx(paid), pytest.approx(paid))
    assert _result(sheets()["Labor"]) == f"{paid:,.1f} labor-hours, hydrotests not included"
    assert of_crews[7] == pytest.approx(of_crews[5] / of_crews[6])


def test_dates_of_hydrotests_name_their_weekday_where_they_need_no_year():
    spec = sheets()["Hydrotests"]
    styles = {
        cell.style for row in spec.rows[5:] for cell in row.cells
        if cell is not None and isinstance(cell.value, dt.date)
    }  # fmt: skip
    assert styles == {"weekday_date"}
    finish = two_crews().finish
    assert _result(spec) == f"Finish with hydrotests {finish.day} {finish:%b %Y}"


def _result(spec):
    """Return the one result at the right of a page's title."""
    return next(c.value for c in spec.rows[0].cells if c is not None and "result" in c.style)


def test_hydrotests_name_all_their_runs_with_those_in_a_row_as_a_stretch():
    """Runs 1 to 14 and 17, 20, ... of the schedule: a stretch and names, and none left out."""
    names = [f"R{n}" for n in (*range(1, 15), *range(17, 60, 3))]
    runs = [
        run(f"R{n}", segments_m=(60.0,), test_section="S1" if f"R{n}" in names else None)
        for n in range(1, 60)
    ]
    found = study(job(*runs, option_crews=0, risk_trials=0, **NO_TESTS), Places())
    spec = dict(each_sheet(found, Places(), (), {key: key for key in RESULT_SHEETS}))["Hydrotests"]
    held = [cell.value for row in spec.rows for cell in row.cells if cell is not None]
    assert f"R1 to R14, {', '.join(names[14:])}" in held
    assert "No hydrotest: R15, R16, R18, R19" in next(x for x in held if str(x).startswith("No "))
    assert "Highest DR" in held


def test_hours_of_a_hydrotest_add_up_to_the_total_that_follows_them():
    """What is at pressure is part of them and stands behind their total."""
    first, total = table("Hydrotests", ["Test section", "Setup"])
    nouns = list(first)
    at = nouns.index("Total hours")
    assert sum(first[noun] for noun in nouns[1:at]) == pytest.approx(first["Total hours"])
    assert nouns[at + 1] == "Of which at pressure"
    parts = sum(first[noun] for noun in ("Pressurizing", "Expansion", "Hold"))
    assert first["Of which at pressure"] == pytest.approx(parts)
    assert total["Of which at pressure"] is None


def test_the_ratio_of_metric_pipe_is_called_sdr():
    metric = run("R1", od_system="ISO", size="630", test_section="S1")
    found = study(job(metric, option_crews=0, risk_trials=0, **NO_TESTS), Places())
    spec = dict(each_sheet(found, Places(), (), {key: key for key in RESULT_SHEETS}))["Hydrotests"]
    held = {noun(cell) for row in spec.rows for cell in row.cells}
    assert "Highest SDR" in held
    assert "Highest DR" not in held


def test_minutes_of_the_plan_add_up_to_those_of_labor_as_they_are_shown():
    """Whole minutes: each crew's lines to its total, and these to the total of all."""
    plan = [row for row in table("Plan", ["Date", "Run"]) if row["Minutes worked"] is not None]
    every = {row["Crew"]: row["Minutes worked"] for row in table("Labor", ["Crew", "Days worked"])}
    exact = Counter()
    for line in two_crews().plan.lines:
        exact[line.crew] += line.minutes
    for crew, minutes in exact.items():
        shown = [row["Minutes worked"] for row in plan if row["Crew"] == crew]
        assert all(one == round(one) for one in shown)
        assert sum(shown) == every[crew] == pytest.approx(minutes, abs=0.5)
    assert sum(row["Minutes worked"] for row in plan) == every["Total"]


def test_labor_of_a_job_without_hydrotests_says_nothing_of_them():
    bare = study(job(run("R1"), option_crews=0, risk_trials=0, **NO_TESTS), Places())
    spec = dict(each_sheet(bare, Places(), (), {key: key for key in RESULT_SHEETS}))["Labor"]
    assert _result(spec).endswith(" labor-hours")


def test_heads_of_the_weeks_keep_off_each_other_and_the_note_names_what_is_short():
    """Hours and Test hours, line beside line, read as one head."""
    rows = [_values(row) for row in sheets()["Plan by week"].rows]
    head = next(row for row in rows if str(row[:1]).startswith("['Week"))
    assert "Test\nhours\nh" in head
    (note,) = [row[0] for row in rows if row and str(row[0]).startswith("People:")]
    assert "M: fusion machine, G: generator, L: lifting" in note
    assert "Work without a butt joint is in the hours" in note


def test_the_part_of_the_job_that_a_crew_makes_is_named_so():
    """It ends below 100 %, other than what is done of the job above."""
    crews = table("Plan by week", ["Week starting", "Crew"])
    last = {row["Crew"]: row["Done of job"] for row in crews}
    assert 0 < last[1] < 1
    assert last[1] + last[2] == pytest.approx(1.0)
