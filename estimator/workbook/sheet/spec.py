"""What a result sheet looks like, whichever program or file it is then written to."""

import dataclasses
import datetime as dt
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING, Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.workbook.sheet.look import AXIS, DATE_TIGHT, INK, Paper

if TYPE_CHECKING:
    from estimator.workbook.sheet.foot import Foot

Value = str | int | float | bool | dt.date | None
RuleKind = Literal["text equals", "data bar", "formula"]
ChartKind = Literal["line", "points", "bar", "column"]
Side = Literal["right", "left", "above", "below"]

LONGEST_ARRAY_FORMULA = 255
PATH_POINTS: Mapping[str, int] = {"M": 1, "L": 1, "C": 3, "Z": 0}
"""How many points each command of a path has."""
"""Letters that Excel takes where a program sets an array formula."""
_ARRAY_START = "SUM(IF("
_LITERAL = re.compile(r'"[^"]*"')
_OF_ONE_LANGUAGE = re.compile(r"\w\(|[,;]|\d\.\d|TRUE|FALSE")


def needs_array(formula: str) -> bool:
    """Return whether a formula must be written as an array formula.

    Excel takes IF cell by cell only in one, so a formula that begins so is always one, in our
    descriptions and in result sheets that are read back.
    """
    return formula.startswith(_ARRAY_START)


class Cell(NamedTuple):
    """One cell: a value, or a formula with the value that it gives.

    Parameters
    ----------
    value : str, int, float, bool, datetime.date or None
        What the cell shows. Text is data whatever it starts with; it never becomes a formula.
    style : str
        Key of ``styles.STYLES``.
    formula : str, optional
        Formula in A1 notation and English function names, without the leading ``=``; ``value``
        is then its result, for programs that show without calculating.
    """

    value: Value
    style: str = "text"
    formula: str | None = None


@dataclasses.dataclass(frozen=True, slots=True)
class Row:
    """One row from column A on; None leaves a cell out. Height in points, None is the layout's."""

    cells: Sequence[Cell | None]
    height: float | None = None


@dataclass(frozen=True)
class ConditionalRule:
    """A look that depends on the values.

    Parameters
    ----------
    cells : str
        Range it applies to, such as ``B4:B20``.
    kind : {'text equals', 'data bar', 'formula'}
        ``formula`` is true or false for the first cell of the range and moves along with it.
    operand : str
        The text to equal, or the formula without ``=``; empty for a data bar. An open Excel
        reads it in the language of its user, so no function, no separator and no decimal may
        stand in it.
    style : str
        Key of ``styles.STYLES``: font color, bold and fill are used, of a data bar the fill.
        Sheets that are added to a file, as those to fill in are, show a boxed style's frame, too.

    Raises
    ------
    ValueError
        If the formula is not the same in every language.
    """

    cells: str
    kind: RuleKind
    operand: str
    style: str

    def __post_init__(self) -> None:
        if self.kind == "formula" and _OF_ONE_LANGUAGE.search(_LITERAL.sub("", self.operand)):
            raise ValueError(
                f"rule of {self.cells} must have no function, separator or decimal, "
                f"got {self.operand}"
            )


def all_of(*conditions: str) -> str:
    """Return the condition that holds where all others do, without a function.

    >>> all_of("A1>0", "B1<3")
    '(A1>0)*(B1<3)'
    """
    return "*".join(f"({condition})" for condition in conditions)


class Mark(NamedTuple):
    """How a series of points looks: its symbol, size in points, and the side of its name.

    Without a side it is not named in the chart; Excel for Mac names none. A dash joins its points.
    """

    symbol: Literal["circle", "diamond", "none"] = "circle"
    size: int = 8
    named: Side | None = None
    dash: str = ""


@dataclass(frozen=True)
class ChartSpec:
    """A chart over ranges of the workbook.

    Parameters
    ----------
    kind : {'line', 'points', 'bar', 'column'}
        Points are not joined. Bars lie, the first category on top; columns stand.
    title, x_title, y_title : str
        Title of the chart, which only a screen reader reads (the section above it says it), of
        its category axis and of its value axis; empty for none.
    categories : str
        Range of the categories, such as ``'Plan'!$A$6:$A$40``.
    series : sequence of (name, range, color)
        Color as six hexadecimal digits.
    areas : sequence of (name, range, color)
        Areas stacked on each other behind the lines of a line chart; one without a color only
        lifts those above it, and is not in the legend. Nothing but areas may come before it.
    dashes : mapping of str to str
        Lines by name that are not drawn through: 'dash' or 'sysDot'.
    marked : sequence of str
        Lines by name whose points have marks.
    marks : mapping of str to Mark
        Looks of points by the name of their series.
    has_legend : bool
        Whether the names of several series stand below the chart.
    anchor : (str, str)
        Cells under the top left and the bottom right corner.
    values_from, values_to : float, optional
        Where the value axis begins and ends; None leaves it to the spreadsheet program.
    values_format : str
        Number format of its labels.
    categories_format : str
        Number format of the labels of dates or numbers as categories; empty leaves dates to the
        sheet and numbers as they are.
    most_dates : int
        Labels of a date axis that have room beside each other.
    days : (date, date), optional
        First and last day of a date axis; without them those of the categories.
    date_step : (int, unit), optional
        How far apart its labels stand; without it as close as they have room.
    """

    kind: ChartKind
    title: str
    x_title: str
    y_title: str
    categories: str
    series: Sequence[tuple[str, str, str]]
    anchor: tuple[str, str]
    values_from: float | None = 0.0
    values_to: float | None = None
    values_format: str = AXIS
    categories_format: str = ""
    most_dates: int = 8
    days: tuple[dt.date, dt.date] | None = None
    date_step: tuple[int, Literal["days", "months"]] | None = None
    areas: Sequence[tuple[str, str, str]] = ()
    dashes: Mapping[str, str] = field(default_factory=dict)
    marked: Sequence[str] = ()
    marks: Mapping[str, Mark] = field(default_factory=dict)
    has_legend: bool = True

    @property
    def shows_legend(self) -> bool:
        """Return whether the chart has a legend: one series alone needs none."""
        return self.has_legend and len(self.series) + len(self.areas) > 1

    def mark(self, name: str) -> Mark:
        """Return the look of the points of a series."""
        return self.marks.get(name, Mark())

    @property
    def value_step(self) -> float | None:
        """Return what lies between two labels of a value axis with both ends: a quarter of it."""
        if self.values_from is None or self.values_to is None:
            return None
        return (self.values_to - self.values_from) / 4


class Stroke(NamedTuple):
    """One closed shape of a drawing.

    ``path`` holds moves ``M x y``, lines ``L x y``, curves ``C x y x y x y`` and ``Z``; fill is six
    hexadecimal digits, empty for none.
    """

    path: str
    fill: str = ""

    def steps(self) -> Iterator[tuple[str, Sequence[tuple[float, float]]]]:
        """Yield the commands of the path, each with its points."""
        words = iter(self.path.split())
        for name in words:
            numbers = [float(next(words)) for _ in range(2 * PATH_POINTS[name])]
            yield name, list(zip(numbers[::2], numbers[1::2], strict=True))


class Label(NamedTuple):
    """A text in a drawing, centered on a point."""

    text: str
    x: float
    y: float


@dataclass(frozen=True)
class DrawingSpec:
    """A line drawing on a sheet, sharp at every size.

    Parameters
    ----------
    anchor : str
        Cell under its top left corner.
    description : str
        What it shows, for who cannot see it.
    size_in : (float, float)
        Width and height on paper, in inches.
    canvas : (float, float)
        Width and height in the units of its shapes.
    strokes, labels
        What is drawn, later ones on top.
    """

    anchor: str
    description: str
    size_in: tuple[float, float]
    canvas: tuple[float, float]
    strokes: Sequence[Stroke] = ()
    labels: Sequence[Label] = ()


@dataclass(frozen=True)
class TableSpec:
    """An Excel table on a sheet that the user fills in.

    Parameters
    ----------
    name : str
        Name of the table in formulas.
    area : str
        Header row and body, such as ``A5:F40``.
    formulas : mapping of str to str
        Formula of each column that is worked out, by header, for the rows that a user adds.
    """

    name: str
    area: str
    formulas: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Validation:
    """What some cells accept, with the words shown where it is refused or a cell is selected.

    ``kind`` is the file format's type (``list``, ``date``, ``whole``, ``decimal``, ``custom`` or
    ``none``), ``operands`` are its one or two formulas. Without ``strict`` another value is
    taken after a warning.
    """

    cells: str
    kind: str
    operands: Sequence[str] = ()
    error: str = ""
    prompt: tuple[str, str] = ("", "")
    strict: bool = True


@dataclass(frozen=True)
class SheetSpec:
    """One result sheet.

    Parameters
    ----------
    name : str
        Name of the sheet in this workbook, as ``Package.result_sheet_name`` gives it.
    rows : sequence of Row
        From row 1 on.
    widths : sequence of float
        Column widths from A on, in characters of the workbook's font.
    freeze : (int, int), optional
        Rows and columns that stay in sight.
    header_row, header_rows : int, optional
        Last row, counted from 1, and number of the rows that every printed page repeats.
    own_headers : bool
        Whether a page that goes on with a table keeps room for its header, and repeats none.
    room_again : float
        Points that a page after the first keeps for a line that says again what goes on.
    landscape : bool, optional
        Whether pages lie across; without it the layout chooses by the breadth of the columns.
    axis_dates : str
        Number format of the dates on the axes of its charts.
    paper : str, optional
        Without it the paper is left to the program. Pages are always printed at 100 %.
    repeated_columns : int
        Columns that every printed page repeats, where a table is broader than a page.
    tab_color : str
        Six hexadecimal digits; empty for none.
    conditional, charts, merges
        Conditional looks, charts, and ranges of cells to join.
    print_area, autofilter : str, optional
        Ranges on this sheet.
    links : sequence of (cell, target)
        Cells that lead to a place in this workbook, such as ``'Plan'!A1``.
    drawings : sequence of DrawingSpec
        Line drawings.
    breaks : sequence of int
        Rows after which a new page begins.
    parts : sequence of int
        Rows with which the parts of one long table begin, to stay together on its pages.
    column_breaks : sequence of int
        Columns after which a new page begins, of a sheet broader than one.
    right : (Cell, Cell), optional
        What stands at the right end of the title's two lines.
    exact_widths : bool
        Whether the widths stay as given, and are not fitted to what the columns hold.
    alike : (int, int), optional
        First and last of the columns that are equally broad, where numbers leave them so.
    closes_up : bool
        Whether rows give way, and type with them, where the sheet then takes fewer pages.
    foot : Foot, optional
        What the foot of every page says at the left; file and sheet without it.
    tables, validations
        Of a sheet that the user fills in: its Excel tables, and what their cells accept.
    filled : sequence of str
        Cells of such a sheet, one column of each table, whose last filled one ends what prints.
        Excel follows them; LibreOffice knows no print area that is a formula, and prints all.
    """

    name: str
    rows: Sequence[Row]
    widths: Sequence[float] = ()
    freeze: tuple[int, int] | None = None
    header_row: int | None = None
    header_rows: int = 1
    own_headers: bool = False
    room_again: float = 0.0
    landscape: bool | None = None
    paper: Paper | None = None
    axis_dates: str = DATE_TIGHT
    repeated_columns: int = 0
    tab_color: str = INK
    conditional: Sequence[ConditionalRule] = ()
    charts: Sequence[ChartSpec] = ()
    merges: Sequence[str] = ()
    print_area: str | None = None
    autofilter: str | None = None
    links: Sequence[tuple[str, str]] = ()
    foot: "Foot | None" = None
    drawings: Sequence[DrawingSpec] = ()
    breaks: Sequence[int] = ()
    parts: Sequence[int] = ()
    tables: Sequence[TableSpec] = ()
    filled: Sequence[str] = ()
    validations: Sequence[Validation] = ()
    column_breaks: Sequence[int] = ()
    right: tuple[Cell | None, Cell | None] = (None, None)
    right_room: str = ""
    exact_widths: bool = False
    alike: tuple[int, int] | None = None
    closes_up: bool = False

    @property
    def footer(self) -> Mapping[str, str]:
        """What stands at the foot of every printed page, by its place."""
        from estimator.workbook.sheet.foot import footer_of  # letter widths come with it

        return footer_of(self.foot, self.name, across=bool(self.landscape))

    @property
    def repeated_rows(self) -> tuple[int, int] | None:
        """First and last row that every printed page repeats, None for none."""
        if self.header_row is None:
            return None
        return self.header_row - self.header_rows + 1, self.header_row
