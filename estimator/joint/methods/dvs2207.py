"""DVS 2207-1: tables by wall, linear inside a row; cooling in three ambient bands, 2005 in one."""

from typing import NamedTuple

from estimator.joint.methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.steps.kinds import Millimeters, OfTable
from estimator.steps.recorder import step
from estimator.units import to_si

WALL_KEYS = ("wall_from_mm", "wall_to_mm")


class Band(NamedTuple):
    """A row of a table: walls from thin to thick in mm, and the figure at either end."""

    thin: float
    thick: float
    low: float
    high: float


@step("{figure}", "by wall in mm, linear inside the row of the table")
def between(figure: str, unit: str, band: Band, wall: Millimeters) -> OfTable:
    """Return a figure between the two ends of its row."""
    del figure, unit
    return band.low + (band.high - band.low) * (wall - band.thin) / (band.thick - band.thin)


def _between(figure: str, row: tables.Row, column: tuple[str, str], wall_mm: float) -> float:
    """Return a figure [s] from the columns of a row that have a stem and a unit."""
    stem, unit = column
    ends = (tables.number(row, f"{stem}_{end}_{unit}") for end in ("from", "to"))
    band = Band(*(tables.number(row, key) for key in WALL_KEYS), *ends)
    return to_si(between(figure, unit, band, wall_mm), unit)


def _ambient_band(ambient_c: float) -> str:
    rows = tables.load("dvs2207_ambient")
    top = tables.number(rows[-1], "ambient_to_c")
    source = f"{tables.source_name(rows[-1])}, table dvs2207_ambient"
    tables.require("ambient temperature [C]", ambient_c, None, top, source)
    at = round(ambient_c, tables.PLACES)
    below = (row for row in rows if at < tables.number(row, "ambient_to_c"))
    return str(next(below, rows[-1])["band"])


def _joining(wall_mm: float) -> dict[str, Figure]:
    row = tables.band("dvs2207_joining", WALL_KEYS, wall_mm, "wall thickness [mm]")
    values = {
        "bead_min_mm": tables.number(row, "bead_min_mm"),
        "soak_s": _between("soak_s", row, ("soak", "s"), wall_mm),
        "open_close_max_s": _between("open_close_max_s", row, ("changeover", "s"), wall_mm),
        "ramp_max_s": _between("ramp_max_s", row, ("ramp", "s"), wall_mm),
    }
    return {field: Figure(value, cite(field, row)) for field, value in values.items()}


def _cooling(table: str, stem: str, wall_mm: float) -> Figure:
    row = tables.band(table, WALL_KEYS, wall_mm, "wall thickness [mm]")
    cool_s = _between("cool_s", row, (stem, "min"), wall_mm)
    return Figure(cool_s, cite("cool_s", row))


def figures(at: Conditions) -> Figures:
    """Return the figures of a joint by DVS 2207-1 of 2015.

    At the edge of two ambient bands the longer cooling time is taken.

    Parameters
    ----------
    at : Conditions
        Wall up to 130 mm, air up to 40 C.

    Returns
    -------
    mapping of str to Figure

    Raises
    ------
    OutsideStandardError
        If the wall or the air temperature lies outside the tables.

    References
    ----------
    ``dvs2207_joining.csv``, ``dvs2207_cooling.csv``, ``dvs2207_ambient.csv``.
    """
    cooling = _cooling("dvs2207_cooling", _ambient_band(at.ambient_c), at.wall_mm)
    return {**_joining(at.wall_mm), "cool_s": cooling}


def figures_2005(at: Conditions) -> Figures:
    """Return the figures of a joint by the superseded DVS 2207-1 of 2005.

    Cooling has one column for every air temperature. Heating and joining are read from the
    table of 2015, which agrees with the older pages up to the 70 mm at which those end.

    Parameters
    ----------
    at : Conditions
        Wall up to 70 mm.

    Returns
    -------
    mapping of str to Figure

    Raises
    ------
    OutsideStandardError
        If the wall lies outside the tables.

    References
    ----------
    ``dvs2207_cooling_2005.csv``, ``dvs2207_joining.csv``.
    """
    cooling = _cooling("dvs2207_cooling_2005", "any", at.wall_mm)
    return {**_joining(at.wall_mm), "cool_s": cooling}
