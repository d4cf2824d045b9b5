"""``estimator compare``: the scenarios of a workbook beside the job as it stands."""

import argparse
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from estimator.cli import output
from estimator.cli.table import below, in_columns
from estimator.display import UnitSystem, show_date
from estimator.errors import InputError, Problem
from estimator.models.comparison import Comparison, Outcome
from estimator.models.job_inputs import CoverInputs
from estimator.workbook.book import Workbook

if TYPE_CHECKING:
    from estimator.study import Watcher

HEADS = (
    "Scenario", "Joints", "Days", "Finish", "Labor-hours", "Crew-hours", "Job cost", "Bid price",
    "Change from base",
)  # fmt: skip
WIDTH = 96


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of ``estimator compare``."""
    output.add_options(parser)
    parser.set_defaults(run=run_compare)


def run_compare(options: argparse.Namespace) -> int:
    """Estimate a workbook and its scenarios, write the results, print the comparison."""
    return output.run_sheet(options, _compared, _with_scenarios)


def _with_scenarios(workbook: Workbook) -> Workbook:
    if not workbook.job.scenarios:
        message = "The Scenarios table is empty. Enter at least one row"
        raise InputError([Problem("Scenarios", message)])
    return workbook


def _compared(workbook: Workbook, watcher: "Watcher") -> output.Shown:
    from estimator import api
    from estimator.export.as_json import comparison_json

    estimate = api.estimate_workbook(workbook, watcher)
    comparison = api.comparison_of(estimate)
    lines = table(comparison, estimate.job.cover)
    return output.Shown(estimate, "Compare", lines, lambda: comparison_json(comparison))


def table(comparison: Comparison, cover: CoverInputs) -> Iterator[str]:
    """Yield the comparison line by line: figures in columns, what changes below each name."""
    from estimator.whatif import base_outcome
    from estimator.whatif.scenarios import remark

    outcomes = [base_outcome(comparison), *comparison.scenarios]
    head, *rows = in_columns(
        [HEADS, *(_cells(one, comparison, cover.unit_system) for one in outcomes)]
    )
    yield f"Amounts in {cover.currency}; days are days worked"
    yield head
    for outcome, row in zip(outcomes, rows, strict=True):
        yield row
        for text in ("; ".join(outcome.changes), remark(outcome)):
            yield from below(text, WIDTH)


def _cells(outcome: Outcome, comparison: Comparison, system: UnitSystem) -> Sequence[str]:
    found = outcome.figures
    if found is None:
        return (outcome.name, *["-"] * (len(HEADS) - 1))
    return (
        outcome.name,
        f"{found.joints:,}",
        f"{found.work_days:,}",
        show_date(found.finish, system),
        f"{found.labor_hours:,.0f}",
        f"{found.crew_hours:,.0f}",
        f"{found.job_cost:,.2f}",
        f"{found.price:,.2f}",
        f"{found.price - comparison.base.price:+,.2f}",
    )
