"""The Equipment sheet: one row for each class on rent, by sums over the rental lines."""

from collections.abc import Sequence

from estimator.cost import fuel_volume
from estimator.cost.rental_lines import line_delivery, periods_billed, rental_total
from estimator.equipment.stock import peak, peak_weight_kg, short_of_stock
from estimator.models.rental import RentalSpan
from estimator.models.rental_kinds import FLEET_TABLES, KIND_WORDS, rental_items, spans_by_class
from estimator.steps.cells import cell_formula
from estimator.steps.recorder import Worked
from estimator.workbook.results.builder import TOTAL_STYLES, Context, Scalar, SheetBuilder
from estimator.workbook.results.equipment_rental import (
    WAYS,
    Lines,
    fuel_unit,
    letters_of,
    number_of,
)
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule

SUMMED = {"work_days": "work_days", "trips": "trips", "rental": "rental", "delivery": "delivery",
          "fuel": "fuel"}  # fmt: skip
"""Columns that sum a column of the rental lines."""


NAMES = {"mass_kg": "mass"}
"""Columns that the steps call by another name."""


class Summary:
    """The summary at the top of the sheet, which the rental lines below it fill.

    Its rows are reserved first, so that ``fill`` can refer to the rental lines.
    """

    def __init__(self, sheet: SheetBuilder) -> None:
        self.sheet, self.context = sheet, sheet.context
        self.columns = result_columns("fleet")
        estimate = sheet.context.estimate
        self.classes = list(spans_by_class(estimate.job, estimate.fleet.spans).values())
        sheet.section("Equipment needed: peak on rent and totals", len(self.columns))
        header = sheet.table_head(self.columns, fuel_unit(self.context))
        self.first = header + 1
        for _ in self.classes:
            sheet.add()
        self.last = sheet.last_row
        self.total_row = sheet.add()

    def fill(self, lines: Lines) -> None:
        """Set a row for each class, and the totals; anchors ``fleet.*`` point at the totals."""
        for row, spans in enumerate(self.classes, self.first):
            values = _values(self.context, spans, lines)
            formulas = _formulas(self.context, spans, row, lines)
            cells = self.sheet.table_cells(self.columns, values, formulas)
            self.sheet.put(row, 1, *cells)
            self._fuel(row, spans, formulas["fuel"])
        self._totals()

    def short_rule(self) -> ConditionalRule:
        """Return the look that marks a class with too few in stock."""
        letters = letters_of(self.columns)["short"]
        cells = f"{letters}{self.first}:{letters}{self.last}"
        return ConditionalRule(cells, "formula", f"{letters}{self.first}>0", "warn")

    def _fuel(self, row: int, spans: Sequence[RentalSpan], formula: str | None) -> None:
        job = self.context.estimate.job
        fuel = sum(fuel_volume(job.rates, span.fuel_l) for span in spans)
        self.sheet.put(row, number_of(self.columns, "fuel"), Cell(fuel, "num1", formula))

    def _totals(self) -> None:
        sheet, row = self.sheet, self.total_row
        sheet.put(row, 1, Cell("Total", "total_text"))
        for number, column in enumerate(self.columns[1:], 2):
            if column.total != "sum":
                sheet.put(row, number, Cell(None, "total_text"))
                continue
            total = sum(sheet.number_at(line, number) for line in range(self.first, self.last + 1))
            letters = column_letters(number)
            formula = f"SUM({letters}{self.first}:{letters}{self.last})"
            sheet.put(row, number, Cell(total, TOTAL_STYLES[column.style], formula))
            sheet.anchor(f"fleet.{column.key}", number, row)


def _values(context: Context, spans: Sequence[RentalSpan], lines: Lines) -> dict[str, Scalar]:
    estimate = context.estimate
    item = rental_items(estimate.job)[spans[0].kind, spans[0].class_id]
    most, mass = peak(spans), item.transport_mass_kg
    billed = [periods_billed(WAYS, span) for span in spans if item.delivery.amount]
    trips = sum(billed)
    return {
        "kind": KIND_WORDS[spans[0].kind],
        "class_id": item.class_id,
        "stock": item.stock,
        "peak": most,
        "first": min(span.on_rent for span in spans),
        "last": max(span.off_rent for span in spans),
        "short": short_of_stock(most, item.stock),
        "work_days": sum(span.work_days for span in spans),
        "mass": mass,
        "mass_all": None if mass is None else peak_weight_kg(mass, most),
        "lines": len(spans),
        "trips": trips,
        "rental": rental_total(spans),
        "delivery": line_delivery(item, trips),
    }


def _formulas(
    context: Context, spans: Sequence[RentalSpan], row: int, lines: Lines
) -> dict[str, str | None]:
    at = letters_of(result_columns("fleet"))
    table, class_id = FLEET_TABLES[spans[0].kind], spans[0].class_id
    same = (
        f"({lines.column('kind')}=${at['kind']}{row})"
        f"*({lines.column('class_id')}=${at['class_id']}{row})"
    )
    mass = rental_items(context.estimate.job)[spans[0].kind, class_id].transport_mass_kg

    def made(worked: Worked[float]) -> str:
        return cell_formula(
            worked.recorded(), context.input, lambda key: f"{at[NAMES.get(key, key)]}{row}"
        )

    return {
        "stock": context.input(table, class_id, "stock"),
        "short": made(short_of_stock.worked(1, 1)),
        "mass_all": None if mass is None else made(peak_weight_kg.worked(1.0, 1)),
        "lines": f"SUMPRODUCT({same})",
        **{key: f"SUMPRODUCT({same},{lines.column(summed)})" for key, summed in SUMMED.items()},
    }
