"""Measures of a pipe from its system, size and dimension ratio."""

import re
from functools import lru_cache

from estimator.errors import EstimatorError
from estimator.models.joint import PipeGeometry
from estimator.standards import pipe_walls, tables
from estimator.standards.citing import cite
from estimator.standards.pipe_sizes import (
    CUSTOM,
    custom_size_hint,
    find_pipe,
    list_sizes,
    pipe_od_mm,
    size_name,
    system_names,
)
from estimator.standards.pipe_walls import mean_wall_mm, min_wall_mm
from estimator.steps.marks import PI
from estimator.steps.recorder import step
from estimator.units import G_CM3_MM2_KG_M

__all__ = [
    "CUSTOM",
    "custom_size_hint",
    "joint_area_mm2",
    "list_sizes",
    "mean_wall_mm",
    "measure",
    "min_wall_mm",
    "parse_dr",
    "pipe_geometry",
    "pipe_od_mm",
    "size_name",
    "system_names",
]

_RATIO = re.compile(r"(?:(?P<kind>S?DR|S)[\s-]*)?(?P<number>\d+(?:\.\d+)?)", re.IGNORECASE)
_PRESSURE_CLASS = re.compile(r"\s*(PN|PC|PR|CL).*", re.IGNORECASE)


def parse_dr(text: str | float) -> float:
    """Return the dimension ratio that a text states, unchecked against any range.

    Parameters
    ----------
    text : str or float
        Such as ``DR 11``, ``SDR17``, ``17`` or ``S 8``; a pipe series S means ``2 S + 1``.

    Returns
    -------
    float
        Outside diameter / wall [-].

    Raises
    ------
    EstimatorError
        If the text is no ratio; a pressure class is refused with the reason.

    Examples
    --------
    >>> parse_dr("SDR 13.6"), parse_dr("S 5"), parse_dr(17)
    (13.6, 11.0, 17.0)
    """
    found = _RATIO.fullmatch(str(text).strip())
    if found is None:
        hint = (
            (
                "; a pressure class does not give the wall, because the wall also depends on the "
                "material"
            )
            if _PRESSURE_CLASS.fullmatch(str(text))
            else ""
        )
        raise EstimatorError(
            f"{str(text)!r} is not a dimension ratio. Enter DR 11, SDR 17, 17 or S 8{hint}"
        )
    value = float(found["number"])
    return round(2 * value + 1, 6) if (found["kind"] or "").upper() == "S" else value


def joint_area_mm2(od_mm: float, wall_mm: float) -> float:
    """Return the face of a butt joint: ``pi (OD - t) t``.

    Parameters
    ----------
    od_mm : float
        Outside diameter [mm], above 0.
    wall_mm : float
        Wall [mm], from 0 to half of the outside diameter.

    Returns
    -------
    float
        Area [mm2].

    Raises
    ------
    OutsideStandardError
        If the wall does not fit the diameter.
    """
    tables.require("wall [mm]", wall_mm, 0.0, od_mm / 2, "half of the diameter")
    return face_mm2(od_mm, wall_mm)


@step("Joint area", "pi x (OD - wall) x wall")
def face_mm2(od_mm: float, wall_mm: float) -> float:
    """Return the area of a ring."""
    return PI * (od_mm - wall_mm) * wall_mm


@step("Inside diameter", "OD - 2 x average wall")
def inside_mm(od_mm: float, mean_wall_mm: float) -> float:
    """Return the mean inside diameter."""
    return od_mm - 2 * mean_wall_mm


@step("Weight", "area of the average wall x density of the weight tables in g/cm3")
def pipe_kg_m(od_mm: float, mean_wall_mm: float, density: float) -> float:
    """Return the weight of a length of pipe."""
    return face_mm2(od_mm, mean_wall_mm) * density * G_CM3_MM2_KG_M


@lru_cache(maxsize=4096)
def pipe_geometry(od_system: str, size: str | float, dr: float, material: str) -> PipeGeometry:
    """Return every measure of a pipe, each with its source; see ``measure``."""
    return measure(od_system, size, dr, material)


def measure(od_system: str, size: str | float, dr: float, material: str) -> PipeGeometry:
    """Return every measure of a pipe, each with its source.

    Parameters
    ----------
    od_system, size : str
        As for ``pipe_od_mm``.
    dr : float
        Dimension ratio [-], 5 to 50.
    material : str
        A material of ``densities.csv``. Weight uses the density behind the weight tables of
        the system, so that published weights come out; the material's own is cited.

    Returns
    -------
    PipeGeometry

    Raises
    ------
    UnknownNameError
        If system, size or material is not listed.
    OutsideStandardError
        As for ``min_wall_mm``.
    """
    pipe = find_pipe(od_system, size)
    system, od = pipe.system, pipe.od
    own = tables.find_row("densities", "material", material)
    od_mm = tables.number(od, "od_mm")
    wall = pipe_walls.min_wall(system, od, dr)
    mean = pipe_walls.mean_wall(system, wall.value)
    density = tables.number(system, "weight_density_g_cm3")
    of_material = f"{material} itself {own['low_g_cm3']} to {own['high_g_cm3']} g/cm3"
    return PipeGeometry(
        od_system=str(od["od_system"]),
        size=str(od["nominal_size"]),
        dr=dr,
        od_mm=od_mm,
        wall_mm=wall.value,
        mean_wall_mm=mean.value,
        id_mm=inside_mm(od_mm, mean.value),
        weight_kg_m=pipe_kg_m(od_mm, mean.value, density),
        joint_area_mm2=joint_area_mm2(od_mm, wall.value),
        sources=(
            cite("od_mm", od),
            wall.source,
            mean.source,
            cite("weight_kg_m", system, f"average wall; {of_material}"),
        ),
    )
