"""What the Equipment and Equipment choice sheets say of each class, line by line."""

import datetime as dt
from types import SimpleNamespace

from estimator.models.study import Study
from estimator.workbook.results.builder import Context
from estimator.workbook.results.equipment_choice import _heading
from estimator.workbook.results.equipment_rental import reasons
from estimator.workbook.sheet.page_breaks import KEPT_WITH_NEXT
from tests.estimated import example

DAY = dt.date(2027, 3, 1)


def test_what_a_class_is_for_stays_with_the_reasons_below_it():
    """The row that names a class is no last row of a page; a reason may be."""
    workbook, found = example("raw_water_main")
    added = []
    sheet = SimpleNamespace(
        context=Context(Study.of(found), workbook.places, {}),
        add=lambda *cells: added.append(cells), section=lambda *given: None,
        merge=lambda *given: None,
    )  # fmt: skip
    reasons(sheet, 4)
    lines = [cells for cells in added if cells and cells[0].style != "header"]
    named = [cells for cells in lines if cells[0].value]
    assert named
    assert {cells[0].style in KEPT_WITH_NEXT for cells in named} == {True}
    assert {cells[0].style in KEPT_WITH_NEXT for cells in lines if not cells[0].value} == {False}
    for cells in lines:
        if "gauge up to" in cells[3].value:
            assert cells[3].value.count(": ") == 1


def test_work_of_one_day_is_dated_once():
    context = SimpleNamespace(system="SI")
    pipe = SimpleNamespace(label="A", placement="trench", force_n=1e3, run_ids=("R1",))
    for dates, shown in (
        ((DAY,), "trench, 1 day, 1 Mar 2027, fusion force"),
        ((DAY, DAY + dt.timedelta(1)), "2 days from 1 Mar 2027 to 2 Mar 2027, fusion"),
    ):
        pipe.dates = dates
        assert shown in _heading(context, pipe)
