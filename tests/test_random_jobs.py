"""Fifty jobs at random: LibreOffice recalculates what Python worked out, to the cent.

CI recalculates 23 of them, which hold every kind of formula.
"""

import datetime as dt
import functools
import io
import os
import zipfile

import pytest
from python_calamine import CalamineWorkbook

from estimator import api
from estimator.errors import InputError
from estimator.models.bands import BANDS
from estimator.whatif.options import LIQUIDATED_DAMAGES
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet.source import column_letters
from tests.office import errors_in, recalculate
from tests.random_jobs import random_workbook

JOBS, SEEDS = 50, range(80)
EVERY_KIND = (0, 1, 8, 10, 21, 22, 23, 28, 29, 30, 36, 43, 46, 49)
"""Jobs that hold between them each of the 473 kinds of formula of the fifty: texts of formulas
without their numbers and cells."""
RECALCULATED = sorted({*EVERY_KIND, *range(0, JOBS, 4)}) if os.environ.get("CI") else range(JOBS)
HALF_A_CENT = 0.004
EPOCH = dt.date(1899, 12, 30)


@functools.cache
def estimated():
    """Return the first jobs that can be done, by seed: a draw may ask for what no machine can."""
    found = {}
    for seed in SEEDS:
        try:
            workbook = parse_workbook(random_workbook(seed))
            found[seed] = workbook, api.estimate_workbook(workbook)
        except InputError:
            continue
        if len(found) == JOBS:
            break
    return found


def cells_of(data):
    """Return the stored values of the result sheets by sheet and cell, as the office gives them."""
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    return {
        name: {
            f"{column_letters(column)}{row}": as_office_has_it(value)
            for row, line in enumerate(
                book.get_sheet_by_name(name).to_python(skip_empty_area=False), 1
            )
            for column, value in enumerate(line, 1)
            if value not in ("", None)
        }
        for name in RESULT_SHEETS
    }


def as_office_has_it(value):
    if isinstance(value, dt.timedelta):
        return value / dt.timedelta(days=1)
    if isinstance(value, dt.date):
        return float((value - EPOCH).days)
    return float(value) if isinstance(value, bool | int) else value


def on_bid(values, label):
    return next(
        values["Bid"][f"G{cell[1:]}"]
        for cell, value in values["Bid"].items()
        if cell.startswith("A") and value == label and f"G{cell[1:]}" in values["Bid"]
    )


@pytest.mark.parametrize("number", RECALCULATED)
def test_recalculated_cells_equal_what_python_worked_out(number, tmp_path):
    workbook, found = list(estimated().values())[number]
    data = with_results(workbook, found)
    path = tmp_path / "job.xlsx"
    path.write_bytes(data)
    office = recalculate(path)
    assert errors_in(office) == []
    for name, cells in cells_of(data).items():
        for cell, ours in cells.items():
            theirs = office[name].get(cell)
            place = f"{name}!{cell}"
            if isinstance(ours, float):
                assert theirs == pytest.approx(ours, abs=HALF_A_CENT), place
            else:
                assert theirs == ours, place
    bid = found.bid
    assert on_bid(office, "Bid price") == pytest.approx(float(bid.price), abs=HALF_A_CENT)
    if found.job.rates.tax:
        total = on_bid(office, "Total including tax")
        assert total == pytest.approx(float(bid.total), abs=HALF_A_CENT)
    assert office["Checks"]["B3"] in ("OK", "Read the warnings")


def test_jobs_differ_in_what_changes_a_price():
    """What a draw can hold comes up among the jobs, so that no branch of the price is left out."""
    jobs = [workbook.job for workbook, _ in estimated().values()]
    assert len(jobs) == JOBS
    rates = [job.rates for job in jobs]
    assert {job.cover.unit_system for job in jobs} == {"US", "SI"}
    assert len({job.fusion.method for job in jobs}) == 6
    assert {job.resources.crews for job in jobs} == {1, 2, 3}
    assert {job.resources.machines_per_crew for job in jobs} == {1, 2, 3}
    assert {rate.profit_basis for rate in rates} == {"markup on cost", "margin on price"}
    for share in ("office_overhead", "contingency", "profit", "bond", "tax"):
        assert any(getattr(rate, share) for rate in rates), share
    assert any(job.shift.shift_hours > job.shift.straight_hours for job in jobs)
    assert any(run.pipe_price for job in jobs for run in job.runs)
    assert {run.od_system for job in jobs for run in job.runs} == {"IPS", "DIPS", "ISO"}
    assert {bool(job.shift.night_hours) for job in jobs} == {True, False}
    assert {job.resources.generators_per_crew for job in jobs} == {"one per machine", "one shared"}
    assert {job.bid.bid_items for job in jobs} == {"by size", "by run"}
    for share in ("damage_waiver", "rental_day_hours", "bid_step", "unit_price_step"):
        assert {bool(getattr(rate, share)) for rate in rates} == {True, False}, share
    assert any(job.overtime for job in jobs)
    prices = [row.price(band) for job in jobs for row in job.material_prices for band in BANDS]
    assert {price is None for price in prices} == {True, False}
    keys = {line.key for _, found in estimated().values() for line in found.cost_lines}
    for key in ("equipment.two_shifts", "equipment.damage_waiver", LIQUIDATED_DAMAGES,
                "hydrotest.labor_hours", "hydrotest.hydro_water", "hydrotest.site_overhead",
                "labor.night_differential.Foreman"):  # fmt: skip
        assert key in keys, key
    assert any(key.endswith("_hours") and key.startswith("equipment.") for key in keys)
    assert {job.equipment.fleet_choice for job in jobs} == {"run by run", "least total cost"}
    assert any(run.after for job in jobs for run in job.runs)
    assert any(found.tests for _, found in estimated().values())
    kinds = {line.cost_type for _, found in estimated().values() for line in found.cost_lines}
    assert {"Labor", "Equipment", "Fuel", "Pipe", "Materials", "Per diem"} <= kinds


def test_results_are_live_formulas():
    workbook, found = estimated()[min(estimated())]
    with zipfile.ZipFile(io.BytesIO(with_results(workbook, found))) as file:
        sheets = [file.read(name) for name in file.namelist() if "/worksheets/sheet" in name]
    assert sum(sheet.count(b"<f>") for sheet in sheets) > 200
