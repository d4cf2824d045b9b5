"""Slips of the keyboard that are allowed entries: each is named with its cell, honest jobs are not.

Expected values by hand; the ranges are those of the table, our own assumptions.
"""

from hypothesis import given
from hypothesis import strategies as st

from estimator.models.places import Places
from estimator.pipeline import estimate
from estimator.standards import tables
from estimator.warnings.plausible import PLAUSIBLE, Row, outliers
from estimator.workbook.book import parse_workbook
from tests.each import each
from tests.jobs import job, machine, money, rental, role, run
from tests.workbook_factory import WorkbookFactory

FT, IN = 0.3048, 25.4


def said(made):
    """Return what is said of a job, each line once."""
    found = estimate(made)
    return [problem for check in PLAUSIBLE for problem in check(found, Places())]


def texts(made):
    return [problem.message for problem in said(made)]


def runs_of(*lengths, **changes):
    return job(*(run(f"R{n}", segments_m=(each,), **changes) for n, each in enumerate(lengths, 1)))


def test_an_honest_job_is_not_doubted():
    assert said(runs_of(600.0, 900.0, 1200.0)) == []


@each(
    ("stick_ft", "size", "doubted"),
    [(5, "8", True), (20, "8", False), (19.69, "8", False), (40, "24", False), (60, "8", False),
     (70, "8", True), (500, "4", False), (500, "8", True)],
)  # fmt: skip
def test_sticks_are_20_to_60_ft_or_a_coil_of_small_pipe(stick_ft, size, doubted):
    """6 m sticks are 19.69 ft; 4 in is 114.3 mm and comes in coils, 8 in is 219.1 mm."""
    made = job(run(size=size, segments_m=(1200.0,), stick_length_m=stick_ft * FT))
    assert ["Stick or coil length" in text for text in texts(made)] == [True] * doubted


def test_sticks_of_5_ft_name_their_runs():
    (problem,) = said(job(run(stick_length_m=5 * FT), run("R2", stick_length_m=5 * FT)))
    assert "1.5 m is unusual. Sticks are 6 m to 18.3 m" in problem.message
    assert problem.message.endswith("runs R1, R2")


def test_a_run_shorter_than_its_stick_but_with_joints():
    (text,) = texts(job(run(segments_m=(9.0,), elbows=1), run("R2")))
    assert text == "Length: shorter than one stick or coil: run R1. Check both lengths"


def test_60_by_14_for_14_by_60():
    """60 segments of 14 ft in sticks of 40 ft have no joint; 14 of 60 ft have two sticks each. Of
    14 connections of 20 ft nobody means 20 of 14."""
    factory = WorkbookFactory()
    for text, doubted in (("60 x 14", True), ("14 x 60", False), ("14 x 20", False),
                          ("51 x 80", True), ("50 x 80", False), ("38; 14", False)):  # fmt: skip
        factory.set("schedule", "segments_m", text)
        factory.set("schedule", "stick_length_m", 40)
        found = parse_workbook(factory.build())
        said = [problem for problem in estimate(found.job, found.places).warnings
                if " as segments, " in problem.message]  # fmt: skip
        assert len(said) == doubted, text
        assert all(problem.where.startswith("Pipe schedule!") for problem in said)
        if text == "60 x 14":
            assert said[0].message.endswith(
                "has 60 of 14 ft as segments, each under a stick, so that no two sticks are "
                "joined. Where 14 of 60 are meant, enter 14 x 60"
            )


def test_34000_ft_for_3400():
    """3,400 / 3,100 passes; 34,000 is 11 times the next longest run."""
    assert texts(runs_of(3400 * FT, 3100 * FT, 900 * FT)) == []
    (text,) = texts(runs_of(34000 * FT, 3100 * FT, 900 * FT))
    assert "run R1 has 10,363 m, 11 times the next longest run" in text


def test_a_wage_of_460_for_46():
    made = job().model_copy(
        update={"crew": (role("Operator", 1, 460), role("Laborer", 1, 27), role("Helper", 1, 25))}
    )
    (text,) = texts(made)
    assert text.startswith("Wage: $460 per h is unusual for Operator; 10 to 150 per h")


def test_a_wage_is_held_against_the_others_in_any_currency():
    """No range is known in pesos: 8 is one tenth of the lowest other, 200 under 2.5 times 90."""

    def crew(wage):
        others = (role("Laborer", 1, 90), role("Helper", 1, 80))
        made = job(currency="MXN").model_copy(update={"crew": (role("Operator", 1, wage), *others)})
        return [text for text in texts(made) if text.startswith("Wage")]

    assert crew(200) == []
    (text,) = crew(8)
    assert "is 0.10 of the lowest of the other roles" in text


def test_pipe_of_420_a_foot():
    """8 in DR 11 weighs 8.43 lb/ft, 12.55 kg/m: $420/ft is $1,378/m, $110 a kg; $25/ft is $6.5."""
    assert texts(job(run(pipe_price=money(25, "ft")))) == []
    (text,) = texts(job(run(pipe_price=money(420, "ft"))))
    assert text.startswith("Pipe price: $420 per ft, 110 a kg is unusual for R1; 0.8 to 12 per kg")


def test_a_pipe_price_is_held_against_the_other_pipe_by_weight():
    """Big pipe may cost more by the meter: 4 in at 3, 8 in at 10.4, but not 8 in at 75."""

    def priced(price):
        made = job(
            run("R1", size="4", pipe_price=money(10.0, "m")),
            run("R2", size="6", pipe_price=money(22.0, "m")),
            run("R3", size="8", pipe_price=money(price, "m")),
        )
        return texts(made)

    assert priced(38.0) == []
    (text,) = priced(145.0)
    assert "times the highest of the other pipe" in text


def test_fuel_at_38_a_liter():
    rates = job().rates.model_copy(update={"fuel_price": money(38, "L")})
    (text,) = texts(job().model_copy(update={"rates": rates}))
    assert text == ("Fuel price: $38 per L is unusual; 0.2 to 4 per L is expected "
                    "(our assumption). Check the decimal point and the unit")  # fmt: skip


def test_a_day_rate_and_a_delivery_far_from_the_other_classes():
    fleet = (
        machine("M2", **rental(day_rate=money(110))),
        machine("M3", **rental(day_rate=money(160))),
        machine("M4", **rental(day_rate=money(2200), delivery=money(5, "trip"))),
    )
    found = texts(job(machines=fleet))
    assert (
        "Day rate: $2,200 per day for M4 is 13.8 times the highest of the other classes" in found[0]
    )
    assert "Delivery: $5 per trip for M4 is 0.10 of the lowest of the other classes" in found[1]


def test_part_of_the_pipe_priced_and_part_untested():
    whole = {"pipe_price": money(25, "ft"), "test_section": "S"}
    assert texts(job(run("R1", **whole), run("R2", **whole))) == []
    priced, tested = texts(job(run("R1", **whole), run("R2"), run("R3")))
    assert priced.startswith("No pipe price for runs R2, R3, while")
    assert tested == "No test section for runs R2, R3. No hydrotest is planned there"


def test_a_warning_has_its_cell_in_a_workbook():
    made = WorkbookFactory()
    made.set("crew", "wage", 460)
    found = parse_workbook(made.build())
    priced = estimate(found.job, found.places)
    (wage,) = [problem for problem in priced.warnings if problem.message.startswith("Wage")]
    assert wage.where == made.where("crew", "wage")


@given(st.lists(st.floats(0.01, 1e6), min_size=3, max_size=9), st.floats(1.5, 10))
def test_only_the_smallest_and_the_largest_can_be_far_off(values, factor):
    rows = [Row(str(n), "", value, "") for n, value in enumerate(values)]
    found = list(outliers(rows, factor))
    assert {row.value for row, _ in found} <= {min(values), max(values)}
    assert all(times > factor or times < 1 / factor for _, times in found)
    assert list(outliers([*rows, *rows], factor)) == []


def test_ranges_are_marked_as_our_own():
    assert {row["confidence"] for row in tables.load("plausible")} == {"assumption"}
    assert {row["source"] for row in tables.load("plausible")} == {"project"}
