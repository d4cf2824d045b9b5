"""Electric motors by their nameplate: current, and what they draw at the start."""

import math

from estimator.data_class import dataclass
from estimator.models.job_inputs import PowerInputs
from estimator.standards import tables
from estimator.units import HP_KW

THREE_PHASES = 3
W_KW = 1000.0


@dataclass(frozen=True)
class Supply:
    """Phases and volts of a supply, and its column in the table of motor currents if it has one."""

    name: str
    phases: int
    volts: float
    current_column: str | None

    @property
    def line_factor(self) -> float:
        """Power in VA of one volt and one ampere in the line: 1, or root 3 on three phases."""
        return math.sqrt(self.phases) if self.phases == THREE_PHASES else 1.0

    def amps(self, kva: float) -> float:
        """Return the current in each line [A] of an apparent power [kVA].

        >>> round(supply_named("3-ph 460 V").amps(70.9), 1)
        89.0
        """
        return kva * W_KW / (self.line_factor * self.volts)


def supply_named(name: str) -> Supply:
    """Return a supply such as ``3-ph 460 V``.

    Raises
    ------
    UnknownNameError
        If ``supplies.csv`` has no such supply.
    """
    row = tables.find_row("supplies", "supply", name)
    return Supply(
        name=name,
        phases=int(tables.number(row, "phases")),
        volts=tables.number(row, "volts"),
        current_column=str(row["current_column"]) if row["current_column"] else None,
    )


def motor_hp(output_kw: float) -> float:
    """Return the output of a motor in hp."""
    return output_kw / HP_KW


def kva_per_hp(letter: str) -> float:
    """Return the upper end of a code letter's band, kVA with locked rotor for each hp.

    Raises
    ------
    UnknownNameError
        If the letter is not one of the table.
    EstimatorError
        If its band has no upper end (letter V).

    References
    ----------
    NFPA 70, Table 430.7(B): ``locked_rotor.csv``.
    """
    return tables.number(tables.find_row("locked_rotor", "letter", letter), "kva_hp_to")


def locked_rotor_kva(output_kw: float, letter: str) -> float:
    """Return the apparent power that a motor draws when it is started on full voltage.

    ``hp x kVA/hp``, at the upper end of the letter's band.

    Parameters
    ----------
    output_kw : float
        Output at the shaft [kW], 0 or more.
    letter : str
        Code letter of the nameplate, A to U.

    Returns
    -------
    float
        Apparent power [kVA].

    Raises
    ------
    EstimatorError
        As ``kva_per_hp``.

    References
    ----------
    NFPA 70, 430.7(B).

    Examples
    --------
    >>> from estimator.units import to_si
    >>> round(locked_rotor_kva(to_si(10, "hp"), "H"), 1)
    70.9
    """
    return motor_hp(output_kw) * kva_per_hp(letter)


def current_by_kw(output_kw: float, supply: Supply, power: PowerInputs) -> float:
    """Return the full-load current of a motor from its output: ``P / (efficiency x pf)`` in kVA.

    Parameters
    ----------
    output_kw : float
        Output at the shaft [kW], 0 or more.
    supply : Supply
        What it is fed by.
    power : PowerInputs
        Efficiency and power factor of motors.

    Returns
    -------
    float
        Current in each line [A].
    """
    return supply.amps(output_kw / power.motor_efficiency / power.motor_power_factor)


def motor_current(output_kw: float, supply: Supply, power: PowerInputs) -> float:
    """Return the full-load current of a motor: by the NEC tables, or from its kW without one.

    Raises
    ------
    OutsideStandardError
        If the motor is larger than the table of the supply lists.
    """
    if supply.current_column is None:
        return current_by_kw(output_kw, supply, power)
    return full_load_a(output_kw, supply)


def full_load_a(output_kw: float, supply: Supply) -> float:
    """Return the full-load current of a motor by the table, for the next listed size up.

    A motor counts as a listed size if it exceeds it by no more than the rounding of sizes that
    are sold in kW (``power_practice.csv``). No motor, no current.

    Parameters
    ----------
    output_kw : float
        Output at the shaft [kW], 0 or more.
    supply : Supply
        What it is fed by.

    Returns
    -------
    float
        Current in each line [A].

    Raises
    ------
    OutsideStandardError
        If the motor is larger than the table lists for this supply.

    References
    ----------
    NFPA 70, Tables 430.248 and 430.250: ``motor_current.csv``.

    Examples
    --------
    >>> full_load_a(7.5, supply_named("3-ph 460 V"))
    14.0
    """
    if output_kw == 0:
        return 0.0
    column = supply.current_column or ""
    listed = [row for row in tables.load("motor_current") if row.get(column) is not None]
    rounding = tables.find_row("power_practice", "quantity", "hp_rounding_share")
    size = motor_hp(output_kw) / (1 + tables.number(rounding, "value"))
    largest = tables.number(listed[-1], "hp")
    source = f"{tables.source_name(listed[-1])}, {listed[-1]['clause']}"
    tables.require(f"motor [hp] on {supply.name}", size, 0.0, largest, source)
    row = next(row for row in listed if tables.number(row, "hp") >= round(size, tables.PLACES))
    return tables.number(row, column)
