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
from estimator.workbook.results.joints_sheet import joints_sheet
from estimator.workbook.results.light import with_warning_colour
from estimator.workbook.results.plan_sheet import plan_sheet
from estimator.workbook.results.risk_sheet import risk_sheet
from estimator.workbook.sheet_spec import SheetSpec

RESULT_SHEETS = (
    "Joints",
    "Plan",
    "Equipment",
    "Cost",
    "Bid",
    "Risk",
    "Compare",
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
    specs = (
        joints_sheet(context),
        plan_sheet(context),
        equipment_sheet(context),
        cost_sheet(context),
        bid_sheet(context),
        risk_sheet(context),
        compare_sheet(context),
        explain_sheet(context, explained),
        checks_sheet(context, sums),
    )
    return tuple(with_warning_colour(spec) for spec in specs)
