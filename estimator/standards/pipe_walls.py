"""Wall rules of the inch and metric pipe systems, from the numbers in the tables."""

from collections.abc import Callable, Mapping
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from types import MappingProxyType

from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.units import IN_MM

ASSUMPTION = "assumption"


def _rule(item: str) -> Decimal:
    return Decimal(str(tables.find_row("wall_rules", "item", item)["value"]))


def _round_up(value: Decimal, step: Decimal) -> Decimal:
    return (value / step).to_integral_value(ROUND_CEILING) * step


def _round_half_up(value: Decimal, step: Decimal) -> Decimal:
    return (value / step).to_integral_value(ROUND_HALF_UP) * step


def inch_wall(od: tables.Row, dr: float, step: str = "inch_wall_step") -> Figure:
    """Return ``OD / DR`` of an inch size, rounded half up to a step of the rules [mm]."""
    wall_in = Decimal(str(od["od_in"])) / Decimal(str(dr))
    wall_mm = _round_half_up(wall_in, _rule(step)) * Decimal(str(IN_MM))
    return Figure(float(wall_mm), cite("wall_mm", tables.find_row("wall_rules", "item", step)))


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
    ratio = 2 * tables.number(series[0], "s_exact") + 1 if series else dr
    guarded = _round_half_up(Decimal(dn / ratio), _rule("metric_guard_step"))
    wall_mm = float(_round_up(guarded, _rule("metric_wall_step")))
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
    wall = _round_up(Decimal(str(od["od_mm"])) / Decimal(str(dr)), _rule("custom_metric_step"))
    row = tables.find_row("wall_rules", "item", "custom_metric_step")
    return _thick_enough(Figure(float(wall), cite("wall_mm", row)))


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
    wall = Decimal(str(wall_mm))
    if system["unit"] == "in":
        row = tables.find_row("wall_rules", "item", "inch_mean_factor")
        mean = wall * _rule("inch_mean_factor")
    else:
        row = tables.find_row("wall_rules", "item", "metric_tolerance_share")
        tolerance = _rule("metric_tolerance_share") * wall + _rule("metric_tolerance_fixed")
        mean = wall + _round_up(tolerance, _rule("metric_tolerance_step")) / 2
    source = cite("mean_wall_mm", row)
    if system["confidence"] == ASSUMPTION:
        text = f"{source.text}; taken over for a diameter that no table lists"
        source = source.model_copy(update={"confidence": ASSUMPTION, "text": text})
    return Figure(float(mean), source)
