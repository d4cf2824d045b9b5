"""What can be rented: fusion machines, generators and lifting gear.

Small lengths and diameters are mm, areas mm2, pressures MPa, masses kg, power kW, fuel L/h.
"""

from typing import ClassVar, Literal

from estimator.models.base import Model
from estimator.models.power import EngineKind, SupplyName
from estimator.models.rates import MoneyRate


class RentalItem(Model):
    """What every rented class has in common."""

    class_id: str
    day_rate: MoneyRate
    week_rate: MoneyRate
    four_week_rate: MoneyRate
    delivery: MoneyRate
    stock: int
    transport_mass: float | None = None
    basis: str | None = None


class Machine(RentalItem):
    """A class of butt fusion machine."""

    TABLE: ClassVar[str] = "machines"
    ROW: ClassVar[str] = "class_id"

    description: str | None = None
    od_min: float
    od_max: float
    drive: Literal["manual", "hydraulic"]
    piston_area: float | None = None
    min_gauge: float | None = None
    max_gauge: float | None = None
    heater_kw: float
    plate_mass: float
    facer_kw: float
    pump_kw: float
    supply: SupplyName | None = None
    motor_letter: str | None = None
    self_powered: bool
    fuel_rate: float | None = None
    placements: tuple[str, ...]


class Generator(RentalItem):
    """A class of diesel generator."""

    TABLE: ClassVar[str] = "generators"
    ROW: ClassVar[str] = "class_id"

    rated_kw: float
    fuel_half: float
    fuel_full: float
    fuel_quarter: float | None = None
    power_factor: float = 0.8
    reactance: float = 0.2
    engine: EngineKind = "naturally aspirated"


class Lifter(RentalItem):
    """A class of lifting gear."""

    TABLE: ClassVar[str] = "lifting"
    ROW: ClassVar[str] = "class_id"

    description: str | None = None
    capacity: float
    fuel_rate: float
