"""Site records through a real workbook: begun, filled, read, judged, every fault with its cell."""

import datetime as dt
import io
import zipfile

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import range_boundaries

from estimator import api, files
from estimator.after_award import records_of
from estimator.cli.command import main
from estimator.errors import InputError, WorkbookError
from estimator.inputs.dictionary import fields, site_tables
from estimator.joint.cooling_by_air import cooling_by_air, least_cooling_s
from estimator.joint.fusion import fusion_parameters
from estimator.models.changes import Change
from estimator.models.site_records import ActualCost, LoggedJoint, SiteRecords
from estimator.progress.joint_log import judge_records
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.read.cells import CellError, to_clock, to_duration
from estimator.workbook.sheet import look
from estimator.workbook.sheet.styles import BARE, STYLES
from tests.cut_off import cut_off
from tests.each import each
from tests.excel_rules import faults
from tests.one_page import sheet_of
from tests.site_book import DAY, GOOD, filled, place, started
from tests.small_book import small_book
from workbook_template.site_formulas import JOB_MINUTES
from workbook_template.site_sheets import APART, SiteSheet, site_sheets, style_of


def read(data):
    return records_of(parse_workbook(data))


def problems_of(data):
    with pytest.raises(InputError) as caught:
        read(data)
    return [str(problem) for problem in caught.value.problems]


def where(table, key, row):
    return "!".join(place(table, key, row))


@pytest.fixture(scope="module")
def empty():
    return read(started()).records


def test_a_workbook_without_records_has_none_and_prices_as_before():
    data = small_book()
    assert read(data).kept == frozenset()
    before = api.estimate_workbook(parse_workbook(data), ranges=False)
    after = api.estimate_workbook(parse_workbook(started()), ranges=False)
    assert after.bid == before.bid
    assert after.warnings == before.warnings


def test_starting_keeps_every_other_part_byte_for_byte():
    with (
        zipfile.ZipFile(io.BytesIO(small_book())) as old,
        zipfile.ZipFile(io.BytesIO(started())) as new,
    ):
        changed = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels",
                   "xl/styles.xml"}  # fmt: skip
        for name in old.namelist():
            assert name in changed or new.read(name) == old.read(name), name


def test_a_second_start_is_refused():
    with pytest.raises(WorkbookError, match="already has: sheet Joint log"):
        api.with_site_records(parse_workbook(started()))


def test_excel_takes_what_is_started():
    assert faults(started()) == []


def test_every_joint_of_the_estimate_has_a_number_and_its_limits(empty):
    estimate = api.estimate_workbook(parse_workbook(small_book()), ranges=False)
    for run, sized in estimate.pairs:
        rows = [row for row in empty.joint_log if row.run_id == run.run_id]
        kinds = [row.kind for row in rows]
        counts = sized.counts
        assert kinds.count("stick") == counts.plain_joints
        assert kinds.count("fitting") == counts.fitting_joints
        assert kinds.count("tie-in") == counts.tie_in_joints
        assert kinds.count("rework") == max(2, counts.rework_joints)
        assert len({row.joint_no for row in rows}) == len(rows)
        for row in rows:
            if row.pipe.split(" DR")[0] == f"{run.od_system} {run.size}":
                assert sized.fusion.soak_s <= row.soak_min_s < sized.fusion.soak_s + 1
                assert row.bead_min_mm == pytest.approx(sized.fusion.bead_min_mm, abs=0.0255)
                wall = sized.geometry.wall_mm
                assert 0.1 * wall - 0.0255 < row.misalignment_max_mm <= 0.1 * wall + 1e-9


def test_a_filled_row_is_read_back_in_si(empty):
    data = filled({("joint_log", 0): GOOD | {"gauge_set_mpa": 1300}})
    row = read(data).records.joint_log[0]
    assert (row.date, row.crew, row.operator, row.visual) == (DAY, 1, "A. Reyes", "pass")
    assert (row.heat_start_min, row.closed_min) == (480.0, 492.25)
    assert row.ambient_c == pytest.approx(15.5556, abs=1e-3)
    assert row.gauge_set_mpa == pytest.approx(8.96318, abs=1e-4)
    assert row.bead_1_mm == pytest.approx(15.24)


def test_all_faults_are_reported_at_once_each_with_its_cell(empty):
    first, second = empty.joint_log[0].joint_no, empty.joint_log[1].joint_no
    other_run = next(row for row in empty.joint_log if row.run_id != empty.joint_log[0].run_id)
    data = filled(
        {
            ("joint_log", 0): GOOD | {"heater_out_min": dt.time(7, 0), "crew": 9},
            ("joint_log", 1): GOOD | {"rework_as": first},
            ("joint_log", 2): GOOD | {"rework_as": other_run.joint_no},
            ("joint_log", 3): {"joint_no": second, "date": "soon"},
            ("joint_log", 4): {"run_id": "R99", "heat_start_min": "late"},
            ("coupons", 0): {"coupon": "C1", "joint_no": "nowhere", "kind": "bend", "date": DAY,
                             "result": "fail"},
            ("lost_time", 0): {"date": DAY, "crew": 1, "minutes": 30, "cause": "lunch"},
            ("actual_cost", 0): {"date": DAY, "cost_type": "Labor", "amount": 5, "run_id": "R98"},
            ("daily_record", 0): {"date": DAY, "crew": 1, "run_id": "R01", "people": 4,
                                  "paid_hours": 40, "stick_joints": 7},
        }
    )  # fmt: skip
    found = problems_of(data)
    for table, key, row, part in (
        ("joint_log", "heater_out_min", 0, "is before 8:00:00"),
        ("joint_log", "crew", 0, "9 is above the 1 crew"),
        ("joint_log", "rework_as", 1, "is not a later joint of the same run"),
        ("joint_log", "rework_as", 2, "is not a later joint of the same run"),
        ("joint_log", "joint_no", 3, "is already used"),
        ("joint_log", "date", 3, "'soon' is not a date"),
        ("joint_log", "run_id", 4, "'R99' is not a run"),
        ("joint_log", "heat_start_min", 4, "'late' is not a clock time"),
        ("coupons", "joint_no", 0, "'nowhere' is not in the Joint log as made"),
        ("lost_time", "cause", 0, "'lunch' is not a choice"),
        ("actual_cost", "run_id", 0, "'R98' is not a run"),
        ("daily_record", "stick_joints", 0, "7 is not the"),
    ):
        place_of = where(table, key, row)
        assert any(text.startswith(f"{place_of}:") and part in text for text in found), part


def test_two_shifts_of_a_crew_on_a_run_need_their_own_counts():
    shift = {"date": DAY, "crew": 1, "run_id": "R01", "people": 4, "paid_hours": 40}
    data = filled(
        {
            ("joint_log", 0): GOOD,
            ("daily_record", 0): shift,
            ("daily_record", 1): shift | {"shift": "night"},
        }
    )
    assert any("enter the joints of each" in text for text in problems_of(data))


def test_typed_counts_that_agree_with_the_log_pass():
    shift = {"date": DAY, "crew": 1, "run_id": "R01", "people": 4, "paid_hours": 40}
    data = filled({("joint_log", 0): GOOD, ("daily_record", 0): shift | {"test_joints": 1}})
    assert read(data).records.daily_record[0].test_joints == 1


@each(
    ("typed", "minutes"),
    [("7:42", 462.0), ("19:05:30", 1145.5), ("12:00 am", 0.0), ("12:30 PM", 750.0),
     (dt.time(6, 0, 15), 360.25), (0.25, 360.0), (dt.timedelta(hours=2), 120.0)],
)  # fmt: skip
def test_clock_times_are_read_however_typed(typed, minutes):
    assert to_clock(typed) == minutes


@each("typed", ["25:00", "7.42", "7:60", "13:00 pm", 1.5, -0.1, True])
def test_what_is_no_clock_time_is_refused(typed):
    with pytest.raises(CellError, match="is not a clock time"):
        to_clock(typed)


def test_durations_are_minutes_and_seconds():
    assert to_duration("26:10") == 1570.0
    assert to_duration("1:00:00") == 3600.0
    with pytest.raises(CellError, match="is not a time"):
        to_duration("6")


METHODS = ("f2620", "iso21307-slp", "iso21307-dlp", "iso21307-shp", "dvs2207", "dvs2207-2005")


@given(st.sampled_from(METHODS), st.floats(8.0, 45.0), st.floats(-40.0, 40.0))
def test_cooling_by_air_is_that_of_the_method_at_every_temperature(method, wall, air):
    def cool_s(ambient):
        return fusion_parameters(method, 450.0, wall, ambient).cool_s

    bands = cooling_by_air("pipe", method, cool_s)
    assert least_cooling_s(bands, air) == pytest.approx(cool_s(air), rel=1e-6)


def test_cooling_of_a_method_that_ends_at_40_c_is_not_reported_beyond():
    def cool_s(ambient):
        return fusion_parameters("dvs2207", 400.0, 23.7, ambient).cool_s

    bands = cooling_by_air("p", "dvs2207", cool_s)
    assert [(band.from_c, band.to_c) for band in bands] == [(-45, 15), (15, 25), (25, 40)]
    assert least_cooling_s(bands, 40.5) is None


def test_every_page_across_has_the_whole_title_of_its_table(empty):
    """The first column stands on every page: a title in it would be cut beside the next one."""
    sheet = sheet_of(started(), "Joint log")
    pages = [2, *(one.id + 1 for one in sheet.col_breaks.brk)]
    assert sheet.print_title_cols == "$A:$A"
    assert len(pages) > 2
    assert [sheet.cell(1, column).value for column in pages] == ["Joint log"] * len(pages)
    notes = [sheet.cell(2, column).value for column in pages]
    assert set(notes[1:]) <= {notes[0], None}
    assert sheet["A1"].value is sheet["A2"].value is None


@pytest.mark.parametrize("name", ["Joint log", "Site plan", "Logger columns"])
def test_a_rule_ends_the_title_of_each_table_and_of_nothing_else(name):
    sheet = sheet_of(started(), name)
    areas = [range_boundaries(table.ref) for table in sheet.tables.values()]
    over = {column for left, _, right, _ in areas for column in range(left, right + 1)}
    ruled = {cell.column for cell in sheet[2] if cell.border.bottom.style == "medium"}
    assert ruled == over


def test_headers_of_a_site_table_are_used_once():
    for table in site_tables():
        headers = [column.header.casefold() for column in fields(table.table)]
        assert len(set(headers)) == len(headers)


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    return path


def test_the_command_starts_the_records_and_sums_up_the_log(path, capsys, empty):
    assert main(["log", str(path)]) == 1
    assert "There is no Joint log" in capsys.readouterr().err
    assert main(["log", str(path), "--start"]) == 0
    assert path.with_name("job.bak.xlsx").read_bytes() == files.marked(small_book())
    gauge = {"gauge_set_mpa": 5000}
    numbers = [row.joint_no for row in empty.joint_log]
    path.write_bytes(
        filled(
            {
                ("joint_log", 0): GOOD | gauge,
                ("joint_log", 1): GOOD | gauge | {"visual": "reject", "cause": "offset"},
                ("joint_log", 2): GOOD | gauge | {"closed_min": dt.time(8, 14)},
                ("joint_log", 3): GOOD | gauge | {"operator": "B. Cole"},
                ("coupons", 0): {"coupon": "C1", "joint_no": numbers[3], "kind": "bend",
                                 "date": DAY, "result": "fail"},
            },
            path.read_bytes(),
        )
    )  # fmt: skip
    capsys.readouterr()
    assert main(["log", str(path)]) == 0
    text = capsys.readouterr().out
    assert "4 made" in text
    assert f"Open rejects: cut out and replace: 2\n  {numbers[1]} (Joint log!A7): offset" in text
    assert f"{numbers[2]} (Joint log!A8): open/close 2:00 over" in text
    assert f"On hold: 1\n  {numbers[3]} (Joint log!A9): coupon C1 failed" in text


def test_a_faulty_log_leaves_the_file_alone_and_names_the_cell(path, capsys):
    path.write_bytes(filled({("joint_log", 0): {"date": "soon"}}))
    before = path.read_bytes()
    assert main(["log", str(path)]) == 1
    assert where("joint_log", "date", 0) in capsys.readouterr().err
    assert path.read_bytes() == before


def test_judged_from_the_workbook_as_by_hand():
    data = filled({("joint_log", 0): GOOD | {"gauge_set_mpa": 500}})
    judged = judge_records(read(data).records).joints[0]
    assert (judged.verdict, judged.reasons) == ("out of limits", ("gauge below base + drag",))


def test_the_summary_sheet_adds_up_and_leads_to_the_joints(path, empty, capsys):
    """60 joints, each tenth rejected: two causes, a full group of 50, and a rest that is left."""
    entries = {}
    for row in range(60):
        bad = (
            {"visual": "reject", "cause": "cold" if row % 20 else "offset"} if row % 10 == 0 else {}
        )
        entries["joint_log", row] = GOOD | {"gauge_set_mpa": 5000} | bad
    path.write_bytes(filled(entries))
    assert main(["log", str(path)]) == 0
    assert "sheet Log summary" in capsys.readouterr().out
    sheet = sheet_of(path, "Log summary")
    cells = {
        cell.value: cell for row in sheet.iter_rows() for cell in row if cell.value is not None
    }
    number = empty.joint_log[10].joint_no
    assert any(isinstance(text, str) and "HYPERLINK" in text and number in text for text in cells)
    assert "Open rejects: cut out and replace: 6" in cells
    causes = {sheet.cell(row, 1).value: sheet.cell(row, 2).value for row in range(1, 200)}
    assert (causes["cold"], causes["offset"]) == (3, 3)
    group = next(row for row in range(1, 200) if sheet.cell(row, 1).value == "1 to 50")
    p, n = 0.1, 50
    reach = 3 * (p * (1 - p) / n) ** 0.5
    shown = [sheet.cell(group, column).value for column in range(2, 7)]
    assert shown == pytest.approx([5, 0.1, 0.1, max(0, p - reach), p + reach])
    assert len(sheet._charts) == 1  # of causes: one group of joints makes no line
    assert faults(path.read_bytes()) == []


def test_a_unit_that_the_formulas_do_not_count_in_is_refused():
    """Row 4 holds the units: drag in bar beside a base gauge in psi, lost time in hours."""
    drag = place("joint_log", "drag_mpa", -2)
    lost = place("lost_time", "minutes", -2)
    data = Package.open(filled({("lost_time", 0): LOST})).fill_cells(
        {drag[0]: {drag[1]: "bar"}, lost[0]: {lost[1]: "h"}}
    )
    counted = "but the formulas of this sheet count in"
    assert problems_of(data) == [
        f"{'!'.join(drag)}: Drag read is in bar, {counted} psi. Change the unit cell back",
        f"{'!'.join(lost)}: Minutes is in h, {counted} min. Change the unit cell back",
    ]


LOST = {"date": DAY, "crew": 1, "minutes": 1, "cause": "weather"}


def test_a_workbook_with_macros_takes_the_records(tmp_path, capsys):
    path = tmp_path / "job.xlsm"
    path.write_bytes(small_book(macros=True))
    before = set(zipfile.ZipFile(path).namelist())
    assert main(["log", str(path), "--start"]) == 0
    assert before <= set(zipfile.ZipFile(path).namelist())
    assert faults(path.read_bytes()) == []
    assert "joint_log" in read(path.read_bytes()).kept


def test_the_pages_of_a_run_are_printed_with_what_is_entered(path, empty, capsys):
    first = [row.joint_no for row in empty.joint_log if row.run_id == "R01"]
    entries = {("joint_log", row): GOOD | {"gauge_set_mpa": 1300} for row in range(3)}
    late = {"heat_start_min": dt.time(23, 40, 48), "heater_out_min": dt.time(23, 58, 58)}
    entries["joint_log", 2] |= {"visual": "reject", "cause": "bead uneven", "rework_as": "R01-0009"}
    entries["joint_log", 3] = {"date": DAY} | late
    path.write_bytes(filled(entries))
    assert main(["log", str(path), "--page", "R01"]) == 0
    sheet = sheet_of(path, "Log pages")
    rows = {sheet.cell(row, 1).value: row for row in range(1, sheet.max_row + 1)}
    assert set(first) <= set(rows)
    assert "R02-0001" not in rows
    made = [cell.value for cell in sheet[rows[first[0]]]]
    assert made[9:16] == ["8:00:00", "8:12:00", "8:12:15", "8:40:00", "12:00", "0:15", "27:45"]
    assert made[18] == "accepted"
    blank = [cell.value for cell in sheet[rows[first[5]]]]
    assert set(blank[2:]) == {None}
    against = sheet.cell(rows[first[2]], 19)
    assert (against.value, against.font.bold) == ("reject", True)
    reasons = sheet.cell(rows[first[0]] + 15, 1).value
    assert reasons.startswith(f"{first[2]} reject: bead uneven; made again as R01-0009. {first[3]}")
    groups = [cell.value for cell in sheet[rows["Limits"] - 2] if cell.value]
    assert groups == ["Joint", "Set-up", "Clock times, h:min:s", "Calculated", "Result"]
    line = sheet.cell(rows[first[0]], 10).border.left
    assert (line.style, line.color.rgb[2:]) == ("thin", look.HAIR)
    limits = [cell.value for cell in sheet[rows["Limits"]]]
    assert limits[16] == "\u2265 0.375"
    assert limits[13:15] == ["\u2265 9:50", "\u2264 0:20"]
    assert limits[6].endswith("+ drag")
    merged = {area.coord for area in sheet.merged_cells.ranges}
    assert f"G{rows['Limits']}:H{rows['Limits']}" in merged
    assert sheet.cell(rows[first[0]], 19).alignment.indent == 1
    assert sheet.cell(rows[first[3]], 19).value == "incomplete"
    heads = {cell.value for row in sheet.iter_rows(max_row=4) for cell in row}
    assert {"24 in IPS DR 11, run R01", "Tue Oct 5, 2027"} <= heads
    assert "A. Reyes" not in heads
    assert len(sheet.row_breaks.brk) == (len(first) - 1) // 15
    assert cut_off(path.read_bytes(), "Log pages") == []
    assert faults(path.read_bytes()) == []
    assert main(["log", str(path), "--page", "R77"]) == 1
    assert "R77 has no joints in the log. Use one of: R01, R02" in capsys.readouterr().err


SPECS = {
    spec.name: spec
    for apart in ("", *APART)
    for spec in site_sheets(SiteRecords(), "US", "letter", dict.fromkeys(JOB_MINUTES, "0"), apart)
}


VERDICT = next(one for one in fields("joint_log") if one.key == "verdict")


@each("name", SPECS)
def test_pages_of_site_records_part_no_table_that_one_page_holds(name):
    """A broad first table repeats its first column on every page; beside others it would mislead.

    A page across is 9.8 in of 90.6 pixels and 5 more; a column takes 7 pixels a letter and 5.
    """
    spec = SPECS[name]
    titles = [n for n, cell in enumerate(spec.rows[4].cells, 1) if cell is not None]
    tables = [
        (first, last)
        for first, last in zip(
            [n for n in titles if n - 1 not in titles],
            [n for n in titles if n + 1 not in titles],
            strict=True,
        )
    ]
    pixels = [7 * width + 5 for width in spec.widths]
    broad = [sum(pixels[first - 1 : last]) > 9.8 * 90.6 + 5 for first, last in tables]
    assert spec.repeated_columns == broad[0]
    repeated = pixels[0] * broad[0]
    for first, last in tables:
        held = repeated + sum(pixels[first - 1 : last]) <= 9.8 * 90.6 + 5
        parted = [stop for stop in spec.column_breaks if first <= stop < last]
        assert not (held and parted), (first, last)


def test_on_rent_begins_a_page_of_its_own_with_its_whole_note():
    spec = SPECS["Actual cost"]
    (stop,) = spec.column_breaks
    assert spec.rows[0].cells[stop].value == "On rent"
    assert spec.rows[1].cells[stop].value.endswith("rent to date is taken from here")


def test_a_change_order_stands_on_one_page_and_its_printed_text_names_no_command():
    """Its row was split over two pages, under "added by estimator claim --start"."""
    spec = SPECS["Change orders"]
    heads = [cell and cell.value for cell in spec.rows[4].cells]
    assert spec.column_breaks == [heads.index("Retention")]
    assert spec.repeated_columns == 0
    notes = [
        cell.value for one in SPECS.values() for cell in one.rows[1].cells if cell and cell.value
    ]
    assert notes
    assert not any("estimator" in note or "--" in note for note in notes)


def test_a_row_of_a_change_order_is_as_high_as_its_texts():
    """LibreOffice does not let a row grow by itself when it opens the workbook."""
    one = Change(number="1", date=DAY, runs="R01", what="Longer reach", status="priced")
    two = one.model_copy(update={"number": "2", "what": "Longer reach to the valve vault VV-2"})
    records = SiteRecords(changes=(one, two))
    (spec,) = site_sheets(records, "US", "letter", {}, apart="Change orders")
    short, long, spare = spec.rows[5:8]
    assert short.height is spare.height is None
    assert long.height >= 2 * look.LINE


def test_no_few_rows_of_actual_cost_stand_alone_on_a_page():
    """A page of Letter across holds 29 rows of 15 points below the head, the next ones 33.

    One row alone stood on the second page; eight do now.
    """

    def breaks(rows):
        costs = tuple(ActualCost(date=DAY, cost_type="Labor", amount=1.0) for _ in range(rows))
        records = SiteRecords(actual_cost=costs)
        specs = site_sheets(records, "US", "letter", dict.fromkeys(JOB_MINUTES, "0"))
        return next([*spec.breaks] for spec in specs if spec.name == "Actual cost")

    assert breaks(29) == breaks(29 + 8) == breaks(29 + 33) == []
    assert breaks(30) == [5 + 30 - 8]
    assert breaks(29 + 33 + 7) == [5 + 29 + 33 + 7 - 8]


def test_columns_that_show_percent_have_no_unit_above():
    """Over a header of one line beside headers of two it stood far off."""
    units = [cell.value for one in SPECS.values() for cell in one.rows[3].cells if cell]
    assert "min" in units
    assert "%" not in units


@pytest.mark.parametrize(("system", "shown"), [("US", "mmm d, yyyy_)"), ("SI", "d mmm yyyy_)")])
def test_dates_of_site_records_show_as_on_the_pages(system, shown):
    """They showed 2027-03-01 where every page showed Mar 1, 2027; spare rows do as the first."""
    formats = {
        STYLES[style].number_format
        for table in site_tables()
        for one in fields(table.table)
        if one.kind == "date"
        for style in (style_of(one, system), BARE.format(style_of(one, system)))
    }
    assert formats == {shown}


def test_text_of_site_records_stands_off_the_number_before_it_and_amounts_show_cents():
    """Headers and units stand on the side of their cells."""
    for spec in SPECS.values():
        units, heads, first = (spec.rows[number].cells for number in (3, 4, 5))
        for unit, head, cell in zip(units, heads, first, strict=True):
            if cell is None:
                continue
            style = STYLES[cell.style]
            assert style.indent == (style.align == "left")
            for above in (unit, head):
                over = STYLES[above.style]
                assert (over.align, over.indent) == (style.align, style.indent), head.value
            if head.value in ("Amount", "Day", "Price agreed"):
                assert style.number_format == "#,##0.00_)"
            elif style.align == "right":
                assert style.number_format.endswith("_)"), head.value


def test_spare_rows_are_drawn_by_a_rule_so_that_libreoffice_prints_none():
    """It prints each cell with a fill or frame of its own; what is drawn is what is written."""
    sheet = openpyxl.load_workbook(io.BytesIO(started()))["Lost time"]
    last = int(sheet.tables["Lost_time"].ref.rpartition("G")[2])
    first, spare = sheet["A6"], sheet[f"A{last}"]
    assert (first.fill.fill_type, first.border.top.style) == ("solid", "thin")
    assert (spare.fill.fill_type, spare.border.top.style) == (None, None)
    assert spare.number_format == first.number_format
    (area,) = sheet.conditional_formatting
    (rule,) = area.rules
    assert (str(area.sqref), rule.formula) == (f"A7:G{last}", ["1=1"])
    assert rule.dxf.fill.bgColor.rgb == first.fill.fgColor.rgb
    for side in ("left", "right", "top", "bottom"):
        drawn, written = (getattr(one, side) for one in (rule.dxf.border, first.border))
        assert (drawn.style, drawn.color.rgb) == (written.style, written.color.rgb)


@each("system", ("US", "SI"))
def test_figures_of_one_kind_show_the_same_decimals(system):
    """Gauges are set in whole psi or tenths of a bar; planned minutes in tenths, none as a dash."""
    gauge = {"US": "#,##0_)", "SI": "#,##0.0_)"}[system]
    looks = {
        (table, one.key): STYLES[style_of(one, system)].number_format
        for table in ("joint_log", "planned_runs")
        for one in fields(table)
    }
    assert looks["joint_log", "base_gauge_mpa"] == looks["joint_log", "gauge_required"] == gauge
    limit = {"US": "#,##0.000_)", "SI": "#,##0.0_)"}[system]
    assert looks["joint_log", "bead_min_mm"] == looks["joint_log", "misalignment_max_mm"] == limit
    planned = {look for (table, _), look in looks.items() if table == "planned_runs"}
    assert planned == {"General", '#,##0_);-#,##0_);"\N{EN DASH}"_)', "#,##0.0_)"}


def test_only_a_verdict_against_a_joint_is_bold():
    """In gray the ochre of a reject is paler than ink: a bold "accepted" would stand out more."""
    rules = SPECS["Joint log"].conditional
    assert len(rules) == 2
    for rule in rules:
        assert STYLES[rule.style].bold
        assert rule.style.startswith("warn")
    assert not STYLES[style_of(VERDICT, "US")].bold


def test_coupons_stand_on_one_page_across_and_the_other_tables_on_the_next():
    """A first column that repeats would stand beside Operators and Hydrotests passed too."""
    coupons = SPECS["Coupons"]
    assert coupons.repeated_columns == 0
    operators = next(n for n, cell in enumerate(coupons.rows[0].cells) if cell and n)
    assert coupons.column_breaks == [operators]


def test_a_joint_that_is_made_has_no_verdict_before_it_is_worked_out():
    """A program that calculates nothing on opening would go on showing that it is not made."""
    made = LoggedJoint(joint_no="R1-0001", run_id="R1", kind="stick", pipe="P", date=DAY)
    left = made.model_copy(update={"joint_no": "R1-0002", "date": None})
    records = SiteRecords(joint_log=(made, left))
    log, *_ = site_sheets(records, "US", "letter", dict.fromkeys(JOB_MINUTES, "0"))
    heads = [cell and cell.value for cell in log.rows[4].cells]
    column = heads.index("Verdict")
    assert [log.rows[row].cells[column].value for row in (5, 6)] == ["", "not made"]


def test_the_rows_of_a_sheet_are_measured_once_however_many_its_rows(monkeypatch):
    measured, usual = [], SiteSheet._heights

    def counted(sheet):
        measured.append(sheet.name)
        return usual(sheet)

    monkeypatch.setattr(SiteSheet, "_heights", counted)
    api.with_site_records(parse_workbook(small_book()))
    assert len(measured) > 3
    assert len(measured) == len(set(measured))
