"""ISO 21307: single low, dual low and single high pressure, all by formulas of the wall."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import prod
from types import MappingProxyType

from estimator.errors import OutsideStandardError
from estimator.joint.methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.steps.kinds import Celsius, Millimeters, Minutes, OfTable
from estimator.steps.marks import least
from estimator.steps.recorder import step
from estimator.units import from_si, to_si

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
GO_ON = (
    "Choose yes under Walls over 70 mm under ISO 21307 on the Job sheet (--beyond-wall-limit) to "
    "go on beyond it, or another method"
)


Term = tuple[Millimeters, ...]
"""A coefficient, and the measures in mm that it multiplies."""


@step("{figure}", "by wall and outside diameter in mm")
def formula(figure: str, unit: str, terms: Sequence[Term], at_most: float | None) -> OfTable:
    """Return the sum of the terms, at most a cap if there is one."""
    del figure, unit
    value = sum(prod(term) for term in terms)
    return value if at_most is None else least(value, at_most)


@step("{figure}", "longer for each degree above the reference")
def in_hot_air(figure: str, cool: Minutes, share: float, air: Celsius, usual: Celsius) -> Minutes:
    """Return a cooling time in air that is hotter than the reference."""
    del figure
    return cool * (1 + share * (air - usual))


def _keep_the_stated_limit(wall_mm: float) -> None:
    try:
        tables.require_within("ISO 21307 wall thickness", wall_mm)
    except OutsideStandardError as wrong:
        raise OutsideStandardError(
            wrong.name, wrong.got, wrong.low, wrong.high, wrong.source, GO_ON
        ) from wrong


def _formula(field: str, row: tables.Row, at: Conditions) -> float:
    terms: dict[str, Term] = {
        "constant": (),
        "per_wall": (at.wall_mm,),
        "per_wall_squared": (at.wall_mm, at.wall_mm),
        "per_od": (at.od_mm,),
    }
    used = [(tables.number(row, key), *by) for key, by in terms.items() if row[key]]
    cap, unit = row["at_most"], str(row["unit"])
    return to_si(formula(field, unit, used, cap if isinstance(cap, float) else None), unit)


def _in_hot_air(method: str, cooling: Figure, ambient_c: float) -> Figure:
    row = tables.find_row("iso21307_ambient", "method", method)
    usual_c = tables.number(row, "reference_c")
    if ambient_c <= usual_c:
        return cooling
    cool_min = from_si(cooling.value, "min")
    longer = in_hot_air("cool_s", cool_min, tables.number(row, "share_per_c"), ambient_c, usual_c)
    source = cooling.source
    text = f"{source.text}; longer in hot air, {tables.source_name(row)}: {row['clause']}"
    return Figure(to_si(longer, "min"), replace(source, text=text))


def figures(method: str, at: Conditions) -> Figures:
    """Return the figures of a joint by one of the ISO 21307 methods.

    Cooling grows by a share for each degree that the air is hotter than the reference, and is
    never shortened for colder air. A figure that the method does not state is left out.

    Parameters
    ----------
    method : str
        ``iso21307-slp``, ``iso21307-dlp`` or ``iso21307-shp``.
    at : Conditions
        Wall up to 70 mm, the limit that the 2009 and 2011 editions state; any wall where the
        conditions say that the limit does not hold.

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
    if not at.beyond_wall_limit:
        _keep_the_stated_limit(at.wall_mm)
    found: dict[str, Figure] = {}
    for figure, field in FIELDS.items():
        where = {"method": method, "figure": figure}
        if not tables.find_rows("iso21307_formulas", **where):
            continue
        row = tables.band(
            "iso21307_formulas", WALL_KEYS, at.wall_mm, "wall thickness [mm]", **where
        )
        found[field] = Figure(_formula(field, row, at), cite(field, row))
    found["cool_s"] = _in_hot_air(method, found["cool_s"], at.ambient_c)
    return found
