"""Writes vbaProject.bin, the macros of a workbook, from VBA modules kept as text.

The file holds sources only. What a spreadsheet program compiles from them (the "performance
cache") is left out, as MS-OVBA 2.3.4.1 asks of other writers: the program compiles the sources
itself when it opens the workbook.
"""

import re
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from workbook_template.compound_file import Tree, write_compound_file
from workbook_template.ovba_compression import compress

ModuleKind = Literal["document", "module", "class"]

CODE_PAGE = 1252
ENCODING = f"cp{CODE_PAGE}"
PROJECT_NAME = "VBAProject"
PROJECT_ID = "{5A0C1B7E-3F0E-4B6C-9C55-2B1B7D7B8C11}"
"""Identity of the project: fixed, so that a rebuild gives the same bytes."""
ENCRYPTION_SEED = 0x5A
WORKBOOK_CLASS, SHEET_CLASS, PLAIN_CLASS = (
    "{00020819-0000-0000-C000-000000000046}",
    "{00020820-0000-0000-C000-000000000046}",
    "{FCFB3D2A-A0FA-1068-A738-08002B3371B5}",
)
WINDOWS_64, ENGLISH, NO_COOKIE = 3, 0x409, 0xFFFF
VERSION_MAJOR, VERSION_MINOR = 0x65BE0257, 17
NOT_PROTECTED, NO_PASSWORD, VISIBLE = bytes(4), bytes(1), b"\xff"
NO_CACHE = bytes.fromhex("CC61FFFF000000")
AUTOMATION_NAME = "stdole"
AUTOMATION_LIBRARY = (
    r"*\G{00020430-0000-0000-C000-000000000046}#2.0#0#C:\Windows\System32\stdole2.tlb"
    "#OLE Automation"
)
PROJECT_LINES = {
    "document": "Document={}/&H00000000",
    "module": "Module={}",
    "class": "Class={}",
}
_NAME = re.compile(r'^Attribute VB_Name = "([A-Za-z][A-Za-z0-9_]{0,30})"$', re.MULTILINE)
_EXPORT_HEAD = re.compile(r"VERSION 1\.0 CLASS\r\nBEGIN\r\n.*?\r\nEND\r\n", re.DOTALL)


@dataclass(frozen=True)
class Module:
    """One VBA module: its name and the text stored for it, attributes included."""

    name: str
    kind: ModuleKind
    source: str


def standard_module(text: str) -> Module:
    """Return a module from the text of a .bas file.

    Raises
    ------
    ValueError
        If the text does not begin with the module's name, as an exported file does, or has a
        letter outside the code page of the project.
    """
    source = _windows_lines(text)
    return Module(_name(source), "module", source)


def class_module(text: str) -> Module:
    """Return a class module from the text of a .cls file, as the VBA editor exports it.

    Raises
    ------
    ValueError
        As ``standard_module``.
    """
    source = _EXPORT_HEAD.sub("", _windows_lines(text), count=1)
    lines = source.split("\r\n")
    after_name = 1
    lines.insert(after_name, f'Attribute VB_Base = "0{PLAIN_CLASS}"')
    after_exposed = 1 + next(n for n, line in enumerate(lines) if "VB_Exposed" in line)
    lines[after_exposed:after_exposed] = [
        "Attribute VB_TemplateDerived = False",
        "Attribute VB_Customizable = False",
    ]
    return Module(_name(source), "class", "\r\n".join(lines))


def document_module(name: str, class_id: str) -> Module:
    """Return the empty module that stands for the workbook or for one of its sheets.

    Parameters
    ----------
    name : str
        Code name of the workbook or sheet in the file.
    class_id : str
        ``WORKBOOK_CLASS`` or ``SHEET_CLASS``.
    """
    attributes = {
        "VB_Name": f'"{name}"',
        "VB_Base": f'"0{class_id}"',
        "VB_GlobalNameSpace": "False",
        "VB_Creatable": "False",
        "VB_PredeclaredId": "True",
        "VB_Exposed": "True",
        "VB_TemplateDerived": "False",
        "VB_Customizable": "True",
    }
    source = "".join(f"Attribute {key} = {value}\r\n" for key, value in attributes.items())
    return Module(name, "document", source)


def build_vba_project(sheets: Sequence[str], modules: Sequence[Module]) -> bytes:
    """Return vbaProject.bin for a workbook.

    Parameters
    ----------
    sheets : sequence of str
        Code names of all sheets, in their order.
    modules : sequence of Module
        The modules with code.

    Raises
    ------
    ValueError
        If two modules have one name.

    Source: MS-OVBA 2.2 (file structure).
    """
    documents = [document_module("ThisWorkbook", WORKBOOK_CLASS)]
    documents += [document_module(name, SHEET_CLASS) for name in sheets]
    every = [*documents, *modules]
    names = [module.name.casefold() for module in every]
    if len(set(names)) < len(names):
        raise ValueError(f"every module needs a name of its own, got {', '.join(names)}")
    streams = {module.name: compress(module.source.encode(ENCODING)) for module in every}
    streams |= {"dir": compress(_directory(every)), "_VBA_PROJECT": NO_CACHE}
    tree: Tree = {"VBA": streams, "PROJECT": _project_text(every), "PROJECTwm": _name_map(every)}
    return write_compound_file(tree)


def _windows_lines(text: str) -> str:
    lines = text.replace("\r\n", "\n").rstrip("\n")
    source = lines.replace("\n", "\r\n") + "\r\n"
    source.encode(ENCODING)
    return source


def _name(source: str) -> str:
    found = _NAME.search(source.replace("\r\n", "\n"))
    if found is None:
        raise ValueError(f"a VBA module must name itself by VB_Name, got {source[:40]!r}")
    return found[1]


def _record(number: int, content: bytes) -> bytes:
    return struct.pack("<HI", number, len(content)) + content


def _text_record(number: int, text: str, wide_number: int) -> bytes:
    """Return a text twice, in the code page and in UTF-16."""
    return _record(number, text.encode(ENCODING)) + _record(wide_number, text.encode("utf-16-le"))


def _short(value: int) -> bytes:
    return struct.pack("<H", value)


def _long(value: int) -> bytes:
    return struct.pack("<I", value)


def _directory(modules: Sequence[Module]) -> bytes:
    """Return the stream that lists what is in the project. Source: MS-OVBA 2.3.4.2."""
    library = AUTOMATION_LIBRARY.encode(ENCODING)
    return b"".join(
        (
            _record(0x01, _long(WINDOWS_64)),
            _record(0x02, _long(ENGLISH)),
            _record(0x14, _long(ENGLISH)),
            _record(0x03, _short(CODE_PAGE)),
            _record(0x04, PROJECT_NAME.encode(ENCODING)),
            _text_record(0x05, "", 0x40),
            _record(0x06, b"") + _record(0x3D, b""),
            _record(0x07, _long(0)),
            _record(0x08, _long(0)),
            struct.pack("<HIIH", 0x09, 4, VERSION_MAJOR, VERSION_MINOR),
            _text_record(0x0C, "", 0x3C),
            _text_record(0x16, AUTOMATION_NAME, 0x3E),
            _record(0x0D, _long(len(library)) + library + bytes(6)),
            _record(0x0F, _short(len(modules))),
            _record(0x13, _short(NO_COOKIE)),
            *(_module_records(module) for module in modules),
            _record(0x10, b""),
        )
    )


def _module_records(module: Module) -> bytes:
    return b"".join(
        (
            _text_record(0x19, module.name, 0x47),
            _text_record(0x1A, module.name, 0x32),
            _text_record(0x1C, "", 0x48),
            _record(0x31, _long(0)),
            _record(0x1E, _long(0)),
            _record(0x2C, _short(NO_COOKIE)),
            _record(0x21 if module.kind == "module" else 0x22, b""),
            _record(0x2B, b""),
        )
    )


def _project_text(modules: Sequence[Module]) -> bytes:
    """Return the stream that describes the project in text. Source: MS-OVBA 2.3.1."""
    lines = [
        f'ID="{PROJECT_ID}"',
        *(PROJECT_LINES[module.kind].format(module.name) for module in modules),
        f'Name="{PROJECT_NAME}"',
        'HelpContextID="0"',
        'VersionCompatible32="393222000"',
        f'CMG="{_encrypted(NOT_PROTECTED)}"',
        f'DPB="{_encrypted(NO_PASSWORD)}"',
        f'GC="{_encrypted(VISIBLE)}"',
        "",
        "[Host Extender Info]",
        "&H00000001={3832D640-CF90-11CF-8E43-00A0C911005A};VBE;&H00000000",
        "",
        "[Workspace]",
        *(f"{module.name}=0, 0, 0, 0, C" for module in modules),
    ]
    return "".join(f"{line}\r\n" for line in lines).encode(ENCODING)


def _encrypted(data: bytes) -> str:
    """Return protection data in the form the project stream wants. Source: MS-OVBA 2.4.3.2."""
    key = sum(PROJECT_ID.encode(ENCODING)) & 0xFF
    out = bytearray((ENCRYPTION_SEED, ENCRYPTION_SEED ^ 2, ENCRYPTION_SEED ^ key))
    last_plain = key
    ignored = bytes((ENCRYPTION_SEED & 6) // 2)
    for plain in ignored + _long(len(data)) + data:
        out.append(plain ^ (out[-2] + last_plain & 0xFF))
        last_plain = plain
    return out.hex().upper()


def _name_map(modules: Sequence[Module]) -> bytes:
    """Return the stream that gives module names in both encodings. Source: MS-OVBA 2.3.3."""
    names = (module.name for module in modules)
    pairs = (n.encode(ENCODING) + b"\0" + (n + "\0").encode("utf-16-le") for n in names)
    return b"".join(pairs) + b"\0\0"
