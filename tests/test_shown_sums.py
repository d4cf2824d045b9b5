"""What a page shows adds up to the total it shows, in the last digit: a line names the rounding."""

import re
from decimal import ROUND_HALF_UP, Decimal

import pytest

from estimator.study import study
from estimator.workbook.results.shown_sums import clean_sum
from tests.estimated import EXAMPLES, example, opened
from tests.jobs import job, run
from tests.laid_out import sheets_of

TABLES = {
    "Cost by run": (("Runs", "All sizes"), ("Run", "All runs")),
    "Price build-up": (("Type of cost", "All types"),),
    "Item prices": (("Item", "Total"),),
    "Cost": (("Job cost by type", "All types"),),
}
"""The first cells of the header and of the total of each table, by sheet."""
NO_SUM = "Price\nper", "Overhead", "Contingency"


def decimals(code):
    """Return how many decimals a number format shows."""
    found = re.search(r"\.(0+)", code.partition(";")[0])
    return len(found[1]) if found else 0


def shown(cell, code):
    """Return the number that a cell shows by a format, 0 for an empty one."""
    if not isinstance(cell.value, int | float):
        return Decimal(0)
    exact = Decimal(format(cell.value, ".15g"))
    return exact.quantize(Decimal(1).scaleb(-decimals(code)), ROUND_HALF_UP)


def tables_of(sheet, marks):
    """Yield the rows of each table, header and total with them."""
    for first, last in marks:
        rows = iter(sheet.iter_rows())
        table = [next(row for row in rows if row[0].value == first)]
        for row in rows:
            table.append(row)
            if row[0].value == last:
                break
        yield table


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_printed_column_adds_up_to_its_total_as_shown(name):
    """By hand: the digits of each column, added up, are those of the total below them."""
    book, wrong = opened(name, values=True), []
    for title, marks in TABLES.items():
        for table in tables_of(book[title], marks):
            *rows, total = table
            for column, cell in enumerate(total):
                head = str(rows[0][column].value)
                if not isinstance(cell.value, int | float) or head.startswith(NO_SUM):
                    continue
                whole = shown(cell, cell.number_format)
                parts = sum(shown(row[column], row[column].number_format) for row in rows[1:])
                if whole != parts:
                    wrong.append((title, cell.coordinate, head, whole, parts))
    assert wrong == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_total_is_the_same_number_wherever_it_stands(name):
    """Labor-hours, job cost and price before profit, on every page that has them."""
    book, found = opened(name, values=True), example(name)[1]
    rows = {
        (sheet.title, str(row[0].value)): [cell.value for cell in row]
        for sheet in (book[title] for title in TABLES) for row in sheet.iter_rows()
    }  # fmt: skip
    hours = clean_sum(day.labor_hours for day in found.plan.crew_days)
    build_up = rows["Price build-up", "All types"]
    there = {
        "hours by size": rows["Cost by run", "All sizes"][4],
        "hours by run": rows["Cost by run", "All runs"][4],
        "hours of the average": rows["Price build-up", "Per labor-hour"][1],
        "cost with markups": build_up[4],
        "cost before profit": build_up[5],
        "items": rows["Item prices", "Total"][2:5],
    }
    bid = found.bid
    assert there == {
        **dict.fromkeys(("hours by size", "hours by run", "hours of the average"), hours),
        "cost with markups": float(bid.job_cost - bid.unmarked),
        "cost before profit": float(bid.cost_before_profit - bid.unmarked),
        "items": [float(bid.job_cost), float(bid.price), float(bid.price)],
    }


def test_the_note_of_the_control_totals_is_the_rule_of_the_fuel():
    made = job(run("R1", segments_m=(120.0,)), risk_trials=0)
    rows = [[cell for cell in row.cells if cell] for row in sheets_of(made)["Checks"].rows]
    (note,) = (str(row[0].value) for row in rows if row and "Counts agree" in str(row[0].value))
    each, more = re.search(r"fuel, .* within ([\d.]+) a line and ([\d.]+)\.$", note).groups()
    (fuel,) = (row for row in rows if row and "Diesel fuel: by" in str(row[0].value))
    name, rule = str(fuel[0].value), fuel[-1].formula
    assert name.endswith(f"by week, {made.rates.fuel_price.per}")
    most = float(re.search(r"<([\d.]+),", rule)[1])
    assert most == pytest.approx(float(each) * len(study(made).fleet.spans) + float(more))
