"""Least cost over all choices of classes and crews, as a mixed-integer program.

The solver is imported only when something is to be solved.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from estimator.data_class import dataclass
from estimator.equipment.rental_tiers import FOUR_WEEK_DAYS, WEEK_DAYS
from estimator.optimize.first_answer import beyond_stock, search
from estimator.optimize.problem import FleetProblem, Hire, total_cost

MOST_NODES = 300
"""Branches that are looked into. No clock ends the search: a job has the same answer on every
machine, however busy. On the example jobs this takes some two to four seconds."""
TRUE = 0.5
Pair = tuple[str, int]


@dataclass(frozen=True)
class Solution:
    """What the solver found.

    ``cost`` is that of the assignment, no assignment costs less than ``bound``; with
    ``finished`` they are as close as was asked.
    """

    assignment: tuple[Pair, ...]
    cost: float
    bound: float
    finished: bool

    @property
    def gap(self) -> float:
        """How far the cost may be above the least there is, as a share of it."""
        return max(0.0, self.cost - self.bound) / self.cost if self.cost else 0.0


def solve(problem: FleetProblem, nodes: int = MOST_NODES, gap: float = 0.0) -> Solution | None:
    """Return the cheapest assignment, None if there is none within the stock or the search.

    Parameters
    ----------
    problem : FleetProblem
        The job, with one item or more.
    nodes : int
        Branches after which the best assignment so far is returned.
    gap : float
        Share of the cost that the bound may be below it.
    """
    return _Program(problem).solve(nodes, gap)


def _quiet_solver() -> Any:  # noqa: ANN401 the solver's expressions carry no types
    """Return a solver that prints nothing, not even its name at the start."""
    import highspy

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:
            self.silent()
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    return Quiet()  # type: ignore[no-untyped-call]


class _Program:
    """The program of one problem; its variables by what they stand for."""

    def __init__(self, problem: FleetProblem) -> None:
        self.problem, self.solver = problem, _quiet_solver()
        self.takes: dict[tuple[int, str, int], Any] = {}
        self.uses: dict[Pair, Any] = {}
        self.minutes: dict[Pair, list[Any]] = defaultdict(list)
        self._items()
        self._sizes()
        self._classes()
        self._crews()

    def solve(self, nodes: int, gap: float) -> Solution | None:
        """Run the solver and read its answer."""
        import highspy

        solver = self.solver
        for option, value in (
            ("mip_max_nodes", nodes),
            ("mip_rel_gap", gap),
            ("threads", 1),
            ("random_seed", 0),
        ):
            solver.setOptionValue(option, value)
        assignment = self._begin()
        solver.run()
        info = solver.getInfo()
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            values = solver.getSolution().col_value
            found = tuple(self._taken(i, values) for i in range(len(self.problem.items)))
            found = search(self.problem, found)
            assignment = min(filter(None, (found, assignment)), key=self._cost)
        if not assignment:
            return None
        cost = self._cost(assignment)
        bound = min(cost, max(0.0, info.mip_dual_bound))
        finished = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        return Solution(assignment, cost, bound, finished)

    def _cost(self, assignment: tuple[Pair, ...]) -> float:
        return total_cost(self.problem, assignment)

    def _begin(self) -> tuple[Pair, ...]:
        """Give the solver what the search found; return it, nothing if it is beyond the stock."""
        import numpy as np

        start = search(self.problem)
        if beyond_stock(self.problem, start):
            return ()
        taken = [
            (variable.index, float(start[i] == (class_id, crew)))
            for (i, class_id, crew), variable in self.takes.items()
        ]
        indices, values = zip(*taken, strict=True)
        self.solver.setSolution(
            len(taken), np.array(indices, dtype=np.int32), np.array(values, dtype=np.float64)
        )
        return start

    def _taken(self, number: int, values: Sequence[float]) -> Pair:
        return next(
            (class_id, crew)
            for (i, class_id, crew), variable in self.takes.items()
            if i == number and values[variable.index] > TRUE
        )

    def _sum(self, terms: Iterable[Any]) -> Any:  # noqa: ANN401
        return self.solver.qsum(list(terms))

    def _items(self) -> None:
        """Each item goes to one class and crew; its cost above the lowest day rate with it."""
        problem, solver = self.problem, self.solver
        for i, item in enumerate(problem.items):
            extra = (item.day_rate - problem.lowest_rate) * item.minutes / problem.shift_min
            here = []
            for class_id in item.classes:
                for crew in item.crews:
                    take = solver.addBinary(obj=extra)
                    self.takes[i, class_id, crew] = take
                    here.append(take)
                    pair = class_id, crew
                    if pair not in self.uses:
                        self.uses[pair] = solver.addBinary()
                    solver.addConstr(take - self.uses[pair] <= 0)
                    self.minutes[pair].append(item.minutes * take)
            solver.addConstr(self._sum(here) == 1)

    def _sizes(self) -> None:
        """Each size of a class takes its test and, but for one of them, its change."""
        solver, made = self.solver, {}
        for (i, class_id, crew), take in self.takes.items():
            size, pair = self.problem.items[i].size, (class_id, crew)
            if (size, pair) not in made:
                made[size, pair] = solver.addBinary()
            solver.addConstr(take - made[size, pair] <= 0)
        firsts: dict[Pair, list[Any]] = defaultdict(list)
        for (size, pair), used in made.items():
            first = solver.addVariable(lb=0, ub=1)
            solver.addConstr(first - used <= 0)
            firsts[pair].append(first)
            set_up = self.problem.sizes[size]
            self.minutes[pair] += [
                (set_up.change_min + set_up.test_min) * used,
                -set_up.change_min * first,
            ]
        for pair, members in firsts.items():
            solver.addConstr(self._sum(members) - self.uses[pair] <= 0)
            self.minutes[pair].append(-self.problem.move_min * self.uses[pair])

    def _classes(self) -> None:
        """Whole shifts of each class on a crew, its rental and fuel, and the stock."""
        problem, solver = self.problem, self.solver
        for machine in problem.classes:
            pairs = [pair for pair in self.uses if pair[0] == machine.class_id]
            if not pairs:
                continue
            solver.addConstr(self._sum(self.uses[pair] for pair in pairs) <= machine.most_crews)
            for pair in pairs:
                days = solver.addIntegral(obj=machine.day_cost)
                work = self._sum(self.minutes[pair])
                solver.addConstr(problem.shift_min * days - work >= 0)
                self._rent(machine.hires, days, self.uses[pair])

    def _crews(self) -> None:
        """Whole shifts of each crew with its changes of class, and the finish."""
        problem, solver = self.problem, self.solver
        finish = solver.addVariable(lb=problem.least_days, obj=problem.site_day)
        before = None
        for crew in range(1, problem.crews + 1):
            pairs = [pair for pair in self.uses if pair[1] == crew]
            if not pairs:
                continue
            works = solver.addBinary(obj=problem.crew_cost)
            for pair in pairs:
                solver.addConstr(self.uses[pair] - works <= 0)
            days = solver.addIntegral(obj=problem.lowest_rate)
            work = [term for pair in pairs for term in self.minutes[pair]]
            swaps = [problem.swap_min * self.uses[pair] for pair in pairs]
            spent = self._sum([*work, *swaps, -problem.swap_min * works])
            solver.addConstr(problem.shift_min * days - spent >= 0)
            solver.addConstr(finish - days >= 0)
            self._rent(problem.equipment, days, works)
            if before is not None and problem.crews_are_alike:
                solver.addConstr(before - days >= 0)
            before = days
        self._late(finish)

    def _rent(self, hires: Sequence[Hire], days: Any, used: Any) -> None:  # noqa: ANN401
        """Periods of days, weeks and four weeks that cover the calendar days of these shifts."""
        problem, solver = self.problem, self.solver
        share, fixed = problem.calendar_share, 1 + 2 * problem.haul_days - problem.calendar_share
        for hire in hires:
            four_weeks = solver.addIntegral(obj=hire.four_weeks)
            weeks = solver.addIntegral(obj=hire.week)
            single = solver.addIntegral(obj=hire.day)
            trips = solver.addVariable(obj=2 * hire.delivery)
            solver.addConstr(trips - used >= 0)
            covered = FOUR_WEEK_DAYS * four_weeks + WEEK_DAYS * weeks + single
            solver.addConstr(covered - share * days - fixed * used >= 0)

    def _late(self, finish: Any) -> None:  # noqa: ANN401
        problem = self.problem
        if problem.days_allowed is None or not problem.liquidated_damages:
            return
        late = self.solver.addIntegral(obj=problem.liquidated_damages)
        spare = problem.days_allowed - 1 + problem.calendar_share
        self.solver.addConstr(late - problem.calendar_share * finish >= -spare)
