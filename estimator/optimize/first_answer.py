"""A good choice of classes and crews by stepwise change: where the solver starts from."""

from collections import defaultdict
from collections.abc import Iterator

from estimator.optimize.problem import Assignment, FleetProblem, total_cost

Pair = tuple[str, int]
MOST_ROUNDS = 30
Rank = tuple[int, float]


def search(problem: FleetProblem, start: Assignment | None = None) -> tuple[Pair, ...]:
    """Return an assignment that no single change makes cheaper.

    A change gives one item, or all items of one size, another class or crew; the best of a round
    is kept.

    Parameters
    ----------
    problem : FleetProblem
        The job, with one item or more.
    start : sequence of (class, crew), optional
        Where to begin; if not given, the first class of each item and the crew with least work.

    Returns
    -------
    tuple of (class, crew)
        One for each item; beyond the stock only if the search found nothing within it.
    """
    best = _start(problem) if start is None else tuple(start)
    rank = _rank(problem, best)
    for _ in range(MOST_ROUNDS):
        found = min(((_rank(problem, one), one) for one in _changed(problem, best)), default=None)
        if found is None or found[0] >= rank:
            break
        rank, best = found
    return best


def beyond_stock(problem: FleetProblem, assignment: Assignment) -> int:
    """Return how many crews hold a class of which there is none left for them."""
    held = set(assignment)
    return sum(
        max(0, sum(class_id == machine.class_id for class_id, _ in held) - machine.most_crews)
        for machine in problem.classes
    )


def _rank(problem: FleetProblem, assignment: Assignment) -> Rank:
    return beyond_stock(problem, assignment), total_cost(problem, assignment)


def _start(problem: FleetProblem) -> tuple[Pair, ...]:
    work: dict[int, float] = defaultdict(float)
    taken = []
    for item in problem.items:
        crew = min(item.crews, key=lambda one: work[one])
        work[crew] += item.minutes
        taken.append((item.classes[0], crew))
    return tuple(taken)


def _changed(problem: FleetProblem, assignment: tuple[Pair, ...]) -> Iterator[tuple[Pair, ...]]:
    """Yield the assignments that are one change away."""
    groups = [{number} for number in range(len(problem.items))]
    sizes: dict[str, set[int]] = defaultdict(set)
    for number, item in enumerate(problem.items):
        sizes[item.size].add(number)
    groups += [members for members in sizes.values() if len(members) > 1]
    for members in groups:
        items = [problem.items[number] for number in members]
        classes = dict.fromkeys(class_id for item in items for class_id in item.classes)
        for class_id in classes:
            for crew in (None, *range(1, problem.crews + 1)):
                changed = tuple(
                    _allowed(problem, number, pair, (class_id, crew or pair[1]))
                    if number in members
                    else pair
                    for number, pair in enumerate(assignment)
                )
                if changed != assignment:
                    yield changed


def _allowed(problem: FleetProblem, number: int, now: Pair, wanted: Pair) -> Pair:
    """Return what of a wanted class and crew an item may have, and otherwise what it has."""
    item = problem.items[number]
    return (
        wanted[0] if wanted[0] in item.classes else now[0],
        wanted[1] if wanted[1] in item.crews else now[1],
    )
