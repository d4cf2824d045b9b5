"""A limit typed as the very value that it is compared with holds, in every unit and size.

Outside diameters in inches are those of ASTM F714 (IPS and DIPS), as the size table prints them.
"""

import re
from math import ceil, floor

import pytest

from estimator.display import show_apart, unit_of
from estimator.errors import EstimatorError
from estimator.joint.cycle import cold_factor, size_band
from estimator.joint.geometry import list_sizes, pipe_od_mm
from estimator.joint.machines import Demand, Spot, gauge_range, holds, obstacle
from estimator.models.crew import ColdFactor
from estimator.pipeline import estimate
from estimator.units import OD_SLACK_MM, at_least, at_most, from_si, to_si
from estimator.workbook.book import parse_workbook
from tests.jobs import job, machine, run, size_bands
from tests.workbook_factory import WorkbookFactory, rented

OD_SYSTEMS = ("IPS", "DIPS", "CTS", "ISO")
LARGEST_IN = 65.0
"""The largest diameter that ASTM F2620 has beads for."""
INCH_SIZES = [(system, size) for system in OD_SYSTEMS[:3] for size in list_sizes(system)]


def typed(value: float, unit: str) -> float:
    """The SI value as it comes back when a user types it, to six decimals, in a unit."""
    return to_si(round(from_si(value, unit), 6), unit)


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_every_inch_size_keeps_a_limit_typed_as_its_own_diameter(unit):
    bands = size_bands()
    refused = []
    for system, size in INCH_SIZES:
        od_mm = pipe_od_mm(system, size)
        limit = typed(od_mm, unit)
        last = [bands[0].model_copy(update={"od_to_mm": limit})]
        exact = machine(od_min_mm=limit, od_max_mm=limit)
        if not holds(exact, od_mm) or size_band(od_mm, last) != bands[0].band:
            refused.append(f"{system} {size}")
    assert refused == []


def test_a_limit_a_thousandth_of_an_inch_away_is_missed():
    od_mm = to_si(12.75, "in")
    assert not holds(machine(od_min_mm=10.0, od_max_mm=to_si(12.749, "in")), od_mm)
    assert not holds(machine(od_min_mm=to_si(12.751, "in"), od_max_mm=900.0), od_mm)


def test_gauge_limits_typed_as_the_pressures_themselves_hold():
    sized = estimate(job(run())).runs[0]
    free = machine()
    low, _, high = gauge_range(free, sized.geometry, sized.fusion, 0.3)
    exact = machine(min_gauge_mpa=typed(low, "psi"), max_gauge_mpa=typed(high, "psi"))
    spot, demand = Spot("any"), Demand(0.3)
    assert obstacle(exact, spot, sized.geometry, sized.fusion, demand) is None
    over = machine(max_gauge_mpa=typed(high, "psi") * 0.999)
    assert "max gauge" in obstacle(over, spot, sized.geometry, sized.fusion, demand).text


def test_a_temperature_typed_in_fahrenheit_reaches_its_row():
    for fahrenheit in range(-20, 121):
        rows = [ColdFactor(from_c=-60.0, factor=2.0),
                ColdFactor(from_c=to_si(fahrenheit, "F"), factor=1.0)]  # fmt: skip
        shown = round(to_si(fahrenheit, "F"), 12)
        assert cold_factor(shown, rows) == 1.0, fahrenheit


@pytest.mark.parametrize(("unit", "kind"), [("lb", "load"), ("kW", "power"), ("hp", "power")])
def test_loads_and_powers_typed_to_the_last_digit_hold(unit, kind):
    for hundredths in range(1, 4000, 7):
        value = to_si(hundredths / 100, unit)
        assert at_most(value, typed(value, unit)), kind
        assert at_least(value, typed(value, unit)), kind


def book(system, **tables):
    """A workbook of one 8 in run, its equipment and bands as wide as they come, of nothing else."""
    made = WorkbookFactory(system=system)
    for table in ("scenarios", "overtime", "holds", "other_costs", "fitting_prices", "risk"):
        made.tables[table] = []
    wide = {"od_min_mm": in_unit(1.5, system, "small_length"), "drive": "hydraulic",
            "od_max_mm": in_unit(2900.0, system, "small_length"), "placements": "any",
            "piston_area_mm2": in_unit(3000.0, system, "area"),
            "min_gauge_mpa": in_unit(0.1, system, "pressure"),
            "max_gauge_mpa": in_unit(90.0, system, "pressure"), "heater_kw": 3.5,
            "plate_mass_kg": 45, "facer_kw": 1.1, "pump_kw": 1.5,
            "self_powered": "no"}  # fmt: skip
    made.tables |= {
        "schedule": [pipe("IPS", "8")],
        "machines": [rented("M", 95, **wide)],
        "generators": [rented("G", 80, rated_kw=90, fuel_half_l_h=3, fuel_full_l_h=6)],
        "lifting": [rented("L", 310, capacity_kg=90_000, fuel_rate_l_h=2)],
        "size_bands": [{"band": band, "size_change_min": 20,
                        "od_to_mm": in_unit(2900.0 + n, system, "small_length")}
                       for n, band in enumerate("ABCDE")],
    }  # fmt: skip
    for table, changes in tables.items():
        made.tables[table][0] |= changes
    return made


def in_unit(value, system, kind):
    return from_si(value, unit_of(kind, system))


def pipe(od_system, size, **changes):
    return {"run_id": f"{od_system} {size}", "od_system": od_system, "size": size, "dr": 17,
            "segments_m": 400, "stick_length_m": 40, "placement": "trench", **changes}  # fmt: skip


def estimated(made):
    found = parse_workbook(made.build())
    return estimate(found.job, found.places)


def refused(made):
    with pytest.raises(EstimatorError) as error:
        estimated(made)
    return str(error.value)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_every_size_is_joined_on_a_machine_typed_for_it_alone(system):
    """From and to are the diameter of the size as the pages show it, to 0.001 in or mm."""
    made = book(system)
    sizes = [(name, size) for name in OD_SYSTEMS for size in list_sizes(name)
             if pipe_od_mm(name, size) <= to_si(LARGEST_IN, "in")]  # fmt: skip
    made.tables["schedule"] = [pipe(*size, segments_m=80, dr=7.3) for size in sizes[:-20]]
    made.tables["schedule"] += [pipe(*size, segments_m=80) for size in sizes[-20:]]
    (wide,) = made.tables["machines"]
    wide |= {"drive": "manual", "min_gauge_mpa": None, "max_gauge_mpa": None}
    made.tables["machines"] = []
    for name, size in sizes:
        shown = round(in_unit(pipe_od_mm(name, size), system, "small_length"), 3)
        made.tables["machines"].append(
            wide | {"class_id": f"{name} {size}", "od_min_mm": shown, "od_max_mm": shown}
        )
    found = estimated(made)
    assert len(found.runs) == len(sizes)
    for one in found.runs:
        name, size = one.machine.class_id.split(" ")
        assert pipe_od_mm(name, size) == pytest.approx(one.geometry.od_mm, abs=2 * OD_SLACK_MM)


def limits_of(system):
    """Return every kind of limit: table, column, unit, and the figure that it must let pass."""
    found = estimated(book(system))
    low, _, high = found.runs[0].machine.gauge_mpa
    needs = {span.kind: span.why.need for span in found.fleet.spans}
    od_mm = found.runs[0].geometry.od_mm
    return [
        ("machines", "od_max_mm", "small_length", od_mm, -1),
        ("machines", "od_min_mm", "small_length", od_mm, 1),
        ("machines", "max_gauge_mpa", "pressure", high, -1),
        ("machines", "min_gauge_mpa", "pressure", low, 1),
        ("lifting", "capacity_kg", "mass", needs["lifting"], -1),
        ("generators", "rated_kw", "power", needs["generator"], -1),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_every_limit_of_equipment_typed_to_six_digits_holds(system):
    """A digit more or less in the fourth decimal of it is another limit, and is refused in words
    in which the two differ."""
    for table, key, kind, need, side in limits_of(system):
        exact = in_unit(need, system, kind)
        typed_in = round(exact, 6) - side * 1e-6
        assert estimated(book(system, **{table: {key: typed_in}})).runs, (table, key)
        message = refused(book(system, **{table: {key: exact * (1 + side * 2e-4)}}))
        numbers = set(re.findall(r"[\d,.]*\d (?:in|mm|psi|bar|lb|kg|kW)\b", message))
        assert len(numbers) >= 2, (table, key, message)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_limit_typed_with_the_digits_of_the_page_differs_from_what_is_needed(system):
    """Gauge 0.27 for 0.2743 MPa: "needs 2.74 bar", not "needs 2.7 bar, max 2.7 bar"."""
    for table, key, kind, need, side in limits_of(system)[2:]:
        step = 10.0 if in_unit(need, system, kind) >= 100 else 0.1
        exact = in_unit(need, system, kind)
        shown = (floor if side < 0 else ceil)(exact / step) * step
        message = refused(book(system, **{table: {key: shown}}))
        numbers = set(re.findall(r"[\d,.]*\d (?:in|mm|psi|bar|lb|kg|kW)\b", message))
        assert len(numbers) >= 2, (table, key, message)


@pytest.mark.parametrize(("system", "coldest"), [("US", 23.5), ("SI", -4.7)])
def test_bands_and_temperatures_typed_as_the_values_themselves_hold(system, coldest):
    for size in ("8", "12", "24"):
        made = book(system)
        od_mm = pipe_od_mm("IPS", size)
        shown = round(in_unit(od_mm, system, "small_length"), 3)
        made.tables["schedule"] = [pipe("IPS", size)]
        made.tables["size_bands"][0]["od_to_mm"] = shown
        made.tables["cold_factors"] = [{"from_c": -60, "factor": 3},
                                       {"from_c": coldest, "factor": 1}]  # fmt: skip
        made.named["job"] |= {"ambient_c": coldest}
        (one,) = estimated(made).runs
        assert one.cycle.band == "A"
        assert cold_factor(one.timing.ambient_c, parse_workbook(made.build()).job.cold_factors) == 1


def test_needs_and_limits_are_shown_apart():
    """0.2743 MPa is 2.743 bar; 412.4 and 412 psi are 2.8434 and 2.8406 MPa."""
    assert show_apart(0.2743, 0.27, "pressure", "SI") == ("2.74 bar", "2.7 bar")
    assert show_apart(2.84340, 2.84064, "pressure", "US") == ("412.4 psi", "412 psi")
    assert show_apart(1.0, 2.0, "power", "US") == ("1 kW", "2 kW")
