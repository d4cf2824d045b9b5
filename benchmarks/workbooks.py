"""Workbooks with as many runs as a benchmark asks for, made from an example."""

import functools
import io
from pathlib import Path

import openpyxl

EXAMPLE = Path(__file__).parent.parent / "examples" / "plant_piping.xlsx"
LEFT_BLANK = ("Crew", "Pipe price")
RUNS_PER_CREW, MOST_CREWS = 100, 20


@functools.cache
def job_of(runs):
    """Return a workbook with the runs of the example repeated, and crews in proportion.

    The owner supplies the pipe, any crew may take any run, and there are no scenarios.
    """
    book = openpyxl.load_workbook(EXAMPLE)
    sheet = book["Pipe schedule"]
    table = sheet.tables["Pipe_schedule"]
    first, last = table.ref.split(":")
    columns = last.rstrip("0123456789")
    top = int(first.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) + 1
    headers = [cell.value for cell in sheet[top - 1]]
    blank = {headers.index(header) for header in LEFT_BLANK}
    rows = [
        [None if place in blank else cell.value for place, cell in enumerate(row)]
        for row in sheet[f"A{top}:{last}"]
        if row[0].value is not None
    ]
    for number in range(runs):
        values = (f"N{number + 1:05}", *rows[number % len(rows)][1:])
        for column, value in enumerate(values, 1):
            sheet.cell(top + number, column).value = value
    table.ref = f"{first}:{columns}{top + runs - 1}"
    place, _, cell = book.defined_names["job_crews"].attr_text.rpartition("!")
    crews = book[place.strip("'")][cell.replace("$", "")]
    crews.value = min(MOST_CREWS, max(2, runs // RUNS_PER_CREW))
    scenarios = book["Scenarios"]
    for row in scenarios[scenarios.tables["Scenarios"].ref][1:]:
        for cell in row:
            cell.value = None
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
