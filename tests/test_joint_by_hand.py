"""Joints of made-up runs at their edges, each value worked by hand."""

import sys
from types import SimpleNamespace

import pytest
from scipy import special

from estimator.errors import InputError
from estimator.joint import soak_check
from estimator.joint.butt_kinds import TEST_JOINT, longest_items
from estimator.joint.cooling_by_air import _edges, cooling_by_air, least_cooling_s
from estimator.joint.cycle import (
    JointKind,
    gain_of_another,
    joints_in,
    joints_per_shift,
    joints_that_fit,
    left_after_trial,
    machines_that_pay,
    minutes_of,
    shift_labor_hours,
    time_run,
)
from estimator.joint.fusion import fusion_parameters, heater_c
from estimator.joint.geometry import parse_dr, pipe_geometry
from estimator.joint.left import _segments_left, count_left
from estimator.joint.machines import Demand, choose_machine, closest_miss, gauge_range
from estimator.joint.methods.common import heater_range
from estimator.joint.methods.own_figures import LESS, OUTSIDE, _pressure, _time
from estimator.joint.sizing import SHEET_OF_RUNS, Sizer
from estimator.joint.takeoff import count_job, count_joints
from estimator.joint.thermal import _exp_over_erfc
from estimator.models.bands import BandShare
from estimator.models.kinds import CONNECTIONS
from estimator.models.places import Places
from estimator.models.site_records import CoolingByAir
from estimator.models.sized_run import JointCount, JointTime, RunCycle, SegmentCount
from estimator.pipeline import estimate
from estimator.steps.recorder import Recorder
from estimator.units import to_si
from tests.jobs import job, machine, role, run


def one(cycle, attended, machines=1):
    period = max(attended, cycle / machines)
    return JointTime(cycle_min=cycle, attended_min=attended, period_min=period, machines=machines)


# How many machines, how many joints


@pytest.mark.parametrize(("cycle", "attended", "machines"), [
    (40.0, 40.0, 1), (41.0, 40.0, 2), (80.0, 40.0, 2), (81.0, 40.0, 3), (400.0, 40.0, 4),
])  # fmt: skip
def test_machines_pay_until_the_crew_is_never_idle(cycle, attended, machines):
    """80 min over two machines are the 40 that the crew works at each: a third gains nothing."""
    assert machines_that_pay(one(cycle, attended), most=4) == machines


def test_another_machine_gains_what_the_period_shortens():
    """74 min of cycle, 51 of them with the crew: 74 / 51 - 1 = 0.451; with 30, 74 / 37 - 1 = 1."""
    assert gain_of_another(one(74.0, 51.0)) == pytest.approx(74 / 51 - 1)
    assert gain_of_another(one(74.0, 30.0)) == pytest.approx(1.0)
    assert gain_of_another(one(74.0, 51.0, machines=2)) == 0.0
    assert gain_of_another(one(0.0, 0.0)) == 0.0


def test_joints_without_time_fit_without_end():
    assert joints_that_fit(505.0, 0.0, 0.0) == sys.maxsize
    assert joints_in(505.0, one(0.0, 0.0, machines=2)) == sys.maxsize


def test_a_billionth_of_a_shift_is_not_paid_as_one():
    """Nine joints a shift: 9.0000000027 are one shift and 3 in 10^10, 9.1 are two."""
    assert shift_labor_hours(9.0000000027, 9.0, 10.0, 1.0) == 10.0
    assert shift_labor_hours(9.1, 9.0, 10.0, 1.0) == 20.0


def test_the_trial_fusion_of_a_day_takes_its_cycle_and_its_extra_time():
    """505 - 40 - 30 = 435 min."""
    made = job(test_joint_rule="each day", test_joint_extra_min=30.0)
    assert left_after_trial(505.0, one(40.0, 30.0), made.counting) == pytest.approx(435.0)
    # 600 - 45 - 20 - 30 of breaks = 505 min: 435 / 40 = 10.9, and 505 / 40 = 12.6.
    assert joints_per_shift(made.shift, made.counting, one(40.0, 30.0)) == 10
    each_size = job(test_joint_rule="each size")
    assert joints_per_shift(each_size.shift, each_size.counting, one(40.0, 30.0)) == 12


def test_joints_are_named_by_the_number_of_their_machine():
    """Two machines, 80 min, cycle 60, 20 attended: one joint on each."""
    recorder = Recorder()
    with recorder.on():
        joints_in(80, one(60.0, 20.0, machines=2))
    made = [step for step in recorder.steps if step.key == "joints_on"]
    assert [(step.given["machine"], step.value) for step in made] == [(1, 1), (2, 1)]


def counts(**changes):
    values = {"sticks": 20, "strings": 2, "stick_joints": 18, "fitting_joints": 6, "small_ends": 2,
              "outside_tie_ins": 1, "tie_in_joints": 2, "butt_joints": 25, "rework_joints": 1,
              "others": {kind.key: 0 for kind in CONNECTIONS}}  # fmt: skip
    return JointCount(**{**values, **changes})


def test_work_that_a_run_does_not_have_needs_no_room_in_a_shift():
    """A bolt-up of 90 min and no other connection; a trial fusion takes 40 and its 30 more."""
    times = RunCycle(
        band="B", at=BandShare("B", "B", 0.0), elements=(), plain=one(40.0, 30.0),
        fitting=one(60.0, 45.0), tie_in=one(80.0, 60.0),
        other_min={kind.key: 90.0 for kind in CONNECTIONS},
        shift_hours=10.0, joints_per_shift=12,
    )  # fmt: skip
    bolted = next(kind for kind in CONNECTIONS if "bolt" in kind.key)
    others = {kind.key: int(kind is bolted) for kind in CONNECTIONS}
    found = longest_items(counts(others=others), times, job().counting)
    assert found == {
        "a joint": 40.0, "a fitting joint": 60.0, "the joint at a reducer's small end": 60.0,
        "a tie-in joint": 80.0, "a rework joint": 70.0, bolted.one: 90.0, TEST_JOINT: 70.0,
    }  # fmt: skip


def test_the_last_joint_cools_in_the_wrap_up_where_that_is_chosen():
    """8 in DR 11: 0.784 in of wall cools 8.62 min, 1 / 0.83 of them beside the log: 7.42 min of the
    20 of wrap-up."""
    geometry = pipe_geometry("IPS", "8", 11.0, "PE4710")
    fusion = fusion_parameters("f2620", geometry.od_mm, geometry.wall_mm, 20.0)
    timed = [time_run(job(cool_in_wrapup=chosen), run(), geometry.od_mm, fusion, 20.0)
             for chosen in (False, True)]  # fmt: skip
    into = [cycle.plain.into_wrapup_min for cycle in timed]
    assert into == [0.0, pytest.approx(11 * 0.784 - 1 / 0.83, abs=0.001)]


# Counts


def test_sticks_that_are_joined_are_no_more_to_be_laid():
    """17 joints between sticks in the strings, 12 made: 20 - 12 = 8 sticks; with all made, 3."""
    whole = counts()
    assert whole.plain_joints == 17
    assert count_left(whole, {"stick": 12}).sticks == 8
    assert count_left(whole, {"stick": 99}).sticks == 3


def test_a_run_counted_alone_has_no_rework():
    assert count_joints(run(), "cut in mid-stick").rework_joints == 0


def test_rework_of_like_pipe_comes_in_the_order_of_names():
    """5 % of 41 joints is 2.05, of 41 + 51 is 4.6: 3 whole ones, then 5 - 3. Of 40 it is 2.0, of
    40 + 51 4.55: 2, then 3."""
    for first, made in ((41, [3, 2]), (40, [2, 3])):
        runs = [run("A", segments_m=(12.0 * (first + 1),)), run("B", segments_m=(12.0 * 52,))]
        found = count_job(runs, job(rework_share=0.05).counting)
        assert [count.butt_joints for count in found] == [first, 51]
        assert [count.rework_joints for count in found] == made


def test_rework_of_a_run_is_that_of_its_segments():
    """Segments of 9, 0 and 19 joints, 2 elbows of 2 and a tie-in at 10 %: up to the first 0.9, the
    second 0.9, all 33: 3.3. So 1, 0 and 4 - 1 = 3 with the fittings; strings of 5 sticks, so that
    one joint of the first segment and three of the last are tie-ins."""
    whole = run(segments_m=(120.0, 12.0, 240.0), string_length_m=60.0, elbows=2, tie_ins=1)
    (found,) = count_job([whole], job(rework_share=0.1).counting)
    assert found.by_segment == (
        SegmentCount(8, 1, 1), SegmentCount(0, 0, 0), SegmentCount(16, 3, 3)
    )  # fmt: skip
    assert (found.butt_joints, found.rework_joints) == (33, 4)


def test_tie_ins_of_a_segment_are_among_its_joints():
    """Twelve sticks in strings of five: nine joints and two tie-ins; 10 % of eleven are two. Of all
    thirty three: one is left for the second segment."""
    whole = run(segments_m=(144.0, 240.0), string_length_m=60.0)
    (found,) = count_job([whole], job(rework_share=0.1).counting)
    assert found.by_segment == (SegmentCount(9, 2, 2), SegmentCount(16, 3, 1))


def test_rework_goes_to_the_pipe_of_most_face():
    """8.625 in squared / 7 is 10.63, 12.75 in squared / 17 is 9.56: the small thick pipe is dearer
    to join and takes the one joint of 2 % of 30."""
    runs = [run("large", size="12", dr=17.0, segments_m=(12.0 * 21,)),
            run("small", size="8", dr=7.0, segments_m=(12.0 * 11,))]  # fmt: skip
    found = count_job(runs, job(rework_share=0.02).counting)
    assert [count.rework_joints for count in found] == [0, 1]


@pytest.mark.parametrize(("first", "second"), [
    pytest.param({"size": "8", "dr": 9.0}, {"size": "12", "dr": 17.0}, id="8.27 and 9.56"),
    pytest.param({"access_factor": 1.0}, {"access_factor": 1.5}, id="harder to reach"),
])  # fmt: skip
def test_rework_goes_by_the_square_of_the_diameter_and_by_access(first, second):
    """One joint of 2 % of 30: 8.625 squared / 9 is 8.27."""
    runs = [run("A", segments_m=(12.0 * 21,), **first), run("B", segments_m=(12.0 * 11,), **second)]
    found = count_job(runs, job(rework_share=0.02).counting)
    assert [count.rework_joints for count in found] == [0, 1]


# Machines and people


FUSION = fusion_parameters("f2620", 219.075, 19.9, 20.0)
PIPE = SimpleNamespace(od_mm=219.075, wall_mm=19.9, joint_area_mm2=12_000.0, size="8",
                       od_system="IPS", dr=11.0)  # fmt: skip


def test_only_a_hydraulic_machine_whose_piston_is_known_has_a_gauge():
    """12,000 mm2 x 75 psi = 0.51711 MPa over 3,000 mm2 is 2.0684 MPa, and 0.2 of drag."""
    for drive, area in (("manual", 3000.0), ("hydraulic", None), ("manual", None)):
        built = SimpleNamespace(drive=drive, piston_area_mm2=area)
        assert gauge_range(built, PIPE, FUSION, 0.2) is None
    _, nominal, _ = gauge_range(machine(), PIPE, FUSION, 0.2)
    assert nominal == pytest.approx(4 * 75 * 0.00689475729 + 0.2)


def test_the_force_of_a_choice_is_that_of_the_middle_pressure():
    """60, 75 and 90 psi: 12,000 mm2 x 75 psi = 6,205 N."""
    found = choose_machine([machine()], run(), PIPE, FUSION, Demand(0.2))
    assert found.force_n == pytest.approx(12_000 * 75 * 0.00689475729)


def test_a_crew_of_nobody_is_pointed_out_at_its_first_role():
    made = job().model_copy(update={"crew": (role("Operator", 0, 38), role("Laborer", 0, 27))})
    with pytest.raises(InputError) as refused:
        estimate(made)
    (problem,) = refused.value.problems
    assert "Operator" in problem.where
    assert "no one is on the crew" in problem.message


def test_a_piece_of_work_may_fill_a_shift_and_not_take_a_minute_more():
    """24 in: 150 min for the electrofusion closure. A shift of 4 h less 20 and 30 min, and 40 of
    startup, leaves 150; 41 leave 149."""
    closed = run(size="24", dr=17.0, ef_closures=1)
    built = machine(piston_area_mm2=6000.0)

    def short(startup_min):
        return job(closed, machines=(built,), shift_hours=4.0, straight_hours=4.0,
                   efficiency=1.0, startup_min=startup_min)  # fmt: skip

    assert estimate(short(40.0)).plan.lines
    with pytest.raises(InputError, match=r"electrofusion closure takes 150 min, .* only 149 min"):
        estimate(short(41.0))


def test_a_trial_fusion_of_each_size_leaves_the_other_days_whole():
    """A shift of 4 h with 90 min of startup leaves 100 min: enough for a joint or for its trial
    fusion with 30 min more, not for both on one day."""
    day = {"shift_hours": 4.0, "straight_hours": 4.0, "startup_min": 90.0}
    assert estimate(job(test_joint_rule="each size", **day)).plan.lines
    with pytest.raises(InputError, match=r"only [0-9]+ min after the trial fusion"):
        estimate(job(test_joint_rule="each day", **day))


# Methods


def test_the_middle_of_the_heater_range_is_aimed_at():
    """400 to 450 F of ASTM F2620: 425 F."""
    assert heater_range("f2620")[1] == heater_c("f2620") == pytest.approx(to_si(425.0, "F"))


def test_cooling_is_longer_above_the_reference_and_not_at_it():
    """23 C of the low-pressure method: one hundredth more for each degree above."""
    at, above, below = (
        fusion_parameters("iso21307-slp", 225.0, 20.5, air_c) for air_c in (23.0, 33.0, 13.0)
    )
    assert at.cool_s == below.cool_s
    assert above.cool_s == pytest.approx(1.1 * at.cool_s)
    said = [any("hot air" in source.text for source in one.sources) for one in (at, above, below)]
    assert said == [False, True, False]


def test_cooling_by_air_ends_at_its_last_edge():
    bands = [CoolingByAir(pipe="p", from_c=20.0, to_c=30.0, low_s=600.0, high_s=700.0),
             CoolingByAir(pipe="p", from_c=30.0, to_c=40.0, low_s=800.0, high_s=900.0)]  # fmt: skip
    assert least_cooling_s(bands, 40.0) == pytest.approx(900.0)
    assert least_cooling_s(bands, bands[-1].to_c + 1e-6) == pytest.approx(900.0)
    assert least_cooling_s(bands, 40.1) is None
    assert least_cooling_s(bands, 35.0) == pytest.approx(850.0)
    assert least_cooling_s([], 35.0) is None


def test_bands_of_cooling_hold_the_warmer_side_at_an_edge_but_not_beyond_the_last():
    """A step of 1 at 15, 25 and 40 C, where the bands of DVS 2207-1 part."""
    bands = cooling_by_air("p", "dvs2207", lambda c: float(1 + sum(c >= e for e in (15, 25, 40))))
    assert [(band.low_s, band.high_s) for band in bands] == [(1.0, 1.0), (2.0, 2.0), (3.0, 4.0)]
    (band,) = cooling_by_air("p", "dvs2207", lambda _: 300.0)
    assert (band.to_c, band.low_s, band.high_s) == (40.0, 300.0, 300.0)


@pytest.mark.parametrize("value", [26.0, 40.0, 200.0])
def test_the_far_end_of_the_error_function_is_that_of_scipy(value):
    assert _exp_over_erfc(value) == pytest.approx(1 / special.erfcx(value), rel=1e-5)


@pytest.mark.parametrize(("bead_mm", "cold", "said", "not_said"), [
    (4.0, 1.0, "the minimum bead uses about 4.0 mm of that", "times as long"),
    (3.0, 1.049, "the minimum bead uses about 3.0 mm of that", "times as long"),
    (4.1, 1.05, "needs more, about 4.1 mm: the bead will end heating", "uses about"),
    (4.1, 1.05, "the same depth takes 1.05 times as long as at 23 C", "uses about"),
])  # fmt: skip
def test_the_words_on_the_soak(bead_mm, cold, said, not_said):
    """4 mm of a wall of 16: a quarter of it."""
    text = soak_check._verdict(4.0, bead_mm, 16.0, cold)
    assert "about 4.0 mm of each end during heat soak, 25% of the wall" in text
    assert said in text
    assert not_said not in text


def test_the_share_of_the_wall_is_in_percent():
    """15.8 of 16 mm are 98.75 %."""
    assert "99% of the wall" in soak_check._verdict(15.8, 4.0, 16.0, 1.0)


def test_a_machine_that_has_no_time_for_a_joint_makes_none():
    """75 min: the first has 75 for a cycle of 72, the second begins 40 later and has 35."""
    recorder = Recorder()
    with recorder.on():
        assert joints_in(75.0, one(72.0, 40.0, machines=2)) == 1
    assert [step.given["machine"] for step in recorder.steps if step.key == "joints_on"] == [1]


def test_joints_of_less_than_a_minute_are_counted():
    assert joints_that_fit(10.0, 0.5, 0.5) == 20


def test_a_connection_between_two_bands_takes_what_lies_between():
    """Half way from 30 to 45 min of a bolt-up, by a crew factor of 2: 75."""
    bolted = [task for task in job().task_times if task.applies_to == "bolt-up"]
    for share, minutes in ((0.5, 75.0), (0.0, 60.0)):
        assert minutes_of("Bolt-up", bolted, BandShare("A", "B", share), 2.0) == minutes


def test_air_changes_cooling_at_the_edges_of_its_method():
    """From -45 to 55 C; by ISO 21307 at 23 C, by ASTM F2620 nowhere."""
    assert _edges("iso21307-slp") == [-45.0, 23.0, 55.0]
    assert _edges("f2620") == [-45.0, 55.0]


def test_a_run_of_fittings_alone_has_no_sticks_left_and_no_more_small_ends_than_fittings():
    """Five of six fitting joints are made: one is left, at one of the two small ends."""
    whole = counts(sticks=0, strings=0, stick_joints=0, outside_tie_ins=2, butt_joints=8)
    left = count_left(whole, {"fitting": 5})
    assert (left.sticks, left.fitting_joints, left.small_ends) == (0, 1, 1)


def test_a_gauge_that_does_not_read_so_low_is_no_machine_for_the_run():
    high = machine("M3", min_gauge_mpa=5.0)
    with pytest.raises(InputError, match=r"needs only .*, gauge is readable from 50"):
        estimate(job(machines=(high,)))


def test_the_class_that_is_best_over_the_job_is_taken_though_another_costs_less_by_itself():
    dear = machine("M9", four_week_rate={"amount": 1200, "per": "4 weeks"})
    for wanted, why in (("M9", "least total cost"), ("M3", "least total cost"),
                        (None, "lowest 4-week rate that fits")):  # fmt: skip
        (sized,) = estimate(job(run(fleet_class=wanted), machines=(machine("M3"), dear))).runs
        assert (sized.machine.class_id, sized.machine.why) == (wanted or "M3", why)


def test_a_series_is_twice_its_number_and_one_to_a_millionth():
    """S 8.3333333: 17.6666666."""
    assert parse_dr("S 8.3333333") == 17.666667


def test_the_class_that_misses_by_least_is_named():
    """8 in is 219.1 mm: 200 is nearer than 100, and a class that takes it nearer than 218.6."""
    for classes in (
        (machine("A", od_max_mm=100.0), machine("B", od_max_mm=200.0)),
        (machine("A", od_max_mm=218.6), machine("B", min_gauge_mpa=5.0)),
    ):  # fmt: skip
        assert closest_miss(classes, run(), PIPE, FUSION, Demand(0.2)).class_id == "B"


def test_own_figures_just_at_those_of_the_method_are_not_remarked():
    assert [_time("soak_s", 60.0, "", than).remark for than in (60.0, 60.1)] == ["", LESS]
    found = [_pressure(own, (0.4, 0.5, 0.6)).remark for own in (0.4, 0.6, 0.39, 0.61)]
    assert found == ["", "", OUTSIDE, OUTSIDE]


# Which run or input is named for what cannot be


def refused(job_):
    with pytest.raises(InputError) as error:
        Sizer(job_, Places()).size_all()
    return [(problem.where, problem.message) for problem in error.value.problems]


def test_the_class_that_the_schedule_asks_for_is_named_where_another_would_do():
    """A takes 200 mm, B any pipe; 8 in is 219.1 mm. If none does, all are named."""
    small, large = machine("A", od_max_mm=200.0), machine("B")
    ((where, said),) = refused(job(run(machine="A"), machines=(small, large)))
    assert where == "R1"
    assert said.startswith("run R1: Machine: A cannot make these joints (largest pipe 200 mm")
    assert said.endswith("Use B, or leave the cell blank")
    ((_, said),) = refused(job(run(machine="A"), machines=(small,)))
    assert "A: largest pipe 200 mm" in said
    assert "leave the cell blank" not in said
    ((_, said),) = refused(job(machines=(small,)))
    assert "A: largest pipe 200 mm" in said


def test_a_run_without_joints_may_stand_beside_others():
    alone = run("R2", segments_m=(6.0,))
    assert len(Sizer(job(run(), alone), Places()).size_all()) == 2
    assert refused(job(alone)) == [
        (SHEET_OF_RUNS, "No run has a joint. At least one run needs one")
    ]


def test_air_that_no_method_knows_is_that_of_its_month_or_of_the_job():
    """Work begins in March; -45 to 55 C are known. A ratio outside its table is that of the run."""
    for given, place in ((60.0, "Mar"), (None, "ambient_c")):
        made = job(ambient_c=60.0, method="f2620")
        weather = tuple(row.model_copy(update={"ambient_c": given if row.month == "Mar" else None})
                        for row in made.weather)  # fmt: skip
        ((where, said),) = refused(made.model_copy(update={"weather": weather}))
        assert where == place
        assert "run R1" not in said
    ((where, said),) = refused(job(run(dr=99.0)))
    assert where == "R1"
    assert said.startswith("run R1: ")


def test_what_is_left_of_the_segments_is_that_of_the_last():
    """Three segments of 10, none and 5 joints in strings, 3, 2 and none between them, 2, 2 and 1
    made again. With 8, 4 and 3 left the last two have all of theirs; with 4 and 2 the last one
    alone has joints, and takes both that are made again."""
    segments = SegmentCount(10, 3, 2), SegmentCount(0, 2, 2), SegmentCount(5, 0, 1)
    assert _segments_left(segments, SegmentCount(8, 4, 3)) == [(3, 2, 0), (0, 2, 2), (5, 0, 1)]
    assert _segments_left(segments, SegmentCount(4, 0, 2)) == [(0, 0, 0), (0, 0, 0), (4, 0, 2)]


def test_a_crew_is_one_person_at_least():
    for heads, where in ((1.0, None), (0.5, None), (0.0, "Operator")):
        made = job().model_copy(update={"crew": (role("Operator", heads, 38.0),)})
        if where is None:
            assert Sizer(made, Places()).size_all()
        else:
            assert [place for place, _ in refused(made)] == [where]


def test_no_class_misses_where_another_can_make_the_joint():
    for classes in ((machine("A"), machine("B", od_max_mm=100.0)), (machine("A"),), ()):
        assert closest_miss(classes, run(), PIPE, FUSION, Demand(0.2)) is None


def test_a_kind_of_joint_names_its_factor_where_there_is_one():
    assert JointKind("stick joint").times == ""
    assert JointKind("tie-in", 2.0).times == ", crew-paced ones x 2,"
