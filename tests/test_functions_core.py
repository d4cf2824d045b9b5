"""Core functions that answer one question without a job, as the cell functions ask it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.equipment.rental_tiers import cheapest_mix, cheapest_tiers
from estimator.errors import OutsideStandardError, UnknownNameError
from estimator.joint.cycle import shift_labor_hours, whole_joints
from estimator.joint.fusion import Method, fusion_parameters, heater_c
from estimator.joint.geometry import pipe_geometry
from estimator.joint.machines import Demand, Spot, choose_machine, closest_miss
from estimator.joint.takeoff import Takeoff, count_joints
from estimator.power.load import (
    Consumers,
    Site,
    electric_load,
    heater_kw,
    rated_output_kw,
    warm_up_min,
)
from estimator.power.machine_power import power_need
from estimator.units import to_si
from tests.jobs import job, machine, run

kilowatts = st.floats(0.1, 200)


@given(st.floats(0, 960), st.floats(0.1, 960))
def test_whole_joints_fit_and_one_more_does_not(working, period):
    joints = whole_joints(working, period)
    assert joints * period <= working + 1e-6
    assert (joints + 1) * period > working - 1e-6


def test_whole_joints_refuses_a_shift_that_is_used_up():
    with pytest.raises(OutsideStandardError, match=r"working time \(min\) is .*\(0 or more"):
        whole_joints(-5.0, 30.0)


# 12 shifts of 9 joints make 108; 100 joints need the twelfth shift in full.
@pytest.mark.parametrize(("joints", "shifts"), [(0, 0), (1, 1), (9, 1), (10, 2), (100, 12)])
def test_labor_hours_are_paid_by_whole_shifts(joints, shifts):
    assert shift_labor_hours(joints, 9, 10.0, 3.5) == shifts * 35.0


@given(st.floats(1, 1500), kilowatts, st.floats(-40, 50), st.floats(180, 240))
def test_heater_power_warms_the_plate_in_the_time_asked(mass, power_kw, ambient, target):
    minutes = warm_up_min(mass, power_kw, ambient, target)
    assert heater_kw(mass, minutes, ambient, target) == pytest.approx(power_kw)


# Heater surface of ASTM F2620: 400 to 450 F; DVS 2207-1: 200 to 220 C.
@pytest.mark.parametrize(("method", "celsius"), [("f2620", to_si(425, "F")), ("dvs2207", 210)])
def test_heater_c_is_the_middle_of_the_range(method, celsius):
    assert heater_c(method) == pytest.approx(celsius)


def test_heater_c_refuses_an_unknown_method():
    with pytest.raises(UnknownNameError, match=r"fusion method 'wet' is not recognized.* f2620"):
        heater_c("wet")
    assert all(180 < heater_c(method.value) < 260 for method in Method)


@given(kilowatts, kilowatts, kilowatts, st.floats(0, 4000), st.floats(-20, 50))
def test_a_generator_for_a_question_is_that_for_a_job(heater, facer, pump, elevation, ambient):
    asked = job(elevation_m=elevation, ambient_c=ambient, generator_margin=0.3)
    built = machine(heater_kw=heater, facer_kw=facer, pump_kw=pump)
    load = electric_load(
        Consumers(heater, facer, pump),
        site := Site(
            elevation, ambient, 0.3, asked.power.motor_start_multiple, asked.power.site_load_kw
        ),
    )
    need = power_need(built, asked, 215.0)
    assert (load.running_kw, load.starting_kw) == (need.running_kw, need.starting_kw)
    assert rated_output_kw(load, site) == need.rated_needed_kw


@given(st.integers(1, 120), st.integers(1, 400), st.integers(1, 900), st.integers(1, 3000))
def test_a_rental_for_a_question_is_that_for_a_class(days, day, week, four_weeks):
    item = machine()
    rates = {
        "day_rate": item.day_rate.model_copy(update={"amount": float(day)}),
        "week_rate": item.week_rate.model_copy(update={"amount": float(week)}),
        "four_week_rate": item.four_week_rate.model_copy(update={"amount": float(four_weeks)}),
    }
    tiers = cheapest_tiers(days, item.model_copy(update=rates))
    assert cheapest_mix(days, day, week, four_weeks) == tiers


@given(st.integers(0, 9), st.integers(0, 9), st.integers(0, 9), st.integers(12, 900))
def test_a_takeoff_is_counted_as_a_run(elbows, tees, tie_ins, length):
    fittings = {"elbows": elbows, "tees": tees, "tie_ins": tie_ins}
    lengths = {"segments_m": (float(length),), "stick_length_m": 12.0}
    for rule in ("cut in mid-stick", "set at stick end"):
        counted = count_joints(Takeoff(**lengths, **fittings), rule)
        assert counted == count_joints(run(**lengths, **fittings), rule)


PIPE = pipe_geometry("IPS", "24", 17.0, "PE4710")
FUSION = fusion_parameters("f2620", PIPE.od_mm, PIPE.wall_mm, 20.0)
SPOT, DEMAND = Spot("trench"), Demand(0.2)


def miss(*fleet):
    return closest_miss(fleet, SPOT, PIPE, FUSION, DEMAND)


def test_closest_miss_is_a_class_that_takes_the_diameter():
    # 24 in are 609.6 mm.
    small, far = machine("M1", od_max_mm=600.0), machine("M2", od_min_mm=1000.0)
    elsewhere = machine("M3", placements=("plant",))
    assert miss(small, far, elsewhere).class_id == "M3"
    assert miss(far, small).class_id == "M1"
    assert miss(far).class_id == "M2"


def test_closest_miss_is_none_where_a_class_fits_or_there_is_none():
    assert choose_machine((machine(),), SPOT, PIPE, FUSION, DEMAND).class_id == "M3"
    assert miss(machine("M1", od_max_mm=600.0), machine()) is None
    assert miss() is None
