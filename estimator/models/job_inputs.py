"""The Job sheet by its groups: how, when and by which rules the work is done.

Keys are those of the input list, each used once over all groups. Units as in ``models/job.py``.
"""

import datetime as dt
from collections.abc import Mapping
from types import MappingProxyType
from typing import ClassVar, Literal, NamedTuple

from estimator.models.bands import STEPS, BandTimes
from estimator.models.base import Model
from estimator.models.joint import RemovalPlace
from estimator.models.power import DeratingRule, GeneratorSharing
from estimator.models.rates import MoneyRate
from estimator.units import HOUR_MIN, WEEK_HOURS

FleetChoice = Literal["run by run", "least total cost"]
WaitingPay = Literal["not paid", "show-up hours", "full shift"]
NO_WAITING_PAY: WaitingPay = "not paid"
FULL_SHIFT: WaitingPay = "full shift"
RUN_BY_RUN: FleetChoice = "run by run"
LEAST_COST: FleetChoice = "least total cost"


EVERY_RUN = "all"


class SheetInputs(Model):
    """A group of named cells of the Job sheet."""

    TABLE: ClassVar[str] = "job"


class CoverInputs(SheetInputs):
    """Whose job it is, and how its results are shown."""

    job_name: str
    prepared_by: str | None = None
    company: str | None = None
    company_address: str | None = None
    company_license: str | None = None
    company_contact: str | None = None
    bid_to: str | None = None
    bid_number: str | None = None
    bid_revision: int = 0
    estimate_date: dt.date
    figures_old_months: int = 12
    unit_system: Literal["US", "SI"]
    currency: str


class SiteInputs(SheetInputs):
    """Where the work is done."""

    ambient_c: float
    elevation_m: float


class FusionInputs(SheetInputs):
    """Fusion method, and own figures in place of the method's."""

    method: str
    removal_place: RemovalPlace = "field"
    beyond_wall_limit: bool = False
    drag_mpa: float
    own_soak_s_mm: float | None = None
    own_cooling_s_mm: float | None = None
    own_rest_min: float | None = None
    own_interfacial_mpa: float | None = None


class DateInputs(SheetInputs):
    """First and last day of the work, its days of the week, and what a late finish costs."""

    start: dt.date
    deadline: dt.date | None = None
    workdays: str
    look_ahead_from: dt.date | None = None
    liquidated_damages: MoneyRate = MoneyRate(amount=0.0, per="day")


class Idle(NamedTuple):
    """Minutes of every shift in which no joint is worked on."""

    startup_min: float
    wrapup_min: float
    breaks_min: float

    def left_of(self, hours: float) -> float:
        """Return the minutes of a shift of some paid hours that are left for work on joints."""
        return hours * HOUR_MIN - self.startup_min - self.wrapup_min - self.breaks_min


class ShiftInputs(SheetInputs):
    """Paid hours of day and night, what they leave for work, and how fast hands work in them."""

    shift_hours: float
    straight_hours: float
    straight_week_hours: float = WEEK_HOURS
    saturday_multiple: float = 1.0
    sunday_multiple: float = 1.0
    overtime_loss: float = 0.0
    startup_min: float
    wrapup_min: float
    breaks_min: float
    efficiency: float
    band_times: BandTimes = STEPS
    weather_paid_hours: float
    waiting_pay: WaitingPay = NO_WAITING_PAY
    waiting_days: int = 5
    open_hold_days: int = 14
    cool_in_wrapup: bool = False
    night_hours: float = 0.0
    night_slowing: float = 0.1
    night_premium: float = 0.1
    night_rental: float = 1.5

    @property
    def working_min(self) -> float:
        """Minutes of one shift that are left for work on joints."""
        return self.idle.left_of(self.shift_hours)

    @property
    def idle(self) -> Idle:
        """Minutes of every shift in which no joint is worked on."""
        return Idle(self.startup_min, self.wrapup_min, self.breaks_min)

    @property
    def engine_hours(self) -> float:
        """Hours of one shift in which engines run: all but the breaks."""
        return self.shift_hours - self.breaks_min / HOUR_MIN


class ResourceInputs(SheetInputs):
    """How many crews work, and with how much."""

    crews: int
    machines_per_crew: int
    lifters_per_crew: int = 1
    generators_per_crew: GeneratorSharing = "one per machine"

    @property
    def shares_generator(self) -> bool:
        """Whether one generator feeds all machines of a crew."""
        return self.generators_per_crew == "one shared"


class CountingInputs(SheetInputs):
    """Joints at fittings, trial joints and rework joints: how many, and how long they take."""

    fitting_rule: Literal["cut in mid-stick", "set at stick end"]
    fitting_factor: float
    tie_in_factor: float
    test_joint_rule: Literal["none", "job start", "each size", "each size and wall", "each day"]
    test_joint_extra_min: float
    rework_share: float
    rework_extra_min: float


class MoveInputs(SheetInputs):
    """Time between runs, and the rest of a pulled string."""

    machine_move_min: float
    machine_swap_min: float
    relax_hours: float = 0.0


class EquipmentInputs(SheetInputs):
    """Rules by which equipment is chosen and rented."""

    haul_days: int
    lift_reserve: float
    lift_working_share: float
    near_limit: float = 0.1
    fleet_choice: FleetChoice = RUN_BY_RUN


class PowerInputs(SheetInputs):
    """Motors, generators and cables."""

    generator_margin: float
    motor_start_multiple: float
    site_load_kw: float
    derating_rule: DeratingRule = "step rule"
    motor_efficiency: float = 0.85
    motor_power_factor: float = 0.8
    motor_start_power_factor: float = 0.4
    start_dip: float = 0.3
    motor_running_share: float = 0.3
    heater_loss_share: float = 0.3
    cable_length_m: float = 30.0
    cable_drop: float = 0.03


class HydrotestInputs(SheetInputs):
    """Crews and hours of a hydrotest, phase by phase."""

    hydro_crews: int = 1
    hydro_people: int = 2
    hydro_setup_hours: float = 4.0
    hydro_fill_rate_l_s: float = 6.0
    hydro_bleed_hours: float = 1.0
    hydro_raise_hours: float = 1.0
    hydro_expansion_hours: float | None = None
    hydro_hold_hours: float | None = None
    hydro_drain_hours: float = 2.0
    hydro_repeat_share: float = 0.1


class RiskInputs(SheetInputs):
    """How the ranges of the job are drawn."""

    risk_trials: int = 10_000
    risk_seed: int = 1
    risk_share: float = 0.8


class BidInputs(SheetInputs):
    """How the bid is set out."""

    estimate_class: int | None = None
    bid_items: Literal["by size", "by run"] = "by size"
    pipe_items: Literal["with fusion", "own items"] = "with fusion"
    contract_no: str | None = None
    owner_documents: str | None = None
    addenda: str | None = None
    payment_days: int | None = None
    retention: float | None = None
    mobilization_first: float | None = None
    quantity_change: float | None = None
    usual_terms: bool = True


class OptionInputs(SheetInputs):
    """How far the Options sheet looks."""

    option_crews: int = 3
    option_overtime_step_hours: float = 2.0
    option_longest_shift_hours: float = 12.0
    option_days_sooner: int = 14
    outside_rental: float = 1.25


class PageInputs(SheetInputs):
    """Which result sheets are written, on which paper, and what Explain shows."""

    paper: Literal["Letter", "A4"] | None = None
    left_out: tuple[str, ...] | None = None
    explain_run: str | None = None

    def leaves_out(self, sheet: str) -> bool:
        """Return whether a result sheet is not to be filled in."""
        return sheet in (self.left_out or ())

    @property
    def explains_all(self) -> bool:
        """Whether Explain holds every run."""
        return (self.explain_run or "").casefold() == EVERY_RUN


GROUPS: Mapping[str, type[Model]] = MappingProxyType(
    {
        "cover": CoverInputs,
        "site": SiteInputs,
        "fusion": FusionInputs,
        "dates": DateInputs,
        "shift": ShiftInputs,
        "resources": ResourceInputs,
        "counting": CountingInputs,
        "moves": MoveInputs,
        "equipment": EquipmentInputs,
        "power": PowerInputs,
        "hydrotest": HydrotestInputs,
        "risk": RiskInputs,
        "bid": BidInputs,
        "options": OptionInputs,
        "pages": PageInputs,
    }
)
"""Groups of the Job sheet by their name in ``Job``."""

GROUP_OF: Mapping[str, str] = MappingProxyType(
    {key: name for name, model in GROUPS.items() for key in model.model_fields}
)
"""Name of the group that each input of the Job sheet belongs to."""
