"""Options: each one beside a job that was changed by hand; ranks by trying all pairs; the sheet."""

import datetime as dt
import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import to_excel

from estimator import api
from estimator.cli import main
from estimator.equipment.stock import Period
from estimator.models.comparison import Figures
from estimator.models.job_inputs import LEAST_COST
from estimator.models.options import NoOptions, Option, OptionTable
from estimator.money import round_money
from estimator.pipeline import estimate
from estimator.whatif import assess
from estimator.whatif.options import (
    MOST_RUN_ESTIMATES,
    all_choices,
    changed_job,
    described,
    freed_runs,
    impossible,
    remark,
    sentences,
    shifts,
)
from estimator.whatif.short_stock import Short, rented
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests import jobs
from tests.each import each
from tests.jobs import machine, money, run
from tests.office import errors_in, recalculate
from tests.one_page import book_of, sheet_of
from tests.workbook_factory import WorkbookFactory


def a_job(**facts):
    return jobs.job(
        run("R1", segments_m=(700.0,)),
        run("R2", segments_m=(650.0,)),
        run("R3", segments_m=(500.0,)),
        **facts,
    )


def table_of(job):
    found = assess(estimate(job))
    assert isinstance(found, OptionTable)
    return found


# The grid


def test_shifts_are_straight_time_the_shift_and_steps_of_overtime():
    """8 h straight and 10 h paid, by 1.5 h up to 13 h: 11.5 and 13; 14.5 is too long."""
    job = a_job(option_overtime_step_hours=1.5, option_longest_shift_hours=13.0)
    assert shifts(job) == [8.0, 10.0, 11.5, 13.0]
    assert shifts(a_job(option_longest_shift_hours=9.0)) == [8.0, 10.0]


def test_crews_and_machines_are_those_of_the_inputs_and_the_job_whatever_the_stock():
    job = a_job(option_crews=2, crews=4)
    assert {crews for crews, _, _ in all_choices(job)} == {1, 2, 4}
    assert {machines for _, machines, _ in all_choices(job)} == {1, 2, 3}
    one = a_job().model_copy(update={"machines": (machine(stock=1),)})
    assert {machines for _, machines, _ in all_choices(one)} == {1, 2, 3}


def test_every_option_is_the_estimate_of_a_job_changed_by_hand():
    job = a_job(deadline=dt.date(2027, 3, 31), liquidated_damages=money(400))
    table = table_of(job)
    assert len(table.options) == len(all_choices(job)) == 27
    for option in table.possible:
        changed = job.changed(
            crews=option.crews,
            machines_per_crew=option.machines_per_crew,
            shift_hours=option.shift_hours,
        )
        found = estimate(changed)
        late = max(0, (found.plan.finish - job.dates.deadline).days)
        assert option.figures.finish == found.plan.finish
        held = option.crews * option.machines_per_crew
        assert bool(option.stock) == (held > 4)
        if not option.stock:
            assert option.figures.job_cost == found.bid.job_cost
        assert option.figures.days_late == late
        assert option.liquidated_damages == round_money(400 * late)
    assert table.base.figures.finish == estimate(job).plan.finish


def test_what_cannot_be_done_has_its_reason_in_a_few_words():
    named = a_job(crews=2)
    first = named.runs[0].model_copy(update={"crew": 2})
    job = named.model_copy(update={"runs": (first, *named.runs[1:])})
    why = {(o.crews, o.machines_per_crew): o.why_not for o in table_of(job).options}
    assert why[1, 1] == "the Pipe schedule assigns runs to crew 2; this option has 1 crew"
    assert why[2, 1] == why[2, 2] == why[2, 3] == ""


def two_runs(*machines):
    """Two runs of four days each, so that two crews hold a machine from Friday 26 February to
    Friday 5 March 2027: eight days on rent, a week and a day."""
    job = jobs.job(run("R1", segments_m=(700.0,)), run("R2", segments_m=(700.0,)), option_crews=2,
                   option_longest_shift_hours=4.0, straight_hours=10.0)  # fmt: skip
    return job.model_copy(update={"machines": machines})


def two_crews_of(job):
    (option,) = [o for o in table_of(job).options if (o.crews, o.machines_per_crew) == (2, 1)]
    crews = estimate(job.changed(crews=2))
    assert (crews.plan.start, crews.plan.finish) == (dt.date(2027, 3, 1), dt.date(2027, 3, 4))
    return option, crews.bid.job_cost


def test_a_machine_that_is_not_in_stock_is_rented_from_elsewhere():
    """A week and a day at 300 + 100; at 1.25 x the rate 100 more than as if it were in stock."""
    option, plain = two_crews_of(two_runs(machine("M4", stock=1)))
    assert option.figures.job_cost == plain + 100
    assert option.stock == (
        "1 more of class M4 rented from elsewhere at 1.25 x its rate, 26 Feb 2027 to 5 Mar 2027"
    )
    assert option.stock in remark(table_of(two_runs(machine("M4", stock=1))), option)


def test_many_shortages_are_said_in_one_sentence_with_the_most_of_each_class():
    """Two of M4 at first and one later, one of M5 in between."""
    stock = {name: machine(name, stock=1) for name in ("M4", "M5")}

    def short(name, day, quantity):
        first = dt.date(2027, 3, day)
        period = Period(first, first + dt.timedelta(2), stock[name].stock + quantity)
        return Short("machine", stock[name], period, ())

    assert rented([short("M4", 1, 2), short("M5", 8, 1), short("M4", 15, 1)], 1.25, "SI") == (
        "rented from elsewhere at 1.25 x their rates, at times from 1 Mar 2027 to 17 Mar 2027: "
        "up to 2 of class M4, 1 of class M5"
    )


def test_the_next_class_that_fits_and_is_free_is_taken_where_that_is_cheaper():
    """M5 at 110 + 320 for the week and day is 30 dearer than M4; M4 from elsewhere 100."""
    rates = {
        "day_rate": money(110),
        "week_rate": money(320, "week"),
        "four_week_rate": money(950, "4 weeks"),
    }
    next_class = machine("M5", **rates)
    option, plain = two_crews_of(two_runs(machine("M4", stock=1), next_class))
    assert option.figures.job_cost == plain + 30
    assert option.stock == "class M5 in place of 1 short of class M4"
    dear = machine(
        "M5",
        day_rate=money(200),
        week_rate=money(900, "week"),
        four_week_rate=money(2000, "4 weeks"),
    )
    option, plain = two_crews_of(two_runs(machine("M4", stock=1), dear))
    assert option.figures.job_cost == plain + 100


def test_two_machines_a_crew_of_a_class_with_one_in_stock_are_priced():
    options = table_of(two_runs(machine("M4", stock=1))).options
    (option,) = [o for o in options if (o.crews, o.machines_per_crew) == (1, 2)]
    assert option.figures is not None
    assert option.stock.startswith("1 more of class M4 rented from elsewhere")


@each(
    ("rates", "cost", "said"),
    [
        # Two of M5 for two weeks, 2 x 610, are 20 dearer than 2 x 600; of M4 one would be 150 more.
        ((102, 305, 915), 20, "does without class M4, of which too few are in stock for one crew"),
        # Two of M5, 2 x 1,800, are 2,400 dearer: one M4 more comes from elsewhere for 150.
        ((200, 900, 2000), 150, "1 more of class M4 rented from elsewhere at 1.25 x its rate, "),
    ],
)  # fmt: skip
def test_a_class_with_too_few_for_one_crew_is_held_against_one_from_elsewhere(rates, cost, said):
    """Two machines a crew, one M4 in stock and four of M5: 13 days on rent, two weeks of each."""
    day, week, four_weeks = rates
    other = machine("M5", day_rate=money(day), week_rate=money(week, "week"),
                    four_week_rate=money(four_weeks, "4 weeks"))  # fmt: skip
    options = table_of(two_runs(machine("M4", stock=1), other)).options
    (option,) = [o for o in options if (o.crews, o.machines_per_crew) == (1, 2)]
    plain = table_of(two_runs(machine("M4"))).options
    (at_hand,) = [o for o in plain if (o.crews, o.machines_per_crew) == (1, 2)]
    assert option.figures.job_cost - at_hand.figures.job_cost == cost
    assert option.stock.startswith(said)


@settings(max_examples=12, deadline=None)
@given(
    st.lists(st.integers(1, 3), min_size=2, max_size=4),
    st.tuples(st.integers(1, 2), st.integers(1, 2), st.integers(1, 2)),
)
def test_no_option_is_missing_because_stock_is_short(lengths, stock):
    """Whatever the stock of machines, generators and lifting, the same options can be done as with
    plenty of each, and those beyond the stock say what they take in its place."""
    rows = [run(f"R{n}", segments_m=(300.0 * length,)) for n, length in enumerate(lengths)]
    made = jobs.job(*rows, option_crews=2, option_longest_shift_hours=4.0, straight_hours=10.0)

    def stocked(*of):
        tables = zip(("machines", "generators", "lifting"), of, strict=True)
        changed = {name: tuple(item.model_copy(update={"stock": n}) for item in getattr(made, name))
                   for name, n in tables}  # fmt: skip
        return table_of(made.model_copy(update=changed)).options

    def done(options):
        return {one.name for one in options if one.figures is not None}

    few, plenty = stocked(*stock), stocked(9, 9, 9)
    assert done(few) == done(plenty)
    price_of = {one.name: one.figures.job_cost for one in plenty if one.figures is not None}
    for one in few:
        if one.figures is not None and not one.is_base:
            dearer = one.figures.job_cost > price_of[one.name]
            assert not dearer or "in place of" in one.stock or "from elsewhere" in one.stock


def test_the_job_as_it_stands_shows_what_it_holds_beyond_its_stock():
    base = table_of(two_runs(machine("M4", stock=1)).changed(crews=2)).base
    assert base.stock == "holds 1 more of class M4 than in stock, at the class's own rate"


def test_a_crew_without_work_is_no_option():
    job = jobs.job(run(segments_m=(600.0,)))
    why = {option.crews: option.why_not for option in table_of(job).options}
    assert (why[1], why[2]) == ("", "only 1 of 2 crews would have work")


def test_the_job_as_it_stands_says_which_crews_have_no_work():
    base = table_of(jobs.job(run(segments_m=(600.0,)), crews=2)).base
    assert base.rests_on == "only 1 of 2 crews at work"


def test_alike_reasons_are_reported_once():
    table = table_of(jobs.job(run(segments_m=(600.0,))))
    text = dict(impossible(table))
    name = "2 crews x 1, 2 or 3 machines, 8, 10 or 12 hours"
    assert text[name] == "Not possible. Only 1 of 2 crews would have work"


def test_crews_that_share_a_reason_share_a_line():
    base = Option(1, 1, 8.0, None, is_base=True)
    others = [Option(n, 2, 8.0, None, why_not="no machine fits") for n in (2, 3)]
    late = Option(3, 1, 8.0, None, why_not="late")
    table = OptionTable(base, (*others, late), None, 14, "$", "SI")
    assert dict(impossible(table)) == {
        "2 or 3 crews x 2 machines, 8 hours": "Not possible. No machine fits",
        "3 crews x 1 machine, 8 hours": "Not possible. Late",
    }


def test_a_shift_that_start_up_fills_is_reported():
    job = a_job(straight_hours=4.0, startup_min=200.0, wrapup_min=20.0, breaks_min=30.0)
    table = table_of(job)
    why = {option.shift_hours: option.why_not for option in table.options if option.why_not}
    assert "leave no time in a shift of 240 min" in why[4.0]


# Ranks


def test_options_that_none_beats_come_first_and_are_found_by_trying_all_pairs():
    table = table_of(a_job(liquidated_damages=money(100), deadline=dt.date(2027, 3, 19)))

    def beats(one, other):
        mine = one.figures.finish, one.figures.job_cost
        theirs = other.figures.finish, other.figures.job_cost
        return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))

    for option in table.possible:
        beaten = any(beats(other, option) for other in table.possible)
        twin = any(
            other is not option
            and other.figures.finish == option.figures.finish
            and other.figures.job_cost == option.figures.job_cost
            for other in table.possible
        )
        assert bool(option.better) == beaten or twin
    finishes = [option.figures.finish for option in table.efficient]
    costs = [option.figures.job_cost for option in table.efficient]
    assert finishes == sorted(set(finishes))
    assert costs == sorted(set(costs), reverse=True)
    assert table.options[: len(table.efficient)] == table.efficient


def by_hand(*rows, deadline=None, days_sooner=14):
    """Return a table of (crews, finish as day of June, cost); the first is the job as it is."""
    options = []
    for number, (crews, day, cost, better) in enumerate(rows):
        finish = dt.date(2027, 6, day)
        late = 0 if deadline is None else max(0, (finish - deadline).days)
        start = dt.date(2027, 5, 3)
        figures = Figures(9, 9, start, finish, 9.0, 3.0, round_money(cost), round_money(cost), late)
        options.append(Option(crews, 1, 10.0, figures, is_base=number == 0, better=better))
    ordered = sorted(options, key=lambda option: (bool(option.better), option.figures.finish))
    return OptionTable(options[0], tuple(ordered), deadline, days_sooner, "$", "SI")


def test_a_missed_deadline_is_answered_with_the_cheapest_that_meets_it():
    """28 June is 8 days after the 20th; two crews end on the 19th, three on the 10th."""
    table = by_hand(
        (1, 28, 1000, ""), (2, 19, 1250, ""), (3, 10, 1900, ""), deadline=dt.date(2027, 6, 20)
    )
    assert list(sentences(table)) == [
        "The deadline of 20 Jun 2027 is missed by 8 calendar days. Lowest cost that meets it: "
        "2 crews x 1 machine, 10 hours, finishes 19 Jun 2027, costs $250 more.",
        "To finish 14 calendar days earlier: 3 crews x 1 machine, 10 hours, finishes 10 Jun "
        "2027, costs $900 more.",
    ]
    shown = {option.crews: remark(table, option) for option in table.options}
    assert shown == {
        1: "The base job; misses the deadline; lowest cost",
        2: "Lowest cost that meets the deadline",
        3: "Earliest finish; lowest cost that finishes 14 calendar days earlier",
    }


def test_the_cheapest_of_all_is_called_so_once():
    """Two crews cost least, end before the deadline and 18 days before the one that misses it."""
    table = by_hand((1, 28, 1000, ""), (2, 10, 900, ""), deadline=dt.date(2027, 6, 20))
    assert remark(table, table.options[0]) == (
        "Lowest cost; meets the deadline; earliest finish; finishes 14 calendar days earlier"
    )


def test_the_change_in_cost_is_the_difference_of_the_costs_as_shown():
    """The page shows 1,001 and 1,200; their exact difference, 199.8, would be 200."""
    table = by_hand((1, 28, 1000.6, ""), (2, 19, 1200.4, ""))
    base, other = table.base, table.options[0]
    assert (table.more_cost_shown(other), table.more_cost_shown(base)) == (199, 0)
    assert described(table, other).endswith("costs $199 more")


def test_a_deadline_that_nothing_meets_is_answered_with_what_comes_closest():
    table = by_hand(
        (1, 28, 1000, ""), (2, 27, 1100, ""), deadline=dt.date(2027, 6, 25), days_sooner=7
    )
    assert list(sentences(table)) == [
        "The deadline of 25 Jun 2027 is missed by 3 calendar days. No option meets it. "
        "Closest (2 calendar days late): 2 crews x 1 machine, 10 hours, finishes 27 Jun 2027, "
        "costs $100 more.",
        "No option finishes 7 calendar days earlier. Closest (1 calendar day earlier): 2 "
        "crews x 1 machine, 10 hours, finishes 27 Jun 2027, costs $100 more.",
    ]


def test_a_deadline_met_at_less_cost_and_none_sooner():
    table = by_hand((2, 10, 1500, ""), (1, 18, 1200, ""), deadline=dt.date(2027, 6, 20))
    assert list(sentences(table)) == [
        "The deadline of 20 Jun 2027 is met with 10 calendar days to spare. Lowest cost that "
        "meets it: 1 crew x 1 machine, 10 hours, finishes 18 Jun 2027, costs $300 less.",
        ("No option finishes 14 calendar days earlier. None finishes earlier than the base job."),
    ]


def test_without_a_deadline_the_cheapest_of_all_is_named():
    table = by_hand(
        (2, 10, 1500, ""), (1, 18, 1200, ""), (3, 19, 1300, "1 crew x 1 machine, 10 hours")
    )
    first, _, last = sentences(table)
    assert first == "No deadline is set on the Job sheet."
    assert last == (
        "Lowest cost overall: 1 crew x 1 machine, 10 hours, finishes 18 Jun 2027, costs $300 less."
    )
    assert remark(table, table.options[-1]) == (
        "1 crew x 1 machine, 10 hours finishes no later and costs no more"
    )


# When it is left out


def test_no_crews_to_consider_leaves_the_options_out():
    assert assess(estimate(a_job(option_crews=0))) == NoOptions(
        "Crews to try, up to is 0 on the Job sheet"
    )


def test_a_large_job_has_options_only_when_asked():
    count = MOST_RUN_ESTIMATES // 6 + 1
    runs = tuple(run(f"R{i}", segments_m=(24.0,)) for i in range(count))
    machines = (machine(stock=1),)
    job = a_job(option_crews=1, option_longest_shift_hours=4.0).model_copy(
        update={"runs": runs, "machines": machines}
    )
    found = estimate(job)
    left_out = assess(found)
    assert left_out.reason.startswith(f"6 options for {count} runs take a while. Run the command")
    assert isinstance(assess(found, always=True), OptionTable)


def test_a_run_that_takes_years_counts_for_many():
    """6 options x a tenth of 8,400 lines of a plan, one a shift, are 5,040 runs: over 5,000."""
    job = a_job(option_crews=1, option_longest_shift_hours=4.0, test_joint_rule="job start")
    found = estimate(job)
    lines = (found.plan.lines[0],)
    short, long = (
        replace(found, plan=replace(found.plan, lines=lines * number)) for number in (8_000, 8_400)
    )
    assert isinstance(assess(short), OptionTable)
    assert "take a while" in assess(long).reason


def test_a_choice_over_the_job_is_kept_and_not_made_anew():
    job = a_job(fleet_choice=LEAST_COST, crews=2)
    found = estimate(job)
    same = changed_job(found, (2, 1, 12.0), freed_runs(found))
    other = changed_job(found, (3, 1, 12.0), freed_runs(found))
    assert same.runs == found.job.runs
    assert [one.fleet_class for one in other.runs] == [one.fleet_class for one in found.job.runs]
    assert [one.crew for one in other.runs] == [one.crew for one in job.runs]
    assert same.equipment.fleet_choice == "run by run"


# Workbook and command


@pytest.fixture
def book(tmp_path):
    made = WorkbookFactory()
    start = parse_job(FileSource(made.build())).job.dates.start
    made.named["job"]["deadline"] = start + dt.timedelta(days=1)
    made.named["job"]["liquidated_damages"] = 350
    path = tmp_path / "job.xlsx"
    path.write_bytes(made.build())
    return path


def test_the_command_prints_and_writes_every_option(book, capsys):
    before = api.read_workbook(str(book))
    assert main(["options", str(book)]) == 0
    out = capsys.readouterr().out
    table = assess(estimate(before.job, before.places), before.places)
    sheet = sheet_of(book, "Options", data_only=True)
    lines = [*sheet.iter_rows()]
    rows = {row[1].value: row for row in reversed(lines)}
    answers = {str(row[0].value).replace("\N{NO-BREAK SPACE}", " ") for row in lines}
    on_page = {row[1].value: str(row[2].value) for row in lines}
    on_page = {name: text.replace("\N{NO-BREAK SPACE}", " ") for name, text in on_page.items()}
    header = [str(cell.value).partition("\n")[0] for cell in rows["Option"]]
    finish, late, cost, change, said = map(
        header.index, ("Finish", "Days late", "Job cost", "Cost change", "Remark")
    )
    for option in table.possible:
        assert option.name in out
        assert f"{option.figures.job_cost:,.2f}" in out
        row = rows[option.name]
        assert row[finish].value.date() == option.figures.finish
        assert row[late].value == option.figures.days_late
        assert row[cost].value == pytest.approx(float(option.figures.job_cost))
        assert row[change].value == table.more_cost_shown(option)
        assert (row[said].value or "") == remark(table, option)
        if option.is_base or not option.better:
            assert on_page[option.name] in (remark(table, option), str(row[2].value))
    for sentence in sentences(table):
        assert sentence in answers
        assert " ".join(sentence.split()) in " ".join(out.split())
    whole = {str(name).replace("\N{NO-BREAK SPACE}", " "): row for name, row in rows.items()}
    for name, why in impossible(table):
        assert whole[name][2].value == why


def test_the_command_gives_json_and_writes_to_another_file(book, tmp_path, capsys):
    other = tmp_path / "other.xlsx"
    before = book.read_bytes()
    assert main(["options", str(book), "-o", str(other), "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    (base,) = [option for option in found["options"] if option["is_base"]]
    assert base["figures"]["more_cost"] == 0
    assert base["figures"]["liquidated_damages"] == 350 * base["figures"]["days_late"]
    assert found["answers"][0].startswith("The deadline of ")
    assert book.read_bytes() == before
    assert other.exists()


def test_options_that_are_not_wanted_are_refused_with_the_cell(tmp_path, capsys):
    made = WorkbookFactory()
    made.named["job"]["option_crews"] = 0
    path = tmp_path / "none.xlsx"
    path.write_bytes(made.build())
    assert main(["options", str(path)]) == 1
    text = capsys.readouterr().err
    assert "Crews to try, up to: 0 means no options" in text
    assert text.startswith(api.read_workbook(str(path)).places.where("job", "", "option_crews"))
    assert main(["estimate", str(path)]) == 0
    page = sheet_of(path, "Options")
    said = "Options not worked out: Crews to try, up to is 0 on the Job sheet"
    (row,) = (cells[0].row for cells in page.iter_rows() if cells[0].value == said)
    broad = [area for area in page.merged_cells.ranges if area.size["columns"] > 5]
    assert row in {area.min_row for area in broad}


def test_no_point_of_the_chart_stands_on_its_axis(book):
    assert main(["options", str(book)]) == 0
    dates = [row[2].value for row in sheet_of(book, "Options").iter_rows(max_col=3)]
    finishes = [date for date in dates if isinstance(date, dt.datetime)]
    sheet = sheet_of(book, "Options")
    (chart,) = sheet._charts
    scale = chart.x_axis.scaling
    first, last = (to_excel(day) for day in (min(finishes), max(finishes)))
    assert scale.min < first
    assert scale.max > last


def test_recalculated_the_sheets_hold_what_was_written_and_say_when_the_cost_moved(book):
    assert main(["options", str(book)]) == 0
    cached = book_of(book, ("Options", "Cost"), data_only=True)
    where = api.read_workbook(str(book)).places.where("job", "", "liquidated_damages").split("!")
    calm, moved = recalculate(book), recalculate(book, {where[0]: {where[1]: 9000}})
    assert errors_in(calm) == []
    for row in cached["Options"].iter_rows():
        for cell in row:
            if isinstance(cell.value, int | float):
                assert calm["Options"][cell.coordinate] == pytest.approx(cell.value)
    assert calm["Options"]["C3"] == "matches the Cost sheet"
    assert moved["Options"]["C3"] == "Prices have changed: run Estimate again"
    charge = {row[1].value: row for row in cached["Cost"].iter_rows()}["Liquidated damages"]
    days = charge[3].value
    amount = charge[6].coordinate
    assert days > 0
    assert calm["Cost"][amount] == pytest.approx(350 * days)
    assert moved["Cost"][amount] == pytest.approx(9000 * days)


def test_the_choice_over_the_job_is_reported_on_the_equipment_sheet_and_in_json(tmp_path, capfd):
    """What the solver itself would print would spoil the JSON; capfd sees its output too."""
    made = WorkbookFactory()
    made.named["job"]["fleet_choice"] = LEAST_COST
    path = tmp_path / "fleet.xlsx"
    path.write_bytes(made.build())
    assert main(["estimate", str(path), "--json", "-"]) == 0
    screen = capfd.readouterr()
    choice = json.loads(screen.out)["fleet_choice"]
    assert "Machines     Kept: " in screen.err
    assert choice["bound"] <= choice["model_cost"]
    assert choice["saving"] >= 0
    assert next(one["name"] for one in choice["candidates"]) == "run by run"
    shown = [row[0].value for row in sheet_of(path, "Equipment choice").iter_rows()]
    assert "Fleet optimization (least total cost)" in shown
    assert any(str(text).startswith(f"Kept: {choice['kept']}. It saves ") for text in shown)
    assert any("gap" in str(text) and "lower bound" in str(text) for text in shown)
    quiet = api.read_workbook(str(path))
    assert quiet.job.equipment.fleet_choice == LEAST_COST
