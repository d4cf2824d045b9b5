"""What a supplier is asked for: capability and dates, no class and no price of ours."""

import datetime as dt

from estimator.data_class import dataclass
from estimator.models.rental import RentalKind


@dataclass(frozen=True)
class MachineNeed:
    """What a fusion machine must do.

    ``force_n`` is what the ends need at the top of the interfacial pressure range, without drag;
    ``gauge_mpa`` is what a gauge must show with drag, from the least to the most, at the piston
    area of our own class; None for a lever. ``od_systems`` are those of its pipe, ``sizes`` those
    that it needs inserts for, each with its system; those of small ends of reducers too.
    ``supply`` is what our own class of it runs on, empty where it has its own power.
    """

    od_mm: tuple[float, float]
    dr: tuple[float, float]
    od_systems: tuple[str, ...]
    force_n: float
    gauge_mpa: tuple[float, float] | None
    piston_area_mm2: float | None
    sizes: tuple[tuple[str, str], ...]
    supply: str
    own_power: bool


@dataclass(frozen=True)
class PowerWanted:
    """What a generator must carry: running load, motor start, dip, height and heat of the site.

    ``supply`` names each supply of the machines that it feeds.
    """

    running_kw: float
    running_kva: float
    starting_kw: float
    rated_kw: float
    dip: float
    supply: str
    elevation_m: float
    hottest_c: float


@dataclass(frozen=True)
class LiftNeed:
    """What lifting equipment must carry: the heaviest stick with the reserve, and its length."""

    mass_kg: float
    stick_m: float


@dataclass(frozen=True)
class RequestLine:
    """One line of a request: what it must do, how many, from when to when.

    Off rent may move between ``earliest_off``, when all days in use can be worked, and
    ``latest_off``. ``engine_h`` are the hours of one engine, ``fuel_l`` what all pieces of the
    planned class burn; ``fuel_price_l`` prices a liter.
    """

    number: int
    kind: RentalKind
    need: MachineNeed | PowerWanted | LiftNeed
    quantity: int
    deliver_by: dt.date
    off_rent: dt.date
    earliest_off: dt.date
    latest_off: dt.date
    work_days: int
    shift_hours: float
    nights: bool
    engine_h: float = 0.0
    fuel_l: float = 0.0
    fuel_price_l: float = 0.0

    @property
    def dates(self) -> tuple[dt.date, dt.date, dt.date, dt.date]:
        """Delivery, off rent as planned, and the days between which that may move."""
        return self.deliver_by, self.off_rent, self.earliest_off, self.latest_off
