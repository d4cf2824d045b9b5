"""``estimator lookahead``: three weeks by day, and what must be ready before the crew comes."""

import argparse
import dataclasses
import datetime as dt
from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.cli.table import left_columns
from estimator.display import UnitSystem, counted, show_date, show_weekday
from estimator.models.estimate import Estimate
from estimator.models.plan import PlanLine
from estimator.models.weeks import DayAhead, LookAhead
from estimator.workbook.book import Workbook

if TYPE_CHECKING:
    from estimator.study import Watcher

DAY_HEADS = ("Date", "", "People", "Labor-hours", "Joints by crew and run, hydrotests")
READY_HEADS = ("Needed by", "What", "For", "Who")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator lookahead``."""
    output.add_options(parser)
    parser.add_argument(
        "--from", dest="first", metavar="DATE", type=_date,
        help="a date in the first week, such as 2027-03-15; default: as on the Job sheet",
    )  # fmt: skip
    parser.set_defaults(run=run_lookahead)


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        message = f"{text!r} is not a date such as 2027-03-15"
        raise argparse.ArgumentTypeError(message) from error


def run_lookahead(options: argparse.Namespace) -> int:
    """Estimate a workbook, write the results with the weeks asked for, and print them."""
    return output.run_sheet(options, _ahead, partial(_from_date, options.first))


def _from_date(first: dt.date | None, workbook: Workbook) -> Workbook:
    if first is None:
        return workbook
    return dataclasses.replace(workbook, job=workbook.job.changed(look_ahead_from=first))


def _ahead(workbook: Workbook, watcher: "Watcher") -> output.Shown:
    from estimator import api
    from estimator.export.weeks_as_json import look_ahead_json

    estimate = api.estimate_workbook(workbook, watcher)
    ahead = api.look_ahead_of(estimate)
    lines = shown(estimate, ahead)
    return output.Shown(estimate, "Look-ahead", lines, lambda: look_ahead_json(ahead))


def shown(estimate: Estimate, ahead: LookAhead) -> Iterator[str]:
    """Yield the days with work, and then what must be ready by when."""
    from estimator.workbook.results.ready_words import all_due

    first, last = ahead.days[0].date, ahead.days[-1].date
    system = estimate.job.cover.unit_system
    yield f"Look-ahead {show_date(first, system)} to {show_date(last, system)}"
    days = [day for day in ahead.days if day.crews or day.tests]
    yield from left_columns([DAY_HEADS, *(_cells(day, system) for day in days)])
    due = all_due(estimate, ahead)
    if due:
        yield ""
        rows = [(show_weekday(d.by, system), d.what, d.needed_for, d.who) for d in due]
        yield from left_columns([READY_HEADS, *rows])


def _cells(day: DayAhead, system: UnitSystem) -> Sequence[str]:
    by_crew = {crew.crew: [line for line in day.lines if line.crew == crew.crew]
               for crew in day.crews}  # fmt: skip
    work = [
        f"crew {crew}: " + ", ".join(map(_made, lines)) for crew, lines in by_crew.items() if lines
    ]
    work += [f"test crew {test.crew}: {test.section}" for test in day.tests]
    kind = "" if day.kind == "work" else day.kind
    hours = f"{round(day.labor_hours, 1):g}"
    return show_weekday(day.date, system), kind, f"{day.people:g}", hours, "; ".join(work)


def _made(line: PlanLine) -> str:
    """Return the joints of a run, with what an outsider would ask for: ``R1 33 (2 tie-ins)``."""
    counts = (
        (line.tie_in_joints, "tie-in"),
        (line.rework_joints, "rework joint"),
        (line.other_joints, "other connection"),
    )
    within = [counted(number, what) for number, what in counts if number]
    if not line.joints and not within:
        within = list(dict.fromkeys(line.moves))
    return f"{line.run_id} {line.joints}" + (f" ({', '.join(within)})" if within else "")
