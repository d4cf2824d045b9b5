"""A workbook file: what it holds, and putting our result sheets into it.

Everything that is not ours is written back as the same compressed bytes. Our sheets are known
by a hidden name each, which follows them when they are renamed.
"""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property

from estimator import files
from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.workbook.package.drop import clear_sheets
from estimator.workbook.package.edit import (
    PackageEdit,
    RenderedSheet,
    add_sheet,
    calculate_on_load,
    render_sheet,
    style_sheet,
    write_sheet,
)
from estimator.workbook.package.fill_cells import Typed, fill_cells
from estimator.workbook.package.followers import Followers
from estimator.workbook.package.index import (
    SheetEntry,
    TableEntry,
    find_workbook,
    list_sheets,
    list_tables,
)
from estimator.workbook.package.names import global_names, name_sheet, set_local_names
from estimator.workbook.package.paper import on_paper
from estimator.workbook.package.parts import read_relationships, tag
from estimator.workbook.package.print_copy import show_only
from estimator.workbook.package.table_rows import TableRows, put_rows
from estimator.workbook.package.zip_file import ZipMembers, replace_members
from estimator.workbook.sheet.look import Paper
from estimator.workbook.sheet.names import MARKER_START, marker_name, not_ours_text, sheet_of
from estimator.workbook.sheet.spec import SheetSpec

__all__ = ["Package", "SheetEntry", "TableEntry"]

LONGEST_SHEET_NAME = 31
_SHEET_NAME = re.compile(r"(?!')[^\[\]:*?/\\\x00-\x1f]+(?<!')")


@dataclass(frozen=True)
class _Target:
    """Where a result sheet goes: over the sheet that is there, or at the end of the list."""

    wanted: str
    marker: str
    entry: SheetEntry | None
    index: int

    @property
    def name(self) -> str:
        return self.wanted if self.entry is None else self.entry.name

    @property
    def part(self) -> str | None:
        return None if self.entry is None else self.entry.part


class Package:
    """An .xlsx or .xlsm file. Made by ``Package.open``; never changed."""

    def __init__(self, members: ZipMembers) -> None:
        self._members = members
        self._workbook_part, self._workbook = find_workbook(members)
        self._sheets = tuple(list_sheets(members, self._workbook_part, self._workbook))

    @classmethod
    def open(cls, source: bytes | str) -> "Package":
        """Open the bytes of a workbook file, or the file at a path.

        Raises
        ------
        WorkbookError
            If it is not there, not a workbook, protected by a password, damaged, or of a form
            that this program does not know.
        """
        data = files.read_bytes(source) if isinstance(source, str) else source
        return cls(ZipMembers(data))

    def members(self) -> tuple[str, ...]:
        """Return the names of all members of the file, in their order."""
        return self._members.names()

    def part(self, name: str) -> bytes:
        """Return the content of a member."""
        return self._members.read(name)

    def with_part(self, name: str, content: bytes) -> bytes:
        """Return the file with other content in one of its parts."""
        return self.with_parts({name: content})

    def linked_part(self, kind: str) -> str | None:
        """Return the first part of a kind that the workbook points to, None if there is none."""
        links = read_relationships(self._members, self._workbook_part)
        found = (link.target for link in links if link.kind == kind)
        return next((part for part in found if self._members.actual_name(part)), None)

    def sheet_names(self) -> tuple[str, ...]:
        """Return the names of all sheets in their order, hidden ones too."""
        return tuple(entry.name for entry in self._sheets)

    def workbook_sheets(self) -> tuple[SheetEntry, ...]:
        """Return all sheets in their order."""
        return self._sheets

    def defined_names(self) -> dict[str, str]:
        """Return the meaning of each name that holds in the whole workbook, without ``=``."""
        return global_names(self._workbook)

    def tables(self) -> tuple[TableEntry, ...]:
        """Return the tables of all sheets."""
        return tuple(table for sheet in self._sheets for table in list_tables(self._members, sheet))

    @cached_property
    def dates_1904(self) -> bool:
        """Whether the workbook counts its dates from 1904."""
        settings = self._workbook.find(tag("workbookPr"))
        return settings is not None and settings.get("date1904") in ("1", "true")

    def result_sheet_name(self, key: str) -> str:
        """Return the name that a result sheet has in this workbook.

        Parameters
        ----------
        key : str
            Our own name of the sheet, such as ``Joints``.

        Returns
        -------
        str
            What the user has renamed it to, or else the key.
        """
        entry = self._marked.get(marker_name(key).casefold())
        return key if entry is None else entry.name

    def has_result_sheet(self, key: str) -> bool:
        """Return whether the workbook has a result sheet of ours, whatever it is called now."""
        return marker_name(key).casefold() in self._marked

    def put_sheets(self, specs: Iterable[SheetSpec], names: Sequence[str] = ()) -> bytes:
        """Return the file with these result sheets in place of their earlier versions.

        Sheets that are new come after the last one, in the order given. All other members of
        the file keep their place and their compressed bytes, but for the few that list sheets,
        names, styles and the order of calculation, and for the saved values of formulas that
        depend on these sheets.

        Parameters
        ----------
        specs : sequence of SheetSpec
            Result sheets under the names that ``result_sheet_name`` gives.

        Raises
        ------
        WorkbookError
            If a sheet of the user is in the way, or the file cannot be edited safely.
        ValueError
            If a sheet cannot be stored: see ``sheet_xml.render``.
        """
        self._refuse_signed()
        if not names:
            specs = tuple(specs)
            names = tuple(spec.name for spec in specs)
        targets = self._targets(names)
        edit = PackageEdit(self._members, self._workbook_part)
        old = [target.entry for target in targets if target.entry is not None]
        clear_sheets(
            edit,
            {entry.part: entry.name for entry in old},
            {str(entry.sheet_id) for entry in old},
        )
        followers = Followers(
            self._members, self._workbook, self._sheets, [target.name for target in targets]
        )
        made = self._render(edit, specs, targets, followers)
        for target in targets:
            entry = target.entry
            part = add_sheet(edit, target.name) if entry is None else entry.part
            rendered = made.pop(target.wanted)
            write_sheet(edit, part, rendered)
            name_sheet(edit, target.name, target.index, target.marker, rendered.spec)
        followers.write(edit)
        calculate_on_load(edit)
        return edit.finish()

    def with_only(self, shown: Collection[str]) -> bytes:
        """Return a copy in which all sheets but these are hidden, so that a program prints these.

        Raises
        ------
        WorkbookError
            If none of them is there.
        """
        names = self.sheet_names()
        if not set(names) & set(shown):
            raise WorkbookError(f"The workbook has no sheet {' or '.join(shown)}")
        edit = PackageEdit(self._members, self._workbook_part)
        show_only(edit, names, shown)
        return edit.finish()

    def parts_on_paper(
        self, sheets: Collection[str], paper: Paper, written: Collection[str]
    ) -> Mapping[str, bytes]:
        """Return the parts that print on the other one of our two papers, with this one.

        They are of the sheets named and of all sheets of ours but those that were just written.
        """
        done = {name.casefold() for name in written}
        kept = {entry.name.casefold() for entry in self._marked.values()} - done
        wanted = kept | {name.casefold() for name in sheets}
        parts = (entry.part for entry in self._sheets if entry.name.casefold() in wanted)
        pairs = ((part, self.part(part)) for part in parts)
        made = ((part, before, on_paper(before, paper)) for part, before in pairs)
        return {part: after for part, before, after in made if after != before}

    def with_parts(self, parts: Mapping[str, bytes]) -> bytes:
        """Return the file with other content in some of its parts."""
        named = {self._members.actual_name(name) or name: one for name, one in parts.items()}
        return replace_members(self._members, named, frozenset())

    def put_table_rows(self, asked: TableRows) -> bytes:
        """Return the file with rows in one of the user's tables; see ``table_rows``.

        Formulas that look at its sheet lose their saved values, so that none shows an old one.

        Raises
        ------
        WorkbookError
            If there is no such table, or the file cannot be edited safely.
        InputError
            With every cell that is in the way.
        """
        self._refuse_signed()
        found = [
            table for table in self.tables() if table.name.casefold() == asked.table.casefold()
        ]
        if not found:
            raise WorkbookError(f"The workbook has no table {asked.table}")
        sheet = next(entry for entry in self._sheets if entry.name == found[0].sheet)
        edit = PackageEdit(self._members, self._workbook_part)
        put_rows(edit, sheet, asked, dates_1904=self.dates_1904)
        Followers(self._members, self._workbook, self._sheets, [sheet.name]).write(edit)
        calculate_on_load(edit)
        return edit.finish()

    def add_sheets(self, specs: Sequence[SheetSpec]) -> bytes:
        """Return the file with sheets that the user fills in, after the last one.

        They are the user's from then on: nothing here replaces them again. All else stays as
        ``put_sheets`` says.

        Raises
        ------
        WorkbookError
            If a sheet, table or name of theirs is there already, or the file is signed.
        ValueError
            If a sheet cannot be stored: see ``sheet_xml.render``.
        """
        self._refuse_signed()
        self._refuse_there(specs)
        edit = PackageEdit(self._members, self._workbook_part)
        styles = style_sheet(edit).ids()
        number = 1 + max((table.number for table in self.tables()), default=0)
        for index, spec in enumerate(specs, len(self._sheets)):
            part = add_sheet(edit, spec.name)
            rendered = render_sheet(
                edit, None, spec, styles, dates_1904=self.dates_1904, first_table=number
            )
            write_sheet(edit, part, rendered)
            set_local_names(edit, spec.name, index, spec)
            number += len(spec.tables)
        calculate_on_load(edit)
        return edit.finish()

    def fill_cells(self, values: Mapping[str, Mapping[str, Typed]]) -> bytes:
        """Return the file with values typed into cells, by sheet and address.

        Formulas that look at these sheets lose their saved values, so that none shows an old one.

        Raises
        ------
        WorkbookError
            If there is no such sheet, a cell holds a formula, or the file is signed.
        """
        self._refuse_signed()
        edit = PackageEdit(self._members, self._workbook_part)
        parts = {entry.name.casefold(): entry.part for entry in self._sheets}
        for sheet, cells in values.items():
            part = parts.get(sheet.casefold())
            if part is None:
                raise WorkbookError(f"The workbook has no sheet {sheet}")
            fill_cells(edit.tree(part), cells, dates_1904=self.dates_1904)
        Followers(self._members, self._workbook, self._sheets, list(values)).write(edit)
        calculate_on_load(edit)
        return edit.finish()

    def _refuse_there(self, specs: Sequence[SheetSpec]) -> None:
        """Refuse sheets and tables whose names the workbook has already."""
        sheets = {name.casefold() for name in self.sheet_names()}
        named = {table.name.casefold() for table in self.tables()}
        named |= {name.casefold() for name in self.defined_names()}
        there = [f"sheet {spec.name}" for spec in specs if spec.name.casefold() in sheets]
        tables = [table.name for spec in specs for table in spec.tables]
        there += [f"table {name}" for name in tables if name.casefold() in named]
        if there:
            raise WorkbookError(
                f"The workbook already has: {', '.join(there)}. Rename or delete it and run again"
            )

    def _render(
        self,
        edit: PackageEdit,
        specs: Iterable[SheetSpec],
        targets: Sequence[_Target],
        followers: Followers,
    ) -> dict[str, RenderedSheet]:
        """Return the sheets as they are stored; one description is held at a time."""
        styles = style_sheet(edit).ids()
        by_name = {target.wanted: target for target in targets}
        made: dict[str, RenderedSheet] = {}
        for spec in specs:
            target = by_name[spec.name]
            made[spec.name] = render_sheet(
                edit, target.part, spec, styles, dates_1904=self.dates_1904
            )
            followers.take(spec, target.name, dates_1904=self.dates_1904)
            del spec
        return made

    @cached_property
    def _marked(self) -> dict[str, SheetEntry]:
        """Our sheets by the hidden names that mark them, in lower case."""
        by_name = {entry.name.casefold(): entry for entry in self._sheets}
        marked: dict[str, SheetEntry] = {}
        for name, reference in self.defined_names().items():
            entry = by_name.get((sheet_of(reference) or "").casefold())
            if name.casefold().startswith(MARKER_START) and entry is not None:
                marked.setdefault(name.casefold(), entry)
        return marked

    def _targets(self, names: Sequence[str]) -> tuple[_Target, ...]:
        self._refuse_others(names)
        targets: list[_Target] = []
        count = len(self._sheets)
        for name in names:
            marker = self._marker_for(name)
            entry = self._marked.get(marker.casefold())
            if entry is not None and entry.kind != "worksheet":
                raise WorkbookError(
                    f"Sheet {entry.name!r} is not a worksheet. Delete it and run again"
                )
            index = count if entry is None else self._sheets.index(entry)
            count += entry is None
            target = _Target(name, marker, entry, index)
            _check_name(target, targets)
            targets.append(target)
        return tuple(targets)

    def _marker_for(self, name: str) -> str:
        for marker, entry in self._marked.items():
            if entry.name.casefold() == name.casefold():
                return marker
        return marker_name(name)

    def _refuse_others(self, names: Sequence[str]) -> None:
        ours = {entry.name.casefold() for entry in self._marked.values()}
        others = {name.casefold() for name in self.sheet_names()} - ours
        in_the_way = [name for name in names if name.casefold() in others]
        if in_the_way:
            raise WorkbookError(not_ours_text(in_the_way))

    def _refuse_signed(self) -> None:
        if any(name.casefold().startswith("_xmlsignatures/") for name in self.members()):
            raise WorkbookError(
                "The file is digitally signed, and a change would break the signature. Save it "
                "unsigned and run again"
            )


def _check_name(target: _Target, others: Sequence[_Target]) -> None:
    name = target.name
    if len(name) > LONGEST_SHEET_NAME or not _SHEET_NAME.fullmatch(name):
        raise ValueError(
            f"{name!r} is not a valid sheet name. Use 1 to {LONGEST_SHEET_NAME} characters, none "
            "of []:*?/\\"
        )
    if name.casefold() in {other.name.casefold() for other in others}:
        raise ValueError(f"Two result sheets are named {name!r}. Rename one")
