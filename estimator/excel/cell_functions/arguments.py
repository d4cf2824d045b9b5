"""Arguments of the cell functions: what each one means and how its cell is read."""

from collections.abc import Mapping
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.excel.cell_functions.reading import Like, MachineTable, Number, Reading, Segments


@dataclass(frozen=True)
class Argument:
    """One argument: its line in the function wizard, and its reading."""

    doc: str
    reading: Reading


MINUTES = Number(0, 14400, "min")
TIMES = Number(0.01, 14400, "min")

ARGUMENTS: Mapping[str, Argument] = MappingProxyType(
    {
        "od_system": Argument(
            "OD system: IPS, DIPS, CTS, ISO, or OD if size is the diameter itself with its unit",
            Like("schedule", "od_system"),
        ),
        "size": Argument(
            "Nominal size as listed: 24, 1-1/4, 110; type a fraction as text",
            Like("schedule", "size"),
        ),
        "dr": Argument(
            "Outside diameter / wall: 11, DR 11, SDR 17 or S 8; not a pressure class",
            Like("schedule", "dr"),
        ),
        "units": Argument(
            "US or SI, for input and result; blank: US",
            Like("job", "unit_system"),
        ),
        "method": Argument(
            "f2620, iso21307-slp, iso21307-dlp, iso21307-shp, dvs2207 or dvs2207-2005; "
            "blank: f2620",
            Like("job", "method"),
        ),
        "ambient": Argument(
            "Air temperature at the joint, F or C; blank: 70 F or 20 C",
            Like("job", "ambient_c"),
        ),
        "efficiency": Argument(
            "Crew efficiency, 0.83 or 83%; divides handling only; blank: 0.83",
            Like("job", "efficiency"),
        ),
        "handling_minutes": Argument(
            "Crew-paced minutes of one joint: load, face, align, bead-up, unclamp, move",
            MINUTES,
        ),
        "piston_area": Argument(
            "Total effective piston area of the machine, in2 or mm2",
            Like("machines", "piston_area_mm2"),
        ),
        "drag": Argument(
            "Pressure that just moves the loaded carriage, psi or bar; measured for every joint",
            Like("job", "drag_mpa"),
        ),
        "drag_allowance": Argument(
            "Drag pressure allowance for planning, psi or bar; blank: 30 psi or 2 bar",
            Like("job", "drag_mpa"),
        ),
        "length": Argument(
            "Installed length; enter several segments as text: 380; 212; 95",
            Segments(Number(0.1, 10_000_000)),
        ),
        "stick_length": Argument(
            "Length of one stick or coil, in the unit of length",
            Number(0.1, 100_000),
        ),
        "elbows": Argument("Elbows; blank: 0", Like("schedule", "elbows")),
        "tees": Argument("Tees; blank: 0", Like("schedule", "tees")),
        "reducers": Argument(
            "Reducers, counted with the larger pipe; blank: 0", Like("schedule", "reducers")
        ),
        "caps": Argument("Caps; blank: 0", Like("schedule", "caps")),
        "adapters": Argument(
            "Flange and MJ adapters, one joint each; blank: 0",
            Like("schedule", "flange_adapters"),
        ),
        "tie_ins": Argument(
            "Butt joints to pipe outside this run; blank: 0", Like("schedule", "tie_ins")
        ),
        "fitting_rule": Argument(
            "cut in mid-stick: an elbow adds 2 joints, a tee 3; set at stick end: one fewer; "
            "blank: cut in mid-stick",
            Like("job", "fitting_rule"),
        ),
        "cycle_min": Argument("Minutes per joint, from one joint to the next", TIMES),
        "shift_hours": Argument("Paid hours of a shift", Like("job", "shift_hours")),
        "lost_min": Argument(
            "Minutes of the shift without joints: startup, breaks, wrap-up, trial fusions", MINUTES
        ),
        "joints": Argument("Butt joints, a whole number", Number(0, 10_000_000, whole=True)),
        "joints_per_shift": Argument("Joints per crew per shift", Number(0.01, 10_000)),
        "people": Argument("People on one crew; fractions allowed", Number(0.01, 1000)),
        "machines_range": Argument(
            "The Machines table with its header row, Machines[#All]; columns by their headers",
            MachineTable(),
        ),
        "placement": Argument(
            (
                "Where the joint is made: trench, surface, pullback, slipline or plant; blank: "
                "trench"
            ),
            Like("schedule", "placement"),
        ),
        "plate_mass": Argument("Heater plate weight, lb or kg", Like("machines", "plate_mass_kg")),
        "warm_up_minutes": Argument("Warm-up time allowed, minutes", TIMES),
        "heater_kw": Argument("Heater, kW", Like("machines", "heater_kw")),
        "facer_kw": Argument("Facer motor shaft output, kW; 0: none", Like("machines", "facer_kw")),
        "pump_kw": Argument(
            "Hydraulic pump motor shaft output, kW; 0: none", Like("machines", "pump_kw")
        ),
        "elevation": Argument(
            "Site elevation, ft or m; blank: 500 ft or 150 m", Like("job", "elevation_m")
        ),
        "margin": Argument(
            "Spare output above the running load, 0.25 or 25%; blank: 0.25",
            Like("job", "generator_margin"),
        ),
        "start_multiple": Argument(
            "Starting load of the largest motor as a multiple of its running load; blank: 3",
            Like("job", "motor_start_multiple"),
        ),
        "days": Argument(
            "Calendar days on rent, first and last included", Number(1, 3660, whole=True)
        ),
        "day_rate": Argument("Day rate", Like("machines", "day_rate")),
        "week_rate": Argument("Week rate", Like("machines", "week_rate")),
        "four_week_rate": Argument("4-week rate", Like("machines", "four_week_rate")),
    }
)
"""Every argument by its name, which means the same in every function."""
