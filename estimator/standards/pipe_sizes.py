"""Outside diameters by system and size: listed nominal sizes, and diameters given as numbers."""

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, UnknownNameError
from estimator.standards import tables
from estimator.units import IN_MM

CUSTOM = "OD"
"""System of a diameter that is given as a number and not as a nominal size."""

_SYSTEM_ALIASES: Mapping[str, str] = MappingProxyType(
    {"ISO METRIC": "ISO", "METRIC": "ISO", "CUSTOM": CUSTOM}
)
_SIZE = re.compile(
    r"(?P<dn>dn\s*)?(?P<number>\d+(?:\.\d+)?|(?:\d+[-\s])?\d+/[1-9]\d*)"
    r"\s*(?P<unit>\"|in\.?|inch|mm)?",
    re.IGNORECASE,
)


def system_names() -> tuple[str, ...]:
    """Return the names of the outside diameter systems."""
    return tuple(dict.fromkeys(str(row["od_system"]) for row in tables.load("od_systems")))


def _system_name(od_system: str) -> str:
    name = " ".join(od_system.upper().split())
    name = _SYSTEM_ALIASES.get(name, name)
    if name not in system_names():
        raise UnknownNameError("OD system", od_system, system_names())
    return name


def _size_number(text: str) -> Fraction:
    whole, _, part = text.replace("-", " ").rpartition(" ")
    return Fraction(part) + Fraction(whole or 0)


@cache
def _sizes(od_system: str) -> Mapping[Fraction, tables.Row]:
    rows = tables.find_rows("pipe_od", od_system=od_system)
    return {_size_number(str(row["nominal_size"])): row for row in rows}


def list_sizes(od_system: str) -> tuple[str, ...]:
    """Return the nominal sizes of a system, smallest first, as its tables print them.

    Parameters
    ----------
    od_system : str
        IPS, DIPS, CTS or ISO (also ``ISO metric``), in any case.

    Returns
    -------
    tuple of str
        Empty for OD (also ``custom``), whose sizes are numbers.

    Raises
    ------
    UnknownNameError
        If there is no such system.
    """
    rows = _sizes(_system_name(od_system)).values()
    return tuple(str(row["nominal_size"]) for row in rows)


@dataclass(frozen=True)
class Pipe:
    """The rules of a pipe: row of its OD system, and row of its outside diameter."""

    system: tables.Row
    od: tables.Row


def find_pipe(od_system: str, size: str | float) -> Pipe:
    """Return the rules of a pipe from its system and its size as people write it.

    Parameters
    ----------
    od_system : str
        IPS, DIPS, CTS, ISO (also ``ISO metric``) or OD (also ``custom``), in any case.
    size : str or float
        Nominal size, for OD the diameter itself with its unit.

    Returns
    -------
    Pipe

    Raises
    ------
    UnknownNameError
        If the system or the size is not listed.
    EstimatorError
        If a diameter of the system OD has no unit, or is out of range.
    """
    name = _system_name(od_system)
    return _custom_pipe(size) if name == CUSTOM else _listed_pipe(name, size)


def _listed_pipe(name: str, size: str | float) -> Pipe:
    system = tables.find_row("od_systems", "od_system", name)
    found = _SIZE.fullmatch(str(size).strip())
    row = _sizes(name).get(_size_number(found["number"])) if found else None
    metric = system["unit"] == "mm"
    if found and found["unit"] and (found["unit"].lower() == "mm") != metric:
        row = None
    if row is None or (found and found["dn"] and not metric):
        raise UnknownNameError(f"{name} size [{system['unit']}]", str(size), list_sizes(name))
    return Pipe(system, row)


def custom_size_hint() -> str:
    """Return what a diameter given as a number may be, in words."""
    row = tables.find_row("limits", "quantity", "outside diameter")
    low, high = tables.number(row, "low"), tables.number(row, "high")
    return f"{low:g} to {high:g} mm, as a number with its unit, such as 13.2 in or 335 mm"


def _custom_pipe(size: str | float) -> Pipe:
    found = _SIZE.fullmatch(str(size).strip())
    if found is None or found["dn"] or not found["unit"]:
        message = f"{str(size)!r} is not an outside diameter. Enter {custom_size_hint()}"
        raise EstimatorError(message)
    unit = "mm" if found["unit"].lower() == "mm" else "in"
    number = _size_number(found["number"])
    od_mm = float(number if unit == "mm" else number * Fraction(str(IN_MM)))
    tables.require_within("outside diameter", od_mm)
    (system,) = tables.find_rows("od_systems", od_system=CUSTOM, unit=unit)
    od = {
        **system,
        "nominal_size": f"{float(number):.10g} {unit}",
        "od_in": float(number) if unit == "in" else None,
        "od_mm": od_mm,
    }
    return Pipe(system, od)


def pipe_od_mm(od_system: str, size: str | float) -> float:
    """Return the outside diameter of a nominal size.

    Parameters
    ----------
    od_system : str
        IPS, DIPS, CTS, ISO (also ``ISO metric``) or OD (also ``custom``), in any case.
    size : str or float
        Nominal size as the tables print it: ``24``, ``1-1/4``, ``110``; with or without
        ``in``, ``mm`` or, for ISO, ``dn``. For OD the diameter itself with its unit:
        ``13.2 in`` or ``335 mm``.

    Returns
    -------
    float
        Outside diameter [mm]; exactly 25.4 times the inches.

    Raises
    ------
    UnknownNameError
        If the system or the size is not listed.
    EstimatorError
        If a diameter of the system OD has no unit, or lies outside 5 to 3000 mm.

    Examples
    --------
    >>> pipe_od_mm("IPS", "2"), pipe_od_mm("ISO metric", "dn 110"), pipe_od_mm("OD", "335 mm")
    (60.325, 110.0, 335.0)

    References
    ----------
    ``pipe_od.csv``, each row with its standard.
    """
    return tables.number(find_pipe(od_system, size).od, "od_mm")


def size_name(od_system: str, size: str | float) -> str:
    """Return a size as its table prints it; a diameter given as a number with its unit.

    Parameters and errors are those of ``pipe_od_mm``.

    Examples
    --------
    >>> size_name("IPS", "1.25 in"), size_name("custom", "13-1/4 in")
    ('1-1/4', '13.25 in')
    """
    return str(find_pipe(od_system, size).od["nominal_size"])
