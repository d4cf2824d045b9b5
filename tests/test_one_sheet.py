"""The whole estimate of a small job against a model of plain formulas on one sheet."""

import datetime as dt
import functools
import random
import tempfile
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.models.calendar import Holiday, MonthWeather
from estimator.models.crew import Role
from estimator.models.priced_items import FittingPrice, OtherCost
from estimator.models.rates import MaterialPrice
from estimator.pipeline import estimate
from estimator.working_time.working_days import MONTH_NAMES
from tests import jobs, office, one_sheet_model

money = jobs.money
CELLS = {
    "start": dt.date(2027, 2, 25), "deadline": dt.date(2027, 3, 8), "late_price": 750,
    "shift_h": 10, "straight_h": 8, "week_h": 40, "saturday_multiple": 1.25, "ot_loss": 0.1,
    "startup": 45, "wrapup": 20, "breaks": 30, "efficiency": 0.83, "showup_h": 2,
    "fitting_factor": 1.5, "tie_factor": 2, "trial_extra": 30, "rework_share": 0.02,
    "rework_extra": 30, "move": 30, "swap": 240, "rest": 30, "haul": 1,
    "lift_reserve": 0.25, "lift_share": 0.4, "margin": 0.25, "start_multiple": 3,
    "site_load": 1.5, "motor_efficiency": 0.85, "motor_share": 0.3, "heater_loss": 0.3,
    "test_people": 2, "setup_h": 4, "fill_rate": 6, "bleed_h": 1, "raise_h": 1, "drain_h": 2,
    "repeat_share": 0.1, "test_wage": 46.35, "test_equipment": 655.5, "water_price": 0.0023,
    "disposal_price": 0.0017, "fuel_price": 1.63, "damage_waiver": 0.11, "rental_day_h": 8,
    "consumable": 6.15, "consumable_b": 7.35, "trial_price": 61.7, "closure_price": 423.45,
    "bolt_price": 260.1, "saddle_price": 181.99, "elbow_price": 212.37, "pipe_price": 31.13,
    "pipe_waste": 0.02, "survey_each": 0.5, "survey_price": 1.37, "record_each": 1,
    "record_price": 2.95, "flag_price": 1234.56, "mobilization": 8500, "demobilization": 5000,
    "crew_mobilization": 2950, "crew_overhead": 121.5, "diem": 35.5, "site_day": 651.25,
    "small_tools": 0.03, "overhead": 0.1, "overhead_labor": 0.125, "contingency": 0.05,
    "profit": 0.12, "profit_materials": 0.045, "bond": 0.011, "tax": 0.05, "bid_step": 10,
}  # fmt: skip
RUNS = {
    "name": ["R3", "R1", "R2"], "od_in": [4.5, 8.625, 12.75], "dr": [11, 11, 17],
    "seg1": [250, 300, 400], "seg2": [0, 95, 0], "stick": [12, 12, 12], "string": [0, 120, 0],
    "elbows": [0, 2, 0], "tees": [0, 0, 1], "caps": [0, 1, 0], "flanges": [1, 0, 0],
    "saddles": [0, 0, 1], "closures": [1, 0, 0], "tie_ins": [0, 0, 1], "access": [1, 1.1, 1.05],
    "tested": [0, 1, 1],
}  # fmt: skip
MACHINES = {
    "class": ["M1", "M3"], "heater": [1.5, 9], "facer": [0.75, 1.5], "pump": [1, 2],
    "plate": [6, 20], "day": [61.3, 133.7], "week": [190.45, 401.2], "four": [505.5, 1203.3],
    "trip": [55.25, 95.75],
}  # fmt: skip
GENERATORS = {
    "class": ["G15", "G60"], "kw": [15, 60], "half": [2.6, 11], "full": [4.6, 18.2],
    "day": [42.1, 120.9], "week": [110.3, 340.6], "four": [290.2, 1010.1], "trip": [30.5, 60.5],
}  # fmt: skip
LIFTING = {
    "class": ["L1", "L9"], "capacity": [500, 20000], "fuel": [3, 12], "day": [101.1, 310],
    "week": [303.3, 930], "four": [909.9, 2790], "trip": [51.5, 90],
}  # fmt: skip
CREW = {
    "role": ["Operator", "Laborer"], "a": [1, 1.5], "b": [1, 2], "c": [1, 2.5], "d": [2, 3],
    "e": [2, 4], "wage": [38.45, 27.35], "burden": [0.42, 0.39], "multiple": [1.5, 1.5],
}  # fmt: skip
TASKS = {
    "task": [row[0] for row in jobs.TASKS], "for": [row[1] for row in jobs.TASKS],
    "pace": [row[2] for row in jobs.TASKS],
    "hidden": ["yes" if row[3] else "no" for row in jobs.TASKS],
    **{band: [row[4][n] for row in jobs.TASKS] for n, band in enumerate("abcde")},
}  # fmt: skip
LIMITS, CENTERS = (125, 330, 630, 930, 2500), (62.5, 227.5, 480, 780, 1715)
TABLES = {
    "bands": {"band": list("abcde"), "center": [62.5, 227.5, 480, 780, 1715],
              "change": [20, 30, 40, 50, 60]},
    "months": {"month": [2, 3], "ambient": [-2, 6], "lost": [0.1, 0.25]},
    "cold": {"from": [-46, -7, 4], "factor": [1.5, 1.1, 1]},
    "holidays": {"date": [dt.date(2027, 3, 3)]},
    "tasks": TASKS, "runs": RUNS, "crew": CREW, "machines": MACHINES,
    "generators": GENERATORS, "lifting": LIFTING,
}  # fmt: skip
"""Centers of the size bands: half way up to each upper limit of ``jobs.size_bands``."""


class Inputs:
    """The inputs with some of them changed: cells by name, columns of tables by table."""

    def __init__(self, cells=(), **columns):
        self.cells = CELLS | dict(cells)
        self.tables = {name: table | columns.get(name, {}) for name, table in TABLES.items()}

    def __getitem__(self, name):
        return self.cells[name]

    def rental(self, name, row):
        """Return the rates of a row of a table of equipment."""
        per = {"day": ("day_rate", "day"), "week": ("week_rate", "week"),
               "four": ("four_week_rate", "4 weeks"), "trip": ("delivery", "trip")}  # fmt: skip
        return {key: money(self.tables[name][column][row], unit)
                for column, (key, unit) in per.items()}  # fmt: skip

    def runs(self):
        """Yield the runs of the pipe schedule."""
        table = self.tables["runs"]
        for n, size in enumerate(("4", "8", "12")):
            row = {column: cells[n] for column, cells in table.items()}
            yield jobs.run(
                row["name"], size=size, dr=row["dr"], stick_length_m=row["stick"], priority=n + 1,
                segments_m=tuple(length for length in (row["seg1"], row["seg2"]) if length),
                string_length_m=row["string"] or None, elbows=row["elbows"], tees=row["tees"],
                caps=row["caps"], flange_adapters=row["flanges"], branch_saddles=row["saddles"],
                ef_closures=row["closures"], tie_ins=row["tie_ins"], access_factor=row["access"],
                test_section="T" if row["tested"] else None,
                pipe_price=money(self["pipe_price"], "m") if n == 1 else None,
            )  # fmt: skip

    def machines(self):
        """Yield the two classes: one for the smallest pipe, one for all."""
        table = self.tables["machines"]
        for n, (od_max_mm, area) in enumerate(((130, 600), (1300, 3000))):
            yield jobs.machine(
                table["class"][n], od_max_mm=od_max_mm, piston_area_mm2=area,
                heater_kw=table["heater"][n],
                plate_mass_kg=table["plate"][n], facer_kw=table["facer"][n],
                pump_kw=table["pump"][n], **self.rental("machines", n),
            )  # fmt: skip

    def rates(self):
        """Return the Rates sheet."""
        units = {
            "fuel_price": ("fuel_price", "L"), "joint_consumables": ("consumable", "butt joint"),
            "test_joint_cost": ("trial_price", "test"),
            "ef_closure_cost": ("closure_price", "closure"),
            "bolt_up_cost": ("bolt_price", "bolt-up"), "saddle_cost": ("saddle_price", "saddle"),
            "hydro_wage": ("test_wage", "h"),
            "hydro_equipment": ("test_equipment", "test section"),
            "hydro_water": ("water_price", "L"), "hydro_disposal": ("disposal_price", "L"),
            "crew_mobilization": ("crew_mobilization", "crew"),
            "crew_overhead": ("crew_overhead", "crew-day"), "subsistence": ("diem", "person-day"),
            "site_overhead": ("site_day", "work day"),
            "mobilization": ("mobilization", "lump sum"),
            "demobilization": ("demobilization", "lump sum"),
        }  # fmt: skip
        plain = ("damage_waiver", "overhead_labor", "profit_materials", "bond", "tax", "bid_step",
                 "pipe_waste", "small_tools", "contingency", "profit")  # fmt: skip
        return jobs.rates(
            rental_day_hours=self["rental_day_h"], office_overhead=self["overhead"],
            **{key: money(self[cell], unit) for key, (cell, unit) in units.items()},
            **{key: self[key] for key in plain},
        )  # fmt: skip

    def other_costs(self):
        """Return one cost by length, one by joint and a lump sum."""
        each = {cell: money(self[cell], "unit") for cell in
                ("survey_price", "record_price", "flag_price")}  # fmt: skip
        return (
            OtherCost(item="Survey", quantity=self["survey_each"], unit="m", counted="by length",
                      unit_price=each["survey_price"], subcontract=True),
            OtherCost(item="Records", quantity=self["record_each"], unit="each",
                      unit_price=each["record_price"], counted="by joint", cost_type="materials"),
            OtherCost(item="Flagging", quantity=1, unit="LS", unit_price=each["flag_price"]),
        )  # fmt: skip

    def crew(self):
        """Yield the two roles."""
        table = self.tables["crew"]
        for n, name in enumerate(table["role"]):
            yield Role(
                role=name, wage=money(table["wage"][n], "h"), burden=table["burden"][n],
                overtime_multiple=table["multiple"][n],
                **{f"heads_{band}": table[band][n] for band in "abcde"},
            )  # fmt: skip

    def weather(self):
        """Yield the months; February and March have an air temperature and lost days."""
        table, known = self.tables["months"], ("ambient", "lost")
        for month in MONTH_NAMES:
            row = ("Feb", "Mar").index(month) if month in ("Feb", "Mar") else None
            ambient, lost = (None, 0.0) if row is None else (table[k][row] for k in known)
            yield MonthWeather(month=month, ambient_c=ambient, lost_share=lost)

    def job(self):
        """Return the job, as the estimator takes it."""
        named = {
            "start": "start", "deadline": "deadline", "shift_hours": "shift_h",
            "straight_hours": "straight_h", "straight_week_hours": "week_h",
            "saturday_multiple": "saturday_multiple", "overtime_loss": "ot_loss",
            "startup_min": "startup", "wrapup_min": "wrapup", "breaks_min": "breaks",
            "efficiency": "efficiency", "weather_paid_hours": "showup_h",
            "fitting_factor": "fitting_factor", "tie_in_factor": "tie_factor",
            "test_joint_extra_min": "trial_extra", "rework_share": "rework_share",
            "rework_extra_min": "rework_extra", "machine_move_min": "move",
            "machine_swap_min": "swap", "haul_days": "haul", "lift_reserve": "lift_reserve",
            "lift_working_share": "lift_share", "generator_margin": "margin",
            "motor_start_multiple": "start_multiple", "site_load_kw": "site_load",
            "motor_efficiency": "motor_efficiency", "motor_running_share": "motor_share",
            "heater_loss_share": "heater_loss", "hydro_people": "test_people",
            "hydro_setup_hours": "setup_h", "hydro_fill_rate_l_s": "fill_rate",
            "hydro_bleed_hours": "bleed_h", "hydro_raise_hours": "raise_h",
            "hydro_drain_hours": "drain_h", "hydro_repeat_share": "repeat_share",
        }  # fmt: skip
        base = jobs.job(
            *self.runs(), machines=tuple(self.machines()), workdays="Mon-Sat", ambient_c=10,
            band_times="between centers", risk_trials=0,
            liquidated_damages=money(self["late_price"]),
            **{key: self[cell] for key, cell in named.items()},
        )  # fmt: skip
        rented = {
            name: tuple(
                item.model_copy(update=self.rental(name, n))
                for n, item in enumerate(getattr(base, name))
            )
            for name in ("generators", "lifting")
        }
        prices = {
            "material_prices": (
                MaterialPrice(
                    what="butt joint consumables", price_b=money(self["consumable_b"], "each")
                ),
            ),
            "fitting_prices": (
                FittingPrice(kind="elbow", od_system="IPS", size="8", dr=11,
                             price=money(self["elbow_price"], "each")),
            ),
        }  # fmt: skip
        dates = {"holidays": tuple(Holiday(date=date) for date in self.tables["holidays"]["date"]),
                 "weather": tuple(self.weather())}  # fmt: skip
        priced = {"rates": self.rates(), "other_costs": self.other_costs()}
        crew = {"crew": tuple(self.crew())}
        return base.model_copy(update={**rented, **prices, **dates, **priced, **crew})


def drawn(seed):
    """Return inputs of which many are drawn at random."""
    chance = random.Random(seed)
    pick, some = chance.choice, chance.uniform
    cells = {
        "straight_h": pick((7, 8, 8.5)), "shift_h": pick((9, 10, 11.5)),
        "week_h": pick((35, 40, 44)), "saturday_multiple": pick((1.25, 1.4, 1.75)),
        "ot_loss": pick((0, 0.1, 0.35)), "efficiency": round(some(0.7, 1), 3),
        "fitting_factor": round(some(1, 2), 2), "tie_factor": round(some(1, 3), 2),
        "trial_extra": pick((0, 25, 40)), "rework_share": pick((0, 0.013, 0.045)),
        "move": pick((20, 45)), "swap": pick((120, 380, 500)), "haul": pick((0, 1, 2)),
        "showup_h": pick((2, 4)), "startup": pick((30, 55)), "breaks": pick((0, 30, 45)),
        "heater_loss": pick((0.2, 0.5)), "motor_share": pick((0.2, 0.6)),
        "fill_rate": round(some(4, 9), 2), "repeat_share": pick((0.05, 0.2)),
        "fuel_price": round(some(1, 2), 3), "damage_waiver": pick((0.08, 0.15)),
        "rental_day_h": pick((8, 9)), "site_day": round(some(300, 900), 2),
        "profit": pick((0.08, 0.15)), "bond": pick((0.005, 0.0125)), "bid_step": pick((1, 10, 100)),
        "deadline": dt.date(2027, 3, pick((4, 8, 25))), "pipe_waste": pick((0.01, 0.03)),
    }  # fmt: skip
    table = {
        "seg1": [pick((130, 250)), pick((180, 300)), pick((170, 400))],
        "seg2": [0, pick((0, 60, 95)), 0], "stick": [pick((12, 13.5)), pick((12, 15)), 12],
        "string": [0, pick((0, 90, 120)), pick((0, 144))],
        "elbows": [0, pick((1, 4)), pick((0, 2))],
        "tees": [pick((0, 1)), 0, pick((0, 2))], "saddles": [0, 0, pick((0, 2))],
        "flanges": [pick((0, 2)), 0, 0], "closures": [pick((0, 1)), 0, 0],
        "tie_ins": [0, 0, pick((0, 1, 2))], "access": [1, pick((1, 1.2)), pick((0.95, 1.3))],
    }  # fmt: skip
    months = {"ambient": [pick((-12, -2, 5)), pick((2, 9))], "lost": [0.125, pick((0.1, 0.3))]}
    rental = {"day": [pick((42, 80)), pick((120.9, 160))], "trip": [pick((5.5, 30)), 60.5]}
    return Inputs(cells, runs=table, months=months, generators=rental)


CASES = {
    "as it stands": Inputs(),
    "a change-out that goes on the next day": Inputs({"swap": 480}),
    "a small generator first": Inputs(
        generators={"day": [42.1, 160], "week": [50, 340.6], "trip": [10, 60.5]}
    ),
    "Saturdays above overtime": Inputs({"saturday_multiple": 1.75, "week_h": 35}),
    "long shifts": Inputs({"shift_h": 12, "straight_h": 10, "haul": 2}),
    **{f"drawn {seed}": drawn(seed) for seed in range(8)},
}


@functools.cache
def values_of(case):
    """Return the value of each name of the sheet of a case, as LibreOffice finds it."""
    inputs = CASES[case]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "model.xlsx"
        places = one_sheet_model.write(path, inputs.cells, inputs.tables)
        cells = office.recalculate(path)["Model"]
    return {name: cells.get(place.replace("$", "")) for name, place in places.items()}


def before_faults():
    """Recalculate some sheets, which no fault changes, and return the cases that are ready."""
    ready = ("as it stands", "a change-out that goes on the next day", "drawn 0")
    for case in ready:
        values_of(case)
    return ready


@pytest.fixture(params=CASES, ids=list(CASES))
def both(request):
    """Return the estimate of a case and the values of its sheet."""
    values = values_of(request.param)
    assert not [name for name, value in values.items() if isinstance(value, office.CellError)]
    for must in ("small.fits", "large.needed", "light.lifts"):
        assert values[must] == 1, f"the model does not hold: {must}"
    assert values["rows"] <= one_sheet_model.ROWS
    return estimate(CASES[request.param].job()), values


LINES = {
    **{
        f"{role}, {what}": f"{name}.{plural}"
        for role, plural in (("Operator", "operators"), ("Laborer", "laborers"))
        for what, name in (("wage", "wage"), ("burden", "burden"),
                           ("overtime premium", "overtime"), ("Saturday premium", "saturday"))
    },
    "Small tools": "small_tools_sum", "Damage waiver": "waiver", "Diesel fuel": "fuel",
    "Butt fusion consumables, size band A": "consumables.A",
    "Butt fusion consumables, size band B": "consumables.B",
    "Trial fusions, size band A": "trials.A", "Trial fusions, size band B": "trials.B",
    "Electrofusion closures, size band A": "closures", "Bolt-up sets, size band A": "bolts",
    "Branch saddles, size band B": "saddles", "Run R1: elbow, 8 in IPS DR 11": "elbows",
    "Pipe of run R1, 8 in IPS DR 11": "pipe.R1", "Survey": "survey", "Records": "records",
    "Flagging": "flagging", "Hydrotest labor": "test.labor",
    "Hydrotest labor, expected repeats": "test.repeat", "Hydrotest equipment": "test.equipment",
    "Test water": "test.water", "Test water disposal": "test.disposal",
    "Mobilization": "mobilization", "Demobilization": "demobilization",
    "Mobilization of crews": "crew_up", "Overhead of crews": "crew_days", "Per diem": "per_diem",
    "Jobsite overhead": "site", "Per diem, hydrotest crews": "test.per_diem",
    "Jobsite overhead, hydrotest days": "test.site", "Liquidated damages": "late",
}  # fmt: skip
RENTED = {"m1": "Fusion machine M1", "m3": "Fusion machine M3", "l1": "Lifting equipment L1",
          "g15": "Generator G15", "g60": "Generator G60", "g60b": "Generator G60"}  # fmt: skip
PARTS = {"day_rent": "day rate", "week_rent": "week rate", "four_rent": "4-week rate",
         "trips": "delivery trips", "day_beyond": "excess hours",
         "week_beyond": "excess hours", "four_beyond": "excess hours"}  # fmt: skip


def to_cents(value):
    return Decimal(str(round(value, 2)))


def lines_of(values):
    """Return the amounts of the sheet by the items of the cost lines, without zeros."""
    found = Counter({item: to_cents(values[name]) for item, name in LINES.items()})
    unused = {"g60"} if values["two"] else {"g15", "g60b"}
    for name, item in RENTED.items():
        if name not in unused:
            for part, words in PARTS.items():
                found[f"{item}, {words}"] += to_cents(values[f"{name}.{part}"])
    return {item: amount for item, amount in found.items() if amount}


def test_every_cost_line_agrees_to_the_cent(both):
    found, values = both
    ours = Counter()
    for line in found.cost_lines:
        ours[line.item] += line.amount
    assert {item: amount for item, amount in ours.items() if amount} == lines_of(values)


def test_the_markup_chain_agrees_to_the_cent(both):
    found, values = both
    bid = found.bid
    names = {"job_cost": bid.job_cost, "overhead_sum": bid.office_overhead,
             "contingency_sum": bid.contingency, "profit_sum": bid.profit,
             "before_bond": bid.price_before_bond, "price": bid.price,
             "total": bid.total}  # fmt: skip
    assert {name: to_cents(values[name]) for name in names} == names


def test_every_day_of_the_plan_agrees(both):
    """Minutes of each run on each paid day, people, hours, and the last hydrotest."""
    found, values = both
    table = one_sheet_model.rows_of(values, "paid")
    sheet = {
        row["date"]: [row["min1"], row["min2"], row["min3"], row["operators"], row["laborers"],
                      row["straight"], row["over"]]
        for row in table if row["paid"]
    }  # fmt: skip
    names = ("R3", "R1", "R2")
    ours = {}
    for day in found.plan.crew_days:
        minutes = dict(day.run_minutes) if day.kind == "work" else {}
        serial = (day.date - dt.date(1899, 12, 30)).days
        ours[serial] = [*(minutes.get(name, 0) for name in names), *day.heads,
                        day.straight_hours, day.overtime_hours]  # fmt: skip
    assert sheet.keys() == ours.keys()
    for serial, row in ours.items():
        assert row == pytest.approx(sheet[serial], abs=1e-6), serial
    assert (found.finish - dt.date(1899, 12, 30)).days == values["finish"]


def test_every_run_and_every_item_of_the_bid_agrees(both):
    found, values = both
    for n, name in enumerate(("R3", "R1", "R2"), 1):
        run = found.by_run.by_run[name]
        assert run.labor_hours == pytest.approx(values[f"hours{n}"])
        ours = [run.cost, run.tie_ins, run.own_item, run.price]
        sheet = ("cost", "ties", "item", "price")
        assert ours == [to_cents(values[f"{what}.run{n}"]) for what in sheet], name
    items = {item.key: item.amount for item in found.items}
    named = {
        "Mobilization": "mobilization", "Demobilization": "demobilization",
        "4 in IPS DR 11": "run1", "8 in IPS DR 11 furnished": "run2", "12 in IPS DR 17": "run3",
        "Tie-in joints": "ties", "Trial fusions": "trials", "Hydrostatic testing": "tests",
    }  # fmt: skip
    sheet = {item: to_cents(values[f"amount.{name}"]) for item, name in named.items()}
    assert items == {item: amount for item, amount in sheet.items() if amount}
