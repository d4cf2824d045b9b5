"""Scenarios: the same job with some inputs changed, estimated anew and set beside the base."""

from collections.abc import Callable, Sequence

from estimator.cost import days_late
from estimator.display import counted, sentence
from estimator.errors import EstimatorError
from estimator.inputs.dictionary import LEFT_OUT
from estimator.joint.shared import Shared
from estimator.models.comparison import Comparison, Figures, Outcome
from estimator.models.estimate import PricedJob
from estimator.models.job import Job, Override, omitted
from estimator.models.places import NO_PLACES, Places
from estimator.pipeline import price

STICK_LENGTH = "stick_length_m"
AMBIENT = "ambient_c"
BASE, AS_IT_STANDS = "Base", "the base job"
CANNOT = "Not possible. "
REASONS_SHOWN = 2

Progress = Callable[[int, int], None]


def compare(
    job: Job,
    places: Places = NO_PLACES,
    base: PricedJob | None = None,
    progress: Progress | None = None,
    shared: Shared | None = None,
) -> Comparison:
    """Estimate every scenario of a job and set it beside the job as it stands.

    Parameters
    ----------
    job : Job
        The job with its scenarios.
    places : Places, optional
        Where the inputs stand, for the reasons why a scenario is impossible.
    base : PricedJob, optional
        The job as it stands, priced, if it is already known.
    progress : callable, optional
        Called with (scenarios done, all scenarios).
    shared : Shared, optional
        What the plans of one study have in common; it has its own places.

    Returns
    -------
    Comparison
        A scenario that cannot be done has its reasons instead of figures.

    Raises
    ------
    InputError
        If the job as it stands cannot be estimated.
    """
    shared = shared or Shared(places)
    named = by_name(job.scenarios)
    outcomes = []
    for done, (name, overrides) in enumerate(named, 1):
        outcomes.append(_outcome(job, shared, name, overrides))
        if progress is not None:
            progress(done, len(named))
    return Comparison(figures(base or price(job, shared)), tuple(outcomes))


def by_name(overrides: Sequence[Override]) -> list[tuple[str, tuple[Override, ...]]]:
    """Return the changes of each scenario; names are alike whatever their case."""
    names: dict[str, str] = {}
    groups: dict[str, list[Override]] = {}
    for override in overrides:
        key = override.scenario.casefold()
        names.setdefault(key, override.scenario)
        groups.setdefault(key, []).append(override)
    return [(names[key], tuple(members)) for key, members in groups.items()]


def figures(priced: PricedJob) -> Figures:
    """Return what a priced job comes to."""
    finish = priced.finish
    return Figures(
        joints=priced.butt_joints,
        work_days=priced.plan.work_days,
        start=priced.plan.start,
        finish=finish,
        labor_hours=priced.total_labor_hours,
        crew_hours=priced.total_crew_hours,
        job_cost=priced.bid.job_cost,
        price=priced.bid.price,
        days_late=days_late(priced.job.dates, priced.finish),
    )


def base_outcome(comparison: Comparison) -> Outcome:
    """Return the job as it stands as if it were a scenario."""
    return Outcome(BASE, (AS_IT_STANDS,), "", comparison.base)


def remark(outcome: Outcome) -> str:
    """Return what is to be said of a scenario: why it cannot be done, a missed deadline, its note.

    Of many reasons the first few are reported.
    """
    if outcome.figures is None:
        more = len(outcome.why_not) - REASONS_SHOWN
        tail = f"; and {more} more" if more > 0 else ""
        return CANNOT + sentence("; ".join(outcome.why_not[:REASONS_SHOWN])) + tail
    days = outcome.figures.days_late
    late = f"Misses the deadline by {counted(days, 'calendar day')}" if days else ""
    return ". ".join(filter(None, (late, outcome.note)))


def with_overrides(job: Job, overrides: Sequence[Override]) -> Job:
    """Return the job with some inputs changed, and without scenarios.

    A stick length becomes that of every run. An ambient temperature holds in every month, in
    place of those of the Weather table. Runs that are omitted are named nowhere else either; of
    others only the pipe may be, which the owner then furnishes.
    """
    changes = {override.key: override.value for override in overrides}
    updates: dict[str, object] = {"scenarios": ()}
    if STICK_LENGTH in changes:
        stick = {STICK_LENGTH: changes.pop(STICK_LENGTH)}
        updates["runs"] = tuple(run.model_copy(update=stick) for run in job.runs)
    if AMBIENT in changes:
        blank = {AMBIENT: None}
        updates["weather"] = tuple(month.model_copy(update=blank) for month in job.weather)
    names, only_pipe = omitted(str(changes.pop(LEFT_OUT, "")))
    changed = job.changed(**changes).model_copy(update=updates)
    if only_pipe:
        return with_pipe_by_owner(changed, frozenset(names))
    return without_runs(changed, frozenset(names)) if names else changed


def with_pipe_by_owner(job: Job, names: frozenset[str]) -> Job:
    """Return the job with the pipe of some runs furnished by the owner, of all if none is named."""
    runs = tuple(
        run.model_copy(update={"pipe_price": None}) if not names or run.run_id in names else run
        for run in job.runs
    )
    return job.model_copy(update={"runs": runs})


def without_runs(job: Job, names: frozenset[str]) -> Job:
    """Return the job without some runs, and without what names them."""
    runs = tuple(
        run.model_copy(
            update={
                "joins": _without(run.joined_runs, names),
                "after": _without(run.followed_runs, names),
            }
        )
        for run in job.runs
        if run.run_id not in names
    )
    holds = tuple(hold for hold in job.holds if hold.run not in names)
    return job.model_copy(update={"runs": runs, "holds": holds})


def _without(named: Sequence[str], names: frozenset[str]) -> str | None:
    return "; ".join(name for name in named if name not in names) or None


def _outcome(job: Job, shared: Shared, name: str, overrides: Sequence[Override]) -> Outcome:
    changes = tuple(override.text for override in overrides)
    note = "; ".join(dict.fromkeys(o.note for o in overrides if o.note))
    offered = any(o.alternate for o in overrides)
    try:
        changed = with_overrides(job, overrides)
        found = figures(price(changed, shared, reasons=False))
        return Outcome(name, changes, note, found, is_alternate=offered)
    except EstimatorError as error:
        return Outcome(name, changes, note, None, tuple(str(error).splitlines()), offered)
