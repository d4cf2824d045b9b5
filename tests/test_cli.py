import json
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from estimator import files
from estimator.cli import main
from tests.one_page import book_of
from tests.small_book import FIRST_RUNS, small_book

A_JOINT = ("--od-system", "IPS", "--size", "8", "--dr", "11", "--drag", "30psi")
EXAMPLES = Path(__file__).parent.parent / "examples"
JOINT_KEYS = {
    "od_mm", "wall_mm", "id_mm", "weight_kg_m", "joint_area_mm2", "method", "heater_c",
    "interfacial_mpa", "bead_min_mm", "soak_s", "open_close_max_s", "ramp_max_s", "cool_s",
    "rest_s", "force_n", "gauge_mpa", "sources",
}  # fmt: skip
RUN_KEYS = JOINT_KEYS | {
    "run_id", "butt_joints", "tie_in_joints", "other_joints", "cycle_min", "joints_per_shift",
    "labor_hours", "machine",
}  # fmt: skip
TOTAL_KEYS = {
    "butt_joints", "labor_hours", "work_days", "start", "finish", "direct_cost", "bid_price",
}  # fmt: skip


@pytest.fixture
def example(tmp_path):
    path = tmp_path / "job.xlsx"
    path.write_bytes(small_book())
    return path


def joint(*options, capsys):
    code = main(["joint", *options])
    return code, capsys.readouterr()


# Worked example printed in several public manuals: 8 in IPS DR 11, 75 psi, 4.71 in2, drag 30 psi;
# 338 printed, 337.5 recomputed.
def test_joint_gives_the_published_gauge_pressure(capsys):
    code, out = joint("--od-system", "IPS", "--size", "8", "--dr", "11", "--piston-area", "4.71in2",
                      "--drag", "30psi", "--json", capsys=capsys)  # fmt: skip
    found = json.loads(out.out)
    assert code == 0
    assert found["gauge_mpa"] / 0.00689475729 == pytest.approx(337.5, abs=0.1)
    assert found.keys() >= JOINT_KEYS


# Common practice: 2 in IPS DR 11 cools 2.375 min = 11 min/in x 2.375 / 11 in;
# the wall printed to 0.001 in allows half of that, 0.0055 min.
def test_joint_cools_two_inch_pipe_as_practice_has_it(capsys):
    _, out = joint("--od-system", "ips", "--size", "2", "--dr", "11", "--json", capsys=capsys)
    assert json.loads(out.out)["cool_s"] / 60 == pytest.approx(2.375, abs=0.0055)


@pytest.mark.parametrize(
    ("system", "size", "dr", "method", "ambient"),
    [("IPS", "1-1/4", "7", "f2620", "70F"), ("DIPS", "8", "11", "iso21307-shp", "20C"),
     ("CTS", "2", "9", "iso21307-dlp", "20C"), ("ISO", "110", "SDR 11", "iso21307-slp", "23C"),
     ("ISO", "315", "17", "dvs2207", "-5C")],
)  # fmt: skip
def test_joint_takes_every_system_and_method(system, size, dr, method, ambient, capsys):
    code, out = joint("--od-system", system, "--size", size, "--dr", dr, "--method", method,
                      "--ambient", ambient, "--json", capsys=capsys)  # fmt: skip
    found = json.loads(out.out)
    assert code == 0
    assert found.keys() >= JOINT_KEYS
    assert found["method"] == method
    assert {"od_mm", "wall_mm", "soak_s", "cool_s"} <= {s["figure"] for s in found["sources"]}


def test_joint_as_text_shows_each_figure_with_its_source(capsys):
    _, out = joint("--od-system", "IPS", "--size", "24", "--dr", "17", capsys=capsys)
    assert "Cool under pressure" in out.out
    assert "[from memory] ASTM F2620" in out.out
    assert "Planning figures only" in out.out


@pytest.mark.parametrize(
    ("options", "text"),
    [(("--size", "3.7", "--dr", "11"), "Use one of: 1/2, 3/4, 1,"),
     (("--size", "3", "--dr", "60"), "outside the allowed range (5 to 50"),
     (("--size", "3", "--dr", "PN 10"), "pressure class does not give the wall"),
     (("--size", "3", "--dr", "11", "--ambient", "70"), "a number with F or C"),
     (("--size", "3", "--dr", "11", "--drag", "3 bananas"), "needs a number and a unit"),
     (("--size", "3", "--dr", "11", "--drag", "1.2.3psi"), "needs a number and a unit")],
)  # fmt: skip
def test_joint_refuses_what_is_outside_the_tables(options, text, capsys):
    code, out = joint("--od-system", "IPS", *options, capsys=capsys)
    assert code == 1
    assert text in out.err
    assert out.out == ""


def test_wrong_usage_exits_two():
    with pytest.raises(SystemExit, match=r"^2$"):
        main(["joint", "--od-system", "XYZ", "--size", "2", "--dr", "11"])


def test_estimate_updates_the_file_and_keeps_the_version_before(example, capsys):
    before = example.read_bytes()
    assert main(["estimate", str(example)]) == 0
    assert (example.parent / "job.bak.xlsx").read_bytes() == files.marked(before)
    assert "Bid price" in capsys.readouterr().out
    book = book_of(example, ("Bid", "Checks"), data_only=True)
    assert "Bid price" in [row[0].value for row in book["Bid"].iter_rows()]
    assert book["Checks"]["B3"].value == "OK"


def test_estimate_to_another_file_leaves_the_first_alone(example, capsys):
    before = example.read_bytes()
    out = example.parent / "bid.xlsx"
    assert main(["estimate", str(example), "-o", str(out)]) == 0
    assert example.read_bytes() == before
    assert out.exists()
    assert not (example.parent / "job.bak.xlsx").exists()
    assert str(out) in capsys.readouterr().out


def test_estimate_twice_gives_the_same_results(example, capsys):
    main(["estimate", str(example)])
    first = example.read_bytes()
    main(["estimate", str(example)])
    assert example.read_bytes() == first


def test_json_holds_the_promised_keys_and_agreeing_totals(example, capsys):
    assert main(["estimate", str(example), "--json", "-"]) == 0
    out = capsys.readouterr()
    found = json.loads(out.out)
    assert found["runs"][0].keys() >= RUN_KEYS
    assert found["plan"][0].keys() >= {"date", "crew", "run_id", "joints"}
    assert found["totals"].keys() >= TOTAL_KEYS
    assert {"job", "equipment", "warnings"} <= found.keys()
    joints = found["totals"]["butt_joints"]
    assert sum(run["butt_joints"] for run in found["runs"]) == joints
    assert sum(line["joints"] for line in found["plan"]) == joints
    assert sum(run["labor_hours"] for run in found["runs"]) == pytest.approx(
        found["totals"]["labor_hours"]
    )
    assert "Bid price" in out.err
    risk = found["risk"]
    assert risk["base_price"] == found["totals"]["bid_price"]
    assert [line["share"] for line in risk["lines"]] == [0.1, 0.5, 0.8, 0.9]


def test_bad_input_shows_every_mistake_and_changes_nothing(example, capsys):
    book = openpyxl.load_workbook(example)
    sheet = book["Pipe schedule"]
    header = {cell.value: cell.column for row in sheet.iter_rows(max_row=8) for cell in row}
    first = next(c.row for row in sheet.iter_rows(max_row=8) for c in row if c.value == "Run") + 1
    sheet.cell(first, header["Size"]).value = "7-7/8"
    sheet.cell(first + 1, header["DR or SDR"]).value = "PN 16"
    sheet.cell(first + 2, header["Length"]).value = "about 300"
    book.save(example)
    before = example.read_bytes()
    assert main(["estimate", str(example)]) == 1
    text = capsys.readouterr().err.splitlines()
    assert [line.partition(": ")[0] for line in text] == [
        f"Pipe schedule!{sheet.cell(first + i, header[name]).coordinate}"
        for i, name in enumerate(("Size", "DR or SDR", "Length"))
    ]
    assert example.read_bytes() == before
    assert [p.name for p in example.parent.iterdir()] == ["job.xlsx"]


def test_check_says_that_good_inputs_are_good(example, capsys):
    before = example.read_bytes()
    assert main(["check", str(example)]) == 0
    assert f"inputs OK, {FIRST_RUNS} runs" in capsys.readouterr().out
    assert example.read_bytes() == before


def test_missing_file_is_one_plain_message(tmp_path, capsys):
    assert main(["estimate", str(tmp_path / "none.xlsx")]) == 1
    text = capsys.readouterr().err
    assert "none.xlsx" in text
    assert len(text.splitlines()) == 1


def test_output_of_another_kind_is_refused(example, capsys):
    assert main(["estimate", str(example), "-o", str(example.parent / "bid.csv")]) == 1
    assert "must end in .xlsx" in capsys.readouterr().err
    assert not (example.parent / "bid.csv").exists()


def test_output_that_is_there_is_kept_as_a_backup(example, capsys):
    out = example.parent / "bid.xlsx"
    out.write_bytes(b"somebody's bid")
    assert main(["estimate", str(example), "-o", str(out)]) == 0
    assert (example.parent / "bid.bak.xlsx").read_bytes() == b"somebody's bid"


def test_json_never_replaces_the_workbook(example, capsys):
    before = example.read_bytes()
    assert main(["estimate", str(example), "--json", str(example)]) == 1
    assert main(["estimate", str(example), "--json", str(example.parent / "no" / "x.json")]) == 1
    assert "This is the workbook itself" in capsys.readouterr().err
    assert example.read_bytes() == before


def test_file_that_is_no_workbook_is_named(tmp_path, capsys):
    path = tmp_path / "notes.xlsx"
    path.write_text("hello")
    assert main(["check", str(path)]) == 1
    assert "notes.xlsx: The file is not" in capsys.readouterr().err


@pytest.mark.parametrize("units", ["us", "si"])
def test_new_makes_a_workbook_and_never_overwrites(units, tmp_path, capsys):
    path = tmp_path / "new.xlsx"
    assert main(["new", str(path), "--units", units]) == 0
    made = path.read_bytes()
    assert main(["new", str(path), "--units", units]) == 1
    assert "--force" in capsys.readouterr().err
    assert path.read_bytes() == made


def test_new_example_is_the_committed_one(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    assert main(["new", str(path), "--example", "tailings_line"]) == 0
    assert path.read_bytes() == (EXAMPLES / "tailings_line.xlsx").read_bytes()


JOINTS_BY_HAND = {
    "FM-1": 51 + 47 + 14 * 2 + 2 + 2,
    "FM-2": 62 + 5 * 2 + 2 + 1,
    "FM-3": 13 + 23 + 2 * 2 + 3 + 1,
    "FM-4": 15 + 2,
    "FM-5": 23 + 4 * 2 + 3 + 1 + 1,
    "FM-6": 31 + 6 * 2 + 1 + 1,
    "FM-7": 11 + 2 * 3,
    "FM-8": 14,
    "FM-9": 1,
}
"""Between sticks of 50, 40 and 500 ft; then a bend 2, a reducer 2 with its other pipe, a tee 3, an
adapter, a cap and a tie-in 1 each, cut in mid-stick: the lines of the takeoff of the example."""


def test_new_example_estimates_to_what_is_counted_by_hand(tmp_path, capsys):
    """379 joints; 14,370 ft, the takeoff's own total; 11 min per inch of 24 in / 17."""
    path = tmp_path / "job.xlsx"
    assert main(["new", str(path), "--example", "county_force_main"]) == 0
    capsys.readouterr()
    assert main(["estimate", str(path), "--json", "-", "--quiet"]) == 0
    found = json.loads(capsys.readouterr().out)
    runs = {run["run_id"]: run for run in found["runs"]}
    assert {name: run["butt_joints"] for name, run in runs.items()} == JOINTS_BY_HAND
    assert found["totals"]["butt_joints"] == sum(JOINTS_BY_HAND.values()) == 379
    assert sum(run["length_m"] for run in runs.values()) == pytest.approx(14_370 * 0.3048)
    assert runs["FM-1"]["cool_s"] == pytest.approx(60 * 11 * 1.412)
    prices = [line["amount"] for line in found["cost_lines"]]
    assert sum(prices) == pytest.approx(found["totals"]["job_cost"], abs=0.005)


def test_empty_template_shows_what_is_missing(tmp_path, capsys):
    path = tmp_path / "job.xlsx"
    main(["new", str(path), "--units", "us"])
    assert main(["estimate", str(path)]) == 1
    text = capsys.readouterr().err
    assert "Job!" in text
    assert "Pipe schedule" in text


def test_unknown_example_lists_the_known_ones(tmp_path, capsys):
    assert main(["new", str(tmp_path / "x.xlsx"), "--example", "moon"]) == 1
    assert "raw_water_main" in capsys.readouterr().err


def test_module_and_command_are_the_same():
    run = subprocess.run(
        [sys.executable, "-m", "estimator", "--version"], capture_output=True, text=True, check=True
    )
    assert run.stdout.startswith("estimator 0.")


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["joint", *A_JOINT]])
def test_what_is_asked_often_loads_neither_models_nor_arrays(arguments):
    heavy = ("pydantic", "numpy", "lxml", "python_calamine", "xlsxwriter", "xlwings", "pandas")
    code = (
        "import sys; from estimator.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "ours = [m for m in sys.modules if m.partition('.')[0] == 'estimator']\n"
        f"print([m for m in {heavy} if m in sys.modules], len(ours), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
    )
    loaded, _, ours = done.stderr.strip().rpartition(" ")
    assert loaded == "[]"
    assert int(ours) < 50
