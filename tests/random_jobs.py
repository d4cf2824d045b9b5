"""Whole workbooks drawn at random from a seed, over all that changes a price."""

import datetime as dt
import random
from collections.abc import Iterator

from estimator.inputs.dictionary import fields
from tests.workbook_factory import WorkbookFactory
from workbook_template.content import table_rows

METHODS = ("f2620", "iso21307-slp", "iso21307-dlp", "iso21307-shp", "dvs2207", "dvs2207-2005")
DEFAULT_TABLES = ("machines", "generators", "lifting", "crew", "size_bands", "task_times",
                  "cold_factors", "material_prices")  # fmt: skip
SIZES = {
    "IPS": ("2", "3", "4", "6", "8", "10", "12", "16", "18", "24"),
    "DIPS": ("4", "6", "8", "12", "16", "20"),
    "ISO": ("63", "90", "110", "160", "250", "315", "400", "560"),
}
NOT_MOVED = ("text", "choice", "choices", "date", "count")
SMALLER = {"IPS": "2", "DIPS": "4", "ISO": "63"}
RATIOS = (9, 11, 13.5, 17, 21)
METRIC_RATIOS = (11, 13.6, 17, 21)
FITTINGS = ("elbows", "tees", "caps", "flange_adapters", "mj_adapters", "branch_saddles",
            "ef_closures", "tie_ins")  # fmt: skip
MATERIALS = ("butt joint consumables", "trial fusion", "electrofusion closure", "bolt-up set",
             "branch saddle")  # fmt: skip
TYPES = ("labor", "equipment", "materials", "other")
OWN_MARKUPS = {
    "overhead_labor": 0.071, "contingency_equipment": 0, "profit_materials": 0.043,
    "profit_other": 0.02,
}  # fmt: skip
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

TRIAL_RULES = ("none", "job start", "each size", "each size and wall", "each day")


def random_workbook(seed: int, wide: bool = False) -> bytes:
    """Return the bytes of an input workbook, the same for the same seed.

    A wide one also moves every other number of the Job and Rates sheets off its default, takes
    hot or cold air and figures of the user's own, and holds a pipe that no table lists.
    """
    return _Draw(random.Random(seed), random.Random(-1 - seed) if wide else None).workbook()


def _other_costs(more: random.Random) -> Iterator[dict]:
    for counted in ("lump sum", "by run", "by length", "by joint"):
        yield {
            "item": f"Cost {counted}", "quantity": more.choice((0.25, 1, 3.5)), "unit": "each",
            "unit_price": round(more.uniform(0, 90), 2), "counted": counted,
            "run": more.choice((None, "ODD")), "cost_type": more.choice(TYPES),
            "subcontract": more.choice(("yes", "no")),
            "bid_item": more.choice((None, "Extra work", "Trial fusions")),
        }  # fmt: skip


def _fitting_prices(more: random.Random, schedule: list[dict]) -> Iterator[dict]:
    """Yield a price of the elbows of some sizes, with none for the others."""
    seen = set()
    for run in schedule:
        size = run["od_system"], run["size"], run["dr"]
        if size not in seen and more.random() < 0.7:
            seen.add(size)
            yield {"kind": "elbow", "od_system": size[0], "size": size[1], "dr": size[2],
                   "price": round(more.uniform(9, 900), 2)}  # fmt: skip


class _Draw:
    """One workbook in the making; every choice comes from one stream."""

    def __init__(self, chance: random.Random, more: random.Random | None) -> None:
        self.chance, self.more = chance, more
        self.system = chance.choice(("US", "SI"))
        self.crews = chance.choice((1, 1, 2, 3))

    def workbook(self) -> bytes:
        tables = {name: table_rows(name, self.system, None) for name in DEFAULT_TABLES}
        for name in ("machines", "generators", "lifting"):
            for row in tables[name]:
                self._rates(row)
        for row in tables["crew"]:
            row["wage"] = self._odd(24, 71, 3)
            row["burden"] = self._odd(0.25, 0.6, 4)
            row["overtime_multiple"] = self.chance.choice((1, 1.5, 1.75, 2))
        tables["schedule"] = [self._run(n) for n in range(1, self.chance.randint(1, 5) + 1)]
        tables["holidays"] = [{"date": dt.date(2027, 5, 31), "holiday": "A day off"}]
        tables["weather"] = [
            {"month": month, "lost_share": self.chance.choice((0, 0.1, 0.25))} for month in MONTHS
        ]
        job = self._job()
        tables["overtime"] = self._overtime(job)
        tables["material_prices"] = [
            {"what": what, **{f"price_{band}": self.chance.choice((None, self._odd(3, 700)))
                              for band in "abcde"}}
            for what in self.chance.sample(MATERIALS, self.chance.randint(0, 4))
        ]  # fmt: skip
        tables["fitting_prices"], tables["other_costs"] = [], []
        tables["scenarios"] = []
        tables["risk"] = []
        named = {"job": job, "rates": self._markups()}
        if self.more is not None:
            self._widen(self.more, named, tables)
        return WorkbookFactory(system=self.system, named=named, tables=tables).build()

    def _widen(self, more: random.Random, named: dict, tables: dict) -> None:
        for table, drawn in named.items():
            for field in fields(table):
                usual = field.default(self.system)
                if field.key in drawn or field.kind in NOT_MOVED or not usual or field.allowed:
                    continue
                drawn[field.key] = round(float(usual) * more.uniform(0.92, 1.08), 4)
        named["job"] |= {
            "ambient_c": more.choice((14, 28, 33) if self.system == "SI" else (55, 84, 92)),
            "own_soak_s_mm": more.choice(
                (None, more.uniform(11, 15) if self.system == "SI" else 4.6)
            ),
            "own_rest_min": more.choice((None, 25)),
            "cool_in_wrapup": more.choice(("yes", "no")),
            "removal_place": more.choice(("field", "shop")),
            "band_times": more.choice(("steps", "between centers")),
            "waiting_pay": more.choice(("not paid", "show-up hours", "full shift")),
        }
        odd = {"run_id": "ODD", "od_system": "OD", "size": more.choice(("335 mm", "13.2 in")),
               "dr": more.choice((11, 14.2)), "material": "PE4710", "segments_m": "133; 71.5",
               "stick_length_m": 12, "placement": "surface",
               "string_length_m": more.choice((None, 60)),
               "elbows": 2, "flange_adapters": 1, "tie_ins": 1, "access_factor": 1.1}  # fmt: skip
        tables["schedule"].append(odd)
        tables["other_costs"] = list(_other_costs(more))
        tables["fitting_prices"] = list(_fitting_prices(more, tables["schedule"]))

    def _odd(self, low: float, high: float, digits: int = 2) -> float:
        return round(self.chance.uniform(low, high), digits)

    def _rates(self, row: dict) -> None:
        day = self._odd(60, 900)
        row["day_rate"] = day
        row["week_rate"] = round(day * self.chance.choice((2.5, 3, 4.2)), 2)
        row["four_week_rate"] = round(row["week_rate"] * self.chance.choice((2.4, 3, 3.6)), 2)
        row["delivery"] = self.chance.choice((0, self._odd(50, 900)))

    def _overtime(self, job: dict) -> list[dict]:
        """Return dates with longer paid shifts than the Job sheet has, none in half of the jobs."""
        if self.chance.random() < 0.5:
            return []
        first = job["start"] + dt.timedelta(days=self.chance.randint(0, 9))
        hours = min(self.chance.choice((11, 13)), 24 - job["night_hours"])
        return [{"from_date": first, "to_date": first + dt.timedelta(days=9), "shift_hours": hours}]

    def _run(self, number: int) -> dict:
        chance = self.chance
        system = chance.choice(("IPS", "DIPS", "ISO"))
        size = chance.choice(SIZES[system])
        metric = system == "ISO"
        run = {
            "run_id": f"R{number}",
            "od_system": system,
            "size": size,
            "dr": chance.choice(METRIC_RATIOS if metric else RATIOS),
            "material": "PE100" if metric else "PE4710",
            "segments_m": chance.choice((self._odd(40, 900, 1), "380; 212.5; 95", "61; 18")),
            "stick_length_m": chance.choice((6, 11.8, 12, 40, 50)),
            "placement": chance.choice(("trench", "surface")),
            "access_factor": chance.choice((None, 1.25, 1.5)),
            "priority": chance.choice((None, 1, 2)),
            "earliest_start": chance.choice((None, None, dt.date(2027, 4, 19))),
            "string_length_m": chance.choice((None, None, 150)),
            "crew": chance.choice((None, None, chance.randint(1, self.crews))),
            "pipe_price": chance.choice((None, self._odd(3, 260))),
            "test_section": chance.choice((None, "TS-1", "TS-2")),
        }
        if number > 1 and chance.random() < 0.4:
            run["after"] = f"R{chance.randint(1, number - 1)}"
        for fitting in chance.sample(FITTINGS, 3):
            run[fitting] = chance.randint(1, 5)
        if chance.random() < 0.3 and size != SMALLER[system]:
            run |= {"reducers": chance.randint(1, 2), "reduce_to": SMALLER[system]}
        return run

    def _job(self) -> dict:
        chance = self.chance
        shift = chance.choice((8, 9.25, 10, 10.75, 12))
        start = dt.date(2027, 3, chance.randint(1, 28))
        soon = start + dt.timedelta(days=chance.randint(2, 12))
        return {
            "job_name": "Drawn at random",
            "unit_system": self.system,
            "currency": chance.choice(("$", "EUR", "£", 'A "B" &')),
            "method": chance.choice(METHODS),
            "estimate_date": dt.date(2027, 1, 4),
            "start": start,
            "deadline": chance.choice((None, soon, dt.date(2028, 4, 30))),
            "workdays": chance.choice(("Mon-Thu", "Mon-Fri", "Mon-Sat", "Mon-Sun", "Sun-Thu")),
            "shift_hours": shift,
            "straight_hours": chance.choice((7.5, 8, shift)),
            "breaks_min": chance.choice((10, 25, 40)),
            "efficiency": chance.choice((0.7, 0.83, 0.91)),
            "crews": self.crews,
            "machines_per_crew": chance.choice((1, 1, 2, 3)),
            "fitting_rule": chance.choice(("cut in mid-stick", "set at stick end")),
            "test_joint_rule": chance.choice(TRIAL_RULES),
            "rework_share": chance.choice((0, 0.015, 0.04)),
            "weather_paid_hours": chance.choice((0, 2, 3.75)),
            "haul_days": chance.choice((0, 1, 3)),
            "lift_working_share": chance.choice((0.33, 0.5, 0.77)),
            "night_slowing": chance.choice((0, 0.15)),
            "fleet_choice": chance.choice(("run by run", "least total cost")),
            "option_crews": 0,
            "risk_trials": 0,
            "overtime_loss": chance.choice((0, 0.12)),
            "night_hours": chance.choice((0, 0, 6.5, 9)),
            "night_premium": chance.choice((0, 0.11)),
            "night_rental": chance.choice((1, 1.5, 1.85)),
            "liquidated_damages": chance.choice((0, self._odd(100, 3000))),
            "generators_per_crew": chance.choice(("one per machine", "one shared")),
            "estimate_class": chance.choice((None, 1, 3, 5)),
            "bid_items": chance.choice(("by size", "by run")),
            "hydro_crews": chance.choice((1, 2)),
            "hydro_people": chance.choice((2, 3)),
            "hydro_repeat_share": chance.choice((0, 0.13)),
        }

    def _markups(self) -> dict:
        chance = self.chance
        return {
            "fuel_price": self._odd(0.9, 6, 3),
            "joint_consumables": self._odd(0, 19),
            "test_joint_cost": self._odd(20, 140),
            "ef_closure_cost": self._odd(90, 800),
            "bolt_up_cost": self._odd(40, 500),
            "saddle_cost": self._odd(40, 400),
            "pipe_waste": self._odd(0, 0.08, 4),
            "mobilization": chance.choice((0, self._odd(900, 30000))),
            "demobilization": self._odd(900, 20000),
            "subsistence": chance.choice((0, self._odd(20, 180))),
            "site_overhead": self._odd(0, 1900),
            "small_tools": self._odd(0, 0.09, 4),
            "office_overhead": self._odd(0, 0.19, 4),
            "contingency": chance.choice((0, self._odd(0.01, 0.2, 4))),
            "profit": chance.choice((0, self._odd(0.02, 0.3, 4))),
            "profit_basis": chance.choice(("markup on cost", "margin on price")),
            "damages_carry": "markups" if self.crews > 1 else "no markup",
            "bond": chance.choice((0, self._odd(0.004, 0.03, 4))),
            "tax": chance.choice((0, 0.19, 0.0825)),
            "damage_waiver": chance.choice((0, self._odd(0.05, 0.15, 4))),
            "rental_day_hours": chance.choice((None, 8, 9.5)),
            "rental_week_hours": chance.choice((40, 50)),
            "rental_four_week_hours": chance.choice((160, 176)),
            "unit_price_step": chance.choice((None, 0.05, 1)),
            "bid_step": chance.choice((None, 1, 25, 100)),
            "hydro_wage": chance.choice((None, self._odd(30, 70))),
            "hydro_equipment": chance.choice((None, self._odd(300, 2000))),
            "hydro_water": chance.choice((None, self._odd(0.001, 0.02, 4))),
            "hydro_disposal": chance.choice((None, self._odd(0.001, 0.02, 4))),
            **(OWN_MARKUPS if self.crews > 1 else {}),
        }
