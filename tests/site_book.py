"""A small workbook with site records: begun by the command's own functions, filled as on site."""

import datetime as dt
import functools
import tempfile
from pathlib import Path

import pytest

from estimator import api
from estimator.cli.command import main
from estimator.inputs.dictionary import fields, site_tables
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.sheet.source import column_letters
from tests.small_book import small_book
from workbook_template import under_way
from workbook_template.gallery import UNDER_WAY

FIRST_ROW = 6
DAY = dt.date(2027, 10, 5)
GOOD = {
    "date": DAY, "crew": 1, "machine_no": "M4-1", "operator": "A. Reyes", "ambient_c": 60,
    "drag_mpa": 40, "heat_start_min": dt.time(8, 0), "heater_out_min": dt.time(8, 12),
    "closed_min": dt.time(8, 12, 15), "cool_end_min": dt.time(8, 40), "bead_1_mm": 0.6,
    "bead_2_mm": 0.6, "misalignment_mm": 0.05, "visual": "pass",
}  # fmt: skip
"""A joint that keeps every limit of any pipe of the small raw water main, but for its gauge."""


@functools.cache
def started(name="raw_water_main"):
    """Return the bytes of a small workbook with empty site records."""
    workbook = parse_workbook(small_book(name))
    return api.with_site_records(workbook)


RUNS_UNDER_WAY = 8
"""As far as the change order that the example under way was asked."""


@functools.cache
def small_under_way():
    """Return the example under way with its first runs only, which are as far as there."""
    with pytest.MonkeyPatch.context() as patch:
        small = small_book(under_way.OF, runs=RUNS_UNDER_WAY)
        patch.setattr(under_way, "build_template", lambda *_: small)
        return under_way.build()


def place(table, key, row):
    """Return sheet and address of a cell of a table, by its row from 0 on."""
    info = next(one for one in site_tables() if one.table == table)
    before = 0
    for other in site_tables():
        if other.table == table:
            break
        if other.sheet == info.sheet:
            before += len(fields(other.table)) + 1
    column = before + 1 + [one.key for one in fields(table)].index(key)
    letters = column_letters(column)
    return info.sheet, f"{letters}{FIRST_ROW + row}"


def filled(entries, data=None):
    """Return a workbook with entries typed: {(table, row): {key: value}}."""
    sheets = {}
    for (table, row), values in entries.items():
        for key, value in values.items():
            sheet, address = place(table, key, row)
            sheets.setdefault(sheet, {})[address] = value
    return Package.open(data or started()).fill_cells(sheets)


@functools.cache
def all_pages_under_way():
    """Return the example under way, its first runs only, with every page after award."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "under_way.xlsx"
        path.write_bytes(small_under_way())
        for command, *options in UNDER_WAY:
            assert main([command, str(path), *options, "--quiet"]) == 0, command
        return path.read_bytes()
