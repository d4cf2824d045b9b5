"""Builds the workbook with macros: the template, its buttons and what they run.

Our own VBA modules are the files in ``vba`` and the one that declares the cell functions.
xlwings' modules, which start Python, come from the xlwings that is installed where the workbook
is built, their license notices included, so that they always match it and no add-in is needed.
"""

import io

from xlsxwriter.worksheet import Worksheet

from estimator import files
from estimator.display import UnitSystem
from estimator.errors import InputError, Problem
from estimator.excel.installed import xlwings_file
from workbook_template import award_sheet, settings_sheet
from workbook_template.builder import START, TemplateBuilder, build_template, build_with
from workbook_template.company import Company
from workbook_template.content import package_folder
from workbook_template.vba_project import (
    ENCODING,
    Module,
    build_vba_project,
    class_module,
    standard_module,
)

BUTTONS = (
    ("Estimate", "Estimate", 100),
    ("Check inputs", "CheckInputs", 210),
    ("After award", "AfterAward", 320),
)
"""Caption, macro, and pixels from the left edge of its column."""
BUTTON_ROW, BUTTON_COLUMN = 0, 2
BUTTON = {"width": 105, "height": 28, "y_offset": 4}
WORKBOOK_CODE_NAME = "ThisWorkbook"


def build_macro_book(
    system: UnitSystem, example: str | None = None, company: Company | None = None
) -> bytes:
    """Return the workbook with buttons as the bytes of an .xlsm file.

    Parameters
    ----------
    system, example, company
        As for ``build_template``.

    Raises
    ------
    EstimatorError
        If xlwings is not installed in this Python.
    UnknownNameError, InputError
        As ``build_template``.
    """
    return build_with(MacroBookBuilder, system, example, company)


def build_by_name(
    file: str, system: UnitSystem, example: str | None = None, company: Company | None = None
) -> bytes:
    """Return the input workbook of the kind that a file name asks for.

    Parameters
    ----------
    file : str
        Name ending in .xlsx, or in .xlsm for the workbook with buttons.
    system, example, company
        As for ``build_template``.

    Raises
    ------
    InputError
        If the name ends otherwise; as ``build_template`` and ``build_macro_book`` else.
    """
    kinds = {".xlsx": build_template, ".xlsm": build_macro_book}
    build = kinds.get(files.suffix(file))
    if build is None:
        allowed = " or ".join(kinds)
        raise InputError([Problem(file, f"The file name must end in {allowed}")])
    return build(system, example, company)


def own_modules() -> list[Module]:
    """Return our own VBA modules, in alphabetical order of their files."""
    folder = package_folder() / "vba"
    found = sorted((f for f in folder.iterdir() if f.name.endswith(".bas")), key=lambda f: f.name)
    return [standard_module(file.read_text(ENCODING)) for file in found]


def functions_module() -> Module:
    """Return the VBA module of the cell functions, by which they work without being imported."""
    from estimator.excel import functions_vba  # imports xlwings, which takes its time

    return standard_module(functions_vba.module_text())


def xlwings_modules() -> list[Module]:
    """Return the VBA modules of the installed xlwings that our own ones call.

    The class is a dictionary for Excel on Mac, which has none of its own.
    """
    return [
        standard_module(xlwings_file("xlwings.bas").decode(ENCODING)),
        class_module(xlwings_file("addin/Dictionary.cls").decode(ENCODING)),
    ]


def _add_button(
    sheet: Worksheet, cell: tuple[int, int], caption: str, macro: str, offset: int
) -> None:
    options = {**BUTTON, "caption": caption, "macro": macro, "x_offset": offset}
    sheet.insert_button(*cell, options)


class MacroBookBuilder(TemplateBuilder):
    """Adds to the template what the workbook needs to estimate by itself in Excel."""

    def build(self) -> None:
        """Add every sheet, the buttons and the macros."""
        modules = [*own_modules(), *xlwings_modules(), functions_module()]
        super().build()
        self._buttons()
        self._macros(modules)

    def add_more(self) -> None:
        """Add the sheets of the buttons, the cell functions and the settings."""
        award = self._add(award_sheet.NAME, "settings")
        award_sheet.AwardSheet(self.workbook, award, self.styles).write(self.system)
        self._functions()
        sheet = self._add(settings_sheet.NAME, "settings")
        settings_sheet.write_settings_sheet(sheet, self.styles, self.system)

    def _functions(self) -> None:
        from workbook_template.functions_sheet import add_functions_sheet  # imports xlwings

        add_functions_sheet(self.workbook, self.system, self.styles, self.example)

    def _buttons(self) -> None:
        start = self.workbook.get_worksheet_by_name(START)
        for caption, macro, offset in BUTTONS:
            _add_button(start, (BUTTON_ROW, BUTTON_COLUMN), caption, macro, offset)
        award = self.workbook.get_worksheet_by_name(award_sheet.NAME)
        place = award_sheet.BUTTON_ROW, award_sheet.ENTRY
        _add_button(award, place, *award_sheet.BUTTON)

    def _macros(self, modules: list[Module]) -> None:
        """Give every sheet the code name that the macros know it by, and put them in."""
        sheets = self.workbook.worksheets()
        for number, sheet in enumerate(sheets, 1):
            sheet.set_vba_name(f"Sheet{number}")
        self.workbook.set_vba_name(WORKBOOK_CODE_NAME)
        project = build_vba_project([f"Sheet{n}" for n in range(1, len(sheets) + 1)], modules)
        self.workbook.add_vba_project(io.BytesIO(project), True)
