"""Copper cable from the generator to the machine, by voltage drop alone."""

import math
from dataclasses import dataclass

from estimator.power.motors import THREE_PHASES, Supply
from estimator.standards import tables
from estimator.standards.tables import Row
from estimator.units import KFT_M

OUT_AND_BACK = 2


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
class Cable:
    """A wire gauge and the share of the voltage that it loses; ``fits`` if that is allowed."""

    awg: str
    drop: float
    fits: bool


def drop_share(row: Row, current: Current, length_m: float, supply: Supply) -> float:
    """Return the share of the supply's voltage that a cable loses.

    ``2 I L (R cos phi + X sin phi)`` on one phase, with root 3 in place of 2 on three.

    Parameters
    ----------
    row : Row
        A row of ``copper_ac.csv``; its values in PVC conduit are used.
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

    References
    ----------
    NFPA 70, Chapter 9 Table 9.
    """
    lines = supply.line_factor if supply.phases == THREE_PHASES else OUT_AND_BACK
    ohm_r, ohm_x = (
        tables.number(row, f"{part}_pvc_ohm_kft") * length_m / KFT_M for part in ("r", "x")
    )
    return lines * (ohm_r * current.active_a + ohm_x * current.reactive_a) / supply.volts


def choose_cable(current: Current, length_m: float, supply: Supply, allowed: float) -> Cable:
    """Return the thinnest copper cable whose drop is allowed, else the thickest listed.

    What the wire may carry without overheating (ampacity) is not looked at.

    Parameters
    ----------
    current : Current
        Current in each line.
    length_m : float
        One-way length [m], 0 or more.
    supply : Supply
        What feeds the cable.
    allowed : float
        Largest share of the voltage that may be lost.

    Returns
    -------
    Cable
        With ``fits`` false where even the thickest listed wire loses more.

    Examples
    --------
    >>> from estimator.power.motors import supply_named
    >>> choose_cable(Current(20.0, 0.0), 30.48, supply_named("1-ph 230 V"), 0.03).awg
    '10'
    """
    for row in tables.load("copper_ac"):
        drop = drop_share(row, current, length_m, supply)
        if drop <= allowed:
            return Cable(str(row["awg"]), drop, fits=True)
    return Cable(str(row["awg"]), drop, fits=False)
