"""``estimator diff``: two versions of a job, what was changed, and what each change comes to."""

import argparse
import sys
from collections.abc import Iterator, Sequence
from decimal import Decimal

from estimator import api, files
from estimator.cli.json_option import add_json, deliver_json, refuse_json_over
from estimator.cli.screen import notify
from estimator.cli.table import in_columns, left_columns
from estimator.display import show_date
from estimator.errors import InputError, Problem
from estimator.models.revision import ADDED, REMOVED, InputChange, Revision
from estimator.workbook.book import Workbook

MOST_INPUTS = 60
INPUT_HEADS = ("Cell", "Input", "Before", "Now")
STEP_HEADS = ("Step, each on top of those above it", "Job cost", "Price", "Price then")
COST_HEADS = ("Cost type", "Before", "Now", "Change")
FIGURE_HEADS = ("", "Before", "Now")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator diff``."""
    parser.add_argument("old", metavar="OLD", help="workbook of the older version")
    parser.add_argument("new", metavar="NEW", help="workbook of the newer version")
    parser.add_argument(
        "--into", metavar="FILE", default="",
        help="write the sheet Changes: into NEW if FILE is NEW, else into a copy of it",
    )  # fmt: skip
    add_json(parser)
    parser.set_defaults(run=run_diff)


def run_diff(options: argparse.Namespace) -> int:
    """Compare two workbooks; print it, and write the sheet and the JSON that were asked for."""
    from estimator.cli.progress import watched
    from estimator.export.as_json import revision_json
    from estimator.pipeline import estimate
    from estimator.whatif.revision import Version, compare_versions
    from estimator.workbook.book import with_changes

    refuse_json_over(options.json, options.old, options.new, options.into)
    names = _names(options.old, options.new)
    old, new = _read(options.old, names[0]), _read(options.new, names[1])
    versions = [
        Version(name, workbook.job, workbook.places)
        for name, workbook in zip(names, (old, new), strict=True)
    ]
    with watched() as watcher:
        watcher.step("Pricing each change")
        revision = compare_versions(versions[0], versions[1], watcher.count)
    found = revision_json(revision)
    deliver_json(options.json, found)
    if options.into:
        output = "" if files.is_same(options.into, options.new) else options.into
        data = with_changes(new, estimate(new.job, new.places), revision)
        path = api.save_workbook(data, options.new, output, read=new.data, notify=notify)
    lines = [*shown(revision)]
    if options.into:
        lines += ["", f"Workbook: {path}, sheet Changes"]
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    return 0


def _read(path: str, name: str) -> Workbook:
    """Return a workbook; what is wrong in it is reported with its name."""
    try:
        return api.read_workbook(path)
    except InputError as error:
        named = (Problem(f"{name} {one.where}", one.message) for one in error.problems)
        raise InputError(list(named)) from error


def _names(*paths: str) -> Sequence[str]:
    """Return the files' names, with their folders where the names alone are the same."""
    names = [files.name_of(path) for path in paths]
    return names if len(set(names)) == len(names) else paths


def shown(revision: Revision) -> Iterator[str]:
    """Yield the comparison line by line."""
    yield f"{revision.old_name} and {revision.new_name}, amounts in {revision.currency}"
    yield from in_columns([FIGURE_HEADS, *_figures(revision)])
    for kind in (ADDED, REMOVED):
        yield f"Runs {kind}: {', '.join(revision.runs[kind]) or 'none'}"
    yield ""
    if not revision.changes:
        yield "No input differs"
        return
    yield from left_columns([INPUT_HEADS, *(_input(one) for one in revision.changes[:MOST_INPUTS])])
    if len(revision.changes) > MOST_INPUTS:
        yield f"and {len(revision.changes) - MOST_INPUTS} more; --into and --json have all of them"
    yield ""
    yield from in_columns([STEP_HEADS, *_steps(revision)])
    yield ""
    costs = (
        (one.name, _money(one.old), _money(one.new), _more(one.change))
        for one in (*revision.costs, *revision.chain)
    )
    yield from in_columns([COST_HEADS, *costs])


def _figures(revision: Revision) -> Iterator[tuple[str, ...]]:
    old, new = revision.old, revision.new
    yield "Butt joints", f"{old.joints:,}", f"{new.joints:,}"
    yield "Days worked", f"{old.work_days:,}", f"{new.work_days:,}"
    yield "Finish", *(show_date(one.finish, revision.system) for one in (old, new))
    yield "Labor-hours", f"{old.labor_hours:,.1f}", f"{new.labor_hours:,.1f}"


def _input(one: InputChange) -> tuple[str, ...]:
    from estimator.workbook.results.changes_sheet import change_name

    return one.where, change_name(one), one.old, one.new


def _steps(revision: Revision) -> Iterator[tuple[str, ...]]:
    yield revision.old_name, "", "", _money(revision.old.price)
    gaps = zip(revision.steps, revision.cost_changes, revision.price_changes, strict=True)
    for step, cost, gap in gaps:
        yield step.name, _more(cost), _more(gap), _money(step.figures.price)
    cost_change = sum(revision.cost_changes, Decimal(0))
    price_change = sum(revision.price_changes, Decimal(0))
    yield revision.new_name, _more(cost_change), _more(price_change), _money(revision.new.price)


def _money(amount: Decimal) -> str:
    return f"{amount:,.2f}"


def _more(amount: Decimal) -> str:
    return f"{amount:+,.2f}"
