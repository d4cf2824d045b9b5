"""Values, text and references of cells as the file format writes them."""

import datetime as dt
import re

from estimator.workbook.sheet.areas import Area, parse_area

EPOCH_1900, EPOCH_1904 = dt.date(1899, 12, 30), dt.date(1904, 1, 1)
FIRST_SAFE_DATE = dt.date(1900, 3, 1)
"""Before it the serial numbers of the 1900 date system count a day that never was."""

EPOCHS = {False: dt.datetime(1899, 12, 30), True: dt.datetime(1904, 1, 1)}
"""Day 0 of both date systems, by whether days count from 1904."""
ONE_DAY = dt.timedelta(days=1)
LONGEST_TEXT, ROOM_TO_SAY = 32_767, 40

_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "_x": "_x005F_x"}
_FORBIDDEN = re.compile("_x(?=[0-9A-Fa-f]{4}_)|[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")
"""What no cell can hold as it is: text like an escape, and what XML forbids. Its few characters are
named, not the many others, for which Python needs 3 ms whenever it starts."""
_SPECIAL = re.compile(f'[&<>"]|{_FORBIDDEN.pattern}')
"""What cannot stand in XML as it is: this and markup."""


def escape(text: str) -> str:
    """Return text as the XML of the file format, characters that XML forbids as ``_xHHHH_``.

    >>> escape('a<b & "c"')
    'a&lt;b &amp; &quot;c&quot;'
    >>> escape("bell" + chr(7))
    'bell_x0007_'
    """
    if _SPECIAL.search(text) is None:
        return text
    return _SPECIAL.sub(_escaped, text)


def storable(text: str) -> str:
    """Return text for an element of XML, which escapes markup itself.

    >>> storable("a<b" + chr(7))
    'a<b_x0007_'
    """
    return _FORBIDDEN.sub(_escaped, text)


def _escaped(match: re.Match[str]) -> str:
    found = match[0]
    return _ENTITIES.get(found) or f"_x{ord(found):04X}_"


def fitting(text: str) -> str:
    """Return a text as one cell can hold it; of a longer one the beginning, and how much is left.

    >>> fitting("short"), fitting("x" * 40_000)[-32:]
    ('short', 'xxx... and 7,273 more characters')
    """
    if len(text) <= LONGEST_TEXT:
        return text
    kept = text[: LONGEST_TEXT - ROOM_TO_SAY]
    return f"{kept}... and {len(text) - len(kept):,} more characters"


def serial_date(date: dt.date, *, dates_1904: bool) -> int | float:
    """Return the serial number of a date, with its time of day as a fraction of a day.

    Raises
    ------
    ValueError
        If the date lies before the first one that the date system can hold.
    """
    first = EPOCH_1904 if dates_1904 else FIRST_SAFE_DATE
    day = date.date() if isinstance(date, dt.datetime) else date
    if day < first:
        raise ValueError(f"date must be {first} or later, got {day}")
    days = (day - (EPOCH_1904 if dates_1904 else EPOCH_1900)).days
    if not isinstance(date, dt.datetime):
        return days
    midnight = dt.datetime.combine(day, dt.time())
    return days + (date.replace(tzinfo=None) - midnight) / dt.timedelta(days=1)


def serial_number(value: dt.date | dt.time | dt.timedelta, epoch: dt.datetime) -> float:
    """Return the number of days that a spreadsheet keeps for a date or a time."""
    if isinstance(value, dt.time):
        value = dt.datetime.combine(epoch.date(), value)
    elif isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        value = dt.datetime.combine(value, dt.time())
    return (value if isinstance(value, dt.timedelta) else value - epoch) / ONE_DAY


def stored(value: bool | float | str | dt.date, *, dates_1904: bool) -> tuple[str, str]:
    """Return the type and the text by which the file holds a value that a formula gives.

    >>> stored(True, dates_1904=False), stored("a<b", dates_1904=False)
    (('b', '1'), ('str', 'a&lt;b'))
    """
    if isinstance(value, bool):
        return "b", str(int(value))
    if isinstance(value, int | float):
        return "", repr(float(value) if isinstance(value, float) else int(value))
    if isinstance(value, dt.date):
        return "", repr(serial_date(value, dates_1904=dates_1904))
    return "str", escape(str(value))


def area_of(reference: str) -> Area:
    """Return the cells of a reference such as ``B4`` or ``$B$4:$D$20``.

    Raises
    ------
    ValueError
        If it is no reference of that form.
    """
    area = parse_area(reference)
    if area is None:
        raise ValueError(f"reference must be like A1 or A1:B2, got {reference!r}")
    return area
