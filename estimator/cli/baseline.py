"""``estimator baseline``: freezes the awarded job on the sheet Baseline."""

import argparse
import sys

from estimator.cli.screen import notify
from estimator.display import show_date
from estimator.errors import EstimatorError


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator baseline``."""
    parser.add_argument("file", metavar="FILE", help="workbook of the awarded job")
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.add_argument(
        "--rebase",
        metavar="WHY",
        help="write a new baseline for this reason; the one that is there is kept",
    )
    parser.set_defaults(run=run_baseline)


def run_baseline(options: argparse.Namespace) -> int:
    """Write the baseline of a workbook, and say what it holds."""
    from estimator import api
    from estimator.pipeline import estimate
    from estimator.progress.baseline import baseline_of
    from estimator.workbook.book import baseline_in, with_baseline

    api.refuse_unsavable(options.file, options.output)
    workbook = api.read_workbook(options.file)
    old = baseline_in(workbook)
    if old is not None and not options.rebase:
        written = show_date(old.head.estimate_date, old.head.system)
        message = (
            f"{options.file} has baseline {old.head.number} of an estimate of "
            f"{written}. A baseline is written once. To replace it, and "
            'keep the old one beside it, run estimator baseline --rebase "why"'
        )
        raise EstimatorError(message)
    found = estimate(workbook.job, workbook.places)
    number = 1 if old is None else old.head.number + 1
    agreed = [
        change.number
        for change in api.read_site_records(workbook).records.changes
        if change.status == "agreed"
    ]
    made = baseline_of(found, number, options.rebase or "as awarded", agreed)
    data = with_baseline(workbook, found, made)
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    head = made.head
    sys.stdout.write(
        f"Baseline {head.number} ({head.reason}): {made.joints:,} butt joints, "
        f"{head.labor_hours:,.1f} labor-hours, cost {head.currency}{head.cost:,.2f}, "
        f"{show_date(head.start, head.system)} to {show_date(head.finish, head.system)}\n"
    )
    if old is not None:
        sys.stdout.write(f"Baseline {old.head.number} is kept beside it\n")
    sys.stdout.write(f"Workbook: {path}, sheet Baseline\n")
    return 0
