"""Progress of a small made-up award, each value worked by hand: claims, changes, overhead.

Run A: 100 m, ten sticks at 10 min and two tie-ins at 50, 40 labor-hours. Run B: 300 m, twenty
sticks at 15 min, 60 labor-hours. On the Monday five sticks and a tie-in of A are made, half of its
200 min, and eight sticks of B, 120 of 300: 0.4 of it. Of 100 labor-hours 20 and 24 are earned.
"""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.display import LUMP_SUM
from estimator.errors import EstimatorError
from estimator.models.baseline import (
    FITTING,
    STICK,
    TIE_IN,
    BaselineItem,
    BaselineRun,
    LumpSum,
    PieceTime,
)
from estimator.models.changes import Change, ClaimTerms
from estimator.models.site_records import DailyRow, LoggedJoint, PassedTest, SiteRecords
from estimator.progress.change_price import ChangePrice
from estimator.progress.claim import ClaimLine, PreviousClaim, claim_of, due_of, key_of
from estimator.progress.earned_value import ScheduleInTime
from estimator.progress.joint_log import (
    JudgedJoint,
    JudgedLog,
    reject_share,
    required_gauge_mpa,
)
from estimator.progress.learning import factor_from_count, factor_from_times
from estimator.progress.made import made_up_to
from tests.jobs import job

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(1)
NOTHING = Decimal(0)


def award_run(run_id, length_m, sticks, stick_min, tie_ins, hours):
    return BaselineRun(
        run_id=run_id, bid_item="Pipe", pipe="P", band="S", length_m=length_m,
        pieces={STICK: sticks, TIE_IN: tie_ins},
        times={STICK: PieceTime(stick_min - 4.0, 4.0), TIE_IN: PieceTime(30.0, 20.0),
               FITTING: PieceTime(9.0, 9.0)},
        labor_hours=hours, labor=NOTHING, equipment=NOTHING, other=NOTHING, price=NOTHING,
    )  # fmt: skip


def item(rule, quantity, unit_price, unit=LUMP_SUM, runs=()):
    return BaselineItem(number="1", description=rule, unit=unit, quantity=quantity,
                        unit_price=Decimal(unit_price), rule=rule, runs=runs)  # fmt: skip


RUNS = (award_run("A", 100.0, 10, 10.0, 2, 40.0), award_run("B", 300.0, 20, 15.0, 0, 60.0))
ITEMS = (
    item("start", 1.0, 10_000), item("length", 400.0, 25, "m", ("A", "B")),
    item("tie-ins", 2.0, 500, "each"), item("tests", 1.0, 4_000), item("finish", 1.0, 3_000),
    item("work", 1.0, 2_000),
)  # fmt: skip
TESTS = tuple(LumpSum(name, "test", MONDAY, MONDAY, Decimal(cost))
              for name, cost in (("T1", 300), ("T2", 100)))  # fmt: skip
PASSED = (PassedTest(section="t1", date=MONDAY), PassedTest(section="T2", date=MONDAY + DAY))


def award(runs=RUNS, items=ITEMS, tests=TESTS):
    overhead = LumpSum("Office", "time", MONDAY, MONDAY, Decimal(5_000))
    return SimpleNamespace(
        head=SimpleNamespace(changes=(), system="SI"), runs=runs, items=items,
        by_run={run.run_id: run for run in runs}, lump_sums=(*tests, overhead),
        labor_hours=sum(run.labor_hours for run in runs),
        joints=sum(sum(run.pieces.values()) for run in runs),
    )  # fmt: skip


def day(run_id, sticks, tie_ins=None, date=MONDAY):
    return DailyRow(date=date, crew=1, run_id=run_id, people=4.0, paid_hours=40.0,
                    stick_joints=sticks, tie_in_joints=tie_ins)  # fmt: skip


HALF = (day("A", 5, 1), day("B", 8))
ALL = (day("A", 10, 2), day("B", 25))


def claimed(rows, baseline=None, *, terms=None, changes=(), previous=None, tests=PASSED):
    records = SiteRecords(daily_record=rows, tests_passed=tests)
    made = made_up_to(records, MONDAY)
    terms = terms or ClaimTerms(retention=0.0)
    return claim_of(baseline or award(), made, changes, terms, previous)


def quantities(claim):
    return {line.description: line.to_date for line in claim.items}


def change(status="agreed", **values):
    return Change(number="7", date=MONDAY, what="Crossing", status=status, **values)


def test_each_item_is_claimed_by_its_rule():
    """Pipe: half of 100 m and 0.4 of 300. Tests: 300 of 400. Mobilization: 0.6 until half of the
    32 butt joints are accepted (14 are), or all of it with the first work."""
    found = quantities(claimed(HALF, terms=ClaimTerms(retention=0.0, mobilized=0.6)))
    assert found == {
        "start": 0.6, "length": 170.0, "tie-ins": 1.0, "tests": 0.75, "finish": 0.0, "work": 0.44,
    }  # fmt: skip
    assert quantities(claimed(HALF))["start"] == 1.0
    at_half = claimed(
        (day("A", 5, 1), day("B", 10)), terms=ClaimTerms(retention=0.0, mobilized=0.6)
    )
    assert quantities(at_half)["start"] == 1.0


def test_nothing_is_claimed_before_the_first_work_and_all_after_the_last():
    """Of B five more are made than it has: they count no further."""
    assert set(quantities(claimed((), tests=())).values()) == {0.0}
    passed = tuple(PassedTest(section=name, date=MONDAY) for name in ("T1", "T2"))
    done = claimed(ALL, tests=passed)
    assert quantities(done) == {one.rule: one.quantity for one in ITEMS}
    assert done.total == done.contract == 10_000 + 10_000 + 1_000 + 4_000 + 3_000 + 2_000


def test_more_joints_than_a_run_has_do_not_make_up_for_another():
    """B is whole, A half: 50 and 300 of 400 m, and 80 of 100 hours; the job is not finished."""
    found = quantities(claimed((day("A", 5, 1), day("B", 30))))
    assert (found["length"], found["work"], found["finish"]) == (350.0, 0.8, 0.0)


def test_a_piece_that_a_run_does_not_have_earns_nothing():
    made = DailyRow(date=MONDAY, crew=1, run_id="B", people=4.0, paid_hours=40.0,
                    stick_joints=8, fitting_joints=3)  # fmt: skip
    assert quantities(claimed((day("A", 5, 1), made)))["length"] == 170.0


def test_without_time_gone_by_there_is_no_pace_to_go_on_at():
    found = [
        ScheduleInTime(*times, 20.0).duration for times in ((5.0, 0.0), (0.0, 5.0), (5.0, 8.0))
    ]
    assert found == [None, None, 32.0]


def test_a_claim_adds_up_to_what_is_due():
    """6,000, 4,250, 500, 3,000 and 880, with half of a change of 1,000: 15,130. A tenth of it kept
    and 50 of that released: 13,667, of which 10,000 was due before. Mobilization was 5,000 then."""
    before = PreviousClaim(3, MONDAY - DAY, {key_of("1", "start"): 0.5, "C7 Crossing": 0.25},
                           Decimal(10_000))  # fmt: skip
    claim = claimed(
        HALF, terms=ClaimTerms(retention=0.1, released=50.0, mobilized=0.6), previous=before,
        changes=(change(price_agreed=1_000.0, done=0.5), change("raised", price_agreed=9.0)),
    )  # fmt: skip
    assert (claim.number, claim.total, claim.contract) == (4, 15_130, 31_000)
    assert (claim.retained, claim.due_to_date, claim.due) == (1_513, 13_667, 3_667)
    assert [claim.items[0].amount, claim.changes[0].amount] == [1_000, 250]
    assert [line.contract for line in claim.changes] == [1.0]
    assert claim.items[1].previous == 0.0
    with pytest.raises(EstimatorError, match=r"Claim 3 of .* is made"):
        claimed(HALF, previous=PreviousClaim(3, MONDAY, {}, Decimal(0)))


def test_a_first_claim_and_a_change_of_which_nothing_is_said():
    """No price and nothing done: 0; the first claim is number 1, nothing is kept or was due."""
    claim = claimed(HALF, changes=(change(),))
    (line,) = claim.changes
    assert (line.to_date, line.unit_price, line.previous) == (0.0, 0, 0.0)
    assert (claim.number, claim.due_before, claim.released) == (1, 0, 0)


def test_no_more_is_released_than_was_kept():
    """Of 1,000 a tenth is kept; 40, all, and no more than all of it comes back."""
    for released, due in ((0, 900), (40, 940), (100, 1000), (400, 1000)):
        assert due_of(Decimal(1000), 0.1, Decimal(released)) == due


def test_what_has_nothing_to_wait_for_is_claimed_whole():
    """No tie-ins, no tests and no labor-hours; a run without pieces is done."""
    runs = award_run("A", 100.0, 0, 10.0, 0, 0.0), award_run("B", 300.0, 20, 15.0, 0, 0.0)
    assert quantities(claimed(HALF, award(runs, tests=()))) == {
        "start": 1.0, "length": 220.0, "tie-ins": 2.0, "tests": 1.0, "finish": 0.0, "work": 1.0,
    }  # fmt: skip


def test_quantities_of_a_claim_are_rounded_and_never_beyond_the_contract():
    """A third of a lump sum to 0.0001, of 100 m to 0.1; 0.96 m do not round up to 1.0."""
    thirds = (award_run("A", 100.0, 3, 10.0, 0, 30.0),)
    items = (item("work", 1.0, 900), item("length", 100.0, 9, "m", ("A",)))
    assert quantities(claimed((day("A", 1),), award(thirds, items))) == {
        "work": 0.3333, "length": 33.3,
    }  # fmt: skip
    many = (award_run("A", 0.96, 1000, 10.0, 0, 30.0),)
    (found,) = claimed((day("A", 999),), award(many, (item("length", 0.96, 9, "m", ("A",)),))).items
    assert found.to_date == 0.96


def test_an_amount_is_of_what_was_added_each_to_the_cent():
    """10.5 m at 1.15 are 12.075: 12.08; 10.4 m are 11.96: 0.12 more."""
    line = ClaimLine("1", "Pipe", "m", 20.0, 10.5, 10.4, Decimal("1.15"))
    assert (line.amount_to_date, line.amount) == (Decimal("12.08"), Decimal("0.12"))


def test_a_change_costs_the_difference_and_moves_the_finish_by_working_days():
    """From 1,000 to 1,250.50, and from a Friday to the Tuesday after: Monday and Tuesday."""
    friday = MONDAY + 4 * DAY
    plain, longer = (
        SimpleNamespace(job=job(), bid=SimpleNamespace(price=Decimal(price)), finish=finish)
        for price, finish in (("1000.00", friday), ("1250.50", friday + 4 * DAY))
    )
    found = ChangePrice(plain, longer)
    assert (found.price, found.days) == (Decimal("250.50"), 2)
    assert ChangePrice(plain, plain).days == 0


@pytest.mark.parametrize(("days", "planned"), [(-1, 0), (0, 100), (1, 200), (2, 300), (9, 300)])
def test_overhead_is_planned_by_the_days_gone_by(days, planned):
    """300 over three days; a lump sum of another rule on its last day."""
    values = MONDAY, MONDAY + 2 * DAY, Decimal(300)
    date = MONDAY + days * DAY
    assert LumpSum("Office", "time", *values).planned(date) == planned
    assert LumpSum("T1", "test", *values).planned(date) == (300 if days >= 2 else 0)


# What the joint log and the pace of the crew say


def test_rejects_are_cut_out_for_what_is_seen_or_measured():
    """Two rejected and one out of limits, of twelve."""
    assert reject_share(2, 1, 12) == 0.25


def test_the_gauge_must_read_base_and_drag():
    """2.0 and 0.5 MPa; unknown while either is missing."""
    for base, drag, gauge in ((2.0, 0.5, 2.5), (None, 0.5, None), (2.0, None, None)):
        joint = LoggedJoint(joint_no="1", run_id="A", kind="stick", base_gauge_mpa=base,
                            drag_mpa=drag)  # fmt: skip
        assert required_gauge_mpa(joint) == gauge


def test_the_most_frequent_cause_comes_first_and_like_ones_by_name():
    log = JudgedLog(tuple(
        JudgedJoint(LoggedJoint(joint_no=str(number), run_id="A", kind="stick"), None, "reject",
                    (), cause)
        for number, cause in enumerate(("bead", "soak", "soak", "align"))
    ))  # fmt: skip
    assert log.causes() == (("soak", 2), ("align", 1), ("bead", 1))
    assert log.rejects_in_order == ()


def test_the_pace_of_a_shift_is_its_time_over_the_planned():
    """90 min less 30 of the machine over 40: 1.5. Without a minute of either there is none."""
    assert factor_from_times(90.0, 30.0, 40.0) == 1.5
    assert factor_from_times(30.5, 30.0, 0.5) == 1.0
    for worked, planned in ((30.0, 40.0), (90.0, 0.0)):
        with pytest.raises(ValueError, match="says nothing about the pace"):
            factor_from_times(worked, 30.0, planned)


def test_the_pace_of_a_count_takes_half_a_joint_more():
    """100 min for 1.5 joints at the most, less 60 of the machine: 6.67 min over 10 each."""
    assert factor_from_count(100.0, 1, 60.0, 10.0) == pytest.approx(2 / 3)
    assert factor_from_count(90.9, 1, 60.0, 0.5) == pytest.approx(1.2)
    assert factor_from_count(90.0, 1, 60.0, 10.0) is None
    assert factor_from_count(100.0, 1, 60.0, 0.0) is None
