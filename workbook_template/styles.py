"""Cell formats of the template."""

from types import MappingProxyType
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from estimator.inputs.dictionary import Field
from estimator.workbook.sheet import styles
from workbook_template.content import TEXT_KINDS

FONT = MappingProxyType({"font_name": "Arial", "font_size": 10})
INPUT_FONT, INPUT_FILL, REQUIRED_FILL = "#0000FF", "#FFFBE6", "#FFD48A"
DOUBT, DOUBT_FILL = "#7A4B00", "#FFE3A8"
HEADER_FILL, QUIET, LINE = (f"#{color}" for color in (styles.TEAL, styles.QUIET, styles.LINE))

NUMBER_FORMATS = {"date": "yyyy-mm-dd", "percent": "0.0%", "count": "0", "money": "#,##0.00##"}
CENTERED_KINDS = frozenset({"choice", "weekdays", "size", "ratio", "date"})

NAMED: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": 16, "font_color": HEADER_FILL},
    "section": {"bold": True, "font_size": 11, "font_color": HEADER_FILL, "bottom": 1},
    "note": {"italic": True, "font_color": QUIET, "font_size": 9, "valign": "vcenter"},
    "unit": {"italic": True, "font_color": QUIET, "font_size": 9, "align": "center"},
    "unit_beside": {
        "italic": True,
        "font_color": QUIET,
        "font_size": 9,
        "indent": 1,
        "valign": "vcenter",
    },
    "header": {
        "bold": True,
        "font_color": "#FFFFFF",
        "bg_color": HEADER_FILL,
        "border": 1,
        "border_color": LINE,
        "align": "center",
        "valign": "vcenter",
        "text_wrap": True,
    },
    "label": {"valign": "vcenter"},
    "strong": {"bold": True, "valign": "top"},
    "text": {"text_wrap": True, "valign": "top"},
    "number": {"align": "left", "valign": "top"},
    "link": {"font_color": HEADER_FILL, "underline": 1, "valign": "top"},
    "light": {
        "bold": True,
        "border": 1,
        "border_color": LINE,
        "align": "center",
        "valign": "vcenter",
    },
    "result": {"border": 1, "border_color": LINE, "valign": "top"},
    "required": {
        "bg_color": REQUIRED_FILL,
        "border": 1,
        "border_color": LINE,
        "valign": "top",
    },
    "good": {"font_color": f"#{styles.GOOD}", "bg_color": f"#{styles.GOOD_FILL}"},
    "doubtful": {"font_color": DOUBT, "bg_color": DOUBT_FILL},
    "bad": {"font_color": f"#{styles.BAD}", "bg_color": f"#{styles.BAD_FILL}"},
    "missing": {"bg_color": REQUIRED_FILL},
}


class Styles:
    """The formats of one workbook, each made once."""

    def __init__(self, workbook: Workbook) -> None:
        self._workbook = workbook
        self._made: dict[str, Format] = {}

    def named(self, name: str) -> Format:
        """Return a format of ``NAMED``."""
        return self._format(name, NAMED[name])

    def input(self, field: Field, *, wrap: bool = False) -> Format:
        """Return the format of an input cell: blue on pale yellow, number format by kind."""
        properties = {
            "font_color": INPUT_FONT,
            "bg_color": INPUT_FILL,
            "border": 1,
            "border_color": LINE,
            "valign": "vcenter",
            "num_format": "@" if field.kind in TEXT_KINDS else _number_format(field),
            "align": _alignment(field),
            "indent": int(_alignment(field) == "left"),
            "text_wrap": wrap and field.kind in ("text", "choices"),
        }
        return self._format(str(sorted(properties.items())), properties)

    def _format(self, key: str, properties: dict[str, Any]) -> Format:
        if key not in self._made:
            self._made[key] = self._workbook.add_format(properties)
        return self._made[key]


def _number_format(field: Field) -> str:
    return NUMBER_FORMATS.get(field.kind, "General")


def _alignment(field: Field) -> str:
    if field.kind in CENTERED_KINDS:
        return "center"
    return "left" if field.kind in TEXT_KINDS else "right"
