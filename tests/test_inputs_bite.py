"""Every input matters: moved away from its value where it counts, some figure changes.

Inputs that change no figure are marked so in the input list: those that result sheets show, and
texts on which no result rests.
"""

import dataclasses
import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial
from itertools import zip_longest
from typing import Any

import pytest

from estimator.errors import InputError
from estimator.inputs.dictionary import SHEETS, Field, fields, input_tables
from estimator.models.base import Model
from estimator.models.bid_inputs import BidTerm, OwnerItem
from estimator.models.calendar import CrewDates, Hold, Holiday, OvertimeSpan
from estimator.models.crew import Role
from estimator.models.equipment import Generator, Lifter, Machine
from estimator.models.job import Job, Override, Run
from estimator.models.kinds import MARKUP_TYPES
from estimator.models.places import Places
from estimator.models.priced_items import FittingPrice, OtherCost
from estimator.models.rates import MaterialPrice, MoneyRate
from estimator.models.risk_ranges import RiskRange
from estimator.models.study import Study
from estimator.steps.recorder import Worked
from estimator.study import study
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from tests.jobs import job, machine, money, rental, run

PARTS = {"schedule": "runs", "risk": "risk_ranges"}
Place = tuple[str, str]


def day(number: int, month: int = 3) -> dt.date:
    return dt.date(2027, month, number)


@cache
def base() -> Job:
    """A small job in which nearly every input counts."""
    runs = (
        run("R1", segments_m=(610.0, 95.0), elbows=3, tees=1, reducers=1, reduce_to="6",
            caps=1, flange_adapters=2, mj_adapters=2, branch_saddles=2, ef_closures=1, tie_ins=3,
            string_length_m=120.0, access_factor=1.2, test_section="T1", pipe_price=money(30, "m")),
        run("R2", size="12", segments_m=(420.0,), placement="pullback", string_length_m=210.0,
        tie_ins=2,
            test_section="T1", earliest_start=day(15)),
    )  # fmt: skip
    dearer = rental(day_rate=money(150), week_rate=money(450, "week"),
                    four_week_rate=money(1300, "4 weeks"))  # fmt: skip
    fleet = (
        machine("M2", od_min_mm=90.0, od_max_mm=260.0, piston_area_mm2=2000.0, supply="3-ph 460 V",
                motor_letter="G", transport_mass_kg=900.0),
        machine("M3", od_min_mm=200.0, od_max_mm=460.0, supply="3-ph 460 V", motor_letter="G",
        **dearer),
    )  # fmt: skip
    made = job(*runs, machines=fleet, deadline=day(20), liquidated_damages=money(500),
               option_crews=0, risk_trials=0, elevation_m=1500.0)  # fmt: skip
    prices = {"hydro_wage": money(46, "h"), "hydro_equipment": money(650, "test section"),
              "hydro_water": money(0.002, "L"), "hydro_disposal": money(0.002, "L"),
              "rental_day_hours": 8.0}  # fmt: skip
    parts = {
        "rates": made.rates.model_copy(update=prices),
        "generators": (
            Generator(class_id="G15", rated_kw=15, fuel_half_l_h=2.6, fuel_full_l_h=4.6,
            fuel_quarter_l_h=1.5,
                      transport_mass_kg=700.0, **rental()),
            Generator(class_id="G60", rated_kw=60, fuel_half_l_h=11.0, fuel_full_l_h=18.2,
            **rental()),
        ),
        "lifting": (
            Lifter(class_id="L1", capacity_kg=500, fuel_rate_l_h=3, transport_mass_kg=9000.0,
            **rental()),
            Lifter(class_id="L9", capacity_kg=20000, fuel_rate_l_h=12, **rental()),
        ),
        "weather": tuple(row.model_copy(update={"lost_share": 0.1}) for row in made.weather),
        "overtime": (OvertimeSpan(from_date=day(3), to_date=day(5), shift_hours=12.0),),
        "holidays": (Holiday(date=day(8)),),
        "holds": (Hold(run="R1", from_date=day(10), to_date=day(11), cause="permit"),),
        "crew_dates": (CrewDates(crew=1, from_date=day(2)),),
        "material_prices": (
            MaterialPrice(
                what="bolt-up set",
                **{f"price_{b}": money(200, "each") for b in "abcde"},
            ),
        ),
        "fitting_prices": (
            FittingPrice(kind="elbow", od_system="IPS", size="8", dr=11.0, made="molded",
                         price=money(96, "each")),
            FittingPrice(kind="reducer", od_system="IPS", size="8", to_size="6", dr=11.0,
                         price=money(140, "each")),
            FittingPrice(kind="sweep", od_system="IPS", size="8", dr=11.0,
                         price=money(70, "each")),
        ),
        "other_costs": (
            OtherCost(item="Road bore", quantity=30.0, unit="m", unit_price=money(280, "unit"),
                      run="R1", subcontract=True, bid_item="Road bore"),
            OtherCost(item="Permits", quantity=1.0, unit="LS", unit_price=money(900, "unit")),
        ),
        "risk_ranges": (
            RiskRange(factor="productivity", low=0.8, likely=1.0, high=1.5, shape="PERT"),
        ),
        "owner_items": (
            OwnerItem(item="Mobilization", owner_no="10", owner_text="Start", unit="Sum"),
            OwnerItem(item="Demobilization", owner_no="11", price=money(4000, "each")),
        ),
        "bid_terms": (BidTerm(place="condition", text="One lane stays open"),),
        "scenarios": (Override(scenario="S", key="crews", value=2, text="Crews 2"),),
    }  # fmt: skip
    return made.model_copy(update=parts)


def two_runs_alike() -> Job:
    """Two runs of the same class and diameter, so that the machine is moved."""
    return one_machine((run("R1", segments_m=(300.0,)), run("R2", segments_m=(300.0,))))


def two_sizes() -> Job:
    """Two runs of one class and two diameters, so that inserts are changed."""
    return one_machine((run("R1", size="6", segments_m=(300.0,)), run("R2", segments_m=(300.0,))))


def one_machine(runs: tuple[Run, ...]) -> Job:
    update = {"runs": runs, "machines": base().machines[:1], "holds": ()}
    return base().model_copy(update=update)


def in_band(size: str) -> Job:
    """One run of a size in another band, with a bolt-up."""
    big = machine("M9", od_min_mm=60.0, piston_area_mm2=90000.0, min_gauge_mpa=0.0)
    only = run("R1", size=size, segments_m=(120.0,), flange_adapters=1, tie_ins=1)
    return base().model_copy(update={"runs": (only,), "machines": (big,)})


def days_on_rent(meters: float) -> Job:
    only = run("R1", segments_m=(meters,))
    made = base().model_copy(update={"runs": (only,), "holds": (), "overtime": ()})
    return made.changed(haul_days=0)


def on_every_day() -> Job:
    return base().changed(workdays="Mon-Sun")


def by_night() -> Job:
    return base().changed(night_hours=8.0)


def two_crews() -> Job:
    free = tuple(one.model_copy(update={"earliest_start": None}) for one in base().runs)
    made = base().model_copy(update={"runs": free, "crew_dates": (*base().crew_dates, LATER)})
    return made.changed(crews=2)


LATER = CrewDates(crew=2, from_date=day(16))


def two_machines() -> Job:
    return base().changed(machines_per_crew=2)


def no_letter() -> Job:
    plain = tuple(one.model_copy(update={"motor_letter": None}) for one in base().machines)
    return base().model_copy(update={"machines": plain})


def a_wait() -> Job:
    """The crew has nothing to do for some days before its second run."""
    first, second = base().runs
    runs = (first, second.model_copy(update={"earliest_start": day(26)}))
    made = base().model_copy(update={"runs": runs, "holds": ()})
    return made.changed(waiting_pay="full shift", waiting_days=10)


def options() -> Job:
    only = run("R1", segments_m=(900.0,))
    few = base().machines[0].model_copy(update={"stock": 1})
    update = {"runs": (only, run("R2", segments_m=(900.0,))), "machines": (few,), "holds": (),
              "crew_dates": ()}  # fmt: skip
    made = base().model_copy(update=update)
    return made.changed(option_crews=2, option_longest_shift_hours=12.0)


def risky() -> Job:
    return base().changed(risk_trials=300)


def cold() -> Job:
    return base().changed(ambient_c=-10.0)


def iso_3046() -> Job:
    return base().changed(derating_rule="ISO 3046 form")


def no_quarter() -> Job:
    plain = tuple(one.model_copy(update={"fuel_quarter_l_h": None}) for one in base().generators)
    return base().model_copy(update={"generators": plain})


def two_tests() -> Job:
    first, second = base().runs
    return (
        base()
        .model_copy(update={"runs": (first, second.model_copy(update={"test_section": "T2"}))})
        .changed(hydro_setup_hours=90.0)
    )


def wet_july() -> Job:
    rows = list(base().weather)
    rows[6] = rows[6].model_copy(update={"lost_share": 0.4})
    return base().model_copy(update={"weather": tuple(rows)})


def no_material_prices() -> Job:
    return base().model_copy(update={"material_prices": ()})


def fabricated() -> Job:
    first, second = base().runs
    made = first.model_copy(update={"fittings_made": "fabricated"})
    return base().model_copy(update={"runs": (made, second)})


def by_angle() -> Job:
    """Three elbows of 90 degrees, whose price is for that angle alone."""
    first, second = base().runs
    price, *others = base().fitting_prices
    prices = (price.model_copy(update={"angle": 90.0}), *others)
    runs = (first.model_copy(update={"elbow_angles": "90"}), second)
    return base().model_copy(update={"runs": runs, "fitting_prices": prices})


def open_hold() -> Job:
    (hold,) = base().holds
    return base().model_copy(update={"holds": (hold.model_copy(update={"to_date": None}),)})


def relaxing() -> Job:
    return base().changed(relax_hours=72.0)


def thick_wall() -> Job:
    """A wall of 90.9 mm, where ISO 21307 is listed to 70 mm."""
    thick = run("R1", od_system="ISO", size="1000", material="PE100", segments_m=(48.0,))
    big = machine("M9", od_max_mm=1300.0, piston_area_mm2=90000.0, min_gauge_mpa=0.0)
    made = base().model_copy(update={"runs": (thick,), "machines": (big,), "holds": ()})
    return made.changed(method="iso21307-slp", beyond_wall_limit=True)


@dataclasses.dataclass(frozen=True)
class Case:
    """Where an input counts: a job, a row of its table, and the value to which it is moved.

    Without a value it goes a step up, or to the next choice; a function changes the whole job.
    ``refused`` is what is said of a job that cannot be estimated then.
    """

    job: Callable[[], Job] = base
    to: Any = None
    row: int = 0
    refused: str = ""


def exchanged(part: str, key: str, one: int, other: int) -> Callable[[Job], Job]:
    """Return what exchanges a value between two rows, where each may stand once only."""

    def change(whole: Job) -> Job:
        rows = list(getattr(whole, part))
        first, second = getattr(rows[one], key), getattr(rows[other], key)
        rows[one] = rows[one].model_copy(update={key: second})
        rows[other] = rows[other].model_copy(update={key: first})
        return whole.model_copy(update={part: tuple(rows)})

    return change


SMALL, WIDE, GREAT, HUGE = "3", "20", "30", "42"
BANDS = {"a": SMALL, "c": WIDE, "d": GREAT, "e": HUGE}
CASES: dict[Place, Case] = {
    ("job", "beyond_wall_limit"): Case(thick_wall, refused="wall"),
    ("job", "workdays"): Case(to="Mon-Sat"),
    ("job", "startup_min"): Case(to=120.0),
    ("job", "wrapup_min"): Case(to=120.0),
    ("job", "rework_share"): Case(to=0.1),
    ("job", "machine_move_min"): Case(two_runs_alike, 200.0),
    ("job", "night_hours"): Case(to=8.0),
    ("job", "straight_week_hours"): Case(to=20.0),
    ("job", "saturday_multiple"): Case(on_every_day),
    ("job", "sunday_multiple"): Case(on_every_day),
    ("job", "night_slowing"): Case(by_night, 0.6),
    ("job", "night_premium"): Case(by_night),
    ("job", "night_rental"): Case(by_night),
    ("job", "near_limit"): Case(to=0.5),
    ("job", "generator_margin"): Case(to=1.0),
    ("job", "motor_start_multiple"): Case(no_letter, 8.0),
    ("job", "generators_per_crew"): Case(two_machines, "one shared"),
    ("job", "start_dip"): Case(to=0.1),
    ("job", "cable_drop"): Case(to=0.005),
    ("job", "waiting_pay"): Case(a_wait, "not paid"),
    ("job", "waiting_days"): Case(a_wait, 1),
    ("job", "hydro_crews"): Case(two_tests),
    ("job", "risk_trials"): Case(risky),
    ("job", "risk_seed"): Case(risky),
    ("job", "risk_share"): Case(risky, 0.9),
    ("job", "option_crews"): Case(options),
    ("job", "option_overtime_step_hours"): Case(options, 1.0),
    ("job", "option_longest_shift_hours"): Case(options, 16.0),
    ("job", "option_days_sooner"): Case(options),
    ("job", "outside_rental"): Case(options, 2.5),
    ("job", "relax_hours"): Case(to=48.0),
    ("job", "left_out"): Case(to=("Gantt",)),
    ("job", "explain_run"): Case(to="R2"),
    ("schedule", "run_id"): Case(to="R9", row=1),
    ("schedule", "size"): Case(to="10"),
    ("schedule", "placement"): Case(relaxing, "pullback"),
    ("schedule", "reduce_to"): Case(to="4"),
    ("schedule", "joins"): Case(to="R2"),
    ("schedule", "after"): Case(to="R2"),
    ("schedule", "priority"): Case(two_sizes, 1, 1),
    ("schedule", "crew"): Case(two_crews, 2),
    ("schedule", "machine"): Case(to="M3"),
    ("machines", "od_min_mm"): Case(to=225.0),
    ("machines", "drive"): Case(to="manual"),
    ("machines", "min_gauge_mpa"): Case(to=9.9),
    ("machines", "self_powered"): Case(to={"self_powered": True, "fuel_rate_l_h": 2.0}),
    ("machines", "placements"): Case(to=("plant",)),
    ("machines", "day_rate"): Case(lambda: days_on_rent(60.0)),
    ("machines", "week_rate"): Case(lambda: days_on_rent(700.0)),
    ("machines", "stock"): Case(to=0),
    ("generators", "fuel_full_l_h"): Case(no_quarter),
    ("generators", "engine"): Case(iso_3046, "turbocharged"),
    ("generators", "day_rate"): Case(lambda: days_on_rent(60.0)),
    ("generators", "week_rate"): Case(lambda: days_on_rent(700.0)),
    ("generators", "stock"): Case(to=0),
    ("lifting", "day_rate"): Case(lambda: days_on_rent(60.0)),
    ("lifting", "week_rate"): Case(lambda: days_on_rent(700.0)),
    ("lifting", "stock"): Case(to=0),
    ("crew", "further_heads"): Case(two_machines, 0.5),
    ("size_bands", "band"): Case(to=exchanged("size_bands", "band", 0, 1)),
    ("size_bands", "od_to_mm"): Case(to=300.0, row=1),
    ("size_bands", "size_change_min"): Case(two_sizes, 300.0, 1),
    ("cold_factors", "from_c"): Case(to=25.0, row=2),
    ("cold_factors", "factor"): Case(cold, 2.0),
    ("weather", "month"): Case(wet_july, to=exchanged("weather", "month", 2, 6)),
    ("weather", "ambient_c"): Case(to=-20.0, row=2),
    ("weather", "lost_share"): Case(to=0.4, row=2),
    ("overtime", "from_date"): Case(to=day(4)),
    ("job", "open_hold_days"): Case(open_hold, 9),
    ("holds", "run"): Case(to="R2"),
    ("holds", "from_date"): Case(to=day(4)),
    ("crew_dates", "crew"): Case(two_crews, row=1, to=exchanged("crew_dates", "crew", 0, 1)),
    ("crew_dates", "to_date"): Case(two_crews, day(5)),
    ("crew_dates", "machines"): Case(to=2),
    ("scenarios", "scenario"): Case(to="T"),
    ("scenarios", "input"): Case(to={"key": "machines_per_crew"}),
    ("scenarios", "value"): Case(to=1),
    ("rates", "bolt_up_cost"): Case(no_material_prices),
    **{
        ("rates", f"{markup}_{of_type}"): Case(to=0.37)
        for markup in ("overhead", "contingency", "profit")
        for of_type in MARKUP_TYPES
    },
    ("schedule", "fittings_made"): Case(to="fabricated"),
    ("schedule", "elbow_angles"): Case(by_angle, "2 x 90; 1 x 45"),
    ("fitting_prices", "angle"): Case(by_angle, 45.0),
    ("fitting_prices", "kind"): Case(to="cap"),
    ("fitting_prices", "od_system"): Case(to="DIPS"),
    ("fitting_prices", "size"): Case(to="10"),
    ("fitting_prices", "to_size"): Case(to="4", row=1),
    ("fitting_prices", "dr"): Case(to=17.0),
    ("fitting_prices", "made"): Case(fabricated, "fabricated"),
    ("other_costs", "run"): Case(to="R2"),
    ("other_costs", "counted"): Case(to="by joint"),
    ("other_costs", "cost_type"): Case(to="labor", row=1),
    ("owner_items", "item"): Case(to="Trial fusions"),
    ("owner_items", "price"): Case(row=1),
    ("rates", "rental_week_hours"): Case(lambda: days_on_rent(700.0)),
    **{("crew", f"heads_{b}"): Case(partial(in_band, size)) for b, size in BANDS.items()},
    **{("task_times", f"min_{b}"): Case(partial(in_band, size)) for b, size in BANDS.items()},
    **{
        ("material_prices", f"price_{b}"): Case(partial(in_band, size)) for b, size in BANDS.items()
    },
    **{("risk", key): Case(risky) for key in ("low", "likely", "high", "shape", "basis")},
    ("risk", "factor"): Case(risky, "wages"),
}


def inputs() -> Iterator[Field]:
    for table in input_tables():
        yield from fields(table.table)


def value_of(whole: Job, field: Field, row: int) -> Any:
    if field.table == "job":
        return whole.input(field.key)
    if field.table == "rates":
        return getattr(whole.rates, field.key)
    return getattr(getattr(whole, PARTS.get(field.table, field.table))[row], field.key, None)


def with_value(whole: Job, field: Field, row: int, value: Any) -> Job:
    if callable(value):
        return value(whole)
    if field.table == "job":
        return whole.changed(**{field.key: value})
    if field.table == "rates":
        return whole.model_copy(update={"rates": whole.rates.model_copy(update={field.key: value})})
    part = PARTS.get(field.table, field.table)
    rows = list(getattr(whole, part))
    update = value if isinstance(value, dict) else {field.key: value}
    rows[row] = rows[row].model_copy(update=update)
    return whole.model_copy(update={part: tuple(rows)})


def moved(field: Field, value: Any) -> Any:
    """Return another value that the input allows."""
    if field.kind == "money":
        amount = value.amount * 1.3 + 1 if value else 3.0
        per = value.per if value else {"length": "m", "volume": "L"}.get(field.per, field.per)
        return MoneyRate(amount=amount, per=per)
    if field.kind == "choice":
        others = [choice for choice in field.allowed if choice != value]
        return not value if isinstance(value, bool) else others[0]
    if field.kind == "date":
        return (value or day(12)) + dt.timedelta(days=7)
    if field.kind == "count":
        return (value or 0) + 1
    if field.kind == "segments":
        return (*value, 50.0)
    if field.kind in {"text", "size"}:
        return f"other {value}"
    low, high = field.minimum or 0.0, field.maximum or 1e9
    if not value:
        return low + 0.1 * (high - low)
    return value * 1.25 if value * 1.25 <= high else value * 0.8


STUDIED = {"risk", "scenarios"}
INPUT_MODELS = (Job, Run, Machine, Generator, Lifter, Role)


def parts_of(value: Any) -> tuple[str, ...]:
    if isinstance(value, Model):
        return tuple(type(value).model_fields)
    if dataclasses.is_dataclass(value):
        return tuple(part.name for part in dataclasses.fields(value))
    return getattr(value, "_fields", ())


def figures(value: Any) -> Any:
    """Return what a result says, without the inputs and the notes that it carries along."""
    if isinstance(value, INPUT_MODELS):
        return None
    if isinstance(value, Worked):
        return value.value
    names = parts_of(value)
    if names:
        return {name: figures(getattr(value, name)) for name in names if name != "note"}
    if isinstance(value, Mapping):
        return {key: figures(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [figures(each) for each in value]
    return value


def sheets_of(found: Study) -> Iterator[Any]:
    """Yield the values of each result sheet: most inputs change one of the first."""
    names = {key: key for key in RESULT_SHEETS}
    for name, spec in each_sheet(found, Places(), (), names):
        yield name, [[cell and cell.value for cell in row.cells] for row in spec.rows]


@cache
def known(make: Callable[[], Job], *, wide: bool) -> tuple[Job, Study, Any]:
    """Return a job, its study and its figures, worked out once."""
    whole = make()
    found = studied(whole, wide=wide)
    return whole, found, figures(found)


@cache
def known_sheets(make: Callable[[], Job], *, wide: bool) -> list[Any]:
    return list(sheets_of(known(make, wide=wide)[1]))


def studied(whole: Job, *, wide: bool) -> Study:
    return study(whole if wide else whole.model_copy(update={"scenarios": ()}), ranges=wide)


@pytest.mark.parametrize("field", list(inputs()), ids=lambda f: f"{f.table}.{f.key}")
def test_moving_an_input_changes_a_figure(field):
    case = CASES.get((field.table, field.key), Case())
    wide = field.table in STUDIED or field.key.startswith(("option_", "risk_", "outside"))
    here, _, known_figures = known(case.job, wide=wide)
    to = moved(field, value_of(here, field, case.row)) if case.to is None else case.to
    there = with_value(here, field, case.row, to)
    if case.refused:
        with pytest.raises(InputError, match=case.refused):
            studied(there, wide=wide)
        return
    after = studied(there, wide=wide)
    changes = figures(after) != known_figures
    assert changes == (field.use == ""), "no effect" if field.use == "" else "has an effect"
    if field.use == SHEETS:
        pairs = zip_longest(sheets_of(after), known_sheets(case.job, wide=wide))
        assert any(now != before for now, before in pairs), "shown on no sheet"
