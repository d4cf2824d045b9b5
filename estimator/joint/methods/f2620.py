"""ASTM F2620: times by the inch of wall, bead by outside diameter, removal time by wall."""

from functools import cache

from estimator.joint.methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.steps.kinds import Inches, Millimeters, Minutes
from estimator.steps.recorder import step
from estimator.units import IN_MM, at_least, to_si

BEAD_KEYS = ("od_from_in", "od_to_in")
REMOVAL_KEYS = ("wall_from_in", "wall_to_in")


@step("Wall, in inches", "wall / millimeters of an inch")
def wall_in_inches(wall: Millimeters) -> Inches:
    """Return the wall in the unit by which times are stated."""
    return wall / IN_MM


@step("{figure}", "minutes for each inch of wall x wall")
def minutes_by_inch(figure: str, each: float, wall: Inches) -> Minutes:
    """Return a time in proportion to the wall."""
    del figure
    return each * wall


def _by_inch(field: str, item: str, wall_in: float) -> Figure:
    row = tables.find_row("f2620_times", "item", item)
    minutes = minutes_by_inch(field, tables.number(row, "value"), wall_in)
    return Figure(to_si(minutes, "min"), cite(field, row))


def _rest() -> Figure:
    row = tables.find_row("f2620_times", "item", "rest")
    return Figure(to_si(tables.number(row, "value"), "min"), cite("rest_s", row))


def figures(at: Conditions) -> Figures:
    """Return the figures of a joint by ASTM F2620.

    Soak and cooling are in proportion to the wall at every diameter; below 14 in the standard
    ends the soak on bead size, which a note says. The removal time is that of the place where
    the joint is made, the field or a fabrication shop.

    Parameters
    ----------
    at : Conditions
        Outside diameter up to 65 in. A wall under 0.17 in has no removal time, which a note says.

    Returns
    -------
    mapping of str to Figure

    Raises
    ------
    OutsideStandardError
        If the diameter lies outside the tables.

    References
    ----------
    ``f2620_times.csv``, ``f2620_bead.csv``, ``f2620_removal.csv``.
    """
    bead = tables.band("f2620_bead", BEAD_KEYS, at.od_in, "outside diameter [in]")
    found = {
        "bead_min_mm": Figure(
            to_si(tables.number(bead, "bead_in"), "in"), cite("bead_min_mm", bead)
        ),
        "soak_s": _by_inch("soak_s", "soak", at.wall_in),
        "cool_s": _by_inch("cool_s", "cooling", at.wall_in),
        "rest_s": _rest(),
    }
    if at_least(at.wall_in, _thinnest_in(at.removal_place)):
        removal = tables.band(
            "f2620_removal", REMOVAL_KEYS, at.wall_in, "wall thickness [in]",
            place=at.removal_place,
        )  # fmt: skip
        seconds = tables.number(removal, "removal_s")
        found["open_close_max_s"] = Figure(seconds, cite("open_close_max_s", removal))
    return found


@cache
def _thinnest_in(place: str) -> float:
    """Return the wall at which the table of removal times begins; thinner ones have none."""
    rows = tables.find_rows("f2620_removal", place=place)
    return min(tables.number(row, REMOVAL_KEYS[0]) for row in rows)
