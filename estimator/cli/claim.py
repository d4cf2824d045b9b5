"""``estimator claim``: the progress claim up to a date, on a sheet that is kept."""

import argparse
import sys

from estimator.cli.output import date_option
from estimator.display import show_date


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator claim``."""
    parser.add_argument("file", metavar="FILE", help="workbook with a baseline and site records")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--date", metavar="YYYY-MM-DD", help="claim the work to the end of this day")
    what.add_argument(
        "--start", action="store_true", help="add the sheet of changes and claim terms"
    )
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.set_defaults(run=run_claim)


def run_claim(options: argparse.Namespace) -> int:
    """Write the next claim, or add the sheet that it needs."""
    from estimator import api
    from estimator.cli.screen import notify

    workbook = api.read_workbook(options.file)
    if options.start:
        data = api.with_change_orders(workbook)
        path = api.save_workbook(
            data, options.file, options.output, read=workbook.data, notify=notify
        )
        sys.stdout.write(f"{path} has the sheet Change orders. Fill in the claim terms\n")
        return 0
    claim, sheet, data = api.claim_of_workbook(workbook, date_option("--date", options.date))
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    sign, system = workbook.job.cover.currency, workbook.job.cover.unit_system
    date = show_date(claim.date, system)
    part = float(claim.total / claim.contract) if claim.contract else 0.0
    sys.stdout.write(
        f"Claim {claim.number} to {date}: work to date {sign}{claim.total:,.2f} of "
        f"{sign}{claim.contract:,.2f} ({part:.1%})\n"
        f"Retained {sign}{claim.retained:,.2f}, due before {sign}{claim.due_before:,.2f}, due now "
        f"{sign}{claim.due:,.2f}\n"
        f"Workbook: {path}, sheet {sheet}\n"
    )
    return 0
