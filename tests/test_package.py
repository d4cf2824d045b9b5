"""The package editor against a rich workbook, LibreOffice, openpyxl and Python's zipfile."""

import contextlib
import datetime as dt
import io
import re
import struct
import warnings
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from PIL import Image

from estimator.errors import WorkbookError
from estimator.workbook.package.drop import remove_from_chain
from estimator.workbook.package.package import Package, TableEntry
from estimator.workbook.package.parts import tag
from estimator.workbook.package.zip_file import ZipMembers, replace_members
from estimator.workbook.sheet.spec import Cell, ChartSpec, Row, SheetSpec
from tests import office
from tests.rich_workbook import part, rich_workbook, tiny_vba_project, with_parts

EXAMPLES = Path(__file__).parent.parent / "examples"

LISTS = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml"}
CHART_COLOR = (192, 80, 77)
DAMAGEABLE = rich_workbook(result="Joints")


def joints(name="Joints", rows=3):
    body = [
        Row((Cell(f"Run {i}"), Cell(float(i), "num1"), Cell(i * 2.0, "money", f"B{i + 3}*2")))
        for i in range(rows)
    ]
    head = Row(tuple(Cell(text, "header") for text in ("Run", "Joints", "Cost")))
    total = Cell(float(sum(range(rows))), "total_num1", f"SUM(B3:B{rows + 2})")
    return SheetSpec(
        name,
        (Row((Cell("Joints", "title"), total)), head, *body),
        widths=(20, 10, 12),
        freeze=(2, 1),
        header_row=2,
        print_area=f"A1:C{rows + 2}",
        autofilter=f"A2:C{rows + 2}",
    )


def plan(name="Plan", joints_name="Joints"):
    days = [dt.date(2027, 3, 1) + dt.timedelta(day) for day in range(30)]
    rows = [Row((Cell(day, "date"), Cell(i * 4, "int"))) for i, day in enumerate(days)]
    rows.append(Row((Cell("All"), Cell(3.0, "total_num1", f"'{joints_name}'!B1"))))
    ref = f"'{name}'!$A$1:$A$30"
    chart = ChartSpec(
        kind="line",
        title="So far",
        x_title="Date",
        y_title="Joints",
        categories=ref,
        series=(("Joints", ref.replace("A", "B"), "C0504D"),),
        anchor=("D2", "K20"),
    )
    return SheetSpec(name, tuple(rows), widths=(18, 10), charts=(chart,))


def stored(data):
    """Return the compressed bytes of every member, read apart from the code under test."""
    found = {}
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert file.testzip() is None
        for info in file.infolist():
            name, extra = struct.unpack_from("<HH", data, info.header_offset + 26)
            start = info.header_offset + 30 + name + extra
            found[info.filename] = data[start : start + info.compress_size]
    return found


def saved(tmp_path, data, name="job.xlsx"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def quietly_opened(data, **options):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(io.BytesIO(data), **options)


@pytest.mark.parametrize("macros", [False, True], ids=["xlsx", "xlsm"])
def test_put_sheets_keeps_every_other_member_as_its_compressed_bytes(macros):
    before = rich_workbook(macros=macros)
    after = Package.open(before).put_sheets([joints(), plan()])
    old, new = stored(before), stored(after)
    assert {name for name in old if old[name] != new.get(name)} == LISTS
    assert list(new)[: len(old)] == list(old)
    assert set(new) - set(old) == {
        "xl/worksheets/sheet4.xml",
        "xl/worksheets/sheet5.xml",
        "xl/worksheets/_rels/sheet5.xml.rels",
        "xl/drawings/drawing3.xml",
        "xl/drawings/_rels/drawing3.xml.rels",
        "xl/charts/chart2.xml",
    }


def test_put_sheets_moves_no_style_of_the_user():
    before = rich_workbook()
    after = Package.open(before).put_sheets([joints(), plan()])
    old, new = (etree.fromstring(part(data, "xl/styles.xml").encode()) for data in (before, after))
    for name in ("fonts", "fills", "borders", "cellXfs", "dxfs", "cellStyleXfs"):
        was = [etree.tostring(e, method="c14n") for e in old.find(tag(name))]
        now = [etree.tostring(e, method="c14n") for e in new.find(tag(name))]
        assert now[: len(was)] == was
        assert new.find(tag(name)).get("count") == str(len(now))
    cell = quietly_opened(after)["Pipes"]["F1"]
    assert cell.number_format == "yyyy-mm-dd"


def test_put_sheets_twice_gives_the_same_file():
    once = Package.open(rich_workbook()).put_sheets([joints(), plan()])
    assert Package.open(once).put_sheets([joints(), plan()]) == once


def test_put_sheets_with_other_results_changes_only_our_sheets():
    once = Package.open(rich_workbook()).put_sheets([joints(), plan()])
    twice = Package.open(once).put_sheets([joints(rows=7), plan()])
    old, new = stored(once), stored(twice)
    changed = {name for name in old if old[name] != new.get(name)}
    assert changed == {"xl/worksheets/sheet4.xml", "xl/workbook.xml"}
    assert list(new) == list(old)


def test_cached_values_are_what_libreoffice_calculates(tmp_path):
    data = Package.open(rich_workbook()).put_sheets([joints(), plan()])
    shown = office.recalculate(saved(tmp_path, data))
    assert office.errors_in(shown) == []
    cached = quietly_opened(data, data_only=True)
    formulas = quietly_opened(data)
    cells = [
        (sheet.title, cell.coordinate)
        for sheet in formulas
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert len(cells) == 3 + 1 + 4 + 1
    for sheet, place in cells:
        assert cached[sheet][place].value == shown[sheet][place]


def test_user_formulas_that_refer_to_a_result_sheet_follow_it(tmp_path):
    first = Package.open(rich_workbook()).put_sheets([joints(rows=3), plan()])
    second = Package.open(first).put_sheets([joints(rows=5), plan()])
    shown = office.recalculate(saved(tmp_path, second))
    assert shown["Joints"]["B1"] == 0 + 1 + 2 + 3 + 4
    assert shown["Plan"]["B31"] == shown["Joints"]["B1"]


def test_openpyxl_reads_styles_print_set_up_and_chart():
    data = Package.open(rich_workbook()).put_sheets([joints(), plan()])
    book = quietly_opened(data)
    sheet = book["Joints"]
    assert book.sheetnames == ["Pipes", "Charts", "Hidden", "Joints", "Plan"]
    assert sheet["A2"].fill.fill_type is None
    assert sheet["A2"].font.color.rgb == "FF1F3550"
    assert sheet["A2"].border.bottom.style == "medium"
    assert sheet["A2"].alignment.wrap_text
    assert sheet["B3"].number_format == '#,##0.0;-#,##0.0;"\N{EN DASH}"'
    assert book["Plan"]["A1"].value == dt.datetime(2027, 3, 1)
    assert (sheet.freeze_panes, sheet.print_title_rows) == ("B3", "$2:$2")
    assert sheet.auto_filter.ref == "A2:C5"
    assert sheet.print_area == "'Joints'!$A$1:$C$5"
    (chart,) = book["Plan"]._charts
    assert [s.val.numRef.f for s in chart.series] == ["'Plan'!$B$1:$B$30"]
    assert chart.series[0].val.numRef.numCache.pt[29].v == 116
    assert chart.x_axis.tagname == "dateAx"


def test_chart_is_drawn_by_libreoffice(tmp_path):
    data = Package.open(rich_workbook()).put_sheets([plan()])
    pages = office.pictures(saved(tmp_path, data), tmp_path)
    drawn = 0
    for page in pages:
        with Image.open(page) as picture:
            for count, color in picture.convert("RGB").getcolors(picture.width * picture.height):
                near = (abs(a - b) < 12 for a, b in zip(color, CHART_COLOR, strict=True))
                drawn += count * all(near)
    assert drawn > 100


def test_a_renamed_sheet_of_ours_is_replaced_under_its_new_name(tmp_path):
    path = saved(tmp_path, Package.open(rich_workbook()).put_sheets([joints(), plan()]))
    renamed = office.convert(path, tmp_path / "renamed.xlsx", {"Joints": "Bob's joints"})
    package = Package.open(str(renamed))
    assert package.result_sheet_name("Joints") == "Bob's joints"
    assert package.result_sheet_name("Plan") == "Plan"
    name = package.result_sheet_name("Joints")
    again = package.put_sheets([joints(name, rows=6), plan(joints_name=name.replace("'", "''"))])
    reopened = Package.open(again)
    assert reopened.sheet_names() == ("Pipes", "Charts", "Hidden", "Bob's joints", "Plan")
    assert reopened.result_sheet_name("Joints") == "Bob's joints"
    shown = office.recalculate(saved(tmp_path, again, "again.xlsx"))
    assert office.errors_in(shown) == []
    assert shown["Plan"]["B31"] == shown["Bob's joints"]["B1"] == 15


def test_a_renamed_sheet_is_found_by_our_own_name_too():
    data = rich_workbook(result="My sheet")
    again = Package.open(data).put_sheets([joints("Joints")])
    assert Package.open(again).sheet_names() == ("Pipes", "Charts", "Hidden", "My sheet")
    assert quietly_opened(again)["My sheet"].print_title_rows == "$2:$2"


def test_a_result_sheet_that_the_user_deleted_comes_back_at_the_end():
    data = rich_workbook(result="Joints")
    text = part(data, "xl/workbook.xml")
    text = re.sub(r'<sheet name="Joints"[^>]*/>', "", text)
    text = re.sub(r"'Joints'!\$A\$1<", "#REF!$A$1<", text)
    text = re.sub(r'<definedName name="_xlnm[^>]*localSheetId="3"[^<]*</definedName>', "", text)
    package = Package.open(with_parts(data, {"xl/workbook.xml": text.encode()}))
    assert package.result_sheet_name("Joints") == "Joints"
    again = Package.open(package.put_sheets([joints()]))
    assert again.sheet_names() == ("Pipes", "Charts", "Hidden", "Joints")
    assert again.defined_names()["_result_Joints"] == "'Joints'!$A$1"


def test_all_sheets_of_the_user_in_the_way_are_reported_at_once():
    text = part(rich_workbook(), "xl/workbook.xml")
    taken = text.replace('"Charts"', '"Plan"').replace('"Hidden"', '"Joints"')
    data = with_parts(rich_workbook(), {"xl/workbook.xml": taken.encode()})
    with pytest.raises(WorkbookError, match=r"^Sheets 'Plan', 'Joints' are yours"):
        Package.open(data).put_sheets([plan(), joints()])


@pytest.mark.parametrize("name", ["Joints", "JOINTS"])
def test_a_sheet_of_the_user_is_never_replaced(name):
    data = with_parts(
        rich_workbook(),
        {"xl/workbook.xml": part(rich_workbook(), "xl/workbook.xml")
            .replace('"Charts"', f'"{name}"').encode()},
    )  # fmt: skip
    with pytest.raises(
        WorkbookError, match=r"Sheet 'Joints' is yours but has the name of a result sheet"
    ):
        Package.open(data).put_sheets([plan(), joints()])


def test_replacing_a_saved_sheet_drops_what_only_it_used():
    before = rich_workbook(macros=True, result="Joints")
    after = Package.open(before).put_sheets([joints()])
    old, new = stored(before), stored(after)
    assert set(old) - set(new) == {
        "xl/worksheets/_rels/sheet4.xml.rels",
        "xl/charts/chart2.xml",
        "xl/comments2.xml",
        "xl/drawings/drawing3.xml",
        "xl/drawings/_rels/drawing3.xml.rels",
        "xl/drawings/vmlDrawing2.vml",
        "xl/printerSettings/printerSettings1.bin",
        "xl/tables/table2.xml",
    }
    types = part(after, "[Content_Types].xml")
    assert set(re.findall(r'PartName="/([^"]*)"', types)) <= set(new)
    assert old["xl/media/image1.png"] == new["xl/media/image1.png"]
    changed = {name for name in new if new[name] != old.get(name)}
    links = {"xl/_rels/workbook.xml.rels"}
    assert changed == {*LISTS, "xl/worksheets/sheet4.xml", "xl/calcChain.xml"} - links


def test_replacing_a_saved_sheet_keeps_its_place_ids_and_macro_name():
    before = rich_workbook(macros=True, result="Joints")
    after = Package.open(before).put_sheets([plan(), joints()])
    (entry,) = [e for e in Package.open(before).workbook_sheets() if e.name == "Joints"]
    assert entry == Package.open(after).workbook_sheets()[3]
    assert part(after, entry.part).count('codeName="Sheet44"') == 1
    assert "localSheetId" not in re.findall(
        r"<definedName[^>]*_result_[^>]*>", after.decode("latin1")
    )
    sheet = quietly_opened(after)["Joints"]
    assert (sheet.print_title_rows, sheet.print_area) == ("$2:$2", "'Joints'!$A$1:$C$5")


def test_replacing_a_saved_sheet_clears_its_calculation_chain(tmp_path):
    after = Package.open(rich_workbook(result="Joints")).put_sheets([joints()])
    chain = etree.fromstring(part(after, "xl/calcChain.xml").encode())
    assert [(c.get("r"), c.get("i")) for c in chain] == [
        ("C4", "1"), ("C3", None), ("C2", None), ("A1", "3"),
    ]  # fmt: skip
    assert office.recalculate(saved(tmp_path, after))["Hidden"]["A1"] == 60


def test_a_calculation_chain_of_our_cells_only_goes_with_its_links():
    data = rich_workbook(result="Joints")
    chain = part(data, "xl/calcChain.xml")
    ours_only = re.sub(r"<c .*</calcChain>", '<c r="B2" i="4"/><c r="B3"/></calcChain>', chain)
    data = with_parts(data, {"xl/calcChain.xml": ours_only.encode()})
    after = Package.open(data).put_sheets([joints()])
    assert "xl/calcChain.xml" not in stored(after)
    assert "calcChain" not in part(after, "[Content_Types].xml")
    assert "calcChain" not in part(after, "xl/_rels/workbook.xml.rels")


@given(st.lists(st.tuples(st.integers(1, 4), st.booleans())), st.sets(st.integers(1, 4)))
def test_calculation_chain_keeps_every_other_cell_on_its_sheet(cells, ours):
    chain = etree.Element(tag("calcChain"))
    previous = None
    for number, (sheet, explicit) in enumerate(cells):
        entry = etree.SubElement(chain, tag("c"), r=f"A{number + 1}")
        if explicit or sheet != previous:
            entry.set("i", str(sheet))
        previous = sheet
    remove_from_chain(chain, {str(sheet) for sheet in ours})
    left, sheet = [], None
    for entry in chain:
        sheet = entry.get("i", sheet)
        left.append((entry.get("r"), sheet))
    assert left == [
        (f"A{number + 1}", str(sheet))
        for number, (sheet, _) in enumerate(cells)
        if sheet not in ours
    ]


def test_a_users_table_on_a_result_sheet_that_is_used_elsewhere_is_not_lost():
    data = rich_workbook(result="Joints")
    sheet = part(data, "xl/worksheets/sheet3.xml").replace("SUM(Pipes!C2:C4)", "SUM(tblOwn[a])")
    data = with_parts(data, {"xl/worksheets/sheet3.xml": sheet.encode()})
    with pytest.raises(WorkbookError, match=r"Sheet 'Joints' has your table 'tblOwn'"):
        Package.open(data).put_sheets([joints()])


def test_a_users_pivot_table_on_a_result_sheet_is_not_lost():
    data = rich_workbook(result="Joints")
    links = part(data, "xl/worksheets/_rels/sheet4.xml.rels")
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/pivotTable"
    pivot = f'<Relationship Id="rId70" Type="{kind}" Target="../pivotTables/pivotTable1.xml"/>'
    data = with_parts(
        data,
        {
            "xl/worksheets/_rels/sheet4.xml.rels": links.replace(
                "</Relationships>", f"{pivot}</Relationships>"
            ).encode(),
            "xl/pivotTables/pivotTable1.xml": b"<pivotTableDefinition/>",
        },
    )
    with pytest.raises(WorkbookError, match=r"Sheet 'Joints' has a pivot table of yours"):
        Package.open(data).put_sheets([joints()])


def test_a_workbook_that_libreoffice_saved_is_edited_again(tmp_path):
    path = saved(tmp_path, Package.open(rich_workbook()).put_sheets([joints(), plan()]))
    resaved = office.convert(path, tmp_path / "resaved.xlsx")
    again = Package.open(str(resaved)).put_sheets([joints(rows=4), plan()])
    assert Package.open(again).sheet_names() == ("Pipes", "Charts", "Hidden", "Joints", "Plan")
    assert Package.open(again).put_sheets([joints(rows=4), plan()]) == again
    shown = office.recalculate(saved(tmp_path, again, "again.xlsx"))
    assert office.errors_in(shown) == []
    assert shown["Joints"]["B1"] == 6


def test_a_workbook_that_openpyxl_saved_is_edited(tmp_path):
    book = openpyxl.Workbook()
    book.active["A1"] = "=1+1"
    out = io.BytesIO()
    book.save(out)
    data = Package.open(out.getvalue()).put_sheets([joints(), plan()])
    shown = office.recalculate(saved(tmp_path, data))
    assert (shown["Sheet"]["A1"], shown["Joints"]["B1"]) == (2, 3)


def test_dates_follow_the_date_system_of_the_workbook(tmp_path):
    data = Package.open(rich_workbook(dates_1904=True)).put_sheets([plan()])
    assert Package.open(data).dates_1904
    assert quietly_opened(data)["Plan"]["A1"].value == dt.datetime(2027, 3, 1)
    path = office.convert(saved(tmp_path, data), tmp_path / "resaved.xlsx")
    assert quietly_opened(path.read_bytes())["Plan"]["A1"].value == dt.datetime(2027, 3, 1)


def test_the_program_is_reported_to_calculate_on_load():
    data = Package.open(rich_workbook()).put_sheets([joints()])
    assert quietly_opened(data).calculation.fullCalcOnLoad


def test_namespaces_of_newer_programs_survive_in_the_workbook_part():
    data = rich_workbook()
    text = part(data, "xl/workbook.xml").replace(
        "<workbook ",
        '<workbook xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006" '
        'mc:Ignorable="x15" xmlns:x15="urn:example:newer" ',
    )
    data = with_parts(data, {"xl/workbook.xml": text.encode()})
    after = part(Package.open(data).put_sheets([joints()]), "xl/workbook.xml")
    assert 'mc:Ignorable="x15"' in after
    assert 'xmlns:x15="urn:example:newer"' in after


def test_a_workbook_with_prefixed_elements_is_edited(tmp_path):
    data = rich_workbook()
    text = re.sub(r"<(/?)(?!\?|\w+:)", r"<\1s:", part(data, "xl/workbook.xml"))
    text = text.replace("xmlns=", "xmlns:s=")
    data = with_parts(data, {"xl/workbook.xml": text.encode()})
    after = Package.open(data).put_sheets([joints()])
    assert office.recalculate(saved(tmp_path, after))["Joints"]["B1"] == 3


def bare_workbook():
    """Return the least that a workbook can be: one sheet, no styles, no names."""
    head = '<?xml version="1.0"?>'
    package = "http://schemas.openxmlformats.org/package/2006"
    office_ns = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    main = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"

    def links(target, name):
        return (
            f'{head}<Relationships xmlns="{package}/relationships"><Relationship Id="rId1" '
            f'Type="{office_ns}/{name}" Target="{target}"/></Relationships>'
        )

    parts = {
        "[Content_Types].xml": f'{head}<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/book.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/one.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        "_rels/.rels": links("/xl/book.xml", "officeDocument"),
        "xl/book.xml": f'{head}<workbook {main} xmlns:r="{office_ns}"><sheets>'
        '<sheet name="One" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/book.xml.rels": links("one.xml", "worksheet"),
        "xl/one.xml": f"{head}<worksheet {main}><sheetData/></worksheet>",
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        for name, content in parts.items():
            file.writestr(name, content)
    return out.getvalue()


def test_a_bare_workbook_gets_styles_names_and_charts(tmp_path):
    after = Package.open(bare_workbook()).put_sheets([joints(), plan()])
    book = openpyxl.load_workbook(io.BytesIO(after))
    header = book["Joints"]["A2"]
    assert (header.font.name, header.font.b, header.border.bottom.style) == (
        "Arial",
        True,
        "medium",
    )
    assert len(book["Plan"]._charts) == 1
    assert office.recalculate(saved(tmp_path, after))["Plan"]["B31"] == 3
    assert Package.open(after).put_sheets([joints(), plan()]) == after


def test_result_text_has_its_own_type_whatever_the_workbook_has():
    data = rich_workbook()
    styles = part(data, "xl/styles.xml").replace('"Calibri"', '"Verdana"').replace(
        '<sz val="11"/>', '<sz val="9"/>'
    )  # fmt: skip
    data = with_parts(data, {"xl/styles.xml": styles.encode()})
    sheet = quietly_opened(Package.open(data).put_sheets([joints()]))["Joints"]
    assert (sheet["A3"].font.name, sheet["A3"].font.size) == ("Arial", 9)
    assert (sheet["A1"].font.name, sheet["A1"].font.size) == ("Arial", 16)


def test_tables_names_and_sheets_are_reported_to_the_reader():
    package = Package.open(rich_workbook())
    assert package.tables() == (
        TableEntry(1, "tblPipes", "Pipes", "A1:D4", 1, 0, ("Run", "Length\nm", "Doubled", "Done")),
    )
    assert package.defined_names() == {"Rate": "Pipes!$B$2"}
    assert [(s.name, s.sheet_id, s.state) for s in package.workbook_sheets()] == [
        ("Pipes", 1, "visible"), ("Charts", 2, "visible"), ("Hidden", 3, "hidden"),
    ]  # fmt: skip
    assert package.part("customXml/item1.xml").endswith(b"kept as it is</note>")
    assert "xl/calcChain.xml" in package.members()


def test_two_results_of_one_name_are_refused():
    with pytest.raises(
        ValueError, match=re.escape("Two result sheets are named 'Joints'. Rename one")
    ):
        Package.open(rich_workbook()).put_sheets([joints(), joints()])


@pytest.mark.parametrize("name", ["a" * 32, "a/b", "", "'quoted'", "a[1]"])
def test_a_name_that_no_sheet_can_have_is_refused(name):
    with pytest.raises(ValueError, match="is not a valid sheet name"):
        Package.open(rich_workbook()).put_sheets([joints(name)])


def strict(text):
    return text.replace(
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        "http://purl.oclc.org/ooxml/spreadsheetml/main",
    )


def with_edit(name, edit):
    data = rich_workbook()
    return with_parts(data, {name: edit(part(data, name)).encode()})


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "not an .xlsx or .xlsm workbook"),
        (b"name,length\n", "not an .xlsx or .xlsm workbook"),
        (tiny_vba_project(), "password-protected or an old .xls. Save it as .xlsx without"),
        (rich_workbook()[:5000], "damaged and cannot be opened"),
        (with_parts(rich_workbook(), {"xl/workbook.xml": None}), "holds no workbook part"),
        (with_parts(rich_workbook(), {"_rels/.rels": None}), "holds no workbook part"),
        (with_parts(rich_workbook(), {"xl/worksheets/sheet2.xml": None}), "'Charts' has no part"),
        (with_edit("xl/workbook.xml", strict), "Strict Open XML workbook. Save it as"),
        (with_edit("xl/workbook.xml", lambda text: text[:400]), "damaged in its part xl/workbook"),
        (
            with_edit("xl/workbook.xml", lambda text: text.replace(
                "<workbook ", '<!DOCTYPE workbook [<!ENTITY a "b">]><workbook ')),
            "carries a document type",
        ),
        (
            with_edit("[Content_Types].xml", lambda text: text.replace(
                "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
                "application/vnd.ms-excel.sheet.binary.macroEnabled.main")),
            "binary workbook. Save it as .xlsx or .xlsm",
        ),
    ],
)  # fmt: skip
def test_open_refuses_what_it_cannot_edit_and_says_why(data, message):
    with pytest.raises(WorkbookError, match=message):
        Package.open(data)


def test_a_signed_workbook_is_read_but_not_changed():
    data = with_parts(rich_workbook(), {"_xmlsignatures/origin.sigs": b""})
    package = Package.open(data)
    assert package.sheet_names()[0] == "Pipes"
    with pytest.raises(WorkbookError, match="digitally signed, and a change would break"):
        package.put_sheets([joints()])


def test_a_chart_sheet_that_bears_our_mark_is_not_replaced():
    data = rich_workbook(result="Joints")
    links = part(data, "xl/_rels/workbook.xml.rels")
    links = re.sub(
        r'relationships/worksheet("[^>]*sheet4.xml)', r"relationships/chartsheet\1", links
    )
    data = with_parts(data, {"xl/_rels/workbook.xml.rels": links.encode()})
    with pytest.raises(WorkbookError, match="Sheet 'Joints' is not a worksheet"):
        Package.open(data).put_sheets([joints()])


def test_two_members_of_one_name_are_refused():
    out = io.BytesIO(rich_workbook())
    with zipfile.ZipFile(out, "a") as file:
        file.writestr("XL/Workbook.xml", "second")
    with pytest.raises(WorkbookError, match="two parts of the same name"):
        Package.open(out.getvalue())


def test_an_encrypted_member_is_refused():
    data = bytearray(rich_workbook())
    entry = data.rindex(b"PK\x01\x02")
    data[entry + 8] |= 1
    with pytest.raises(WorkbookError, match="is encrypted"):
        Package.open(bytes(data))


def patched_size(data, name, size):
    """Return a zip file whose directory lies about the unpacked size of a member."""
    changed = bytearray(data)
    entry = data.rindex(name.encode()) - 46
    assert data[entry : entry + 4] == b"PK\x01\x02"
    struct.pack_into("<L", changed, entry + 24, size)
    return bytes(changed)


def test_a_part_that_unpacks_to_more_than_a_gibibyte_is_not_read():
    data = patched_size(rich_workbook(), "xl/styles.xml", (1 << 30) + 1)
    with pytest.raises(WorkbookError, match="unpacks to more than 512 MiB"):
        Package.open(data).put_sheets([joints()])


def test_a_part_that_unpacks_to_more_than_it_says_is_refused():
    data = patched_size(rich_workbook(), "xl/styles.xml", 10)
    with pytest.raises(WorkbookError, match=r"damaged in its part xl/styles\.xml"):
        Package.open(data).put_sheets([joints()])


@given(st.data())
def test_a_damaged_file_is_refused_or_edited_but_never_crashes(data):
    damaged = bytearray(DAMAGEABLE)
    for _ in range(data.draw(st.integers(1, 3))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    after = None
    with contextlib.suppress(WorkbookError):
        after = Package.open(bytes(damaged)).put_sheets([joints(), plan()])
    if after is not None:
        assert {"Joints", "Plan"} <= set(Package.open(after).sheet_names())


class Unseekable(io.RawIOBase):
    """A stream that can only be written on, as a web service writes its downloads."""

    def __init__(self):
        super().__init__()
        self.content = b""

    def writable(self):
        return True

    def write(self, data):
        self.content += bytes(data)
        return len(data)


def test_members_with_descriptors_zip64_fields_and_foreign_names_are_copied():
    source = rich_workbook()
    stream = Unseekable()
    with (
        zipfile.ZipFile(io.BytesIO(source)) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for info in old.infolist():
            with new.open(info.filename, "w", force_zip64=True) as member:
                member.write(old.read(info))
        note = zipfile.ZipInfo("docs/größe.txt", (2027, 3, 1, 8, 30, 0))
        note.extra, note.comment = struct.pack("<HH4s", 0x7777, 4, b"mine"), b"a remark"
        new.writestr(note, "kept", zipfile.ZIP_STORED)
        new.comment = b"comment of the file"
    before = stream.content
    after = Package.open(before).put_sheets([joints()])
    old, new = stored(before), stored(after)
    assert {name for name in old if old[name] != new.get(name)} == LISTS
    with zipfile.ZipFile(io.BytesIO(after)) as file:
        kept = file.getinfo("docs/größe.txt")
        assert file.comment == b"comment of the file"
        assert (kept.date_time, kept.extra, kept.comment) == (
            note.date_time,
            note.extra,
            note.comment,
        )
        assert file.read(kept) == b"kept"


@given(
    st.dictionaries(st.text("abc/", min_size=1, max_size=8), st.binary(max_size=300), max_size=8),
    st.dictionaries(st.text("abc/", min_size=1, max_size=8), st.binary(max_size=300), max_size=4),
    st.frozensets(st.text("abc/", min_size=1, max_size=8), max_size=4),
)
def test_replaced_members_are_read_back_by_another_program(old, changed, dropped):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as file:
        for name, content in old.items():
            file.writestr(zipfile.ZipInfo(name), content)
    data = replace_members(ZipMembers(stream.getvalue()), changed, dropped)
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        found = {info.filename: file.read(info) for info in file.infolist()}
    kept = {name: content for name, content in old.items() if name not in dropped}
    assert found == {**kept, **changed}


@pytest.mark.parametrize("name", ["raw_water_main", "under_way"])
def test_each_number_format_of_a_cell_is_one_of_those_for_cells(name):
    """That of a conditional format has a number too, but cells cannot use it."""
    with zipfile.ZipFile(EXAMPLES / f"{name}.xlsx") as book:
        styles = book.read("xl/styles.xml").decode()
    cells = styles[styles.index("<cellXfs") : styles.index("</cellXfs>")]
    listed = styles[styles.index("<numFmts") : styles.index("</numFmts>")]
    own = {number for number in re.findall(r'numFmtId="(\d+)"', cells) if int(number) >= 164}
    assert own <= {*re.findall(r'numFmtId="(\d+)"', listed)}
