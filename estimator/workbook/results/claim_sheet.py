"""The sheet of one progress claim, and how the last one is read back."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from estimator.display import money_sign, show_date
from estimator.errors import InputError, Problem
from estimator.models.run_costs import item_amount
from estimator.money import round_money
from estimator.progress.claim import (
    Claim,
    ClaimLine,
    PreviousClaim,
    due_of,
    due_so_far,
    key_of,
    retained_of,
)
from estimator.steps.cells import row_formula
from estimator.steps.plain import difference
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.client_page import bid_of, dated_title
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.foot import DOT, Foot
from estimator.workbook.sheet.names import literal
from estimator.workbook.sheet.source import CellValue, column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

DUE = "What is due"
DATE, DUE_TO_DATE = "Work to the end of", "Total due so far"
ITEMS, CHANGES = "Bid items", "Agreed changes"
TOTAL, RETENTION, RELEASED = "Total", "Retention", "Released"
DUE_NOW = "Due now"
LABEL_COLUMN, VALUE_COLUMN = 2, 10
TO_DATE, UNIT_PRICE = 4, 7
"""Columns of the tables that are read back, from 0."""
LESS = row_formula(difference.worked(1.0, 1.0))


def claim_name(number: int) -> str:
    """Return the name of the sheet of a claim.

    >>> claim_name(2)
    'Claim 2'
    """
    return f"Claim {number}"


def claim_sheet(context: Context, claim: Claim) -> SheetSpec:
    """Return the sheet of a claim; quantities of this period, amounts and sums are live.

    Its pages hold on either paper: it is kept when the paper of the job changes.
    """
    name, columns = claim_name(claim.number), result_columns("claim")
    sheet = SheetBuilder(context, name, name, _parties(context))
    sheet.add(Cell(DATE, "plain"), *[None] * 2, Cell(claim.date, "plain_date"))
    totals = [_table(sheet, ITEMS, claim.items)]
    if claim.changes:
        totals.append(_table(sheet, CHANGES, claim.changes))
    sheet.add()
    sheet.section(DUE, len(columns))
    _sums(sheet, claim, totals)
    widths = tuple(column.width for column in columns)
    return replace(sheet.spec(), widths=widths, landscape=True, closes_up=True, paper=None,
                   foot=_foot(context, claim))  # fmt: skip


def _foot(context: Context, claim: Claim) -> Foot:
    """Return what the foot says: the claim with its date, the job, and the bid."""
    job = context.estimate.job.cover.job_name
    made = f"{claim_name(claim.number)}, {show_date(claim.date, context.system)}"
    return Foot(job, before=f"{made}{DOT}", after=f"{DOT}{bid_of(context)}")


def _parties(context: Context) -> str:
    """Return who claims and from whom, else the bid that was awarded: a client reads it."""
    cover = context.estimate.job.cover
    parties = (cover.company, cover.bid_to and f"to {cover.bid_to}")
    return ", ".join(filter(None, parties)) or dated_title(context)


def _table(sheet: SheetBuilder, title: str, lines: Sequence[ClaimLine]) -> int:
    """Add lines with their total; return its row."""
    columns = result_columns("claim")
    letters = {column.key: column_letters(i) for i, column in enumerate(columns, 1)}
    sheet.add()
    sheet.section(title, len(columns))
    first = sheet.table_head(columns) + 1
    contract = [column.key for column in columns].index("contract") + 1
    for line in lines:
        row = sheet.next_row
        at = {key: f"{letter}{row}" for key, letter in letters.items()}
        sheet.table_row(columns, _values(line), _formulas(at))
        sheet.put(row, contract, Cell(line.contract, _contract_style(line, lines)))
    last = sheet.last_row
    total = [Cell(TOTAL, "total_text"), *[Cell(None, "total_text")] * 7]
    for key, amount in (
        ("amount", sum((line.amount for line in lines), Decimal(0))),
        ("amount_to_date", sum((line.amount_to_date for line in lines), Decimal(0))),
    ):
        letter = letters[key]
        total.append(Cell(float(amount), "total_money", f"SUM({letter}{first}:{letter}{last})"))
    return sheet.add(*total)


def _contract_style(line: ClaimLine, lines: Sequence[ClaimLine]) -> str:
    """Return how a quantity of the contract shows: the digits that its unit needs, as on the bid.

    The bid rounds lengths to one decimal; a quantity of a change may have two.
    """
    alike = [one.contract for one in lines if one.unit == line.unit]
    return next(
        (style for digits, style in enumerate(("int", "num1"))
         if all(round(one, digits) == one for one in alike)),
        "num2",
    )  # fmt: skip


def _values(line: ClaimLine) -> Mapping[str, Scalar]:
    return {
        "number": line.number,
        "description": line.description,
        "unit": line.unit,
        "contract": line.contract,
        "to_date": line.to_date,
        "previous": line.previous,
        "period": difference(line.to_date, line.previous),
        "unit_price": float(line.unit_price),
        "amount": float(line.amount),
        "amount_to_date": float(line.amount_to_date),
    }


def _formulas(at: Mapping[str, str]) -> Mapping[str, str | None]:
    amount = row_formula(item_amount.worked(1.0, Decimal(1)))
    return {
        "period": LESS.format(one=at["to_date"], other=at["previous"]),
        "amount": LESS.format(
            one=at["amount_to_date"], other=amount.format(quantity=at["previous"], **at)
        ),
        "amount_to_date": amount.format(quantity=at["to_date"], **at),
    }


def _sums(sheet: SheetBuilder, claim: Claim, totals: Sequence[int]) -> None:
    """Add retention and what is due, in the column of amounts to date and beside the title."""
    letter = column_letters(VALUE_COLUMN)
    work = "+".join(f"{letter}{row}" for row in totals)
    names = ("work", "retention", "retained", "released", "to_date", "before")
    at = {name: f"{letter}{row}" for row, name in enumerate(names, sheet.next_row)}
    none = Decimal(0)
    retained = row_formula(retained_of.worked(none, 0.0)).format(**at)
    due = row_formula(due_so_far.worked(none, none, none)).format(**at)
    rows: tuple[tuple[str, Decimal | float, str, str | None], ...] = (
        ("Work to date", claim.total, "money", work),
        (RETENTION, claim.retention, "pct", None),
        ("Retained", claim.retained, "money", retained),
        (RELEASED, claim.released, "money", None),
        (DUE_TO_DATE, claim.due_to_date, "money", due),
        ("Due on the claims before", claim.due_before, "money", None),
        (DUE_NOW, claim.due, "total_money",
         LESS.format(one=at["to_date"], other=at["before"])),
        ("Contract and agreed changes", claim.contract, "money", None),
    )  # fmt: skip
    for label, value, style, formula in rows:
        blanks = [Cell(None, "text")] * (VALUE_COLUMN - LABEL_COLUMN - 1)
        row = sheet.add(None, Cell(label, "text"), *blanks, Cell(float(value), style, formula))
        if label == DUE_NOW:
            blanks = [Cell(None, "total_text")] * (VALUE_COLUMN - LABEL_COLUMN - 1)
            sheet.put(row, 1, Cell(None, "total_text"), Cell(label, "total_text"), *blanks)
            words = f"{DUE_NOW} {money_sign(sheet.context.currency)}"
            shown = f"{literal(words)}&FIXED({letter}{row},2)"
            sheet.result = Cell(f"{words}{value:,.2f}", "result", shown)


def read_claim(number: int, name: str, rows: Sequence[Sequence[CellValue]]) -> PreviousClaim:
    """Return what the next claim needs of a claim's sheet.

    Only its values are read; what was due is worked out again, so that a program that keeps no
    results of formulas does no harm.

    Raises
    ------
    InputError
        If a part of it is missing or no number.
    """
    sheet = _Sheet(name, rows)
    to_date: dict[str, float] = {}
    total = Decimal("0.00")
    for title in (ITEMS, CHANGES):
        for row in sheet.lines(title):
            quantity, price = sheet.number(row, TO_DATE), sheet.number(row, UNIT_PRICE)
            to_date[key_of(sheet.text(row, 0), sheet.text(row, 1))] = quantity
            total += round_money(quantity * price)
    retention = sheet.number(sheet.row_of(RETENTION, LABEL_COLUMN - 1), VALUE_COLUMN - 1)
    released = sheet.number(sheet.row_of(RELEASED, LABEL_COLUMN - 1), VALUE_COLUMN - 1)
    date = sheet.date(sheet.row_of(DATE, 0), 3)
    due = due_of(total, retention, Decimal(f"{released:.2f}"))
    return PreviousClaim(number, date, to_date, due)


class _Sheet:
    """The values of a claim's sheet."""

    def __init__(self, name: str, rows: Sequence[Sequence[CellValue]]) -> None:
        self.name, self.rows = name, rows

    def value(self, row: int, column: int) -> CellValue:
        line = self.rows[row] if row < len(self.rows) else ()
        return line[column] if column < len(line) else None

    def row_of(self, label: str, column: int) -> int:
        for row in range(len(self.rows)):
            if self.value(row, column) == label:
                return row
        raise self._fault(f"{label!r} is missing")

    def lines(self, title: str) -> Iterator[int]:
        """Yield the rows of a table; none where the claim has no such table."""
        heads = [row for row in range(len(self.rows)) if self.value(row, 0) == title]
        for head in heads:
            row = head + 2
            while row < len(self.rows) and self.value(row, 0) != TOTAL:
                yield row
                row += 1

    def text(self, row: int, column: int) -> str:
        return str(self.value(row, column) or "")

    def number(self, row: int, column: int) -> float:
        found = self.value(row, column)
        if isinstance(found, bool) or not isinstance(found, int | float):
            raise self._fault(f"{column_letters(column + 1)}{row + 1} is no number")
        return float(found)

    def date(self, row: int, column: int) -> dt.date:
        found = self.value(row, column)
        if isinstance(found, dt.datetime):
            return found.date()
        if not isinstance(found, dt.date):
            raise self._fault(f"{column_letters(column + 1)}{row + 1} is no date")
        return found

    def _fault(self, message: str) -> InputError:
        return InputError([Problem(self.name, f"{message}. Restore the sheet from a backup")])
