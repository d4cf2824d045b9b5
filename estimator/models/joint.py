"""One joint: the pipe's measures and the fusion parameters, each with its source.

Plain classes, because the estimator makes them itself and the command for one joint and the cell
functions start without loading what checks models.
"""

from typing import Literal

from estimator.data_class import dataclass

RemovalPlace = Literal["field", "shop"]


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a figure comes from and how sure it is.

    ``confidence`` is one of: confirmed, one source, from memory, common practice, assumption.
    """

    figure: str
    text: str
    confidence: str


@dataclass(frozen=True, kw_only=True)
class PipeGeometry:
    """Measures of one pipe wall section. Lengths mm, area mm2, weight kg/m."""

    od_system: str
    size: str
    dr: float
    od_mm: float
    wall_mm: float
    mean_wall_mm: float
    id_mm: float
    weight_kg_m: float
    joint_area_mm2: float
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FusionParameters:
    """What one fusion method asks of one wall.

    Temperatures C, pressures MPa, bead mm, times s. None where the method states no value.
    """

    method: str
    heater_c: tuple[float, float]
    interfacial_mpa: tuple[float, float, float]
    bead_min_mm: float
    soak_s: float
    open_close_max_s: float | None
    ramp_max_s: float | None
    cool_s: float
    rest_s: float | None
    notes: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FusionOptions:
    """What the user chooses within a method, or puts in place of one of its figures.

    Soak and cooling s for each mm of wall, rest s, interfacial pressure MPa; None leaves the
    method's figure. ``given_in`` says where the own figures stand.
    """

    removal_place: RemovalPlace = "field"
    beyond_wall_limit: bool = False
    soak_s_per_mm: float | None = None
    cool_s_per_mm: float | None = None
    rest_s: float | None = None
    interfacial_mpa: float | None = None
    given_in: str = "the Job sheet"


@dataclass(frozen=True, kw_only=True)
class ThermalCheck:
    """What heat conduction says of one joint; never in place of the method's figures.

    Depths mm along the pipe, energy kJ for both ends, mean power of the soak kW. ``cold_ratio``
    is the time to the same depth in this air over that at the reference temperature.
    """

    melt_depth_mm: float
    bead_depth_mm: float
    wall_share: float
    energy_kj: float
    soak_kw: float
    cold_ratio: float
    text: str
