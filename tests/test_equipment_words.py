"""What the Equipment and Equipment choice sheets say of each class, line by line."""

import datetime as dt
import re
from types import SimpleNamespace

import pytest

from estimator.display import show
from estimator.models.places import Places
from estimator.models.rental_kinds import spans_by_class
from estimator.models.study import Study
from estimator.study import study
from estimator.whatif.machine_options import pipe_options
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.equipment_choice import _heading
from estimator.workbook.results.equipment_rental import reasons
from estimator.workbook.results.equipment_serves import serves
from estimator.workbook.results.equipment_sheet import equipment_sheet
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.look import WHOLE
from estimator.workbook.sheet.page_breaks import KEPT_WITH_NEXT
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import number_text
from tests.estimated import example
from tests.jobs import job, run

DAY = dt.date(2027, 3, 1)
NAMES = {"Equipment": "Equipment", "Checks": "Checks"}


@pytest.mark.parametrize("key", ["gauge_low", "gauge_nominal", "gauge_high", "limit"])
def test_a_gauge_pressure_has_the_decimals_that_reasons_have(key):
    (column,) = (one for one in result_columns("choice") if one.key == key)
    code = STYLES[column.style_in("SI")].number_format
    assert code.partition("]")[2].split(";") == ["#,##0.0", "#,##0_._0"]
    below, above = (show(mpa, "pressure", "SI").removesuffix(" bar") for mpa in (9.846, 10.246))
    assert (below, above) == (number_text(98.46, code), "102")


def test_what_a_class_is_for_stays_with_the_reasons_below_it():
    """The row that names a class is no last row of a page; a reason may be."""
    workbook, found = example("raw_water_main")
    added = []
    sheet = SimpleNamespace(
        context=Context(Study.of(found), workbook.places, {}),
        add=lambda *cells: added.append(cells), section=lambda *given: None,
        merge=lambda *given: None, head_again=lambda header: None,
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
        assert not re.search(r"\d kW", cells[3].value)
    assert any(re.search(r"has \d+\xa0kW", cells[3].value) for cells in lines)


def reasons_sheet(again=frozenset()):
    workbook, found = example("raw_water_main")
    context = Context(Study.of(found), workbook.places, NAMES)
    sheet = SheetBuilder(context, "Equipment", "Equipment", again=again)
    reasons(sheet, 15)
    return sheet


def test_reasons_that_go_on_over_a_page_name_their_class_again_below_the_heads():
    plain = reasons_sheet()
    row = next(n for n in plain.grid if n > 8 and plain.value_at(n, 1) == "")
    said = plain.value_at(row, 4)
    name = next(plain.value_at(n, 1) for n in range(row, 0, -1) if plain.value_at(n, 1))
    sheet = reasons_sheet(frozenset({row}))
    at = next(n for n in sheet.grid if len(sheet.grid[n]) > 3 and sheet.value_at(n, 4) == said)
    assert sheet.value_at(at, 1) == name
    assert sheet.value_at(at - 1, 4) == "Use and reason"
    assert f"D{at - 1}:O{at - 1}" in sheet.merges
    assert sheet.breaks == [at - 2]


def test_a_rate_at_which_no_hour_is_charged_has_no_total():
    """Two weeks at the most, and no 4-week rate: its column is blank to the end."""
    short = job(run("R1", segments_m=(120.0,)))
    rates = short.rates.model_copy(update={"rental_day_hours": 8.0})
    short = short.model_copy(update={"rates": rates})
    made = Context(study(short), Places(), NAMES)
    rows = [[cell and cell.value for cell in row.cells] for row in equipment_sheet(made).rows]
    start = next(n for n, row in enumerate(rows) if row[:1] == ["Excess hours"])
    head = next(row for row in rows[start:] if row[:1] == ["Equipment"])
    total = next(row for row in rows[start:] if row[:1] == ["Total"])
    pairs = zip(head[5:10], total[5:10], strict=True)
    sums = {str(name).partition("\n")[0]: value for name, value in pairs}
    assert sums["Hours"] == sums["At week rate"] > 0
    assert sums["At 4-week rate"] is None


def test_a_heading_says_how_many_machines_the_rent_is_for():
    """Those of all crews; nothing where it is one."""
    for changes, pieces in (({}, 1), ({"machines_per_crew": 2}, 2)):
        two = job(run("R1", segments_m=(400.0,)), **changes)
        context = Context(study(two), Places(), NAMES)
        (pipe,) = pipe_options(context.estimate)
        assert pipe.pieces == pieces
        assert (", 2 machines, fusion force" in _heading(context, pipe)) is (pieces == 2)


def test_work_of_one_day_is_dated_once():
    context = SimpleNamespace(system="SI")
    pipe = SimpleNamespace(label="A", placement="trench", force_n=1e3, run_ids=("R1",), pieces=1)
    for dates, shown in (
        ((DAY,), "trench, 1 day, 1 Mar 2027, fusion force"),
        ((DAY, DAY + dt.timedelta(1)), "2 days from 1 Mar 2027 to 2 Mar 2027, fusion"),
    ):
        pipe.dates = dates
        assert shown in _heading(context, pipe)


@pytest.mark.parametrize("name", ["raw_water_main", "tailings_line"])
def test_a_generator_is_for_the_machines_that_it_can_feed(name):
    """Not for those that another one feeds on the days on which this one comes and goes."""
    found = example(name)[1]
    rated = {item.class_id: item.rated_kw for item in found.job.generators}
    named = set()
    for (kind, class_id), spans in spans_by_class(found.job, found.fleet.spans).items():
        if kind == "generator":
            machines = serves(found, spans).partition(" ")[2].split(", ")
            named.update(machines)
            for machine in machines:
                assert found.fleet.power[machine].rated_needed_kw <= rated[class_id]
    fed = {item.class_id for item in found.job.machines if not item.self_powered}
    assert named == set(found.fleet.power) & fed


def test_classes_are_compared_in_whole_units_of_the_currency():
    """A page for the office; its reasons say the difference in whole units, too."""
    amounts = [column for column in result_columns("choice") if column.kind == "money"]
    assert [column.key for column in amounts] == ["four_week_rate", "rent"]
    for column in amounts:
        assert STYLES[column.style].number_format == WHOLE
