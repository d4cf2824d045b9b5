"""The foot of a printed page: it names the sheet, and fits both papers however long the job's name.

Both papers have the same box, 7.1 in upright and 9.8 in across; 96 pixels are an inch.
"""

import pytest

from estimator.workbook.results.sheets import SHEETS
from estimator.workbook.sheet.foot import Foot, footer_of
from estimator.workbook.sheet.text_width import text_pixels
from tests.each import each
from tests.estimated import opened

AFTER = " \N{MIDDLE DOT} estimate of Jan 18, 2027, revision 12"
BROAD, NARROW, DOUBLED = "WATER MAIN " * 30, "ill till " * 60, "A & B & " * 60
BOX = {False: 7.1 * 96, True: 9.8 * 96}
SHEET = "Joint parameters"


@each("name", [sheet.name for sheet in SHEETS])
def test_a_loose_page_says_which_sheet_it_is_of(name):
    """Pages for the client carry a title each, and no name of ours for the sheet."""
    (is_for_client,) = [sheet.for_client for sheet in SHEETS if sheet.name == name]
    left = opened("raw_water_main")[name].oddFooter.left.text
    assert left.startswith("&A ") is not is_for_client


@each("job, across", [(job, across) for job in (BROAD, NARROW, DOUBLED) for across in BOX])
def test_the_foot_has_room_on_the_page(job, across):
    footer = footer_of(Foot(job, after=AFTER, names_sheet=True), SHEET, across=across)
    left = footer["Left"].removeprefix('&"Arial"&8').replace("&A", SHEET).replace("&&", "&")
    right = "Page 215 of 215"
    assert left.endswith(f"...{AFTER}")
    assert sum(text_pixels(text, 8) for text in (left, right)) < BOX[across]
    assert len("".join(f"&{side[0]}{text}" for side, text in footer.items())) <= 255


def test_a_broader_page_says_more_of_a_long_name():
    upright, lying = (footer_of(Foot(BROAD), SHEET, across=across)["Left"] for across in BOX)
    assert len(upright) < len(lying)


@pytest.mark.parametrize("job", ["Main 7", "7th main"])
def test_a_name_with_room_stays_whole(job):
    """A number right after the size of the type would be one size with it."""
    apart = " " if job[0].isdigit() else ""
    assert footer_of(Foot(job), SHEET, across=False)["Left"] == f'&"Arial"&8{apart}{job}'
