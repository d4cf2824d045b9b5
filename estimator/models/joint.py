"""One joint: the pipe's measures and the fusion parameters, each with its source."""

from estimator.models.base import Model


class Source(Model):
    """Where a figure comes from and how sure it is.

    ``confidence`` is one of: confirmed, one source, from memory, common practice, assumption.
    """

    figure: str
    text: str
    confidence: str


class PipeGeometry(Model):
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


class FusionParameters(Model):
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
