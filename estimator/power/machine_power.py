"""What one machine asks of its generator and of the cable to it."""

import math
from typing import Any

from estimator.display import UnitSystem
from estimator.errors import OutsideStandardError
from estimator.models.equipment import Machine
from estimator.models.job import Job
from estimator.models.job_inputs import PowerInputs
from estimator.models.power import PowerNeed
from estimator.power.cables import Current, choose_cable, wires
from estimator.power.generator import deciding, site_share, usual_kind
from estimator.power.load import electric_load, heater_duty, mean_load_kw, warm_up_min
from estimator.power.motors import Supply, motor_current, supply_named

OWN_POWER = "onboard power: no cable"
NO_SUPPLY = "no power supply on the Machines sheet: current and cable not calculated"
TOO_LONG = "use parallel or larger conductors: the thickest wire listed drops more than allowed"


def machine_current(machine: Machine, power: PowerInputs, supply: Supply) -> Current:
    """Return the current in each line to one machine with heater, facer and pump on.

    Motors by the tables for the next listed size up, or from their kW where the supply has no
    table, at the running power factor; the heater at a power factor of 1 and spread evenly over
    the lines.

    Raises
    ------
    OutsideStandardError
        If a motor is larger than the table lists for this supply.
    """
    motors_a = sum(motor_current(kw, supply, power) for kw in (machine.facer_kw, machine.pump_kw))
    lagging = math.sin(math.acos(power.motor_power_factor))
    return Current(
        active_a=supply.amps(machine.heater_kw) + motors_a * power.motor_power_factor,
        reactive_a=motors_a * lagging,
    )


def _cable(machine: Machine, power: PowerInputs, system: UnitSystem) -> dict[str, Any]:
    """Return the current and cable fields of ``PowerNeed``."""
    if machine.self_powered:
        return {"cable_note": OWN_POWER}
    if machine.supply is None:
        return {"cable_note": NO_SUPPLY}
    supply = supply_named(machine.supply)
    try:
        current = machine_current(machine, power, supply)
    except OutsideStandardError as error:
        return {"cable_note": f"no cable: {error}"}
    cable = choose_cable(wires(system), current, power.cable_length_m, supply, power.cable_drop)
    return {
        "current_a": current.total_a,
        "cable": cable.wire,
        "cable_drop": cable.drop,
        "cable_note": "" if cable.fits else TOO_LONG,
    }


def power_need(
    machine: Machine,
    job: Job,
    heater_target_c: float,
    joint_kw: float = 0.0,
    coldest_c: float | None = None,
) -> PowerNeed:
    """Return what one machine asks of a usual generator, with the site load beside it.

    Parameters
    ----------
    machine : Machine
        The machine class.
    job : Job
        Site, shift, motors, cable and margin.
    heater_target_c : float
        Working temperature of the heater [C].
    joint_kw : float, optional
        Mean heat that the joints take from the heater [kW].
    coldest_c : float, optional
        Ambient from which the heater warms up [C]; None: that of the job.

    Returns
    -------
    PowerNeed

    Raises
    ------
    OutsideStandardError
        If nothing is left of a generator's output at the site.
    """
    load, kind = electric_load(machine, job.power), usual_kind()
    from_c = job.site.ambient_c if coldest_c is None else coldest_c
    warm = warm_up_min(machine.plate_mass_kg, machine.heater_kw, from_c, heater_target_c)
    duty = heater_duty(machine, job.shift, job.power, warm, joint_kw)
    letter = machine.motor_letter
    return PowerNeed(
        running_kw=load.running_kw,
        running_kva=load.running_kva,
        starting_kw=load.starting_kw,
        motor_start_kva=load.motor_start_kva,
        start_rule=f"letter {letter}" if letter else f"{job.power.motor_start_multiple:g} x load",
        derating=site_share(kind, job.site, job.power),
        rated_needed_kw=deciding(load, kind, job.site, job.power).needed_kw,
        warm_up_min=warm,
        joint_duty_kw=joint_kw,
        heater_duty=duty,
        mean_kw=mean_load_kw(machine, job.power, duty),
        **_cable(machine, job.power, job.cover.unit_system),
    )
