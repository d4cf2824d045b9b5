"""Progress claims: what is claimed, that the whole is the contract, previous claims, retention."""

import datetime as dt
import functools
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import api
from estimator.after_award import claim_pages, records_of
from estimator.cli import main
from estimator.display import show_date
from estimator.errors import EstimatorError
from estimator.inputs.dictionary import fields
from estimator.models.changes import Change, ClaimTerms
from estimator.models.site_records import PassedTest, SiteRecords
from estimator.models.study import Study
from estimator.progress.change_price import change_price
from estimator.progress.claim import PreviousClaim, claim_of, key_of
from estimator.progress.made import made_up_to
from estimator.progress.site_plan import site_plan
from estimator.workbook.book import Pages, parse_workbook, with_baseline
from estimator.workbook.results.builder import Context
from estimator.workbook.results.claim_sheet import claim_sheet
from estimator.workbook.sheet import look
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import pages_down
from estimator.workbook.sheet.styles import STYLES
from tests.one_page import book_of
from tests.small_book import small_book
from tests.test_baseline import frozen
from tests.test_status import as_planned, part_way
from workbook_template.site_sheets import style_of

TERMS = ClaimTerms(retention=0.1)
NAMES = ("raw_water_main", "plant_piping")


def agreed(number, price, done=1.0, status="agreed"):
    return Change(number=number, date=dt.date(2027, 3, 10), what=f"change {number}", status=status,
                  price_agreed=price, done=done)  # fmt: skip


def finished(name="raw_water_main"):
    _, found, baseline = frozen(name)
    sections = {run.test_section for run in found.job.runs if run.test_section}
    end = baseline.head.finish
    return SiteRecords(
        daily_record=as_planned(baseline, end),
        tests_passed=tuple(PassedTest(section=one, date=end) for one in sections),
    )


def claimed(records, date, *, name="raw_water_main", changes=(), terms=TERMS, previous=None):
    return claim_of(frozen(name)[2], made_up_to(records, date), changes, terms, previous)


def after(claim):
    """Return a claim as the next one finds it."""
    to_date = {key_of(line.number, line.description): line.to_date for line in claim.lines}
    return PreviousClaim(claim.number, claim.date, to_date, claim.due_to_date)


@pytest.mark.parametrize("items", range(20, 34))
def test_what_is_due_stands_on_one_page_whatever_the_number_of_items(items):
    """Retention and what is due now are not parted from the work that they come from."""
    workbook, found, baseline = frozen("raw_water_main")
    claim = claimed(finished("raw_water_main"), baseline.head.finish)
    longer = replace(claim, items=(claim.items * items)[:items])
    context = Context(Study.of(found), workbook.places, {"Claim 1": "Claim 1"})
    spec = laid_out(claim_sheet(context, longer))
    first = [row.cells[:1] for row in spec.rows]
    title = next(n for n, cells in enumerate(first, 1) if cells and cells[0] is not None
                 and cells[0].value == "What is due")  # fmt: skip
    assert not [stop for stop in spec.breaks if title <= stop < len(spec.rows)]
    assert spec.rows[-1].cells[1].value == "Contract and agreed changes"


def test_a_claim_of_sixty_items_takes_four_pages_and_shows_nothing_claimed_as_a_dash():
    """Reference: the rules of the look; two lines an item, some 17 of them a page."""
    workbook, found, baseline = frozen("raw_water_main")
    item = claimed(SiteRecords(), baseline.head.start).items[2]
    about = f"Butt fusion, run T14, {'Crest header, north arm, ' * 2}900 mm SDR 13.6 pipe by others"
    claim = claimed(SiteRecords(), baseline.head.start)
    longer = replace(claim, items=(replace(item, description=about),) * 60)
    context = Context(Study.of(found), workbook.places, {"Claim 1": "Claim 1"})
    spec = laid_out(claim_sheet(context, longer))
    assert pages_down(spec) <= 4
    row = next(row.cells for row in spec.rows if row.cells[:1] and row.cells[0] is not None
               and row.cells[0].value == item.number)  # fmt: skip
    zeros = [STYLES[cell.style].number_format for cell in row[3:] if cell.value == 0]
    assert len(zeros) == 5
    assert all(code.endswith(look.NONE) for code in zeros)


@pytest.mark.parametrize(
    ("cover", "wanted"),
    [
        ({"company": "Pipe Works", "bid_to": "Water Board"}, "Pipe Works, to Water Board"),
        (
            {"company": None, "bid_to": None, "bid_revision": 1},
            "Bid 2027-014, revision 1, Jan 18, 2027",
        ),
    ],
)
def test_a_client_reads_who_claims_and_no_note_of_ours(cover, wanted):
    workbook, found, baseline = frozen("raw_water_main")
    claim = claimed(finished("raw_water_main"), baseline.head.finish)
    found = replace(found, job=found.job.changed(**cover))
    context = Context(Study.of(found), workbook.places, {"Claim 1": "Claim 1"})
    assert claim_sheet(context, claim).right[1].value == wanted


def test_a_claim_says_what_is_due_beside_its_title_and_is_named_at_its_foot():
    """The result of the page stands at the right of the title, and follows the sum below."""
    workbook, found, baseline = frozen("raw_water_main")
    claim = claimed(finished("raw_water_main"), baseline.head.finish)
    places, names = workbook.places, {"Claim 1": "Claim 1"}
    context = Context(Study.of(found), places, names)
    spec = claim_sheet(context, claim)
    rows = enumerate(spec.rows, 1)
    row = next(n for n, row in rows if any(c and c.value == "Due now" for c in row.cells))
    due = spec.right[0]
    assert due.value == f"Due now ${claim.due:,.2f}"
    assert due.formula == f'"Due now $"&FIXED(J{row},2)'
    label = spec.rows[row - 1].cells[1]
    assert STYLES[label.style].bold
    assert [STYLES[label.style].fill] == [*{STYLES[c.style].fill for c in spec.rows[row - 1].cells}]
    (made,) = Pages(found, {"Claim 1": lambda _: spec}).specs(places, names)
    assert made.foot.text.startswith(f"Claim 1, {show_date(claim.date, 'US')} \N{MIDDLE DOT} ")
    assert made.foot.text.endswith(" \N{MIDDLE DOT} Bid 2027-014 of Jan 18, 2027, revision 0")


@pytest.mark.parametrize(
    ("quantities", "code"),
    [((120.0, 36.0), look.WHOLE), ((120.0, 54.9), look.ONE_PLACE), ((3.0, 1.25), look.TWO_PLACES)],
)
def test_quantities_of_the_contract_show_the_digits_of_their_unit(quantities, code):
    """A length of the bid has one decimal at most, a quantity of a change may have two."""
    workbook, found, baseline = frozen("raw_water_main")
    claim = claimed(SiteRecords(), baseline.head.start)
    item = replace(claim.items[2], description="a length", unit="m")
    lines = tuple(replace(item, contract=quantity) for quantity in quantities)
    context = Context(Study.of(found), workbook.places, {"Claim 1": "Claim 1"})
    spec = claim_sheet(context, replace(claim, items=(claim.items[0], *lines)))
    shown = [row.cells[3] for row in spec.rows if row.cells[3:] and row.cells[1]
             and row.cells[1].value == "a length"]  # fmt: skip
    assert [cell.value for cell in shown] == [*quantities]
    assert {STYLES[cell.style].number_format for cell in shown} == {code}


def test_cells_of_percent_show_percent():
    """A 5 that is typed into them is then 5 %, not 500 %."""
    for table in ("claim_terms", "changes", "quotes"):
        percents = [one for one in fields(table) if one.kind == "percent"]
        assert percents
        assert {STYLES[style_of(one, "US")].number_format for one in percents} == {"0.0%_)"}


@pytest.mark.parametrize("name", NAMES)
def test_a_claim_of_everything_is_the_contract_and_the_agreed_changes(name):
    _, found, baseline = frozen(name)
    changes = (agreed("1", 14200.5), agreed("2", -300.25), agreed("3", 999.0, status="raised"))
    claim = claimed(finished(name), baseline.head.finish, name=name, changes=changes)
    assert claim.total == found.bid.price + Decimal("14200.50") - Decimal("300.25")
    assert claim.total == claim.contract
    assert all(line.to_date == line.contract for line in claim.lines)


# 10 % of 1,000.00 retained and 40 released: due 940.
def test_retention_by_hand():
    claim = claimed(
        finished(), frozen()[2].head.finish, terms=ClaimTerms(retention=0.1, released=40)
    )
    kept = round(claim.total * Decimal("0.1"), 2)
    assert claim.retained == kept
    assert claim.due == claim.total - kept + 40


@given(st.lists(st.integers(1, 95), min_size=1, max_size=5, unique=True), st.floats(0, 0.2))
@settings(max_examples=15, deadline=None)
def test_claims_one_after_the_other_come_to_one_of_all(parts, retention):
    baseline = frozen()[2]
    terms, whole, previous, due = ClaimTerms(retention=retention), finished(), None, Decimal(0)
    days = sorted({baseline.days[len(baseline.days) * part // 100].date for part in parts})
    for date in [*days, baseline.head.finish]:
        if previous is not None and date <= previous.date:
            continue
        claim = claimed(whole, date, terms=terms, previous=previous)
        assert all(line.to_date <= line.contract for line in claim.lines)
        assert sum(line.amount for line in claim.lines) <= claim.contract
        due += claim.due
        previous = after(claim)
    alone = claimed(whole, baseline.head.finish, terms=terms)
    assert due == alone.due == alone.total - alone.retained


@pytest.mark.parametrize("name", NAMES)
def test_pipe_is_claimed_by_the_length_between_accepted_joints(name):
    baseline = frozen(name)[2]
    date = part_way(name)
    made = made_up_to(SiteRecords(daily_record=as_planned(baseline, date)), date)
    claim = claim_of(baseline, made, (), TERMS, None)
    for line, item in zip(claim.items, baseline.items, strict=True):
        if item.rule == "length":
            runs = [baseline.by_run[run] for run in item.runs]
            part = sum(run.length_m * run.share(made.accepted.get(run.run_id, {})) for run in runs)
            wanted = item.quantity * part / sum(run.length_m for run in runs)
            assert line.to_date == pytest.approx(wanted, abs=0.051)
    assert {run for item in baseline.items for run in item.runs} == set(baseline.by_run)


def test_mobilization_comes_with_the_first_work_or_in_parts():
    baseline = frozen()[2]
    date = baseline.days[0].date
    records = SiteRecords(daily_record=as_planned(baseline, date))
    at_once = claimed(records, date).items[0]
    assert (at_once.description, at_once.to_date) == ("Mobilization", 1.0)
    terms = ClaimTerms(retention=0.0, mobilized=0.6)
    assert claimed(records, date, terms=terms).items[0].to_date == 0.6


def test_the_rest_of_mobilization_comes_at_half_of_the_joints_as_the_bid_says():
    baseline = frozen()[2]
    half = next(day.date for day in baseline.days
                if 2 * baseline.planned_joints(day.date) >= baseline.joints)  # fmt: skip
    terms = ClaimTerms(retention=0.0, mobilized=0.6)
    for date, part in ((half - dt.timedelta(1), 0.6), (half, 1.0)):
        records = SiteRecords(daily_record=as_planned(baseline, date))
        assert claimed(records, date, terms=terms).items[0].to_date == part


def test_an_older_date_is_refused():
    date = part_way()
    records = SiteRecords(daily_record=as_planned(frozen()[2], date))
    claim = claimed(records, date)
    with pytest.raises(EstimatorError, match=r"Claim 1 of .* is made. Claims are kept"):
        claimed(records, date, previous=after(claim))


def test_a_change_in_the_baseline_is_not_claimed_twice():
    baseline = frozen()[2]
    rebased = replace(baseline, head=replace(baseline.head, changes=("1",)))
    made = made_up_to(finished(), baseline.head.finish)
    claim = claim_of(rebased, made, (agreed("1", 100.0), agreed("2", 50.0)), TERMS, None)
    assert [line.number for line in claim.changes] == ["C2"]


@functools.cache
def begun():
    """Return a small workbook with a baseline, a daily record to part way and claim sheets."""
    workbook, found, baseline = frozen()
    rows = as_planned(baseline, part_way())
    records = site_plan(found).model_copy(update={"daily_record": rows})
    with_sheet = parse_workbook(with_baseline(workbook, found, baseline))
    return api.add_site_records(with_sheet, records)


def type_rows(path, sheet_name, first_header, rows):
    book = openpyxl.load_workbook(path)
    sheet = book[sheet_name]
    place = next(c for row in sheet.iter_rows() for c in row if c.value == first_header)
    columns = {cell.value: cell.column for cell in sheet[place.row]}
    for at, row in enumerate(rows, place.row + 1):
        for header, value in row.items():
            sheet.cell(at, columns[header]).value = value
    book.save(path)


CHANGE = {"No.": 1, "Date": dt.date(2027, 3, 9), "What": "Longer crossing", "Status": "agreed",
          "Price agreed": 5000, "Done": 0.5}  # fmt: skip


@pytest.mark.slow
def test_commands_claim_twice_and_price_a_change(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    path.write_bytes(begun())
    days = sorted({day.date for day in frozen()[2].days if day.date <= part_way()})
    assert main(["claim", str(path), "--date", f"{days[3]}"]) == 1
    assert "--start" in capsys.readouterr().err
    assert main(["claim", str(path), "--start"]) == 0
    assert main(["claim", str(path), "--date", f"{days[3]}"]) == 1
    assert "Fill in their row on the sheet Change orders" in capsys.readouterr().err
    type_rows(path, "Change orders", "Retention", [{"Retention": 0.1}])
    assert main(["claim", str(path), "--date", f"{days[3]}"]) == 0
    type_rows(path, "Change orders", "No.", [CHANGE])
    assert main(["claim", str(path), "--date", f"{days[-1]}"]) == 0
    out = capsys.readouterr().out
    assert "Claim 2 to" in out
    assert main(["claim", str(path), "--date", f"{days[4]}"]) == 1
    assert "Claims are kept as they are" in capsys.readouterr().err
    book = book_of(path, ("Claim 2",))
    assert {"Claim 1", "Claim 2"} <= set(book.sheetnames)
    sums = {row[1].value: row[9].value for row in book["Claim 2"].iter_rows() if len(row) > 9}
    assert str(sums["Due now"]).startswith("=")
    claim, _ = claim_pages(api.read_workbook(str(path)), days[-1] + dt.timedelta(7))
    assert claim.number == 3
    assert claim.due == 0
    assert next(line for line in claim.changes).amount_to_date == Decimal("2500.00")

    other = tmp_path / "changed.xlsx"
    other.write_bytes(small_book())
    type_rows(other, "Pipe schedule", "Run", [{"Elbows": 40}])
    capsys.readouterr()
    arguments = ["change", str(path), "1", "--with", str(other), "--date", f"{days[-1]}"]
    assert main(arguments) == 0
    assert "price $" in capsys.readouterr().out
    asked = records_of(api.read_workbook(str(path))).records.changes[0]
    assert asked.price_asked > 0
    assert asked.days_asked >= 0
    assert main(["change", str(path), "9", "--with", str(other)]) == 1
    assert "Change orders: There is no change 9. Enter its row first" in capsys.readouterr().err


def test_the_same_job_costs_no_change():
    workbook, found, _ = frozen()
    date = part_way()
    records = SiteRecords(daily_record=as_planned(frozen()[2], date))
    for status in (None, date):
        priced = change_price(found.job, found.job, records, status, workbook.places)
        assert (priced.price, priced.days) == (0, 0)
