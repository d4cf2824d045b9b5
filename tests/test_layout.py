"""Every sheet takes its place on the page: widths, wrapped text, header sides, the title's rule."""

import datetime as dt
import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from estimator.workbook.sheet import column_needs, look
from estimator.workbook.sheet.blocks import Block, Column, Rows
from estimator.workbook.sheet.column_needs import Need, with_heads_apart
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell, ChartSpec, Row, SheetSpec, TableSpec
from estimator.workbook.sheet.text_width import lines_of, text_pixels

LONG = "Reach 14, pressure-reducing vault to school road, along the old railroad embankment"


def sheet(*rows, **options):
    return laid_out(SheetSpec("Sheet", tuple(Row(tuple(cells)) for cells in rows), **options))


def pixels(spec):
    return sum(map(look.pixels_of, spec.widths))


TITLE = ([Cell("Page", "title")], [Cell("Job", "job")])


def test_widths_of_letters_are_those_of_a_typeface_of_the_same_metrics():
    """Reference: Liberation Sans as installed, which has the advance widths of Arial."""
    for bold, name in ((False, "Regular"), (True, "Bold")):
        font = ImageFont.truetype(f"LiberationSans-{name}.ttf", 900)
        for text in (
            "Labor-hours",
            LONG,
            "1,085,402.20",
            "\N{EN DASH} 24 \N{DEGREE SIGN}C, \u00d8 90",
        ):
            expected = font.getlength(text, features=["-kern"]) / 75
            assert abs(text_pixels(text, 9.0, bold=bold) - expected) < 0.02 * expected


def test_lines_are_counted_word_by_word():
    word = text_pixels("joint ", 9.0)
    assert lines_of("joint joint joint", 3 * word, 9.0) == 1
    assert lines_of("joint joint joint", 2 * word, 9.0) == 2
    assert lines_of("joint\njoint", 9 * word, 9.0) == 2
    assert lines_of("jointjointjoint", word, 9.0) == 3


def test_text_without_room_wraps_and_its_row_grows():
    """The text is 520 pixels broad, the upright page 643, each of three amounts more than 70."""
    rest = [Cell(1234567.25, "money")] * 3
    rows = [Cell(LONG), *rest], [Cell("R1"), *rest]
    spec = sheet(*TITLE, *rows, widths=(20, 13.6, 13.6, 13.6), landscape=False)
    assert [row.cells[0].style for row in spec.rows[2:]] == ["text, wrapped", "text"]
    assert spec.rows[2].height > 2 * look.LINE
    assert spec.rows[3].height == look.ROW


def test_a_column_grows_into_the_room_that_is_left_until_its_texts_take_one_line():
    spec = sheet(*TITLE, [Cell(LONG), Cell(1, "int")], [Cell("R1"), Cell(2, "int")], widths=(20, 9))
    assert spec.rows[2].cells[0].style == "text"
    assert look.pixels_of(spec.widths[0]) > text_pixels(LONG, 9.0)
    assert pixels(spec) <= look.box_pixels(across=False)


def test_room_goes_where_it_saves_lines():
    """Two columns share 643 pixels: many texts of 430 pixels beside one of 900."""
    short = "Reach 14, pressure-reducing vault to school road, along the old railroad"
    rows = [[Cell(f"{short} {n}"), Cell("few words")] for n in range(9)]
    spec = sheet(*TITLE, *rows, [Cell("R1"), Cell(2 * LONG)], widths=(20, 60), landscape=False)
    assert {row.height for row in spec.rows[2:11]} == {look.ROW}
    assert spec.rows[11].height > 3 * look.LINE
    assert pixels(spec) <= look.box_pixels(across=False)


def test_text_after_a_number_stands_apart_from_it():
    head = [Cell("Change", "header"), Cell("Remark", "header")]
    rows = [Cell(1, "int"), Cell("late")], [Cell(2, "int"), Cell("ends after the deadline")]
    spec = sheet(*TITLE, head, *rows, widths=(9, 30))
    assert spec.rows[2].cells[1].style == "header_after"
    assert [row.cells[1].style for row in spec.rows[3:]] == ["text_after"] * 2


def test_text_that_stands_alone_runs_over_empty_cells_and_is_merged_where_it_is_longer():
    spec = sheet(*TITLE, [Cell(LONG, "subtitle")], [Cell(5 * LONG, "subtitle")], widths=(20,) * 4)
    assert spec.rows[2].cells[0].style == "subtitle"
    assert spec.merges == ("A4:D4",)
    assert spec.rows[3].height > look.ROW


def test_numbers_and_header_words_always_have_their_room():
    spec = sheet(
        *TITLE, [Cell("Productivity loss\n%", "header"), Cell("Amount", "header")],
        [Cell("a"), Cell(123456789.5, "money", "A1")], widths=(3, 3),
    )  # fmt: skip
    assert look.pixels_of(spec.widths[0]) > text_pixels("Productivity", 9.0, bold=True)
    assert look.pixels_of(spec.widths[1]) > text_pixels("123,456,789.50", 9.0)


def test_columns_give_way_until_they_fit_a_page():
    words = [Cell("some words of a remark")] * 6
    given = sheet(*TITLE, words, widths=(15,) * 5)
    assert not given.landscape
    assert pixels(given) <= look.box_pixels(across=False)
    across = sheet(*TITLE, words, widths=(30,) * 6)
    assert across.landscape
    assert pixels(across) <= look.box_pixels(across=True)
    assert across.rows[2].cells[0].style == "text"
    upright = sheet(*TITLE, words, widths=(30,) * 6, landscape=False)
    assert pixels(upright) <= look.box_pixels(across=False)
    assert upright.rows[2].cells[0].style == "text, wrapped"
    split = sheet(*TITLE, [Cell(1e12, "money")] * 20, widths=(9,) * 20, freeze=(2, 1))
    assert pixels(split) > look.box_pixels(across=True)
    assert split.repeated_columns == 1


def test_a_name_with_a_figure_is_not_broken_at_its_hyphen():
    rows = [[Cell("CWR-230B", "text_wrap"), Cell(3 * LONG), Cell("R1"), Cell(1, "int")]]
    spec = sheet(*TITLE, *rows, widths=(4, 90, 9, 9), landscape=False)
    assert look.pixels_of(spec.widths[0]) > text_pixels("CWR-230B", 9.0)


def test_a_head_broken_by_hand_takes_no_more_than_its_longest_word():
    rows = [[Cell("Test\nhours\nhr", "header"), Cell("Runs", "header")],
            [Cell(1.5, "num1"), Cell(3 * LONG)]]  # fmt: skip
    spec = sheet(*TITLE, *rows, widths=(4, 90), landscape=False)
    whole = text_pixels("Testhours", 9.0, bold=True)
    assert text_pixels("hours", 9.0, bold=True) < look.pixels_of(spec.widths[0]) < whole


def test_header_stands_on_the_side_of_what_is_below_it():
    below = Cell("a"), Cell(1, "int"), Cell(dt.date(2027, 3, 1), "date"), Cell("b", "text_after")
    spec = sheet(*TITLE, [Cell("Head", "header")] * 4, below, widths=(9,) * 4)
    styles = [cell.style for cell in spec.rows[2].cells]
    assert styles == ["header", "header_right", "header_center", "header_after"]


def test_header_of_an_empty_column_stands_where_its_figures_would():
    heads = [Cell(text, "header") for text in ("Pipe", "Fitting", "Tie-in", "Beyond chance")]
    row = Cell("a"), Cell(1, "int"), Cell(None, "int"), Cell(None)
    spec = sheet(*TITLE, heads, row, row, widths=(9,) * 4)
    styles = [cell.style for cell in spec.rows[2].cells]
    assert styles == ["header", "header_right", "header_right", "header_after"]


def test_a_sheet_too_broad_for_an_upright_page_lies_across():
    row = [Cell(123456789.5, "money")] * 9
    assert not sheet(*TITLE, row[:6], widths=(3,) * 6, landscape=False).landscape
    broad = sheet(*TITLE, row, widths=(3,) * 9, landscape=False)
    assert broad.landscape
    assert look.box_pixels(across=False) < pixels(broad) <= look.box_pixels(across=True)


def test_title_ends_at_the_edge_of_the_page_over_one_rule():
    right = Cell("1,075 joints", "result"), Cell("Check status: OK", "job_right")
    spec = sheet(*TITLE, [Cell("a")] * 3, widths=(20, 20, 20), right=right)
    first, second = (row.cells for row in spec.rows[:2])
    assert [cell and cell.value for cell in first] == ["Page", None, "1,075 joints"]
    assert [cell.style for cell in second] == ["job", "job", "job_right"]


def test_ends_of_the_title_that_have_no_room_side_by_side_wrap():
    right = None, Cell(LONG, "job_right")
    spec = sheet([Cell("Page", "title")], [Cell(2 * LONG, "job")], widths=(20,) * 4, right=right)
    assert spec.merges == ("A2:B2", "C2:D2")
    assert [cell.style for cell in spec.rows[1].cells][::2] == [
        "job, wrapped",
        "job_right, wrapped",
    ]
    assert spec.rows[1].height > 2 * look.LINE


def test_a_right_end_of_the_title_does_not_count_on_cells_that_the_left_end_takes():
    # 394 pixels of text beside 309 on a page of 643: half a page each, two lines for the longer.
    status = "Check status: Read the warnings on Checks, estimate of Jan 18, 2027"
    job = "Raw water transmission main, intake to treatment plant"
    right = None, Cell(status, "job_right")
    rows = [Cell("Page", "title")], [Cell(job, "job")]
    spec = sheet(*rows, widths=(9.0,) * 9, right=right, landscape=False, exact_widths=True)
    (found,) = (cell for cell in spec.rows[1].cells if cell and cell.value == status)
    assert found.style == "job_right, wrapped"
    assert spec.rows[1].height >= 2 * look.LINE


def test_a_long_right_end_leaves_the_title_its_room_beside_a_broad_column():
    """Half of the page would take the broad column, too, and leave the title 44 pixels of 643."""
    right = Cell(LONG, "result"), None
    title, widths = [Cell("Bid schedule", "title")], (5.6, 54.0, 8.0, 5.0, 7.0, 7.0)
    spec = sheet(title, TITLE[1], right=right, widths=widths, landscape=False, exact_widths=True)
    assert spec.merges == ("A1:B1", "C1:F1")


def test_a_right_end_of_the_title_keeps_room_for_what_it_may_become():
    """On one line while the two fit, whatever the formula shows now; else each has its part."""
    right = None, Cell("Check status: OK", "job_right", "'Checks'!$B$3")
    for room, merges in (("", ()), (2 * LONG, ("A2:B2", "C2:D2"))):
        found = sheet(*TITLE, widths=(20,) * 4, right=right, right_room=room)
        assert found.merges == merges


def test_margins_leave_the_page_box_on_the_other_paper_too():
    # Paper is changed alone: Letter is 8.5 x 11 in, A4 8.27 x 11.69 in.
    breadths = {False: (8.5, 8.27), True: (11.0, 11.69)}
    for paper, (way, both) in itertools.product((None, "letter", "a4"), breadths.items()):
        sides = look.margins_in(paper, across=way)
        assert min(both) - sides["left"] - sides["right"] >= look.BOX_IN[way]
        assert min(sides["left"], sides["right"]) >= 0.25


def test_the_print_area_holds_cells_and_charts_and_leaves_rows_to_be_added():
    rows, widths = (Row([Cell("Title", "title")]), Row([Cell(1.0, "number")])), (20.0, 10.0, 10.0)
    spec = SheetSpec("Plan", rows, widths)
    assert laid_out(spec).print_area == "$A$1:$C$2"
    chart = ChartSpec("line", "", "", "", "'Plan'!$A$2:$A$2", (), ("B4", "F9"))
    assert laid_out(replace(spec, charts=(chart,))).print_area == "$A$1:$E$8"
    assert laid_out(replace(spec, print_area="$A$1:$B$2")).print_area == "$A$1:$B$2"
    table = TableSpec("log", "A1:C2", {})
    assert laid_out(replace(spec, tables=(table,))).print_area is None


def test_the_title_stands_beside_a_column_that_every_page_repeats():
    """In it the title would be cut off; of 40 columns of 64 pixels 13 fit beside the first one."""
    title = [[Cell("Joints", "title")], [Cell("Job", "job")]]
    rows = [*title, [Cell(number, "int") for number in range(40)]]
    widths = ((64 - look.pixels_of(0)) / 7,) * 40
    spec = SheetSpec(
        "Joints",
        tuple(Row(tuple(row)) for row in rows),
        widths,
        freeze=(2, 1),
        landscape=True,
        exact_widths=True,
        right=(None, Cell("OK", "job_right")),
    )
    found = laid_out(spec)
    assert (found.repeated_columns, found.column_breaks) == (1, [13, 25, 37])
    titles = [n for n, cell in enumerate(found.rows[0].cells, 1) if cell and cell.value == "Joints"]
    assert titles == [2, 14, 26, 38]


def test_groups_of_columns_are_named_on_each_page_across():
    """Of 40 columns of 64 pixels pages begin with the 14th, 26th and 38th; groups at 1, 12, 30."""
    title = [[Cell("Joints", "title")], [Cell("Job", "job")]]
    names = {0: "Pipe", 11: "Count", 29: "Plan"}
    groups = [Cell(names.get(number), "group") for number in range(40)]
    heads = [Cell(f"C{number}", "header") for number in range(40)]
    spec = SheetSpec(
        "Joints",
        tuple(Row(tuple(row)) for row in [*title, groups, heads, heads]),
        ((64 - look.pixels_of(0)) / 7,) * 40,
        freeze=(4, 1),
        header_row=4,
        landscape=True,
        exact_widths=True,
    )
    row = laid_out(spec).rows[2].cells
    found = {n: cell.value for n, cell in enumerate(row, 1) if cell and cell.value}
    assert found == {2: "Pipe", 12: "Count", 14: "Count", 26: "Count", 30: "Plan", 38: "Plan"}


def test_ends_of_the_title_share_the_room_beside_a_column_that_every_page_repeats():
    """Of 893 pixels on a page across the first column takes 243: 650 are left for 363 and 343."""
    job = "Raw water transmission main, intake to treatment plant"
    about = "Values only, kept as they are; estimator baseline --rebase writes a new one"
    rows = [[Cell("Baseline", "title")], [Cell(job, "job")], [Cell("x")] * 40]
    spec = SheetSpec(
        "Baseline",
        tuple(Row(tuple(row)) for row in rows),
        (34.0, *(9.0,) * 39),
        freeze=(2, 1),
        landscape=True,
        exact_widths=True,
        right=(None, Cell(about, "job_right")),
    )
    found = laid_out(spec)
    assert found.repeated_columns == 1
    cells = found.rows[1].cells
    assert cells[1].value == job
    (at,) = (n for n, cell in enumerate(cells, 1) if cell and cell.value == about)
    merged = {merge for merge in found.merges if merge.endswith("2")}
    assert merged == {f"B2:{column_letters(at - 1)}2", f"{column_letters(at)}2:J2"}
    assert {cells[1].style, cells[at - 1].style} >= {"job_right, wrapped"}


def headed(name_pixels):
    """Return the needs of a column of names and of two with a header of words of 40 and 30 pixels.

    On one line it takes 40 + 30 - 2.5 + 5 = 72.5 pixels. With 14 more, 1.06 times as broad: 82.
    """
    needs = [Need(), Need(), Need()]
    needs[0].take_text("Operator", name_pixels)
    for need in needs[1:]:
        need.take_head([40.0, 30.0])
        need.take_fixed(45.0)
    return needs


def test_headers_keep_off_each_other_where_a_column_can_give():
    """Two headers fill their columns; the column of names beside them has room to spare."""
    found = with_heads_apart([150, 74, 74], headed(60.0), {}, 298)
    assert found == [150 - 2 * 8, 82, 82]


def test_headers_take_what_the_page_has_left_before_a_column_gives():
    assert with_heads_apart([150, 74, 74], headed(60.0), {}, 298 + 16) == [150, 82, 82]


def test_a_text_that_wraps_gives_what_its_lines_do_not_need():
    """200 pixels take two lines, with 6 % for their ends down to 106, for sure down to 106 / 0.92.

    The header at 82 then takes a line more, for the other lacks the other four.
    """
    rows = {((0, 200),): 1}
    assert with_heads_apart([120, 74, 82], headed(196.0), rows, 276) == [116, 82, 63]
    assert with_heads_apart([150, 74, 74], headed(196.0), rows, 298) == [134, 82, 82]


def test_a_header_takes_one_line_more_where_no_column_can_give():
    """At 63 pixels, drawn as 63 x 1.06 + 5, both words stand below each other; 11 are free then."""
    assert with_heads_apart([64, 74, 74], headed(60.0), {}, 212) == [64, 82, 63]


def test_a_text_that_lacks_one_pixel_takes_it_from_a_column_of_numbers():
    """101 pixels count as 108; numbers of 30 keep 38, and have what is left of 160."""
    needs = [Need(), Need()]
    needs[0].take_text("Run", 101.0)
    needs[1].take_fixed(30.0)
    rows = {((0, column_needs.in_steps(101.0)),): 1}
    assert column_needs.with_few_lines([100, 60], needs, rows, 160) == [108, 52]


def test_what_a_page_has_left_goes_first_where_it_saves_a_line():
    """Five texts of 200 need two lines on it, at 106; the one of 100 then has its 96 again."""
    needs = [Need(text=196.0, seen=True), Need(text=96.0, seen=True)]
    rows = {((0, 200),): 5, ((1, 100),): 1}
    assert column_needs.with_few_lines([177, 75], needs, rows, 252) == [156, 96]


TEXTS = st.lists(
    st.dictionaries(st.integers(0, 4), st.integers(1, 60).map(lambda n: n * 8), max_size=5),
    min_size=1, max_size=12,
)  # fmt: skip


@given(TEXTS, st.lists(st.integers(20, 160), min_size=5, max_size=5), st.integers(120, 500))
def test_widths_are_those_that_counting_all_lines_anew_would_give(rows, found, box):
    """The lines that a narrower column adds, against a count of the lines of every row."""
    counted = column_needs.counted_rows(iter([tuple(sorted(row.items())) for row in rows]))
    needs = [column_needs.Need(fixed=16, text=80, seen=True) for _ in found]
    shared = column_needs.with_few_lines(found, needs, counted, box)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(column_needs, "_steps", lambda *asked: steps_anew(counted, *asked))
        assert column_needs.with_few_lines(found, needs, counted, box) == shared


def steps_anew(rows, at, _, breadths, widths):
    """Give the steps of a column from the lines of all rows, counted with each width."""

    def lines(width):
        with_it = [*widths[:at], width, *widths[at + 1 :]]
        return sum(
            many
            * max((column_needs._lines_of(broad, with_it[one]) for one, broad in row), default=1)
            for row, many in rows.items()
        )

    for less in [one for one in breadths if one < widths[at]][: column_needs.NEXT]:
        more = lines(less) - lines(widths[at])
        yield more / (widths[at] - less), less - widths[at], at, less


TEXT_COLUMNS = st.sampled_from(["", "R1", LONG, "a long name of a run", LONG[:50], None])


@given(
    st.lists(TEXT_COLUMNS, min_size=2, max_size=40),
    st.sampled_from(["text", "text_wrap", "center"]),
    st.booleans(),
    st.booleans(),
)
def test_block_takes_its_place_as_its_rows_do_one_by_one(texts, style, is_before, closes_up):
    """Reference: the layout of single rows."""
    numbers = Column([n * 1234.5 if n % 3 else None for n, _ in enumerate(texts)], "money", "A1")
    blank, notes = Column([None] * len(texts)), Column(texts, style)
    columns = [notes, blank, numbers] if is_before else [numbers, notes, blank]
    above = [Row(list(cells)) for cells in TITLE]
    above.append(Row([Cell(head, "header") for head in ("One", "Another", "Length\nft")]))
    block = Block(columns, 4)
    single = [block.row(at) for at in range(block.count)]
    together, apart = (
        laid_out(SheetSpec("Sheet", rows, (8, 20, 9), header_row=3, closes_up=closes_up))
        for rows in (Rows([*above, block]), tuple([*above, *single]))
    )
    assert [*together.rows] == [*apart.rows]
    assert replace(together, rows=()) == replace(apart, rows=())


TEXTS = st.lists(st.tuples(st.sets(st.integers(0, 3)), st.integers(1, 90)), min_size=1, max_size=9)
CHANGES = st.lists(st.tuples(st.integers(0, 3), st.integers(9, 300)), max_size=12)


@given(TEXTS, CHANGES)
def test_a_column_that_changes_leaves_the_lines_as_counted_anew(texts, changes):
    """Rows take the lines of their broadest text; the count goes on from change to change."""
    rows = {
        tuple((at, 4 * (broad + 7 * at)) for at in sorted(columns)): number
        for number, (columns, broad) in enumerate(texts, 1)
    }
    shared, widths = column_needs._Shared(rows, [60] * 4), [60] * 4
    for at, width in changes:
        shared.change(at, width)
        widths[at] = width
    anew = column_needs._Shared(rows, widths)
    assert shared.widths == widths
    assert {at: found for at, found in shared.beside.items() if found} == anew.beside


def test_a_word_that_a_formula_may_show_has_its_room():
    """The cell is blank now; "unbalanced" takes 10 letters of some 7 pixels with its edges."""

    def width(formula):
        row = [Cell("Remark text that is long", "text"), Cell("", "text", formula)]
        return look.pixels_of(sheet(*TITLE, row, widths=(60, 20)).widths[1])

    needed = text_pixels("unbalanced", 9.0)
    assert width('IF(A3>5,"unbalanced","")') > needed
    assert width('IF(A3>5,"Prices have changed: run Estimate again","")') == width("A3")


def test_an_unbroken_text_keeps_its_line_where_others_beside_it_wrap():
    words = [Cell("words that go on " * 9, "text_wrap"), Cell("more words still " * 9, "text_wrap")]

    def width(style):
        rows = [[Cell("1000 mm SDR 13.6, PE100", style), *words], *[[None, *words]] * 9]
        return look.pixels_of(sheet(*TITLE, *rows, widths=(16, 150, 150)).widths[0])

    needed = text_pixels("1000 mm SDR 13.6, PE100", look.TEXT)
    assert width("figure") < needed < width("unbroken")


def filling(share):
    """Return a column so wide that a text fills this share of it, beside one of numbers."""
    text = "Butt fusion machine, delivery and return"
    own = (text_pixels(text, look.TEXT) + 5) / share
    spec = SheetSpec(
        "Page",
        [Row(row) for row in (*TITLE, [Cell(text), Cell(1, "int")], [Cell(text, "text_wrap")])],
        widths=((own - 5) / 7, 9),
        exact_widths=True,
    )
    return laid_out(spec)


def test_a_text_that_just_fills_its_column_takes_one_line_and_shrinks_where_it_must():
    """Of 4 % that a screen may take more; LibreOffice draws the column 6 % broader than letters."""
    for share, key, wrapped in (
        (0.95, "text", "text_wrap"),
        (0.99, "text, snug", "text_wrap, snug"),
        (1.04, "text, snug", "text_wrap, snug"),
    ):
        rows = filling(share).rows[2:]
        assert [row.cells[0].style for row in rows] == [key, wrapped], share
        assert {row.height for row in rows} == {look.ROW}, share
    rows = filling(1.07).rows[2:]
    assert [row.cells[0].style for row in rows] == ["text, wrapped", "text_wrap"]
    assert min(row.height for row in rows) > 2 * look.LINE


@pytest.mark.parametrize("style", ["text", "text_after"])
def test_a_text_broken_by_hand_has_room_for_its_lines_where_one_line_would_hold_it(style):
    """Reference: a program draws each part of it on a line of its own, whatever room there is."""
    text, title = "A-1, A-2,\nA-3", [Row(list(cells)) for cells in TITLE]
    single = [Row([Cell(text, style)]), Row([Cell("A-1", style)])]
    for below in (single, [Block([Column([text, "A-1"], style)], 3)]):
        rows = laid_out(SheetSpec("Sheet", Rows([*title, *below]), (40.0,))).rows
        _, _, broken, one = rows
        assert broken.cells[0].style == f"{style}, wrapped"
        assert broken.height > 1.5 * one.height


def test_columns_that_fill_a_page_to_a_fraction_of_a_pixel_repeat_none():
    """Broader by a pixel there would be a second page across, with the first columns again."""
    box = look.box_pixels(across=True)
    for more, repeated in ((1e-6, 0), (0.5, 0), (40.0, 1)):
        width = ((box + more) / 4 - look.pixels_of(0)) / (look.pixels_of(1) - look.pixels_of(0))
        rows = (Row((Cell("Page", "title"),)), Row((Cell("Job", "job"),)), Row((Cell(1, "int"),)))
        spec = SheetSpec("Sheet", rows, (width,) * 4, landscape=True, freeze=(2, 1),
                         exact_widths=True)  # fmt: skip
        assert laid_out(spec).repeated_columns == repeated


def test_a_number_in_a_wrapped_text_is_not_broken():
    """Texts share a page that is full, so that all of them wrap; the word has 19 letters."""
    word = "ROUNDUP(ROUNDUP(360"
    row = [Cell(word + " / 18) / 10)", "text_wrap"), *[Cell(LONG * 2, "text_wrap")] * 5]
    spec = sheet(*TITLE, row, landscape=True, widths=(12.0, *[30.0] * 5))
    assert look.pixels_of(spec.widths[0]) >= text_pixels(word, look.TEXT)
