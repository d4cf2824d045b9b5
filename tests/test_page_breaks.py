"""Where a page begins: tables stay whole where they can, titles and sums never stand alone.

A Letter page holds 11 - 2 x 0.6 in = 705.6 points upright: 47 rows of 15. The title's two lines are
one of 23.25 and one of 15.75.
"""

from dataclasses import replace

from estimator.workbook.sheet.layout import laid_out
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
    """30 rows and head take 2 + 32 rows; another of 10 fits below, another of 20 does not."""
    assert breaks(table("First", 30), table("Second", 10)) == ()
    assert breaks(table("First", 30), table("Second", 20)) == (35,)


def test_a_table_longer_than_a_page_goes_on_after_its_head():
    """It begins on the same page, 13 rows after the other; no break of ours stands in it."""
    assert breaks(table("First", 10), table("Second", 90)) == ()


def test_a_title_does_not_stand_at_the_foot_of_a_page():
    """45 of 47 rows are taken: section and head would stand there alone."""
    assert breaks(table("First", 40), table("Second", 90)) == (45,)


def test_the_sums_of_a_long_table_are_not_alone_on_the_last_page():
    """Two titles (2.6 rows), head and 43 lines fill a page; a 44th takes two others along."""
    (found,) = breaks(table("First", 44))
    assert found == 4 + 44 - 3


def test_a_group_stays_with_its_first_row():
    lines = table("First", 60)
    for at in range(2, len(lines) - 1, 2):
        lines[at] = [Cell("IPS 24 DR 17", "group")]
    found = laid_out(spec(lines))
    for row in found.breaks:
        assert found.rows[row - 1].cells[0].style != "group"
    assert laid_out(spec(lines)).breaks == found.breaks


def test_the_header_of_the_table_that_goes_on_is_repeated():
    """The second table goes on; the first, whose header was asked for, ends on its page."""
    found = laid_out(spec(table("First", 10), table("Second", 90), header_row=4))
    assert found.repeated_rows == (17, 17)
    assert found.rows[16].cells[0].value == "Run"
    asked = laid_out(spec(table("First", 90), table("Second", 90), header_row=4))
    assert asked.repeated_rows == (4, 4)


def test_no_header_is_repeated_where_no_table_goes_on():
    assert laid_out(spec(table("First", 10), table("Second", 31), header_row=4)).header_row is None


def test_a_repeated_header_takes_its_room_on_every_page():
    """The second table ends after 26 rows of the second page; with the head, 20 are left."""
    first, second = table("First", 10), table("Second", 55)
    assert breaks(first, second, table("Third", 18)) == ()
    assert breaks(first, second, table("Third", 19)) == (73,)


def test_given_breaks_stay_and_filtered_tables_are_left_alone():
    assert breaks(table("First", 5), table("Second", 5), breaks=(10,)) == (10,)
    long = spec(table("First", 40), table("Second", 90))
    assert laid_out(replace(long, autofilter="A4:B44")).breaks == ()
