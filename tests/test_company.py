"""A company's own figures in a new workbook: which come along, their basis, and which are old."""

import datetime as dt
import functools
import io

import openpyxl
import pytest

from estimator import files
from estimator.cli import company, main
from estimator.errors import InputError
from estimator.inputs.dictionary import fields
from estimator.models.rates import MoneyRate
from estimator.units import from_si, to_si
from estimator.workbook.book import parse_workbook
from estimator.workbook.read.ages import dated, marked
from estimator.workbook.read.own_figures import OF_THE_JOB, own_figures
from tests.each import each
from tests.one_page import book_of
from tests.small_book import small_book
from workbook_template import build_template
from workbook_template.company import company_of

TODAY = dt.date(2027, 6, 1)
QUOTE = "supplier quote, as of 2026-03-01"
DATE = dt.date(2027, 1, 18)
"""Estimate date of the example."""
USUAL_PROFIT = 0.12
"""Profit of a workbook without figures of a company."""


def named(book, name):
    sheet, _, cell = book.defined_names[name].attr_text.rpartition("!")
    return book[sheet.strip("'")][cell.replace("$", "")]


def changed(data, change):
    book = openpyxl.load_workbook(io.BytesIO(data))
    change(book)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@functools.cache
def last(data=None):
    """Return last job's workbook: a fuel price quoted long ago, a profit and a wage of its own."""

    def change(book):
        named(book, "rate_fuel_price").value = 4.35
        named(book, "rate_fuel_price").offset(0, 3).value = QUOTE
        named(book, "rate_profit").value = 0.11
        named(book, "job_efficiency").value = 0.8
        crew = book["Crew"]
        crew["H6"].value = 41.5

    return changed(data or small_book(), change)


def new(data, system="US", months=12):
    found = own_figures(data)
    made = build_template(system, None, company_of(found, system, TODAY, months))
    return openpyxl.load_workbook(io.BytesIO(made)), made


def test_figures_come_along_and_facts_of_the_job_do_not():
    book, made = new(last())
    assert named(book, "rate_fuel_price").value == 4.35
    assert named(book, "rate_profit").value == 0.11
    assert named(book, "job_efficiency").value == 0.8
    assert book["Crew"]["H6"].value == 41.5
    assert named(book, "job_company").value == "Example Pipe Fusion Company"
    assert named(book, "job_job_name").value is None
    assert [row[0].value for row in book["Pipe schedule"]["A6:A20"]] == [None] * 15
    was, now = own_figures(last()), own_figures(made)
    assert now.tables.keys() == was.tables.keys()
    for table in was.tables.keys() - {"job", "rates"}:
        assert [one.values for one in now.tables[table]] == [
            one.values for one in was.tables[table]
        ]


def test_every_table_is_either_of_the_job_or_comes_along():
    """A table that is added later belongs to one side: this fails until somebody has said which."""
    carried = own_figures(small_book()).tables.keys()
    assert carried >= {
        "machines", "generators", "lifting", "crew", "size_bands", "task_times", "cold_factors",
        "holidays", "weather", "risk", "rates", "material_prices",
    }  # fmt: skip
    assert carried.isdisjoint(OF_THE_JOB)


def test_a_basis_keeps_its_date_or_gets_that_of_the_estimate():
    book, _ = new(last(), months=24)
    assert named(book, "rate_fuel_price").offset(0, 3).value == QUOTE
    assert named(book, "rate_profit").offset(0, 3).value == "assumption, as of 2027-01-18"
    crew = [cell.value for cell in book["Crew"][6]]
    assert crew[-1] == "assumption, as of 2027-01-18"


def test_what_a_new_workbook_has_anyway_keeps_its_basis():
    book, _ = new(last())
    assert [cell.value for cell in book["Crew"][7]][-1] == "assumption"
    assert named(book, "rate_small_tools").offset(0, 3).value == "assumption"


def test_figures_older_than_the_stated_age_are_marked():
    """By hand: 1 March 2026 to 1 June 2027 are 15 months."""
    for months, old in ((12, True), (15, True), (16, False)):
        book, _ = new(last(), months=months)
        text = named(book, "rate_fuel_price").offset(0, 3).value
        assert (text != QUOTE) == old
        assert ("older than" in text) == old


def test_a_mark_is_taken_off_and_set_anew_by_the_next_copy():
    _, first = new(last(), months=12)
    book, _ = new(first, months=6)
    text = named(book, "rate_fuel_price").offset(0, 3).value
    assert text == f"{QUOTE} (older than 6 months: confirm)"


@each("basis, date, said", [
    ("", DATE, "own figure, as of 2027-01-18"), ("quote", None, "quote, date not known"),
    ("quote, as of 2026-02-03", DATE, "quote, as of 2026-02-03"),
    ("quote, date not known", DATE, "quote, date not known"),
])  # fmt: skip
def test_dates_in_a_basis(basis, date, said):
    assert dated(basis, date) == said


def test_a_figure_without_a_date_is_marked():
    assert "older than 12 months" in marked("quote, date not known", TODAY, 12)


def ages(data, months):
    def change(book):
        named(book, "job_figures_old_months").value = months
        book["Crew"][6][-1].value = "union list, date not known"
        book["Machines"]["A1"].value = "as of 2020-01-01"

    made = changed(data, change)
    book = openpyxl.load_workbook(io.BytesIO(made))
    fuel = named(book, "rate_fuel_price").offset(0, 3)
    found = [w for w in parse_workbook(made).warnings if "older than" in w.message]
    crew = book["Crew"][6][-1]
    places = [f"Crew!{crew.coordinate}", f"Rates!{fuel.coordinate}"]
    return places, [(w.where, w.message) for w in found]


def test_reading_a_workbook_names_the_cells_of_old_figures():
    """By hand: 1 March 2026 to the estimate of 18 January 2027 are ten whole months."""
    places, found = ages(last(), 10)
    assert [where for where, _ in found] == places
    assert "1 figure older than 10 months on 2027-01-18, or without a date:" in found[1][1]
    assert "(2026-03-01)" in found[1][1]
    assert "(date not known)" in found[0][1]
    _, found = ages(last(), 11)
    assert [where for where, _ in found] == places[:1]


def test_into_the_other_unit_system_nothing_is_lost():
    """By hand: 4.35 a gallon is 4.35 / 3.785411784 a liter."""
    book, made = new(last(), "SI")
    assert named(book, "rate_fuel_price").value == pytest.approx(4.35 / 3.785411784, rel=1e-9)
    was, now = own_figures(last()), own_figures(made)
    for table in was.tables:
        for one, other in zip(was.tables[table], now.tables[table], strict=True):
            for key, value in one.values.items():
                compare(value, other.values[key], (table, key))


def compare(value, other, place):
    if isinstance(value, MoneyRate) and value.per != other.per:
        value = value.amount * from_si(to_si(1.0, other.per), value.per)
        assert other.amount == pytest.approx(value, rel=1e-8), place
    elif isinstance(value, float):
        assert other == pytest.approx(value, rel=1e-8), place
    elif not isinstance(value, MoneyRate):
        assert other == value, place


def test_the_new_workbook_prices_with_them(tmp_path):
    """Its inputs are what the last job's were, wherever a job can hold them."""

    def facts(book):
        named(book, "job_job_name").value = "Next job"
        named(book, "job_estimate_date").value = dt.datetime(2027, 6, 1)
        named(book, "job_start").value = dt.datetime(2027, 7, 5)
        named(book, "job_ambient_c").value = 60
        sheet = book["Pipe schedule"]
        for column, value in zip("ACDEFGHI", ("N1", "IPS", "12", 17, "PE4710", 900, 50, "trench"),
                                 strict=True):  # fmt: skip
            sheet[f"{column}6"].value = value

    _, made = new(last())
    job = parse_workbook(changed(made, facts)).job
    old = parse_workbook(last()).job
    assert job.rates == old.rates
    assert (job.crew[0].wage, job.machines[0].day_rate) == (
        old.crew[0].wage,
        old.machines[0].day_rate,
    )


def test_what_is_wrong_with_the_figures_is_reported_with_file_and_cell(tmp_path, capsys):
    def spoil(book):
        named(book, "rate_profit").value = "much"
        book["Crew"]["H6"].value = -5
        named(book, "job_start").value = "never"

    path = tmp_path / "last.xlsx"
    path.write_bytes(changed(small_book(), spoil))
    job = tmp_path / "job.xlsx"
    assert main(["new", str(job), "--rates-from", str(path)]) == 1
    err = capsys.readouterr().err
    assert "last.xlsx Rates!" in err
    assert "last.xlsx Crew!H6" in err
    assert "never" not in err, "a fact of the last job is nothing to the next"
    assert not job.exists()


@pytest.fixture
def settings(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "settings_path", lambda name: str(tmp_path / "settings" / name))
    monkeypatch.setattr(company, "today", lambda: TODAY)
    path = tmp_path / "company.xlsx"
    path.write_bytes(last())
    return path


def test_the_company_workbook_is_set_once_and_then_used(settings, tmp_path, capsys):
    assert main(["company"]) == 0
    assert "No company workbook" in capsys.readouterr().out
    assert main(["company", str(settings)]) == 0
    job = tmp_path / "job.xlsx"
    assert main(["new", str(job)]) == 0
    out = capsys.readouterr().out
    assert "1 figure marked in Basis: older than 12 months" in out
    assert "Diesel fuel" in out
    assert named(book_of(job, ("Rates",)), "rate_profit").value == 0.11
    assert main(["new", str(job), "--force", "--no-company"]) == 0
    assert named(book_of(job, ("Rates",)), "rate_profit").value == USUAL_PROFIT
    assert main(["company", "--forget"]) == 0
    assert main(["new", str(job), "--force"]) == 0
    assert named(book_of(job, ("Rates",)), "rate_profit").value == USUAL_PROFIT


def test_a_company_workbook_that_has_gone_is_reported(settings, tmp_path, capsys):
    assert main(["company", str(settings)]) == 0
    settings.unlink()
    assert main(["new", str(tmp_path / "job.xlsx")]) == 1
    assert "estimator company FILE" in capsys.readouterr().err


@each("options, said", [
    (("--example", "plant_piping", "--rates-from", "x.xlsx"), "an example has its own rates"),
    (("--rates-from", "none.xlsx"), "none.xlsx was not found"),
])  # fmt: skip
def test_what_does_not_go_together_is_refused(options, said, tmp_path_factory):
    path = tmp_path_factory.mktemp("new") / "job.xlsx"
    with pytest.MonkeyPatch.context() as patch:
        reported = []
        patch.setattr("sys.stderr.write", reported.append)
        assert main(["new", str(path), *options]) == 1
    assert said in "".join(reported)
    assert not path.exists()


def test_the_age_is_a_month_or_more(settings, tmp_path):
    with pytest.raises(InputError, match="1 month or more"):
        company.figures_for(own_figures(last()), "US", 0)


def test_every_basis_of_a_table_is_its_last_column():
    """The date of a figure is read from it."""
    for table in ("machines", "generators", "lifting", "crew", "task_times", "material_prices"):
        assert fields(table)[-1].key == "basis"
