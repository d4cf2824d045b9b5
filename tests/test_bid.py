"""The Bid sheet's words against what is priced, its live names and dates, and its money as JSON."""

import datetime as dt
import io

import openpyxl
import pytest

from estimator import api
from estimator.export.as_json import estimate_json
from estimator.models.priced_items import FittingPrice, OtherCost
from estimator.models.rates import MoneyRate
from estimator.pipeline import estimate
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.results.bid_text import exclusions
from tests.jobs import job, money, run
from tests.office import recalculate
from tests.workbook_factory import WorkbookFactory


def priced(base, **changes):
    return base.model_copy(update={"rates": base.rates.model_copy(update=changes)})


def hydro_rates(**changes):
    each = {key: MoneyRate(amount=1.0, per=per) for key, per in (
        ("hydro_wage", "h"), ("hydro_equipment", "test section"), ("hydro_water", "L"),
        ("hydro_disposal", "L"))}  # fmt: skip
    return {**each, **changes}


@pytest.mark.parametrize(
    ("rates", "there", "absent"),
    [
        ({}, "Excess-hour charges and damage waiver on rented equipment", ""),
        ({"damage_waiver": 0.1}, "Excess-hour charges on rented equipment", "waiver"),
        ({"rental_day_hours": 8.0}, "Damage waiver on rented equipment", "xtra-hour"),
        ({"damage_waiver": 0.1, "rental_day_hours": 8.0}, "", "rented equipment"),
        ({"tax": 0.05}, "", "axes"),
        ({"tax": 0.0, "bond": 0.0}, "Bonds and taxes", ""),
        ({"bond": 0.02}, "Taxes", "onds"),
    ],
)
def test_exclusions_never_name_what_the_rates_price(rates, there, absent):
    lines = exclusions(estimate(priced(job(), **rates)))
    assert there == "" or there in lines
    assert absent == "" or not any(absent in line for line in lines)


def test_exclusions_follow_the_hydrotests():
    """Tests of all runs with every price leave disinfection alone; without water, that too."""
    assert any("Hydrostatic testing, disinf" in line for line in exclusions(estimate(job())))
    tested = job(run(test_section="TS"))
    assert "Disinfection" in exclusions(estimate(priced(tested, **hydro_rates())))
    dry = priced(tested, **hydro_rates(hydro_water=None, hydro_disposal=None))
    assert "Test water and test water disposal for hydrostatic tests; disinfection" in exclusions(
        estimate(dry)
    )
    part = job(run(test_section="TS"), run(run_id="R2"))
    assert "Hydrostatic testing of run R2, with no test section; disinfection" in exclusions(
        estimate(priced(part, **hydro_rates()))
    )


ELBOWS = FittingPrice(kind="elbow", od_system="IPS", size="8", dr=11.0, price=money(96, "each"))


def furnished(*runs, prices=()):
    made = job(*runs).model_copy(update={"fitting_prices": prices})
    return exclusions(estimate(made))[0]


def test_exclusions_name_the_pipe_and_fittings_that_are_not_priced():
    """8 in IPS DR 11: pipe at 30 a meter, elbows at 96; caps have no price."""
    pipe = {"size": "8", "dr": 11.0, "pipe_price": money(30, "m")}
    free = run("R2", size="8", dr=11.0, segments_m=(100.0,))
    assert furnished(run("R1", size="8", dr=11.0, elbows=2)) == "Pipe and fittings"
    bolted = run("R1", size="8", dr=11.0, flange_adapters=2)
    assert furnished(bolted) == "Pipe and fittings, except bolt-up sets"
    assert furnished(run("R1", **pipe, elbows=2)) == "Fittings"
    every = furnished(run("R1", **pipe, elbows=2), prices=(ELBOWS,))
    assert every == "Trenching, bedding, backfill, dewatering, and surface restoration"
    assert furnished(run("R1", **pipe)) == every
    capped = run("R1", **pipe, elbows=2, caps=1)
    assert furnished(capped, prices=(ELBOWS,)) == "Cap 8 in IPS DR 11"
    part = run("R1", **pipe, segments_m=(100.0,), elbows=1)
    assert furnished(part, free, prices=(ELBOWS,)) == "Pipe, except 100 m of pipe"


def test_exclusions_leave_out_what_other_costs_price():
    """Traffic control is listed in an item of its own, permits are spread, trench is as before."""
    pulled = run("R1", placement="pullback")
    costs = (
        OtherCost(item="Traffic control, county road", quantity=1, unit="LS",
                  unit_price=money(900, "unit"), bid_item="Traffic control"),
        OtherCost(item="Road permits", quantity=2, unit="ea", unit_price=money(450, "unit")),
        OtherCost(item="Survey", quantity=1, unit="LS", unit_price=money(0, "unit")),
    )  # fmt: skip
    lines = exclusions(estimate(job(pulled).model_copy(update={"other_costs": costs})))
    assert "Pullback or insertion of pipe; traffic control, except as listed" in lines
    assert "Surveying, engineering, and third-party inspection" in lines
    assert "Trenching, bedding, backfill, dewatering, and surface restoration" in lines
    plain = exclusions(estimate(job(pulled)))
    assert "Traffic control and pullback or insertion of pipe" in plain
    assert "Permits, surveying, engineering, and third-party inspection" in plain


def test_json_of_the_money_adds_up():
    """Lines make the job cost, runs with their rounding too; items with theirs make the price."""
    found = estimate(priced(job(run(test_section="TS"), run(run_id="R2", segments_m=(431.0,))),
                            unit_price_step=0.05, bid_step=100.0, **hydro_rates()))  # fmt: skip
    exported = estimate_json(found)
    cost, price = exported["totals"]["job_cost"], exported["totals"]["bid_price"]
    assert sum(line["amount"] for line in exported["cost_lines"]) == pytest.approx(cost)
    assert exported["price"]["price"] == price == round(price, -2)
    runs = exported["cost_by_run"]
    left = sum(exported["cost_by_run_rounding"].values())
    assert [run["run_id"] for run in runs] == ["R1", "R2"]
    assert sum(run["cost"] for run in runs) + left == pytest.approx(cost)
    for one in runs:
        assert sum(one["shares"].values()) == pytest.approx(one["cost"])
    assert sum(size["cost"] for size in exported["cost_by_size"]) + left == pytest.approx(cost)
    assert sum(item["amount"] for item in exported["bid_items"]) == pytest.approx(price)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A small workbook with a company, a night shift, and blanks that are read as defaults."""
    factory = WorkbookFactory()
    factory.named["job"] |= {
        "company": "One", "bid_to": "Two", "night_hours": 8, "night_premium": None,
        "night_rental": None, "hydro_repeat_share": None, "risk_trials": 0,
    }  # fmt: skip
    factory.named["rates"] |= {"hydro_equipment": None, "hydro_wage": None, "tax": 0}
    for row in factory.tables["schedule"]:
        row["test_section"] = "TS-1"
    workbook = parse_workbook(factory.build())
    data = with_results(workbook, api.estimate_workbook(workbook, ranges=False))
    path = tmp_path_factory.mktemp("bid") / "bid.xlsx"
    path.write_bytes(data)
    return path, workbook, openpyxl.load_workbook(io.BytesIO(data), data_only=True)


def changed(written, place, value):
    path, workbook, _ = written
    sheet, cell = workbook.places.where(*place).split("!")
    return recalculate(path, {sheet: {cell: value}})


def test_blank_cells_read_as_defaults_recalculate_to_the_same_price(written):
    """Reference: LibreOffice. A blank cell is 0 in a formula, so that no formula may use it."""
    path, _, ours = written
    office = recalculate(path)
    for name in ("Cost", "Price build-up", "Bid"):
        for line in ours[name].iter_rows():
            for cell in line:
                if isinstance(cell.value, int | float):
                    theirs = office[name].get(cell.coordinate)
                    assert theirs == pytest.approx(cell.value, abs=0.004), cell.coordinate


def test_bid_follows_names_and_validity(written):
    assert changed(written, ("job", "", "company"), "Another")["Bid"]["A1"] == "Another"
    bid = changed(written, ("rates", "", "validity_days"), 77)["Bid"]
    until = dt.date(2027, 1, 4) + dt.timedelta(days=77)
    assert bid["G5"] == (until - dt.date(1899, 12, 30)).days


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("schedule", "R1", "test_section"), "TS-2"),
        (("rates", "", "rental_day_hours"), 9),
        (("rates", "", "hydro_wage"), 50),
        (("job", "", "night_premium"), 0.2),
    ],
)
def test_light_comes_on_for_what_the_price_cannot_follow(written, place, value):
    """A name of the same length, hours that decide a quantity, and a blank that is filled in."""
    assert changed(written, place, value)["Checks"]["B3"] == "Inputs changed: run Estimate again"
