"""Every rule that spans inputs, in the order of the sheets."""

from collections.abc import Iterator

from estimator.input_errors import (
    dates,
    equipment,
    on_site,
    owner_items,
    priced_items,
    runs,
    scenarios,
    shifts,
    tables,
)
from estimator.input_errors.entries import Broken, Rule, Sheets

RULES: tuple[Rule, ...] = (
    *tables.RULES,
    *dates.RULES,
    *shifts.RULES,
    *on_site.RULES,
    *runs.RULES,
    *equipment.RULES,
    *priced_items.RULES,
    *owner_items.RULES,
    *scenarios.RULES,
)


def broken_rules(sheets: Sheets) -> Iterator[Broken]:
    """Yield what the inputs break."""
    for rule in RULES:
        yield from rule(sheets)
