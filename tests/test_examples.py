"""docs/examples.md is run: every sum worked out again, every result compared with the program."""

import ast
import json
import math
import operator
import re
import shlex
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli import main
from estimator.joint.takeoff import count_job
from estimator.units import to_si
from tests.each import each
from tests.jobs import job, run

PAGE = (Path(__file__).parent.parent / "docs" / "examples.md").read_text("utf-8")
BLOCK = re.compile(r"```(\w*)\n(.+?)\n```\n(.*?)(?=```|\Z)", re.DOTALL)
SUM = re.compile(r"`([^`=]+) = (-?[\d.]+)`")
ROW = re.compile(r"^\| (?P<label>[^|]+) \| (?P<number>[\d.]+) ?(?P<unit>\S*) \|$")
KEY = re.compile(r"(\w+)(?:\.(\w+))?(?:\[(\d)\])?")
KEYS = {
    "Outside diameter": "od_mm",
    "Minimum wall": "wall_mm",
    "Weight": "weight_kg_m",
    "Bead at least": "bead_min_mm",
    "Heat soak": "soak_s",
    "Max open/close": "open_close_max_s",
    "Cool under pressure": "cool_s",
    "Cooling rest": "rest_s",
    "Joint area": "joint_area_mm2",
    "Gauge, low": "gauge_range_mpa[0]",
    "Gauge, nominal": "gauge_mpa",
    "Gauge, high": "gauge_range_mpa[2]",
    "Force, nominal": "force_n",
    "Max pressure build-up time": "ramp_max_s",
    "Average inside diameter": "id_mm",
    "Ratio": "dr",
    "Sticks": "sticks",
    "Strings": "strings",
    "Tie-ins": "tie_in_joints",
    "Joints at fittings": "fitting_joints",
    "Butt joints": "butt_joints",
    "Melt depth": "thermal.melt_depth_mm",
    "Taken by the bead": "thermal.bead_depth_mm",
    "Heat of both ends": "thermal.energy_kj",
}
"""The field of the JSON export that each result of the page is."""
FUNCTIONS = {"sqrt": math.sqrt, "exp": math.exp, "erf": math.erf, "erfc": math.erfc,
             "ceil": math.ceil}  # fmt: skip
OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
    ast.USub: operator.neg,
}


@dataclass(frozen=True)
class Example:
    """What is asked of the program, and the values that the page works out by hand."""

    kind: str
    ask: str
    results: tuple[re.Match, ...]


def examples():
    found = []
    for kind, ask, rest in BLOCK.findall(PAGE):
        rows = tuple(filter(None, (ROW.match(line) for line in rest.splitlines())))
        found.append(Example(kind, " ".join(ask.split()), rows))
    return found


EXAMPLES = examples()
SUMS = SUM.findall(PAGE)


def half_digit(text):
    return float(Decimal(1).scaleb(Decimal(text).as_tuple().exponent)) / 2


def work_out(text):
    def value(node):
        match node:
            case ast.Constant(float() | int()):
                return node.value
            case ast.Name("pi"):
                return math.pi
            case ast.BinOp():
                return OPERATORS[type(node.op)](value(node.left), value(node.right))
            case ast.UnaryOp():
                return OPERATORS[type(node.op)](value(node.operand))
            case ast.Call(ast.Name(name), [argument]):
                return FUNCTIONS[name](value(argument))
        pytest.fail(f"{text} is no sum")

    return value(ast.parse(text.replace("^", "**"), mode="eval").body)


def joint(ask, capsys):
    command, *options = shlex.split(ask)
    assert command == "estimator"
    assert main([*options, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def length_m(text):
    number, unit = re.fullmatch(r"([\d.]+)(ft|m)", text.strip()).groups()
    return to_si(float(number), unit)


def count(ask):
    given = dict(part.strip().split(" ", 1) for part in ask.split(","))
    changes = {"segments_m": tuple(map(length_m, given["length"].split(";")))}
    changes["stick_length_m"] = length_m(given["stick"])
    if "string" in given:
        changes["string_length_m"] = length_m(given["string"])
    changes["elbows"] = int(given.get("elbows", 0))
    (found,) = count_job((run(**changes),), job().counting)
    return found._asdict()


def result(found, key):
    name, inner, index = KEY.fullmatch(key).groups()
    value = found[name]
    value = value[inner] if inner else value
    return value[int(index)] if index else value


@each(("left", "right"), SUMS)
def test_each_sum_of_the_page_is_right(left, right):
    # A rounded number inside a sum may move it by a little more than half of the last digit.
    assert work_out(left) == pytest.approx(float(right), abs=1.05 * half_digit(right))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e.ask)
def test_each_example_gives_what_is_worked_out_by_hand(example, capsys):
    found = count(example.ask) if example.kind == "count" else joint(example.ask, capsys)
    assert example.results
    for row in example.results:
        number, unit, key = row["number"], row["unit"], KEYS[row["label"]]
        by_hand, slack = float(number), half_digit(number)
        if unit:
            slack = abs(to_si(by_hand + slack, unit) - to_si(by_hand, unit))
            by_hand = to_si(by_hand, unit)
        assert result(found, key) == pytest.approx(by_hand, abs=1.01 * slack), row["label"]


def test_the_page_is_read_whole():
    # Nothing on the page may be missed by the patterns above.
    assert len(re.findall(r"^## ", PAGE, re.MULTILINE)) >= 8
    assert sum(len(example.results) for example in EXAMPLES) == len(
        re.findall(r"^\| (?!Result).* \|$", PAGE, re.MULTILINE)
    )
    assert len(SUMS) == len(re.findall(r"`[^`\n]* = [^`\n]*`", PAGE))
    assert PAGE.count("```") == 2 * len(EXAMPLES)


@pytest.mark.parametrize(
    "method", ["f2620", "iso21307-slp", "iso21307-dlp", "iso21307-shp", "dvs2207", "dvs2207-2005"]
)
def test_every_method_has_an_example(method):
    assert any(f"--method {method}" in example.ask for example in EXAMPLES)
