"""Jobs at random from award to close-out: runs make the job, variances and claims add up."""

import functools
import random
from decimal import Decimal

import pytest

from estimator.errors import InputError
from estimator.models.changes import Change, ClaimTerms
from estimator.models.site_records import ActualCost, LostTime, PassedTest, SiteRecords
from estimator.pipeline import estimate
from estimator.progress.baseline import baseline_of
from estimator.progress.claim import claim_of
from estimator.progress.made import made_up_to
from estimator.progress.status import status_of
from estimator.workbook.book import baseline_in, parse_workbook, with_baseline
from tests.each import each
from tests.random_jobs import random_workbook
from tests.test_status import as_planned

SEEDS = range(1000, 1016)
JOBS = 8


@functools.cache
def awarded():
    """Return the first jobs that can be done, each with its workbook and its baseline."""
    found = []
    for seed in SEEDS:
        try:
            workbook = parse_workbook(random_workbook(seed))
            made = estimate(workbook.job, workbook.places)
        except InputError:
            continue
        found.append((workbook, made, baseline_of(made)))
        if len(found) == JOBS:
            break
    assert len(found) == JOBS
    return found


def records_of(baseline, date, draw):
    """Return records up to a date: counts as planned, hours, rain and costs at random."""
    rows = as_planned(baseline, date, lambda day: day.labor_hours * draw.uniform(0.5, 1.8))
    hours = sum(row.paid_hours for row in rows)
    rain = (
        LostTime(date=row.date, crew=row.crew, minutes=draw.randint(10, 300), cause="weather")
        for row in draw.sample(rows, min(3, len(rows)))
    )
    costs = (
        ActualCost(date=date, cost_type=kind, amount=round(draw.uniform(1e3, 1e5), 2))
        for kind in ("Labor", "Equipment", "Materials")
    )
    return SiteRecords(daily_record=rows, lost_time=tuple(rain), actual_cost=tuple(costs)), hours


@pytest.mark.slow
@each("number", range(JOBS))
def test_runs_make_the_job_and_variances_add_up(number):
    _, found, baseline = awarded()[number]
    draw = random.Random(number)
    assert sum(run.labor_hours for run in baseline.runs) == pytest.approx(baseline.labor_hours)
    runs = sum((run.cost for run in baseline.runs), Decimal(0))
    assert runs + sum(one.cost for one in baseline.lump_sums) == found.bid.job_cost
    date = baseline.days[draw.randrange(len(baseline.days))].date
    records, hours = records_of(baseline, date, draw)
    status = status_of(found.job, baseline, made_up_to(records, date))
    for name in ("planned_hours", "earned_hours", "actual_hours"):
        whole = getattr(status.hours, name.removesuffix("_hours"))
        assert sum(getattr(run, name) for run in status.runs) == pytest.approx(whole), name
    assert status.hours.actual == pytest.approx(hours)
    parts = status.variance
    paid = next(x.amount for x in records.actual_cost if x.cost_type == "Labor")
    actual_less_planned = paid - baseline.planned_hours(date) * baseline.labor_rate
    assert parts.total == pytest.approx(actual_less_planned, abs=0.011)
    assert round(parts.rate + parts.pace + parts.quantity + parts.weather, 2) == pytest.approx(
        parts.total, abs=1e-6
    )
    money = status.money
    assert money.actual == pytest.approx(sum(line.amount for line in records.actual_cost))
    assert money.cost_variance == pytest.approx(money.earned - money.actual)
    assert money.schedule_variance == pytest.approx(money.earned - money.planned)
    ratio = money.budget / money.cost_index
    assert money.eac_at_present_cost == pytest.approx(ratio)


LEFT_OUT = (("lost_time",), ("actual_cost",), ("lost_time", "actual_cost"))


# Without costs an hour costs the planned rate: none by rate. Without lost time: none by weather.
@pytest.mark.slow
@each("number", range(JOBS))
def test_variances_add_up_where_a_table_is_not_kept(number):
    _, found, baseline = awarded()[number]
    draw = random.Random(number)
    date = baseline.days[draw.randrange(len(baseline.days))].date
    records, hours = records_of(baseline, date, draw)
    planned = baseline.planned_hours(date) * baseline.labor_rate
    paid = next(x.amount for x in records.actual_cost if x.cost_type == "Labor")
    for left_out in LEFT_OUT:
        kept = records.model_copy(update=dict.fromkeys(left_out, ()))
        status = status_of(found.job, baseline, made_up_to(kept, date))
        parts = status.variance
        actual = hours * baseline.labor_rate if "actual_cost" in left_out else paid
        assert parts.total == pytest.approx(actual - planned, abs=0.011)
        assert round(parts.rate + parts.pace + parts.quantity + parts.weather, 2) == pytest.approx(
            parts.total, abs=1e-6
        )
        assert parts.weather == 0 or "lost_time" not in left_out
        assert parts.rate == pytest.approx(0, abs=0.011) or "actual_cost" not in left_out
        assert sum(run.earned_hours for run in status.runs) == pytest.approx(status.hours.earned)


@pytest.mark.slow
@each("number", range(JOBS))
def test_a_claim_of_all_of_a_random_job_is_its_contract_and_agreed_changes(number):
    _, found, baseline = awarded()[number]
    draw = random.Random(number)
    end = baseline.head.finish
    sections = {run.test_section for run in found.job.runs if run.test_section}
    whole = SiteRecords(
        daily_record=as_planned(baseline, end),
        tests_passed=tuple(PassedTest(section=one, date=end) for one in sections),
    )
    changes = [
        Change(number=f"{n}", date=end, what="x", done=1.0,
               status=draw.choice(["agreed", "raised", "refused"]),
               price_agreed=round(draw.uniform(-1e4, 1e5), 2))
        for n in range(4)
    ]  # fmt: skip
    agreed = sum(Decimal(f"{x.price_agreed:.2f}") for x in changes if x.status == "agreed")
    terms = ClaimTerms(retention=0.05)
    claim = claim_of(baseline, made_up_to(whole, end), changes, terms, None)
    assert claim.total == claim.contract == found.bid.price + agreed


@pytest.mark.slow
@each("number", range(0, JOBS, 3))
def test_the_sheet_of_a_random_job_gives_its_baseline_back(number):
    workbook, found, baseline = awarded()[number]
    assert baseline_in(parse_workbook(with_baseline(workbook, found, baseline))) == baseline
