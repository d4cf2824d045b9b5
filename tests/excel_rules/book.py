"""A workbook file as its parts: read apart from the code under test."""

import io
import posixpath
import re
import zipfile
from dataclasses import dataclass
from functools import cached_property

from lxml import etree

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
CELL = re.compile(r"\$?([A-Z]{1,3})\$?([1-9][0-9]{0,6})")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
XML_ENDINGS = (".xml", ".rels")


def main(name):
    """Return the qualified name of an element of a sheet, workbook or style sheet."""
    return f"{{{MAIN}}}{name}"


def unescaped(text):
    """Return a text with the escapes of the file format resolved."""
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)


def all_text(element):
    """Return the text of a shared or inline string, without its phonetic help."""
    texts = (t for t in element.iter(main("t")) if t.getparent().tag != main("rPh"))
    return unescaped("".join(t.text or "" for t in texts))


def local(element):
    """Return the name of an element without its namespace, empty for a comment."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def column_number(letters):
    """Return the number of a column from 1 on.

    >>> column_number("A"), column_number("XFD")
    (1, 16384)
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def column_letters(number):
    """Return the letters of a column from 1 on.

    >>> column_letters(1), column_letters(16384)
    ('A', 'XFD')
    """
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def cell_at(reference):
    """Return row and column of a cell such as ``$B$4``, None if it is none."""
    match = CELL.fullmatch(reference)
    if match is None:
        return None
    row, column = int(match[2]), column_number(match[1])
    return (row, column) if row <= LAST_ROW and column <= LAST_COLUMN else None


@dataclass(frozen=True)
class Area:
    """Cells from a first to a last row and column."""

    top: int
    left: int
    bottom: int
    right: int

    def meets(self, other):
        """Return whether two areas have a cell in common."""
        return (
            self.top <= other.bottom and other.top <= self.bottom
            and self.left <= other.right and other.left <= self.right
        )  # fmt: skip


def area_at(reference):
    """Return the area of ``B4`` or ``B4:D9``, None if it is none, or runs backwards."""
    first, colon, last = reference.partition(":")
    corners = cell_at(first), cell_at(last if colon else first)
    if None in corners:
        return None
    (top, left), (bottom, right) = corners
    return Area(top, left, bottom, right) if top <= bottom and left <= right else None


def areas_of(text):
    """Return the areas of a list such as ``A1:B2 D4``; None stands for what is no area."""
    return [area_at(reference) for reference in (text or "").split()]


@dataclass(frozen=True)
class Link:
    """A relationship: where it leads, resolved, unless it leads outside."""

    kind: str
    target: str
    outside: bool


@dataclass(frozen=True)
class Sheet:
    """A sheet of the workbook's list with its part and root."""

    name: str
    index: int
    sheet_id: str
    state: str
    part: str
    root: etree._Element

    def all(self, name):
        """Return all elements of a name."""
        return self.root.iter(main(name))


class Book:
    """The parts of a file; ``damage`` says why there is nothing more to look at."""

    def __init__(self, data):
        self.zip = zipfile.ZipFile(io.BytesIO(data))
        self.names = self.zip.namelist()
        self._by_folded_name = {name.casefold(): name for name in self.names}
        self.trees, self.damage = {}, []
        for name in self.names:
            if name.endswith(XML_ENDINGS):
                self._parse(name)
        if not self.damage and self.workbook_part is None:
            self.damage = ["_rels/.rels: leads to no workbook"]

    def _parse(self, name):
        try:
            root = etree.fromstring(self.zip.read(name))
        except etree.XMLSyntaxError as error:
            self.damage.append(f"{name}: not well-formed: {error}")
            return
        if root.getroottree().docinfo.doctype:
            self.damage.append(f"{name}: carries a document type")
        self.trees[name] = root

    def actual(self, name):
        """Return a member's name as it is spelled, None if there is none."""
        return self._by_folded_name.get(name.casefold())

    def links(self, part):
        """Return the relationships of a part by their id."""
        folder, name = posixpath.split(part)
        root = self.trees.get(self.actual(f"{folder}/_rels/{name}.rels".lstrip("/")))
        return {} if root is None else {item.get("Id"): _link(item, folder) for item in root}

    def linked(self, part, kind):
        """Return the names of the parts that a part leads to by a kind of relationship."""
        found = [link.target for link in self.links(part).values() if link.kind == kind]
        return [self.actual(target) for target in found if self.actual(target)]

    @cached_property
    def workbook_part(self):
        """Name of the workbook part."""
        return next(iter(self.linked("", "officeDocument")), None)

    @cached_property
    def workbook(self):
        """Root of the workbook part."""
        return self.trees[self.workbook_part]

    @cached_property
    def entries(self):
        """The elements that list the sheets."""
        return self.workbook.findall(f"{main('sheets')}/{main('sheet')}")

    @cached_property
    def sheet_names(self):
        """Names of all sheets in lower case."""
        return {entry.get("name", "").casefold() for entry in self.entries}

    @cached_property
    def sheets(self):
        """The worksheets; chart sheets are left out."""
        links, found = self.links(self.workbook_part), []
        for index, entry in enumerate(self.entries):
            link = links.get(entry.get(f"{{{REL}}}id"))
            part = link and self.actual(link.target)
            if part and link.kind == "worksheet":
                found.append(
                    Sheet(
                        entry.get("name", ""), index, entry.get("sheetId", ""),
                        entry.get("state", "visible"), part, self.trees[part],
                    )
                )  # fmt: skip
        return found

    @cached_property
    def defined_names(self):
        """The elements that define names."""
        return self.workbook.findall(f"{main('definedNames')}/{main('definedName')}")

    @cached_property
    def styles(self):
        """Root of the style sheet, None if there is none."""
        return self._one("styles")

    @cached_property
    def shared_strings(self):
        """Root of the shared strings, None if there are none."""
        return self._one("sharedStrings")

    @cached_property
    def tables(self):
        """Each table: the sheet, the part and the root."""
        return [
            (sheet, part, self.trees[part])
            for sheet in self.sheets
            for part in self.linked(sheet.part, "table")
        ]

    @cached_property
    def _cells(self):
        return {
            (sheet.part, cell.get("r")): cell for sheet in self.sheets for cell in sheet.all("c")
        }

    def text_at(self, sheet, reference):
        """Return the text that a cell holds, None if it holds none."""
        cell = self._cells.get((sheet.part, reference))
        kind = None if cell is None else cell.get("t", "n")
        if kind == "s":
            return all_text(self.shared_strings[int(cell.findtext(main("v")))])
        if kind == "inlineStr":
            return all_text(cell)
        return unescaped(cell.findtext(main("v")) or "") if kind == "str" else None

    @cached_property
    def table_names(self):
        """Names of all tables in lower case."""
        return {root.get("displayName", "").casefold() for _, _, root in self.tables}

    @cached_property
    def external_books(self):
        """The elements that list the workbooks outside."""
        path = f"{main('externalReferences')}/{main('externalReference')}"
        return self.workbook.findall(path)

    def count_of_styles(self, name):
        """Return how many entries a list of the style sheet has."""
        found = None if self.styles is None else self.styles.find(main(name))
        return 0 if found is None else len(found)

    def _one(self, kind):
        parts = self.linked(self.workbook_part, kind)
        return self.trees[parts[0]] if parts else None


def _link(item, folder):
    kind, target = item.get("Type", "").rpartition("/")[2], item.get("Target", "")
    if item.get("TargetMode") == "External":
        return Link(kind, target, True)
    path = posixpath.normpath(posixpath.join("/", folder, target.partition("#")[0]))
    return Link(kind, path.lstrip("/"), False)
