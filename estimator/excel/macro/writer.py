"""Result sheets into the open workbook: the second renderer of the one description.

Our sheets are known by the same hidden names as in files, so a workbook may go back and forth
between the command and the macro. Sheets of the user are not touched.
"""

from collections.abc import Mapping, Sequence
from functools import partial

import xlwings as xw

from estimator.errors import WorkbookError
from estimator.excel.macro.cells import KeptSheet, contents, write_contents
from estimator.excel.macro.features import add_features
from estimator.excel.macro.looks import size_cells, style_cells
from estimator.excel.macro.native import names_of, native
from estimator.excel.macro.session import ShowStatus
from estimator.models.job_inputs import PageInputs
from estimator.models.places import Places
from estimator.workbook.read.paper import input_sheets, named_paper
from estimator.workbook.sheet.names import (
    MARKER_START,
    marker_name,
    not_ours_text,
    quoted,
    sheet_of,
)
from estimator.workbook.sheet.spec import SheetSpec


class ResultSheets:
    """The result sheets of an open workbook.

    Parameters
    ----------
    book : xlwings.Book
        The workbook.
    """

    def __init__(self, book: xw.Book) -> None:
        self._book, self._native = book, native(book)
        self._dates_1904 = self._native.is_1904()
        self._sheets = {sheet.name.casefold(): sheet for sheet in book.sheets}
        self._marked = self._find_marked()

    def name_of(self, key: str) -> str:
        """Return the name that a result sheet has in this workbook: see ``Package``."""
        return self._marked.get(marker_name(key).casefold(), key)

    def has(self, name: str) -> bool:
        """Return whether there is a sheet of ours of this name."""
        return name.casefold() in {ours.casefold() for ours in self._marked.values()}

    def refuse_others(self, names: Sequence[str]) -> None:
        """Make sure that no sheet of the user is in the way of ours.

        Raises
        ------
        WorkbookError
            If one is.
        """
        others = [n for n in names if n.casefold() in self._sheets and not self.has(n)]
        if others:
            raise WorkbookError(not_ours_text(others))

    def refuse_protected(self, names: Sequence[str]) -> None:
        """Make sure that our sheets may be written and missing ones added.

        Raises
        ------
        WorkbookError
            If the user has protected one of ours, or the workbook against new sheets.
        """
        there = [name for name in names if self.has(name)]
        sheets = [self._sheets[name.casefold()] for name in there]
        closed = [sheet.name for sheet in sheets if self._native.is_protected(sheet)]
        if closed:
            raise WorkbookError(
                f"Protected: {', '.join(closed)}. Choose Review, Unprotect Sheet, and run again; "
                "nothing was changed"
            )
        if len(there) < len(names) and self._native.has_fixed_sheets():
            raise WorkbookError(
                "The workbook is protected against new sheets. Choose Review, Protect Workbook, "
                "to lift that, and run again; nothing was changed"
            )

    def write(self, specs: Mapping[str, SheetSpec], show_status: ShowStatus) -> list[str]:
        """Write result sheets, the missing ones at the end of the workbook.

        Parameters
        ----------
        specs : mapping of str to SheetSpec
            Our own name of each sheet, and its description under the name it has here.
        show_status : callable
            Shows how far the writing is.

        Returns
        -------
        list of str
            What of the looks could not be made.

        Raises
        ------
        WorkbookError
            If a sheet of the user is in the way, or if Excel refuses to write; the sheets then
            hold what they held before.
        """
        self.refuse_others([spec.name for spec in specs.values()])
        old = [self._sheets[spec.name.casefold()] for spec in specs.values() if self.has(spec.name)]
        kept = [KeptSheet.of(sheet, dates_1904=self._dates_1904) for sheet in old]
        new: dict[str, xw.Sheet] = {}
        try:
            for key, spec in specs.items():
                if not self.has(spec.name):
                    self._add(key, spec.name, new)
            for number, spec in enumerate(specs.values(), 1):
                show_status(f"Writing {spec.name}, sheet {number} of {len(specs)}")
                self._fill(spec)
        except Exception as error:  # the program's own kind of error
            raise WorkbookError(_why_not_written(error, self._undo(kept, new))) from error
        notes: list[str] = []
        for key, spec in specs.items():
            marker = self._book.names[marker_name(key)] if key in new else None
            sheet = self._sheets[spec.name.casefold()]
            notes += add_features(sheet, spec, self._native, marker)
        return notes

    def put_on_paper(self, pages: PageInputs, places: Places) -> list[str]:
        """Have our sheets and those that the user fills in print on the paper of the Job sheet.

        Returns what could not be set: there may be no printer.
        """
        paper = named_paper(pages)
        if paper is None:
            return []
        ours = {name.casefold() for name in (*input_sheets(places), *self._marked.values())}
        try:
            for name in sorted(ours & self._sheets.keys()):
                self._native.set_paper(self._sheets[name], paper)
        except Exception as error:  # the program's own kind of error
            return [f"The paper of the sheets could not be set ({error})"]
        return []

    def _find_marked(self) -> dict[str, str]:
        """Return the names of our sheets by the hidden names that mark them, in lower case."""
        marked: dict[str, str] = {}
        for text, name in names_of(self._book).items():
            if text.startswith(MARKER_START):
                sheet = self._sheets.get((sheet_of(name.refers_to or "") or "").casefold())
                if sheet is not None:
                    marked[text] = sheet.name
        return marked

    def _add(self, key: str, name: str, new: dict[str, xw.Sheet]) -> None:
        sheets = self._book.sheets
        new[key] = sheets.add(name, after=sheets[len(sheets) - 1])
        self._book.names.add(marker_name(key), f"={quoted(name)}!$A$1")
        self._sheets[name.casefold()] = new[key]
        self._marked[marker_name(key).casefold()] = name

    def _fill(self, spec: SheetSpec) -> None:
        sheet, rows = self._sheets[spec.name.casefold()], [*spec.rows]
        for chart in list(sheet.charts):
            chart.delete()
        self._native.take_filter_off(sheet)
        used = sheet.used_range
        sheet.clear()
        used.rows.autofit()
        style_cells(sheet, rows)
        write_contents(sheet, contents(rows, dates_1904=self._dates_1904))
        size_cells(sheet, rows, spec.widths)
        for merge in spec.merges:
            sheet.range(merge).merge()

    def _undo(self, kept: Sequence[KeptSheet], new: Mapping[str, xw.Sheet]) -> list[str]:
        """Bring the contents back; return the sheets for which the program refuses that too."""
        steps = [(sheet.sheet.name, sheet.put_back) for sheet in kept]
        steps += [(key, partial(self._remove, key, sheet)) for key, sheet in new.items()]
        refused = []
        for name, step in steps:
            try:
                step()
            except Exception:  # the program's own kind of error
                refused.append(name)
        return refused

    def _remove(self, key: str, sheet: xw.Sheet) -> None:
        marker = names_of(self._book).get(marker_name(key).casefold())
        if marker is not None:
            marker.delete()
        sheet.delete()


def _why_not_written(error: Exception, refused: Sequence[str]) -> str:
    back = "The result sheets are unchanged"
    if refused:
        back += f", except perhaps {', '.join(refused)}"
    return f"The results could not be written ({error}). Check for a protected sheet. {back}."
