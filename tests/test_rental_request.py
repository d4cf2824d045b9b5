"""What suppliers are asked for: capability and dates, in both units, nothing of ours."""

import datetime as dt
import math
import re
from dataclasses import replace
from itertools import cycle, groupby
from types import SimpleNamespace

import pytest

from estimator.after_award import request_pages
from estimator.cli import main
from estimator.equipment.rental_request import request_lines
from estimator.models.rental_request import LiftNeed, MachineNeed, PowerWanted
from estimator.models.site_records import SiteRecords
from estimator.models.study import Study
from estimator.pipeline import estimate
from estimator.workbook.book import parse_workbook, with_pages
from estimator.workbook.results.builder import Context
from estimator.workbook.results.request_sheet import _days_on_rent, request_page, wanted
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import printed_pages
from estimator.workbook.sheet.styles import STYLES
from estimator.working_time.working_days import WorkingCalendar
from tests import jobs
from tests.estimated import example
from tests.one_page import book_of, names_of, sheet_of
from tests.small_book import small_book
from tests.test_claim import type_rows
from workbook_template.site_sheets import HEADER_ROW, ROOM, site_sheets

SHEETS = ("Request machines", "Request generators", "Request lifting")
EXAMPLES = ("raw_water_main", "plant_piping")


# 24 in IPS DR 11: outside diameter 609.6 mm, wall 55.42, mean diameter at mid wall 554.2; area
# pi x 554.2 x 55.42 = 96,489 mm2; the interfacial pressure of F2620 is 60 to 90 psi, 0.6205 MPa at
# the top: 59.875 kN, 13,460.5 lbf; the request rounds both up.
def test_force_holds_the_top_of_the_pressure_range_without_drag():
    line = request_lines(example("raw_water_main")[1])[0]
    area = math.pi * (609.6 - 609.6 / 11) * 609.6 / 11
    assert line.need.force_n == pytest.approx(area * 90 * 0.00689475729, rel=1e-4)
    assert line.need.od_mm == pytest.approx((508.0, 609.6))
    texts = list(wanted(line, "US"))
    assert "13,461 lbf (59.9 kN) plus drag" in texts[2]
    assert "3-phase, 230 V, 60 Hz" in texts[5]
    assert texts[:2] == ["Fusion machine for 20 to 24 in OD, DR 11 to 21", "OD 508 to 609.6 mm"]


# Gauge pressure is force over piston area plus drag: 13,460.5 lbf over 10 in2 and 30 psi of drag
# are 1,376 psi; the least is the 20 in DR 17 end of the reducers of R20, with 60 psi on 69.6 in2.
def test_the_gauge_must_show_all_runs_of_the_line_with_drag():
    line = request_lines(example("raw_water_main")[1])[0]
    mm2 = 25.4**2
    walled = [math.pi * (od - od / dr) * od / dr for od, dr in ((24, 11), (20, 17))]
    drag = 30.0
    high, low = walled[0] * 90 / 10 + drag, walled[1] * 60 / 10 + drag
    assert line.need.piston_area_mm2 == pytest.approx(10 * mm2)
    psi = [pressure / 0.00689475729 for pressure in line.need.gauge_mpa]
    assert psi == [pytest.approx(low, rel=1e-3), pytest.approx(high, rel=1e-3)]
    gauge = list(wanted(line, "US"))[3]
    assert gauge.startswith(f"Gauge {low:.0f} to {high:,.0f} psi (")
    assert gauge.endswith("with drag, piston area 10 in2 (6,452 mm2)")


def test_the_site_says_what_the_job_knows(tmp_path):
    """Elevation, air of the months, workdays and contact of the job; the rest to write on."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["request", str(path)]) == 0
    job = parse_workbook(path.read_bytes()).job
    words = " ".join(texts_of(path, "Request machines"))
    assert re.search(r"Elevation and air: [\d,]+ ft, (-?\d+ to )?-?\d+ F", words)
    assert f"Deliveries: working days, {job.dates.workdays}" in words
    assert "Power on site: our generators" in words
    sets = " ".join(texts_of(path, "Request generators"))
    assert "Power on site: none but these generators" in sets
    assert "To: supplier of fusion equipment" in words
    assert "Weight of each part to be lifted" in words
    assert {"Day $", "Collect $", "From date"} <= set(words_of(path, "Request machines"))


def test_the_air_of_all_months_on_rent_counts():
    """April to October has July between them."""
    first, last = dt.date(2027, 4, 23), dt.date(2027, 10, 8)
    days = [*_days_on_rent([SimpleNamespace(deliver_by=first, off_rent=last)])]
    assert (days[0], days[-1], len(days)) == (first, last, 169)
    assert {day.month for day in days} == {*range(4, 11)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_span_is_asked_for_on_working_days(name):
    found = example(name)[1]
    lines = request_lines(found)
    calendar = WorkingCalendar.of(found.job)
    assert [line.number for line in lines] == list(range(1, len(found.fleet.spans) + 1))
    for line, span in zip(lines, found.fleet.spans, strict=True):
        assert (line.kind, line.quantity) == (span.kind, span.quantity)
        assert line.deliver_by == span.on_rent < span.used[0]
        assert line.earliest_off <= line.off_rent <= line.latest_off
        for date in (line.deliver_by, line.off_rent, line.earliest_off, line.latest_off):
            assert calendar.is_open(date)
        kind = {"machine": MachineNeed, "generator": PowerWanted, "lifting": LiftNeed}[line.kind]
        assert isinstance(line.need, kind)


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_run_can_be_made_with_what_is_asked_for(name):
    """The range and the force of some line hold every run that the plan joins with it."""
    found = example(name)[1]
    needs = [x.need for x in request_lines(found) if x.kind == "machine"]
    for run in found.runs:
        if run.counts.has_work:
            force = run.geometry.joint_area_mm2 * run.fusion.interfacial_mpa[2]
            assert any(
                need.od_mm[0] <= run.geometry.od_mm <= need.od_mm[1]
                and need.dr[0] <= run.geometry.dr <= need.dr[1]
                and force <= need.force_n
                for need in needs
            ), run.run_id


def test_a_machine_with_its_own_power_asks_for_no_supply():
    job = jobs.job(machines=(jobs.machine(self_powered=True, fuel_rate_l_h=3.0),))
    line = next(x for x in request_lines(estimate(job)) if x.kind == "machine")
    assert list(wanted(line, "SI"))[-1] == "With onboard power"


def test_both_units_stand_on_every_page():
    workbook = parse_workbook(small_book())
    _, asked = request_pages(workbook)
    pages = ("Request machines", "Request generators", "Request lifting")
    assert tuple(asked.makers) == pages
    book = book_of(with_pages(workbook, asked), pages)
    for name in pages:
        texts = [str(cell.value) for row in book[name].iter_rows() for cell in row if cell.value]
        words = " ".join(texts)
        assert any(pair in words for pair in ("lbf (", "ft (", "lb ("))
        classes = {item.class_id for item in workbook.job.machines}
        assert not classes & set(words.replace(",", " ").split())


def test_many_lines_have_their_header_again_and_the_quote_no_other():
    """No header is repeated, which would head the quote, too.

    Of 697.6 points, title, text and header take 92, and each line, closed up, 24 + 24: 12 lines.
    """
    workbook, found = example("raw_water_main")
    line = request_lines(found)[0]
    context = Context(Study.of(found), workbook.places, {"Request machines": "Page"})
    many = [replace(line, number=number) for number in range(1, 21)]
    spec = laid_out(request_page(context, "machine", many))
    heads = [row for row in spec.rows if "Qty" in [cell and cell.value for cell in row.cells]]
    assert len(heads) == 2
    assert spec.breaks[0] == 5 + 2 * 12 + 1
    assert spec.header_row is None
    first = [row.cells[0].value for row in spec.rows if row.cells and row.cells[0] is not None]
    assert [value for value in first if isinstance(value, int)] == [*range(1, 21)] * 2


@pytest.mark.parametrize("name", [*EXAMPLES, "tailings_line"])
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_five_lines_and_their_quote_take_one_page(name, paper):
    """Whoever answers has all on one sheet of paper."""
    workbook, found = example(name)
    context = Context(Study.of(found), workbook.places, {one: one for one in SHEETS})
    for kind, lines in groupby(request_lines(found), lambda line: line.kind):
        five = [replace(line, number=number) for line, number in zip(cycle(lines), range(1, 6))]
        page = replace(request_page(context, kind, five), paper=paper)
        assert printed_pages(laid_out(page)) == 1, kind


def test_the_terms_of_the_request_stand_on_one_page():
    """Beside the suppliers, which every page of Quotes repeats; no column stands alone."""
    for system in ("US", "SI"):
        (sheet,) = site_sheets(SiteRecords(), system, "letter", {}, apart="Quotes")
        heads = [cell and cell.value for cell in sheet.rows[HEADER_ROW - 1].cells]
        assert max(sheet.column_breaks) == heads.index("Reference")
        first, *_ = pixels = [look.pixels_of(width) for width in sheet.widths]
        assert first + sum(pixels[heads.index("Reference") :]) <= ROOM


def test_a_span_of_diameters_says_each_unit_once():
    line = next(x for x in request_lines(example("raw_water_main")[1]) if x.number == 2)
    assert list(wanted(line, "US"))[:2] == [
        "Fusion machine for 17.4 to 21.6 in OD, DR 13.5 to 21",
        "OD 442 to 548.6 mm",
    ]


def test_metric_pipe_is_named_by_its_sdr_and_a_generator_asked_for_what_it_feeds():
    """Every supply of a machine on the request is an outlet of some generator of its days."""
    lines = request_lines(example("tailings_line")[1])
    sets = [line for line in lines if line.kind == "generator"]
    for line in lines:
        texts = list(wanted(line, "SI"))
        if line.kind == "machine":
            assert re.search(r" OD, SDR \d", texts[0])
            if line.need.supply:
                days = line.deliver_by, line.off_rent
                beside = [
                    one for one in sets if days[0] <= one.off_rent and one.deliver_by <= days[1]
                ]
                assert any(line.need.supply in list(wanted(one, "SI"))[1] for one in beside)
    assert any(" and " in list(wanted(one, "SI"))[1] for one in sets)


def test_a_line_stands_at_the_top_of_its_rows_and_figures_keep_their_units():
    """Number, lead and dates on one base line, and what it must do directly below the lead."""
    workbook, found = example("tailings_line")
    context = Context(Study.of(found), workbook.places, {one: one for one in SHEETS})
    spec = request_page(context, "machine", request_lines(found))
    cells = [cell for row in spec.rows for cell in row.cells if cell is not None]
    at = next(n for n, row in enumerate(spec.rows) if row.cells and row.cells[0].value == 1)
    first, below = (spec.rows[n].cells for n in (at, at + 1))
    assert first[1].value.replace("\N{NO-BREAK SPACE}", " ").startswith("Fusion machine for ")
    assert {STYLES[cell.style].vertical for cell in (*first, below[1])} == {"top"}
    assert not re.search(r"DR [\d.]|\d to \d+$", first[1].value)
    asked = [str(cell.value) for cell in cells if "End force" in str(cell.value)]
    assert asked
    for text in asked:
        assert not re.search(r"\d (in|mm|bar|psi|kN|lbf|V|Hz|ISO)\b", text)
        assert not re.search(r"\(\S*\d\.\d{3}", text)


def test_a_part_that_begins_a_page_names_the_request_again():
    """Ten lines and their quote are more than a page: the supplier's answer may come alone."""
    workbook, found = example("tailings_line")
    context = Context(Study.of(found), workbook.places, {one: one for one in SHEETS})
    line = [line for line in request_lines(found) if line.kind == "machine"][1]
    for number, again in ((1, False), (10, True)):
        many = [replace(line, number=n + 1) for n in range(number)]
        spec = laid_out(request_page(context, "machine", many))
        starts = [spec.rows[row].cells[0].value for row in spec.breaks]
        assert bool(starts) is again
        assert all(str(text).startswith("Rental request. ") for text in starts)


def test_site_access_and_contact_stand_on_every_page(tmp_path):
    """What is typed on Quotes: number, day to answer, site; what is not, to be written on."""
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["request", str(path)]) == 0
    blank = " ".join(texts_of(path, "Request machines"))
    assert "Site and access: ____" in blank
    assert re.search(r"Request _+ of .*; answer by _+", blank)
    page = sheet_of(path, "Request machines")
    (beside,) = (cell for row in page.iter_rows() for cell in row if cell.value == "Cleaning, $")
    assert beside.alignment.indent == 1  # off the frame of the cell before it
    terms = {"Reference": "2027-014", "Site and access": "Intake road, gate 2",
             "Contact": "Site office", "Answer by": dt.date(2027, 2, 1)}  # fmt: skip
    type_rows(path, "Quotes", "Reference", [terms])
    assert main(["request", str(path)]) == 0
    for sheet in ("Request machines", "Request generators", "Request lifting"):
        words = " ".join(texts_of(path, sheet))
        assert "Request 2027-014 of" in words
        assert "answer by Feb 1, 2027" in words
        assert "Site and access: Intake road, gate 2" in words
        assert "Unloading: ____" in words
        assert "Contact: Site office" in words


def words_of(path, sheet):
    return [" ".join(text.split()) for text in texts_of(path, sheet)]


def texts_of(path, sheet):
    return [
        str(cell.value) for row in sheet_of(path, sheet).iter_rows() for cell in row if cell.value
    ]


def test_command_writes_the_pages_and_keeps_the_rest(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    before = names_of(path)
    assert main(["request", str(path)]) == 0
    out = capsys.readouterr().out
    assert "End force at least" in out
    names = names_of(path)
    assert names[: len(before)] == before
    assert main(["request", str(path)]) == 0
    assert names_of(path) == names


@pytest.mark.parametrize("name", EXAMPLES)
def test_off_rent_may_move_two_weeks_sooner_and_four_later(name):
    """No sooner than the days in use can be worked, between delivery and the day it may go."""
    found = example(name)[1]
    calendar = WorkingCalendar.of(found.job)
    for line in request_lines(found):
        days = [line.deliver_by + dt.timedelta(n) for n in range(400)]
        to_work = [day for day in days if line.deliver_by < day < line.earliest_off]
        assert sum(map(calendar.is_open, to_work)) >= line.work_days
        assert line.off_rent - line.earliest_off <= dt.timedelta(14)
        assert dt.timedelta(28) <= line.latest_off - line.off_rent <= dt.timedelta(32)


def test_one_generator_for_two_machines_is_asked_for_with_the_load_of_both():
    """Heater 4 kW, facer and pump 3.5 kW at 0.85, site load 1.5 kW: 2 x (4 + 4.12) + 1.5 = 17.74 kW
    running; one machine on a set of its own 9.62. The rating is what the class was chosen by."""
    for machines, rule, running_kw, sets in (
        (1, "one shared", 9.62, 1), (2, "one shared", 17.74, 1), (2, "one per machine", 9.62, 2),
    ):  # fmt: skip
        made = jobs.job(machines_per_crew=machines, generators_per_crew=rule)
        found = estimate(made)
        (line,) = [one for one in request_lines(found) if one.kind == "generator"]
        (span,) = [one for one in found.fleet.spans if one.kind == "generator"]
        assert isinstance(line.need, PowerWanted)
        assert line.quantity == sets
        assert line.need.running_kw == pytest.approx(running_kw, abs=0.01)
        assert line.need.rated_kw == span.why.need > line.need.running_kw
