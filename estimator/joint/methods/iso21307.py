"""ISO 21307: single low, dual low and single high pressure, all by formulas of the wall."""

from collections.abc import Mapping
from types import MappingProxyType

from estimator.joint.methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.units import to_si

FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "bead": "bead_min_mm",
        "soak": "soak_s",
        "open_close": "open_close_max_s",
        "ramp": "ramp_max_s",
        "cool": "cool_s",
        "rest": "rest_s",
    }
)
WALL_KEYS = ("wall_from_mm", "wall_to_mm")


def _formula(row: tables.Row, at: Conditions) -> float:
    value = (
        tables.number(row, "constant")
        + tables.number(row, "per_wall") * at.wall_mm
        + tables.number(row, "per_wall_squared") * at.wall_mm**2
        + tables.number(row, "per_od") * at.od_mm
    )
    cap = row["at_most"]
    return to_si(min(value, cap) if isinstance(cap, float) else value, str(row["unit"]))


def _in_hot_air(method: str, cooling: Figure, ambient_c: float) -> Figure:
    row = tables.find_row("iso21307_ambient", "method", method)
    degrees = ambient_c - tables.number(row, "reference_c")
    if degrees <= 0:
        return cooling
    hotter = 1 + tables.number(row, "share_per_c") * degrees
    source = cooling.source
    text = f"{source.text}; longer in hot air, {tables.source_name(row)}: {row['clause']}"
    return Figure(cooling.value * hotter, source.model_copy(update={"text": text}))


def figures(method: str, at: Conditions) -> Figures:
    """Return the figures of a joint by one of the ISO 21307 methods.

    Cooling grows by a share for each degree that the air is hotter than the reference, and is
    never shortened for colder air. A figure that the method does not state is left out.

    Parameters
    ----------
    method : str
        ``iso21307-slp``, ``iso21307-dlp`` or ``iso21307-shp``.
    at : Conditions
        Wall up to 70 mm.

    Returns
    -------
    mapping of str to Figure

    Raises
    ------
    OutsideStandardError
        If the wall lies outside the formulas.

    References
    ----------
    ``iso21307_formulas.csv``, ``iso21307_ambient.csv``.
    """
    found: dict[str, Figure] = {}
    for figure, field in FIELDS.items():
        where = {"method": method, "figure": figure}
        if not tables.find_rows("iso21307_formulas", **where):
            continue
        row = tables.band(
            "iso21307_formulas", WALL_KEYS, at.wall_mm, "wall thickness [mm]", **where
        )
        found[field] = Figure(_formula(row, at), cite(field, row))
    found["cool_s"] = _in_hot_air(method, found["cool_s"], at.ambient_c)
    return found
