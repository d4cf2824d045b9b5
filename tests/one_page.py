"""Some sheets of a workbook as a second reader has them, without reading the others."""

import io
import zipfile
from pathlib import Path

import openpyxl

from estimator.workbook.package.package import Package

NOTHING = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    b"<sheetData/></worksheet>"
)


def sheet_of(book, name, **how):
    """Return a sheet of a workbook, given as a path, a file or bytes; ``how`` is openpyxl's."""
    return book_of(book, (name,), **how)[name]


def names_of(book):
    """Return the names of the sheets of a workbook, in their order."""
    return book_of(book, ()).sheetnames


def book_of(book, names, **how):
    """Return a workbook of which only the named sheets were read; the others are empty."""
    data = book if isinstance(book, bytes) else book.read() if hasattr(book, "read") else None
    data = Path(book).read_bytes() if data is None else data
    others = {one.part for one in Package.open(data).workbook_sheets() if one.name not in names}
    left_out = {f"{Path(part).parent}/_rels/{Path(part).name}.rels" for part in others}
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(stream, "w") as made:
        for part in given.namelist():
            if part not in left_out:
                made.writestr(part, NOTHING if part in others else given.read(part))
    return openpyxl.load_workbook(stream, **how)
