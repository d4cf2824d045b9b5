"""The choice of machine classes and crews over a whole job, as plain data, and what it costs.

The cost is that of whole shifts, worked out without a plan: a crew does all runs of one class
together and all runs of one size together, and its calendar days follow from its working days
by the mean of the job's calendar. The estimate itself is made by the planner afterwards.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

from estimator.data_class import dataclass
from estimator.equipment.rental_tiers import cheapest_mix

SLACK = 1e-6
Assignment = Sequence[tuple[str, int]]
"""Machine class and crew of each item, in the order of the items."""


@dataclass(frozen=True)
class Hire:
    """Something on rent: prices of a day, a week, four weeks and a trip, for all of a crew's."""

    day: float
    week: float
    four_weeks: float
    delivery: float

    def cost(self, calendar_days: int) -> float:
        """Return the cheapest rental of these days with delivery and return."""
        return cheapest_mix(calendar_days, self.day, self.week, self.four_weeks).cost + (
            2 * self.delivery
        )


@dataclass(frozen=True)
class FleetClass:
    """A machine class as one crew hires it, with its generator.

    ``most_crews`` can have it at once; ``day_cost`` is the fuel of a worked day.
    """

    class_id: str
    hires: tuple[Hire, ...]
    most_crews: int
    day_cost: float = 0.0


@dataclass(frozen=True)
class WorkItem:
    """Runs of one size that go to one class and one crew together.

    ``minutes`` hold one move for each run; ``day_rate`` is what the crew costs a day on them.
    """

    run_ids: tuple[str, ...]
    size: str
    classes: tuple[str, ...]
    crews: tuple[int, ...]
    minutes: float
    day_rate: float


@dataclass(frozen=True)
class SizeSetUp:
    """Minutes to change to a size within a class, and of its test joint."""

    change_min: float
    test_min: float = 0.0


@dataclass(frozen=True)
class FleetProblem:
    """Everything that the choice rests on.

    Parameters
    ----------
    items, classes, sizes
        The work, the classes, and the set-up of each size.
    crews : int
        Crews of the job, 1 or more.
    shift_min : float
        Working time of a shift. [min]
    move_min, swap_min : float
        A move, which the first run of a class saves; a change of class. [min]
    calendar_share : float
        Calendar days for each working day, 1 or more.
    haul_days : int
        Days on rent before and after the use.
    equipment : tuple of Hire
        What each crew hires for all its days, whatever its machine.
    site_day : float
        Cost of a day on which the site is open.
    crew_cost : float
        What each crew with work costs, however long it is there.
    liquidated_damages : float
        Charge for each calendar day late.
    days_allowed : int or None
        Calendar days from the start to the deadline, both counted.
    least_days : float
        Working days before which the job cannot be over, whoever does it.
    """

    items: tuple[WorkItem, ...]
    classes: tuple[FleetClass, ...]
    sizes: Mapping[str, SizeSetUp]
    crews: int
    shift_min: float
    move_min: float = 0.0
    swap_min: float = 0.0
    calendar_share: float = 1.4
    haul_days: int = 0
    equipment: tuple[Hire, ...] = ()
    site_day: float = 0.0
    crew_cost: float = 0.0
    liquidated_damages: float = 0.0
    days_allowed: int | None = None
    least_days: float = 0.0

    @cached_property
    def lowest_rate(self) -> float:
        """Lowest cost of a crew day: what set-ups and the rest of a last day cost."""
        return min((item.day_rate for item in self.items), default=0.0)

    @property
    def crews_are_alike(self) -> bool:
        """Whether any crew may do any item."""
        return all(len(item.crews) == self.crews for item in self.items)

    def whole_days(self, minutes: float) -> int:
        """Return the shifts that work takes, each begun one counted."""
        return math.ceil(minutes / self.shift_min - SLACK)

    def calendar_days(self, days: float, haul_days: int = 0) -> int:
        """Return the calendar days that working days span, with haulage before and after."""
        return math.ceil(self.calendar_share * (days - 1) + 1 + 2 * haul_days - SLACK)

    def rented(self, hires: Sequence[Hire], days: int) -> float:
        """Return the cost of hiring for a number of working days."""
        return sum(hire.cost(self.calendar_days(days, self.haul_days)) for hire in hires)


def class_minutes(problem: FleetProblem, items: Sequence[WorkItem]) -> float:
    """Return the minutes of one crew on all its items of one class, its size changes included.

    The size whose change takes longest comes first and needs none.
    """
    sizes = [problem.sizes[size] for size in dict.fromkeys(item.size for item in items)]
    changes = [size.change_min for size in sizes]
    work = sum(item.minutes for item in items) + sum(size.test_min for size in sizes)
    return work + sum(changes) - max(changes) - problem.move_min


def total_cost(problem: FleetProblem, assignment: Assignment) -> float:
    """Return what an assignment costs.

    Parameters
    ----------
    problem : FleetProblem
        The job.
    assignment : sequence of (class, crew)
        One for each item.

    Returns
    -------
    float
        Labor, rental with delivery, fuel, gear, site and liquidated damages together.
    """
    by_crew: dict[int, dict[str, list[WorkItem]]] = {}
    for item, (class_id, crew) in zip(problem.items, assignment, strict=True):
        by_crew.setdefault(crew, {}).setdefault(class_id, []).append(item)
    known = {machine.class_id: machine for machine in problem.classes}
    cost, longest = problem.crew_cost * len(by_crew), 0
    for of_class in by_crew.values():
        minutes = [class_minutes(problem, items) for items in of_class.values()]
        days = problem.whole_days(sum(minutes) + problem.swap_min * (len(of_class) - 1))
        longest = max(longest, days)
        cost += _labor(problem, of_class, days) + problem.rented(problem.equipment, days)
        for class_id, spent in zip(of_class, minutes, strict=True):
            used = problem.whole_days(spent)
            cost += problem.rented(known[class_id].hires, used) + known[class_id].day_cost * used
    finish = max(float(longest), problem.least_days)
    return (
        cost + problem.site_day * finish + problem.liquidated_damages * days_late(problem, finish)
    )


def _labor(problem: FleetProblem, of_class: Mapping[str, list[WorkItem]], days: int) -> float:
    extra = sum(
        (item.day_rate - problem.lowest_rate) * item.minutes / problem.shift_min
        for items in of_class.values()
        for item in items
    )
    return problem.lowest_rate * days + extra


def days_late(problem: FleetProblem, finish_days: float) -> int:
    """Return the calendar days late of a job that takes this many working days."""
    if problem.days_allowed is None:
        return 0
    return max(0, problem.calendar_days(finish_days) - problem.days_allowed)


def bundles(
    items: Sequence[WorkItem], most_single: int, most_in_all: int = 120
) -> Iterator[WorkItem]:
    """Yield the items, of large jobs in bundles that go to one class and crew together.

    Items of equal size, classes, crews and cost a day differ only in their minutes. They are
    dealt out, the longest first, each to the bundle that is the shortest so far. With
    ``most_single`` items or fewer each stays alone.
    """
    if len(items) <= most_single:
        yield from items
        return
    groups: dict[object, list[WorkItem]] = {}
    for item in items:
        key = item.size, item.classes, item.crews, item.day_rate
        groups.setdefault(key, []).append(item)
    room = max(1, most_in_all // len(groups))
    for group in groups.values():
        parts = min(len(group), room, 2 * len(group[0].crews))
        dealt: list[list[WorkItem]] = [[] for _ in range(parts)]
        for item in sorted(group, key=lambda one: -one.minutes):
            min(dealt, key=lambda part: sum(one.minutes for one in part)).append(item)
        yield from (_together(part) for part in dealt)


def _together(part: Sequence[WorkItem]) -> WorkItem:
    first = part[0]
    return WorkItem(
        run_ids=tuple(run_id for item in part for run_id in item.run_ids),
        size=first.size,
        classes=first.classes,
        crews=first.crews,
        minutes=sum(item.minutes for item in part),
        day_rate=first.day_rate,
    )
