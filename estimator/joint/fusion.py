"""What a fusion method asks of one joint, and the force and gauge pressure that go with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from functools import lru_cache, partial
from types import MappingProxyType
from typing import TYPE_CHECKING

from estimator.errors import UnknownNameError
from estimator.joint.methods import dvs2207, f2620, iso21307
from estimator.joint.methods.common import Conditions, Figures, assemble, heater_range
from estimator.joint.methods.own_figures import with_own_figures
from estimator.models.joint import FusionOptions, FusionParameters
from estimator.standards import tables
from estimator.steps.recorder import step
from estimator.units import to_si

if TYPE_CHECKING:
    from estimator.models.job_inputs import FusionInputs


class Method(StrEnum):
    """Fusion methods that can be chosen."""

    F2620 = "f2620"
    ISO21307_SLP = "iso21307-slp"
    ISO21307_DLP = "iso21307-dlp"
    ISO21307_SHP = "iso21307-shp"
    DVS2207 = "dvs2207"
    DVS2207_2005 = "dvs2207-2005"


METHODS: Mapping[Method, Callable[[Conditions], Figures]] = MappingProxyType(
    {
        Method.F2620: f2620.figures,
        Method.ISO21307_SLP: partial(iso21307.figures, Method.ISO21307_SLP.value),
        Method.ISO21307_DLP: partial(iso21307.figures, Method.ISO21307_DLP.value),
        Method.ISO21307_SHP: partial(iso21307.figures, Method.ISO21307_SHP.value),
        Method.DVS2207: dvs2207.figures,
        Method.DVS2207_2005: dvs2207.figures_2005,
    }
)
"""The function of each method; keys are the names used in workbooks and commands."""


@lru_cache(maxsize=4096)
def fusion_parameters(
    method: str,
    od_mm: float,
    wall_mm: float,
    ambient_c: float,
    options: FusionOptions | None = None,
) -> FusionParameters:
    """Return what a method asks of one joint, each figure with its source; see ``ask_method``.

    Examples
    --------
    >>> fusion_parameters("f2620", 355.6, 25.4, 20.0).cool_s
    660.0
    """
    return ask_method(method, od_mm, wall_mm, ambient_c, options)


def ask_method(
    method: str,
    od_mm: float,
    wall_mm: float,
    ambient_c: float,
    options: FusionOptions | None = None,
) -> FusionParameters:
    """Return temperature, pressures, bead and times of one joint, each with its source.

    Parameters
    ----------
    method : str
        A value of ``Method``, such as ``f2620``.
    od_mm : float
        Outside diameter [mm].
    wall_mm : float
        Minimum wall [mm], 1 mm to half of the outside diameter.
    ambient_c : float
        Air temperature at the joint [C], -45 to 55; DVS 2207-1 of 2015 up to 40.
    options : FusionOptions, optional
        Place of heater removal, and the user's own figures; None for the method as it stands.

    Returns
    -------
    FusionParameters
        None where the method states no value.

    Raises
    ------
    UnknownNameError
        If there is no such method.
    OutsideStandardError
        If diameter, wall or air temperature lies outside the method's tables.

    References
    ----------
    The tables of ``estimator/standards`` that each source names.
    """
    require_method(method)
    tables.require_within("ambient temperature", ambient_c)
    tables.require_within("outside diameter", od_mm)
    tables.require_within("wall thickness", wall_mm)
    tables.require("wall thickness [mm]", wall_mm, None, od_mm / 2, "half of the diameter")
    asked = options or FusionOptions()
    at = Conditions(od_mm, wall_mm, ambient_c, asked.removal_place, asked.beyond_wall_limit)
    found = assemble(method, at, METHODS[Method(method)](at))
    return with_own_figures(found, wall_mm, asked)


def fusion_options(fusion: FusionInputs) -> FusionOptions:
    """Return what the Job sheet chooses within the method, or puts in place of its figures."""
    rest_min = fusion.own_rest_min
    return FusionOptions(
        removal_place=fusion.removal_place,
        beyond_wall_limit=fusion.beyond_wall_limit,
        soak_s_per_mm=fusion.own_soak_s_mm,
        cool_s_per_mm=fusion.own_cooling_s_mm,
        rest_s=None if rest_min is None else to_si(rest_min, "min"),
        interfacial_mpa=fusion.own_interfacial_mpa,
    )


def heater_c(method: str) -> float:
    """Return the heater temperature that a method aims at: the middle of its range.

    Parameters
    ----------
    method : str
        A value of ``Method``, such as ``f2620``.

    Returns
    -------
    float
        Heater surface [C].

    Raises
    ------
    UnknownNameError
        If there is no such method.

    References
    ----------
    ``method_values.csv``.
    """
    require_method(method)
    _, aimed, _ = heater_range(method)
    return aimed


def require_method(method: str) -> None:
    """Raise UnknownNameError if there is no such method."""
    known = [key.value for key in METHODS]
    if method not in known:
        raise UnknownNameError("fusion method", method, known)


@step("Fusion force", "area x interfacial pressure")
def fusion_force_n(area_mm2: float, interfacial_mpa: float) -> float:
    """Return the force that presses the joint faces together: ``area x pressure``.

    Parameters
    ----------
    area_mm2 : float
        Face of the joint [mm2].
    interfacial_mpa : float
        Interfacial pressure [MPa].

    Returns
    -------
    float
        Force [N], without drag.

    Examples
    --------
    >>> fusion_force_n(2000.0, 0.5)
    1000.0
    """
    return area_mm2 * interfacial_mpa


def gauge_mpa(
    area_mm2: float, interfacial_mpa: float, piston_area_mm2: float, drag_mpa: float
) -> float:
    """Return the gauge pressure of a hydraulic machine: ``area x IFP / piston area + drag``.

    Parameters
    ----------
    area_mm2 : float
        Face of the joint [mm2].
    interfacial_mpa : float
        Interfacial pressure [MPa].
    piston_area_mm2 : float
        Total effective piston area [mm2], 1 or more.
    drag_mpa : float
        Pressure that just moves the loaded carriage [MPa].

    Returns
    -------
    float
        Gauge pressure [MPa].

    Raises
    ------
    OutsideStandardError
        If the piston area is below 1 mm2.

    Examples
    --------
    >>> gauge_mpa(2000.0, 0.5, 500.0, 0.2)
    2.2
    """
    tables.require_within("piston area", piston_area_mm2)
    return piston_mpa(area_mm2, interfacial_mpa, piston_area_mm2, drag_mpa)


@step("Gauge pressure", "area x interfacial pressure / piston area + drag")
def piston_mpa(
    area_mm2: float, interfacial_mpa: float, piston_area_mm2: float, drag_mpa: float
) -> float:
    """Return the gauge pressure of a hydraulic machine."""
    return area_mm2 * interfacial_mpa / piston_area_mm2 + drag_mpa
