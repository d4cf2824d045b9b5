"""The Changes sheet: what differs from an older version of the job, and what it comes to."""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from estimator.models.comparison import Figures
from estimator.models.revision import (
    ADDED,
    CHANGED,
    REMOVED,
    CostChange,
    InputChange,
    Revision,
)
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

CHANGES = "Changes"
ABOUT = "Values of both versions as they were compared by estimator diff"
NO_CHANGE = "No input differs"
OLD_VERSION = "The older version"
CENTS = 2


class _Line(NamedTuple):
    """One figure of both versions: what it is, its style, and how it is had."""

    what: str
    style: str
    value: Callable[[Figures], Scalar]


LINES = (
    _Line("Butt joints", "int", lambda found: found.joints),
    _Line("Days worked", "int", lambda found: found.work_days),
    _Line("Finish", "date", lambda found: found.finish),
    _Line("Labor-hours", "num1", lambda found: found.labor_hours),
    _Line("Job cost", "money", lambda found: float(found.job_cost)),
    _Line("Bid price", "money", lambda found: float(found.price)),
)


def changes_sheet(context: Context, revision: Revision) -> SheetSpec:
    """Return the sheet of a revision: figures, runs, steps from price to price, costs, inputs."""
    sheet = SheetBuilder(context, CHANGES, f"Changes from {revision.old_name}", ABOUT)
    _figures(sheet, revision)
    _steps(sheet, revision)
    _costs(sheet, revision)
    _inputs(sheet, revision.changes)
    widths = tuple(column.width for column in result_columns("changes_step"))
    return replace(sheet.spec(), widths=widths, freeze=(2, 1))


def _section(sheet: SheetBuilder, title: str, columns: Sequence[ResultColumn]) -> int:
    """Append a heading and the head of a table; return the row of its headers."""
    sheet.add()
    sheet.section(title, len(result_columns("changes_step")))
    return sheet.table_head(columns)


def _figures(sheet: SheetBuilder, revision: Revision) -> None:
    _section(sheet, "Before and now", result_columns("changes_figure"))
    for line in LINES:
        old, new = line.value(revision.old), line.value(revision.new)
        row = sheet.next_row
        plain = "int" if line.style == "date" else line.style
        gap = _gap(old, new)
        change = Cell(gap, plain, f"C{row}-B{row}")
        sheet.add(Cell(line.what, "text"), Cell(old, line.style), Cell(new, line.style), change)
    for kind in (ADDED, REMOVED):
        names = ", ".join(revision.runs[kind]) or "none"
        sheet.add(Cell(f"Runs {kind}", "text"), Cell(names, "text"))


def _gap(old: Scalar, new: Scalar) -> float:
    """Return how much more there is now, of dates in days."""
    if isinstance(old, dt.date) and isinstance(new, dt.date):
        return (new - old).days
    if isinstance(old, int | float) and isinstance(new, int | float):
        return round(new - old, CENTS)
    raise TypeError(f"{old!r} and {new!r} have no difference")


def _steps(sheet: SheetBuilder, revision: Revision) -> None:
    columns = result_columns("changes_step")
    head = _section(sheet, "What the price changed for, step by step", columns)
    prices = {"price": float(revision.old.price)} | _made(revision.old)
    sheet.table_row(columns, {"step": f"{OLD_VERSION}, {revision.old_name}", **prices})
    number = {column.key: column_letters(i) for i, column in enumerate(columns, 1)}
    gaps = zip(revision.steps, revision.cost_changes, revision.price_changes, strict=True)
    for step, cost, gap in gaps:
        row = sheet.next_row
        price = number["price"]
        sheet.table_row(
            columns,
            {
                "step": step.name,
                "changes": step.changes,
                "cost_change": float(cost),
                "price_change": float(gap),
                "price": float(step.figures.price),
                **_made(step.figures),
            },
            {"price_change": f"{price}{row}-{price}{row - 1}"},
        )
    if not revision.steps:
        sheet.add(Cell(NO_CHANGE, "note"))
        return
    sheet.put_totals(sheet.next_row, columns, head + 1, CHANGES)
    sheet.add()


def _made(figures: Figures) -> dict[str, Scalar]:
    return {"joints": figures.joints, "work_days": figures.work_days, "finish": figures.finish}


def _costs(sheet: SheetBuilder, revision: Revision) -> None:
    columns = result_columns("changes_cost")
    _section(sheet, "Cost by type, and price", columns)
    for one in (*revision.costs, *revision.chain):
        _cost(sheet, columns, one)


def _cost(sheet: SheetBuilder, columns: Sequence[ResultColumn], one: CostChange) -> None:
    row = sheet.next_row
    values: dict[str, Scalar] = {"name": one.name}
    values |= {"old": float(one.old), "new": float(one.new), "change": float(one.change)}
    sheet.table_row(columns, values, {"change": f"C{row}-B{row}"})


def _inputs(sheet: SheetBuilder, changes: Sequence[InputChange]) -> None:
    columns = result_columns("changes_input")
    _section(sheet, "Inputs changed", columns)
    for values in _input_rows(changes):
        sheet.table_row(columns, values)
    if not changes:
        sheet.add(Cell(NO_CHANGE, "note"))


def _input_rows(changes: Sequence[InputChange]) -> Iterator[dict[str, Scalar]]:
    for one in changes:
        yield {"input": change_name(one), "where": one.where, "old": one.old, "new": one.new}


def change_name(one: InputChange) -> str:
    """Return what was changed: an input, one of a row, or a row."""
    if one.kind != CHANGED:
        return f"{one.row} {one.kind}"
    return f"{one.row}: {one.header}" if one.row else one.header
