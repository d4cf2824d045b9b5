"""Builds real input workbooks for tests, driven by the data dictionary, tidy or messy.

Change the attributes of ``WorkbookFactory``, then call ``build``. ``where`` gives the cell
a value lands, so that tests can say what a message must name.
"""

import datetime as dt
import io
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import xlsxwriter

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field, InputTable, fields, input_tables
from estimator.workbook.sheet.source import column_letters

FORMATS = {dt.date: "yyyy-mm-dd", dt.datetime: "yyyy-mm-dd hh:mm", dt.time: "hh:mm"}
HEADER_ROW = 5
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Formula:
    """A formula with its saved result; an empty result is one that was never calculated."""

    text: str
    result: Any = ""


@dataclass(frozen=True)
class Styled:
    """A value with a number format."""

    value: Any
    number_format: str


def rented(class_id: str, day: float, **values: Any) -> dict[str, Any]:
    prices = {
        "day_rate": day,
        "week_rate": 3 * day,
        "four_week_rate": 9 * day,
        "delivery": 120,
        "stock": 2,
    }
    return {"class_id": class_id, **prices, **values}


def task(name: str, minutes: float, **values: Any) -> dict[str, Any]:
    bands = {f"min_{band}": minutes * (1 + i) for i, band in enumerate("abcde")}
    rest = {"applies_to": "butt joint", "paced_by": "crew", "hidden": "no", **values}
    return {"task": name, **bands, **rest}


def role(name: str, heads: float, wage: float) -> dict[str, Any]:
    bands = {f"heads_{band}": heads for band in "abcde"}
    return {"role": name, **bands, "wage": wage, "burden": 0.42, "overtime_multiple": 1.5}


def us_job() -> dict[str, Any]:
    return {
        "job_name": "Supply main",
        "estimate_date": dt.date(2027, 1, 4),
        "start": dt.date(2027, 3, 1),
        "deadline": dt.date(2027, 9, 30),
    }


def us_tables() -> dict[str, list[dict[str, Any]]]:
    """A small job in US units, tidy."""
    return {
        "schedule": [
            {"run_id": "R1", "od_system": "IPS", "size": "8", "dr": 11, "segments_m": 1000,
             "stick_length_m": 50, "placement": "trench", "elbows": 2, "reducers": 1,
             "reduce_to": "6", "pipe_price": 21.5},
            {"run_id": "R2", "od_system": "ISO", "size": "110", "dr": "SDR 17",
             "segments_m": "380; 212; 95", "stick_length_m": 40, "placement": "surface",
             "material": "PE100", "string_length_m": 400, "access_factor": 1.25,
             "earliest_start": dt.date(2027, 4, 12), "priority": 1, "crew": 1},
        ],
        "machines": [
            rented("M1", 95, od_min_mm=0.75, od_max_mm=4.5, drive="manual", heater_kw=1.2,
                   plate_mass_kg=8, facer_kw=0.75, pump_kw=0, self_powered="no", placements="any"),
            rented("M3", 290, od_min_mm=4, od_max_mm=14, drive="hydraulic", piston_area_mm2=4.7,
                   min_gauge_mpa=60, max_gauge_mpa=1500, heater_kw=3.5, plate_mass_kg=45,
                   facer_kw=1.1,
                   pump_kw=1.5, self_powered="yes", fuel_rate_l_h=0.8,
                   placements="trench; surface"),
        ],
        "generators": [rented("G15", 80, rated_kw=15, fuel_half_l_h=0.75, fuel_full_l_h=1.3)],
        "lifting": [rented("L1", 310, capacity_kg=2000, fuel_rate_l_h=2)],
        "crew": [role("Operator", 1, 38), role("Laborer", 1.5, 26)],
        "size_bands": [
            {"band": band, "od_to_mm": od, "size_change_min": 20 + i}
            for i, (band, od) in enumerate(zip("ABCDE", (5, 13, 25, 37, 98), strict=True))
        ],
        "task_times": [
            task("Set up", 2),
            task("Log", 1, hidden="yes"),
            task("Closure", 30, applies_to="electrofusion closure"),
        ],
        "cold_factors": [{"from_c": -50, "factor": 1.5}, {"from_c": 40, "factor": 1}],
        "overtime": [{"from_date": dt.date(2027, 9, 6), "to_date": dt.date(2027, 9, 10),
                      "shift_hours": 12}],
        "crew_dates": [{"crew": 1, "from_date": dt.date(2027, 3, 1)}],
        "holds": [{"from_date": dt.date(2027, 4, 13), "to_date": dt.date(2027, 4, 14),
                   "cause": "no pipe"}],
        "holidays": [{"date": dt.date(2027, 7, 5), "holiday": "Summer holiday"}],
        "weather": [{"month": month, "lost_share": 0.1} for month in MONTHS],
        "scenarios": [{"scenario": "Two crews", "input": "Crews", "value": 2}],
        "owner_items": [],
        "bid_terms": [],
        "material_prices": [{"what": "bolt-up set", "price_b": 240, "price_c": 720}],
        "fitting_prices": [
            {"kind": "elbow", "od_system": "IPS", "size": "8", "dr": 11, "price": 96},
            {"kind": "reducer", "od_system": "IPS", "size": "8", "to_size": "6", "dr": 11,
             "price": 140},
        ],
        "other_costs": [
            {"item": "Road bore", "quantity": 120, "unit": "ft", "unit_price": 85,
             "run": "R1", "subcontract": "yes", "bid_item": "Road bore"},
            {"item": "Permits", "quantity": 1, "unit": "LS", "unit_price": 900},
        ],
        "risk": [
            {"factor": "productivity", "low": 0.9, "likely": 1, "high": 1.3, "shape": "PERT"},
            {"factor": "wages", "low": 0.95, "likely": 1, "high": 1.1, "shape": "triangular"},
        ],
    }  # fmt: skip


def typed(item: Field, text: str) -> Any:
    if not text or item.kind in ("text", "choice", "choices", "weekdays", "size", "date"):
        return text or None
    return float(text)


@dataclass
class WorkbookFactory:
    """One workbook to be: what it holds, and how it departs from the tidy layout."""

    system: UnitSystem = "US"
    named: dict[str, dict[str, Any]] = field(default_factory=dict)
    tables: dict[str, list[dict[str, Any]]] = field(default_factory=us_tables)
    units: dict[tuple[str, str], Any] = field(default_factory=dict)
    columns: dict[str, list[str]] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)
    sheet_names: dict[str, str] = field(default_factory=dict)
    sheet_order: tuple[str, ...] = ()
    hidden_rows: dict[str, set[int]] = field(default_factory=dict)
    ranges: set[str] = field(default_factory=set)
    left_out: set[str] = field(default_factory=set)
    shift: tuple[int, int] = (0, 0)
    merged_titles: bool = False
    totals: set[str] = field(default_factory=set)
    options: dict[str, Any] = field(default_factory=dict)
    extra: Callable[[xlsxwriter.Workbook], None] | None = None
    """What adds sheets of the user's own."""

    def __post_init__(self) -> None:
        for table in input_tables():
            if table.form != "table":
                defaults = {f.key: typed(f, f.default(self.system)) for f in fields(table.table)}
                own = us_job() if table.table == "job" else {}
                given = self.named.get(table.table, {})
                self.named[table.table] = {**defaults, **own, **given}

    def set(self, table: str, key: str, value: Any, row: int = 0) -> "WorkbookFactory":
        """Put a value in place of the tidy one."""
        rows = self.tables.get(table)
        if rows is not None and row == len(rows):
            rows.append({})
        target = self.named[table] if rows is None else rows[row]
        target[key] = value
        return self

    def unit(self, table: str, key: str) -> Any:
        item = next((f for f in fields(table) if f.key == key), None)
        usual = item.unit_label(self.system) if item else None
        return self.units.get((table, key), usual)

    def keys(self, table: str) -> list[str]:
        """Keys of the columns from left to right; texts that are no key are extra columns."""
        return self.columns.get(table, [f.key for f in fields(table)])

    def where(self, table: str, key: str, row: int = 0) -> str:
        """The place of a value as messages name it; row -1 is the header, -2 the unit."""
        info = next(t for t in input_tables() if t.table == table)
        sheet = self.sheet_names.get(info.sheet, info.sheet)
        at_row, at_column = self._place(info, key, row)
        return f"{sheet}!{column_letters(at_column + 1)}{at_row + 1}"

    def _place(self, info: InputTable, key: str, row: int) -> tuple[int, int]:
        down, right = self.shift
        if info.form != "table":
            return down + 2 + self.keys(info.table).index(key), right + 1
        column = self._left(info) + self.keys(info.table).index(key)
        return down + HEADER_ROW + 1 + row, column

    def _left(self, info: InputTable) -> int:
        before = []
        for other in input_tables():
            if other.table == info.table:
                break
            if other.sheet == info.sheet:
                before.append(len(self.keys(other.table)) + 1)
        return self.shift[1] + sum(before)

    def build(self) -> bytes:
        """Return the bytes of the workbook."""
        stream = io.BytesIO()
        with xlsxwriter.Workbook(stream, {"in_memory": True, **self.options}) as book:
            self.book = book
            sheets = dict.fromkeys(t.sheet for t in input_tables() if t.sheet not in self.left_out)
            for sheet in self.sheet_order or tuple(sheets):
                page = book.add_worksheet(self.sheet_names.get(sheet, sheet))
                for table in input_tables():
                    if table.sheet == sheet and table.table not in self.left_out:
                        self._write(page, table)
            if self.extra:
                self.extra(book)
        return stream.getvalue()

    def _write(self, page: Any, table: InputTable) -> None:
        if table.form == "table":
            self._write_table(page, table)
        else:
            self._write_named(page, table)

    def _write_named(self, page: Any, table: InputTable) -> None:
        page.write_string(0, 0, table.title)
        quoted = page.get_name().replace("'", "''")
        for item in fields(table.table):
            if item.key not in self.keys(table.table):
                continue
            row, column = self._place(table, item.key, 0)
            page.write_string(row, column - 1, item.header)
            self._put(page, row, column, self.named[table.table][item.key])
            self._put(page, row, column + 1, self.unit(table.table, item.key))
            address = f"${column_letters(column + 1)}${row + 1}"
            self.book.define_name(item.cell_name, f"='{quoted}'!{address}")

    def _write_table(self, page: Any, table: InputTable) -> None:
        keys, rows = self.keys(table.table), self.tables.get(table.table, [])
        left, top = self._left(table), self.shift[0] + HEADER_ROW
        if self.merged_titles:
            page.merge_range(top - 4, left, top - 3, left + len(keys) - 1, table.title)
        else:
            page.write_string(top - 4, left, table.title)
        names = {f.key: f.header for f in fields(table.table)}
        heads = [self.headers.get(key, names.get(key, key)) for key in keys]
        for column, (key, head) in enumerate(zip(keys, heads, strict=True), left):
            self._put(page, top - 1, column, self.unit(table.table, key))
            page.write_string(top, column, head)
            for row, values in enumerate(rows, top + 1):
                self._put(page, row, column, values.get(key))
        for row in self.hidden_rows.get(table.table, ()):
            page.set_row(top + 1 + row, None, None, {"hidden": True})
        if table.table not in self.ranges:
            bottom = top + max(1, len(rows)) + (table.table in self.totals)
            self._add_table(page, table, (top, left, bottom, left + len(keys) - 1), heads)

    def _add_table(
        self, page: Any, table: InputTable, area: tuple[int, int, int, int], heads: list[str]
    ) -> None:
        columns: list[dict[str, Any]] = [{"header": head} for head in heads]
        if table.table in self.totals:
            columns[0]["total_string"] = "Total"
        page.add_table(*area, {
            "name": table.excel_name,
            "columns": columns,
            "total_row": table.table in self.totals,
        })  # fmt: skip

    def _put(self, page: Any, row: int, column: int, value: Any) -> None:
        style = None
        if isinstance(value, Styled):
            style, value = self.book.add_format({"num_format": value.number_format}), value.value
        if isinstance(value, Formula):
            page.write_formula(row, column, value.text, style, value.result)
        elif isinstance(value, dt.date | dt.time):
            shape = FORMATS[type(value)]
            page.write_datetime(row, column, value, self.book.add_format({"num_format": shape}))
        elif isinstance(value, str):
            page.write_string(row, column, value, style)
        elif isinstance(value, bool):
            page.write_boolean(row, column, value, style)
        elif value is not None:
            page.write_number(row, column, value, style)


def of_one_run() -> WorkbookFactory:
    """Return a factory of the quickest job: one run, no ranges and no scenarios."""
    factory = WorkbookFactory()
    factory.tables.update(schedule=factory.tables["schedule"][:1], risk=[], scenarios=[])
    return factory
