"""Own markups, fittings and other costs on the sheets: LibreOffice against what we cached."""

import pytest

from estimator import estimate
from estimator.workbook.book import parse_workbook, with_results
from tests.office import errors_in, recalculate
from tests.one_page import book_of
from tests.workbook_factory import WorkbookFactory

SHEETS = ("Cost", "Cost by run", "Price build-up", "Bid schedule", "Checks")
COSTS = [
    {"item": "Road bore", "quantity": 120, "unit": "ft", "unit_price": 85.35, "run": "R1",
     "subcontract": "yes", "bid_item": "Road bore"},
    {"item": "Guards", "quantity": 3, "unit": "day", "unit_price": 410, "cost_type": "labor",
     "bid_item": "Site security"},
    {"item": "Guards by night", "quantity": 3, "unit": "day", "unit_price": 470,
     "cost_type": "labor"},
    {"item": "Bedding", "quantity": 0.31, "unit": "t", "unit_price": 22.45,
     "counted": "by length", "cost_type": "materials"},
    {"item": "Joint photos", "quantity": 1, "unit": "each", "unit_price": 1.15,
     "counted": "by joint"},
    {"item": "Survey", "quantity": 1, "unit": "LS", "unit_price": 333.33, "counted": "by run",
     "bid_item": "Site security"},
]  # fmt: skip


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    factory = WorkbookFactory()
    factory.tables["other_costs"] = COSTS
    factory.named["rates"] |= {"overhead_subcontract": 0.03, "profit_materials": 0,
                               "profit_basis": "margin on price"}  # fmt: skip
    workbook = parse_workbook(factory.build())
    found = estimate(workbook.job, workbook.places)
    path = tmp_path_factory.mktemp("priced") / "priced.xlsx"
    path.write_bytes(with_results(workbook, found))
    return found, book_of(path, SHEETS, data_only=True), recalculate(path)


def test_every_figure_is_what_the_spreadsheet_works_out(sheets):
    _, cached, office = sheets
    assert errors_in(office) == []
    for name in SHEETS:
        for row in cached[name].iter_rows():
            for cell in row:
                if isinstance(cell.value, float | int):
                    theirs = office[name].get(cell.coordinate)
                    assert theirs == pytest.approx(cell.value, abs=0.004), (name, cell.coordinate)


def test_the_build_up_adds_up_by_type(sheets):
    found, cached, _ = sheets
    rows = {row[0].value: [cell.value for cell in row] for row in cached["Price build-up"]}
    costs = [rows[name][4] for name in ("Labor", "Equipment", "Materials", "Subcontract",
                                        "Other cost")]  # fmt: skip
    assert sum(costs) == pytest.approx(float(found.bid.job_cost - found.bid.unmarked))
    assert rows["Subcontract"][1] == 0.03
    assert rows["Materials"][3] == 0
    assert rows["Bid price"][5] == float(found.bid.price)


def test_rows_of_one_item_share_it(sheets):
    """3 x 410 of guards and 333.33 of survey on each of two runs: 1,896.66."""
    found, _, _ = sheets
    costs = {item.description: float(item.cost) for item in found.items}
    assert costs["Site security"] == pytest.approx(1896.66)
    assert costs["Road bore"] == pytest.approx(10242.0)


def test_profit_on_cost_stands_beside_the_printed_build_up(sheets):
    """Where profit is a markup on cost it is the percent typed in once more: two alike puzzle."""
    _, cached, _ = sheets
    sheet = cached["Price build-up"]
    heads = next(row for row in sheet.iter_rows() if row[0].value == "Type of cost")
    assert [cell.value for cell in heads[4:7]] == [
        "Cost that carries markups\n$", "Cost before profit\n$", "Profit on cost"
    ]  # fmt: skip
    assert sheet.print_area.partition(":")[2].startswith("$F$")


def test_the_build_up_says_the_currency_over_its_amounts(sheets):
    _, cached, _ = sheets
    texts = [cell.value for row in cached["Price build-up"].iter_rows() for cell in row]
    assert {"Amount\n$", "Average price, $"} <= set(texts)
