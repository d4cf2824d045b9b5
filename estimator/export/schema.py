"""The shape of an estimate as JSON, made from the rows and models that it is written from.

Lengths, times and pressures are SI with the unit at the end of the name,
money is in the currency of the job, shares are fractions.
"""

from collections.abc import Collection
from decimal import Decimal
from typing import Any, get_type_hints

from pydantic import ConfigDict, TypeAdapter
from typing_extensions import TypedDict

from estimator.export import rows
from estimator.export.as_json import ALSO_OF_TEST, FLEET_FIGURES
from estimator.export.joint_as_json import JointFigures
from estimator.models.base import Model
from estimator.models.choice import Reason, Rejection
from estimator.models.estimate import Bid
from estimator.models.fleet_outcome import Candidate, FleetOutcome
from estimator.models.hydrotest import HydroDay, HydroTest
from estimator.models.job_inputs import GROUPS
from estimator.models.joint import Source
from estimator.models.rental import RentalSpan
from estimator.models.risk import NoRisk, Risk
from estimator.models.weeks import CrewWork, GearMove
from estimator.version import SCHEMA_VERSION

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def _shape(
    name: str, about: str, *kinds: type[Any], only: Collection[str] | None = None, **more: object
) -> Any:  # noqa: ANN401 - a type made here
    """Return an object that has these keys and no others.

    Parameters
    ----------
    name, about
        What the schema calls it, and says of it.
    kinds
        Rows or models whose fields are keys.
    only
        Those of their fields that are, if not all.
    more
        Further keys, or those whose values JSON holds in another way; ``[of]`` is a list.
    """
    keys: dict[str, Any] = {}
    for kind in kinds:
        keys |= {key: _in_json(of) for key, of in _fields(kind).items()}
    keys = {key: of for key, of in keys.items() if only is None or key in only}
    keys |= {key: _list_of(*of) if isinstance(of, list) else of for key, of in more.items()}
    made = TypedDict(f"{name}Shape", keys)  # type: ignore[misc]
    made.__doc__ = about
    made.__pydantic_config__ = ConfigDict(extra="forbid")  # type: ignore[attr-defined]
    return made


def _list_of(one: object) -> object:
    return list.__class_getitem__(one)


def _fields(kind: type[Any]) -> dict[str, Any]:
    if issubclass(kind, Model):
        return {key: field.annotation for key, field in kind.model_fields.items()}
    return get_type_hints(kind)


def _in_json(of: Any) -> Any:  # noqa: ANN401 - a type
    """Return what JSON holds of a field: money is a number there."""
    if of == Decimal | None:
        return float | None
    return float if of is Decimal else of


def _of_row(row: type[Any], key: str) -> Any:  # noqa: ANN401 - a type
    return _fields(row)[key]


SourceShape = _shape("Source", "Where a figure comes from, and how sure it is.", Source)
ReasonShape = _shape(
    "Reason",
    "Why something was selected, in words; ``need`` and ``limit`` are SI numbers of the ``kind``.",
    Reason,
)
RejectionShape = _shape("Rejection", "Why a class was not selected.", Rejection)
JointShape = _shape(
    "Joint",
    "One joint: measures of the pipe, parameters of the method, their sources.",
    JointFigures,
    heater_c=[float],
    interfacial_mpa=[float],
    force_range_n=[float],
    gauge_range_mpa=list[float] | None,
    caution=str,
    notes=[str],
    sources=[SourceShape],
)
RunShape = _shape(
    "Run",
    "One run of the pipe schedule: its joints, their time, its hours and machine.",
    JointShape,
    rows.RunRow,
    ambient_c=float,
    rejected=[RejectionShape],
)
PlanShape = _shape(
    "Plan", "What one crew makes of one run in one shift.", rows.PlanRow, moves=[str]
)
CrewWeekShape = _shape("CrewWeek", "One crew in one week.", CrewWork)
GearMoveShape = _shape("GearMove", "A delivery or a collection.", GearMove)
WeekShape = _shape(
    "Week",
    "One week, Monday to Sunday.",
    rows.WeekRow,
    runs=[str],
    runs_begun=[str],
    runs_finished=[str],
    crews=[CrewWeekShape],
    deliveries=[GearMoveShape],
    collections=[GearMoveShape],
    hydrotests=[HydroDay],
)
SpanShape = _shape(
    "Span",
    "A class of equipment on rent for one crew, and why it was selected.",
    RentalSpan,
    why=ReasonShape,
    rejected=[RejectionShape],
    calendar_days=_of_row(rows.RentalRow, "calendar_days"),
)
TotalsShape = _shape("Totals", "The job in a few numbers.", rows.TotalsRow)
CostLineShape = _shape("CostLine", "One line of the cost: quantity x rate.", rows.CostRow)
PriceShape = _shape("Price", "From job cost to price.", Bid)
MarkupShape = _shape("Markup", "The markups of one type of cost.", rows.MarkupRow)
RunCostShape = _shape(
    "RunCost",
    "Cost and price of one run; ``shares`` by the names of the columns of Cost by run.",
    rows.RunCostRow,
    shares=dict[str, float],
)
SizeCostShape = _shape("SizeCost", "Cost and price of all runs of one pipe.", rows.SizeRow)
BidItemShape = _shape(
    "BidItem",
    "One line of the bid schedule.",
    rows.BidRow,
    holds=[str],
    before_bond=float,
    takes_rounding=bool,
    price_typed_in=bool,
)
HydrotestShape = _shape(
    "Hydrotest",
    "One test section with its hours and dates.",
    HydroTest,
    **{key: _of_row(rows.HydrotestRow, key) for key in ALSO_OF_TEST},
)
AssumptionShape = _shape(
    "Assumption",
    "One own assumption at its default, and what it moves the price by.",
    rows.AssumptionRow,
)
AssumptionsShape = _shape(
    "Assumptions", "Our own assumptions, heaviest first.", assumptions=[AssumptionShape]
)
NoReasonShape = _shape("NoReason", "Why there are none.", reason=str)
CandidateShape = _shape("Candidate", "One answer of the fleet optimization, priced.", Candidate)
FleetChoiceShape = _shape(
    "FleetChoice",
    "How classes and crews were chosen over the whole job.",
    FleetOutcome,
    only=FLEET_FIGURES,
    saving=float,
    gap=float | None,
    candidates=[CandidateShape],
)
WarningShape = _shape("Warning", "Something to question, and where it stands.", rows.WarningRow)
JobShape = _shape("Job", "Inputs of the Job sheet, in SI.", *GROUPS.values())
EstimateShape = _shape(
    "Estimate",
    "A whole estimate.",
    schema_version=int,
    version=str,
    job=JobShape,
    runs=[RunShape],
    plan=[PlanShape],
    plan_by_week=[WeekShape],
    equipment=[SpanShape],
    totals=TotalsShape,
    cost_lines=[CostLineShape],
    price=PriceShape,
    markup_by_type=[MarkupShape],
    cost_by_run=[RunCostShape],
    cost_by_run_rounding=dict[str, float],
    cost_by_size=[SizeCostShape],
    bid_items=[BidItemShape],
    hydrotests=[HydrotestShape],
    risk=Risk | NoRisk,
    assumptions=AssumptionsShape | NoReasonShape,
    fleet_choice=FleetChoiceShape | None,
    warnings=[WarningShape],
)


def estimate_shape() -> TypeAdapter[Any]:
    """Return what checks an estimate as JSON, and knows its schema."""
    return TypeAdapter(EstimateShape)


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``to_dict`` and of ``estimator estimate FILE --json PATH``."""
    found = estimate_shape().json_schema(mode="serialization")
    return {
        "$schema": DIALECT,
        "title": "Estimate of a butt fusion job",
        "description": f"Version {SCHEMA_VERSION} of the schema. SI units, unit at the end of each "
        "name; money in the currency of the job; shares as fractions; dates as ISO text.",
        **{key: value for key, value in found.items() if key != "title"},
    }
