"""What makes a plain function a cell function: whole columns, blanks, messages, help."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache, wraps
from inspect import Parameter, signature
from itertools import chain, islice, repeat, starmap
from textwrap import shorten
from typing import Any, TypeAlias

from estimator.data_class import dataclass
from estimator.errors import EstimatorError
from estimator.excel.cell_functions.arguments import ARGUMENTS
from estimator.excel.cell_functions.reading import Grid, error_in, plain
from estimator.input_errors.entries import describe
from estimator.money import to_decimal
from estimator.workbook.read.cells import CellError, is_blank, shows_error
from estimator.workbook.sheet.source import CellValue

try:
    import xlwings
except ImportError:  # the functions are plain Python then
    xlwings = None  # type: ignore[assignment] # optional dependency

Cells: TypeAlias = Any
"""What a cell function takes and gives: one value, a list of values, or rows of values."""

Rows = Sequence[Sequence[Any]]
Answer = Callable[..., float | str]

BLANK: Any = None
"""Default of an optional argument: a blank cell, which means the usual value."""

CATEGORY = "Polyethylene fusion"
TABLE_ARGUMENT = "machines_range"
CACHED_ROWS = 16384
LONGEST_MESSAGE = 200
NOT_STATED = "none given by the method"


@dataclass(frozen=True)
class ArgumentHelp:
    """One argument as the help shows it."""

    name: str
    optional: bool
    doc: str


@dataclass(frozen=True)
class FunctionHelp:
    """One cell function as the help shows it."""

    name: str
    description: str
    arguments: tuple[ArgumentHelp, ...]

    @property
    def signature(self) -> str:
        """The call, optional arguments in brackets: ``PE_OD(od_system, size, [units])``."""
        names = (f"[{a.name}]" if a.optional else a.name for a in self.arguments)
        return f"{self.name}({', '.join(names)})"


def help_of(function: Callable[..., object]) -> FunctionHelp:
    """Return the help of a cell function."""
    return FunctionHelp(
        name=function.__name__,
        description=" ".join((function.__doc__ or "").split()),
        arguments=tuple(
            ArgumentHelp(name, _optional(parameter), ARGUMENTS[name].doc)
            for name, parameter in signature(function).parameters.items()
        ),
    )


def cell_function(function: Callable[..., float | str | None]) -> Callable[..., Cells]:
    """Make a function of one joint a cell function.

    Its arguments are read by name, as ``ARGUMENTS`` says. Each may be one cell or a block of
    cells, and the result has the shape of the blocks. A row with a blank where a value is needed
    gives empty text; a row that cannot be answered gives a message. Results are kept by their
    arguments, so that a long column costs no more than its distinct rows.
    """
    names = tuple(signature(function).parameters)
    answer = lru_cache(maxsize=CACHED_ROWS, typed=True)(_answer_of(function))

    @wraps(function)
    def over_cells(*args: Cells, **kwargs: Cells) -> Cells:
        bound = signature(function).bind(*args, **kwargs)
        bound.apply_defaults()
        return spread(answer, names, tuple(bound.arguments.values()))

    known = help_of(function)
    over_cells.__doc__ = known.description  # the function wizard shows it as it stands
    over_cells.__annotations__ = {}  # xlwings would take them for converters
    return _register(over_cells, known)


def _register(function: Callable[..., Cells], known: FunctionHelp) -> Callable[..., Cells]:
    if xlwings is None:
        return function
    for argument in known.arguments:
        options = {"doc": argument.doc, "ndim": 2, "err_to_str": True}
        function = xlwings.arg(argument.name, **options)(function)
    return xlwings.func(category=CATEGORY)(function)


def _optional(parameter: Parameter) -> bool:
    return parameter.default is not Parameter.empty


# One row


def _answer_of(function: Callable[..., float | str | None]) -> Answer:
    parameters = signature(function).parameters
    needed = {name for name, parameter in parameters.items() if not _optional(parameter)}

    def answer(*values: CellValue | Grid) -> float | str:
        given = dict(zip(parameters, values, strict=True))
        if any(_is_blank(given[name]) for name in needed):
            return ""
        try:
            found = function(**_read(given))
        except EstimatorError as error:
            return shorten(str(error), LONGEST_MESSAGE, placeholder=" ...")
        if found is None:
            return NOT_STATED
        return float(to_decimal(found)) if isinstance(found, float) else found

    return answer


def _read(given: Mapping[str, CellValue | Grid]) -> dict[str, Any]:
    asked: dict[str, Any] = {"units": "US"}
    for name in sorted(given, key=lambda name: name != "units"):
        try:
            asked[name] = _value(name, given[name], asked)
        except EstimatorError as error:
            raise EstimatorError(f"{name}: {error}") from error
    return {name: asked[name] for name in given}


def _value(name: str, value: CellValue | Grid, asked: Mapping[str, Any]) -> object:
    reading = ARGUMENTS[name].reading
    if isinstance(value, Grid):
        return reading.read(value, asked)
    if _is_blank(value):
        return reading.usual(asked["units"])
    if error := error_in(value):
        raise shows_error(error)
    if isinstance(value, bool) or (isinstance(value, dt.date) and name != "size"):
        raise CellError(f"{describe(value)} is not a number or text")
    return reading.read(plain(value), asked)


def _is_blank(value: CellValue | Grid) -> bool:
    if isinstance(value, Grid):
        return all(is_blank(cell) for row in value.rows for cell in row)
    return is_blank(value)


# Blocks of cells


def spread(answer: Answer, names: Sequence[str], given: Sequence[Cells]) -> Cells:
    """Return the answer for every row of the arguments, in the shape of their blocks.

    Parameters
    ----------
    answer : callable
        Gives the result of one row.
    names : sequence of str
        Names of the arguments.
    given : sequence
        The arguments: a single value stands for every row; all blocks must have one shape.
    """
    single = [
        Grid.of(_rows(cells)) if name == TABLE_ARGUMENT else cells
        for name, cells in zip(names, given, strict=True)
    ]
    blocks = [_rows(cells) for cells in single]
    larger = {n: _shape(b) for n, b in zip(names, blocks, strict=True) if _shape(b) != (1, 1)}
    if len(set(larger.values())) > 1:
        text = (f"{name} {high} x {wide}" for name, (high, wide) in larger.items())
        return (
            "Ranges must all have the same rows and columns. Found (rows x columns): "
            f"{', '.join(text)}"
        )
    high, wide = next(iter(larger.values()), (1, 1))
    streams = (_stream(block) for block in blocks)
    answers = list(starmap(answer, islice(zip(*streams, strict=False), high * wide)))
    rows = [answers[start : start + wide] for start in range(0, high * wide, wide)]
    depth = max(map(_depth, single))
    return rows if depth == 2 else [row[0] for row in rows] if depth else rows[0][0]


def _rows(cells: Cells) -> Rows:
    depth = _depth(cells)
    if depth == 0:
        return [[cells]]
    rows: Rows = cells if depth == 2 else [[cell] for cell in cells or (None,)]
    return rows


def _depth(cells: Cells) -> int:
    """Return 0 for one value, 1 for a list of values, 2 for rows of values."""
    if not isinstance(cells, list | tuple):
        return 0
    return 2 if cells and isinstance(cells[0], list | tuple) else 1


def _shape(rows: Rows) -> tuple[int, int]:
    return len(rows), len(rows[0])


def _stream(rows: Rows) -> Iterable[Any]:
    return repeat(rows[0][0]) if _shape(rows) == (1, 1) else chain.from_iterable(rows)
