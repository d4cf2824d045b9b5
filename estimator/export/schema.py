"""The shape of an estimate as JSON, from which its JSON Schema is made.

Lengths, times and pressures are SI with the unit at the end of the name,
money is in the currency of the job, shares are fractions.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter, create_model
from typing_extensions import TypedDict

from estimator.models.hydrotest import HydroDay, HydroHours
from estimator.models.job_inputs import GROUPS
from estimator.models.rental import TierMix
from estimator.models.risk import NoRisk, Risk
from estimator.version import SCHEMA_VERSION

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class Shape(TypedDict):
    """An object that has these keys and no others."""

    __pydantic_config__ = ConfigDict(extra="forbid")  # type: ignore[misc]


class SourceShape(Shape):
    """Where a figure comes from, and how sure it is."""

    figure: str
    text: str
    confidence: str


class ReasonShape(Shape):
    """Why something was taken, in words; ``need`` and ``limit`` are SI numbers of the ``kind``."""

    text: str
    kind: str
    need: float
    limit: float


class RejectionShape(ReasonShape):
    """Why a class was not taken."""

    class_id: str


class JointShape(Shape):
    """One joint: measures of the pipe, parameters of the method, their sources."""

    od_system: str
    size: str
    dr: float
    od_mm: float
    wall_mm: float
    id_mm: float
    weight_kg_m: float
    joint_area_mm2: float
    method: str
    heater_c: list[float]
    interfacial_mpa: list[float]
    bead_min_mm: float
    soak_s: float
    open_close_max_s: float | None
    ramp_max_s: float | None
    cool_s: float
    rest_s: float
    force_n: float
    force_range_n: list[float]
    gauge_mpa: float | None
    gauge_range_mpa: list[float] | None
    caution: str
    notes: list[str]
    sources: list[SourceShape]


class RunShape(JointShape):
    """One run of the pipe schedule: its joints, their time, its hours and machine."""

    run_id: str
    sticks: int
    butt_joints: int
    fitting_joints: int
    tie_in_joints: int
    other_joints: int
    rework_joints: int
    ambient_c: float
    cycle_min: float
    period_min: float
    joints_per_shift: int
    labor_hours: float
    crew_hours: float
    machine: str
    rejected: list[RejectionShape]


class PlanShape(Shape):
    """What one crew makes of one run in one shift."""

    date: dt.date
    crew: int
    run_id: str
    machine: str
    joints: int
    tie_in_joints: int
    rework_joints: int
    test_joints: int
    other_joints: int
    moves: list[str]
    minutes: float
    shift: str


class CrewWeekShape(Shape):
    """One crew in one week."""

    crew: int
    people: float
    labor_hours: float
    joints: int
    tie_ins: int
    fuel_l: float


class GearMoveShape(Shape):
    """A delivery or a collection."""

    date: dt.date
    kind: str
    class_id: str
    quantity: int
    crew: int


class WeekShape(Shape):
    """One week, Monday to Sunday."""

    first: dt.date
    last: dt.date
    work_days: int
    lost_days: int
    people: float
    labor_hours: float
    test_hours: float
    joints: int
    tie_ins: int
    fuel_l: float
    runs: list[str]
    runs_begun: list[str]
    runs_finished: list[str]
    crews: list[CrewWeekShape]
    deliveries: list[GearMoveShape]
    collections: list[GearMoveShape]
    hydrotests: list[HydroDay]


class SpanShape(Shape):
    """A class of equipment on rent for one crew, and why it was taken."""

    kind: str
    class_id: str
    crew: int
    quantity: int
    on_rent: dt.date
    off_rent: dt.date
    used: list[dt.date]
    tiers: TierMix
    fuel_l: float
    beyond_h: float
    why: ReasonShape
    rejected: list[RejectionShape]
    calendar_days: int


class TotalsShape(Shape):
    """The job in a few numbers."""

    butt_joints: int
    tie_in_joints: int
    other_joints: int
    rework_joints: int
    test_joints: int
    labor_hours: float
    crew_hours: float
    work_days: int
    start: dt.date
    finish: dt.date
    joining_finish: dt.date
    direct_cost: float
    indirect_cost: float
    job_cost: float
    bid_price: float
    total_with_tax: float


class CostLineShape(Shape):
    """One line of the cost: quantity x rate."""

    key: str
    section: str
    cost_type: str
    item: str
    quantity: float
    unit: str
    rate: float
    amount: float
    allocated_by: str
    belongs_to: str


class PriceShape(Shape):
    """From job cost to price."""

    direct_cost: float
    indirect_cost: float
    job_cost: float
    unmarked: float
    office_overhead: float
    contingency: float
    cost_before_profit: float
    profit: float
    price_before_bond: float
    bond: float
    rounding: float
    price: float
    tax: float
    total: float


class MarkupShape(Shape):
    """The markups of one type of cost."""

    type: str
    job_cost: float
    with_markups: float
    overhead_share: float
    contingency_share: float
    profit_share: float
    price_factor: float


class RunCostShape(Shape):
    """Cost and price of one run; ``shares`` by the names of the columns of Cost by run."""

    run_id: str
    pipe: str
    size_band: str
    labor_hours: float
    shares: dict[str, float]
    cost: float
    tie_ins: float
    own_item: float
    price: float


class SizeCostShape(Shape):
    """Cost and price of all runs of one pipe."""

    pipe: str
    length_m: float
    butt_joints: int
    labor_hours: float
    cost: float
    own_item: float
    price: float


class BidItemShape(Shape):
    """One line of the bid schedule."""

    number: str
    item: str
    holds: list[str]
    group: str
    description: str
    quantity: float
    unit: str
    cost: float
    before_bond: float
    unit_price: float
    amount: float
    takes_rounding: bool
    price_typed_in: bool


class HydrotestShape(Shape):
    """One test section with its hours and dates."""

    section: str
    run_ids: list[str]
    length_m: float
    highest_dr: float
    volume_l: float
    people: int
    hours: HydroHours
    ready: dt.date
    pressure_date: dt.date
    days: list[HydroDay]
    start: dt.date
    finish: dt.date
    hours_at_pressure: float
    labor_hours: float


class AssumptionShape(Shape):
    """One own assumption at its default, and what it moves the price by."""

    name: str
    where: str
    rows: int
    value: str | None
    move: str | None
    price_change: float | None
    why_not: str | None


class AssumptionsShape(Shape):
    """The own assumptions, heaviest first."""

    assumptions: list[AssumptionShape]


class NoReasonShape(Shape):
    """Why there are none."""

    reason: str


class CandidateShape(Shape):
    """One answer of the fleet optimization, priced."""

    name: str
    job_cost: float | None
    finish: dt.date | None
    short_of_stock: bool
    why_not: str


class FleetChoiceShape(Shape):
    """How classes and crews were chosen over the whole job."""

    kept: str
    saving: float
    model_cost: float
    bound: float
    gap: float
    finished: bool
    runs: int
    items: int
    note: str
    candidates: list[CandidateShape]


class WarningShape(Shape):
    """Something to question, and where it stands."""

    where: str
    message: str


def _job_shape() -> type[BaseModel]:
    """Return the shape of the Job sheet's inputs: those of all its groups."""
    held: dict[str, Any] = {
        key: (field.annotation, ...)
        for model in GROUPS.values()
        for key, field in model.model_fields.items()
    }
    config = ConfigDict(extra="forbid", allow_inf_nan=False)
    about = "Inputs of the Job sheet, in SI."
    return create_model("JobShape", __config__=config, __doc__=about, **held)


JobShape = _job_shape()


class EstimateShape(Shape):
    """A whole estimate."""

    schema_version: int
    version: str
    job: JobShape  # type: ignore[valid-type]
    runs: list[RunShape]
    plan: list[PlanShape]
    plan_by_week: list[WeekShape]
    equipment: list[SpanShape]
    totals: TotalsShape
    cost_lines: list[CostLineShape]
    price: PriceShape
    markup_by_type: list[MarkupShape]
    cost_by_run: list[RunCostShape]
    cost_by_run_rounding: dict[str, float]
    cost_by_size: list[SizeCostShape]
    bid_items: list[BidItemShape]
    hydrotests: list[HydrotestShape]
    risk: Risk | NoRisk
    assumptions: AssumptionsShape | NoReasonShape
    fleet_choice: FleetChoiceShape | None
    warnings: list[WarningShape]


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
