"""Wall rules of the inch and metric pipe systems, from the numbers in the tables."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.standards.pipe_sizes import find_pipe
from estimator.steps.kinds import Inches, Millimeters
from estimator.steps.marks import ceil_step, nearest_step
from estimator.steps.recorder import step
from estimator.units import IN_MM

ASSUMPTION = "assumption"


def _rule(item: str) -> float:
    return tables.number(tables.find_row("wall_rules", "item", item), "value")


@step("Minimum wall", "OD / DR, rounded half up to its step")
def wall_by_inch_rule(od: Inches, dr: float, to: Inches) -> Inches:
    """Return the wall of inch pipe."""
    return nearest_step(od / dr, to)


@step("Dimension ratio of the series", "2 x S + 1")
def series_ratio(s_exact: float) -> float:
    """Return the exact ratio of a pipe series."""
    return 2 * s_exact + 1


@step("Minimum wall", "OD / ratio, rounded to a guard step, then up to its step")
def wall_by_metric_rule(
    od: Millimeters, ratio: float, guard: Millimeters, to: Millimeters
) -> Millimeters:
    """Return the wall of metric pipe."""
    return ceil_step(nearest_step(od / ratio, guard), to)


@step("Minimum wall", "OD / DR, rounded up to its step")
def wall_by_ratio(od: Millimeters, dr: float, to: Millimeters) -> Millimeters:
    """Return the wall of a diameter that is given in mm."""
    return ceil_step(od / dr, to)


@step("Average wall", "minimum wall x factor")
def mean_by_factor(wall_mm: float, factor: float) -> Annotated[float, "small_length"]:
    """Return the mean wall of inch pipe."""
    return wall_mm * factor


@step("Average wall", "minimum wall + half of its tolerance")
def mean_by_tolerance(
    wall: Millimeters, share: float, fixed: Millimeters, to: Millimeters
) -> Millimeters:
    """Return the mean wall of metric pipe; the tolerance is rounded up to its step."""
    return wall + ceil_step(share * wall + fixed, to) / 2


def inch_wall(od: tables.Row, dr: float, rule: str = "inch_wall_step") -> Figure:
    """Return ``OD / DR`` of an inch size, rounded half up to a step of the rules [mm]."""
    wall_in = wall_by_inch_rule(tables.number(od, "od_in"), dr, _rule(rule))
    wall_mm = float(Decimal(str(wall_in)) * Decimal(str(IN_MM)))
    return Figure(wall_mm, cite("wall_mm", tables.find_row("wall_rules", "item", rule)))


def metric_wall(od: tables.Row, dr: float) -> Figure:
    """Return ``dn / (2 S + 1)`` of an ISO size, rounded up, lifted or disputed [mm].

    A ratio of the series stands for its exact number S; any other is taken as it stands.
    Where a published wall differs from the rule, the thicker of the two is taken.

    Raises
    ------
    OutsideStandardError
        If the wall comes out too thin to be listed.
    """
    dn = tables.number(od, "od_mm")
    series = tables.find_rows("metric_series", sdr=dr)
    ratio = series_ratio(tables.number(series[0], "s_exact")) if series else dr
    steps = _rule("metric_guard_step"), _rule("metric_wall_step")
    wall_mm = wall_by_metric_rule(dn, ratio, *steps)
    tables.require_within("calculated metric wall", wall_mm)
    for row in tables.find_rows("metric_wall_disputed", dn_mm=dn, sdr=dr):
        return Figure(tables.number(row, "used_mm"), cite("wall_mm", row))
    for row in tables.load("metric_wall_lifts"):
        low, high, dn_to = (
            tables.number(row, key)
            for key in ("calculated_from_mm", "calculated_to_mm", "dn_to_mm")
        )
        if dn <= dn_to and low <= wall_mm <= high:
            return Figure(tables.number(row, "wall_mm"), cite("wall_mm", row))
    detail = "" if series else "this ratio is in no series and is taken as it stands"
    row = tables.find_row("wall_rules", "item", "metric_wall_step")
    return Figure(wall_mm, cite("wall_mm", row, detail))


def custom_inch_wall(od: tables.Row, dr: float) -> Figure:
    """Return the wall of a diameter given in inches, by the rule of inch pipe [mm]."""
    return _thick_enough(inch_wall(od, dr, "custom_inch_step"))


def custom_metric_wall(od: tables.Row, dr: float) -> Figure:
    """Return ``OD / DR`` of a diameter given in mm, rounded up [mm]."""
    wall_mm = wall_by_ratio(tables.number(od, "od_mm"), dr, _rule("custom_metric_step"))
    row = tables.find_row("wall_rules", "item", "custom_metric_step")
    return _thick_enough(Figure(wall_mm, cite("wall_mm", row)))


def _thick_enough(wall: Figure) -> Figure:
    tables.require_within("wall thickness", wall.value)
    return wall


RULES: Mapping[str, Callable[[tables.Row, float], Figure]] = MappingProxyType(
    {
        "inch": inch_wall,
        "metric": metric_wall,
        "custom inch": custom_inch_wall,
        "custom metric": custom_metric_wall,
    }
)
"""The function of each wall rule that ``od_systems.csv`` names."""


def min_wall(system: tables.Row, od: tables.Row, dr: float) -> Figure:
    """Return the minimum wall by the rule of the outside diameter system.

    Parameters
    ----------
    system : Row
        Row of ``od_systems.csv``.
    od : Row
        Row of ``pipe_od.csv``, or one like it of a diameter given as a number.
    dr : float
        Dimension ratio [-], 5 to 50.

    Returns
    -------
    Figure
        Minimum wall [mm].

    Raises
    ------
    OutsideStandardError
        If the ratio is out of range, or a wall comes out too thin.
    """
    tables.require_within("dimension ratio", dr)
    return RULES[str(system["wall_rule"])](od, dr)


def mean_wall(system: tables.Row, wall_mm: float) -> Figure:
    """Return the mean wall that goes with a minimum wall.

    Parameters
    ----------
    system : Row
        Row of ``od_systems.csv``.
    wall_mm : float
        Minimum wall [mm].

    Returns
    -------
    Figure
        Mean wall [mm]: a factor on the minimum, or the minimum plus half of the tolerance.
    """
    if system["unit"] == "in":
        row = tables.find_row("wall_rules", "item", "inch_mean_factor")
        mean = mean_by_factor(wall_mm, _rule("inch_mean_factor"))
    else:
        row = tables.find_row("wall_rules", "item", "metric_tolerance_share")
        rules = [_rule(f"metric_tolerance_{part}") for part in ("share", "fixed", "step")]
        mean = mean_by_tolerance(wall_mm, *rules)
    source = cite("mean_wall_mm", row)
    if system["confidence"] == ASSUMPTION:
        text = f"{source.text}; taken over for a diameter that no table lists"
        source = replace(source, confidence=ASSUMPTION, text=text)
    return Figure(mean, source)


def min_wall_mm(od_system: str, size: str | float, dr: float) -> float:
    """Return the minimum wall of a pipe.

    Inch systems: ``OD / DR`` rounded half up to 0.001 in. ISO: ``dn / (2 S + 1)`` with the
    exact series number S, rounded up to 0.1 mm; thin walls are lifted, and where a published
    wall differs the thicker is taken. OD: the plain ratio, in mm rounded up to 0.1 mm.

    Parameters
    ----------
    od_system, size : str
        As for ``pipe_od_mm``.
    dr : float
        Dimension ratio [-], 5 to 50.

    Returns
    -------
    float
        Minimum wall [mm].

    Raises
    ------
    UnknownNameError
        If the system or the size is not listed.
    OutsideStandardError
        If the ratio is out of range, or a wall comes out too thin to be listed or fused.

    Examples
    --------
    >>> min_wall_mm("ISO", "110", 11.0)
    10.0

    References
    ----------
    ``wall_rules.csv``, ``metric_series.csv``, ``metric_wall_lifts.csv``,
    ``metric_wall_disputed.csv``.
    """
    pipe = find_pipe(od_system, size)
    return min_wall(pipe.system, pipe.od, dr).value


def mean_wall_mm(od_system: str, size: str | float, dr: float) -> float:
    """Return the mean wall, on which weight and inside diameter rest.

    Parameters, errors and range are those of ``min_wall_mm``.

    Returns
    -------
    float
        Mean wall [mm]: inch systems a fixed factor on the minimum; ISO the minimum plus half
        of the wall tolerance.

    References
    ----------
    ``wall_rules.csv``.
    """
    pipe = find_pipe(od_system, size)
    wall = min_wall(pipe.system, pipe.od, dr)
    return mean_wall(pipe.system, wall.value).value
