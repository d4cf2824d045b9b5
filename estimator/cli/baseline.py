"""``estimator baseline``: freezes the awarded job on the sheet Baseline."""

import argparse

from estimator.cli import output


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator baseline``."""
    output.add_options(parser)
    parser.add_argument(
        "--rebase",
        metavar="WHY",
        default="",
        help="write a new baseline for this reason; the one that is there is kept",
    )
    parser.set_defaults(run=run_baseline)


def run_baseline(options: argparse.Namespace) -> int:
    """Write the baseline of a workbook, and say what it holds."""
    from estimator.after_award import baseline_pages
    from estimator.export.site_as_json import baseline_json

    workbook = output.read(options)
    made, pages = baseline_pages(workbook, options.rebase)
    output.deliver_pages(options, workbook, pages, lambda: baseline_json(made))
    return 0
