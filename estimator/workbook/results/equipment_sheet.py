"""The Equipment sheet: what is on rent, why, and why not something else."""

from dataclasses import replace

from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.columns import result_columns
from estimator.workbook.results.equipment_choice import choice_section
from estimator.workbook.results.equipment_rental import hours_section, not_taken, rental_lines
from estimator.workbook.results.equipment_summary import Summary
from estimator.workbook.results.fleet_choice_rows import add_fleet_choice
from estimator.workbook.results.power_tables import put_power
from estimator.workbook.sheet.spec import SheetSpec

HEAD_ROWS = 2


def equipment_sheet(context: Context) -> SheetSpec:
    """Return the Equipment sheet.

    Anchors ``equipment.*`` point at tiers, trips and totals of the rental lines, ``fleet.*`` at
    the totals of the summary by class, ``beyond.*`` at hours beyond the rental day.
    """
    sheet = SheetBuilder(context, "Equipment", "Equipment")
    widths = tuple(column.width for column in result_columns("rental"))
    sheet.add()
    summary = Summary(sheet)
    lines = rental_lines(sheet)
    summary.fill(lines)
    hours_section(sheet, lines)
    not_taken(sheet)
    add_fleet_choice(sheet, len(widths))
    put_power(sheet, len(widths))
    choice_section(sheet, widths)
    return replace(
        sheet.spec(),
        widths=widths,
        freeze=(HEAD_ROWS, 2),
        conditional=(summary.short_rule(),),
    )
