"""Sheets of named cells, Job and Rates: label, value, unit, note and basis in groups of rows."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import ceil
from types import MappingProxyType

from xlsxwriter import Workbook

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field, InputTable, fields
from estimator.workbook.read.ages import OLDER
from estimator.workbook.read.outside import fields_held
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import EDGE, INDENT, RESERVE, fills
from estimator.workbook.sheet.source import RawCell
from estimator.workbook.sheet.text_width import lines_of
from workbook_template import rules
from workbook_template.content import Value, own_rows
from workbook_template.group_line import NAMES, changed_now, changed_text, rest_now, rest_text
from workbook_template.page import GAP_POINTS, InputSheet, set_page, shown_unit, write_value
from workbook_template.styles import Styles

HEADS = ("Item", "Value", "Unit", "What it does", "Basis")
LABEL, VALUE, UNIT, NOTE, BASIS = range(len(HEADS))
WIDTHS: Mapping[str, Sequence[float]] = MappingProxyType(
    {"job": (28.8, 25.7, 6.4, 27.6, 24.0), "rates": (22.6, 15.0, 11.4, 39.5, 24.0)}
)
"""In letters; the basis stands beside the printed page."""
LONGEST_LIST: Mapping[str, int] = MappingProxyType({"job": 40, "rates": 70})
"""Letters of the names of changed inputs that two lines of a group hold."""
SIDES: Mapping[str, str] = MappingProxyType({"job": "after", "rates": "before"})
"""Whether most values stand after the left edge of their column, as texts, or before the right."""
HEAD_ROW, HEAD_GAP, LINE_POINTS = 3, 9.0, 22.5
"""The row of the headers, the points that part the first fields from others, those of a line."""
OPENED = "On screen, the + at the left of a group opens it; its line names what is changed in it."
FEET: Mapping[str, str] = MappingProxyType(
    {"job": f"{OPENED} Wages are on Crew, prices on Rates", "rates": OPENED.removesuffix(".")}
)
"""What stands below the groups."""
NO_OPTIONS: Mapping[str, object] = MappingProxyType({})


class NamedSheet:
    """Writes one sheet of named cells from top to bottom.

    A group with a heading is an outline group of rows under a line that names what is changed in
    it. An empty row ends each: without it LibreOffice closes the wrong group.
    """

    def __init__(
        self, workbook: Workbook, sheet: InputSheet, styles: Styles, system: UnitSystem
    ) -> None:
        self.workbook, self.sheet, self.styles, self.system = workbook, sheet, styles, system
        self.row = HEAD_ROW
        self.heights: dict[int, float] = {}
        """Points of the rows that are in sight, below the header."""
        self.groups: list[int] = []
        """Rows with which groups begin."""
        self.grouped: list[tuple[int, Value]] = []
        """Rows of the inputs in groups, with their defaults."""
        self.changed = 0
        """How many of them differ from their defaults."""
        self.widths: Sequence[float] = ()
        self.side = ""
        self.longest = 0
        """Letters of the names of changed inputs that the line of a group holds."""

    def write(
        self,
        table: InputTable,
        values: Mapping[str, Value],
        defaults: Mapping[str, Value],
        currency: str,
        bases: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        """Write the title and every group with its fields, and define the names.

        ``defaults`` are what a new workbook holds; ``bases`` are those of the company's own
        figures, in the place of the defaults'.
        """
        groups = _groups(table.table)
        self.widths, self.longest = WIDTHS[table.table], LONGEST_LIST[table.table]
        self.side = SIDES[table.table]
        self._head(table)
        for group, members in groups:
            if heading := group["heading"]:
                self._line(heading, members, values, defaults, closed=_is_closed(group))
            else:
                self._filled(members, values)
            options = {"level": 1, "hidden": _is_closed(group)} if heading else {}
            for field in members:
                basis = bases.get(field.key, field.basis)
                self._field(field, values[field.key], currency, basis, options)
            self.row += 1
            self._set_row(GAP_POINTS if heading else HEAD_GAP)
        self._rest("fields" if len(self.groups) == len(groups) else "more")
        self.row += 1
        self._set_row(look.ROW)
        self.sheet.write_string(self.row, LABEL, FEET[table.table], self.styles.named("note"))
        self._finish()

    def _head(self, table: InputTable) -> None:
        self.sheet.write_string(0, LABEL, table.title, self.styles.named("title"))
        self.sheet.set_row(0, look.TITLE_ROW)
        self.sheet.set_row(1, look.SUBTITLE_ROW)
        self.sheet.write_string(1, LABEL, table.note, self.styles.named("job"))
        for column in range(LABEL + 1, BASIS):
            self.sheet.write_blank(1, column, None, self.styles.named("job"))
        self.sheet.set_row(2, HEAD_GAP)
        styles = {VALUE: f"header_{self.side}", UNIT: "header_after"}
        for column, (head, width) in enumerate(zip(HEADS, self.widths, strict=True)):
            style = styles.get(column, "header")
            self.sheet.write_string(HEAD_ROW, column, head, self.styles.named(style))
            self.sheet.set_column(column, column, width)

    def _filled(self, members: Sequence[Field], values: Mapping[str, Value]) -> None:
        """Say at the right of the title how much of the first group is filled in."""
        first, last = HEAD_ROW + 2, HEAD_ROW + 1 + len(members)
        cells = f"B{first}:B{last}"
        said = f" of {len(members)} filled"
        now = f"{sum(values[field.key] is not None for field in members)}{said}"
        text = f'=COUNTA({cells})&"{said}"'
        self.sheet.write_formula(0, NOTE, text, self.styles.named("title_right"), now)

    def _rest(self, what: str) -> None:
        """Say at its second line how many inputs the groups hold, and how many are changed."""
        groups = len(self.groups)
        now = rest_now(len(self.grouped), groups, what, self.changed)
        text = rest_text(self.grouped, groups, what)
        self.sheet.write_formula(1, NOTE, text, self.styles.named("job_right"), now)

    def _line(
        self,
        heading: str,
        members: Sequence[Field],
        values: Mapping[str, Value],
        defaults: Mapping[str, Value],
        *,
        closed: bool,
    ) -> None:
        """Write the line of a group: what it holds, and by a formula what is changed in it."""
        self.row += 1
        row = self.row
        self.groups.append(row)
        self._set_row(LINE_POINTS, {"collapsed": closed})
        self.sheet.write_string(row, LABEL, heading, self.styles.named("group"))
        held = fields_held(len(members))
        self.sheet.write_string(row, VALUE, held, self.styles.named(f"group_{self.side}"))
        self.sheet.write_blank(row, UNIT, None, self.styles.named("group"))
        cells = [(row + 2 + number, defaults[field.key]) for number, field in enumerate(members)]
        self.grouped += cells
        changed = [f.header for f in members if values[f.key] != defaults[f.key]]
        self.changed += len(changed)
        now = changed_now(changed, self.longest)
        style = self.styles.named("group_wrap")
        self.sheet.write_formula(row, NOTE, changed_text(cells, self.longest), style, now)
        strong = {"type": "text", "criteria": "containing", "value": NAMES.strip()}
        strong["format"] = self.styles.named("strong_ink")
        self.sheet.conditional_format(row, NOTE, row, NOTE, strong)

    def _field(
        self, field: Field, value: Value, currency: str, basis: str, options: Mapping[str, object]
    ) -> None:
        self.row += 1
        unit = shown_unit(field, self.system, currency)
        label = "label_in" if options else "label"
        self.sheet.write_string(self.row, LABEL, field.header, self.styles.named(label))
        look_of = self.styles.input(field, wrap=True, mixed=True)
        write_value(self.sheet, self.row, VALUE, value, look_of)
        snug = fills(field.note, look.pixels_of(self.widths[NOTE]), look.SMALL)
        texts = (
            (value, VALUE, look.TEXT, INDENT),
            ("" if snug else field.note, NOTE, look.SMALL, 0.0),
            (basis, BASIS, look.SMALL, 0.0),
        )
        height = max(self._height(*text) for text in texts)
        self.sheet.set_growing_row(self.row, height, options)
        self._note_height(height, options)
        write_value(self.sheet, self.row, UNIT, unit, self.styles.named("unit_beside"))
        note = "note_snug" if snug else "note_wrap"
        self.sheet.write_string(self.row, NOTE, field.note, self.styles.named(note))
        old = "doubtful" if OLDER in basis else "note_wrap"
        self.sheet.write_string(self.row, BASIS, basis, self.styles.named(old))
        self._rules(field)

    def _height(self, value: Value, column: int, size: float, indent: float) -> float:
        """Return the height of a row in which a value wraps in its column."""
        room = (look.pixels_of(self.widths[column]) - EDGE - indent) / RESERVE
        lines = lines_of(str(value or ""), room, size)
        points = lines * look.LINE * size / look.TEXT + look.LINES_MARGIN
        return max(look.ROW, ceil(points / look.HEIGHT_STEP) * look.HEIGHT_STEP)

    def _set_row(self, points: float, options: Mapping[str, object] = NO_OPTIONS) -> None:
        self.sheet.set_row(self.row, points, None, dict(options))
        self._note_height(points, options)

    def _note_height(self, points: float, options: Mapping[str, object]) -> None:
        self.heights[self.row] = 0.0 if options.get("hidden") else points

    def _page_starts(self) -> Sequence[int]:
        """Return the rows of the groups with which a page begins: each page holds what it can.

        No group is parted that need not. The title and the header stand on each page.
        """
        page = min(look.page_height(paper, across=False) for paper in look.PAPER_CODES)
        page -= look.TITLE_ROW + look.SUBTITLE_ROW + HEAD_GAP + look.ROW
        ends = [*self.groups[1:], self.row]
        used = sum(self.heights[row] for row in range(HEAD_ROW + 1, self.groups[0]))
        starts = []
        for start, end in zip(self.groups, ends, strict=True):
            group = sum(self.heights[row] for row in range(start, end))
            if used and used + group > page:
                starts.append(start)
                used = 0.0
            used += group
        return starts

    def _rules(self, field: Field) -> None:
        where = RawCell(self.sheet.get_name(), self.row + 1, VALUE + 1).reference
        self.workbook.define_name(field.cell_name, f"={where}")
        cell = where.rpartition("!")[2]
        options = rules.validation(field, self.system, cell)
        prompted = rules.with_prompt(options, field, self.system)
        self.sheet.data_validation(self.row, VALUE, self.row, VALUE, prompted)
        if large := rules.large_and_whole(field, self.system, cell):
            rule = {**large, "format": self.styles.named("thousands_mixed")}
            self.sheet.conditional_format(self.row, VALUE, self.row, VALUE, rule)
        if field.required:
            missing = {"type": "formula", "criteria": f"=LEN({cell})=0"}
            missing["format"] = self.styles.named("missing")
            self.sheet.conditional_format(self.row, VALUE, self.row, VALUE, missing)

    def _finish(self) -> None:
        ignored = f"B{HEAD_ROW + 2}:B{self.row + 1}"
        self.sheet.ignore_errors({"number_stored_as_text": ignored})
        self.sheet.outline_settings(True, False, True, False)
        self.sheet.freeze_panes(HEAD_ROW + 1, 1)
        set_page(self.sheet, self.system, across=False)
        if starts := self._page_starts():
            self.sheet.set_h_pagebreaks(starts)
            self.sheet.repeat_rows(0, HEAD_ROW)
        self.sheet.print_area(0, LABEL, self.row, NOTE)


def _groups(table: str) -> list[tuple[Mapping[str, str], Sequence[Field]]]:
    """Return the groups of a table with their fields, in order."""
    every = fields(table)
    keys = [field.key for field in every]
    rows = [row for row in own_rows("groups.csv") if row["table"] == table]
    rows.sort(key=lambda row: keys.index(row["first_key"]))
    starts = [*(keys.index(row["first_key"]) for row in rows), len(every)]
    parts = (every[start:end] for start, end in pairwise(starts))
    return list(zip(rows, parts, strict=True))


def _is_closed(group: Mapping[str, str]) -> bool:
    return group["closed"] == "yes"
