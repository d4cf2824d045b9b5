"""Copper cable from the generator to the machine, by voltage drop alone."""

import math
from collections.abc import Sequence
from functools import cache

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.power.motors import THREE_PHASES, Supply
from estimator.standards import tables
from estimator.standards.tables import Row
from estimator.units import KFT_M

OUT_AND_BACK = 2
COLD_C, KM_M = 20.0, 1000.0


@dataclass(frozen=True)
class Current:
    """Current in one line [A]: the part in step with the voltage, and the part that lags."""

    active_a: float
    reactive_a: float

    @property
    def total_a(self) -> float:
        """Current that an ammeter shows."""
        return math.hypot(self.active_a, self.reactive_a)


@dataclass(frozen=True)
class Wire:
    """A size of copper wire with what one conductor resists in use."""

    name: str
    ohm_r_m: float
    ohm_x_m: float


@dataclass(frozen=True)
class Cable:
    """A wire and the share of the voltage that it loses; ``fits`` if that is allowed."""

    wire: str
    drop: float
    fits: bool


@cache
def wires(system: UnitSystem) -> tuple[Wire, ...]:
    """Return the wires from thin to thick: gauges in US units, square millimeters in SI.

    Gauges in PVC conduit at 60 Hz and 75 C; square millimeters of flexible conductors (class 5)
    at 50 Hz and the temperature in use, ``R = R20 (1 + a (T - 20))``.

    References
    ----------
    NFPA 70, Chapter 9 Table 9: ``copper_ac.csv``. IEC 60228: ``copper_iec.csv``,
    ``power_practice.csv``.
    """
    if system == "US":
        return tuple(of_gauge(row) for row in tables.load("copper_ac"))
    hot = 1 + _practice("copper_per_k") * (_practice("copper_hot_c") - COLD_C)
    reactance = _practice("cable_x_ohm_km") / KM_M
    return tuple(
        Wire(
            f"{tables.number(row, 'area_mm2'):g} mm2",
            tables.number(row, "r_ohm_km") * hot / KM_M,
            reactance,
        )
        for row in tables.load("copper_iec")
    )


def of_gauge(row: Row) -> Wire:
    """Return a wire of a row of ``copper_ac.csv``, in PVC conduit."""
    ohm_r, ohm_x = (tables.number(row, f"{part}_pvc_ohm_kft") / KFT_M for part in ("r", "x"))
    return Wire(f"{row['awg']} AWG", ohm_r, ohm_x)


def _practice(quantity: str) -> float:
    return tables.number(tables.find_row("power_practice", "quantity", quantity), "value")


def drop_share(wire: Wire, current: Current, length_m: float, supply: Supply) -> float:
    """Return the share of the supply's voltage that a cable loses.

    ``2 I L (R cos phi + X sin phi)`` on one phase, with root 3 in place of 2 on three.

    Parameters
    ----------
    wire : Wire
        The conductors of the cable.
    current : Current
        Current in each line.
    length_m : float
        One-way length [m], 0 or more.
    supply : Supply
        What feeds the cable.

    Returns
    -------
    float
        Drop as a share of the voltage.
    """
    lines = supply.line_factor if supply.phases == THREE_PHASES else OUT_AND_BACK
    ohm_a = wire.ohm_r_m * current.active_a + wire.ohm_x_m * current.reactive_a
    return lines * ohm_a * length_m / supply.volts


def choose_cable(
    listed: Sequence[Wire],
    current: Current,
    length_m: float,
    supply: Supply,
    allowed_drop: float,
) -> Cable:
    """Return the thinnest copper cable whose drop is allowed, else the thickest listed.

    What the wire may carry without overheating (ampacity) is not looked at: it is a size to ask
    with, not one to order.

    Parameters
    ----------
    listed : sequence of Wire
        The wires from thin to thick.
    current : Current
        Current in each line.
    length_m : float
        One-way length [m], 0 or more.
    supply : Supply
        What feeds the cable.
    allowed_drop : float
        The largest share of its voltage that may be lost.

    Returns
    -------
    Cable
        With ``fits`` false where even the thickest listed wire loses more.

    Examples
    --------
    >>> from estimator.power.motors import supply_named
    >>> supply = supply_named("1-ph 230 V")
    >>> choose_cable(wires("US"), Current(20.0, 0.0), 30.48, supply, 0.03).wire
    '10 AWG'
    """
    drops = [(wire, drop_share(wire, current, length_m, supply)) for wire in listed]
    for wire, drop in drops:
        if drop <= allowed_drop:
            return Cable(wire.name, drop, fits=True)
    thickest, drop = drops[-1]
    return Cable(thickest.name, drop, fits=False)
