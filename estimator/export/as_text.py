"""The few lines that the command prints after an estimate."""

from estimator.display import counted, money_text, show_day
from estimator.models.assumptions import AssumptionTable, NoAssumptions
from estimator.models.estimate import Estimate
from estimator.models.study import Study
from estimator.optimize import sentences

WARNINGS_SHOWN = ASSUMPTIONS_SHOWN = 5


def summarize(estimate: Estimate, path: str) -> str:
    """Return joints, labor-hours and crew-hours, finish date, bid price and where the file is."""
    plan, system = estimate.plan, estimate.job.cover.unit_system
    rework = sum(run.counts.rework_joints for run in estimate.runs)
    tests = sum(line.test_joints for line in plan.lines)
    other = sum(run.counts.other_joints for run in estimate.runs)
    lines = [
        f"Job          {estimate.job.cover.job_name}",
        f"Joints       {estimate.butt_joints:,} butt joints in "
        f"{counted(len(estimate.runs), 'run')}; {counted(rework, 'rework joint')}, "
        f"{counted(tests, 'trial fusion')}, {counted(other, 'other connection')}",
        f"Labor-hours  {estimate.total_labor_hours:,.0f} of all people, "
        f"{estimate.total_crew_hours:,.0f} crew-hours on the clock",
        f"Work         {show_day(plan.start, system)} to {show_day(plan.finish, system)}, "
        f"{counted(plan.work_days, 'day')} worked",
        *_tests(estimate),
        f"Job cost     {money_text(estimate.job.cover.currency, estimate.bid.job_cost, 2)}",
        f"Bid price    {money_text(estimate.job.cover.currency, estimate.bid.price, 2)}",
        f"Workbook     {path}",
    ]
    if estimate.fleet_outcome is not None:
        lines.insert(
            -1,
            f"Machines     {next(sentences(estimate.fleet_outcome, estimate.job.cover))}",
        )
    lines += _assumptions(Study.of(estimate).assumptions)
    if estimate.warnings:
        lines.append(f"Warnings     {len(estimate.warnings)} (all on the Checks sheet):")
        lines += [f"  {warning}" for warning in estimate.warnings[:WARNINGS_SHOWN]]
        if len(estimate.warnings) > WARNINGS_SHOWN:
            lines.append(f"  and {len(estimate.warnings) - WARNINGS_SHOWN} more")
    lines.append(
        "Planning figures only. The makers' instructions, the qualified procedure, the "
        "specification and local code govern."
    )
    return "\n".join(lines) + "\n"


def _assumptions(table: AssumptionTable | NoAssumptions) -> list[str]:
    """Return how many own assumptions are at their defaults, and the heaviest."""
    if isinstance(table, NoAssumptions) or not table.weighed:
        return []
    lines = [
        f"Assumptions  {len(table.assumptions)} still at their defaults (Basis of estimate); those "
        "that move the price most, one at a time:"
    ]
    for one in table.weighed[:ASSUMPTIONS_SHOWN]:
        now = f" {one.value}" if one.value else ""
        lines.append(f"  {one.where}: {one.name}{now}, {one.move}: {one.change:+,.0f}")
    return lines


def _tests(estimate: Estimate) -> list[str]:
    if not estimate.tests:
        return []
    word = "section" if len(estimate.tests) == 1 else "sections"
    last = max(test.finish for test in estimate.tests)
    finish = show_day(last, estimate.job.cover.unit_system)
    return [f"Hydrotests   {len(estimate.tests)} {word}, through {finish}"]
