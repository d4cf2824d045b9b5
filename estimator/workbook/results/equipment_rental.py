"""The Equipment sheet: each rental line, hours beyond the rental day, smaller classes not taken."""

from collections.abc import Iterator, Mapping, Sequence

from estimator.cost import fuel_volume
from estimator.cost.rental_lines import (
    TIER_HOURS,
    cost_beyond,
    hour_rate,
    hours_beyond,
    hours_by_tier,
    hours_covered,
    line_delivery,
    line_rental,
    periods_billed,
)
from estimator.data_class import dataclass
from estimator.display import UnitSystem, describe, sentence, show_apart, unbroken
from estimator.equipment.near_limits import near_capacity
from estimator.models.choice import Rejection
from estimator.models.rental import RentalSpan
from estimator.models.rental_kinds import KIND_WORDS, rental_items, spans_by_class
from estimator.steps.cells import cell_formula
from estimator.steps.recorder import Worked
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.equipment_serves import NEAR, sizes, what_for
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell

WAYS = 2
"""Trips of a line: there and back."""
WHY_COLUMN = 4
"""The column in which a reason begins."""
TIER_KEYS = {rate: periods for rate, (periods, _) in TIER_HOURS.items()}


@dataclass(frozen=True)
class Lines:
    """The rows of the rental lines on the sheet, and their columns' letters by key."""

    rows: Sequence[int]
    letters: Mapping[str, str]

    def column(self, key: str) -> str:
        """Return the range of a column of the rental lines, such as ``$C$9:$C$14``.

        Headers stand between the parts of a long table.
        """
        letters = self.letters[key]
        return f"${letters}${self.rows[0]}:${letters}${self.rows[-1]}"


def letters_of(columns: tuple[ResultColumn, ...]) -> dict[str, str]:
    """Return the letters of each column of a table that begins in column A."""
    return {column.key: column_letters(i) for i, column in enumerate(columns, 1)}


def number_of(columns: tuple[ResultColumn, ...], key: str) -> int:
    """Return the number of a column of a table that begins in column A."""
    return [column.key for column in columns].index(key) + 1


def fuel_unit(context: Context) -> dict[str, str]:
    """Return the unit of the fuel columns: that in which fuel is priced."""
    return {"fuel": context.estimate.job.rates.fuel_price.per}


def rental_lines(sheet: SheetBuilder) -> Lines:
    """Append every rental line with their totals; anchors ``equipment.*`` point at tiers."""
    columns = result_columns("rental")
    sheet.add()
    sheet.section("Rental lines: what to order, and for which dates", len(columns))
    header = sheet.table_head(columns, fuel_unit(sheet.context))
    rows, spans = [], sheet.context.estimate.fleet.spans
    for number, span in enumerate(spans):
        sheet.head_again(header)
        _rental_row(sheet, columns, number, span)
        rows.append(sheet.last_row)
    sheet.add_totals(columns, header + 1, "equipment")
    return Lines(rows or (header + 1,), letters_of(columns))


def _rental_row(
    sheet: SheetBuilder, columns: tuple[ResultColumn, ...], number: int, span: RentalSpan
) -> None:
    context = sheet.context
    row = sheet.next_row
    sheet.table_row(
        columns, _values(context, span), _formulas(context, span, letters_of(columns), row)
    )
    fuel = Cell(fuel_volume(context.estimate.job.rates, span.fuel_l), "num1")
    sheet.put(row, number_of(columns, "fuel"), fuel)
    for rate, key in {**TIER_KEYS, "delivery": "trips"}.items():
        sheet.anchor(f"equipment.{number}.{rate}", number_of(columns, key), row)


def _is_near(context: Context, span: RentalSpan) -> bool:
    """Return whether the work of a span comes close to what its class can do."""
    share = context.estimate.job.equipment.near_limit
    measured = span.kind in ("machine", "lifting") and bool(span.why.kind)
    return measured and near_capacity(span.why.need, span.why.limit, share)


def _values(context: Context, span: RentalSpan) -> dict[str, Scalar]:
    item = rental_items(context.estimate.job)[span.kind, span.class_id]
    tiers = {
        key: periods_billed(getattr(span.rate_periods, key), span) for key in TIER_KEYS.values()
    }
    trips = periods_billed(WAYS, span) if item.delivery.amount else 0
    return {
        "kind": KIND_WORDS[span.kind],
        "class_id": span.class_id,
        "crew": span.crew,
        "quantity": span.quantity,
        "on_rent": span.on_rent,
        "off_rent": span.off_rent,
        "calendar_days": span.calendar_days,
        "work_days": span.work_days,
        **tiers,
        "trips": trips,
        "rental": line_rental(item, **tiers),
        "delivery": line_delivery(item, trips),
    }


def _formulas(
    context: Context, span: RentalSpan, letters: Mapping[str, str], row: int
) -> dict[str, str | None]:
    item = rental_items(context.estimate.job)[span.kind, span.class_id]

    def billed(made: Worked[float]) -> str:
        return cell_formula(made.recorded(), context.input, lambda key: f"{letters[key]}{row}")

    return {
        "calendar_days": f"{letters['off_rent']}{row}-{letters['on_rent']}{row}+1",
        "rental": billed(line_rental.worked(item, 1.0, 1.0, 1.0)),
        "delivery": billed(line_delivery.worked(item, 1.0)),
    }


def hours_section(sheet: SheetBuilder, lines: Lines) -> None:
    """Append the hours beyond the rental day, where they are charged."""
    estimate = sheet.context.estimate
    if not any(hours_beyond(span) for span in estimate.fleet.spans):
        return
    columns = result_columns("beyond")
    sheet.add()
    sheet.section("Excess hours", len(result_columns("rental")))
    header = sheet.table_head(columns)
    charged = set[str]()
    for number, span in enumerate(estimate.fleet.spans):
        sheet.head_again(header)
        _hours_row(sheet, columns, lines, number)
        for rate in hours_by_tier(estimate.job.rates, span):
            charged.add(rate)
            column = number_of(columns, rate)
            sheet.anchor(f"equipment.{number}.{rate}_hours", column, sheet.last_row)
    total = sheet.add_totals(columns, header + 1, "beyond")
    for rate in TIER_HOURS:
        if rate not in charged:
            sheet.put(total, number_of(columns, rate), Cell(None, "total_text"))


def _hours_row(
    sheet: SheetBuilder, columns: tuple[ResultColumn, ...], lines: Lines, number: int
) -> None:
    job = sheet.context.estimate.job
    span = sheet.context.estimate.fleet.spans[number]
    by_tier = hours_by_tier(job.rates, span)
    values: dict[str, Scalar] = {
        "kind": KIND_WORDS[span.kind],
        "class_id": span.class_id,
        "crew": span.crew,
        "quantity": span.quantity,
        "on_rent": span.on_rent,
        "hours": hours_beyond(span),
        **{rate: hours.value for rate, hours in by_tier.items()},
        "cost": sum(
            cost_beyond(hours.value, hour_rate(job, span, rate).value)
            for rate, hours in by_tier.items()
        ),
    }
    sheet.table_row(columns, values, _hours_formulas(sheet, span, lines, lines.rows[number]))


def _hours_formulas(
    sheet: SheetBuilder, span: RentalSpan, lines: Lines, line: int
) -> dict[str, str]:
    """Return the formulas of a row of hours; ``line`` is the row of its rental line."""
    context, row, job = sheet.context, sheet.next_row, sheet.context.estimate.job
    letters, at = letters_of(result_columns("beyond")), lines.letters
    covered = {
        rate: cell_formula(
            hours_covered.worked(span, periods, job.rates, hours).recorded(),
            context.input,
            lambda key: f"{at[key]}{line}",
        )
        for rate, (periods, hours) in TIER_HOURS.items()
    }
    all_hours = f"({'+'.join(covered.values())})"
    found, costs = dict[str, str](), []
    for rate, hours in hours_by_tier(job.rates, span).items():
        cells = {
            "hours_beyond": f"${letters['hours']}{row}",
            "hours_covered": covered[rate],
            "all_covered": all_hours,
        }
        found[rate] = cell_formula(hours.recorded(), context.input, cells.get)
        cost = {
            "hours": f"{letters[rate]}{row}",
            "rate_beyond": cell_formula(hour_rate(job, span, rate).recorded(), context.input),
        }
        costs.append(cell_formula(cost_beyond.worked(1.0, 1.0).recorded(), context.input, cost.get))
    return {"cost": "+".join(costs), **found} if found else {}


def reasons(sheet: SheetBuilder, width: int) -> None:
    """Append what each class is for, and why it is on rent, once for crews with one reason."""
    context = sheet.context
    estimate = context.estimate
    sheet.add()
    sheet.section("What each class is for, and why", width)
    heads = [(column.header, "header") for column in result_columns("rental_why")]
    header = _across(sheet, heads, width)
    for (kind, class_id), spans in spans_by_class(estimate.job, estimate.fleet.spans).items():
        name = KIND_WORDS[kind]
        _head_again(sheet, header, width)
        _with_reason(sheet, [name, class_id, ""], what_for(estimate, spans), False, width)
        lines = dict[tuple[str, bool], list[int]]()
        for span in spans:
            lines.setdefault((_why(context, span), _is_near(context, span)), []).append(span.crew)
        for (why, near), crews in lines.items():
            about = (name, class_id) if _head_again(sheet, header, width) else ("", "")
            _with_reason(sheet, [*about, _names(crews)], why, near, width)


def _why(context: Context, span: RentalSpan) -> str:
    why = unbroken(describe(span.why, context.system))
    if span.kind == "machine":
        why = f"{sizes(context.estimate, span)}: {why}"
    return f"{NEAR}{sentence(why)}" if _is_near(context, span) else sentence(why)


def _names(crews: Sequence[int]) -> str:
    return ", ".join(str(crew) for crew in dict.fromkeys(crews))


def not_taken(sheet: SheetBuilder, width: int) -> None:
    """Append the smaller lifting classes that were not taken, with the reasons.

    Generators have a table of their own, class by class.
    """
    estimate = sheet.context.estimate
    lines: dict[tuple[str, str], list[int]] = {}
    capacity = {item.class_id: item.capacity_kg for item in estimate.job.lifting}
    spans = [span for span in estimate.fleet.spans if span.kind == "lifting" and span.rejected]
    for span in sorted(spans, key=lambda one: (-capacity[one.class_id], -one.why.need)):
        message = "; ".join(_smaller(span.rejected, sheet.context.system))
        lines.setdefault((span.class_id, message), []).append(span.crew)
    if not lines:
        return
    sheet.add()
    sheet.section("Lifting equipment: why not a smaller class", width)
    heads = ("Equipment", "Selected", "Crew", "Classes not selected, and why")
    header = _across(sheet, [(head, "header") for head in heads], width)
    for (class_id, message), crews in lines.items():
        _head_again(sheet, header, width)
        about = KIND_WORDS["lifting"], class_id, _names(crews)
        _with_reason(sheet, about, message, False, width)


def _smaller(rejected: Sequence[Rejection], system: UnitSystem) -> Iterator[str]:
    """Yield why smaller classes are not taken; those that lift too little share what is needed."""
    light = [why for why in rejected if why.kind]
    if light:
        apart = [show_apart(why.need, why.limit, why.kind, system) for why in light]
        need = max((need for need, _ in apart), key=len)
        lifts = (f"{why.class_id} {limit}" for why, (_, limit) in zip(light, apart, strict=True))
        yield f"Needs {need}; capacity: {', '.join(lifts)}"
    for why in rejected:
        if not why.kind:
            yield f"{why.class_id}: {describe(why, system)}"


def _with_reason(
    sheet: SheetBuilder, about: Sequence[str], why: str, near: bool, width: int
) -> None:
    """Append a reason; a row without a crew stays on the page of the next."""
    first = "text" if about[-1] else "text_kept"
    cells = list(zip(about, (first, "center", "center"), strict=True))
    _across(sheet, [*cells, (why, "warn_text" if near else "text_wrap")], width)


def _head_again(sheet: SheetBuilder, header: int, width: int) -> bool:
    """Repeat a header before a row that begins a page; return whether it does."""
    again = sheet.head_again(header)
    if again is not None:
        sheet.merge(again, WHY_COLUMN, width)
    return again is not None


def _across(sheet: SheetBuilder, cells: Sequence[tuple[str, str]], width: int) -> int:
    """Append a row of texts, the last of which runs to the sheet's edge; return its number."""
    first, (_, style) = len(cells), cells[-1]
    row = sheet.add(*(Cell(*cell) for cell in cells), *[Cell(None, style)] * (width - first))
    sheet.merge(row, first, width)
    return row
