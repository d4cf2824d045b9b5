"""The writer of vbaProject.bin: published examples, other readers, and what must always hold."""

import importlib.metadata
import io
import warnings
import zipfile

import olefile
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook_template.compound_file import write_compound_file
from workbook_template.ovba_compression import compress
from workbook_template.vba_project import (
    build_vba_project,
    class_module,
    standard_module,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # oletools uses names that its own parser has deprecated
    from oletools.olevba import VBA_Parser, decompress_stream

# MS-OVBA 3.2.1 and 3.2.3, the examples without compression and of maximum compression.
PUBLISHED = [
    (b"abcdefghijklmnopqrstuv.",
     "01 19 B0 00 61 62 63 64 65 66 67 68 00 69 6A 6B 6C 6D 6E 6F 70 00 71 72 73 74 75 76 2E"),
    (b"a" * 73, "01 03 B0 02 61 45 00"),
]  # fmt: skip
HELLO = 'Attribute VB_Name = "Hello"\nOption Explicit\nSub Hi()\nEnd Sub\n'
CLASS = (
    "VERSION 1.0 CLASS\nBEGIN\n  MultiUse = -1  'True\nEND\n"
    'Attribute VB_Name = "Thing"\nAttribute VB_GlobalNameSpace = False\n'
    "Attribute VB_Creatable = False\nAttribute VB_PredeclaredId = False\n"
    "Attribute VB_Exposed = True\nOption Explicit\n"
)
NAMES = st.text("abcXYZ019_", min_size=1, max_size=31)
SIZES = st.sampled_from([0, 1, 63, 64, 65, 511, 512, 513, 4095, 4096, 4097, 9000])


def unpacked(packed):
    return bytes(decompress_stream(bytearray(packed)))


def sources(data):
    """Return the modules of a workbook or vbaProject.bin as olevba reads them."""
    parser = VBA_Parser("read.bin", data=data)
    return {name: text for _, _, name, text in parser.extract_macros()}


@pytest.mark.parametrize(("data", "packed"), PUBLISHED)
def test_compress_gives_the_published_bytes(data, packed):
    assert compress(data) == bytes.fromhex(packed)


@given(st.text("ab \r\n=Dim", max_size=9000))
def test_another_program_unpacks_what_compress_packs(text):
    assert unpacked(compress(text.encode())) == text.encode()


@given(st.binary(max_size=300), st.integers(1, 40))
def test_repeated_bytes_come_back_and_shrink(data, times):
    packed = compress(data * times)
    assert unpacked(packed) == data * times
    if len(data) > 20 and times > 10:
        assert len(packed) < len(data) * times / 2


@pytest.mark.parametrize("size", [4096, 4095, 4000])
def test_bytes_without_any_pattern_are_kept_as_the_format_says(size):
    # No three bytes in a row come twice, so nothing can be copied and the chunk is stored raw.
    data = b"".join((n * 7919 % 65536).to_bytes(2, "big") for n in range(2048))[:size]
    back = unpacked(compress(data))
    assert back == data.ljust(4096, b"\0")


@given(st.dictionaries(NAMES, SIZES, max_size=12), st.dictionaries(NAMES, SIZES, max_size=12))
def test_another_program_reads_every_stream_of_a_compound_file(top, inner):
    top = {f"t{name}"[:31].lower(): b"T" * size for name, size in top.items()}
    inner = {f"i{name}"[:31].lower(): b"I" * size for name, size in inner.items()}
    data = write_compound_file({**top, "Folder": inner})
    assert len(data) % 512 == 0
    with olefile.OleFileIO(io.BytesIO(data), raise_defects=olefile.DEFECT_POTENTIAL) as book:
        found = {"/".join(path): book.openstream(path).read() for path in book.listdir()}
    assert found == top | {f"Folder/{name}": content for name, content in inner.items()}


def test_a_compound_file_refuses_what_it_cannot_hold():
    with pytest.raises(ValueError, match=r"must have 1 to 31 letters, got 'x{32}'"):
        write_compound_file({"x" * 32: b""})
    with pytest.raises(ValueError, match="holds 7 MB here, got"):
        write_compound_file({"large": bytes(8_000_000)})


def test_modules_come_back_as_they_were_written():
    modules = [standard_module(HELLO), class_module(CLASS)]
    found = sources(build_vba_project(["Sheet1"], modules))
    assert found["Hello.bas"] == HELLO.replace("\n", "\r\n")
    assert found["Thing.cls"].splitlines()[0] == 'Attribute VB_Name = "Thing"'
    assert "MultiUse" not in found["Thing.cls"]
    assert list(found) == ["ThisWorkbook.cls", "Sheet1.cls", "Hello.bas", "Thing.cls"]


def shipped():
    """A workbook that the xlwings project ships with its modules in it, saved for Excel."""
    distribution = importlib.metadata.distribution("xlwings")
    return distribution.locate_file("xlwings/quickstart_standalone.xlsm").read_bytes()


def xlwings_text(name):
    return importlib.metadata.distribution("xlwings").locate_file(f"xlwings/{name}").read_text()


def test_stored_modules_equal_those_of_a_workbook_made_for_excel_by_others():
    modules = [
        standard_module(xlwings_text("xlwings.bas")),
        class_module(xlwings_text("addin/Dictionary.cls")),
    ]
    found, wanted = sources(build_vba_project(["Sheet1"], modules)), sources(shipped())
    for name in ("xlwings.bas", "Dictionary.cls", "ThisWorkbook.cls", "Sheet1.cls"):
        # VBA itself changes the case of names; that is no difference.
        assert lines(found[name]) == lines(wanted[name])


def lines(text):
    return [line.casefold() for line in text.rstrip().splitlines()]


def project_text(data):
    with olefile.OleFileIO(io.BytesIO(data)) as project:
        text = project.openstream("PROJECT").read().decode("cp1252")
    return dict(line.split("=", 1) for line in text.splitlines() if "=" in line)


def decrypted(text, project_id):
    """Return protection data in plain, by MS-OVBA 2.4.3.3."""
    data = bytes.fromhex(text)
    seed, version, key = data[0], data[0] ^ data[1], data[0] ^ data[2]
    assert version == 2
    assert key == sum(project_id.encode()) & 0xFF
    plain, last = [], key
    for place in range(3, len(data)):
        last = data[place] ^ (data[place - 2] + last & 0xFF)
        plain.append(last)
    rest = bytes(plain[(seed & 6) // 2 :])
    assert int.from_bytes(rest[:4], "little") == len(rest) - 4
    return rest[4:]


def test_project_is_neither_protected_nor_hidden():
    with zipfile.ZipFile(io.BytesIO(shipped())) as book:
        theirs = book.read("xl/vbaProject.bin")
    for data in (theirs, build_vba_project(["Sheet1"], [standard_module(HELLO)])):
        found = project_text(data)
        clear = {
            key: decrypted(found[key][1:-1], found["ID"][1:-1]) for key in ("CMG", "DPB", "GC")
        }
        assert clear == {"CMG": bytes(4), "DPB": bytes(1), "GC": b"\xff"}


def test_no_compiled_code_is_stored():
    data = build_vba_project(["Sheet1"], [standard_module(HELLO)])
    with olefile.OleFileIO(io.BytesIO(data)) as project:
        # MS-OVBA 2.3.4.1: what a writer stores that leaves the performance cache out.
        assert project.openstream("VBA/_VBA_PROJECT").read() == bytes.fromhex("CC61FFFF000000")
        assert unpacked(project.openstream("VBA/Hello").read()).decode().startswith("Attribute")


def test_a_module_must_name_itself_and_differ_from_the_others():
    with pytest.raises(ValueError, match="must name itself by VB_Name, got 'Sub Hi"):
        standard_module("Sub Hi()\nEnd Sub\n")
    with pytest.raises(ValueError, match="needs a name of its own, got thisworkbook, hello, hello"):
        build_vba_project([], [standard_module(HELLO), standard_module(HELLO)])
    with pytest.raises(ValueError, match="'charmap' codec can't encode"):
        standard_module(HELLO + "' \u0416\n")
