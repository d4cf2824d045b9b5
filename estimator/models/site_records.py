"""What is written down on site: joints, coupons, days, lost time, actual cost.

Clock times are minutes after midnight, lengths m, misalignment and beads mm, gauge pressures
MPa, temperatures C. Money is in the user's currency.
"""

import datetime as dt
from typing import ClassVar, Literal

from estimator.models.base import Model

Visual = Literal["pass", "reject", "hold"]
CouponResult = Literal["pass", "fail"]
ChargeTo = Literal["us", "client", "supplier"]

JOINT_COUNTS = ("stick_joints", "fitting_joints", "tie_ins", "rework_joints", "trial_fusions")
"""Counts of a daily record, by kind of joint."""


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
    logger_file: str | None = None
    record_no: str | None = None
    inspector: str | None = None
    rework_as: str | None = None
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
    note: str | None = None


class DailyRecord(Model):
    """What one crew did on one run in one shift."""

    TABLE: ClassVar[str] = "daily_record"
    ROW: ClassVar[str] = "date"

    date: dt.date
    crew: int
    run_id: str
    shift: Literal["day", "night"] = "day"
    people: int | None = None
    paid_hours: float | None = None
    stick_joints: int | None = None
    fitting_joints: int | None = None
    tie_ins: int | None = None
    rework_joints: int | None = None
    trial_fusions: int | None = None
    closures: int | None = None
    bolt_ups: int | None = None
    saddles: int | None = None
    moves: int | None = None
    length_in_place_m: float | None = None
    fuel: float | None = None
    foreman: str | None = None
    note: str | None = None

    @property
    def counted(self) -> bool:
        """Whether any joint count was typed; without one the joint log counts."""
        return any(getattr(self, key) is not None for key in JOINT_COUNTS)


class LostTime(Model):
    """Minutes that one crew lost on a day, why, and who bears them."""

    TABLE: ClassVar[str] = "lost_time"
    ROW: ClassVar[str] = "date"

    date: dt.date
    crew: int
    minutes: float
    cause: str
    charge_to: ChargeTo = "us"
    note: str | None = None


class ActualCost(Model):
    """Money spent, by cost type and, where known, by run."""

    TABLE: ClassVar[str] = "actual_cost"
    ROW: ClassVar[str] = "date"

    date: dt.date
    cost_type: str
    amount: float
    run_id: str | None = None
    document: str | None = None


class Change(Model):
    """A change to the contract; only an agreed one enters the baseline."""

    TABLE: ClassVar[str] = "changes"
    ROW: ClassVar[str] = "change_no"

    change_no: str
    date: dt.date
    kind: Literal["quantity", "method", "delay", "hold", "acceleration"]
    what: str
    runs: str | None = None
    status: Literal["raised", "priced", "agreed", "refused"] = "raised"
    days_asked: float | None = None
    days_agreed: float | None = None
    price_asked: float | None = None
    price_agreed: float | None = None
    document: str | None = None
