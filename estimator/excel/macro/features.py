"""What a result sheet has besides its cells: frozen rows, rules, charts, links, print set-up."""

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Literal

import xlwings as xw
from xlwings.main import ChartSeries

from estimator.excel.macro.cells import array_formulas, write_arrays
from estimator.excel.macro.looks import (
    indent_cells,
    rgb,
    shrink_cells,
    small_units,
    underline_cells,
)
from estimator.excel.macro.native import Native
from estimator.workbook.sheet import look
from estimator.workbook.sheet.cell_text import serial_date
from estimator.workbook.sheet.names import sheet_of
from estimator.workbook.sheet.spec import ChartSpec, ConditionalRule, Mark, SheetSpec
from estimator.workbook.sheet.styles import STYLES

CHART_TYPES = {
    "line": "line",
    "points": "line_markers",
    "bar": "bar_clustered",
    "column": "column_clustered",
}
AREAS, NOT_DRAWN = "area_stacked", look.WHITE
"""Kind of the areas of a line chart, and the color of one that only lifts those above it."""
HIDDEN = (False, 2)
"""What xlwings says of a sheet that is hidden, by the user or so that only a macro shows it."""


def add_features(
    sheet: xw.Sheet, spec: SheetSpec, native: Native, marker: xw.Name | None
) -> list[str]:
    """Add everything that is not in the cells of a sheet.

    A feature that the program refuses (because there is no printer, say) is left out and named:
    no figure depends on it. Print set-up is made for a new sheet only; from then on it is the
    user's.

    Parameters
    ----------
    sheet, spec
        The sheet and its description.
    native : Native
        The workbook.
    marker : xlwings.Name or None
        The name that marks a new sheet as ours; None for a sheet that was there.

    Returns
    -------
    list of str
        What was left out, and why.
    """
    left_out = []
    for name, add in _features(sheet, spec, native, marker):
        try:
            add()
        except Exception as error:  # the program's own kind of error
            left_out.append(f"{sheet.name}: {name} could not be created ({error})")
    return left_out


def _features(
    sheet: xw.Sheet, spec: SheetSpec, native: Native, marker: xw.Name | None
) -> Iterator[tuple[str, Callable[[], None]]]:
    rows = [*spec.rows]
    arrays = array_formulas(rows)
    if arrays:
        yield "the sums of the inputs", partial(write_arrays, sheet, arrays)
    yield "the indented text", partial(indent_cells, sheet, rows, native)
    yield "the texts that fill their cells", partial(shrink_cells, sheet, rows, native)
    yield "the small units", partial(small_units, sheet, rows, native)
    yield "the underlined links", partial(underline_cells, sheet, rows, native)
    yield "the frozen rows", partial(_freeze, sheet, spec, native)
    for cell, target in spec.links:
        yield f"the link in {cell}", partial(native.link, sheet.range(cell), target)
    for rule in reversed(spec.conditional):  # the last one added comes first in Excel
        yield f"the colors of {rule.cells}", partial(_add_rule, sheet, rule)
    for chart in spec.charts:
        yield f"the chart {chart.title}", partial(_add_chart, sheet, chart, spec.axis_dates, native)
    if spec.drawings:
        yield "the drawings", partial(native.draw, sheet, spec.drawings)
    if spec.autofilter is not None:
        yield "the filter", partial(native.filter, sheet.range(spec.autofilter))
    if spec.tab_color:
        yield "the tab color", partial(native.color_tab, sheet, rgb(spec.tab_color))
    if marker is not None:
        yield "the hidden name", partial(native.hide_name, marker)
        yield "the print setup", partial(native.set_up_page, sheet, spec)
    if spec.repeated_rows is not None or spec.repeated_columns:
        yield "the repeated header", partial(native.repeat_header, sheet, spec)
    if spec.breaks or spec.column_breaks:
        breaks = partial(native.break_pages, sheet, spec.breaks, spec.column_breaks)
        yield "the page breaks", breaks
    if spec.print_area is not None:
        yield "the print area", partial(_print_only, sheet, spec.print_area)


def _print_only(sheet: xw.Sheet, area: str) -> None:
    """Set the print area where it differs: to set it makes Excel turn to the printer."""
    if sheet.page_setup.print_area != area:
        sheet.page_setup.print_area = area


def _freeze(sheet: xw.Sheet, spec: SheetSpec, native: Native) -> None:
    with _in_view(sheet):
        sheet.show_gridlines = False
        if spec.freeze is not None:
            native.freeze(*spec.freeze)


@contextmanager
def _in_view(sheet: xw.Sheet) -> Iterator[None]:
    """Have a sheet active for a while, even one that the user has hidden."""
    before = sheet.visible
    hidden = before in HIDDEN
    if hidden:
        sheet.visible = True
    try:
        sheet.activate()
        yield
    finally:
        if hidden:
            sheet.visible = before


def _add_rule(sheet: xw.Sheet, rule: ConditionalRule) -> None:
    """Add a color rule; Excel reads its references as seen from the selected cell."""
    style, cells = STYLES[rule.style], sheet.range(rule.cells)
    rules = cells.conditional_formats
    if rule.kind == "data bar":
        rules.add_data_bar(rgb(style.fill or ""), minimum=0)
        return
    add: Callable[..., object] = partial(rules.add_custom, f"={rule.operand}")
    if rule.kind == "text equals":
        quoted = rule.operand.replace('"', '""')
        add = partial(rules.add_cell_value, "equal_to", f'="{quoted}"')
    with _in_view(sheet):
        cells(1, 1).select()
        add(
            fill_color=None if style.fill is None else rgb(style.fill),
            font_color=None if style.font_color is None else rgb(style.font_color),
            font_bold=style.bold or None,
        )


def _add_chart(sheet: xw.Sheet, spec: ChartSpec, axis_dates: str, native: Native) -> None:
    first, last = (sheet.range(cell) for cell in spec.anchor)
    place = first.left, first.top, last.left - first.left, last.top - first.top
    chart = sheet.charts.add(
        *place,
        chart_type=CHART_TYPES[spec.kind],
        source=_ranges(sheet.book, [reference for _, reference, _ in (*spec.areas, *spec.series)]),
        plot_by="columns",
        style=None,
    )
    categories = _ranges(sheet.book, [spec.categories])
    chart.set_x_axis_values(categories)
    chart.title = None
    drawn = (*spec.areas, *spec.series)
    chart.legend.visible = spec.shows_legend
    for number, (series, (name, _, color)) in enumerate(zip(chart.series, drawn, strict=True)):
        if number < len(spec.areas):
            series.set(name=name, chart_type=AREAS, fill_color=rgb(color or NOT_DRAWN))
        elif spec.kind == "line":
            marks: Literal["circle", "none"] = "circle" if name in spec.marked else "none"
            series.set(name=name, line_color=rgb(color), marker_style=marks)
        elif spec.kind == "points":
            _add_points(series, name, rgb(color), spec.mark(name), native)
        else:
            series.set(name=name, fill_color=rgb(color))
    chart.category_axis.set(title=spec.x_title or None, reverse_order=spec.kind == "bar")
    chart.value_axis.set(
        title=spec.y_title or None,
        number_format=spec.values_format,
        minimum_scale=spec.values_from,
        maximum_scale=spec.values_to,
        major_unit=spec.value_step,
    )
    if isinstance(categories(1, 1).value, dt.datetime):
        chart.category_axis.number_format = spec.categories_format or axis_dates
    elif spec.categories_format:
        chart.category_axis.number_format = spec.categories_format
    if spec.days is not None:
        is_1904 = native.is_1904()
        first_day, last_day = (serial_date(day, dates_1904=is_1904) for day in spec.days)
        chart.category_axis.set(minimum_scale=first_day, maximum_scale=last_day)


def _add_points(
    series: ChartSeries, name: str, color: tuple[int, int, int], mark: Mark, native: Native
) -> None:
    """Set the look of points; their name beside them where the program can."""
    if mark.symbol == "none":
        series.set(name=name, line_color=color, marker_style="none")
    else:
        series.set(
            name=name,
            line_color=color,
            marker_style=mark.symbol,
            marker_size=mark.size,
            marker_foreground_color=color,
            marker_background_color=color,
        )
    native.draw_line(series, mark.dash)
    if mark.named is not None:
        native.name_points(series, mark.named)


def _ranges(book: xw.Book, references: list[str]) -> xw.Range:
    """Return the cells of references that are all on one sheet, columns side by side as a block."""
    addresses = [reference.rpartition("!")[2] for reference in references]
    sheet = book.sheets[sheet_of(references[0]) or ""]
    first, last = addresses[0].partition(":")[0], addresses[-1].rpartition(":")[2]
    block = sheet.range(f"{first}:{last}")
    if block.shape[1] == len(addresses):
        return block
    return sheet.range(",".join(addresses))
