"""``estimator basis``: what the price rests on, each own assumption by what it moves."""

import argparse
import dataclasses
from collections.abc import Iterator
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.display import counted
from estimator.models.assumptions import Assumption, AssumptionTable
from estimator.workbook.book import Workbook

if TYPE_CHECKING:
    from estimator.study import Watcher

HEADS = ("Assumption", "Now", "Moved", "Price change", "Cell")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator basis``."""
    output.add_options(parser)
    parser.set_defaults(run=run_basis)


def run_basis(options: argparse.Namespace) -> int:
    """Estimate a workbook, weigh its assumptions, write the results, print every assumption."""
    return output.run_sheet(options, _weighed)


def _weighed(workbook: Workbook, watcher: "Watcher") -> output.Shown:
    from estimator import api
    from estimator.export.as_json import assumptions_json

    estimate = api.estimate_workbook(workbook, watcher)
    table = api.assumptions_of(estimate, workbook.places, watcher)
    return output.Shown(
        dataclasses.replace(estimate, assumptions=table),
        "Basis of estimate",
        shown(table, estimate.job.cover.currency),
        lambda: assumptions_json(table),
    )


def shown(table: AssumptionTable, currency: str) -> Iterator[str]:
    """Yield every assumption at its default, that which moves the price most first."""
    from estimator.cli.table import in_columns

    yield (
        f"{counted(len(table.assumptions), 'own assumption')} still at the default; bid price in "
        f"{currency}, one moved at a time"
    )
    yield from in_columns([HEADS, *map(_cells, table.assumptions)])


def _cells(one: Assumption) -> tuple[str, ...]:
    change = "not moved" if one.change is None else f"{one.change:+,.2f}"
    return (one.name, one.value or counted(one.rows, "row"), one.move or "-", change, one.where)
