"""The sheet renderer against lxml, openpyxl and LibreOffice."""

import datetime as dt
import io
import re
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

import estimator
from estimator.workbook.package.chart_xml import ChartWriter
from estimator.workbook.package.package import Package
from estimator.workbook.package.parts import tag, unescape
from estimator.workbook.package.sheet_xml import render
from estimator.workbook.sheet.blocks import ABOVE, OTHER, ROW, Block, Column, Rows
from estimator.workbook.sheet.cell_text import escape, fitting, serial_date
from estimator.workbook.sheet.look import bare_steps
from estimator.workbook.sheet.spec import Cell, ChartSpec, ConditionalRule, Row, SheetSpec
from estimator.workbook.sheet.styles import STYLES, StyleIds
from tests import office

ELEMENT_ORDER = [
    "sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "autoFilter",
    "mergeCells", "conditionalFormatting", "hyperlinks", "pageMargins", "pageSetup",
    "headerFooter", "ignoredErrors", "drawing",
]  # fmt: skip
"""Order of these elements by the sequence of CT_Worksheet, ECMA-376 part 1, 18.3.1.99."""

NASTY = (
    "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "'quoted", '=cmd|"/c calc"!A1', "=HYPERLINK(1)",
    "  two spaces  ", "line\nbreak", "carriage\rreturn", "bell\x07", "nul\x00", "_x0041_",
    "_x0041_x0042_", "a_x005F_", "<b>&amp;</b>", 'say "hi"', "\u00d8 \u20ac \u4e2d", "\U0001f600",
    "1234", "TRUE", "2027-03-01", "#N/A",
)  # fmt: skip

IDS = dict.fromkeys(STYLES, 0)


def sheet(*rows, **options):
    return SheetSpec("Sheet1", tuple(Row(tuple(cells)) for cells in rows), **options)


def xml(spec, **options):
    ids = StyleIds(
        cells=IDS, quoted=dict.fromkeys(STYLES, 7), rules=IDS, runs=dict.fromkeys(STYLES, "")
    )
    return etree.fromstring(render(spec, ids, **options))


def workbook(*specs):
    out = io.BytesIO()
    openpyxl.Workbook().save(out)
    return Package.open(out.getvalue()).put_sheets(specs)


def recalculated(tmp_path, *specs):
    path = tmp_path / "job.xlsx"
    path.write_bytes(workbook(*specs))
    return office.recalculate(path)


def test_elements_stand_in_the_order_of_the_standard():
    chart = ChartSpec("line", "t", "x", "y", "'Sheet'!A1:A2", (("s", "'Sheet'!A1:A2", "000000"),),
                      ("C1", "F9"))  # fmt: skip
    spec = sheet(
        [Cell("a", "header"), Cell("b")], [Cell(1), Cell(2)],
        widths=(9, 9), freeze=(1, 1), autofilter="A1:B2", merges=("A3:B3",), charts=(chart,),
        conditional=(ConditionalRule("A2:A2", "data bar", "", "bar"),), links=(("A1", "'S'!A1"),),
    )  # fmt: skip
    root = xml(spec, drawing_id="rId1", code_name="Sheet4")
    assert [etree.QName(child).localname for child in root] == ELEMENT_ORDER
    assert root.find(tag("sheetPr")).get("codeName") == "Sheet4"


def test_user_text_is_data_in_libreoffice_whatever_it_starts_with(tmp_path):
    shown = recalculated(tmp_path, sheet(*([Cell(text)] for text in NASTY)))
    assert [shown["Sheet1"].get(f"A{row}") for row in range(1, len(NASTY) + 1)] == [*NASTY]


def test_user_text_holds_no_formula_for_openpyxl():
    data = workbook(sheet(*([Cell(text)] for text in NASTY)))
    cells = [row[0] for row in openpyxl.load_workbook(io.BytesIO(data))["Sheet1"].iter_rows()]
    assert len(cells) == len(NASTY)
    root = etree.fromstring(Package.open(data).part("xl/worksheets/sheet2.xml"))
    assert root.find(f".//{tag('f')}") is None
    assert {c.get("t") for c in root.iter(tag("c"))} == {"inlineStr"}


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@a", "\ta", "\ra"])
def test_text_that_begins_like_a_formula_is_marked_as_text(text):
    assert xml(sheet([Cell(text)])).find(f".//{tag('c')}").get("s") == "7"
    assert xml(sheet([Cell(f"a{text}")])).find(f".//{tag('c')}").get("s") == "0"


@given(st.text())
def test_any_text_comes_back_from_the_xml(text):
    root = etree.fromstring(f"<t>{escape(text)}</t>")
    assert unescape(root.text or "") == text


@given(st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.integers(-(2**53), 2**53)))
def test_any_number_comes_back_exactly(number):
    value = xml(sheet([Cell(number, "num1")])).find(f".//{tag('v')}").text
    assert float(value) == number


@given(st.dates(dt.date(1900, 3, 1), dt.date(9999, 12, 31)))
def test_any_date_is_the_day_that_openpyxl_makes_of_its_number(day):
    from openpyxl.utils.datetime import MAC_EPOCH, from_excel

    assert from_excel(serial_date(day, dates_1904=False)).date() == day
    if day >= dt.date(1904, 1, 2):
        found = from_excel(serial_date(day, dates_1904=True), epoch=MAC_EPOCH)
        assert found.date() == day


def test_time_of_day_is_a_fraction_of_a_day():
    assert serial_date(dt.datetime(2027, 3, 1, 18, 0), dates_1904=False) % 1 == 0.75


@pytest.mark.parametrize("dates_1904", [False, True])
def test_a_date_that_the_system_cannot_hold_is_refused(dates_1904):
    with pytest.raises(ValueError, match=r"date must be 190[04]-0[13]-01 or later, got 1899-12-31"):
        serial_date(dt.date(1899, 12, 31), dates_1904=dates_1904)


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
@pytest.mark.parametrize("formula", [None, "1/0"])
def test_a_number_that_is_none_is_refused(number, formula):
    with pytest.raises(ValueError, match=r"number in B1 must be finite, got -?(nan|inf)"):
        xml(sheet([None, Cell(number, "num1", formula)]))


# Excel's limit is 32,767 characters; the count is by hand: 40,000 - 32,727 kept.
def test_a_text_too_long_for_a_cell_ends_with_how_much_is_left_out():
    assert fitting("a" * 32_767) == "a" * 32_767
    assert fitting("a" * 40_000) == "a" * 32_727 + "... and 7,273 more characters"
    assert len(fitting("a" * 10**7)) <= 32_767


@pytest.mark.parametrize(
    ("cell", "message"),
    [
        (Cell(1, "int", "1+" * 4096 + "1"), "A1 must have 8192 letters or less"),
        (Cell(1, "int", "=1"), "formula in A1 must be without '='"),
        (Cell(1, "int", ""), "formula in A1 must be without '='"),
    ],
)
def test_what_no_cell_can_hold_is_refused(cell, message):
    with pytest.raises(ValueError, match=message):
        xml(sheet([cell]))


@pytest.mark.parametrize("merges", [("A1:A1",), ("A1:B2", "B2:C3"), ("B2",)])
def test_merged_ranges_that_would_damage_the_file_are_refused(merges):
    with pytest.raises(ValueError, match="must hold two cells or more, in no other one"):
        xml(sheet([Cell(1)], merges=merges))


def test_formula_results_of_every_kind_are_what_libreoffice_calculates(tmp_path):
    formulas = [
        Cell(3.5, "num1", "1.5+2"),
        Cell('a "b" & c', "text", '"a ""b"" & "&"c"'),
        Cell(True, "text", "1<2"),
        Cell(dt.date(2027, 3, 1), "date", "DATE(2027,3,1)"),
        Cell(0, "int", "IF(1>2,1,0)"),
        Cell("", "text", '""'),
    ]
    spec = sheet(formulas, [Cell(cell.value, cell.style) for cell in formulas])
    shown = recalculated(tmp_path, spec)["Sheet1"]
    for column in "ABCDEF":
        assert shown.get(f"{column}1") == shown.get(f"{column}2")
    assert (shown["A1"], shown["B1"], shown["C1"]) == (3.5, 'a "b" & c', 1)
    cached = openpyxl.load_workbook(io.BytesIO(workbook(spec)), data_only=True)["Sheet1"]
    assert [cell.value for cell in cached[1]][:4] == [
        3.5, 'a "b" & c', True, dt.datetime(2027, 3, 1),
    ]  # fmt: skip


def test_layout_is_what_openpyxl_reads():
    spec = SheetSpec(
        "Lay out",
        (Row((Cell("a"), None, Cell("c")), height=30), Row(()), Row((Cell("d"),))),
        widths=(12.5, 3),
        freeze=(1, 0),
        header_row=1,
        landscape=False,
        paper="a4",
        tab_color="C0504D",
        merges=("$A$3:$C$3",),
        links=(("A1", "'Lay out'!A3"),),
    )
    found = openpyxl.load_workbook(io.BytesIO(workbook(spec)))["Lay out"]
    assert [cell.value for cell in found[1]] == ["a", None, "c"]
    assert found.row_dimensions[1].height == 30
    assert found.column_dimensions["A"].width == pytest.approx(12.5 + 5 / 7, abs=0.01)
    assert found.freeze_panes == "A2"
    assert found.sheet_properties.tabColor.rgb == "FFC0504D"
    assert found.page_setup.orientation == "portrait"
    assert (found.page_setup.paperSize, found.page_setup.scale) == (9, 100)
    assert found.page_setup.fitToWidth is found.page_setup.fitToHeight is None
    assert [str(area) for area in found.merged_cells.ranges] == ["A3:C3"]
    assert found["A1"].hyperlink.location == "'Lay out'!A3"
    assert "Page &P of &N" in found.oddFooter.right.text or "&P" in found.oddFooter.right.text


def test_conditional_looks_are_what_openpyxl_reads():
    rules = (
        ConditionalRule("A1:A9", "text equals", 'say "OK"', "ok"),
        ConditionalRule("B1:B9", "formula", '$B1<>"OK"', "warn"),
        ConditionalRule("C1:C9", "data bar", "", "bar"),
    )
    data = workbook(sheet([Cell("a")], conditional=rules))
    found = openpyxl.load_workbook(io.BytesIO(data))["Sheet1"].conditional_formatting
    (equal,), (formula,), (bar,) = (area.rules for area in found)
    assert (equal.operator, equal.formula) == ("equal", ['"say ""OK"""'])
    assert equal.dxf.fill.bgColor.rgb == f"FF{STYLES['ok'].fill}"
    assert (formula.type, formula.formula) == ("expression", ['$B1<>"OK"'])
    assert formula.dxf.font.color.rgb == f"FF{STYLES['warn'].font_color}"
    assert bar.dataBar.color.rgb == f"FF{STYLES['bar'].fill}"


def test_every_style_is_what_openpyxl_reads():
    data = workbook(sheet(*([Cell(1, key)] for key in STYLES)))
    cells = openpyxl.load_workbook(io.BytesIO(data))["Sheet1"]["A"]
    for (key, style), cell in zip(STYLES.items(), cells, strict=True):
        assert cell.number_format == style.number_format, key
        assert (cell.font.bold, cell.font.italic) == (style.bold, style.italic), key
        assert (cell.font.underline == "single") == style.underline, key
        assert bool(cell.alignment.wrap_text) == style.wrap, key
        assert bool(cell.alignment.shrink_to_fit) == style.shrink, key
        assert (cell.alignment.horizontal or "") == style.align, key
        if style.fill:
            assert cell.fill.fgColor.rgb == f"FF{style.fill}", key
        if style.font_color:
            assert cell.font.color.rgb == f"FF{style.font_color}", key
        assert (cell.font.name, cell.font.size) == ("Arial", style.font_size), key
        assert (cell.border.bottom.style == "medium") == style.border.endswith("head"), key


def test_no_style_is_smaller_than_eight_points_or_has_a_third_color():
    """16, 11, 9, 8 points, 8.5 in long tables, 18 for the price; ink, dark ochre, gray."""
    assert {style.font_size for style in STYLES.values()} == {18, 16, 11, 9, 8.5, 8}
    colors = {style.font_color for style in STYLES.values()} - {None, "6A7480"}
    assert colors == {"1F3550", "532A00", "4A5560", "FFFFFF"}


def test_no_color_of_a_page_stands_outside_the_look():
    """The module `looks` shows one in an example."""
    sources = {path.stem: path for path in Path(estimator.__file__).parent.rglob("*.py")}
    colored = {
        name for name, path in sources.items() if re.search(r'"[0-9A-F]{6}"', path.read_text())
    }
    assert colored == {"look", "looks"}


def test_the_unit_of_a_header_stands_below_it_in_a_smaller_type():
    data = workbook(sheet([Cell("Length\nft", "header"), Cell("Joints", "header")]))
    book = openpyxl.load_workbook(io.BytesIO(data), rich_text=True)
    noun, unit = book["Sheet1"]["A1"].value
    assert (noun.text, noun.font.b, noun.font.sz) == ("Length\n", True, 9)
    assert (unit.text, bool(unit.font.b), unit.font.sz) == ("ft", False, 8)
    assert book["Sheet1"]["B1"].value == "Joints"
    assert openpyxl.load_workbook(io.BytesIO(data))["Sheet1"]["A1"].value == "Length\nft"


def chart_root(chart, *specs):
    return etree.fromstring(ChartWriter(specs).render(chart))


@pytest.mark.parametrize("kind", ["line", "bar", "column"])
def test_every_kind_of_chart_is_read_by_openpyxl(kind):
    chart = ChartSpec(kind, "Title & co", "Size", "Price", "'Sheet1'!$A$1:$A$3",
                      (("One", "'Sheet1'!$B$1:$B$3", "1F5C66"),
                       ("Two", "'Sheet1'!$B$1:$B$3", "C0504D")),
                      ("D1", "K15"))  # fmt: skip
    rows = [[Cell(name), Cell(n, "int")] for n, name in enumerate(("a", "b", "<c>"))]
    data = workbook(SheetSpec("Result", (Row((Cell(1),)),)), sheet(*rows, charts=(chart,)))
    (found,) = openpyxl.load_workbook(io.BytesIO(data))["Sheet1"]._charts
    assert found.tagname == {"line": "lineChart"}.get(kind, "barChart")
    assert found.title is None
    assert found.x_axis.title.tx.rich.p[0].r[0].t == "Size"
    assert found.y_axis.title.tx.rich.p[0].r[0].t == "Price"
    assert found.legend is not None
    assert [s.tx.v for s in found.series] == ["One", "Two"]
    assert [p.v for p in found.series[0].val.numRef.numCache.pt] == [0, 1, 2]


def test_value_axis_begins_at_zero_where_nothing_else_is_said():
    chart = ChartSpec("points", "t", "", "", "Sheet1!A1:A2", (("s", "Sheet1!B1:B2", "000000"),),
                      ("D1", "K9"), values_to=100.0, values_format='"$"0.0,,"M"')  # fmt: skip
    spec = sheet([Cell("a"), Cell(712558)], [Cell("b"), Cell(947374)], charts=(chart,))
    (found,) = openpyxl.load_workbook(io.BytesIO(workbook(spec)))["Sheet1"]._charts
    assert (found.y_axis.scaling.min, found.y_axis.scaling.max) == (0, 100)
    assert found.y_axis.number_format.formatCode == '"$"0.0,,"M"'


def test_numbers_as_categories_are_few_labels_in_their_format():
    rows = [[Cell(1_130_000 + 10_000 * n), Cell(n, "int")] for n in range(13)]
    chart = ChartSpec("column", "t", "", "", "Sheet1!A1:A13", (("s", "Sheet1!B1:B13", "000000"),),
                      ("D1", "K9"),
                      categories_format=bare_steps("$", 1_250_000, 10_000)[0])  # fmt: skip
    data = workbook(sheet(*rows, charts=(chart,)))
    (found,) = openpyxl.load_workbook(io.BytesIO(data))["Sheet1"]._charts
    assert found.x_axis.number_format.formatCode == "0.00,,"
    assert not found.x_axis.number_format.sourceLinked
    assert found.x_axis.tickLblSkip == found.x_axis.tickMarkSkip == 3, "13 numbers, 5 labels"
    assert found.x_axis.txPr.bodyPr.rot == 0


def test_value_axis_with_both_ends_has_five_labels():
    chart = ChartSpec("line", "t", "", "", "Sheet1!A1:A2", (("s", "Sheet1!B1:B2", "000000"),),
                      ("D1", "K9"), values_to=100.0)  # fmt: skip
    data = workbook(sheet([Cell("a"), Cell(1)], charts=(chart,)))
    (found,) = openpyxl.load_workbook(io.BytesIO(data))["Sheet1"]._charts
    assert found.y_axis.majorUnit == 25


def test_value_axis_begins_where_it_is_reported():
    chart = ChartSpec("points", "t", "", "", "Sheet1!A1:A2", (("s", "Sheet1!B1:B2", "000000"),),
                      ("D1", "K9"), values_from=600000.0)  # fmt: skip
    spec = sheet([Cell("a"), Cell(712558)], [Cell("b"), Cell(947374)], charts=(chart,))
    (found,) = openpyxl.load_workbook(io.BytesIO(workbook(spec)))["Sheet1"]._charts
    assert found.y_axis.scaling.min == 600000


@pytest.mark.parametrize(
    ("last", "number", "unit"),
    [
        (3, "1", "days"),
        (56, "7", "days"),
        (57, "14", "days"),
        (160, "28", "days"),
        (400, "2", "months"),
    ],
)
def test_date_axis_shows_no_more_than_about_eight_dates(last, number, unit):
    day = dt.date(2027, 3, 1)
    spec = sheet(*([Cell(day + dt.timedelta(n), "date"), Cell(n)] for n in range(last + 1)))
    chart = ChartSpec("line", "", "", "", f"Sheet1!A1:A{last + 1}",
                      (("s", f"Sheet1!B1:B{last + 1}", "000000"),), ("D1", "K9"))  # fmt: skip
    root = chart_root(chart, spec)
    axis = root.find(".//{*}dateAx")
    assert axis.find("{*}majorUnit").get("val") == number
    assert axis.find("{*}majorTimeUnit").get("val") == unit
    assert root.find(".//{*}autoTitleDeleted").get("val") == "1"


def test_date_axis_of_half_a_page_has_half_as_many_dates():
    day = dt.date(2027, 3, 1)
    spec = sheet(*([Cell(day + dt.timedelta(n), "date"), Cell(n)] for n in range(81)))
    chart = ChartSpec("line", "", "", "", "Sheet1!A1:A81", (("s", "Sheet1!B1:B81", "000000"),),
                      ("D1", "K9"), most_dates=4)  # fmt: skip
    assert chart_root(chart, spec).find(".//{*}dateAx/{*}majorUnit").get("val") == "28"


@pytest.mark.parametrize(("dates_1904", "ends"), [(False, (46446, 46448)), (True, (44984, 44986))])
def test_a_date_axis_ends_where_its_chart_says(dates_1904, ends):
    """March 1, 2027 is day 46447 from 1900 on, 1,462 less from 1904 on."""
    day = dt.date(2027, 3, 1)
    days = day - dt.timedelta(1), day + dt.timedelta(1)
    spec = sheet([Cell(day, "date"), Cell(1)])
    chart = ChartSpec("points", "", "", "", "Sheet1!A1:A1", (("s", "Sheet1!B1:B1", "000000"),),
                      ("D1", "K9"), days=days)  # fmt: skip
    part = ChartWriter([spec], dates_1904=dates_1904).render(chart)
    scale = etree.fromstring(part).find(".//{*}dateAx/{*}scaling")
    found = scale.find("{*}min"), scale.find("{*}max")
    assert tuple(int(one.get("val")) for one in found) == ends


def test_chart_over_another_sheet_is_left_to_the_program_to_fill():
    chart = ChartSpec("bar", "t", "", "", "Other!A1:A2", (("s", "Other!B1:B2", "000000"),),
                      ("D1", "K9"))  # fmt: skip
    root = chart_root(chart, sheet([Cell(1)]))
    assert [f.text for f in root.iter("{*}f")] == ["Other!A1:A2", "Other!B1:B2"]
    assert list(root.iter("{*}numCache", "{*}strCache")) == []


def test_chart_range_without_a_sheet_is_refused():
    chart = ChartSpec("bar", "t", "", "", "A1:A2", (), ("D1", "K9"))
    with pytest.raises(ValueError, match="range must be like 'Plan'!"):
        chart_root(chart)


def test_the_print_area_of_a_sheet_that_is_filled_in_ends_with_its_last_filled_row():
    """From the top left cell to the last column, in the last row with something in B or D."""
    filled = ("B6:B99", "D6:D99")
    data = workbook(sheet([Cell("a")], widths=(9,) * 5, filled=filled))
    names = etree.fromstring(zipfile.ZipFile(io.BytesIO(data)).read("xl/workbook.xml"))
    (found,) = (one.text for one in names.iter("{*}definedName") if "Print_Area" in one.get("name"))
    last = ",".join(
        f"MAX(('Sheet1'!${column}$6:${column}$99<>\"\")*ROW('Sheet1'!${column}$6:${column}$99))"
        for column in "BD"
    )
    assert found.replace("'Sheet1'", "Sheet1") == (
        f"Sheet1!$A$1:INDEX(Sheet1!$E$1:$E$99,MAX(6,{last}))".replace("'Sheet1'", "Sheet1")
    )


TEXTS = st.sampled_from(NASTY) | st.text(max_size=8)
NUMBERS = st.integers(-9, 9) | st.floats(-9, 9)
COLUMNS_OF = {
    "numbers": NUMBERS,
    "whole numbers": st.integers(-3, 3),
    "some numbers": NUMBERS | st.none(),
    "texts": TEXTS,
    "dates": st.dates(dt.date(2027, 1, 1), dt.date(2027, 1, 9)) | st.none(),
    "anything": TEXTS | NUMBERS | st.none() | st.booleans() | st.dates(dt.date(2027, 1, 1)),
}
FORMULAS = (
    None,
    f"A{ROW}*2%+SUM($B{ABOVE}:B{ROW})",
    f"'Jo''s & 50% <{{x}}>'!$C${OTHER}",
    f"SUM(IF(A{ROW}:B{ROW}>1,1,0))",
    'IF(A1="%s","<&>",0)',
)


@st.composite
def blocks(draw):
    """Draw a block of columns of one kind or of many, some cells in another style."""
    count, first = draw(st.integers(1, 5)), draw(st.integers(2, 999))
    columns = []
    for values in draw(st.lists(st.sampled_from(list(COLUMNS_OF.values())), min_size=1)):
        cells = draw(st.lists(values, min_size=count, max_size=count))
        alike = st.sampled_from(FORMULAS)
        each = st.lists(st.sampled_from([None, "A1", "1<2"]), min_size=count, max_size=count)
        apart = draw(st.dictionaries(st.integers(0, count - 1), st.just("money"), max_size=1))
        style = draw(st.sampled_from(["text", "num1", "header"]))
        columns.append(Column(cells, style, draw(alike | each), apart))
    other = draw(st.lists(st.integers(1, 99_999), min_size=count, max_size=count))
    height = st.none() | st.sampled_from([15.0, 29.5])
    heights = draw(st.none() | st.lists(height, min_size=count, max_size=count))
    return Block(columns, first, other, heights)


@given(blocks())
def test_block_is_written_as_its_rows_are_one_by_one(block):
    """Reference: the writer of single cells; rows above the first are blank."""
    above = [Row([])] * (block.first - 1)
    ids = StyleIds(
        cells={key: number for number, key in enumerate(STYLES)},
        quoted=dict.fromkeys(STYLES, 7),
        rules=IDS,
        runs=dict.fromkeys(STYLES, ""),
    )
    single = [block.row(at) for at in range(block.count)]
    written = [
        render(SheetSpec("Sheet1", rows), ids)
        for rows in (Rows([*above, block]), tuple([*above, *single]))
    ]
    assert written[0] == written[1]


def test_formula_of_a_block_names_its_rows():
    """Rows 5 and 6, which show rows 9 and 4 of another sheet."""
    formulas = f"SUM(A{ABOVE},A{ROW})", f"Plan!$B${OTHER}"
    block = Block([Column([1, 2], "int", formula) for formula in formulas], 5, (9, 4))
    data = xml(SheetSpec("Sheet1", Rows([*[Row([])] * 4, block]))).iter(tag("f"))
    found = [formula.text for formula in data]
    assert found == ["SUM(A4,A5)", "Plan!$B$9", "SUM(A5,A6)", "Plan!$B$4"]
