"""Models are checked where they are made, and frozen; data classes are worked out at first use."""

import copy
import datetime as dt
import math
import pickle
import re
import subprocess
import sys
from dataclasses import FrozenInstanceError, asdict, field, fields, is_dataclass, replace
from pathlib import Path
from typing import Annotated, ClassVar, Literal, NamedTuple

import numpy as np
import pytest

from estimator.data_class import dataclass
from estimator.models.base import Model, ModelError
from estimator.models.kinds import OneOf
from estimator.models.places import Places
from tests.each import each


class Amount(Model):
    """A model inside another."""

    value: float
    per: str = "ft"


class Pair(NamedTuple):
    """What is taken as it is."""

    a: int
    b: int


class Sample(Model):
    """One field of each kind."""

    TABLE: ClassVar[str] = "sample"

    number: float = 1.0
    count: int = 0
    text: str = ""
    said: bool = False
    date: dt.date = dt.date(2027, 3, 1)
    word: Literal["day", "night"] = "day"
    named: Annotated[str, OneOf(("stick", "coil"))] = "stick"
    maybe: float | None = None
    either: str | int | float | dt.date = 0
    many: tuple[float, ...] = ()
    three: tuple[int, int, int] = (0, 0, 0)
    amount: Amount = Amount(value=2.0)
    amounts: tuple[Amount, ...] = ()
    by_name: dict[str, int] = {}  # noqa: RUF012
    pair: Pair = Pair(1, 2)


TAKEN = (
    ("number", 3, 3.0), ("number", 0.5, 0.5), ("count", 4.0, 4), ("text", " R1 ", "R1"),
    ("said", True, True), ("date", "2027-06-04", dt.date(2027, 6, 4)),
    ("date", dt.datetime(2027, 6, 4), dt.date(2027, 6, 4)),
    ("word", "night", "night"), ("named", "coil", "coil"), ("maybe", None, None),
    ("maybe", 2, 2.0), ("either", 2, 2), ("either", "x", "x"), ("either", 2.5, 2.5),
    ("either", dt.date(2027, 1, 1), dt.date(2027, 1, 1)), ("many", [1, 2], (1.0, 2.0)),
    ("three", (1, 2, 3), (1, 2, 3)), ("amount", {"value": 1}, Amount(value=1.0)),
    ("amounts", [{"value": 1, "per": "m"}], (Amount(value=1.0, per="m"),)),
    ("by_name", {"a": 2.0}, {"a": 2}), ("pair", Pair(3, 4), Pair(3, 4)),
    ("number", np.int64(3), 3.0), ("count", np.int64(4), 4), ("count", np.float64(4), 4),
)  # fmt: skip
REFUSED = (
    ("number", "3", "a number"), ("number", True, "a number"), ("number", math.inf, "a number"),
    ("number", math.nan, "a number"), ("number", None, "a number"), ("count", 1.5, "a whole"),
    ("count", "1", "a number"), ("count", False, "a number"), ("text", 5, "text"),
    ("text", None, "text"), ("said", 1, "true or false"), ("date", "tomorrow", "isoformat"),
    ("date", dt.datetime(2027, 6, 4, 7), "a date"), ("date", 46000, "a date"),
    ("word", "dusk", "one of day, night"), ("word", ["day"], "one of day, night"),
    ("named", "reel", "one of stick, coil"), ("maybe", "x", "a number"), ("either", None, "str or"),
    ("many", 1.0, "a list"), ("many", (1.0, "x"), "a number"), ("three", (1, 2), "3 values"),
    ("amount", 5, "Amount"), ("amount", {"price": 1}, "no field"), ("by_name", [1], "a mapping"),
    ("pair", (1, 2), "Pair"),
)  # fmt: skip


@each("name, value, expected", TAKEN)
def test_a_field_takes(name, value, expected):
    found = getattr(Sample(**{name: value}), name)
    assert found == expected
    assert type(found) is type(expected)


@each("name, value, words", REFUSED)
def test_a_field_refuses(name, value, words):
    with pytest.raises(ModelError, match=f"Sample: .*{name} .*{words}"):
        Sample(**{name: value})


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(ModelError) as caught:
        Amount(per=1, weight=2.0)
    assert str(caught.value) == (
        "Amount: value is missing; per must be text, got 1; weight is no field of it"
    )


def test_a_model_is_frozen_and_equal_by_its_values():
    one, same = Amount(value=1), Amount(value=1.0, per="ft")
    assert one == same
    assert hash(one) == hash(same)
    assert one != Amount(value=1.0, per="m")
    with pytest.raises(AttributeError, match="frozen"):
        one.value = 2.0
    with pytest.raises(AttributeError, match="frozen"):
        del one.value
    assert repr(one) == "Amount(value=1.0, per='ft')"
    assert copy.copy(one) == pickle.loads(pickle.dumps(one)) == one


def test_a_changed_copy_leaves_the_model_as_it_was():
    one = Sample(text="a")
    other = one.model_copy(update={"text": "b"})
    assert (one.text, other.text) == ("a", "b")
    assert other.model_copy(update={"text": "a"}) == one


def test_a_model_as_plain_values():
    one = Sample(amounts=(Amount(value=1),), by_name={"a": 1})
    plain = one.model_dump()
    assert plain["amounts"] == ({"value": 1.0, "per": "ft"},)
    assert plain["date"] == dt.date(2027, 3, 1)
    for_json = one.model_dump(mode="json")
    assert for_json["amounts"] == [{"value": 1.0, "per": "ft"}]
    assert for_json["date"] == "2027-03-01"
    assert Sample.model_validate({**for_json, "pair": one.pair}) == one


def test_fields_tell_their_kind_and_default():
    assert Amount.model_fields["per"].default == "ft"
    assert Amount.model_fields["value"].default is ...
    assert Sample.model_fields["count"].annotation is int
    assert "TABLE" not in Sample.model_fields


def parts():
    """Return a data class, one made of it, and a variable one; none is worked out yet."""

    @dataclass(frozen=True)
    class Part:
        """A part."""

        name: str
        size: float = 1.0
        notes: list[str] = field(default_factory=list)

    @dataclass(frozen=True, kw_only=True)
    class Larger(Part):
        """A part with more."""

        more: int

    @dataclass()
    class Tally:
        """What may change."""

        count: int = 0

    return Part, Larger, Tally


def worked_out(kind):
    return isinstance(kind.__dict__["__dataclass_fields__"], dict)


def test_a_data_class_is_worked_out_when_one_is_made():
    part, larger, tally = parts()
    assert not any(map(worked_out, (part, larger, tally)))
    one = part("a")
    assert worked_out(part)
    assert not worked_out(larger)
    assert (one.size, one.notes) == (1.0, [])
    assert one == part("a")
    assert asdict(one) == {"name": "a", "size": 1.0, "notes": []}
    with pytest.raises(FrozenInstanceError):
        one.name = "b"
    assert hash(part("a", notes=())) == hash(part("a", notes=()))
    counted = tally()
    counted.count += 1
    assert counted.count == 1


def test_a_data_class_made_of_another_is_worked_out_with_it():
    part, larger, _ = parts()
    one = larger(name="a", more=2)
    assert worked_out(part)
    assert replace(one, more=3) == larger(name="a", more=3)
    with pytest.raises(TypeError):
        larger("a", 1.0, [], 2)


def test_who_asks_for_the_fields_has_a_data_class_worked_out():
    part, larger, tally = parts()
    assert [one.name for one in fields(larger)] == ["name", "size", "notes", "more"]
    assert worked_out(part)
    assert is_dataclass(tally)
    assert worked_out(tally)


def test_the_checks_of_models_are_light_to_load():
    code = "import sys, estimator.models.estimate; print('pydantic' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert run.stdout.strip() == "False"


SLOTS_OR_IDENTITY = {
    "input_errors/of_job.py",
}
"""Where the options of the standard library's own are needed."""


def test_data_classes_are_those_that_wait():
    folder = Path(__file__).parent.parent / "estimator"
    direct = {
        source.relative_to(folder).as_posix()
        for source in folder.rglob("*.py")
        if re.search(r"^from dataclasses import .*\bdataclass\b", source.read_text("utf-8"), re.M)
    }
    assert direct == SLOTS_OR_IDENTITY


def test_a_place_is_asked_only_for_a_field_that_there_is():
    """A blank cell has no place; a field that no table has is a slip, such as an old key."""
    places = Places(cells={("job", "", "crews"): "'Job'!$B$9"})
    assert places.cell("job", "", "crews") == "'Job'!$B$9"
    assert places.cell("job", "", "deadline") is None
    assert places.where("joint_log", "7", "joint_no") == "7"
    for table, key in (("job", "ambient"), ("jobs", "crews"), ("", "")):
        for ask in (places.cell, places.live, places.where):
            with pytest.raises(LookupError, match=f"{table}.{key} is no field"):
                ask(table, "", key)
