"""Joints in two pages: counts by run, grouped by pipe, and what the crew holds to and needs.

The cells follow those of the Joints sheet, which holds every column of every run.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain, pairwise
from math import ceil, floor

from estimator.cost import tests_by_run
from estimator.data_class import dataclass
from estimator.display import counted
from estimator.models.job import Run
from estimator.models.kinds import CONNECTIONS
from estimator.models.sized_run import SizedRun
from estimator.progress.site_plan import misalignment_max_mm
from estimator.units import MIN_S
from estimator.workbook.results.bid_text import METHOD_NAMES
from estimator.workbook.results.builder import (
    DAY_S,
    TOTAL_STYLES,
    Context,
    Scalar,
    SheetBuilder,
    min_s_cell,
)
from estimator.workbook.results.joints_sheet import COUNTED, every_run, first_run, run_cell
from estimator.workbook.results.names_in_short import in_stretches
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.look import ROW
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, SheetSpec

GAP = 7.5
"""Height of the blank row under the title of a full page."""
SECONDS = -1
"""What stands for whole seconds in the place of decimals."""
ON_JOINTS = frozenset(
    {"od", "wall", "bead", "soak", "open_close", "cool", "rest", "gauge", "machine"}
)
"""Columns that follow a column of the Joints sheet."""
NOISE = 6
"""Decimals to which a number is taken before it is rounded up or down."""
DECIMALS = {"US": 3, "SI": 1}
"""Decimals of diameters, walls and beads as shown."""
OFFSETS = {"US": (2, "num2"), "SI": (1, "num1")}
"""Decimals of the longest misalignment, as on the field card, with their style."""
GROUP_STYLES = {"int": "group_int", "int_bold": "group_int", "num1": "group_num1"}
AT_LEAST, AT_MOST = "ROUNDUP", "ROUNDDOWN"
HOLDS_TO, TAKES = "What the crew holds to", "What a joint takes"
LIMITS_NOTE = (
    "Minima are rounded up, maxima down. Cool: under pressure; rest: off the machine, before "
    "handling. Gauge pressure includes the drag allowance; on site, measure the drag of every "
    "joint. The machine's own chart and the qualified written procedure govern. Several lines of a "
    "pipe: another month or machine."
)
TIMES_NOTE = (
    "Soak and cooling are never shortened by efficiency or overtime. Some crew-paced work is done "
    "while the last joint cools, so the cycle is shorter than the two together. Blank: no such "
    "joint in these runs."
)


@dataclass(frozen=True)
class _Place:
    """One run with what the pages group it by: its place on the Joints sheet, and its pipe."""

    index: int
    run: Run
    sized: SizedRun
    pipe: str


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
    rest = _besides(context)
    if rest:
        sheet.merge(sheet.add(Cell(rest, "note")), 1, len(columns))
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
    """Return the fusion parameters by pipe, and the times by pipe and access factor."""
    sheet = SheetBuilder(context, "Joint parameters", "Joint parameters and times")
    limits, times = result_columns("joint_parameters"), result_columns("joint_times")
    sheet.result = Cell(METHOD_NAMES[context.estimate.job.fusion.method], "result")
    sheet.section(HOLDS_TO, len(limits))
    header = sheet.table_head(limits)
    places = list(_places(context))
    for alike in _alike(places, _limits_key):
        sheet.add(*_limits(context, limits, alike[0]))
    sheet.merge(sheet.add(Cell(LIMITS_NOTE, "note")), 1, len(limits))
    sheet.add()
    sheet.section(TAKES, len(limits))
    _time_rows(sheet, times, places, len(limits))
    sheet.merge(sheet.add(Cell(TIMES_NOTE, "note")), 1, len(limits))
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in limits),
        freeze=(2, 1),
        header_row=header - 2,
        landscape=False,
        closes_up=True,
    )


def _alike(places: Iterable[_Place], key: Callable[[_Place], object]) -> Iterable[Sequence[_Place]]:
    """Return the runs that show the same figures together, in the order of the pipes."""
    found: dict[tuple[str, object], list[_Place]] = {}
    for place in places:
        found.setdefault((place.pipe, key(place)), []).append(place)
    order = list(dict.fromkeys(place.pipe for group in found.values() for place in group))
    return sorted(found.values(), key=lambda group: order.index(group[0].pipe))


def _limits_key(place: _Place) -> object:
    fusion, geometry, machine = place.sized.fusion, place.sized.geometry, place.sized.machine
    return (geometry.od_mm, geometry.wall_mm, fusion.bead_min_mm, fusion.soak_s,
            fusion.open_close_max_s, fusion.cool_s, fusion.rest_s, machine.class_id,
            machine.gauge_mpa)  # fmt: skip


def _limits(context: Context, columns: Sequence[ResultColumn], place: _Place) -> Iterator[Cell]:
    """Yield the cells of a line of limits, each rounded to the safe side of what it shows."""
    fusion, geometry, machine = place.sized.fusion, place.sized.geometry, place.sized.machine
    digits, (offset_digits, offset_style) = DECIMALS[context.system], OFFSETS[context.system]
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
    ways = {
        "wall": (AT_LEAST, digits), "offset": (AT_MOST, offset_digits), "bead": (AT_LEAST, digits),
        "soak": (AT_LEAST, SECONDS), "open_close": (AT_MOST, 0), "cool": (AT_LEAST, SECONDS),
        "rest": (AT_LEAST, 0),
    }  # fmt: skip
    for column in columns:
        value, style = values[column.key], column.style_in(context.system)
        style = offset_style if column.key == "offset" else style
        shown = column.shown(value, context.system) if isinstance(value, int | float) else value
        live = run_cell(context, column.key, place.index) if column.key in ON_JOINTS else None
        if column.key in ways and isinstance(shown, int | float):
            way, decimals = ways[column.key]
            yield _rounded(shown, style, live, way, decimals)
        else:
            yield Cell(shown, style, live)


def _rounded(value: float, style: str, live: str | None, way: str, decimals: int) -> Cell:
    """Return a cell rounded one way: to decimals, or minutes to whole seconds of a day."""
    factor, places, divided = (60, 0, DAY_S) if decimals == SECONDS else (1, decimals, 1)
    step = 10**places
    whole = (ceil if way == AT_LEAST else floor)(round(value * factor * step, NOISE - places))
    formula = live and f"{way}(ROUND({live}{'*60' * (factor > 1)},{NOISE}),{places})"
    if formula and divided > 1:
        formula = f"{formula}/{divided}"
    return Cell(whole / step / divided, style, formula)


def _time_rows(
    sheet: SheetBuilder, columns: Sequence[ResultColumn], places: Sequence[_Place], width: int
) -> None:
    """Append the times of each pipe and access factor, with the runs that they hold for."""
    context = sheet.context
    order = {place.run.run_id: place.index for place in places}
    header = sheet.table_head(columns)
    sheet.merge(header, len(columns), width)
    sheet.put(header, len(columns) + 1, *[Cell(None, "header")] * (width - len(columns)))
    last = ""
    for alike in _alike(places, _times_key):
        cells = list(_times(context, columns, alike))
        if alike[0].pipe == last:
            cells[0] = Cell(last, "text_again")
        last = alike[0].pipe
        names = (place.run.run_id for place in alike)
        runs = Cell(in_stretches(names, order, most=len(places)), "text_after")
        row = sheet.add(*cells, runs, *[Cell(None, "text")] * (width - len(columns)))
        sheet.merge(row, len(columns), width)


def _times_key(place: _Place) -> object:
    fusion, cycle = place.sized.fusion, place.sized.cycle
    shown = (_crew_min(place), (fusion.soak_s + fusion.cool_s) / MIN_S, cycle.plain.cycle_min)
    return place.run.access_factor, *(round(each * 60) for each in shown), cycle.joints_per_shift


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
    yield min_s_cell((fusion.soak_s + fusion.cool_s) / MIN_S, f"({cell('soak')}+{cell('cool')})")
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
