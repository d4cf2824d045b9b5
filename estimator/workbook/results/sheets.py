"""All result sheets of an estimate: how they are made, and their order in a new workbook."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from estimator.data_class import dataclass
from estimator.models.places import Places
from estimator.models.study import Study
from estimator.workbook.read.input_check import Watch
from estimator.workbook.results.basis_sheet import basis_sheet
from estimator.workbook.results.bid_sheet import bid_sheet
from estimator.workbook.results.builder import Context
from estimator.workbook.results.checks_sheet import checks_sheet, with_pages_printed
from estimator.workbook.results.client_page import foot_of
from estimator.workbook.results.compare_sheet import compare_sheet
from estimator.workbook.results.cost_sheet import cost_sheet
from estimator.workbook.results.equipment_choice import choice_sheet
from estimator.workbook.results.equipment_sheet import equipment_sheet
from estimator.workbook.results.explain_sheet import Line, explain_runs, explain_sheet
from estimator.workbook.results.gantt_sheet import gantt_sheet
from estimator.workbook.results.item_price_sheet import item_price_sheet
from estimator.workbook.results.joint_pages import joint_counts_sheet, joint_parameters_sheet
from estimator.workbook.results.joints_sheet import joints_sheet
from estimator.workbook.results.labor_sheet import labor_sheet
from estimator.workbook.results.left_out_page import left_out_page
from estimator.workbook.results.light import with_warning_color
from estimator.workbook.results.look_ahead_sheet import look_ahead_sheet
from estimator.workbook.results.options_sheet import options_sheet
from estimator.workbook.results.plan_sheet import plan_sheet
from estimator.workbook.results.price_sheet import price_sheet
from estimator.workbook.results.risk_sheet import risk_sheet
from estimator.workbook.results.run_cost_sheet import run_cost_sheet
from estimator.workbook.results.schedule_sheet import schedule_sheet
from estimator.workbook.results.tests_sheet import tests_sheet
from estimator.workbook.results.watch_sheet import INPUT_WATCH, watch_sheet
from estimator.workbook.results.week_sheet import week_sheet
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import printed_pages
from estimator.workbook.sheet.spec import SheetSpec


@dataclass(frozen=True)
class Asked:
    """What the sheets are made of."""

    context: Context
    explained: Sequence[Line]
    watched: Sequence[Watch]


@dataclass(frozen=True)
class ResultSheet:
    """One result sheet: its name, and how it is made.

    In its ``turn``: after every sheet whose cells it refers to.
    """

    name: str
    turn: int
    make: Callable[[Asked], SheetSpec]
    for_client: bool = False
    """Whether it goes to the client, so that it shows no check status."""


def _plain(make: Callable[[Context], SheetSpec]) -> Callable[[Asked], SheetSpec]:
    return lambda asked: make(asked.context)


CHECKS = "Checks"
SHEETS = (
    ResultSheet(CHECKS, 12, _plain(checks_sheet)),
    ResultSheet("Bid", 11, _plain(bid_sheet), for_client=True),
    ResultSheet("Bid schedule", 9, _plain(schedule_sheet), for_client=True),
    ResultSheet("Basis of estimate", 10, _plain(basis_sheet)),
    ResultSheet("Price build-up", 7, _plain(price_sheet)),
    ResultSheet("Cost", 6, _plain(cost_sheet)),
    ResultSheet("Cost by run", 8, _plain(run_cost_sheet)),
    ResultSheet("Item prices", 10, _plain(item_price_sheet)),
    ResultSheet("Risk", 10, _plain(risk_sheet)),
    ResultSheet("Compare", 10, _plain(compare_sheet)),
    ResultSheet("Options", 11, _plain(options_sheet)),
    ResultSheet("Plan by week", 4, _plain(week_sheet)),
    ResultSheet("Look-ahead", 4, _plain(look_ahead_sheet)),
    ResultSheet("Gantt", 4, _plain(gantt_sheet)),
    ResultSheet("Hydrotests", 2, _plain(tests_sheet)),
    ResultSheet("Labor", 4, _plain(labor_sheet)),
    ResultSheet("Joint counts", 2, _plain(joint_counts_sheet)),
    ResultSheet("Joint parameters", 2, _plain(joint_parameters_sheet)),
    ResultSheet("Equipment", 5, _plain(equipment_sheet)),
    ResultSheet("Equipment choice", 5, _plain(choice_sheet)),
    ResultSheet("Joints", 1, _plain(joints_sheet)),
    ResultSheet("Plan", 3, _plain(plan_sheet)),
    ResultSheet("Explain", 11, lambda asked: explain_sheet(asked.context, asked.explained)),
    ResultSheet(INPUT_WATCH, 11, lambda asked: watch_sheet(asked.context, asked.watched)),
)
"""Every result sheet, in the order of a new workbook: by reader, long tables last."""
RESULT_SHEETS = tuple(sheet.name for sheet in SHEETS)


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
        What shows that an input was changed.
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
    asked = Asked(context, explain_runs(context), watched)
    pages: dict[str, int] = {}
    for sheet in sorted(SHEETS, key=lambda sheet: sheet.turn):
        foot = foot_of(context, for_client=sheet.for_client)
        is_left_out = estimate.job.pages.leaves_out(sheet.name)
        spec = left_out_page(context, sheet.name) if is_left_out else sheet.make(asked)
        made = replace(laid_out(spec), foot=foot)
        pages[sheet.name] = printed_pages(made)
        if sheet.name == CHECKS:
            made = with_pages_printed(made, {name: pages[name] for name in RESULT_SHEETS})
        yield sheet.name, made if sheet.for_client else with_warning_color(made)
