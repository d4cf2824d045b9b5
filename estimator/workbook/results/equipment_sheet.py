"""The Equipment sheet: what is on rent, why, and why not something else."""

from collections.abc import Mapping
from dataclasses import replace

from estimator.cost import FLEET_TABLES, KIND_WORDS, fuel_volume
from estimator.display import describe
from estimator.models.job import RentalItem
from estimator.models.plan import RentalSpan, SizedRun
from estimator.price_by_size import pipe_label
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.columns import ResultColumn, result_columns
from estimator.workbook.results.fleet_choice_rows import add_fleet_choice
from estimator.workbook.sheet_spec import Cell, SheetSpec
from estimator.workbook.source import column_letters

TIER_KEYS = {
    "four_week_rate": "four_weeks",
    "week_rate": "weeks",
    "day_rate": "days",
    "delivery": "trips",
}
LINE_HEIGHT = 15.0
CHART_GOVERNS = (
    "Gauge pressure with the drag allowance, for planning. On site drag is measured for every "
    "joint, and the machine's own chart governs."
)
REASON_LETTERS = 125


def equipment_sheet(context: Context) -> SheetSpec:
    """Return the Equipment sheet; anchors ``equipment.*`` point at tiers, trips and fuel."""
    sheet = SheetBuilder(context, "Equipment", "Equipment")
    columns = result_columns("rental")
    sheet.add()
    sheet.section("On rent", _width())
    total_row = sheet.add()
    header = sheet.table_head(columns)
    fuel_unit = Cell(context.estimate.job.rates.fuel_price.per, "unit")
    sheet.put(header - 1, _column_of(columns, "fuel"), fuel_unit)
    for number, span in enumerate(context.estimate.fleet.spans):
        _rental_row(sheet, columns, number, span)
    sheet.put_totals(total_row, columns, header + 1, "equipment")
    _not_taken(sheet)
    add_fleet_choice(sheet, _width())
    _choices(sheet)
    _power(sheet)
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 2),
        header_row=header,
    )


def _width() -> int:
    return len(result_columns("rental"))


def _items(context: Context) -> Mapping[tuple[str, str], RentalItem]:
    return {
        (kind, item.class_id): item
        for kind, table in FLEET_TABLES.items()
        for item in getattr(context.estimate.job, table)
    }


def _rental_row(
    sheet: SheetBuilder, columns: tuple[ResultColumn, ...], number: int, span: RentalSpan
) -> None:
    context = sheet.context
    item = _items(context)[span.kind, span.class_id]
    tiers = {
        "four_weeks": span.tiers.four_weeks * span.quantity,
        "weeks": span.tiers.weeks * span.quantity,
        "days": span.tiers.days * span.quantity,
        "trips": 2 * span.quantity if item.delivery.amount else 0,
    }
    cost = sum(tiers[key] * getattr(item, rate).amount for rate, key in TIER_KEYS.items())
    values: dict[str, Scalar] = {
        "kind": KIND_WORDS[span.kind],
        "class_id": span.class_id,
        "crew": span.crew,
        "quantity": span.quantity,
        "on_rent": span.on_rent,
        "off_rent": span.off_rent,
        "calendar_days": span.calendar_days,
        "work_days": span.work_days,
        **tiers,
        "cost": cost,
        "why": describe(span.why, context.system),
    }
    row = sheet.next_row
    letters = {column.key: column_letters(i) for i, column in enumerate(columns, 1)}
    formulas = {
        "calendar_days": f"{letters['off_rent']}{row}-{letters['on_rent']}{row}+1",
        "cost": _cost_formula(context, span, letters, row),
    }
    sheet.table_row(columns, values, formulas)
    fuel = Cell(fuel_volume(context.estimate.job, span.fuel_l), "num1")
    sheet.put(row, _column_of(columns, "fuel"), fuel)
    sheet.heights[row] = 2 * LINE_HEIGHT
    for rate, key in TIER_KEYS.items():
        sheet.anchor(f"equipment.{number}.{rate}", _column_of(columns, key), row)


def _column_of(columns: tuple[ResultColumn, ...], key: str) -> int:
    return [column.key for column in columns].index(key) + 1


def _cost_formula(
    context: Context, span: RentalSpan, letters: Mapping[str, str], row: int
) -> str | None:
    terms = []
    for rate, key in TIER_KEYS.items():
        reference = context.input(FLEET_TABLES[span.kind], span.class_id, rate)
        if reference is None:
            return None
        terms.append(f"{letters[key]}{row}*{reference}")
    return "+".join(terms)


def _not_taken(sheet: SheetBuilder) -> None:
    lines = [
        (span, rejection)
        for span in sheet.context.estimate.fleet.spans
        if span.kind != "machine"
        for rejection in span.rejected
    ]
    if not lines:
        return
    sheet.add()
    sheet.section("Smaller classes not taken", _width())
    for span, rejection in lines:
        sheet.add(
            Cell(KIND_WORDS[span.kind], "text"),
            Cell(rejection.class_id, "centre"),
            Cell(span.crew, "int"),
            Cell(describe(rejection, sheet.context.system), "text"),
        )


def _choices(sheet: SheetBuilder) -> None:
    context = sheet.context
    *columns, rejected = result_columns("choice")
    reasons = len(columns) + 1
    limits = {m.class_id: m.max_gauge for m in context.estimate.job.machines}
    sheet.add()
    sheet.section("Machine choice by pipe", _width())
    sheet.add(Cell(CHART_GOVERNS, "subtitle"))
    header = sheet.table_head(columns)
    sheet.put(header, reasons, *[Cell(rejected.header, "header")] * (_width() - reasons + 1))
    sheet.merge(header, reasons, _width())
    seen: set[tuple[str, str]] = set()
    for run, sized in zip(context.estimate.job.runs, context.estimate.runs, strict=True):
        label = pipe_label(run.od_system, run.size, run.dr)
        if (label, sized.machine.class_id) in seen:
            continue
        seen.add((label, sized.machine.class_id))
        values = _choice_values(context, label, sized, limits)
        row = sheet.table_row(columns, values)
        told = str(values["rejected"])
        blanks = [Cell(None, rejected.style)] * (_width() - reasons)
        sheet.put(row, reasons, Cell(told, rejected.style), *blanks)
        sheet.merge(row, reasons, _width())
        sheet.heights[row] = LINE_HEIGHT * (1 + len(told) // REASON_LETTERS)


def _choice_values(
    context: Context, label: str, sized: SizedRun, limits: Mapping[str, float | None]
) -> dict[str, Scalar]:
    choice = sized.machine
    low, nominal, high = choice.gauge_mpa or (None, None, None)
    rejected = "; ".join(f"{r.class_id}: {describe(r, context.system)}" for r in choice.rejected)
    return {
        "size": label,
        "class_id": choice.class_id,
        "gauge_low": low,
        "gauge_nominal": nominal,
        "gauge_high": high,
        "limit": limits[choice.class_id] if choice.gauge_mpa else None,
        "force": choice.force_n,
        "rejected": rejected,
    }


def _power(sheet: SheetBuilder) -> None:
    columns = result_columns("power")
    sheet.add()
    sheet.section("Power of the machine classes used", _width())
    sheet.table_head(columns)
    for class_id, need in sheet.context.estimate.fleet.power.items():
        sheet.table_row(
            columns,
            {
                "class_id": class_id,
                "running_kw": need.running_kw,
                "starting_kw": need.starting_kw,
                "derating": need.derating,
                "rated_kw": need.rated_needed_kw,
                "warm_up": need.warm_up_min,
                "joint_duty": need.joint_duty_kw,
            },
        )
