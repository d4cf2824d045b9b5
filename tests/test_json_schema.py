"""The JSON of every example fits its schema, and the schema asks for every key."""

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

import estimator
from estimator.export.schema import estimate_shape
from estimator.version import SCHEMA_VERSION
from tests.estimated import example
from tests.jobs import job, run

ROOT = Path(__file__).parent.parent
EXAMPLES = sorted(path.stem for path in (ROOT / "examples").glob("*.xlsx"))
SHAPE = estimate_shape()


@pytest.fixture(scope="module")
def found():
    return estimator.estimate(job(run("A", test_section="T"), run("B", elbows=2, tie_ins=2)))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_fits(name):
    """With the ranges and the assumptions that are weighed."""
    made = estimator.to_dict(example(name)[1])
    SHAPE.validate_json(json.dumps(made))
    assert made["schema_version"] == SCHEMA_VERSION


def test_a_job_without_ranges_tests_or_gauge_fits(found):
    SHAPE.validate_json(json.dumps(estimator.to_dict(found)))


def test_fleet_optimization_fits():
    changed = job(run("A"), run("B")).changed(fleet_choice="least total cost")
    made = estimator.to_dict(estimator.estimate(changed))
    assert made["fleet_choice"]["candidates"]
    SHAPE.validate_json(json.dumps(made))


@pytest.mark.parametrize("part", [(), ("totals",), ("runs", 0), ("cost_lines", 0), ("price",)])
def test_a_key_too_many_or_missing_does_not_fit(part, found):
    for change in (lambda at: at.update(guess=1), lambda at: at.popitem()):
        made = json.loads(json.dumps(estimator.to_dict(found)))
        at = made
        for key in part:
            at = at[key]
        change(at)
        with pytest.raises(ValidationError):
            SHAPE.validate_json(json.dumps(made))


def objects(schema):
    """Yield every object of a schema that names its keys."""
    for one in [schema, *schema["$defs"].values()]:
        if "properties" in one:
            yield one


def test_the_schema_names_every_key_and_allows_no_other():
    schema = estimator.json_schema()
    assert schema["$schema"].endswith("2020-12/schema")
    for one in objects(schema):
        assert one["additionalProperties"] is False, one
        assert set(one["required"]) == set(one["properties"]), one.get("title")
    saved = json.loads((ROOT / "docs/estimate.schema.json").read_text("utf-8"))
    assert saved == schema
