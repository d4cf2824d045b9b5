"""What the user gives: one job with its pipe schedule, fleet, crew, times and rates.

Lengths are m, small lengths and diameters mm, temperatures C, filling L/s, power kW, own soak
and cooling s for each mm of wall. Money stays in the user's own unit (per ft or per m, per gal
or per L), because cents depend on it; ``MoneyRate`` carries that unit.
"""

import datetime as dt
from collections import Counter
from typing import Literal, NamedTuple, Self

from pydantic import model_validator

from estimator.models.bands import SizeBand
from estimator.models.base import Model
from estimator.models.calendar import CrewDates, Hold, Holiday, MonthWeather, OvertimeSpan
from estimator.models.crew import ColdFactor, Role, TaskTime
from estimator.models.equipment import Generator, Lifter, Machine
from estimator.models.joint import RemovalPlace
from estimator.models.power import DeratingRule, GeneratorSharing
from estimator.models.rates import MaterialPrice, MoneyRate, Rates
from estimator.models.risk_ranges import RiskRange
from estimator.units import HOUR_MIN

FleetChoice = Literal["run by run", "least cost over the job"]
RUN_BY_RUN: FleetChoice = "run by run"
LEAST_COST: FleetChoice = "least cost over the job"


class Idle(NamedTuple):
    """Minutes of every shift in which no joint is worked on."""

    startup_min: float
    wrapup_min: float
    breaks_min: float

    def left_of(self, hours: float) -> float:
        """Return the minutes of a shift of some paid hours that are left for work on joints."""
        return hours * HOUR_MIN - self.startup_min - self.wrapup_min - self.breaks_min


class JobFacts(Model):
    """The Job sheet: how, when and by which rules the work is done."""

    job_name: str
    prepared_by: str | None = None
    company: str | None = None
    bid_to: str | None = None
    estimate_date: dt.date
    unit_system: Literal["US", "SI"]
    currency: str
    method: str
    ambient: float
    elevation: float
    start: dt.date
    deadline: dt.date | None = None
    workdays: str
    shift_hours: float
    straight_hours: float
    startup_min: float
    wrapup_min: float
    breaks_min: float
    efficiency: float
    crews: int
    machines_per_crew: int
    fitting_rule: Literal["cut in mid-stick", "set at a stick end"]
    fitting_factor: float
    tie_in_factor: float
    test_joint_rule: Literal["none", "job start", "each size", "each day"]
    test_joint_extra_min: float
    rework_share: float
    remake_extra_min: float
    machine_move_min: float
    machine_swap_min: float
    weather_paid_hours: float
    haul_days: int
    lift_reserve: float
    lift_working_share: float
    lifters_per_crew: int = 1
    near_limit: float = 0.1
    generator_margin: float
    motor_start_multiple: float
    site_load: float
    drag: float
    motor_efficiency: float = 0.85
    motor_power_factor: float = 0.8
    motor_start_power_factor: float = 0.4
    motor_running_share: float = 0.3
    heater_loss_share: float = 0.3
    start_dip: float = 0.3
    derating_rule: DeratingRule = "step rule"
    generators_per_crew: GeneratorSharing = "one per machine"
    cable_length: float = 30.0
    cable_drop: float = 0.03
    removal_place: RemovalPlace = "field"
    own_soak: float | None = None
    own_cooling: float | None = None
    own_rest_min: float | None = None
    own_interfacial: float | None = None
    relax_hours: float = 0.0
    overtime_loss: float = 0.0
    night_hours: float = 0.0
    night_slowing: float = 0.1
    night_premium: float = 0.1
    night_rental: float = 1.5
    hydro_crews: int = 1
    hydro_people: int = 2
    hydro_setup_hours: float = 4.0
    hydro_fill_rate: float = 6.0
    hydro_bleed_hours: float = 1.0
    hydro_raise_hours: float = 1.0
    hydro_expansion_hours: float | None = None
    hydro_hold_hours: float | None = None
    hydro_drain_hours: float = 2.0
    hydro_repeat_share: float = 0.1
    risk_trials: int = 10_000
    risk_seed: int = 1
    risk_share: float = 0.8
    estimate_class: int | None = None
    bid_items: Literal["by size", "by run"] = "by size"
    fleet_choice: FleetChoice = RUN_BY_RUN
    late_charge: MoneyRate = MoneyRate(amount=0.0, per="day")
    option_crews: int = 3
    option_overtime_step: float = 2.0
    option_longest_shift: float = 12.0
    option_days_sooner: int = 14

    @property
    def working_min(self) -> float:
        """Minutes of one shift that are left for work on joints."""
        return self.idle.left_of(self.shift_hours)

    @property
    def idle(self) -> "Idle":
        """Minutes of every shift in which no joint is worked on."""
        return Idle(self.startup_min, self.wrapup_min, self.breaks_min)

    @property
    def engine_hours(self) -> float:
        """Hours of one shift in which engines run: all but the breaks."""
        return self.shift_hours - self.breaks_min / HOUR_MIN

    @property
    def shares_generator(self) -> bool:
        """Whether one generator feeds all machines of a crew."""
        return self.generators_per_crew == "one shared"


class Run(Model):
    """One row of the pipe schedule."""

    run_id: str
    description: str | None = None
    od_system: str
    size: str
    dr: float
    material: str
    length: tuple[float, ...]
    stick_length: float
    placement: str
    string_length: float | None = None
    elbows: int = 0
    tees: int = 0
    reducers: int = 0
    reduce_to: str | None = None
    caps: int = 0
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
    def length_m(self) -> float:
        """Installed length of all segments."""
        return sum(self.length)


def split_names(text: str) -> tuple[str, ...]:
    """Return names that are separated by semicolons.

    >>> split_names("R1; R2")
    ('R1', 'R2')
    """
    return tuple(name.strip() for name in text.split(";") if name.strip())


class Override(Model):
    """One changed input of a scenario; ``value`` is as the job holds it, ``told`` as typed.

    ``key`` is a field of ``JobFacts``, or ``stick_length`` for every run.
    """

    scenario: str
    key: str
    value: str | int | float | dt.date
    told: str
    note: str | None = None
    alternate: bool = False


class Job(Model):
    """Everything one estimate needs, in SI, checked.

    Examples and workbooks are read into this by ``estimator.read_workbook``.
    """

    facts: JobFacts
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
    risk: tuple[RiskRange, ...] = ()
    overtime: tuple[OvertimeSpan, ...] = ()
    crew_dates: tuple[CrewDates, ...] = ()
    holds: tuple[Hold, ...] = ()
    material_prices: tuple[MaterialPrice, ...] = ()

    @model_validator(mode="after")
    def _names_are_used_once(self) -> Self:
        lists = {
            "run": [run.run_id for run in self.runs],
            "machine class": [machine.class_id for machine in self.machines],
            "generator class": [generator.class_id for generator in self.generators],
            "lifting class": [lifter.class_id for lifter in self.lifting],
            "role": [role.role for role in self.crew],
        }
        for what, names in lists.items():
            twice = [name for name, times in Counter(names).items() if times > 1]
            if twice:
                message = f"{what} names: got {', '.join(twice)} more than once, allowed once"
                raise ValueError(message)
        return self
