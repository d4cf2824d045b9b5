"""Rules of colors: an open Excel reads them in the language of its user."""

import re
from pathlib import Path

import pytest
import xlsxwriter

from estimator.workbook.results.light import LABEL, with_warning_color
from estimator.workbook.results.sheets import RESULT_SHEETS
from estimator.workbook.sheet.spec import Cell, ConditionalRule, Row, SheetSpec
from estimator.workbook.sheet.styles import STYLES
from tests.estimated import opened
from tests.office import LOCALES, recalculate

FOLDER = Path(__file__).parent.parent / "examples"
TEXT = re.compile(r'"[^"]*"')
GOOD = ("OK. Estimate of 18 Jan 2027", "OK; rental or fuel price changed")
BAD = ("Inputs changed: run Estimate again. x", "CHECK: totals disagree. x", "Read the warnings. x",
       "Inputs need attention", "")  # fmt: skip


def test_no_rule_has_a_function_a_separator_or_a_decimal():
    book = opened("plant_piping")
    operands = [
        rule.formula[0]
        for name in RESULT_SHEETS
        for area in book[name].conditional_formatting
        for rule in area.rules
        if rule.type == "expression"
    ]
    assert len(operands) > len(RESULT_SHEETS)
    for operand in operands:
        assert not re.search(r"[A-Z]+\(|[,;]|[0-9]\.[0-9]", TEXT.sub("", operand)), operand


def test_a_warning_in_a_title_is_bold_without_a_tint():
    """It runs over the cells beside its own, which a tint would leave white."""
    rows = Row([Cell("Plan", "title")]), Row([Cell(LABEL, "job_right")])
    spec = SheetSpec("Plan", rows, (9.0,))
    (rule,) = with_warning_color(spec).conditional
    plain, warning = STYLES["job_right"], STYLES[rule.style]
    assert (warning.bold, warning.fill) == (True, plain.fill)
    assert warning.font_color not in (plain.font_color, None)


@pytest.mark.parametrize("operand", ["AND(A1>0,B1>0)", "A1>1.5", "A1;B1", "A1=TRUE", "LEN(A1)"])
def test_rule_of_one_language_is_refused(operand):
    with pytest.raises(ValueError, match="no function, separator or decimal"):
        ConditionalRule("A1:A2", "formula", operand, "warn")


def test_texts_in_a_rule_may_hold_anything():
    assert ConditionalRule("A1", "formula", 'A1="IF(1.5, 2; 3)"', "warn")
    assert ConditionalRule("A1", "text equals", "IF(1.5, 2)", "warn")


@pytest.mark.parametrize("locale", LOCALES)
def test_heading_takes_the_warning_color_by_its_text_in_every_locale(tmp_path, locale):
    """Reference: LibreOffice compares the texts by the rules of each language."""
    title = (Row(()), Row((Cell(LABEL, "job_right"),)))
    (rule,) = with_warning_color(SheetSpec("Plan", title)).conditional
    path = tmp_path / "rule.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Rule")
        for row, text in enumerate((*GOOD, *BAD)):
            sheet.write_string(row, 0, LABEL + text)
            sheet.write_formula(row, 1, "=" + rule.operand.replace("$A$2", f"$A${row + 1}"))
    found = recalculate(path, locale=locale)["Rule"]
    shown = [found[f"B{row + 1}"] for row in range(len(GOOD) + len(BAD))]
    assert shown == [0] * len(GOOD) + [1] * len(BAD)
