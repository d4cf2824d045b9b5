"""DVS 2207-1 (2015): tables by wall, cooling in three ambient bands, linear inside a row."""

from estimator.fusion_methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.units import to_si

WALL_KEYS = ("wall_from_mm", "wall_to_mm")


def _between(row: tables.Row, stem: str, unit: str, wall_mm: float) -> float:
    thin, thick = (tables.number(row, key) for key in WALL_KEYS)
    low, high = (tables.number(row, f"{stem}_{end}_{unit}") for end in ("from", "to"))
    return low + (high - low) * (wall_mm - thin) / (thick - thin)


def _ambient_band(ambient_c: float) -> str:
    rows = tables.load("dvs2207_ambient")
    top = tables.number(rows[-1], "ambient_to_c")
    source = f"{tables.source_name(rows[-1])}, table dvs2207_ambient"
    tables.require("ambient temperature [C]", ambient_c, None, top, source)
    at = round(ambient_c, tables.PLACES)
    below = (row for row in rows if at < tables.number(row, "ambient_to_c"))
    return str(next(below, rows[-1])["band"])


def figures(at: Conditions) -> Figures:
    """Return the figures of a joint by DVS 2207-1.

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
    ambient_band = _ambient_band(at.ambient_c)
    wall = at.wall_mm
    joining, cooling = (
        tables.band(name, WALL_KEYS, wall, "wall thickness [mm]")
        for name in ("dvs2207_joining", "dvs2207_cooling")
    )
    cool_s = to_si(_between(cooling, ambient_band, "min", wall), "min")
    values = {
        "bead_min_mm": tables.number(joining, "bead_min_mm"),
        "soak_s": _between(joining, "soak", "s", wall),
        "open_close_max_s": _between(joining, "changeover", "s", wall),
        "ramp_max_s": _between(joining, "ramp", "s", wall),
    }
    found = {field: Figure(value, cite(field, joining)) for field, value in values.items()}
    found["cool_s"] = Figure(cool_s, cite("cool_s", cooling))
    return found
