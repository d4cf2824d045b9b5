"""What is written down on site: joints and coupons.

Clock times are minutes after midnight, misalignment and beads mm, gauge pressures MPa,
temperatures C.
"""

import datetime as dt
from typing import ClassVar, Literal

from estimator.models.base import Model

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
