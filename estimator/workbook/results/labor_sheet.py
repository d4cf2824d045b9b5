"""The Labor sheet: labor-hours by role, and the utilization of crews and machines."""

from collections.abc import Sequence
from dataclasses import replace

from estimator.cost.labor import night_hours, role_hours
from estimator.money import round_quantity
from estimator.plan.utilization import CrewUse, crew_use, machine_use
from estimator.steps.cells import row_formula
from estimator.steps.plain import share
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

NAME_WIDTH, FIGURE_WIDTH = 24.0, 11.0
CREW_HOURS = "crew_hours"
PAID = ("straight", "sunday")
"""The first and the last column of the hours of a role that add up to its total."""
NO_TESTS = ", hydrotests not included"
"""Follows the hours of the fusion crews where other sheets have those of hydrotests, too."""
SHARE = row_formula(share.worked(1.0, 1.0))


def labor_sheet(context: Context) -> SheetSpec:
    """Return the Labor sheet; anchors ``plan.<class>.<role>`` and ``plan.crew_hours.<crew>``."""
    sheet = SheetBuilder(context, "Labor", "Labor-hours and utilization")
    tables = [result_columns(name) for name in ("labor", "crew_use", "machine_use")]
    broadest = max(map(len, tables))
    for title, columns, fill in zip(
        ("Labor-hours by role", "Crew utilization", "Machine utilization"),
        tables,
        (_labor, _crew_use, _machine_use),
        strict=True,
    ):
        sheet.add()
        sheet.section(title, broadest)
        sheet.table_head(columns)
        fill(sheet, columns)
    return replace(
        sheet.spec(), widths=(NAME_WIDTH, *[FIGURE_WIDTH] * (broadest - 1)), landscape=False
    )


def _at(columns: Sequence[ResultColumn], key: str) -> int:
    return [column.key for column in columns].index(key) + 1


def _labor(sheet: SheetBuilder, columns: Sequence[ResultColumn]) -> None:
    job, plan = sheet.context.estimate.job, sheet.context.estimate.plan
    every, first = role_hours(job, plan), sheet.next_row
    paid = sum(entry.total for entry in every)
    others = NO_TESTS if sheet.context.estimate.tests else ""
    sheet.result = Cell(f"{paid:,.1f} labor-hours{others}", "result")
    for entry, (role, night) in zip(every, night_hours(job.crew, plan), strict=True):
        values: dict[str, Scalar] = {
            **entry._asdict(), "role": role.role, "total": entry.total, "night": night,
        }  # fmt: skip
        ends = (f"{column_letters(_at(columns, key))}{sheet.next_row}" for key in PAID)
        row = sheet.table_row(columns, values, {"total": f"SUM({':'.join(ends)})"})
        for place, column in enumerate(columns[1:], 2):
            sheet.anchor(f"plan.{column.key}.{role.role}", place, row)
    sheet.add_totals(columns, first, "labor")


def _crew_use(sheet: SheetBuilder, columns: Sequence[ResultColumn]) -> None:
    estimate, anchors = sheet.context.estimate, sheet.context.anchors
    minutes_at, available_at = (
        column_letters(_at(columns, key)) for key in ("minutes", "available")
    )
    crews, worked = anchors["plan.column.crew"], anchors["plan.column.minutes"]
    first, every = sheet.next_row, crew_use(estimate.job, estimate.plan)
    for use in every:
        row = sheet.next_row
        minutes, available = f"{minutes_at}{row}", f"{available_at}{row}"
        formulas = {
            "minutes": f"SUMIF({crews},$A{row},{worked})",
            "share": SHARE.format(part=minutes, whole=available),
        }
        sheet.table_row(columns, _use_values(use), formulas)
        sheet.anchor(f"plan.{CREW_HOURS}.{use.crew}", _at(columns, CREW_HOURS), row)
    if len(every) > 1:
        _total_of_crews(sheet, columns, first)


def _total_of_crews(sheet: SheetBuilder, columns: Sequence[ResultColumn], first: int) -> None:
    """Append the sums over the crews, and their utilization together."""
    row = sheet.add_totals(columns, first, "crew_use")
    places = [_at(columns, key) for key in ("minutes", "available")]
    worked, available = (sheet.number_at(row, place) for place in places)
    part, whole = (f"{column_letters(place)}{row}" for place in places)
    formula = SHARE.format(part=part, whole=whole)
    cell = Cell(share(worked, available), "total_pct1", formula)
    sheet.put(row, _at(columns, "share"), cell)


def _use_values(use: CrewUse) -> dict[str, Scalar]:
    minutes = round_quantity(use.minutes, 0)
    return {
        "crew": use.crew,
        "work_days": use.work_days,
        "weather_days": use.weather_days,
        "labor_hours": use.labor_hours,
        CREW_HOURS: use.crew_hours,
        "minutes": minutes,
        "available": use.available_min,
        "share": share(minutes, use.available_min),
    }


def _machine_use(sheet: SheetBuilder, columns: Sequence[ResultColumn]) -> None:
    used, rented = (column_letters(_at(columns, key)) for key in ("days_in_use", "days_on_rent"))
    for use in machine_use(sheet.context.estimate.fleet):
        row = sheet.next_row
        values: dict[str, Scalar] = {
            "class_id": use.class_id,
            "days_in_use": use.days_in_use,
            "days_on_rent": use.days_on_rent,
            "share": share(use.days_in_use, use.days_on_rent),
        }
        part = SHARE.format(part=f"{used}{row}", whole=f"{rented}{row}")
        sheet.table_row(columns, values, {"share": part})
