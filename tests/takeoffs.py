"""Takeoffs of others, of our own making, read into the blank workbook: for tests."""

import functools
import io
from pathlib import Path

import openpyxl

from estimator.takeoff.answers import Answers
from estimator.takeoff.foreign import read_foreign
from estimator.takeoff.into import read_takeoff
from estimator.takeoff.schedule import open_target
from workbook_template import build_template

FOLDER = Path(__file__).parent / "data" / "takeoffs"
HEADER_ROW, BODY_ROW = 5, 6
blank_book = functools.cache(build_template)


def take(path, *, units="US", sheet="", answers=None, data=None, mode=""):
    """Return the import of a takeoff into a workbook, the blank one unless it is given."""
    target = open_target(data or blank_book(units), "job.xlsx")
    answers = answers or Answers()
    return read_takeoff(read_foreign(str(path), sheet, answers), target, answers, mode)


def schedule(data):
    """Return the filled rows of the pipe schedule of a workbook: values by header."""
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    lines = book["Pipe schedule"].iter_rows(min_row=HEADER_ROW, values_only=True)
    headers, *body = lines
    rows = (
        {head: value for head, value in zip(headers, row, strict=True) if value is not None}
        for row in body[BODY_ROW - HEADER_ROW - 1 :]
    )
    return [row for row in rows if row]


def said(found, what):
    """Return what the readings of a kind are, by what was found."""
    return {one.found: one.meaning for one in found.answers.asked if one.what == what}
