"""The Options sheet: what would meet the deadline or finish sooner, and at what price."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace

from estimator.models.options import NoOptions, Option, OptionTable
from estimator.whatif import impossible, sentences
from estimator.whatif.options import remark
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.look import INK, axis_end, money_axis
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, ConditionalRule, SheetSpec

SAME, MOVED = "matches the Cost sheet", "Prices have changed: run Estimate again"
STATE_ROW = 3
CHART_ROWS, MOST_DATES = 13, 5
LEAST_CHART_POINTS = 2
APART = 20
"""Part of the days of the chart that is kept free at each end: one in so many."""
REMARKS = "Remarks: the base, and options that no other beats on both finish and cost"
CHART = "Job cost and finish of each option"
HOW = (
    "Each option is a full estimate with this estimate's machine classes. Options that no other "
    "beats on both finish and cost come first."
)


def options_sheet(context: Context) -> SheetSpec:
    """Return the Options sheet: the answers in words, a row for each option, and a chart."""
    sheet = SheetBuilder(context, "Options", "Options")
    columns = result_columns("options")
    table = context.estimate.options
    widths = tuple(column.width for column in columns)
    sheet.add()
    if isinstance(table, NoOptions):
        sheet.add()
        row = sheet.add(Cell(f"No options: {table.reason}", "note"))
        sheet.merge(row, 1, _printed())
        return replace(sheet.spec(), widths=widths, landscape=False)
    header = _table(sheet, table)
    charts = _charts(sheet, table, header + 1)
    last = sheet.last_row + (CHART_ROWS if charts else 0)
    return replace(
        sheet.spec(),
        widths=widths,
        freeze=(header, 1),
        header_row=header,
        charts=charts,
        landscape=False,
        print_area=f"$A$1:${column_letters(_printed())}${last}",
        conditional=(
            ConditionalRule(f"B{STATE_ROW}", "text equals", MOVED, "warn"),
            ConditionalRule(f"B{STATE_ROW}", "text equals", SAME, "ok"),
        ),
    )


def _table(sheet: SheetBuilder, table: OptionTable) -> int:
    """Append the answers in words and every option; return the row of the headers."""
    columns = result_columns("options")
    sheet.add()
    for sentence in sentences(table):
        row = sheet.add(Cell(sentence, "key"))
        sheet.merge(row, 1, _printed())
    sheet.add(Cell(HOW, "subtitle"))
    header = sheet.table_head(columns)
    base_row = header + 1 + [option.is_base for option in table.possible].index(True)
    for option in table.possible:
        _row(sheet, table, option, base_row)
    for name, why in impossible(table):
        _impossible_row(sheet, name, why)
    _state(sheet, base_row)
    _remarks(sheet, table)
    return header


def _remarks(sheet: SheetBuilder, table: OptionTable) -> None:
    """Append what is to be said of the base and of each option that no other beats."""
    columns = _printed()
    sheet.add()
    sheet.section(REMARKS, columns)
    for option in table.possible:
        text = remark(table, option) if option.is_base or not option.better else ""
        late = option.figures is not None and bool(option.figures.days_late)
        if text:
            style = "warn_after" if late else "wrap_after"
            sheet.text_row(columns, (Cell(option.name, "text"),), Cell(text, style))


def _printed() -> int:
    """Return the last printed column; those behind it say again what an option's name says."""
    return _number("price")


def _number(key: str) -> int:
    return [column.key for column in result_columns("options")].index(key) + 1


def _state(sheet: SheetBuilder, base_row: int) -> None:
    cost, now = sheet.address(_number("job_cost"), base_row), sheet.context.anchors["cost.job"]
    formula = f'IF(ROUND({cost}-{now},2)=0,"{SAME}","{MOVED}")'
    sheet.put(STATE_ROW, 1, Cell("Base job cost", "key"), Cell(SAME, "ok", formula))
    sheet.merge(STATE_ROW, 2, 5)


def _row(sheet: SheetBuilder, table: OptionTable, option: Option, base_row: int) -> None:
    row, columns = sheet.next_row, result_columns("options")
    values: dict[str, Scalar] = {
        "option": option.name,
        "crews": option.crews,
        "machines_per_crew": option.machines_per_crew,
        "shift_hours": option.shift_hours,
        "remark": remark(table, option) or None,
    }
    if option.figures is not None:
        values |= {
            "finish": option.figures.finish,
            "days_late": option.figures.days_late,
            "days_sooner": table.days_before_base(option),
            "job_cost": float(option.figures.job_cost),
            "liquidated_damages": float(option.liquidated_damages),
            "cost_difference": float(table.more_cost(option)),
            "price": float(option.figures.price),
        }
    sheet.table_row(columns, values, _formulas(row, base_row))


def _impossible_row(sheet: SheetBuilder, name: str, why: str) -> None:
    row = sheet.add(Cell(name, "text"), Cell(why, "warn_after"))
    sheet.merge(row, 2, _printed())


def _formulas(row: int, base_row: int) -> Mapping[str, str]:
    cost, finish = (column_letters(_number(key)) for key in ("job_cost", "finish"))

    def unless_blank(tested: str, formula: str) -> str:
        return f'IF({tested}{row}="","",{formula})'

    return {
        "days_sooner": unless_blank(finish, f"{finish}${base_row}-{finish}{row}"),
        "cost_difference": unless_blank(cost, f"{cost}{row}-{cost}${base_row}"),
    }


def _charts(sheet: SheetBuilder, table: OptionTable, first: int) -> tuple[ChartSpec, ...]:
    """Return the chart of the options that can be done, none for a single one."""
    count = len(table.possible)
    if count < LEAST_CHART_POINTS:
        return ()

    def cells(key: str) -> str:
        number = _number(key)
        last = sheet.address(number, first + count - 1)
        return f"{sheet.reference(number, first)}:{last}"

    sheet.add()
    columns = _printed()
    top, right = sheet.section(CHART, columns) + 1, column_letters(columns)
    chart = ChartSpec(
        kind="points",
        title=CHART,
        x_title="Finish",
        y_title=f"Job cost, {sheet.context.currency}",
        categories=cells("finish"),
        days=_days(table),
        series=(("Job cost", cells("job_cost"), INK),),
        anchor=(f"A{top}", f"{right}{top + CHART_ROWS}"),
        values_to=axis_end(max(_costs(table))),
        values_format=money_axis(sheet.context.currency),
        most_dates=MOST_DATES,
    )
    return (chart,)


def _costs(table: OptionTable) -> Iterator[float]:
    """Yield the job cost of each option that can be done."""
    figures = (option.figures for option in table.possible)
    return (float(one.job_cost) for one in figures if one is not None)


def _days(table: OptionTable) -> tuple[dt.date, dt.date]:
    """Return the days of the chart: no point stands on the axis and its labels."""
    days = [option.figures.finish for option in table.possible if option.figures is not None]
    apart = dt.timedelta(1 + (max(days) - min(days)).days // APART)
    return min(days) - apart, max(days) + apart
