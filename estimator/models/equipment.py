"""What can be rented: fusion machines, generators and lifting gear.

Small lengths and diameters are mm, areas mm2, pressures MPa, masses kg, power kW, fuel L/h.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import ClassVar, Literal

from estimator.models.base import RenamedModel
from estimator.models.power import EngineKind, SupplyName
from estimator.models.rates import MoneyRate


class RentalItem(RenamedModel):
    """What every rented class has in common."""

    OLD_NAMES: ClassVar[Mapping[str, str]] = MappingProxyType(
        {
            "transport_mass": "transport_mass_kg",
            "od_min": "od_min_mm",
            "od_max": "od_max_mm",
            "piston_area": "piston_area_mm2",
            "min_gauge": "min_gauge_mpa",
            "max_gauge": "max_gauge_mpa",
            "plate_mass": "plate_mass_kg",
            "fuel_rate": "fuel_rate_l_h",
            "fuel_half": "fuel_half_l_h",
            "fuel_full": "fuel_full_l_h",
            "fuel_quarter": "fuel_quarter_l_h",
            "capacity": "capacity_kg",
        }
    )

    class_id: str
    day_rate: MoneyRate
    week_rate: MoneyRate
    four_week_rate: MoneyRate
    delivery: MoneyRate
    stock: int
    transport_mass_kg: float | None = None
    basis: str | None = None


class Machine(RentalItem):
    """A class of butt fusion machine."""

    TABLE: ClassVar[str] = "machines"
    ROW: ClassVar[str] = "class_id"

    description: str | None = None
    od_min_mm: float
    od_max_mm: float
    drive: Literal["manual", "hydraulic"]
    piston_area_mm2: float | None = None
    min_gauge_mpa: float | None = None
    max_gauge_mpa: float | None = None
    heater_kw: float
    plate_mass_kg: float
    facer_kw: float
    pump_kw: float
    supply: SupplyName | None = None
    motor_letter: str | None = None
    self_powered: bool
    fuel_rate_l_h: float | None = None
    placements: tuple[str, ...]


class Generator(RentalItem):
    """A class of diesel generator."""

    TABLE: ClassVar[str] = "generators"
    ROW: ClassVar[str] = "class_id"

    rated_kw: float
    fuel_half_l_h: float
    fuel_full_l_h: float
    fuel_quarter_l_h: float | None = None
    power_factor: float = 0.8
    reactance: float = 0.2
    engine: EngineKind = "naturally aspirated"


class Lifter(RentalItem):
    """A class of lifting gear."""

    TABLE: ClassVar[str] = "lifting"
    ROW: ClassVar[str] = "class_id"

    description: str | None = None
    capacity_kg: float
    fuel_rate_l_h: float
