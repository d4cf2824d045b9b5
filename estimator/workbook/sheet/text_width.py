"""How broad a text is in Arial, and how many lines it takes, without a font at hand."""

import csv
import datetime as dt
import re
from collections.abc import Iterator, Mapping
from functools import cache, lru_cache
from importlib import resources
from typing import Literal

from estimator.workbook.sheet.styles import StyleDef

PIXELS_PER_POINT = 96 / 72
OTHER_LETTER = 1000
"""Thousandths of the type size that a letter takes which the table does not hold."""
LONGEST_DATE = dt.date(2027, 9, 22)
"""A Wednesday in a month and on a day that are broad in every format."""
_PADDING = re.compile("_.")
"""A blank of a number format, as wide as the sign it names."""
_DATE_PARTS = {
    "ddd": "%a",
    "mmm": "%b",
    "yyyy": "%Y",
    "yy": "%y",
    "d": "%d",
}


Weight = Literal["regular", "bold"]


@cache
def _widths(weight: Weight) -> Mapping[str, int]:
    text = resources.files(__package__).joinpath("letter_widths.csv").read_text("utf-8")
    return {
        letter: int(row[weight])
        for row in csv.DictReader(text.splitlines())
        for letter in row["letters"]
    }


@lru_cache(maxsize=20_000)
def text_pixels(text: str, size: float, *, bold: bool = False) -> float:
    """Return how broad a line of text is, in pixels of 96 an inch.

    >>> round(text_pixels("Labor-hours", 9.0), 1)
    64.7
    """
    of = _widths("bold" if bold else "regular").get
    return sum(of(letter, OTHER_LETTER) for letter in text) * size / 1000 * PIXELS_PER_POINT


def lines_of(text: str, pixels: float, size: float, *, bold: bool = False) -> int:
    """Return how many lines a text takes where it wraps in a breadth; long words are broken."""
    parts = text.split("\n")
    return sum(sum(1 for _ in line_breadths(part, pixels, size, bold=bold)) for part in parts)


def line_breadths(text: str, pixels: float, size: float, *, bold: bool = False) -> Iterator[float]:
    """Yield the breadth of each line of a text that wraps, with the blank at its end."""
    used, space = 0.0, text_pixels(" ", size, bold=bold)
    for word in words_of(text):
        long = text_pixels(word, size, bold=bold)
        if used and used + long > pixels + space:
            yield used
            used = 0.0
        used += long
        while used > pixels + space > 0:
            yield pixels
            used -= pixels
    yield used


def names_and_words_of(text: str) -> Iterator[str]:
    """Yield the words of a text, a name with a figure whole: it is to be read on one line.

    >>> [*names_and_words_of("TS-5 after tie-in")]
    ['TS-5 ', 'after ', 'tie-', 'in ']
    """
    for word in text.split(" "):
        yield from [f"{word} "] if any(map(str.isdigit, word)) else words_of(word)


def words_of(text: str) -> Iterator[str]:
    """Yield the words of a text, each with its blank; one may break after a hyphen."""
    for word in text.split(" "):
        *starts, end = word.split("-")
        yield from (f"{start}-" for start in starts)
        yield f"{end} "


def with_whole_words(text: str, pixels: float, size: float) -> str:
    r"""Return a text in which a word with a hyphen begins a line where it would be broken.

    >>> with_whole_words("joints R02-0015, R02-0016", 90.0, 9.0)
    'joints R02-0015,\nR02-0016'
    """
    first, *words = text.split(" ")
    space = text_pixels(" ", size)
    shown, used = first, text_pixels(f"{first} ", size)
    for word in words:
        long = text_pixels(f"{word} ", size)
        is_next = used + long > pixels + space
        shown += f"\n{word}" if is_next and "-" in word else f" {word}"
        used = long if is_next else used + long
    return shown


def number_text(value: float, code: str) -> str:
    """Return about what a number format shows, for its breadth.

    >>> number_text(1234.5, "#,##0.00"), number_text(0.125, "0.0%"), number_text(3, "General")
    ('1,234.50', '12.5%', '3')
    >>> number_text(13000, "#,##0.00##"), number_text(0.1255, "#,##0.00##_)")
    ('13,000.00', '0.1255 ')
    >>> number_text(7, "#,##0_._0_0")
    '7   '
    """
    first = code.partition(";")[0]
    if _PADDING.search(first):
        return number_text(value, _PADDING.sub("", first)) + " " * len(_PADDING.findall(first))
    if first == "General":
        return f"{value:.10g}"
    if first == "[m]:ss":
        minutes, seconds = divmod(round(value * 86400), 60)
        return f"{minutes}:{seconds:02d}"
    decimals = len(first.rpartition(".")[2].rstrip("%")) if "." in first else 0
    if "%" in first:
        return f"{value:.{decimals}%}"
    before = first.partition("#")[0].strip('"') if first.startswith('"') else ""
    shown = f"{before}{value:,.{decimals}f}"
    for _ in range(len(first) - len(first.rstrip("#")) if decimals else 0):
        shown = shown.removesuffix("0")
    return shown


def date_text(code: str) -> str:
    """Return the broadest date of a format.

    >>> date_text("ddd d mmm yyyy")
    'Wed 22 Sep 2027'
    >>> date_text("mmm d, yyyy"), date_text("mmm d 'yy")
    ('Sep 22, 2027', "Sep 22 '27")
    """
    parts = re.sub("[a-z]+", lambda part: _DATE_PARTS.get(part[0], part[0]), code)
    return LONGEST_DATE.strftime(parts)


def cell_text(value: str | float | dt.date | None, style: StyleDef) -> str:
    """Return what a cell of a style shows."""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, dt.date):
        return date_text(style.number_format)
    if isinstance(value, int | float):
        return number_text(value, style.number_format)
    return value or ""
