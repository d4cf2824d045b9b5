"""What conduction says of the heat soak of a joint; never in place of the method's time."""

import math

from estimator.joint.thermal import face_energy_kj_mm2, melt_constant, melt_depth_mm, thermal_value
from estimator.models.joint import FusionParameters, PipeGeometry, ThermalCheck
from estimator.units import to_si

ROLLS = 2
"""Rolls of melt at one end: outside and inside."""

ENDS = 2
COLD_SAID_FROM = 1.05


def joint_energy_kj(area_mm2: float, heater_c: float, start_c: float, soak_s: float) -> float:
    """Return the heat that both ends of a joint take from the heater during the soak.

    Parameters
    ----------
    area_mm2 : float
        Face of the joint [mm2].
    heater_c, start_c : float
        As for ``melt_constant``.
    soak_s : float
        Heat soak [s].

    Returns
    -------
    float
        Heat [kJ].
    """
    return ENDS * area_mm2 * face_energy_kj_mm2(heater_c, start_c, soak_s)


def heater_duty_kw(energy_kj: float, cycle_min: float) -> float:
    """Return the mean power that the joints draw from the heater: energy by cycle.

    Warming the plate and its losses come on top and are larger; a generator is never sized
    from this.

    Parameters
    ----------
    energy_kj : float
        Heat of one joint [kJ].
    cycle_min : float
        Time from one joint to the next [min], above 0.

    Returns
    -------
    float
        Power [kW].

    Examples
    --------
    >>> heater_duty_kw(120.0, 20.0)
    0.1
    """
    return energy_kj / to_si(cycle_min, "min")


def bead_depth_mm(bead_mm: float, wall_mm: float) -> float:
    """Return the depth of melt that the rolls of a bead take up.

    Two rolls of half-elliptic section, as wide as the bead and a share of it high, are spread
    over the wall: ``pi share bead2 / (2 wall)``.

    Parameters
    ----------
    bead_mm : float
        Bead at one end [mm].
    wall_mm : float
        Minimum wall [mm].

    Returns
    -------
    float
        Depth along the pipe [mm].

    References
    ----------
    ``thermal.csv``, row ``bead_height_share``, an assumption.
    """
    section_mm2 = math.pi / 4 * bead_mm * thermal_value("bead_height_share") * bead_mm
    return ROLLS * section_mm2 / wall_mm


def check_joint(pipe: PipeGeometry, fusion: FusionParameters, ambient_c: float) -> ThermalCheck:
    """Return what conduction says of the soak of one joint.

    The heater is taken at the middle of its range, the pipe at air temperature. Melt made while
    the bead forms, before the soak, is left out.

    Parameters
    ----------
    pipe : PipeGeometry
        The pipe.
    fusion : FusionParameters
        What the method asks of it.
    ambient_c : float
        Air temperature [C].

    Returns
    -------
    ThermalCheck
    """
    heater = sum(fusion.heater_c) / 2
    depth = melt_depth_mm(heater, ambient_c, fusion.soak_s)
    bead = bead_depth_mm(fusion.bead_min_mm, pipe.wall_mm)
    energy = joint_energy_kj(pipe.joint_area_mm2, heater, ambient_c, fusion.soak_s)
    usual = melt_constant(heater, thermal_value("reference_c"))
    cold = (usual / melt_constant(heater, ambient_c)) ** 2
    return ThermalCheck(
        melt_depth_mm=depth,
        bead_depth_mm=bead,
        wall_share=depth / pipe.wall_mm,
        energy_kj=energy,
        soak_kw=energy / fusion.soak_s,
        cold_ratio=cold,
        text=_verdict(depth, bead, pipe.wall_mm, cold),
    )


def _verdict(depth_mm: float, bead_mm: float, wall_mm: float, cold_ratio: float) -> str:
    share = 100 * depth_mm / wall_mm
    parts = [
        f"Conduction alone melts about {depth_mm:.1f} mm of each end during heat soak, "
        f"{share:.0f}% of the wall",
        f"the minimum bead uses about {bead_mm:.1f} mm of that"
        if bead_mm <= depth_mm
        else f"the minimum bead needs more, about {bead_mm:.1f} mm: the bead will end heating",
    ]
    if cold_ratio >= COLD_SAID_FROM:
        reference = f"{thermal_value('reference_c'):g} C"
        parts.append(f"the same depth takes {cold_ratio:.2f} times as long as at {reference}")
    return "; ".join([*parts, "rough check only; the method's time governs"])
