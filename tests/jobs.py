"""Small whole jobs for tests, built in SI without any workbook."""

import datetime as dt
from typing import Any

from estimator.models.bands import BANDS, SizeBand
from estimator.models.base import Model
from estimator.models.calendar import MonthWeather
from estimator.models.crew import ColdFactor, Role, TaskTime
from estimator.models.equipment import Generator, Lifter, Machine
from estimator.models.job import Job, Run
from estimator.models.job_inputs import GROUPS
from estimator.models.rates import MoneyRate, Rates
from estimator.steps.recorder import step
from estimator.working_time.working_days import MONTH_NAMES


def money(amount: float, per: str = "day") -> MoneyRate:
    return MoneyRate(amount=amount, per=per)


def rental(**changes: Any) -> dict[str, Any]:
    return {
        "day_rate": money(100),
        "week_rate": money(300, "week"),
        "four_week_rate": money(900, "4 weeks"),
        "delivery": money(50, "trip"),
        "stock": 4,
        **changes,
    }


def groups(**changes: Any) -> dict[str, Model]:
    values: dict[str, Any] = {
        "job_name": "Test job",
        "estimate_date": dt.date(2027, 1, 4),
        "unit_system": "SI",
        "currency": "$",
        "method": "f2620",
        "ambient_c": 20.0,
        "elevation_m": 100.0,
        "start": dt.date(2027, 3, 1),
        "workdays": "Mon-Fri",
        "shift_hours": 10.0,
        "straight_hours": 8.0,
        "startup_min": 45.0,
        "wrapup_min": 20.0,
        "breaks_min": 30.0,
        "efficiency": 0.83,
        "crews": 1,
        "machines_per_crew": 1,
        "fitting_rule": "cut in mid-stick",
        "fitting_factor": 1.5,
        "tie_in_factor": 2.0,
        "test_joint_rule": "each size",
        "test_joint_extra_min": 30.0,
        "rework_share": 0.02,
        "rework_extra_min": 30.0,
        "machine_move_min": 30.0,
        "machine_swap_min": 240.0,
        "weather_paid_hours": 2.0,
        "haul_days": 1,
        "lift_reserve": 0.25,
        "lift_working_share": 0.4,
        "generator_margin": 0.25,
        "motor_start_multiple": 3.0,
        "site_load_kw": 1.5,
        "drag_mpa": 0.2,
    }
    values |= changes
    return {
        name: group(**{key: values.pop(key) for key in group.model_fields if key in values})
        for name, group in GROUPS.items()
    } | values


def run(run_id: str = "R1", **changes: Any) -> Run:
    values: dict[str, Any] = {
        "run_id": run_id,
        "od_system": "IPS",
        "size": "8",
        "dr": 11.0,
        "material": "PE4710",
        "segments_m": (300.0,),
        "stick_length_m": 12.0,
        "placement": "trench",
    }
    return Run(**{**values, **changes})


def machine(class_id: str = "M3", **changes: Any) -> Machine:
    values: dict[str, Any] = {
        "class_id": class_id,
        "od_min_mm": 60.0,
        "od_max_mm": 1300.0,
        "drive": "hydraulic",
        "piston_area_mm2": 3000.0,
        "min_gauge_mpa": 0.3,
        "max_gauge_mpa": 25.0,
        "heater_kw": 4.0,
        "plate_mass_kg": 20.0,
        "facer_kw": 1.5,
        "pump_kw": 2.0,
        "self_powered": False,
        "placements": ("any",),
        **rental(),
    }
    return Machine(**{**values, **changes})


TASKS: tuple[tuple[str, str, str, bool, tuple[float, ...]], ...] = (
    ("Set up", "butt joint", "crew", False, (2, 3, 4, 6, 9)),
    ("Load, face and align", "butt joint", "crew", False, (4, 8, 15, 21, 33)),
    ("Bead-up", "butt joint", "machine", False, (0.5, 1, 2, 3, 5)),
    ("Log", "butt joint", "crew", True, (1, 1, 1.5, 1.5, 2)),
    ("Unclamp", "butt joint", "crew", False, (2, 4, 6, 9, 16)),
    ("Electrofusion closure", "electrofusion closure", "crew", False, (45, 75, 150, 240, 300)),
    ("Bolt-up", "bolt-up", "crew", False, (30, 45, 90, 180, 240)),
    ("Saddle", "branch saddle", "crew", False, (40, 50, 60, 75, 90)),
)


def task_times() -> tuple[TaskTime, ...]:
    return tuple(
        TaskTime(
            task=task,
            applies_to=applies_to,
            paced_by=paced_by,
            hidden=hidden,
            **{f"min_{band.lower()}": m for band, m in zip(BANDS, minutes, strict=True)},
        )
        for task, applies_to, paced_by, hidden, minutes in TASKS
    )


def size_bands() -> tuple[SizeBand, ...]:
    limits = (125.0, 330.0, 630.0, 930.0, 2500.0)
    return tuple(
        SizeBand(band=band, od_to_mm=od, size_change_min=20.0 + 10 * i)
        for i, (band, od) in enumerate(zip(BANDS, limits, strict=True))
    )


def role(name: str, heads: float, wage: float) -> Role:
    counts = {f"heads_{band.lower()}": heads for band in BANDS}
    return Role(role=name, **counts, wage=money(wage, "h"), burden=0.42, overtime_multiple=1.5)


def rates(**changes: Any) -> Rates:
    values: dict[str, Any] = {
        "fuel_price": money(1.6, "L"),
        "joint_consumables": money(6, "butt joint"),
        "test_joint_cost": money(60, "test"),
        "ef_closure_cost": money(420, "closure"),
        "bolt_up_cost": money(260, "bolt-up"),
        "saddle_cost": money(180, "saddle"),
        "pipe_waste": 0.02,
        "mobilization": money(8500, "lump sum"),
        "demobilization": money(5000, "lump sum"),
        "subsistence": money(0, "person-day"),
        "site_overhead": money(650, "work day"),
        "small_tools": 0.03,
        "office_overhead": 0.1,
        "contingency": 0.05,
        "profit": 0.12,
        "profit_basis": "markup on cost",
        "bond": 0.01,
        "tax": 0.0,
        "validity_days": 30,
    }
    return Rates(**{**values, **changes})


def job(*runs: Run, machines: tuple[Machine, ...] = (), **changes: Any) -> Job:
    return Job(
        **groups(**changes),
        runs=runs or (run(),),
        machines=machines or (machine(),),
        generators=(
            Generator(
                class_id="G15", rated_kw=15, fuel_half_l_h=2.6, fuel_full_l_h=4.6, **rental()
            ),
            Generator(
                class_id="G60", rated_kw=60, fuel_half_l_h=11.0, fuel_full_l_h=18.2, **rental()
            ),
        ),
        lifting=(
            Lifter(class_id="L1", capacity_kg=500, fuel_rate_l_h=3, **rental()),
            Lifter(class_id="L9", capacity_kg=20000, fuel_rate_l_h=12, **rental()),
        ),
        crew=(role("Operator", 1, 38), role("Laborer", 1.5, 27)),
        size_bands=size_bands(),
        task_times=task_times(),
        cold_factors=(
            ColdFactor(from_c=-46, factor=1.5),
            ColdFactor(from_c=-7, factor=1.1),
            ColdFactor(from_c=4, factor=1.0),
        ),
        holidays=(),
        weather=tuple(MonthWeather(month=m, lost_share=0.0) for m in MONTH_NAMES),
        rates=rates(),
    )


@step("Rate")
def rate(amount: float) -> float:
    return amount


def rate_of(amount):
    """Return a rate of a cost line that is just a number."""
    return rate.worked(amount)
