"""The Options sheet: what would meet the deadline or finish sooner, and at what price."""

from collections.abc import Mapping
from dataclasses import replace

from estimator.display import KEPT_BLANK, unbroken
from estimator.models.options import NoOptions, Option, OptionTable
from estimator.whatif import impossible, sentences
from estimator.whatif.options import remark
from estimator.workbook.results.builder import INTERNAL, Context, Scalar, SheetBuilder
from estimator.workbook.results.options_chart import CHART_HEAD, LEAST_CHART_POINTS, add_chart
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec

SAME, MOVED = "matches the Cost sheet", "Prices have changed: run Estimate again"
STATE_ROW = 3
GAP, CHART_WIDTH = 4.0, 11.0
"""Widths of the columns beside the page that hold what the chart shows, and before them."""
MACHINE = "machine"
"""The word after which the hours of an option follow."""
REMARKS = "Remarks: the base, and options that no other beats on both finish and cost"
HOW = (
    "Each option is a full estimate with this estimate's machine classes. Options that no other "
    "beats on both finish and cost come first."
)
NO_DAMAGES = "Late options carry no liquidated damages: no liquidated damages are entered on Job."


def options_sheet(context: Context) -> SheetSpec:
    """Return the Options sheet: the answers in words, a row for each option, and a chart.

    A chart that has no room on the page of the table together with the remarks goes with them.
    """
    spec = _sheet(context)
    if not spec.charts or pages_down(laid_out(spec)) == 1:
        return spec
    tops = (area_of(chart.anchor[0]).top for chart in spec.charts)
    return replace(spec, breaks=[min(tops) - CHART_HEAD - 1])


def _sheet(context: Context) -> SheetSpec:
    sheet = SheetBuilder(context, "Options", "Options")
    sheet.result = INTERNAL
    columns = result_columns("options")
    table = context.estimate.options
    widths = tuple(column.width for column in columns)
    sheet.add()
    if isinstance(table, NoOptions):
        sheet.add()
        row = sheet.add(Cell(table.message, "note"))
        sheet.merge(row, 1, _printed())
        return replace(sheet.spec(), widths=widths, landscape=False)
    header = _table(sheet, table)
    beside = header, len(widths) + 2
    has_chart = len(table.possible) >= LEAST_CHART_POINTS
    charts = (add_chart(sheet, table, _printed(), beside),) if has_chart else ()
    room = (GAP, *[CHART_WIDTH] * (1 + len(charts[0].series))) if charts else ()
    _remarks(sheet, table)
    return replace(
        sheet.spec(),
        widths=(*widths, *room),
        freeze=(header, 2),
        header_row=header,
        charts=charts,
        closes_up=True,
        landscape=False,
        print_area=f"$A$1:${column_letters(_printed())}${sheet.last_row}",
        conditional=(
            ConditionalRule(f"C{STATE_ROW}", "text equals", MOVED, "warn"),
            ConditionalRule(f"C{STATE_ROW}", "text equals", SAME, "ok"),
        ),
    )


def _table(sheet: SheetBuilder, table: OptionTable) -> int:
    """Append the answers in words and every option; return the row of the headers."""
    columns = result_columns("options")
    for sentence in sentences(table):
        row = sheet.add(Cell(unbroken(sentence), "key"))
        sheet.merge(row, 1, _printed())
    sheet.add(Cell(HOW, "subtitle"))
    if table.is_late_for_nothing:
        sheet.add(Cell(NO_DAMAGES, "subtitle"))
    header = sheet.table_head(columns)
    base_row = header + 1 + [option.is_base for option in table.possible].index(True)
    for number, option in enumerate(table.possible, 1):
        _row(sheet, table, (number, option), base_row)
    for name, why in impossible(table):
        _impossible_row(sheet, name, why)
    _state(sheet, base_row)
    return header


def _remarks(sheet: SheetBuilder, table: OptionTable) -> None:
    """Append what is to be said of the base and of each option that no other beats."""
    columns = _printed()
    sheet.add()
    sheet.section(REMARKS, columns)
    for number, option in enumerate(table.possible, 1):
        text = remark(table, option) if option.is_base or not option.better else ""
        late = option.figures is not None and bool(option.figures.days_late)
        if text:
            style = "warn_after" if late else "wrap_after"
            lead = Cell(number, "figure_left"), Cell(option.name, "text")
            sheet.text_row(columns, lead, Cell(unbroken(text), style))


def _printed() -> int:
    """Return the last printed column; those behind it say again what an option's name says."""
    return _number("price")


def _number(key: str) -> int:
    return [column.key for column in result_columns("options")].index(key) + 1


def _state(sheet: SheetBuilder, base_row: int) -> None:
    cost, now = sheet.address(_number("job_cost"), base_row), sheet.context.anchors["cost.job"]
    formula = f'IF(ROUND({cost}-{now},2)=0,"{SAME}","{MOVED}")'
    sheet.put(STATE_ROW, 1, Cell("Base job cost", "key"), None, Cell(SAME, "ok", formula))
    sheet.merge(STATE_ROW, 1, 2)
    sheet.merge(STATE_ROW, 3, 7)


def _row(
    sheet: SheetBuilder, table: OptionTable, numbered: tuple[int, Option], base_row: int
) -> None:
    row, columns = sheet.next_row, result_columns("options")
    number, option = numbered
    values: dict[str, Scalar] = {
        "number": number,
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
            "cost_difference": table.more_cost_shown(option),
            "price": float(option.figures.price),
        }
    sheet.table_row(columns, values, _formulas(row, base_row))


def _impossible_row(sheet: SheetBuilder, name: str, why: str) -> None:
    row = sheet.add(None, Cell(_hours_whole(name), "text"), Cell(why, "warn_after"))
    sheet.merge(row, 3, _printed())


def _hours_whole(name: str) -> str:
    """Return the name of options that is broken before its hours, where it is."""
    before = name.index(" ", name.index(MACHINE)) + 1
    return name[:before] + name[before:].replace(" ", KEPT_BLANK)


def _formulas(row: int, base_row: int) -> Mapping[str, str]:
    cost, finish = (column_letters(_number(key)) for key in ("job_cost", "finish"))

    def unless_blank(tested: str, formula: str) -> str:
        return f'IF({tested}{row}="","",{formula})'

    return {
        "days_sooner": unless_blank(finish, f"{finish}${base_row}-{finish}{row}"),
        "cost_difference": unless_blank(cost, f"ROUND({cost}{row},0)-ROUND({cost}${base_row},0)"),
    }
