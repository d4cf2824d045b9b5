"""What is measured inside a process of its own: ``python -m benchmarks.tasks NAME ARGUMENT``."""

import heapq
import io
import json
import re
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

HEAP_CREWS = 20
JOINTS_PLANNED = 1_000_000


CELL = re.compile(
    r'<c r="([A-Z]+)(\d+)"(?: s="(\d+)")?[^>]*?(?:/>|>(?:<f[^>]*>([^<]*)</f>)?'
    r"(?:<v>([^<]*)</v>|<is>(?:<t[^>]*>([^<]*)</t>)?.*?</is>)?</c>)"
)


def same_cells(path: str) -> dict[str, float]:
    """Read a workbook with calamine; write its cells, as they are, with XlsxWriter.

    Numbers, texts and formulas with their values, each with the number of its style as a format;
    what there is to write is collected before the time begins.
    """
    import python_calamine
    import xlsxwriter
    from xlsxwriter.utility import xl_cell_to_rowcol

    with zipfile.ZipFile(path) as parts:
        sheets = [
            [(*xl_cell_to_rowcol(f"{found[1]}{found[2]}"), *found.groups()[2:])
             for found in CELL.finditer(parts.read(name).decode())]
            for name in parts.namelist()
            if name.startswith("xl/worksheets/sheet")
        ]  # fmt: skip
    before = time.process_time()
    for name in (source := python_calamine.load_workbook(path)).sheet_names:
        source.get_sheet_by_name(name).to_python()
    book = xlsxwriter.Workbook(io.BytesIO(), {"in_memory": True})
    formats: dict[str, object] = {}
    for cells in sheets:
        sheet = book.add_worksheet()
        for row, column, style, formula, value, text in cells:
            look = formats.get(style) or formats.setdefault(style, book.add_format())
            if formula is not None:
                sheet.write_formula(row, column, formula, look, value or 0)
            elif value is not None:
                sheet.write_number(row, column, float(value), look)
            else:
                sheet.write_string(row, column, text or "", look)
    book.close()
    return {"seconds": time.process_time() - before, "cells": sum(map(len, sheets))}


def trials(path: str) -> dict[str, float]:
    """Draw the ranges of a job; its estimate is not in the time."""
    from estimator import api
    from estimator.garbage import few_collections
    from estimator.pipeline import estimate
    from estimator.study import add_ranges

    with few_collections():
        estimated = estimate(api.read_workbook(path).job)
        before = time.process_time()
        risk = add_ranges(estimated).risk
        taken = time.process_time() - before
    return {"seconds": taken, "plans": risk.plans}


def joints(path: str) -> dict[str, float]:
    """Lay out a million joints, and hand out as many from a heap of crews."""
    from estimator import api
    from estimator.garbage import few_collections
    from estimator.joint.sizing import Sizer
    from estimator.plan import lay_out

    read = api.read_workbook(path)
    job, count = read.job, 0
    while count < JOINTS_PLANNED:
        job = job.model_copy(
            update={
                "runs": tuple(
                    run.model_copy(update={"segments_m": tuple(2 * one for one in run.segments_m)})
                    for run in job.runs
                )
            }
        )
        sizer = Sizer(job, read.places)
        sized = sizer.size_all()
        count = sum(run.counts.butt_joints for run in sized)
    with few_collections():
        before = time.process_time()
        plan = lay_out(job, sized, sizer.cycle_on)
        planned = time.process_time() - before
    before = time.process_time()
    _from_a_heap([run.counts.butt_joints for run in sized], 0.5)
    heap = time.process_time() - before
    return {"seconds": planned, "heap": heap, "joints": count, "lines": len(plan.lines)}


def _from_a_heap(counts: list[int], hours: float) -> dict[int, int]:
    """Give each joint to the crew that is free first; return joints by day."""
    crews = [(0.0, number) for number in range(HEAP_CREWS)]
    by_day: dict[int, int] = {}
    for count in counts:
        for _ in range(count):
            free, crew = crews[0]
            day = int(free // 8)
            by_day[day] = by_day.get(day, 0) + 1
            heapq.heapreplace(crews, (free + hours, crew))
    return by_day


TASKS: dict[str, Callable[[str], dict[str, float]]] = {
    "same_cells": same_cells,
    "trials": trials,
    "joints": joints,
}


if __name__ == "__main__":
    Path(sys.argv[2]).stat()
    sys.stdout.write(json.dumps(TASKS[sys.argv[1]](sys.argv[2])))
