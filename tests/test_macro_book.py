"""The workbook with macros: the template's sheets, readable macros, settings that xlwings reads."""

import importlib.metadata
import importlib.util
import io
import re
import sys
import warnings
import zipfile
from pathlib import Path

import openpyxl
import pytest

from estimator import api, files
from estimator.award_actions import ACTIONS
from estimator.errors import EstimatorError, InputError, UnknownNameError
from estimator.excel import functions_vba
from estimator.excel.setup import INTERPRETER_KEYS
from tests.one_page import sheet_of
from tests.small_book import small_book
from workbook_template import build_template, example_names, example_system
from workbook_template.award_sheet import NAMES
from workbook_template.macro_book import build_by_name, build_macro_book

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # oletools uses names that its own parser has deprecated
    from oletools.olevba import VBA_Parser

ROOT = Path(__file__).parent.parent
OWN_SOURCES = sorted((ROOT / "workbook_template" / "vba").glob("*.bas"))
OWN_TEXT = "".join(source.read_text("utf-8") for source in OWN_SOURCES)
VARIANTS = [("US", None), ("SI", None), *((example_system(n), n) for n in example_names())]


@pytest.fixture(scope="module", params=VARIANTS, ids=lambda v: v[1] or f"empty {v[0]}")
def variant(request):
    """Every workbook that can be built, as its system, example and bytes."""
    return *request.param, build_macro_book(*request.param)


@pytest.fixture(scope="module")
def book():
    return build_macro_book("US")


def vba(data):
    parser = VBA_Parser("job.xlsm", data=data)
    return {name: text for _, _, name, text in parser.extract_macros()}


def members(data):
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def test_macros_are_the_sources(variant):
    *_, data = variant
    found = vba(data)
    assert OWN_SOURCES
    for source in OWN_SOURCES:
        assert found[source.name] == source.read_text("utf-8").replace("\n", "\r\n")


def test_xlwings_module_is_the_installed_one_with_its_license(book):
    distribution = importlib.metadata.distribution("xlwings")
    installed = distribution.locate_file("xlwings/xlwings.bas").read_text("cp1252")
    found = vba(book)
    assert found["xlwings.bas"].splitlines() == installed.rstrip().splitlines()
    assert "BSD 3-clause license" in found["xlwings.bas"]
    assert "THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS" in found["xlwings.bas"]
    assert f'XLWINGS_VERSION As String = "{distribution.version}"' in found["xlwings.bas"]
    assert "@license: MIT" in found["Dictionary.cls"]


def test_cell_functions_are_declared(book):
    assert (
        vba(book)["xlwings_udfs.bas"].splitlines()
        == functions_vba.module_text().rstrip().splitlines()
    )


def test_what_the_macros_and_settings_name_is_there(book):
    calls = re.findall(r'RunPython "from ([\w.]+) import (\w+); \2\.(\w+)\(', OWN_TEXT)
    assert len(calls) == OWN_TEXT.count('RunPython "') == 3
    for package, module, function in calls:
        assert callable(getattr(importlib.import_module(f"{package}.{module}"), function))
    assert importlib.util.find_spec(settings(book)["UDF MODULES"])


def test_the_sheet_after_award_offers_every_action(book):
    sheet = sheet_of(book, "After award")
    heads = next(row for row in sheet.iter_rows(min_row=8) if row[0].value == "Do")[0].row
    offered = [sheet.cell(heads + number, 1).value for number in range(1, len(ACTIONS) + 1)]
    assert offered == [one.name for one in ACTIONS]
    (choice,) = sheet.data_validations.dataValidation
    assert str(choice.sqref) == "B4"
    assert choice.formula1 == f"$A${heads + 1}:$A${heads + len(ACTIONS)}"


def test_no_code_of_xlwings_is_kept_among_the_sources():
    for path in (ROOT / "workbook_template").rglob("*"):
        if path.is_file() and path.suffix != ".pyc":
            assert b"Zoomer" not in path.read_bytes(), path


def test_own_macros_only_ask_call_python_and_show_errors():
    allowed = re.compile(
        r"Attribute .*|Option Explicit|'.*|(Private Const|(Public|Private) Sub|End Sub|Exit Sub).*"
        r'|On Error GoTo Failed|Failed:|RunPython "from estimator\.excel import live; '
        r'live\.\w+\(.*\)"|ImportPythonUDFs|TellFailure .*|MsgBox .*|vbExclamation, TITLE'
        r"|Application\.StatusBar = False|#(If Mac Then|Else|End If)|"
        r'ThisWorkbook\.Names\("award_do"\)\.RefersToRange\.Worksheet\.Activate|'
    )
    for source in OWN_SOURCES:
        for line in source.read_text("utf-8").splitlines():
            assert allowed.fullmatch(line.strip()), line


def test_every_sheet_of_the_template_is_there_as_it_is(variant):
    system, example, data = variant
    plain = openpyxl.load_workbook(io.BytesIO(build_template(system, example)))
    found = openpyxl.load_workbook(io.BytesIO(data), keep_vba=True)
    *inputs, checks = plain.sheetnames
    assert found.sheetnames[: len(inputs)] == inputs
    assert found.sheetnames[-1] == checks
    for sheet in plain:
        cells = {c.coordinate: c.value for row in sheet.iter_rows() for c in row}
        other = {c.coordinate: c.value for row in found[sheet.title].iter_rows() for c in row}
        assert other == cells
        assert found[sheet.title].tables.keys() == sheet.tables.keys()
    assert found.defined_names.keys() == plain.defined_names.keys() | set(NAMES)
    found.vba_archive.close()


def test_a_rebuild_gives_the_same_bytes(variant):
    system, example, data = variant
    assert build_macro_book(system, example) == data


def test_every_sheet_has_a_module_by_its_code_name(book):
    parts = members(book)
    sheets = [name for name in parts if re.fullmatch(r"xl/worksheets/sheet\d+\.xml", name)]
    codes = {re.search(rb'codeName="(\w+)"', parts[name])[1].decode() for name in sheets}
    assert len(codes) == len(sheets)
    assert {f"{code}.cls" for code in codes} <= vba(book).keys()
    assert b'codeName="ThisWorkbook"' in parts["xl/workbook.xml"]
    assert b"sheet.macroEnabled.main+xml" in parts["[Content_Types].xml"]


def settings(data):
    """Return the settings as xlwings reads them: A and B down to the first empty cell of A."""
    sheet = sheet_of(data, "xlwings.conf")
    found = []
    for key, value in sheet.iter_rows(max_col=2, values_only=True):
        if key is None:
            break
        found.append((key, value))
    assert len({key.upper() for key, _ in found}) == len(found) == sheet.max_row
    return dict(found)


@pytest.mark.parametrize("platform", ["win32", "darwin", "linux"])
def test_settings_name_this_python_for_this_system_only(platform, monkeypatch):
    monkeypatch.setattr(sys, "platform", platform)
    found = settings(build_macro_book("US"))
    for system, key in INTERPRETER_KEYS.items():
        # A key with an empty value would hide the user's own setting: GetConfig in xlwings.bas
        # takes the sheet first and stops there.
        if system == platform:
            assert found[key] == sys.executable
        else:
            assert key not in found
            assert found[f"_{key}"] is None
    assert found["UDF MODULES"] == "estimator.excel.functions"


def test_settings_are_keys_that_the_installed_xlwings_reads(book):
    module = vba(book)["xlwings.bas"]
    for key in settings(book):
        assert f'GetConfig("{key.removeprefix("_")}"' in module


def test_settings_are_explained_and_text(book):
    sheet = sheet_of(book, "xlwings.conf")
    for row in sheet.iter_rows():
        assert len(row) == 3
        assert len(row[2].value) > 20
        assert row[1].number_format == "@"
        assert row[1].value is None or isinstance(row[1].value, str)


def without_results(content):
    """Leave out the saved values of the cells on Start that show what Checks says."""
    return re.sub(
        rb"( t=\"str\")?(><f>[^<]*Checks![^<]*</f>)(?:<v>[^<]*</v>|<v/>)?", rb"\2", content
    )


def test_estimating_keeps_the_macros_buttons_and_settings_to_the_byte(tmp_path):
    path = tmp_path / "job.xlsm"
    path.write_bytes(small_book("plant_piping", macros=True))
    before = members(path.read_bytes())
    workbook = api.read_workbook(str(path))
    found = api.estimate_workbook(workbook)
    assert api.write_workbook(workbook, found, str(path)) == str(path)
    after = members(path.read_bytes())
    kept = [name for name in before if re.search(r"vbaProject|vmlDrawing|sheet1\.xml", name)]
    settings_sheet = f"xl/worksheets/sheet{len(workbook_sheets(before)) - 1}.xml"
    for name in ["xl/vbaProject.bin", *kept, settings_sheet]:
        assert without_results(after[name]) == without_results(before[name])
    before = files.marked(small_book("plant_piping", macros=True))
    assert (tmp_path / "job.bak.xlsm").read_bytes() == before
    bid = sheet_of(path, "Bid", data_only=True)
    assert float(found.bid.total) in [cell.value for row in bid.iter_rows() for cell in row]
    plain = tmp_path / "plain.xlsx"
    plain.write_bytes(small_book("plant_piping"))
    assert api.estimate_workbook(api.read_workbook(str(plain))).bid == found.bid


def workbook_sheets(parts):
    return [name for name in parts if name.startswith("xl/worksheets/sheet")]


@pytest.mark.parametrize(
    ("name", "macros"), [("job.xlsx", False), ("JOB.XLSM", True), ("a b/c.d.xlsm", True)]
)
def test_the_ending_of_the_name_chooses_the_kind(name, macros):
    assert ("xl/vbaProject.bin" in members(build_by_name(name, "SI"))) is macros


def test_another_ending_is_refused():
    with pytest.raises(InputError, match=r"job\.xls: The file name must end in \.xlsx"):
        build_by_name("job.xls", "US")


def test_wrong_examples_are_refused_as_by_the_template():
    with pytest.raises(UnknownNameError, match="example 'nothing' is not recognized"):
        build_macro_book("US", "nothing")
    with pytest.raises(InputError, match="unit system must be SI, got US"):
        build_macro_book("US", "tailings_line")


def test_without_xlwings_the_error_says_what_to_install(monkeypatch):
    monkeypatch.setattr(sys, "path", [p for p in sys.path if "site-packages" not in p])
    with pytest.raises(
        EstimatorError,
        match=r"not installed .* -m pip install .* -r constraints/excel\.txt .*extra named excel",
    ):
        build_macro_book("US")
