"""A user's workbook full of things that only a careful writer keeps, for the tests.

XlsxWriter makes most of it; what it cannot make is put into the package by hand.
"""

import io
import struct
import zipfile
import zlib

from xlsxwriter import Workbook

CALC_CHAIN = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<calcChain xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    '<c r="C4" i="1" l="1"/><c r="C3"/><c r="C2" s="1"/><c r="A1" i="3"/></calcChain>'
)
CUSTOM_XML = '<?xml version="1.0"?><note xmlns="urn:example:note">kept as it is</note>'
CUSTOM_RELS = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"/>'
)
REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def rich_workbook(*, macros=False, dates_1904=False, result=""):
    """Return the bytes of the workbook; its sheets are Pipes, Charts and Hidden.

    With ``result`` there is a sheet of that name too, marked as ours and full of what a user
    may have put on it: a chart, the picture of another sheet, a remark, a table, printer data.
    """
    buffer = io.BytesIO()
    with Workbook(buffer, {"in_memory": True, "date_1904": dates_1904}) as book:
        if macros:
            book.add_vba_project(io.BytesIO(tiny_vba_project()), is_stream=True)
            book.set_vba_name("ThisWorkbook")
        add_rich_sheets(book)
        if result:
            _fill_result(book, book.add_worksheet(result))
    data = with_parts(buffer.getvalue(), _grafts(buffer.getvalue()))
    return with_parts(data, _printer_graft(data)) if result else data


def add_rich_sheets(book):
    """Add the sheets Pipes, Charts and Hidden to a workbook in the making."""
    _fill_pipes(book, book.add_worksheet("Pipes"))
    _fill_charts(book, book.add_worksheet("Charts"))
    hidden = book.add_worksheet("Hidden")
    hidden.write_formula("A1", "=SUM(Pipes!C2:C4)", None, 60)
    hidden.hide()


def _fill_pipes(book, sheet):
    date = book.add_format({"num_format": "yyyy-mm-dd"})
    red = book.add_format({"bold": True, "font_color": "#C00000", "bg_color": "#FFF2CC"})
    sheet.add_table(
        "A1:D4",
        {
            "name": "tblPipes",
            "columns": [{"header": h} for h in ("Run", "Length\nm", "Doubled", "Done")],
            "data": [("=not a formula", 10.0, None, True), ("B", 12.5, None, False), ("C", 7.5)],
        },
    )
    for row in range(1, 4):
        sheet.write_string(row, 0, "=not a formula" if row == 1 else "ABC"[row - 1])
        sheet.write_formula(row, 2, f"=B{row + 1}*2", None, (10.0, 12.5, 7.5)[row - 1] * 2)
    sheet.write_number("F1", 44000, date)
    sheet.conditional_format("B2:B4", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format("C2:C4", {"type": "cell", "criteria": ">", "value": 20, "format": red})
    sheet.data_validation("D2:D4", {"validate": "list", "source": ["TRUE", "FALSE"]})
    sheet.add_sparkline("G2", {"range": "Pipes!B2:B4"})
    sheet.write_comment("A2", "a remark")
    sheet.insert_textbox("H2", "Text in a box", {"width": 120, "height": 40})
    sheet.insert_image("H8", "dot.png", {"image_data": io.BytesIO(png())})
    book.define_name("Rate", "=Pipes!$B$2")
    book.define_name("Pipes!Local", "=Pipes!$B$3")
    sheet.print_area("A1:D4")
    sheet.repeat_rows(0)


def _fill_charts(book, sheet):
    chart = book.add_chart({"type": "column"})
    chart.add_series({"categories": "=Pipes!$A$2:$A$4", "values": "=Pipes!$B$2:$B$4"})
    chart.set_title({"name": "Lengths of the user"})
    sheet.insert_chart("B2", chart)
    sheet.set_column("A:A", 20)


def _fill_result(book, sheet):
    sheet.write_formula("B2", "=Pipes!B2*2", None, 20)
    sheet.write_formula("B3", "=B2*2", None, 40)
    sheet.set_vba_name("Sheet44")
    sheet.add_table("D1:E3", {"name": "tblOwn", "columns": [{"header": "a"}, {"header": "b"}]})
    sheet.write_comment("B2", "a remark on a result")
    sheet.insert_image("H8", "dot.png", {"image_data": io.BytesIO(png())})
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": f"='{sheet.get_name()}'!$B$2:$B$3"})
    sheet.insert_chart("H2", chart)
    sheet.repeat_rows(4)
    sheet.print_area("A1:B3")
    book.define_name("_result_Joints", f"='{sheet.get_name()}'!$A$1")


def _printer_graft(data):
    """Return printer data of the last sheet, and its cells in the calculation chain."""
    links = "xl/worksheets/_rels/sheet4.xml.rels"
    added = (
        f'<Relationship Id="rId80" Type="{REL}/printerSettings" '
        'Target="../printerSettings/printerSettings1.bin"/></Relationships>'
    )
    cells = '<c r="B2" i="4"/><c r="B3"/><c r="A1" i="3"/>'
    types = (
        '<Override PartName="/xl/printerSettings/printerSettings1.bin" '
        f'ContentType="{TYPES}.printerSettings"/></Types>'
    )
    return {
        "[Content_Types].xml": part(data, "[Content_Types].xml")
        .replace("</Types>", types)
        .encode(),
        links: part(data, links).replace("</Relationships>", added).encode(),
        "xl/printerSettings/printerSettings1.bin": b"printer data",
        "xl/calcChain.xml": CALC_CHAIN.replace('<c r="A1" i="3"/>', cells).encode(),
    }


def _grafts(data):
    """Return a calculation chain and custom XML, with what makes the workbook know them."""
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        types = file.read("[Content_Types].xml").decode()
        links = file.read("xl/_rels/workbook.xml.rels").decode()
    chain = f'<Override PartName="/xl/calcChain.xml" ContentType="{TYPES}.calcChain+xml"/>'
    added = (
        f'<Relationship Id="rId90" Type="{REL}/calcChain" Target="calcChain.xml"/>'
        f'<Relationship Id="rId91" Type="{REL}/customXml" Target="../customXml/item1.xml"/>'
    )
    return {
        "[Content_Types].xml": types.replace("</Types>", f"{chain}</Types>").encode(),
        "xl/_rels/workbook.xml.rels": links.replace(
            "</Relationships>", f"{added}</Relationships>"
        ).encode(),
        "xl/calcChain.xml": CALC_CHAIN.encode(),
        "customXml/item1.xml": CUSTOM_XML.encode(),
        "customXml/_rels/item1.xml.rels": CUSTOM_RELS.encode(),
    }


def with_parts(data, parts):
    """Return a workbook with some members set, or left out where the content is None."""
    left = dict(parts)
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for info in old.infolist():
            content = left.pop(info.filename, old.read(info))
            if content is not None:
                new.writestr(info, content)
        for name, content in left.items():
            new.writestr(name, content)
    return out.getvalue()


def part(data, name):
    """Return the content of a member as text."""
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        return file.read(name).decode()


def png():
    """Return a picture of one red dot."""

    def chunk(kind, content):
        checked = kind + content
        return struct.pack(">I", len(content)) + checked + struct.pack(">I", zlib.crc32(checked))

    header = struct.pack(">2I5B", 1, 1, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\x00\xc0\x00\x00")
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


def tiny_vba_project():
    """Return an empty compound file, the container that macros are kept in."""
    end, free, fat_sector, nothing = 0xFFFFFFFE, 0xFFFFFFFF, 0xFFFFFFFD, 0xFFFFFFFF
    header = bytes.fromhex("D0CF11E0A1B11AE1") + bytes(16)
    header += struct.pack("<5H6x9I", 0x3E, 3, 0xFFFE, 9, 6, 0, 1, 1, 0, 4096, end, 0, end, 0)
    header += struct.pack("<109I", 0, *[free] * 108)
    table = struct.pack("<128I", fat_sector, end, *[free] * 126)
    name = "Root Entry\0".encode("utf-16-le")
    root = name.ljust(64, b"\0") + struct.pack("<HBB3I", len(name), 5, 1, *[nothing] * 3)
    root += bytes(36) + struct.pack("<IQ", end, 0)
    return header + table + root.ljust(512, b"\0")
