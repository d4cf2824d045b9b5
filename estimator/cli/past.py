"""``estimator past``: what past jobs say of crew-paced times; each is taken or left."""

import argparse
import sys

from estimator.cli.table import in_columns


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator past``."""
    parser.add_argument("file", metavar="FILE", help="workbook of the next job")
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
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
    from estimator.cli.screen import notify

    workbook = api.read_workbook(options.file)
    if options.start:
        path = api.save_workbook(
            api.with_past_jobs(workbook),
            options.file,
            options.output,
            read=workbook.data,
            notify=notify,
        )
        sys.stdout.write(f"{path} has the sheet Past jobs. Fill in what your jobs took\n")
        return 0
    closed = [(name, api.read_workbook(name)) for name in options.closed]
    found = api.past_suggestions(workbook, closed)
    if options.take:
        data, text = api.take_past_times(workbook, found, options.take)
        path = api.save_workbook(
            data, options.file, options.output, read=workbook.data, notify=notify
        )
        sys.stdout.write(f"{text}\nWorkbook: {path}. Run estimator estimate to price with it\n")
        return 0
    path = api.save_workbook(
        api.with_past_times(workbook, found),
        options.file,
        options.output,
        read=workbook.data,
        notify=notify,
    )
    heads = ("Size", "joints", "seen", "present min", "suggested", "low", "high")
    rows = [
        (
            one.band, f"{one.joints:,}", str(one.observations), f"{one.present_min:.1f}",
            f"{one.suggested_min:.1f}",
            "-" if one.low_min is None else f"{one.low_min:.1f}",
            "-" if one.high_min is None else f"{one.high_min:.1f}",
        )
        for one in found
    ]  # fmt: skip
    for line in in_columns([heads, *rows]):
        sys.stdout.write(f"{line}\n")
    sys.stdout.write(f"Workbook: {path}, sheet Past job times. Take one with --take and its size\n")
    return 0
