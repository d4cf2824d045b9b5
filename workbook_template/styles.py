"""Cell formats of the template."""

from types import MappingProxyType
from typing import Any, Literal

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from estimator.display import UnitSystem
from estimator.inputs.dictionary import Field
from estimator.workbook.sheet import look
from workbook_template.content import TEXT_KINDS

Side = Literal["left", "center", "right"]

FONT = MappingProxyType({"font_name": look.FONT, "font_size": 10})
"""The normal font: the figures of its size measure the columns. Each cell has its own size."""
INK, OCHRE, MUTED, HAIR = (f"#{c}" for c in (look.INK, look.OCHRE, look.MUTED, look.HAIR))
WARNING = f"#{look.WARNING}"
INPUT_FILL = f"#{look.INPUT}"
MEDIUM, THIN = 2, 1

NUMBER_FORMATS = {"percent": "0.0%", "count": "0", "money": "#,##0.00##"}
CENTERED_KINDS = frozenset({"date"})
KINDS_OF_BOTH = frozenset({"any", "segments", "ratio"})
"""Kinds of which a cell holds a number or a text, on the right."""

THOUSANDS = f"{look.AXIS}{look.CLEAR}"
"""How a cell off its frame shows a whole number with its thousands marked."""

BASE = {"font_size": look.TEXT, "valign": "vcenter"}
SMALL = {"font_color": MUTED, "font_size": look.SMALL}
FRAME = {"border": THIN, "border_color": MUTED}
HEADER = {
    "bold": True,
    "font_color": INK,
    "bottom": MEDIUM,
    "bottom_color": INK,
    "align": "left",
    "valign": "bottom",
    "text_wrap": True,
}
BAR = {"bg_color": f"#{look.TINT}", "top": THIN, "top_color": HAIR}
LINE = {"bottom": THIN, "bottom_color": HAIR}
FIRST = {**LINE, "top": THIN, "top_color": INK}
MISSING = {"bg_color": OCHRE, "border": THIN, "border_color": OCHRE}
"""A required cell that is still blank: in gray it is half dark, other cells to type in are not."""
LINK = {"font_color": INK, "underline": 1}

NAMED: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": look.TITLE, "font_color": INK},
    "title_right": {
        "bold": True, "font_size": look.SECTION, "font_color": INK, "align": "right"
    },
    "job": {"bottom": MEDIUM, "bottom_color": INK},
    "job_right": {"bottom": MEDIUM, "bottom_color": INK, "align": "right"},
    "section": {"bold": True, "font_size": look.SECTION, "font_color": INK},
    "note": SMALL,
    "note_wrap": {**SMALL, "text_wrap": True},
    "note_over": {**SMALL, "bottom": MEDIUM, "bottom_color": INK},
    "unit_left": {**SMALL, "align": "left", "valign": "bottom", "indent": 1},
    "unit_right": {**SMALL, "align": "right", "valign": "bottom"},
    "unit_center": {**SMALL, "align": "center", "valign": "bottom"},
    "unit_beside": {**SMALL, "indent": 1},
    "note_snug": {**SMALL, "shrink": True},
    "header": HEADER,
    "header_after": {**HEADER, "indent": 1},
    "header_before": {**HEADER, "align": "right", "indent": 1},
    "header_right": {**HEADER, "align": "right"},
    "over_left": {**HEADER, "indent": 1},
    "over_right": {**HEADER, "align": "right"},
    "over_center": {**HEADER, "align": "center"},
    "group": {**BAR, "bold": True, "font_color": INK},
    "group_after": {**BAR, "indent": 1, "align": "left"},
    "group_before": {**BAR, "indent": 1, "align": "right"},
    "group_wrap": {**BAR, **SMALL, "align": "left", "text_wrap": True},
    "strong_ink": {"bold": True, "font_color": INK},
    "label": {},
    "label_in": {"indent": 1},
    "strong": {"bold": True},
    "text": {"text_wrap": True},
    "number": {"align": "left"},
    "link": LINK,
    "light": {"bold": True, **FRAME, "align": "center"},
    "text_line": LINE,
    "strong_line": {**LINE, "bold": True, "align": "left", "num_format": look.AXIS},
    "link_line": {**LINK, **LINE},
    "text_first": FIRST,
    "strong_first": {**FIRST, "bold": True},
    "link_first": {**LINK, **FIRST},
    "pages_first": {**FIRST, "align": "right", "num_format": "0;;"},
    "pages_line": {**LINE, "align": "right", "num_format": "0;;"},
    "input_sample": {"bg_color": INPUT_FILL, **FRAME, "align": "right", "indent": 1},
    "result": {**LINE, "align": "right"},
    "good": {"bold": True, "font_color": INK, "bg_color": f"#{look.TINT}"},
    "doubtful": {"bold": True, "font_color": WARNING, "text_wrap": True},
    "bad": {"bold": True, "font_color": WARNING, "bg_color": f"#{look.OCHRE_TINT}"},
    "doubted": {"bg_color": f"#{look.OCHRE_TINT}", "border": THIN, "border_color": OCHRE},
    "missing": MISSING,
    "typed_frame": {"bg_color": INPUT_FILL, **FRAME},
    "thousands": {"num_format": THOUSANDS},
    "thousands_mixed": {"num_format": look.AXIS},
    "missing_sample": {**MISSING, "bold": True, "align": "center"},
}  # fmt: skip


class Styles:
    """The formats of one workbook, each made once."""

    def __init__(self, workbook: Workbook, system: UnitSystem) -> None:
        self._workbook, self._system = workbook, system
        self._made: dict[str, Format] = {}

    def named(self, name: str) -> Format:
        """Return a format of ``NAMED``."""
        return self._format(name, NAMED[name])

    def input(
        self, field: Field, *, wrap: bool = False, mixed: bool = False, bare: bool = False
    ) -> Format:
        """Return the format of an input cell: yellow and framed, number format by kind.

        Text stands off the frame, and so off a number before it. A number is kept off it by its
        format: LibreOffice insets only the first number of a row. A ``mixed`` column holds inputs
        of every kind: all but numbers stand on the left, numbers off the frame. Fill and frame of
        a ``bare`` cell are drawn by a rule.
        """
        side = side_of(field)
        if mixed and (side == "center" or field.kind == "ratio"):
            side = "left"
        clear = look.CLEAR if side == "right" and not mixed else ""
        shown = "@" if field.kind in TEXT_KINDS else _beside_frame(field, clear)
        if field.kind == "date":
            shown = date_format(self._system)
        properties = {
            **({} if bare else NAMED["typed_frame"]),
            "num_format": shown,
            "align": side,
            "indent": int(side == "left" or (mixed and side == "right")),
            "text_wrap": wrap and field.kind in ("text", "choices", "segments"),
        }
        return self._format(str(sorted(properties.items())), properties)

    def _format(self, key: str, properties: dict[str, Any]) -> Format:
        if key not in self._made:
            self._made[key] = self._workbook.add_format({**BASE, **properties})
        return self._made[key]


def _beside_frame(field: Field, clear: str) -> str:
    """Return how a cell shows its number, and its text where it may hold either."""
    shown = number_format(field) + clear
    return f"{shown};-{shown};{shown};@{clear}" if field.kind in KINDS_OF_BOTH else shown


def number_format(field: Field) -> str:
    """Return how a cell of a field shows its number."""
    return NUMBER_FORMATS.get(field.kind, "General")


def date_format(system: UnitSystem) -> str:
    """Return how a cell shows a date: its month in letters, in the order of the units' country.

    >>> date_format("US"), date_format("SI")
    ('mmm d, yyyy', 'd mmm yyyy')
    """
    return look.US_DATES[look.DATE_SHORT] if system == "US" else look.DATE_SHORT


def side_of(field: Field) -> Side:
    """Return the side on which a field's cells, its header and its unit stand."""
    if field.kind in CENTERED_KINDS:
        return "center"
    return "left" if field.kind in TEXT_KINDS else "right"
