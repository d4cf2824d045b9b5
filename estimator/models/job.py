"""What the user gives: one job with its pipe schedule, fleet, crew, times and rates.

Lengths are m, small lengths and diameters mm, temperatures C, filling L/s, power kW, own soak
and cooling s for each mm of wall. Money stays in the user's own unit (per ft or per m, per gal
or per L), because cents depend on it; ``MoneyRate`` carries that unit.
"""

import datetime as dt
import re
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any, ClassVar, Self

from estimator.errors import UnknownNameError, nearest
from estimator.models import job_inputs
from estimator.models.bands import SizeBand
from estimator.models.base import Model, RenamedModel
from estimator.models.bid_inputs import BidTerm, OwnerItem
from estimator.models.calendar import CrewDates, Hold, Holiday, MonthWeather, OvertimeSpan
from estimator.models.crew import ColdFactor, Role, TaskTime
from estimator.models.equipment import Generator, Lifter, Machine
from estimator.models.job_inputs import GROUP_OF
from estimator.models.priced_items import FittingMake, FittingPrice, OtherCost, angles_in
from estimator.models.rates import MaterialPrice, MoneyRate, Rates
from estimator.models.risk_ranges import RiskRange


class Run(RenamedModel):
    """One row of the pipe schedule."""

    TABLE: ClassVar[str] = "schedule"
    ROW: ClassVar[str] = "run_id"
    OLD_NAMES: ClassVar[Mapping[str, str]] = MappingProxyType(
        {
            "length": "segments_m",
            "stick_length": "stick_length_m",
            "string_length": "string_length_m",
        }
    )

    run_id: str
    description: str | None = None
    od_system: str
    size: str
    dr: float
    material: str
    segments_m: tuple[float, ...]
    stick_length_m: float
    placement: str
    string_length_m: float | None = None
    elbows: int = 0
    elbow_angles: str | None = None
    tees: int = 0
    reducing_tees: int = 0
    reducers: int = 0
    reduce_to: str | None = None
    caps: int = 0
    sweeps: int = 0
    fittings_made: FittingMake | None = None
    flange_adapters: int = 0
    mj_adapters: int = 0
    branch_saddles: int = 0
    ef_closures: int = 0
    tie_ins: int = 0
    joins: str | None = None
    access_factor: float = 1.0
    earliest_start: dt.date | None = None
    after: str | None = None
    priority: int | None = None
    crew: int | None = None
    test_section: str | None = None
    pipe_price: MoneyRate | None = None
    machine: str | None = None
    """Class that the schedule asks for."""
    fleet_class: str | None = None
    """Class that the choice over the whole job gives the run; no input."""

    @property
    def joined_runs(self) -> tuple[str, ...]:
        """Names of the runs that the tie-ins of this one are fused to."""
        return split_names(self.joins or "")

    @property
    def followed_runs(self) -> tuple[str, ...]:
        """Names of the runs that must be finished before this one starts."""
        return split_names(self.after or "")

    @property
    def elbows_by_angle(self) -> tuple[tuple[float | None, int], ...]:
        """The elbows by angle in degrees; those of which none is said stand last, at None."""
        said = angles_in(self.elbow_angles or "", self.elbows)
        rest = self.elbows - sum(number for _, number in said)
        return (*said, (None, rest)) if rest else said

    @property
    def small_ends(self) -> int:
        """Joints at the smaller size of reducers and of the branches of reducing tees."""
        return self.reducers + self.reducing_tees

    @property
    def length_m(self) -> float:
        """Installed length of all segments."""
        return sum(self.segments_m)


def by_name(run: Run) -> tuple[tuple[float, str], ...]:
    """Return the place of a run in the order of names, in which R2 comes before R10.

    What depends on an order, and is not given one, takes this: never that of the rows.
    """
    return _place_of(run.run_id)


@lru_cache(maxsize=65_536)
def _place_of(name: str) -> tuple[tuple[float, str], ...]:
    parts = re.split(r"([0-9]+)", name.casefold())
    return tuple((float(part), "") if part.isdecimal() else (-1.0, part) for part in parts if part)


@lru_cache(maxsize=4096)
def split_names(text: str) -> tuple[str, ...]:
    """Return names that are separated by semicolons.

    >>> split_names("R1; R2")
    ('R1', 'R2')
    """
    return tuple(name.strip() for name in text.split(";") if name.strip())


_PIPE_OF = re.compile(r"pipe(?:\s+(?:of|for)\s+(.*))?", re.IGNORECASE | re.DOTALL)


def omitted(text: str) -> tuple[tuple[str, ...], bool]:
    """Return the runs that a scenario omits, and whether only their pipe; no run stands for all.

    >>> omitted("R1; R2"), omitted("pipe of R1"), omitted("Pipe")
    ((('R1', 'R2'), False), (('R1',), True), ((), True))
    """
    pipe = _PIPE_OF.fullmatch(text.strip())
    return split_names(text if pipe is None else pipe[1] or ""), pipe is not None


class Override(Model):
    """One changed input of a scenario; ``value`` is as the job holds it, ``text`` as typed.

    ``key`` is an input of the Job sheet, or ``stick_length_m`` for every run.
    """

    scenario: str
    key: str
    value: str | int | float | dt.date
    text: str
    note: str | None = None
    alternate: bool = False


class DoneRun(Model):
    """What is made and accepted of a run: pieces by kind, as a baseline counts them."""

    run_id: str
    pieces: dict[str, int]


class Job(Model):
    """Everything one estimate needs, in SI, checked.

    Examples and workbooks are read into this by ``estimator.read_workbook``.
    """

    cover: job_inputs.CoverInputs
    site: job_inputs.SiteInputs
    fusion: job_inputs.FusionInputs
    dates: job_inputs.DateInputs
    shift: job_inputs.ShiftInputs
    resources: job_inputs.ResourceInputs
    counting: job_inputs.CountingInputs
    moves: job_inputs.MoveInputs
    equipment: job_inputs.EquipmentInputs
    power: job_inputs.PowerInputs
    hydrotest: job_inputs.HydrotestInputs
    risk: job_inputs.RiskInputs
    bid: job_inputs.BidInputs
    options: job_inputs.OptionInputs
    pages: job_inputs.PageInputs = job_inputs.PageInputs()
    runs: tuple[Run, ...]
    machines: tuple[Machine, ...]
    generators: tuple[Generator, ...]
    lifting: tuple[Lifter, ...]
    crew: tuple[Role, ...]
    size_bands: tuple[SizeBand, ...]
    task_times: tuple[TaskTime, ...]
    cold_factors: tuple[ColdFactor, ...]
    holidays: tuple[Holiday, ...]
    weather: tuple[MonthWeather, ...]
    rates: Rates
    scenarios: tuple[Override, ...] = ()
    risk_ranges: tuple[RiskRange, ...] = ()
    overtime: tuple[OvertimeSpan, ...] = ()
    crew_dates: tuple[CrewDates, ...] = ()
    holds: tuple[Hold, ...] = ()
    material_prices: tuple[MaterialPrice, ...] = ()
    fitting_prices: tuple[FittingPrice, ...] = ()
    other_costs: tuple[OtherCost, ...] = ()
    done: tuple[DoneRun, ...] = ()
    """What is made already of a job that is laid out anew from a status date; no input."""
    owner_items: tuple[OwnerItem, ...] = ()
    bid_terms: tuple[BidTerm, ...] = ()

    def changed(self, **inputs: object) -> Self:
        """Return the job with some inputs of the Job sheet changed.

        Raises
        ------
        UnknownNameError
            If there is no such input.
        """
        groups: dict[str, dict[str, object]] = {}
        for key, value in inputs.items():
            if key not in GROUP_OF:
                raise UnknownNameError("input", key, nearest(key, GROUP_OF) or GROUP_OF)
            groups.setdefault(GROUP_OF[key], {})[key] = value
        return self.model_copy(
            update={
                name: getattr(self, name).model_copy(update=update)
                for name, update in groups.items()
            }
        )

    def input(self, key: str) -> Any:  # noqa: ANN401
        """Return one input of the Job sheet by its key."""
        return getattr(getattr(self, GROUP_OF[key]), key)
