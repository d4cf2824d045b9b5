"""Electrical load of a fusion machine, heater warm-up, and the generator that carries it."""

from collections.abc import Sequence

from estimator.errors import OutsideStandardError
from estimator.models.job import Generator, JobFacts, Machine
from estimator.models.plan import PowerNeed
from estimator.standards import tables


def warm_up_min(plate_mass_kg: float, heater_kw: float, ambient_c: float, target_c: float) -> float:
    """Return the minutes to bring a heater plate from ambient to working temperature.

    ``t = m c dT / (P eta)`` with the plate's specific heat and the share of heater power that
    reaches the plate from ``heater_plate.csv``.
    """
    row = tables.load("heater_plate")[0]
    heat_kj = plate_mass_kg * float(row["specific_heat_kj_kg_k"] or 0) * (target_c - ambient_c)
    return heat_kj / (heater_kw * float(row["efficiency"] or 1)) / 60


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
        steps = max(0.0, value - float(row["above"] or 0)) / float(row["step"] or 1)
        share *= 1 - float(row["loss_per_step"] or 0) * steps
    if share <= 0:
        raise OutsideStandardError("generator output left", share, 0, 1, "generator_derating")
    return share


def power_need(machine: Machine, facts: JobFacts, heater_target_c: float) -> PowerNeed:
    """Return what one machine asks of its generator.

    Running load is heater, facer, pump and site load together. Starting load adds the largest
    motor's step. The rated output needed covers the running load with its margin and the
    starting load, each at the site's derating.
    """
    running = machine.heater_kw + machine.facer_kw + machine.pump_kw + facts.site_load
    largest_motor = max(machine.facer_kw, machine.pump_kw)
    starting = running + (facts.motor_start_multiple - 1) * largest_motor
    share = derating(facts.elevation, facts.ambient)
    return PowerNeed(
        running_kw=running,
        starting_kw=starting,
        derating=share,
        rated_needed_kw=max(running * (1 + facts.generator_margin), starting) / share,
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
