"""Two versions of a job: what differs, with its cell, and steps that add up to the cent."""

import functools
import json
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.cli import main
from estimator.errors import InputError
from estimator.files import marked
from estimator.joint.shared import Shared
from estimator.models.calendar import Holiday
from estimator.models.rates import MoneyRate
from estimator.models.revision import ADDED, CHANGED, REMOVED
from estimator.pipeline import price
from estimator.whatif.revision import Version, compare_versions
from estimator.workbook.book import parse_workbook
from tests.one_page import sheet_of
from tests.small_book import small_book


@functools.cache
def book():
    return parse_workbook(small_book())


def version(name="old.xlsx", **parts):
    job = book().job.model_copy(update=parts)
    return Version(name, job, book().places)


def diff(**parts):
    return compare_versions(version(), version("new.xlsx", **parts))


def with_rates(**values):
    return book().job.rates.model_copy(update=values)


def runs(*, leave=(), change=None, add=()):
    kept = [run for run in book().job.runs if run.run_id not in leave]
    changed = [run.model_copy(update=(change or {}).get(run.run_id, {})) for run in kept]
    first = book().job.runs[1]
    fresh = [first.model_copy(update={"run_id": name, "after": None}) for name in add]
    return (*changed, *fresh)


def test_versions_that_are_alike_have_no_step():
    found = diff()
    assert (found.changes, found.steps, found.price_changes) == ((), (), ())
    assert found.old == found.new


def test_a_changed_rate_is_reported_with_its_cell_and_priced():
    """By hand: mobilization is one line of quantity 1, so the job costs 1,000 more."""
    amount = book().job.rates.mobilization.amount
    found = diff(rates=with_rates(mobilization=MoneyRate(amount=amount + 1000, per="lump sum")))
    (change,) = found.changes
    assert (change.header, change.old, change.new) == (
        "Mobilization",
        "12,500/lump sum",
        "13,500/lump sum",
    )
    assert change.where == book().places.where("rates", "", "mobilization")
    assert found.cost_changes == (Decimal("1000.00"),)
    assert [one.change for one in found.costs if one.name == "Mobilization"] == [Decimal("1000.00")]


def test_each_changed_rate_is_a_step_in_the_order_of_the_sheets():
    one = MoneyRate(amount=1.0, per="lump sum")
    rates = with_rates(profit=0.2, contingency=0.11, mobilization=one)
    found = diff(
        rates=rates, runs=runs(leave=("R04",), change={"R02": {"elbows": 9}}, add=("R99",))
    )
    names = [step.name.partition(",")[0] for step in found.steps]
    assert names == [
        "Runs removed: R04", "Runs changed: R02", "Runs added: R99", "Rates: Mobilization",
        "Rates: Contingency", "Rates: Profit",
    ]  # fmt: skip
    assert found.runs == {ADDED: ("R99",), REMOVED: ("R04",)}
    assert [one.kind for one in found.changes if one.table == "schedule"] == [
        CHANGED, REMOVED, ADDED,
    ]  # fmt: skip


def test_a_step_is_the_job_with_all_changes_so_far():
    rates = with_rates(profit=0.2)
    added = runs(add=("R99",))
    found = diff(rates=rates, runs=added)
    half = price(version(runs=added, scenarios=()).job, Shared(book().places))
    assert found.steps[0].figures.price == half.bid.price
    assert found.steps[1].figures == found.new


def test_what_is_no_job_by_itself_is_made_with_the_next_step():
    """A run that others start after cannot go alone: the runs that named it change in one step."""
    waiting = {"R02": {"after": "R99"}}
    old = Version("old", book().job.model_copy(update={"runs": runs(change=waiting, add=("R99",))}),
                  book().places)  # fmt: skip
    found = compare_versions(old, version("new"))
    assert [step.name for step in found.steps] == ["Runs removed: R99 and Runs changed: R02"]
    assert found.steps[0].changes == 2


@settings(max_examples=12, deadline=None)
@given(
    leave=st.sets(st.sampled_from(["R03", "R04", "R05"])),
    elbows=st.integers(0, 40),
    crews=st.integers(1, 3),
    profit=st.floats(0.01, 0.4),
    add=st.booleans(),
)
def test_all_steps_together_are_the_change_in_price(leave, elbows, crews, profit, add):
    old = version()
    changed = runs(leave=leave, change={"R02": {"elbows": elbows}}, add=("R99",) * add)
    job = old.job.changed(crews=crews)
    job = job.model_copy(update={"runs": changed, "rates": with_rates(profit=profit)})
    found = compare_versions(old, Version("new.xlsx", job, book().places))
    assert found.old.price + sum(found.price_changes) == found.new.price
    assert found.old.job_cost + sum(found.cost_changes) == found.new.job_cost
    by_type = {one.name: one for one in (*found.costs, *found.chain)}
    types = sum((one.change for one in found.costs), Decimal(0))
    assert types == by_type["Job cost"].change
    assert by_type["Job cost"].change + by_type["Markups"].change == by_type["Bid price"].change


def test_rows_that_only_moved_or_repeat_are_no_change():
    holidays = book().job.holidays
    assert diff(holidays=tuple(reversed(holidays))).changes == ()
    twice = Holiday(date=holidays[0].date, holiday="again")
    (change,) = diff(holidays=(*holidays, twice)).changes
    assert (change.kind, change.table) == (ADDED, "holidays")


def test_a_text_is_reported_and_prices_nothing():
    found = diff(runs=runs(change={"R02": {"description": "Reach 1, moved"}}))
    (change,) = found.changes
    assert (change.header, change.new, change.priced) == ("Description", "Reach 1, moved", False)
    assert found.steps == ()


def test_versions_in_two_currencies_are_not_compared():
    cover = book().job.cover.model_copy(update={"currency": "EUR"})
    with pytest.raises(InputError, match="cannot be compared"):
        diff(cover=cover)


@pytest.fixture
def files(tmp_path):
    """Return an older and a newer workbook: more fuel, one run gone."""
    old, new = tmp_path / "friday.xlsx", tmp_path / "monday.xlsx"
    old.write_bytes(small_book())
    changed = openpyxl.load_workbook(old)
    sheet, _, cell = changed.defined_names["rate_fuel_price"].attr_text.rpartition("!")
    changed[sheet.strip("'")][cell.replace("$", "")] = 4.9
    for one in changed["Pipe schedule"][9]:
        one.value = None
    changed.save(new)
    return old, new


def test_the_command_prints_cells_steps_and_costs(files, capsys):
    before = [path.read_bytes() for path in files]
    assert main(["diff", *map(str, files)]) == 0
    out = capsys.readouterr().out
    assert "Runs removed: R04" in out
    assert "4.1/gal" in out
    assert "4.9/gal" in out
    assert "Pipe schedule!A9" in out
    assert [path.read_bytes() for path in files] == before


def test_the_sheet_holds_the_steps_with_live_sums(files):
    old, new = files
    before = new.read_bytes()
    assert main(["diff", str(old), str(new), "--into", str(new)]) == 0
    assert new.with_name("monday.bak.xlsx").read_bytes() == marked(before)
    shown = sheet_of(new.read_bytes(), "Changes", data_only=True)
    live = sheet_of(new.read_bytes(), "Changes")
    rows = {row[0].value: row[0].row for row in shown.iter_rows() if row[0].value}
    first = rows["The older version, friday.xlsx"]
    steps = range(first + 1, rows["Total"])
    assert len(steps) == 2
    for row in steps:
        assert live[f"D{row}"].value == f"=E{row}-E{row - 1}"
        gap = shown[f"E{row}"].value - shown[f"E{row - 1}"].value
        assert shown[f"D{row}"].value == pytest.approx(gap, abs=0.005)
    total = rows["Total"]
    assert live[f"D{total}"].value == f"=SUM(D{first}:D{total - 1})"
    price = rows["Bid price"]
    assert shown[f"D{total}"].value == pytest.approx(shown[f"D{price}"].value, abs=0.005)
    assert main(["estimate", str(new)]) == 0, "an estimate leaves the sheet as it is"
    assert "Changes" in openpyxl.load_workbook(new, read_only=True).sheetnames


def test_json_on_the_screen_is_the_whole_comparison(files, capsys):
    assert main(["diff", *map(str, files), "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["runs_removed"] == ["R04"]
    gaps = sum(step["price_change"] for step in found["steps"])
    assert found["new"]["price"] - found["old"]["price"] == pytest.approx(gaps, abs=0.005)
    assert {change["where"] for change in found["changes"]} >= {"Pipe schedule!A9"}


def test_a_copy_is_written_elsewhere_and_json_overwrites_no_workbook(files, tmp_path, capsys):
    old, new = files
    before = new.read_bytes()
    copy = tmp_path / "copy.xlsx"
    assert main(["diff", str(old), str(new), "--into", str(copy)]) == 0
    assert new.read_bytes() == before
    assert "Changes" in openpyxl.load_workbook(copy, read_only=True).sheetnames
    assert main(["diff", str(old), str(new), "--json", str(old)]) == 1
    assert "Name another file" in capsys.readouterr().err
    assert old.read_bytes() == small_book()


def test_faults_of_either_version_are_reported_with_its_name(files, capsys):
    old, new = files
    broken = openpyxl.load_workbook(new)
    broken["Pipe schedule"]["D6"] = "99"
    broken.save(new)
    assert main(["diff", str(old), str(new)]) == 1
    assert "monday.xlsx Pipe schedule!D6" in capsys.readouterr().err
