"""Pipe has one name on all pages, and workbooks that hold an earlier one go on working."""

import re
from dataclasses import replace

from estimator import api
from estimator.after_award import log_rows_to_add, records_of
from estimator.models.bid_inputs import OwnerItem
from estimator.pipeline import estimate
from estimator.progress.baseline import baseline_of
from estimator.standards.pipe_names import as_called_now, pipe_label, sizes_label
from estimator.workbook.book import baseline_in, parse_workbook, with_baseline
from estimator.workbook.results.equipment_serves import sizes_with_walls
from tests.each import each
from tests.jobs import job, money, run
from tests.site_book import filled, started
from tests.small_book import small_book
from tests.workbook_factory import WorkbookFactory

NAMES = (
    ("IPS", "24", "24 in IPS DR 11", "IPS 24 DR 11"),
    ("DIPS", "20", "20 in DIPS DR 11", "DIPS 20 DR 11"),
    ("CTS", "1-1/4", "1-1/4 in CTS DR 11", "CTS 1-1/4 DR 11"),
    ("ISO", "355", "355 mm SDR 11", "355 mm SDR 11"),
    ("OD", "13.2 in", "13.2 in OD DR 11", "OD 13.2 in DR 11"),
    ("OD", "335 mm", "335 mm OD DR 11", "OD 335 mm DR 11"),
)
NOW = re.compile(r"^([\d/-]+) in (IPS|DIPS|CTS) DR ")


def as_before(name):
    """Return a name of pipe as earlier versions wrote it."""
    return NOW.sub(r"\2 \1 DR ", name)


@each(("system", "size", "now", "before"), NAMES)
def test_pipe_has_one_name_and_the_earlier_one_counts_as_it(system, size, now, before):
    assert pipe_label(system, size, 11.0) == now
    for tail in ("", " furnished", " pipe", " PE4710"):
        assert as_called_now(f"{before}{tail}") == f"{now}{tail}"
        assert as_called_now(f"{now}{tail}") == f"{now}{tail}"


@each("text", ("R12", "Mobilization", "Tie-in joints", "IPS 24", "IPS 24 DR 17 spools"))
def test_what_is_no_name_of_pipe_stays(text):
    assert as_called_now(text) == text


def test_sizes_of_a_list_name_their_system_once():
    sizes = ("IPS", "12"), ("IPS", "16"), ("IPS", "20"), ("IPS", "16")
    assert sizes_label(sizes) == "12, 16 and 20 in IPS"
    assert sizes_label((("IPS", "24"), ("DIPS", "20"))) == "24 in IPS and 20 in DIPS"
    assert sizes_label((("ISO", "900"), ("ISO", "710"))) == "900 and 710 mm"


def test_the_walls_of_a_size_are_not_taken_for_the_next_size():
    pipe = (("20", 17.0), ("20", 13.5), ("16", 17.0))
    runs = [run(od_system="DIPS", size=size, dr=dr) for size, dr in pipe]
    assert sizes_with_walls(runs) == "20 in DIPS DR 13.5, 17; 16 in DIPS DR 17"


@each("typed", ("IPS 8 DR 11", "ips 8 dr11 furnished", "OD 8.5 in DR 11 pipe"))
def test_a_bid_item_typed_in_the_earlier_words_is_read_in_those_of_today(typed):
    made = WorkbookFactory()
    made.tables["owner_items"] = [{"item": typed, "owner_no": "33.02"}]
    (row,) = parse_workbook(made.build()).job.owner_items
    assert row.item == as_called_now(typed) != typed


def test_an_item_of_the_owner_in_the_earlier_words_is_found_on_the_bid():
    """Also of a run that has such a name, whose item is called by it."""
    rows = (OwnerItem(item="IPS 8 DR 11 furnished", owner_no="33.02"),)
    for found in (
        job(run(size="8", dr=11.0, pipe_price=money(9.5, "m"))),
        job(run("IPS 8 DR 11", pipe_price=money(9.5, "m"))).changed(bid_items="by run"),
    ):
        made = estimate(found.model_copy(update={"owner_items": rows}))
        assert "33.02" in [item.number for item in made.items]
        assert not [one for one in made.warnings if "has no cost on this bid" in one.message]


def test_a_baseline_in_the_earlier_words_is_read_in_those_of_today():
    workbook = parse_workbook(small_book())
    found = estimate(workbook.job, workbook.places)
    made = baseline_of(found)
    runs = tuple(replace(run, pipe=as_before(run.pipe)) for run in made.runs)
    assert runs != made.runs
    data = with_baseline(workbook, found, replace(made, runs=runs))
    assert baseline_in(parse_workbook(data)) == made


def test_a_log_in_the_earlier_words_is_read_and_goes_on_in_those_of_today():
    """Its formulas look pipe up in Cooling by air: an update names pipe alike in every row."""
    records = records_of(parse_workbook(started())).records
    named = {
        (table, number): {"pipe": as_before(row.pipe)}
        for table in ("joint_log", "planned_runs", "cooling_by_air")
        for number, row in enumerate(getattr(records, table))
    }
    old = parse_workbook(filled(named))
    parsed = records_of(old)
    assert parsed.records == records
    assert sum(map(len, parsed.renamed.values())) == len(named) > 0
    more = log_rows_to_add(old)
    assert any("Pipe is named" in text for text in more.says)
    assert "Joint_log" not in [one.table for one in more.tables]
    after = records_of(parse_workbook(api.with_more_rows(old, more)))
    assert (after.records, after.renamed) == (records, {})
