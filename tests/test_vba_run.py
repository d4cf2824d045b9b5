"""Our VBA in a real spreadsheet program: LibreOffice runs the macros of the built workbook.

What RunPython does then is xlwings' part and needs Excel; here a module of the same name stands
in for it and writes down what it is asked to run.
"""

import functools
import io
import tempfile
import zipfile
from pathlib import Path

import pytest

from tests import office
from workbook_template.macro_book import build_macro_book, own_modules, xlwings_modules
from workbook_template.vba_project import Module, build_vba_project, standard_module

RECORDER = """\
Attribute VB_Name = "xlwings"
Option Explicit

Public Function RunPython(PythonCommand As String)
    ThisWorkbook.Worksheets("Start").Range("H1").Value = PythonCommand
End Function

Public Sub ImportPythonUDFs()
    ThisWorkbook.Worksheets("Start").Range("H1").Value = "ImportPythonUDFs"
End Sub
"""
FAILING = """\
Attribute VB_Name = "xlwings"
Option Explicit

Public Function RunPython(PythonCommand As String)
    Err.Raise 1000, , "no Python there"
End Function

Public Sub ImportPythonUDFs()
    Err.Raise 1000, , "no library there"
End Sub
"""
MESSAGE_RECORDER = """
Private Function MsgBox(Prompt, Optional Buttons, Optional Title)
    ThisWorkbook.Worksheets("Start").Range("H2").Value = Prompt
End Function
"""
WHERE = """
Public Sub Where()
    AfterAward
    ThisWorkbook.Worksheets("Start").Range("H1").Value = ActiveSheet.Name
End Sub
"""
PYTHON = "from estimator.excel import live; live."
ASKED = {
    "Estimate": f"{PYTHON}estimate_active()",
    "CheckInputs": f"{PYTHON}check_active()",
    "DoAfterAward": f"{PYTHON}after_award_active()",
    "ImportFunctions": "ImportPythonUDFs",
}
SAID = {
    "Estimate": "The estimate could not start.\n\nno Python there\n\n",
    "CheckInputs": "The check could not start.\n\nno Python there\n\n",
    "DoAfterAward": "The work could not be started.\n\nno Python there\n\n",
    "ImportFunctions": "The cell functions could not be imported.\n\nno library there\n\n",
}


@pytest.fixture(scope="module", autouse=True)
def office_without_a_past():
    """Macros meet no Basic that another test's workbook has left in the program."""
    office.start_anew()


@functools.cache
def built():
    return build_macro_book("US", "plant_piping")


def with_modules(data, modules):
    """Return the workbook with other VBA modules than it was built with."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(target, "w") as new:
        sheets = sum(name.startswith("xl/worksheets/sheet") for name in old.namelist())
        project = build_vba_project([f"Sheet{n}" for n in range(1, sheets + 1)], modules)
        for name in old.namelist():
            new.writestr(name, project if name == "xl/vbaProject.bin" else old.read(name))
    return target.getvalue()


@functools.cache
def run_with(stand_in, *macros, added=""):
    """Return what Start shows after each macro, with another module in the place of xlwings."""
    (own,) = own_modules()
    listened = Module(own.name, own.kind, own.source + added.replace("\n", "\r\n"))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.xlsm"
        path.write_bytes(with_modules(built(), [listened, standard_module(stand_in)]))
        names = [f"EstimatorMacros.{macro}" for macro in macros]
        found = office.run_macros(path, names)["values"]
    return {macro: found[name] for macro, name in zip(macros, names, strict=True)}


def test_the_program_finds_every_module_and_the_buttons_run_ours(tmp_path):
    path = tmp_path / "job.xlsm"
    path.write_bytes(built())
    found = office.run_macros(path)
    wanted = {module.name for module in (*own_modules(), *xlwings_modules())}
    assert wanted <= set(found["modules"])
    address = "vnd.sun.star.script:VBAProject.EstimatorMacros.{}?language=Basic&location=document"
    assert found["buttons"] == {
        "Estimate": [address.format("Estimate")],
        "Check inputs": [address.format("CheckInputs")],
        "After award": [address.format("AfterAward")],
    }


@pytest.mark.parametrize("macro", ASKED)
def test_a_macro_asks_xlwings_to_run_what_it_is_for(macro):
    assert run_with(RECORDER, *ASKED)[macro]["H1"] == ASKED[macro]


@pytest.mark.parametrize("macro", SAID)
def test_a_call_that_fails_is_reported_in_a_message(macro):
    said = run_with(FAILING, *SAID, added=MESSAGE_RECORDER)[macro]["H2"]
    assert said == f"{SAID[macro]}See the troubleshooting table in docs/excel.md."


def test_the_button_after_award_shows_its_sheet():
    found = run_with(RECORDER, "Where", added=MESSAGE_RECORDER + WHERE)["Where"]
    assert (found.get("H1"), found.get("H2")) == ("After award", None)
