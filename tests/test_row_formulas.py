"""The formulas of many rows are written by the steps of the stages, and follow what these do."""

import ast
import functools
from decimal import Decimal
from pathlib import Path

import pytest

from estimator import pipeline
from estimator.cost import bid_items, by_run, by_size, estimate_class, rental_lines
from estimator.equipment import stock
from estimator.models import run_costs
from estimator.models.study import Study
from estimator.plan import by_week
from estimator.progress import claim, earned_value, learning
from estimator.steps import plain
from estimator.steps.cells import row_formula
from estimator.steps.marks import Cells, cents, number, share_of, total_of_products
from estimator.workbook.book import parse_workbook
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from tests.small_book import small_book

ONE, RANGE = Decimal(1), [Cells(1)]
RESULTS = Path(pipeline.__file__).parent / "workbook" / "results"


@functools.cache
def small_job():
    """Return the first six runs of an example, read."""
    workbook = parse_workbook(small_book())
    runs = workbook.job.runs[:6]
    return workbook.job.model_copy(update={"runs": runs}), workbook.places


def formulas_of(sheet):
    """Return the formulas of a result sheet of a small job."""
    job, places = small_job()
    study = Study.of(pipeline.estimate(job, places))
    names = {key: key for key in RESULT_SHEETS}
    for name, spec in each_sheet(study, places, (), names):
        if name == sheet:
            return [
                cell.formula for row in spec.rows for cell in row.cells if cell and cell.formula
            ]
    raise AssertionError(sheet)


@functools.cache
def formulas_now(sheet):
    """Return the formulas as the steps are."""
    return formulas_of(sheet)


@pytest.mark.parametrize(
    ("worked", "formula"),
    [
        (by_run.cost_of_run.worked(RANGE), "SUM({amounts})"),
        (by_run.cost_in_item.worked(ONE, ONE, []), "{cost}-{tie_ins}"),
        (by_run.cost_in_item.worked(ONE, ONE, RANGE), "{cost}-{tie_ins}-SUM({with_own_items})"),
        (by_run.run_before_bond.worked(RANGE, [1.0]), "ROUND(SUMPRODUCT({factors},{amounts}),2)"),
        (run_costs.left_over.worked(ONE, RANGE), "ROUND({whole}-SUM({parts}),2)"),
        (by_size.price_per_joint.worked(ONE, 1), "IF({butt_joints}=0,0,{price}/{butt_joints})"),
        (plain.ratio.worked(1.0, 1.0), 'IF({divisor}=0,"",{amount}/{divisor})'),
        (
            claim.due_so_far.worked(ONE, ONE, ONE),
            "{work}-{retained}+IF({released}>{retained},{retained},{released})",
        ),
        (
            earned_value.at_cost_and_schedule.worked(1.0, 1.0, 1.0, 1.0, 1.0),
            'IF(N({cpi})*N({spi})=0,"",{actual}+({budget}-{earned})/(N({cpi})*N({spi})))',
        ),
        (
            learning.pace_learned.worked(1.0, 1.0, 1.0),
            "EXP({weight}*LN({own})+(1-{weight})*LN({job}))",
        ),
    ],
    ids=lambda x: x.step.key if hasattr(x, "step") else "",
)
def test_a_row_of_numbers_is_a_range(worked, formula):
    assert row_formula(worked) == formula


def test_a_step_that_does_not_take_another_is_refused():
    tie_ins = by_run.cost_of_tie_ins.worked(1.0, ONE)
    with pytest.raises(ValueError, match="cost_of_tie_ins does not take cost_of_unit"):
        row_formula(tie_ins, taken=by_run.cost_of_unit.worked(1.0, 1.0))


CHANGED = {
    "tie-ins": (
        by_run.cost_of_tie_ins, lambda share, work: cents(7 * (share * number(work))),
        "Cost by run", "ROUND(7*",
    ),
    "share of a run": (
        by_run.allocated, lambda allocation, amount, all_units, units:
        by_run.cost_of_unit.fn(amount, all_units) * (units + 7), "Cost by run", "+7),2)",
    ),
    "before bond": (
        by_run.run_before_bond,
        lambda amounts, factors: cents(7 * total_of_products(amounts, factors)),
        "Cost by run", "ROUND(7*SUMPRODUCT(",
    ),
    "price of a joint": (
        by_size.price_per_joint,
        lambda price, butt_joints: share_of(7 * number(price), butt_joints),
        "Cost by run", "(7*",
    ),
    "unit price": (
        bid_items.unit_price, lambda bid, item_before_bond, quantity, rates:
        cents(number(item_before_bond) * 7 / quantity), "Bid schedule", "*7/C",
    ),
    "amount of an item": (
        run_costs.item_amount,
        lambda quantity, unit_price: cents(quantity * 7 * number(unit_price)),
        "Bid schedule", "*7*E",
    ),
    "rental": (
        rental_lines.line_rental, lambda item, four_weeks, weeks, days:
        four_weeks * 7 * rental_lines.amount_of(item, "day_rate"), "Equipment", "*7*'Machines'",
    ),
    "delivery": (
        rental_lines.line_delivery,
        lambda item, trips: trips * 7 * rental_lines.amount_of(item, "delivery"),
        "Equipment", "*7*'Machines'",
    ),
    "short of stock": (
        stock.short_of_stock, lambda peak, stock: (peak - stock) * 7, "Equipment", ")*7",
    ),
    "average price": (
        plain.share, lambda part, whole: share_of(part * 7, whole), "Price build-up", "*7)/",
    ),
    "range of the class": (
        estimate_class.price_at, lambda price, share: cents(number(price) * (7 + share)),
        "Price build-up", "*(7+B",
    ),
    "average percent": (
        plain.weighted_average, lambda weights, numbers, whole:
        share_of(7 * total_of_products(weights, numbers), whole),
        "Price build-up", "(7*SUMPRODUCT(",
    ),
    "done": (
        by_week.share_done, lambda so_far, butt_joints: share_of(so_far * 7, butt_joints),
        "Plan", "*7)/",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGED)
def test_a_changed_rule_is_in_the_formula_at_once(monkeypatch, name):
    """Each rule is given a 7 that it does not have; nothing else is edited."""
    made, other, sheet, text = CHANGED[name]
    assert not any(text in formula for formula in formulas_now(sheet))
    monkeypatch.setattr(made, "fn", other)
    assert any(text in formula for formula in formulas_of(sheet))


BY_HAND = {
    ("equipment_summary", "(=$)*(=$)"): "the rows of one class, which SUMPRODUCT adds up",
    ("schedule_sheet", "*"): "one factor times the cells of all lines that have it",
    ("cost_sheet", "*"): "the cells that a quantity adds up, each as often as it counts",
    ("builder", "ROUND(*60,0)/"): "a time as min:s, which a cell holds as a part of a day",
    ("joint_pages", "ROUND((+)*,0)/"): "two times as they are shown, as a part of a day",
    ("cards_sheet", "/ in"): "no formula: a fraction of an inch",
    ("status_sheet", " / "): "no formula: so many of so many",
    ("timescale", "/"): "no formula: two months",
}
"""Texts with a times or a divided-by in them, and why no step writes them."""
WORDS = "price_words"
"""Splits an amount into the words of its digits: no figure comes of it."""


def test_no_product_or_quotient_of_cells_is_written_by_hand():
    """Times and divided by stand in the steps; what else there is has its reason above."""
    found = set()
    for path in RESULTS.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.JoinedStr) and path.stem != WORDS:
                parts = [x.value for x in node.values if isinstance(x, ast.Constant)]
                text = "".join(str(part) for part in parts)
                if any(sign in text for sign in "*/") and "SUMPRODUCT" not in text:
                    found.add((path.stem, text))
    assert found == BY_HAND.keys()
