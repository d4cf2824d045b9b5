"""Which class of a kind a crew holds on which days, by rental, delivery and fuel."""

import datetime as dt
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import field
from heapq import heapify, heappop, heappush
from itertools import accumulate
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.equipment.haulage import Haulage
from estimator.equipment.rental_tiers import cheapest_tiers
from estimator.models.equipment import Lifter, RentalItem
from estimator.units import at_most

MOST_BLOCKS = 40
"""More changes of need than this are looked at in coarser steps, so that planning stays quick."""
CENT_DIGITS, SLACK = 6, 1e-5
NOTHING = 0.0, 0
"""Cost and stays of no blocks."""

FuelOn = Callable[[str, dt.date], float]


class DayNeed(NamedTuple):
    """A day of work and the mass that must be lifted on it in kg, reserve included."""

    date: dt.date
    mass_kg: float


class DayLevel(NamedTuple):
    """A day of work and the smallest class that will do, by its place in the ranking."""

    date: dt.date
    level: int


class Block(NamedTuple):
    """Days of work in a row that need the same class at least, by its place in the ranking."""

    dates: tuple[dt.date, ...]
    level: int


@dataclass(frozen=True)
class Terms:
    """How stays are billed: haulage before and after, and fuel money a day by class."""

    haulage: Haulage
    fuel_a_day: Mapping[str, float] = field(default_factory=dict)
    fuel_on: FuelOn | None = None
    """Fuel money of a class on a date, where it is not the same every day."""

    def fuel(self, class_id: str, dates: Sequence[dt.date]) -> float:
        """Return the fuel money of a class on some dates."""
        if self.fuel_on is not None:
            return sum(self.fuel_on(class_id, date) for date in dates)
        return self.fuel_a_day.get(class_id, 0.0) * len(dates)


def rank(lifters: Sequence[Lifter], quantity: int) -> list[Lifter]:
    """Return the classes of which enough are in stock, by capacity and then by rate."""
    fit = [row for row in lifters if row.stock >= quantity]
    return sorted(fit, key=lambda row: (row.capacity_kg, row.four_week_rate.amount))


def choose_by_day(
    days: Sequence[DayNeed], ranked: Sequence[Lifter], terms: Terms
) -> dict[str, tuple[dt.date, ...]] | None:
    """Return the days on which each class is used, None where no class carries a day's mass.

    A class stays on rent from the first to the last of its days; while it stays, a larger one
    may come for the days that need it, and goes after one of these. Among all such plans
    that change class where the need changes or the work pauses, the cheapest is taken, by dynamic
    programming over intervals. One class for all days, the smallest that carries them, is among
    these plans, so that the choice is never dearer than that. Not among them is a larger class
    that stays on for days that a smaller one on rent serves, which would cost less only where the
    larger one burns less fuel.

    Parameters
    ----------
    days : sequence of DayNeed
        Days of work, rising, one or more.
    ranked : sequence of Lifter
        Classes by rising capacity, as ``rank`` gives them.
    terms : Terms
        Haulage and fuel.
    """
    levels = {mass_kg: _level(mass_kg, ranked) for mass_kg in {day.mass_kg for day in days}}
    if None in levels.values():
        return None
    each = [DayLevel(day.date, levels[day.mass_kg] or 0) for day in days]
    return choose_by_level(each, ranked, terms)


def choose_by_level(
    days: Sequence[DayLevel], ranked: Sequence[RentalItem], terms: Terms
) -> dict[str, tuple[dt.date, ...]]:
    """Return the days on which each class is used, as ``choose_by_day`` does.

    Parameters
    ----------
    days : sequence of DayLevel
        Days of work, rising, each with its smallest class; every larger one does too.
    ranked : sequence of RentalItem
        Classes from small to large.
    terms : Terms
        Haulage and fuel.
    """
    chosen = _Choice(_blocks(days, terms.haulage.days), ranked, terms).levels()
    found: dict[str, list[dt.date]] = {}
    for block, level in chosen:
        found.setdefault(ranked[level].class_id, []).extend(block.dates)
    return {class_id: tuple(dates) for class_id, dates in found.items()}


def _level(mass_kg: float, ranked: Sequence[Lifter]) -> int | None:
    return next((i for i, row in enumerate(ranked) if at_most(mass_kg, row.capacity_kg)), None)


def _blocks(days: Sequence[DayLevel], haul_days: int) -> list[Block]:
    found: list[tuple[list[dt.date], int]] = []
    for day in days:
        dates, level = found[-1] if found else ([], -1)
        if level == day.level and (day.date - dates[-1]).days <= 2 * haul_days + 1:
            dates.append(day.date)
        else:
            found.append(([day.date], day.level))
    blocks = [Block(tuple(dates), level) for dates, level in found]
    return _merged(blocks)


def _merged(blocks: list[Block]) -> list[Block]:
    """Return the blocks with neighbors joined, those that span the fewest days first."""
    dates = [[*block.dates] for block in blocks]
    levels = [block.level for block in blocks]
    after = list(range(1, len(blocks) + 1))
    before = list(range(-1, len(blocks) - 1))
    gone = len(blocks)

    def pair(at: int) -> tuple[int, int, int]:
        """Return the span of a block with the next, its place, and the last day of the next."""
        last = dates[after[at]][-1]
        return (last - dates[at][0]).days, at, last.toordinal()

    pairs = [pair(at) for at in range(len(blocks) - 1)] if len(blocks) > MOST_BLOCKS else []
    heapify(pairs)
    for _ in range(len(blocks) - MOST_BLOCKS):
        while True:
            found = heappop(pairs)
            at = found[1]
            if dates[at] and pair(at) == found:
                break
        other = after[at]
        dates[at] += dates[other]
        levels[at] = max(levels[at], levels[other])
        dates[other] = []
        after[at] = after[other]
        if after[at] < gone:
            before[after[at]] = at
            heappush(pairs, pair(at))
        if before[at] >= 0:
            heappush(pairs, pair(before[at]))
    return [Block(tuple(days), level) for days, level in zip(dates, levels, strict=True) if days]


Way = tuple[int, int, int]
"""A stay: its first and last block, and its class."""


class _Beside:
    """The blocks beside a class on rent: which it serves, and what it burns in these.

    Parameters
    ----------
    needed : sequence of int
        The smallest class that will do in each block.
    held : int
        The class on rent, -1 for none.
    fuel : callable
        Fuel money of the class in a block.
    """

    def __init__(self, needed: Sequence[int], held: int, fuel: Callable[[int], float]) -> None:
        burned = [fuel(i) if level <= held else 0.0 for i, level in enumerate(needed)]
        self._sums = [0.0, *accumulate(burned)]
        is_hard = [level > held for level in needed]
        ahead = accumulate(
            [i if is_hard[i] else len(needed) for i in reversed(range(len(needed)))], min
        )
        self.next_hard = [*ahead][::-1]
        self.last_hard = [*accumulate([i if hard else -1 for i, hard in enumerate(is_hard)], max)]

    def hard(self, start: int, stop: int) -> list[int]:
        """Return the blocks that the class does not serve, from one of them up to another."""
        found = [start]
        while found[-1] < stop:
            found.append(self.next_hard[found[-1] + 1])
        return found

    def fuel(self, first: int, end: int) -> float:
        """Return what is burned from a block on up to another, in those that the class serves."""
        return self._sums[end] - self._sums[first]


class _Choice:
    """Cheapest stays by interval: blocks ``i`` to ``j`` while class ``held`` is on rent.

    ``held`` is -1 for none. The first block that the held class cannot serve begins a stay of
    a larger one, which ends at a block that needs it; what lies inside that stay is the same
    question with the larger class held, and what follows the same with the one held before.
    What the held class serves before the first and after the last such block is fuel alone, so
    the question is worked out once for all intervals with these two.
    """

    def __init__(self, blocks: Sequence[Block], ranked: Sequence[RentalItem], terms: Terms) -> None:
        self.blocks, self.ranked, self.terms = blocks, ranked, terms
        self.needed = [block.level for block in blocks]
        self.classes = _worth_a_look(ranked, set(self.needed))
        haulage = terms.haulage
        self.comes = [haulage.delivered(block.dates[0]).toordinal() for block in blocks]
        self.goes = [haulage.collected(block.dates[-1]).toordinal() for block in blocks]
        self.beside = {held: self._beside(held) for held in (-1, *self.classes)}
        self.known: dict[Way, tuple[float, int, Way]] = {}
        self.stays: dict[int, dict[int, float]] = {level: {} for level in self.classes}

    def levels(self) -> list[tuple[Block, int]]:
        """Return each block with the class that serves it."""
        last = len(self.blocks) - 1
        self._best(0, last, -1)
        return list(zip(self.blocks, self._held(0, last, -1), strict=True))

    def _beside(self, held: int) -> _Beside:
        class_id = self.ranked[held].class_id
        return _Beside(self.needed, held, lambda i: self.terms.fuel(class_id, self.blocks[i].dates))

    def _stay(self, level: int, days: int) -> float:
        """Return rental and trips of one stay of a class."""
        cost = self.stays[level].get(days)
        if cost is None:
            item = self.ranked[level]
            cost = cheapest_tiers(days, item).cost + 2 * item.delivery.amount
            cost = self.stays[level][days] = round(cost, CENT_DIGITS)
        return cost

    def _best(self, first: int, last: int, held: int) -> tuple[float, int]:
        """Return the least cost of the blocks and the number of stays in it."""
        beside = self.beside[held]
        start = beside.next_hard[first]
        if start > last:
            return beside.fuel(first, last + 1), 0
        stop = beside.last_hard[last]
        found = self.known.get((start, stop, held))
        if found is None:
            found = self.known[start, stop, held] = self._cheapest(start, stop, held)
        fuel = beside.fuel(first, start) + beside.fuel(stop + 1, last + 1)
        return fuel + found[0], found[1]

    def _cheapest(self, start: int, stop: int, held: int) -> tuple[float, int, Way]:
        """Return the first of the cheapest ways, of those with the fewest stays.

        The held class serves neither the first nor the last of the blocks. A stay that alone
        costs more than a whole way already found is not looked into, nor any longer one; nor one
        that does with what must follow it.
        """
        goes, before, best = self.goes, self.comes[start] - 1, self._best
        ends = self.beside[held].hard(start, stop)
        rest = [*(best(end + 1, stop, held) for end in ends[:-1]), NOTHING]
        least, fewest, way = math.inf, 0, None
        for level in self.classes:
            if level < self.needed[start]:
                continue
            for end, (after, stays_after) in zip(ends, rest, strict=True):
                stay = self._stay(level, goes[end] - before)
                if stay > least + SLACK:
                    break
                if stay + after > least + SLACK:
                    continue
                inside, stays_inside = best(start, end, level)
                cost = round(stay + inside + after, CENT_DIGITS)
                stays = 1 + stays_inside + stays_after
                if (cost, stays) < (least, fewest):
                    least, fewest, way = cost, stays, (start, end, level)
        if way is None:
            raise LookupError(f"no class for the blocks {start} to {stop}")
        return least, fewest, way

    def _held(self, first: int, last: int, held: int) -> Iterator[int]:
        """Yield the class that serves each block of an interval."""
        beside = self.beside[held]
        if first > last or beside.next_hard[first] > last:
            yield from [held] * (last + 1 - first)
            return
        start, stop = beside.next_hard[first], beside.last_hard[last]
        _, end, level = self.known[start, stop, held][2]
        yield from [held] * (start - first)
        yield from self._held(start, end, level)
        yield from self._held(end + 1, last, held)


def _worth_a_look(ranked: Sequence[RentalItem], needed: set[int]) -> list[int]:
    """Return the classes that some day needs, and others only where they may be cheaper."""
    kept: list[int] = []
    smaller: RentalItem | None = None
    for i, row in enumerate(ranked):
        if i in needed:
            smaller = row
            kept.append(i)
        elif smaller is not None and not _no_dearer(smaller, row):
            kept.append(i)
    return kept


def _no_dearer(one: RentalItem, other: RentalItem) -> bool:
    rates = ("day_rate", "week_rate", "four_week_rate", "delivery")
    fuels = ("fuel_rate_l_h", "fuel_half_l_h", "fuel_full_l_h")
    return all(getattr(one, key, 0.0) <= getattr(other, key, 0.0) for key in fuels) and all(
        getattr(one, key).amount <= getattr(other, key).amount for key in rates
    )
