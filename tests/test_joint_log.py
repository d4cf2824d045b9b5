"""Joint log: verdicts by hand, rework, coupons that hold, and everything wrong at once."""

import datetime as dt

import pytest

from estimator.models.site_records import CoolingByAir, Coupon, LoggedJoint, Operator, SiteRecords
from estimator.progress.joint_log import (
    coupons_due,
    held_by_coupons,
    in_order_made,
    judge,
    judge_log,
    judge_records,
)
from estimator.study import Study
from estimator.workbook.results.builder import Context
from estimator.workbook.results.log_sheet import accepted_of, log_sheet
from estimator.workbook.sheet.styles import STYLES
from estimator.working_time.clock import elapsed_s
from tests.each import each
from tests.test_baseline import frozen

DAY = dt.date(2027, 10, 5)


def joint(number, **changes):
    """A joint of 8:00 to 8:30 that keeps every limit: soak 6:00, open/close 0:30, cool 22:30."""
    fields = {
        "joint_no": number, "run_id": "R1", "kind": "stick joint", "pipe": "24 in DR 11",
        "soak_min_s": 330.0, "open_close_max_s": 45.0, "cool_min_s": 1300.0,
        "bead_min_mm": 9.0, "misalignment_max_mm": 5.5, "base_gauge_mpa": 2.0,
        "date": DAY, "crew": 1, "machine_no": "M-7", "operator": "A. Reyes", "drag_mpa": 0.2,
        "gauge_set_mpa": 2.2, "heat_start_min": 480.0, "heater_out_min": 486.0,
        "closed_min": 486.5, "cool_end_min": 509.0, "bead_1_mm": 10.0, "bead_2_mm": 10.5,
        "misalignment_mm": 1.0, "visual": "pass",
    }  # fmt: skip
    return LoggedJoint(**(fields | changes))


def test_a_good_joint_is_accepted_with_its_durations():
    judged = judge(joint("A1"))
    assert judged.verdict == "accepted"
    times = judged.times
    assert (times.soak_s, times.open_close_s, times.cool_s) == (360.0, 30.0, 1350.0)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"heater_out_min": 485.0, "closed_min": 485.5}, "heat soak 5:00 under 5:30"),
        ({"closed_min": 487.0}, "open/close 1:00 over 0:45"),
        ({"cool_end_min": 506.5}, "cooling 20:00 under 21:40"),
        ({"bead_2_mm": 8.5}, "bead 2 too small"),
        ({"misalignment_mm": 6.0}, "misalignment"),
        ({"gauge_set_mpa": 2.0}, "gauge below base + drag"),
    ],
)
def test_each_broken_limit_is_named(change, reason):
    judged = judge(joint("A1", **change))
    assert (judged.verdict, judged.reasons) == ("out of limits", (reason,))


def test_a_reject_for_a_broken_limit_names_it_once():
    """The cause that the inspector wrote is the limit that the figures broke, too."""
    judged = judge(joint("A1", misalignment_mm=6.0, visual="reject", cause="misalignment"))
    assert (judged.verdict, judged.reasons) == ("reject", ("misalignment",))


def test_what_is_not_made_missing_rejected_or_held():
    empty = LoggedJoint(joint_no="A2", run_id="R1", kind="stick joint")
    assert judge(empty).verdict == "not made"
    missing = judge(joint("A1", cool_end_min=None, visual=None))
    assert (missing.verdict, missing.reasons) == ("incomplete", ("not entered: cool end, visual",))
    rejected = judge(joint("A1", visual="reject", cause="offset"))
    assert (rejected.verdict, rejected.reasons) == ("reject", ("offset",))
    assert judge(joint("A1"), held="coupon C1 failed").verdict == "hold"
    assert judge(joint("A1", visual="hold")).verdict == "hold"


def test_a_missing_limit_is_not_judged():
    assert judge(joint("A1", open_close_max_s=None, closed_min=487.0)).verdict == "accepted"


def test_clock_over_midnight_and_backwards():
    assert elapsed_s(1435.0, 5.0) == 600.0
    assert elapsed_s(None, 5.0) is None
    with pytest.raises(ValueError, match="backwards"):
        elapsed_s(500.0, 499.0)


def test_open_rejects_are_those_without_rework():
    log = [
        joint("A1", visual="reject", cause="cold", rework_as="A3"),
        joint("A2", visual="reject", cause="offset"),
        joint("A3"),
    ]
    judged = judge_log(log)
    assert [entry.joint.joint_no for entry in judged.open_rejects] == ["A2"]
    assert judged.causes() == (("cold", 1), ("offset", 1))
    (tally,) = judged.tallies("operator")
    assert (tally.made, tally.accepted, tally.rejected) == (3, 1, 2)
    assert tally.reject_share == pytest.approx(2 / 3)


def test_a_failed_coupon_holds_back_to_the_last_pass_of_the_same_three():
    log = [
        joint("A1"), joint("A2"), joint("A3", operator="B. Cole"), joint("A4"), joint("A5"),
        joint("A6"),
    ]  # fmt: skip
    results = [
        Coupon(coupon="C1", joint_no="A1", kind="bend", date=DAY, result="pass"),
        Coupon(coupon="C2", joint_no="A4", kind="bend", date=DAY, result="fail"),
    ]
    assert set(held_by_coupons(log, results)) == {"A2", "A4", "A5", "A6"}
    later = Coupon(coupon="C3", joint_no="A5", kind="bend", date=DAY, result="pass")
    assert set(held_by_coupons(log, [*results, later])) == {"A2", "A4"}
    verdicts = {entry.joint.joint_no: entry.verdict for entry in judge_log(log, results).joints}
    assert (verdicts["A1"], verdicts["A3"], verdicts["A4"]) == ("accepted", "accepted", "hold")


def test_an_operator_without_a_valid_card_is_on_hold():
    log = [joint("A1"), joint("A2", operator="B. Cole"), joint("A3", date=dt.date(2027, 11, 1))]
    judged = judge_log(log, qualified_until={"A. Reyes": dt.date(2027, 10, 31)})
    assert [entry.verdict for entry in judged.joints] == ["accepted", "hold", "hold"]
    assert judged.joints[1].reasons == ("no valid card of B. Cole",)


def test_coupons_hold_in_the_order_made_not_in_that_of_the_rows():
    log = [
        joint("A1", heat_start_min=600.0, heater_out_min=606.0, closed_min=606.5,
              cool_end_min=629.0),
        joint("A2"),
        joint("A3", date=DAY + dt.timedelta(days=1)),
    ]  # fmt: skip
    passed = Coupon(coupon="C1", joint_no="A1", kind="bend", date=DAY, result="pass")
    failed = Coupon(coupon="C2", joint_no="A3", kind="bend", date=DAY, result="fail")
    assert set(held_by_coupons(log, [passed, failed])) == {"A3"}


BANDS = (
    CoolingByAir(pipe="24 in DR 11", from_c=-45.0, to_c=15.0, low_s=1000.0, high_s=1000.0),
    CoolingByAir(pipe="24 in DR 11", from_c=15.0, to_c=40.0, low_s=1300.0, high_s=1400.0),
)


@pytest.mark.parametrize(
    ("air", "verdict"),
    [(14.0, "accepted"), (15.0, "accepted"), (30.0, "out of limits"), (41.0, "incomplete"),
     (None, "incomplete")],
)  # fmt: skip
def test_cooling_is_judged_by_the_air_of_the_row(air, verdict):
    """Cooled 1350 s: enough up to 27.5 C, where the second band asks for 1350."""
    row = joint("A1", cool_min_s=None, ambient_c=air)
    assert judge(row, cooling=BANDS).verdict == verdict


def test_a_pipe_whose_trial_fusion_is_not_accepted_is_on_hold():
    trial = joint("T1", kind="trial fusion", visual="reject", cause="cold")
    assert [one.verdict for one in judge_log([trial, joint("A1")]).joints] == ["reject", "hold"]
    good = joint("T2", kind="trial fusion")
    assert judge_log([trial, good, joint("A1")]).joints[2].accepted


def test_trial_fusions_are_counted_apart_at_the_title():
    """The Status sheet leaves them out: both show the same joints."""
    trial, bad = joint("T1", kind="trial fusion"), joint("A2", visual="reject", cause="cold")
    empty = LoggedJoint(joint_no="A3", run_id="R1", kind="stick joint")
    without = "1 of 2 joints made are accepted"
    assert accepted_of(judge_log([joint("A1"), bad, empty])) == without
    assert accepted_of(judge_log([trial, joint("A1"), bad])) == f"{without}, 1 of 1 trial fusion"


def test_causes_count_like_rejects_together():
    log = [joint("A1", closed_min=487.0), joint("A2", closed_min=487.2)]
    assert judge_log(log).causes() == (("open/close", 2),)


def test_a_coupon_is_due_by_number_or_by_date():
    log = tuple(joint(f"A{n}", closed_min=486.5 + n / 100) for n in range(1, 6))
    operator = Operator(operator="A. Reyes", qualified_until=DAY, coupon_every=3)
    records = SiteRecords(joint_log=log, operators=(operator,))
    (due,) = coupons_due(records, "US")
    assert (due.operator, due.machine_no) == ("A. Reyes", "M-7")
    assert due.reason == "5 joints and none yet, one is due each 3"
    passed = Coupon(coupon="C1", joint_no="A3", kind="bend", date=DAY, result="pass")
    assert coupons_due(records.model_copy(update={"coupons": (passed,)}), "US") == ()
    failed = passed.model_copy(update={"result": "fail"})
    assert len(coupons_due(records.model_copy(update={"coupons": (failed,)}), "US")) == 1
    dated = passed.model_copy(update={"next_due": DAY})
    (by_date,) = coupons_due(records.model_copy(update={"coupons": (dated,)}), "US")
    assert by_date.reason == f"due on {DAY:%b} {DAY.day}, {DAY.year} after C1"
    later = passed.model_copy(update={"next_due": DAY + dt.timedelta(days=1)})
    assert coupons_due(records.model_copy(update={"coupons": (later,)}), "US") == ()


def test_a_reason_is_given_for_each_hold():
    """Of the row, or that somebody looked; what holds it from outside goes before."""
    cases = ((None, None), ("offset", None), ("offset", "coupon C1 failed"))
    found = [
        judge(joint("A1", visual="hold", cause=cause), held=held).reasons for cause, held in cases
    ]
    assert found == [("visual check",), ("offset",), ("coupon C1 failed",)]


def test_the_cooling_of_the_row_goes_before_that_of_the_air():
    """Cooled 1350 s; at 30 C the air asks for 1360. One band needs no air; none asks nothing."""
    assert judge(joint("A1", cool_min_s=1300.0, ambient_c=30.0), cooling=BANDS).accepted
    assert judge(joint("A1", cool_min_s=None)).accepted
    assert judge(joint("A1", cool_min_s=None), cooling=BANDS[:1]).accepted


def test_limits_to_their_tolerance():
    """Half a percent of 2.2 MPa is 0.011. A bead a millionth of a millimeter short is whole."""
    for gauge, accepted in ((2.19, True), (2.185, False)):
        assert judge(joint("A1", gauge_set_mpa=gauge)).accepted is accepted
    assert judge(joint("A1", bead_1_mm=9.0 - 1e-6)).accepted
    (reason,) = judge(joint("A1", heater_out_min=480.0, closed_min=480.5)).reasons
    assert reason == "heat soak 0:00 under 5:30"


def test_joints_are_counted_by_who_made_them_and_in_order():
    """Who is not entered has a line; the one that was closed last is out of limits."""
    judged = judge_log([joint("A1", operator=None), joint("A2", closed_min=487.0), joint("A3")])
    assert [tally.name for tally in judged.tallies("operator")] == ["not entered", "A. Reyes"]
    assert judged.rejects_in_order == (False, False, True)


def test_cards_are_asked_for_where_there_are_any_and_hold_to_their_last_day():
    log = (joint("A1"), joint("A2", date=DAY + dt.timedelta(1)))
    card = Operator(operator="A. Reyes", qualified_until=DAY)
    for operators, verdicts in (((), ["accepted"] * 2), ((card,), ["accepted", "hold"])):
        judged = judge_records(SiteRecords(joint_log=log, operators=operators))
        assert [one.verdict for one in judged.joints] == verdicts


def test_the_order_made_is_that_of_the_clock():
    """Of one day: without a clock first, closed half a minute after midnight, heated, closed."""
    log = [
        joint("A1", closed_min=500.0, heat_start_min=490.0),
        joint("A2", closed_min=None, heat_start_min=495.0),
        joint("A3", closed_min=None, heat_start_min=None),
        joint("A4", closed_min=0.5, heat_start_min=1435.0),
    ]
    assert [one.joint_no for one in in_order_made(log)] == ["A3", "A4", "A2", "A1"]


@each("passed, failed, held", [
    ("", "4", "123456"), ("24", "6", "56"), ("46", "2", "123"), ("4", "4", "123456"),
])  # fmt: skip
def test_a_failed_coupon_holds_from_the_last_pass_to_the_next(passed, failed, held):
    """Six joints in the order made; one that passed and failed is held itself, with all between."""
    log = [joint(str(number), closed_min=486.0 + number / 100) for number in range(1, 7)]
    coupons = [Coupon(coupon=f"{result} {number}", joint_no=number, kind="bend", date=DAY,
                      result=result)
               for numbers, result in ((passed, "pass"), (failed, "fail"))
               for number in numbers]  # fmt: skip
    assert "".join(sorted(held_by_coupons(log, coupons))) == held


def test_coupons_are_due_up_to_the_day_and_the_number_asked():
    """Two joints, one a day: both count on the second day, one on the first, none before."""
    log = (joint("A1"), joint("A2", date=DAY + dt.timedelta(1)))
    operator = Operator(operator="A. Reyes", qualified_until=DAY, coupon_every=2)
    records = SiteRecords(joint_log=log, operators=(operator,))
    found = [len(coupons_due(records, "US", DAY + dt.timedelta(days=n))) for n in (-1, 0, 1)]
    assert found == [0, 0, 1]
    passed = Coupon(coupon="C1", joint_no="A1", kind="bend", date=DAY, result="pass",
                    next_due=DAY + dt.timedelta(1))  # fmt: skip
    (due,) = coupons_due(records.model_copy(update={"coupons": (passed,)}), "US")
    assert due.reason.startswith("due on")


def test_bars_of_causes_stand_beside_their_table_as_high_as_they_need():
    """Bars of an inch each took half a page: two rows a bar now, and three for the axis."""
    workbook, found, _ = frozen()
    causes = ("cold", "misaligned", "dirt", "dirt")
    bad = [joint(f"A{n}", visual="reject", cause=cause) for n, cause in enumerate(causes)]
    context = Context(Study.of(found), workbook.places, {"Log summary": "Log summary"})
    spec = log_sheet(context, judge_log([joint("B1"), *bad]), (), workbook.places)
    first = [row.cells[0].value if row.cells and row.cells[0] else None for row in spec.rows]
    row = first.index("Rejects by cause") + 3
    assert first[row - 1] == "dirt"
    (bars,) = [chart for chart in spec.charts if chart.kind == "bar"]
    assert bars.anchor == (f"C{row}", f"I{row + 9}")
    assert spec.closes_up


def test_tables_of_the_summary_leave_trial_fusions_below_their_total():
    """As in the title: 1 of 2 joints is rejected, 1/2; the trial fusion is accepted, 0/1."""
    workbook, found, _ = frozen()
    log = [joint("T1", kind="trial fusion"), joint("A1"), joint("A2", visual="reject", cause="x")]
    context = Context(Study.of(found), workbook.places, {"Log summary": "Log summary"})
    spec = log_sheet(context, judge_log(log), (), workbook.places)
    rows = [[cell and cell.value for cell in row.cells] for row in spec.rows]
    totals = [row for row in rows if row and row[0] == "Total"]
    assert totals == [["Total", 2, 1, 1, 0, 0, 0, 0.5]] * 3
    below = [rows[rows.index(row) + 1] for row in totals]
    assert below == [["Trial fusions", 1, 1, 0, 0, 0, 0, 0.0]] * 3
    ends = (row.cells[7] for row in spec.rows if len(row.cells) > 7 and row.cells[7])
    shares = [cell.style for cell in ends if isinstance(cell.value, float)]
    assert {STYLES[style].number_format for style in shares} == {'0.0%;-0.0%;"\N{EN DASH}"'}


def test_the_share_of_rejects_is_marked_at_each_group():
    """What was made has marks; average and limits are lines."""
    workbook, found, _ = frozen()
    log = [joint(f"A{n}", visual="pass" if n % 9 else "reject") for n in range(120)]
    context = Context(Study.of(found), workbook.places, {"Log summary": "Log summary"})
    spec = log_sheet(context, judge_log(log), (), workbook.places)
    (lines,) = [chart for chart in spec.charts if chart.kind == "line"]
    assert tuple(lines.marked) == ("Share",)
