"""Melting of a pipe end by heat conduction, for checks beside the method.

The end of a pipe is a semi-infinite solid whose face is held at heater temperature. Melt and
solid have constant properties of their own, one density, and one melting temperature with its
latent heat (Neumann's problem). Lengths mm, times s, so diffusivity is mm2/s.
"""

import math
from functools import cache, lru_cache

from estimator.data_class import dataclass
from estimator.standards import tables
from estimator.units import G_CM3_MM_KG_MM2

HALVINGS = 60
LARGE = 20.0


@dataclass(frozen=True)
class Material:
    """Thermal properties; W/mK over g/cm3 and kJ/kgK is a diffusivity in mm2/s."""

    melting_c: float
    heat_of_fusion_kj_kg: float
    cp_solid_kj_kg_k: float
    cp_melt_kj_kg_k: float
    k_solid_w_m_k: float
    k_melt_w_m_k: float
    density_g_cm3: float

    @property
    def solid_mm2_s(self) -> float:
        """Thermal diffusivity of the solid [mm2/s]."""
        return self.k_solid_w_m_k / (self.density_g_cm3 * self.cp_solid_kj_kg_k)

    @property
    def melt_mm2_s(self) -> float:
        """Thermal diffusivity of the melt [mm2/s]."""
        return self.k_melt_w_m_k / (self.density_g_cm3 * self.cp_melt_kj_kg_k)


def thermal_value(name: str) -> float:
    """Return a number of ``thermal.csv``."""
    return tables.number(tables.find_row("thermal", "item", name), "value")


@cache
def polyethylene() -> Material:
    """Return the properties of pipe-grade polyethylene, from ``thermal.csv``."""
    return Material(**{name: thermal_value(name) for name in Material.__dataclass_fields__})


def melt_energy_kj_kg(start_c: float, end_c: float, material: Material | None = None) -> float:
    """Return the heat that warms a solid, melts it and warms the melt.

    ``q = cp_solid (Tm - T0) + dHf + cp_melt (Ts - Tm)``.

    Parameters
    ----------
    start_c : float
        Temperature of the solid [C], below the melting temperature.
    end_c : float
        Temperature of the melt [C], above it.
    material : Material, optional
        Polyethylene if left out.

    Returns
    -------
    float
        Heat by mass [kJ/kg].

    Raises
    ------
    OutsideStandardError
        If the temperatures do not lie on the two sides of the melting temperature.

    Examples
    --------
    >>> round(melt_energy_kj_kg(20.0, 220.0))
    657
    """
    of = material or polyethylene()
    _require_melting(end_c, start_c, of)
    solid = of.cp_solid_kj_kg_k * (of.melting_c - start_c)
    melt = of.cp_melt_kj_kg_k * (end_c - of.melting_c)
    return solid + of.heat_of_fusion_kj_kg + melt


def _require_melting(hot_c: float, cold_c: float, of: Material) -> None:
    source = "melting temperature, table thermal"
    tables.require("heater temperature [C]", hot_c, of.melting_c, None, source)
    tables.require("start temperature [C]", cold_c, None, of.melting_c, source)


@lru_cache(maxsize=1024)
def melt_constant(heater_c: float, start_c: float, material: Material | None = None) -> float:
    """Return Neumann's constant: the melt front is at ``2 lambda sqrt(alpha_melt t)``.

    The root of ``exp(-l2) / erf(l) - b exp(-r2 l2) / erfc(r l) = sqrt(pi) l / Ste`` with
    ``r2 = alpha_melt / alpha_solid``, ``Ste = cp_melt (Ts - Tm) / dHf`` and
    ``b = (k_solid / k_melt) r (Tm - T0) / (Ts - Tm)``, by halving.

    Parameters
    ----------
    heater_c : float
        Temperature of the face [C], above the melting temperature.
    start_c : float
        Temperature of the pipe [C], below it.
    material : Material, optional
        Polyethylene if left out.

    Returns
    -------
    float
        Lambda [-].

    Raises
    ------
    OutsideStandardError
        As for ``melt_energy_kj_kg``.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids, chapter on latent heat.
    """
    of = material or polyethylene()
    _require_melting(heater_c, start_c, of)
    hot, cold = heater_c - of.melting_c, of.melting_c - start_c
    ratio = math.sqrt(of.melt_mm2_s / of.solid_mm2_s)
    inflow = of.cp_melt_kj_kg_k * hot
    outflow = of.cp_melt_kj_kg_k * of.k_solid_w_m_k / of.k_melt_w_m_k * ratio * cold

    def surplus(root: float) -> float:
        """Heat that reaches the front, less what leaves it, less what melts there."""
        latent = math.sqrt(math.pi) * root * of.heat_of_fusion_kj_kg
        gained = inflow * math.exp(-(root**2)) / math.erf(root)
        return gained - outflow * _exp_over_erfc(ratio * root) - latent

    low, high = 0.0, LARGE
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if surplus(middle) > 0 else (low, middle)
    return (low + high) / 2


def _exp_over_erfc(value: float) -> float:
    """Return ``exp(-x2) / erfc(x)``, by its asymptote where both would vanish."""
    if value > LARGE:
        return math.sqrt(math.pi) * (value + 1 / (2 * value))
    return math.exp(-(value**2)) / math.erfc(value)


def melt_depth_mm(
    heater_c: float, start_c: float, time_s: float, material: Material | None = None
) -> float:
    """Return how deep the face has melted after a time: ``2 lambda sqrt(alpha_melt t)``.

    Parameters
    ----------
    heater_c, start_c, material
        As for ``melt_constant``.
    time_s : float
        Time on the heater [s].

    Returns
    -------
    float
        Depth along the pipe [mm].

    Examples
    --------
    >>> round(melt_depth_mm(218.0, 20.0, 60.0), 1)
    1.7
    """
    of = material or polyethylene()
    return 2 * melt_constant(heater_c, start_c, of) * math.sqrt(of.melt_mm2_s * time_s)


def melt_time_s(
    heater_c: float, start_c: float, depth_mm: float, material: Material | None = None
) -> float:
    """Return the time after which the melt is so deep; the reverse of ``melt_depth_mm``.

    Parameters
    ----------
    heater_c, start_c, material
        As for ``melt_constant``.
    depth_mm : float
        Depth along the pipe [mm].

    Returns
    -------
    float
        Time on the heater [s].
    """
    of = material or polyethylene()
    return (depth_mm / (2 * melt_constant(heater_c, start_c, of))) ** 2 / of.melt_mm2_s


def face_energy_kj_mm2(
    heater_c: float, start_c: float, time_s: float, material: Material | None = None
) -> float:
    """Return the heat that has gone into one face, melt and warmed solid together.

    ``2 rho cp_melt (Ts - Tm) sqrt(alpha_melt t / pi) / erf(lambda)``.

    Parameters
    ----------
    heater_c, start_c, time_s, material
        As for ``melt_depth_mm``.

    Returns
    -------
    float
        Heat by area [kJ/mm2].
    """
    of = material or polyethylene()
    root = melt_constant(heater_c, start_c, of)
    reach_mm = 2 * math.sqrt(of.melt_mm2_s * time_s / math.pi) / math.erf(root)
    by_mass = of.cp_melt_kj_kg_k * (heater_c - of.melting_c)
    return of.density_g_cm3 * G_CM3_MM_KG_MM2 * by_mass * reach_mm
