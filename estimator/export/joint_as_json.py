"""One joint as JSON, apart from estimates, so that ``estimator joint`` stays quick."""

from dataclasses import asdict
from typing import Any, NamedTuple

from estimator.joint.fusion import fusion_force_n, gauge_mpa
from estimator.models.joint import FusionParameters, PipeGeometry

Json = dict[str, Any]
Range = tuple[float, float, float]

CHART_GOVERNS = (
    "The fusion machine's own chart governs force and gauge pressure, with drag measured for "
    "every joint. These figures only check it."
)


class JointFigures(NamedTuple):
    """One joint in numbers: measures of the pipe, parameters of the method, force and gauge."""

    od_system: str
    size: str
    dr: float
    od_mm: float
    wall_mm: float
    id_mm: float
    weight_kg_m: float
    joint_area_mm2: float
    method: str
    bead_min_mm: float
    soak_s: float
    open_close_max_s: float | None
    ramp_max_s: float | None
    cool_s: float
    rest_s: float | None
    force_n: float
    gauge_mpa: float | None


def joint_figures(
    geometry: PipeGeometry, fusion: FusionParameters, gauge: Range | None
) -> JointFigures:
    """Return one joint in numbers; parameters are those of ``joint_json``."""
    return JointFigures(
        od_system=geometry.od_system,
        size=geometry.size,
        dr=geometry.dr,
        od_mm=geometry.od_mm,
        wall_mm=geometry.wall_mm,
        id_mm=geometry.id_mm,
        weight_kg_m=geometry.weight_kg_m,
        joint_area_mm2=geometry.joint_area_mm2,
        method=fusion.method,
        bead_min_mm=fusion.bead_min_mm,
        soak_s=fusion.soak_s,
        open_close_max_s=fusion.open_close_max_s,
        ramp_max_s=fusion.ramp_max_s,
        cool_s=fusion.cool_s,
        rest_s=fusion.rest_s,
        force_n=fusion_force_n(geometry.joint_area_mm2, fusion.interfacial_mpa[1]),
        gauge_mpa=None if gauge is None else gauge[1],
    )


def joint_json(
    geometry: PipeGeometry,
    fusion: FusionParameters,
    gauge: Range | None = None,
) -> Json:
    """Return one joint's measures and parameters.

    Parameters
    ----------
    geometry, fusion
        The pipe and what the method asks of it.
    gauge : tuple of float, optional
        Gauge pressure at low, nominal and high interfacial pressure, None without a piston
        area. [MPa]
    """
    return {
        **joint_figures(geometry, fusion, gauge)._asdict(),
        "heater_c": list(fusion.heater_c),
        "interfacial_mpa": list(fusion.interfacial_mpa),
        "force_range_n": [
            fusion_force_n(geometry.joint_area_mm2, p) for p in fusion.interfacial_mpa
        ],
        "gauge_range_mpa": None if gauge is None else list(gauge),
        "caution": CHART_GOVERNS,
        "notes": list(fusion.notes),
        "sources": [asdict(source) for source in (*geometry.sources, *fusion.sources)],
    }


def gauge_range(
    geometry: PipeGeometry,
    fusion: FusionParameters,
    piston_area_mm2: float | None,
    drag_mpa: float,
) -> Range | None:
    """Return gauge pressure at low, nominal and high pressure, None without a piston area."""
    if piston_area_mm2 is None:
        return None
    low, nominal, high = (
        gauge_mpa(geometry.joint_area_mm2, pressure, piston_area_mm2, drag_mpa)
        for pressure in fusion.interfacial_mpa
    )
    return low, nominal, high
