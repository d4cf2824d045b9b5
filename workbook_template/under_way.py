"""The example job with a life: a baseline, and four weeks of site records that are invented.

A rainy week, rejects and one that is cut out and made again, a coupon that failed and holds joints,
a joint on hold, a day on which others held the job up. The job is that of an example; what happened
is worked out here by a small simulation of its own, always the same.
"""

import datetime as dt
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from estimator import api
from estimator.after_award import CHANGE_ORDERS
from estimator.display import unit_of
from estimator.joint.cooling_by_air import least_cooling_s
from estimator.models.baseline import FITTING, STICK, TIE_IN, Baseline
from estimator.models.changes import Change, ClaimTerms
from estimator.models.estimate import Estimate
from estimator.models.kinds import CONNECTIONS
from estimator.models.site_records import (
    ActualCost,
    Coupon,
    DailyRow,
    LoggedJoint,
    LostTime,
    OnRent,
    Operator,
    SiteRecords,
)
from estimator.pipeline import estimate
from estimator.progress.baseline import baseline_of
from estimator.progress.site_plan import site_plan
from estimator.units import from_si, to_si
from estimator.workbook.book import parse_workbook, with_baseline
from workbook_template.builder import build_template, example_system

NAME, OF = "under_way", "raw_water_main"
LAST = dt.date(2027, 3, 26)
RAIN = frozenset(dt.date(2027, 3, day) for day in (9, 10, 11))
HELD_UP = dt.date(2027, 3, 18)
SEED, PACE, SPREAD = 14, 1.12, 0.12
STARTS_MIN, LEARNING, OTHERS_MIN = 7 * 60 + 45.0, 0.35, 240.0
DRAG_MPA, AIR_C = 0.31, (6.0, 14.0)
READ_TO = {"temperature": 0, "pressure": 0, "small_length": 2}
"""Decimals to which a figure is read off on site, in US units."""
REJECTS = {11: "misalignment", 30: "bead uneven", 52: "dirt on the face"}
"""Causes of rejects by the number of the joint in the order made; the first is made again."""
ON_HOLD, TESTED = 45, {16: "pass", 31: "pass", 34: "fail", 37: "pass"}
PEOPLE_NOTES = {
    "R01": "first days, tight piping",
    "R02": "rain, water in the trench",
    "R03": "moves along the ridge",
}
COST_SHARE = {"Equipment": 1.04, "Fuel": 1.10, "Consumables": 1.0, "Pipe": 1.0, "Per diem": 1.0}
WAGE_CHANGE = 1.02
CHANGES = (
    Change(
        number="1",
        date=dt.date(2027, 3, 16),
        kind="quantity",
        runs="R08",
        what="Longer reach to vault VV-2",
        status="priced",
        days_asked=4,
        price_asked=14200.0,
    ),
)
CONNECTION_KEYS = frozenset(kind.key for kind in CONNECTIONS)
KINDS = {STICK: "stick", FITTING: "fitting", TIE_IN: "tie-in"}


def build() -> bytes:
    """Return the workbook of the example under way."""
    workbook = parse_workbook(build_template(example_system(OF), OF))
    estimated = estimate(workbook.job, workbook.places)
    baseline = baseline_of(estimated)
    with_sheet = parse_workbook(with_baseline(workbook, estimated, baseline))
    made = records(estimated, baseline)
    with_records = parse_workbook(api.add_site_records(with_sheet, made))
    return api.add_site_records(with_records, made, CHANGE_ORDERS)


def records(estimate: Estimate, baseline: Baseline) -> SiteRecords:
    """Return what was written down on site up to the last day of the example."""
    plan = site_plan(estimate)
    site = _Site(estimate, baseline, plan)
    site.work()
    log = {**{joint.joint_no: joint for joint in plan.joint_log}, **site.made}
    return plan.model_copy(
        update={
            "joint_log": tuple(log.values()),
            "coupons": tuple(site.coupons),
            "operators": (
                Operator(operator="Operator 1", qualified_until=dt.date(2028, 1, 31)),
                Operator(operator="Operator 2", qualified_until=dt.date(2027, 4, 1)),
            ),
            "daily_record": tuple(site.daily),
            "lost_time": tuple(site.lost),
            "changes": CHANGES,
            "claim_terms": (ClaimTerms(retention=0.05, mobilized=0.6),),
            "actual_cost": tuple(_costs(estimate, baseline, site.daily)),
            "on_rent": tuple(
                OnRent(
                    class_id=span.class_id,
                    quantity=span.quantity,
                    on_rent=span.on_rent,
                    off_rent=span.off_rent if span.off_rent <= LAST else None,
                )
                for span in estimate.fleet.spans
                if span.on_rent <= LAST
            ),
        }
    )


def read_off(value: float, kind: str) -> float:
    """Return an SI value as it is read off and written down, in the units of the example."""
    unit = unit_of(kind, example_system(OF))
    return to_si(round(from_si(value, unit), READ_TO[kind]), unit)


@dataclass
class _Site:
    """The crew at work, day by day."""

    estimate: Estimate
    baseline: Baseline
    plan: SiteRecords
    made: dict[str, LoggedJoint] = field(default_factory=dict)
    daily: list[DailyRow] = field(default_factory=list)
    lost: list[LostTime] = field(default_factory=list)
    coupons: list[Coupon] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.random = random.Random(SEED)
        self.free: dict[tuple[str, str], list[LoggedJoint]] = defaultdict(list)
        for joint in self.plan.joint_log:
            self.free[joint.run_id, joint.kind].append(joint)
        self.pieces = [
            (day.run_id, kind)
            for day in self.baseline.days
            for kind, number in day.pieces.items()
            for _ in range(number)
        ]
        self.sized = {run.run_id: run for run in self.estimate.runs}
        self.again: LoggedJoint | None = None

    def work(self) -> None:
        shift = self.estimate.job.shift
        date = self.baseline.head.start
        while date <= LAST:
            if date.weekday() < 5:
                if date in RAIN:
                    self._rain(date, shift.weather_paid_hours)
                else:
                    self._day(date, shift.working_min)
            date += dt.timedelta(1)

    @property
    def people(self) -> float:
        band = self.sized[self.pieces[0][0]].cycle.band
        return sum(role.heads(band) for role in self.estimate.job.crew)

    def _rain(self, date: dt.date, paid: float) -> None:
        run_id = self.pieces[0][0]
        self.lost.append(
            LostTime(date=date, crew=1, minutes=60 * self.estimate.job.shift.shift_hours,
                     cause="weather", note="heavy rain")
        )  # fmt: skip
        self.daily.append(
            DailyRow(date=date, crew=1, run_id=run_id, people=self.people,
                     paid_hours=paid * self.people, foreman="Foreman 1", note="rain")
        )  # fmt: skip

    def _day(self, date: dt.date, minutes: float) -> None:
        factor = PACE * self.random.lognormvariate(0.0, SPREAD)
        begun = (date - self.baseline.head.start).days
        factor *= 1 + LEARNING / (1 + begun)
        if date == HELD_UP:
            minutes -= OTHERS_MIN
            self.lost.append(
                LostTime(date=date, crew=1, minutes=OTHERS_MIN, cause="hold by others",
                         charge_to="client", note="other contractor in the trench")
            )  # fmt: skip
        clock = 0.0
        spent: dict[str, float] = defaultdict(float)
        done: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        for run_id, kind in self._next_pieces():
            taken = self._make(date, (run_id, kind), factor, STARTS_MIN + clock)
            clock += taken
            spent[run_id] += taken
            if kind in CONNECTION_KEYS:
                done[run_id][kind] += 1
            if clock + self._needs(factor) > minutes:
                break
        self._write_day(date, spent, done)

    def _next_pieces(self) -> Iterator[tuple[str, str]]:
        """Yield pieces in the planned order, the trial fusion of a new run first."""
        while self.pieces:
            run_id, kind = self.pieces[0]
            if self._trial_of(run_id):
                yield run_id, "trial fusion"
            elif self.again is not None and self.again.run_id == run_id and kind == STICK:
                yield run_id, "rework"
            else:
                self.pieces.pop(0)
                yield run_id, kind

    def _needs(self, factor: float) -> float:
        if not self.pieces:
            return 0.0
        run_id, kind = self.pieces[0]
        time = self.baseline.by_run[run_id].times[kind]
        return time.crew_min * factor + time.machine_min

    def _trial_of(self, run_id: str) -> bool:
        return any(joint.joint_no not in self.made for joint in self.free[run_id, "trial fusion"])

    def _make(self, date: dt.date, what: tuple[str, str], factor: float, start: float) -> float:
        """Make one piece and return its minutes."""
        run_id, kind = what
        times = self.baseline.by_run[run_id].times
        time = times.get(kind, times[STICK])
        crew_min = time.crew_min * factor * self.random.lognormvariate(0.0, 0.08)
        if kind in CONNECTION_KEYS:
            return crew_min
        word = KINDS.get(kind, kind)
        row = next(j for j in self.free[run_id, word] if j.joint_no not in self.made)
        return crew_min + self._log(row, date, start + crew_min) / 60

    def _log(self, row: LoggedJoint, date: dt.date, begins: float) -> float:
        """Fill in a row of the log and return the seconds from heat start to cool end."""
        number = len(self.made)
        air = read_off(self.random.uniform(*AIR_C), "temperature")
        bands = [band for band in self.plan.cooling_by_air if band.pipe == row.pipe]
        cool = (least_cooling_s(bands, air) or 0.0) + self.random.randint(5, 40)
        soak = float(int(row.soak_min_s or 0.0) + self.random.randint(2, 15))
        opened = 0.6 * (row.open_close_max_s or 10.0)
        cause = REJECTS.get(number)
        drag = read_off(DRAG_MPA + 0.01 * self.random.randint(0, 6), "pressure")
        out = begins + soak / 60
        closed = out + opened / 60
        limit = row.misalignment_max_mm or 1.0
        bad = cause == "misalignment"
        joint = row.model_copy(
            update={
                "date": date, "crew": 1, "machine_no": "M5-1",
                "operator": f"Operator {1 + number // 20 % 2}",
                "ambient_c": air, "cover": date.day % 7 == 5,
                "batch_1": "A-117", "batch_2": "A-117",
                "heater_1_c": read_off(218.0, "temperature"),
                "heater_2_c": read_off(217.0, "temperature"),
                "drag_mpa": drag,
                "gauge_set_mpa": None
                if row.base_gauge_mpa is None
                else read_off(row.base_gauge_mpa + drag + 0.02, "pressure"),
                "heat_start_min": begins, "heater_out_min": out, "closed_min": closed,
                "cool_end_min": closed + cool / 60,
                "bead_1_mm": read_off((row.bead_min_mm or 0.0) + 1.5, "small_length"),
                "bead_2_mm": read_off((row.bead_min_mm or 0.0) + 2.0, "small_length"),
                "misalignment_mm": read_off(limit * (1.2 if bad else 0.4), "small_length"),
                "visual": "reject" if cause else "hold" if number == ON_HOLD else "pass",
                "cause": cause or ("bead to be looked at" if number == ON_HOLD else None),
                "inspector": "Inspector 1",
            }
        )  # fmt: skip
        self.made[row.joint_no] = joint
        if row.kind == "rework" and self.again is not None:
            first = self.again
            self.made[first.joint_no] = first.model_copy(update={"rework_as": row.joint_no})
            self.again = None
        elif cause is not None and number == min(REJECTS):
            self.again = joint
        if number in TESTED:
            self._test(joint, number)
        return soak + opened + cool

    def _test(self, joint: LoggedJoint, number: int) -> None:
        tested = (joint.date or LAST) + dt.timedelta(2)
        self.coupons.append(
            Coupon(coupon=f"C-{len(self.coupons) + 1:02d}", joint_no=joint.joint_no, kind="bend",
                   date=tested, result="pass" if TESTED[number] == "pass" else "fail",
                   laboratory="Laboratory 1",
                   failure="ductile" if TESTED[number] == "pass" else "brittle",
                   next_due=dt.date(2027, 4, 1))
        )  # fmt: skip

    def _write_day(
        self, date: dt.date, spent: dict[str, float], done: dict[str, dict[str, Any]]
    ) -> None:
        total = sum(spent.values())
        paid = self.estimate.job.shift.shift_hours * self.people
        for run_id, minutes in spent.items():
            self.daily.append(
                DailyRow(date=date, crew=1, run_id=run_id, people=self.people,
                         paid_hours=round(paid * minutes / total, 2), foreman="Foreman 1",
                         note=PEOPLE_NOTES.get(run_id), **done[run_id])
            )  # fmt: skip


def _costs(
    estimate: Estimate, baseline: Baseline, daily: Sequence[DailyRow]
) -> Iterator[ActualCost]:
    """Yield what was paid by the end of each week, by cost type."""
    start = baseline.head.start
    amounts = {
        kind: sum(float(x.amount) for x in estimate.cost_lines if x.cost_type == kind)
        for kind in (*COST_SHARE, "Jobsite overhead")
    }
    yield ActualCost(date=start, cost_type="Mobilization", amount=12500.0, document="M-01")
    before = 0.0
    for week in range(1, 5):
        end = start + dt.timedelta(7 * week - 3)
        hours = [r.paid_hours for r in daily if end - dt.timedelta(5) < r.date <= end]
        yield ActualCost(
            date=end, cost_type="Labor", document=f"W-{week:02d}",
            amount=round(sum(hours) * baseline.labor_rate * WAGE_CHANGE, 2),
        )  # fmt: skip
        share = baseline.planned_hours(end) / baseline.labor_hours
        for kind, change in COST_SHARE.items():
            amount = round(amounts[kind] * (share - before) * change, 2)
            if amount:
                yield ActualCost(
                    date=end, cost_type=kind, amount=amount, document=f"{kind[:1]}-{week:02d}"
                )
        before = share
        days = len({r.date for r in daily if end - dt.timedelta(5) < r.date <= end})
        rate = amounts["Jobsite overhead"] / max(1, len({d.date for d in estimate.plan.crew_days}))
        yield ActualCost(
            date=end, cost_type="Jobsite overhead", amount=round(rate * days, 2),
            document=f"O-{week:02d}",
        )  # fmt: skip
