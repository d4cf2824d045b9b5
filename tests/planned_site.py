"""Site records of a job on which all went as planned, shift by shift, rain as in the plan."""

import datetime as dt

from estimator.models.baseline import FITTING, STICK, TIE_IN
from estimator.models.kinds import CONNECTIONS
from estimator.models.site_records import ActualCost, DailyRow, LostTime, PassedTest, SiteRecords

COUNT_OF = {STICK: "stick_joints", FITTING: "fitting_joints", TIE_IN: "tie_in_joints"} | {
    kind.key: kind.key for kind in CONNECTIONS
}


def site_as_planned(found, baseline, until):
    """Return the records up to a date: hours and people of the plan, counts of the baseline."""
    pieces = {(day.date, day.crew, day.run_id): day for day in baseline.days}
    moves = {(x.date, x.crew, x.run_id): len(x.moves) for x in found.plan.lines}
    daily, lost = [], []
    for paid in found.plan.crew_days:
        if paid.date > until:
            continue
        people, total = sum(paid.heads), paid.all_minutes
        if paid.kind == "weather":
            minutes = found.job.shift.shift_hours * 60
            lost.append(LostTime(date=paid.date, crew=paid.crew, minutes=minutes, cause="weather"))
        for run_id, minutes in paid.run_minutes:
            day = pieces.get((paid.date, paid.crew, run_id)) if paid.kind == "work" else None
            counts = {} if day is None else {COUNT_OF[k]: n for k, n in day.pieces.items()}
            share = minutes / total if total else 1 / len(paid.run_minutes)
            daily.append(
                DailyRow(
                    date=paid.date, crew=paid.crew, run_id=run_id, people=people,
                    paid_hours=max(0.01, paid.labor_hours * share),
                    rework_joints=day.rework if day else None,
                    test_joints=day.trial_fusions if day else None,
                    moves=moves.get((paid.date, paid.crew, run_id), 0) if day else None,
                    **counts,
                )
            )  # fmt: skip
    spent = float(baseline.planned_cost(until))
    return SiteRecords(
        daily_record=tuple(daily),
        lost_time=tuple(lost),
        actual_cost=(ActualCost(date=until, cost_type="Labor", amount=spent),),
        tests_passed=tuple(
            PassedTest(section=one.name, date=until)
            for one in baseline.lump_sums
            if one.rule == "test" and one.last <= until
        ),
    )


def day_at(baseline, part):
    """Return the date on which a part of the days of a baseline is over."""
    days = baseline.days
    date: dt.date = days[min(len(days) - 1, int(part * len(days)))].date
    return date
