"""The job as awarded, frozen: what is to be made on which day, and what each piece earns."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.display import UnitSystem
from estimator.models.bands import Band
from estimator.models.kinds import CONNECTIONS
from estimator.money import round_money

STICK, FITTING, TIE_IN = "stick", "fitting", "tie_in"
BUTT_PIECES = (STICK, FITTING, TIE_IN)
"""Butt joints that earn: between sticks, at fittings, tie-ins. Rework earns nothing again."""
PIECES = (*BUTT_PIECES, *(kind.key for kind in CONNECTIONS))
"""Everything that earns when it is made and accepted."""

EarningRule = Literal["start", "time", "test", "finish"]
"""When a lump sum is earned: with the first work, by the days gone by, with the hydrotest of its
section, or with the last work."""

Pieces = Mapping[str, int]


class BaselineDay(NamedTuple):
    """What one crew is to do on one run on one date; what its pieces earn."""

    date: dt.date
    crew: int
    run_id: str
    pieces: Pieces
    rework: int
    trial_fusions: int
    labor_hours: float
    cost: Decimal


class PieceTime(NamedTuple):
    """Planned minutes of one piece: those that the crew paces, and those that the machine does."""

    crew_min: float
    machine_min: float

    @property
    def minutes(self) -> float:
        """From one piece to the next."""
        return self.crew_min + self.machine_min


@dataclass(frozen=True)
class BaselineRun:
    """One run: its pieces, their times, and what all of them earn."""

    run_id: str
    bid_item: str
    pipe: str
    band: Band
    length_m: float
    pieces: Pieces
    times: Mapping[str, PieceTime]
    labor_hours: float
    labor: Decimal
    equipment: Decimal
    other: Decimal
    price: Decimal

    @property
    def cost(self) -> Decimal:
        """Cost that its pieces earn."""
        return self.labor + self.equipment + self.other

    @property
    def minutes(self) -> float:
        """Minutes of all pieces, by which hours and cost are shared out over them."""
        return sum(self.pieces[kind] * self.times[kind].minutes for kind in self.pieces)

    def share(self, pieces: Pieces) -> float:
        """Return the part of the run that some pieces are, 0 to 1."""
        if not self.minutes:
            return 0.0
        return sum(n * self.times[kind].minutes for kind, n in pieces.items()) / self.minutes


@dataclass(frozen=True)
class LumpSum:
    """Cost that no joint earns; ``name`` is a cost line or a test section."""

    name: str
    rule: EarningRule
    first: dt.date
    last: dt.date
    cost: Decimal

    def planned(self, date: dt.date) -> Decimal:
        """Return what is planned to be earned at the end of a date."""
        if self.rule != "time":
            return self.cost if date >= self.last else Decimal(0)
        days = (self.last - self.first).days + 1
        gone = min(max((date - self.first).days + 1, 0), days)
        return (self.cost * gone / days).quantize(Decimal("0.01"))


ClaimRule = Literal["length", "tie-ins", "start", "finish", "tests", "work"]
"""By what a bid item is claimed: length between accepted joints, accepted tie-ins, the first work,
the last work, passed hydrotests, labor-hours earned."""


@dataclass(frozen=True)
class BaselineItem:
    """One item of the bid schedule as agreed; ``runs`` are those whose length it pays for."""

    number: str
    description: str
    unit: str
    quantity: float
    unit_price: Decimal
    rule: ClaimRule
    runs: tuple[str, ...] = ()

    @property
    def amount(self) -> Decimal:
        """Quantity x unit price, to the cent."""
        return round_money(self.quantity * float(self.unit_price))


@dataclass(frozen=True)
class BaselineHead:
    """What a baseline is of; ``changes`` are the numbers of the agreed changes in it."""

    number: int
    reason: str
    changes: tuple[str, ...]
    estimate_date: dt.date
    start: dt.date
    finish: dt.date
    deadline: dt.date | None
    system: UnitSystem
    currency: str
    checksum: str
    labor_hours: float
    cost: Decimal
    price: Decimal


@dataclass(frozen=True)
class Baseline:
    """The job as awarded: by day, by run, and what no joint earns."""

    head: BaselineHead
    days: tuple[BaselineDay, ...]
    runs: tuple[BaselineRun, ...]
    lump_sums: tuple[LumpSum, ...]
    items: tuple[BaselineItem, ...] = ()

    @cached_property
    def by_run(self) -> Mapping[str, BaselineRun]:
        """The runs by their names."""
        return {run.run_id: run for run in self.runs}

    @property
    def labor_hours(self) -> float:
        """Labor-hours at completion, added up over the runs."""
        return sum(run.labor_hours for run in self.runs)

    @property
    def cost(self) -> Decimal:
        """Cost at completion, added up over runs and lump sums."""
        return sum([run.cost for run in self.runs] + [one.cost for one in self.lump_sums],
                   Decimal(0))  # fmt: skip

    @property
    def labor_rate(self) -> float:
        """Labor cost of an hour as planned, 0 without hours."""
        labor = float(sum((run.labor for run in self.runs), Decimal(0)))
        return labor / self.labor_hours if self.labor_hours else 0.0

    @property
    def joints(self) -> int:
        """Butt joints at completion."""
        return sum(run.pieces[kind] for run in self.runs for kind in BUTT_PIECES)

    def planned_joints(self, date: dt.date) -> int:
        """Return the butt joints planned up to the end of a date."""
        return sum(
            day.pieces.get(kind, 0) for day in self.days if day.date <= date for kind in BUTT_PIECES
        )

    def planned_hours(self, date: dt.date) -> float:
        """Return the labor-hours planned to be earned up to the end of a date."""
        return sum(day.labor_hours for day in self.days if day.date <= date)

    def planned_cost(self, date: dt.date) -> Decimal:
        """Return the cost planned to be earned up to the end of a date."""
        work = (day.cost for day in self.days if day.date <= date)
        lumps = (one.planned(date) for one in self.lump_sums)
        return sum([*work, *lumps], Decimal(0))
