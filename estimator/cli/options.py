"""``estimator options``: the job with other crews, machines and shifts, and what each costs."""

import argparse
import dataclasses
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.cli.table import below, in_columns
from estimator.display import show_date
from estimator.errors import InputError, Problem
from estimator.models.options import NoOptions, Option, OptionTable
from estimator.workbook.book import Workbook

if TYPE_CHECKING:
    from estimator.study import Watcher

HEADS = (
    "Option",
    "Finish",
    "Days late",
    "Days earlier",
    "Job cost",
    "Liq. damages",
    "Bid price",
    "Cost change",
)
WIDTH = 100


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator options``."""
    output.add_options(parser)
    parser.set_defaults(run=run_options)


def run_options(options: argparse.Namespace) -> int:
    """Estimate a workbook with its options, write the results, print the options."""
    return output.run_sheet(options, _tried)


def _tried(workbook: Workbook, watcher: "Watcher") -> output.Shown:
    from estimator import api
    from estimator.export.as_json import options_json

    estimate = api.estimate_workbook(workbook, watcher)
    table = api.options_of(estimate, workbook.places, watcher)
    if isinstance(table, NoOptions):
        where = workbook.places.where("job", "", "option_crews")
        message = "Crews to try, up to: 0 means no options. Enter 1 or more"
        raise InputError([Problem(where, message)])
    estimate = dataclasses.replace(estimate, options=table)
    return output.Shown(estimate, "Options", shown(table), lambda: options_json(table))


def shown(table: OptionTable) -> Iterator[str]:
    """Yield the answers in words, and then the options line by line, each with its remark."""
    from estimator.whatif import impossible, sentences
    from estimator.whatif.options import remark

    for sentence in sentences(table):
        yield from textwrap.wrap(sentence, WIDTH)
    head, *rows = in_columns([HEADS, *(_cells(table, one) for one in table.possible)])
    yield ""
    yield f"Amounts in {table.currency}; days are calendar days"
    yield head
    for option, row in zip(table.possible, rows, strict=True):
        yield row
        yield from below(remark(table, option), WIDTH)
    for name, why in impossible(table):
        yield name
        yield from below(why, WIDTH)


def _cells(table: OptionTable, option: Option) -> Sequence[str]:
    found = option.figures
    if found is None:
        return (option.name,)
    return (
        option.name,
        show_date(found.finish, table.system),
        f"{found.days_late:,}",
        f"{table.days_before_base(option):,}",
        f"{found.job_cost:,.2f}",
        f"{option.liquidated_damages:,.2f}",
        f"{found.price:,.2f}",
        f"{table.more_cost(option):+,.2f}",
    )
