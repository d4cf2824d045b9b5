"""The live formulas of the site records say in a spreadsheet program what the command says."""

import datetime as dt

import pytest

from estimator import api
from estimator.after_award import records_of
from estimator.progress.joint_log import judge_records
from estimator.workbook.book import parse_workbook
from estimator.workbook.package.package import Package
from tests import office
from tests.site_book import DAY, GOOD, filled, place, started
from tests.small_book import small_book


def gauge(data, row):
    """A gauge that is right for a row: its base and 40 psi of drag."""
    return (
        40
        + 1
        + round(records_of(parse_workbook(data)).records.joint_log[row].base_gauge_mpa * 145.0377)
    )


CASES = (
    {},
    {"heater_out_min": dt.time(8, 5), "closed_min": dt.time(8, 5, 10)},
    {"closed_min": dt.time(8, 13)},
    {"cool_end_min": dt.time(8, 30)},
    {"bead_2_mm": 0.2},
    {"misalignment_mm": 0.5},
    {"gauge_set_mpa": 500},
    {"visual": "reject", "cause": "offset"},
    {"visual": "hold"},
    {"cool_end_min": None},
    {"operator": None},
    {"visual": None, "bead_1_mm": 0.1},
    {"heat_start_min": dt.time(23, 50), "heater_out_min": dt.time(0, 2),
     "closed_min": dt.time(0, 2, 15), "cool_end_min": dt.time(0, 30)},
)  # fmt: skip


@pytest.fixture(scope="module")
def logged(tmp_path_factory):
    """A workbook with a row for each case, as read and as recalculated."""
    data, entries = started(), {}
    for row, case in enumerate(CASES):
        typed = GOOD | {"gauge_set_mpa": gauge(data, row)} | case
        entries["joint_log", row] = {key: v for key, v in typed.items() if v is not None}
    entries["daily_record", 0] = {
        "date": DAY, "crew": 1, "run_id": "R01", "people": 4, "paid_hours": 40, "moves": 1,
    }  # fmt: skip
    entries["daily_record", 1] = {
        "date": DAY, "crew": 1, "shift": "day", "run_id": "R02", "people": 4, "paid_hours": 8,
        "stick_joints": 2, "bolt_ups": 3,
    }  # fmt: skip
    entries["lost_time", 0] = {"date": DAY, "crew": 1, "minutes": 60, "cause": "weather"}
    entries["lost_time", 1] = {
        "date": DAY, "crew": 1, "shift": "night", "minutes": 30, "cause": "machine",
    }  # fmt: skip
    for row, paid_hours in ((2, 8), (3, 4)):
        rained_off = DAY + dt.timedelta(days=row)
        entries["daily_record", row] = {
            "date": rained_off, "crew": 1, "run_id": "R01", "people": 4, "paid_hours": paid_hours,
        }  # fmt: skip
        entries["lost_time", row] = {
            "date": rained_off, "crew": 1, "minutes": 600, "cause": "weather",
        }  # fmt: skip
    path = tmp_path_factory.mktemp("log") / "job.xlsx"
    path.write_bytes(filled(entries, data))
    shown = office.recalculate(path, sheets=("Joint log", "Daily record"))
    return path, records_of(parse_workbook(path.read_bytes())).records, shown


def value(shown, table, key, row):
    sheet, address = place(table, key, row)
    return shown[sheet].get(address)


def test_no_cell_shows_an_error(logged):
    assert office.errors_in(logged[2]) == []


def test_every_verdict_is_that_of_the_command(logged):
    _, records, shown = logged
    judged = judge_records(records).joints
    seen = set()
    for row in range(len(CASES) + 2):
        text = value(shown, "joint_log", "verdict", row)
        seen.add(judged[row].verdict)
        expected = judged[row].verdict
        if judged[row].reasons == ("no trial fusion accepted",):
            expected = "accepted"
        assert text.startswith(expected), (row, text, judged[row])
    assert {"accepted", "out of limits", "reject", "hold", "incomplete", "not made"} <= seen


def test_durations_and_limits_are_shown(logged):
    _, records, shown = logged
    day = 86400
    assert value(shown, "joint_log", "soak", 0) * day == pytest.approx(720, abs=0.01)
    assert value(shown, "joint_log", "open_close", 0) * day == pytest.approx(15, abs=0.01)
    assert value(shown, "joint_log", "soak", 12) * day == pytest.approx(720, abs=0.01)
    limit = next(b for b in records.cooling_by_air if b.pipe == records.joint_log[0].pipe).low_s
    assert value(shown, "joint_log", "cool_min", 0) * day == pytest.approx(limit, abs=0.01)


def account_of(shown, row):
    keys = ("paid", "fixed", "moved", "lost", "joining", "unexplained")
    return [value(shown, "daily_record", key, row) for key in keys]


def test_the_account_of_a_day_rained_off_counts_what_is_paid(logged):
    """600 min lost, 120 or 60 paid: startup, breaks and wrap-up of 95 min, the rest lost."""
    _, _, shown = logged
    job = parse_workbook(small_book()).job
    assert job.shift.startup_min + job.shift.breaks_min + job.shift.wrapup_min == 95
    assert account_of(shown, 2) == pytest.approx([120, 95, 0, 25, 0, 0], abs=0.01)
    assert account_of(shown, 3) == pytest.approx([60, 60, 0, 0, 0, 0], abs=0.01)


def test_the_shift_account_is_that_worked_by_hand(logged):
    """10 h of 4 people; the Job sheet's fixed minutes and an hour of weather over two rows.

    The joints of the first row take all that is paid on it, so none of it was lost.
    """
    _, records, shown = logged
    job = parse_workbook(small_book()).job
    fixed = job.shift.startup_min + job.shift.breaks_min + job.shift.wrapup_min
    plan = {run.run_id: run for run in records.planned_runs}
    kinds = [row.kind for row in records.joint_log[: len(CASES)]]
    first = plan["R01"]
    minutes = {"stick": first.stick_min, "trial fusion": first.test_min,
               "fitting": first.fitting_min, "rework": first.rework_min,
               "tie-in": first.tie_in_min}  # fmt: skip
    joining = sum(minutes[kind] for kind in kinds)
    account = account_of(shown, 0)
    moved = job.moves.machine_move_min
    left = 600 - fixed / 2 - moved - joining
    assert left < 0
    assert account == pytest.approx([600, fixed / 2, moved, 0, joining, left], abs=0.1)
    second = 2 * plan["R02"].stick_min + 3 * plan["R02"].bolt_ups_min
    assert value(shown, "daily_record", "joining", 1) == pytest.approx(second, abs=0.01)


AIRS = (-5.0, 14.9, 15.0, 24.0, 25.0, 39.0, 41.0, None)


def test_cooling_follows_the_air_of_the_row_where_the_method_asks_for_it(tmp_path):
    """DVS 2207-1 of 2015: three bands of air, 15 and 25 C in the warmer one, none above 40."""
    base = Package.open(small_book("tailings_line"))
    workbook = parse_workbook(base.fill_cells({"Job": {method_cell(): "dvs2207"}}))
    data = api.with_site_records(workbook)
    entries = {("joint_log", row): {"ambient_c": air, "date": DAY}
               for row, air in enumerate(AIRS) if air is not None}  # fmt: skip
    path = tmp_path / "si.xlsx"
    path.write_bytes(filled(entries, data))
    shown = office.recalculate(path, sheets=("Joint log",))
    records = records_of(parse_workbook(path.read_bytes())).records
    bands = [b for b in records.cooling_by_air if b.pipe == records.joint_log[0].pipe]
    cold, mild, hot = (band.low_s for band in bands)
    assert cold < mild < hot
    expected = (cold, cold, mild, mild, hot, hot, None, None)
    for row, limit in enumerate(expected):
        got = value(shown, "joint_log", "cool_min", row)
        assert got == (None if limit is None else pytest.approx(limit / 86400, abs=1e-7)), row


def method_cell():
    places = parse_workbook(small_book("tailings_line")).places
    return places.where("job", "", "method").partition("!")[2]
