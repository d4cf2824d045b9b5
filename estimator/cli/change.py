"""``estimator change``: prices a change as what is left with it, less what is left without."""

import argparse
import sys

from estimator.cli.output import date_option
from estimator.display import show_date


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator change``."""
    parser.add_argument("file", metavar="FILE", help="workbook of the job")
    parser.add_argument("number", metavar="NO", help="number on the sheet Change orders")
    parser.add_argument(
        "--with",
        dest="changed",
        metavar="OTHER",
        required=True,
        help="copy of the workbook with the change in its inputs",
    )
    parser.add_argument(
        "--date", metavar="YYYY-MM-DD", help="status date (default: before the first work)"
    )
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.set_defaults(run=run_change)


def run_change(options: argparse.Namespace) -> int:
    """Write what a change costs and how far it moves the finish into its row."""
    from estimator import api
    from estimator.cli.screen import notify

    workbook = api.read_workbook(options.file)
    other = api.read_workbook(options.changed)
    date = date_option("--date", options.date) if options.date else None
    priced, data = api.price_change(workbook, other, options.number, date)
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    sign, system = workbook.job.cover.currency, workbook.job.cover.unit_system
    finishes = (show_date(one.finish, system) for one in (priced.without, priced.with_it))
    sys.stdout.write(
        f"Change {options.number}: price {sign}{priced.price:+,.2f}, finish {priced.days:+d} "
        f"working days, {' to '.join(finishes)}\n"
        f"Workbook: {path}, sheet Change orders\n"
    )
    return 0
