"""Joints in two pages: counts by run, grouped by pipe, and what the crew holds to and needs.

The cells follow those of the Joints sheet, which holds every column of every run.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain, pairwise
from math import inf

from estimator.cost import tests_by_run
from estimator.data_class import dataclass
from estimator.display import METHOD_NAMES, convert, counted, figure, sentence, unit_of
from estimator.inputs.dictionary import fields
from estimator.joint.cycle import cold_factor
from estimator.models.job import Run
from estimator.models.joint import FusionParameters
from estimator.models.kinds import CONNECTIONS
from estimator.models.sized_run import SizedRun
from estimator.progress.field_cards import MARKS, MEMORY, PRACTICE, lasting_notes
from estimator.progress.site_plan import misalignment_max_mm, misalignment_row
from estimator.standards import tables
from estimator.units import MIN_S
from estimator.workbook.results.builder import (
    DAY_S,
    TOTAL_STYLES,
    Context,
    Scalar,
    SheetBuilder,
    header_text,
    min_s_cell,
)
from estimator.workbook.results.cards_sheet import heater_text
from estimator.workbook.results.joints_sheet import COUNTED, every_run, first_run, run_cell
from estimator.workbook.results.limits_shown import LIMITS, shown_limit
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.layout import EDGE, RESERVE, laid_out
from estimator.workbook.sheet.look import ROW, TEXT, pixels_of
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec
from estimator.workbook.sheet.text_width import text_pixels, with_whole_words

GAP = 7.5
"""Height of the blank row under the title of a full page."""
ON_JOINTS = frozenset(
    {"od", "wall", "bead", "soak", "open_close", "cool", "rest", "gauge", "machine"}
)
"""Columns that follow a column of the Joints sheet."""
OFFSETS = {"US": "num2", "SI": "num1"}
"""Style of the longest misalignment, with the decimals of the field card."""
GROUP_STYLES = {"int": "group_int", "int_bold": "group_int", "num1": "group_num1"}
HOLDS_TO, TAKES = "What the crew holds to", "What a joint takes"
SURE, INDENT_PX = 0.94, 12.0
"""Share of a column that letters fill for sure, and the pixels of its indent."""
COUNTS_NOTE = "Butt joints = stick + fitting + other pipe. Labor-hours are added before rounding."
BROKEN_HEADS = {"offset": "Misalignment\nat most", "open_close": "Open/\nclose\nat most"}
"""Heads whose lines keep off those beside them, by the key of their column."""
FIGURES = {
    "soak_s": "soak", "bead_min_mm": "bead", "open_close_max_s": "open/close", "cool_s": "cool",
    "rest_s": "rest",
}  # fmt: skip
"""What the columns of limits are called in a sentence, by the figure of the method."""
CHECK = {MEMORY: "; check the standard", PRACTICE: ""}
GOVERNS = (
    "on site, measure the drag of every joint. The machine's own chart and the qualified written "
    "procedure govern."
)
TIMES_NOTE = (
    "Efficiency and overtime never shorten soak and cooling. Cycle: work outside cooling, "
    "machine-paced too, soak, and the longer of cooling and the work done during it."
)
APART_NOTE = "Lines of one pipe and access factor: another month of start or machine{}."
COLD_NOTE = "Month in brackets: that of the start; cold weather multiplies crew-paced time, too."
LEVER_NOTE = "No gauge: a hand lever."
BLANK_NOTE = "Blank: no such joint."


@dataclass(frozen=True)
class _Place:
    """One run with what the pages group it by: its place on the Joints sheet, and its pipe."""

    index: int
    run: Run
    sized: SizedRun
    pipe: str


_Lines = Sequence[Sequence[_Place]]
"""The lines of a table, each with the runs that it holds for."""


def joint_counts_sheet(context: Context) -> SheetSpec:
    """Return the counts by run; anchor ``joint_counts.butt_joints`` points at their sum.

    A page that goes on with a pipe names it again.
    """
    plain = _counts(context, frozenset())
    pages = laid_out(replace(plain, room_again=ROW))
    begins = frozenset(last + 1 for last in pages.breaks)
    return _counts(context, begins) if begins else plain


def _counts(context: Context, begins: frozenset[int]) -> SheetSpec:
    """Return the sheet; ``begins`` are the rows, as without pipes named again, that begin pages."""
    sheet = SheetBuilder(context, "Joint counts", "Joint counts", again=begins)
    columns = result_columns("joint_counts")
    estimate = context.estimate
    joints, runs = (
        counted(estimate.butt_joints, "butt joint"),
        counted(len(estimate.runs), "run"),
    )
    sheet.result = Cell(f"{joints} in {runs}", "result")
    sheet.add(height=GAP)
    header = sheet.table_head(columns)
    tests, ends = tests_by_run(estimate.plan), list[int]()
    for places in _by_pipe(context).values():
        ends += _count_group(sheet, columns, places, tests)
    _job_line(sheet, columns)
    note = " ".join(filter(None, (COUNTS_NOTE, _besides(context))))
    sheet.merge(sheet.add(Cell(note, "note")), 1, len(columns))
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        header_row=header,
        breaks=tuple(ends),
        landscape=False,
        closes_up=True,
    )


def _places(context: Context) -> Iterator[_Place]:
    names = [run.label for run in context.estimate.by_run.runs]
    for index, (run, sized) in enumerate(context.estimate.pairs):
        yield _Place(index, run, sized, names[index])


def _by_pipe(context: Context) -> Mapping[str, list[_Place]]:
    found: dict[str, list[_Place]] = {}
    for place in _places(context):
        found.setdefault(place.pipe, []).append(place)
    return found


def _count_group(
    sheet: SheetBuilder,
    columns: Sequence[ResultColumn],
    places: Sequence[_Place],
    tests: Mapping[str, int],
) -> Sequence[int]:
    """Append the line of a pipe with its sums, and its runs; return the rows that end pages."""
    ends = [sheet.last_row] if sheet.begins_page else []
    pipe, group = places[0].pipe, sheet.add()
    first, styles = sheet.next_row, [GROUP_STYLES.get(one.style, "group") for one in columns]
    starts = [at for at in range(1, len(places)) if first + at - sheet.added in sheet.again]
    for start, end in pairwise([0, *starts, len(places)]):
        if start:
            ends.append(sheet.last_row)
            sheet.added += 1
            sheet.add(Cell(f"{pipe}, continued", "group"), *(Cell(None, s) for s in styles[1:]))
        _run_rows(sheet, columns, places[start:end], tests)
    lines = range(first, sheet.next_row)
    sheet.put(group, 1, Cell(pipe, "group"))
    for number, (column, style) in enumerate(zip(columns[1:], styles[1:], strict=True), 2):
        letters = column_letters(number)
        formula = f"SUM({letters}{lines[0]}:{letters}{lines[-1]})"
        total = sum(sheet.numbers_in(lines, number))
        sheet.put(group, number, Cell(total, style, formula) if column.total else Cell(None, style))
    return ends


def _run_rows(
    sheet: SheetBuilder,
    columns: Sequence[ResultColumn],
    places: Sequence[_Place],
    tests: Mapping[str, int],
) -> None:
    """Append a row for each run."""
    context = sheet.context
    hours, run_ids = context.estimate.labor_hours, [place.run.run_id for place in places]
    counts = [place.sized.counts for place in places]
    values: dict[str, Sequence[Scalar]] = {
        **{
            column.key: [getattr(count, column.key) for count in counts]
            for column in columns
            if column.key in COUNTED
        },
        "run_id": run_ids,
        "description": [place.run.description for place in places],
        "length": [place.run.length_m for place in places],
        "test_joints": [tests[run_id] for run_id in run_ids],
        "labor_hours": [hours.get(run_id, 0.0) for run_id in run_ids],
    }
    formulas = {column.key: every_run(context, column.key) for column in columns if column.total}
    others = [first_run(context) + place.index for place in places]
    sheet.add_table(columns, values, formulas, others)


def _job_line(sheet: SheetBuilder, columns: Sequence[ResultColumn]) -> None:
    """Append the sums of the job, which are those of the Joints sheet."""
    context = sheet.context
    cells = [Cell("Job", "total_text")]
    for number, column in enumerate(columns[1:], 2):
        value = sum(chain.from_iterable(sheet.numbers_in(run, number) for run in _runs_of(sheet)))
        style = TOTAL_STYLES.get(column.style, "total_text")
        formula = context.anchors[f"joints.{column.key}"] if column.total else None
        cells.append(Cell(value if column.total else None, style, formula))
    row = sheet.add(*cells)
    sheet.anchor("joint_counts.butt_joints", _number(columns, "butt_joints"), row)


def _runs_of(sheet: SheetBuilder) -> Iterator[range]:
    """Yield the rows of the runs of each pipe."""
    for first, block in sheet.blocks.items():
        yield range(first, first + block.count)


def _number(columns: Sequence[ResultColumn], key: str) -> int:
    return [column.key for column in columns].index(key) + 1


def _besides(context: Context) -> str:
    """Return what connections there are besides butt joints."""
    others: dict[str, int] = {}
    for sized in context.estimate.runs:
        for key, count in sized.counts.others.items():
            others[key] = others.get(key, 0) + count
    made = [counted(others[kind.key], kind.work) for kind in CONNECTIONS if others.get(kind.key)]
    return f"Other connections: {', '.join(made)}." if made else ""


# -- parameters and times


def joint_parameters_sheet(context: Context) -> SheetSpec:
    """Return the fusion parameters by pipe, and the times by pipe and access factor.

    The names of runs are broken between names, in the room that the page leaves them.
    """
    widths = laid_out(_parameters(context, inf)).widths
    room = sum(pixels_of(width) for width in widths[len(result_columns("joint_times")) - 1 :])
    return _parameters(context, SURE * room - INDENT_PX)


def _parameters(context: Context, room: float) -> SheetSpec:
    """Return the sheet; ``room`` are the pixels for the names of runs."""
    sheet = SheetBuilder(context, "Joint parameters", "Joint parameters and times")
    limits, times = result_columns("joint_parameters"), result_columns("joint_times")
    sheet.result = Cell(METHOD_NAMES[context.estimate.job.fusion.method], "result")
    sheet.section(HOLDS_TO, len(limits))
    header = sheet.table_head(limits)
    for key, noun in BROKEN_HEADS.items():
        column = limits[_number(limits, key) - 1]
        text = header_text(noun, column.unit(context.system, context.currency))
        sheet.put(header, _number(limits, key), Cell(text, "header"))
    places = list(_places(context))
    lines = _alike(places, _limits_key)
    for alike in lines:
        sheet.add(*_limits(context, limits, alike[0]))
    note = " ".join(_limits_note(context, lines))
    sheet.merge(sheet.add(Cell(note, "note")), 1, len(limits))
    sheet.add()
    sheet.section(TAKES, len(limits))
    lines = _by_access(_alike(places, _times_key))
    _time_rows(sheet, times, lines, len(limits), room)
    note = " ".join(_times_note(context, lines))
    sheet.merge(sheet.add(Cell(note, "note")), 1, len(limits))
    return replace(
        sheet.spec(),
        widths=_parameter_widths(limits, [place.pipe for place in places]),
        freeze=(2, 1),
        header_row=header - 2,
        landscape=False,
        exact_widths=True,
        closes_up=True,
    )


def _parameter_widths(columns: Sequence[ResultColumn], pipes: Iterable[str]) -> tuple[float, ...]:
    """Return the widths of the columns; the last has what short names of pipe leave.

    Names of runs stand in it, too.
    """
    first, *middle, last = (column.width for column in columns)
    longest = max(text_pixels(pipe, TEXT) for pipe in pipes) * RESERVE + EDGE
    letters = (longest - pixels_of(0)) / (pixels_of(1) - pixels_of(0))
    named = min(first, letters)
    return (named, *middle, last + first - named)


def _limits_note(context: Context, lines: _Lines) -> Iterator[str]:
    """Yield what stands below the limits: the heater, where the figures come from, the gauge."""
    system, fusion = context.system, context.estimate.job.fusion
    of_method = [place.sized.fusion for line in lines for place in line]
    yield "Minima are rounded up, maxima down."
    heater = dict.fromkeys(heater_text(one.heater_c, system) for one in of_method)
    yield f"Heater surface {' or '.join(heater)}."
    yield from _doubts(of_method)
    notes = dict.fromkeys(chain.from_iterable(map(lasting_notes, of_method)))
    yield from (f"{note.partition('. ')[0]}." for note in notes)
    yield "Cool: under pressure; rest: off the machine, before handling."
    drag = f"{figure(convert(fusion.drag_mpa, 'pressure', system))} {unit_of('pressure', system)}"
    yield f"Gauge pressure includes {drag} of drag; {GOVERNS}"
    if any(place.sized.machine.gauge_mpa is None for line in lines for place in line):
        yield LEVER_NOTE
    if _repeats(line[0].pipe for line in lines):
        yield "Lines of one pipe: another month or machine."


def _doubts(of_method: Sequence[FusionParameters]) -> Iterator[str]:
    """Yield which figures are from memory or common practice, as the field cards mark them."""
    marked = {
        source.figure: (MARKS[source.confidence], source.confidence)
        for one in of_method
        for source in one.sources
        if source.confidence in MARKS
    }
    row = misalignment_row()
    found: dict[tuple[str, str], list[str]] = {}
    misalignment = f"misalignment ({tables.number(row, 'value'):g}% of the wall)"
    confidence = str(row["confidence"])
    found[MARKS[confidence], confidence] = [misalignment]
    for key in FIGURES:
        if key in marked:
            found.setdefault(marked[key], []).append(FIGURES[key])
    for (mark, confidence), names in found.items():
        yield f"{sentence(', '.join(names))}: {confidence}{CHECK[mark]}."


def _times_note(context: Context, lines: _Lines) -> Iterator[str]:
    """Yield what stands below the times."""
    yield TIMES_NOTE
    (access,) = (one for one in fields("schedule") if one.key == "access_factor")
    yield f"{access.header}: {access.note[0].lower()}{access.note[1:]}."
    if _repeats((place.pipe, place.run.access_factor) for place, *_ in lines):
        yield APART_NOTE.format(", in brackets" * any(_reasons(context, lines)))
    if any(_cold_months(context, line) for line in lines):
        yield COLD_NOTE
    yield BLANK_NOTE


def _repeats(names: Iterable[object]) -> bool:
    """Return whether several lines have one name."""
    return any(count > 1 for count in Counter(names).values())


def _alike(places: Iterable[_Place], key: Callable[[_Place], object]) -> _Lines:
    """Return the runs that show the same figures together, in the order of the pipes."""
    found: dict[tuple[str, object], list[_Place]] = {}
    for place in places:
        found.setdefault((place.pipe, key(place)), []).append(place)
    order = list(dict.fromkeys(place.pipe for group in found.values() for place in group))
    return sorted(found.values(), key=lambda group: order.index(group[0].pipe))


def _by_access(lines: _Lines) -> _Lines:
    """Return lines with those of one pipe in the order of their access factors."""
    order = list(dict.fromkeys(line[0].pipe for line in lines))
    return sorted(lines, key=lambda ln: (order.index(ln[0].pipe), ln[0].run.access_factor))


def _limits_key(place: _Place) -> object:
    fusion, geometry, machine = place.sized.fusion, place.sized.geometry, place.sized.machine
    return (geometry.od_mm, geometry.wall_mm, fusion.bead_min_mm, fusion.soak_s,
            fusion.open_close_max_s, fusion.cool_s, fusion.rest_s, machine.class_id,
            machine.gauge_mpa)  # fmt: skip


def _limits(context: Context, columns: Sequence[ResultColumn], place: _Place) -> Iterator[Cell]:
    """Yield the cells of a line of limits, each rounded to the safe side of what it shows."""
    fusion, geometry, machine = place.sized.fusion, place.sized.geometry, place.sized.machine
    values: dict[str, Scalar] = {
        "pipe": place.pipe,
        "od": geometry.od_mm,
        "wall": geometry.wall_mm,
        "offset": misalignment_max_mm(geometry.wall_mm),
        "bead": fusion.bead_min_mm,
        "soak": fusion.soak_s / MIN_S,
        "open_close": fusion.open_close_max_s,
        "cool": fusion.cool_s / MIN_S,
        "rest": None if fusion.rest_s is None else fusion.rest_s / MIN_S,
        "gauge": None if machine.gauge_mpa is None else machine.gauge_mpa[1],
        "machine": machine.class_id,
    }
    for column in columns:
        value, style = values[column.key], column.style_in(context.system)
        style = OFFSETS[context.system] if column.key == "offset" else style
        shown = column.shown(value, context.system) if isinstance(value, int | float) else value
        live = run_cell(context, column.key, place.index) if column.key in ON_JOINTS else None
        if column.key in LIMITS and isinstance(shown, int | float):
            shown = shown_limit(column.key, shown, style)
        if shown is None and live is not None:
            shown, live = "", f'IF({live}="","",{live})'
        yield Cell(shown, style, live)


def _time_rows(
    sheet: SheetBuilder,
    columns: Sequence[ResultColumn],
    lines: _Lines,
    width: int,
    room: float,
) -> None:
    """Append the times of each pipe and access factor, with the runs that they hold for."""
    context = sheet.context
    places = list(_places(context))
    order = {place.run.run_id: place.index for place in places}
    reasons = _reasons(context, lines)
    header = sheet.table_head(columns)
    sheet.merge(header, len(columns), width)
    sheet.put(header, len(columns) + 1, *[Cell(None, "header")] * (width - len(columns)))
    last = ""
    for alike, reason in zip(lines, reasons, strict=True):
        cells = list(_times(context, columns, alike))
        if alike[0].pipe == last:
            cells[0] = Cell(last, "text_again")
        last = alike[0].pipe
        names = (place.run.run_id for place in alike)
        named = in_stretches(names, order, most=len(places))
        text = f"{named} ({reason})" if reason else named
        runs = Cell(with_whole_words(text, room, TEXT), "text_after")
        row = sheet.add(*cells, runs, *[Cell(None, "text")] * (width - len(columns)))
        sheet.merge(row, len(columns), width)


def _times_key(place: _Place) -> object:
    fusion, cycle = place.sized.fusion, place.sized.cycle
    times = (round(each * 60) for each in (_crew_min(place), cycle.plain.cycle_min))
    return place.run.access_factor, *times, _soak_cool(fusion), cycle.joints_per_shift


def _reasons(context: Context, lines: _Lines) -> Sequence[str]:
    """Return what sets the times of each line apart besides pipe and access, empty for nothing.

    It is the month whose cold counts, and what differs among lines of one pipe and access factor.
    """
    found: dict[object, list[int]] = {}
    for at, line in enumerate(lines):
        found.setdefault((line[0].pipe, line[0].run.access_factor), []).append(at)
    reasons = [_cold_months(context, line) for line in lines]
    for together in found.values():
        if len(together) > 1:
            apart = _apart(context, [lines[n] for n in together])
            for at, reason in zip(together, apart, strict=True):
                reasons[at] = ", ".join(dict.fromkeys(filter(None, (reasons[at], reason))))
    return reasons


def _cold_months(context: Context, line: Sequence[_Place]) -> str:
    """Return the months in which runs start, empty where no cold factor counts."""
    factors, ambient_c = context.estimate.job.cold_factors, line[0].sized.timing.ambient_c
    return "" if cold_factor(ambient_c, factors) == 1.0 else ", ".join(_months(context, line))


def _apart(context: Context, lines: _Lines) -> Sequence[str]:
    """Return the months or else the machines of lines that have none in common."""
    for of_line in (_months, _machines):
        names = [of_line(context, line) for line in lines]
        if all(names) and len(set(chain.from_iterable(names))) == sum(map(len, names)):
            return [", ".join(each) for each in names]
    return [""] * len(lines)


def _months(context: Context, line: Sequence[_Place]) -> Sequence[str]:
    """Return the months in which runs start, in their order."""
    spans = (context.run_spans.get(place.run.run_id) for place in line)
    days = sorted(span.first for span in spans if span is not None)
    return list(dict.fromkeys(f"{day:%b}" for day in days))


def _machines(context: Context, line: Sequence[_Place]) -> Sequence[str]:
    del context
    return list(dict.fromkeys(place.sized.machine.class_id for place in line))


def _soak_cool(fusion: FusionParameters) -> float:
    """Return the least soak and cooling, each as shown, as a part of a day in whole seconds."""
    minutes = {"soak": fusion.soak_s / MIN_S, "cool": fusion.cool_s / MIN_S}
    days = (shown_limit(key, value, "min_s") for key, value in minutes.items())
    return round(sum(days) * DAY_S) / DAY_S


def _crew_min(place: _Place) -> float:
    return sum(e.minutes for e in place.sized.cycle.elements if e.paced_by == "crew")


def _times(
    context: Context, columns: Sequence[ResultColumn], alike: Sequence[_Place]
) -> Iterator[Cell]:
    """Yield the cells of a line of times, without its runs."""
    place = alike[0]
    fusion, cycle = place.sized.fusion, place.sized.cycle
    fitting = next((one for one in alike if one.sized.counts.fitting_joints), None)
    tie_in = next((one for one in alike if one.sized.counts.tie_in_joints), None)

    def cell(key: str, at: _Place = place) -> str:
        return run_cell(context, key, at.index)

    yield Cell(place.pipe, "text")
    yield Cell(place.run.access_factor, columns[1].style, _access(context, place.run))
    yield min_s_cell(_crew_min(place), cell("crew_min"))
    soak_cool = f"ROUND(({cell('soak')}+{cell('cool')})*{DAY_S},0)/{DAY_S}"
    yield Cell(_soak_cool(fusion), "min_s", soak_cool)
    yield min_s_cell(cycle.plain.cycle_min, cell("cycle"))
    if fitting is None:
        yield Cell(None, "min_s")
    else:
        yield min_s_cell(fitting.sized.cycle.fitting.cycle_min, cell("fitting_cycle", fitting))
    if tie_in is None:
        yield Cell(None, "min_s")
    else:
        yield min_s_cell(tie_in.sized.cycle.tie_in.cycle_min, cell("tie_in_cycle", tie_in))
    yield Cell(cycle.joints_per_shift, "int", cell("joints_per_shift"))


def _access(context: Context, run: Run) -> str | None:
    """Return the access factor by its cell, where a blank stands for the default."""
    cell = context.input("schedule", run.run_id, "access_factor")
    usual = Run.model_fields["access_factor"].default
    return cell and f'IF({cell}="",{usual:g},{cell})'
