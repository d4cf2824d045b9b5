"""``estimator claim``: the progress claim up to a date, on a sheet that is kept."""

import argparse

from estimator.cli import output


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator claim``."""
    output.add_options(parser)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--date", metavar="YYYY-MM-DD", help="claim the work to the end of this day")
    what.add_argument(
        "--start", action="store_true", help="add the sheet of changes and claim terms"
    )
    parser.set_defaults(run=run_claim)


def run_claim(options: argparse.Namespace) -> int:
    """Write the next claim, or add the sheet that it needs."""
    from estimator.after_award import CHANGE_ORDERS, claim_pages
    from estimator.export.site_as_json import claim_json

    workbook = output.read(options)
    if options.start:
        output.start_sheet(options, workbook, CHANGE_ORDERS, "Fill in the claim terms")
        return 0
    claim, pages = claim_pages(workbook, output.date_option("--date", options.date))
    output.deliver_pages(options, workbook, pages, lambda: claim_json(claim))
    return 0
