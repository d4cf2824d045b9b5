"""``estimator status``: where the job stands on a date, when it ends, and what would help."""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.cli.table import in_columns
from estimator.display import show_date, show_day

if TYPE_CHECKING:
    from estimator.models.options import NoOptions, OptionTable
    from estimator.progress.standing import Standing
    from estimator.progress.status import Status


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator status``."""
    output.add_options(parser)
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", required=True, help="last day that is counted"
    )
    parser.add_argument(
        "--options",
        action="store_true",
        help="also try other crews, machines and shifts from the status date",
    )
    parser.set_defaults(run=run_status)


def run_status(options: argparse.Namespace) -> int:
    """Write the Status sheet, and print what stands on it."""
    from estimator import api
    from estimator.after_award import status_pages
    from estimator.cli.progress import watched
    from estimator.export.status_as_json import status_json

    workbook = output.read(options)
    date = output.date_option("--date", options.date)
    with watched() as watcher:
        watcher.step("Forecasting what is left")
        ways = partial(api.options_from, workbook, watcher=watcher) if options.options else None
        standing, pages = status_pages(workbook, date, ways)
    more = list(_ways_back(standing.ways_back, standing.status)) if standing.ways_back else []
    says = (*table(standing), *pages.says)
    output.deliver_pages(
        options, workbook, replace(pages, says=says), lambda: status_json(standing), more
    )
    return 0


def table(standing: "Standing") -> Iterator[str]:
    """Yield planned, earned, actual and forecast figures of a job in columns."""
    status = standing.status
    head = status.baseline.head
    date = show_day(status.date, head.system)
    yield f"Status on {date} against baseline {head.number} ({head.reason})"
    yield from in_columns(list(_table(standing)))


def _table(standing: "Standing") -> Iterator[tuple[str, ...]]:
    status, found = standing.status, standing.forecast
    head = status.baseline.head
    yield ("", "Baseline", "Planned", "Earned", "Actual", "Textbook", "Forecast")
    yield (
        "Joints accepted", f"{status.baseline.joints:,}", f"{status.joints_planned:,}",
        f"{status.joints_accepted:,}", f"{status.joints_made:,}", "", "",
    )  # fmt: skip
    for name, value, known, ahead in (
        ("Labor-hours", status.hours, status.hours_known, found and found.labor_hours),
        (f"Cost, {head.currency}", status.money, status.money_known, found and found.cost),
    ):
        textbook = value.eac_at_present_cost if known else None
        yield (
            name, f"{value.budget:,.0f}", f"{value.planned:,.0f}", f"{value.earned:,.0f}",
            f"{value.actual:,.0f}" if known else "-",
            "-" if textbook is None else f"{textbook:,.0f}",
            f"{ahead.middle:,.0f}" if ahead else "-",
        )  # fmt: skip
    yield (
        "Finish", show_date(head.finish, head.system), "", "", "",
        "-" if status.textbook_finish is None else show_date(status.textbook_finish, head.system),
        "-" if found is None else show_date(found.finish[1], head.system),
    )  # fmt: skip


def _ways_back(table: "OptionTable | NoOptions", status: "Status") -> Iterator[str]:
    """Yield what would finish sooner from the status date on, cheapest first to finish in time."""
    from estimator.models.options import NoOptions

    if isinstance(table, NoOptions):
        yield f"No options from the status date: {table.reason}"
        return
    yield "From the status date on, at the learned pace (cost of the rest against going on as now):"
    base = table.base.figures
    if base is not None:
        yield f"  as now: {table.base.name}, finish {show_date(base.finish, table.system)}"
    finish = status.baseline.head.finish
    for one in table.sooner_ones:
        if one.figures is not None:
            back = ", back on the baseline" if one.figures.finish <= finish else ""
            yield (
                f"  {one.name}: finish {show_date(one.figures.finish, table.system)}, "
                f"{table.more_cost(one):+,.0f} {status.baseline.head.currency}{back}"
            )
