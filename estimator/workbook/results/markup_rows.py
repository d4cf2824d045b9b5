"""The types of cost on the Price build-up: what each carries, and what it brings before profit."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from estimator.cost import TypeMarkup, markup_by_type
from estimator.cost.markup import CARRIES_MARKUPS
from estimator.models.estimate import CostLine
from estimator.models.kinds import COST_TYPES, DAMAGES_TYPE, MARKUP_TYPES, MarkupType, cost_type
from estimator.steps.cells import cell_formula, row_formula
from estimator.steps.marks import Cells
from estimator.steps.plain import weighted_average
from estimator.steps.recorder import Recorded
from estimator.workbook.results.builder import SheetBuilder, header_text
from estimator.workbook.results.shown_sums import clean_sum, left_as_shown, left_formula
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell

TYPE_NAMES: Mapping[MarkupType, str] = {
    "labor": "Labor",
    "equipment": "Equipment",
    "materials": "Materials",
    "subcontract": "Subcontract",
    "other": "Other cost",
}
STEPS = ("overhead_share", "contingency_share", "profit_share", "", "loaded", "on_cost")
"""The step in each column after the first; the cost itself stands between. Profit on cost stands
beside the printed page: where profit is a markup on cost, it is the same percent again."""
COST, LOADED = 5, 6
CENTS = 2
"""Decimals of an amount."""
COSTS = (CARRIES_MARKUPS, "Cost before profit")
HEAD_HEIGHT, GAP = 30.0, 7.5
"""Of the header, and of the blank rows between the tables of the build-up."""
NAMES = {
    "overhead_share": ("overhead", "overhead_by_type"),
    "contingency_share": ("contingency", "contingency_by_type"),
    "profit_share": ("profit_share", ""),
    "on_cost": ("", "on_cost_by_type"),
    "": ("marked", "marked_by_type"),
    "loaded": ("", "loaded_by_type"),
}
"""What a column is called in the steps of one type, and in those over all types."""
AVERAGED = (("office_overhead", "overhead_share"), ("contingency", "contingency_share"))
"""Steps of the chain whose average percent stands beside them, with the column of the percents."""


class TypeRows(NamedTuple):
    """Where the types stand, and the average percent of each step of the chain that has one."""

    rows: range
    averages: Mapping[str, Cell]


def add_types(sheet: SheetBuilder, steps: Sequence[Recorded]) -> TypeRows:
    """Append the types, all but the sum of the cost before profit.

    Anchors ``bid.<name>.<type>`` are those of the steps over all types.
    """
    context = sheet.context
    basis = context.input("rates", "", "profit_basis")
    profit = f"Profit, {context.estimate.job.rates.profit_basis}"
    sheet.add(height=GAP)
    sheet.add(
        Cell("Type of cost", "header"),
        Cell("Overhead", "header"),
        Cell("Contingency", "header"),
        Cell(profit, "header", f'"Profit, "&{basis}' if basis else None),
        *(Cell(header_text(cost, context.currency), "header") for cost in COSTS),
        Cell("Profit on cost", "header"),
        height=HEAD_HEIGHT,
    )
    first = sheet.next_row
    by_type = {(one.key, one.given.get("of_type")): one for one in steps}
    for one in markup_by_type(context.estimate):
        _add_type(sheet, one, {key: by_type.get((key, one.of_type)) for key in STEPS})
    rows = range(first, sheet.next_row)
    averages = _add_sums(sheet, rows)
    add_types_note(sheet, LOADED)
    sheet.add(height=GAP)
    return TypeRows(rows, averages)


def add_types_note(sheet: SheetBuilder, columns: int) -> None:
    """Append which types of the Cost sheet are in each type of cost, where that is not plain."""
    note = _types_note(sheet.context.estimate.cost_lines)
    if note:
        sheet.merge(sheet.add(Cell(note, "note")), 1, columns)


def _types_note(lines: Sequence[CostLine]) -> str:
    there = {line.cost_type for line in lines}
    held: dict[MarkupType, list[str]] = {}
    for kind in COST_TYPES:
        if kind.name in there:
            held.setdefault(kind.markup, []).append(kind.name)
    said = [
        f"{TYPE_NAMES[of_type]} holds {', '.join(held[of_type])}"
        for of_type in MARKUP_TYPES
        if held.get(of_type, [TYPE_NAMES[of_type]]) != [TYPE_NAMES[of_type]]
    ]
    return f"Of the cost types on Cost, {'; '.join(said)}." if said else ""


def _add_type(sheet: SheetBuilder, one: TypeMarkup, steps: Mapping[str, Recorded | None]) -> None:
    row, here = sheet.next_row, {}
    cells = [Cell(TYPE_NAMES[one.of_type], "text")]
    for column, key in enumerate(STEPS, 2):
        single, over_all = NAMES[key]
        here[single] = sheet.address(column, row)
        if over_all:
            sheet.anchor(f"bid.{over_all}.{one.of_type}", column, row)
    for key in STEPS:
        found = steps[key]
        if found is None:
            cells.append(Cell(float(one.marked), "money", _cost_formula(sheet, one.of_type)))
            continue
        formula = cell_formula(found, sheet.context.input, here.get)
        cells.append(Cell(found.value, "money" if key == "loaded" else "pct2", formula))
    sheet.add(*cells)


def _cost_formula(sheet: SheetBuilder, of_type: MarkupType) -> str:
    """Return the formula of the cost of a type, over the lines of the Cost sheet."""
    at = sheet.context.anchors
    lines = sheet.context.estimate.cost_lines
    used = dict.fromkeys(line.cost_type for line in lines)
    names = [name for name in used if cost_type(name).markup == of_type]
    types, amounts = at["cost.column.cost_type"], at["cost.column.amount"]
    text = "+".join(f'SUMIF({types},"{name}",{amounts})' for name in names)
    without = at["bid.unmarked"].rpartition("!")[2]
    return f"{text}-{without}" if of_type == DAMAGES_TYPE else text


def _add_sums(sheet: SheetBuilder, types: range) -> Mapping[str, Cell]:
    """Append the rows of the rounding and of the sums, and return the average percents."""
    letters = column_letters(COST)
    parts = f"{letters}{types.start}:{letters}{types.stop - 1}"
    marked = Cell(clean_sum(sheet.numbers_in(types, COST)), "total_money", f"SUM({parts})")
    sheet.add(Cell("Rounding by type", "note"), *[Cell(None, "text")] * (LOADED - 2))
    blanks = [Cell(None, "total_text")] * (COST - 2)
    row = sheet.add(Cell("All types", "total_text"), *blanks, marked)
    return {step: _average(sheet, STEPS.index(key) + 2, types, row) for step, key in AVERAGED}


def put_loaded_sum(sheet: SheetBuilder, types: range, whole: float, formula: str) -> None:
    """Set the cost before profit of all types, and what rounding leaves of it above.

    It is that of the steps below the types, which round each step and not each type.
    """
    rest_row, letters = types.stop, column_letters(LOADED)
    sheet.put(rest_row + 1, LOADED, Cell(whole, "total_money", formula))
    left = left_as_shown(whole, sheet.numbers_in(types, LOADED), CENTS)
    parts = f"{letters}{types.start}:{letters}{types.stop - 1}"
    live = left_formula(f"{letters}{rest_row + 1}", parts, CENTS)
    sheet.put(rest_row, LOADED, Cell(left, "money", live))


def _average(sheet: SheetBuilder, column: int, types: range, sums_row: int) -> Cell:
    """Return the percent of a column over all types, each by its cost."""
    whole = sheet.number_at(sums_row, COST)
    weights = [Decimal(sheet.number_at(row, COST)) for row in types]
    numbers = [sheet.number_at(row, column) for row in types]
    percents, costs = (
        f"{sheet.address(at, types.start)}:{sheet.address(at, types.stop - 1)}"
        for at in (column, COST)
    )
    sums = sheet.address(COST, sums_row)
    formula = row_formula(weighted_average.worked([Cells(1)], [1.0], 1.0))
    return Cell(
        weighted_average(weights, numbers, whole),
        "pct2",
        formula.format(weights=costs, numbers=percents, whole=sums),
    )
