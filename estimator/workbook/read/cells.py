"""Values of cells into typed values: text, numbers, dates, choices. Knows no workbook."""

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from estimator.errors import EstimatorError
from estimator.input_errors.entries import describe
from estimator.input_errors.values import (
    not_a_choice,
    not_a_date,
    not_weekdays,
    not_whole,
    not_yes_no,
)
from estimator.inputs.column import FIRST_YEAR, LAST_YEAR
from estimator.inputs.weekdays import weekday_text
from estimator.joint.geometry import parse_dr
from estimator.units import DAY_MIN, HOUR_S, MIN_S
from estimator.workbook.read.unit_text import PERCENT, unit_label
from estimator.workbook.sheet.source import CellValue

EPOCH = dt.date(1899, 12, 30)
DAY_S = DAY_MIN * MIN_S
MOST_SEGMENTS = 1000
EPOCH_1904 = dt.date(1904, 1, 1)
OldChoices = tuple[tuple[str, str], ...]
COMMA_RULE = (
    "can be read two ways. Use a point for decimals, and commas only between groups of three digits"
)

_MINUS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{EM DASH}": "-"})
_NUMBER = re.compile(r"([+-]? ?)([0-9][0-9, ]*)?(\.[0-9]*)?(.*)", re.DOTALL)
_WHOLE = re.compile(r"[0-9]+|[1-9][0-9]{0,2}(?:,[0-9]{3})+|[1-9][0-9]{0,2}(?: [0-9]{3})+")
_DATE = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ]00:00(?::00)?)?")
_CURRENCY = re.compile(r"^[$\u00a2-\u00a5\u20a0-\u20bf] ?")
_TIMES = re.compile(r"\s*([0-9]{1,6})\s*[xX\u00d7*]\s*(\S.*)")
_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?( ?[ap]m)?", re.IGNORECASE)
_DURATION = re.compile(r"[0-9]+(:[0-5][0-9]){1,2}")
_YES_NO = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}


class CellError(EstimatorError):
    """A cell cannot be used as it stands: what is wrong with it, and what to do."""


def shows_error(error: str) -> CellError:
    """Return the error of a cell whose formula gives an error value."""
    return CellError(f"The cell shows {error}. Fix the formula in that cell")


def not_a_number(value: CellValue, unit: str = "") -> CellError:
    """Return the error of a value that is no number."""
    hint = f". Enter a number in {unit}" if unit else ""
    return CellError(f"{describe(value)} is not a number{hint}")


def tidy(text: str) -> str:
    """Return a text with single plain spaces and plain dashes, trimmed."""
    return " ".join(text.split()).translate(_MINUS)


def is_blank(value: CellValue) -> bool:
    """Return whether a cell holds nothing, or only spaces."""
    return value is None or (isinstance(value, str) and not value.strip())


def to_number(value: CellValue, unit: str = "") -> float:
    """Return the number in a cell, as such or written as text.

    Parameters
    ----------
    value : CellValue
        A number, or a text such as ``1,250``, ``1 250`` or ``24 in``.
    unit : str, optional
        Label of the unit that a text may name after the number.

    Returns
    -------
    float
        A finite number, in ``unit``.

    Raises
    ------
    CellError
        If it is no number, names another unit, or its comma can be read in two ways.

    Examples
    --------
    >>> to_number("1,250.5 feet", "ft")
    1250.5
    """
    if isinstance(value, str):
        number = _number_in(value, unit)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value)
    else:
        raise not_a_number(value)
    if not math.isfinite(number):
        raise not_a_number(value)
    return number


def _number_in(text: str, unit: str) -> float:
    found = _NUMBER.fullmatch(tidy(text))
    sign, whole, fraction, rest = (part or "" for part in found.groups()) if found else ("",) * 4
    whole = whole.strip()
    if (whole and not _WHOLE.fullmatch(whole)) or rest.startswith(","):
        if "," in whole + rest:
            raise CellError(f"{describe(text)} {COMMA_RULE}")
        whole = fraction = ""
    if not (whole or fraction.strip(".")):
        raise not_a_number(text, unit)
    _must_be_unit(text, rest.strip(), unit)
    return float(f"{sign.strip()}{re.sub('[, ]', '', whole)}{fraction}")


def _must_be_unit(text: str, typed: str, unit: str) -> None:
    label = unit_label(typed) if typed else unit
    if label == unit:
        return
    if label and unit:
        raise CellError(
            f"{describe(text)} is in {label}, but this column is in {unit}. Convert it, or change "
            "the unit cell"
        )
    if label:
        raise CellError(f"{describe(text)} has a unit. Enter the number alone")
    raise not_a_number(text, unit)


def to_share(value: CellValue) -> float:
    """Return the share that a percent cell holds: 0.15 for 0.15, ``15%`` or ``0.15``."""
    text = tidy(value) if isinstance(value, str) else ""
    if text.endswith(PERCENT):
        return to_number(text, PERCENT) / 100
    return to_number(value)


def to_amount(value: CellValue) -> float:
    """Return an amount of money; a text may begin with a currency sign."""
    return to_number(_CURRENCY.sub("", tidy(value)) if isinstance(value, str) else value)


def to_count(value: CellValue) -> int:
    """Return a whole number."""
    number = to_number(value)
    if number != int(number):
        raise CellError(not_whole(describe(value)))
    return int(number)


def to_segments(value: CellValue, unit: str = "") -> tuple[float, ...]:
    """Return one length, or several that are separated by semicolons or added up.

    Equal ones may be written once, after their number.

    >>> to_segments("380; 212; 95 ft", "ft"), to_segments("3 x 60 + 95", "ft")
    ((380.0, 212.0, 95.0), (60.0, 60.0, 60.0, 95.0))
    """
    if not isinstance(value, str):
        return (to_number(value, unit),)
    pieces = re.split(r"[;+]", value.strip().rstrip(";"))
    try:
        return tuple(length for piece in pieces for length in _equal_ones(piece, unit))
    except CellError as error:
        hint = ". Separate segments with semicolons"
        raise CellError(f"{error}{hint}") from error


def _equal_ones(text: str, unit: str) -> Sequence[float]:
    found = _TIMES.fullmatch(text)
    if found is None:
        return (to_number(text, unit),)
    number = int(found[1])
    if not 1 <= number <= MOST_SEGMENTS:
        raise CellError(f"{describe(text)}: enter 1 to {MOST_SEGMENTS:,} equal segments")
    return (to_number(found[2], unit),) * number


def to_weekdays(value: CellValue) -> str:
    """Return the days of a week in their short form, such as ``Sat-Thu`` or ``Mon, Wed, Fri``."""
    try:
        return weekday_text(tidy(to_text(value)))
    except ValueError:
        raise CellError(not_weekdays(describe(value))) from None


def to_date(value: CellValue, dates_1904: bool = False) -> dt.date:
    """Return the date in a cell: a date, ISO text, or a bare serial number of a date."""
    found = None
    if isinstance(value, dt.datetime):
        found = value.date()
    elif isinstance(value, dt.date):
        found = value
    elif isinstance(value, str):
        found = _date_in(tidy(value))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        found = _date_of_serial(value, EPOCH_1904 if dates_1904 else EPOCH)
    if found is None or not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise CellError(not_a_date(describe(value)))
    return found


def to_clock(value: CellValue) -> float:
    """Return a clock time in minutes after midnight.

    >>> to_clock("7:42:30"), to_clock(dt.time(13, 5)), to_clock(0.5), to_clock("1:05 pm")
    (462.5, 785.0, 720.0, 785.0)
    """
    seconds = _clock_in(tidy(value)) if isinstance(value, str) else _seconds_of(value)
    if seconds is None or seconds >= DAY_S:
        raise CellError(f"{describe(value)} is not a clock time. Enter one such as 7:42:10")
    return seconds / MIN_S


def to_duration(value: CellValue) -> float:
    """Return a time of minutes and seconds in seconds; a bare number is a part of a day.

    >>> to_duration("6:22"), to_duration(dt.timedelta(minutes=6, seconds=22))
    (382.0, 382.0)
    """
    seconds = _duration_in(tidy(value)) if isinstance(value, str) else _seconds_of(value)
    if seconds is None:
        raise CellError(f"{describe(value)} is not a time. Enter minutes and seconds, such as 6:22")
    return seconds


def _seconds_of(value: CellValue) -> float | None:
    """Return the seconds of a time of day, a span of time or a part of a day, to whole ones."""
    if isinstance(value, dt.datetime):
        value = value.time()
    if isinstance(value, dt.time):
        whole = dt.timedelta(hours=value.hour, minutes=value.minute, seconds=value.second)
        value = whole + dt.timedelta(microseconds=value.microsecond)
    if isinstance(value, dt.timedelta):
        seconds = value.total_seconds()
    elif isinstance(value, int | float) and not isinstance(value, bool) and value < 1:
        seconds = value * DAY_S
    else:
        return None
    return float(round(seconds)) if seconds >= 0 else None


def _clock_in(text: str) -> float | None:
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * (found[4].strip().casefold() == "pm")
    return HOUR_S * hour + MIN_S * minute + second


def _duration_in(text: str) -> float | None:
    if not _DURATION.fullmatch(text):
        return None
    seconds = 0.0
    for part in text.split(":"):
        seconds = MIN_S * seconds + int(part)
    return seconds


def _date_in(text: str) -> dt.date | None:
    found = _DATE.fullmatch(text)
    try:
        return dt.date(*(int(part) for part in found.groups())) if found else None
    except ValueError:
        return None


def _date_of_serial(serial: float, epoch: dt.date) -> dt.date | None:
    try:
        return epoch + dt.timedelta(days=math.floor(serial))
    except (OverflowError, ValueError):
        return None


def to_text(value: CellValue) -> str:
    """Return a cell as trimmed text: ``101`` for the number 101.0, ISO for a date."""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, dt.date):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else f"{value:.15g}"
    return str(value).upper() if isinstance(value, bool) else str(value)


def to_yes_no(value: CellValue) -> bool:
    """Return whether a cell says yes: yes/no, y/n, true/false in any case, TRUE/FALSE."""
    found = _YES_NO.get(to_text(value).casefold())
    if found is None:
        raise CellError(not_yes_no(describe(value)))
    return found


@lru_cache(maxsize=256)
def _spellings(allowed: tuple[str, ...], old: OldChoices) -> Mapping[str, str]:
    words = {**dict(old), **{choice: choice for choice in allowed}}
    return {tidy(word).casefold(): choice for word, choice in words.items()}


def to_choice(value: CellValue, allowed: Sequence[str], old: OldChoices = ()) -> str:
    """Return the allowed choice that a cell means, without regard to case and spaces.

    ``old`` are words of earlier workbooks, each with the choice it means now.

    >>> to_choice(" Turbo\u2013Charged ", ("naturally aspirated", "turbo-charged"))
    'turbo-charged'
    """
    found = _spellings(tuple(allowed), old).get(tidy(to_text(value)).casefold())
    if found is None:
        raise CellError(not_a_choice(describe(value), tuple(allowed)))
    return found


def to_choices(value: CellValue, allowed: Sequence[str], old: OldChoices = ()) -> tuple[str, ...]:
    """Return one or more choices that are separated by semicolons, commas or lines."""
    pieces = [piece for piece in re.split(r"[;,\n]", to_text(value)) if piece.strip()]
    if not pieces:
        raise CellError(not_a_choice(describe(value), tuple(allowed)))
    return tuple(dict.fromkeys(to_choice(piece, allowed, old) for piece in pieces))


def to_ratio(value: CellValue) -> float:
    """Return a dimension ratio from ``11``, ``DR 11``, ``SDR 17`` or ``S 8``."""
    if isinstance(value, str):
        return parse_dr(tidy(value))
    return to_number(value)
