"""docs/python.md runs as it stands; tables hold the numbers of the estimate."""

import datetime as dt
import json
import pathlib
import re

import pytest

import estimator
from estimator.errors import EstimatorError
from estimator.export import tables as tables_module
from estimator.models.job import Run
from tests.jobs import job, machine, run

ROOT = pathlib.Path(__file__).parent.parent
BLOCKS = re.findall(r"```python\n(.*?)```", (ROOT / "docs/python.md").read_text("utf-8"), re.S)


@pytest.fixture(scope="module")
def found():
    return estimator.estimate(job(run("A", test_section="T"), run("B", elbows=2, tie_ins=2)))


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_the_page_runs(number, tmp_path, monkeypatch):
    if "to_pandas" in BLOCKS[number]:
        pytest.importorskip("pandas")
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    (tmp_path / "build").mkdir()
    monkeypatch.chdir(tmp_path)
    exec(compile(BLOCKS[number], f"python.md, block {number}", "exec"), {})


def test_an_estimate_hands_out_its_own_tables(found):
    assert found.tables() == estimator.tables(found)
    assert found.to_dict() == estimator.to_dict(found)


def test_tables_add_up_to_the_estimate(found):
    made = estimator.tables(found)
    assert sum(row.butt_joints for row in made.runs) == found.butt_joints
    assert sum(row.joints for row in made.plan) == found.butt_joints
    paid = sum(row.labor_hours for row in made.shifts)
    assert paid == pytest.approx(found.total_labor_hours)
    assert sum(row.labor_hours for row in made.weeks) == pytest.approx(paid)
    assert round(sum(row.amount for row in made.cost_lines), 2) == float(found.bid.job_cost)
    assert round(sum(row.amount for row in made.bid_items), 2) == float(found.bid.price)
    assert [row.section for row in made.hydrotests] == ["T"]
    assert len(made.rental) == len(found.fleet.spans)


def test_every_value_is_of_the_type_that_its_column_says(found):
    for name, rows in estimator.tables(found)._asdict().items():
        for row in rows:
            for column, kind in tables_module.ROWS[name].__annotations__.items():
                value = getattr(row, column)
                allowed = (int, float) if kind is float else kind
                assert isinstance(value, allowed), (name, column, value)


def test_a_reason_is_in_words_everywhere(found):
    text = json.dumps(estimator.to_dict(found))
    assert "{need}" not in text
    assert "{limit}" not in text
    assert not any("{" in row.why for row in estimator.tables(found).rejected)


def test_dates_of_a_frame_are_dates(found):
    pytest.importorskip("pandas")
    frames = estimator.to_pandas(found)
    assert frames["plan"]["date"].min() == dt.datetime(*found.plan.start.timetuple()[:3])
    assert list(frames) == list(estimator.Tables._fields)
    assert not frames["cost_lines"].empty


def test_without_pandas_the_message_says_what_to_install(found, monkeypatch):
    def missing(name):
        raise ImportError(name)

    monkeypatch.setattr(tables_module, "import_module", missing)
    with pytest.raises(EstimatorError, match="needs pandas"):
        estimator.to_pandas(found)


def test_a_path_and_a_workbook_give_the_same(tmp_path):
    path = ROOT / "examples" / "raw_water_main.xlsx"
    workbook = estimator.read_workbook(str(path))
    of_path, of_workbook = estimator.estimate(path), estimator.estimate(workbook)
    assert of_path.bid == of_workbook.bid
    assert list(of_path.warnings)[: len(workbook.warnings)] == list(workbook.warnings)


def test_old_names_of_fields_hold_in_programs_written_before():
    """Lengths and measures of equipment had names without their unit."""
    made = run("A").model_dump()
    made["stick_length"], made["length"] = made.pop("stick_length_m"), (24.0, 36.0)
    del made["segments_m"]
    old = Run(**made)
    assert (old.length_m, old.length, old.stick_length) == (60.0, (24.0, 36.0), old.stick_length_m)
    assert old.model_copy(update={"length": (12.0,)}).segments_m == (12.0,)
    wide = machine(od_max=400.0)
    assert wide.od_max_mm == wide.od_max == 400.0
    with pytest.raises(AttributeError):
        _ = wide.od_most
