"""The Baseline sheet: the job as awarded, values only, which ``read/baseline.py`` reads back."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

from estimator.display import KEPT_BLANK
from estimator.models.baseline import (
    PIECES,
    Baseline,
    BaselineDay,
    BaselineHead,
    BaselineItem,
    BaselineRun,
    LumpSum,
)
from estimator.workbook.read.baseline import TOTAL
from estimator.workbook.results.builder import TOTAL_STYLES, Context, Scalar, SheetBuilder
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.results.schedule_sheet import units_in_parts
from estimator.workbook.results.shown_sums import clean_sum
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

BASELINE = "Baseline"
ABOUT = "Values only, kept as they are"
BY_RUN, LUMPS, ITEMS, BY_DAY = "By run", "Not earned by joints", "Bid items", "By day"
SECTIONS = {
    BY_RUN: "baseline_run",
    LUMPS: "baseline_lump",
    ITEMS: "baseline_item",
    BY_DAY: "baseline_day",
}
"""Sections of the sheet with their tables, in order."""
BEFORE_A_PART = re.compile(r" (?!S?DR )")
"""Blanks in the name of a pipe but that before its ratio."""
WIDTHS = (24, 46)
"""Characters of the first two columns: labels and names, and what stands beside them."""
ITEM_OVER, RUNS_AT = 3, 9
"""Columns over which the words of an item run, and the column of its runs."""


class HeadLine(NamedTuple):
    """One line of the head: its label, its style, and what it shows."""

    label: str
    style: str
    value: Callable[[BaselineHead], Scalar]


NAMES = "; "
HEAD = (
    HeadLine("Baseline no.", "int", lambda head: head.number),
    HeadLine("Why", "text", lambda head: head.reason),
    HeadLine("Agreed changes in it", "text", lambda head: NAMES.join(head.changes) or None),
    HeadLine("Estimate date", "date", lambda head: head.estimate_date),
    HeadLine("Start", "date", lambda head: head.start),
    HeadLine("Finish", "date", lambda head: head.finish),
    HeadLine("Deadline", "date", lambda head: head.deadline),
    HeadLine("Units", "text", lambda head: head.system),
    HeadLine("Currency", "text", lambda head: head.currency),
    HeadLine("Checksum of the inputs", "text", lambda head: head.checksum),
    HeadLine("Labor-hours at completion (BAC)", "num2", lambda head: head.labor_hours),
    HeadLine("Cost at completion (BAC)", "money", lambda head: float(head.cost)),
    HeadLine("Bid price", "money", lambda head: float(head.price)),
)


def kept_name(number: int) -> str:
    """Return the name under which a baseline is kept once there is a newer one.

    >>> kept_name(1)
    'Baseline 1'
    """
    return f"{BASELINE} {number}"


def baseline_sheet(context: Context, key: str, baseline: Baseline) -> SheetSpec:
    """Return the sheet of a baseline; ``key`` is Baseline, or the name of one that is kept.

    Its pages hold on either paper: it is kept when the paper of the job changes.
    """
    return with_headers_again(partial(_sheet, context, key, baseline))


def _sheet(context: Context, key: str, baseline: Baseline, again: frozenset[int]) -> SheetSpec:
    """Return the sheet; it prints what one page is broad, to the pieces of a run, and no day.

    Times, budgets and days are kept for the program.
    """
    columns = result_columns(SECTIONS[BY_RUN])
    edge = max(number for number, column in enumerate(columns, 1) if column.key in PIECES)
    sheet = SheetBuilder(context, key, key, ABOUT, again)
    sheet.add()
    for line in HEAD:
        sheet.add(Cell(line.label, "text"), Cell(line.value(baseline.head), line.style))
    _total(sheet, BY_RUN, _table(sheet, BY_RUN, map(_run_values, baseline.runs)))
    _total(sheet, LUMPS, _table(sheet, LUMPS, map(_lump_values, baseline.lump_sums)))
    in_parts = units_in_parts(baseline.items)
    for row in _table(sheet, ITEMS, map(_item_values, baseline.items), in_parts, ITEM_OVER):
        sheet.put(row, RUNS_AT + 1, *[Cell(None, "text")] * (edge - RUNS_AT))
        sheet.merge(row, 1, ITEM_OVER)
        sheet.merge(row, RUNS_AT, edge)
    printed = f"$A$1:${column_letters(edge)}${sheet.last_row}"
    _table(sheet, BY_DAY, (_day_values(day) for day in baseline.days))
    widths = [column.width for column in columns]
    widths[:2] = WIDTHS
    return replace(
        sheet.spec(), widths=tuple(widths), freeze=(2, 1), paper=None, print_area=printed
    )


def _table(
    sheet: SheetBuilder,
    title: str,
    rows: Iterable[Mapping[str, Scalar]],
    in_parts: frozenset[str] = frozenset(),
    over: int = 1,
) -> Sequence[int]:
    """Add a table; return its rows, those of its header included.

    Quantities of a unit that is not ``in_parts`` show no decimal. What its first column holds runs
    ``over`` several columns of the sheet.
    """
    columns = result_columns(SECTIONS[title])
    whole = [replace(one, style="int") if one.key == "quantity" else one for one in columns]
    sheet.add()
    sheet.section(title, len(columns))
    header = sheet.table_head(columns)
    sheet.grid[header] = _spread(sheet.grid[header], over)
    found = [header]
    for values in rows:
        again = sheet.head_again(header)
        found += [] if again is None else [again]
        shown = columns if values.get("unit") in in_parts else whole
        found.append(sheet.add(*_spread(sheet.table_cells(shown, values), over)))
    return found


def _total(sheet: SheetBuilder, title: str, rows: Sequence[int]) -> None:
    """Add the row that adds up a table: values, as all of the sheet."""
    cells = [Cell(TOTAL, "total_text")]
    for number, column in enumerate(result_columns(SECTIONS[title])[1:], 2):
        if column.total != "sum":
            cells.append(Cell(None, "total_text"))
            continue
        found = sheet.numbers_in(range(rows[0], sheet.next_row), number)
        cells.append(Cell(clean_sum(found), TOTAL_STYLES[column.style]))
    sheet.add(*cells)


def _spread(cells: Sequence[Cell | None], over: int) -> list[Cell | None]:
    """Return a row of cells, the first of which runs over several columns."""
    first, *others = cells
    return [first, *[Cell(None, first.style if first else "text")] * (over - 1), *others]


def _run_values(run: BaselineRun) -> Mapping[str, Scalar]:
    return {
        "run_id": run.run_id,
        "bid_item": run.bid_item,
        "pipe": whole_parts(run.pipe),
        "band": run.band,
        "length": run.length_m,
        **{kind: run.pieces[kind] for kind in PIECES},
        **{f"{kind}_crew_min": run.times[kind].crew_min for kind in PIECES},
        **{f"{kind}_machine_min": run.times[kind].machine_min for kind in PIECES},
        "labor_hours": run.labor_hours,
        "labor": float(run.labor),
        "equipment": float(run.equipment),
        "other": float(run.other),
        "price": float(run.price),
    }


def whole_parts(pipe: str) -> str:
    """Return the name of pipe with size and ratio unbroken, each whole on a line.

    >>> [part.split() for part in whole_parts("24 in IPS DR 17").split(" ")]
    [['24', 'in', 'IPS'], ['DR', '17']]
    """
    return BEFORE_A_PART.sub(KEPT_BLANK, pipe)


def _lump_values(one: LumpSum) -> Mapping[str, Scalar]:
    return {
        "name": one.name,
        "rule": one.rule,
        "first": one.first,
        "last": one.last,
        "cost": float(one.cost),
    }


def _item_values(item: BaselineItem) -> Mapping[str, Scalar]:
    return {
        "description": item.description,
        "number": item.number,
        "unit": item.unit,
        "quantity": item.quantity,
        "unit_price": float(item.unit_price),
        "rule": item.rule,
        "runs": NAMES.join(item.runs),
    }


def _day_values(day: BaselineDay) -> Mapping[str, Scalar]:
    return {
        "date": day.date,
        "crew": day.crew,
        "run_id": day.run_id,
        **{kind: day.pieces.get(kind) for kind in PIECES},
        "rework": day.rework or None,
        "trial_fusions": day.trial_fusions or None,
        "labor_hours": day.labor_hours,
        "cost": float(day.cost),
    }
