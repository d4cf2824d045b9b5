"""Motors, cable, output at the site and generators against published tables and by hand."""

import datetime as dt
import math
from typing import get_args

import fluids.atmosphere
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import InputError, estimate
from estimator.errors import EstimatorError, OutsideStandardError, UnknownNameError
from estimator.inputs.dictionary import fields, values_if_absent
from estimator.models.equipment import Generator, Machine
from estimator.models.job_inputs import GROUPS
from estimator.models.power import SupplyName
from estimator.models.rates import Rates
from estimator.power.cables import Current, choose_cable, drop_share, of_gauge, wires
from estimator.power.derating import air_pressure_pa, corrected_output, derating, output_left
from estimator.power.generator import (
    SetKind,
    checks,
    deciding,
    fuel_l_h,
    kind_of,
    usual_kind,
    voltage_dip,
)
from estimator.power.load import electric_load, heater_duty, mean_load_kw
from estimator.power.machine_power import NO_SUPPLY, TOO_LONG, machine_current, power_need
from estimator.power.motors import (
    full_load_a,
    kva_per_hp,
    locked_rotor_kva,
    motor_current,
    supply_named,
)
from estimator.standards import tables
from estimator.units import FT_M, GAL_L, INHG_PA, to_si
from tests.data import read_cases
from tests.each import each
from tests.jobs import job, machine, money, rental, run
from workbook_template import rules
from workbook_template.content import table_rows

ENGINES = ("naturally aspirated", "turbocharged", "turbocharged and intercooled")
NEC_SUPPLIES = ("1-ph 115 V", "1-ph 230 V", "3-ph 208 V", "3-ph 230 V", "3-ph 460 V")
SUPPLIES = get_args(SupplyName)


def genset(rated=40.0, half=8.7, full=15.1, **changes):
    return Generator(
        class_id=f"G{rated:g}", rated_kw=rated, fuel_half_l_h=half, fuel_full_l_h=full,
        **rental(**changes),
    )  # fmt: skip


# --- Motors: NFPA 70 Tables 430.7(B), 430.248 and 430.250, transcribed in tests/data/published.


@each("case", read_cases("published/nfpa_70_locked_rotor"), ids=lambda c: c["letter"])
def test_locked_rotor_bands_match_the_transcribed_table(case):
    row = tables.find_row("locked_rotor", "letter", case["letter"])
    low, _, high = case["band"].replace(" and up", "-").partition("-")
    assert (row["kva_hp_from"], row["kva_hp_to"]) == (float(low), float(high) if high else None)


def test_code_letters_on_the_machines_sheet_are_those_with_an_upper_end():
    field = next(f for f in fields("machines") if f.key == "motor_letter")
    listed = [str(r["letter"]) for r in tables.load("locked_rotor") if r["kva_hp_to"] is not None]
    assert list(field.allowed) == listed
    assert not {"I", "O", "Q"} & set(field.allowed)


@pytest.mark.parametrize("letter", ["I", "O", "Q", "Z"])
def test_letters_that_the_code_does_not_use_are_refused(letter):
    with pytest.raises(UnknownNameError, match=r"letter '.*' is not recognized.* A, B, "):
        kva_per_hp(letter)


def test_the_open_band_has_no_upper_end():
    with pytest.raises(EstimatorError, match="kva_hp_to must be a number"):
        kva_per_hp("V")


def test_locked_rotor_of_10_hp_letter_h_by_hand():
    """10 hp x 7.09 kVA/hp = 70.9 kVA; 70,900 VA / (1.732 x 460 V) = 88.99 A; / 230 V = 308.3 A."""
    kva = locked_rotor_kva(to_si(10, "hp"), "H")
    assert kva == pytest.approx(70.9)
    assert supply_named("3-ph 460 V").amps(kva) == pytest.approx(88.99, abs=0.005)
    assert supply_named("1-ph 230 V").amps(kva) == pytest.approx(308.26, abs=0.005)


@pytest.mark.parametrize(
    "case", read_cases("published/nfpa_70_motor_currents"), ids=lambda c: c["hp"]
)
def test_every_listed_motor_draws_its_printed_current(case):
    hp = sum(int(a) / int(b or 1) for a, _, b in (p.partition("/") for p in case["hp"].split("-")))
    for name in NEC_SUPPLIES:
        phases, volts, _ = name.split()
        printed = case[f"{phases.replace('-', '')}_{volts}"]
        if printed != "-":
            assert full_load_a(to_si(hp, "hp"), supply_named(name)) == float(printed)


# Motors sold in kW count as the listed hp; 3 kW is 4.02 hp and takes the row of 5 hp.
@pytest.mark.parametrize(("kw", "amps"), [(0.75, 2.1), (7.5, 14.0), (15, 27.0), (3, 7.6), (0, 0)])
def test_a_motor_takes_the_next_listed_size(kw, amps):
    assert full_load_a(kw, supply_named("3-ph 460 V")) == amps


@pytest.mark.parametrize(("kw", "name"), [(30, "3-ph 460 V"), (11, "1-ph 230 V")])
def test_a_motor_beyond_the_table_is_refused(kw, name):
    with pytest.raises(OutsideStandardError, match=rf"motor \[hp\] on {name} is .*\(0 to"):
        full_load_a(kw, supply_named(name))


def test_supplies_of_the_machines_sheet_are_those_of_the_table():
    field = next(f for f in fields("machines") if f.key == "supply")
    assert field.allowed == SUPPLIES == tuple(r["supply"] for r in tables.load("supplies"))


# --- Copper wire: NFPA 70 Chapter 9 Tables 8 and 9, as transcribed in tests/data/published.


@pytest.mark.parametrize("case", read_cases("published/nfpa_70_copper"), ids=lambda c: c["awg"])
def test_copper_matches_the_transcribed_tables(case):
    direct = tables.find_row("copper_dc", "awg", case["awg"])
    alternating = tables.find_row("copper_ac", "awg", case["awg"])
    solid = None if case["t8_solid"] == "-" else float(case["t8_solid"])
    assert direct["stranded_ohm_kft"] == float(case["t8_stranded"])
    assert direct["solid_ohm_kft"] == solid
    for part in ("r_pvc", "r_steel", "x_pvc", "x_steel"):
        assert alternating[f"{part}_ohm_kft"] == float(case[f"t9_{part}"])


@pytest.mark.parametrize("case", read_cases("arithmetic/copper"), ids=lambda c: c["awg"])
def test_ohm_per_km_match_our_own_table(case):
    row = tables.find_row("copper_dc", "awg", case["awg"])
    per_km = tables.number(row, "stranded_ohm_kft") / FT_M
    assert per_km == pytest.approx(float(case["t8_ohm_km"]), rel=0.005)


@pytest.mark.parametrize("case", read_cases("arithmetic/copper"), ids=lambda c: c["awg"])
def test_drop_at_a_power_factor_of_085_matches_the_worked_out_impedance(case):
    """Z = R cos phi + X sin phi at 0.85: over 1000 ft 100 A on one phase lose 2 x 100 x Z V."""
    row = of_gauge(tables.find_row("copper_ac", "awg", case["awg"]))
    current = Current(85.0, 100 * math.sin(math.acos(0.85)))
    assert current.total_a == pytest.approx(100)
    lost = drop_share(row, current, 1000 * FT_M, supply_named("1-ph 230 V")) * 230
    assert lost == pytest.approx(200 * float(case["t9_z_085"]), rel=0.005)


def test_cable_by_hand():
    """20 A at unity power factor over 100 ft on 230 V, one phase; 3 % are 6.9 V.

    12 AWG: 2 x 20 x 0.1 x 2.0 = 8.0 V, 3.5 %: too much. 10 AWG: 2 x 20 x 0.1 x 1.2 = 4.8 V, 2.1 %.
    """
    terms = supply_named("1-ph 230 V"), 0.03
    cable = choose_cable(wires("US"), Current(20, 0), 100 * FT_M, *terms)
    assert (cable.wire, cable.fits) == ("10 AWG", True)
    assert cable.drop == pytest.approx(4.8 / 230)


def test_three_phases_by_hand():
    """40 A at 0.8 over 200 ft, 8 AWG: 1.732 x 40 x 0.2 x (0.78 x 0.8 + 0.052 x 0.6) = 9.08 V."""
    row = of_gauge(tables.find_row("copper_ac", "awg", "8"))
    share = drop_share(row, Current(32, 24), 200 * FT_M, supply_named("3-ph 460 V"))
    assert share * 460 == pytest.approx(9.08, abs=0.005)


amperes, lengths = st.floats(0, 150), st.floats(0, 400)


@given(amperes, amperes, lengths, lengths, st.sampled_from(SUPPLIES), st.sampled_from(["US", "SI"]))
def test_a_longer_cable_is_never_thinner(active, reactive, length, more, name, system):
    sizes = [wire.name for wire in wires(system)]
    current, terms = Current(active, reactive), (supply_named(name), 0.03)
    short = choose_cable(wires(system), current, length, *terms)
    long = choose_cable(wires(system), current, length + more, *terms)
    assert sizes.index(long.wire) >= sizes.index(short.wire)
    assert short.fits >= long.fits


@given(amperes, lengths, st.sampled_from(SUPPLIES), st.sampled_from(["US", "SI"]))
def test_no_thinner_wire_would_do(active, length, name, system):
    current, supply, listed = Current(active, 0), supply_named(name), wires(system)
    found = choose_cable(listed, current, length, supply, 0.03)
    drops = {wire.name: drop_share(wire, current, length, supply) for wire in listed}
    enough = [wire for wire, drop in drops.items() if drop <= 0.03]
    assert found.wire == (enough[0] if enough else listed[-1].name)
    assert found.fits == bool(enough)


# --- Power at 50 Hz: by hand; resistances of IEC 60228 class 5 as on three public pages.


def test_motor_current_at_400_v_from_its_kw():
    """7.5 kW / 0.85 / 0.8 = 11.03 kVA; / (1.732 x 400 V) = 15.92 A. 2.2 kW on 230 V: 14.07 A."""
    power = job().power
    assert motor_current(7.5, supply_named("3-ph 400 V 50 Hz"), power) == pytest.approx(15.92, abs=0.005)  # noqa: E501  # fmt: skip
    assert motor_current(2.2, supply_named("1-ph 230 V 50 Hz"), power) == pytest.approx(14.07, abs=0.005)  # noqa: E501  # fmt: skip
    assert motor_current(0.0, supply_named("1-ph 110 V site"), power) == 0.0


def test_motor_of_any_size_has_a_current_without_a_table():
    assert motor_current(30, supply_named("3-ph 400 V 50 Hz"), job().power) == pytest.approx(63.7, abs=0.05)  # noqa: E501  # fmt: skip


def test_wire_in_square_millimeters_by_hand():
    """32 A on 400 V over 100 m; 3 % are 12 V. Copper at 70 C is 1 + 0.00393 x 50 = 1.1965 times
    that at 20 C. 6 mm2: 1.732 x 32 x 0.1 x 3.30 x 1.1965 = 21.9 V; 10 mm2: 12.67 V; 16 mm2:
    8.02 V."""
    terms = supply_named("3-ph 400 V 50 Hz"), 0.03
    cable = choose_cable(wires("SI"), Current(32, 0), 100.0, *terms)
    assert (cable.wire, cable.fits) == ("16 mm2", True)
    assert cable.drop * 400 == pytest.approx(8.02, abs=0.01)


def test_job_in_si_has_its_wire_in_square_millimeters():
    built = machine(heater_kw=4.0, facer_kw=1.5, pump_kw=2.0, supply="3-ph 400 V 50 Hz")
    need = power_need(built, job(), 215.0)
    kva = 3.5 / 0.85 / 0.8
    active, lagging = 4.0 + kva * 0.8, kva * 0.6
    assert need.current_a == pytest.approx(math.hypot(active, lagging) * 1000 / 400 / math.sqrt(3))
    assert need.cable == "1.5 mm2"
    assert power_need(built, job(unit_system="US"), 215.0).cable == "12 AWG"


# --- Output at the site.


@given(st.floats(-900, 10900))
def test_air_pressure_agrees_with_the_us_standard_atmosphere(geopotential):
    """Outside check: the fluids library, by geometric height Z = R H / (R - H), R = 6356.766 km."""
    geometric = 6356766 * geopotential / (6356766 - geopotential)
    published = fluids.atmosphere.ATMOSPHERE_1976(geometric).P
    assert air_pressure_pa(geopotential) == pytest.approx(published, rel=1e-5)


# Printed in pressure tables of the standard atmosphere: 5,000 ft 24.90 inHg, 10,000 ft 20.58.
@pytest.mark.parametrize(("feet", "inches"), [(0, 29.92), (5000, 24.90), (10000, 20.58)])
def test_air_pressure_in_inches_of_mercury(feet, inches):
    assert air_pressure_pa(feet * FT_M) / INHG_PA == pytest.approx(inches, abs=0.005)


def test_air_above_the_formulas_layer_is_refused():
    with pytest.raises(OutsideStandardError, match=r"elevation \[m\] is .*\(-1000 to 11000"):
        air_pressure_pa(12000)


# ISO 3046-1 as quoted on one public page: CF = 1.175 r - 0.175 with
# r = (29.2/p)^m ((T+460)/537)^q; output / CF.
# 1500 m: p = 24.969 inHg, 29.2/p = 1.16943; 40 C = 104 F: 564/537 = 1.05028.
@pytest.mark.parametrize(
    ("engine", "ratio"),
    [
        ("naturally aspirated", 1.16943 * 1.05028**0.75),
        ("turbocharged", 1.16943**0.7 * 1.05028**2),
        ("turbocharged and intercooled", 1.16943**0.7 * 1.05028**1.2),
    ],
)
def test_output_in_the_form_of_iso_3046_by_hand(engine, ratio):
    expected = 1 / (1.175 * ratio - 0.175)
    assert corrected_output(engine, 1500, 40) == pytest.approx(expected, abs=1e-4)


def test_no_set_gives_more_than_its_rating():
    """At 0 m and 25 C (77 F) r = 29.2 / 29.92 is below 1: the rating, and not more, is left."""
    assert [corrected_output(engine, 0, 25) for engine in ENGINES] == [1, 1, 1]


@given(
    st.sampled_from(("step rule", "ISO 3046 form")), st.sampled_from(ENGINES),
    st.floats(-400, 5000), st.floats(0, 1000), st.floats(-40, 50), st.floats(0, 10),
)  # fmt: skip
def test_higher_and_hotter_never_leave_more(rule, engine, elevation, up, ambient, warmer):
    here = output_left(rule, engine, elevation, ambient)
    assert 0 < output_left(rule, engine, elevation + up, ambient + warmer) <= here <= 1


def test_an_unknown_engine_is_refused():
    with pytest.raises(
        UnknownNameError, match=r"engine 'steam' is not recognized.* naturally aspirated, "
    ):
        corrected_output("steam", 0, 20)


# --- Loads and checks.


def test_load_with_a_code_letter_by_hand():
    """Heater 10 kW, pump 10 hp = 7.457 kW letter H, efficiency 0.85, pf 0.8, site load 1.5 kW.

    Motor 8.773 kW, 6.580 kvar. Running 20.273 kW, sqrt(20.273^2 + 6.580^2) = 21.314 kVA.
    Start 70.9 kVA x 0.4 = 28.36 kW: 10 + 1.5 + 28.36 = 39.86 kW.
    """
    built = machine(heater_kw=10, facer_kw=0, pump_kw=to_si(10, "hp"), motor_letter="H")
    load = electric_load(built, job().power)
    assert load.running_kw == pytest.approx(20.273, abs=0.0005)
    assert load.running_kva == pytest.approx(21.314, abs=0.0005)
    assert load.motor_start_kva == pytest.approx(70.9)
    assert load.starting_kw == pytest.approx(39.86, abs=0.0005)


def test_checks_by_hand():
    """The load above at 1500 m and 20 C: 97 % left; margin 25 %, dip 30 % allowed.

    Load 20.273 x 1.25 / 0.97 = 26.125 kW; kVA 21.314 x 1.25 x 0.8 / 0.97 = 21.973 kW;
    start 39.86 / 0.97 = 41.093 kW; dip 0.2 x 70.9 x 0.7 / 0.3 x 0.8 = 26.469 kW.
    """
    built = machine(heater_kw=10, facer_kw=0, pump_kw=to_si(10, "hp"), motor_letter="H")
    given_job = job(elevation_m=1500.0)
    site, power = given_job.site, given_job.power
    found = checks(electric_load(built, power), usual_kind(), site, power)
    assert [check.needed_kw for check in found] == pytest.approx(
        [26.125, 21.973, 41.093, 26.469], abs=0.001
    )
    weak = SetKind(power_factor=0.8, reactance=0.4, engine="turbocharged")
    assert (
        deciding(electric_load(built, power), weak, site, power).name
        == "voltage dip at motor start"
    )


def test_voltage_dip_by_hand():
    """70.9 kVA on 40 kW / 0.8 = 50 kVA, X' 0.2: 14.18 / (50 + 14.18) = 0.2209."""
    assert voltage_dip(usual_kind(), 40, 70.9) == pytest.approx(0.2209, abs=0.00005)


@given(st.floats(1, 500), st.floats(0, 1000), st.floats(0.05, 0.6))
def test_a_set_at_the_rating_that_the_dip_asks_for_loses_just_that(start, running, allowed):
    given_job = job(start_dip=allowed)
    site, power = given_job.site, given_job.power
    built = machine(heater_kw=max(running, 0.1), pump_kw=start, facer_kw=0.0)
    load, kind = electric_load(built, power), usual_kind()
    needed = checks(load, kind, site, power)[3].needed_kw
    assert voltage_dip(kind, needed, load.motor_start_kva) == pytest.approx(allowed)


@given(st.floats(1, 40), st.floats(0, 15), st.sampled_from(("A", "G", "K", None)),
       st.floats(0, 3000), st.floats(0, 1500))  # fmt: skip
def test_a_higher_site_never_needs_a_smaller_set(heater, pump, letter, elevation, up):
    built = machine(heater_kw=heater, pump_kw=pump, motor_letter=letter)
    for rule in ("step rule", "ISO 3046 form"):
        low, high = (
            power_need(built, job(elevation_m=e, derating_rule=rule), 215.0).rated_needed_kw
            for e in (elevation, elevation + up)
        )
        assert high >= low


def test_two_machines_on_one_set_by_hand():
    """Two machines of 4 kW heater, 1.5 and 2 kW motors: 8 + 7 / 0.85 + 1.5 = 17.735 kW.

    One pump of 2 / 0.85 = 2.353 kW starts at 3 x: 17.735 + 4.706 = 22.441 kW.
    """
    load = electric_load(machine(), job().power, 2)
    assert load.running_kw == pytest.approx(17.735, abs=0.0005)
    assert load.starting_kw == pytest.approx(22.441, abs=0.0005)
    assert load.motor_start_kva == electric_load(machine(), job().power).motor_start_kva


def test_current_of_a_machine_by_hand():
    """9.2 kW of heater on 230 V, three phases: 9200 / (1.732 x 230) = 23.09 A.

    Pump 7.5 hp: 22 A at 0.8 are 17.6 A and 13.2 A. Total sqrt(40.69^2 + 13.2^2) = 42.78 A.
    """
    built = machine(heater_kw=9.2, facer_kw=0, pump_kw=to_si(7.5, "hp"), supply="3-ph 230 V")
    current = machine_current(built, job().power, supply_named("3-ph 230 V"))
    assert current.total_a == pytest.approx(42.78, abs=0.005)


# --- Fuel: the trade chart in US gal/h, tests/data/published/diesel_set_fuel_gal_h.csv.


def chart_set(case):
    quarter = None if case["quarter"] == "-" else float(case["quarter"]) * GAL_L
    half, full = float(case["half"]) * GAL_L, float(case["full"]) * GAL_L
    return genset(float(case["kw"]), half, full).model_copy(update={"fuel_quarter_l_h": quarter})


@pytest.mark.parametrize(
    "case", read_cases("published/diesel_set_fuel_gal_h"), ids=lambda c: c["kw"]
)
def test_fuel_at_three_quarters_follows_the_trade_chart(case):
    """Within 9 % of the figure that is not entered, between half and full load, which are."""
    built = chart_set(case)
    found = fuel_l_h(built, 0.75 * built.rated_kw) / GAL_L
    assert found == pytest.approx(float(case["three_quarter"]), rel=0.09)


@pytest.mark.parametrize(
    "case",
    [case for case in read_cases("published/diesel_set_fuel_gal_h") if case["quarter"] != "-"],
    ids=lambda c: c["kw"],
)
def test_quarter_load_without_its_own_figure_is_near_the_chart(case):
    """The line through half and full load, gone on to a quarter, is within 15 % of the chart."""
    built = chart_set(case).model_copy(update={"fuel_quarter_l_h": None})
    found = fuel_l_h(built, built.rated_kw / 4) / GAL_L
    assert found == pytest.approx(float(case["quarter"]), rel=0.15)


@given(st.floats(1, 200), st.floats(0.1, 1), st.floats(0.3, 1), st.floats(0, 1), st.floats(0, 1),
       st.one_of(st.none(), st.floats(0.1, 1)))  # fmt: skip
def test_fuel_rises_with_load_and_is_never_negative(full, half, rated, one, other, quarter):
    built = genset(100 * rated, half * full, full).model_copy(
        update={"fuel_quarter_l_h": None if quarter is None else quarter * half * full}
    )
    low, high = (fuel_l_h(built, share * built.rated_kw) for share in sorted((one, other)))
    assert 0 < low <= high * (1 + 1e-12) <= full * (1 + 1e-9)


def test_fuel_above_the_rating_is_refused():
    with pytest.raises(OutsideStandardError, match=r"generator load \[kW\] is .*\(0 to 40"):
        fuel_l_h(genset(40), 41)


def test_heater_duty_and_mean_load_by_hand():
    """10 h less 30 min of breaks = 570 min; warm-up 57 min is a tenth of it.

    Then 30 % of losses and 0.4 kW into joints of 4 kW, 10 %: 0.1 + 0.9 x 0.4 = 0.46.
    Mean load 4 x 0.46 + 3.5 / 0.85 x 0.3 + 1.5 = 1.84 + 1.2353 + 1.5 = 4.5753 kW.
    """
    duty = heater_duty(machine(), job().shift, job().power, 57.0, 0.4)
    assert duty == pytest.approx(0.46)
    assert mean_load_kw(machine(), job().power, duty) == pytest.approx(4.5753, abs=0.00005)


@given(st.floats(0, 2000), st.floats(0, 50), st.floats(0, 1))
def test_heater_duty_is_a_share(warm, joint_kw, lost):
    power = job(heater_loss_share=lost).power
    assert 0 <= heater_duty(machine(), job().shift, power, warm, joint_kw) <= 1 + 1e-12


# --- Whole estimates.


def generator_span(found):
    return next(span for span in found.fleet.spans if span.kind == "generator")


def test_fuel_of_the_generator_is_that_of_its_mean_load():
    """Work days x hours without breaks x fuel at the mean load, from half 2.6 and full 4.6 L/h."""
    found = estimate(job(haul_days=2))
    span, (need,) = generator_span(found), found.fleet.power.values()
    line = 2.6 + (4.6 - 2.6) * (need.mean_kw / 15 - 0.5) / 0.5
    assert span.fuel_l == pytest.approx(span.work_days * 9.5 * max(line, 0.46))
    (check,) = [c for c in found.fleet.sets if c.verdict == "selected"]
    assert check.fuel_l_day == pytest.approx(span.fuel_l / span.work_days)


def test_fuel_of_a_set_that_is_returned_between_uses_counts_each_day_once():
    """Two runs four weeks apart, no charge for the trip: two spans, each with its own days."""
    early, late = run("a"), run("b", earliest_start=dt.date(2027, 4, 12))
    free = genset(60, 11, 18.2, delivery=money(0, "trip"))
    found = estimate(job(early, late).model_copy(update={"generators": (free,)}))
    spans = [span for span in found.fleet.spans if span.kind == "generator"]
    (check,) = found.fleet.sets
    assert len(spans) == 2
    total_days = sum(span.work_days for span in spans)
    assert sum(span.fuel_l for span in spans) == pytest.approx(total_days * check.fuel_l_day)


def test_a_shared_set_is_one_larger_set():
    apart = estimate(job(machines_per_crew=2))
    shared = estimate(job(machines_per_crew=2, generators_per_crew="one shared"))
    assert (generator_span(apart).class_id, generator_span(apart).quantity) == ("G15", 2)
    assert (generator_span(shared).class_id, generator_span(shared).quantity) == ("G60", 1)
    assert "2 machines and site load: running 17.7 kW" in generator_span(shared).why.text


def test_the_reasons_name_the_check_that_decides():
    """Dip of 20 %: 0.2 x 70.9 x 0.8 / 0.2 x 0.8 = 45.4 kW; start 4 + 1.765 + 1.5 + 28.36 = 35.6."""
    built = machine(pump_kw=to_si(10, "hp"), motor_letter="H")
    span = generator_span(estimate(job(machines=(built,), start_dip=0.2)))
    assert span.class_id == "G60"
    assert "Governed by voltage dip at motor start" in span.why.text
    assert span.why.need == pytest.approx(45.376, abs=0.001)
    # 10 %: 0.2 x 70.9 x 9 x 0.8 = 102.1 kW, more than any set has.
    said = r"voltage dip at motor start needs 102\.1 kW; the largest in stock has 60 kW"
    with pytest.raises(InputError, match=said):
        estimate(job(machines=(built,), start_dip=0.1))


def test_smaller_sets_are_reported_with_what_they_fail():
    found = estimate(job(elevation_m=3000.0, generator_margin=1.0))
    small = next(check for check in found.fleet.sets if check.class_id == "G15")
    assert not small.passes
    assert small.verdict.startswith("too small: fails running load with margin")
    assert [r.class_id for r in generator_span(found).rejected] == ["G15"]


def test_a_set_out_of_stock_is_reported():
    few = job(machines_per_crew=2)
    few = few.model_copy(update={"generators": (
        few.generators[0].model_copy(update={"stock": 1}), few.generators[1])})  # fmt: skip
    found = estimate(few)
    assert generator_span(found).class_id == "G60"
    assert found.fleet.sets[0].verdict == "only 1 in stock, 2 needed"


def test_the_iso_form_asks_for_more_at_height():
    step, iso = (
        estimate(job(elevation_m=2500.0, derating_rule=rule)).fleet.sets[1]
        for rule in ("step rule", "ISO 3046 form")
    )
    assert step.derating == pytest.approx(0.91)
    assert iso.derating == pytest.approx(corrected_output("naturally aspirated", 2500, 20))
    assert iso.needed_kw > step.needed_kw


def test_no_set_at_all_is_an_input_error():
    none = job().model_copy(update={"generators": ()})
    with pytest.raises(InputError, match=r"no generator in stock is large enough"):
        estimate(none)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"supply": "1-ph 115 V"}, TOO_LONG),
        ({"supply": "1-ph 230 V", "pump_kw": 11.0}, "motor [hp] on 1-ph 230 V is"),
        ({"supply": "3-ph 460 V"}, None),
        ({"supply": None}, None),
        ({"supply": "1-ph 115 V", "self_powered": True, "fuel_rate_l_h": 5.0}, None),
    ],
)
def test_a_cable_that_the_tables_do_not_settle_is_a_warning(changes, text):
    found = estimate(job(machines=(machine(**changes),), cable_length_m=150.0))
    messages = [w.message for w in found.warnings if w.message.startswith("Cable to class M3")]
    assert bool(messages) == (text is not None)
    assert text is None or text in messages[0]


def test_a_machine_without_supply_says_so():
    need = power_need(machine(), job(), 215.0)
    assert (need.current_a, need.cable, need.cable_note) == (None, None, NO_SUPPLY)


# --- The input sheets.


KINDS_ALIKE = {"percent", "factor", "number", "choice", "count", "hours", "minutes"}
"""Kinds of input that are the same in US and SI units and in the models."""
OLDER_BOOKS_KEEP = {"overtime_loss", "damages_carry"}
"""Inputs that new workbooks set and that older ones do without, so that their results stay."""


def test_defaults_of_the_models_are_those_of_the_dictionary():
    models = {
        "job": {key: info for group in GROUPS.values() for key, info in group.model_fields.items()},
        "rates": Rates.model_fields,
        "generators": Generator.model_fields,
        "machines": Machine.model_fields,
    }
    for table, known_fields in models.items():
        for field in fields(table):
            if field.required or field.kind not in KINDS_ALIKE or field.key in OLDER_BOOKS_KEEP:
                continue
            known = known_fields[field.key].default
            written = values_if_absent(table).get(field.key, field.default("SI")) or None
            if isinstance(known, bool):
                written = written == "yes"
            assert known == (written if isinstance(known, str | None) else float(written)), field


def test_kind_of_a_class_is_what_its_row_says():
    own = genset(40).model_copy(update={"reactance": 0.12, "engine": "turbocharged"})
    assert kind_of(own) == SetKind(0.8, 0.12, "turbocharged")


def test_step_rule_is_the_default():
    assert estimate(job(elevation_m=1500.0)).fleet.sets[0].derating == derating(1500, 20)


def test_runs_of_one_crew_share_the_hardest_need():
    small = machine("S", od_max_mm=250.0, four_week_rate={"amount": 1.0, "per": "4 weeks"})
    large = machine("L", od_min_mm=250.0, heater_kw=12.0, pump_kw=7.5, motor_letter="H")
    found = estimate(job(run("a"), run("b", size="12"), machines=(small, large)))
    assert set(found.fleet.power) == {"S", "L"}
    assert generator_span(found).why.need == pytest.approx(found.fleet.power["L"].rated_needed_kw)


# --- The set of each day, and sets that hardly run.


def large_then_small(*generators):
    """Class L of 24 kW of heater for 24 in pipe, then class S of 1.2 kW for 4 in pipe."""
    classes = (
        machine("S", od_max_mm=150.0, heater_kw=1.2, facer_kw=0.8, pump_kw=0.0),
        machine("L", od_min_mm=150.0, heater_kw=24.0, facer_kw=4.0, pump_kw=4.0),
    )
    runs = run("big", size="24", segments_m=(240.0,), priority=1), run("small", size="4", segments_m=(9000.0,))  # noqa: E501  # fmt: skip
    made = job(*runs, machines=classes)
    return made if not generators else made.model_copy(update={"generators": generators})


def test_large_generator_goes_when_its_machine_is_done():
    """G60 for class L; for class S, which needs 1.2 + 0.8 / 0.85 + 1.5 = 3.6 kW, G15 comes: both at
    the same rates, but G60 burns some 3 L/h more, for months."""
    made = large_then_small()
    found = estimate(made)
    used = {
        class_id: {line.date for line in found.plan.lines if line.machine == class_id}
        for class_id in ("L", "S")
    }
    sets = {s.class_id: s for s in found.fleet.spans if s.kind == "generator"}
    assert set(sets["G60"].used) >= used["L"]
    assert len(set(sets["G60"].used) - used["L"]) <= 1
    assert set(sets["G15"].used) == (used["L"] | used["S"]) - set(sets["G60"].used)
    verdicts = {check.class_id: check.verdict for check in found.fleet.sets}
    assert verdicts == {"G15": "selected", "G60": "selected"}
    single = estimate(large_then_small(made.generators[1]))
    assert found.bid.job_cost < single.bid.job_cost


def test_second_generator_does_not_come_for_a_day_or_two():
    """Two days on class S save some 2 x 9.5 h x 3 L/h at 1.6: 91, less than two trips of 50 and
    five days of rent at 100."""
    made = large_then_small()
    short = made.runs[1].model_copy(update={"segments_m": (240.0,)})
    found = estimate(made.model_copy(update={"runs": (made.runs[0], short)}))
    assert {s.class_id for s in found.fleet.spans if s.kind == "generator"} == {"G60"}


def test_set_that_runs_below_30_percent_of_its_rating_is_remarked():
    """Machine with a mean load of a few kW on the only set there is, of 60 kW."""
    only = (job().generators[1],)
    found = estimate(job().model_copy(update={"generators": only}))
    (check,) = found.fleet.sets
    assert check.mean_kw < 18
    (message,) = [w.message for w in found.warnings if "fouls" in w.message]
    assert message.startswith(f"Class G60 with crew 1: average load {check.mean_kw:.1f} kW is ")
    quiet = estimate(job(machines=(machine(facer_kw=0.5, pump_kw=0.5),), site_load_kw=3.0))
    assert quiet.fleet.sets[0].mean_kw > 0.3 * 15
    assert not [w for w in quiet.warnings if "fouls" in w.message]


def test_a_job_in_si_units_has_machines_of_50_hz_and_its_list_begins_with_them():
    """Not 115, 208 or 460 V: 110 V from a site transformer, 230 V and 400 V."""
    rows = table_rows("machines", "SI", None)
    assert {row["supply"] for row in rows} == {
        "1-ph 110 V site", "1-ph 230 V 50 Hz", "3-ph 400 V 50 Hz"
    }  # fmt: skip
    field = next(f for f in fields("machines") if f.key == "supply")
    offered = {system: rules.choices(field, system) for system in ("US", "SI")}
    assert offered["SI"][:3] == ["1-ph 230 V 50 Hz", "3-ph 400 V 50 Hz", "1-ph 110 V site"]
    assert offered["US"] == list(field.allowed)
    assert set(offered["SI"]) == set(field.allowed)
    assert rules.validation(field, "SI", "N7")["source"] == offered["SI"]
