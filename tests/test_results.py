"""The result sheets: cached values against a real spreadsheet program, live prices, the light."""

import dataclasses
import datetime as dt
import io
import re

import openpyxl
import pytest

from estimator import api, pipeline
from estimator.cost import cost_lines, make_bid
from estimator.models.rates import MoneyRate
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.sheets import RESULT_SHEETS
from tests.estimated import EXAMPLES, example, opened, saved
from tests.office import errors_in, recalculate
from tests.one_page import sheet_of
from tests.small_book import small_book

LONGEST_FORMULA = 8192
EPOCH = dt.datetime(1899, 12, 30)


@pytest.fixture
def written(request):
    return saved(request.param), *example(request.param)


def as_office_has_it(value):
    if isinstance(value, dt.timedelta):
        return value / dt.timedelta(days=1)
    if isinstance(value, dt.datetime):
        return (value - EPOCH).total_seconds() / 86400
    return float(value) if isinstance(value, bool | int) else value


@pytest.mark.parametrize("written", EXAMPLES, indirect=True)
def test_recalculated_sheets_equal_the_cached_values_to_the_cent(written):
    """Reference: LibreOffice recalculates every formula; we cached what Python worked out."""
    path, _, _ = written
    office = recalculate(path)
    assert errors_in(office) == []
    cached = opened(path.stem, values=True)
    for name in RESULT_SHEETS:
        for row in cached[name].iter_rows():
            for cell in row:
                ours = as_office_has_it(cell.value)
                theirs = office[name].get(cell.coordinate)
                place = f"{name}!{cell.coordinate}"
                if isinstance(ours, float):
                    assert theirs == pytest.approx(ours, abs=0.004), place
                elif ours not in (None, ""):
                    assert theirs == ours, place
    assert office["Start"][light_cell(path)] == "OK"


def light_cell(path):
    for row in sheet_of(path, "Start").iter_rows():
        for cell in row:
            if str(cell.value).replace("$", "") == "=Checks!B3":
                return cell.coordinate
    raise AssertionError("no check status on Start")


@pytest.mark.parametrize("written", EXAMPLES, indirect=True)
def test_every_cost_line_is_a_live_quantity_times_a_live_rate(written):
    path, _, found = written
    sheet = opened(path.stem)["Cost"]
    lines = [row for row in sheet.iter_rows(min_row=6) if str(row[6].value).startswith("=ROUND")]
    assert len(lines) == len(found.cost_lines)
    for row in lines:
        number = row[0].row
        assert row[6].value == f"=ROUND(D{number}*F{number},2)"
        assert "!" in str(row[5].value), f"rate of {row[1].value} is not an input cell"


def changed(path, workbook, changes, sheets):
    """Return what LibreOffice makes of some sheets after inputs are typed over."""
    typed = {}
    for (table, row, key), value in changes.items():
        sheet, cell = workbook.places.where(table, row, key).split("!")
        typed.setdefault(sheet, {})[cell] = value
    return recalculate(path, typed, sheets=sheets)


def price_on(values):
    return next(
        values["Bid"][f"G{cell[1:]}"]
        for cell, value in values["Bid"].items()
        if cell.startswith("A") and value == "Bid price" and f"G{cell[1:]}" in values["Bid"]
    )


@pytest.mark.parametrize("written", ["plant_piping"], indirect=True)
@pytest.mark.parametrize(
    ("place", "model", "value"),
    [(("rates", "", "fuel_price"), "amount", 6.15),
     (("rates", "", "office_overhead"), "share", 0.17),
     (("rates", "", "bond"), "share", 0.02), (("rates", "", "profit"), "share", 0.2),
     (("rates", "", "profit_materials"), "share", 0.05),
     (("rates", "", "overhead_labor"), "share", 0.0)],
)  # fmt: skip
def test_price_follows_a_rate_without_python(written, place, model, value):
    """The price LibreOffice shows is the one Python gives for the same plan and gear."""
    path, workbook, found = written
    key = place[2]
    now = getattr(workbook.job.rates, key)
    typed = now.model_copy(update={"amount": value}) if model == "amount" else value
    rates = workbook.job.rates.model_copy(update={key: typed})
    job = workbook.job.model_copy(update={"rates": rates})
    values = changed(path, workbook, {place: value}, ("Bid", "Checks"))
    lines = cost_lines(dataclasses.replace(found, job=job))
    expected = make_bid(job.rates, lines).price
    assert price_on(values) == pytest.approx(float(expected), abs=0.004)
    assert values["Checks"]["B3"].startswith("OK")
    assert (values["Checks"]["B3"] == "OK") is (key != "fuel_price")


@pytest.mark.parametrize("written", ["plant_piping"], indirect=True)
def test_risk_sheet_shows_when_its_prices_are_old(written):
    path, workbook, found = written
    now = recalculate(path, sheets=("Risk",))["Risk"]
    assert now["C6"] == "OK"
    assert now["B5"] == pytest.approx(float(found.bid.price))
    assert now["B6"] == pytest.approx(float(found.bid.price))
    values = changed(path, workbook, {("rates", "", "fuel_price"): 9}, ("Risk",))
    assert values["Risk"]["C6"] == "Prices changed: run Estimate"
    assert values["Risk"]["B6"] > values["Risk"]["B5"]


@pytest.mark.parametrize("written", ["plant_piping"], indirect=True)
def test_schedule_follows_a_material_price_and_the_rounding_rules(written):
    """A price by size band and both steps of rounding, typed over at once, against Python."""
    path, workbook, found = written
    band = next(run.cycle.band for run in found.runs if run.counts.others["bolt_ups"])
    rows = tuple(
        row.model_copy(update={f"price_{band.lower()}": MoneyRate(amount=333.25, per="each")})
        if row.what == "bolt-up set"
        else row
        for row in workbook.job.material_prices
    )
    rates = workbook.job.rates.model_copy(update={"unit_price_step": 0.5, "bid_step": 100.0})
    job = workbook.job.model_copy(update={"material_prices": rows, "rates": rates})
    typed = {
        ("material_prices", "bolt-up set", f"price_{band.lower()}"): 333.25,
        ("rates", "", "unit_price_step"): 0.5,
        ("rates", "", "bid_step"): 100,
    }
    values, expected = (
        changed(path, workbook, typed, ("Bid", "Bid schedule")),
        pipeline.estimate(job, workbook.places),
    )
    assert expected.bid.price != found.bid.price
    assert float(expected.bid.price) % 100 == 0
    assert price_on(values) == pytest.approx(float(expected.bid.price), abs=0.004)
    schedule = values["Bid schedule"]
    priced = {int(cell[1:]) for cell, value in schedule.items() if cell[0] == "E" and value}
    rows = [row for row in sorted(priced) if isinstance(schedule.get(f"C{row}"), float)]
    for item, row in zip(expected.items, rows, strict=True):
        assert schedule[f"E{row}"] == pytest.approx(float(item.unit_price), abs=0.004)
        assert schedule[f"F{row}"] == pytest.approx(float(item.amount), abs=0.004)
    assert sum(item.amount for item in expected.items) == expected.bid.price


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_formula_is_longer_than_excel_takes(name):
    book = opened(name)
    for sheet in RESULT_SHEETS:
        for row in book[sheet].iter_rows():
            assert all(len(str(cell.value or "")) < LONGEST_FORMULA for cell in row)


@pytest.mark.parametrize("written", ["plant_piping"], indirect=True)
def test_price_follows_a_wage(written):
    path, workbook, _ = written
    role = workbook.job.crew[0]
    wage = role.wage.model_copy(update={"amount": 61.37})
    crew = (role.model_copy(update={"wage": wage}), *workbook.job.crew[1:])
    expected = pipeline.estimate(workbook.job.model_copy(update={"crew": crew}), workbook.places)
    values = changed(path, workbook, {("crew", role.role, "wage"): 61.37}, ("Bid",))
    assert price_on(values) == pytest.approx(float(expected.bid.price), abs=0.004)


@pytest.mark.parametrize("written", ["tailings_line"], indirect=True)
@pytest.mark.parametrize(
    ("key", "value"),
    [("segments_m", 361.5), ("dr", "SDR 13.6"), ("elbows", 3), ("od_system", "DIPS")],
)
def test_light_comes_on_when_a_quantity_changes(written, key, value):
    path, workbook, _ = written
    run_id = workbook.job.runs[4].run_id
    values = changed(path, workbook, {("schedule", run_id, key): value}, ("Checks", "Start"))
    assert values["Checks"]["B3"] == "Inputs changed: run Estimate again"
    assert values["Start"][light_cell(path)] == "Inputs changed: run Estimate again"


@pytest.mark.parametrize("written", ["tailings_line"], indirect=True)
def test_light_comes_on_when_the_table_grows(written, tmp_path):
    path, _, _ = written
    book = openpyxl.load_workbook(path)
    sheet = book["Pipe schedule"]
    table = sheet.tables["Pipe_schedule"]
    corner, _, end = table.ref.partition(":")
    columns, last = end.rstrip("0123456789"), int(end.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
    table.ref = f"{corner}:{columns}{last + 1}"
    sheet[f"A{last + 1}"].value = "one more run"
    grown = tmp_path / "grown.xlsx"
    book.save(grown)
    assert (
        recalculate(grown, sheets=("Checks",))["Checks"]["B3"]
        == "Inputs changed: run Estimate again"
    )


def test_text_of_the_user_never_becomes_a_formula(tmp_path):
    book = openpyxl.load_workbook(io.BytesIO(small_book()))
    sheet = book["Pipe schedule"]
    sheet["B6"].value = "@SUM(A1)"
    sheet["B7"].value = "-2+3 pieces"
    sheet["B8"].value = "+cmd"
    path = tmp_path / "typed.xlsx"
    book.save(path)
    workbook = parse_workbook(path.read_bytes())
    path.write_bytes(with_results(workbook, api.estimate_workbook(workbook)))
    joints = sheet_of(path, "Joints")
    types = {row[1].value: row[1].data_type for row in joints.iter_rows(min_row=5)}
    assert {types[text] for text in ("@SUM(A1)", "-2+3 pieces", "+cmd")} <= {"s", "inlineStr"}


@pytest.mark.parametrize("written", ["raw_water_main"], indirect=True)
def test_light_comes_on_when_a_blank_price_is_filled_in(written):
    path, workbook, _ = written
    blank = next(run for run in workbook.job.runs if run.pipe_price is None)
    values = changed(path, workbook, {("schedule", blank.run_id, "pipe_price"): 80}, ("Checks",))
    assert values["Checks"]["B3"] == "Inputs changed: run Estimate again"


@pytest.mark.parametrize("written", ["raw_water_main"], indirect=True)
def test_changed_rental_rate_moves_the_price_and_asks_for_another_choice(written):
    path, workbook, found = written
    used = next(span.class_id for span in found.fleet.spans if span.kind == "machine")
    values = changed(
        path, workbook, {("machines", used, "four_week_rate"): 30000}, ("Bid", "Checks")
    )
    assert values["Checks"]["B3"].startswith("OK; rental or fuel price changed")
    assert price_on(values) > float(found.bid.price)


def test_serious_warning_turns_the_light(tmp_path):
    workbook = parse_workbook(small_book())
    late = dataclasses.replace(workbook, job=workbook.job.changed(deadline=dt.date(2027, 3, 3)))
    path = tmp_path / "late.xlsx"
    path.write_bytes(with_results(late, api.estimate_workbook(late)))
    assert recalculate(path, sheets=("Checks",))["Checks"]["B3"] == "Read the warnings"


def test_formulas_use_only_functions_of_excel_2010_and_none_that_is_volatile():
    allowed = {"SUM", "ROUND", "IF", "ABS", "SUMIF", "COUNTIF", "SUMPRODUCT", "ROW", "ROWS",
               "REPT", "OR", "MOD", "SUMIFS", "HYPERLINK", "MAX", "EXACT", "ISTEXT", "ISNUMBER",
               "IFERROR", "T", "ROUNDUP", "ROUNDDOWN", "AND", "CHOOSE", "FIXED", "INT", "LEFT",
               "MID", "TRIM", "UPPER", "FIND", "MIN"}  # fmt: skip
    book = opened("raw_water_main")
    used = set()
    for name in RESULT_SHEETS:
        for row in book[name].iter_rows():
            for cell in row:
                if str(cell.value).startswith("="):
                    bare = re.sub(r'"[^"]*"|\'[^\']*\'', "", cell.value)
                    used |= set(re.findall(r"([A-Z.]+)\(", bare))
    assert "SUMPRODUCT" in used
    assert used <= allowed
