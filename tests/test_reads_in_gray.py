"""What a page says is read on paper: in gray, in a type that every program has, without a ruler.

The contrast of two colors is that of the web accessibility guidelines (WCAG 2.1): their relative
luminances, each with 0.05 added, divided. They ask for 3 of a sign, for 4.5 of small type, for 7
where it must be clear.
"""

import pytest

from estimator.workbook.results.builder import whole
from estimator.workbook.results.log_page_sheet import COLUMNS, HEAD_BOXES, SIGNED
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet import look
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import text_pixels
from tests.estimated import small
from tests.one_page import book_of
from workbook_template.styles import NAMED

SIGN, LEAST, CLEAR = 3.0, 4.5, 7.0
BLACK = "000000"


def channels(color):
    return [int(color[at : at + 2], 16) for at in (0, 2, 4)]


def luminance(color):
    shares = [part / 255 for part in channels(color)]
    linear = [s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def in_gray(color):
    red, green, blue = channels(color)
    return f"{round(0.299 * red + 0.587 * green + 0.114 * blue):02X}" * 3


def test_contrast_of_known_pairs():
    """White on black is 21, and 767676 is the lightest gray of 4.5 on white (the guidelines')."""
    assert contrast("FFFFFF", BLACK) == pytest.approx(21.0)
    assert contrast("767676", "FFFFFF") == pytest.approx(4.54, abs=0.005)


def test_every_text_stands_out_from_its_fill_in_color_and_in_gray():
    faint = {}
    for key, style in STYLES.items():
        text, fill = style.font_color or BLACK, style.fill or look.WHITE
        least = min(contrast(text, fill), contrast(in_gray(text), in_gray(fill)))
        if least < LEAST:
            faint[key] = round(least, 2)
    assert faint == {}


def test_small_figures_are_clear_on_every_bar_of_the_gantt_pages():
    """And a bar with joints is not taken for one without, in gray as in color."""
    bars = {key: STYLES[key] for key in ("gantt_critical", "gantt_worked", "bar_planned")}
    for key, style in bars.items():
        text, fill = style.font_color or BLACK, style.fill
        assert contrast(in_gray(text), in_gray(fill)) >= CLEAR, key
    spans = "gantt_critical", "gantt_critical_span"
    darker, paler = (luminance(in_gray(STYLES[key].fill)) for key in spans)
    assert darker < 0.6 * paler


def test_a_warning_is_as_dark_as_a_title_and_bold_in_every_workbook():
    """In gray it is then no lighter than the plain text around it."""
    ours = {
        key: (style.font_color, style.fill, style.bold)
        for key, style in STYLES.items()
        if key.startswith("warn")
    }
    of_template = {
        key: (
            str(NAMED[key]["font_color"])[1:],
            str(NAMED[key].get("bg_color", ""))[1:],
            NAMED[key]["bold"],
        )
        for key in ("doubtful", "bad")
    }
    assert len(ours) > len(of_template)
    for key, (color, fill, bold) in {**ours, **of_template}.items():
        assert bold, key
        assert in_gray(color) <= in_gray(look.INK), key
        assert contrast(in_gray(color), in_gray(fill or look.WHITE)) >= CLEAR, key


def test_a_required_cell_that_is_blank_stands_out_from_the_others_in_gray():
    fill = NAMED["missing"]["bg_color"].removeprefix("#")
    assert contrast(in_gray(fill), in_gray(look.INPUT)) >= SIGN
    word = NAMED["missing_sample"].get("font_color", BLACK).removeprefix("#")
    assert contrast(in_gray(fill), in_gray(word)) >= LEAST


def test_words_keep_off_the_calculation_beside_them():
    """Both columns wrap: side by side without a gap their lines read as one."""
    calculation, words = (
        STYLES[column.style]
        for column in result_columns("explain")
        if column.key in ("sum", "meaning")
    )
    assert calculation.wrap
    assert words.wrap
    assert words.indent > 0


def test_unit_calculation_and_step_keep_off_what_stands_before_them():
    """Run, part, step and unit stand close; "kg/m" and "pi x" would read as one."""
    styles = {column.key: STYLES[column.style] for column in result_columns("explain")}
    assert min(styles[key].indent for key in ("step", "unit", "sum", "meaning")) > 0


def test_a_change_under_half_a_unit_shows_as_none():
    """The dash of zero, not +0: what has a sign on these pages is a whole amount."""
    pages = ("Basis of estimate", "Risk")
    book = book_of(small("tailings_line"), pages, data_only=True)
    signed = [
        cell.value
        for name in pages
        for row in book[name].iter_rows()
        for cell in row
        if cell.number_format == look.SIGNED and cell.value is not None
    ]
    assert len(signed) > 10
    assert [value for value in signed if value != round(value)] == []
    assert (whole(-0.3), whole(0.49), whole(-3348.4)) == (0.0, 0.0, -3348.0)


def test_the_words_of_the_log_page_end_before_their_boxes():
    """The word of a box has the columns up to it, less a pixel or two of the frame."""
    for box in (*HEAD_BOXES, *SIGNED):
        room = sum(column.pixels for column in COLUMNS[box.at : box.first])
        assert text_pixels(box.word, look.SMALL) + 2 <= room, box.word
