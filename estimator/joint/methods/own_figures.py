"""Figures of the user's own in place of a method's; each says so in its source and in a note."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from estimator.data_class import dataclass
from estimator.display import FIGURE_LABELS
from estimator.models.joint import FusionOptions, FusionParameters, Source
from estimator.steps.kinds import Time, TimePerWall
from estimator.steps.recorder import step
from estimator.units import from_si

Value = float | tuple[float, float, float]

LESS = "; less than the method requires"
OUTSIDE = "; outside the method's range"


@dataclass(frozen=True)
class OwnFigure:
    """One figure of the user's own: field, value, both values in words, and what to heed."""

    field: str
    value: Value
    own_text: str
    method_text: str
    remark: str = ""


def with_own_figures(
    parameters: FusionParameters, wall_mm: float, options: FusionOptions
) -> FusionParameters:
    """Return the parameters with the user's own figures in place of the method's.

    Parameters
    ----------
    parameters : FusionParameters
        By the method.
    wall_mm : float
        Minimum wall [mm], by which own soak and cooling are multiplied.
    options : FusionOptions
        Own figures; None leaves the method's.

    Returns
    -------
    FusionParameters
        Unchanged if there is no own figure. Else each one has a source of confidence
        ``assumption`` and a note with both values.
    """
    own = tuple(_own_figures(parameters, wall_mm, options))
    if not own:
        return parameters
    sources = {source.figure: source for source in parameters.sources}
    for figure in own:
        sources[figure.field] = _source(figure, sources.get(figure.field), options.given_in)
    values: dict[str, Any] = {figure.field: figure.value for figure in own}
    notes = tuple(_note(figure, options.given_in) for figure in own)
    return replace(
        parameters, **values, notes=(*parameters.notes, *notes), sources=tuple(sources.values())
    )


def _own_figures(
    parameters: FusionParameters, wall_mm: float, options: FusionOptions
) -> Iterator[OwnFigure]:
    if options.soak_s_per_mm is not None:
        yield _by_wall("soak_s", options.soak_s_per_mm, wall_mm, parameters.soak_s)
    if options.cool_s_per_mm is not None:
        yield _by_wall("cool_s", options.cool_s_per_mm, wall_mm, parameters.cool_s)
    if options.rest_s is not None:
        text = _minutes(options.rest_s)
        yield _time("rest_s", options.rest_s, text, parameters.rest_s)
    if options.interfacial_mpa is not None:
        yield _pressure(options.interfacial_mpa, parameters.interfacial_mpa)


@step("{figure}", "own figure for each unit of wall x wall")
def own_by_wall(figure: str, each: TimePerWall, wall_mm: float) -> Time:
    """Return a time of the user's own in proportion to the wall."""
    del figure
    return each * wall_mm


def _by_wall(field: str, s_per_mm: float, wall_mm: float, method_s: float) -> OwnFigure:
    seconds = own_by_wall(field, s_per_mm, wall_mm)
    pace = f"{s_per_mm:.4g} s/mm ({from_si(s_per_mm, 'min/in'):.4g} min/in)"
    return _time(field, seconds, f"{_minutes(seconds)} at {pace}", method_s)


def _time(field: str, seconds: float, own_text: str, method_s: float | None) -> OwnFigure:
    less = method_s is not None and seconds < method_s
    method_text = "none" if method_s is None else _minutes(method_s)
    return OwnFigure(field, seconds, own_text, method_text, LESS if less else "")


def _pressure(own_mpa: float, method_mpa: tuple[float, float, float]) -> OwnFigure:
    low, _, high = method_mpa
    remark = "" if low <= own_mpa <= high else OUTSIDE
    span = f"{_mpa_and_psi(low)} to {_mpa_and_psi(high)}"
    three = (own_mpa, own_mpa, own_mpa)
    return OwnFigure("interfacial_mpa", three, _mpa_and_psi(own_mpa), span, remark)


def _minutes(seconds: float) -> str:
    return f"{from_si(seconds, 'min'):.2f} min"


def _mpa_and_psi(mpa: float) -> str:
    return f"{mpa:.3g} MPa ({from_si(mpa, 'psi'):.0f} psi)"


def _note(figure: OwnFigure, given_in: str) -> str:
    label = FIGURE_LABELS[figure.field]
    return (
        f"{label}: override on {given_in}, {figure.own_text} in place of the method's "
        f"{figure.method_text}{figure.remark}"
    )


def _source(figure: OwnFigure, method: Source | None, given_in: str) -> Source:
    replaced = (
        "no value in the method" if method is None else f"{method.text} [{method.confidence}]"
    )
    return Source(
        figure=figure.field,
        text=f"override on {given_in}, in place of {replaced}",
        confidence="assumption",
    )
