"""``estimator log``: the site records begun in a workbook, or its joint log read and summed up."""

import argparse
import sys
from collections.abc import Iterator, Sequence

from estimator.cli.screen import notify
from estimator.cli.table import in_columns
from estimator.display import counted
from estimator.errors import InputError, Problem
from estimator.progress.control_chart import p_chart
from estimator.progress.joint_log import JudgedJoint, JudgedLog, coupons_due, judge_records
from estimator.workbook.book import Workbook, parse_workbook, with_sheets
from estimator.workbook.package.package import Package
from estimator.workbook.read.site_records import ParsedRecords
from estimator.workbook.results.log_sheet import LISTS, LOG_SUMMARY, log_sheet

NOT_STARTED = "has no Joint log. Start the site records with: estimator log FILE --start"
OUT_OF_LIMITS = ("Out of limits", lambda judged: judged.with_verdict("out of limits"))
HEADS = ("made", "accepted", "rejected", "out of limits", "on hold", "incomplete", "reject share")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator log``."""
    parser.add_argument("file", metavar="FILE", help="workbook of the job")
    parser.add_argument(
        "--start", action="store_true", help="add the sheets of the site records, joints numbered"
    )
    parser.add_argument(
        "--logger", metavar="CSV", action="append", default=[],
        help="fill in blank cells from a data logger's file; may be given again",
    )  # fmt: skip
    parser.add_argument(
        "--page", metavar="RUN", action="append", default=[],
        help="write the log of a run as pages to print; may be given again",
    )  # fmt: skip
    parser.add_argument("-o", "--output", metavar="OUT", default="", help="write to another file")
    parser.set_defaults(run=run_log)


def run_log(options: argparse.Namespace) -> int:
    """Start the site records, or print what the joint log adds up to."""
    from estimator import api
    from estimator.cli.ending import print_problems

    api.refuse_unsavable(options.file, options.output)
    workbook = api.read_workbook(options.file)
    if options.start:
        data = api.with_site_records(workbook)
        path = api.save_workbook(
            data, options.file, options.output, read=workbook.data, notify=notify
        )
        sys.stdout.write(f"{path} has the sheets of the site records. Fill in the yellow cells\n")
        return 0
    found = api.read_site_records(workbook)
    if "joint_log" not in found.kept:
        raise InputError([Problem(options.file, NOT_STARTED)])
    print_problems(found.warnings)
    if options.logger:
        return _join(options, workbook, found)
    if options.page:
        return _print(options, workbook, found)
    judged = judge_records(found.records)
    for line in summary(found, judged):
        sys.stdout.write(f"{line}\n")
    estimate = api.estimate_workbook(workbook, ranges=False)
    due = coupons_due(found.records)
    makers = {LOG_SUMMARY: lambda context: log_sheet(context, judged, due, found.places)}
    data = with_sheets(workbook, estimate, makers)
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    sys.stdout.write(f"\nWorkbook: {path}, sheet {LOG_SUMMARY}\n")
    return 0


def _join(options: argparse.Namespace, workbook: Workbook, found: ParsedRecords) -> int:
    """Fill in what the files of a data logger know; nothing if any of it contradicts the log."""
    from estimator import api, files
    from estimator.workbook.read.logger_file import LoggerFile, join_logger

    data = workbook.data
    for path in options.logger:
        file = LoggerFile.parse(files.name_of(path), files.read_bytes(path))
        joined = join_logger(found, file)
        for problem in joined.left_out:
            sys.stderr.write(f"{problem}\n")
        data = Package.open(data).fill_cells(joined.cells)
        found = api.read_site_records(parse_workbook(data))
        sys.stdout.write(f"{file.name}: {counted(joined.joints, 'joint')} joined\n")
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    sys.stdout.write(f"Workbook: {path}, sheet Joint log\n")
    return 0


def _print(options: argparse.Namespace, workbook: Workbook, found: ParsedRecords) -> int:
    """Write the pages of some runs, with what is entered so far."""
    from estimator import api
    from estimator.progress.field_cards import field_cards
    from estimator.workbook.book import with_page
    from estimator.workbook.results.log_page_sheet import LOG_PAGES, log_pages

    runs = list(dict.fromkeys(joint.run_id for joint in found.records.joint_log))
    unknown = [run for run in options.page if run not in runs]
    if unknown:
        names = ", ".join(runs)
        message = f"{', '.join(unknown)} has no joints in the log. Use one of: {names}"
        raise InputError([Problem("--page", message)])
    estimate = api.estimate_workbook(workbook, ranges=False)
    judged, cards = judge_records(found.records), field_cards(estimate)
    data = with_page(
        workbook, estimate, LOG_PAGES, lambda at: log_pages(at, judged, cards, options.page)
    )
    path = api.save_workbook(data, options.file, options.output, read=workbook.data, notify=notify)
    sys.stdout.write(f"Workbook: {path}, sheet {LOG_PAGES}\n")
    return 0


def summary(found: ParsedRecords, judged: JudgedLog) -> Iterator[str]:
    """Yield what a joint log adds up to, line by line."""
    made = sum(tally.made for tally in judged.tallies("run_id"))
    yield f"{counted(len(judged.joints), 'joint')} in the log, {made} made"
    for title, key in (("Run", "run_id"), ("Operator", "operator"), ("Machine", "machine_no")):
        rows = _tally_rows(judged, title, key)
        if len(rows) > 1:
            yield ""
            yield from in_columns(rows)
    for title, listed in (*LISTS, OUT_OF_LIMITS):
        yield from _listed(title, listed(judged), found)
    yield from _due(found)
    yield from _causes(judged)
    yield from _out_of_control(judged)


def _tally_rows(judged: JudgedLog, title: str, key: str) -> Sequence[Sequence[str]]:
    rows: list[Sequence[str]] = [(title, *HEADS)]
    for tally in judged.tallies(key):  # type: ignore[arg-type]  # one of three literals
        counts = (
            tally.made, tally.accepted, tally.rejected, tally.out_of_limits, tally.on_hold,
            tally.incomplete,
        )  # fmt: skip
        rows.append((tally.name, *map(str, counts), f"{tally.reject_share:.1%}"))
    return rows


def _listed(title: str, joints: Sequence[JudgedJoint], found: ParsedRecords) -> Iterator[str]:
    if not joints:
        return
    yield ""
    yield f"{title}: {len(joints)}"
    for one in joints:
        where = found.places.where("joint_log", one.joint.joint_no, "joint_no")
        yield f"  {one.joint.joint_no} ({where}): {'; '.join(dict.fromkeys(one.reasons))}"


def _due(found: ParsedRecords) -> Iterator[str]:
    due = coupons_due(found.records)
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
