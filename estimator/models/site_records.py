"""What is written down on site: joints, coupons, shifts, lost time and what was paid.

Clock times are minutes after midnight, misalignment and beads mm, gauge pressures MPa,
temperatures C.
"""

import datetime as dt
from typing import ClassVar, Literal

from estimator.models.base import Model
from estimator.models.calendar import ChargeTo, HoldCause
from estimator.models.changes import Change, ClaimTerms
from estimator.models.past_jobs import PastJob
from estimator.models.plan import ShiftName
from estimator.models.quotes import Quote, RequestTerms

Visual = Literal["pass", "reject", "hold"]
CouponResult = Literal["pass", "fail"]


class LoggedJoint(Model):
    """One row of the joint log: limits filled in beforehand, the rest typed on site.

    A limit is None where the method gives none or the row is not yet filled.
    """

    TABLE: ClassVar[str] = "joint_log"
    ROW: ClassVar[str] = "joint_no"

    joint_no: str
    run_id: str
    kind: str
    pipe: str = ""
    soak_min_s: float | None = None
    open_close_max_s: float | None = None
    cool_min_s: float | None = None
    bead_min_mm: float | None = None
    misalignment_max_mm: float | None = None
    base_gauge_mpa: float | None = None
    date: dt.date | None = None
    crew: int | None = None
    machine_no: str | None = None
    operator: str | None = None
    ambient_c: float | None = None
    cover: bool | None = None
    batch_1: str | None = None
    batch_2: str | None = None
    heater_1_c: float | None = None
    heater_2_c: float | None = None
    drag_mpa: float | None = None
    gauge_set_mpa: float | None = None
    heat_start_min: float | None = None
    heater_out_min: float | None = None
    closed_min: float | None = None
    cool_end_min: float | None = None
    bead_1_mm: float | None = None
    bead_2_mm: float | None = None
    misalignment_mm: float | None = None
    visual: Visual | None = None
    cause: str | None = None
    rework_as: str | None = None
    record_no: str | None = None
    logger_file: str | None = None
    logger_hash: str | None = None
    inspector: str | None = None
    note: str | None = None

    @property
    def made(self) -> bool:
        """Whether anything says that the joint exists."""
        return self.date is not None or self.closed_min is not None or self.visual is not None


class Coupon(Model):
    """One destructive test of a joint."""

    TABLE: ClassVar[str] = "coupons"
    ROW: ClassVar[str] = "coupon"

    coupon: str
    joint_no: str
    kind: str
    date: dt.date
    result: CouponResult
    laboratory: str | None = None
    value: float | None = None
    failure: str | None = None
    next_due: dt.date | None = None
    note: str | None = None


class Operator(Model):
    """One person who may make joints, and until when."""

    TABLE: ClassVar[str] = "operators"
    ROW: ClassVar[str] = "operator"

    operator: str
    qualified_until: dt.date
    coupon_every: int | None = None
    note: str | None = None


class PassedTest(Model):
    """A test section whose hydrotest is passed."""

    TABLE: ClassVar[str] = "tests_passed"
    ROW: ClassVar[str] = "section"

    section: str
    date: dt.date
    document: str | None = None
    note: str | None = None


class DailyRow(Model):
    """One crew on one run in one shift; a count is None where the joint log has it."""

    TABLE: ClassVar[str] = "daily_record"
    ROW: ClassVar[str] = "date"

    date: dt.date
    crew: int
    shift: ShiftName = "day"
    run_id: str
    people: float
    paid_hours: float
    stick_joints: int | None = None
    fitting_joints: int | None = None
    tie_in_joints: int | None = None
    rework_joints: int | None = None
    test_joints: int | None = None
    ef_closures: int | None = None
    bolt_ups: int | None = None
    saddles: int | None = None
    moves: int | None = None
    length_m: float | None = None
    fuel_l: float | None = None
    foreman: str | None = None
    note: str | None = None


class LostTime(Model):
    """Minutes in which a crew stood still."""

    TABLE: ClassVar[str] = "lost_time"
    ROW: ClassVar[str] = "date"

    date: dt.date
    crew: int
    shift: ShiftName = "day"
    minutes: float
    cause: HoldCause
    charge_to: ChargeTo = "us"
    note: str | None = None


class ActualCost(Model):
    """An amount paid or committed, in the currency of the job."""

    TABLE: ClassVar[str] = "actual_cost"
    ROW: ClassVar[str] = "date"

    date: dt.date
    cost_type: str
    amount: float
    run_id: str | None = None
    document: str | None = None
    note: str | None = None


class OnRent(Model):
    """A piece of equipment that came, and went unless it is still there."""

    TABLE: ClassVar[str] = "on_rent"
    ROW: ClassVar[str] = "class_id"

    class_id: str
    quantity: int | None = None
    on_rent: dt.date
    off_rent: dt.date | None = None
    excess_h: float | None = None
    document: str | None = None


class PlannedRun(Model):
    """What a run was planned with when the records were begun: joints and minutes of each."""

    TABLE: ClassVar[str] = "planned_runs"
    ROW: ClassVar[str] = "run_id"

    run_id: str
    pipe: str
    machine: str | None = None
    stick_joints: int | None = None
    fitting_joints: int | None = None
    tie_in_joints: int | None = None
    rework_joints: int | None = None
    test_joints: int | None = None
    stick_min: float | None = None
    fitting_min: float | None = None
    tie_in_min: float | None = None
    rework_min: float | None = None
    test_min: float | None = None
    ef_closures_min: float | None = None
    bolt_ups_min: float | None = None
    saddles_min: float | None = None


class CoolingByAir(Model):
    """Least cooling of a pipe in a band of air temperature, in proportion between its ends."""

    TABLE: ClassVar[str] = "cooling_by_air"
    ROW: ClassVar[str] = "pipe"

    pipe: str
    from_c: float
    to_c: float
    low_s: float
    high_s: float


class LoggerColumn(Model):
    """A column of a data logger's file and ours that it fills."""

    TABLE: ClassVar[str] = "logger_columns"
    ROW: ClassVar[str] = "ours"

    ours: str
    theirs: str
    unit: str | None = None
    note: str | None = None


class SiteRecords(Model):
    """All that was written down on site; a table that is not kept has no rows."""

    joint_log: tuple[LoggedJoint, ...] = ()
    coupons: tuple[Coupon, ...] = ()
    operators: tuple[Operator, ...] = ()
    tests_passed: tuple[PassedTest, ...] = ()
    daily_record: tuple[DailyRow, ...] = ()
    lost_time: tuple[LostTime, ...] = ()
    actual_cost: tuple[ActualCost, ...] = ()
    on_rent: tuple[OnRent, ...] = ()
    planned_runs: tuple[PlannedRun, ...] = ()
    cooling_by_air: tuple[CoolingByAir, ...] = ()
    logger_columns: tuple[LoggerColumn, ...] = ()
    quotes: tuple[Quote, ...] = ()
    request_terms: tuple[RequestTerms, ...] = ()
    past_jobs: tuple[PastJob, ...] = ()
    changes: tuple[Change, ...] = ()
    claim_terms: tuple[ClaimTerms, ...] = ()
