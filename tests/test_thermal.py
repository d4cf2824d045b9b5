"""Melting by conduction: against textbook values, limits, scipy and a finite-volume solver."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize, special

from estimator.errors import OutsideStandardError
from estimator.joint.fusion import METHODS, fusion_parameters
from estimator.joint.geometry import pipe_geometry
from estimator.joint.soak_check import bead_depth_mm, check_joint, heater_duty_kw, joint_energy_kj
from estimator.joint.thermal import (
    Material,
    face_energy_kj_mm2,
    melt_constant,
    melt_depth_mm,
    melt_energy_kj_kg,
    melt_time_s,
    polyethylene,
)
from estimator.standards import tables
from estimator.units import LB_KG

BTU_KJ = 1.05505585262
PE = polyethylene()

heaters = st.floats(190.0, 240.0)
starts = st.floats(-45.0, 55.0)
times = st.floats(10.0, 1500.0)


def one_phase(stefan_number):
    """A material at its melting point whose face is one degree hotter."""
    return Material(0.0, 1 / stefan_number, 1.0, 1.0, 1.0, 1.0, 1.0)


# Energy


def test_energy_to_melt_matches_the_hand_calculation():
    # 2.2 x 110 + 190 + 2.5 x 90 = 242 + 190 + 225 = 657 kJ/kg; by 2.326 kJ/kg, 282.5 Btu/lb.
    assert melt_energy_kj_kg(20.0, 220.0) == pytest.approx(657.0, abs=1e-9)
    assert melt_energy_kj_kg(20.0, 220.0) * LB_KG / BTU_KJ == pytest.approx(282.5, abs=0.05)


def test_energy_stays_in_its_band_at_the_ends_of_the_ranges_found():
    # Solid 1.9 to 2.4, fusion 178.6 to 201, melt 2.2 to 2.7: band of 560 to 720 kJ/kg.
    for cp_solid, fusion, cp_melt in ((1.9, 178.6, 2.2), (2.4, 201.0, 2.7)):
        material = Material(130.0, fusion, cp_solid, cp_melt, 0.4, 0.25, 0.95)
        assert 560 < melt_energy_kj_kg(20.0, 220.0, material) < 720


@pytest.mark.parametrize(
    ("item", "low", "high"),
    [
        ("melting_c", 125, 135),
        ("heat_of_fusion_kj_kg", 178.6, 201),
        ("cp_solid_kj_kg_k", 1.9, 2.7),
        ("cp_melt_kj_kg_k", 2.2, 2.7),
        ("k_solid_w_m_k", 0.33, 0.53),
        ("k_melt_w_m_k", 0.22, 0.28),
        ("density_g_cm3", 0.94, 0.96),
    ],
)
def test_properties_lie_in_the_ranges_of_public_pages(item, low, high):
    assert low <= tables.find_row("thermal", "item", item)["value"] <= high


# Neumann's constant


def test_constant_matches_davis_theory_of_solidification():
    # Davis, Theory of Solidification (2001), chapter 2: Stefan number 1 has 0.62.
    assert melt_constant(1.0, 0.0, one_phase(1.0)) == pytest.approx(0.62, abs=0.005)


def test_constant_matches_turcotte_and_schubert_geodynamics():
    # Section on the Stefan problem, lava lake: L = 400 kJ/kg, c = 1 kJ/kgK, 1050 K; 0.876.
    lava = Material(0.0, 400.0, 1.0, 1.0, 1.0, 1.0, 1.0)
    assert melt_constant(1050.0, 0.0, lava) == pytest.approx(0.876, abs=0.0005)


def test_depth_matches_the_one_phase_case_after_alexiades_and_solomon():
    # Mathematical Modeling of Melting and Freezing Processes (1993), section 2.1, worked in a
    # published example: wax, face 10 K above melting, 0.1 m: about 81 % molten in 10 h.
    wax = Material(26.0, 179.0, 2.5, 2.5, 1.5, 1.5, 0.87)
    assert melt_depth_mm(36.0, 26.0, 36000.0, wax) == pytest.approx(81, abs=0.5)


def test_depth_matches_the_two_phase_case_after_alexiades_and_solomon():
    # The same, section 2.2: solid of 0.024 W/mK 10 K below melting; about 50 to 60 % in 2 h.
    wax = Material(26.0, 179.0, 2.5, 2.5, 0.024, 1.5, 0.87)
    start_s = melt_time_s(36.0, 16.0, 50.0, wax)
    assert melt_depth_mm(36.0, 16.0, start_s + 7200.0, wax) == pytest.approx(60, abs=1.5)


@given(st.floats(1e-4, 0.02))
def test_small_stefan_number_has_the_quasi_steady_constant(stefan_number):
    # Linear profile in the melt: lambda = sqrt(Ste / 2), high by about a sixth of Ste.
    found = melt_constant(1.0, 0.0, one_phase(stefan_number))
    assert found == pytest.approx(math.sqrt(stefan_number / 2), rel=stefan_number)
    assert found <= math.sqrt(stefan_number / 2)


@given(st.floats(0.05, 20.0))
def test_one_phase_constant_solves_the_transcendental_equation(stefan_number):
    found = melt_constant(1.0, 0.0, one_phase(stefan_number))
    assert math.sqrt(math.pi) * found * math.exp(found**2) * special.erf(found) == pytest.approx(
        stefan_number, rel=1e-9
    )


@given(heaters, starts)
def test_without_latent_heat_the_front_is_an_isotherm_of_the_error_function(heater_c, start_c):
    # T = T0 + (Ts - T0) erfc(x / 2 sqrt(alpha t)); the front is where it is at melting.
    plain = Material(130.0, 0.0, 2.2, 2.2, 0.4, 0.4, 0.95)
    root = special.erfcinv((130.0 - start_c) / (heater_c - start_c))
    assert melt_constant(heater_c, start_c, plain) == pytest.approx(root, rel=1e-9)


@given(heaters, starts)
def test_two_phase_constant_matches_scipy_root(heater_c, start_c):
    # Flux balance at the front in W/m2 at 1 s, written out in SI base units.
    density = 1000 * PE.density_g_cm3
    melt, solid = (1e-6 * a for a in (PE.melt_mm2_s, PE.solid_mm2_s))

    def balance(root):
        x = 2 * root * math.sqrt(melt)
        y = x / (2 * math.sqrt(solid))
        into = PE.k_melt_w_m_k * (heater_c - 130.0) * math.exp(-(root**2)) / special.erf(root)
        away = PE.k_solid_w_m_k * (130.0 - start_c) / special.erfcx(y)
        latent = density * 1000 * PE.heat_of_fusion_kj_kg * root * math.sqrt(melt)
        return into / math.sqrt(math.pi * melt) - away / math.sqrt(math.pi * solid) - latent

    root = optimize.brentq(balance, 1e-6, 3.0, xtol=1e-14)
    assert melt_constant(heater_c, start_c) == pytest.approx(root, rel=1e-8)


# Finite volumes


def enthalpy_solution(heater_c, start_c, time_s, cell_mm=0.1, depth_mm=60.0):
    """Return melt depth [mm] and heat by area [kJ/mm2] of an explicit enthalpy scheme."""
    mass = PE.density_g_cm3 * 1e-6 * cell_mm
    cells = int(depth_mm / cell_mm)
    solidus = PE.cp_solid_kj_kg_k * 130.0
    enthalpy = np.full(cells, PE.cp_solid_kj_kg_k * start_c)
    steps = math.ceil(time_s / (0.4 * cell_mm**2 / PE.solid_mm2_s))
    step_s, first = time_s / steps, enthalpy.sum()
    for _ in range(steps):
        share = np.clip((enthalpy - solidus) / PE.heat_of_fusion_kj_kg, 0.0, 1.0)
        above = np.maximum(enthalpy - solidus - PE.heat_of_fusion_kj_kg, 0.0)
        warm = np.minimum(enthalpy, solidus) / PE.cp_solid_kj_kg_k + above / PE.cp_melt_kj_kg_k
        k = share * PE.k_melt_w_m_k + (1 - share) * PE.k_solid_w_m_k
        between = 2 * k[1:] * k[:-1] / (k[1:] + k[:-1])
        flux = np.zeros(cells + 1)
        flux[0] = 2 * PE.k_melt_w_m_k * (heater_c - warm[0]) / cell_mm
        flux[1:-1] = between * (warm[:-1] - warm[1:]) / cell_mm
        enthalpy += step_s * 1e-6 * (flux[:-1] - flux[1:]) / mass
    molten = np.clip((enthalpy - solidus) / PE.heat_of_fusion_kj_kg, 0.0, 1.0)
    return molten.sum() * cell_mm, (enthalpy.sum() - first) * mass


@pytest.mark.parametrize(
    ("heater_c", "start_c", "time_s"), [(218.0, 20.0, 240.0), (210.0, -25.0, 300.0)]
)
def test_closed_form_matches_finite_volumes(heater_c, start_c, time_s):
    depth_mm, energy = enthalpy_solution(heater_c, start_c, time_s)
    assert melt_depth_mm(heater_c, start_c, time_s) == pytest.approx(depth_mm, rel=0.02)
    assert face_energy_kj_mm2(heater_c, start_c, time_s) == pytest.approx(energy, rel=0.02)


@given(heaters, starts, times)
def test_heat_through_the_face_is_the_heat_in_the_profile(heater_c, start_c, time_s):
    front = melt_depth_mm(heater_c, start_c, time_s)
    root = melt_constant(heater_c, start_c)
    reach = {p: 2 * math.sqrt(a * time_s) for p, a in (("m", PE.melt_mm2_s), ("s", PE.solid_mm2_s))}

    def melt(x):
        t = heater_c - (heater_c - 130.0) * special.erf(x / reach["m"]) / special.erf(root)
        return melt_energy_kj_kg(start_c, max(t, 130.0))

    def solid(x):
        share = special.erfc(x / reach["s"]) / special.erfc(front / reach["s"])
        return PE.cp_solid_kj_kg_k * (130.0 - start_c) * share

    inside, _ = integrate.quad(melt, 0.0, front)
    beyond, _ = integrate.quad(solid, front, front + 8 * reach["s"])
    expected = PE.density_g_cm3 * 1e-6 * (inside + beyond)
    assert face_energy_kj_mm2(heater_c, start_c, time_s) == pytest.approx(expected, rel=1e-6)


# What must always hold


@given(heaters, starts, times, st.floats(1.0, 20.0))
def test_depth_grows_with_the_root_of_time(heater_c, start_c, time_s, factor):
    one, other = (melt_depth_mm(heater_c, start_c, t) for t in (time_s, factor * time_s))
    assert other == pytest.approx(one * math.sqrt(factor), rel=1e-9)


@given(heaters, starts, times)
def test_time_and_depth_come_back(heater_c, start_c, time_s):
    depth = melt_depth_mm(heater_c, start_c, time_s)
    assert melt_time_s(heater_c, start_c, depth) == pytest.approx(time_s, rel=1e-9)


@given(heaters, heaters, starts, starts, times)
def test_hotter_heater_and_warmer_pipe_never_melt_less(heater, other, start, warmer, time_s):
    low = melt_depth_mm(min(heater, other), min(start, warmer), time_s)
    assert melt_depth_mm(max(heater, other), max(start, warmer), time_s) >= low * (1 - 1e-12)


@pytest.mark.parametrize(
    ("heater_c", "start_c", "text"),
    [(120.0, 20.0, "heater temperature"), (210.0, 140.0, "start temperature")],
)
def test_temperatures_on_one_side_of_melting_are_refused(heater_c, start_c, text):
    with pytest.raises(OutsideStandardError, match=rf"{text} \[C\] is .*\(130 or"):
        melt_depth_mm(heater_c, start_c, 60.0)
    with pytest.raises(OutsideStandardError, match=rf"{text} \[C\] is .*\(130 or"):
        melt_energy_kj_kg(start_c, heater_c)


def test_depth_and_heat_are_as_sure_as_the_docs_say():
    # docs/method.md: every property at either end of its range, depth within a quarter and heat
    # within an eighth of the middle.
    ranges = ((125, 135), (178.6, 201), (1.9, 2.4), (2.2, 2.7), (0.37, 0.44), (0.22, 0.28),
              (0.94, 0.96))  # fmt: skip
    for values in itertools.product(*ranges):
        material = Material(*values)
        depth, heat = (
            work_out(218.0, 20.0, 240.0, material) / work_out(218.0, 20.0, 240.0)
            for work_out in (melt_depth_mm, face_energy_kj_mm2)
        )
        assert 0.75 < depth < 1.25
        assert 0.875 < heat < 1.125


# The check of a soak


def checked(system, size, dr, method, ambient_c):
    pipe = pipe_geometry(system, size, dr, "PE100")
    fusion = fusion_parameters(method, pipe.od_mm, pipe.wall_mm, ambient_c)
    return pipe, fusion, check_joint(pipe, fusion, ambient_c)


def test_bead_depth_is_the_section_of_two_half_ellipses_over_the_wall():
    # Half an ellipse 10 mm wide and 5 mm high: pi / 2 x 5 x 5 = 39.27 mm2; two over 20 mm.
    assert bead_depth_mm(10.0, 20.0) == pytest.approx(2 * 39.27 / 20, abs=0.001)


def test_a_large_bead_on_a_thin_wall_ends_the_heating():
    _, fusion, found = checked("IPS", "24", 32.5, "f2620", 20.0)
    assert found.bead_depth_mm > found.melt_depth_mm
    assert "the bead will end heating" in found.text
    assert fusion.soak_s == fusion_parameters("f2620", 609.6, 18.7452, 20.0).soak_s


def test_a_usual_soak_is_enough_for_the_bead():
    pipe, fusion, found = checked("ISO", "315", 11.0, "dvs2207", 20.0)
    assert found.bead_depth_mm < found.melt_depth_mm
    assert found.wall_share == pytest.approx(found.melt_depth_mm / pipe.wall_mm)
    assert "the method's time governs" in found.text
    assert "times as long" not in found.text
    assert found.energy_kj == pytest.approx(found.soak_kw * fusion.soak_s)


@pytest.mark.parametrize("method", METHODS)
def test_cold_air_lengthens_the_heating_by_the_time_to_the_same_depth(method):
    _, fusion, found = checked("IPS", "8", 11.0, method.value, -25.0)
    heater = sum(fusion.heater_c) / 2
    same_depth = melt_time_s(heater, 23.0, found.melt_depth_mm)
    assert found.cold_ratio == pytest.approx(fusion.soak_s / same_depth, rel=1e-9)
    assert found.cold_ratio > 1.2
    assert "times as long as at 23 C" in found.text


def test_heat_of_a_joint_is_small_beside_warming_the_plate():
    # The trade's rule: the melt in a joint is small, the plate sets the demand. 8 in DR 11
    # against 20 kg of aluminum by 200 K: 20 x 0.9 x 200 = 3600 kJ.
    pipe, fusion, found = checked("IPS", "8", 11.0, "f2620", 20.0)
    assert 0 < found.energy_kj < 0.1 * 3600
    both_ends = joint_energy_kj(pipe.joint_area_mm2, sum(fusion.heater_c) / 2, 20.0, fusion.soak_s)
    assert found.energy_kj == both_ends
    # Never less than what the melt itself holds at its melting temperature.
    melt_kg = 2 * pipe.joint_area_mm2 * found.melt_depth_mm * PE.density_g_cm3 * 1e-6
    assert found.energy_kj > melt_kg * melt_energy_kj_kg(20.0, 130.0)


def test_duty_is_energy_by_cycle():
    # 90 kJ in 15 min: 90 / 900 = 0.1 kW.
    assert heater_duty_kw(90.0, 15.0) == pytest.approx(0.1)
