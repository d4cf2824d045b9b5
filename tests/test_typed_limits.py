"""A limit typed as the very value that it is compared with holds, in every unit and size.

Outside diameters in inches are those of ASTM F714 (IPS and DIPS), as the size table prints them.
"""

import pytest

from estimator.joint.cycle import cold_factor, size_band
from estimator.joint.geometry import list_sizes, pipe_od_mm
from estimator.joint.machines import Demand, Spot, gauge_range, holds, obstacle
from estimator.models.crew import ColdFactor
from estimator.pipeline import estimate
from estimator.units import at_least, at_most, from_si, to_si
from tests.jobs import job, machine, run, size_bands

INCH_SIZES = [(system, size) for system in ("IPS", "DIPS", "CTS") for size in list_sizes(system)]


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
