"""What a foreman types for a day: the cells are counted, and none of them may be left out."""

import datetime as dt

from estimator.inputs.dictionary import fields
from estimator.models.site_records import CoolingByAir, LoggedJoint
from estimator.progress.joint_log import judge
from tests.each import each

SAME_ALL_DAY = ("date", "machine_no", "operator")
OF_EACH_JOINT = (
    "ambient_c", "heat_start_min", "heater_out_min", "closed_min", "cool_end_min", "visual",
)  # fmt: skip
MEASURED = ("drag_mpa", "bead_1_mm", "bead_2_mm", "misalignment_mm")
JOINTS_A_DAY, SECONDS_A_CELL, SIX_MINUTES = 8, 3.0, 360
DEFAULTED = {"shift"}
"""Has a default, so that it may stay blank."""
DAILY_ROW = ("date", "crew", "run_id", "people", "paid_hours", "moves")
LOST_ROW = ("date", "crew", "minutes", "cause", "charge_to")
COOLING = (
    CoolingByAir(pipe="P", from_c=-10, to_c=20, low_s=600, high_s=700),
    CoolingByAir(pipe="P", from_c=20, to_c=50, low_s=700, high_s=900),
)
TYPED = {
    "date": dt.date(2027, 3, 1), "machine_no": "M1", "operator": "A", "ambient_c": 15.0,
    "heat_start_min": 480.0, "heater_out_min": 490.0, "closed_min": 490.2,
    "cool_end_min": 505.0, "visual": "pass",
}  # fmt: skip
FILLED = {"joint_no": "R1-0001", "run_id": "R1", "kind": "stick", "pipe": "P",
          "soak_min_s": 590.0, "open_close_max_s": 20.0}  # fmt: skip


def verdict(values):
    return judge(LoggedJoint(**FILLED, **values), None, COOLING).verdict


def test_nine_cells_make_an_accepted_joint():
    assert set(TYPED) == {*SAME_ALL_DAY, *OF_EACH_JOINT}
    assert verdict(TYPED) == "accepted"


@each("key", sorted(TYPED))
def test_without_any_of_them_it_is_not(key):
    assert verdict({name: value for name, value in TYPED.items() if name != key}) != "accepted"


# Date, machine and operator are typed once and filled down (counted as two cells each); every joint
# has six cells and four measured ones; one row of the daily record, one of lost time.
def test_a_day_of_eight_joints_is_typed_in_less_than_six_minutes():
    once = 2 * len(SAME_ALL_DAY)
    joints = JOINTS_A_DAY * (len(OF_EACH_JOINT) + len(MEASURED))
    for table, typed in (("daily_record", DAILY_ROW), ("lost_time", LOST_ROW)):
        needed = {field.key for field in fields(table) if field.required}
        assert needed - DEFAULTED <= set(typed), needed
    cells = once + joints + len(DAILY_ROW) + len(LOST_ROW)
    assert cells == 97
    assert cells * SECONDS_A_CELL < SIX_MINUTES
    with_logger = cells - JOINTS_A_DAY * 6  # four clock times, drag and air come from its file
    assert with_logger == 49
