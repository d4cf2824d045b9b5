"""The Compare sheet: the scenarios beside the job as it stands."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import ceil

from estimator.models.comparison import Comparison, Figures, Outcome
from estimator.steps.cells import row_formula
from estimator.steps.plain import difference, share
from estimator.whatif import base_outcome
from estimator.whatif.scenarios import figures, remark
from estimator.workbook.results.builder import INTERNAL, Context, Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.look import AXIS, INK, OCHRE, axis_end, money_axis
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, ConditionalRule, SheetSpec

NONE = "No scenarios. Fill in the Scenarios sheet and run Estimate again"
SAME, MOVED = "matches the Bid sheet", "Prices have changed: run Estimate again"
STATE_ROW, GAP = 4, 7.5
"""The row that says whether the base price still holds, and the height of the blank above it."""
HEADS_BROKEN = ("job_cost", "price")
"""Columns whose header has a line for each word, off the header on its left."""
BAR_ROWS, LEAST_CHART_ROWS, CHART_SPLIT = 1.5, 6, 7
COLORS = (INK, OCHRE)


def compare_sheet(context: Context) -> SheetSpec:
    """Return the Compare sheet: a row for the base and for each scenario, and two charts.

    Anchors ``compare.<number>.price_difference`` point at what each scenario changes, and
    ``compare.state`` at whether its base price is still that of the Bid sheet.
    """
    sheet = SheetBuilder(context, "Compare", "Compare")
    sheet.result = INTERNAL
    columns = result_columns("compare")
    found = context.estimate.comparison or Comparison(figures(context.estimate), ())
    sheet.add(height=GAP)
    sheet.add()
    header = sheet.table_head(columns)
    for key in HEADS_BROKEN:
        sheet.break_head(header, _number(key))
    _row(sheet, base_outcome(found), found.base, header + 1)
    for i, outcome in enumerate(found.scenarios):
        _row(sheet, outcome, found.base, header + 1)
        sheet.anchor(f"compare.{i}.price_difference", _number("price_difference"), sheet.last_row)
    _state(sheet, header + 1)
    if not found.scenarios:
        sheet.merge(sheet.add(Cell(NONE, "note")), 1, len(columns))
    charts = tuple(_charts(sheet, header + 1)) if found.scenarios else ()
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        header_row=header,
        charts=charts,
        closes_up=True,
        conditional=(
            ConditionalRule(f"B{STATE_ROW}", "text equals", MOVED, "warn"),
            ConditionalRule(f"B{STATE_ROW}", "text equals", SAME, "ok"),
        ),
    )


def _number(key: str) -> int:
    return [column.key for column in result_columns("compare")].index(key) + 1


def _state(sheet: SheetBuilder, base_row: int) -> None:
    price, bid = sheet.address(_number("price"), base_row), sheet.context.anchors["bid.price"]
    formula = f'IF(ROUND({price}-{bid},2)=0,"{SAME}","{MOVED}")'
    sheet.put(STATE_ROW, 1, Cell("Base price", "text"), Cell(SAME, "ok", formula))
    sheet.merge(STATE_ROW, 2, 5)
    sheet.anchor("compare.state", 2, STATE_ROW)


def _row(sheet: SheetBuilder, outcome: Outcome, base: Figures, base_row: int) -> None:
    row, columns = sheet.next_row, result_columns("compare")
    values: dict[str, Scalar] = {
        "scenario": outcome.name,
        "changes": "; ".join(outcome.changes),
        "remark": remark(outcome) or None if outcome.figures else None,
    }
    if outcome.figures is not None:
        values |= _figures(outcome.figures, base)
    sheet.table_row(columns, values, _formulas(row, base_row))
    if outcome.figures is None:
        first, last = _number("joints"), _number("price") - 1
        sheet.put(row, first, Cell(remark(outcome), "warn_after"))
        sheet.put(row, _number("remark"), Cell(None, "text"))
        sheet.merge(row, first, last)
    elif outcome.is_trouble:
        sheet.put(row, _number("remark"), Cell(remark(outcome), "warn_text"))


def _figures(figures: Figures, base: Figures) -> Mapping[str, Scalar]:
    more = float(difference(figures.price, base.price))
    return {
        "joints": figures.joints,
        "work_days": figures.work_days,
        "finish": figures.finish,
        "calendar_days": figures.calendar_days,
        "labor_hours": figures.labor_hours,
        "crew_hours": figures.crew_hours,
        "job_cost": float(figures.job_cost),
        "price": float(figures.price),
        "price_difference": more,
        "price_share": share(more, float(base.price)),
        "finish_difference": (figures.finish - base.finish).days,
    }


def _formulas(row: int, base_row: int) -> Mapping[str, str]:
    price, finish = (column_letters(_number(key)) for key in ("price", "finish"))
    more = column_letters(_number("price_difference"))
    base = f"{price}${base_row}"

    less = row_formula(difference.worked(1.0, 1.0))
    part = row_formula(share.worked(1.0, 1.0))

    def unless_blank(tested: str, formula: str) -> str:
        return f'IF({tested}{row}="","",{formula})'

    return {
        "price_difference": unless_blank(price, less.format(one=f"{price}{row}", other=base)),
        "price_share": unless_blank(price, part.format(part=f"{more}{row}", whole=base)),
        "finish_difference": unless_blank(finish, f"{finish}{row}-{finish}${base_row}"),
    }


def _charts(sheet: SheetBuilder, first: int) -> Iterator[ChartSpec]:
    def cells(key: str) -> str:
        number = _number(key)
        return f"{sheet.reference(number, first)}:{sheet.address(number, last)}"

    def most(key: str) -> float:
        return max(sheet.number_at(row, _number(key)) for row in range(first, last + 1))

    last = sheet.last_row
    sheet.add()
    top = sheet.next_row + 1
    bottom = top + max(ceil(BAR_ROWS * (last - first + 1)), LEAST_CHART_ROWS)
    width = len(result_columns("compare"))
    spans = ((1, CHART_SPLIT - 1), (CHART_SPLIT, width))
    shown = (
        ("price", "Bid price by scenario", money_axis(sheet.context.currency)),
        ("calendar_days", "Calendar days to finish by scenario", AXIS),
    )
    for (_, title, _), (left, right) in zip(shown, spans, strict=True):
        blanks = [Cell(None, "section")] * (right - left)
        sheet.put(top - 1, left, Cell(title, "section"), *blanks)
    for (key, title, code), (left, right), color in zip(shown, spans, COLORS, strict=True):
        yield ChartSpec(
            kind="bar",
            title=title,
            x_title="",
            y_title="",
            values_format=code,
            values_to=axis_end(most(key)),
            categories=cells("scenario"),
            series=((title, cells(key), color),),
            anchor=(f"{column_letters(left)}{top}", f"{column_letters(right)}{bottom}"),
        )
