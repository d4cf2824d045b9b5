"""``estimator request``: what is asked of rental suppliers, one page for each kind of equipment."""

import argparse
from collections.abc import Iterator

from estimator.cli import output
from estimator.cli.table import in_columns
from estimator.display import UnitSystem, counted, show_day
from estimator.equipment.quotes import QuoteComparison
from estimator.models.rental_kinds import KIND_WORDS
from estimator.models.rental_request import RequestLine


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator request``."""
    output.add_options(parser)
    parser.add_argument(
        "--take",
        metavar="NUMBER",
        type=int,
        help="write the rates of this quote into the class of its line, with the quote as Basis",
    )
    parser.add_argument(
        "--order", metavar="YYYY-MM-DD", help="day of the order (default: the estimate date)"
    )
    parser.set_defaults(run=run_request)


def run_request(options: argparse.Namespace) -> int:
    """Write the request sheets, compare the quotes that there are, or take one."""
    from estimator.after_award import QUOTES, quote_taken, request_pages
    from estimator.export.site_as_json import request_json

    workbook = output.read(options)
    order = output.date_option("--order", options.order) if options.order else None
    if options.take is not None:
        cells = quote_taken(workbook, options.take)
        output.deliver_cells(options, workbook, cells, lambda: {"taken": options.take})
        return 0
    asked, pages = request_pages(workbook, order)
    lines = list(summary(asked.lines, workbook.job.cover.unit_system))
    if asked.comparison is not None:
        lines += of_quotes(asked.comparison, workbook.job.cover.currency)
    output.deliver_pages(
        options, workbook, pages, lambda: request_json(asked.lines, asked.comparison), lines,
        apart="" if asked.has_quotes else QUOTES,
    )  # fmt: skip
    return 0


def of_quotes(comparison: QuoteComparison, currency: str) -> Iterator[str]:
    """Yield the quotes in columns, and the cheapest choice of each kind."""
    from estimator.workbook.results.quotes_sheet import remark

    heads = (
        "Quote",
        "line",
        "supplier",
        f"cost, {currency}",
        "2 weeks later",
        "1 week earlier",
        "",
    )
    rows = [
        (
            str(one.number), str(one.line.number), one.quote.supplier, f"{one.cost:,.2f}",
            f"{one.cost_later:,.2f}", f"{one.cost_sooner:,.2f}", remark(one),
        )
        for one in comparison.quotes
    ]  # fmt: skip
    yield ""
    yield from in_columns([heads, *rows])
    for choice in comparison.choices:
        what = KIND_WORDS[choice.kind]
        if choice.single:
            yield f"{what}: cheapest single supplier {choice.single}, {choice.single_cost:,.2f}"
        names = ", ".join(f"line {x.line.number} {x.quote.supplier}" for x in choice.mix)
        yield f"{what}: cheapest mix {names or 'none fits'}, {choice.mix_cost:,.2f}"
    if comparison.unknown:
        yield f"For no line of the request: quotes {', '.join(map(str, comparison.unknown))}"


def summary(lines: tuple[RequestLine, ...], system: UnitSystem) -> Iterator[str]:
    """Yield each line with what it must do and its dates."""
    from estimator.workbook.results.request_sheet import wanted

    for line in lines:
        first, *others = wanted(line, system)
        dates = f"{show_day(line.deliver_by, system)} to {show_day(line.off_rent, system)}"
        yield f"{line.number}  {line.quantity} x {first}"
        yield f"     {dates}, {counted(line.work_days, 'day')} in use"
        for text in others:
            yield f"     {text}"
