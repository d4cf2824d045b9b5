"""The Joints sheet: one row per run with its count, fusion parameters, times and machine."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

from estimator.cost import tests_by_run
from estimator.joint.cycle import gain_of_another, machines_that_pay
from estimator.models.bands import BANDS
from estimator.models.job import Run
from estimator.models.sized_run import SizedRun
from estimator.plan import RunSpan
from estimator.units import MIN_S
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.how_found import explained_at, how_found
from estimator.workbook.results.result_columns import ResultColumn, result_columns
from estimator.workbook.sheet.names import link_to
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ConditionalRule, SheetSpec, all_of


def joints_sheet(context: Context) -> SheetSpec:
    """Return the Joints sheet, a table to filter; anchors ``joints.<column>`` are its totals.

    The last column, how each run was found, is for the screen and is not printed.
    """
    sheet = SheetBuilder(context, "Joints", "Joints")
    columns = result_columns("joints")
    estimate = context.estimate
    sheet.add(*_group_cells(columns))
    header = sheet.table_head(columns)
    tests = tests_by_run(estimate.plan)
    for run, sized in estimate.pairs:
        values = _values(run, sized, context.run_spans.get(run.run_id))
        values["labor_hours"] = estimate.labor_hours.get(run.run_id, 0.0)
        values["crew_hours"] = estimate.crew_hours.get(run.run_id, 0.0)
        values["test_joints"] = tests[run.run_id]
        values["how_found"] = text = how_found(run, sized, context.system)
        sheet.table_row(
            columns, values, {"how_found": link_to(explained_at(context, run.run_id), text)}
        )
    first, last = header + 1, sheet.last_row
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


def _values(run: Run, sized: SizedRun, span: RunSpan | None) -> dict[str, Scalar]:
    geometry, count, fusion, times = sized.geometry, sized.counts, sized.fusion, sized.cycle
    gauge = sized.machine.gauge_mpa
    return {
        **count._asdict(),
        **count.others,
        "run_id": run.run_id,
        "description": run.description,
        "od_system": run.od_system,
        "size": run.size,
        "dr": run.dr,
        "od": geometry.od_mm,
        "wall": geometry.wall_mm,
        "band": times.band,
        "length": run.length_m,
        "tested_length": run.length_m if run.test_section else None,
        "ambient": sized.timing.ambient_c,
        "bead": fusion.bead_min_mm,
        "soak": fusion.soak_s / MIN_S,
        "open_close": fusion.open_close_max_s,
        "cool": fusion.cool_s / MIN_S,
        "rest": None if fusion.rest_s is None else fusion.rest_s / MIN_S,
        "gauge": None if gauge is None else gauge[1],
        "crew_min": sum(e.minutes for e in times.elements if e.paced_by == "crew"),
        "cycle": times.plain.cycle_min,
        "fitting_cycle": times.fitting.cycle_min if count.fitting_joints else None,
        "tie_in_cycle": times.tie_in.cycle_min if count.tie_in_joints else None,
        "joints_per_shift": times.joints_per_shift,
        "machines_pay": machines_that_pay(times.plain),
        "another": gain_of_another(times.plain),
        "machine": sized.machine.class_id,
        "first_day": span and span.first,
        "last_day": span and span.last,
        "float": span and span.float_days,
    }
