"""How the cells of a workbook write a unit where the trade has a spelling of its own."""

from collections.abc import Mapping
from types import MappingProxyType

from estimator.display import EACH, LUMP_SUM, UnitSystem
from estimator.models.kinds import CONNECTIONS, TRIAL_FUSIONS

_BY_THE_PIECE = ("each", "test section", TRIAL_FUSIONS.unit)
_IN_BOTH = {
    "lump sum": LUMP_SUM,
    "work day": "workday",
    **dict.fromkeys(_BY_THE_PIECE, EACH),
    **{kind.counted_item.unit: EACH for kind in CONNECTIONS},
}
TRADE_UNITS: Mapping[UnitSystem, Mapping[str, str]] = MappingProxyType(
    {"US": {**_IN_BOTH, "h": "hr", "gal/h": "gal/hr"}, "SI": _IN_BOTH}
)
"""By unit system; both spellings are read."""


def written(unit: str, system: UnitSystem) -> str:
    """Return a unit as a cell of the workbook writes it.

    >>> written("h", "US"), written("h", "SI"), written("lump sum", "US"), written("ft", "US")
    ('hr', 'h', 'LS', 'ft')
    """
    return TRADE_UNITS[system].get(unit, unit)
