"""The Bid schedule says once, over its items of pipe, what each line would repeat."""

import pytest

from estimator.models.bid_inputs import BidTerm, OwnerItem
from estimator.workbook.results.basis_sheet import _open_assumptions
from estimator.workbook.sheet import look
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.styles import STYLES
from tests.jobs import job, money, rates, run
from tests.laid_out import sheets_of

NAME = "Reach 14, pressure-reducing vault to school road, along the old railroad embankment, 2b"
OF_OTHERS = "Butt fusion of polyethylene pipe by others"


def priced(size, furnished=False, **more):
    price = money(9.5, "m") if furnished else None
    return run(f"R{size}", size=size, segments_m=(300.0,), pipe_price=price, **more)


def schedule(*runs, **changes):
    return sheets_of(job(*runs, risk_trials=0, **changes))["Bid schedule"]


def pipe_lines(spec):
    """Return what stands over the items of pipe, and the text of each of them."""
    texts = [tuple(cell and cell.value for cell in row.cells[:2]) for row in spec.rows]
    start = next(n for n, text in enumerate(texts) if text[:1] == ("Pipe",))
    end = texts.index((None, "Pipe, subtotal"))
    return (texts[start] + (None,))[1], [text[1] for text in texts[start + 1 : end]]


@pytest.mark.parametrize(
    ("runs", "changes", "said", "lines"),
    [
        (("8", "12"), {}, OF_OTHERS, ["8 in IPS DR 11", "12 in IPS DR 11"]),
        (
            ("8", "12", "6*"), {}, f"{OF_OTHERS}, unless the item says otherwise",
            ["8 in IPS DR 11", "12 in IPS DR 11", "Furnish and butt fuse 6 in IPS DR 11"],
        ),
        (
            ("8*", "12*"), {}, "Furnish and butt fuse polyethylene pipe",
            ["8 in IPS DR 11", "12 in IPS DR 11"],
        ),
        (
            ("8*",), {"pipe_items": "own items"}, "Polyethylene pipe",
            ["Furnish 8 in IPS DR 11", "Butt fusion, 8 in IPS DR 11"],
        ),
        (
            ("8", "12"), {"bid_items": "by run"},
            "By run: butt fusion of polyethylene pipe by others",
            ["R8: 8 in IPS DR 11", "R12: 12 in IPS DR 11"],
        ),
    ],
)  # fmt: skip
def test_what_every_line_would_repeat_stands_over_them_once(runs, changes, said, lines):
    spec = schedule(*(priced(one.strip("*"), "*" in one) for one in runs), **changes)
    assert pipe_lines(spec) == (said, lines)


def test_the_owner_s_wording_stands_as_it_is():
    owner = (OwnerItem(item="8 in IPS DR 11", owner_no="33.1", owner_text="Join 8 in pipe"),)
    said, lines = pipe_lines(schedule(priced("8"), priced("12"), owner_items=owner))
    assert lines[0] == "Join 8 in pipe"
    assert said == "Polyethylene pipe"
    assert lines[1] == "Butt fusion, 12 in IPS DR 11, pipe by others"


def test_the_size_of_a_run_is_not_broken_over_two_lines():
    """Names of 62 letters: the line would end before the number of the size, or within it."""
    name = "Booster station suction and discharge, from valve pit to header"
    runs = [run(f"N{n}", segments_m=(24.0,), description=name) for n in range(2)]
    furnished = run("N2", segments_m=(24.0,), description=name, pipe_price=money(9.5, "m"))
    _, lines = pipe_lines(schedule(*runs, furnished, bid_items="by run"))
    size = "8 in IPS DR 11"
    assert lines[2] == f"Furnish and butt fuse N2, {name}:\n{size}"


def descriptions(made):
    """Return what the Bid schedule describes below its items of pipe."""
    rows = [row.cells for row in sheets_of(made)["Bid schedule"].rows if len(row.cells) > 1]
    texts = [cells[1].value for cells in rows if cells[1]]
    return texts[texts.index("Pipe, subtotal") :]


@pytest.mark.parametrize(
    ("rule", "trials"),
    [("job start", "at job start"), ("each size", "each size"), ("each day", "each day"),
     ("each size and wall", "each size and wall")],
)  # fmt: skip
def test_lump_sums_of_tests_say_how_much_they_are_for(rule, trials):
    runs = (priced("8", test_section="A"), priced("12", test_section="B"))
    made = job(*runs, test_joint_rule=rule, risk_trials=0)
    found = descriptions(made.model_copy(update={"rates": rates(hydro_wage=money(46, "h"))}))
    assert f"Trial fusions, {trials}" in found
    assert "Hydrostatic testing, 2 sections" in found


def test_tests_in_the_owner_s_words_have_no_scope_of_ours():
    owner = (OwnerItem(item="Trial fusions", owner_no="9", owner_text="Test fusions"),)
    made = job(priced("8"), test_joint_rule="each size", risk_trials=0, owner_items=owner)
    assert "Test fusions" in descriptions(made)


def test_sixty_items_by_run_take_one_line_each_on_two_pages():
    """Names of 40 letters; a page upright has room for 46 rows of 15 points."""
    runs = (
        run(f"N{n:05}", segments_m=(24.0,), description="Booster station suction and discharge")
        for n in range(60)
    )
    spec = schedule(*runs, bid_items="by run", crews=9)
    lines = [
        row
        for row in spec.rows
        if len(row.cells) > 3 and row.cells[3] and row.cells[3].value == "m"
    ]
    assert len(lines) == 60
    assert max(row.height for row in lines) <= look.ROW
    assert pages_down(spec) == 2


def test_quantities_of_a_unit_have_the_same_decimals():
    """304.8 below 300 would have its decimal point where the other has its last digit."""
    spec = schedule(priced("8"), run("B", size="12", segments_m=(304.8,)))
    rows = [row.cells for row in spec.rows if len(row.cells) > 3 and row.cells[3]]
    shown = {(row[3].value, row[2].value): row[2].style for row in rows if row[3].value != "Unit"}
    assert shown["m", 300.0] == shown["m", 304.8] == "num1"
    assert shown["LS", 1.0] == "int"


def test_long_names_and_terms_leave_the_bid_on_one_page():
    """Names of 87 letters, and conditions of our own that leave no room to spare."""
    terms = tuple(BidTerm(place="condition", text=f"Condition {n}") for n in range(18))
    long = job(priced("8"), risk_trials=0, job_name=NAME, company=NAME, bid_to=NAME)
    assert pages_down(sheets_of(long.model_copy(update={"bid_terms": terms}))["Bid"]) == 1


def test_a_long_name_leaves_the_price_build_up_on_one_page():
    """A job name of five lines over all tables, that of the estimate class, too."""
    long = job(priced("8", True), risk_trials=0, job_name=5 * NAME, estimate_class=3)
    assert pages_down(sheets_of(long)["Price build-up"]) == 1


def test_the_ranges_of_an_estimate_class_are_called_by_what_they_are():
    """Figures of the practice from memory are named as such once, not on the line of a range."""
    pages = sheets_of(job(priced("8"), risk_trials=0, estimate_class=3))
    texts = [cell.value for row in pages["Price build-up"].rows for cell in row.cells if cell]
    assert {"At its narrowest", "At its widest"} <= {*texts}
    sure = "from memory for the range at its narrowest, one source for the range at its widest."
    assert f"Confidence in these percents: {sure}" in texts
    high = [cell.style for row in pages["Price build-up"].rows for cell in row.cells
            if cell and cell.value in (0.1, 0.3) and "pct" in cell.style]  # fmt: skip
    assert {STYLES[style].number_format for style in high} >= {look.SIGNED_PERCENT}
    basis = [cell.value for row in pages["Basis of estimate"].rows for cell in row.cells if cell]
    span = "-10% to +10% at its narrowest, -20% to +30% at its widest."
    assert [text for text in basis if str(text).endswith(span)]


def test_the_price_build_up_is_as_broad_as_the_page_with_millions():
    """The price in words is worked below what prints, with the price in the column of rates."""
    long = run("R", size="8", segments_m=(120000.0,), pipe_price=money(9.5, "m"))
    spec = sheets_of(job(long, risk_trials=0))["Price build-up"]
    broad = sum(map(look.pixels_of, spec.widths[:6]))
    assert look.box_pixels(across=False) - 7 < broad <= look.box_pixels(across=False)


def cells_by_label(spec):
    """Return the cells of the rows of a sheet by the text in their first column."""
    rows = [row.cells for row in spec.rows if row.cells and row.cells[0] is not None]
    return {cells[0].value: [cell for cell in cells if cell] for cells in rows}


def with_rates(**changed):
    return job(priced("8"), risk_trials=0).model_copy(update={"rates": rates(**changed)})


@pytest.mark.parametrize(("tax", "tail"), [(0.0, "; taxes not included"), (0.05, "; before tax")])
def test_both_pages_of_the_client_say_the_price_in_one_text(tax, tail):
    pages = sheets_of(with_rates(tax=tax))
    said = [
        cell for name in ("Bid", "Bid schedule") for row in pages[name].rows for cell in row.cells
        if cell and str(cell.value).endswith(tail)
    ]  # fmt: skip
    assert len(said) == 2
    assert len({(cell.value, cell.formula) for cell in said}) == 1


@pytest.mark.parametrize(
    ("tax", "basis", "total"),
    [
        (0.0, "taxes not included", "Total, taxes not included"),
        (0.05, "of the bid price", "Total including tax"),
    ],
)
def test_the_build_up_names_no_total_with_tax_while_no_rate_is_set(tax, basis, total):
    """The rows stay, and follow a rate that is typed later."""
    rows = cells_by_label(sheets_of(with_rates(tax=tax))["Price build-up"])
    assert rows["Tax"][2].value == basis
    assert total in rows
    rate = rows[total][0].formula.partition("(")[2].partition("=")[0]
    assert rows["Tax"][2].formula == f'IF({rate}=0,"taxes not included","of the bid price")'
    assert rows[total][0].formula == (
        f'IF({rate}=0,"Total, taxes not included","Total including tax")'
    )
    assert rate.startswith("$B$")


def test_pages_with_types_of_cost_say_what_each_holds():
    """Labor of the build-up is more than Labor of Cost: it has the per diem, too."""
    pages = sheets_of(with_rates(subsistence=money(50, "person-day")))
    for name in ("Price build-up", "Cost by run"):
        texts = [cell.value for row in pages[name].rows for cell in row.cells[:1] if cell]
        (note,) = [text for text in texts if str(text).startswith("Of the cost types on Cost, ")]
        assert "Labor holds Labor, Per diem; Equipment holds Equipment, Fuel" in note


@pytest.mark.parametrize(
    "name",
    [
        "Price build-up",
        "Item prices",
        "Cost",
        "Cost by run",
        "Compare",
        "Risk",
        "Basis of estimate",
        "Checks",
        "Options",
        "Explain",
    ],
)
def test_a_page_with_cost_says_that_it_is_internal_beside_its_title(name):
    spec = sheets_of(job(priced("8"), risk_trials=0))[name]
    texts = [cell.value for row in spec.rows[:2] for cell in row.cells if cell]
    assert "INTERNAL: not for the client" in texts


def test_the_last_line_of_the_clients_pages_carries_the_currency():
    for currency, code in (("$", '"$"#,##0.00'), ("EUR", "#,##0.00")):
        pages = sheets_of(job(priced("8"), risk_trials=0, currency=currency))
        for name in ("Bid", "Bid schedule"):
            rows = [row.cells for row in pages[name].rows if row.cells and row.cells[0]]
            last = [cells for cells in rows if cells[0].value == "Bid price"][-1]
            amount = next(cell for cell in last if cell and isinstance(cell.value, float))
            assert STYLES[amount.style].number_format.partition(";")[0] == code


def test_cost_says_the_rule_of_trial_fusions_and_shows_a_percent_as_one():
    spec = sheets_of(job(priced("8"), risk_trials=0, test_joint_rule="each size"))["Cost"]
    rows = [[cell and cell.value for cell in row.cells] for row in spec.rows]
    assert [row[2] for row in rows if row[:1] == ["Trial fusions"] and row[2]] == [
        "by each crew: each size"
    ]
    (tools,) = (row.cells for row in spec.rows if row.cells[1:] and row.cells[1]
                and row.cells[1].value == "Small tools")  # fmt: skip
    assert STYLES[tools[5].style].number_format == look.PERCENT_2


def test_the_basis_names_how_many_assumptions_are_open_and_how_many_follow():
    assert _open_assumptions(64, 5) == (
        "64 own assumptions still at their defaults; the 5 that move the price most"
    )
    assert _open_assumptions(1, 1) == "1 own assumption still at its default"
    assert _open_assumptions(3, 1).endswith("; the one that moves the price most")
