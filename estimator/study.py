"""An estimate with all that is asked about it: the one way in for command, macro and programs."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from estimator.data_class import dataclass
from estimator.errors import Problem
from estimator.joint.shared import Shared
from estimator.models.assumptions import AssumptionTable, NoAssumptions
from estimator.models.estimate import Estimate
from estimator.models.job import Job
from estimator.models.options import NoOptions, OptionTable
from estimator.models.places import NO_PLACES, Places
from estimator.models.risk import NoRisk, Risk
from estimator.models.study import NOT_DRAWN, NOT_TRIED, NOT_WEIGHED, Study
from estimator.pipeline import estimate
from estimator.plan import Progress
from estimator.whatif import assess, cheaper_with_a_joint_more, compare, weigh

NO_RANGES = NoRisk(reason="Risk inputs has no ranges, or Risk trials is 0 on the Job sheet")


def silent(step: str) -> None:
    """Say nothing of a step."""
    del step


@dataclass(frozen=True)
class Watcher:
    """Who hears how far a study is: runs planned of all, each step that begins, its counts."""

    progress: Progress | None = None
    step: Callable[[str], None] = silent
    count: Progress | None = None
    """Called with (done, total) of the step that was begun last."""


NOBODY = Watcher()


def study(
    job: Job,
    places: Places = NO_PLACES,
    watcher: Watcher = NOBODY,
    *,
    warnings: Sequence[Problem] = (),
    ranges: bool = True,
) -> Study:
    """Estimate a job, draw its ranges, try its options and compare its scenarios.

    Parameters
    ----------
    job : Job
        The checked job, in SI.
    places : Places, optional
        Where each input stands in the workbook, so that messages name the cell.
    watcher : Watcher, optional
        Who hears how far it is.
    warnings : sequence of Problem, optional
        What the reading of the job found; it comes before the warnings of the estimate.
    ranges : bool, optional
        Whether to draw the ranges of the Risk inputs sheet, to try the options and to weigh the
        assumptions too.

    Raises
    ------
    InputError
        With one problem for every run that cannot be estimated, and why.
    """
    shared = Shared(places)
    estimated = estimate(job, places, watcher.progress, shared)
    risk: Risk | NoRisk = NOT_DRAWN
    options: OptionTable | NoOptions = NOT_TRIED
    assumptions: AssumptionTable | NoAssumptions = NOT_WEIGHED
    shared_runs: Sequence[Problem] = ()
    if ranges:
        watcher.step("Running risk trials")
        risk = ranges_of(estimated, shared)
        watcher.step("Trying other crews, machines and shifts")
        options = assess(estimated, progress=watcher.count, shared=shared)
        watcher.step("Weighing the assumptions")
        assumptions = weigh(estimated, shared, watcher.count)
        shared_runs = cheaper_with_a_joint_more(estimated, shared)
    if job.scenarios:
        watcher.step("Comparing the scenarios")
    comparison = compare(job, base=estimated, progress=watcher.count, shared=shared)
    whole = estimated.grown(
        Study, risk=risk, options=options, assumptions=assumptions, comparison=comparison
    )
    return replace(whole, warnings=(*warnings, *estimated.warnings, *shared_runs))


def add_ranges(estimate: Estimate, places: Places = NO_PLACES) -> Study:
    """Return a study of an estimate with its ranges of finish and price alone."""
    return estimate.grown(Study, risk=ranges_of(estimate, Shared(places)))


def ranges_of(estimate: Estimate, shared: Shared) -> Risk | NoRisk:
    """Return the ranges of finish and price that the job's risk table gives.

    Without ranges or trials, or where a plan at the end of a range cannot be made, the reason.
    """
    if not estimate.job.risk_ranges or not estimate.job.risk.risk_trials:
        return NO_RANGES
    from estimator.risk import assess_ranges

    return assess_ranges(estimate, shared)
