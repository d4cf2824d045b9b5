"""The county sewer force main: from a messy takeoff to the client's pages, and its addendum.

What the takeoff holds is worked out by hand from its lines.
"""

import functools
import io
from decimal import Decimal

import openpyxl
import pytest

from estimator.errors import InputError
from estimator.pipeline import estimate
from estimator.takeoff.answers import load
from estimator.whatif.revision import Version, compare_versions
from estimator.workbook.book import parse_workbook, with_results
from tests.each import each
from tests.one_page import book_of, sheet_of
from tests.takeoffs import schedule, take
from workbook_template import build_template
from workbook_template.content import job_files
from workbook_template.takeoff_example import MAP, TAKEOFF, imported

FIRST, ADDENDUM = "county_force_main", "county_force_main_addendum_1"
build = functools.cache(functools.partial(build_template, "US"))

# Lines of the takeoff by hand: FM-1 2,600 + 2,400 ft with 6 + 8 bends; FM-3 700 + 1,180 ft;
# FM-8 fourteen drains of 20 ft, in no test section.
RUNS = {
    "FM-1": {"Size": "24", "DR or SDR": 17, "Length": "2600; 2400", "Elbows": 14,
             "Elbow angles": "6 x 90; 8 x 45", "Reducers": 1,
             "Reduce to": "20", "Flange adapters": 2, "Test section": "T-1", "Pipe price": 58.4},
    "FM-2": {"Size": "20", "DR or SDR": 17, "Length": 3150, "Elbows": 5, "Elbow angles": "5 x 45",
             "Reducers": 1,
             "Reduce to": "16", "Tie-ins": 1, "Test section": "T-1", "Pipe price": 40.6},
    "FM-3": {"Size": "16", "DR or SDR": 17, "Length": "700; 1180", "Elbows": 2,
             "Elbow angles": "2 x 90",
             "Reducing tees": 1, "Reduce to": "12", "Tie-ins": 1, "Test section": "T-2",
             "Pipe price": 26.1},
    "FM-4": {"Size": "16", "DR or SDR": 11, "Length": 760, "Placement": "pullback",
             "Flange adapters": 2, "Test section": "T-2", "Pipe price": 38.9},
    "FM-5": {"Size": "12", "DR or SDR": 17, "Length": 940, "Stick or coil length": 40,
             "Elbows": 4, "Elbow angles": "4 x 90",
             "Reducing tees": 1, "Reduce to": "8", "MJ adapters": 1, "Tie-ins": 1,
             "Test section": "T-2", "Pipe price": 16.7},
    "FM-6": {"Size": "8", "DR or SDR": 17, "Length": 1260, "Stick or coil length": 40,
             "Elbows": 6, "Elbow angles": "6 x 45",
             "Caps": 1, "Tie-ins": 1, "Test section": "T-3", "Pipe price": 7.2},
    "FM-7": {"Size": "6", "DR or SDR": 11, "Length": 480, "Stick or coil length": 40, "Tees": 2,
             "Test section": "T-3", "Pipe price": 6.4},
    "FM-8": {"Size": "4", "DR or SDR": 11, "Length": "14 x 20", "Stick or coil length": 40,
             "Caps": 14, "Pipe price": 3.1},
    "FM-9": {"Size": "2", "DR or SDR": 11, "Length": 620, "Stick or coil length": 500,
             "Pipe price": 0.95},
}  # fmt: skip
USUAL = {"OD system": "IPS", "Placement": "trench", "Stick or coil length": 50}


def test_the_schedule_is_what_the_take_off_says():
    rows = {row.pop("Run"): row for row in schedule(build(FIRST))}
    for row in rows.values():
        del row["Description"]
    assert rows == {name: USUAL | row for name, row in RUNS.items()}


@each("name", [FIRST, ADDENDUM])
def test_every_line_of_the_take_off_is_either_in_a_run_or_reported(name):
    found = imported(build_template("US", None), name)
    lines = job_files(name, TAKEOFF)[0].read_text("utf-8").splitlines()
    reported = {one.row for one in found.left_out}
    read = {cell.row for run in found.runs for cell in run.cells.values()}
    fittings = {n for n, line in enumerate(lines, 1) if line.startswith("FM-")} - reported
    assert reported & read == set()
    assert reported | fittings | {3, 4, 5} == set(range(1, len(lines) + 1))
    assert sum("total" in one.text.casefold() for one in found.left_out) == 5
    assert "Gate valve, 24 in" in {one.text for one in found.left_out}


def test_pandas_reads_the_file_as_the_example_does():
    (path,) = job_files(FIRST, TAKEOFF)
    found = take(path, answers=load(job_files(FIRST, MAP)[0].read_bytes(), MAP))
    assert [one.found for one in found.answers.open] == ["separator"]
    assert schedule(found.data) == schedule(build(FIRST))


@functools.cache
def priced(name):
    workbook = parse_workbook(build(name))
    return workbook, estimate(workbook.job, workbook.places)


@each("name", [FIRST, ADDENDUM])
def test_nothing_that_is_bought_is_without_a_price(name):
    workbook, found = priced(name)
    assert workbook.warnings == ()
    assert [one.message for one in found.warnings if "pric" in one.message.casefold()] == []
    runs = {run.run_id: run for run in workbook.job.runs}
    assert all(run.pipe_price is not None for run in runs.values())


def test_the_crossing_is_a_subcontract_with_its_own_markup():
    """By hand: 760 ft at 215 and 18,500 for the rig; 14,500 for traffic control."""
    _, found = priced(FIRST)
    amounts = {
        line.item: line.amount for line in found.cost_lines if line.cost_type == "Subcontract"
    }
    assert sum(amounts.values()) == Decimal("196400.00")
    rates = found.job.rates
    assert (rates.profit_labor, rates.profit_materials, rates.profit_subcontract) == (
        0.15,
        0.08,
        0.05,
    )


def test_the_clients_pages_hold_every_item_of_the_owner_and_every_term():
    data = with_results(*priced(FIRST))
    book = book_of(data, ("Bid", "Bid schedule"), data_only=True)
    bid = [cell.value for row in book["Bid schedule"].iter_rows() for cell in row]
    items = sheet_of(build(FIRST), "Bid items")
    numbers = {str(row[1].value) for row in items.iter_rows(min_row=6, max_row=21)}
    assert numbers <= {str(value) for value in bid}
    page = " ".join(
        str(cell.value) for row in book["Bid"].iter_rows() for cell in row if cell.value
    )
    for term in ("rock is an extra", "Valves, vaults, manholes", "each joint recorded",
                 "Pipe, furnished and fused"):  # fmt: skip
        assert term in page
    paid = " ".join(str(value) for value in bid if value)
    for term in (
        "The creek crossing when the pipe is pulled in",
        "30 days net, 5% retention",
        "Mobilization: 50% when the first crew is on site",
        "more than 25% in the length",
    ):
        assert term in paid  # what the Job sheet gives is printed though all terms are our own


def test_our_usual_terms_say_which_fittings_and_tests_are_in_the_price():
    """By hand: 17, 6, 3, 2, 6, 7, 2 and 14 fittings of the runs above are 57, all with a price."""
    book = openpyxl.load_workbook(io.BytesIO(build(FIRST)))
    sheet, cell = next(iter(book.defined_names["job_usual_terms"].destinations))
    book[sheet][cell.replace("$", "")] = "yes"
    changed = io.BytesIO()
    book.save(changed)
    workbook = parse_workbook(changed.getvalue())
    data = with_results(workbook, estimate(workbook.job, workbook.places))
    bid = sheet_of(data, "Bid", data_only=True)
    page = " ".join(str(cell.value) for row in bid.iter_rows() for cell in row if cell.value)
    assert "57 fittings furnished" in page
    assert "Hydrostatic testing of runs FM-8 and FM-9, with no test section" in page


def test_the_addendum_is_explained_to_the_cent():
    """By hand: one run added, one taken out, three longer; 80 ft more of drilling at 215."""
    versions = [Version(name, *_job(name)) for name in (FIRST, ADDENDUM)]
    found = compare_versions(*versions)
    assert (found.runs["added"], found.runs["removed"]) == (("FM-10",), ("FM-9",))
    assert found.old.price + sum(found.price_changes) == found.new.price
    lengths = {one.row: (one.old, one.new) for one in found.changes if one.key == "segments_m"}
    assert lengths == {
        "FM-4": ("760 ft", "840 ft"), "FM-6": ("1260 ft", "1480 ft"),
        "FM-8": ("14 x 20 ft", "16 x 20 ft"),
    }  # fmt: skip
    (sub,) = (one for one in found.costs if one.name == "Subcontract")
    assert sub.change == Decimal("17200.00")


def _job(name):
    workbook, _ = priced(name)
    return workbook.job, workbook.places


def test_an_example_of_another_name_has_no_take_off():
    assert imported(build("plant_piping"), "plant_piping") is None


def test_a_reading_that_nobody_confirmed_stops_the_build(monkeypatch):
    from workbook_template import takeoff_example

    monkeypatch.setattr(
        takeoff_example, "load", lambda *_: load(b"what,found,read as,unit,confirmed,note\n", MAP)
    )
    with pytest.raises(InputError, match="is not confirmed"):
        imported(build_template("US", None), FIRST)
