"""A test over many cases fails where any of them does, and names it."""

import re

import pytest

from tests.each import each


def test_every_case_is_run_and_all_that_fail_are_reported():
    seen = []

    @each(("number", "limit"), [(1, 5), pytest.param(7, 5, id="seven"), (9, 5), (2, 5)])
    def fits(number, limit, fixture):
        seen.append((number, fixture))
        assert number < limit

    with pytest.raises(AssertionError, match=r"2 of 4 cases fail\nseven: .*\n9, 5: ") as raised:
        fits(fixture="given")
    assert seen == [(n, "given") for n in (1, 7, 9, 2)]
    assert isinstance(raised.value.__cause__, AssertionError)


@pytest.mark.parametrize("outer", [1, 2])
@each("inner", range(3))
def test_it_stands_under_parametrize_and_takes_fixtures(outer, inner, tmp_path):
    assert outer in (1, 2)
    assert inner in (0, 1, 2)
    assert tmp_path.exists()


def test_cases_that_take_time_are_made_when_the_test_runs():
    asked = []

    def cases():
        asked.append("cases")
        return [3, 9]

    @each("number", cases)
    def fits(number):
        assert number < 5

    assert asked == []
    with pytest.raises(AssertionError, match=r"1 of 2 cases fail\n9: "):
        fits()
    assert asked == ["cases"]


def test_no_case_is_an_error():
    with pytest.raises(AssertionError, match=re.escape("no case")):
        each("x", [])

    @each("x", list)
    def none(x):
        raise NotImplementedError

    with pytest.raises(AssertionError, match=re.escape("no case")):
        none()
