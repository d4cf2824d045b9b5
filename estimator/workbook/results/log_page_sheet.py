"""The Log pages sheet: the joint log of some runs to print, to be written on at the machine."""

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from itertools import groupby
from typing import NamedTuple

from estimator.data_class import dataclass
from estimator.display import METHOD_NAMES, UnitSystem, counted, show_day, unit_of
from estimator.input_errors.site_records import clock_text
from estimator.models.site_records import LoggedJoint
from estimator.progress.field_cards import FieldCard
from estimator.progress.joint_log import JudgedJoint, JudgedLog, required_gauge_mpa
from estimator.units import from_si
from estimator.workbook.results.builder import Context, header_text
from estimator.workbook.results.cards_sheet import (
    heater_text,
    min_s_text,
    most_text,
)
from estimator.workbook.sheet import look
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec, Value
from estimator.workbook.sheet.text_width import text_pixels

LOG_PAGES = "Log pages"
JOINTS_ON_PAGE = 15
FIELDS, GROUPS, HEAD, LIMITS, JOINT, GAP = 21.0, 15.0, 39.0, 15.0, 20.25, 4.5
NOTE = (
    "Yellow: write. White: printed, or calculated in the workbook. A reject names its cause and "
    "the joint that replaces it."
)
ROOM_PX = 860.0
"""Room for a line of text across the page."""


class Box(NamedTuple):
    """What is written once a page: its word, the columns of word and box, and whose value it is."""

    word: str
    at: int
    first: int
    last: int
    key: str = ""


HEAD_BOXES = (
    Box("Date", 0, 1, 2, "date"), Box("Crew", 3, 4, 4, "crew"),
    Box("Machine no.", 5, 7, 8, "machine_no"), Box("Operator", 9, 10, 12, "operator"),
    Box("Weather", 13, 15, 18),
)  # fmt: skip
SIGNED = (Box("Operator", 0, 1, 4), Box("Inspector", 6, 8, 11), Box("Logger file", 13, 15, 18))


class PageColumn(NamedTuple):
    """A column of the page: its key, header, kind of unit, width in pixels, and who fills it."""

    key: str
    header: str
    unit: str
    pixels: int
    typed: bool
    group: str = ""


JOINT_GROUP, SET_UP, CLOCK = "Joint", "Set-up", "Clock times, h:min:s"
WORKED, RESULT = "Calculated", "Result"
COLUMNS = (
    PageColumn("joint_no", "Joint no.", "", 67, False, JOINT_GROUP),
    PageColumn("kind", "Kind", "", 62, False, JOINT_GROUP),
    PageColumn("batch_1", "Pipe batch 1", "", 40, True, SET_UP),
    PageColumn("batch_2", "Pipe batch 2", "", 40, True, SET_UP),
    PageColumn("ambient_c", "Air", "temperature", 28, True, SET_UP),
    PageColumn("heater_1_c", "Heater", "temperature", 48, True, SET_UP),
    PageColumn("drag_mpa", "Drag", "pressure", 36, True, SET_UP),
    PageColumn("gauge_due", "Gauge due", "pressure", 42, False, SET_UP),
    PageColumn("gauge_set_mpa", "Gauge set", "pressure", 40, True, SET_UP),
    PageColumn("heat_start_min", "Heat start", "clock", 54, True, CLOCK),
    PageColumn("heater_out_min", "Heater out", "clock", 54, True, CLOCK),
    PageColumn("closed_min", "Closed", "clock", 54, True, CLOCK),
    PageColumn("cool_end_min", "Cool end", "clock", 54, True, CLOCK),
    PageColumn("soak_s", "Soak", "duration", 38, False, WORKED),
    PageColumn("open_close_s", "Open/ close", "duration", 38, False, WORKED),
    PageColumn("cool_s", "Cool", "duration", 43, False, WORKED),
    PageColumn("bead", "Bead", "small_length", 44, True, RESULT),
    PageColumn("misalignment_mm", "Mis- align", "small_length", 40, True, RESULT),
    PageColumn("verdict", "Verdict", "", 65, False, RESULT),
)
CELL_EDGES = 8.0
"""Pixels of a cell that its text leaves free."""
DIGITS: Mapping[str, int] = {"in": 2, "mm": 1, "psi": 0, "bar": 1, "F": 0, "C": 0}
"""Digits behind the point of an entry on the page."""


@dataclass()
class _Sheet:
    """The rows of the sheet so far."""

    system: UnitSystem
    rows: list[Row] = field(default_factory=list)
    merges: list[str] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)

    def add(self, points: float, cells: Mapping[int, Cell]) -> int:
        """Append a row of cells by column from 0; return its number."""
        self.rows.append(Row([cells.get(column) for column in range(len(COLUMNS))], points))
        return len(self.rows)

    def box(self, cells: dict[int, Cell], first: int, last: int, style: str) -> None:
        """Merge some empty cells of the next row."""
        cells.update({column: Cell(None, style) for column in range(first, last + 1)})
        if last > first:
            row = len(self.rows) + 1
            self.merges.append(f"{column_letters(first + 1)}{row}:{column_letters(last + 1)}{row}")


def log_pages(
    context: Context, judged: JudgedLog, cards: Sequence[FieldCard], runs: Sequence[str]
) -> SheetSpec:
    """Return the sheet with the pages of some runs: fifteen joints of one pipe on each.

    What was entered already is printed; the rest is left to write.
    """
    by_label = {f"{card.label} {card.material}": card for card in cards}
    sheet = _Sheet(context.system)
    asked = [one for one in judged.joints if one.joint.run_id in runs]
    for (run, pipe), group in groupby(asked, key=lambda one: (one.joint.run_id, one.joint.pipe)):
        joints = list(group)
        for start in range(0, len(joints), JOINTS_ON_PAGE):
            if sheet.rows:
                sheet.breaks.append(len(sheet.rows))
            page = joints[start : start + JOINTS_ON_PAGE]
            _page(sheet, context, by_label.get(pipe), run, page)
    return SheetSpec(
        name=context.sheet_names[LOG_PAGES],
        rows=sheet.rows,
        widths=[round((column.pixels - look.pixels_of(0)) / 7, 3) for column in COLUMNS],
        landscape=True,
        paper=context.paper,
        merges=sheet.merges,
        print_area=f"A1:{column_letters(len(COLUMNS))}{len(sheet.rows)}",
        breaks=sheet.breaks,
        exact_widths=True,
    )


def _page(
    sheet: _Sheet,
    context: Context,
    card: FieldCard | None,
    run: str,
    joints: Sequence[JudgedJoint],
) -> None:
    last = len(COLUMNS) - 1
    pipe = joints[0].joint.pipe if card is None else card.label
    method = METHOD_NAMES[context.estimate.job.fusion.method]
    titles = {0: Cell("Joint log", "title"), last: Cell(f"{pipe}, run {run}", "result")}
    sheet.add(look.TITLE_ROW, titles)
    rule = {column: Cell(None, "job") for column in range(last)}
    job = {0: Cell(context.estimate.job.cover.job_name, "job"), last: Cell(method, "job_right")}
    sheet.add(look.SUBTITLE_ROW, rule | job)
    sheet.add(GAP, {})
    _boxes(sheet, HEAD_BOXES, "log typed text", [one.joint for one in joints if one.joint.made])
    sheet.add(GAP, {})
    _groups(sheet)
    heads = {}
    for number, column in enumerate(COLUMNS):
        unit = {"clock": "", "duration": "min:s"}.get(column.unit)
        if unit is None:
            unit = unit_of(column.unit, context.system) if column.unit else ""
        style = "header" if column.unit == "" else "header_right"
        style = "header_after" if column.key == "verdict" else style
        heads[number] = Cell(header_text(column.header, unit), style)
    sheet.add(HEAD, heads)
    limits = _limits(context, card, joints[0].joint)
    row = {n: Cell(limits.get(c.key), "limit") for n, c in enumerate(COLUMNS)}
    sheet.merges.append(_over_drag_and_due(sheet.add(LIMITS, row | {0: Cell("Limits", "group")})))
    for one in joints:
        values, is_bad = dict(_values(context, one)), one.joint.made and not one.accepted
        cells = {n: Cell(values.get(c.key), _style(c)) for n, c in enumerate(COLUMNS)}
        if is_bad:
            cells[last] = Cell(values["verdict"], "log against")
        sheet.add(JOINT, cells)
    for _ in range(JOINTS_ON_PAGE - len(joints)):
        sheet.add(JOINT, {n: Cell(None, _style(c)) for n, c in enumerate(COLUMNS)})
    sheet.add(look.ROW, {0: Cell(_reasons(joints) or None, "plain")})
    _boxes(sheet, SIGNED, "sign")
    sheet.add(look.ROW, {0: Cell(NOTE, "subtitle")})


def _groups(sheet: _Sheet) -> None:
    """Add the row that names the columns by what they are of."""
    cells: dict[int, Cell] = {}
    for name, members in groupby(range(len(COLUMNS)), key=lambda number: COLUMNS[number].group):
        first, *_, end = members
        sheet.box(cells, first, end, "log group")
        cells[first] = Cell(name, "log group")
    sheet.add(GROUPS, cells)


def _reasons(joints: Sequence[JudgedJoint]) -> str:
    """Return why joints of the page are not accepted and which replace them, in one line."""
    texts = [
        f"{one.joint.joint_no} {one.verdict}: {', '.join(one.reasons)}"
        + (f"; made again as {one.joint.rework_as}" if one.joint.rework_as else "")
        for one in joints
        if one.joint.made and not one.accepted
    ]
    shown = texts
    while shown and text_pixels(_with_rest(shown, texts), look.TEXT) > ROOM_PX:
        shown = shown[:-1]
    return _with_rest(shown, texts)


def _with_rest(shown: Sequence[str], texts: Sequence[str]) -> str:
    """Return some reasons as sentences, and where the others stand."""
    others = len(texts) - len(shown)
    rest = f"{counted(others, 'other joint')}: see Log summary" if others and shown else ""
    rest = rest or ("Why not accepted: see Log summary" if others else "")
    return "".join(f"{text}. " for text in filter(None, (*shown, rest))).strip()


def _boxes(
    sheet: _Sheet, boxes: Sequence[Box], style: str, made: Sequence[LoggedJoint] = ()
) -> None:
    """Add a row of boxes, each filled with what all joints of the page have alike."""
    cells: dict[int, Cell] = {}
    for box in boxes:
        cells[box.at] = Cell(box.word, "log label" if box.at else "subtitle")
        sheet.box(cells, box.first, box.last, style)
        alike = {getattr(joint, box.key) for joint in made} if box.key else set()
        if len(alike) == 1:
            (value,) = alike
            shown = show_day(value, sheet.system) if isinstance(value, dt.date) else value
            cells[box.first] = Cell(None if shown is None else str(shown), style)
    sheet.add(FIELDS, cells)


def _style(column: PageColumn) -> str:
    role = "typed" if column.typed else "printed"
    if column.key == "verdict":
        return "log verdict"
    return f"log {role} {'number' if column.unit else 'text'}"


def _over_drag_and_due(row: int) -> str:
    """Return the cells in which the limit of the gauge stands: it is that of two columns."""
    keys = [column.key for column in COLUMNS]
    drag, due = (column_letters(keys.index(key) + 1) for key in ("drag_mpa", "gauge_due"))
    return f"{drag}{row}:{due}{row}"


def _limits(
    context: Context, card: FieldCard | None, first: LoggedJoint
) -> Mapping[str, str | None]:
    """Return the limit that stands over each column."""
    system = context.system
    least, most = "\N{GREATER-THAN OR EQUAL TO} {}", "\N{LESS-THAN OR EQUAL TO} {}"
    limits: dict[str, str | None] = {}
    if card is not None:
        limits["heater_1_c"] = heater_text(card.fusion.heater_c, system).rpartition(" ")[0]
        cool = None if card.airs else card.cooling[0].low_s
        limits["cool_s"] = "by air" if cool is None else least.format(min_s_text(cool, up=True))
    if first.soak_min_s is not None:
        limits["soak_s"] = least.format(min_s_text(first.soak_min_s, up=True))
    if first.open_close_max_s is not None:
        limits["open_close_s"] = most.format(min_s_text(first.open_close_max_s, up=False))
    if first.bead_min_mm is not None:
        limits["bead"] = least.format(_least_decimal(first.bead_min_mm, system))
    if first.misalignment_max_mm is not None:
        text = most_text(first.misalignment_max_mm, system).rpartition(" ")[0]
        limits["misalignment_mm"] = most.format(text)
    if first.base_gauge_mpa is not None:
        unit = unit_of("pressure", system)
        base = f"{from_si(first.base_gauge_mpa, unit):,.{DIGITS[unit]}f}"
        limits["drag_mpa"] = f"{base} + drag"
    return limits


def _least_decimal(mm: float, system: UnitSystem) -> str:
    """Return a least length as it is measured, rounded up.

    >>> _least_decimal(9.525, "US"), _least_decimal(9.525, "SI")
    ('0.375', '9.6')
    """
    unit = unit_of("small_length", system)
    places = 3 if unit == "in" else 1
    steps = math.ceil(round(from_si(mm, unit) * 10**places, 6))
    return f"{steps / 10**places:.{places}f}"


def _values(context: Context, one: JudgedJoint) -> Iterator[tuple[str, Value]]:
    """Yield what is known of a joint, as the page shows it."""
    joint = one.joint
    beads = [bead for bead in (joint.bead_1_mm, joint.bead_2_mm) if bead is not None]
    number = joint.joint_no
    room = COLUMNS[0].pixels - CELL_EDGES
    if text_pixels(number, look.TEXT) > room:
        number = number.removeprefix(f"{joint.run_id}-")
    worked = {
        "joint_no": number,
        "gauge_due": required_gauge_mpa(joint),
        "bead": min(beads) if beads else None,
        "soak_s": one.times.soak_s,
        "open_close_s": one.times.open_close_s,
        "cool_s": one.times.cool_s,
        "verdict": None if one.verdict == "not made" else one.verdict,
    }
    for column in COLUMNS:
        value = worked[column.key] if column.key in worked else getattr(joint, column.key)
        if value is not None:
            yield column.key, _shown(context, column, value)


def _shown(context: Context, column: PageColumn, value: Value) -> Value:
    if not isinstance(value, float):
        return value if not isinstance(value, dt.date) else f"{value:%Y-%m-%d}"
    if column.unit == "clock":
        return clock_text(value)
    if column.unit == "duration":
        return min_s_text(round(value), up=True)
    unit = unit_of(column.unit, context.system)
    return f"{from_si(value, unit):,.{DIGITS[unit]}f}"
