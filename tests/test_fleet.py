import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import InputError, estimate
from estimator.display import describe
from estimator.models.calendar import Holiday
from estimator.power.derating import derating
from estimator.power.load import warm_up_min
from estimator.power.machine_power import power_need
from tests.data import read_cases
from tests.each import each
from tests.jobs import job, machine, run


@each("case", read_cases("by_hand/derating_steps"), ids=lambda c: c["working"])
def test_derating_by_hand(case):
    """The published rule: 3 % per 500 m above 1000 m, 3 % per 5 C above 40 C, multiplied."""
    left = derating(float(case["elevation_m"]), float(case["ambient_c"]))
    assert left == pytest.approx(float(case["left"]))


@given(st.floats(0, 5000), st.floats(0, 500), st.floats(-20, 55))
def test_higher_sites_never_leave_more_output(elevation, more, ambient):
    assert derating(elevation + more, ambient) <= derating(elevation, ambient)


def test_power_need_by_hand():
    """Motors of 1.5 and 2 kW draw 3.5 / 0.85 = 4.118 kW: 4 + 4.118 + 1.5 = 9.618 kW running.

    The 2 kW pump draws 2.353 kW; at 3 x it adds 4.706: 14.324 kW starting. Running with a quarter
    of margin is 12.02 kW, so the start governs: 14.32 kW at full output.
    """
    need = power_need(machine(), job(), 218.0)
    assert need.running_kw == pytest.approx(9.618, abs=0.0005)
    assert need.starting_kw == pytest.approx(14.324, abs=0.0005)
    assert need.rated_needed_kw == pytest.approx(14.324, abs=0.0005)


def test_warm_up_by_hand():
    """20 kg x 0.90 kJ/kgK x 198 K = 3564 kJ; 4 kW x 0.7 = 2.8 kW; 1273 s = 21.2 min."""
    assert warm_up_min(20.0, 4.0, 20.0, 218.0) == pytest.approx(21.2, abs=0.05)


def test_generator_is_the_smallest_that_passes():
    found = estimate(job())
    spans = {span.kind: span for span in found.fleet.spans}
    assert spans["generator"].class_id == "G15"
    high = estimate(job(elevation_m=3000.0, generator_margin=1.0))
    chosen = next(span for span in high.fleet.spans if span.kind == "generator")
    assert chosen.class_id == "G60"
    assert [r.class_id for r in chosen.rejected] == ["G15"]


def test_self_powered_machine_needs_no_generator():
    own = machine(self_powered=True, fuel_rate_l_h=8.0)
    found = estimate(job(machines=(own,)))
    assert {span.kind for span in found.fleet.spans} == {"machine", "lifting"}


def test_lifting_carries_the_stick_with_its_reserve():
    """24 in DR 11, 12 m: arithmetic/derived_process_times.csv has 61.9 lb/ft at the minimum wall.

    By hand: 61.9 lb/ft x 1.488 = 92.1 kg/m; up to 6 % more at the mean wall; 12 m weigh 1,105 to
    1,172 kg and 1,382 to 1,465 kg with a quarter of reserve: too much for 500 kg.
    """
    found = estimate(job(run(size="24", dr=11.0, segments_m=(200.0,))))
    span = next(span for span in found.fleet.spans if span.kind == "lifting")
    assert span.class_id == "L9"
    assert 1382 <= span.why.need <= 1465


def test_gear_comes_and_goes_on_working_days():
    """Work from Monday 1 to Thursday 4 March 2027 with two days of haulage: Saturday 27 February
    is not worked, nor is Friday 26, a holiday: delivery on Thursday 25. Collection on Saturday 6
    would be Monday 8. With Saturdays worked, delivery on Saturday 27 and collection on the 6th."""
    off = (Holiday(date=dt.date(2027, 2, 26)),)
    made = job(run(segments_m=(700.0,)), haul_days=2).model_copy(update={"holidays": off})
    found = estimate(made)
    assert (found.plan.start, found.plan.finish) == (dt.date(2027, 3, 1), dt.date(2027, 3, 4))
    for span in found.fleet.spans:
        assert (span.on_rent, span.off_rent) == (dt.date(2027, 2, 25), dt.date(2027, 3, 8))
        assert span.calendar_days == 12
    six_days = estimate(made.changed(workdays="Mon-Sat"))
    for span in six_days.fleet.spans:
        assert (span.on_rent, span.off_rent) == (dt.date(2027, 2, 27), dt.date(2027, 3, 6))


def test_machine_reasons_are_reported_in_the_users_units():
    weak = machine("W", max_gauge_mpa=1.0)
    small = machine("S", od_max_mm=150.0)
    dear = machine("D", four_week_rate={"amount": 5000.0, "per": "4 weeks"})
    found = estimate(job(run(), machines=(weak, small, dear, machine("M"))))
    text = {r.class_id: describe(r, "SI") for r in found.runs[0].machine.rejected}
    gauge = found.runs[0].machine.gauge_mpa[2] * 10
    assert text["W"] == f"needs {gauge:.1f} bar, max gauge pressure 10 bar"
    assert text["S"] == "largest pipe 150 mm, this pipe is 219.075 mm"
    assert text["D"] == "fits, but costs more: 5,000 against 900 per 4 weeks"
    us = {r.class_id: describe(r, "US") for r in found.runs[0].machine.rejected}
    assert us["S"] == "largest pipe 5.906 in, this pipe is 8.625 in"


def test_no_machine_names_every_class_and_why():
    with pytest.raises(InputError, match=r"No machine class can make this joint \(S: largest"):
        estimate(job(run(), machines=(machine("S", od_max_mm=150.0),)))


def test_no_generator_is_an_input_error():
    with pytest.raises(
        InputError, match=r"G15: Rated output: no generator in stock is large enough"
    ):
        estimate(job(machines=(machine(heater_kw=80.0),)))


def test_every_run_that_cannot_be_done_is_reported_at_once():
    small = machine(od_max_mm=300.0)
    with pytest.raises(InputError, match=r"run a: .*\n.*run b: ") as raised:
        estimate(job(run("a", size="24"), run("b", size="36"), run("c"), machines=(small,)))
    assert [p.where for p in raised.value.problems] == ["a", "b"]


def test_own_figures_of_the_job_sheet_are_used_and_reported():
    """Own cooling of 30 s/mm on a wall of 19.91 mm is 597 s; F2620 has 11 min/in, 517 s."""
    own = estimate(job(own_cooling_s_mm=30.0))
    assert own.runs[0].fusion.cool_s == pytest.approx(30 * 19.9136, abs=0.01)
    assert own.runs[0].cycle.plain.cycle_min > estimate(job()).runs[0].cycle.plain.cycle_min
    assert warned(own, "override on the Job sheet")
    assert {"assumption"} == {
        s.confidence for s in own.runs[0].fusion.sources if s.figure == "cool_s"
    }


def test_machine_is_chosen_by_the_pressure_of_the_job_sheet():
    low, high = (estimate(job(own_interfacial_mpa=p)).runs[0].machine.gauge_mpa for p in (0.3, 0.6))
    assert high[1] - 0.2 == pytest.approx(2 * (low[1] - 0.2))


def warned(found, words):
    return [w.message for w in found.warnings if words in w.message]


def test_small_end_of_a_reducer_has_its_own_time():
    """An 8 by 4 reducer: the 4 in joint cools 11 min/in x 0.409 in, not 0.784 in."""
    plain = estimate(job(run(elbows=1), test_joint_rule="none", rework_share=0.0))
    reduced = estimate(
        job(run(reducers=1, reduce_to="4"), test_joint_rule="none", rework_share=0.0)
    )
    assert reduced.runs[0].counts.fitting_joints == plain.runs[0].counts.fitting_joints == 2
    small = reduced.runs[0].cycle.small_end
    assert small.cycle_min < reduced.runs[0].cycle.fitting.cycle_min
    spent = [sum(line.minutes for line in found.plan.lines) for found in (plain, reduced)]
    saved = reduced.runs[0].cycle.fitting.period_min - small.period_min
    assert spent[0] - spent[1] == pytest.approx(saved)


def test_small_end_that_the_machine_cannot_hold_is_reported():
    large = machine("L", od_min_mm=150.0)
    small = machine("S", od_max_mm=150.0)
    found = estimate(job(run(reducers=1, reduce_to="4"), machines=(large, small)))
    assert warned(
        found, "class L does not clamp the small end (114.3 mm). Those joints also need S"
    )


@pytest.mark.parametrize(
    ("other", "text"),
    [({"size": "8", "dr": 13.5}, None), ({"size": "8", "dr": 17.0}, "walls differ by 55%"),
     ({"size": "6", "dr": 11.0}, "outside diameters differ"),
     ({"size": "8", "dr": 11.0, "material": "PE3608"}, "materials PE4710 and PE3608")],
)  # fmt: skip
def test_runs_that_are_fused_together_must_match(other, text):
    found = estimate(job(run("a", joins="b", tie_ins=1), run("b", **other)))
    assert bool(warned(found, "Runs a and b: ")) == (text is not None)
    assert text is None or warned(found, text)


def test_closure_needs_no_room_for_a_test_joint_of_the_day():
    """24 in closure of 150 min / 0.83 = 181 min in a shift of 5.9 h less 95 min = 259 min. A joint
    of 54 min after its test joint of 84 min fits too; a closure after a test joint would not."""
    closing = run(size="24", dr=17.0, ef_closures=1)
    made = job(closing, shift_hours=5.9, straight_hours=5.9, test_joint_rule="each day")
    found = estimate(made)
    times = found.runs[0].cycle
    closure, tested = times.other_min["ef_closures"], times.plain.cycle_min + 30
    assert closure < 259 < closure + tested
    assert sum(line.other_joints for line in found.plan.lines) == 1


def monthly(made, **ambient):
    months = tuple(
        m.model_copy(update={"ambient_c": ambient.get(m.month, m.ambient_c)}) for m in made.weather
    )
    return made.model_copy(update={"weather": months})


def test_derating_and_warm_up_are_those_of_the_hottest_and_the_coldest_month_worked():
    """March at 0 C and April at 45 C; July, at 50 C, is not worked. Heater of 4 kW with 20 kg:
    20 x 0.9 x 218 / 0.7 / 4 / 60 = 23.4 min from 0 C to 218 C. Step rule: 3 % for 5 C above 40 C
    leaves 0.97."""
    made = job(run(segments_m=(6000.0,)), ambient_c=20.0, own_soak_s_mm=None)
    found = estimate(monthly(made, Mar=0.0, Apr=45.0, Jul=50.0))
    assert {line.date.month for line in found.plan.lines} == {3, 4}
    need = found.fleet.power["M3"]
    heater_c = sum(found.runs[0].fusion.heater_c) / 2
    assert need.warm_up_min == pytest.approx(20 * 0.9 * heater_c / 0.7 / 4 / 60, rel=1e-3)
    assert need.derating == pytest.approx(0.97)


def test_joint_longer_than_a_shift_is_an_input_error():
    with pytest.raises(InputError, match=r"a shift of 4 h leaves only"):
        estimate(job(run(size="36", dr=7.0), shift_hours=4.0, straight_hours=4.0))


def test_rework_joint_longer_than_a_shift_is_an_input_error():
    """36 in DR 11: a joint of 97 min fits in 4 h less 95 min = 145 min; 60 min more do not."""
    big = machine(piston_area_mm2=30000.0)
    short = job(run(size="36", segments_m=(400.0,)), machines=(big,), test_joint_rule="none",
                shift_hours=4.0, straight_hours=4.0, rework_extra_min=60.0)  # fmt: skip
    with pytest.raises(
        InputError,
        match=r"a rework joint takes 157 min.* leaves only 145 min",
    ):
        estimate(short)


def test_joint_longer_than_the_night_shift_names_its_hours():
    """4 h less 95 min are 145 min, of which the daily test joint takes the first 127."""
    big = machine(piston_area_mm2=30000.0)
    short = job(run(size="36", segments_m=(400.0,)), machines=(big,), test_joint_rule="each day",
                night_hours=4.0)  # fmt: skip
    with pytest.raises(InputError, match=r"shift of 4 h leaves only 14 min after the trial fusion"):
        estimate(short)
