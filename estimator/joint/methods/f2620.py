"""ASTM F2620: times by the inch of wall, bead by outside diameter, removal time by wall."""

from estimator.joint.methods.common import Conditions, Figures
from estimator.standards import tables
from estimator.standards.citing import Figure, cite
from estimator.units import to_si

BEAD_KEYS = ("od_from_in", "od_to_in")
REMOVAL_KEYS = ("wall_from_in", "wall_to_in")


def _minutes(field: str, item: str, per: float) -> Figure:
    row = tables.find_row("f2620_times", "item", item)
    return Figure(to_si(tables.number(row, "value") * per, "min"), cite(field, row))


def figures(at: Conditions) -> Figures:
    """Return the figures of a joint by ASTM F2620.

    Soak and cooling are in proportion to the wall at every diameter; below 14 in the standard
    ends the soak on bead size, which a note says. The removal time is that of the place where
    the joint is made, the field or a fabrication shop.

    Parameters
    ----------
    at : Conditions
        Outside diameter up to 65 in, wall from 0.17 in.

    Returns
    -------
    mapping of str to Figure

    Raises
    ------
    OutsideStandardError
        If the diameter or wall lies outside the tables.

    References
    ----------
    ``f2620_times.csv``, ``f2620_bead.csv``, ``f2620_removal.csv``.
    """
    bead = tables.band("f2620_bead", BEAD_KEYS, at.od_in, "outside diameter [in]")
    place = at.removal_place
    removal = tables.band(
        "f2620_removal", REMOVAL_KEYS, at.wall_in, "wall thickness [in]", place=place
    )
    return {
        "bead_min_mm": Figure(
            to_si(tables.number(bead, "bead_in"), "in"), cite("bead_min_mm", bead)
        ),
        "soak_s": _minutes("soak_s", "soak", at.wall_in),
        "open_close_max_s": Figure(
            tables.number(removal, "removal_s"), cite("open_close_max_s", removal)
        ),
        "cool_s": _minutes("cool_s", "cooling", at.wall_in),
        "rest_s": _minutes("rest_s", "rest", 1.0),
    }
