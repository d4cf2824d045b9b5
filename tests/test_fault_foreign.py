"""Workbooks that an office has protected or signed, and texts that would like to be formulas."""

import io
import json
import re
import shutil
import subprocess
import zipfile

import msoffcrypto.format.ooxml
import pytest

from estimator import api
from estimator.cli import main
from estimator.workbook.book import parse_workbook, with_results
from estimator.workbook.package.package import Package
from estimator.workbook.results.print_sets import print_set
from tests.office import convert, errors_in, recalculate
from tests.workbook_factory import WorkbookFactory, of_one_run

PAYLOADS = (
    '=HYPERLINK("http://x.invalid","y")', "=1+1", "@SUM(1)", "+1+1", "-1+1", "\t=1", "\r=1",
    "=cmd|'/c calc'!A1", '"=1', "</t></is></c><c><f>1</f></c>", "<!--", "]]>", "_x003D_1",
)  # fmt: skip
FREE = ("job_name", "prepared_by", "company", "bid_to")
PROTECTION = b'<sheetProtection password="CC1A" sheet="1" objects="1" scenarios="1"/>'
LOCKED = b'<workbookProtection workbookPassword="CC1A" lockStructure="1"/>'
SIGNATURES = {
    "_xmlsignatures/origin.sigs": b"",
    "_xmlsignatures/sig1.xml": b'<Signature xmlns="http://www.w3.org/2000/09/xmldsig#"/>',
}


def parts_of(data):
    with zipfile.ZipFile(io.BytesIO(data)) as members:
        return {name: members.read(name) for name in members.namelist()}


def zipped(parts):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as members:
        for name, content in parts.items():
            members.writestr(name, content)
    return stream.getvalue()


def estimated(data):
    workbook = parse_workbook(data)
    study = api.estimate_workbook(workbook, ranges=False)
    return with_results(workbook, study), study


def test_protected_sheets_and_structure_are_read_and_stay_protected():
    parts = parts_of(WorkbookFactory().build())
    for name, content in parts.items():
        if name.startswith("xl/worksheets/sheet"):
            parts[name] = content.replace(b"</sheetData>", b"</sheetData>" + PROTECTION)
    book = parts["xl/workbook.xml"]
    parts["xl/workbook.xml"] = book.replace(b"<bookViews>", LOCKED + b"<bookViews>")
    data, study = estimated(zipped(parts))
    after = parts_of(data)
    assert study.bid == estimated(WorkbookFactory().build())[1].bid
    assert LOCKED in after["xl/workbook.xml"]
    for name, content in parts.items():
        assert PROTECTION not in content or after[name] == content


def test_a_signed_workbook_is_refused_and_left_as_it_was(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(zipped({**parts_of(WorkbookFactory().build()), **SIGNATURES}))
    before = path.read_bytes()
    assert main(["estimate", str(path)]) == 1
    assert "digitally signed" in capsys.readouterr().err
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["job.xlsx"]


@pytest.mark.parametrize("payload", PAYLOADS)
def test_texts_like_formulas_are_texts_in_sheets_and_in_json(payload, tmp_path):
    factory = of_one_run()
    for key in FREE:
        factory.set("job", key, payload)
    path, out = tmp_path / "job.xlsx", tmp_path / "job.json"
    path.write_bytes(factory.build())
    before = parts_of(path.read_bytes())
    assert main(["estimate", str(path), "--json", str(out)]) == 0
    assert json.loads(out.read_text("utf-8"))["job"]["job_name"] == payload.strip()
    for name, content in parts_of(path.read_bytes()).items():
        if name.startswith("xl/worksheets/") and content != before.get(name):
            formulas = re.findall(rb"<f[ >][^<]*", content)
            assert not any(b"x.invalid" in one or b"cmd|" in one for one in formulas)


@pytest.mark.parametrize("name", ["_x0041_ line", "bell\x07"])
def test_a_text_like_an_escape_is_typed_as_it_is(name):
    """An office reads ``_x0041_`` as A, unless its underscore is written as ``_x005F_``."""
    data = Package.open(WorkbookFactory().build()).fill_cells({"Bid items": {"B30": name}})
    (content,) = [xml for xml in parts_of(data).values() if b'"B30"' in xml and b"inlineStr" in xml]
    written = name.replace("_x", "_x005F_x").replace("\x07", "_x0007_").encode()
    assert b">" + written + b"<" in content


def encrypted(data, password="secret"):
    """Return a workbook as an office encrypts it: a compound file that holds the zip file."""
    stream = io.BytesIO()
    msoffcrypto.format.ooxml.OOXMLFile(io.BytesIO(data)).encrypt(password, stream)
    return stream.getvalue()


COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
"""How a workbook with a password begins."""


@pytest.mark.parametrize("command", ["print", "company"])
@pytest.mark.parametrize("data", [COMPOUND, b"", b"junk", b"PK\x03\x04junk"])
def test_a_file_that_is_no_workbook_is_named(command, data, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("estimator.files.settings_path", lambda name: str(tmp_path / name))
    path, printed = tmp_path / "job.xlsx", tmp_path / "out.pdf"
    path.write_bytes(data)
    options = ["--for", "client", "-o", str(printed)] if command == "print" else []
    assert main([command, str(path), *options]) == 1
    assert str(path) in capsys.readouterr().err
    assert [one.name for one in tmp_path.iterdir()] == ["job.xlsx"]


@pytest.mark.parametrize("data", [COMPOUND, b"", b"PK\x03\x04junk"])
def test_a_file_to_import_into_that_is_no_workbook_is_named(data, tmp_path, capsys):
    path, takeoff = tmp_path / "job.xlsx", tmp_path / "takeoff.csv"
    path.write_bytes(data)
    takeoff.write_text("Run,Size,DR,Length\nA,8,11,400\n")
    assert main(["import", str(takeoff), "--into", str(path), "--yes"]) == 1
    assert capsys.readouterr().err.startswith(f"{path}: ")
    assert path.read_bytes() == data


@pytest.mark.parametrize("command", ["estimate", "check", "options", "basis"])
def test_a_workbook_with_a_password_is_refused_and_left_as_it_was(command, tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(encrypted(WorkbookFactory().build()))
    before = path.read_bytes()
    assert main([command, str(path)]) == 1
    reported = capsys.readouterr().err
    assert str(path) in reported
    assert "password" in reported
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["job.xlsx"]


def filled_with(payloads):
    """Return a workbook with the free texts of the job and of its runs among some payloads."""
    factory = WorkbookFactory()
    for number, key in enumerate(FREE):
        factory.set("job", key, payloads[number % len(payloads)])
    for number in range(len(factory.tables["schedule"])):
        factory.set("schedule", "description", payloads[-1 - number % len(payloads)], number)
    return factory.build()


def in_fours(values):
    return [values[at : at + 4] for at in range(0, len(values), 4)]


@pytest.mark.parametrize("payloads", in_fours(PAYLOADS), ids=repr)
def test_the_status_is_good_after_texts_like_formulas(payloads, tmp_path):
    """LibreOffice recalculates what was written; a text that it took for a formula would differ."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(estimated(filled_with(payloads))[0])
    found = recalculate(path, sheets=("Checks", "Bid"))
    assert found["Checks"]["B3"] == "OK"
    assert errors_in(found) == []


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext")
def test_texts_like_formulas_are_printed_as_they_are(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(print_set(estimated(filled_with(PAYLOADS[:4]))[0], "client")[0])
    pdf = convert(path, tmp_path / "set.pdf")
    command = ["pdftotext", "-layout", str(pdf), "-"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "http://x.invalid" in printed
    assert "HYPERLINK" in printed
    assert "+1+1" in printed or "=1+1" in printed
