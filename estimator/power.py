"""Electrical load of a fusion machine, heater warm-up, and the generator that carries it."""

from collections.abc import Sequence
from dataclasses import dataclass

from estimator.errors import OutsideStandardError
from estimator.models.job import Generator, JobFacts, Machine
from estimator.models.plan import PowerNeed
from estimator.standards import tables
from estimator.units import MIN_S


@dataclass(frozen=True)
class Consumers:
    """Electrical parts of a fusion machine, each in kW."""

    heater_kw: float
    facer_kw: float
    pump_kw: float


@dataclass(frozen=True)
class Site:
    """What sizes a generator, for a question without a job. Elevation m, ambient C, load kW."""

    elevation: float
    ambient: float
    generator_margin: float
    motor_start_multiple: float
    site_load: float = 0.0


@dataclass(frozen=True)
class Load:
    """Electrical load while running and at the start of the largest motor, in kW."""

    running_kw: float
    starting_kw: float


def _plate_heat_kj(plate_mass_kg: float, ambient_c: float, target_c: float) -> float:
    row = tables.load("heater_plate")[0]
    heat_kj = plate_mass_kg * tables.number(row, "specific_heat_kj_kg_k") * (target_c - ambient_c)
    return heat_kj / tables.number(row, "efficiency")


def warm_up_min(plate_mass_kg: float, heater_kw: float, ambient_c: float, target_c: float) -> float:
    """Return the minutes to bring a heater plate from ambient to working temperature.

    ``t = m c dT / (P eta)`` with the plate's specific heat and the share of heater power that
    reaches the plate from ``heater_plate.csv``.
    """
    return _plate_heat_kj(plate_mass_kg, ambient_c, target_c) / heater_kw / MIN_S


def heater_kw(plate_mass_kg: float, warm_up_min: float, ambient_c: float, target_c: float) -> float:
    """Return the heater power that brings a plate to temperature in a given time.

    ``P = m c dT / (t eta)``; the reverse of ``warm_up_min``.

    Parameters
    ----------
    plate_mass_kg : float
        Mass of the heater plate [kg].
    warm_up_min : float
        Time allowed [min], above 0.
    ambient_c, target_c : float
        Air and working temperature [C].

    Returns
    -------
    float
        Power [kW].

    References
    ----------
    ``heater_plate.csv``.
    """
    return _plate_heat_kj(plate_mass_kg, ambient_c, target_c) / (warm_up_min * MIN_S)


def derating(elevation_m: float, ambient_c: float) -> float:
    """Return the share of rated output that is left at this elevation and air temperature.

    Each rule of ``generator_derating.csv`` takes a share for every step above its limit,
    steps counted in part; the shares multiply.

    Raises
    ------
    OutsideStandardError
        If nothing would be left.
    """
    share = 1.0
    for row in tables.load("generator_derating"):
        value = elevation_m if row["quantity"] == "elevation_m" else ambient_c
        steps = max(0.0, value - tables.number(row, "above")) / tables.number(row, "step")
        left = 1 - tables.number(row, "loss_per_step") * steps
        if left <= 0:
            raise OutsideStandardError("generator output left", left, 0, 1, "generator_derating")
        share *= left
    return share


def electric_load(machine: Machine | Consumers, facts: JobFacts | Site) -> Load:
    """Return the load of one machine and the site load beside it.

    Running load is heater, facer, pump and site load together. Starting load adds the largest
    motor's step.
    """
    running = machine.heater_kw + machine.facer_kw + machine.pump_kw + facts.site_load
    largest_motor = max(machine.facer_kw, machine.pump_kw)
    return Load(running, running + (facts.motor_start_multiple - 1) * largest_motor)


def rated_output_kw(load: Load, facts: JobFacts | Site) -> float:
    """Return the rated output that a generator needs.

    It covers the running load with its margin and the starting load, each at the site's
    derating.
    """
    at_site = max(load.running_kw * (1 + facts.generator_margin), load.starting_kw)
    return at_site / derating(facts.elevation, facts.ambient)


def power_need(machine: Machine, facts: JobFacts, heater_target_c: float) -> PowerNeed:
    """Return what one machine asks of its generator."""
    load = electric_load(machine, facts)
    return PowerNeed(
        running_kw=load.running_kw,
        starting_kw=load.starting_kw,
        derating=derating(facts.elevation, facts.ambient),
        rated_needed_kw=rated_output_kw(load, facts),
        warm_up_min=warm_up_min(
            machine.plate_mass, machine.heater_kw, facts.ambient, heater_target_c
        ),
    )


def choose_generator(
    generators: Sequence[Generator], rated_needed_kw: float, quantity: int
) -> Generator | None:
    """Return the smallest set that is rated high enough and in stock, None if there is none."""
    fit = [g for g in generators if g.rated_kw >= rated_needed_kw and g.stock >= quantity]
    return min(fit, key=lambda g: (g.rated_kw, g.four_week_rate.amount), default=None)
