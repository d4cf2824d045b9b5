"""Field cards: ladder, air and marks by hand, nothing cut off, and the printed page read back."""

import itertools
import json
import re
import shutil
import subprocess
from dataclasses import replace

import pytest

from estimator import api, files
from estimator.after_award import card_pages
from estimator.cli.command import main
from estimator.models.study import Study
from estimator.progress.field_cards import drag_ladder, runs_text
from estimator.standards import tables
from estimator.workbook.book import parse_workbook, with_pages
from estimator.workbook.package.package import Package
from estimator.workbook.results.builder import Context
from estimator.workbook.results.cards_sheet import (
    FIELD_CARDS,
    LINE_PX,
    WIDTHS_PX,
    cards_sheet,
    minutes_text,
    titles,
)
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import lines_of
from tests import office
from tests.cut_off import cut_off
from tests.excel_rules import faults
from tests.one_page import names_of, sheet_of
from tests.small_book import small_book

WHOLE_PSI_BAR = 0.5 * 0.0689476 + 0.051
"""What a gauge in bar may miss that is worked out from a whole psi, to a tenth."""


def carded(data):
    """Return a workbook, its estimate and its cards, and the file with the sheet."""
    workbook = parse_workbook(data)
    cards, pages = card_pages(workbook)
    return workbook, cards, with_pages(workbook, pages)


@pytest.fixture(scope="module")
def us():
    return carded(small_book())


@pytest.fixture(scope="module")
def si():
    data = small_book("tailings_line")
    cell = parse_workbook(data).places.where("job", "", "method").partition("!")[2]
    return carded(Package.open(data).fill_cells({"Job": {cell: "dvs2207"}}))


def test_a_ladder_of_drag_goes_to_twice_the_allowance_in_round_steps():
    assert drag_ladder(30.0) == (0, 20, 40, 60, 80)
    assert drag_ladder(2.0) == (0, 1, 2, 3, 4)
    assert drag_ladder(0.0)[1] > 0


def test_neighboring_runs_are_joined():
    order = ["R1", "R2", "R3", "R4", "R5", "R6"]
    assert runs_text(["R1", "R2", "R4", "R5", "R6"], order) == "R1, R2, R4 to R6"


def test_least_times_are_rounded_up_and_longest_ones_down():
    assert minutes_text(381.01, up=True) == "6 min 22 s"
    assert minutes_text(19.99, up=False) == "19 s"
    assert minutes_text(600.0, up=True) == "10 min"


def test_every_pipe_and_machine_of_the_job_has_one_card(us):
    workbook, cards, _ = us
    estimate = api.estimate_workbook(workbook, ranges=False)
    seen = {(card.label, card.material, card.machine) for card in cards}
    assert len(seen) == len(cards)
    for run, sized in estimate.pairs:
        label = f"{run.size} in {run.od_system} DR {run.dr:g}"
        if sized.counts.butt_joints:
            (card,) = [
                one
                for one in cards
                if (one.label, one.material, one.machine)
                == (label, run.material, sized.machine.class_id)
            ]
            assert run.run_id in card.runs
            assert card.fusion.soak_s == sized.fusion.soak_s


def test_figures_from_memory_are_marked(us):
    for card in us[1]:
        sources = {source.figure: source.confidence for source in card.fusion.sources}
        for figure, confidence in sources.items():
            memory = confidence in ("from memory", "assumption")
            assert (card.marks[figure] == "*") == memory, figure


def test_excel_takes_the_sheet(us, si):
    assert faults(us[2]) == []
    assert faults(si[2]) == []


def test_nothing_on_a_card_is_cut_off(us, si):
    for data in (us[2], si[2]):
        assert cut_off(data, "Field cards") == []


def test_each_note_of_a_card_is_a_sentence():
    _, cards, data = carded(small_book("plant_piping"))
    cells = sheet_of(data, "Field cards").iter_rows(values_only=True)
    texts = {value for row in cells for value in row if isinstance(value, str)}
    notes = [card.notes for card in cards if card.notes]
    assert notes
    for each in notes:
        assert any(all(f"{note}." in text for note in each) for text in texts), each


@pytest.mark.parametrize("job", ["Raw water main, intake to plant", "Main to the west plant " * 6])
def test_the_name_of_the_job_is_whole_on_a_card_however_long(us, job):
    """A card is cut out and handed on: which job and which estimate it is of stays on it."""
    workbook = us[0]
    named = replace(workbook, job=workbook.job.changed(job_name=job))
    cards, pages = card_pages(named)
    sheet = sheet_of(with_pages(named, pages), "Field cards")
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value]
    feet = [cell for cell in cells if cell.value == job]
    assert len(feet) == len(cards)
    for cell in feet:
        lines = lines_of(job, LINE_PX, 8)
        assert cell.alignment.wrap_text
        assert sheet.row_dimensions[cell.row].height >= lines * 10.5
    dated = [cell for cell in cells if str(cell.value).endswith("PE4710, estimate of Jan 18, 2027")]
    assert len(dated) == len(cards)


def test_the_note_on_small_pipe_says_both_units_in_two_lines_of_a_card():
    """An inch is 25.4 mm: a metric card shows the limit of the note in millimeters, too."""
    rows = tables.find_rows("fusion_notes", method="f2620")
    (note,) = (str(row["text"]) for row in rows if row["quantity"] == "od_in")
    assert f"14 in ({14 * 25.4:.0f} mm)" in note
    assert f"4.5 min/in ({4.5 / 25.4:.2f} min/mm)" in note
    assert lines_of(f"{note}.", LINE_PX, 8) == 2


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_rows_are_as_high_as_four_cards_a_page_leave_them(us, paper):
    """As on a card by hand, 14.9 pt a step; nearer where small pipe has two lines of notes."""
    workbook, (plain, *_), _ = us
    (note,) = (str(row["text"]) for row in tables.find_rows("fusion_notes", method="f2620")
               if row["quantity"] == "od_in")  # fmt: skip
    noted = replace(plain, fusion=replace(plain.fusion, notes=(note,)))
    assert (plain.notes, noted.notes) == ((), (note,))
    found = api.estimate_workbook(workbook, ranges=False)
    papered = replace(found, job=found.job.changed(paper=paper))
    context = Context(Study.of(papered), workbook.places, {FIELD_CARDS: "Cards"})
    room = {"Letter": 11.0, "A4": 11.69}[paper] * 72 - 2 * 0.6 * 72
    for cards, least in (([plain] * 8, 15.0), ([noted] * 8, 13.5), ([plain] * 6 + [noted], 13.5)):
        spec = cards_sheet(context, cards)
        named = [row for row in spec.rows if row.cells and row.cells[0] is not None]
        steps = [row.height for row in named if row.cells[0].style == "card step left"]
        assert len(spec.breaks) == 1, (len(cards), least)
        assert steps[0] >= least
        assert STYLES["card step left"].font_size == 9
        points = sum(row.height for row in spec.rows[: spec.breaks[0]])
        assert room - 28 < points < room - 3


def printed(data, folder):
    """Return the text of every card as it comes out of the printer, page by page, side by side."""
    reader = shutil.which("pdftotext")
    if reader is None:
        pytest.skip("pdftotext is not installed")
    book = folder / "cards.xlsx"
    book.write_bytes(data)
    pdf = office.convert(book, folder / "cards.pdf")
    found = []
    for left in (0, 1):
        half = ["-r", "72", "-x", str(305 * left), "-y", "0", "-W", "305", "-H", "842"]
        run = subprocess.run(
            [reader, "-layout", *half, str(pdf), "-"], capture_output=True, check=True
        )
        for number, page in enumerate(run.stdout.decode().split("\f")):
            cards = re.split(r"(?m)^(?=.*\bMachine \S+ *$)", page)[1:]
            found += [(number, place, left, text) for place, text in enumerate(cards)
                      if "Drag" in text]  # fmt: skip
    return [text for *_, text in sorted(found)]


def joint(capsys, card, ambient, *more):
    pipe = card.geometry
    arguments = [
        "joint", "--od-system", pipe.od_system, "--size", pipe.size, "--dr", f"{pipe.dr:g}",
        "--method", card.fusion.method, "--material", card.material, f"--ambient={ambient}C",
        *more, "--json",
    ]  # fmt: skip
    capsys.readouterr()
    assert main(arguments) == 0
    return json.loads(capsys.readouterr().out)


def seconds(text):
    """Read ``6 min 22 s``, ``20 s`` or ``30 min``."""
    found = re.fullmatch(r"(?:(\d+) min)?\s*(?:(\d+) s)?", text.strip())
    return 60 * int(found[1] or 0) + int(found[2] or 0)


def line(text, name):
    """Return what stands on a card after the name of a line, its mark left out."""
    found = re.search(rf"(?m)^\s*(?:\d +)?{re.escape(name)}[ *\u2020]*(.*)$", text)
    assert found, (name, text)
    return [part for part in re.split(r"\s{2,}", found[1].strip()) if part]


def numbers(text, name):
    """Return the numbers of a line, however close they stand."""
    return [float(word.replace(",", "")) for part in line(text, name) for word in part.split()]


def test_every_number_at_the_right_edge_keeps_off_the_frame():
    """By an indent, which LibreOffice takes where the cell before is not set right by itself."""
    names = [
        name for name in STYLES
        if re.fullmatch("card (gauge|other|drag) (psi|bar|number) right", name)
    ]  # fmt: skip
    assert len(names) >= 5
    for name in names:
        inner, edge = STYLES[name.removesuffix(" right")], STYLES[name]
        assert (inner.align, edge.align, edge.indent) == ("", "right", 1)


def test_the_drags_of_the_ladder_stand_evenly_and_steps_off_their_numbers(us):
    sheet = sheet_of(us[2], "Field cards")
    row = next(cell.row for cell in sheet["A"] if str(cell.value).startswith("Drag, "))
    merged = {area.min_col: area.max_col for area in sheet.merged_cells.ranges
              if area.min_row == row}  # fmt: skip
    filled = [cell.column for cell in sheet[row][1:7] if cell.value is not None]
    ends = [sum(WIDTHS_PX[: merged.get(column, column)]) for column in filled]
    *inner, last = [high - low for low, high in itertools.pairwise(ends)]
    assert set(inner) == {40}
    assert last == 40 + 9  # the indent
    texts = {str(cell.value) for cell in sheet["A"]}
    assert {"1  Heater surface", "3  Drag", "8  Cooling rest"} <= texts


def test_cards_of_one_pipe_name_the_machine_in_the_title(us):
    """The gauge is another one at another machine; other titles are the pipe alone."""
    first, second, *_ = us[1]
    other = replace(first, machine="M6")
    assert titles([first, second, other]) == [
        f"{first.label}, {first.machine}", second.label, f"{first.label}, M6"
    ]  # fmt: skip


def test_the_printed_us_page_is_what_the_joint_command_says(us, tmp_path, capsys):
    workbook, cards, data = us
    texts = printed(data, tmp_path)
    assert len(texts) == len(cards)
    areas = {machine.class_id: machine.piston_area_mm2 for machine in workbook.job.machines}
    for card, text in zip(cards, texts, strict=True):
        area = areas[card.machine]
        more = [] if area is None else ["--piston-area", f"{area}mm2", "--drag", "40psi"]
        asked = joint(capsys, card, 20, *more)
        assert text.lstrip().startswith(card.label)
        assert f"OD {asked['od_mm'] / 25.4:.3f} in ({asked['od_mm']:.1f} mm)" in text
        low, high = line(text, "Heater surface")[0].removesuffix(" F").split("\u2013")
        assert [(float(f) - 32) / 1.8 for f in (low, high)] == pytest.approx(asked["heater_c"])
        offset = float(line(text, "Max misalignment")[0].removesuffix(" in"))
        assert 0 <= asked["wall_mm"] / 254 - offset < 0.01
        bead = line(text, "Bead at least")[0].removesuffix(" in").split("/")
        assert int(bead[0]) / int(bead[1]) == pytest.approx(asked["bead_min_mm"] / 25.4)
        assert 0 <= seconds(line(text, "Heat soak")[0]) - asked["soak_s"] < 1
        assert 0 <= asked["open_close_max_s"] - seconds(line(text, "Open/close at most")[0]) < 1
        assert 0 <= seconds(line(text, "Cool under pressure")[0]) - asked["cool_s"] < 1
        assert seconds(line(text, "Cooling rest")[0]) == asked["rest_s"]
        drags, gauges = (numbers(text, f"{name}, psi") for name in ("Drag", "Set gauge"))
        assert drags == [0, 20, 40, 60, 80]
        gauge_psi = asked["gauge_mpa"] / 6894.757e-6
        assert gauges[2] == pytest.approx(gauge_psi, abs=0.5)
        assert numbers(text, "Set gauge, bar")[2] == pytest.approx(
            10 * asked["gauge_mpa"], abs=WHOLE_PSI_BAR
        )
        assert ("* from memory" in text) == ("*" in card.marks.values())


def test_the_printed_si_page_has_cooling_by_air(si, tmp_path, capsys):
    workbook, cards, data = si
    texts = printed(data, tmp_path)
    assert len(texts) == len(cards)
    areas = {machine.class_id: machine.piston_area_mm2 for machine in workbook.job.machines}
    for card, text in zip(cards, texts, strict=True):
        assert " ".join(line(text, "Air, C")) == "to 15 to 25 to 40"
        clocks = " ".join(line(text, "Cool, min:s")).split()
        times = [60 * int(a) + int(b) for a, b in (clock.split(":") for clock in clocks)]
        for air, cool in zip((10, 20, 30), times, strict=True):
            asked = joint(capsys, card, air, "--piston-area", f"{areas[card.machine]}mm2",
                          "--drag", "2bar")  # fmt: skip
            assert 0 <= cool - asked["cool_s"] < 1
            assert 0 <= asked["ramp_max_s"] - seconds(line(text, "Pressure up within")[0]) < 1
            assert float(line(text, "Bead at least")[0].split()[0]) >= asked["bead_min_mm"]
            gauge = numbers(text, "Set gauge, bar")[2]
            assert gauge == pytest.approx(10 * asked["gauge_mpa"], abs=0.06)


def test_the_command_writes_the_sheet_and_names_the_cards(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    assert main(["cards", str(path)]) == 0
    out = capsys.readouterr().out
    assert "24 in IPS DR 17, PE4710, machine M5" in out
    assert "Field cards" in names_of(path)
    again = path.read_bytes()
    assert main(["cards", str(path)]) == 0
    assert names_of(path).count("Field cards") == 1
    assert path.with_name("job.bak.xlsx").read_bytes() == files.marked(again)


def test_ladder_formulas_add_the_drag(us):
    sheet = sheet_of(us[2], "Field cards")
    row = next(cell.row for cell in sheet["A"] if cell.value == "Set gauge, psi")
    assert sheet.cell(row, 3).value == f"=$B{row}+C{row - 1}"
    assert isinstance(sheet.cell(row, 2).value, int | float)
