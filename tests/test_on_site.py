"""Crew dates and holds: who is on site when, what waits, and what is paid for it."""

import datetime as dt
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import InputError
from estimator.explain.one_run import explain
from estimator.joint.sizing import Sizer
from estimator.models.calendar import CrewDates, Hold
from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.plan import lay_out
from estimator.power.load import electric_load
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from estimator.working_time.on_site import stays_of
from tests.jobs import job, machine, run
from tests.workbook_factory import WorkbookFactory

START = dt.date(2027, 3, 1)
"""A Monday."""
NO_TESTS = {"test_joint_rule": "none", "rework_share": 0.0}


def day(n):
    """The working day n of the job, from 1 on, without days lost."""
    return START + dt.timedelta(days=(n - 1) // 5 * 7 + (n - 1) % 5)


def on_site(*rows, **changes):
    return job(*changes.pop("runs"), **{**NO_TESTS, **changes}).model_copy(
        update={"crew_dates": tuple(CrewDates(**row) for row in rows)}
    )


def held(*rows, **changes):
    return job(*changes.pop("runs"), **{**NO_TESTS, **changes}).model_copy(
        update={"holds": tuple(Hold(**row) for row in rows)}
    )


def planned(job_):
    sizer = Sizer(job_, Places())
    sized = sizer.size_all()
    return {s.run_id: s for s in sized}, lay_out(job_, sized, sizer.cycle_on)


def dates_of(plan, crew=None, run_id=None):
    return [n.date for n in plan.lines if crew in (None, n.crew) and run_id in (None, n.run_id)]


LONG = (
    run("R1", segments_m=(3000.0,)),
    run("R2", segments_m=(3000.0,)),
    run("R3", segments_m=(3000.0,)),
)


def test_second_crew_from_week_three_without_pinned_runs():
    row = {"crew": 2, "from_date": day(11)}
    _, plan = planned(on_site(row, runs=LONG, crews=2))
    assert min(dates_of(plan, crew=1)) == START
    assert min(dates_of(plan, crew=2)) == day(11)
    assert dates_of(plan, run_id="R1") == dates_of(plan, crew=1, run_id="R1")
    assert dates_of(plan, run_id="R2") == dates_of(plan, crew=2, run_id="R2")


def test_of_crews_that_can_begin_in_the_same_shift_it_is_the_one_that_was_free_first():
    """R2 may start on a Saturday, so either crew begins on Monday: crew 2, free since its dates
    began, and not crew 1, which had R1 first and has no dates."""
    runs = run("R1", segments_m=(60.0,), crew=1), run("R2", earliest_start=dt.date(2027, 3, 6))
    _, plan = planned(on_site({"crew": 2, "from_date": START}, runs=runs, crews=2))
    assert dates_of(plan, crew=1) == [START]
    assert min(dates_of(plan, crew=2, run_id="R2")) == day(6)


def test_crew_leaves_its_run_to_the_other_crew():
    """Crew 2 is gone after day 5: R2 has five days of its joints from crew 2, the rest from crew
    1 when R1 is done."""
    row = {"crew": 2, "from_date": START, "to_date": day(5)}
    sized, plan = planned(on_site(row, runs=LONG[:2], crews=2))
    assert max(dates_of(plan, crew=2)) == day(5)
    a_day = sized["R2"].cycle.joints_per_shift
    made = sum(n.joints for n in plan.lines if n.run_id == "R2" and n.crew == 2)
    assert made == 5 * a_day
    rest = [n for n in plan.lines if n.run_id == "R2" and n.crew == 1]
    assert sum(n.joints for n in rest) == sized["R2"].counts.butt_joints - made
    assert rest[0].date >= max(dates_of(plan, crew=1, run_id="R1"))


def test_crew_between_two_times_on_site_is_not_paid():
    rows = ({"crew": 1, "from_date": START, "to_date": day(5)},
            {"crew": 1, "from_date": day(16)})  # fmt: skip
    found = estimate(on_site(*rows, runs=LONG[:1]))
    worked = dates_of(found.plan)
    assert set(worked[:5]) == {day(n) for n in range(1, 6)}
    assert worked[5] == day(16)
    assert not [n for n in found.plan.crew_days if day(5) < n.date < day(16)]
    assert not any("waits" in w.message for w in found.warnings)


def test_machine_of_a_crew_comes_with_it():
    """Day 11 is a Monday; one day of haulage before it is a Sunday, so it comes on Friday."""
    row = {"crew": 2, "from_date": day(11)}
    found = estimate(on_site(row, runs=LONG, crews=2))
    first = min(s.on_rent for s in found.fleet.spans if s.crew == 2)
    assert first == day(10)


def test_crew_with_two_machines_and_a_longer_shift_of_its_own():
    """Crew 2 attends two machines and works 12 h: its days are those of a job where every crew
    does, and its rent is for two machines."""
    runs = (run("R1", segments_m=(3000.0,), crew=1), run("R2", segments_m=(3000.0,), crew=2))
    row = {"crew": 2, "from_date": START, "machines": 2, "shift_hours": 12.0}
    found = estimate(on_site(row, runs=runs, crews=2))
    like = job(run("R2", segments_m=(3000.0,)), machines_per_crew=2, shift_hours=12.0, **NO_TESTS)
    sized, alike = planned(like)
    own = [n for n in found.plan.lines if n.crew == 2]
    assert [(n.date, n.joints) for n in own] == [(n.date, n.joints) for n in alike.lines]
    other = [n for n in found.plan.lines if n.crew == 1]
    assert other[0].joints < own[0].joints == sized["R2"].cycle.joints_per_shift
    quantity = {(s.kind, s.crew): s.quantity for s in found.fleet.spans}
    assert quantity["machine", 2] == quantity["generator", 2] == 2
    assert quantity["machine", 1] == 1
    paid = {n.crew: n.straight_hours + n.overtime_hours for n in found.plan.crew_days}
    assert paid == {1: 10.0, 2: 12.0}


def two_machines_from_day_six(**changes):
    """Two weeks: one machine Monday to Friday, two from the Monday after it."""
    rows = ({"crew": 1, "from_date": START, "to_date": day(5)},
            {"crew": 1, "from_date": day(6), "machines": 2})  # fmt: skip
    return on_site(*rows, runs=LONG[:1], **changes)


def test_a_second_machine_in_the_second_row_of_a_crew():
    """Its days are those of a job with one machine, then of a job with two; nobody leaves over
    the weekend, so no move and no second setup."""
    found = estimate(two_machines_from_day_six())
    one, _ = planned(job(LONG[0], **NO_TESTS))
    two, _ = planned(job(LONG[0], machines_per_crew=2, **NO_TESTS))
    slow, fast = one["R1"].cycle.joints_per_shift, two["R1"].cycle.joints_per_shift
    assert fast > slow
    joints = [line.joints for line in found.plan.lines]
    assert joints[:5] == [slow] * 5
    assert set(joints[5:-1]) == {fast}
    assert sum(joints) == one["R1"].counts.butt_joints
    assert not any(line.moves for line in found.plan.lines)


def test_the_second_machine_and_its_generator_are_rented_for_its_days_alone():
    """One of each for all days; one more from its first day, which is a Monday: delivered on the
    Friday before it, one day of haulage. Lifting gear stays one."""
    found = estimate(two_machines_from_day_six())
    last = found.plan.lines[-1].date
    for kind in ("machine", "generator"):
        spans = [span for span in found.fleet.spans if span.kind == kind]
        assert [(span.quantity, span.used[0], span.used[-1]) for span in spans] == [
            (1, START, last), (1, day(6), last)]  # fmt: skip
        assert spans[1].on_rent == day(5)
    assert [s.quantity for s in found.fleet.spans if s.kind == "lifting"] == [1]


def test_people_for_the_further_machine_are_paid_on_its_days_alone():
    """One operator and 1.5 laborers; half a laborer more for the further machine."""
    made = two_machines_from_day_six()
    crew = (made.crew[0], made.crew[1].model_copy(update={"further_heads": 0.5}))
    found = estimate(made.model_copy(update={"crew": crew}))
    heads = [one.heads for one in found.plan.crew_days]
    assert heads[:5] == [(1, 1.5)] * 5
    assert set(heads[5:]) == {(1, 2.0)}


def test_a_shared_generator_is_sized_by_the_machines_of_the_day():
    """Of a class for one machine and a larger one for two, each on its own days, or the larger one
    throughout where that costs less; never the smaller one beside two machines."""
    made = two_machines_from_day_six(generators_per_crew="one shared")
    found = estimate(made)
    spans = [span for span in found.fleet.spans if span.kind == "generator"]
    assert {span.quantity for span in spans} == {1}
    rated = {item.class_id: item.rated_kw for item in made.generators}
    of_two = electric_load(made.machines[0], made.power, 2).running_kw
    for span in spans:
        if span.used[-1] >= day(6):
            assert rated[span.class_id] >= of_two


def test_rows_of_one_crew_with_workdays_between_are_two_times_on_site():
    """Friday to Monday is one, Friday to Tuesday is two: it then brings its machine set up."""
    until, far = {"crew": 1, "from_date": START, "to_date": day(5)}, dt.date.max
    for first, stays in ((day(6), [(START, far)]), (day(7), [(START, day(5)), (day(7), far)])):
        made = on_site(until, {"crew": 1, "from_date": first}, runs=LONG[:1])
        assert stays_of(made, 1) == tuple(stays)


def test_explain_shows_the_machines_of_the_crew_that_makes_the_run():
    """Two machines in the row of the crew: the period is that of two, as in the plan."""
    row = {"crew": 1, "from_date": START, "machines": 2}
    found = estimate(on_site(row, runs=LONG[:1]))
    cycle = next(part for part in explain(found, "R1").parts if part.title == "Cycle")
    (period,) = (step.value for step in cycle.steps if step.name == "Time per joint, stick joint")
    assert period == pytest.approx(found.runs[0].cycle.plain.period_min)


def test_crews_that_leave_too_soon_are_reported():
    rows = [{"crew": 1, "from_date": START, "to_date": day(3)}]
    with pytest.raises(InputError) as error:
        estimate(on_site(*rows, runs=LONG[:2]))
    (problem,) = error.value.problems
    assert "all crews have left before runs R1, R2" in problem.message
    assert "Enter a later date" in problem.message


def test_hold_interrupts_a_run_after_the_joint_in_hand_and_the_crew_does_other_work():
    """R1 is held on days 4 to 6: two moves, there and back."""
    row = {"run": "R1", "from_date": day(4), "to_date": day(6), "cause": "no trench"}
    sized, plan = planned(held(row, runs=(LONG[0], run("R2", segments_m=(300.0,)))))
    first = [n for n in plan.lines if n.run_id == "R1"]
    assert [n.date for n in first[:3]] == [day(1), day(2), day(3)]
    assert day(4) in dates_of(plan, run_id="R2")
    assert first[3].date == day(7)
    assert sum(n.joints for n in first) == sized["R1"].counts.butt_joints


def test_no_trial_fusion_goes_before_saddles_alone():
    """R1 is held on day 2 with its one joint made and saddles to come; R2 is of another size. A
    trial fusion goes before the joint of each, none before the rest of R1."""
    runs = run("R1", segments_m=(24.0,), branch_saddles=10), run("R2", size="4", segments_m=(24.0,))
    rows = {"run": "R1", "from_date": day(2), "to_date": day(2), "cause": "permit"}
    _, plan = planned(held(rows, runs=runs, test_joint_rule="each size"))
    tries = [(line.run_id, line.date, line.test_joints) for line in plan.lines]
    assert tries == [("R1", START, 1), ("R2", day(2), 1), ("R1", day(3), 0)]


def test_hold_without_other_work_is_paid_by_its_own_cause():
    """Three days at 2 h of show-up pay for 2.5 people: 15 h of all people, $38 and $27 wages."""
    row = {"run": "R1", "from_date": day(4), "to_date": day(6), "cause": "no trench",
           "charge_to": "client"}  # fmt: skip
    usual = estimate(held(runs=LONG[:1]))
    found = estimate(held(row, runs=LONG[:1]))
    lost = [n for n in found.plan.crew_days if n.kind == "hold"]
    assert [n.date for n in lost] == [day(4), day(5), day(6)]
    assert {n.hold.cause for n in lost} == {"no trench"}
    assert sum(n.labor_hours for n in lost) == pytest.approx(3 * 2 * 2.5)
    assert found.total_labor_hours - usual.total_labor_hours == pytest.approx(15.0)
    (text,) = [w.message for w in found.warnings if w.message.startswith("Holds")]
    assert text.startswith("Holds, no trench: 3 crew-days and 15.0 labor-hours, charged to client")
    wages = [
        sum(line.amount for line in e.cost_lines if line.key.startswith("labor.wage"))
        for e in (usual, found)
    ]
    assert float(wages[1] - wages[0]) == pytest.approx(3 * 2 * (38 + 1.5 * 27))


def test_an_open_hold_lasts_as_long_as_stated_and_is_named():
    """From 2 March, three days: as a hold to 4 March, and Checks says until when."""
    rows = [{"run": "R1", "from_date": day(2), "cause": "permit"}]
    closed = estimate(held({**rows[0], "to_date": day(4)}, runs=LONG[:1]))
    found = estimate(held(rows[0], runs=LONG[:1]).changed(open_hold_days=3))
    assert found.bid == closed.bid
    assert found.plan.finish == closed.plan.finish
    (said,) = (one.message for one in found.warnings if "is open" in one.message)
    assert "Hold of R1 is open" in said
    assert not any("is open" in one.message for one in closed.warnings)


def test_unpaid_hold_costs_no_wages():
    row = {"run": "R1", "from_date": day(4), "to_date": day(6), "cause": "permit", "paid": False}
    found = estimate(held(row, runs=LONG[:1]))
    assert found.total_crew_hours == pytest.approx(estimate(held(runs=LONG[:1])).total_crew_hours)
    (text,) = [w.message for w in found.warnings if "waits" in w.message]
    assert "waits 3 workdays from 4 Mar 2027 for run R1, held by permit" in text


def test_rain_day_entered_holds_every_run_and_keeps_its_cause():
    row = {"from_date": day(2), "to_date": day(2), "cause": "weather"}
    found = estimate(held(row, runs=LONG[:2], crews=2))
    assert day(2) not in dates_of(found.plan)
    lost = [(n.crew, n.kind, n.hold.cause) for n in found.plan.crew_days if n.date == day(2)]
    assert lost == [(1, "hold", "weather"), (2, "hold", "weather")]


@pytest.mark.parametrize(("paid", "labor_h"), [(True, 10.0), (False, 5.0)])
def test_a_hold_on_a_day_of_expected_weather_keeps_its_own_cause(paid, labor_h):
    """A quarter of the days, from one half on: days 2 and 6 are lost, 2.5 people at 2 h each."""
    row = {"from_date": day(2), "to_date": day(2), "cause": "permit", "charge_to": "client",
           "paid": paid}  # fmt: skip
    made = held(row, runs=[run("R1", segments_m=(20_000.0,))])
    weather = tuple(month.model_copy(update={"lost_share": 0.25}) for month in made.weather)
    lost = [n for n in estimate(made.model_copy(update={"weather": weather})).plan.crew_days
            if n.kind != "work" and n.date <= day(6)]  # fmt: skip
    causes = [(n.date, n.hold.cause if n.hold else n.kind) for n in lost]
    assert causes == [(day(2), "permit")] * paid + [(day(6), "weather")]
    assert sum(n.labor_hours for n in lost) == labor_h


def test_expected_weather_day_is_paid_by_hand():
    """March loses 1 day in 5: the account 0.5 + 0.2 n reaches 1 on the third day. 2 h of show-up
    for one operator at $38 and 1.5 laborers at $27 is $157 of wages."""
    made = job(*LONG[:1], **NO_TESTS)
    wet = made.model_copy(
        update={"weather": tuple(m.model_copy(update={"lost_share": 0.2}) for m in made.weather)}
    )
    found = estimate(wet)
    (first, *_) = [n for n in found.plan.crew_days if n.kind == "weather"]
    assert first.date == day(3)
    assert (first.straight_hours, first.overtime_hours) == (2.0, 0.0)
    assert first.heads == (1, 1.5)
    days = sum(n.kind == "weather" for n in found.plan.crew_days)
    wages = [
        sum(line.amount for line in e.cost_lines if line.key.startswith("labor.wage"))
        for e in (estimate(made), found)
    ]
    assert float(wages[1] - wages[0]) == pytest.approx(157.0 * days)


@st.composite
def jobs_on_and_off(draw):
    runs = tuple(
        run(f"R{i}", segments_m=(float(draw(st.integers(12, 900))),),
            size=draw(st.sampled_from(["4", "12"])),
            string_length_m=draw(st.sampled_from([None, 120.0])), tie_ins=draw(st.integers(0, 1)))
        for i in range(draw(st.integers(1, 5)))
    )  # fmt: skip
    runs = (*runs, run("always", segments_m=(100.0,)))
    rows = []
    for crew in (2, 3):
        first = draw(st.integers(1, 30))
        for _ in range(draw(st.integers(1, 2))):
            last = first + draw(st.integers(0, 20))
            rows.append({"crew": crew, "from_date": day(first), "to_date": day(last),
                         "machines": draw(st.sampled_from([None, 1, 2]))})  # fmt: skip
            first = last + draw(st.integers(1, 4))
    holds = [
        {"run": draw(st.sampled_from([None, *(r.run_id for r in runs)])), "from_date": day(first),
         "to_date": day(first + draw(st.integers(0, 9))), "cause": "permit"}
        for first in draw(st.lists(st.integers(1, 30), max_size=3))
    ]  # fmt: skip
    small, large = machine("S", od_max_mm=150.0), machine("L", od_min_mm=150.0)
    rule = draw(st.sampled_from(["none", "each size", "each size and wall", "each day"]))
    rest = draw(st.sampled_from([30.0, 400.0]))
    classes = small, large
    made = on_site(*rows, runs=runs, crews=3, machines=classes, own_rest_min=rest, test_joint_rule=rule)  # noqa: E501  # fmt: skip
    return made.model_copy(update={"holds": tuple(Hold(**row) for row in holds)})


@given(jobs_on_and_off())
def test_all_joints_are_made_on_site_and_on_no_held_date(job_):
    sized, plan = planned(job_)
    made = Counter()
    for line in plan.lines:
        made[line.run_id] += line.joints
        rows = [row for row in job_.crew_dates if row.crew == line.crew]
        assert not rows or any(row.from_date <= line.date <= row.to_date for row in rows)
        if line.joints + line.test_joints + line.other_joints:
            assert not any(
                hold.run in (None, line.run_id) and hold.from_date <= line.date <= hold.to_date
                for hold in job_.holds
            )
    assert made == Counter({k: s.counts.butt_joints for k, s in sized.items()})
    for day_ in plan.crew_days:
        rows = [row for row in job_.crew_dates if row.crew == day_.crew]
        assert not rows or any(row.from_date <= day_.date <= row.to_date for row in rows)


def messages_of(factory):
    with pytest.raises(InputError) as error:
        parse_job(FileSource(factory.build()))
    return {str(problem.where): problem.message for problem in error.value.problems}


def test_crew_dates_and_holds_are_read_and_refused_with_their_cells():
    rows = [
        {"crew": 1, "from_date": day(1), "to_date": day(5), "machines": 2},
        {"crew": 1, "from_date": day(5)},
        {"crew": 2, "from_date": day(9), "to_date": day(8), "shift_hours": 1.5},
    ]
    held_runs = [{"run": "X9", "from_date": day(4), "to_date": day(3), "cause": "rain"}]
    factory = WorkbookFactory()
    factory.tables["crew_dates"], factory.tables["holds"] = rows, held_runs
    text = messages_of(factory)
    assert set(text) == {
        factory.where("crew_dates", "from_date", 1),
        factory.where("crew_dates", "crew", 2), factory.where("crew_dates", "to_date", 2),
        factory.where("crew_dates", "shift_hours", 2), factory.where("holds", "run"),
        factory.where("holds", "to_date"), factory.where("holds", "cause"),
    }  # fmt: skip
    assert "2 is above the 1 crew on the Job sheet" in text[factory.where("crew_dates", "crew", 2)]
    assert "List each date once" in text[factory.where("crew_dates", "from_date", 1)]
    assert "no such run in the Pipe schedule" in text[factory.where("holds", "run")]


def test_a_hold_of_all_runs_is_named_with_its_cell():
    """A rain day has no run: the cell is that of its cause, and of its To date where it is open."""
    factory = WorkbookFactory().set("schedule", "segments_m", 60_000)
    read = parse_job(FileSource(factory.build()))
    (lost,) = [w for w in estimate(read.job, read.places).warnings if w.message.startswith("Holds")]
    assert str(lost.where) == factory.where("holds", "cause")
    del factory.tables["holds"][0]["to_date"]
    read = parse_job(FileSource(factory.build()))
    said = [w for w in estimate(read.job, read.places).warnings if "is open" in w.message]
    assert [str(one.where) for one in said] == [factory.where("holds", "to_date")]


def test_of_two_holds_of_all_runs_each_is_named_with_its_own_row():
    """All have a blank run; open ones from 13 April and 3 May, in the second and third row."""
    factory = WorkbookFactory()
    factory.tables["holds"] = [
        {"from_date": dt.date(2027, 3, 2), "to_date": dt.date(2027, 3, 2), "cause": "weather"},
        {"from_date": dt.date(2027, 4, 13), "cause": "no pipe"},
        {"from_date": dt.date(2027, 5, 3), "cause": "permit"},
    ]
    read = parse_job(FileSource(factory.build()))
    found = estimate(read.job, read.places).warnings
    opened = [w for w in found if "is open" in w.message]
    assert [w.where for w in opened] == [factory.where("holds", "to_date", row) for row in (1, 2)]
    lost = {w.message.split(":")[0]: w.where for w in found if w.message.startswith("Holds, ")}
    assert lost["Holds, weather"] == factory.where("holds", "cause", 0)


def test_the_crew_dates_that_end_too_soon_are_named_with_their_own_row():
    """The second row of the crew ends last: it is the one to be changed."""
    factory = WorkbookFactory().set("schedule", "segments_m", 60_000)
    factory.tables["crew_dates"] = [
        {"crew": 1, "from_date": dt.date(2027, 4, 5), "to_date": dt.date(2027, 4, 9)},
        {"crew": 1, "from_date": dt.date(2027, 3, 1), "to_date": dt.date(2027, 3, 12)},
    ]
    read = parse_job(FileSource(factory.build()))
    with pytest.raises(InputError) as error:
        estimate(read.job, read.places)
    assert error.value.problems[0].where == factory.where("crew_dates", "to_date", 0)


def test_workbook_without_the_tables_is_read():
    factory = WorkbookFactory()
    factory.tables["crew_dates"], factory.tables["holds"] = [], []
    assert (parse_job(FileSource(factory.build())).job.holds) == ()
    factory.left_out |= {"crew_dates", "holds"}
    found = parse_job(FileSource(factory.build())).job
    assert (found.crew_dates, found.holds) == ((), ())


def test_hold_is_read_with_its_defaults():
    found = parse_job(FileSource(WorkbookFactory().build())).job
    assert found.holds == (
        Hold(from_date=dt.date(2027, 4, 13), to_date=dt.date(2027, 4, 14), cause="no pipe"),
    )
    assert found.holds[0].paid


@pytest.mark.parametrize("days", range(1, 12))
def test_crew_that_is_done_on_its_last_day_leaves_its_tie_ins_to_another(days):
    """Crew 2 alone has the machine of R1, whose strings rest when it goes: crew 1 takes the tie-ins
    with a machine of its own."""
    runs = (
        run("R1", segments_m=(600.0,), string_length_m=120.0, size="12", priority=1),
        run("R2", segments_m=(600.0,), size="4", crew=1),
    )
    fleet = machine("S", od_max_mm=150.0), machine("L", od_min_mm=150.0)
    rows = ({"crew": 1, "from_date": day(2)},
            {"crew": 2, "from_date": day(1), "to_date": day(days)})  # fmt: skip
    made = on_site(*rows, runs=runs, crews=2, machines=fleet, own_rest_min=1440.0)
    sized, plan = planned(made)
    joints = sum(line.joints for line in plan.lines if line.run_id == "R1")
    assert joints == sized["R1"].counts.butt_joints
