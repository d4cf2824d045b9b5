"""The one look of every sheet: type, colors, rows, numbers and the page that it prints on.

The file renderer, the renderer into an open workbook and the input template all take it from
here. Measures are those of paper: every page prints at 100 %, so a point on the sheet is one there.
"""

from collections.abc import Mapping
from math import floor, log10
from types import MappingProxyType
from typing import Literal

Paper = Literal["letter", "a4"]

FONT = "Arial"
TITLE, SECTION, TEXT, SMALL = 16.0, 11.0, 9.0, 8.0
"""Sizes of type in points: titles, sections, text and numbers, units and notes. None is smaller."""
LONG_TABLE = 8.5
"""Size of text and numbers in a long table that closes up to stay on few pages."""
PRICE = 18.0
"""Size of the one price that a client's page shows."""

INK, OCHRE = "1F3550", "B8741A"
"""Titles, rules and what is planned; and what needs a hand. In gray they print at 20 and 50 %."""
WARNING = "532A00"
"""Words that need a hand: ochre as dark as titles, so that gray print keeps their weight."""
TINT, OCHRE_TINT, INPUT = "E9EDF2", "F8EBDA", "FFF5D1"
"""Fills of sums and groups, of what needs a hand, and of cells to type in."""
HAIR, MUTED, WHITE = "C3CBD4", "4A5560", "FFFFFF"
"""The line under a row, units and notes, and text on a dark fill."""
BAR = "B9C6D6"
"""A bar within a cell."""
CRITICAL = "CD9242"
"""Joints of a run with no float: paler than ochre, so that small figures stand out in gray."""
SPAN, CRITICAL_SPAN, OFF, DUE = "C5CEDA", "F0D9BC", "EEEEEE", "D5DAE0"
"""Days of a run on the Gantt pages, those with no float, days without work, and due dates."""
LINE_MUTED, LINE_PALE = "8A94A3", "B9C2CE"
"""Lines of charts that stand behind the others."""
PIPE_WALL, BEAD = "DDE2E8", "8A95A3"
"""Fills of the drawings of a bead."""

ROW, TITLE_ROW, SUBTITLE_ROW, SECTION_ROW, TOTAL_ROW = 15.0, 23.25, 15.75, 20.25, 15.75
HEIGHT_STEP = 0.75
"""Heights of rows in points, and the step in which the programs keep them: a pixel."""
CLOSE_ROWS = (13.5, 12.0, 11.25)
"""Heights of the rows of a long table in smaller type, the roomiest first."""
LINE, LINES_MARGIN, LEAST_MARGIN = 11.6, 3.4, 0.25
"""Height in points that each line of wrapped text takes, and what a row adds to its lines; the
least that it adds in a table that closes up."""

NONE = '"\N{EN DASH}"'
WHOLE, ONE_PLACE = f"#,##0;-#,##0;{NONE}", f"#,##0.0;-#,##0.0;{NONE}"
PEOPLE = f"0.0#;-0.0#;{NONE}"
CENTS, THREE_PLACES = "#,##0.00", "#,##0.000"
TWO_PLACES = f"{CENTS};-{CENTS};{NONE}"
WHOLE_OF_TWO_PLACES = "#,##0_._0_0"
"""Whole, in a column of numbers with two places: units stand under units."""
PERCENT_0, PERCENT, PERCENT_2 = "0%", "0.0%", "0.00%"
SIGNED, SIGNED_PERCENT = f"+#,##0;-#,##0;{NONE}", f"+0.0%;-0.0%;{NONE}"
DATE, DATE_SHORT, DATE_TIGHT = "ddd d mmm yyyy", "d mmm yyyy", "d mmm yy"
DAY_TIGHT = "ddd d mmm yy"
WEEKDAY, DAY_MONTH, MONTH_YEAR = "ddd d mmm", "d mmm", "mmm yyyy"
MIN_SEC = "[m]:ss"
CLEAR = "_)"
"""End of a number format that keeps a number off the frame: programs indent texts alone."""
AS_TYPED = "General;-General"
"""As many digits as a number has. A bare General takes on the format of a cell it looks at."""
AXIS = "#,##0"
"""Number formats. Zero shows as a dash where it means none."""
GAUGE = f"[<99.95]{AXIS}.0;{AXIS}_._0"
"""A pressure as texts have it, a decimal below 100: units stand under units."""
US_DATES: Mapping[str, str] = MappingProxyType(
    {
        DATE: "ddd mmm d, yyyy",
        DATE_SHORT: "mmm d, yyyy",
        DATE_TIGHT: "mmm d 'yy",
        DAY_TIGHT: "ddd mmm d 'yy",
        WEEKDAY: "ddd mmm d",
        DAY_MONTH: "mmm d",
    }
)
"""What each format of a date is in US units."""

BOX_IN: Mapping[bool, float] = MappingProxyType({False: 7.1, True: 9.8})
"""Width of the page in inches, upright and across; it fits both papers."""
PIXELS_PER_INCH = 90.6
"""Pixels of column width that fill an inch: of 96, less what LibreOffice draws columns wider."""
POINTS_PER_INCH, PAGE_RESERVE = 72.0, 8.0
"""What a page keeps free: the programs round the heights of rows."""
LEAST_RESERVE = 3.25
"""Points that are free on the fullest page that a program breaks by itself."""
LIGHT_HEIGHT = 21.0
"""Points of a row with a light, which keeps off the rule above it."""
PAPER_CODES: Mapping[Paper, int] = MappingProxyType({"letter": 1, "a4": 9})
PAPER_OF_SYSTEM: Mapping[str, Paper] = MappingProxyType({"US": "letter", "SI": "a4"})
PAPER_OF_NAME: Mapping[str, Paper] = MappingProxyType({"Letter": "letter", "A4": "a4"})
"""Papers by the units of a job that names none, and by their names on the Job sheet."""
_PAPER_IN: Mapping[tuple[Paper, bool], float] = MappingProxyType(
    {("letter", False): 8.5, ("letter", True): 11.0, ("a4", False): 8.27, ("a4", True): 11.69}
)
_LEAST_MARGIN_IN = 0.4
FOOTER: Mapping[str, str] = MappingProxyType(
    {
        "Left": f'&"{FONT}"&8&F',
        "Center": f'&"{FONT}"&8&A',
        "Right": f'&"{FONT}"&8Page &P of &N',
    }
)
"""File, sheet and page at the foot of every printed page, in the codes of the programs."""


def paper_of(name: str | None, system: str) -> Paper:
    """Return the paper of a name on the Job sheet; without one, what goes with the units.

    >>> paper_of("A4", "US"), paper_of(None, "US")
    ('a4', 'letter')
    """
    return PAPER_OF_NAME[name] if name else PAPER_OF_SYSTEM[system]


def places(number: int) -> str:
    """Return the format of a number with so many decimals and its thousands marked.

    >>> places(0), places(2)
    ('#,##0', '#,##0.00')
    """
    return f"{AXIS}.{'0' * number}" if number else AXIS


def margins_in(paper: Paper | None, *, across: bool) -> Mapping[str, float]:
    """Return the margins of a page in inches: the page box stands in the middle of its paper.

    Who prints on the other paper changes that alone: beside these margins it holds the box, too.

    >>> margins_in("letter", across=False)["left"], margins_in("letter", across=False)["right"]
    (0.68, 0.45)
    """
    middle = (_PAPER_IN[paper or "letter", across] - BOX_IN[across]) / 2 - 0.02
    narrower = min(_PAPER_IN[each, across] for each in PAPER_CODES)
    beside = narrower - BOX_IN[across] - 2 * 0.02
    left = min(middle, beside - _LEAST_MARGIN_IN)
    return {
        "left": round(left, 3),
        "right": round(min(middle, beside - left), 3),
        "top": 0.6,
        "bottom": 0.6,
        "header": 0.3,
        "footer": 0.3,
    }


def page_height(paper: Paper, *, across: bool, spare: float = PAGE_RESERVE) -> float:
    """Return the points of rows that fit on one page, some of them kept free.

    >>> page_height("a4", across=True), page_height("a4", across=True, spare=0.0)
    (501.04, 509.04)
    """
    margins = margins_in(paper, across=across)
    inches = _PAPER_IN[paper, not across] - margins["top"] - margins["bottom"]
    return round(inches * POINTS_PER_INCH - spare, 2)


def pixels_of(width: float) -> float:
    """Return how many pixels a column of a width in characters takes.

    The normal font's figures are 7 pixels broad (Arial 10 and Calibri 11 alike); 5 more are edge.

    >>> pixels_of(10)
    75
    """
    return 7 * width + 5


def box_pixels(*, across: bool) -> float:
    """Return the pixels of column width that fit on one page."""
    return BOX_IN[across] * PIXELS_PER_INCH


STEPS, ROUND_STEPS = 4.0, (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 10.0)
"""Steps of an axis, and what one of them may be, times a power of ten."""
THOUSAND, MILLION = 1_000, 1_000_000
SCALES = {"": "", "k": " thousand", "M": " million"}


def money_axis(currency: str) -> str:
    """Return the format of the labels of a money axis: $1.0M, $250k.

    >>> money_axis("$")
    '[>=999950]"$"0.0,,"M";[>=9950]"$"0,"k";"$"#,##0'
    """
    sign = _sign(currency)
    return f'[>=999950]{sign}0.0,,"M";[>=9950]{sign}0,"k";{sign}#,##0'


def axis_end(most: float) -> float:
    """Return where an axis from zero ends that shows so much in four even steps.

    >>> axis_end(1_264_851), axis_end(303), axis_end(0)
    (1600000.0, 400.0, 4.0)
    """
    if most <= 0:
        return STEPS
    power = 10.0 ** floor(log10(most / STEPS))
    step = next(step for step in ROUND_STEPS if step * power * STEPS >= most)
    return step * power * STEPS


def axis_about(least: float, most: float) -> tuple[float, float]:
    """Return where an axis of four even steps begins and ends that shows two amounts apart.

    >>> axis_about(807_721, 1_269_331), axis_about(54_382, 86_104)
    ((750000.0, 1350000.0), (50000.0, 90000.0))
    """
    apart = most - least or abs(most) or 1.0
    power = 10.0 ** floor(log10(apart / STEPS))
    for step in (power * round_step for round_step in (*ROUND_STEPS, 2 * ROUND_STEPS[-1])):
        start = floor(least / step) * step
        if start + step * STEPS >= most:
            break
    return start, start + step * STEPS


def money_steps(currency: str, most: float, step: float) -> str:
    """Return the format of amounts, also below zero, that lie a step apart: $1.13M, -$40k.

    >>> money_steps("$", 1_230_000, 200_000), money_steps("$", 53_000, 10_000)
    ('"$"0.0,,"M";-"$"0.0,,"M";"$"0', '"$"#,##0,"k";-"$"#,##0,"k";"$"0')
    """
    code, scale = _scaled(most, step)
    sign = _sign(currency)
    code = f'{code}"{scale}"' if scale else code
    return f"{sign}{code};-{sign}{code};{sign}0"


def bare_steps(currency: str, most: float, step: float) -> tuple[str, str]:
    """Return the format of amounts without their unit, and the unit for the title of the axis.

    >>> bare_steps("$", 1_230_000, 10_000), bare_steps("$", 53_000, 1_000)
    (('0.00,,', '$ million'), ('#,##0,', '$ thousand'))
    """
    code, scale = _scaled(most, step)
    return code, f"{currency}{SCALES[scale]}"


def _scaled(most: float, step: float) -> tuple[str, str]:
    """Return the digits that part amounts a step apart, and the scale they are counted in."""
    if most >= MILLION and step >= MILLION / 100:
        decimals = next((n for n in (0, 1) if not step % (MILLION / 10**n)), 2)
        return f"0{'.' if decimals else ''}{'0' * decimals},,", "M"
    if most >= 10 * THOUSAND and step >= THOUSAND:
        return "#,##0,", "k"
    return "#,##0", ""


def _sign(currency: str) -> str:
    bare = currency.replace('"', "")
    return f'"{bare} "' if bare[-1:].isalnum() else f'"{bare}"'
