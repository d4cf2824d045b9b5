"""The looks of result cells, by key: one table for every renderer."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

Side = Literal["hair", "thin", "double"]
Border = Literal["", "box", "row", "top", "bottom", "total"]

TEAL, WHITE, QUIET, LINE, PALE = "1F5C66", "FFFFFF", "6B6B6B", "C9C9C9", "E4EEF0"
GOOD, GOOD_FILL = "0B5D1E", "C9EFD0"
BAD, BAD_FILL = "8C0B12", "FFC9CC"
CRITICAL = "B4530A"

BORDERS: Mapping[Border, Mapping[str, tuple[Side, str]]] = MappingProxyType(
    {
        "": {},
        "box": {side: ("thin", LINE) for side in ("left", "right", "top", "bottom")},
        "row": {"bottom": ("hair", LINE)},
        "top": {"top": ("thin", TEAL)},
        "bottom": {"bottom": ("thin", TEAL)},
        "total": {"top": ("thin", TEAL), "bottom": ("double", TEAL)},
    }
)
"""Lines of each kind of border: side, line style and color."""


@dataclass(frozen=True)
class StyleDef:
    """How a cell looks. Colors are six hexadecimal digits; None takes the workbook's own.

    ``font_size`` is in points; None is the size of the workbook's normal font.
    """

    number_format: str = "General"
    bold: bool = False
    italic: bool = False
    underline: bool = False
    font_color: str | None = None
    font_size: float | None = None
    fill: str | None = None
    align: Literal["", "left", "center", "right"] = ""
    vertical: Literal["top", "center", "bottom"] = "top"
    wrap: bool = False
    border: Border = ""
    indent: int = 0


@dataclass(frozen=True)
class StyleIds:
    """Where the styles stand in one workbook, by key.

    ``cells`` are indices of cell formats, ``quoted`` the same for text that begins like a
    formula, and ``rules`` indices of differential formats for conditional looks.
    """

    cells: Mapping[str, int]
    quoted: Mapping[str, int]
    rules: Mapping[str, int]


_BODY = StyleDef(border="row")
_TEXT = replace(_BODY, align="left", indent=1)
_TOTAL = StyleDef(bold=True, border="top")
_GRAND = StyleDef(bold=True, font_size=13, border="total", vertical="center")
_KEY = StyleDef(bold=True)
_HEADER = StyleDef(
    bold=True,
    font_color=WHITE,
    fill=TEAL,
    align="center",
    vertical="center",
    wrap=True,
    border="box",
)
_NOTE = StyleDef(italic=True, font_color=QUIET)
_LEGEND = StyleDef(font_size=9, align="center", vertical="center")
_PRICE = StyleDef(
    bold=True, font_size=18, font_color=TEAL, fill=PALE, align="right", vertical="center"
)
_DATE = "ddd d mmm yyyy"
_INT, _NUM1, _NUM2, _NUM3 = "#,##0", "#,##0.0", "#,##0.00", "#,##0.000"

_SITE = StyleDef(border="box", vertical="center")
_SITE_FILLS: Mapping[str, str | None] = {"typed": "FFF5D1", "filled": None, "worked": "EEF0F1"}
_SITE_FORMATS: Mapping[str, StyleDef] = {
    "text": replace(_SITE, align="left"),
    "number": replace(_SITE, align="right"),
    "num0": replace(_SITE, align="right", number_format="#,##0"),
    "date": replace(_SITE, align="right", number_format="yyyy-mm-dd"),
    "clock": replace(_SITE, align="right", number_format="h:mm:ss"),
    "duration": replace(_SITE, align="right", number_format="[m]:ss"),
}
_SITE_STYLES = {
    f"{role}_{kind}": replace(look, fill=fill)
    for role, fill in _SITE_FILLS.items()
    for kind, look in _SITE_FORMATS.items()
}
"""Cells of the site records: typed in on site, filled in by the command, or worked out."""

STYLES: Mapping[str, StyleDef] = MappingProxyType(
    {
        **_SITE_STYLES,
        "title": StyleDef(bold=True, font_size=16, font_color=TEAL, vertical="center"),
        "subtitle": _NOTE,
        "section": StyleDef(bold=True, font_size=12, font_color=TEAL, border="bottom"),
        "group": StyleDef(bold=True, font_color=TEAL, fill=PALE),
        "header": _HEADER,
        "unit": replace(_NOTE, align="center", border="bottom"),
        "note": replace(_NOTE, align="left", indent=1, wrap=True),
        "text": _TEXT,
        "link": replace(_TEXT, font_color=TEAL, underline=True),
        "text_wrap": replace(_TEXT, wrap=True),
        "center": replace(_BODY, align="center"),
        "int": replace(_BODY, number_format=_INT),
        "int_bold": replace(_BODY, number_format=_INT, bold=True),
        "num1": replace(_BODY, number_format=_NUM1),
        "num2": replace(_BODY, number_format=_NUM2),
        "num3": replace(_BODY, number_format=_NUM3),
        "figure": replace(_BODY, align="right"),
        "rate": replace(_BODY, number_format="#,##0.00??"),
        "money": replace(_BODY, number_format=_NUM2),
        "money0": replace(_BODY, number_format=_INT),
        "pct": replace(_BODY, number_format="0.0%"),
        "pct2": replace(_BODY, number_format="0.00%"),
        "date": replace(_BODY, number_format=_DATE, align="center"),
        "total_text": replace(_TOTAL, align="left", indent=1),
        "total_int": replace(_TOTAL, number_format=_INT),
        "total_num1": replace(_TOTAL, number_format=_NUM1),
        "total_num2": replace(_TOTAL, number_format=_NUM2),
        "total_money": replace(_TOTAL, number_format=_NUM2),
        "grand_total_text": replace(_GRAND, align="left", indent=1),
        "grand_total": replace(_GRAND, number_format=_NUM2),
        "plain": StyleDef(),
        "plain_wrap": StyleDef(wrap=True),
        "plain_right": StyleDef(align="right"),
        "label": StyleDef(font_color=QUIET),
        "label_low": StyleDef(font_color=QUIET, vertical="bottom"),
        "sign": StyleDef(border="bottom"),
        "title_right": StyleDef(
            bold=True, font_size=16, font_color=TEAL, align="right", vertical="center"
        ),
        "price_text": StyleDef(
            bold=True, font_size=13, font_color=TEAL, fill=PALE, vertical="center", indent=1
        ),
        "price": replace(_PRICE, number_format=_NUM2),
        "price_dollars": replace(_PRICE, number_format='"$"#,##0.00'),
        "price_words": StyleDef(fill=PALE, indent=1, border="bottom", wrap=True),
        "add_deduct": replace(
            _BODY, align="right", number_format='#,##0.00" add";#,##0.00" deduct";"no change"'
        ),
        "client_date_us": StyleDef(align="right", number_format="mmm d, yyyy"),
        "client_date_si": StyleDef(align="right", number_format="d mmm yyyy"),
        "key": _KEY,
        "key_right": replace(_KEY, align="right"),
        "key_int": replace(_KEY, number_format=_INT, align="center"),
        "key_num2": replace(_KEY, number_format=_NUM2, align="center"),
        "key_center": replace(_KEY, align="center"),
        "key_date": replace(_KEY, number_format=_DATE, align="center"),
        "warn": StyleDef(bold=True, font_color=BAD, fill=BAD_FILL),
        "warn_text": replace(_TEXT, font_color=BAD, wrap=True),
        "ok": StyleDef(bold=True, font_color=GOOD, fill=GOOD_FILL),
        "answer": StyleDef(fill="FFF5D1", border="box"),
        "bar": StyleDef(fill="8FBAC1"),
        "repeated": StyleDef(font_color="9A9A9A"),
        "date_short": replace(_BODY, number_format="d mmm yyyy", align="center"),
        "key_date_short": replace(_KEY, number_format="d mmm yyyy", align="center"),
        "gantt_head": replace(_HEADER, font_size=8, wrap=False, number_format="d"),
        "gantt_month": replace(_HEADER, font_size=8, wrap=False, number_format="mmm"),
        "gantt_kind": StyleDef(font_size=8, font_color=QUIET, align="center", border="bottom"),
        "gantt_joints": StyleDef(
            font_size=8, number_format='0;-0;"+"', align="center", border="row"
        ),
        "gantt_total": StyleDef(font_size=8, number_format="0;-0;", align="center", border="top"),
        "gantt_worked": replace(_LEGEND, font_color=WHITE, fill=TEAL),
        "gantt_span": replace(_LEGEND, font_color=TEAL, fill="BFD9DE"),
        "gantt_critical": replace(_LEGEND, font_color=WHITE, fill=CRITICAL),
        "gantt_critical_span": replace(_LEGEND, font_color=CRITICAL, fill="F3CFAE"),
        "gantt_off": replace(_LEGEND, font_color=QUIET, fill="E4E4E4"),
        "gantt_weather": replace(_LEGEND, font_color="2F4B7C", fill="CFDDF2"),
        "gantt_deadline": replace(_LEGEND, font_color=WHITE, fill="7A3E9D"),
        "gantt_due": replace(_LEGEND, font_color="7A3E9D", fill="E6D8EF"),
        "weekday": replace(_HEADER, font_size=8, wrap=False, number_format="ddd"),
        "day_of_month": replace(_HEADER, font_size=8, wrap=False, number_format="d"),
        "day_number": replace(_BODY, number_format='General;-General;"+"', align="center"),
        "day_text": replace(_BODY, font_size=8, align="center"),
        "day_sum": replace(_BODY, bold=True, align="right"),
        "due_day": replace(_TEXT, number_format="ddd d mmm"),
        "tick": StyleDef(border="box"),
    }
)
"""Every style by its key."""
