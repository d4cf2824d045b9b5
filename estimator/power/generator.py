"""One generator class against a load: output, voltage dip at motor start, fuel."""

from collections.abc import Sequence
from typing import NamedTuple

from estimator.models.equipment import Generator
from estimator.models.job_inputs import PowerInputs, SiteInputs
from estimator.models.power import EngineKind
from estimator.power.derating import output_left
from estimator.power.load import Load
from estimator.standards import tables
from estimator.steps.kinds import Share
from estimator.steps.marks import greatest
from estimator.steps.recorder import step
from estimator.units import at_most

QUARTER, HALF, FULL = 0.25, 0.5, 1.0


class SetKind(NamedTuple):
    """What of a generator class, besides its size, decides how much it carries."""

    power_factor: float
    reactance: float
    engine: EngineKind


class Check(NamedTuple):
    """One check of a set: what it is called, and the rated output that it asks for."""

    name: str
    needed_kw: float


def usual_kind() -> SetKind:
    """Return the kind of set that the Generators sheet takes where it says nothing."""
    known = Generator.model_fields
    return SetKind(
        power_factor=known["power_factor"].default,
        reactance=known["reactance"].default,
        engine=known["engine"].default,
    )


def kind_of(item: Generator) -> SetKind:
    """Return the kind of one generator class."""
    return SetKind(item.power_factor, item.reactance, item.engine)


def site_share(kind: SetKind, site: SiteInputs, power: PowerInputs) -> float:
    """Return the share of its rated output that a set has left at the site of the job."""
    return output_left(power.derating_rule, kind.engine, site.elevation_m, site.ambient_c)


def voltage_dip(kind: SetKind, rated_kw: float, motor_start_kva: float) -> float:
    """Return the share of the voltage that is lost at the terminals when a motor starts.

    The motor at rest and the transient reactance of the alternator divide the voltage:
    ``dip = X' S / (R + X' S)``, with S the motor's starting kVA and R the rated kVA. Both are
    taken as pure reactances and the regulator as too slow to help, which is the careful side.

    Parameters
    ----------
    kind : SetKind
        Power factor and transient reactance by rating.
    rated_kw : float
        Rated output [kW], above 0.
    motor_start_kva : float
        Apparent power of the motor at rest [kVA].

    Returns
    -------
    float
        Share, 0 to 1.

    Examples
    --------
    >>> round(voltage_dip(SetKind(0.8, 0.2, "naturally aspirated"), 40.0, 70.9), 4)
    0.2209
    """
    lost = kind.reactance * motor_start_kva * kind.power_factor / rated_kw
    return lost / (1 + lost)


@step("Rating for {check}", "load with its margin / percent of the rating left at the site")
def rating_kw(check: str, load_kw: float, margin: Share, output_left: Share) -> float:
    """Return the rated output that a load asks for [kW]."""
    return load_kw * (1 + margin) / output_left


@step("Rating for {check}", "at which the voltage loses just what is allowed")
def rating_at_dip_kw(check: str, reactance: float, motor_start_kw: float, dip: Share) -> float:
    """Return the rated output that a motor at rest asks for [kW]."""
    return reactance * motor_start_kw * (1 - dip) / dip


def checks(load: Load, kind: SetKind, site: SiteInputs, power: PowerInputs) -> tuple[Check, ...]:
    """Return every check of a kind of set, each with the rated output [kW] that it asks for.

    Load and apparent power carry the margin; dip is turned round: the rating at which the
    voltage loses just what is allowed.
    """
    share, margin = site_share(kind, site, power), power.generator_margin
    apparent_kw = load.running_kva * kind.power_factor
    start_kw = load.motor_start_kva * kind.power_factor
    by_load = (
        ("running load with margin", load.running_kw, margin),
        ("running kVA with margin", apparent_kw, margin),
        ("load at motor start", load.starting_kw, 0.0),
    )
    dip = "voltage dip at motor start"
    return (
        *(Check(name, rating_kw(name, load_kw, more, share)) for name, load_kw, more in by_load),
        Check(dip, rating_at_dip_kw(dip, kind.reactance, start_kw, power.start_dip)),
    )


def deciding(load: Load, kind: SetKind, site: SiteInputs, power: PowerInputs) -> Check:
    """Return the check that asks for the largest set, the first of equals."""
    return hardest_of(checks(load, kind, site, power))


def hardest_of(found: Sequence[Check]) -> Check:
    """Return the check that asks for the largest set, the first of equals."""
    return max(found, key=lambda check: check.needed_kw)


def smallest_set(
    generators: Sequence[Generator],
    quantity: int,
    loads: Sequence[Load],
    site: SiteInputs,
    power: PowerInputs,
) -> Generator | None:
    """Return the smallest class that passes every check of every load and has enough in stock.

    The cheaper of equals; None if there is none.
    """

    def carries(item: Generator) -> bool:
        hardest = (deciding(load, kind_of(item), site, power) for load in loads)
        return all(at_most(check.needed_kw, item.rated_kw) for check in hardest)

    fit = [item for item in generators if item.stock >= quantity and carries(item)]
    return min(fit, key=lambda item: (item.rated_kw, item.four_week_rate.amount), default=None)


@step("Consumption of one", "along the line of its figures, at least what idling takes")
def burn_l_h(
    load_share: Share, low: Share, low_l_h: float, high: Share, high_l_h: float, idling_l_h: float
) -> float:
    """Return what a set burns between two of its figures [L/h]."""
    line = low_l_h + (high_l_h - low_l_h) * (load_share - low) / (high - low)
    return greatest(line, idling_l_h)


def fuel_l_h(item: Generator, load_kw: float) -> float:
    """Return what a set burns at a load.

    Straight lines through its figures: quarter and half load up to half load, where the quarter
    is given, half and full load otherwise and above. Never less than the idling share of its
    figure at full load (``power_practice.csv``).

    Parameters
    ----------
    item : Generator
        The class, with its fuel at part load.
    load_kw : float
        Load [kW], 0 up to the rated output.

    Returns
    -------
    float
        Fuel [L/h].

    Raises
    ------
    OutsideStandardError
        If the load is above the rated output.
    """
    source = f"rated output of {item.class_id}"
    tables.require("generator load [kW]", load_kw, 0.0, item.rated_kw, source)
    part = load_kw / item.rated_kw
    low, high = (HALF, item.fuel_half_l_h), (FULL, item.fuel_full_l_h)
    if item.fuel_quarter_l_h is not None and part < HALF:
        low, high = (QUARTER, item.fuel_quarter_l_h), low
    idle = tables.find_row("power_practice", "quantity", "idle_fuel_share")
    return burn_l_h(part, *low, *high, tables.number(idle, "value") * item.fuel_full_l_h)
