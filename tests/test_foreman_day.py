"""What a foreman types for a day: the cells are counted, and none of them may be left out."""

import datetime as dt

from estimator.inputs.dictionary import fields
from estimator.models.site_records import CoolingByAir, LoggedJoint
from estimator.progress.joint_log import judge
from tests.each import each

SAME_ALL_DAY = ("date", "machine_no", "operator", "visual")
"""Typed in the first row of the day and filled down; the exception is typed over it."""
BY_HALF_DAY = ("ambient_c",)
"""Typed morning, noon and afternoon, and filled down."""
OF_EACH_JOINT = ("heat_start_min", "heater_out_min", "closed_min", "cool_end_min")
MEASURED = ("drag_mpa", "bead_1_mm", "bead_2_mm", "misalignment_mm")
LOGGED = ("drag_mpa", *OF_EACH_JOINT, *BY_HALF_DAY)
JOINTS_A_DAY, SECONDS_A_CELL, SIX_MINUTES = 12, 3.0, 360
FILLED_DOWN = 2
"""Cells that a value counts for which is typed once: the value, and filling it down."""
DEFAULTED = {"shift", "charge_to"}
"""Have a default, so that they may stay blank."""
DAILY_ROW = ("date", "crew", "run_id", "people", "paid_hours")
LOST_ROW = ("date", "crew", "minutes", "cause")
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
    assert set(TYPED) == {*SAME_ALL_DAY, *BY_HALF_DAY, *OF_EACH_JOINT}
    assert verdict(TYPED) == "accepted"


@each("key", sorted(TYPED))
def test_without_any_of_them_it_is_not(key):
    assert verdict({name: value for name, value in TYPED.items() if name != key}) != "accepted"


def cells_of_a_day(measured=MEASURED, each=OF_EACH_JOINT, by_half_day=BY_HALF_DAY):
    """Return how many cells are typed for a day with one lost time."""
    joints = JOINTS_A_DAY * len({*each, *measured})
    filled = FILLED_DOWN * (len(SAME_ALL_DAY) + 3 * len(by_half_day))
    return joints + filled + len(DAILY_ROW) + len(LOST_ROW)


# 12 joints x (4 clock times + 4 measured) = 96; date, machine, operator, visual and three readings
# of the air, each typed and filled down, 14; a row of the daily record 5, of lost time 4: 119.
def test_a_day_of_twelve_joints_is_typed_in_less_than_six_minutes():
    for table, typed in (("daily_record", DAILY_ROW), ("lost_time", LOST_ROW)):
        needed = {field.key for field in fields(table) if field.required}
        assert needed - DEFAULTED <= set(typed), needed
    assert cells_of_a_day() == 119
    assert cells_of_a_day() * SECONDS_A_CELL < SIX_MINUTES
    assert cells_of_a_day(measured=()) == 71  # what a joint is accepted with
    by_hand = [key for key in MEASURED if key not in LOGGED]
    assert cells_of_a_day(by_hand, (), ()) == 53  # the logger's file brings the rest
