"""Rows of a foreign table: which are runs of pipe, which fittings, and which are left out."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
from typing import Any

from estimator.data_class import dataclass
from estimator.errors import EstimatorError, Problem
from estimator.inputs.dictionary import squeeze
from estimator.takeoff import typed, words
from estimator.takeoff.answers import FITTING, LEFT_OUT, RULE, WORD, Answer, Answers
from estimator.takeoff.columns import SUMMED, Layout, field_of, labels, split_header
from estimator.takeoff.foreign import ForeignTable
from estimator.takeoff.typed import Measured
from estimator.workbook.read.cells import CellError, shows_error, to_choice, to_text
from estimator.workbook.read.parse_rows import UNCALCULATED
from estimator.workbook.read.unit_text import labels_of_kind, unit_label
from estimator.workbook.sheet.source import RawCell

BLANK, HEADING, TOTAL, HEADERS, UNITS = (
    "blank", "a heading", "a row of totals", "headers again", "units",
)  # fmt: skip
CHOICES_IN_WORDS = ("placement", "od_system", "material")
"""Columns whose choices others call by other words."""
IN_TEXT = ("size", "dr", "od_system", "material", "placement")
"""What is looked for in the description where its own cell is blank."""
TO_SMALLER = ("reducers", "reducing_tees")
"""Fittings with an end of a smaller size."""
ANGLED = "elbows"
_LEADING_NUMBER = re.compile(r"^\s*\(?\d+\)?")
LEAST_FILLED = 2
ROWS_NAMED = 8
AS_OTHERS = "read like the others"
ONE_EACH, COUNTED = "so many equal lengths", "not used"


@dataclass(frozen=True)
class PipeRow:
    """One row of pipe: values by key, lengths and counts as typed, and the cell of each."""

    row: int
    name: str
    values: dict[str, Any]
    lengths: tuple[Measured, ...]
    counts: Mapping[str, int]
    angles: Mapping[float, int]
    fittings: tuple["FittingRow", ...]
    cells: Mapping[str, RawCell]


@dataclass(frozen=True)
class FittingRow:
    """Some fittings of one kind; ``run`` and ``size`` are empty where the row names none."""

    cell: RawCell
    run: str
    key: str
    number: int
    size: str = ""
    reduce_to: str = ""
    made: str = ""
    angle: float | None = None


@dataclass(frozen=True)
class LeftOut:
    """A row that is no entry, and why."""

    row: int
    text: str
    why: str


@dataclass()
class Sorted:
    """The rows of a table, sorted; problems each with the foreign cell."""

    pipes: list[PipeRow] = field(default_factory=list)
    fittings: list[FittingRow] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


class RowReader:
    """Reads the rows of one table."""

    def __init__(self, table: ForeignTable, layout: Layout, answers: Answers) -> None:
        self.table, self.layout, self.answers = table, layout, answers
        self.positions: dict[str, list[int]] = {}
        for column in layout.columns:
            self.positions.setdefault(column.key, []).append(column.position)
        self.keys = {column.position: column.key for column in layout.columns}
        self.units = {column.position: column.unit for column in layout.columns}

    def read(self) -> Sorted:
        """Return every row sorted."""
        found = Sorted()
        self._report_hidden()
        for row in range(1, self.layout.header_rows.start):
            self._above(row, found)
        for row in range(self.layout.first_row, len(self.table.rows) + 1):
            self._sort(row, found)
        return found

    def _report_hidden(self) -> None:
        hidden = [
            row for row in sorted(self.table.marks.hidden_rows) if row <= len(self.table.rows)
        ]
        if hidden:
            note = f"rows {', '.join(map(str, hidden[:ROWS_NAMED]))}"
            self.answers.settle(
                Answer(RULE, "Hidden rows", AS_OTHERS, note=note, choices=(AS_OTHERS,))
            )

    def _above(self, row: int, in_order: Sorted) -> None:
        """Note what stands above the headers."""
        text = _first_text(self.table.cells(row))
        if text:
            in_order.left_out.append(LeftOut(row, text, "above the headers"))

    def _sort(self, row: int, in_order: Sorted) -> None:
        cells = self.table.cells(row)
        faulty = [cell for cell in cells if cell.error or cell.uncached]
        why = "" if faulty else self._no_entry(cells)
        if why:
            in_order.left_out.append(LeftOut(row, _first_text(cells), why))
            return
        entry = _Entry(self, row, cells)
        for cell in faulty:
            if cell.column in self.units:
                fault = shows_error(cell.error) if cell.error else UNCALCULATED
                entry.fault(cell, fault, self.keys[cell.column])
        entry.sort(in_order)
        in_order.problems += entry.problems

    def _no_entry(self, cells: Sequence[RawCell]) -> str:
        filled = [cell for cell in cells if cell.value is not None]
        if not filled:
            return BLANK
        texts = [squeeze(to_text(cell.value)) for cell in filled]
        if self._is_total(cells, filled):
            return TOTAL
        if any(self._repeats(filled, texts, header) for header in self.layout.header_texts):
            return HEADERS
        return HEADING if self._is_heading(filled) else ""

    def _is_total(self, cells: Sequence[RawCell], filled: Sequence[RawCell]) -> bool:
        """Return whether a row begins or ends as sums do, and gives no wall as pipe does."""
        if any(not typed.is_nothing(cells[i - 1].value) for i in self.positions.get("dr", ())):
            return False
        return any(words.is_total(to_text(cell.value)) for cell in filled[:LEAST_FILLED])

    @staticmethod
    def _repeats(filled: Sequence[RawCell], texts: Sequence[str], header: Sequence[str]) -> bool:
        """Return whether a row holds nothing but texts of a header row, in their columns."""
        return len(texts) > 1 and all(
            header[cell.column - 1] == text for cell, text in zip(filled, texts, strict=True)
        )

    def _is_heading(self, filled: Sequence[RawCell]) -> bool:
        """Return whether a row is one text alone that gives neither a length nor a count."""
        if len(filled) >= LEAST_FILLED or not isinstance(filled[0].value, str):
            return False
        text = filled[0].value
        return typed.length_in(text) is None and typed.count_in(text) is None


class _Entry:
    """One row that is no heading: works out what it is."""

    def __init__(self, reader: RowReader, row: int, cells: Sequence[RawCell]) -> None:
        self.reader, self.row, self.cells = reader, row, cells
        self.problems: list[Problem] = []
        self.used: dict[str, RawCell] = {}
        self.reading = "description"
        description = self.cell("description")
        self.text = to_text(description.value) if description and description.value else ""

    def cell(self, key: str) -> RawCell | None:
        """Return the first filled cell of a key, the first one if all are blank."""
        cells = [self.cells[i - 1] for i in self.reader.positions.get(key, ())]
        return next((cell for cell in cells if cell.value is not None), next(iter(cells), None))

    def has(self, key: str) -> bool:
        """Return whether a row says anything for a key."""
        cell = self.cell(key)
        return cell is not None and not typed.is_nothing(cell.value)

    def fault(self, cell: RawCell, error: EstimatorError | str, key: str = "") -> None:
        """Note that a cell cannot be read."""
        name = f"{labels()[key]}: " if key else ""
        if key:
            self.used[key] = cell
        self.problems.append(Problem(cell.where, f"{name}{error}"))

    def sort(self, in_order: Sorted) -> None:
        """Add the row to what was found."""
        lengths = self._lengths()
        if lengths or self._is_pipe():
            self._pipe(lengths, in_order)
            return
        fitting = words.find("fitting", self.text) if self.text else None
        if fitting is not None:
            in_order.fittings += self._fitting_row()
            return
        if self.problems:
            return
        what = self.text or _first_text(self.cells)
        guess = Answer(
            LEFT_OUT, what, LEFT_OUT,
            note=f"row {self.row}: no length, and no fitting that the schedule counts",
        )  # fmt: skip
        self.reader.answers.settle(guess)
        in_order.left_out.append(
            LeftOut(self.row, what, "neither pipe nor a fitting that is counted")
        )

    def _is_pipe(self) -> bool:
        """Return whether a row has a size and a wall of its own, so that its length is missing."""
        return self.has("size") and self.has("dr") and not words.find("fitting", self.text)

    def _lengths(self) -> tuple[Measured, ...]:
        """Return the lengths of a row, none if it has none."""
        try:
            for find in (self._from_length, self._from_stations, self._from_quantity):
                lengths = find()
                if lengths:
                    return lengths
            said = typed.length_in(self.text) if not self._counted() else None
        except EstimatorError as error:
            self.fault(self.cell(self.reading) or self.cells[0], error, self.reading)
            return ()
        if said is not None:
            self._taken_from_text("segments_m")
        return (said,) if said is not None else ()

    def _from_length(self) -> tuple[Measured, ...]:
        if not self.has("segments_m") or _is_fitting_alone(self.text):
            return ()
        self.reading = "segments_m"
        lengths = self._measured("segments_m")
        number = self._number_of_lengths()
        return lengths * number if number > 1 and len(lengths) == 1 else lengths

    def _measured(self, key: str) -> tuple[Measured, ...]:
        cell = self.used[key] = self._cell(key)
        usual = self.reader.units[cell.column]
        return tuple(
            Measured(one.number, one.unit or usual) for one in typed.to_lengths(self._value(cell))
        )

    def _number_of_lengths(self) -> int:
        """Return how many lengths a count beside a length means."""
        if not self.has("quantity") or self._unit_said() is not None:
            return 1
        self.reading = "quantity"
        number = typed.to_count(self._value(self._cell("quantity")))
        if number == 1:
            return 1
        guess = Answer(
            RULE, "Quantity beside a length", ONE_EACH, note=f"row {self.row} and others like it",
            choices=(ONE_EACH, COUNTED),
        )  # fmt: skip
        return number if self.reader.answers.settle(guess).meaning == ONE_EACH else 1

    def _from_stations(self) -> tuple[Measured, ...]:
        if not (self.has("from_station") and self.has("to_station")):
            return ()
        self.reading = "from_station"
        first, last = self._cell("from_station"), self._cell("to_station")
        span = typed.to_station(self._value(last)) - typed.to_station(self._value(first))
        self.used["segments_m"] = last
        if span <= 0:
            raise CellError(f"the stations end before they begin: {span:g}")
        guess = Answer(
            RULE, "Unit of stations", self.reader.layout.length_unit,
            note="a length is the station to less the station from",
            choices=labels_of_kind("length"),
        )  # fmt: skip
        return (Measured(round(span, 6), self.reader.answers.settle(guess).meaning),)

    def _unit_said(self) -> str | None:
        """Return the unit beside the quantity: a length's label, empty for pieces, None if none."""
        if not self.has("quantity_unit"):
            return None
        cell = self._cell("quantity_unit")
        text = to_text(cell.value)
        label = unit_label(text)
        return label if label in labels_of_kind("length") else ""

    def _from_quantity(self) -> tuple[Measured, ...]:
        """Return a quantity as a length where its unit is one."""
        if not self.has("quantity"):
            return ()
        self.reading = "quantity"
        said = self._unit_said()
        cell = self._cell("quantity")
        if said == "" or (said is None and (self._counted() or not self._may_be_length(cell))):
            return ()
        lengths = typed.to_lengths(self._value(cell))
        self.used["segments_m"] = cell
        unit = said or self.reader.units[cell.column]
        if not all(one.unit or unit for one in lengths):
            return ()
        return tuple(Measured(one.number, one.unit or unit) for one in lengths)

    def _may_be_length(self, cell: RawCell) -> bool:
        """Return whether a quantity without a unit beside it is one of pipe."""
        header = self.reader.layout.headers[cell.column - 1]
        stated = split_header(header)[1] if header else ""
        text = cell.value if isinstance(cell.value, str) else ""
        with_unit = any(one.unit for one in _tried_lengths(text))
        return with_unit or bool(stated) or (self.has("size") and self.has("dr"))

    def _counted(self) -> bool:
        """Return whether the row is about fittings, so that its quantity is no length."""
        return bool(self.text) and words.find("fitting", self.text) is not None

    def _cell(self, key: str) -> RawCell:
        cell = self.cell(key)
        if cell is None:
            raise KeyError(key)
        return cell

    def _value(self, cell: RawCell) -> Any:  # noqa: ANN401
        comma = self.reader.layout.decimal_comma
        return typed.with_points(cell.value) if comma else cell.value

    def _name(self) -> str:
        return to_text(self._cell("run_id").value) if self.has("run_id") else ""

    def _pipe(self, lengths: tuple[Measured, ...], in_order: Sorted) -> None:
        if not lengths and not self.problems:
            cell = self.cell("segments_m") or self.cell("quantity") or self.cells[0]
            self.fault(cell, "this row has a size and a wall, but no length", "segments_m")
        values = self._values()
        name = self._name() or self._numbered()
        angles: dict[float, int] = {}
        counts = dict(self._counts(angles))
        self.used.setdefault("run_id", self.cells[0])
        listed = tuple(self._listed_fittings(name))
        in_order.pipes.append(
            PipeRow(self.row, name, values, lengths, counts, angles, listed, dict(self.used))
        )

    def _numbered(self) -> str:
        return to_text(self._cell("item_no").value) if self.has("item_no") else ""

    def _values(self) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for key in self.reader.positions:
            schedule = field_of(key)
            if schedule is None or key in SUMMED or key in ("segments_m", "run_id"):
                continue
            cell = self._cell(key)
            if typed.is_nothing(cell.value) or cell.error:
                continue
            self.used[key] = cell
            try:
                values[key] = self._read(key, cell)
            except EstimatorError as error:
                self.fault(cell, error, key)
                values[key] = None
        for key in IN_TEXT:
            if key not in values and (said := self._in_text(key)) is not None:
                values[key] = said
        return values

    def _read(self, key: str, cell: RawCell) -> Any:  # noqa: ANN401
        """Return the value of a cell as our schedule takes it."""
        value, schedule = self._value(cell), field_of(key)
        if key in CHOICES_IN_WORDS and schedule is not None:
            return self._choice(key, to_text(value))
        if key == "size":
            return self._size(value, self.reader.units[cell.column])
        if key == "dr":
            return typed.to_ratio(value)
        if key == "stick_length_m":
            measured, _ = typed.to_stick(value)
            return Measured(measured.number, measured.unit or self.reader.units[cell.column])
        if key == "string_length_m":
            measured = typed.to_measured(value)
            return Measured(measured.number, measured.unit or self.reader.units[cell.column])
        if key == "pipe_price":
            measured = typed.to_price(value)
            return Measured(measured.number, measured.unit or self.reader.units[cell.column])
        return to_text(value) if schedule is not None and schedule.kind == "text" else value

    def _size(self, value: Any, unit: str) -> str:  # noqa: ANN401
        text = typed.to_size(value)
        return f"{text} {unit}" if unit and text and text[-1].isdigit() else text

    def _choice(self, key: str, text: str) -> str:
        schedule = field_of(key)
        allowed = schedule.allowed if schedule is not None else ()
        try:
            return to_choice(text, allowed)
        except EstimatorError:
            found = words.find(key, text)
            if found is None:
                known = ", ".join(allowed)
                guess = Answer(WORD, text, "", note=f"{labels()[key]}: not known; one of {known}")
                said = self.reader.answers.settle(guess).meaning
                if not said:
                    raise
                return to_choice(said, allowed)
            guess = Answer(WORD, text, found.meaning, note=labels()[key], choices=allowed)
            return self.reader.answers.settle(guess).meaning

    def _in_text(self, key: str) -> Any:  # noqa: ANN401
        """Return what the description says for a key, None if it says nothing."""
        if key == "size":
            said: Any = typed.size_in(self.text)
        elif key == "dr":
            said = typed.ratio_in(self.text)
        else:
            found = words.find(key, self.text) if self.text else None
            said = None if found is None else found.meaning
        if said is None:
            return None
        self._taken_from_text(key)
        return said

    def _taken_from_text(self, key: str) -> None:
        cell = self.cell("description")
        if cell is not None:
            self.used[key] = cell
        guess = Answer(
            RULE, f"{labels()[key]} where its own cell is blank", "taken from the description",
            note=f"as in row {self.row}", choices=("taken from the description",),
        )  # fmt: skip
        self.reader.answers.settle(guess)

    def _counts(self, angles: dict[float, int]) -> Iterator[tuple[str, int]]:
        """Yield the fittings of a row by kind; ``angles`` takes those whose header names one."""
        for key, positions in self.reader.positions.items():
            if key not in SUMMED:
                continue
            total = 0
            for cell in (self.cells[i - 1] for i in positions):
                if typed.is_nothing(cell.value) or cell.error:
                    continue
                self.used[key] = cell
                try:
                    number = typed.to_count(self._value(cell))
                except EstimatorError as error:
                    self.fault(cell, error, key)
                    continue
                total += number
                angle = typed.angle_in(self.reader.layout.headers[cell.column - 1] or "")
                if number and key == ANGLED and angle is not None:
                    angles[angle] = angles.get(angle, 0) + number
            if total:
                yield key, total

    def _fitting_row(self) -> Iterator[FittingRow]:
        """Yield the fittings of a row of its own; a faulty count is a problem."""
        cell = self._cell("description")
        size, self.reading = "", "description"
        try:
            number = self._fitting_count()
            if self.has("size"):
                self.reading = "size"
                at = self._cell("size")
                size = self._size(self._value(at), self.reader.units[at.column])
        except EstimatorError as error:
            self.fault(self.cell(self.reading) or cell, error, self.reading)
            return
        if number:
            yield self._fitting(cell, self._name(), self.text, number, size)

    def _fitting_count(self) -> int:
        for key in ("quantity", "segments_m"):
            if self.has(key):
                self.reading = key
                return typed.to_count(self._value(self._cell(key)))
        said = typed.count_in(self.text)
        if said is None:
            raise CellError("these fittings have no number. Enter how many, such as 8 ea")
        return said

    def _listed_fittings(self, run: str) -> Iterator[FittingRow]:
        """Yield the fittings that a cell of a pipe row lists in words."""
        if not self.has("fittings"):
            return
        cell = self._cell("fittings")
        for piece in _pieces(to_text(cell.value)):
            number = typed.count_before(piece)
            if words.find("fitting", piece) is None or number is None:
                message = f"{piece!r} is not a fitting with its number, such as 2 90 ells; 1 tee"
                self.fault(cell, message, "fittings")
                continue
            listed = self._fitting(cell, run, piece, number, "")
            angle = typed.angle_in(_LEADING_NUMBER.sub("", piece, count=1))
            yield replace(listed, angle=angle if listed.key == ANGLED else None)

    def _fitting(self, cell: RawCell, run: str, text: str, number: int, size: str) -> FittingRow:
        word = words.find("fitting", text)
        if word is None:
            raise ValueError(f"{text!r} names no fitting")
        choices = tuple(labels()[key] for key in sorted(SUMMED))
        guess = Answer(
            FITTING, word.text, labels()[word.meaning], note=f"as in {cell.where}: {text}",
            choices=choices,
        )  # fmt: skip
        said = self.reader.answers.settle(guess).meaning
        key = next(key for key in SUMMED if labels()[key] == said)
        two = typed.two_sizes_in(text) if key in TO_SMALLER else None
        larger, smaller = two or ("", "")
        made = words.find("made", text)
        return FittingRow(
            cell=cell,
            run=run,
            key=key,
            number=number,
            size=size or larger or typed.size_in(text) or "",
            reduce_to=smaller,
            made="" if made is None else made.meaning,
            angle=typed.angle_in(text) if key == ANGLED else None,
        )


def _is_fitting_alone(text: str) -> bool:
    """Return whether a text names a fitting and, beside its pipe, nothing else.

    >>> _is_fitting_alone('24" 45 deg bend, DR 17'), _is_fitting_alone("Vault to blow-off tee")
    (True, False)
    """
    fitting = words.find("fitting", text) if text else None
    if fitting is None:
        return False
    rest = f" {words.plain(text)} ".replace(f" {fitting.text} ", " ")
    return all(word.isdigit() or word in words.spelled("pipe") for word in rest.split())


def _tried_lengths(text: str) -> tuple[Measured, ...]:
    try:
        return typed.to_lengths(text) if text else ()
    except EstimatorError:
        return ()


def _first_text(cells: Sequence[RawCell]) -> str:
    return next((to_text(cell.value) for cell in cells if cell.value is not None), "")


def _pieces(text: str) -> Iterator[str]:
    for piece in text.replace("\n", ";").replace(",", ";").split(";"):
        if piece.strip():
            yield piece.strip()
