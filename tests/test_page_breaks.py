"""Where a page begins: tables stay whole where they can, titles and sums never stand alone.

A page of Letter, the shorter one upright, holds 11 - 2 x 0.6 in = 705.6 points, 8 of them kept
free: 46 rows of 15. Across A4 is the shorter one. A table of n lines takes n + 3 rows, the last a
blank one; two rows of title come before.
"""

from dataclasses import replace

from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import MOST_CLOSED_UP, laid_out
from estimator.workbook.sheet.page_breaks import HARDLY_HIGH, MOST_BREAKS, printed_pages
from estimator.workbook.sheet.spec import Cell, Row, SheetSpec

TITLE = [[Cell("Page", "title")], [Cell("Job", "job")]]


def table(name, lines):
    head = [[Cell(name, "section")], [Cell("Run", "header"), Cell("Joints", "header")]]
    return [*head, *([Cell(f"R{n}"), Cell(n, "int")] for n in range(lines)), []]


def spec(*tables, **options):
    rows = [*TITLE, *(line for one in tables for line in one)]
    return SheetSpec("Sheet", tuple(Row(tuple(line)) for line in rows), (20, 9),
                     landscape=False, paper="letter", **options)  # fmt: skip


def breaks(*tables, **options):
    return laid_out(spec(*tables, **options)).breaks


def test_a_table_without_room_on_the_page_begins_on_the_next():
    """35 rows are taken and 11 left: for section, head and 9 lines, not for 10."""
    assert breaks(table("First", 30), table("Second", 9)) == ()
    assert breaks(table("First", 30), table("Second", 10)) == (35,)


def test_a_table_longer_than_a_page_goes_on_after_its_head():
    """It begins on the first page after 15 rows; the second has its header and 45 rows more."""
    assert breaks(table("First", 10), table("Second", 90)) == (46, 46 + 45)


def test_rows_close_up_before_a_table_goes_on_without_its_header():
    """Pages repeat the header of the longer table; closed up, the shorter one has room on its page.

    Both ways take three pages. Roomy, 46 rows end amid the 48 of title, section, head and 44 lines,
    the last four of which go on.
    """
    longer = table("Second", 82)
    longer[1] = [Cell("Week", "header"), Cell("Days", "header")]
    tables = spec(table("First", 44), longer)
    assert laid_out(tables).breaks == (44, 90)
    assert laid_out(replace(tables, closes_up=True)).breaks[0] == 49


def test_a_page_does_not_begin_with_a_blank_row():
    """46 rows are title, section, head and 42 lines; the blank row after them has no room."""
    lines = [[Cell(f"R{n}"), Cell(n, "int")] for n in range(9)]
    found = laid_out(spec([*table("First", 42), [Cell("Second", "group")], *lines]))
    assert found.breaks == (46,)
    assert not found.rows[46].cells
    assert [found.rows[at].height for at in (45, 46, 47)] == [look.ROW, HARDLY_HIGH, look.ROW]


def test_a_page_does_not_end_with_a_blank_row_that_has_no_room():
    """A blank row of 15 points after 690 would need 7.4 more than there are."""
    found = laid_out(spec(table("First", 42), table("Second", 9)))
    assert found.breaks == (47,)
    assert found.rows[46].height == HARDLY_HIGH


def test_a_title_does_not_stand_at_the_foot_of_a_page():
    """45 of 46 rows are taken: the section would stand alone there, the last of 137 rows too."""
    assert breaks(table("First", 40), table("Second", 90)) == (45, 45 + 46, 137 - 4)


def test_the_sums_of_a_long_table_are_not_alone_on_the_last_page():
    """Title, section, head and 42 lines fill a page; the 43rd and 44th take two others along."""
    (found,) = breaks(table("First", 44))
    assert found == 4 + 44 - 4


def test_a_header_has_a_row_below_it():
    """Two lines of 220 points fit on 697.6 below 60; the third is as high as 14, so it may end."""
    short = spec(table("First", 3))
    rows = [*short.rows[:4], *(Row(row.cells, 220.0) for row in short.rows[4:7])]
    assert laid_out(replace(short, rows=tuple(rows))).breaks == (6,)


def test_a_header_below_a_line_on_its_table_does_not_stand_alone():
    """40 rows are taken: section, line on it, head and 3 lines would fill the page, 4 do not."""
    second = table("Second", 90)
    second.insert(1, [Cell("By pipe.", "subtitle")])
    assert breaks(table("First", 35), second)[0] == 40
    assert breaks(table("First", 34), second)[0] == 46


def test_a_table_that_begins_near_the_foot_has_some_lines_there():
    """39 of 46 rows are taken: section, head and 5 lines have room. Of 42, only 2 lines have."""
    assert breaks(table("First", 34), table("Second", 90))[0] == 46
    assert breaks(table("First", 37), table("Second", 90))[0] == 42


def test_a_group_at_the_end_of_a_table_keeps_its_title():
    """The last four of 43 lines would go on without the title over them."""
    lines = table("First", 43)
    lines[2 + 38] = [Cell("24 in IPS DR 17", "group")]
    assert breaks(lines) == (4 + 38,)


def test_a_filtered_table_has_some_lines_on_its_last_page():
    """46 rows are title, section, head and 42 lines; the program would set two on the next."""
    assert breaks(table("First", 44)[:-1], autofilter="A4:B48") == (4 + 44 - 4,)
    assert breaks(table("First", 46)[:-1], autofilter="A4:B50") == ()


def test_the_parts_of_a_long_table_stay_whole_where_the_pages_allow_it():
    """60 lines take two pages anyway: the part of lines 36 to 55 goes to the second as a whole.

    A part that is longer than a page leaves four of its lines to the next.
    """
    parts = (5 + 20, 5 + 35, 5 + 55)
    found = breaks(table("First", 60)[:-1], parts=parts, autofilter="A4:B64", header_row=4)
    assert found == (4 + 35,)
    assert breaks(table("First", 60)[:-1], parts=(5 + 44,), header_row=4) == (4 + 40,)


def test_what_was_made_of_a_run_stays_with_the_run():
    """Title and head take 4 of 46 rows, so the 43rd of the lines in pairs begins the next page."""
    lines = table("First", 60)
    for at in range(2, len(lines) - 1, 2):
        lines[at] = [Cell(f"R{at}", "gantt_run"), Cell(at, "int")]
        lines[at + 1] = [None, Cell(at, "int")]
    assert laid_out(spec(lines)).breaks == (46,)
    assert laid_out(spec([[Cell("One more")], *lines])).breaks == (45,)


def test_the_rows_of_a_group_stay_together():
    """42 of 46 rows go to lines, ten groups of four of them: the eleventh begins the next page."""
    group = [[Cell("24 in IPS DR 17", "group")],
             *([Cell(word, "text_kept")] for word in ("a", "b")), [Cell("Others")]]  # fmt: skip
    lines = table("First", 0)[:-1] + group * 12
    assert laid_out(spec(lines)).breaks == (4 + 4 * 10,)


def test_a_group_stays_with_its_first_row():
    lines = table("First", 60)
    for at in range(2, len(lines) - 1, 2):
        lines[at] = [Cell("24 in IPS DR 17", "group")]
    found = laid_out(spec(lines))
    for row in found.breaks:
        assert found.rows[row - 1].cells[0].style != "group"
    assert laid_out(spec(lines)).breaks == found.breaks


def test_a_group_does_not_stand_at_the_foot_of_a_page_with_one_of_its_rows():
    """46 rows are title, section, head, 40 lines and a blank one, then a group and a row of it."""
    lines = [[Cell(f"R{n}"), Cell(n, "int")] for n in range(9)]
    of_one = [Cell("Third", "group")], lines[0]
    group = [Cell("Second", "group")], *lines
    assert laid_out(spec([*table("First", 38), *group])).breaks == (46,)
    assert laid_out(spec([*table("First", 39), *group])).breaks == (44,)
    assert laid_out(spec([*table("First", 39), *of_one, *group])).breaks == (46,)


def test_the_last_row_of_a_group_does_not_begin_a_page_alone():
    """46 rows are title, section, head and 42 lines; the 42nd is kept for the last of its group."""
    lines = [[Cell(f"R{n}"), Cell(n, "int")] for n in range(9)]
    group = [Cell("Second", "group")], *lines
    assert laid_out(spec([*table("First", 42)[:-1], *group])).breaks == (46,)
    assert laid_out(spec([*table("First", 43)[:-1], *group])).breaks == (45,)
    assert laid_out(spec([*table("First", 44)[:-1], *group])).breaks == (46,)


def test_the_last_row_of_a_group_does_not_begin_a_page_alone_with_its_sum():
    """46 rows are title, section, head and 42 lines; the sum takes two lines along, not one."""
    group = [[Cell("Second", "group")], *[[Cell(f"R{n}"), Cell(n, "int")] for n in range(9)]]
    sums = [Cell("First", "total_text")], []
    assert breaks([*table("First", 41)[:-1], *sums, *group])[0] == 46
    assert breaks([*table("First", 42)[:-1], *sums, *group])[0] == 44
    assert breaks([*table("First", 43)[:-1], *sums, *group])[0] == 45
    assert breaks([*table("First", 44)[:-1], *sums, *group])[0] == 46


def test_the_header_of_the_table_that_goes_on_is_repeated():
    """The second table goes on; the first, whose header was asked for, ends on its page."""
    found = laid_out(spec(table("First", 10), table("Second", 90), header_row=4))
    assert found.repeated_rows == (17, 17)
    assert found.rows[16].cells[0].value == "Run"
    asked = laid_out(spec(table("First", 90), table("Second", 90), header_row=4))
    assert asked.repeated_rows == (4, 4)


def test_a_header_that_says_the_same_serves_the_tables_before_it():
    """Both tables go on over a page; the second one's header was asked for, the first has it."""
    first, second = table("First", 90), table("Second", 90)
    found = laid_out(spec(first, second, header_row=3 + len(first) + 1))
    assert found.rows[found.header_row - 1].cells[0].value == "Run"
    assert found.repeated_rows == (4, 4)


def test_no_table_that_goes_on_has_the_header_of_another():
    """The second table's header prints from its own page on, but where it says the same."""
    other = table("Second", 90)
    other[1] = [Cell("Section", "header"), Cell("Hours", "header")]
    found = laid_out(spec(table("First", 90), other, header_row=4))
    assert found.rows[found.header_row - 1].cells[1].value == "Hours"
    other[1] = [Cell("Section", "header"), Cell("Joints", "header")]
    found = laid_out(spec(table("First", 90), other, header_row=4))
    assert found.header_row == 4


def test_no_header_is_repeated_where_no_table_goes_on():
    assert laid_out(spec(table("First", 10), table("Second", 31), header_row=4)).header_row is None


def test_a_table_that_goes_on_once_no_header_is_repeated_has_its_own():
    """With the first header repeated, 14 of 46 rows are taken and the last table begins a page.

    Without it there are 13, under three tenths of a page, so the table begins there and goes on.
    """
    found = laid_out(
        spec(table("First", 35), table("Second", 10), table("Third", 42), header_row=4)
    )
    assert found.breaks == (40, 86)
    assert found.rows[53].cells[0].value == "Third"
    assert found.header_row == 55


def test_a_repeated_header_takes_its_room_on_every_page():
    """The second table goes on over row 46; with the header it takes 28 rows there, 18 are left.

    A table without room there begins the next page below the last four lines of the second, so
    that its header does not stand over another table alone: lines 69 to 72, row 73 is blank.
    """
    first, second = table("First", 10), table("Second", 55)
    assert breaks(first, second, table("Third", 16)) == (46,)
    assert breaks(first, second, table("Third", 17)) == (46, 68)


def test_a_very_long_table_is_broken_by_the_program():
    """Each break is an order to an open Excel, so there are few where there are many pages."""
    assert len(breaks(table("First", 10_000))) == MOST_BREAKS


def test_a_page_that_its_own_paper_holds_is_not_broken():
    """A4 holds 11.69 - 2 x 0.6 in = 755.3 points upright, 8 kept free: 49 rows."""
    whole = spec(table("First", 44))
    assert len(laid_out(whole).breaks) == 1
    assert laid_out(replace(whole, paper="a4")).breaks == ()


def test_given_breaks_stay_and_filtered_tables_are_left_alone():
    assert breaks(table("First", 5), table("Second", 5), breaks=(10,)) == (10,)
    long = spec(table("First", 40), table("Second", 90))
    assert laid_out(replace(long, autofilter="A4:B44")).breaks == ()


def test_a_table_that_has_its_own_header_again_fills_a_page_used_by_half():
    """25 rows are taken; a repeated header leaves the other 21 blank, an own one fills them."""
    tables = table("First", 20), table("Second", 30)
    assert breaks(*tables) == (25,)
    assert breaks(*tables, own_headers=True) == (46,)


def test_a_table_with_a_break_of_its_own_fills_the_page_above_it():
    """It would fit on a page, but goes on over one in any case: 27 rows are free below the first.

    Rows 1 and 2 are the title, 3 to 17 the first table, 18 to 40 the second.
    """
    tables = table("First", 12), table("Second", 30)
    assert breaks(*tables) == (17,)
    assert breaks(*tables, breaks=(40,)) == (40,)


def test_sums_stay_with_the_last_rows_of_their_table():
    """Title, section, head and 42 lines fill a page: the sums take four lines along, not one."""
    lines = table("First", 42)[:-1]
    sums = [[Cell("Cost", "total_text")], [], [Cell("Job", "grand_total_text")]]
    assert breaks([*lines, *sums, []]) == (4 + 42 - 4,)


def test_a_long_table_closes_up_where_that_takes_fewer_pages():
    """52 rows of 13.5 points do not fit on 697.6, of 12 they do; 70 take two pages either way."""
    roomy, closed = (spec(table("First", 48), closes_up=closes) for closes in (False, True))
    assert len(laid_out(roomy).breaks) == 1
    found = laid_out(closed)
    assert (found.breaks, {row.height for row in found.rows[4:]}) == ((), {12.0})
    assert {cell.style for row in found.rows[4:52] for cell in row.cells} == {
        "text, close",
        "int, close",
    }
    assert {row.height for row in laid_out(spec(table("First", 70), closes_up=True)).rows[4:]} == {
        look.ROW
    }


def test_a_table_of_many_pages_closes_up_without_a_trial():
    """Its names take fewer lines beside the same numbers; a sheet that may not stays roomy."""
    for closes, style, height in ((True, "text, close", 13.5), (False, "text", look.ROW)):
        found = laid_out(spec(table("First", MOST_CLOSED_UP), closes_up=closes))
        assert {row.cells[0].style for row in found.rows[4:-1]} == {style}
        assert {row.height for row in found.rows[4:-1]} == {height}


def test_a_sheet_knows_how_many_pages_it_prints():
    """95 rows are three pages; a second column beside the first page doubles them."""
    one = laid_out(spec(table("First", 90)))
    assert (len(one.breaks), printed_pages(one)) == (2, 3)
    broad = replace(one, widths=(90.0, 9.0), print_area=None)
    assert printed_pages(broad) == 6


def test_pages_that_the_program_breaks_are_filled():
    """Across Letter 8.5 - 2 x 0.6 in = 525.6 points hold 13 rows of 40: 520, two pages of 26."""
    rows = tuple(Row((Cell(f"R{n}"),), 40.0) for n in range(26))
    filtered = SheetSpec("Sheet", rows, (20,), landscape=True, paper="letter", autofilter="A1:A26")
    assert printed_pages(filtered) == 2
    assert printed_pages(replace(filtered, rows=(*rows, rows[0]))) == 3
