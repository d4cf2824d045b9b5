"""Steps by themselves: what they record holds, and what cannot be shown fails."""

from typing import ClassVar, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.cost import markup
from estimator.explain.page import Page, word
from estimator.models.base import Model
from estimator.models.places import Places
from estimator.models.rates import MoneyRate
from estimator.steps.cells import cell_formula
from estimator.steps.kinds import Minutes, Money
from estimator.steps.marks import (
    PI,
    ceil,
    ceil_step,
    cents,
    either,
    exactly,
    floor,
    greatest,
    least,
    nearest_step,
    or_zero,
    rounded,
    to_step,
)  # fmt: skip
from estimator.steps.recorder import Recorder, step
from tests import jobs
from tests.test_explain import work_out


class Wages(Model):
    TABLE: ClassVar[str] = "crew"
    ROW: ClassVar[str] = "role"
    role: str
    wage: MoneyRate
    burden: float
    extra: float = 0.5
    basis: str = "hourly"

    @property
    def loaded(self) -> float:
        return self.wage.amount * (1 + self.burden)

    def for_hours(self, hours: float) -> float:
        return self.loaded * hours


class Pipe(NamedTuple):
    od_mm: float
    wall_mm: float


FOREMAN = Wages(role="Foreman", wage=MoneyRate(amount=40.0, per="h"), burden=0.45)
PLACES = Places({("crew", "Foreman", "wage"): "'Crew'!$H$6",
                 ("crew", "Foreman", "burden"): "'Crew'!$I$6",
                 ("crew", "Foreman", "extra"): "'Crew'!$J$6"})  # fmt: skip


@step("Cost of {role.role}")
def pay(role: Wages, hours: float) -> Money:
    """Return what some hours of a role cost."""
    return cents(role.for_hours(hours))


@step("Face")
def face_mm2(pipe: Pipe) -> float:
    """Return the face of a joint."""
    return PI * (pipe.od_mm - pipe.wall_mm) * pipe.wall_mm


@step("Force", "face x pressure")
def force_n(face_mm2: float, pressure_mpa: float) -> float:
    """Return the force on a face."""
    return face_mm2 * pressure_mpa


def recorded(made, *args):
    recorder = Recorder()
    with recorder.on():
        value = made(*args)
    (found,) = recorder.steps
    assert found.value == value == made.fn(*args)
    return found


def formula(found):
    return cell_formula(found, PLACES.live, lambda key: f"<{key}>")


def page(system="SI"):
    return Page(system, "$", PLACES)


def test_a_step_is_its_function_and_shows_how_its_number_comes_about():
    """40 x (1 + 0.45) x 8 = 464."""
    assert pay(FOREMAN, 8.0) == 464.0
    found = recorded(pay, FOREMAN, 8.0)
    shown = page().show(found)
    assert (shown.name, shown.value, shown.unit) == ("Cost of Foreman", 464.0, "$")
    assert shown.sum == "ROUND(40 x (1 + 0.45) x 8, 2)"
    assert shown.how == "ROUND(wage x (1 + burden) x hours, 2)"
    assert shown.where == "Crew!H6"
    assert formula(found) == "ROUND('Crew'!$H$6*(1+'Crew'!$I$6)*<hours>,2)"


def test_a_number_is_shown_in_the_units_of_the_user_and_the_sum_holds():
    """pi x (24 - 1.4) x 1.4 in2; 1 MPa is 145.04 psi, so in2 x psi is lbf, mm2 x bar is not kN."""
    found = recorded(face_mm2, Pipe(24 * 25.4, 1.4 * 25.4))
    us = page("US").show(found)
    assert (us.sum, us.unit, us.how) == (
        "pi x (24 - 1.4) x 1.4", "in2", "pi x (od - wall) x wall",
    )  # fmt: skip
    assert work_out(us.sum) == pytest.approx(us.value)
    forced = recorded(force_n, 64_644.23, 0.517107)
    assert page("US").show(forced).sum == "100.199 x 75"
    si = page("SI").show(forced)
    assert si.sum == "64,644.23 x 5.17107 / 10,000"
    assert si.unit == "kN"
    assert work_out(si.sum) == pytest.approx(si.value)


def test_units_that_do_not_go_together_are_no_sum():
    @step("Wrong")
    def wrong(length_m: float, minutes: Minutes) -> Minutes:
        return length_m * minutes

    with pytest.raises(AssertionError, match="do not go together"):
        page("US").show(recorded(wrong, 10.0, 3.0))


@pytest.mark.parametrize("system", ["US", "SI"])
def test_every_function_reads_the_same_on_the_page_in_a_cell_and_in_python(system):
    @step("All")
    def every(one: float, other: float, blank: float | None, each: list[float]) -> float:
        return (
            ceil(one / other) + floor(one / other) - greatest(one, other) * least(one, other)
            + rounded(one / 3, 1) + cents(other / 3) + exactly(one) + or_zero(blank)
            + to_step(one, 5.0) / to_step(other, 2.0) - (one - (other - one))
            + either(one > other, lambda: one * 2, lambda: other / 2)
            + either(one < other, lambda: one, lambda: other)
            + sum(n * one for n in each)
        )  # fmt: skip

    found = recorded(every, 17.3, 4.9, None, [1.0, 2.5])
    shown = page(system).show(found)
    assert work_out(shown.sum) == pytest.approx(found.value)
    assert "IF(<one>><other>,<one>*2,<other>/2)" in formula(found)
    assert "ROUND(ROUND(<one>/5,0)*5,2)/(ROUND(ROUND(<other>/2,0)*2,2))" in formula(found)


def test_a_cell_that_may_be_blank_is_neither_linked_nor_used_by_a_formula():
    @step("More")
    def more(role: Wages) -> float:
        return role.extra * 2

    usual = recorded(more, FOREMAN)
    assert (page().show(usual).where, formula(usual)) == ("", "0.5*2")
    other = recorded(more, FOREMAN.model_copy(update={"extra": 0.75}))
    assert (page().show(other).where, formula(other)) == ("Crew!J6", "'Crew'!$J$6*2")


def test_a_choice_becomes_both_branches_of_a_formula():
    @step("Paid")
    def paid(role: Wages, hours: float) -> float:
        return either(role.basis == "hourly", lambda: hours * 2, lambda: hours)

    assert formula(recorded(paid, FOREMAN, 8.0)) == 'IF("hourly"="hourly",<hours>*2,<hours>)'
    assert page().show(recorded(paid, FOREMAN, 8.0)).sum == "8 x 2"


@pytest.mark.parametrize("fault", [max, lambda a, b: a or b, lambda a, b: float(a) * b])
def test_what_cannot_be_shown_fails_and_does_not_pass_in_silence(fault):
    @step("Longest")
    def longest(one: float, other: float) -> float:
        return fault(one, other)

    assert longest(1.0, 2.0) > 0
    with pytest.raises(TypeError):
        recorded(longest, 1.0, 2.0)


def test_a_result_that_lost_its_arithmetic_fails():
    @step("Fixed")
    def fixed(one: float) -> float:
        return 2.0

    with pytest.raises(AssertionError, match="lost its arithmetic"):
        recorded(fixed, 1.0)


def test_steps_inside_a_step_are_part_of_it():
    @step("Twice")
    def twice(role: Wages) -> Money:
        return pay(role, 1.0) * 2

    assert page().show(recorded(twice, FOREMAN)).sum == "ROUND(40 x (1 + 0.45) x 1, 2) x 2"


def test_a_number_kept_with_its_working_is_shown_later():
    kept = pay.worked(FOREMAN, 10.0)
    assert kept.value == 580.0
    assert page().show(kept.recorded()).sum == "ROUND(40 x (1 + 0.45) x 10, 2)"


def test_a_step_takes_arrays_where_nobody_records():
    halves = np.array([0.005, 1.005, 2.0])
    assert cents(halves).tolist() == [0.01, 1.01, 2.0]
    assert to_step(np.array([12.0, 13.0]), 5.0).tolist() == [10.0, 15.0]


def test_recording_ends_with_its_block():
    recorder = Recorder()
    with recorder.on():
        pay(FOREMAN, 1.0)
    pay(FOREMAN, 2.0)
    assert len(recorder.steps) == 1


def test_a_constant_is_its_own_word():
    found = recorded(face_mm2, Pipe(100.0, 10.0))
    assert next(word(leaf) for leaf in found.mark.leaves()) == "pi"


@pytest.mark.parametrize("basis", ["markup on cost", "margin on price"])
@pytest.mark.parametrize("size", [None, 10.0])
def test_the_live_formulas_of_the_markup_follow_every_choice(basis, size):
    """One text whatever is chosen: changing a choice in its cell changes the price."""
    rates = jobs.rates(profit_basis=basis, bid_step=size)
    with Recorder().on() as recorder:
        markup.markup({markup.ALL_TYPES: 1234.56}, 1234.56, 0.0, rates)
    known = {one.key: one for one in recorder.steps}
    at = {"cost": "C1", "exact": "C2", "unmarked": "C3", "damages": "C4",
          "profit_share": "C5", "profit_on_cost": "C6"}  # fmt: skip
    text = {
        key: cell_formula(one, lambda *place: f"[{place[2]}]", at.get, known)
        for key, one in known.items()
    }
    assert text["on_cost"] == (
        'IF([profit_basis]="margin on price",(P)/(1-(P)),(P))'.replace("(P)", "C5")
    )
    assert text["profit"] == "ROUND((C1-C3)*C6,2)"
    assert text["unmarked"] == 'IF([damages_carry]="no markup",C4,0)'
    assert text["rounding"] == (
        "IF([bid_step]>0,ROUND(ROUND(ROUND(C2/[bid_step],0)*[bid_step],2)-C2,2),0)"
    )


def test_the_percent_of_a_type_follows_a_blank_and_stands_without_a_cell():
    made = markup.profit_share.worked("labor", jobs.rates()).recorded()
    assert cell_formula(made, lambda *place: f"[{place[2]}]") == (
        'IF([profit_labor]="",[profit],[profit_labor])'
    )
    only_one = cell_formula(made, lambda *place: "P1" if place[2] == "profit" else None)
    assert only_one == 'IF(""="",P1,0)'
    own = markup.profit_share.worked("labor", jobs.rates(profit_labor=0.0)).recorded()
    assert own.value == 0.0


def test_a_changed_rule_changes_number_text_and_formula_together(monkeypatch):
    monkeypatch.setattr(
        markup.contingency,
        "fn",
        lambda marked_by_type, contingency_by_type: cents(
            marked_by_type["all types"] * contingency_by_type["all types"] / 2
        ),
    )
    with Recorder().on() as recorder:
        chain = markup.markup({markup.ALL_TYPES: 1000.0}, 1000.0, 0.0, jobs.rates(contingency=0.1))
    (made,) = (one for one in recorder.steps if one.key == "contingency")
    assert made.value == chain.contingency == 50.0
    assert page().show(made).sum == "ROUND(1,000 x 0.1 / 2, 2)"
    assert cell_formula(made, lambda *place: place[2], lambda key: key) == (
        "ROUND(marked_by_type.all types*contingency_by_type.all types/2,2)"
    )


small = st.floats(0.01, 5000).map(lambda x: round(x, 3))


@given(small, small, small)
def test_a_sum_keeps_its_value_and_its_brackets(a, b, c):
    for form in FORMS:
        found = recorded(step("Brackets")(form), a, b, c)
        slack = 1e-4 * max(abs(found.value), a, b, c, 1e-3)
        assert work_out(page().show(found).sum) == pytest.approx(found.value, abs=slack)


@step("Spread")
def spread(high: float, low: float) -> float:
    return (high - low) * 2


def test_a_number_below_zero_behind_a_sign_stands_in_brackets():
    found = recorded(spread, 218.333, -12.0)
    assert page().show(found).sum == "(218.333 - (-12)) x 2"


@step("Hours of all days")
def of_all_days(days: tuple[float, ...]) -> float:
    return sum(days)


def test_a_sum_of_any_length_is_shown_by_its_first_numbers_and_its_last():
    days = tuple(float(n) for n in range(1, 20_001))
    made = recorded(of_all_days, days)
    shown = page().show(made)
    assert shown.value == 200_010_000.0  # n (n + 1) / 2
    assert shown.sum == "1 + 2 + 3 + 4 + 5 + 6 + 7 + 8 + 9 + 10 + ... (20,000 numbers) + 20,000"
    assert sum(1 for _ in made.mark.leaves()) == 20_000
    assert cell_formula(made, lambda *_: None, lambda _: "").endswith("+19999+20000")


FORMS = (
    lambda a, b, c: a - (b - c),
    lambda a, b, c: a / (b * c),
    lambda a, b, c: a * (b + c),
    lambda a, b, c: a - b + c,
    lambda a, b, c: (a + b) / c,
    lambda a, b, c: greatest(a, b) * c,
    lambda a, b, c: a / nearest_step(b, 0.01) - ceil_step(c + b, 0.1),
)
