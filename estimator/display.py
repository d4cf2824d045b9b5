"""SI numbers in the user's units, for messages and result sheets."""

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType
from typing import Literal

from estimator.models.choice import Reason
from estimator.units import UNITS, from_si

UnitSystem = Literal["US", "SI"]
OTHER: Mapping[UnitSystem, UnitSystem] = MappingProxyType({"US": "SI", "SI": "US"})
"""The unit system that is not the job's."""
KEPT_BLANK = "\N{NO-BREAK SPACE}"
"""Blank at which a line of text is not broken."""
_UNITS = "|".join(re.escape(unit) for unit in (*UNITS, "kVA", "V", "Hz", "hours"))
_WHOLE = re.compile(
    rf"\d (?:{_UNITS})(?![\w/])|\b\d+ [A-Z][a-z]{{2}} \d{{4}}|\b[A-Z][a-z]{{2}} \d+, \d{{4}}"
)

UNIT_LABELS: Mapping[str, Mapping[UnitSystem, str]] = MappingProxyType(
    {
        "length": {"US": "ft", "SI": "m"},
        "segments": {"US": "ft", "SI": "m"},
        "small_length": {"US": "in", "SI": "mm"},
        "area": {"US": "in2", "SI": "mm2"},
        "pressure": {"US": "psi", "SI": "bar"},
        "temperature": {"US": "F", "SI": "C"},
        "mass": {"US": "lb", "SI": "kg"},
        "power": {"US": "kW", "SI": "kW"},
        "volume": {"US": "gal", "SI": "L"},
        "flow": {"US": "gal/min", "SI": "L/s"},
        "fuel_rate": {"US": "gal/h", "SI": "L/h"},
        "weight_per_length": {"US": "lb/ft", "SI": "kg/m"},
        "force": {"US": "lbf", "SI": "kN"},
        "time_per_wall": {"US": "min/in", "SI": "s/mm"},
        "time": {"US": "min", "SI": "min"},
    }
)
"""Unit shown for each physical kind in each unit system; all are labels of estimator.units."""

FINEST: Mapping[str, float] = MappingProxyType(
    {"in": 0.01, "mm": 0.1, "psi": 1.0, "bar": 0.1, "F": 1.0, "C": 1.0}
)
"""Last digit shown of each unit; minima are rounded up to it and maxima down."""
TINY = 1e-9
"""Part of a digit that is rounding noise."""

METHOD_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "f2620": "ASTM F2620",
        "iso21307-slp": "ISO 21307, single low pressure",
        "iso21307-dlp": "ISO 21307, dual low pressure",
        "iso21307-shp": "ISO 21307, single high pressure",
        "dvs2207": "DVS 2207-1",
        "dvs2207-2005": "DVS 2207-1:2005 (superseded)",
    }
)

FIGURE_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "od_mm": "Outside diameter",
        "wall_mm": "Minimum wall",
        "mean_wall_mm": "Average wall",
        "id_mm": "Average inside diameter",
        "weight_kg_m": "Weight",
        "joint_area_mm2": "Joint area",
        "heater_c": "Heater surface temperature",
        "interfacial_mpa": "Interfacial pressure",
        "bead_min_mm": "Min bead",
        "soak_s": "Heat soak",
        "open_close_max_s": "Maximum open/close time",
        "ramp_max_s": "Maximum pressure build-up time",
        "cool_s": "Cool under pressure",
        "rest_s": "Cooling rest before handling",
        "force_n": "Fusion force",
        "force_range_n": "Fusion force, low to high",
        "gauge_mpa": "Gauge pressure with drag",
        "gauge_range_mpa": "Gauge pressure, low to high",
    }
)
"""What each figure of a joint is called, by its key in the machine-readable results."""

MOST_RUNS_NAMED, FIRST_RUNS_NAMED, RUNS_TO_MOVE = 6, 3, 12
"""Runs up to which a message names each, how many it names of more than these, and up to how many
it names each where it says what to do with them.
"""
FIGURES, CENTS = 6, 2
MORE_DIGITS = 7
"""Digits more, at most, that a figure is given to differ from its limit."""
NOISE = 1e-12
DECIMALS: Mapping[str, int] = MappingProxyType({"small_length": 3, "force": 1, "power": 1})


PAY_LENGTH: Mapping[UnitSystem, str] = MappingProxyType({"US": "LF", "SI": "m"})
"""Unit in which length of pipe is priced."""
LUMP_SUM, EACH = "LS", "EA"
"""Units of an item that is paid once, and by the piece."""


def money_text(currency: str, amount: float | Decimal, places: int = 0) -> str:
    """Return an amount as a sentence says it, a sign close to it and letters with a blank.

    >>> money_text("$", 4968.4), money_text("CAD", 12.5, 2)
    ('$4,968', 'CAD 12.50')
    """
    return f"{money_sign(currency)}{amount:,.{places}f}"


def money_sign(currency: str) -> str:
    """Return what stands before an amount in a sentence."""
    return f"{currency} " if currency[-1:].isalnum() else currency


def unit_of(kind: str, system: UnitSystem) -> str:
    """Return the unit label of a physical kind."""
    return UNIT_LABELS[kind][system]


def convert(value: float, kind: str, system: UnitSystem) -> float:
    """Return an SI value of a physical kind in the user's unit."""
    return from_si(value, unit_of(kind, system))


def show(value: float, kind: str, system: UnitSystem) -> str:
    """Return an SI value with its unit, as text for a message, to four figures at most.

    >>> show(14.2, "power", "US")
    '14.2 kW'
    """
    return _shown(value, kind, system, 0)


def _shown(value: float, kind: str, system: UnitSystem, more_digits: int) -> str:
    shown = convert(value, kind, system)
    digits = DECIMALS.get(kind, 0 if abs(shown) >= 100 else 1) + more_digits
    text = f"{shown:,.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit_of(kind, system)}"


def show_apart(need: float, limit: float, kind: str, system: UnitSystem) -> tuple[str, str]:
    """Return what is needed and a limit, as ``show`` does, in digits in which they differ.

    >>> show_apart(0.2743, 0.27, "pressure", "SI"), show_apart(2.0, 2.0, "power", "SI")
    (('2.74 bar', '2.7 bar'), ('2 kW', '2 kW'))
    """
    texts = [(_shown(need, kind, system, more), _shown(limit, kind, system, more))
             for more in range(MORE_DIGITS)]  # fmt: skip
    return next((pair for pair in texts if pair[0] != pair[1]), texts[0])


def show_need(need: float, in_stock: Sequence[float], kind: str, system: UnitSystem) -> str:
    """Return what is needed beside the most that is in stock, none of which is enough.

    >>> show_need(283.4, [120.0, 283.0], "mass", "SI"), show_need(7.0, [], "power", "SI")
    ('283.4 kg; the largest in stock has 283 kg', '7 kW or more')
    """
    if not in_stock:
        return f"{show(need, kind, system)} or more"
    asked, most = show_apart(need, max(in_stock), kind, system)
    return f"{asked}; the largest in stock has {most}"


def figure(value: float) -> str:
    """Return a number as a sum shows it: whole and to the cent as it is, else to six figures.

    Large numbers keep their cents; thousands are marked.

    >>> figure(30.0), figure(971534.91), figure(1.4117647), figure(31952.0949)
    ('30', '971,534.91', '1.41176', '31,952.09')
    """
    if abs(value - round(value, CENTS)) < NOISE * max(1.0, abs(value)):
        return f"{value:,.{CENTS}f}".rstrip("0").rstrip(".")
    before = max(0, math.floor(math.log10(abs(value))) + 1)
    if before == 0:
        return f"{value:.{FIGURES}g}" if abs(value) >= 1e-4 else f"{value:.12f}".rstrip("0")
    return f"{value:,.{max(CENTS, FIGURES - before)}f}".rstrip("0").rstrip(".")


def limit_text(value: float, unit: str, *, up: bool) -> str:
    """Return a limit to the digit shown of its unit: a minimum rounded up, a maximum down.

    >>> limit_text(204.444, "C", up=True), limit_text(6.20528, "bar", up=False)
    ('205', '6.2')
    """
    step = FINEST[unit]
    steps = math.ceil(value / step - TINY) if up else math.floor(value / step + TINY)
    return f"{steps * step:.{max(0, -math.floor(math.log10(step)))}f}"


def describe(reason: Reason, system: UnitSystem) -> str:
    """Return a reason in words, its numbers in the user's units."""
    return describe_alike((reason,), system)


def limits_apart(
    pairs: Sequence[tuple[float, float]], kind: str, system: UnitSystem
) -> tuple[str, str]:
    """Return what is needed and the limits that it is held against, their unit once.

    >>> limits_apart([(283.4, 120.0), (283.4, 283.0)], "mass", "SI")
    ('283.4 kg', '120, 283 kg')
    """
    apart = [show_apart(need, limit, kind, system) for need, limit in pairs]
    *bare, (_, last) = apart
    limits = ", ".join([*(limit.rpartition(" ")[0] for _, limit in bare), last])
    return max((need for need, _ in apart), key=len), limits


def describe_alike(reasons: Sequence[Reason], system: UnitSystem) -> str:
    """Return reasons that differ in nothing but their limits as one text."""
    first = reasons[0]
    if not first.kind:
        return first.text
    pairs = [(one.need, one.limit) for one in reasons]
    need, limits = limits_apart(pairs, first.kind, system)
    return first.text.replace("{need}", need).replace("{limit}", limits)


def show_date(date: dt.date, system: UnitSystem) -> str:
    """Return a date in the order of those who use the units.

    >>> show_date(dt.date(2027, 3, 1), "US"), show_date(dt.date(2027, 3, 1), "SI")
    ('Mar 1, 2027', '1 Mar 2027')
    """
    day = show_day_of_year(date, system)
    return f"{day}, {date.year}" if system == "US" else f"{day} {date.year}"


def show_span(first: dt.date, last: dt.date, system: UnitSystem) -> str:
    """Return two dates, the year once where both have the same.

    >>> show_span(dt.date(2027, 3, 1), dt.date(2027, 7, 20), "US")
    'Mar 1 to Jul 20, 2027'
    >>> show_span(dt.date(2027, 3, 1), dt.date(2028, 7, 20), "SI")
    '1 Mar 2027 to 20 Jul 2028'
    """
    shown = show_day_of_year if first.year == last.year else show_date
    return f"{shown(first, system)} to {show_date(last, system)}"


def show_day(date: dt.date, system: UnitSystem) -> str:
    """Return a date with its day of the week.

    >>> show_day(dt.date(2027, 3, 1), "US"), show_day(dt.date(2027, 3, 1), "SI")
    ('Mon Mar 1, 2027', 'Mon 1 Mar 2027')
    """
    return f"{date:%a} {show_date(date, system)}"


def show_weekday(date: dt.date, system: UnitSystem) -> str:
    """Return a date of the present year with its day of the week.

    >>> show_weekday(dt.date(2027, 3, 1), "US"), show_weekday(dt.date(2027, 3, 1), "SI")
    ('Mon Mar 1', 'Mon 1 Mar')
    """
    return f"{date:%a} {show_day_of_year(date, system)}"


@lru_cache(maxsize=4096)
def show_day_of_year(date: dt.date, system: UnitSystem) -> str:
    """Return a date without its year.

    >>> show_day_of_year(dt.date(2027, 3, 1), "US"), show_day_of_year(dt.date(2027, 3, 1), "SI")
    ('Mar 1', '1 Mar')
    """
    return f"{date:%b} {date.day}" if system == "US" else f"{date.day} {date:%b}"


def segments_text(lengths: Sequence[float]) -> str:
    """Return lengths as the pipe schedule lists segments; equal ones once, with their number.

    >>> segments_text([60.0] * 14 + [95.0]), segments_text([700, 1450])
    ('14 x 60; 95', '700; 1450')
    """
    pieces = ((length, len(list(same))) for length, same in groupby(lengths))
    return "; ".join(
        f"{number} x {length:.10g}" if number > 1 else f"{length:.10g}" for length, number in pieces
    )


def sentence(text: str) -> str:
    """Return a text that begins with a capital letter.

    >>> sentence("class G30 with crew 1"), sentence("")
    ('Class G30 with crew 1', '')
    """
    return text[:1].upper() + text[1:]


def unbroken(text: str) -> str:
    """Return a text that is not broken between a number and its unit, nor within a date.

    >>> [len(part) for part in unbroken("24 in by Feb 8, 2027").split(" ")]
    [5, 2, 11]
    """
    return kept_whole(_WHOLE, text)


def kept_whole(parts: re.Pattern[str], text: str) -> str:
    """Return a text that is not broken within the parts of it that a pattern finds."""
    return parts.sub(lambda found: found[0].replace(" ", KEPT_BLANK), text)


def counted(number: float, noun: str) -> str:
    """Return a number with its noun, in the plural but for one.

    >>> counted(1, "run"), counted(1200, "butt joint")
    ('1 run', '1,200 butt joints')
    """
    return f"{number:,} {noun}{'s' * (number != 1)}"


def phrase(parts: Sequence[str]) -> str:
    """Return parts as a phrase.

    >>> phrase(["a", "b", "c"]), phrase(["a"]), phrase([])
    ('a, b and c', 'a', '')
    """
    *most, last = parts or [""]
    return f"{', '.join(most)} and {last}" if most else last


def name_runs(run_ids: Sequence[str], most: int = MOST_RUNS_NAMED) -> str:
    """Return run names for a message: all of a few; of many the first, and how many more.

    >>> name_runs(["R1", "R2"]), name_runs("ABCDEFG"), name_runs("ABCDEFG", RUNS_TO_MOVE)
    ('runs R1, R2', 'runs A, B, C and 4 more', 'runs A, B, C, D, E, F, G')
    """
    word = "run" if len(run_ids) == 1 else "runs"
    if len(run_ids) <= most:
        return f"{word} {', '.join(run_ids)}"
    more = len(run_ids) - FIRST_RUNS_NAMED
    return f"{word} {', '.join(run_ids[:FIRST_RUNS_NAMED])} and {more} more"
