"""Where a job stands: what earns, identities, variances, partial tables, the sheet and command."""

import datetime as dt
import json
import re
import shutil
from dataclasses import replace
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import api
from estimator.after_award import status_pages
from estimator.cli import main
from estimator.errors import EstimatorError
from estimator.joint.shared import Shared
from estimator.models.baseline import FITTING, STICK, TIE_IN
from estimator.models.kinds import CONNECTIONS
from estimator.models.site_records import (
    ActualCost,
    Coupon,
    DailyRow,
    LoggedJoint,
    LostTime,
    Operator,
    PassedTest,
    SiteRecords,
)
from estimator.progress.made import made_up_to
from estimator.progress.standing import standing_of
from estimator.progress.status import status_of
from estimator.workbook.book import with_pages
from estimator.workbook.package.package import Package
from estimator.workbook.results.status_sheet import status_sheet
from estimator.workbook.sheet.look import ROW, box_pixels, pixels_of
from estimator.workbook.sheet.text_width import line_breadths
from tests import office
from tests.cut_off import cut_off
from tests.estimated import FOLDER
from tests.one_page import names_of, sheet_of
from tests.site_book import small_under_way
from tests.small_book import small_book
from tests.test_baseline import frozen
from tests.test_print import pages_of, words_of

COUNT_OF = {STICK: "stick_joints", FITTING: "fitting_joints", TIE_IN: "tie_in_joints"} | {
    kind.key: kind.key for kind in CONNECTIONS
}


def as_planned(baseline, until, hours=lambda day: day.labor_hours):
    """Return a daily record in which all went as planned, up to a date."""
    return tuple(
        DailyRow(
            date=day.date,
            crew=day.crew,
            run_id=day.run_id,
            people=4,
            paid_hours=max(0.01, hours(day)),
            **{COUNT_OF[kind]: number for kind, number in day.pieces.items()},
        )
        for day in baseline.days
        if day.date <= until and day.pieces
    )


def standing(records, date, name="raw_water_main"):
    _, found, baseline = frozen(name)
    return status_of(found.job, baseline, made_up_to(records, date))


def part_way(name="raw_water_main", part=0.4):
    days = frozen(name)[2].days
    return days[int(part * len(days))].date


@pytest.mark.parametrize("name", ["raw_water_main", "plant_piping"])
@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
def test_a_job_as_planned_is_on_plan(name, part):
    baseline, date = frozen(name)[2], part_way(name, part)
    status = standing(SiteRecords(daily_record=as_planned(baseline, date)), date, name)
    assert status.hours.schedule_variance == pytest.approx(0, abs=1e-6)
    assert status.hours.cost_index == pytest.approx(1, abs=1e-4)
    assert status.hours.eac_at_present_cost == pytest.approx(status.hours.budget, rel=1e-4)
    # one day of which nothing is due may lie before or after the date
    assert status.schedule.variance == pytest.approx(0, abs=1.01)
    assert status.joints_accepted == status.joints_planned
    assert abs(status.variance.total) < 1
    assert not status.not_accepted


@pytest.mark.parametrize("name", ["raw_water_main", "plant_piping"])
def test_a_finished_job_has_earned_its_budget(name):
    _, found, baseline = frozen(name)
    sections = {run.test_section for run in found.job.runs if run.test_section}
    passed = tuple(PassedTest(section=one, date=baseline.head.finish) for one in sections)
    records = SiteRecords(
        daily_record=as_planned(baseline, baseline.head.finish), tests_passed=passed
    )
    status = standing(records, baseline.head.finish, name)
    assert status.hours.earned == pytest.approx(baseline.labor_hours, abs=1e-6)
    assert status.money.earned == pytest.approx(float(baseline.cost), abs=0.005)
    assert status.hours.schedule_index == pytest.approx(1)


def test_a_late_job_ends_at_one_by_money_and_below_one_by_time():
    """SPI returns to 1 when all is earned; SPI(t) keeps what was late."""
    baseline = frozen()[2]
    late = dt.timedelta(28)
    rows = tuple(
        row.model_copy(update={"date": row.date + late})
        for row in as_planned(baseline, baseline.head.finish)
    )
    status = standing(SiteRecords(daily_record=rows), baseline.head.finish + late)
    assert status.hours.schedule_index == pytest.approx(1)
    assert status.schedule.index < 0.98


@given(
    st.lists(st.floats(0.3, 3.0), min_size=8, max_size=8), st.floats(0.8, 1.3), st.integers(0, 500)
)
@settings(max_examples=25, deadline=None)
def test_variances_add_up_to_the_cent(factors, wage, lost):
    baseline, date = frozen()[2], part_way()
    days = iter(range(10**6))
    rows = as_planned(baseline, date, lambda day: day.labor_hours * factors[next(days) % 8])
    hours = sum(row.paid_hours for row in rows)
    records = SiteRecords(
        daily_record=rows,
        lost_time=(LostTime(date=rows[0].date, crew=1, minutes=lost, cause="weather"),),
        actual_cost=(
            ActualCost(date=date, cost_type="Labor", amount=hours * baseline.labor_rate * wage),
        ),
    )
    status = standing(records, date)
    variance = status.variance
    planned = baseline.planned_hours(date) * baseline.labor_rate
    actual = hours * baseline.labor_rate * wage
    parts = (variance.rate, variance.pace, variance.quantity, variance.weather)
    assert all(part == round(part, 2) for part in parts)
    assert round(sum(parts), 2) == pytest.approx(round(actual - planned, 2), abs=0.011)
    assert sum(run.actual_hours for run in status.runs) == pytest.approx(status.hours.actual)
    assert sum(run.earned_hours for run in status.runs) == pytest.approx(status.hours.earned)
    assert sum(run.planned_hours for run in status.runs) == pytest.approx(status.hours.planned)


# 1 crew of 4 people, paid 40 h; 150 minutes of rain x 4 people = 10 h of the 40.
def test_weather_takes_its_hours_out_of_the_pace():
    baseline = frozen()[2]
    day = baseline.days[0]
    rows = as_planned(baseline, day.date, lambda day: 40.0)
    dry = standing(SiteRecords(daily_record=rows), day.date)
    wet = SiteRecords(
        daily_record=rows,
        lost_time=(LostTime(date=day.date, crew=day.crew, minutes=150, cause="weather"),),
    )
    found = standing(wet, day.date)
    assert found.variance.weather == pytest.approx(10 * baseline.labor_rate, abs=0.01)
    assert found.variance.total == pytest.approx(dry.variance.total, abs=0.011)


def logged(number, run_id, kind="stick", visual="pass", **changes):
    values = {
        "joint_no": f"J{number:03d}", "run_id": run_id, "kind": kind, "pipe": "P",
        "soak_min_s": 60.0, "date": frozen()[2].head.start, "crew": 1, "machine_no": "M",
        "operator": "A", "heat_start_min": 480.0 + 30 * number,
        "heater_out_min": 490.0 + 30 * number, "closed_min": 490.1 + 30 * number,
        "cool_end_min": 500.0 + 30 * number, "visual": visual,
    }  # fmt: skip
    return LoggedJoint(**{**values, **changes})


def test_only_accepted_joints_earn_and_rework_earns_as_what_it_replaces():
    run = frozen()[2].runs[0]
    log = (
        logged(1, run.run_id),
        logged(2, run.run_id, "fitting", visual="reject", rework_as="J005"),
        logged(3, run.run_id, visual="hold"),
        logged(4, run.run_id, "trial fusion"),
        logged(5, run.run_id, "rework"),
        logged(6, run.run_id, "rework"),
        logged(7, run.run_id, visual=None),
    )
    date = log[0].date
    made = made_up_to(SiteRecords(joint_log=log), date)
    assert made.accepted[run.run_id] == {STICK: 1, FITTING: 1}
    assert made.not_left[run.run_id] == {STICK: 3, FITTING: 1}
    status = standing(SiteRecords(joint_log=log), date)
    assert status.joints_made == 6
    wanted = run.labor_hours * run.share({STICK: 1, FITTING: 1})
    assert status.hours.earned == pytest.approx(wanted)
    assert not status.hours_known
    assert status.variance is None
    assert any("on hold" in text and "J003" in text for text in status.decisions)


def test_a_reject_without_rework_needs_a_decision():
    run = frozen()[2].runs[0]
    records = SiteRecords(joint_log=(logged(1, run.run_id), logged(2, run.run_id, visual="reject")))
    status = standing(records, frozen()[2].head.start)
    assert "1 reject not yet cut out: J002" in status.decisions


def test_a_coupon_that_is_due_and_a_card_that_has_lapsed_need_a_decision():
    run, date = frozen()[2].runs[0], frozen()[2].head.start
    due = date + dt.timedelta(days=2)
    coupon = Coupon(
        coupon="C1", joint_no="J001", kind="bend", date=date, result="pass", next_due=due
    )
    operators = (
        Operator(operator="A", qualified_until=due),
        Operator(operator="B", qualified_until=date + dt.timedelta(days=4)),
    )
    records = SiteRecords(
        joint_log=(logged(1, run.run_id),), coupons=(coupon,), operators=operators
    )
    said = " ".join(standing(records, date + dt.timedelta(days=3)).decisions)
    assert "Coupon of A, M, P: due on" in said
    assert "A was qualified until" in said
    assert "B is qualified until" in said
    assert "Coupon of" not in " ".join(standing(records, date).decisions)


def test_tables_that_are_not_kept_are_reported():
    baseline, date = frozen()[2], part_way()
    daily = standing(SiteRecords(daily_record=as_planned(baseline, date)), date)
    assert [text[:12] for text in daily.missing] == ["No joint in ", "No Actual co", "No Lost time"]
    assert daily.hours_known
    assert not daily.money_known


def test_what_happened_later_is_left_out():
    baseline, date = frozen()[2], part_way()
    whole = SiteRecords(daily_record=as_planned(baseline, baseline.head.finish))
    part = SiteRecords(daily_record=as_planned(baseline, date))
    assert standing(whole, date) == standing(part, date)


def test_a_date_before_the_baseline_is_refused():
    with pytest.raises(EstimatorError, match="before the baseline begins on Mar 1, 2027"):
        standing(SiteRecords(), dt.date(2027, 2, 1))


def test_more_than_planned_earns_no_more_and_is_reported():
    baseline = frozen()[2]
    run = baseline.runs[0]
    row = DailyRow(
        date=baseline.head.start, crew=1, run_id=run.run_id, people=4, paid_hours=40,
        stick_joints=run.pieces[STICK] + 5, fitting_joints=run.pieces[FITTING],
        tie_in_joints=run.pieces[TIE_IN],
    )  # fmt: skip
    status = standing(SiteRecords(daily_record=(row,)), row.date)
    assert any("Agree the change and rebase" in text for text in status.decisions)
    assert status.hours.earned <= run.labor_hours


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "under_way.xlsx"
    path.write_bytes(small_under_way())
    return path


@pytest.fixture
def whole_job(tmp_path):
    path = tmp_path / "under_way.xlsx"
    shutil.copy(FOLDER / path.name, path)
    return path


@pytest.mark.slow
def test_command_writes_the_sheet_and_json(job, capsys):
    assert main(["status", str(job), "--date", "2027-03-26", "--json", "-"]) == 0
    out = capsys.readouterr()
    found = json.loads(out.out)
    assert found["joints"]["made"] > found["joints"]["accepted"] > 50
    assert found["missing"] == []
    assert found["forecast"]["finish"]["p10"] <= found["forecast"]["finish"]["p90"]
    assert "Finish: " in out.err
    parts = found["labor_variance"]
    total = parts["rate"] + parts["pace"] + parts["quantity"] + parts["weather"]
    assert round(total, 2) == parts["total"]
    names = names_of(job)
    assert names[-2:] == ["Status", "Gantt with actuals"]
    assert main(["status", str(job), "--date", "2027-03-19"]) == 0
    assert names_of(job) == names


@pytest.mark.slow
def test_live_figures_of_the_sheet_are_what_the_program_gives(job):
    """LibreOffice works the formulas out again; each gives the value that was saved with it."""
    assert main(["status", str(job), "--date", "2027-03-26"]) == 0
    saved = sheet_of(job, "Status", data_only=True)
    formulas = sheet_of(job, "Status")
    again = office.recalculate(job, sheets=("Status",))["Status"]
    cells = [
        cell.coordinate for row in formulas.iter_rows() for cell in row if cell.data_type == "f"
    ]
    assert len(cells) > 30
    for at in cells:
        wanted, got = saved[at].value, again.get(at)
        if isinstance(wanted, int | float):
            assert got == pytest.approx(wanted, rel=1e-6, abs=1e-6), at
        else:
            assert (got or "") == (wanted or ""), at


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--date", "soon"], "'soon' is not a date"),
        (["--date", "2027-03-01"], "no baseline"),
    ],
)
def test_command_says_what_is_missing(tmp_path, capsys, options, message):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["status", str(path), *options]) == 1
    assert message in capsys.readouterr().err
    assert path.read_bytes() == small_book()


@pytest.mark.slow
def test_options_from_the_status_date_bring_it_back(job):
    workbook = api.read_workbook(str(job))
    found, _ = status_pages(workbook, dt.date(2027, 3, 26), partial(api.options_from, workbook))
    table = found.ways_back
    assert main(["status", str(job), "--date", "2027-03-26", "--options"]) == 0
    cells = [row[0].value for row in sheet_of(job, "Status").iter_rows()]
    at = cells.index("What would bring it back, from the status date on") + 2
    names = [one.name for one in table.sooner_ones]
    assert cells[at : at + len(names)] == names
    assert cut_off(job.read_bytes(), "Status") == []
    assert table.base.figures.finish == found.forecast.plan.finish
    assert table.earliest.figures.finish < found.forecast.finish[1]


def test_nothing_made_is_reported():
    workbook, found, baseline = frozen()
    with pytest.raises(EstimatorError, match="Nothing was made up to Mar 5, 2027"):
        standing_of(found, baseline, SiteRecords(), dt.date(2027, 3, 5), Shared(workbook.places))


def test_a_finished_job_needs_no_forecast():
    workbook, found, baseline = frozen()
    records = SiteRecords(daily_record=as_planned(baseline, baseline.head.finish))
    got = standing_of(found, baseline, records, baseline.head.finish, Shared(workbook.places))
    assert got.forecast is None
    assert got.no_forecast == "Nothing is left to fuse"


@pytest.mark.slow
def test_every_command_after_award_gives_its_figures_as_json(job, capsys):
    """The sums of the JSON are those of the pages: joints of the log, due of the claim."""

    def asked(*arguments):
        assert main([arguments[0], str(job), *arguments[1:], "--json", "-"]) == 0
        return json.loads(capsys.readouterr().out)

    log = asked("log")
    assert sum(run["made"] for run in log["by_run"]) == sum(x["made"] for x in log["by_operator"])
    assert [one["joint_no"] for one in log["on_hold"]]
    claim = asked("claim", "--date", "2027-03-26")
    amounts = sum(line["amount"] for line in (*claim["items"], *claim["changes"]))
    assert amounts == pytest.approx(claim["work_to_date"])
    assert claim["due"] == pytest.approx(claim["work_to_date"] - claim["retained"])
    request = asked("request")
    assert [line["number"] for line in request["lines"]] == list(
        range(1, len(request["lines"]) + 1)
    )
    assert asked("cards")["cards"]
    rebased = asked("baseline", "--rebase", "why")
    assert rebased["head"]["number"] == 2
    hours = sum(run["labor_hours"] for run in rebased["runs"])
    assert hours == pytest.approx(rebased["head"]["labor_hours"])


def test_json_without_figures_is_refused(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["log", str(path), "--start", "--json", "-"]) == 1
    assert "With --start there are no figures" in capsys.readouterr().err
    assert path.read_bytes() == small_book()


@pytest.mark.slow
def test_bars_of_the_gantt_are_the_joints_of_baseline_log_and_forecast(job):
    """Row by row: planned bar = baseline of the run, bar below = joints made, then those left."""
    workbook = api.read_workbook(str(job))
    found, _ = status_pages(workbook, dt.date(2027, 3, 26))
    assert main(["status", str(job), "--date", "2027-03-26"]) == 0
    rows = list(sheet_of(job, "Gantt with actuals").iter_rows(min_row=5))
    at = next(i for i, cell in enumerate(rows[0]) if cell.fill.start_color.rgb[-6:] == "C5CEDA")
    baseline = found.status.baseline.by_run
    made = {}
    for day in found.made.days:
        made[day.run_id] = made.get(day.run_id, 0) + day.made
    left = {}
    for line in found.forecast.plan.plan.lines:
        left[line.run_id] = left.get(line.run_id, 0) + line.joints
    seen = 0
    for above, below in zip(rows[::2], rows[1::2], strict=False):
        run_id = above[0].value
        planned = sum(
            baseline[run_id].pieces.get(kind, 0) for kind in ("stick", "fitting", "tie_in")
        )
        assert sum(cell.value or 0 for cell in above[at:]) == planned == above[4].value
        parts = "+".join(str(cell.value or "") for cell in below[at:]).split("+")
        assert sum(map(int, filter(None, parts))) == made.get(run_id, 0) + left[run_id]
        assert below[4].value == made.get(run_id, 0)
        seen += 1
    assert seen == len(baseline)


@pytest.mark.slow
def test_pages_of_the_gantt_with_actuals_repeat_the_months_and_keep_both_bars_of_a_run(whole_job):
    """Title in rows 1 and 2, months and colors in 3, days in 4; then two rows for each run."""
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    sheet = sheet_of(whole_job, "Gantt with actuals")
    assert sheet["A1"].value == "Gantt with actuals", "no columns repeat, so none parts the title"
    assert sheet.print_title_rows == "$3:$4"
    months = [cell.value for cell in sheet[3] if cell.value]
    assert months[:5] == ["Planned: joints", "Made", "Forecast", "Status", "Mar 2027"]
    begun = [sheet.cell(one.id + 1, 1).value for one in sheet.row_breaks.brk]
    assert begun
    assert all(begun)


def printed(data, folder):
    """Return the words of the Status sheet as it prints, which is on one page."""
    only = folder / "status.xlsx"
    only.write_bytes(Package.open(data).with_only(("Status",)))
    pdf = office.convert(only, folder / "status.pdf")
    assert pages_of(pdf) == 1
    return words_of(pdf)


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext")
def test_the_status_page_is_one_page_with_its_band(whole_job, tmp_path):
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    chart = next(x for x in sheet_of(whole_job, "Status")._charts if x.anchor._from.col == 0)
    assert type(chart).__name__ == "AreaChart"
    words = printed(whole_job.read_bytes(), tmp_path)
    for asked in ("Week 4 of 36", "Finish", "Cost, $", "Forecast P50", "Next week", "Crew 1"):
        assert asked in words  # what a manager reads: when, how much, and what comes next
    shown = sheet_of(whole_job, "Status").iter_rows(max_col=1, values_only=True)
    assert ("R02 Reach 1, pump station to valve vault VV-1",) in shown, "the whole name of the run"
    assert cut_off(whole_job.read_bytes(), "Status") == []


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext")
def test_the_fullest_status_is_still_one_page(job, tmp_path):
    """Six runs over, three crews, and more open points than there is room for.

    The chart keeps the height at which its lines are distinct: 10 rows of 15 points, two inches.
    A4 has (11.69 - 11) x 72 = 49.7 points more, for names of runs, points to decide and chart: what
    is left may be a row less on one paper and a row more on the other.
    """
    workbook = api.read_workbook(str(job))
    room = []
    for paper in ("Letter", "A4"):
        data = _fullest(replace(workbook, job=workbook.job.changed(paper=paper)))
        words = printed(data, tmp_path)
        assert "Crew 3" in words
        assert "more, on Joint log, Coupons or Change orders" in words
        sheet = sheet_of(data, "Status")
        chart = next(x for x in sheet._charts if x.anchor._from.col == 0)
        rows = chart.anchor.to.row - chart.anchor._from.row
        assert rows >= 10
        filled = [
            sheet.row_dimensions[cell.row].height or ROW
            for (cell,) in sheet.iter_rows(max_col=1)
            if re.match(r"R\d\d |\d+ joints on hold", str(cell.value))
        ]
        room.append(rows * ROW + sum(filled))
    assert room[1] - room[0] == pytest.approx(49.7, abs=ROW)


def test_names_of_worst_runs_are_whole_before_all_points_are_shown(job):
    """Four runs over and one crew: their names go before the points that have no room."""
    data = _fullest(api.read_workbook(str(job)), worst=4, crews=1)
    shown = [str(row[0]) for row in sheet_of(data, "Status").iter_rows(max_col=1, values_only=True)]
    names = [text for text in shown if re.match(r"R\d\d ", text)]
    assert len(names) == 4
    assert not [name for name in names if name.endswith("...")]
    assert sum("joints on hold" in text for text in shown) >= 3


def test_reasons_of_worst_runs_are_whole_and_names_before_the_curve_has_its_full_height(job):
    """Five runs over: beside two crews the curve gives way, beside three the names are short."""
    workbook, why = api.read_workbook(str(job)), "rain, water in the trench"
    for crews, whole in ((2, True), (3, False)):
        sheet = sheet_of(_fullest(workbook, worst=5, crews=crews, why=why), "Status")
        rows = [[*map(str, row)] for row in sheet.iter_rows(max_col=8, values_only=True)]
        runs = [row for row in rows if re.match(r"R\d\d ", row[0])]
        assert [row[7] for row in runs] == [why] * 5
        assert any(row[0].endswith("...") for row in runs) != whole


def test_no_number_of_a_joint_is_broken_at_its_hyphen(job):
    """However long the sentence before it, which moves the end of the line letter by letter."""
    workbook = api.read_workbook(str(job))
    found, pages = status_pages(workbook, dt.date(2027, 3, 26))
    numbers = ", ".join(f"R02-{n:04d}" for n in range(1, 10))
    points = tuple(f"{'n' * letters} on hold: {numbers}" for letters in (1, 3, 5, 7))
    full = replace(found, status=replace(found.status, decisions=points))
    makers = {"Status": partial(status_sheet, standing=full)}
    (spec,) = replace(pages, makers=makers).specs(workbook.places, {"Status": "Status"})
    shown = {cell.value for row in spec.rows for cell in row.cells if cell}
    texts = [text for text in shown if "on hold: R02" in str(text)]
    assert len(texts) == len(points)
    room = sum(pixels_of(width) for width in spec.widths[:5])
    for text in texts:
        for line in text.split("\n"):
            lines = line_breadths(line, room * 0.94, 9.0)
            assert len([*lines]) == 1, line


def _fullest(workbook, *, worst=None, crews=3, why="rain and water in the pit " * 3):
    """Return the file with a status of everything there can be much of."""
    found, pages = status_pages(workbook, dt.date(2027, 3, 26))
    runs = tuple(
        replace(run, actual_hours=2 * max(run.earned_hours, 5.0), why=why)
        for run in found.status.runs[:worst]
    )
    point = "joints on hold, coupon C-03 failed: R02-0015 and others"
    points = tuple(f"{number} {point}" for number in range(20))
    crew = found.next_week.crews[0]
    at_work = tuple(crew._replace(crew=number) for number in range(1, crews + 1))
    full = replace(
        found,
        status=replace(found.status, runs=runs, decisions=points),
        next_week=replace(found.next_week, crews=at_work),
    )
    makers = {"Status": partial(status_sheet, standing=full)}
    return with_pages(workbook, replace(pages, makers=makers))


def test_a_run_and_its_joints_of_next_week_stay_on_one_line(whole_job):
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    rows = list(sheet_of(whole_job, "Status").iter_rows(max_col=6, values_only=True))
    shown = " ".join(map(str, next(row for row in rows if row[0] == "Crew 1")[1:]))
    assert re.search(r"R\d\d:\N{NO-BREAK SPACE}\d", shown)
    assert ": " not in shown


def test_the_gantt_with_actuals_fills_its_page(whole_job):
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    sheet = sheet_of(whole_job, "Gantt with actuals")
    assert sheet["A1"].value == "Gantt with actuals", "no columns repeat, so none parts the title"
    kept = sheet.column_dimensions.values()
    letters = sum(one.width * (one.max - one.min + 1) for one in kept)
    about = {cell.value for row in sheet.iter_rows(min_row=1, max_row=2) for cell in row}
    days = "To Mar 26, 2027, 14 days a column, 13+6: made + forecast; "
    assert f"{days}counted from the Joint log and the Daily record" in about
    assert any(str(text).startswith("Plan of what is left ends ") for text in about)
    assert 0.97 * box_pixels(across=True) < 7 * letters <= box_pixels(across=True)


def test_causes_of_lost_time_stand_beside_what_needs_a_decision(whole_job):
    """Three days of ten hours of rain, and half a shift: cause, hours, and who is charged."""
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    shown = sheet_of(whole_job, "Status").iter_rows(max_col=9, values_only=True)
    rows = list(shown)
    at = next(n for n, row in enumerate(rows) if row[0] == "Needs a decision")
    assert rows[at][5] == "Lost crew time"
    cell = sheet_of(whole_job, "Status").cell(at + 1, 6)
    assert (cell.alignment.horizontal, cell.alignment.indent) == ("left", 1), "as what is below it"
    assert rows[at + 1][5:] == ("Cause", None, "Lost\nhr", "Charged to")
    assert rows[at + 2][5:] == ("weather", None, 30.0, "us")
    assert rows[at + 3][5:] == ("hold by others", None, 4.0, "client")
    assert all(row[0] for row in rows[at + 1 : at + 4]), "the points stand beside them"


def test_heads_of_the_status_have_their_units_below(whole_job):
    """P50 stands before the range, whose ends have one head; hours are named once a column."""
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    rows = list(sheet_of(whole_job, "Status").iter_rows(max_col=9, values_only=True))
    summary = next(row for row in rows if "Baseline" in row)
    assert summary[6:] == ("Forecast\nP50", "Forecast range\nP10 to P90", None)
    worst = next(row for row in rows if row[0] == "Run")
    assert worst[2:6] == ("Accepted\nof planned", "Earned\nhr", "Actual\nhr", "Over\nhr")


def test_a_run_with_other_work_alone_has_its_sign_next_week(whole_job):
    """R04 gets its saddles and closures on the Tuesday; the Look-ahead has the same sign."""
    assert main(["status", str(whole_job), "--date", "2027-03-26"]) == 0
    rows = list(sheet_of(whole_job, "Status").iter_rows(max_col=6, values_only=True))
    at = next(n for n, row in enumerate(rows) if row[0] == "Crew 1")
    runs = [text for day in rows[at][1:] if day for text in day.split(", ") if text[:1] == "R"]
    assert all(re.fullmatch(r"R\d\d:\N{NO-BREAK SPACE}(\d+|\+)", text) for text in runs)
    assert [text for text in runs if text.endswith("+")]
    assert rows[at + 1][0] == "+ is work without a butt joint."
