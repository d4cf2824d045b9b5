"""The Checks sheet says once what warnings of a kind have in common."""

from dataclasses import replace

from estimator.display import name_runs
from estimator.errors import Problem
from estimator.models.places import Places
from estimator.study import study
from estimator.workbook.results.sheets import RESULT_SHEETS, result_sheets
from estimator.workbook.sheet.page_breaks import printed_pages
from tests.jobs import job, run

CHART = "Check the load chart at the working radius"


def near(class_id):
    own = f"Class {class_id}: the heaviest stick with reserve is close to the capacity"
    return Problem("Lifting!C10", f"{own}. {CHART}", alike=CHART)


def checks(warnings):
    found = study(job(run("R1", segments_m=(120.0,)), risk_trials=0))
    names = {key: key for key in RESULT_SHEETS}
    made = result_sheets(replace(found, warnings=tuple(warnings)), Places(), (), names)
    return dict(zip(RESULT_SHEETS, made, strict=True))["Checks"]


def warning_rows(spec):
    texts = [tuple(cell and cell.value for cell in row.cells[:2]) for row in spec.rows]
    return texts[texts.index(("Where", "Warning")) + 1 : texts.index(("Control totals", None)) - 1]


def test_warnings_of_a_kind_stand_together_below_the_others_under_what_they_share():
    other = Problem("Job!B13", "The plan ends late", serious=True)
    assert warning_rows(checks((near("L1"), other, near("L2")))) == [
        ("Job!B13", "SERIOUS. The plan ends late"),
        (None, CHART),
        ("Lifting!C10", "Class L1: the heaviest stick with reserve is close to the capacity"),
        ("Lifting!C10", "Class L2: the heaviest stick with reserve is close to the capacity"),
    ]


def test_one_of_its_kind_says_the_whole():
    assert warning_rows(checks((near("L1"),))) == [("Lifting!C10", near("L1").message)]


def test_a_message_holds_its_own_part_and_the_one_of_its_kind():
    found = study(job(*(run(f"R{n}", size=size, segments_m=(30.0,)) for n, size in
                        enumerate(("4", "8", "12", "16", "20", "24")))))  # fmt: skip
    kinds = [one for one in found.warnings if one.alike]
    assert kinds
    for one in kinds:
        assert one.message.startswith(f"{one.own}. ")
        assert one.message.endswith(one.alike)


def test_22_warnings_of_six_kinds_leave_checks_two_pages():
    """Four of each of five kinds and two of two lines."""
    kinds = [Problem("Machines!H8", f"{n} {'own words ' * 8}. Kind {k}", alike=f"Kind {k}")
             for k in range(5) for n in range(4)]  # fmt: skip
    long = [Problem("Job!B10", f"{n} {'a note of the method ' * 8}") for n in range(2)]
    spec = checks((*kinds, *long))
    assert printed_pages(spec) == 2
    lines = [row for row in spec.rows if len(row.cells) > 1 and row.cells[0] is not None]
    assert {row.height for row in lines if row.cells[0].value == "Machines!H8"} <= {
        11.25, 12.0, 13.5, 15.0}  # fmt: skip


def test_warnings_of_26_lines_share_their_page_with_the_control_totals():
    """Four of one line, nine of two, and four that name the first of 200 runs and take one."""
    runs = name_runs([f"FW-{n}" for n in range(100, 300)])
    own = [Problem("Machines!H8", f"{n} {'own words ' * 8}") for n in range(4)]
    long = [Problem("Job!B10", f"{n} {'a note of the method ' * 8}") for n in range(9)]
    named = [
        Problem("Pipe schedule!AE11", f"{n} No test section for {runs}. No test is planned there")
        for n in range(4)
    ]
    spec = checks((*own, *long, *named))
    firsts = [row.cells[0].value if row.cells and row.cells[0] else None for row in spec.rows]
    assert spec.breaks == (firsts.index("Cautions"),)


def printed_heads(spec):
    """Return the rows of the warnings' header, and the first row of each page."""
    texts = [[cell and cell.value for cell in row.cells[:2]] for row in spec.rows]
    heads = [number for number, text in enumerate(texts, 1) if text == ["Where", "Warning"]]
    return heads, [last + 1 for last in spec.breaks]


def test_warnings_that_go_on_have_their_header_again_and_no_other_table_has_it():
    """Sixty of two lines: more than one page. The sources begin a page of their own."""
    many = [Problem("Job!B10", f"{n} {'a note of the method ' * 8}") for n in range(60)]
    spec = checks(many)
    heads, begun = printed_heads(spec)
    assert spec.header_row is None
    assert len(heads) > 1
    assert set(heads[1:]) < set(begun)


def test_what_warnings_share_stands_out_from_them():
    spec = checks((near("L1"), near("L2")))
    (row,) = (row for row in spec.rows if len(row.cells) > 1 and row.cells[1]
              and row.cells[1].value == CHART)  # fmt: skip
    assert {cell.style for cell in row.cells if cell} == {"shared"}


def test_the_note_beside_the_status_has_the_rest_of_its_row():
    assert "C3:F3" in checks(()).merges
