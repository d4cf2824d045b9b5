"""``estimator options``: the job with other crews, machines and shifts, and what each costs."""

import argparse
import dataclasses
import textwrap
from collections.abc import Iterator, Sequence

from estimator import cli_output
from estimator.errors import InputError, Problem
from estimator.models.options import NoOptions, Option, OptionTable

HEADS = ("Option", "Finish", "Late", "Sooner", "Job cost", "Late charge", "Bid price", "More cost")
WIDTH = 100
INDENT = "    "


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator options``."""
    cli_output.add_options(parser)
    parser.set_defaults(run=run_options)


def run_options(options: argparse.Namespace) -> int:
    """Estimate a workbook with its options, write the results, print the options."""
    from estimator import api
    from estimator.report_choices import options_json

    workbook = api.read_workbook(options.file)
    found = api.estimate_workbook(workbook)
    table = api.options_of(found, workbook.places)
    if isinstance(table, NoOptions):
        where = workbook.places.where("job", "", "option_crews")
        message = "Most crews to consider: got 0, allowed 1 or more for the options"
        raise InputError([Problem(where, message)])
    found = dataclasses.replace(found, options=table)
    path = cli_output.deliver(options, workbook, found, options_json(table))
    lines = (*shown(table), "", f"Workbook: {path}, sheet Options")
    cli_output.tell(options, "".join(f"{line}\n" for line in lines))
    return 0


def shown(table: OptionTable) -> Iterator[str]:
    """Yield the answers in words, and then the options line by line, each with its remark."""
    from estimator.options_told import impossible, remark, sentences

    for sentence in sentences(table):
        yield from textwrap.wrap(sentence, WIDTH)
    rows = [HEADS, *(_cells(table, option) for option in table.possible)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEADS))]
    yield ""
    yield f"Amounts in {table.currency}; days are calendar days"
    yield _line(HEADS, widths)
    for option, cells in zip(table.possible, rows[1:], strict=True):
        yield _line(cells, widths)
        yield from _below(remark(table, option))
    for name, why in impossible(table):
        yield name
        yield from _below(why)


def _below(text: str) -> Sequence[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT)


def _cells(table: OptionTable, option: Option) -> Sequence[str]:
    found = option.figures
    if found is None:
        return (option.name,)
    return (
        option.name,
        f"{found.finish:%d %b %Y}",
        f"{found.days_late:,}",
        f"{table.days_before_base(option):,}",
        f"{found.job_cost:,.2f}",
        f"{option.late_charge:,.2f}",
        f"{found.price:,.2f}",
        f"{table.more_cost(option):+,.2f}",
    )


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    name, *numbers = cells
    first, *others = widths
    shown = "  ".join(f"{cell:>{width}}" for cell, width in zip(numbers, others, strict=True))
    return f"{name:<{first}}  {shown}".rstrip()
