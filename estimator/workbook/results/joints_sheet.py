"""The Joints sheet: one row per run with its count, fusion parameters, times and machine."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

from estimator.cost import tests_by_run
from estimator.joint.cycle import gain_of_another, machines_that_pay
from estimator.models.bands import BANDS
from estimator.models.job import Run
from estimator.models.kinds import CONNECTIONS
from estimator.models.sized_run import JointCount, JointTiming
from estimator.plan import RunSpan
from estimator.units import MIN_S
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.how_found import explained_at, how_found
from estimator.workbook.results.limits_shown import LIMITS, shown_limit
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.blocks import OTHER
from estimator.workbook.sheet.names import link_to
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec, all_of

COUNTED = frozenset(JointCount._fields) - {"others", "by_segment"}
"""Columns that are counts of a run under their own names."""


def joints_sheet(context: Context) -> SheetSpec:
    """Return the Joints sheet, a table to filter; anchors ``joints.<column>`` are its totals.

    The last column, how each run was found, is for the screen and is not printed.
    """
    sheet = SheetBuilder(context, "Joints", "Joints")
    columns = result_columns("joints")
    sheet.add(*_group_cells(columns))
    header = sheet.table_head(columns)
    values = _values(context, columns)
    links = _links(context, values["how_found"])
    lines = sheet.add_table(*_with_limits(context, columns, values), {"how_found": links})
    first, last = lines[0], lines[-1]
    _name_columns(sheet, columns, first, last)
    sheet.add_totals(columns, first, "joints")
    return replace(
        sheet.spec(),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        header_row=header,
        conditional=(_critical(columns, first, last),),
        autofilter=f"A{header}:{column_letters(len(columns))}{last}",
        print_area=f"$A$1:${column_letters(len(columns) - 1)}${sheet.last_row}",
    )


def _with_limits(
    context: Context, columns: Sequence[ResultColumn], values: Mapping[str, Sequence[Scalar]]
) -> tuple[Sequence[ResultColumn], Mapping[str, Sequence[Scalar]]]:
    """Return columns and values, those of limits in the unit shown and on its safe side."""
    system = context.system

    def safe(column: ResultColumn, value: Scalar) -> Scalar:
        if not isinstance(value, int | float):
            return value
        shown = column.shown(value, system)
        return shown and shown_limit(column.key, shown, column.style_in(system))

    limits = [column for column in columns if column.key in LIMITS]
    shown = {one.key: [safe(one, value) for value in values[one.key]] for one in limits}
    made = [replace(one, kind="") if one in limits else one for one in columns]
    return made, {**values, **shown}


def _name_columns(
    sheet: SheetBuilder, columns: tuple[ResultColumn, ...], first: int, last_row: int
) -> None:
    """Give anchors to the columns, and to the totals of each size band as sums over them."""
    anchors = sheet.context.anchors
    for number, column in enumerate(columns, 1):
        last = sheet.address(number, last_row)
        anchors[f"joints.column.{column.key}"] = f"{sheet.reference(number, first)}:{last}"
    bands = anchors["joints.column.band"]
    for column in columns:
        if column.kind == "count" and column.total == "sum":
            cells = anchors[f"joints.column.{column.key}"]
            for band in BANDS:
                anchors[f"joints.{column.key}.{band}"] = f'SUMIF({bands},"{band}",{cells})'


def run_cell(context: Context, key: str, index: int) -> str:
    """Return the reference of a run's cell on the Joints sheet, by its place in the schedule."""
    start, row = _first_cell(context.anchors[f"joints.column.{key}"])
    return f"{start}${row + index}"


def every_run(context: Context, key: str) -> str:
    """Return the reference of a run's cell on the Joints sheet, with ``OTHER`` for its row."""
    return f"{_first_cell(context.anchors[f'joints.column.{key}'])[0]}${OTHER}"


def first_run(context: Context) -> int:
    """Return the row of the first run on the Joints sheet."""
    return _first_cell(context.anchors["joints.column.run_id"])[1]


@lru_cache(maxsize=256)
def _first_cell(cells: str) -> tuple[str, int]:
    """Return the column and the row of the first cell of a range."""
    start, _, row = cells.partition(":")[0].rpartition("$")
    return start, int(row)


def _group_cells(columns: tuple[ResultColumn, ...]) -> list[Cell | None]:
    cells: list[Cell | None] = []
    for group, members in groupby(columns, key=lambda column: column.group):
        cells += [Cell(group, "group"), *(Cell(None, "group") for _ in list(members)[1:])]
    return cells


def _critical(columns: Sequence[ResultColumn], first: int, last: int) -> ConditionalRule:
    """Return the rule that marks the runs without float."""
    letters = column_letters([column.key for column in columns].index("float") + 1)
    cell = f"{letters}{first}"
    operand = all_of(f'{cell}<>""', f"{cell}=0")
    return ConditionalRule(f"{cell}:{letters}{last}", "formula", operand, "gantt_critical_span")


def _values(context: Context, columns: Sequence[ResultColumn]) -> dict[str, Sequence[Scalar]]:
    """Return the values of each column, run by run."""
    estimate, runs, sized = context.estimate, context.estimate.job.runs, context.estimate.runs
    counts, spans = [one.counts for one in sized], [_span(context, run) for run in runs]
    tests = tests_by_run(estimate.plan)
    timings = [one.timing for one in sized]
    known = {id(timing): _of_timing(timing) for timing in timings}
    of_timing = [known[id(timing)] for timing in timings]
    keys = [column.key for column in columns]
    others = [kind.key for kind in CONNECTIONS]
    return {
        **{key: [getattr(count, key) for count in counts] for key in keys if key in COUNTED},
        **{key: [count.others.get(key) for count in counts] for key in others},
        **{key: [found[key] for found in of_timing] for key in next(iter(known.values()))},
        "run_id": [run.run_id for run in runs],
        "description": [run.description for run in runs],
        "od_system": [run.od_system for run in runs],
        "size": [run.size for run in runs],
        "dr": [run.dr for run in runs],
        "od": [one.geometry.od_mm for one in sized],
        "wall": [one.geometry.wall_mm for one in sized],
        "length": [run.length_m for run in runs],
        "tested_length": [run.length_m if run.test_section else None for run in runs],
        "test_joints": [tests[run.run_id] for run in runs],
        "gauge": [one.machine.gauge_mpa and one.machine.gauge_mpa[1] for one in sized],
        "fitting_cycle": [
            one.cycle.fitting.cycle_min if one.counts.fitting_joints else None for one in sized
        ],
        "tie_in_cycle": [
            one.cycle.tie_in.cycle_min if one.counts.tie_in_joints else None for one in sized
        ],
        "labor_hours": [estimate.labor_hours.get(run.run_id, 0.0) for run in runs],
        "crew_hours": [estimate.crew_hours.get(run.run_id, 0.0) for run in runs],
        "machine": [one.machine.class_id for one in sized],
        "first_day": [None if span is None else span.first for span in spans],
        "last_day": [None if span is None else span.last for span in spans],
        "float": [None if span is None else span.float_days for span in spans],
        "how_found": [how_found(run, one, context.system) for run, one in estimate.pairs],
    }


def _span(context: Context, run: Run) -> RunSpan | None:
    return context.run_spans.get(run.run_id)


def _of_timing(timing: JointTiming) -> dict[str, Scalar]:
    """Return what runs with one timing have in common."""
    fusion, times = timing.fusion, timing.cycle
    return {
        "band": times.band,
        "ambient": timing.ambient_c,
        "bead": fusion.bead_min_mm,
        "soak": fusion.soak_s / MIN_S,
        "open_close": fusion.open_close_max_s,
        "cool": fusion.cool_s / MIN_S,
        "rest": None if fusion.rest_s is None else fusion.rest_s / MIN_S,
        "crew_min": sum(e.minutes for e in times.elements if e.paced_by == "crew"),
        "cycle": times.plain.cycle_min,
        "joints_per_shift": times.joints_per_shift,
        "machines_pay": machines_that_pay(times.plain),
        "another": gain_of_another(times.plain),
    }


def _links(context: Context, texts: Sequence[Scalar]) -> Sequence[str]:
    """Return the formulas that show how each run was found and lead to where it is explained."""
    runs = context.estimate.job.runs
    return [
        link_to(explained_at(context, run.run_id), str(text))
        for run, text in zip(runs, texts, strict=True)
    ]
