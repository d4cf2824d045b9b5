"""What xlwings does not offer on both systems, asked of Excel itself.

Excel for Windows is asked by COM, Excel for Mac by AppleScript. ``Native`` is what holds for any
program that xlwings drives: it answers what it can and leaves out looks that it cannot make.
``Windows`` and ``Mac`` have never met Excel: none was at hand. Tests run them over stand-ins that
have the documented members only; benchmarks/README.md lists what that leaves unseen.
"""

import platform
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Any, cast

import xlwings as xw
from xlwings.main import ChartSeries

from estimator.excel.macro.drawings import draw
from estimator.workbook.sheet.areas import Area
from estimator.workbook.sheet.look import PAPER_CODES, Paper, margins_in
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import DrawingSpec, SheetSpec, Side
from estimator.workbook.sheet.styles import StyleDef

POINTS_PER_INCH = 72
LANDSCAPE, PORTRAIT = 2, 1
SINGLE_LINE = 2
NORMAL_VIEW = 1
FULL_SIZE = 100
TRIES_IF_BUSY = 100
LABEL_SIDES: Mapping[Side, int] = {"right": -4152, "left": -4131, "above": 0, "below": 1}
LINE_STYLES: Mapping[str, int] = {"": -4142, "dash": -4115, "sysDot": -4118}
"""Excel's numbers of the sides of a point, and of the lines of a series; no dash is no line."""
ERRORS = frozenset({"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"})
"""Texts by which xlwings names the errors of cells."""


class Native:
    """A workbook of a program that xlwings drives."""

    def __init__(self, book: xw.Book) -> None:
        self.book = book

    def is_1904(self) -> bool:
        """Return whether the workbook counts its days from 1904."""
        return bool(getattr(self.book.api, "Date1904", False))

    def is_online(self) -> bool:
        """Return whether the program has the workbook from an address instead of a folder."""
        return "://" in str(getattr(self.book.api, "FullName", ""))

    def is_busy(self) -> bool:
        """Return whether the program takes no orders: a cell is being edited, a dialog is open."""
        return False

    def is_protected(self, sheet: xw.Sheet) -> bool:
        """Return whether the cells of a sheet are protected even against programs."""
        cells = sheet.api
        only_users = getattr(cells, "ProtectionMode", False)
        return bool(getattr(cells, "ProtectContents", False)) and not only_users

    def has_fixed_sheets(self) -> bool:
        """Return whether the workbook is protected against new sheets."""
        return bool(getattr(self.book.api, "ProtectStructure", False))

    def is_read_only(self) -> bool:
        """Return whether the workbook is open for reading only, so that it cannot be saved."""
        return bool(getattr(self.book.api, "ReadOnly", False))

    def save_copy(self, path: str) -> bool:
        """Save a copy of the workbook as it is now; return whether the program can do that."""
        save = getattr(self.book.api, "SaveCopyAs", None)
        if save is None:
            return False
        save(path)
        return True

    def values(self, cells: xw.Range) -> list[list[Any]]:
        """Return values row by row; errors as text such as ``#N/A``."""
        found: list[list[Any]] = cells.options(ndim=2, err_to_str=True).value
        return found

    def hide_name(self, name: xw.Name) -> None:
        """Hide a defined name from the user's list of names."""

    def indent(self, cells: xw.Range, steps: int) -> None:
        """Indent text by a number of steps."""

    def shrink(self, cells: xw.Range) -> None:
        """Set text smaller where its cell has no room for it."""

    def underline(self, cells: xw.Range) -> None:
        """Underline text."""

    def style_end(self, cell: xw.Range, start: int, style: StyleDef) -> None:
        """Give the text of a cell from a letter on, counted from 0, a size and color of its own."""
        font = cell.characters[start:].font
        font.bold, font.size = style.bold, style.font_size
        if style.font_color is not None:
            font.color = f"#{style.font_color}"

    def freeze(self, rows: int, columns: int) -> None:
        """Keep the first rows and columns of the active sheet in sight."""

    def color_tab(self, sheet: xw.Sheet, color: tuple[int, int, int]) -> None:
        """Color the tab of a sheet."""

    def set_up_page(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Set how a sheet is printed."""

    def set_paper(self, sheet: xw.Sheet, paper: Paper) -> None:
        """Have a sheet that prints on Letter or A4 print on this one of them."""

    def repeat_header(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Repeat the header rows, and the first columns of a broad table, on every page."""

    def break_pages(
        self, sheet: xw.Sheet, rows: Sequence[int], columns: Sequence[int] = ()
    ) -> None:
        """Begin a new page after each of some rows and columns, and nowhere else."""

    def link(self, cell: xw.Range, target: str) -> None:
        """Make a cell lead to a place in this workbook."""

    def draw_line(self, series: ChartSeries, dash: str) -> None:
        """Join the points of a series by a line with this dash; by none without one."""

    def name_points(self, series: ChartSeries, side: Side) -> None:
        """Set the name of a series beside each of its points."""

    def filter(self, cells: xw.Range) -> None:
        """Offer the choice of rows in the header row of an area."""

    def take_filter_off(self, sheet: xw.Sheet) -> None:
        """Show the rows that the user has filtered out, and offer the choice no more."""

    def draw(self, sheet: xw.Sheet, drawings: Sequence[DrawingSpec]) -> None:
        """Draw line drawings over the cells of a sheet."""


class Windows(Native):
    """A workbook in Excel for Windows."""

    def is_busy(self) -> bool:
        """Return whether Excel takes no orders: a cell is being edited, a dialog is open.

        xlwings asks a busy Excel again for ever, so this question has a number of tries.
        """
        bridge = cast(Any, import_module("xlwings._xlwindows"))
        usual, bridge.N_COM_ATTEMPTS = bridge.N_COM_ATTEMPTS, TRIES_IF_BUSY
        try:
            return not self.book.app.api.Ready
        except Exception:  # a refused call, of one of several kinds
            return True
        finally:
            bridge.N_COM_ATTEMPTS = usual

    def hide_name(self, name: xw.Name) -> None:
        """Hide a defined name from the user's list of names."""
        name.api.Visible = False

    def indent(self, cells: xw.Range, steps: int) -> None:
        """Indent text by a number of steps."""
        cells.api.IndentLevel = steps

    def shrink(self, cells: xw.Range) -> None:
        """Set text smaller where its cell has no room for it."""
        cells.api.ShrinkToFit = True

    def underline(self, cells: xw.Range) -> None:
        """Underline text."""
        cells.api.Font.Underline = SINGLE_LINE

    def freeze(self, rows: int, columns: int) -> None:
        """Keep the first rows and columns of the active sheet in sight."""
        window = self.book.api.Windows(1)
        window.View = NORMAL_VIEW  # page layout refuses frozen rows
        window.FreezePanes = False
        window.ScrollRow = window.ScrollColumn = 1
        window.SplitRow, window.SplitColumn = rows, columns
        window.FreezePanes = True

    def color_tab(self, sheet: xw.Sheet, color: tuple[int, int, int]) -> None:
        """Color the tab of a sheet."""
        red, green, blue = color
        sheet.api.Tab.Color = red + (green << 8) + (blue << 16)

    def set_up_page(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Set how a sheet is printed; one talk to the printer for all of it."""
        page = sheet.api.PageSetup
        with self._one_talk():
            page.Orientation = LANDSCAPE if spec.landscape else PORTRAIT
            page.Zoom = FULL_SIZE
            if spec.paper is not None:
                page.PaperSize = PAPER_CODES[spec.paper]
            margins = margins_in(spec.paper, across=bool(spec.landscape))
            for side, inches in margins.items():
                setattr(page, f"{side.title()}Margin", inches * POINTS_PER_INCH)
            for side, text in spec.footer.items():
                setattr(page, f"{side}Footer", text)

    def set_paper(self, sheet: xw.Sheet, paper: Paper) -> None:
        """Have a sheet that prints on Letter or A4 print on this one; another paper stays."""
        page, code = sheet.api.PageSetup, PAPER_CODES[paper]
        if page.PaperSize in PAPER_CODES.values() and page.PaperSize != code:
            page.PaperSize = code

    def repeat_header(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Repeat the header rows, and the first columns of a broad table, on every page."""
        page = sheet.api.PageSetup
        with self._one_talk():
            page.PrintTitleRows, page.PrintTitleColumns = titles_of(spec)

    @contextmanager
    def _one_talk(self) -> Iterator[None]:
        """Have Excel turn to the printer once for all that is set, not for each of it."""
        excel = self.book.app.api
        excel.PrintCommunication = False
        try:
            yield
        finally:
            excel.PrintCommunication = True

    def break_pages(
        self, sheet: xw.Sheet, rows: Sequence[int], columns: Sequence[int] = ()
    ) -> None:
        """Begin a new page after each of some rows and columns, and nowhere else."""
        sheet.api.ResetAllPageBreaks()
        for row in rows:
            sheet.api.HPageBreaks.Add(sheet.range((row + 1, 1)).api)
        for column in columns:
            sheet.api.VPageBreaks.Add(sheet.range((1, column + 1)).api)

    def link(self, cell: xw.Range, target: str) -> None:
        """Make a cell lead to a place in this workbook."""
        cell.sheet.api.Hyperlinks.Add(cell.api, "", target)

    def draw_line(self, series: ChartSeries, dash: str) -> None:
        """Join the points of a series by a line with this dash; by none without one."""
        series.api.Border.LineStyle = LINE_STYLES[dash]

    def name_points(self, series: ChartSeries, side: Side) -> None:
        """Set the name of a series beside each of its points."""
        series.api.HasDataLabels = True
        labels = series.api.DataLabels()
        labels.ShowSeriesName, labels.ShowValue = True, False
        labels.Position = LABEL_SIDES[side]

    def filter(self, cells: xw.Range) -> None:
        """Offer the choice of rows in the header row of an area, with all rows shown."""
        cells.sheet.api.AutoFilterMode = False  # AutoFilter would take an old filter away
        cells.api.AutoFilter()

    def take_filter_off(self, sheet: xw.Sheet) -> None:
        """Show the rows that the user has filtered out, and offer the choice no more."""
        if sheet.api.AutoFilterMode:
            sheet.api.AutoFilterMode = False

    def draw(self, sheet: xw.Sheet, drawings: Sequence[DrawingSpec]) -> None:
        """Draw line drawings over the cells of a sheet."""
        draw(sheet, drawings)


class Mac(Native):
    """A workbook in Excel for Mac; links, filters, page breaks and small units are left out.

    So are the names of points in a chart.
    """

    def style_end(self, cell: xw.Range, start: int, style: StyleDef) -> None:
        """Leave the end of a text as the rest of it: AppleScript cannot reach a part of it."""

    def is_1904(self) -> bool:
        """Return whether the workbook counts its days from 1904; where Excel refuses, no."""
        with suppress(Exception):
            return bool(self.book.api.date_1904.get())
        return False

    def is_protected(self, sheet: xw.Sheet) -> bool:
        """Return whether the cells of a sheet are protected; where Excel refuses to say, no."""
        with suppress(Exception):
            cells = sheet.api
            return bool(cells.protect_contents.get()) and not cells.protection_mode.get()
        return False

    def has_fixed_sheets(self) -> bool:
        """Return whether no sheet can be added; where Excel refuses to say, no."""
        with suppress(Exception):
            return bool(self.book.api.protect_structure.get())
        return False

    def is_read_only(self) -> bool:
        """Return whether the workbook cannot be saved; where Excel refuses to say, no."""
        with suppress(Exception):
            return bool(self.book.api.read_only.get())
        return False

    def is_online(self) -> bool:
        """Return whether Excel has the workbook from an address instead of a folder."""
        return "://" in str(self.book.api.full_name.get())

    def save_copy(self, path: str) -> bool:
        """Save no copy: Excel for Mac can only save the workbook itself under another name."""
        return False

    def values(self, cells: xw.Range) -> list[list[Any]]:
        """Return values row by row; errors as text such as ``#N/A``.

        xlwings 0.37 on a Mac stops when it is to give the errors of more than one row, so the
        shown texts are asked for here, row by row where Excel refuses them together.
        """
        found: list[list[Any]] = cells.options(ndim=2).value
        try:
            rows = _as_rows(cells.api.string_value.get())
        except Exception:  # the bridge's own kind of error
            each = (cells[number, :] for number in range(len(found)))
            rows = [_as_rows(row.api.string_value.get())[0] for row in each]
        return [
            [text if text in ERRORS else value for value, text in zip(*pair, strict=True)]
            for pair in zip(found, rows, strict=True)
        ]

    def hide_name(self, name: xw.Name) -> None:
        """Hide a defined name from the user's list of names."""
        name.api.visible.set(False)

    def indent(self, cells: xw.Range, steps: int) -> None:
        """Indent text by a number of steps."""
        cells.api.indent_level.set(steps)

    def shrink(self, cells: xw.Range) -> None:
        """Set text smaller where its cell has no room for it."""
        cells.api.shrink_to_fit.set(True)

    def take_filter_off(self, sheet: xw.Sheet) -> None:
        """Show the rows that the user has filtered out, and offer the choice no more."""
        with suppress(Exception):  # a filter that stays is only a nuisance
            if sheet.api.autofilter_mode.get():
                sheet.api.autofilter_mode.set(False)

    def underline(self, cells: xw.Range) -> None:
        """Underline text."""
        words = import_module("appscript").k
        cells.api.font_object.underline.set(words.underline_style_single)

    def freeze(self, rows: int, columns: int) -> None:
        """Keep the first rows and columns of the active sheet in sight."""
        window, words = self.book.api.windows[1], import_module("appscript").k
        window.view.set(words.normal_view)  # page layout refuses frozen rows
        window.freeze_panes.set(False)
        window.scroll_row.set(1)
        window.scroll_column.set(1)
        window.split_row.set(rows)
        window.split_column.set(columns)
        window.freeze_panes.set(True)

    def color_tab(self, sheet: xw.Sheet, color: tuple[int, int, int]) -> None:
        """Color the tab of a sheet."""
        sheet.api.sheet_tab.color.set(color)

    def set_up_page(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Set how a sheet is printed; paper and margins stay Excel's own."""
        page, words = sheet.api.page_setup_object, import_module("appscript").k
        page.page_orientation.set(words.landscape if spec.landscape else words.portrait)
        page.zoom.set(FULL_SIZE)
        for side, text in spec.footer.items():
            getattr(page, f"{side.lower()}_footer").set(text)

    def repeat_header(self, sheet: xw.Sheet, spec: SheetSpec) -> None:
        """Repeat the header rows, and the first columns of a broad table, on every page."""
        rows, columns = titles_of(spec)
        sheet.api.page_setup_object.print_title_rows.set(rows)
        sheet.api.page_setup_object.print_title_columns.set(columns)


def titles_of(spec: SheetSpec) -> tuple[str, str]:
    """Return the rows and the columns that every printed page repeats, empty for none."""
    rows = "${}:${}".format(*spec.repeated_rows) if spec.repeated_rows else ""
    columns = f"$A:${column_letters(spec.repeated_columns)}" if spec.repeated_columns else ""
    return rows, columns


def _as_rows(shown: object) -> list[list[object]]:
    """Return the texts of cells as rows, from those of one cell, of one row or of several."""
    rows: list[Any] = shown if isinstance(shown, list) else [shown]
    return rows if isinstance(rows[0], list) else [rows]


def native(book: xw.Book) -> Native:
    """Return a workbook as the program and system that hold it need it."""
    if book.app.engine.name != "excel":
        return Native(book)
    return Mac(book) if platform.system() == "Darwin" else Windows(book)


def names_of(book: xw.Book) -> dict[str, xw.Name]:
    """Return the names that hold in the whole workbook, hidden ones too, by their lower case."""
    found = ((name.name.casefold(), name) for name in book.names)
    return {text: name for text, name in found if "!" not in text}


def read_area(sheet: xw.Sheet, area: Area) -> list[list[Any]]:
    """Return the values of an area, row by row; errors as text such as ``#N/A``."""
    return native(sheet.book).values(sheet.range(area.address))


def hidden_rows(sheet: xw.Sheet, area: Area) -> frozenset[int]:
    """Return which rows of an area are hidden, none where that cannot be known."""
    try:
        visible = cast(list[xw.Range], sheet.range(area.address).get_special_cells("visible"))
    except Exception:  # the program's own kind of error, as on a protected sheet
        return frozenset()
    shown = {row for part in visible for row in range(part.row, part.row + part.shape[0])}
    return frozenset(range(area.top, area.bottom + 1)) - shown
