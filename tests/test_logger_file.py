"""A data logger's CSV joined to the joint log: units, hash, blank cells only, contradictions."""

import datetime as dt
import hashlib

import pytest

from estimator.after_award import records_of
from estimator.cli.command import main
from estimator.errors import EstimatorError, InputError
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from estimator.workbook.read.logger_file import LoggerFile, join_logger
from tests.site_book import DAY, filled

MAPPED = (
    ("Joint no.", "ID", None),
    ("Date", "When", None),
    ("Heat start", "When", None),
    ("Closed", "Closed at", None),
    ("Drag read", "Drag", "bar"),
    ("Air", "T air", "C"),
    ("Operator", "Welder", None),
)
CSV = (
    "ID,When,Closed at,Drag,T air,Welder,Other\n"
    "R01-0001,2027-10-05 08:00:10,2027-10-05 08:12:30,3.0,20.5,A. Reyes,x\n"
    "R01-0002,2027-10-05 09:00:00,09:10:00,2.5,,A. Reyes,x\n"
    "Q99,2027-10-05 09:00:00,09:10:00,2.5,,A. Reyes,x\n"
)


def mapped(rows=MAPPED):
    """Return a workbook with a table of the logger's columns."""
    entries = {}
    for number, (ours, theirs, unit) in enumerate(rows):
        values = {"ours": ours, "theirs": theirs}
        entries["logger_columns", number] = values | ({"unit": unit} if unit else {})
    return filled(entries)


def found_in(data):
    return records_of(parse_workbook(data))


def test_a_file_fills_blank_cells_in_the_units_of_the_log():
    data = mapped()
    file = LoggerFile.parse("day5.csv", CSV.encode())
    joined = join_logger(found_in(data), file)
    assert joined.joints == 2
    assert [str(one) for one in joined.left_out] == [
        "day5.csv row 4: Joint no. 'Q99' is not in the Joint log. The row is left out"
    ]
    first, second = found_in(Package.open(data).fill_cells(joined.cells)).records.joint_log[:2]
    assert (first.heat_start_min, first.closed_min) == pytest.approx((480 + 1 / 6, 492.5))
    assert first.drag_mpa == pytest.approx(0.3, rel=1e-5)
    assert first.ambient_c == pytest.approx(20.5, abs=1e-3)
    assert first.date == DAY
    assert second.ambient_c is None
    assert (first.operator, first.logger_file) == ("A. Reyes", "day5.csv")
    assert first.logger_hash == hashlib.sha256(CSV.encode()).hexdigest()


def test_the_same_file_again_changes_nothing():
    data, file = mapped(), LoggerFile.parse("day5.csv", CSV.encode())
    once = Package.open(data).fill_cells(join_logger(found_in(data), file).cells)
    assert join_logger(found_in(once), file).cells == {}


def test_what_contradicts_the_log_is_reported_with_its_cell_and_nothing_is_filled():
    data = filled({("joint_log", 0): {"heat_start_min": dt.time(8, 5), "operator": "B. Cole"},
                   ("joint_log", 1): {"drag_mpa": 36.4}}, mapped())  # fmt: skip
    with pytest.raises(InputError) as caught:
        join_logger(found_in(data), LoggerFile.parse("day5.csv", CSV.encode()))
    texts = [str(problem) for problem in caught.value.problems]
    assert len(texts) == 2
    assert any("Heat start: 8:05:00 is not the 8:00:10 of day5.csv row 2" in t for t in texts)
    assert any("Operator: 'B. Cole' is not the 'A. Reyes' of day5.csv row 2" in t for t in texts)


def test_another_file_of_the_same_joint_is_a_contradiction():
    data, file = mapped(), LoggerFile.parse("day5.csv", CSV.encode())
    once = Package.open(data).fill_cells(join_logger(found_in(data), file).cells)
    other = LoggerFile.parse("day5.csv", CSV.replace("Other", "Else").encode())
    with pytest.raises(InputError, match="File SHA-256"):
        join_logger(found_in(once), other)


def test_faults_of_the_file_and_of_the_table_are_reported():
    bad = CSV.replace("3.0,20.5", "much,hot")
    with pytest.raises(InputError) as caught:
        join_logger(found_in(mapped()), LoggerFile.parse("f.csv", bad.encode()))
    assert [str(p).partition(" is not")[0] for p in caught.value.problems] == [
        "f.csv row 2: Drag: 'much'",
        "f.csv row 2: T air: 'hot'",
    ]
    good = LoggerFile.parse("f.csv", CSV.encode())
    more = mapped((*MAPPED, ("Bead 1", "Sort", None)))
    with pytest.raises(InputError, match=r"'Sort' is no column of f\.csv"):
        join_logger(found_in(more), good)
    with pytest.raises(InputError, match="names neither Joint no"):
        join_logger(found_in(mapped(MAPPED[3:])), good)
    twice = LoggerFile.parse("f.csv", CSV.replace("R01-0002", "R01-0001").encode())
    with pytest.raises(InputError, match="already in row 2"):
        join_logger(found_in(mapped()), twice)
    with pytest.raises(EstimatorError, match="no text file"):
        LoggerFile.parse("f.bin", b"\x00\x01")
    with pytest.raises(EstimatorError, match="no row below"):
        LoggerFile.parse("f.csv", b"ID;Drag\n")


def test_semicolons_and_decimal_commas_are_read():
    text = CSV.replace(",", ";").replace("3.0", "3,0").replace("20.5", "20,5")
    data = mapped()
    joined = join_logger(found_in(data), LoggerFile.parse("f.csv", text.encode("utf-8-sig")))
    first = found_in(Package.open(data).fill_cells(joined.cells)).records.joint_log[0]
    assert first.drag_mpa == pytest.approx(0.3, rel=1e-5)


def test_the_command_joins_a_file_and_a_faulty_one_leaves_the_workbook(tmp_path, capsys):
    path, log = tmp_path / "job.xlsx", tmp_path / "day5.csv"
    path.write_bytes(mapped())
    log.write_text(CSV)
    assert main(["log", str(path), "--logger", str(log)]) == 0
    assert "day5.csv: 2 joints joined" in capsys.readouterr().out
    assert found_in(path.read_bytes()).records.joint_log[1].logger_file == "day5.csv"
    before = path.read_bytes()
    log.write_text(CSV.replace("08:12:30", "08:20:30"))
    assert main(["log", str(path), "--logger", str(log)]) == 1
    assert "Closed: 8:12:30 is not the 8:20:30" in capsys.readouterr().err
    assert path.read_bytes() == before
