"""``estimator past``: what past jobs say of crew-paced times; each is taken or left."""

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator import files
from estimator.cli import output
from estimator.cli.json_option import refuse_json_over
from estimator.cli.table import in_columns

if TYPE_CHECKING:
    from estimator.progress.past import Suggestion

HEADS = ("Size", "joints", "seen", "present min", "suggested", "low", "high")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator past``."""
    output.add_options(parser)
    parser.add_argument(
        "--from",
        dest="closed",
        metavar="CLOSED",
        action="append",
        default=[],
        help="workbook of a past job with its baseline and site records; may be repeated",
    )
    parser.add_argument(
        "--start", action="store_true", help="add the table in which past jobs are typed"
    )
    parser.add_argument(
        "--take", metavar="BAND", help="write the suggested times of a size band into Task times"
    )
    parser.set_defaults(run=run_past)


def run_past(options: argparse.Namespace) -> int:
    """Write what past jobs suggest beside the present times, or take one size."""
    from estimator import api
    from estimator.after_award import PAST_JOBS, past_pages, past_suggestions, past_taken
    from estimator.export.site_as_json import past_json

    refuse_json_over(options.json, *options.closed)
    workbook = output.read(options)
    if options.start:
        output.start_sheet(options, workbook, PAST_JOBS, "Fill in what your jobs took")
        return 0
    closed = [(files.name_of(name), api.read_workbook(name)) for name in options.closed]
    found = past_suggestions(workbook, closed)
    if options.take:
        cells = past_taken(workbook.job.task_times, workbook.places, found, options.take)
        output.deliver_cells(options, workbook, cells, lambda: past_json(found))
        return 0
    lines = [*_table(found), "Take one with --take and its size"]
    output.deliver_pages(
        options, workbook, past_pages(workbook, found), lambda: past_json(found), lines
    )
    return 0


def _table(suggestions: "Sequence[Suggestion]") -> Sequence[str]:
    rows = [
        (
            one.band, f"{one.joints:,}", str(one.observations), f"{one.present_min:.1f}",
            f"{one.suggested_min:.1f}",
            "-" if one.low_min is None else f"{one.low_min:.1f}",
            "-" if one.high_min is None else f"{one.high_min:.1f}",
        )
        for one in suggestions
    ]  # fmt: skip
    return list(in_columns([HEADS, *rows]))
