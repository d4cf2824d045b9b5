"""The Equipment sheet: what is on rent, for which dates and how much, and why."""

from dataclasses import replace
from functools import partial

from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.equipment_rental import (
    hours_section,
    not_taken,
    reasons,
    rental_lines,
)
from estimator.workbook.results.equipment_summary import Summary
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.spec import SheetSpec

HEAD_ROWS = 2


def equipment_sheet(context: Context) -> SheetSpec:
    """Return the Equipment sheet.

    Anchors ``equipment.*`` point at tiers, trips and totals of the rental lines, ``fleet.*`` at
    the totals of the summary by class, ``beyond.*`` at hours beyond the rental day.
    """
    return with_headers_again(partial(_sheet, context))


def _sheet(context: Context, again: frozenset[int]) -> SheetSpec:
    sheet = SheetBuilder(context, "Equipment", "Equipment", again=again)
    widths = tuple(column.width for column in result_columns("fleet"))
    sheet.add()
    summary = Summary(sheet)
    lines = rental_lines(sheet)
    summary.fill(lines)
    hours_section(sheet, lines)
    reasons(sheet, len(widths))
    not_taken(sheet, len(widths))
    return replace(
        sheet.spec(),
        widths=widths,
        freeze=(HEAD_ROWS, 2),
        conditional=(summary.short_rule(),),
        exact_widths=True,
        closes_up=True,
        landscape=True,
    )
