"""SI numbers in the user's units, for messages and result sheets."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from estimator.models.plan import Reason
from estimator.units import from_si

UnitSystem = Literal["US", "SI"]

UNIT_LABELS: Mapping[str, Mapping[UnitSystem, str]] = MappingProxyType(
    {
        "length": {"US": "ft", "SI": "m"},
        "segments": {"US": "ft", "SI": "m"},
        "small_length": {"US": "in", "SI": "mm"},
        "area": {"US": "in2", "SI": "mm2"},
        "pressure": {"US": "psi", "SI": "bar"},
        "temperature": {"US": "F", "SI": "C"},
        "mass": {"US": "lb", "SI": "kg"},
        "power": {"US": "kW", "SI": "kW"},
        "volume": {"US": "gal", "SI": "L"},
        "flow": {"US": "gal/min", "SI": "L/s"},
        "fuel_rate": {"US": "gal/h", "SI": "L/h"},
        "weight_per_length": {"US": "lb/ft", "SI": "kg/m"},
        "force": {"US": "lbf", "SI": "kN"},
        "time_per_wall": {"US": "min/in", "SI": "s/mm"},
    }
)
"""Unit shown for each physical kind in each unit system; all are labels of estimator.units."""

FIGURE_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "od_mm": "Outside diameter",
        "wall_mm": "Minimum wall",
        "mean_wall_mm": "Mean wall",
        "id_mm": "Mean inside diameter",
        "weight_kg_m": "Weight",
        "joint_area_mm2": "Joint area",
        "heater_c": "Heater surface",
        "interfacial_mpa": "Interfacial pressure",
        "bead_min_mm": "Bead at least",
        "soak_s": "Heat soak",
        "open_close_max_s": "Open-close at most",
        "ramp_max_s": "Pressure build-up at most",
        "cool_s": "Cool under pressure",
        "rest_s": "Rest before handling",
        "force_n": "Force on the ends",
        "force_range_n": "Force, low to high",
        "gauge_mpa": "Gauge with drag",
        "gauge_range_mpa": "Gauge, low to high",
    }
)
"""What each figure of a joint is called, by its key in the machine-readable results."""

RUNS_NAMED = 6
DECIMALS: Mapping[str, int] = MappingProxyType({"small_length": 3, "force": 1, "power": 1})


def unit_of(kind: str, system: UnitSystem) -> str:
    """Return the unit label of a physical kind."""
    return UNIT_LABELS[kind][system]


def convert(value: float, kind: str, system: UnitSystem) -> float:
    """Return an SI value of a physical kind in the user's unit."""
    return from_si(value, unit_of(kind, system))


def show(value: float, kind: str, system: UnitSystem) -> str:
    """Return an SI value with its unit, as text for a message, to four figures at most.

    >>> show(14.2, "power", "US")
    '14.2 kW'
    """
    shown = convert(value, kind, system)
    digits = DECIMALS.get(kind, 0 if abs(shown) >= 100 else 1)
    text = f"{shown:,.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit_of(kind, system)}"


def describe(reason: Reason, system: UnitSystem) -> str:
    """Return a reason in words, its numbers in the user's units."""
    if not reason.kind:
        return reason.text
    need, limit = (show(v, reason.kind, system) for v in (reason.need, reason.limit))
    return reason.text.replace("{need}", need).replace("{limit}", limit)


def name_runs(run_ids: Sequence[str]) -> str:
    """Return run names for a message, the first few and how many more.

    >>> name_runs(["R1", "R2"])
    'runs R1, R2'
    """
    word = "run" if len(run_ids) == 1 else "runs"
    more = len(run_ids) - RUNS_NAMED
    shown = ", ".join(run_ids[:RUNS_NAMED])
    return f"{word} {shown}" + (f" and {more} more" if more > 0 else "")
