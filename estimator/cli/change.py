"""``estimator change``: prices a change as what is left with it, less what is left without."""

import argparse

from estimator.cli import output
from estimator.cli.json_option import refuse_json_over


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator change``."""
    output.add_options(parser)
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
    parser.set_defaults(run=run_change)


def run_change(options: argparse.Namespace) -> int:
    """Write what a change costs and how far it moves the finish into its row."""
    from estimator import api
    from estimator.after_award import change_priced
    from estimator.export.site_as_json import change_json

    refuse_json_over(options.json, options.changed)
    workbook = output.read(options)
    other = api.read_workbook(options.changed)
    date = output.date_option("--date", options.date) if options.date else None
    priced, cells = change_priced(workbook, other, options.number, date)
    output.deliver_cells(options, workbook, cells, lambda: change_json(options.number, priced))
    return 0
