"""The Joints sheet: one row per run with its count, fusion parameters, times and machine."""

import datetime as dt
from dataclasses import replace
from itertools import groupby

from estimator.models.job import Run
from estimator.models.plan import SizedRun
from estimator.units import MIN_S
from estimator.workbook.results.builder import Context, Scalar, SheetBuilder
from estimator.workbook.results.columns import ResultColumn, result_columns
from estimator.workbook.results.how_found import how_found, told_at
from estimator.workbook.sheet_names import link_to
from estimator.workbook.sheet_spec import Cell, SheetSpec
from estimator.workbook.source import column_letters

Days = dict[str, tuple[dt.date, dt.date]]


def joints_sheet(context: Context) -> SheetSpec:
    """Return the Joints sheet; anchors ``joints.<column>`` point at its totals.

    The last column, how each run was found, is for the screen and is not printed.
    """
    sheet = SheetBuilder(context, "Joints", "Joints")
    columns = result_columns("joints")
    estimate = context.estimate
    total_row = sheet.add()
    sheet.add(*_group_cells(columns))
    header = sheet.table_head(columns)
    days = _days(context)
    for run, sized in zip(estimate.job.runs, estimate.runs, strict=True):
        hours = estimate.crew_hours.get(run.run_id, 0.0)
        values = _values(run, sized, hours, days)
        values["how_found"] = text = how_found(run, sized, context.system)
        sheet.table_row(columns, values, {"how_found": link_to(told_at(context, run.run_id), text)})
    sheet.put_totals(total_row, columns, header + 1, "joints")
    return replace(
        sheet.spec(large_paper=True),
        widths=tuple(column.width for column in columns),
        freeze=(header, 1),
        header_row=header,
        print_area=f"$A$1:${column_letters(len(columns) - 1)}${sheet.last_row}",
    )


def _group_cells(columns: tuple[ResultColumn, ...]) -> list[Cell | None]:
    cells: list[Cell | None] = []
    for group, members in groupby(columns, key=lambda column: column.group):
        cells += [Cell(group, "group"), *(Cell(None, "group") for _ in list(members)[1:])]
    return cells


def _days(context: Context) -> Days:
    days: Days = {}
    for line in context.estimate.plan.lines:
        first, last = days.get(line.run_id, (line.date, line.date))
        days[line.run_id] = (min(first, line.date), max(last, line.date))
    return days


def _values(run: Run, sized: SizedRun, crew_hours: float, days: Days) -> dict[str, Scalar]:
    geometry, count, fusion, times = sized.geometry, sized.count, sized.fusion, sized.cycle
    first, last = days.get(run.run_id, (None, None))
    gauge = sized.machine.gauge_mpa
    return {
        **count.model_dump(),
        "run_id": run.run_id,
        "description": run.description,
        "od_system": run.od_system,
        "size": run.size,
        "dr": run.dr,
        "od": geometry.od_mm,
        "wall": geometry.wall_mm,
        "length": run.length_m,
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
        "crew_hours": crew_hours,
        "machine": sized.machine.class_id,
        "first_day": first,
        "last_day": last,
    }
