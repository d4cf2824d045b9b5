"""Nominal pipe sizes as people type them, into the spelling of the size tables."""

import datetime as dt
import re
from fractions import Fraction
from functools import lru_cache

from estimator.errors import EstimatorError
from estimator.input_errors.entries import describe
from estimator.joint.geometry import CUSTOM, custom_size_hint, list_sizes, size_name
from estimator.workbook.read.cells import CellError, tidy
from estimator.workbook.sheet.source import CellValue

SIZES_SHOWN = 3
_INCH_MARKS = re.compile("\u2033|\u201d|''|inches")
_FIRST_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")


def to_size(value: CellValue, od_system: str) -> str:
    """Return the size as the tables of its OD system print it.

    Parameters
    ----------
    value : CellValue
        Such as the number 8, or a text ``24"``, ``1 1/4``, ``DN110`` or ``8 IPS``.
    od_system : str
        IPS, DIPS, CTS, ISO, or OD whose size is the diameter with its unit.

    Raises
    ------
    CellError
        If the system has no such size, a diameter has no unit, or the spreadsheet has made a
        date of it.

    Examples
    --------
    >>> to_size(1.25, "IPS"), to_size("dn 110", "ISO"), to_size("335 MM", "OD")
    ('1-1/4', '110', '335 mm')
    """
    refuse_date(value)
    text = f"{value:.10g}" if isinstance(value, int | float) else str(value)
    try:
        return _canonical(tidy(text), od_system)
    except EstimatorError as error:
        raise CellError(f"{describe(value)} is not {_allowed(text, od_system)}") from error


def refuse_date(value: CellValue) -> None:
    """Refuse a size that the spreadsheet has made a date of.

    Raises
    ------
    CellError
        If it is a date.
    """
    if isinstance(value, dt.date):
        raise CellError(
            f"the spreadsheet turned a size such as 3/4 or 3-4 into {describe(value)}. Type the "
            "size as text, with an apostrophe in front: '3/4"
        )


@lru_cache(maxsize=1024)
def _canonical(text: str, od_system: str) -> str:
    bare = re.sub(rf"\b{od_system}\b", " ", text, flags=re.IGNORECASE)
    bare = _INCH_MARKS.sub('"', bare)
    return size_name(od_system, bare.strip())


def _nominal(size: str) -> float:
    return float(sum(Fraction(part) for part in size.split("-")))


def _allowed(text: str, od_system: str) -> str:
    if od_system == CUSTOM:
        return f"an outside diameter. Enter {custom_size_hint()}"
    sizes = list_sizes(od_system)
    span = f"a listed size. {od_system} sizes run from {sizes[0]} to {sizes[-1]}"
    typed = _FIRST_NUMBER.search(text)
    if typed is None:
        return span
    number = float(typed[0])
    near = sorted(sizes, key=lambda size: abs(_nominal(size) - number))[:SIZES_SHOWN]
    return f"{span}; nearest: {', '.join(sorted(near, key=_nominal))}"
