"""``estimator log``: the site records begun in a workbook, or its joint log read and summed up."""

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.cli.table import in_columns
from estimator.display import counted
from estimator.progress.control_chart import p_chart
from estimator.progress.joint_log import CouponDue, JudgedJoint, JudgedLog
from estimator.workbook.book import Workbook
from estimator.workbook.read.site_records import ParsedRecords
from estimator.workbook.results.log_sheet import LISTS, TRIALS

if TYPE_CHECKING:
    from estimator.after_award import ReadLog

OUT_OF_LIMITS = ("Out of limits", lambda judged: judged.with_verdict("out of limits"))
HEADS = ("made", "accepted", "rejected", "out of limits", "on hold", "incomplete", "reject share")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator log``."""
    output.add_options(parser)
    parser.add_argument(
        "--start", action="store_true", help="add the sheets of the site records, joints numbered"
    )
    parser.add_argument(
        "--update", action="store_true",
        help="add rows for joints that the job has by now, and for rework",
    )  # fmt: skip
    parser.add_argument(
        "--logger", metavar="CSV", action="append", default=[],
        help="fill in blank cells from a data logger's file; may be given again",
    )  # fmt: skip
    parser.add_argument(
        "--page", metavar="RUN", action="append", default=[],
        help="write the log of a run as pages to print; may be given again",
    )  # fmt: skip
    parser.set_defaults(run=run_log)


def run_log(options: argparse.Namespace) -> int:
    """Start the site records, or print what the joint log adds up to."""
    from estimator import api
    from estimator.after_award import log_print_pages, log_summary_pages
    from estimator.cli.ending import print_problems
    from estimator.export.site_as_json import log_json

    workbook = output.read(options)
    if options.start:
        output.refuse_json_with(options, "--start")
        path = output.save(options, workbook, api.with_site_records(workbook))
        text = f"{path} has the sheets of the site records. Fill in the yellow cells\n"
        sys.stdout.write(text)
        return 0
    if options.update:
        output.refuse_json_with(options, "--update")
        return _update(options, workbook)
    if options.logger:
        output.refuse_json_with(options, "--logger")
        return _join(options, workbook)
    log, pages = log_summary_pages(workbook)
    print_problems(log.parsed.warnings)
    more: list[str] = []
    if options.page:
        pages = log_print_pages(workbook, options.page)
    else:
        pages, more = replace(pages, says=()), [*summary(log), ""]
    output.deliver_pages(options, workbook, pages, partial(log_json, log.judged, log.due), more)
    return 0


def _update(options: argparse.Namespace, workbook: Workbook) -> int:
    """Add the rows that the log lacks for the job as it is now."""
    from estimator import api
    from estimator.after_award import log_rows_to_add

    more = log_rows_to_add(workbook)
    path = output.save(options, workbook, api.with_more_rows(workbook, more))
    lines = (*more.says, f"Workbook: {path}, sheets Joint log, Site plan")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 0


def _join(options: argparse.Namespace, workbook: Workbook) -> int:
    """Fill in what the files of a data logger know; nothing if any of it contradicts the log."""
    from estimator import api, files
    from estimator.after_award import logger_cells

    given = [(files.name_of(path), files.read_bytes(path)) for path in options.logger]
    cells, left_out = logger_cells(workbook, given)
    for problem in left_out:
        sys.stderr.write(f"{problem}\n")
    path = output.save(options, workbook, api.filled(workbook, cells))
    lines = (*cells.says, f"Workbook: {path}, sheet Joint log")
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 0


def summary(log: "ReadLog") -> Iterator[str]:
    """Yield what a joint log adds up to, line by line."""
    found, judged = log.parsed, log.judged
    yield f"{counted(len(judged.joints), 'joint')} in the log, {log.made} made"
    for title, key in (("Run", "run_id"), ("Operator", "operator"), ("Machine", "machine_no")):
        rows = _tally_rows(judged, title, key)
        if len(rows) > 1:
            yield ""
            yield from in_columns(rows)
    for title, listed in (*LISTS, OUT_OF_LIMITS):
        yield from _listed(title, listed(judged), found)
    yield from _due(log.due)
    yield from _causes(judged)
    yield from _out_of_control(judged)


def _tally_rows(judged: JudgedLog, title: str, key: str) -> Sequence[Sequence[str]]:
    rows: list[Sequence[str]] = [(title, *HEADS)]
    trials = judged.trials.tally(TRIALS)
    tallies = judged.of_the_job.tallies(key)  # type: ignore[arg-type]  # one of three literals
    for tally in (*tallies, *([trials] if trials else ())):
        counts = (
            tally.made, tally.accepted, tally.rejected, tally.out_of_limits, tally.on_hold,
            tally.incomplete,
        )  # fmt: skip
        rows.append((tally.name, *map(str, counts), f"{tally.reject_share:.1%}"))
    return rows


def _listed(title: str, joints: Sequence[JudgedJoint], parsed: ParsedRecords) -> Iterator[str]:
    if not joints:
        return
    yield ""
    yield f"{title}: {len(joints)}"
    for one in joints:
        where = parsed.places.where("joint_log", one.joint.joint_no, "joint_no")
        yield f"  {one.joint.joint_no} ({where}): {'; '.join(one.reasons)}"


def _due(due: Sequence[CouponDue]) -> Iterator[str]:
    if due:
        yield ""
        yield f"Coupons due: {len(due)}"
    for one in due:
        yield f"  {one.operator}, {one.machine_no}, {one.pipe}: {one.reason}"


def _causes(judged: JudgedLog) -> Iterator[str]:
    causes = judged.causes()
    if causes:
        yield ""
        yield from in_columns([("Cause", "joints"), *((name, str(n)) for name, n in causes)])


def _out_of_control(judged: JudgedLog) -> Iterator[str]:
    points = [point for point in p_chart(judged.rejects_in_order) if point.out_of_control]
    if points:
        yield ""
    for point in points:
        yield (
            f"Joints {point.first} to {point.last} in the order made: {point.share:.1%} rejected, "
            f"outside the 3-sigma limits ({point.lower:.1%} to {point.upper:.1%})"
        )
