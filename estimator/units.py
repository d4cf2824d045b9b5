"""Unit conversion, the only place that holds conversion factors. Inside, all is SI."""

import re
from collections.abc import Mapping
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, UnknownNameError

IN_MM = 25.4
FT_M = 0.3048
LB_KG = 0.45359237
STANDARD_GRAVITY_M_S2 = 9.80665
GAL_L = 3.785411784
LBF_N = LB_KG * STANDARD_GRAVITY_M_S2
PSI_MPA = LBF_N / IN_MM**2
HP_KW = 550 * FT_M * LBF_N / 1000
KFT_M = 1000 * FT_M
MERCURY_KG_M3 = 13595.1
"""Density of mercury by which the conventional inch of mercury is defined."""
INHG_PA = MERCURY_KG_M3 * STANDARD_GRAVITY_M_S2 * IN_MM / 1000
MIN_S = 60.0
S_MS = 1000.0
HOUR_S = 3600.0
HOUR_MIN = HOUR_S / MIN_S
DAY_MIN = 24 * HOUR_MIN
WEEK_HOURS = 168.0
M3_L = 1000.0
LIMIT_TOLERANCE = 1e-9
"""Share by which a typed limit may be missed: what the conversion of two units leaves."""
OD_SLACK_MM = 0.0005 * IN_MM
"""By which a diameter may miss a typed one: half of the last digit in which inches are shown."""
MM2_M_L = 1e-3
"""Volume [L] of 1 m of a bore of 1 mm2."""
G_CM3_MM2_KG_M = 1e-3
"""Mass per meter [kg/m] of 1 g/cm3 over a section of 1 mm2."""
G_CM3_MM_KG_MM2 = 1e-6
"""Mass per area [kg/mm2] of a layer of 1 g/cm3 and 1 mm."""


@dataclass(frozen=True)
class Unit:
    """One unit label: ``SI value = (value + offset) * factor``, in the SI unit of its kind."""

    label: str
    kind: str
    factor: float
    offset: float = 0.0


_ALL = (
    Unit("m", "length", 1.0),
    Unit("ft", "length", FT_M),
    Unit("mm", "small_length", 1.0),
    Unit("in", "small_length", IN_MM),
    Unit("kg", "mass", 1.0),
    Unit("lb", "mass", LB_KG),
    Unit("C", "temperature", 1.0),
    Unit("F", "temperature", 5 / 9, -32.0),
    Unit("MPa", "pressure", 1.0),
    Unit("kPa", "pressure", 0.001),
    Unit("bar", "pressure", 0.1),
    Unit("psi", "pressure", PSI_MPA),
    Unit("mm2", "area", 1.0),
    Unit("cm2", "area", 100.0),
    Unit("in2", "area", IN_MM**2),
    Unit("kW", "power", 1.0),
    Unit("hp", "power", HP_KW),
    Unit("L", "volume", 1.0),
    Unit("gal", "volume", GAL_L),
    Unit("m3", "volume", M3_L),
    Unit("L/s", "flow", 1.0),
    Unit("L/min", "flow", 1 / MIN_S),
    Unit("m3/h", "flow", M3_L / HOUR_S),
    Unit("gal/min", "flow", GAL_L / MIN_S),
    Unit("kg/m", "weight_per_length", 1.0),
    Unit("lb/ft", "weight_per_length", LB_KG / FT_M),
    Unit("s", "time", 1.0),
    Unit("min", "time", MIN_S),
    Unit("h", "time", HOUR_S),
    Unit("s/mm", "time_per_wall", 1.0),
    Unit("min/in", "time_per_wall", MIN_S / IN_MM),
    Unit("L/h", "fuel_rate", 1.0),
    Unit("gal/h", "fuel_rate", GAL_L),
    Unit("N", "force", 1.0),
    Unit("kN", "force", 1000.0),
    Unit("lbf", "force", LBF_N),
)

UNITS: Mapping[str, Unit] = MappingProxyType({unit.label: unit for unit in _ALL})
"""Every unit label known; the first of each kind is its SI unit."""

_TEMPERATURE = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([CF])\s*", re.IGNORECASE)


def _unit(label: str) -> Unit:
    if label not in UNITS:
        raise UnknownNameError("unit", label, tuple(UNITS))
    return UNITS[label]


def to_si(value: float, unit: str) -> float:
    """Return a value in the SI unit of its kind.

    Parameters
    ----------
    value : float
        The number in ``unit``.
    unit : str
        A label of ``UNITS``.

    Returns
    -------
    float
        m, mm, mm2, kg, C, MPa, kW, L, L/s, kg/m, s, s/mm, L/h or N.

    Raises
    ------
    UnknownNameError
        If the label is not one of ``UNITS``.

    Examples
    --------
    >>> to_si(2.0, "in")
    50.8
    """
    known = _unit(unit)
    return (value + known.offset) * known.factor


def from_si(value: float, unit: str) -> float:
    """Return an SI value in another unit of its kind; the reverse of ``to_si``.

    Parameters
    ----------
    value : float
        The number in the SI unit of the kind.
    unit : str
        A label of ``UNITS``.

    Returns
    -------
    float
        The number in ``unit``.

    Raises
    ------
    UnknownNameError
        If the label is not one of ``UNITS``.

    Examples
    --------
    >>> from_si(100.0, "F")
    212.0
    """
    known = _unit(unit)
    return value / known.factor - known.offset


def at_most(value: float, limit: float, slack: float = 0.0) -> bool:
    """Return whether a value keeps an upper limit, both in one unit.

    A limit that a user types is often the very value it is compared with, in another unit: 12.75 in
    is 323.84999999999997 mm. What a conversion leaves, a part in 10^9, does not count; nor does
    ``slack``, in the unit of both.

    Examples
    --------
    >>> at_most(323.85, to_si(12.75, "in")), at_most(323.86, to_si(12.75, "in"))
    (True, False)
    """
    return value <= limit + max(slack, LIMIT_TOLERANCE * max(abs(value), abs(limit), 1.0))


def at_least(value: float, limit: float, slack: float = 0.0) -> bool:
    """Return whether a value keeps a lower limit, both in one unit; see ``at_most``."""
    return at_most(limit, value, slack)


def parse_temperature(text: str) -> float:
    """Return the temperature that a text with its unit states.

    Parameters
    ----------
    text : str
        A number followed by F or C, with or without a space or degree sign.

    Returns
    -------
    float
        Temperature [C].

    Raises
    ------
    EstimatorError
        If the text is not such a temperature.

    Examples
    --------
    >>> parse_temperature("50F"), parse_temperature("20 C")
    (10.0, 20.0)
    """
    match = _TEMPERATURE.fullmatch(text)
    if match is None:
        raise EstimatorError(
            f"{text!r} is not a temperature. Enter a number with F or C, such as 70F or 20C"
        )
    return to_si(float(match[1]), match[2].upper())
