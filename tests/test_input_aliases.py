"""Workbooks with the headers, cell names and choices of earlier versions read as ever."""

import dataclasses
import datetime as dt

import pytest

from estimator import api
from estimator.excel import functions, functions_vba
from estimator.inputs.dictionary import Field, by_header, fields, input_tables, squeeze
from estimator.workbook.read import columns
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.findings import Findings
from estimator.workbook.read.overrides import overridable
from estimator.workbook.read.parse_rows import Settings, TableReader
from tests import workbook_factory
from tests.workbook_factory import WorkbookFactory

TABLES = [table.table for table in input_tables()]
RENAMED = [f for table in TABLES for f in fields(table) if f.old_headers or f.old_names]
CHOICES = [(f, *pair) for table in TABLES for f in fields(table) for pair in f.old_choices]
DATE = dt.date(2027, 9, 7)


def an_old_workbook(factory: WorkbookFactory, monkeypatch) -> bytes:
    """Return the workbook with the oldest header, cell name and choice that each input had."""

    def old_fields(table):
        return tuple(
            dataclasses.replace(f, header=f.old_headers[0] if f.old_headers else f.header)
            for f in fields(table)
        )

    monkeypatch.setattr(workbook_factory, "fields", old_fields)
    present = Field.cell_name.fget
    old_name = property(lambda f: f.old_names[0] if f.old_names else present(f))
    monkeypatch.setattr(Field, "cell_name", old_name)
    for field, old, new in CHOICES:
        for row in factory.tables.get(field.table, [factory.named.get(field.table, {})]):
            if field.key in row and isinstance(row[field.key], str):
                row[field.key] = row[field.key].replace(new, old)
    data = factory.build()
    monkeypatch.undo()
    return data


def another(field: Field, default: object) -> object:
    """Return a value for the cell of an input that is not its default."""
    if field.kind in ("choice", "choices", "weekdays"):
        return next(choice for choice in field.allowed if choice != default)
    if field.kind == "date":
        return DATE
    if field.kind in ("text", "size"):
        return "X1"
    low, high = field.minimum or 0.0, min(field.maximum or 1.0, (field.minimum or 0.0) + 1)
    return next(v for v in (high, low, (low + high) / 2) if v != default)


def read(data: bytes, table: str, system="SI"):
    info = next(t for t in input_tables() if t.table == table)
    source, findings = FileSource(data), Findings()
    reader = TableReader(info, Settings(system, dates_1904=False), findings)
    if info.form == "table":
        return reader.body(source.table(info.excel_name)).rows[0].values, findings
    return reader.named(source).rows[0].values, findings


@pytest.mark.parametrize("table", sorted({field.table for field in RENAMED}))
def test_old_headers_and_cell_names_are_read_and_never_defaulted(table, monkeypatch):
    factory = WorkbookFactory(system="SI")
    usual = {f.key: columns.default_value(f, "SI") for f in fields(table)}
    given = {f.key: another(f, usual[f.key]) for f in RENAMED if f.table == table}
    rows = factory.tables.setdefault(table, [{}]) if table not in factory.named else None
    (factory.named[table] if rows is None else rows[0]).update(given)
    new, _ = read(factory.build(), table)
    old, findings = read(an_old_workbook(factory, monkeypatch), table)
    assert old == new
    assert not [w for w in findings.warnings if "not use" in w.message]
    assert [key for key in given if old.get(key) is None or old[key] == usual[key]] == []


def test_an_old_workbook_estimates_to_the_same_bid(monkeypatch, tmp_path):
    bids = []
    for name in ("new", "old"):
        factory = WorkbookFactory()
        factory.set("schedule", "placement", "pullback")
        factory.set("job", "fitting_rule", "set at stick end")
        for machine in factory.tables["machines"]:
            machine["placements"] = "trench; surface; pullback"
        factory.tables["scenarios"] = [
            {"scenario": "A", "input": header, "value": value}
            for header, value in (("Shift length", 9), ("Workweek", "Mon-Sat"))
        ]
        factory.tables["material_prices"] = [{"what": "trial fusion", "price_c": 77}]
        data = an_old_workbook(factory, monkeypatch) if name == "old" else factory.build()
        path = tmp_path / f"{name}.xlsx"
        path.write_bytes(data)
        estimate = api.estimate_workbook(api.read_workbook(str(path)))
        bids.append((estimate.bid, estimate.job))
    assert bids[0] == bids[1]


@pytest.mark.parametrize(("field", "old", "new"), CHOICES, ids=lambda value: str(value)[:30])
def test_old_choices_mean_the_new_ones(field, old, new):
    column = columns.Column(field, "")
    if field.kind == "choices":
        assert columns.read_value(f" {old.upper()} ", column, {}) == (new,)
    else:
        assert columns.read_value(f" {old.upper()} ", column, {}) == new
    assert new in field.allowed
    assert old not in field.allowed


def test_every_old_name_of_a_scenario_input_means_that_input():
    """A scenario names an input by its header: each earlier header must lead to the same key."""
    (named,) = (f for f in fields("scenarios") if f.key == "input")
    old_choices = dict(named.old_choices)
    for header, field in overridable().items():
        for old in field.old_headers:
            assert old_choices[old] == header


def test_no_old_header_is_the_present_header_of_another_column():
    for table in TABLES:
        present = [squeeze(f.header) for f in fields(table)]
        old = [squeeze(header) for f in fields(table) for header in f.old_headers]
        assert len({*present, *old}) == len(present) + len(old), table
        assert set(by_header(table)) == {*present, *old}


def test_the_earlier_name_of_a_cell_function_still_calculates():
    now, before = (getattr(functions, name) for name in ("PE_LABOR_HOURS", "PE_CREW_HOURS"))
    assert before(100, 9, 10, 3.5) == now(100, 9, 10, 3.5) == 420
    names = {known.name for known in functions.catalog()}
    assert names.isdisjoint(functions.OLD_NAMES)
    assert "Function PE_CREW_HOURS(" in functions_vba.module_text()
