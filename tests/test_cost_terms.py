"""Each quantity of a cost line is the sum of the result cells that its formula names."""

import io
import re

import openpyxl
import pytest

from estimator import estimate
from estimator.workbook.book import parse_workbook, with_results
from tests.one_page import sheet_of
from tests.workbook_factory import WorkbookFactory

TERM = re.compile(r"(?:(\d+)\*)?'([^']+)'!\$([A-Z]+)\$(\d+)")
ITEM, QUANTITY = 1, 3
"""Columns of the Cost sheet, from 0."""


def test_quantities_are_the_sum_of_their_cells():
    factory = WorkbookFactory()
    factory.tables["schedule"][0]["segments_m"] = 30000
    factory.tables["schedule"][0]["test_section"] = "TS-1"
    factory.named["rates"] |= {"hydro_wage": 30, "hydro_equipment": 400, "damage_waiver": 0.1}
    factory.named["job"] |= {"night_hours": 8, "workdays": "Mon-Sun", "shift_hours": 11,
                             "saturday_multiple": 1.75, "sunday_multiple": 2}  # fmt: skip
    workbook = parse_workbook(factory.build())
    found = estimate(workbook.job, workbook.places)
    data = with_results(workbook, found)
    formulas = sheet_of(data, "Cost")
    values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    summed = []
    for row in formulas.iter_rows():
        formula = str(row[QUANTITY].value)
        terms = TERM.findall(formula)
        if terms and "SUMIF" not in formula:
            cells = [int(factor or 1) * values[sheet][f"{column}{number}"].value
                     for factor, sheet, column, number in terms]  # fmt: skip
            quantity = values["Cost"][row[QUANTITY].coordinate].value
            assert quantity == pytest.approx(sum(cells), abs=0.006), row[ITEM].value
            summed.append(row[ITEM].value)
    plain = [line for line in found.cost_lines if line.quantity.terms and not by_band(line)]
    assert len(summed) == len(plain)
    premiums = ("overtime", "Saturday", "Sunday and holiday")
    named = {f"Operator, {name} premium" for name in premiums} | {"Operator, night differential"}
    assert {*named, "Hydrotest labor", "Hydrotest equipment"} <= set(summed)


def by_band(line):
    """Return whether the cells of a quantity are those of a size band, which SUMIF adds up."""
    return line.key.startswith("item.")
