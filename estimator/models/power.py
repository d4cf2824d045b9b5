"""What the machines draw, and how each generator class stands up to it."""

from typing import Literal

from estimator.models.base import Model

EngineKind = Literal["naturally aspirated", "turbocharged", "turbocharged and intercooled"]
DeratingRule = Literal["step rule", "ISO 3046 form"]
SupplyName = Literal[
    "1-ph 115 V", "1-ph 230 V", "3-ph 208 V", "3-ph 230 V", "3-ph 460 V",
    "1-ph 230 V 50 Hz", "3-ph 400 V 50 Hz", "1-ph 110 V site",
]  # fmt: skip
GeneratorSharing = Literal["one per machine", "one shared"]


class PowerNeed(Model):
    """Electrical load of one machine of a class with the site load beside it.

    ``starting_kw`` is the whole load while the largest motor starts, ``motor_start_kva`` what
    that motor alone draws. ``derating`` and ``rated_needed_kw`` are those of the set that was
    chosen, of a usual one where the machine has its own power. ``joint_duty_kw`` is the mean
    heat that its hardest joint takes from the heater over a cycle, ``heater_duty`` the share of
    the shift in which the heater draws its full power, ``mean_kw`` the mean load of the shift.
    The cable is from the generator to the machine; ``cable_note`` says why there is none, or
    what is wrong with it.
    """

    running_kw: float
    running_kva: float
    starting_kw: float
    motor_start_kva: float
    start_rule: str
    derating: float
    rated_needed_kw: float
    warm_up_min: float
    joint_duty_kw: float
    heater_duty: float
    mean_kw: float
    current_a: float | None = None
    cable: str | None = None
    cable_drop: float | None = None
    cable_note: str = ""


class SetCheck(Model):
    """How one generator class stands up to the load of one crew.

    ``needed_kw`` is the rating that the deciding check asks for, ``decides`` that check in
    words, ``dip`` the share of the voltage lost when the largest motor starts. ``mean_kw`` and
    ``fuel_l_day`` are those of the mean working day, for the class that was taken.
    """

    crew: int
    class_id: str
    machines: int
    rated_kw: float
    derating: float
    needed_kw: float
    decides: str
    dip: float
    verdict: str
    passes: bool
    mean_kw: float | None = None
    fuel_l_day: float | None = None
