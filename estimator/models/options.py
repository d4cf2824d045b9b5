"""The job with other crews, machines and shifts: what would finish sooner, and its price."""

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.models.comparison import Figures
from estimator.money import round_quantity


def option_name(crews: Sequence[int], machines: Sequence[int], shifts: Sequence[float]) -> str:
    """Return crews, machines per crew and shifts in words.

    >>> option_name([2, 3], [1], [8.0, 10.5])
    '2 or 3 crews x 1 machine, 8 or 10.5 hours'
    """
    fleet = f"{_counted(crews, 'crew')} x {_counted(machines, 'machine')}"
    return f"{fleet}, {_either(shifts)} hours"


def _counted(numbers: Sequence[int], noun: str) -> str:
    return f"{_either(numbers)} {noun}{'s' * (max(numbers) != 1)}"


def _either(numbers: Sequence[float]) -> str:
    *first, last = (f"{number:g}" for number in numbers)
    return f"{', '.join(first)} or {last}" if first else last


@dataclass(frozen=True)
class Option:
    """One number of crews, machines per crew and hours of a shift, and what comes of it.

    ``why_not`` says why it cannot be done. ``better`` names an option that finishes no later
    and costs no more; empty where there is none. ``stock`` says what it rests on where the
    stock of the first choice is short: the class that is taken instead, or what is rented from
    elsewhere; ``rests_on`` what else it takes that the base job does not: crews to be found, and
    overtime at a pace that is assumed.
    """

    crews: int
    machines_per_crew: int
    shift_hours: float
    figures: Figures | None
    liquidated_damages: Decimal = Decimal(0)
    why_not: str = ""
    is_base: bool = False
    better: str = ""
    stock: str = ""
    rests_on: str = ""

    @property
    def name(self) -> str:
        """Crews, machines and shift in words."""
        return option_name([self.crews], [self.machines_per_crew], [self.shift_hours])


@dataclass(frozen=True)
class OptionTable:
    """Every option that was tried: first those that no other one beats, by their finish.

    ``days_sooner`` is what the user asks for beside the deadline.
    """

    base: Option
    options: tuple[Option, ...]
    deadline: dt.date | None
    days_sooner: int
    currency: str
    system: UnitSystem

    @property
    def efficient(self) -> tuple[Option, ...]:
        """The options that no other one beats, the earliest finish first."""
        return tuple(one for one in self.possible if not one.better)

    @property
    def possible(self) -> tuple[Option, ...]:
        """The options that can be done, in order."""
        return tuple(one for one in self.options if one.figures is not None)

    @property
    def sooner_ones(self) -> tuple[Option, ...]:
        """The efficient options that finish before the job as it stands."""
        return tuple(one for one in self.efficient if self.days_before_base(one) > 0)

    @property
    def cheapest(self) -> Option | None:
        """The option of the least job cost."""
        return _cheapest(self.efficient)

    @property
    def in_time(self) -> Option | None:
        """The cheapest option that meets the deadline, None without one."""
        if self.deadline is None:
            return None
        return _cheapest(one for one in self.efficient if one.figures and not one.figures.days_late)

    @property
    def sooner(self) -> Option | None:
        """The cheapest option that finishes as many days sooner as was asked for."""
        return _cheapest(
            one for one in self.efficient if self.days_before_base(one) >= self.days_sooner
        )

    @property
    def earliest(self) -> Option | None:
        """The option of the earliest finish."""
        return next(iter(self.efficient), None)

    @property
    def is_late_for_nothing(self) -> bool:
        """Whether options finish late, and none of them carries liquidated damages."""
        late = [one for one in self.possible if one.figures and one.figures.days_late]
        return bool(late) and not any(one.liquidated_damages for one in late)

    def days_before_base(self, option: Option) -> int:
        """Return the calendar days by which an option finishes before the job as it stands."""
        if option.figures is None or self.base.figures is None:
            return 0
        return (self.base.figures.finish - option.figures.finish).days

    def more_cost(self, option: Option) -> Decimal:
        """Return the job cost above that of the job as it stands."""
        if option.figures is None or self.base.figures is None:
            return Decimal(0)
        return option.figures.job_cost - self.base.figures.job_cost

    def more_cost_shown(self, option: Option) -> int:
        """Return the job cost above the base, as the page shows both: in whole units of money."""
        if option.figures is None or self.base.figures is None:
            return 0
        return _shown(option.figures.job_cost) - _shown(self.base.figures.job_cost)


@dataclass(frozen=True)
class NoOptions:
    """Why there are no options."""

    reason: str

    @property
    def message(self) -> str:
        """What a page says in place of the options."""
        return f"Options not worked out: {self.reason}"


def _shown(cost: Decimal) -> int:
    return int(round_quantity(float(cost), 0))


def _cheapest(options: Iterable[Option]) -> Option | None:
    """Return the option of the least job cost, of equal ones the earliest."""
    done = [(one.figures.job_cost, one.figures.finish, one) for one in options if one.figures]
    return min(done, key=lambda entry: entry[:2])[2] if done else None
