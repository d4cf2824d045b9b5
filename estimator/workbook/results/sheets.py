"""All result sheets of an estimate, in order; later ones refer to cells of earlier ones."""

from collections.abc import Mapping, Sequence

from estimator.models.estimate import Estimate
from estimator.models.places import Places
from estimator.workbook.checksum import InputSum
from estimator.workbook.results.bid_sheet import bid_sheet
from estimator.workbook.results.builder import Context
from estimator.workbook.results.checks_sheet import checks_sheet
from estimator.workbook.results.compare_sheet import compare_sheet
from estimator.workbook.results.cost_sheet import cost_sheet
from estimator.workbook.results.equipment_sheet import equipment_sheet
from estimator.workbook.results.explain_sheet import explain_runs, explain_sheet
from estimator.workbook.results.gantt_sheet import gantt_sheet
from estimator.workbook.results.joints_sheet import joints_sheet
from estimator.workbook.results.light import with_warning_colour
from estimator.workbook.results.options_sheet import options_sheet
from estimator.workbook.results.plan_sheet import plan_sheet
from estimator.workbook.results.price_sheet import price_sheet
from estimator.workbook.results.risk_sheet import risk_sheet
from estimator.workbook.results.run_cost_sheet import run_cost_sheet
from estimator.workbook.results.schedule_sheet import schedule_sheet
from estimator.workbook.results.tests_sheet import tests_sheet
from estimator.workbook.sheet_spec import SheetSpec

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
    estimate: Estimate,
    places: Places,
    sums: Sequence[InputSum],
    sheet_names: Mapping[str, str],
) -> tuple[SheetSpec, ...]:
    """Return the description of every result sheet.

    Parameters
    ----------
    estimate : Estimate
        What to show.
    places : Places
        Where the inputs stand, for the live formulas.
    sums : sequence of InputSum
        Checksums that watch the inputs.
    sheet_names : mapping
        Name in this workbook of each of ``RESULT_SHEETS``.
    """
    context = Context(estimate, places, sheet_names)
    explained = explain_runs(context)
    specs = {
        "Joints": joints_sheet(context),
        "Plan": plan_sheet(context),
        "Gantt": gantt_sheet(context),
        "Tests": tests_sheet(context),
        "Equipment": equipment_sheet(context),
        "Cost": cost_sheet(context),
        "Price build-up": price_sheet(context),
        "Cost by run": run_cost_sheet(context),
        "Bid schedule": schedule_sheet(context),
        "Risk": risk_sheet(context),
        "Compare": compare_sheet(context),
        "Options": options_sheet(context),
        "Explain": explain_sheet(context, explained),
        "Bid": bid_sheet(context),
        "Checks": checks_sheet(context, sums),
    }
    return tuple(with_warning_colour(specs[key]) for key in RESULT_SHEETS)
