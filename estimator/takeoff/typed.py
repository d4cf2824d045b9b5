"""What people type in takeoffs, read: counts, lengths, sizes, ratios, prices and words.

Every function takes one cell's value, and raises ``CellError`` with what was found and what is
allowed where it cannot be read in one way alone.
"""

import re
from collections.abc import Sequence

from estimator.data_class import dataclass
from estimator.input_errors.entries import describe
from estimator.input_errors.values import not_whole
from estimator.inputs.dictionary import squeeze
from estimator.takeoff import words
from estimator.units import from_si, to_si
from estimator.workbook.read import cells
from estimator.workbook.read.cells import CellError, tidy
from estimator.workbook.read.size_text import refuse_date
from estimator.workbook.read.unit_text import labels_of_kind, unit_label
from estimator.workbook.sheet.source import CellValue

MOST_EQUAL = 1000
INCHES_IN_A_FOOT = 12

_FOOT, _INCH = "(?:'|\u2032|\u2019|ft\\.?|feet|foot)", "(?:\"|\u2033|\u201d|''|in\\.?|inch(?:es)?)"
_NUMBER = r"\d[\d,]*(?:\.\d+)?"
_FEET_INCHES = re.compile(
    rf"({_NUMBER})\s*{_FOOT}\s*-?\s*(\d+(?:\.\d+)?)?(?:[ -]?(\d+)/(\d+))?\s*{_INCH}", re.IGNORECASE
)
_UP_TO_LAST_DIGIT = re.compile(r"(.*\d\.?)\s*(.*)", re.DOTALL)
_STATION = re.compile(r"(?:sta\.?\s*)?(\d+)\+(\d{2}(?:\.\d+)?|\d{3}(?:\.\d+)?)", re.IGNORECASE)
_TIMES = re.compile(r"(\d{1,6})\s*(?:[x\u00d7*@]|ea\.?\s*@?)\s*(\S.*)", re.IGNORECASE)
_PER = re.compile(r"\s*(?:/|\bper\b)\s*", re.IGNORECASE)
_COMMA_DECIMAL = re.compile(r"(?<![\d.,])(\d{1,3}(?:\.\d{3})+|\d+),(\d+)(?![\d.,])")
_RATIO = re.compile(r"\bS?DR[\s-]*(\d+(?:\.\d+)?)\b", re.IGNORECASE)
_FRACTION = r"\d+(?:\.\d+|[ -]+\d+/\d+|/\d+)?"
_INCH_MARK = "(?:\"|\u2033|\u201d|''|-?\\s*(?:in|inch|inches)\\b\\.?)"
_SIZES = (
    re.compile(rf"(?<![\d./])({_FRACTION})\s*{_INCH_MARK}", re.IGNORECASE),
    re.compile(r"\bDN\s*(\d+)\b", re.IGNORECASE),
    re.compile(r"(?<![\d.])(\d+)\s*mm\b", re.IGNORECASE),
)
_TWO_SIZES = re.compile(
    rf"(?<![\d./])({_FRACTION})\s*{_INCH_MARK}?\s*(?:[x\u00d7]|to|by)\s*({_FRACTION})"
    rf"(?:\s*{_INCH_MARK}?\s*[x\u00d7]\s*({_FRACTION}))?",
    re.IGNORECASE,
)
_SIZE_MARKS = re.compile("^(?:\u2300|\u00d8|dia\\.?\\s|nom\\.?\\s)+", re.IGNORECASE)
_COUNT_FIRST = re.compile(r"^\(?(\d{1,5})\)?\s*(?:ea\.?|each|pcs?\.?|[x\u00d7]|-)\s", re.IGNORECASE)
_COUNT_IN_BRACKETS = re.compile(r"\(\s*(\d{1,5})\s*(?:ea\.?|each|pcs?\.?)?\s*\)", re.IGNORECASE)
_COUNT_SAID = re.compile(r"(?<![\d./])(\d{1,5})\s*(?:ea|each|pcs?|pieces|nos?)\b", re.IGNORECASE)
_COUNT_BEFORE_KIND = re.compile(
    r"^\(?(\d{1,3})\)?(?:\s*[-x\u00d7]\s*|\s+|(?<=\))|(?=(?!x\d)[a-z]))"
    r"(?=(?:90|60|45|30|22|11)\b|[a-z]|\d+(?:[.-]\d+)*\s*(?:x|\"|in\b))",
    re.IGNORECASE,
)
_FRACTION_OF_ANGLE = r"(?:[ -](\d)/([1-9]))?"
_ANGLE_BARE = re.compile(
    rf"(?<![\d./])(90|45|22(?:\.50?)?|11(?:\.25)?){_FRACTION_OF_ANGLE}"
    r"(?:s\b|\s*-?\s*(?:\u00b0|deg\w*\.?)?\s*-?\s*(?:elbow|ell|el\b|bend))",
    re.IGNORECASE,
)
_ANGLE_MARKED = re.compile(
    rf"(?<![\d./])(\d{{1,2}}(?:\.\d+)?){_FRACTION_OF_ANGLE}\s*-?\s*(?:\u00b0|deg(?:ree)?s?\b)",
    re.IGNORECASE,
)
IN_THE_TRADE = {22.0: 22.5, 11.0: 11.25}
RIGHT_ANGLE = 90
_LENGTH_SAID = re.compile(
    rf"({_NUMBER})\s*(lin\.?\s*ft|linear\s+f(?:ee)?t|l\.?f|ft|feet|lm|m|met(?:er|re)s)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Measured:
    """A number with the label of the unit that was typed with it, empty for none."""

    number: float
    unit: str = ""

    def within(self, unit: str) -> float:
        """Return the number in a unit; as it is where it has no unit of its own."""
        if self.unit in ("", unit):
            return self.number
        return from_si(to_si(self.number, self.unit), unit)


def is_nothing(value: CellValue) -> bool:
    """Return whether a cell says that there is nothing: blank, a dash, n/a, none.

    >>> [is_nothing(text) for text in ("-", " N/A ", "\u2014", "0", "x")]
    [True, True, True, False, False]
    """
    if cells.is_blank(value):
        return True
    if not isinstance(value, str):
        return False
    return squeeze(tidy(value)) in words.spelled("nothing")


def with_points(value: CellValue) -> CellValue:
    """Return a text whose decimals are marked by commas with points instead.

    >>> with_points("1.450,5 m"), with_points("731,5 + 12")
    ('1450.5 m', '731.5 + 12')
    """
    if not isinstance(value, str):
        return value
    return _COMMA_DECIMAL.sub(lambda found: f"{found[1].replace('.', '')}.{found[2]}", value)


def has_comma_decimals(value: CellValue) -> bool:
    """Return whether a text can only be read with a comma before its decimals.

    >>> has_comma_decimals("731,5 m"), has_comma_decimals("1,450"), has_comma_decimals("1,450.5")
    (True, False, False)
    """
    if not isinstance(value, str):
        return False
    found = _COMMA_DECIMAL.search(value)
    return found is not None and ("." in found[1] or len(found[2]) != 3)


def to_count(value: CellValue) -> int:
    """Return a count of pieces, whatever word for a piece stands behind it.

    >>> to_count("8 ea"), to_count("(12)"), to_count(3.0)
    (8, 12, 3)
    """
    if isinstance(value, str):
        number, rest = _split(value.strip().removeprefix("(").removesuffix(")"))
        if rest and words.plain(rest) not in words.exactly("count"):
            raise CellError(f"{describe(value)} is not a count. Enter a whole number, such as 8 ea")
    else:
        number = cells.to_number(value)
    if number != int(number):
        raise CellError(not_whole(describe(value)))
    if number < 0:
        raise CellError(f"{describe(value)} is below zero. Enter 0 or more")
    return int(number)


def to_measured(value: CellValue) -> Measured:
    """Return a length with the unit typed behind it.

    >>> to_measured("731.5 m"), to_measured("40' 6 in")
    (Measured(number=731.5, unit='m'), Measured(number=40.5, unit='ft'))
    """
    if not isinstance(value, str):
        return Measured(cells.to_number(value))
    text = tidy(value)
    found = _FEET_INCHES.fullmatch(text)
    if found is not None:
        return Measured(_feet(found), "ft")
    number, rest = _split(text)
    if not rest:
        return Measured(number)
    label = unit_label(rest.rstrip(".") or rest) or unit_label(rest)
    if label not in labels_of_kind("length"):
        allowed = ", ".join(labels_of_kind("length"))
        raise CellError(f"{describe(value)} is not a length. Use a number, or one with: {allowed}")
    return Measured(number, str(label))


def to_lengths(value: CellValue) -> tuple[Measured, ...]:
    """Return one length or several, added up or said as so many equal ones.

    >>> [one.number for one in to_lengths("700 + 1450")], len(to_lengths("14 x 60 ft"))
    ([700.0, 1450.0], 14)
    """
    if not isinstance(value, str):
        return (to_measured(value),)
    text = tidy(value)
    if _STATION.fullmatch(text):
        raise CellError(
            f"{describe(value)} is a station, or lengths added up. Type lengths with spaces around "
            "the plus sign, or name the columns From station and To station"
        )
    pieces = [piece.strip() for piece in re.split(r"[;+]", text.rstrip("; "))]
    lengths = tuple(length for piece in pieces for length in _equal_ones(piece))
    units = {one.unit for one in lengths if one.unit}
    if len(units) == 1:
        return tuple(Measured(one.number, one.unit or next(iter(units))) for one in lengths)
    return lengths


def to_stick(value: CellValue) -> tuple[Measured, str]:
    """Return the length of one stick or coil, and which of them it says it is (or neither).

    >>> to_stick("500 coil"), to_stick("40' sticks")
    ((Measured(number=500.0, unit=''), 'coil'), (Measured(number=40.0, unit='ft'), 'stick'))
    """
    if not isinstance(value, str):
        return to_measured(value), ""
    said = words.find("coil", value)
    if said is None:
        return to_measured(value), ""
    bare = re.sub(rf"\b{re.escape(said.text)}\b\.?", " ", value, flags=re.IGNORECASE)
    return to_measured(re.sub(r"^\s*of\s|\sof\s*$", " ", bare).strip(" -")), said.meaning


def to_station(value: CellValue) -> float:
    """Return the distance that a station stands for, in its own feet or meters.

    >>> to_station("12+50"), to_station("0+000.5")
    (1250.0, 0.5)
    """
    found = _STATION.fullmatch(tidy(value)) if isinstance(value, str) else None
    if found is None:
        return cells.to_number(value)
    return float(f"{found[1]}{found[2]}")


def to_price(value: CellValue) -> Measured:
    """Return an amount of money and the unit of length that it is for.

    >>> to_price("$42.00/ft"), to_price("1,042 per m")
    (Measured(number=42.0, unit='ft'), Measured(number=1042.0, unit='m'))
    """
    if not isinstance(value, str):
        return Measured(cells.to_number(value))
    amount, *per = _PER.split(tidy(value))
    if not per:
        return Measured(cells.to_amount(amount))
    label = unit_label(per[0])
    if len(per) > 1 or label not in labels_of_kind("length"):
        raise CellError(f"{describe(value)} is not a price per length. Enter such as 42.00/ft")
    return Measured(cells.to_amount(amount), str(label))


def to_ratio(value: CellValue) -> float:
    """Return a dimension ratio; what else stands in the text is left aside if DR names it."""
    if isinstance(value, str):
        said = ratio_in(value)
        return said if said is not None else cells.to_ratio(value)
    return cells.to_number(value)


def ratio_in(text: str) -> float | None:
    """Return the dimension ratio that a text names, None if it names none or several.

    >>> ratio_in("12 in SDR-17 HDPE"), ratio_in("PC 160")
    (17.0, None)
    """
    found = {float(hit) for hit in _RATIO.findall(text)}
    return found.pop() if len(found) == 1 else None


def to_size(value: CellValue) -> str:
    """Return a size without the marks that people set before it, as the size tables read it."""
    refuse_date(value)
    text = cells.to_text(value) if not isinstance(value, str) else tidy(value)
    bare = _SIZE_MARKS.sub("", text)
    od_system = words.find("od_system", bare)
    if od_system is not None and od_system.text.isalpha():
        bare = re.sub(rf"\b{od_system.text}\b", "", bare, flags=re.IGNORECASE)
    bare = re.sub(r"(?<=[\d ])-?\s*inch\b|(?<=\d)-in\b", " in", bare, flags=re.IGNORECASE)
    return bare.strip(" ,")


def size_in(text: str) -> str | None:
    """Return the first size that a text names with its unit.

    >>> size_in('12" DR 17 HDPE'), size_in("1-1/4 in ell"), size_in("DN 315 bend"), size_in("bend")
    ('12 in', '1-1/4 in', '315', None)
    """
    for pattern, unit in zip(_SIZES, (" in", "", " mm"), strict=True):
        found = pattern.search(text)
        if found is not None:
            return f"{found[1]}{unit}"
    return None


def two_sizes_in(text: str) -> tuple[str, str] | None:
    """Return the larger and the smaller size of a reducer, or of a reducing tee.

    >>> two_sizes_in("24x24x12 reducing tee")
    ('24', '12')
    >>> two_sizes_in("12x8 reducer"), two_sizes_in('10" to 6" red.'), two_sizes_in("12 in")
    (('12', '8'), ('10', '6'), None)
    """
    found = _TWO_SIZES.search(text)
    return None if found is None else (found[1], found[3] or found[2])


def count_in(text: str) -> int | None:
    """Return the number of pieces that a text says, None if it says none.

    >>> count_in("12 in 90 ell, 8 ea"), count_in("(2) 45 bends"), count_in("3 x tee")
    (8, 2, 3)
    """
    for pattern in (_COUNT_SAID, _COUNT_IN_BRACKETS, _COUNT_FIRST):
        found = pattern.search(text)
        if found is not None:
            return int(found[1])
    return None


def count_before(text: str) -> int | None:
    """Return the number with which an entry of a list of fittings begins, None for none.

    >>> count_before("2-90 ell"), count_before("3 tees"), count_before("1 8x6 reducer")
    (2, 3, 1)
    >>> count_before("8x6 reducer"), count_before("tee")
    (None, None)
    """
    said = count_in(text)
    found = _COUNT_BEFORE_KIND.search(text.strip())
    return said if said is not None or found is None else int(found[1])


def angle_in(text: str) -> float | None:
    """Return the angle in degrees that a text gives an elbow, None if it gives none or several.

    In the trade 22 is 22.5 and 11 is 11.25.

    >>> [angle_in(text) for text in ("12 in 90 ell", "24 in 45-degree bend", "11-1/4 bends", "22s")]
    [90.0, 45.0, 11.25, 22.5]
    >>> [angle_in(text) for text in ("60 deg elbow", "elbow, 30\u00b0", "8 in ell", "6 ells")]
    [60.0, 30.0, None, None]
    """
    found = {
        IN_THE_TRADE.get(angle, angle)
        for pattern in (_ANGLE_BARE, _ANGLE_MARKED)
        for whole, above, below in pattern.findall(text)
        if 1 <= (angle := float(whole) + (int(above) / int(below) if above else 0.0)) <= RIGHT_ANGLE
    }
    return found.pop() if len(found) == 1 else None


def length_in(text: str) -> Measured | None:
    """Return the one length in feet or meters that a text says, None if it says none or several.

    >>> length_in('12" DR 17 pipe, 1,450 LF open cut')
    Measured(number=1450.0, unit='ft')
    """
    found = _LENGTH_SAID.findall(text)
    if len(found) != 1:
        return None
    number, unit = found[0]
    return Measured(cells.to_number(number), unit_label(unit) or "ft")


def _split(text: str) -> tuple[float, str]:
    found = _UP_TO_LAST_DIGIT.fullmatch(text.strip())
    if found is None:
        raise cells.not_a_number(text)
    return cells.to_number(found[1]), found[2].strip()


def _feet(match: re.Match[str]) -> float:
    feet, inches, above, below = match.groups()
    whole = float(inches or 0)
    part = int(above) / int(below) if above and int(below) else 0.0
    if not inches and not above:
        raise CellError(f"{describe(match[0])} is not a length in feet and inches, such as 40'-6\"")
    return cells.to_number(feet) + (whole + part) / INCHES_IN_A_FOOT


def _equal_ones(piece: str) -> Sequence[Measured]:
    found = _TIMES.fullmatch(piece)
    if found is None:
        return (to_measured(piece),)
    number = int(found[1])
    if not 1 <= number <= MOST_EQUAL:
        raise CellError(
            f"{describe(piece)} is outside the allowed range (1 to {MOST_EQUAL:,} equal lengths)"
        )
    return (to_measured(found[2]),) * number
