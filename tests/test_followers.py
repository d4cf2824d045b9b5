"""Saved values of the user's formulas that depend on result sheets: fresh or none, never old."""

import csv
import datetime as dt
import io
import re
import shutil
import subprocess
import warnings

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from openpyxl.utils.datetime import to_excel

from estimator import api
from estimator.after_award import claim_pages, status_pages
from estimator.workbook.book import parse_workbook, with_pages, with_results
from estimator.workbook.package.formula_cells import Saved, formula_cells, with_saved_values
from estimator.workbook.package.package import Package
from estimator.workbook.package.references import (
    LAST_COLUMN,
    LAST_ROW,
    Cells,
    InTable,
    Named,
    Unknown,
    references,
)
from estimator.workbook.package.watched import Watched
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec
from tests import office
from tests.rich_workbook import part, with_parts
from tests.site_book import small_under_way
from tests.workbook_factory import WorkbookFactory

OLD = 77


def bid(price=1200.5):
    """A result sheet with a number, a text, a truth value, a date and an empty cell."""
    values = (Cell(price), Cell("OK <&"), Cell(True), Cell(dt.date(2027, 3, 1)), None)
    return SheetSpec("Bid", (Row(values), Row((Cell(2.0, formula="A1*0+2"),))))


def users(formulas, *, names=(), extra=None):
    """Return a workbook with results and formulas by sheet and cell, each with an old value."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        sheets = {}
        for place, formula in formulas.items():
            name, _, cell = place.partition("!")
            sheet = sheets.get(name) or sheets.setdefault(name, book.add_worksheet(name))
            if isinstance(formula, str):
                sheet.write_formula(cell, formula, None, OLD)
            else:
                sheet.write(cell, formula)
        if extra:
            extra(sheets)
        for name, meaning in names:
            book.define_name(name, meaning)
    return Package.open(buffer.getvalue()).put_sheets([bid()])


def saved(data):
    """Return the saved value of each cell of the user's, by sheet and cell."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    return {
        f"{sheet.title}!{cell.coordinate}": cell.value
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if sheet.title != "Bid"
    }


def after_new_results(data, price=1500.0):
    return saved(Package.open(data).put_sheets([bid(price)]))


def test_a_formula_that_shows_a_cell_has_its_fresh_value():
    found = after_new_results(
        users(
            {
                "Mine!A1": "=Bid!A1",
                "Mine!A2": "=+'Bid'!$B$1",
                "Mine!A3": "=Bid!C1",
                "Mine!A4": "=Bid!D1",
                "Mine!A5": "=Bid!E1",
                "Mine!A6": "=price",
                "Mine!A7": "=A1",
                "Far!A1": "=Mine!A7",
                "Mine!A8": "=Bid!ZZ99",
                "Mine!A9": "=Bid!A2",
            },
            names=[("price", "=Bid!$A$1")],
        )
    )
    assert found == {
        "Mine!A1": 1500.0, "Mine!A2": "OK <&", "Mine!A3": True, "Mine!A4": 46447, "Mine!A5": 0,
        "Mine!A6": 1500.0, "Mine!A7": 1500.0, "Far!A1": 1500.0, "Mine!A8": 0, "Mine!A9": 2.0,
    }  # fmt: skip


DEPENDENT = {
    "a sum": "=Bid!A1*1.1",
    "a range": "=SUM(Bid!A1:A9)",
    "a whole column": "=SUM(Bid!A:A)",
    "whole rows": "=SUM(Bid!$1:$2)",
    "a name": "=price*2",
    "a name of a name": "=price_too",
    "a name that is a sum": "=twice",
    "other case": "=sum(BID!a1)",
    "a function that looks anywhere": '=INDIRECT("Bid!A1")',
    "an offset": "=OFFSET(Z1,0,0)",
    "a range that is calculated": "=SUM(Bid!A1:INDEX(Bid!A:A,3))",
    "through another cell": "=B20+1",
    "through a range": "=SUM(B19:C21)",
    "through a whole column of another sheet": "=SUM(Far!B:B)",
    "through sheets": "=SUM(Far:Mine!B20)",
    "through a table": "=SUM(tbl[c])",
    "a link that shows what is calculated": '=HYPERLINK("#Bid!A1",Bid!A1)',
    "a link and more": '=HYPERLINK("#Bid!A1","a")&Bid!A1&HYPERLINK("#Bid!A1","b")',
    "a link that another cell can spoil": '=HYPERLINK(IF(B20=1,"#Bid!A1","#Mine!A1"),"a")',
}
APART = {
    "own cells": "=B30*2",
    "a text like a reference": '="Bid!A1"&"price"',
    "another workbook": "=[1]Bid!A1",
    "a name of its own": "=rate",
    "a sheet whose name begins alike": "=Bidder!A1",
    "a cell beside": "=SUM(A20:A29)",
    "a table that is apart": "=SUM(other[c])",
    "a function named as a sheet": "=LOG10(5)",
    "a link that shows its text": '=HYPERLINK(IF(Bid!$A$1="x","#Bid!A1","#Mine!A1"),"the ""bid""")',
}
NAMES = [
    ("price", "=Bid!$A$1"), ("price_too", "=price"), ("twice", "=price*2"), ("rate", "=Mine!$B$30"),
]  # fmt: skip


def add_tables(sheets):
    columns = {"columns": [{"header": "c"}, {"header": "d"}]}
    sheets["Far"].write("F2", 1)
    sheets["Far"].add_table("F1:G3", {"name": "other", **columns})
    sheets["Far"].add_table("B1:C3", {"name": "tbl", **columns})
    sheets["Far"].write_formula("B2", "=Bid!A1*2", None, OLD)


@pytest.mark.parametrize("case", [*DEPENDENT, *APART])
def test_only_formulas_that_depend_on_results_lose_their_value(case):
    formula = {**DEPENDENT, **APART}[case]
    base = {"Mine!B20": "=Bid!A1-1", "Mine!B30": 3, "Bidder!A1": 5, "Far!B20": "=Bid!A1/2"}
    found = after_new_results(users({"Mine!D4": formula, **base}, names=NAMES, extra=add_tables))
    assert found["Mine!D4"] == (None if case in DEPENDENT else OLD)
    assert found["Mine!B20"] is None


def test_a_row_of_a_table_depends_on_its_own_row_only():
    def add(sheets):
        sheet = sheets["Mine"]
        sheet.add_table("A1:B3", {"columns": [{"header": "a"}, {"header": "b"}], "name": "rows"})
        sheet.write_formula("A2", "=Bid!A1*2", None, OLD)
        for row in (2, 3):
            sheet.write_formula(f"B{row}", "=rows[[#This Row],[a]]*2", None, OLD)

    found = after_new_results(users({"Mine!Z9": 1}, extra=add))
    assert (found["Mine!B2"], found["Mine!B3"]) == (None, OLD)


def test_shared_and_array_formulas_are_followed():
    data = users({"Mine!A1": "=Bid!A1*1", "Mine!A2": 2, "Mine!B1": "=A1*2", "Mine!B2": "=1+1",
                  "Mine!C1": "=1", "Mine!C2": "=C1", "Mine!C3": "=C2*2"})  # fmt: skip
    name = "xl/worksheets/sheet1.xml"
    text = part(data, name)
    text = text.replace("<f>A1*2</f>", '<f t="shared" ref="B1:B2" si="0">A1*2</f>')
    text = text.replace("<f>1+1</f>", '<f t="shared" si="0"/>')
    text = text.replace("<f>1</f>", '<f t="array" ref="C1:C2">A1:A2*3</f>')
    text = text.replace("<f>C1</f>", "")
    found = after_new_results(with_parts(data, {name: text.encode()}))
    assert found["Mine!B1"] is found["Mine!C1"] is found["Mine!C2"] is found["Mine!C3"] is None
    assert found["Mine!B2"] == OLD


def test_nothing_but_the_saved_values_changes():
    data = users({"Mine!A1": "=Bid!A1", "Mine!A2": "=Bid!A1*2", "Mine!A3": "=1+1", "Far!A1": "=2"})
    mine, far = "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"
    text = part(data, mine)
    assert '<c r="A1"><f>Bid!A1</f><v>1200.5</v></c>' in text
    assert '<c r="A2"><f>Bid!A1*2</f></c>' in text
    odd = text.replace('<c r="A2">', "<c  r='A2' t='str' >").replace("*2</f>", "*2</f><v>x</v>")
    again = Package.open(with_parts(data, {mine: odd.encode()})).put_sheets([bid(1.0)])
    fresh = text.replace('<c r="A2">', "<c  r='A2' >").replace("<v>1200.5<", "<v>1.0<")
    assert part(again, mine) == fresh
    assert part(again, far) == part(data, far)


def test_a_sheet_without_places_or_with_comments_is_read_too():
    xml = b"<x:row r='3'><x:c/><x:c><x:f>Bid!A1</x:f><x:v>7</x:v></x:c></x:row>"
    (cell,) = formula_cells(xml)
    assert (cell.place, cell.text) == ((3, 2), "Bid!A1")
    fresh = with_saved_values(xml, {(3, 2): Saved("str", "a&amp;b")})
    assert fresh == (
        b"<x:row r='3'><x:c/><x:c t=\"str\"><x:f>Bid!A1</x:f><x:v>a&amp;b</x:v></x:c></x:row>"
    )
    data = users({"Mine!A1": "=Bid!A1*2"})
    name = "xl/worksheets/sheet1.xml"
    text = part(data, name).replace("<sheetData>", "<!-- <c r='A1'> --><sheetData>")
    text = text.replace("</f></c>", "</f><v>77</v></c>")
    assert after_new_results(with_parts(data, {name: text.encode()})) == {"Mine!A1": None}
    wide = etree.tostring(etree.fromstring(text.encode()), encoding="UTF-16")
    assert after_new_results(with_parts(data, {name: wide})) == {"Mine!A1": None}


def test_references_of_a_formula():
    def areas(formula):
        return [
            f"{r.sheet}!{r.area.address}" if isinstance(r, Cells) else r
            for r in references(formula)
        ]

    assert areas("SUM('Bob''s bid'!$A$1:B2,C3)") == ["Bob's bid!A1:B2", "!C3:C3"]
    assert areas("2.5E3+1:1+B:$C") == ["!A1:XFD1", "!B1:C1048576"]
    assert areas("Sheet1!rate+tbl[[#All],[a]:[b]]") == [
        Named("Sheet1", "rate"), InTable("tbl", own_row=False),
    ]  # fmt: skip
    assert areas("tbl[@[it''s]]+A1") == [InTable("tbl", own_row=True), "!A1:A1"]
    assert areas("A1:INDEX(B1:B9,2)") == [Unknown(), "!A1:A1", Unknown(), "!B1:B9"]
    assert areas("'[1]Bid'!A1+[2]Bid!A1+LOG10(3)&\"A1\"") == []


CELLS = [f"{column}{row}" for column in "AB" for row in range(1, 5)]


@given(st.dictionaries(st.sampled_from(CELLS), st.lists(st.sampled_from([*CELLS, "Bid!A1", "1"]))))
def test_what_reaches_results_is_what_a_search_finds(graph):
    """A random web of cells, circles too, against the closure worked out the plain way."""
    formulas = {cell: "=1" + "".join(f"+{to}" for to in looks) for cell, looks in graph.items()}
    expected = {cell for cell, looks in graph.items() if "Bid!A1" in looks}
    while True:
        more = {c for c, looks in graph.items() if expected & set(looks)} - expected
        if not more:
            break
        expected |= more
    data = users({"Mine!Z1": 1, **{f"Mine!{cell}": text for cell, text in formulas.items()}})
    found = saved(data)
    assert {cell for cell in graph if found[f"Mine!{cell}"] is None} == expected


AREAS = st.builds(
    lambda top, left, down, right: Area(top, left, top + down, left + right),
    st.integers(1, 40), st.integers(1, 12), st.integers(0, 40), st.integers(0, 12),
)  # fmt: skip


@given(st.lists(AREAS, max_size=12), st.lists(st.tuples(st.integers(1, 50), st.integers(1, 20))))
def test_areas_are_found_by_the_cells_inside_them(areas, cells):
    watched = Watched()
    for number, area in enumerate(areas):
        watched.add(area, number)
    found = {number for row, column in cells for number in watched.take(row, column)}
    assert found == {
        number
        for number, area in enumerate(areas)
        for row, column in cells
        if area.top <= row <= area.bottom and area.left <= column <= area.right
    }


def test_whole_rows_and_columns_are_found_by_their_last_cells():
    watched = Watched()
    watched.add(Area(7, 1, 7, LAST_COLUMN), "row")
    watched.add(Area(1, 3, LAST_ROW, 3), "column")
    assert list(watched.take(8, 4)) == []
    assert list(watched.take(7, LAST_COLUMN)) == ["row"]
    assert list(watched.take(LAST_ROW, 3)) == ["column"]


# LibreOffice as a user has it


def users_job():
    """A small job with a sheet of the user's that looks at results in several ways."""
    formulas = (
        "=Cost!A1", "=SUM(Cost!A1:Z200)", "=B2*2", '=INDIRECT("Checks!B3")', "=Checks!B3",
        "=COUNTA(Plan!A1:A300)", "=Crew!A1", "=SUM(B2:B3)",
    )  # fmt: skip

    def add(book):
        sheet = book.add_worksheet("Mine")
        for row, formula in enumerate(formulas):
            sheet.write_formula(row, 1, formula, None, OLD)

    return WorkbookFactory(extra=add).build()


def with_wage(data, wage):
    """Return a workbook with another wage of the first role, changed in its sheet's part."""
    factory = WorkbookFactory()
    cell = factory.where("crew", "wage").partition("!")[2]
    package = Package.open(data)
    (entry,) = [entry for entry in package.workbook_sheets() if entry.name == "Crew"]
    text = part(data, entry.part)
    changed = re.sub(rf'(<c r="{cell}"[^>]*><v>)[^<]*', rf"\g<1>{wage}", text)
    assert changed != text
    return with_parts(data, {entry.part: changed.encode()})


def shown_by_default_profile(path, folder):
    """Return the cells of the sheet Mine as LibreOffice shows them that a user just installed."""
    subprocess.run(
        [shutil.which("soffice"), "--headless", f"-env:UserInstallation={(folder / 'p').as_uri()}",
         "--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,"
         "false,-1", "--outdir", str(folder), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    with (folder / f"{path.stem}-Mine.csv").open(encoding="utf-8", newline="") as file:
        return [row[1] for row in csv.reader(file)]


def test_libreoffice_with_a_default_profile_shows_fresh_numbers(tmp_path):
    before = parse_workbook(users_job())
    path = tmp_path / "job.xlsx"
    path.write_bytes(with_results(before, api.estimate_workbook(before)))
    by_office = office.convert(path, tmp_path / "saved.xlsx").read_bytes()
    assert saved(by_office)["Mine!B2"] != OLD
    changed = parse_workbook(with_wage(by_office, 480))
    fresh = with_results(changed, api.estimate_workbook(changed))
    path.write_bytes(fresh)
    true_values = office.recalculate(path)["Mine"]
    old, now = saved(by_office), saved(fresh)
    assert true_values["B2"] != pytest.approx(old["Mine!B2"]), "the change of wage changed nothing"
    for place, value in now.items():
        if place.startswith("Mine!B") and value is not None:
            assert value == pytest.approx(true_values[place.removeprefix("Mine!")])
    assert now["Mine!B1"] is not None
    assert now["Mine!B5"] is not None
    shown = shown_by_default_profile(path, tmp_path)
    for row, text in enumerate(shown, 1):
        true = true_values.get(f"B{row}", "")
        if isinstance(true, float):
            assert float(text) == pytest.approx(true, abs=0.01), row
        else:
            assert text == true, row


LOOKED_AT = [f"{column}{row}" for row in range(1, 31) for column in "ABCDEF"]
"""Cells of Status that the user's sheet looks at; most hold something, some change with the day."""


def with_a_look_at(data, looked_at):
    """Return a workbook with a sheet Mine whose cells show those of another, with old values."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data))
    sheet = book.create_sheet("Mine")
    for cell in LOOKED_AT:
        sheet[cell] = f"='{looked_at}'!{cell}"
    out = io.BytesIO()
    book.save(out)
    (entry,) = [one for one in Package.open(out.getvalue()).workbook_sheets() if one.name == "Mine"]
    text = part(out.getvalue(), entry.part)
    old = re.sub(r"</f><v ?/>|</f><v></v>", f"</f><v>{OLD}</v>", text)
    assert old.count(f"<v>{OLD}</v>") == len(LOOKED_AT)
    return with_parts(out.getvalue(), {entry.part: old.encode()})


def test_formulas_that_look_at_a_page_after_award_follow_it():
    """Status written up to one day, looked at by the user, then written up to a later day."""
    data = small_under_way()
    shown = []
    for day in (dt.date(2027, 3, 12), dt.date(2027, 3, 26)):
        workbook = parse_workbook(data)
        data = with_pages(workbook, status_pages(workbook, day)[1])
        if not shown:
            workbook = parse_workbook(with_a_look_at(data, "Status"))
            data = with_pages(workbook, status_pages(workbook, day)[1])
        shown.append(shown_of("Status", data))
    assert sum(value is not None for value in shown[1].values()) > 60
    assert sum(shown[0][cell] != shown[1][cell] for cell in LOOKED_AT) > 5


def shown_of(sheet, data):
    """Return what the user's cells show of a sheet, each as it is there or nothing."""
    values = saved(data)
    found = {cell: values.get(f"Mine!{cell}") for cell in LOOKED_AT}
    for cell, value in found.items():
        there = values.get(f"{sheet}!{cell}")
        day_number = to_excel(there) if isinstance(there, dt.datetime) else there
        assert value in (day_number, None) or not value, (sheet, cell, value)
    return found


def test_formulas_that_wait_for_the_next_claim_show_it_once_it_is_made():
    """And those of the claim before keep what it says: it stays as it is."""
    data = with_a_look_at(small_under_way(), "Claim 1")
    for day in (dt.date(2027, 3, 12), dt.date(2027, 3, 26)):
        workbook = parse_workbook(data)
        data = with_pages(workbook, claim_pages(workbook, day)[1])
        shown = shown_of("Claim 1", data)
        assert sum(value is not None for value in shown.values()) > 40
