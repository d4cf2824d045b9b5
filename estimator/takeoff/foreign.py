"""The table of somebody else, read by pandas from a CSV or a workbook; loaded for imports only."""

import csv
import datetime as dt
import importlib
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import field
from functools import cached_property
from types import ModuleType
from typing import Any

from estimator import files
from estimator.data_class import dataclass
from estimator.errors import EstimatorError, InputError, Problem, WorkbookError, naming_file
from estimator.takeoff.answers import FILE, Answer, Answers
from estimator.workbook.package.package import Package
from estimator.workbook.package.zip_file import must_unpack_within_budget
from estimator.workbook.read.file_source import UnreadableError, marks_of
from estimator.workbook.read.sheet_scan import SheetMarks
from estimator.workbook.sheet.source import CellValue, RawCell

BOOKS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
WITH_MARKS = (".xlsx", ".xlsm")
SEPARATORS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
LOOKED_AT = 60
MISSING = (
    "pandas, which reads the tables of others, is not installed in this Python. Install it with "
    "pip install --require-hashes -r constraints/import.txt, or with pip install pandas"
)


@dataclass(frozen=True)
class ForeignTable:
    """The cells of a table from its first row on; ``name`` is what messages call it."""

    name: str
    rows: Sequence[Sequence[CellValue]]
    marks: SheetMarks = field(default_factory=SheetMarks)

    def cell(self, row: int, column: int) -> RawCell:
        """Return a cell; rows and columns count from 1."""
        place = row, column
        values = self.rows[row - 1]
        value = values[column - 1] if column <= len(values) else None
        error, uncached = self.marks.errors.get(place, ""), place in self.marks.uncached
        blank = error or uncached or (isinstance(value, str) and not value.strip())
        return RawCell(self.name, row, column, None if blank else value, error, uncached)

    def cells(self, row: int) -> tuple[RawCell, ...]:
        """Return the cells of a row."""
        return tuple(self.cell(row, column) for column in range(1, self.width + 1))

    @cached_property
    def width(self) -> int:
        """Number of columns."""
        return max(map(len, self.rows), default=0)


def read_foreign(path: str, sheet: str, answers: Answers) -> ForeignTable:
    """Return the table in a file.

    Parameters
    ----------
    path : str
        A CSV or text file, or a workbook.
    sheet : str
        Sheet of a workbook; may be empty if it has one that is not empty.
    answers : Answers
        Takes the guesses about the file itself.

    Raises
    ------
    EstimatorError
        If pandas is not installed, or the file cannot be read.
    InputError
        If the sheet must be named.
    """
    data = files.read_bytes(path)
    if files.suffix(path) in BOOKS:
        return _from_book(data, path, sheet)
    if sheet:
        raise InputError([Problem("--sheet", f"{path} is no workbook, so it has no sheets")])
    return _from_text(data, path, answers)


def _pandas() -> ModuleType:
    try:
        return importlib.import_module("pandas")
    except ImportError as error:
        raise EstimatorError(MISSING) from error


def _from_book(data: bytes, path: str, sheet: str) -> ForeignTable:
    pd = _pandas()
    name = files.name_of(path)
    with naming_file(path):
        must_unpack_within_budget(data)
        marks = _marks(data, path, sheet)
    try:
        with pd.ExcelFile(io.BytesIO(data), engine="calamine") as book:
            frames = {
                one: pd.read_excel(book, one, header=None, dtype=object, na_filter=False)
                for one in _wanted(book.sheet_names, sheet, name)
            }
    except (ValueError, OSError, ImportError, UnreadableError) as error:
        raise WorkbookError(f"{path} cannot be read: {error}") from error
    filled = {one: frame for one, frame in frames.items() if frame.size}
    if len(filled) != 1:
        listed = ", ".join(filled or frames)
        found = "several sheets hold cells" if filled else "no sheet holds any cell"
        raise InputError([Problem(name, f"{found}: {listed}. Name one with --sheet")])
    only, frame = next(iter(filled.items()))
    rows = [[_plain(value) for value in row] for row in frame.itertuples(index=False, name=None)]
    return ForeignTable(f"{name} {only}", rows, marks.get(str(only), SheetMarks()))


def _wanted(names: Sequence[str], sheet: str, book: str) -> Sequence[str]:
    if not sheet:
        return names
    found = [name for name in names if name.casefold() == sheet.casefold()]
    if not found:
        allowed = ", ".join(names)
        raise InputError([Problem("--sheet", f"{book} has no sheet {sheet!r}. It has: {allowed}")])
    return found


def _marks(data: bytes, path: str, sheet: str) -> Mapping[str, SheetMarks]:
    """Return what values do not show, by sheet, of the kinds of workbook whose parts we know.

    Raises
    ------
    WorkbookError
        If it is no workbook, or values of a sheet that is wanted would not fit into memory.
    """
    if files.suffix(path) not in WITH_MARKS:
        return {}
    package = Package.open(data)
    return {
        entry.name: marks_of(package, entry.name, entry.part)
        for entry in package.workbook_sheets()
        if sheet.casefold() in ("", entry.name.casefold())
    }


def _plain(value: Any) -> CellValue:  # noqa: ANN401
    """Return a value of pandas as a cell's value."""
    if value is None or value == "":
        return None
    if isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, dt.datetime):
        return dt.datetime.fromisoformat(value.isoformat())
    return value if isinstance(value, dt.date | dt.time | dt.timedelta) else str(value)


def _from_text(data: bytes, path: str, answers: Answers) -> ForeignTable:
    pd = _pandas()
    name = files.name_of(path)
    text = _decoded(data)
    if not text.strip():
        raise InputError([Problem(name, "is empty")])
    separator = _separator(text, answers)
    most = max(map(len, csv.reader(io.StringIO(text), delimiter=separator)))
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            header=None,
            names=range(most),
            dtype=str,
            keep_default_na=False,
            na_values=[],
            skip_blank_lines=False,
            engine="c",
        )
    except ValueError as error:
        raise WorkbookError(f"{path} cannot be read: {error}") from error
    rows = [
        [value if isinstance(value, str) and value.strip() else None for value in row]
        for row in frame.itertuples(index=False, name=None)
    ]
    return ForeignTable(name, _narrow(rows))


def _narrow(rows: list[list[str | None]]) -> list[list[str | None]]:
    """Return rows without the columns to the right that hold nothing."""
    used = max((i for row in rows for i, value in enumerate(row, 1) if value), default=0)
    return [row[:used] for row in rows]


def _decoded(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _separator(text: str, answers: Answers) -> str:
    lines = [line for line in text.splitlines() if line.strip()][:LOOKED_AT]
    best = max(SEPARATORS, key=lambda name: _evenness(lines, SEPARATORS[name]))
    guess = Answer(FILE, "separator", best, note="between cells", choices=tuple(SEPARATORS))
    return SEPARATORS[answers.settle(guess).meaning]


def _evenness(lines: Sequence[str], separator: str) -> tuple[int, int]:
    """Return how many lines have the commonest number of cells above one, and that number."""
    counts = Counter(len(row) for row in csv.reader(lines, delimiter=separator))
    several = [(lines_so, cells) for cells, lines_so in counts.items() if cells > 1]
    return max(several, default=(0, 0))
