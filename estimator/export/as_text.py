"""The few lines that the command prints after an estimate."""

from estimator.models.estimate import Estimate
from estimator.optimize.fleet_told import told

WARNINGS_SHOWN = 5


def summarise(found: Estimate, path: str) -> str:
    """Return joints, crew-hours, finish date, bid price and where the file is."""
    plan = found.plan
    remade = sum(run.counts.remade_joints for run in found.runs)
    tests = sum(line.test_joints for line in plan.lines)
    other = sum(run.counts.other_joints for run in found.runs)
    lines = [
        f"Job          {found.job.cover.job_name}",
        f"Joints       {found.butt_joints:,} butt joints in {len(found.runs)} runs, "
        f"{remade} remade, {tests} test joints, {other} other connections",
        f"Crew-hours   {found.total_crew_hours:,.0f}",
        f"Work         {plan.start:%a %d %b %Y} to {plan.finish:%a %d %b %Y}, "
        f"{plan.work_days} days worked",
        *_tests(found),
        f"Job cost     {found.job.cover.currency} {found.bid.job_cost:,.2f}",
        f"Bid price    {found.job.cover.currency} {found.bid.price:,.2f}",
        f"Workbook     {path}",
    ]
    if found.fleet_outcome is not None:
        lines.insert(
            -1, f"Machines     {next(told(found.fleet_outcome, found.job.cover.currency))}"
        )
    if found.warnings:
        lines.append(f"Warnings     {len(found.warnings)}, all on the Checks sheet:")
        lines += [f"  {warning}" for warning in found.warnings[:WARNINGS_SHOWN]]
        if len(found.warnings) > WARNINGS_SHOWN:
            lines.append(f"  and {len(found.warnings) - WARNINGS_SHOWN} more")
    lines.append(
        "Planning figures only: makers' instructions, the qualified procedure, the specification "
        "and local code govern."
    )
    return "\n".join(lines) + "\n"


def _tests(found: Estimate) -> list[str]:
    if not found.tests:
        return []
    word = "section" if len(found.tests) == 1 else "sections"
    last = max(test.finish for test in found.tests)
    return [f"Hydrotests   {len(found.tests)} {word}, until {last:%a %d %b %Y}"]
