"""All result sheets of an estimate, in order; later ones refer to cells of earlier ones."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from estimator.models.places import Places
from estimator.models.study import Study
from estimator.workbook.read.input_check import Watch
from estimator.workbook.results.bid_sheet import bid_sheet
from estimator.workbook.results.builder import Context
from estimator.workbook.results.checks_sheet import checks_sheet
from estimator.workbook.results.compare_sheet import compare_sheet
from estimator.workbook.results.cost_sheet import cost_sheet
from estimator.workbook.results.equipment_sheet import equipment_sheet
from estimator.workbook.results.explain_sheet import explain_runs, explain_sheet
from estimator.workbook.results.gantt_sheet import gantt_sheet
from estimator.workbook.results.joints_sheet import joints_sheet
from estimator.workbook.results.light import with_warning_color
from estimator.workbook.results.options_sheet import options_sheet
from estimator.workbook.results.plan_sheet import plan_sheet
from estimator.workbook.results.price_sheet import price_sheet
from estimator.workbook.results.risk_sheet import risk_sheet
from estimator.workbook.results.run_cost_sheet import run_cost_sheet
from estimator.workbook.results.schedule_sheet import schedule_sheet
from estimator.workbook.results.tests_sheet import tests_sheet
from estimator.workbook.sheet.spec import SheetSpec

RESULT_SHEETS = (
    "Joints",
    "Plan",
    "Gantt",
    "Tests",
    "Equipment",
    "Cost",
    "Cost by run",
    "Price build-up",
    "Bid",
    "Bid schedule",
    "Risk",
    "Compare",
    "Options",
    "Explain",
    "Checks",
)


def result_sheets(
    estimate: Study,
    places: Places,
    watched: Sequence[Watch],
    sheet_names: Mapping[str, str],
) -> tuple[SheetSpec, ...]:
    """Return the description of every result sheet.

    Parameters
    ----------
    estimate : Study
        What to show.
    places : Places
        Where the inputs stand, for the live formulas.
    watched : sequence of Watch
        What tells that an input was changed.
    sheet_names : mapping
        Name in this workbook of each of ``RESULT_SHEETS``.
    """
    made = dict(each_sheet(estimate, places, watched, sheet_names))
    return tuple(made[key] for key in RESULT_SHEETS)


def each_sheet(
    estimate: Study,
    places: Places,
    watched: Sequence[Watch],
    sheet_names: Mapping[str, str],
) -> Iterator[tuple[str, SheetSpec]]:
    """Yield the description of every result sheet, each after those whose cells it refers to."""
    context = Context(estimate, places, sheet_names)
    explained = explain_runs(context)
    makers: dict[str, Callable[[], SheetSpec]] = {
        "Joints": lambda: joints_sheet(context),
        "Plan": lambda: plan_sheet(context),
        "Gantt": lambda: gantt_sheet(context),
        "Tests": lambda: tests_sheet(context),
        "Equipment": lambda: equipment_sheet(context),
        "Cost": lambda: cost_sheet(context),
        "Price build-up": lambda: price_sheet(context),
        "Cost by run": lambda: run_cost_sheet(context),
        "Bid schedule": lambda: schedule_sheet(context),
        "Risk": lambda: risk_sheet(context),
        "Compare": lambda: compare_sheet(context),
        "Options": lambda: options_sheet(context),
        "Explain": lambda: explain_sheet(context, explained),
        "Bid": lambda: bid_sheet(context),
        "Checks": lambda: checks_sheet(context, watched),
    }
    for key, make in makers.items():
        yield key, with_warning_color(make())
