"""The looks of result cells, by key: one table for every renderer, over the one look."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.workbook.sheet import look

Side = Literal["thin", "medium"]
Border = str
"""A key of ``BORDERS``."""

_CARD_LINES: Mapping[str, Mapping[str, tuple[Side, str]]] = {
    "plain": {},
    "top": {"top": ("thin", look.INK)},
    "row": {"bottom": ("thin", look.HAIR)},
    "end": {"bottom": ("thin", look.INK)},
}
_CARD_EDGES: Mapping[str, Mapping[str, tuple[Side, str]]] = {
    "": {},
    " left": {"left": ("thin", look.INK)},
    " right": {"right": ("thin", look.INK)},
}
"""Lines in a field card, and the frame at its two edges."""

BORDERS: Mapping[Border, Mapping[str, tuple[Side, str]]] = MappingProxyType(
    {
        **{
            f"card {line}{edge}": {**lines, **sides}
            for line, lines in _CARD_LINES.items()
            for edge, sides in _CARD_EDGES.items()
        },
        "": {},
        "box": {side: ("thin", look.MUTED) for side in ("left", "right", "top", "bottom")},
        "row": {"bottom": ("thin", look.HAIR)},
        "hair": {side: ("thin", look.HAIR) for side in ("left", "right", "top", "bottom")},
        "over": {
            "bottom": ("thin", look.INK),
            **{side: ("thin", look.HAIR) for side in ("left", "right")},
        },
        "top": {"top": ("thin", look.INK)},
        "sign": {"bottom": ("thin", look.INK)},
        "head": {"bottom": ("medium", look.INK)},
        "total": {"top": ("thin", look.INK), "bottom": ("thin", look.INK)},
        "warn": {"left": ("medium", look.OCHRE), "bottom": ("thin", look.HAIR)},
        "end": {"bottom": ("thin", look.INK)},
        "week": {"left": ("thin", look.INK)},
        "week row": {"left": ("thin", look.INK), "bottom": ("thin", look.HAIR)},
        "week head": {"left": ("thin", look.INK), "bottom": ("medium", look.INK)},
    }
)
"""Lines of each kind of border: side, line style and color."""


class StyleDef(NamedTuple):
    """How a cell looks. Colors are six hexadecimal digits; None takes the workbook's own.

    ``below`` is the style of what follows the last line break of a text: the unit of a header.
    ``shrink`` sets a text smaller where a program lacks the last bit of room for it.
    """

    number_format: str = "General"
    bold: bool = False
    italic: bool = False
    underline: bool = False
    font_color: str | None = None
    font_size: float = look.TEXT
    fill: str | None = None
    align: Literal["", "left", "center", "right"] = ""
    vertical: Literal["top", "center", "bottom"] = "center"
    wrap: bool = False
    shrink: bool = False
    border: Border = ""
    indent: int = 0
    below: str = ""

    @property
    def font_name(self) -> str:
        """The typeface, the same for every cell."""
        return look.FONT


@dataclass(frozen=True)
class StyleIds:
    """Where the styles stand in one workbook, by key.

    ``cells`` are indices of cell formats, ``quoted`` the same for text that begins like a
    formula, ``rules`` indices of differential formats for conditional looks, and ``runs`` the
    properties of a part of a text, as the file has them.
    """

    cells: Mapping[str, int]
    quoted: Mapping[str, int]
    rules: Mapping[str, int]
    runs: Mapping[str, str]


_with = StyleDef._replace

_BODY = StyleDef(border="row")
_TEXT = _with(_BODY, align="left")
_TOTAL = StyleDef(bold=True, fill=look.TINT, border="total")
_GRAND = _with(_TOTAL, font_size=look.SECTION)
_TOP = StyleDef(vertical="top", wrap=True)
_KEY = StyleDef(bold=True, align="left")
_PERCENT_OR_NONE = f"{look.PERCENT};-{look.PERCENT};{look.NONE}"
_HEADER = StyleDef(
    bold=True,
    font_color=look.INK,
    align="left",
    vertical="bottom",
    wrap=True,
    border="head",
    below="unit_below",
)
_SMALL = StyleDef(font_color=look.MUTED, font_size=look.SMALL)
_TITLE = StyleDef(bold=True, font_color=look.INK)
_BAR = StyleDef(font_size=look.SMALL, number_format="0", align="center")
_LEGEND = StyleDef(font_size=look.SMALL, align="center")
_WARN = StyleDef(bold=True, font_color=look.WARNING, fill=look.OCHRE_TINT)
_WARN_TEXT = _with(_WARN, align="left", wrap=True, border="warn")
_PRICE_BAND = _with(_TITLE, fill=look.TINT, indent=1, border="top")
_PRICE = _with(_PRICE_BAND, font_size=look.PRICE, align="right")

_SITE = StyleDef(border="box")
_SITE_FILLS: Mapping[str, str | None] = {
    "typed": look.INPUT, "filled": None, "worked": look.TINT
}  # fmt: skip
_SITE_FORMATS: Mapping[str, StyleDef] = {
    "text": _with(_SITE, align="left"),
    "after": _with(_SITE, align="left", indent=1),
    **{
        kind: _with(
            _SITE, align="right", number_format=code.replace(";", f"{look.CLEAR};") + look.CLEAR
        )
        for kind, code in {
            "number": "General",
            "num0": look.AXIS,
            "whole": look.WHOLE,
            "num1": look.places(1),
            "num3": look.places(3),
            "money": look.CENTS,
            "percent": "0.0%",
            "date": look.DATE_SHORT,
            "clock": "h:mm:ss",
            "duration": look.MIN_SEC,
        }.items()
    },
}
_SITE_STYLES = {
    f"{role}_{kind}": _with(style, fill=fill)
    for role, fill in _SITE_FILLS.items()
    for kind, style in _SITE_FORMATS.items()
}
"""Cells of the site records: typed in on site, filled in by the command, or worked out."""
BARE = "bare_{}"
_BARE_STYLES = {
    "typed_frame": _with(_SITE, fill=look.INPUT),
    **{
        BARE.format(f"typed_{kind}"): _with(style, border="")
        for kind, style in _SITE_FORMATS.items()
    },
}
"""Bare cells to type in of spare rows, and what a rule draws on them.

LibreOffice prints cells that have a fill or a frame of their own, were they blank.
"""

_LOG = StyleDef(border="hair")
_LOG_STYLES = {
    f"log {role} {kind}": _with(style, fill=fill)
    for role, fill in (("typed", look.INPUT), ("printed", None))
    for kind, style in (("text", _with(_LOG, align="left")), ("number", _with(_LOG, align="right")))
}
"""Cells of a page of the joint log, where hands write between hair lines."""

_CARD = StyleDef(font_size=look.SMALL, align="left")
_RUNG = _with(_CARD, fill=look.TINT)
_RUNG_NUMBER = _with(_RUNG, align="")
_GAUGE = _with(_RUNG_NUMBER, font_size=look.TEXT, bold=True)
_CARD_LOOKS: Mapping[str, tuple[StyleDef, str]] = {
    "title": (_with(_CARD, bold=True, font_size=look.TITLE, font_color=look.INK), "top"),
    "machine": (StyleDef(bold=True, font_color=look.INK, align="right", indent=1), "top"),
    "fact": (_CARD, "plain"),
    "last fact": (_CARD, "end"),
    "step": (_with(_CARD, font_size=look.TEXT), "row"),
    "value": (StyleDef(bold=True, font_size=look.SECTION, align="right"), "row"),
    "other": (_with(_CARD, font_color=look.MUTED, align="right", indent=1), "row"),
    "blank": (_with(_CARD, font_color=look.MUTED, align="right", vertical="bottom"), "end"),
    "drag": (_with(_RUNG, font_size=look.TEXT), "top"),
    "drag number": (_with(_RUNG_NUMBER, font_size=look.TEXT), "top"),
    "gauge": (_with(_RUNG, font_size=look.TEXT, bold=True), "plain"),
    "gauge psi": (_with(_GAUGE, number_format=look.WHOLE), "plain"),
    "gauge bar": (_with(_GAUGE, number_format="0.0"), "plain"),
    "gauge over": (_with(_GAUGE, align="right"), "plain"),
    "other gauge": (_RUNG, "end"),
    "other psi": (_with(_RUNG_NUMBER, number_format=look.WHOLE), "end"),
    "other bar": (_with(_RUNG_NUMBER, number_format="0.0"), "end"),
    "air": (_CARD, "plain"),
    "air number": (_with(_CARD, align="right"), "plain"),
    "air now": (_with(_CARD, align="right", bold=True), "plain"),
    "note": (_with(_CARD, wrap=True, vertical="top"), "plain"),
    "foot": (_with(_CARD, font_color=look.MUTED), "plain"),
    "last foot": (_with(_CARD, font_color=look.MUTED, wrap=True), "end"),
}
"""Parts of a field card: their look, and the line that goes with it."""


def _clear(code: str) -> str:
    """Return a number format that keeps what it shows off the line on its right."""
    return ";".join(f"{section}{look.CLEAR * 2}" for section in code.split(";"))


def _at_edge(style: StyleDef, edge: str) -> StyleDef:
    """Return a look as it stands at an edge of the frame, off which it is indented.

    A number there is set right, too: LibreOffice overlooks an indent where nothing else differs
    from the cell before it.
    """
    if edge == " right" and style.align != "left":
        return _with(style, align="right", indent=1)
    return _with(style, indent=1) if edge == " left" and style.align == "left" else style


_CARD_STYLES = {
    f"card {part}{edge}": _with(_at_edge(style, edge), border=f"card {line}{edge}")
    for part, (style, line) in _CARD_LOOKS.items()
    for edge in _CARD_EDGES
}

_DOLLARS = f'"$"{look.CENTS}'
_NAMED: Mapping[str, StyleDef] = {
    **_SITE_STYLES,
    **_BARE_STYLES,
    **_LOG_STYLES,
    **_CARD_STYLES,
    "title": _with(_TITLE, font_size=look.TITLE),
    "title_right": _with(_TITLE, font_size=look.TITLE, align="right"),
    "result": _with(_TITLE, font_size=look.SECTION, align="right"),
    "subtitle": _SMALL,
    "subtitle_over": _with(_SMALL, border="head"),
    "job": StyleDef(border="head"),
    "job_right": StyleDef(border="head", align="right"),
    "section": _with(_TITLE, font_size=look.SECTION, vertical="bottom"),
    "section_after": _with(
        _TITLE, font_size=look.SECTION, align="left", vertical="bottom", indent=1
    ),
    "group": _with(_TITLE, fill=look.TINT, border="row"),
    "group_int": _with(_TITLE, fill=look.TINT, border="row", number_format=look.WHOLE),
    "group_num1": _with(_TITLE, fill=look.TINT, border="row", number_format=look.ONE_PLACE),
    "header": _HEADER,
    "header_after": _with(_HEADER, indent=1),
    "header_right": _with(_HEADER, align="right"),
    "header_center": _with(_HEADER, align="center"),
    "unit_after": _with(_SMALL, align="left", indent=1, vertical="bottom"),
    "unit_right": _with(_SMALL, align="right", vertical="bottom"),
    "unit_below": _SMALL,
    "note": _with(_SMALL, align="left", wrap=True),
    "text": _TEXT,
    "text_right": _with(_TEXT, align="right"),
    "text_kept": _TEXT,
    "text_again": _with(_TEXT, font_color=look.MUTED),
    "text_after": _with(_TEXT, indent=1),
    "link": _with(_TEXT, font_color=look.INK, underline=True),
    "link_after": _with(_TEXT, font_color=look.INK, underline=True, indent=1),
    "text_wrap": _with(_TEXT, wrap=True),
    "wrap_kept": _with(_TEXT, wrap=True),
    "shared": _with(_TEXT, fill=look.TINT, wrap=True),
    "wrap_after": _with(_TEXT, wrap=True, indent=1),
    "center": _with(_BODY, align="center"),
    "int": _with(_BODY, number_format=look.WHOLE),
    "int_center": _with(_BODY, number_format=look.WHOLE, align="center"),
    "int_bold": _with(_BODY, number_format=look.WHOLE, bold=True),
    "num1": _with(_BODY, number_format=look.ONE_PLACE),
    "pressure": _with(_BODY, number_format=look.GAUGE),
    "num2": _with(_BODY, number_format=look.TWO_PLACES),
    "num3": _with(_BODY, number_format=look.THREE_PLACES),
    "min_s": _with(_BODY, number_format=look.MIN_SEC, align="right"),
    "figure": _with(_BODY, align="right"),
    "general": _with(_BODY, number_format=look.AS_TYPED),
    **{
        f"figure_{places}": _with(_BODY, align="right", number_format=look.places(places))
        for places in range(7)
    },
    "unbroken": _with(_BODY, align="right"),
    "figure_left": _with(_BODY, align="left"),
    "figure_top": _with(_BODY, align="left", vertical="top"),
    "text_top": _with(_TEXT, wrap=True, vertical="top"),
    "top_wrap": _TOP,
    "top_int": _with(_TOP, number_format=look.WHOLE, wrap=False),
    "top_num1": _with(_TOP, number_format=look.ONE_PLACE, wrap=False),
    "top_date": _with(_TOP, number_format=look.DATE_TIGHT, align="right", wrap=False),
    "top_day": _with(_TOP, number_format=look.WEEKDAY, align="right", wrap=False),
    "rate": _with(_BODY, number_format=f"#,##0.00??;-#,##0.00??;{look.NONE}"),
    "quantity": _with(_BODY, number_format=f"#,##0.00??;-#,##0.00??;{look.NONE}"),
    "pieces": _with(_BODY, number_format=look.WHOLE_OF_TWO_PLACES),
    "money": _with(_BODY, number_format=look.TWO_PLACES),
    "money0": _with(_BODY, number_format=look.WHOLE),
    "pct": _with(_BODY, number_format=look.PERCENT),
    "pct_or_none": _with(_BODY, number_format=_PERCENT_OR_NONE),
    "pct_left": _with(_TEXT, number_format=look.PERCENT_0),
    "money0_left": _with(_TEXT, number_format=look.WHOLE),
    "pct0": _with(_BODY, number_format=look.PERCENT_0),
    "signed": _with(_BODY, number_format=look.SIGNED),
    "signed_clear": _with(_BODY, number_format=_clear(look.SIGNED)),
    "signed_pct": _with(_BODY, number_format=look.SIGNED_PERCENT),
    "date_short_right": _with(_BODY, number_format=look.DATE_SHORT, align="right"),
    "total_pct": _with(_TOTAL, number_format=look.PERCENT_0),
    "total_pct1": _with(_TOTAL, number_format=look.PERCENT),
    "total_pct_or_none": _with(_TOTAL, number_format=_PERCENT_OR_NONE),
    "pct2": _with(_BODY, number_format=look.PERCENT_2),
    "date": _with(_BODY, number_format=look.DATE, align="center"),
    "day": _with(_BODY, number_format=look.DAY_MONTH, font_size=look.SMALL, align="center"),
    "date_of_day": _with(_BODY, number_format=look.DAY_TIGHT, align="center"),
    "weekday_date": _with(_BODY, number_format=look.WEEKDAY, align="center"),
    "date_short": _with(_BODY, number_format=look.DATE_SHORT, align="center"),
    "date_tight": _with(_BODY, number_format=look.DATE_TIGHT, align="right"),
    "total_text": _with(_TOTAL, align="left"),
    "total_after": _with(_TOTAL, align="left", indent=1),
    "total_int": _with(_TOTAL, number_format=look.WHOLE),
    "total_num1": _with(_TOTAL, number_format=look.ONE_PLACE),
    "total_num2": _with(_TOTAL, number_format=look.TWO_PLACES),
    "total_money": _with(_TOTAL, number_format=look.TWO_PLACES),
    "total_dollars": _with(_TOTAL, number_format=_DOLLARS),
    "grand_total_text": _with(_GRAND, align="left"),
    "grand_total": _with(_GRAND, number_format=look.CENTS),
    "grand_total_dollars": _with(_GRAND, number_format=_DOLLARS),
    "plain": StyleDef(),
    "plain_wrap": StyleDef(wrap=True),
    "plain_right": StyleDef(align="right"),
    "plain_date": StyleDef(number_format=look.DATE_SHORT, align="left"),
    "term": StyleDef(wrap=True, vertical="top", font_size=look.LONG_TABLE),
    "label": StyleDef(font_color=look.MUTED),
    "label_low": StyleDef(font_color=look.MUTED, vertical="bottom"),
    "sign": StyleDef(border="sign"),
    "price_text": _with(_PRICE_BAND, font_size=look.SECTION, align="left"),
    "price": _with(_PRICE, number_format=look.CENTS),
    "price_dollars": _with(_PRICE, number_format=_DOLLARS),
    "price_words": StyleDef(fill=look.TINT, indent=1, border="end", wrap=True, align="left"),
    "add_deduct": _with(
        _BODY, align="right", number_format='#,##0.00" add";#,##0.00" deduct";"no change in price"'
    ),
    "client_date": StyleDef(align="right", number_format=look.DATE_SHORT),
    "client_date_ruled": StyleDef(align="right", border="head", number_format=look.DATE_SHORT),
    "key": _KEY,
    "key_ink": _with(_KEY, font_color=look.INK),
    "key_right": _with(_KEY, align="right"),
    "key_int": _with(_KEY, number_format=look.WHOLE),
    "key_num1": _with(_KEY, number_format=look.ONE_PLACE),
    "key_num2": _with(_KEY, number_format=look.CENTS),
    "key_center": _KEY,
    "key_date": _with(_KEY, number_format=look.DATE),
    "key_day": _with(_KEY, number_format=look.DATE_TIGHT, font_size=look.SMALL),
    "key_date_short": _with(_KEY, number_format=look.DATE_SHORT),
    "warn": _WARN,
    "warn_title": _with(_WARN, fill=None),
    "warn_date": _with(_WARN, number_format=look.DATE_SHORT, align="left"),
    "warn_text": _WARN_TEXT,
    "warn_after": _with(_WARN_TEXT, indent=1),
    "ok": StyleDef(bold=True, font_color=look.INK, fill=look.TINT),
    "ok_after": StyleDef(
        bold=True, font_color=look.INK, fill=look.TINT, align="left", indent=1
    ),
    "bar": StyleDef(fill=look.BAR),
    "repeated": StyleDef(font_color=look.MUTED),
    "gantt_head": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", number_format="d"
    ),
    "gantt_month": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", number_format="mmm"
    ),
    "gantt_kind": _with(_SMALL, align="center"),
    "gantt_joints": StyleDef(
        font_size=look.SMALL, number_format='0;-0;"+"', align="center", border="row"
    ),
    "gantt_total": _with(
        _TOTAL, font_size=look.SMALL, number_format="0;-0;", align="center"
    ),
    "gantt_worked": _with(_LEGEND, font_color=look.WHITE, fill=look.INK),
    "gantt_span": _with(_LEGEND, font_color=look.INK, fill=look.SPAN),
    "gantt_critical": _with(_LEGEND, fill=look.CRITICAL),
    "gantt_critical_span": _with(_LEGEND, font_color=look.INK, fill=look.CRITICAL_SPAN),
    "gantt_off": _with(_LEGEND, font_color=look.MUTED, fill=look.OFF),
    "gantt_weather": _with(_LEGEND, font_color=look.INK, fill=look.TINT),
    "gantt_deadline": _with(_LEGEND, font_color=look.WHITE, fill=look.MUTED),
    "gantt_due": _with(_LEGEND, font_color=look.MUTED, fill=look.DUE),
    "gantt_head_now": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", number_format="d",
        font_color=look.WHITE, fill=look.MUTED,
    ),
    "gantt_month_now": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", number_format="mmm",
        font_color=look.WHITE, fill=look.MUTED,
    ),
    "gantt_run": _TEXT,
    "gantt_count": _with(_BODY, number_format=look.WHOLE, align="center"),
    "bar_planned": _with(_BAR, font_color=look.INK, fill=look.SPAN),
    "bar_made": _with(_BAR, font_color=look.WHITE, fill=look.INK),
    "bar_left": _with(_BAR, font_color=look.INK, fill=look.CRITICAL_SPAN),
    "bar_status": _with(_BAR, fill=look.OFF),
    "bar_none": _BAR,
    "weekday": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", border="", number_format="ddd"
    ),
    "day_of_month": _with(
        _HEADER, font_size=look.SMALL, wrap=False, align="center", number_format="d"
    ),
    "day_number": _with(_BODY, number_format='General;-General;"+"', align="center"),
    "day_whole": _with(_BODY, number_format=look.AXIS, align="center"),
    "day_tenth": _with(_BODY, number_format="0.0", align="center"),
    "day_text": _with(_BODY, font_size=look.SMALL, align="center"),
    "day_sum": _with(_BODY, bold=True, align="right", number_format="[>=1000]#,##0;General"),
    "day_sum_whole": _with(_BODY, bold=True, align="right", number_format=look.AXIS),
    "day_sum_tenth": _with(_BODY, bold=True, align="right", number_format=look.places(1)),
    "due_day": _with(_TEXT, number_format=look.WEEKDAY),
    "week": _with(_TEXT, number_format=look.DAY_MONTH),
    "crew": _with(_TEXT, number_format='"crew "0', indent=1),
    "week_kept": _with(_TEXT, number_format=look.DAY_MONTH),
    "week_year": _with(_TEXT, number_format=look.DATE_TIGHT),
    "week_year_kept": _with(_TEXT, number_format=look.DATE_TIGHT),
    "day_year": _with(_BODY, number_format=look.DATE_TIGHT, font_size=look.SMALL, align="center"),
    "over": _with(_TITLE, font_size=look.SMALL, align="center"),
    "people": _with(_BODY, number_format=look.PEOPLE),
    "limit": StyleDef(
        bold=True, font_size=look.SMALL, fill=look.TINT, align="right", border="row"
    ),
    "log group": _with(_TITLE, align="center", border="over"),
    "log label": _with(_SMALL, indent=1, align="left"),
    "log verdict": _with(_LOG, indent=1, align="left", wrap=True),
    "log against": _with(_LOG, indent=1, align="left", wrap=True, bold=True),
    "tick": StyleDef(border="box"),
    "answer": StyleDef(fill=look.INPUT, border="box"),
}  # fmt: skip
AFTER: Mapping[str, str] = MappingProxyType(
    {
        "text": "text_after",
        "text_wrap": "wrap_after",
        "link": "link_after",
        "warn_text": "warn_after",
        "total_text": "total_after",
    }
)
"""Style of a text in a column that follows a column of numbers."""
WRAPPED = "{}, wrapped"
"""Key of a style whose text wraps where its cells have no room for one line."""
SNUG = "{}, snug"
"""Key of a style whose text fills its cells on paper: one line, where a program takes it so."""
CLOSE = "{}, close"
"""Key of a style in the smaller type of a long table."""


RULED_STYLES: Mapping[str, str] = MappingProxyType(
    {
        key: f"{key}, ruled"
        for key in ("week", "week_year", "int", "text", "text_after", "pct0", "people", "num1",
                    "text_wrap", "wrap_after")
    }
)  # fmt: skip
"""Keys of the styles of rows that a rule ends, as the last week of a month."""
WEEK_STYLES: Mapping[str, str] = MappingProxyType(
    {
        key: f"{key}, week"
        for key in ("over", "weekday", "day_of_month", "day_number", "day_whole", "day_tenth",
                    "day_text")
    }
)  # fmt: skip
"""Keys of the styles of days, and what they are on the first day of a week: a rule at its left."""
_ROWS: Mapping[str, StyleDef] = {
    **_NAMED,
    **{
        week: _with(_NAMED[key], border=f"week {_NAMED[key].border}".strip())
        for key, week in WEEK_STYLES.items()
    },
    **{ruled: _with(_NAMED[key], border="end") for key, ruled in RULED_STYLES.items()},
}

_US_FORMATS: Mapping[str, str] = {
    **look.US_DATES,
    **{f"{code}{look.CLEAR}": f"{us}{look.CLEAR}" for code, us in look.US_DATES.items()},
}
US_STYLES: Mapping[str, str] = MappingProxyType(
    {key: f"{key}, US" for key, style in _ROWS.items() if style.number_format in _US_FORMATS}
)
"""Keys of the styles of dates, and what they are in US units."""

_DATED: Mapping[str, StyleDef] = {
    **_ROWS,
    **{
        us: _with(_ROWS[key], number_format=_US_FORMATS[_ROWS[key].number_format])
        for key, us in US_STYLES.items()
    },
}
CLOSE_STYLES: Mapping[str, str] = MappingProxyType(
    {key: CLOSE.format(key) for key, style in _DATED.items() if style.font_size == look.TEXT}
)
"""Keys of the styles that long tables set in smaller type, and what they are there."""
_SIZED: Mapping[str, StyleDef] = {
    **_DATED,
    **{close: _with(_DATED[key], font_size=look.LONG_TABLE) for key, close in CLOSE_STYLES.items()},
}

STYLES: Mapping[str, StyleDef] = MappingProxyType(
    {
        **_SIZED,
        **{
            WRAPPED.format(key): _with(style, wrap=True)
            for key, style in _SIZED.items()
            if not style.wrap
        },
        **{
            SNUG.format(key): _with(style, wrap=False, shrink=True)
            for key, style in _SIZED.items()
            if not style.below
        },
    }
)
"""Every style by its key."""
