"""Workbooks with as many runs as a benchmark asks for, made from an example."""

import functools
import io
from pathlib import Path

import openpyxl

EXAMPLE = Path(__file__).parent.parent / "examples" / "plant_piping.xlsx"
LEFT_BLANK = ("Crew", "Pipe price")
NAMES_RUNS = ("Ties into runs", "Start after")
RUNS_PER_CREW, MOST_CREWS = 100, 20


def copied(rows, number, runs):
    """Return a row of the schedule for a run, which names only runs of its own copy."""
    copy, place = divmod(number, len(rows))
    begins = copy * len(rows)
    names = {row["Run"]: f"N{n + 1:05}" for n, row in enumerate(rows, begins) if n < runs}
    row = rows[place] | dict.fromkeys(LEFT_BLANK) | {"Run": f"N{number + 1:05}"}
    for header in NAMES_RUNS:
        named = [names[name] for name in (row[header] or "").split("; ") if name in names]
        row[header] = "; ".join(named) or None
    if row["Test section"]:
        row["Test section"] += f" {copy + 1}"
    return row


@functools.cache
def job_of(runs, trials=None):
    """Return a workbook with the runs of the example repeated, and crews in proportion.

    Each copy starts its runs after runs of its own and has its own test sections. The owner
    supplies the pipe, any crew may take any run, and there are no scenarios. Without ``trials``
    there are as many as in the example.
    """
    book = openpyxl.load_workbook(EXAMPLE)
    sheet = book["Pipe schedule"]
    table = sheet.tables["Pipe_schedule"]
    first, last = table.ref.split(":")
    columns = last.rstrip("0123456789")
    top = int(first.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) + 1
    headers = [cell.value for cell in sheet[top - 1]]
    rows = [
        dict(zip(headers, (cell.value for cell in row), strict=True))
        for row in sheet[f"A{top}:{last}"]
        if row[0].value is not None
    ]
    for number in range(runs):
        for column, value in enumerate(copied(rows, number, runs).values(), 1):
            sheet.cell(top + number, column).value = value
    table.ref = f"{first}:{columns}{top + runs - 1}"
    place, _, cell = book.defined_names["job_crews"].attr_text.rpartition("!")
    crews = book[place.strip("'")][cell.replace("$", "")]
    crews.value = min(MOST_CREWS, max(2, runs // RUNS_PER_CREW))
    if trials is not None:
        place, _, cell = book.defined_names["job_risk_trials"].attr_text.rpartition("!")
        book[place.strip("'")][cell.replace("$", "")].value = trials
    scenarios = book["Scenarios"]
    for row in scenarios[scenarios.tables["Scenarios"].ref][1:]:
        for cell in row:
            cell.value = None
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
