"""How amounts and their names read on the pages about cost and risk."""

from decimal import Decimal

import pytest

from estimator import estimate
from estimator.cost.rental_lines import PAID_BY
from estimator.workbook.results.basis_sheet import LEFT
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet.layout import FREE
from estimator.workbook.sheet.look import CLEAR, INK, NONE
from estimator.workbook.sheet.styles import STYLES
from estimator.workbook.sheet.text_width import cell_text
from tests.estimated import small
from tests.jobs import job, money, rates, run
from tests.laid_out import sheets_of
from tests.one_page import book_of


def shown(cell):
    return cell_text(cell.value, STYLES[cell.style])


@pytest.mark.parametrize(("length", "bid_step"), [(37.0, None), (120.0, 100.0), (333.3, 0.5)])
def test_the_price_steps_of_the_basis_add_up_as_they_are_shown(length, bid_step):
    plain = job(run("R1", segments_m=(length,)), risk_trials=0)
    made = plain.model_copy(update={"rates": rates(bid_step=bid_step)})
    sheet = sheets_of(made)["Basis of estimate"]
    rows = [row.cells for row in sheet.rows if row.cells and row.cells[0]]
    names = [row[0].value for row in rows]
    steps = rows[names.index("Job cost") : names.index("Bid price")]
    amounts = [Decimal(shown(row[2]).replace(",", "")) for row in steps]
    total = Decimal(shown(rows[names.index("Bid price")][2]).replace(",", ""))
    assert len(amounts) > 3
    assert sum(amounts) == total


def test_an_amount_of_zero_is_a_dash_on_the_price_build_up_and_in_the_basis():
    """The look: a dash is zero. No damages, no bond and no tax are asked for."""
    plain = job(run("R1", segments_m=(120.0,)), risk_trials=0)
    sheets = sheets_of(plain.model_copy(update={"rates": rates(bond=0.0)}))
    for name, label in (
        ("Price build-up", "Liquidated damages included"), ("Price build-up", "Tax"),
        ("Basis of estimate", "Bond"),
    ):  # fmt: skip
        rows = [row.cells for row in sheets[name].rows if row.cells and row.cells[0]]
        (cells,) = (row for row in rows if row[0].value == label)
        (amount,) = (cell for cell in cells if cell and "money" in cell.style)
        assert (amount.value, STYLES[amount.style].number_format.split(";")[2:]) == (0, [NONE])


def test_groups_and_signers_of_the_bid_are_in_the_color_of_titles():
    sheets = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))
    for name, text in (("Bid schedule", "Connections and tests"), ("Bid", "For the bidder")):
        cells = [cell for row in sheets[name].rows for cell in row.cells if cell]
        (style,) = (cell.style for cell in cells if cell.value == text)
        assert STYLES[style].font_color == INK, text
        assert style in FREE, text


def test_an_indented_text_says_at_which_side():
    """Where it does not, LibreOffice leaves the indent out."""
    assert {name for name, style in STYLES.items() if style.indent and not style.align} == set()


def test_rules_go_on_between_the_halves_of_a_table_but_not_between_two_tables():
    sheet = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Basis of estimate"]
    gap = {row.cells[0].value: row.cells[LEFT] for row in sheet.rows
           if len(row.cells) > LEFT and row.cells[0]}  # fmt: skip
    styles = {name: cell and cell.style for name, cell in gap.items()}
    assert {styles[name] for name in ("Pipe", "Assumption")} == {"header_after"}
    assert styles["Lifting equipment per crew"] == "text_after"
    assert styles.get("Bid price") is None


def test_risk_names_a_factor_as_the_basis_does():
    book = book_of(small("tailings_line"), ("Risk", "Basis of estimate"), data_only=True)
    names = {name: {row[0].value for row in book[name].iter_rows()} for name in book.sheetnames}
    assert "Productivity" in names["Risk"]
    assert "Productivity" in names["Basis of estimate"]


def test_rental_periods_and_trips_are_whole_and_stand_under_the_units_of_hours():
    rows = sheets_of(job(run("R1", segments_m=(3000.0,)), risk_trials=0))["Cost"].rows
    keys = [column.key for column in result_columns("cost")]
    unit, quantity = keys.index("unit"), keys.index("quantity")
    lines = [row.cells for row in rows if len(row.cells) > unit and row.cells[quantity]]
    texts = {line[unit].value: shown(line[quantity]) for line in lines if line[unit]}
    counted = {unit: text for unit, text in texts.items() if unit in PAID_BY.values()}
    assert counted["trip"] == "2   "
    assert len(counted) > 1
    assert [text for text in counted.values() if "." in text] == []
    assert texts["LS"] == "1.00"


def test_the_change_of_finish_keeps_off_the_bar_of_a_warning():
    (column,) = (one for one in result_columns("compare") if one.key == "finish_difference")
    sections = STYLES[column.style].number_format.split(";")
    assert [section for section in sections if not section.endswith(CLEAR)] == []


def test_one_stick_of_pipe_is_counted_as_one():
    bought = run("R1", segments_m=(10.0,), stick_length_m=12.0, pipe_price=money(50, "m"))
    found = estimate(job(bought, run("R2", segments_m=(120.0,))))
    (line,) = [line for line in found.cost_lines if line.cost_type == "Pipe"]
    assert line.basis.startswith("1 whole stick;")


@pytest.mark.parametrize(
    ("size", "piece_m", "words"),
    [("2", 152.4, "2 whole coils;"), ("2", 12.0, "20 whole sticks;"),
     ("8", 152.4, "2 whole sticks;")],
)  # fmt: skip
def test_long_pieces_of_small_pipe_are_coils(size, piece_m, words):
    """240 m of pieces of 500 ft (152.4 m) are two, of 12 m twenty; no 8 in pipe is coiled."""
    bought = run("R1", size=size, segments_m=(240.0,), stick_length_m=piece_m,
                 pipe_price=money(5, "m"))  # fmt: skip
    found = estimate(job(bought))
    (line,) = [line for line in found.cost_lines if line.cost_type == "Pipe"]
    assert line.basis.startswith(words)
