"""The chain from the schedule row of one run to its price, step by step with its numbers."""

from collections.abc import Callable, Iterator, Sequence

from estimator.errors import EstimatorError, nearest
from estimator.explain.chain import Chain, ExplainContext
from estimator.explain.money import cost_steps, line_steps, machine_steps, price_steps, share_steps
from estimator.explain.pipe import fusion_steps, joint_steps, pipe_steps, row_steps
from estimator.explain.power import hydrotest_steps, power_steps
from estimator.explain.times import cycle_steps, hours_steps, plan_steps, shift_steps
from estimator.models.estimate import Estimate
from estimator.models.explanation import Explanation, Part, Step
from estimator.models.places import NO_PLACES, Places
from estimator.standards.pipe_names import pipe_label

NAMES_SHOWN = 5
JOB_PARTS = JOB_COST, JOB_PRICE = "Cost of the job", "Job price"
"""Titles of the parts that are the same for every run."""

PARTS: tuple[tuple[str, Callable[[Chain], Iterator[Step]]], ...] = (
    ("Pipe schedule", row_steps),
    ("Pipe", pipe_steps),
    ("Sticks and joints", joint_steps),
    ("Fusion", fusion_steps),
    ("Machine", machine_steps),
    ("Cycle", cycle_steps),
    ("Shift", shift_steps),
    ("Plan", plan_steps),
    ("Labor-hours", hours_steps),
    ("Power", power_steps),
    ("Hydrotest", hydrotest_steps),
    ("Cost", cost_steps),
    (JOB_COST, line_steps),
    (JOB_PRICE, price_steps),
    ("Price", share_steps),
)


class UnknownRunError(EstimatorError):
    """There is no run of that name; the text names the nearest ones."""


def explain(estimate: Estimate, run_id: str, places: Places = NO_PLACES) -> Explanation:
    """Return how one run comes to its price.

    Parameters
    ----------
    estimate : Estimate
        The finished estimate.
    run_id : str
        Name of the run, in any case if that leaves no doubt.
    places : Places, optional
        Where the inputs stand in the workbook.

    Returns
    -------
    Explanation
        Figures in the units of the results; every sum holds on the numbers that it shows, to
        about five figures.

    Raises
    ------
    UnknownRunError
        If there is no such run, with the nearest names.
    """
    return _explained(ExplainContext(estimate, places), find_run(estimate, run_id))


def explain_first(
    estimate: Estimate, most: int, places: Places = NO_PLACES
) -> Sequence[Explanation]:
    """Return how the first runs of the schedule come to their prices.

    Parameters
    ----------
    found, places
        See ``explain``.
    most : int
        How many runs at most.
    """
    context, explanations = ExplainContext(estimate, places), list[Explanation]()
    for index in range(min(most, len(estimate.runs))):
        explanations.append(
            _explained(context, index, explanations[0].parts if explanations else ())
        )
    return explanations


def _explained(context: ExplainContext, index: int, of_another: Sequence[Part] = ()) -> Explanation:
    """Return one run explained; cost and price of the job are those of another, if there is one."""
    run = context.estimate.job.runs[index]
    chain = Chain(context, run, context.estimate.runs[index])
    title = pipe_label(run.od_system, run.size, run.dr)
    if run.description:
        title = f"{run.description}, {title}"
    known = {part.title: part for part in of_another if part.title in JOB_PARTS}
    parts = (known.get(name) or Part(name, tuple(steps(chain))) for name, steps in PARTS)
    return Explanation(run.run_id, title, tuple(part for part in parts if part.steps))


def find_run(estimate: Estimate, run_id: str) -> int:
    """Return the place of a run in the schedule: see ``explain``."""
    names = [run.run_id for run in estimate.job.runs]
    if run_id in names:
        return names.index(run_id)
    folded = [name.casefold() for name in names]
    wanted = run_id.strip().casefold()
    if folded.count(wanted) == 1:
        return folded.index(wanted)
    close = nearest(wanted, folded, NAMES_SHOWN, 0)
    names_near = ", ".join(names[folded.index(name)] for name in dict.fromkeys(close))
    message = f"{run_id!r} is not on the Pipe schedule. Nearest: {names_near}"
    raise UnknownRunError(message)
