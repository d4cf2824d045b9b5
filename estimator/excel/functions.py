"""The cell functions: one-line shells over the estimator, for any sheet of a workbook.

Each takes one cell or whole columns, see ``cell_function``. Its text and those of its arguments
appear in the function wizard, so they are short and plain.
"""

from estimator.display import UnitSystem, convert, describe
from estimator.equipment.rental_tiers import cheapest_mix
from estimator.excel.cell_functions.support import BLANK, FunctionHelp, cell_function, help_of
from estimator.joint import cycle, machines
from estimator.joint.fusion import fusion_parameters, gauge_mpa, heater_c
from estimator.joint.geometry import min_wall_mm, pipe_geometry, pipe_od_mm
from estimator.joint.takeoff import Takeoff, count_joints
from estimator.models.equipment import Machine
from estimator.models.joint import FusionParameters, PipeGeometry
from estimator.models.rates import MoneyRate
from estimator.models.sized_run import CycleElement
from estimator.power.load import Consumers, Site, electric_load, heater_kw, rated_output_kw
from estimator.units import from_si, to_si

MATERIAL = "PE4710"
"""Measures and weights of a pipe are the same for every material of the tables."""

MILD_C = 20.0
"""Air temperature for figures that do not depend on it."""

PREFIX = "PE_"


OLD_NAMES = frozenset({"PE_CREW_HOURS"})
"""Earlier names of functions: workbooks that use them still calculate, help leaves them out."""


def catalog(*, old: bool = False) -> tuple[FunctionHelp, ...]:
    """Return the help of every cell function, in the order of the work; of old names if asked."""
    return tuple(
        help_of(made)
        for name, made in globals().items()
        if name.startswith(PREFIX) and (name in OLD_NAMES) == old
    )


def _pipe(od_system: str, size: str, dr: float) -> PipeGeometry:
    return pipe_geometry(od_system, size, dr, MATERIAL)


def _fusion(pipe: PipeGeometry, method: str, ambient_c: float = MILD_C) -> FusionParameters:
    return fusion_parameters(method, pipe.od_mm, pipe.wall_mm, ambient_c)


def _minutes(seconds: float) -> float:
    return from_si(seconds, "min")


@cell_function
def PE_OD(od_system: str, size: str, units: UnitSystem = BLANK) -> float:
    """Outside diameter of a pipe, in or mm."""
    return convert(pipe_od_mm(od_system, size), "small_length", units)


@cell_function
def PE_WALL(od_system: str, size: str, dr: float, units: UnitSystem = BLANK) -> float:
    """Minimum wall of a pipe, in or mm."""
    return convert(min_wall_mm(od_system, size, dr), "small_length", units)


@cell_function
def PE_ID(od_system: str, size: str, dr: float, units: UnitSystem = BLANK) -> float:
    """Average inside diameter of a pipe, in or mm."""
    return convert(_pipe(od_system, size, dr).id_mm, "small_length", units)


@cell_function
def PE_WEIGHT(od_system: str, size: str, dr: float, units: UnitSystem = BLANK) -> float:
    """Weight of a pipe with its average wall, lb/ft or kg/m."""
    return convert(_pipe(od_system, size, dr).weight_kg_m, "weight_per_length", units)


@cell_function
def PE_JOINTS(
    length: tuple[float, ...],
    stick_length: float,
    elbows: int = BLANK,
    tees: int = BLANK,
    reducers: int = BLANK,
    caps: int = BLANK,
    adapters: int = BLANK,
    tie_ins: int = BLANK,
    fitting_rule: str = BLANK,
) -> int:
    """Butt joints of a run: sticks less one for each segment, fittings and tie-ins added."""
    takeoff = Takeoff(
        segments_m=length,
        stick_length_m=stick_length,
        elbows=elbows,
        tees=tees,
        reducers=reducers,
        caps=caps,
        flange_adapters=adapters,
        tie_ins=tie_ins,
    )
    return count_joints(takeoff, fitting_rule).butt_joints


@cell_function
def PE_BEAD(
    od_system: str, size: str, dr: float, method: str = BLANK, units: UnitSystem = BLANK
) -> float:
    """Smallest melt bead before the heater comes out, in or mm."""
    bead_mm = _fusion(_pipe(od_system, size, dr), method).bead_min_mm
    return convert(bead_mm, "small_length", units)


@cell_function
def PE_SOAK(od_system: str, size: str, dr: float, method: str = BLANK) -> float:
    """Heat soak of a joint, minutes."""
    return _minutes(_fusion(_pipe(od_system, size, dr), method).soak_s)


@cell_function
def PE_OPEN_CLOSE(od_system: str, size: str, dr: float, method: str = BLANK) -> float | None:
    """Longest time from heater out to faces together, seconds."""
    return _fusion(_pipe(od_system, size, dr), method).open_close_max_s


@cell_function
def PE_COOL(
    od_system: str,
    size: str,
    dr: float,
    method: str = BLANK,
    ambient: float = BLANK,
    units: UnitSystem = BLANK,
) -> float:
    """Shortest cooling under pressure, minutes. Units are those of the air temperature."""
    return _minutes(_fusion(_pipe(od_system, size, dr), method, ambient).cool_s)


@cell_function
def PE_GAUGE(
    od_system: str,
    size: str,
    dr: float,
    piston_area: float,
    drag: float,
    method: str = BLANK,
    units: UnitSystem = BLANK,
) -> float:
    """Gauge pressure at nominal interfacial pressure, drag included, psi or bar."""
    pipe = _pipe(od_system, size, dr)
    nominal_mpa = _fusion(pipe, method).interfacial_mpa[1]
    gauge = gauge_mpa(pipe.joint_area_mm2, nominal_mpa, piston_area, drag)
    return convert(gauge, "pressure", units)


@cell_function
def PE_CYCLE(
    od_system: str,
    size: str,
    dr: float,
    handling_minutes: float,
    method: str = BLANK,
    ambient: float = BLANK,
    efficiency: float = BLANK,
    units: UnitSystem = BLANK,
) -> float:
    """Minutes of one joint: handling / efficiency + heat soak + cooling."""
    fusion = _fusion(_pipe(od_system, size, dr), method, ambient)
    handling = CycleElement(
        task="handling", minutes=handling_minutes / efficiency, paced_by="crew", hidden=False
    )
    soak_min, cool_min = _minutes(fusion.soak_s), _minutes(fusion.cool_s)
    return cycle.joint_time((handling,), soak_min, cool_min, machines=1).cycle_min


@cell_function
def PE_SHIFT_JOINTS(cycle_min: float, shift_hours: float, lost_min: float) -> int:
    """Whole joints of a shift: (shift - lost minutes) / cycle, rounded down."""
    working_min = _minutes(to_si(shift_hours, "h")) - lost_min
    return cycle.whole_joints(working_min, cycle_min)


@cell_function
def PE_LABOR_HOURS(
    joints: int, joints_per_shift: float, shift_hours: float, people: float
) -> float:
    """Paid hours of all people for these joints in whole shifts, without moves and hydrotests."""
    return cycle.shift_labor_hours(joints, joints_per_shift, shift_hours, people)


@cell_function
def PE_CREW_HOURS(joints: int, joints_per_shift: float, shift_hours: float, people: float) -> float:
    """Earlier name of PE_LABOR_HOURS: paid hours of all people, not of the crew on the clock."""
    return cycle.shift_labor_hours(joints, joints_per_shift, shift_hours, people)


@cell_function
def PE_MACHINE(
    od_system: str,
    size: str,
    dr: float,
    machines_range: tuple[Machine, ...],
    method: str = BLANK,
    placement: str = BLANK,
    drag_allowance: float = BLANK,
    units: UnitSystem = BLANK,
) -> str:
    """Machine class that can make the joint at the lowest four-week rate, or why none can."""
    pipe = _pipe(od_system, size, dr)
    fusion = _fusion(pipe, method)
    spot, demand = machines.Spot(placement), machines.Demand(drag_allowance)
    choice = machines.choose_machine(machines_range, spot, pipe, fusion, demand)
    if choice is not None:
        return choice.class_id
    miss = machines.closest_miss(machines_range, spot, pipe, fusion, demand)
    return (
        f"no class fits; closest {miss.class_id}: {describe(miss, units)}"
        if miss
        else "no machines"
    )


@cell_function
def PE_HEATER_KW(
    plate_mass: float,
    warm_up_minutes: float,
    method: str = BLANK,
    ambient: float = BLANK,
    units: UnitSystem = BLANK,
) -> float:
    """Heater power that warms an aluminum plate to the method's temperature in that time, kW."""
    return heater_kw(plate_mass, warm_up_minutes, ambient, heater_c(method))


@cell_function
def PE_GENERATOR_KW(
    heater_kw: float,
    facer_kw: float,
    pump_kw: float,
    elevation: float = BLANK,
    ambient: float = BLANK,
    margin: float = BLANK,
    start_multiple: float = BLANK,
    units: UnitSystem = BLANK,
) -> float:
    """Rated output that a generator needs for one machine, kW.

    Covers running load with margin and motor start, at the site's derating by steps. Motors draw
    their output by 0.85. Lights and small tools: add them to heater_kw.
    """
    site = Site(elevation, ambient, margin, start_multiple)
    load = electric_load(Consumers(heater_kw, facer_kw, pump_kw), site)
    return rated_output_kw(load, site)


@cell_function
def PE_RENTAL(
    days: int, day_rate: MoneyRate, week_rate: MoneyRate, four_week_rate: MoneyRate
) -> float:
    """Least rent of a span in days, weeks of 7 and four-weeks of 28 calendar days."""
    rates = (day_rate.amount, week_rate.amount, four_week_rate.amount)
    return cheapest_mix(days, *rates).cost
