"""The Field cards sheet: four cards to a page, cut on their frames."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import field
from itertools import zip_longest
from typing import Literal, NamedTuple

from estimator.data_class import dataclass
from estimator.display import (
    FINEST,
    METHOD_NAMES,
    OTHER,
    TINY,
    UnitSystem,
    convert,
    limit_text,
    show_date,
    unit_of,
)
from estimator.joint.fusion import fusion_force_n
from estimator.progress.field_cards import MEMORY, PRACTICE, FieldCard, drag_ladder, runs_text
from estimator.standards import tables
from estimator.units import from_si, to_si
from estimator.workbook.results.bead_drawings import bead_drawing
from estimator.workbook.results.builder import Context
from estimator.workbook.sheet import look
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, DrawingSpec, Row, SheetSpec, Value
from estimator.workbook.sheet.text_width import lines_of, text_pixels

FIELD_CARDS = "Field cards"
COLUMNS, LAST = 7, 6
"""Columns of a card, and the last of them from 0."""
WIDTHS_PX, GAP_PX = (102, 47, 40, 40, 8, 32, 49), 7
RUNGS = ((1, 1), (2, 2), (3, 3), (4, 5), (6, 6))
"""First and last column of each drag of the ladder; they stand evenly."""
GAP_POINTS = 8.0
"""Height between two cards below each other."""
CARDS_DOWN = 2
"""Cards below each other on a page."""
EDGE_PX = 4.0
LINE_PX = sum(WIDTHS_PX) - 22
"""Room for a line of text between the edges of a card."""
CAUTIONS = (
    "\N{BULLET} Clean dry ends, clean heater; shelter from wind and rain.",
    "\N{BULLET} No move, no pull until the cooling rest is over.",
    "\N{BULLET} Hot plate burns; jaws, blades crush: hands clear, lock out.",
)
GOVERNS = "Procedure governs."
LEGEND = {MEMORY: f"{MEMORY} from memory", PRACTICE: f"{PRACTICE} common practice"}
FRACTIONS = 32
Formula = Callable[[int, Callable[[int], str]], str]
"""Formula of a cell from its row, and the letters of the card's columns by number from 0."""


class Part(NamedTuple):
    """Cells of a row of a card that are one: columns from 0, value, look, formula."""

    first: int
    last: int
    value: Value
    part: str
    formula: Formula | None = None


class Heights(NamedTuple):
    """Heights of the rows of a card in points; ``note`` is that of a line of a note."""

    title: float = 20.25
    fact: float = 10.5
    step: float = 13.5
    rung: float = 14.25
    note: float = 10.5
    beads: float = 49.5
    no_note: float = 3.0


HEIGHTS = (
    Heights(title=22.5, fact=12.0, step=16.5, rung=16.5, note=12.0),
    Heights(title=21.0, fact=12.0, step=15.75, rung=15.75, note=11.25),
    Heights(fact=11.25, step=15.0, rung=15.0, note=11.25),
    Heights(fact=11.25, step=14.25),
    Heights(),
)
"""Heights by the room that a page leaves, the roomiest first."""
RowKind = Literal["title", "fact", "step", "rung", "note", "beads", "no_note"]


class Line(NamedTuple):
    """One row of a card: which one, its cells, and the lines of a note in it besides the first."""

    kind: RowKind
    parts: Sequence[Part]
    more: int = 0

    def points(self, heights: Heights) -> float:
        """Return the height of the row."""
        first: float = getattr(heights, self.kind)
        return first + self.more * heights.note


Pair = Sequence[Sequence[Line]]
"""Two cards beside each other: of each row the line of both."""


@dataclass()
class _Page:
    """The rows of the sheet so far."""

    rows: list[list[Cell | None]] = field(default_factory=list)
    heights: list[float] = field(default_factory=list)
    merges: list[str] = field(default_factory=list)
    drawings: list[DrawingSpec] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    used: float = 0.0


def cards_sheet(context: Context, cards: Sequence[FieldCard]) -> SheetSpec:
    """Return the sheet with all cards, two beside each other and as many below as fit a page."""
    page = _Page()
    lines = [
        list(_lines(context, card, title)) for card, title in zip(cards, titles(cards), strict=True)
    ]
    pairs = [
        list(zip(*(side for side in pair if side is not None), strict=True))
        for pair in zip_longest(lines[::2], lines[1::2])
    ]
    room = look.page_height(context.paper, across=False, spare=look.LEAST_RESERVE)
    for pair, heights in zip(pairs, _heights(pairs, room), strict=True):
        _add_pair(page, pair, heights, room)
    return SheetSpec(
        name=context.sheet_names[FIELD_CARDS],
        rows=[Row(cells, points) for cells, points in zip(page.rows, page.heights, strict=True)],
        widths=[
            round((pixels - look.pixels_of(0)) / 7, 3)
            for pixels in (*WIDTHS_PX, GAP_PX, *WIDTHS_PX)
        ],
        landscape=False,
        paper=context.paper,
        merges=page.merges,
        print_area=f"A1:{column_letters(2 * COLUMNS + 1)}{len(page.rows)}",
        drawings=page.drawings,
        breaks=page.breaks,
        exact_widths=True,
    )


def _heights(pairs: Sequence[Pair], room: float) -> Sequence[Heights]:
    """Return the heights of each pair: what room its page has, if all pages hold two.

    >>> [one.step for one in _heights([[[Line("fact", (), more=29)]], [[Line("fact", ())]]], 380.0)]
    [16.5, 16.5]
    """
    pages = [pairs[at : at + CARDS_DOWN] for at in range(0, len(pairs), CARDS_DOWN)]
    found = [_roomiest(page, room) for page in pages]
    if None in found:
        return [HEIGHTS[-1]] * len(pairs)
    return [
        heights or HEIGHTS[-1] for heights, page in zip(found, pages, strict=True) for _ in page
    ]


def _roomiest(page: Sequence[Pair], room: float) -> Heights | None:
    """Return the greatest heights with which cards stand below each other on a page."""
    left = room - GAP_POINTS * (CARDS_DOWN - 1)
    fit = (one for one in HEIGHTS if sum(_points(pair, one) for pair in page) <= left)
    return next(fit, None)


def _rows(pair: Pair, heights: Heights) -> Sequence[float]:
    """Return the heights of the rows of two cards beside each other."""
    return [max(line.points(heights) for line in lines) for lines in pair]


def _points(pair: Pair, heights: Heights) -> float:
    return sum(_rows(pair, heights))


def _add_pair(page: _Page, lines: Pair, heights: Heights, room: float) -> None:
    """Add two cards beside each other, row by row, on a new page where they do not fit."""
    total = _points(lines, heights)
    if page.rows and page.used + GAP_POINTS + total > room:
        page.breaks.append(len(page.rows))
        page.used = 0.0
    elif page.rows:
        page.rows.append([])
        page.heights.append(GAP_POINTS)
        page.used += GAP_POINTS
    for pair, points in zip(lines, _rows(lines, heights), strict=True):
        page.rows.append([None] * (2 * COLUMNS + 1))
        page.heights.append(points)
        for side, line in enumerate(pair):
            _put(page, line, side * (COLUMNS + 1))
    page.used += total


def _put(page: _Page, line: Line, left: int) -> None:
    number, row = len(page.rows), page.rows[-1]

    def letters(column: int) -> str:
        return column_letters(left + column + 1)

    for part in line.parts:
        for column in range(part.first, part.last + 1):
            edge = {0: " left", LAST: " right"}.get(column, "")
            row[left + column] = Cell(None, f"card {part.part}{edge}")
        formula = None if part.formula is None else part.formula(number, letters)
        start = row[left + part.first]
        if start is not None:
            row[left + part.first] = start._replace(value=part.value, formula=formula)
        if part.last > part.first:
            page.merges.append(f"{letters(part.first)}{number}:{letters(part.last)}{number}")
    if line.kind == "beads":
        inches = (sum(WIDTHS_PX) - EDGE_PX) / look.PIXELS_PER_INCH
        page.drawings.append(bead_drawing(f"{letters(0)}{number}", inches))


def titles(cards: Sequence[FieldCard]) -> Sequence[str]:
    """Return the titles of cards: the pipe, with the machine where several are of one pipe."""
    names = [card.label for card in cards]
    several = Counter(names)
    return [
        f"{name}, {card.machine}" if several[name] > 1 else name
        for card, name in zip(cards, names, strict=True)
    ]


def _lines(context: Context, card: FieldCard, title: str) -> Iterator[Line]:
    """Yield the rows of a card from top to bottom; all cards of a job have as many."""
    yield from _head(context, card, title)
    for number, (name, main, other) in enumerate(_steps(context.system, card), 1):
        value = Part(2, 4, main, "value") if main else Part(2, 4, other, "blank")
        beside = other if main else "read and log"
        step = Part(0, 1, f"{number}  {name}", "step")
        yield Line("step", (step, value, Part(5, LAST, beside, "other")))
    yield from _ladder(context, card)
    yield from _air(context.system, card)
    yield Line("beads", (Part(0, LAST, None, "fact"),))
    for text in CAUTIONS:
        yield Line("note", (Part(0, LAST, text, "fact"),))
    note = " ".join(f"{note}." for note in card.notes)
    lines = lines_of(note, LINE_PX, look.SMALL)
    yield Line("note" if note else "no_note", (Part(0, LAST, note or None, "note"),), lines - 1)
    marks = [LEGEND[mark] for mark in LEGEND if mark in card.marks.values()]
    legend = f"{', '.join(marks)}. " if marks else ""
    yield Line("fact", (Part(0, LAST, f"{legend}{GOVERNS}", "foot"),))
    job = context.estimate.job.cover.job_name
    more = lines_of(job, LINE_PX, look.SMALL) - 1
    yield Line("fact", (Part(0, LAST, job, "last foot"),), more)


def _head(context: Context, card: FieldCard, title: str) -> Iterator[Line]:
    machine = Part(4, LAST, f"Machine {card.machine}", "machine")
    yield Line("title", (Part(0, 3, title, "title"), machine))
    pipe, system = card.geometry, context.system
    od, wall = (
        f"{_exact(mm, system)} ({_exact(mm, OTHER[system])})" for mm in (pipe.od_mm, pipe.wall_mm)
    )
    yield Line("fact", (Part(0, LAST, f"OD {od}, wall {wall}", "fact"),))
    yield Line("fact", (Part(0, LAST, _method(context, card), "fact"),))
    order = [run.run_id for run in context.estimate.job.runs]
    runs = runs_text(card.runs, order)
    word = "Run" if len(card.runs) == 1 else "Runs"
    yield Line("fact", (Part(0, LAST, _cut(f"{word} {runs}"), "last fact"),))


def _method(context: Context, card: FieldCard) -> str:
    """Return the method, the material and the date of the estimate, named where it has room."""
    about = f"{METHOD_NAMES[card.fusion.method]}, {card.material}"
    date = show_date(context.estimate.job.cover.estimate_date, context.system)
    whole = f"{about}, estimate of {date}"
    return whole if text_pixels(whole, look.SMALL) <= LINE_PX else f"{about}, {date}"


def _steps(system: UnitSystem, card: FieldCard) -> Iterator[tuple[str, str, str]]:
    """Yield the steps in the order of work: name, figure in the job's units, and in the others."""
    fusion, marks, other = card.fusion, card.marks, OTHER[system]

    def named(name: str, figure: str) -> str:
        return f"{name}{marks.get(figure, '')}"

    most = card.misalignment_max_mm
    yield (
        named("Heater surface", "heater_c"),
        heater_text(fusion.heater_c, system),
        heater_text(fusion.heater_c, other),
    )
    yield named("Max misalignment", "misalignment"), most_text(most, system), most_text(most, other)
    yield "Drag", "", unit_of("pressure", system)
    bead = fusion.bead_min_mm
    yield named("Bead at least", "bead_min_mm"), least_text(bead, system), least_text(bead, other)
    yield named("Heat soak", "soak_s"), minutes_text(fusion.soak_s, up=True), ""
    yield (
        named("Open/close at most", "open_close_max_s"),
        _or_procedure(fusion.open_close_max_s),
        "",
    )
    if fusion.ramp_max_s is not None:
        yield named("Pressure up within", "ramp_max_s"), _or_procedure(fusion.ramp_max_s), ""
    by_air = bool(card.airs)
    cool = "by air" if by_air else minutes_text(fusion.cool_s, up=True)
    yield named("Cool under pressure", "cool_s"), cool, "see below" if by_air else ""
    rest = fusion.rest_s
    shown = "procedure" if rest is None else minutes_text(rest, up=True)
    yield named("Cooling rest", "rest_s"), shown, ""


def _or_procedure(seconds: float | None) -> str:
    return "procedure" if seconds is None else minutes_text(seconds, up=False)


def _min_and_s(seconds: float, *, up: bool) -> tuple[int, int]:
    """Return minutes and seconds of a time that is rounded to whole seconds."""
    return divmod(math.ceil(seconds - TINY) if up else math.floor(seconds + TINY), 60)


def min_s_text(seconds: float, *, up: bool) -> str:
    """Return a time as min:s; a least one is rounded up to the second, a longest one down.

    >>> min_s_text(381.2, up=True), min_s_text(65.9, up=False)
    ('6:22', '1:05')
    """
    minutes, rest = _min_and_s(seconds, up=up)
    return f"{minutes}:{rest:02d}"


def minutes_text(seconds: float, *, up: bool) -> str:
    """Return a time for a stopwatch: a least one rounded up to the second, a longest one down.

    >>> minutes_text(381.2, up=True), minutes_text(20.9, up=False), minutes_text(1800, up=True)
    ('6 min 22 s', '20 s', '30 min')
    """
    minutes, rest = _min_and_s(seconds, up=up)
    parts = [f"{minutes} min" if minutes else "", f"{rest} s" if rest or not minutes else ""]
    return " ".join(filter(None, parts))


def heater_text(heater_c: tuple[float, float], system: UnitSystem) -> str:
    """Return the range of the heater surface, inside the method's to the degree."""
    unit = unit_of("temperature", system)
    low, high = (from_si(value, unit) for value in heater_c)
    return f"{limit_text(low, unit, up=True)}\N{EN DASH}{limit_text(high, unit, up=False)} {unit}"


def most_text(mm: float, system: UnitSystem) -> str:
    """Return a longest length, rounded down to the digit shown."""
    unit = unit_of("small_length", system)
    return f"{limit_text(from_si(mm, unit), unit, up=False)} {unit}"


def least_text(mm: float, system: UnitSystem) -> str:
    """Return a least length, rounded up; whole fractions of an inch as a rule has them."""
    unit = unit_of("small_length", system)
    value = from_si(mm, unit)
    parts = value * FRACTIONS
    if unit == "in" and abs(parts - round(parts)) < 1e-6 and value < 1:
        shared = math.gcd(round(parts), FRACTIONS)
        return f"{round(parts) // shared}/{FRACTIONS // shared} in"
    return f"{limit_text(value, unit, up=True)} {unit}"


def _exact(mm: float, system: UnitSystem) -> str:
    unit = unit_of("small_length", system)
    return f"{from_si(mm, unit):.{3 if unit == 'in' else 1}f} {unit}"


def _ladder(context: Context, card: FieldCard) -> Iterator[Line]:
    """Yield drag and the gauge that goes with it, so that nobody adds on site."""
    system = context.system
    main, other = (unit_of("pressure", one) for one in (system, OTHER[system]))
    base = card.base_gauge_mpa
    if base is None:
        yield from _lever(system, card)
        return
    drags = drag_ladder(from_si(context.estimate.job.fusion.drag_mpa, main))
    step = FINEST[main]
    first = round(round(from_si(base, main) / step) * step, 1)
    gauges = [round(first + drag, 1) for drag in drags]
    limit = None if card.most_gauge_mpa is None else from_si(card.most_gauge_mpa, main)
    over = [limit is not None and gauge > limit + TINY for gauge in gauges]
    yield Line(
        "rung",
        [Part(0, 0, f"Drag, {main}", "drag"),
         *(Part(*at, drag, "drag number") for at, drag in zip(RUNGS, drags, strict=True))],
    )  # fmt: skip
    yield Line(
        "rung",
        [Part(0, 0, f"Set gauge, {main}", "gauge"),
         *(_rung(n, gauge, main, over=over[n]) for n, gauge in enumerate(gauges))],
    )  # fmt: skip
    factor = from_si(to_si(1.0, main), other)
    yield Line(
        "fact",
        [Part(0, 0, f"Set gauge, {other}", "other gauge"),
         *(Part(*RUNGS[n], None if over[n] else gauge * factor, f"other {other}")
           for n, gauge in enumerate(gauges))],
    )  # fmt: skip


def _rung(number: int, gauge: float, unit: str, *, over: bool) -> Part:
    """Return a gauge of the ladder: the first as worked out, the others that and the drag."""
    first, last = RUNGS[number]
    if over:
        return Part(first, last, "over", "gauge over")

    def with_drag(row: int, letters: Callable[[int], str]) -> str:
        return f"${letters(RUNGS[0][0])}{row}+{letters(first)}{row - 1}"

    return Part(first, last, gauge, f"gauge {unit}", with_drag if number else None)


def _lever(system: UnitSystem, card: FieldCard) -> Iterator[Line]:
    """Yield what a machine without a gauge needs: the force on the ends."""
    force = fusion_force_n(card.geometry.joint_area_mm2, card.fusion.interfacial_mpa[1])
    shown = [f"{convert(force, 'force', one):,.{0 if one == 'US' else 2}f} {unit_of('force', one)}"
             for one in (system, OTHER[system])]  # fmt: skip
    yield Line("rung", (Part(0, LAST, "No gauge: hand lever.", "drag"),))
    yield Line("rung", (Part(0, LAST, f"Force on the ends {shown[0]} + drag", "gauge"),))
    yield Line("fact", (Part(0, LAST, f"{shown[1]} + drag", "other gauge"),))


def _air(system: UnitSystem, card: FieldCard) -> Iterator[Line]:
    """Yield cooling by air, that of the planned month in bold, or that air changes nothing."""
    unit = unit_of("temperature", system)
    airs = card.airs
    if not airs:
        for text in _alike(*_asked_for(card, system)):
            yield Line("fact", (Part(0, LAST, text, "fact"),))
        return
    now = next((one for one in airs if card.ambient_c < one.air_c), airs[-1])
    names = [Part(0, 0, f"Air, {unit}", "air")]
    times = [Part(0, 0, "Cool, min:s", "air")]
    for columns, one in zip(RUNGS, [*airs, *[None] * len(RUNGS)], strict=False):
        part = "air now" if one is now else "air number"
        name = time = None
        if one is not None:
            at = limit_text(from_si(one.air_c, unit), unit, up=False)
            name = at if one.at else f"to {at}"
            time = min_s_text(one.cool_s, up=True)
        names.append(Part(*columns, name, part))
        times.append(Part(*columns, time, part))
    yield Line("fact", names)
    yield Line("fact", times)


def _asked_for(card: FieldCard, system: UnitSystem) -> tuple[str, str]:
    """Return the air below which, and from which up, the method asks for more than a clock."""
    found = {"high": "", "low": ""}
    for row in tables.find_rows("fusion_notes", method=card.fusion.method):
        unit = {"ambient_c": "C", "ambient_f": "F"}.get(str(row["quantity"]))
        for side in found:
            if unit is not None and isinstance(row[side], float):
                celsius = to_si(tables.number(row, side), unit)
                shown = unit_of("temperature", system)
                found[side] = f"{from_si(celsius, shown):.0f} {shown}"
    return found["high"], found["low"]


def _alike(below: str, above: str) -> tuple[str, str | None]:
    """Return in which air cooling is the same, and what to do in other air.

    >>> _alike("0 C", "38 C")
    ('Air from 0 C to below 38 C: cooling is the same.', 'Below or above: stop and ask.')
    >>> _alike("0 C", ""), _alike("", "")[1]
    (('Air from 0 C up: cooling is the same.', 'Below: stop and ask.'), None)
    """
    if below and above:
        return f"Air from {below} to below {above}: cooling is the same.", (
            "Below or above: stop and ask."
        )
    if below:
        return f"Air from {below} up: cooling is the same.", "Below: stop and ask."
    if above:
        return f"Air below {above}: cooling is the same.", "Above: stop and ask."
    return "Cooling is the same in any air.", None


def _cut(text: str) -> str:
    """Return names that fit one line of a card; what is left out is said."""
    words = text.split(", ")
    short = text
    while len(words) > 1 and text_pixels(short, look.SMALL) > LINE_PX:
        words.pop()
        short = f"{', '.join(words)} ..."
    return short
