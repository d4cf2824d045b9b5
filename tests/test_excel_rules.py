"""The checker of what Excel refuses: each kind of fault planted once, and found."""

import functools
import io
import re
import zipfile
from dataclasses import replace

from estimator.workbook.package.package import Package
from estimator.workbook.sheet.spec import ConditionalRule
from tests.each import each
from tests.excel_rules import RULES, faults
from tests.excel_rules.book import Book
from tests.excel_rules.package_rules import members_twice
from tests.rich_workbook import part, rich_workbook, with_parts
from tests.test_package import joints, plan

BOOK, STYLES, TYPES = "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"
USER, HIDDEN, OURS = (f"xl/worksheets/sheet{n}.xml" for n in (1, 3, 4))
TABLE, CHART, DRAWING = "xl/tables/table1.xml", "xl/charts/chart1.xml", "xl/drawings/drawing1.xml"
REMARKS, OLD_DRAWING = "xl/comments1.xml", "xl/drawings/vmlDrawing1.vml"
LINKS, STRINGS, CHAIN = "xl/_rels/workbook.xml.rels", "xl/sharedStrings.xml", "xl/calcChain.xml"
LONG = "x" * 256
DEEP = "(" * 65 + "1" + ")" * 65
RULE = '<cfRule type="expression" dxfId="1" priority="1"><formula>$B3&gt;1</formula></cfRule>'
LIST = '<formula1>"TRUE,FALSE"</formula1>'


@functools.cache
def good():
    """A user's workbook with macros, tables, remarks and charts, and two sheets of ours."""
    sheet = replace(
        joints(),
        merges=("E1:F1",),
        links=(("A1", "'Plan'!A1"),),
        conditional=(ConditionalRule("B3:B5", "formula", "$B3>1", "header"),),
    )
    user = rich_workbook(macros=True, result="Joints")
    return Package.open(user).put_sheets([sheet, plan()])


def test_nothing_is_found_in_good_workbooks():
    assert faults(good()) == []
    assert faults(rich_workbook(dates_1904=True)) == []


# Part, text in it, what takes its place, what the checker must say.
PLANTED = [
    # The package
    (TYPES, 'Extension="png"', 'Extension="gif"', "image1.png: has no content type"),
    (TYPES, '<Default Extension="vml"',
     '<Default Extension="PNG" ContentType="image/png"/><Default Extension="vml"',
     "png has a type 2 times"),
    (TYPES, "/xl/tables/table1.xml", "/xl/tables/table9.xml", "/xl/tables/table9.xml is not there"),
    (TYPES, "spreadsheetml.table+xml", "spreadsheetml.sheet+xml", "table1.xml: content type"),
    (TYPES, "application/vnd.ms-excel.sheet.macroEnabled.main+xml",
     "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml", "holds macros"),
    (LINKS, "worksheets/sheet3.xml", "worksheets/sheet8.xml", "sheet8.xml, which is not there"),
    (LINKS, 'Id="rId2"', 'Id="rId1"', "id rId1 is there 2 times"),
    (USER, '<drawing r:id="rId1"/>', '<drawing r:id="rId7"/>', "relationship rId7 is not there"),
    (USER, "<sheetData>", "<sheetData><row>", "not well-formed"),
    (USER, "<worksheet", "<!DOCTYPE worksheet><worksheet", "carries a document type"),
    # The schema
    (USER, '<sheetPr codeName="Sheet1"', '<sheetPr codename="Sheet1"', "codename of sheetPr"),
    (OURS, '<mergeCell ref="E1:F1"', '<mergeCells ref="E1:F1"', "mergeCells is unknown in mergeC"),
    (OURS, r"(<autoFilter [^>]*>)(<mergeCells.*?</mergeCells>)", r"\2\1", "autoFilter stands too"),
    (USER, r"(<drawing [^>]*>)(<legacyDrawing [^>]*>)", r"\2\1", "drawing stands too late"),
    (USER, r'<ext ([^>]*)uri="[^"]*"', r"<ext \1", "an extension has no address"),
    (USER, '<dataValidations count="1"', '<dataValidations count="2"', "counts 2, holds 1"),
    # The workbook
    (BOOK, 'name="Charts"', f'name="{"x" * 32}"', "has 32 letters, allowed 1 to 31"),
    (BOOK, 'name="Charts"', 'name="a/b"', "letters that are not allowed"),
    (BOOK, 'name="Charts"', "name=\"Bob'\"", "letters that are not allowed"),
    (BOOK, 'name="Charts"', 'name="History"', "kept for Excel itself"),
    (BOOK, 'name="Charts"', 'name="PIPES"', "sheet name 'pipes' is there 2 times"),
    (BOOK, 'sheetId="2"', 'sheetId="1"', "must be different whole numbers"),
    (BOOK, r"<sheet (?![^>]*hidden)", '<sheet state="hidden" ', "no sheet is visible"),
    (BOOK, "<workbookView", '<workbookView activeTab="9"', "activeTab 9 is no sheet"),
    (BOOK, "<workbookView", '<workbookView activeTab="2"', "active sheet 'Hidden' is hidden"),
    (BOOK, 'name="Rate"', 'name="AB12"', "defined name 'AB12' is not allowed"),
    (BOOK, 'name="Rate"', 'name="R1C1"', "defined name 'R1C1' is not allowed"),
    (BOOK, 'name="Rate"', 'name="a rate"', "defined name 'a rate' is not allowed"),
    (BOOK, 'name="Rate"', 'name="_RESULT_plan"', "'_result_plan' of the workbook is there 2"),
    (BOOK, "Pipes!$B$2<", "Nowhere!$B$2<", "refers to sheet 'Nowhere', which is not there"),
    (BOOK, 'localSheetId="0">Pipes!$B$3', 'localSheetId="7">Pipes!$B$3', "belongs to sheet 7"),
    (BOOK, ">Pipes!$1:$1<", ">Pipes!$A$1:$D$1<", "must be whole rows or columns"),
    (BOOK, ">Pipes!$A$1:$D$4<", ">Charts!$A$1:$D$4<", "of sheet 'Pipes' points to another"),
    (CHAIN, 'r="C4"', 'r="C9"', "C9 of sheet 1 has no formula"),
    (CHAIN, 'i="3"', 'i="33"', "A1 of sheet 33 has no formula"),
    # Styles
    (STYLES, '<xf numFmtId="164" fontId="0"', '<xf numFmtId="164" fontId="44"', "fontId 44"),
    (STYLES, '<numFmt numFmtId="164"', '<numFmt numFmtId="168"', "number format 164, not there"),
    (STYLES, '<numFmt numFmtId="164"', '<numFmt numFmtId="165"', "number format 165 twice"),
    (STYLES, 'formatCode="yyyy-mm-dd"', f'formatCode="{LONG}"', "number format 164 is too long"),
    (STYLES, 'builtinId="0"/>', 'builtinId="0"/><cellStyle name="NORMAL" xfId="0"/>',
     "style 'normal' twice"),
    (USER, '<c r="F1" s="1"', '<c r="F1" s="99"', "F1 has style 99"),
    (USER, '<cfRule type="cellIs" dxfId="0"', '<cfRule type="cellIs" dxfId="40"', "look 40 of"),
    (TABLE, '<tableColumn id="1"', '<tableColumn id="1" dataDxfId="41"', "look 41 of"),
    # Rows and cells
    (USER, '<row r="3"', '<row r="2"', "row 2 after row 2"),
    (USER, '<row r="3"', '<row ht="410" r="3"', "row 3 is 410 points high"),
    (USER, '<c r="B3"', '<c r="XFE3"', "cell XFE3 stands in the wrong place"),
    (USER, '<c r="B3"', '<c r="A3"', "cell A3 stands in the wrong place"),
    (OURS, '<col min="2" max="2"', '<col min="1" max="2"', "columns 1 to 2 after column 1"),
    (OURS, 'width="20.7109"', 'width="256"', "column 1 is 256 wide"),
    (USER, '<c r="A3" t="s"><v>4<', '<c r="A3" t="s"><v>44<', "A3: shared string 44 of 9"),
    (USER, '<c r="B2"><v>10<', '<c r="B2"><v>nan<', "B2: number 'nan'"),
    (USER, '<c r="D2" t="b"><v>1<', '<c r="D2" t="b"><v>yes<', "D2: truth value 'yes'"),
    (USER, '<c r="D2" t="b"><v>1<', '<c r="D2" t="e"><v>#OOPS!<', "D2: error value '#OOPS!'"),
    (USER, '<c r="D2" t="b"', '<c r="D2" t="bool"', "D2: type 'bool' is unknown"),
    (OURS, "<t>Run 0<", f"<t>{'x' * 32768}<", "A3: text of 32768 letters"),
    (OURS, "<t>Run 0<", f"<t>{chr(10) * 254}<", "A3: text of 254 line ends"),
    (OURS, "</is></c>", "</is><v>1</v></c>", "an inline text has a value or formula too"),
    (STRINGS, "<t>Doubled<", f"<t>{'x' * 32768}<", "shared string 2: text of 32768 letters"),
    # Formulas
    (HIDDEN, "<f>SUM", "<f>=SUM", "A1: formula '=SUM(Pipes!C2:C4)' is empty or begins with ="),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", f"<f>1{'+1' * 4096}", "formula of 8193 letters, most 8192"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", f'<f>"{LONG}"', "text in a formula of more than 255 letters"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", "<f>SUM(Pipes!C2:C4", "has a bracket without an end"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", "<f>SUM(Pipes!C2:C4))", "closes what it did not open"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", '<f>"a', "has a text without an end"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", f"<f>SUM(1{',1' * 255})", "more than 255 arguments"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", f"<f>{DEEP}", "nested more than 64 deep"),
    (HIDDEN, "SUM(Pipes!C2:C4)", "'No pipes'!C2", "refers to sheet 'No pipes'"),
    (HIDDEN, "SUM(Pipes!C2:C4)", "SUM(tblGone[Run])", "refers to table 'tblGone'"),
    (HIDDEN, "SUM(Pipes!C2:C4)", "[1]Pipes!C2", "refers to outside workbook 1 of 0"),
    (HIDDEN, "<f>SUM(Pipes!C2:C4)", '<f t="shared" si="0">', "shared formula 0 is not there"),
    (HIDDEN, "<f>SUM", '<f t="array" ref="A1:">SUM', "array formula over 'A1:'"),
    # Around the cells
    (OURS, "E1:F1", "E1:E1", "merged range E1:E1 overlaps, or is one cell"),
    (OURS, "</mergeCells>", '<mergeCell ref="F1:F2"/></mergeCells>', "merged range F1:F2 overlaps"),
    (USER, "<conditionalFormatting", '<mergeCells><mergeCell ref="A2:B2"/></mergeCells>'
     "<conditionalFormatting", "merged range A2:B2 overlaps"),
    (USER, "<dataValidation ", f'<dataValidation error="{"x" * 226}" ', "error of 226 letters"),
    (USER, "<dataValidation ", f'<dataValidation prompt="{LONG}" ', "prompt of 256 letters"),
    (USER, "<dataValidation ", f'<dataValidation errorTitle="{"x" * 33}" ', "errorTitle of 33"),
    (USER, "<dataValidation ", f'<dataValidation promptTitle="{"x" * 33}" ', "promptTitle of 33"),
    (USER, 'sqref="D2:D4"', 'sqref="D4:D2"', "validation of D4:D2: its cells are no ranges"),
    (USER, LIST, f'<formula1>"{LONG}"</formula1>', "list of 256 letters, most 255"),
    (USER, LIST, "", "kind list needs 1 formulas"),
    (OURS, 'type="expression"', 'type="expresion"', "kind 'expresion' is unknown"),
    (OURS, 'priority="1"', 'priority="0"', "look of B3:B5: priority 0"),
    (OURS, "<formula>$B3&gt;1</formula>", "", "look of B3:B5: has no formula"),
    (OURS, "<formula>$B3", "<formula>Plan!B3", "refers to another sheet: Plan!B3>1"),
    (OURS, 'sqref="B3:B5"', 'sqref="B3;B5"', "look of B3;B5: its cells are no ranges"),
    (USER, '<cfvo type="max"/>', "", "dataBar of 1 points"),
    (OURS, "'Plan'!A1", "'Plans'!A1", "link of A1: leads to 'Plans'!A1, which is not there"),
    (OURS, '<hyperlink ref="A1" location="\'Plan\'!A1"', '<hyperlink ref="A1"', "leads nowhere"),
    (OURS, '<hyperlink ref="A1"', '<hyperlink ref="1A"', "link of 1A: its cell is none"),
    (OURS, "'Plan'!A1", "x" * 2080, "is longer than 2079 letters"),
    (OURS, "<hyperlink ", f'<hyperlink tooltip="{LONG}" ', "has a tip longer than 255"),
    (OURS, 'topLeftCell="B3"', 'topLeftCell="3B"', "pane at 3B is no split"),
    (OURS, 'xSplit="1" ', "", "selection in pane topRight, not there"),
    (OURS, "<sheetView ", '<sheetView zoomScale="5" ', "zoom 5"),
    (OURS, "<sheetView ", '<sheetView tabSelected="1" ', "2 sheets are chosen together"),
    (OURS, "<oddFooter>", f"<oddFooter>{LONG}", "header or footer longer than 255 letters"),
    (OURS, '<pageSetup scale="100" ', '<pageSetup scale="500" ', "printed at 500 percent"),
    (OURS, '<autoFilter ref="A2:C5"', '<autoFilter ref="A2:D5"', "A2:D5 and its name differ"),
    (OURS, '<autoFilter ref="A2:C5"/>', '<autoFilter ref="A2:C5"><filterColumn colId="3"/>'
     "</autoFilter>", "filter of column 3, outside"),
    (USER, "<conditionalFormatting", '<autoFilter ref="C1:F9"/><conditionalFormatting',
     "filter C1:F9 is no range, or meets a table"),
    (USER, r"<tableParts.*</tableParts>", "", "lists the tables [], has ['rId3']"),
    # Tables
    (TABLE, 'displayName="tblPipes"', 'displayName="C4"', "table name 'C4' is not allowed"),
    (TABLE, 'displayName="tblPipes"', 'displayName="rate"', "'rate' is not allowed or is a defi"),
    (TABLE, 'ref="A1:D4"', 'ref="A1:D1"', "table over A1:D1 has no row of data"),
    (TABLE, '<autoFilter ref="A1:D4"', '<autoFilter ref="A1:D3"', "filter over A1:D3"),
    (TABLE, 'name="Run"', 'name="Runs"', "column 'Runs' has the header cell 'Run'"),
    (USER, '<c r="A1" t="s"><v>0</v>', '<c r="A1"><v>7</v>', "'Run' has the header cell None"),
    (TABLE, 'name="Doubled"', 'name="DONE"', "column 'done' is empty or there 2 times"),
    (TABLE, '<tableColumn id="2"', '<tableColumn id="1"', "column ids ['1', '1', '3', '4']"),
    (TABLE, 'ref="A1:D4"', 'ref="A1:E4"', "4 columns in A1:E4"),
    # Drawings, charts, remarks
    (DRAWING, "<xdr:to><xdr:col>8", "<xdr:to><xdr:col>2", "anchor from"),
    (DRAWING, 'cx="1143000"', 'cx="-1143000"', "size ['-1143000', '381000']"),
    (DRAWING, '<xdr:cNvPr id="3"', '<xdr:cNvPr id="2"', "shape id 2 twice"),
    (CHART, "Pipes!$B$2:$B$4", "Pipe!$B$2:$B$4", "refers to sheet 'Pipe'"),
    (CHART, '<c:ptCount val="3"/>', '<c:ptCount val="2"/>', "3 stored values, counted 2"),
    (CHART, "(<c:ser>.*</c:ser>)", r"\1\1", "series idx 0 twice"),
    (CHART, '<c:axId val="50010001"/><c:axId', '<c:axId val="5"/><c:axId', "has the axes ['5'"),
    (CHART, '<c:crossAx val="50010001"/>', '<c:crossAx val="6"/>', "valAx crosses an axis"),
    (REMARKS, 'ref="A2"', 'ref="A3"', "the remark on A3 has no shape"),
    (REMARKS, 'authorId="0"', 'authorId="1"', "by an author who is not there"),
    (REMARKS, "(<comment .*</comment>)", r"\1\1", "A2 has 2 remarks"),
    (OLD_DRAWING, "1, 15, 0, 10, 3, 15, 4, 4", "1, 15, 0, 10, 3", "anchor '1, 15, 0, 10, 3'"),
    (OLD_DRAWING, "1, 15, 0, 10, 3", "4, 15, 0, 10, 3", "anchor '4, 15, 0, 10, 3, 15, 4, 4'"),
]  # fmt: skip


def planted(name, old, new):
    """Return a part of the good workbook with a text replaced, which must be there."""
    text = part(good(), name)
    changed = text.replace(old, new) if old in text else re.sub(old, new, text, flags=re.DOTALL)
    assert changed != text, f"nothing like {old} in {name}"
    return changed


@each(("name", "old", "new", "text"), PLANTED, ids=lambda text: text[:40])
def test_each_planted_fault_is_found(name, old, new, text):
    found = faults(with_parts(good(), {name: planted(name, old, new).encode()}))
    assert any(text in fault for fault in found), found


def test_a_member_that_is_there_twice_is_found():
    out = io.BytesIO(good())
    with zipfile.ZipFile(out, "a") as package:
        package.writestr("XL/styles.xml", part(good(), STYLES))
    assert "xl/styles.xml: is there 2 times" in faults(out.getvalue())


def test_two_tables_of_one_name_or_id_or_place_are_found():
    twin = part(good(), TABLE).replace('name="tblPipes"', 'name="TBLPIPES"')
    links = "xl/worksheets/_rels/sheet1.xml.rels"
    link = part(good(), links).replace(
        "</Relationships>",
        '<Relationship Id="rId9" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        'relationships/table" Target="../tables/table9.xml"/></Relationships>',
    )
    found = faults(
        with_parts(good(), {"xl/tables/table9.xml": twin.encode(), links: link.encode()})
    )
    for text in (
        "2 tables have the name or id '1'", "2 tables have the name or id 'tblpipes'",
        "table over A1:D4 overlaps another", "table9.xml: content type application/xml, wanted",
    ):  # fmt: skip
        assert any(text in fault for fault in found), found


def test_a_workbook_without_a_workbook_part_is_reported():
    assert faults(with_parts(good(), {"_rels/.rels": b"<Relationships/>"})) == [
        "_rels/.rels: leads to no workbook"
    ]


def test_every_rule_has_its_planted_fault():
    """A rule whose faults are never planted could be one that finds nothing."""
    proven = {members_twice}
    for name, old, new, text in PLANTED:
        book = Book(with_parts(good(), {name: planted(name, old, new).encode()}))
        if not book.damage:
            proven |= {rule for rule in RULES if any(text in fault for fault in rule(book))}
    assert [rule.__name__ for rule in RULES if rule not in proven] == []
