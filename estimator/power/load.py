"""Electrical load of a fusion machine, and what its heater takes over a shift."""

import math
from collections.abc import Callable
from dataclasses import field

from estimator.data_class import dataclass
from estimator.models.equipment import Machine
from estimator.models.job_inputs import PowerInputs, ShiftInputs
from estimator.power.derating import derating
from estimator.power.motors import locked_rotor_kva
from estimator.standards import tables
from estimator.steps.kinds import Share, Time
from estimator.steps.marks import least
from estimator.steps.recorder import step
from estimator.units import HOUR_MIN, MIN_S


def _default(key: str) -> Callable[[], float]:
    """Return what gives the default of an input of the Job sheet."""
    return lambda: float(PowerInputs.model_fields[key].default)


@dataclass(frozen=True)
class Consumers:
    """Electrical parts of a fusion machine, each in kW; motors by their output."""

    heater_kw: float
    facer_kw: float
    pump_kw: float
    motor_letter: str | None = None


@dataclass(frozen=True)
class Site:
    """What sizes a generator, for a question without a job. Elevation m, ambient C, load kW."""

    elevation_m: float
    ambient_c: float
    generator_margin: float
    motor_start_multiple: float
    site_load_kw: float = 0.0
    motor_efficiency: float = field(default_factory=_default("motor_efficiency"))
    motor_power_factor: float = field(default_factory=_default("motor_power_factor"))
    motor_start_power_factor: float = field(default_factory=_default("motor_start_power_factor"))


@dataclass(frozen=True)
class Load:
    """Electrical load while running and at the start of the largest motor.

    ``starting_kw`` is the whole load while that motor starts, ``motor_start_kva`` what it draws
    alone.
    """

    running_kw: float
    running_kva: float
    starting_kw: float
    motor_start_kva: float


def _plate_heat_kj(plate_mass_kg: float, ambient_c: float, target_c: float) -> float:
    row = tables.load("heater_plate")[0]
    heat_kj = plate_mass_kg * tables.number(row, "specific_heat_kj_kg_k") * (target_c - ambient_c)
    return heat_kj / tables.number(row, "efficiency")


@step(
    "Heater warm-up",
    "plate mass x specific heat x rise / percent that reaches the plate / heater power",
)
def warm_up_s(plate_mass_kg: float, heater_kw: float, ambient_c: float, target_c: float) -> Time:
    """Return the seconds to bring a heater plate from ambient to working temperature."""
    return _plate_heat_kj(plate_mass_kg, ambient_c, target_c) / heater_kw


def warm_up_min(plate_mass_kg: float, heater_kw: float, ambient_c: float, target_c: float) -> float:
    """Return the minutes to bring a heater plate from ambient to working temperature.

    ``t = m c dT / (P eta)`` with the plate's specific heat and the share of heater power that
    reaches the plate from ``heater_plate.csv``.
    """
    return warm_up_s(plate_mass_kg, heater_kw, ambient_c, target_c) / MIN_S


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


@step("Heater duty", "all of its power in the warm-up, then what it loses and what the joints take")
def heater_duty(
    machine: Machine,
    shift: ShiftInputs,
    power: PowerInputs,
    warm_up_min: float,
    joint_kw: float,
) -> Share:
    """Return the share of the shift in which a heater draws its full power.

    It draws all of it during the warm-up, then what holds its temperature and what the joints
    take, never more than all of it.

    Parameters
    ----------
    machine : Machine
        The machine class.
    shift : ShiftInputs
        The shift.
    power : PowerInputs
        The share of the heater's power that is lost.
    warm_up_min : float
        Warm-up at the start of the shift [min].
    joint_kw : float
        Mean heat into the joints [kW].

    Returns
    -------
    float
        Share, 0 to 1.

    Examples
    --------
    A warm-up of 30 min in 10 h, then 40 % of the power: 0.05 + 0.95 x 0.4 = 0.43.
    """
    warm = least(1.0, warm_up_min / (shift.engine_hours * HOUR_MIN))
    holding = least(1.0, power.heater_loss_share + joint_kw / machine.heater_kw)
    return warm + (1 - warm) * holding


@step(
    "Average load of a shift", "heaters by their duty + motors by their percent at work + site load"
)
def mean_load_kw(
    machine: Machine, power: PowerInputs, heater_duty: Share, machines: int = 1
) -> float:
    """Return the mean load of a shift.

    ``machines x (heater x duty + motors x share at work / efficiency) + site load``

    Parameters
    ----------
    machine : Machine
        The machine class.
    power : PowerInputs
        Motors and site load.
    heater_duty : float
        Share of the shift in which a heater draws its full power.
    machines : int, optional
        Machines on one generator.

    Returns
    -------
    float
        Load [kW].
    """
    motors = (machine.facer_kw + machine.pump_kw) / power.motor_efficiency
    one = machine.heater_kw * heater_duty + motors * power.motor_running_share
    return machines * one + power.site_load_kw


@step("Motors running", "facers and pumps of the machines on one generator / efficiency")
def motors_kw(machine: Machine | Consumers, power: PowerInputs | Site, machines: int) -> float:
    """Return what the motors draw together while they run [kW]."""
    return machines * (machine.facer_kw + machine.pump_kw) / power.motor_efficiency


@step("Running load", "heaters + motors + site load")
def running_kw(
    machine: Machine | Consumers, motors_kw: float, power: PowerInputs | Site, machines: int
) -> float:
    """Return the load with everything on [kW]."""
    return machines * machine.heater_kw + motors_kw + power.site_load_kw


@step("Load at motor start", "running load - the largest motor + what it draws at its start")
def starting_kw(running_kw: float, largest_motor_kw: float, at_its_start_kw: float) -> float:
    """Return the load while the largest motor starts and all else runs [kW]."""
    return running_kw - largest_motor_kw + at_its_start_kw


def electric_load(
    machine: Machine | Consumers, power: PowerInputs | Site, machines: int = 1
) -> Load:
    """Return the load of machines of one class and the site load beside them.

    Running load is heater, facer, pump and site load together; heaters and site load at a power
    factor of 1. While the largest motor of one machine starts, all else runs: it draws the kVA
    of its code letter at the starting power factor, or, without a letter, its running load
    times the start multiple.

    Parameters
    ----------
    machine : Machine or Consumers
        One machine; its motors by their output.
    power : PowerInputs or Site
        Efficiency and power factor of motors, site load.
    machines : int, optional
        Machines on one generator.

    Returns
    -------
    Load

    References
    ----------
    NFPA 70, 430.7(B).
    """
    motors = motors_kw(machine, power, machines)
    running = running_kw(machine, motors, power, machines)
    lagging = math.tan(math.acos(power.motor_power_factor))
    largest = max(machine.facer_kw, machine.pump_kw)
    drawn_kw = largest / power.motor_efficiency
    start_kw = power.motor_start_multiple * drawn_kw
    start_kva = start_kw / power.motor_power_factor
    if machine.motor_letter:
        start_kva = locked_rotor_kva(largest, machine.motor_letter)
        start_kw = max(drawn_kw, start_kva * power.motor_start_power_factor)
    return Load(
        running_kw=running,
        running_kva=math.hypot(running, motors * lagging),
        starting_kw=starting_kw(running, drawn_kw, start_kw),
        motor_start_kva=start_kva,
    )


def rated_output_kw(load: Load, site: Site) -> float:
    """Return the rated output that a generator needs for its load in kW, by the step rule.

    It covers the running load with its margin and the starting load, each at the site's
    derating.
    """
    at_site = max(load.running_kw * (1 + site.generator_margin), load.starting_kw)
    return at_site / derating(site.elevation_m, site.ambient_c)
