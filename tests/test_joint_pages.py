"""Joints in two pages: the counts of the runs grouped by pipe, and limits on the safe side."""

import datetime as dt
import math
from functools import cache

import pytest

from estimator.models.places import Places
from estimator.progress.site_plan import misalignment_max_mm
from estimator.study import study
from estimator.workbook.results import joint_pages
from estimator.workbook.results.cards_sheet import most_text
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.results.sheets import RESULT_SHEETS, each_sheet
from estimator.workbook.sheet.blocks import Block
from estimator.workbook.sheet.layout import EDGE, laid_out
from estimator.workbook.sheet.look import TEXT, box_pixels, pixels_of
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import text_pixels
from tests.estimated import example

COUNTS, PARAMETERS = "Joint counts", "Joint parameters"


@cache
def sheets(name="raw_water_main"):
    _, study = example(name)
    names = {each: each for each in RESULT_SHEETS}
    return dict(each_sheet(study, Places(), (), names))


def rows_of(name, example_name="raw_water_main"):
    return [[cell and cell.value for cell in row.cells] for row in sheets(example_name)[name].rows]


def test_the_line_of_each_pipe_is_the_sum_of_its_runs_and_the_last_that_of_the_job():
    _, study = example("raw_water_main")
    labels = [run.label for run in study.by_run.runs]
    sums = {}
    for label, sized in zip(labels, study.runs, strict=True):
        sums[label] = sums.get(label, 0) + sized.counts.butt_joints
    rows = [row for row in rows_of(COUNTS) if row]
    at = next(row for row in rows if row[0] == "Run").index("Butt joints")
    assert {row[0]: row[at] for row in rows if row[0] in sums} == sums
    job = next(row for row in rows if row[0] == "Job")
    assert job[at] == study.butt_joints == sum(sums.values())
    order = [row[0] for row in rows if row[0] in sums]
    assert order == list(dict.fromkeys(labels))


def test_every_run_stands_once_below_its_pipe():
    _, study = example("raw_water_main")
    rows = [row for row in rows_of(COUNTS) if row]
    label, found = "", {}
    for row in rows:
        if row[0] in {run.label for run in study.by_run.runs}:
            label = row[0]
        elif row[0] in {run.run_id for run in study.by_run.runs}:
            assert row[0] not in found
            found[row[0]] = label
    assert found == {run.run_id: run.label for run in study.by_run.runs}


def test_a_page_that_goes_on_with_a_pipe_names_it_again(monkeypatch):
    """On pages of some 15 rows, whatever height of rows the layout takes."""
    monkeypatch.setattr("estimator.workbook.sheet.page_breaks._page", lambda spec, spare=0.0: 230.0)
    _, study = example("raw_water_main")
    names = {each: each for each in RESULT_SHEETS}
    spec = laid_out(dict(each_sheet(study, Places(), (), names))[COUNTS])
    rows = [[cell and cell.value for cell in row.cells] for row in spec.rows]
    pipes = {run.run_id: run.label for run in study.by_run.runs}
    assert pages_down(spec) == len(spec.breaks) + 1 > 3
    tops = [rows[last][0] for last in spec.breaks]
    again = [top for top in tops if top.endswith(", continued")]
    assert again
    assert set(tops) <= {*pipes.values(), *again}
    assert [row[0] for row in rows if row and str(row[0]).endswith(", continued")] == again
    label, found = "", {}
    for row in filter(None, rows):
        if row[0] in pipes:
            found[row[0]] = label
        elif row[0]:
            label = row[0].removesuffix(", continued")
    assert found == pipes
    at = next(row for row in rows if row and row[0] == "Run").index("Butt joints")
    for pipe in set(pipes.values()):
        sums = [row[at] for row in rows if row and row[0] == pipe]
        ids = [name for name, of in pipes.items() if of == pipe]
        assert sums == [sum(row[at] for row in rows if row and row[0] in ids)]


def shown_joints(name):
    """Return what the Joints sheet shows of the first run, by column."""
    (block,) = (one for one in sheets(name)["Joints"].rows.parts if isinstance(one, Block))
    values = (column.values[0] for column in block.columns)
    return dict(zip((one.key for one in result_columns("joints")), values, strict=True))


@pytest.mark.parametrize("name", ["raw_water_main", "tailings_line"])
def test_minima_are_rounded_up_and_maxima_down_to_the_digit_shown(name):
    """Reference: the figures of the runs themselves, none of them below or above what is shown."""
    _, study = example(name)
    inches = study.job.cover.unit_system == "US"
    inch, shown = 25.4 if inches else 1.0, shown_joints(name)
    rows = rows_of(PARAMETERS, name)
    top = next(n for n, row in enumerate(rows) if row[:1] == ["Pipe"])
    nouns = [str(head).rpartition("\n")[0] or head for head in rows[top]]
    heads = [str(noun).replace("/\n", "/").replace("\n", " ") for noun in nouns]
    first = dict(zip(heads, rows[top + 1], strict=False))
    sized = study.runs[0]
    wall = sized.geometry.wall_mm / (25.4 if inches else 1.0)
    step = 0.001 if inches else 0.1
    assert wall - 1e-9 <= first["Wall at least"] < wall + step
    offset = first["Misalignment at most"]
    assert wall / 10 + 1e-9 >= offset > wall / 10 - (0.01 if inches else 0.1)
    card = most_text(misalignment_max_mm(sized.geometry.wall_mm), "US" if inches else "SI")
    assert offset == pytest.approx(float(card.split()[0]))
    assert first["Soak at least"] * 86400 == pytest.approx(math.ceil(sized.fusion.soak_s))
    cool = first["Cool at least"] * 86400
    assert cool == pytest.approx(math.ceil(round(sized.fusion.cool_s, 6)))
    for key in ("soak", "cool"):
        assert shown[key] == first[f"{key.capitalize()} at least"]
    assert first["Bead at least"] == shown["bead"] >= sized.fusion.bead_min_mm / inch
    assert first["Open/close at most"] == math.floor(sized.fusion.open_close_max_s)


def test_times_name_every_run_once_and_follow_the_joints_sheet():
    _, study = example("raw_water_main")
    spec = sheets()[PARAMETERS]
    times = [
        row.cells for row in spec.rows
        if len(row.cells) > 8 and row.cells[4] is not None
        and row.cells[4].style.startswith("min_s")
        and row.cells[8] is not None and isinstance(row.cells[8].value, str)
    ]  # fmt: skip
    order = [run.run_id for run in study.job.runs]
    named = []
    for cells in times:
        for part in " ".join(cells[8].value.split()).split(", "):
            first, _, last = part.partition(" to ")
            named += order[order.index(first) : order.index(last or first) + 1]
    assert sorted(named) == sorted(order)
    assert all(cells[4].formula.startswith("ROUND('Joints'!") for cells in times)
    first = next(cells for cells in times if "R01" in cells[8].value)
    minutes = study.runs[0].cycle.plain.cycle_min
    assert first[4].value * 86400 == pytest.approx(round(minutes * 60))


def test_no_header_of_times_begins_where_the_unit_beside_it_ends():
    """Reference: page 09 of the look that was drawn first has the shift as the unit of joints."""
    heads = next(row for row in rows_of(PARAMETERS) if row[1:2] == ["Access factor"])
    assert heads[7] == "Joints\na shift"


def parameters_of(*updates):
    """Return the sheet of a job of copies of one run, N0 on, each with what is given of it."""
    workbook, _ = example("raw_water_main")
    first, *_ = workbook.job.runs
    runs = tuple(
        first.model_copy(update={"run_id": f"N{n}", "after": None, **update})
        for n, update in enumerate(updates)
    )
    job = workbook.job.model_copy(update={"runs": runs, "scenarios": ()})
    found = study(job, Places(), ranges=False)
    names = {one: one for one in RESULT_SHEETS}
    return dict(each_sheet(found, Places(), (), names))[PARAMETERS]


def test_lines_that_differ_by_the_month_alone_name_it():
    """Reference: January at the site of the example is below 0 C, its first month is not."""
    spec = parameters_of({}, {"earliest_start": dt.date(2028, 1, 10)})
    texts = [cell.value for row in spec.rows for cell in row.cells if cell and cell.value]
    assert "N1 (Jan)" in texts
    assert [text for text in texts if str(text).startswith("N0 (")]
    (note,) = (text for text in texts if str(text).startswith("Efficiency and"))
    assert "one pipe and access factor: another month of start or machine, in brackets" in note


def test_a_line_that_alone_carries_the_cold_names_its_month():
    """Reference: 1.2 times the crew-paced time of access 1 is less than a start in January takes.

    January at the site of the example is below 0 C, its first month is not.
    """
    start = dt.date(2028, 1, 10)
    rows = parameters_of(
        {"access_factor": 1.0}, {"access_factor": 1.2, "earliest_start": start}
    ).rows
    texts = [[cell and cell.value for cell in row.cells] for row in rows]
    (usual,) = (row for row in texts if "N0" in row)
    (cold,) = (row for row in texts if "N1 (Jan)" in row)
    assert cold[1] == 1.2
    assert cold[2] > 1.201 * usual[2]
    (note,) = (row[0] for row in texts if row and str(row[0]).startswith("Efficiency and"))
    assert "Month in brackets: that of the start" in note
    assert "Lines of one pipe" not in note


def test_a_machine_with_a_hand_lever_has_a_blank_gauge_that_the_note_explains():
    """Reference: the machine of 2 in pipe in the sample of machines has no piston."""
    cells = [row.cells for row in parameters_of({"size": "2"}, {}).rows]
    at, heads = next((n, row) for n, row in enumerate(cells) if row and row[0].value == "Pipe")
    gauge = next(n for n, head in enumerate(heads) if str(head.value).startswith("Gauge"))
    lever, hydraulic = cells[at + 1][gauge], cells[at + 2][gauge]
    assert lever.value == ""
    assert lever.formula.startswith("IF(")
    assert hydraulic.value > 0
    assert heads[gauge].style == "header_right"
    (note,) = (row[0].value for row in cells if row and "of drag" in str(row[0].value))
    assert note.endswith("No gauge: a hand lever.")


@pytest.mark.parametrize("name", ["raw_water_main", "tailings_line"])
def test_the_notes_say_what_holds_of_every_line(name):
    """Reference: page 09 of the look that was drawn first, and the rule of the cycle."""
    _, study = example(name)
    notes = [row.cells[0].value for row in sheets(name)[PARAMETERS].rows
             if row.cells and row.cells[0] and row.cells[0].style == "note"]  # fmt: skip
    limits, times = notes
    us = study.job.cover.unit_system == "US"
    heater = "400\u2013450 F" if us else "205\u2013232 C"
    assert f"Heater surface {heater}." in limits
    assert f"includes {'30 psi' if us else '2 bar'} of drag" in limits
    assert "Misalignment (10% of the wall), cool: common practice." in limits
    assert "Soak, bead: from memory; check the standard." in limits
    assert "ends heat soak by bead size" in limits
    assert "Lines of one pipe" not in limits
    assert "shorter" not in times
    assert "Lines of one pipe" not in times
    assert "Access factor: multiplies crew-paced time" in times


def test_the_names_of_runs_are_broken_between_names():
    """Reference: a name that is cut at its hyphen is read as two."""
    runs = ({"run_id": f"CWS-2{n:02d}B", "access_factor": 1.0 + n % 2 / 5} for n in range(20))
    rows = parameters_of(*runs).rows
    texts = [c.value for row in rows for c in row.cells if c and "CWS" in str(c.value)]
    assert len(texts) == 2
    for text in texts:
        lines = text.split("\n")
        assert len(lines) > 1
        assert all(line.startswith("CWS-") and line.rstrip(",")[-1] == "B" for line in lines)


def test_counts_say_what_butt_joints_are_and_hours_have_their_decimal():
    """Reference: page 08 of the look that was drawn first."""
    cells = [cell for row in sheets()[COUNTS].rows for cell in row.cells if cell]
    notes = [cell.value for cell in cells if cell.style == "note"]
    assert notes[0].startswith("Butt joints = stick + fitting + other pipe.")
    (column,) = (one for one in result_columns("joint_counts") if one.key == "labor_hours")
    assert column.style == "num1"


def test_soak_and_cool_are_the_sum_of_the_least_times_shown():
    rows = rows_of(PARAMETERS, "tailings_line")
    tops = [n for n, row in enumerate(rows) if row[:1] == ["Pipe"]]
    limits = {row[0]: row for row in rows[tops[0] : tops[1]] if len(row) == 11}
    lines = [row for row in rows[tops[1] + 1 :] if row[0] in limits]
    assert len(lines) > len(limits)
    for row in lines:
        soak, cool = limits[row[0]][5], limits[row[0]][7]
        assert round(row[3] * 86400) == round(soak * 86400) + round(cool * 86400)
        assert row[3] * 86400 == pytest.approx(round(row[3] * 86400))


def test_times_name_all_runs_and_the_pipe_on_every_line():
    """Reference: 28 runs, every other one with access 1.2, are two lists without stretches."""
    rows = parameters_of(*({"access_factor": 1.0 + n % 2 / 5} for n in range(28))).rows
    texts = [[cell.value for cell in row.cells if cell and cell.value] for row in rows]
    lines = [row for row in texts if str(row[-1:]).count("N") > 12]
    assert sorted(", ".join(" ".join(row[-1].split()) for row in lines).split(", ")) == sorted(
        f"N{n}" for n in range(28)
    )
    assert [row[0] for row in lines] == ["24 in IPS DR 11"] * 2


def test_pages_that_the_mock_has_on_one_page_of_letter_are_one_page():
    """Reference: pages 04 and 09 of the look that was drawn first, for the same job."""
    for name in (PARAMETERS, "Bid schedule"):
        assert not sheets()[name].breaks, name


def test_a_text_beside_a_text_stands_off_it():
    for name, column in (("Cost", "Basis"), ("Compare", "Change")):
        rows = [row.cells for row in sheets()[name].rows]
        top = next(n for n, cells in enumerate(rows) if any(c and c.value == column for c in cells))
        at = [cell and cell.value for cell in rows[top]].index(column)
        below = [cells[at] for cells in rows[top + 1 :] if len(cells) > at and cells[at]]
        texts = [cell for cell in below if isinstance(cell.value, str) and cell.value]
        assert {STYLES[cell.style].indent for cell in texts} == {1}, name


def test_lines_of_one_pipe_are_in_the_order_of_their_access_factors():
    sheet = parameters_of(*({"access_factor": factor} for factor in (1.4, 1.0, 1.2)))
    rows = [[cell and cell.value for cell in row.cells] for row in sheet.rows]
    start = next(n for n, row in enumerate(rows) if row[1:2] == ["Access factor"])
    assert [row[1] for row in rows[start + 1 : start + 4]] == [1.0, 1.2, 1.4]


@pytest.mark.parametrize("name", ["raw_water_main", "tailings_line"])
def test_no_word_of_a_head_over_the_parameters_is_broken(name):
    """A head without a hyphen is as broad as its longest word, and the page has its room."""
    sheet = laid_out(sheets(name)[PARAMETERS])
    heads = next(row.cells for row in sheet.rows if len(row.cells) > 5 and row.cells[1]
                 and str(row.cells[1].value).startswith("OD"))  # fmt: skip
    for cell, width in zip(heads, sheet.widths, strict=False):
        text = str(cell.value)
        noun = text.rpartition("\n")[0] or text
        assert "-" not in noun
        longest = max(text_pixels(word, TEXT, bold=True) for word in noun.split())
        assert longest + EDGE <= pixels_of(width)
    assert sum(map(pixels_of, sheet.widths)) <= box_pixels(across=False)


def test_short_names_of_pipe_leave_their_room_to_the_names_of_runs():
    widths = joint_pages._parameter_widths
    columns = result_columns("joint_parameters")
    long, short = widths(columns, ["20 in DIPS DR 13.5"]), widths(columns, ["900 mm SDR 9"])
    assert short[-1] > long[-1]
    assert short[1:-1] == long[1:-1]
    assert sum(short) == pytest.approx(sum(long))
