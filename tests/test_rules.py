"""Every rule of the inputs, broken once through each door: workbook, Python, scenario, option."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from estimator import InputError, UnknownNameError, estimate
from estimator.input_errors import (
    all_rules,
    dates,
    equipment,
    on_site,
    owner_items,
    priced_items,
    runs,
    scenarios,
    shifts,
    tables,
)
from estimator.input_errors.entries import header
from estimator.input_errors.of_job import broken_by
from estimator.inputs.column import usual_column
from estimator.inputs.dictionary import LEFT_OUT, fields, input_tables, overridable
from estimator.models.calendar import OvertimeSpan
from estimator.models.job import Job, Override
from estimator.models.job_inputs import GROUP_OF
from estimator.models.rates import MoneyRate
from estimator.whatif import compare, options
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests.workbook_factory import WorkbookFactory

PARTS = {"schedule": "runs", "risk": "risk_ranges"}
SOME_DAY = dt.date(2027, 3, 1)


def book() -> WorkbookFactory:
    """A workbook of two runs with an entry in every table."""
    made = WorkbookFactory()
    made.tables["crew_dates"] = [
        {"crew": 1, "from_date": SOME_DAY, "to_date": dt.date(2027, 3, 20)},
        {"crew": 1, "from_date": dt.date(2027, 3, 22)},
    ]
    made.tables["holds"] = [
        {"run": "R1", "from_date": dt.date(2027, 3, 3), "to_date": dt.date(2027, 3, 4),
         "cause": "permit"},
    ]  # fmt: skip
    made.tables["owner_items"] = [
        {"item": "Mobilization", "owner_no": "10"}, {"item": "Demobilization", "owner_no": "11"},
    ]  # fmt: skip
    made.tables["bid_terms"] = [{"place": "condition", "text": "One lane stays open"}]
    return made


def parsed(factory: WorkbookFactory) -> Job:
    return parse_job(FileSource(factory.build())).job


@pytest.fixture(scope="module")
def tidy() -> Job:
    """A job of two runs with an entry in every table and without a ratio that never pays."""
    return parsed(book()).changed(option_crews=0, risk_trials=0)


@dataclass(frozen=True)
class Case:
    """One broken rule: the values that break it, and what is said of which input.

    ``values`` are (table, row, key): value as typed in US units; ``scenario`` the same by key
    where a scenario can break it, over a job with ``before``; ``option`` crews, machines and
    shift where an option can, and ``of_option`` what is said of it where that is its own.
    """

    rule: Callable[..., Any]
    values: dict[tuple[str, int, str], Any]
    where: tuple[str, int, str]
    message: str
    scenario: dict[str, Any] | None = None
    option: tuple[int, int, float] | None = None
    of_option: str = ""
    before: dict[tuple[str, int, str], Any] | None = None

    @property
    def text(self) -> str:
        """The message with the header of the input."""
        table, _, key = self.where
        return f"{header(table, key)}: {self.message}"


CASES = [
    Case(
        on_site.crews_on_site,
        {("schedule", 1, "crew"): 2},
        ("schedule", 1, "crew"),
        "2 is above the 1 crew on the Job sheet",
        scenario={"crews": 1},
        option=(1, 1, 10.0),
        of_option="the Pipe schedule assigns runs to crew 2; this option has 1 crew",
        before={("job", 0, "crews"): 2, ("schedule", 1, "crew"): 2},
    ),
    Case(
        runs.known_classes,
        {("schedule", 0, "machine"): "M9"},
        ("schedule", 0, "machine"),
        "'M9' is not on the Machines sheet. Use one of: M1, M3",
    ),
    Case(
        runs.known_explained,
        {("job", 0, "explain_run"): "R99"},
        ("job", 0, "explain_run"),
        "'R99' is not a run of the Pipe schedule. Enter a run, or all, or leave it blank",
    ),
    Case(
        runs.known_runs,
        {("schedule", 0, "after"): "R2; R8"},
        ("schedule", 0, "after"),
        "R8: no such run in this schedule. Enter run names separated by semicolons",
    ),
    Case(
        runs.not_after_itself,
        {("schedule", 0, "after"): "R1"},
        ("schedule", 0, "after"),
        "R1 is this run. Enter other runs",
    ),
    Case(
        runs.no_circles,
        {("schedule", 0, "after"): "R2", ("schedule", 1, "after"): "R1"},
        ("schedule", 0, "after"),
        "These runs wait for each other: R1 after R2 after R1. Clear one of their "
        "Start after cells",
    ),
    Case(
        runs.smaller_ends,
        {("schedule", 0, "reduce_to"): "10"},
        ("schedule", 0, "reduce_to"),
        "'10' is not smaller than the run's 8",
    ),
    Case(
        runs.listed_walls,
        {("schedule", 1, "size"): "16", ("schedule", 1, "dr"): 41.0},
        ("schedule", 1, "dr"),
        "calculated metric wall [mm]",
    ),
    Case(
        runs.string_lengths,
        {("schedule", 1, "string_length_m"): 30},
        ("schedule", 1, "string_length_m"),
        "30 ft is shorter than one stick or coil (40 ft)",
        scenario={"stick_length_m": 12.192},
        before={("schedule", 1, "string_length_m"): 30, ("schedule", 1, "stick_length_m"): 20},
    ),
    Case(
        shifts.straight_time,
        {("job", 0, "straight_hours"): 12},
        ("job", 0, "straight_hours"),
        "12 h is longer than the shift length (10 h)",
        scenario={"shift_hours": 10.0},
        option=(1, 1, 10.0),
        before={("job", 0, "straight_hours"): 12, ("job", 0, "shift_hours"): 12},
    ),
    Case(
        shifts.time_for_work,
        {("job", 0, "startup_min"): 240, ("job", 0, "breaks_min"): 180,
         ("job", 0, "wrapup_min"): 240},
        ("job", 0, "startup_min"),
        "Startup, wrap-up and breaks take 660 min and leave no time in a shift "
        "of 600 min",
        scenario={"shift_hours": 10.0},
        option=(1, 1, 10.0),
        before={("job", 0, "startup_min"): 240, ("job", 0, "breaks_min"): 180,
                ("job", 0, "wrapup_min"): 240, ("job", 0, "shift_hours"): 16,
                ("overtime", 0, "shift_hours"): 16},
    ),
    Case(
        shifts.hours_of_a_day,
        {("overtime", 0, "shift_hours"): 14, ("job", 0, "night_hours"): 11},
        ("overtime", 0, "shift_hours"),
        f"14 h plus {header('job', 'night_hours')} (11 h) is more than 24 h. Shorten one of them",
        scenario={"night_hours": 11.0},
        before={("overtime", 0, "shift_hours"): 14},
    ),
    Case(
        dates.dates_forward,
        {("overtime", 0, "to_date"): dt.date(2027, 9, 1)},
        ("overtime", 0, "to_date"),
        "the date 2027-09-01 is before the From date (2027-09-06)",
    ),
    Case(
        dates.dates_in_order,
        {("job", 0, "deadline"): dt.date(2027, 2, 1)},
        ("job", 0, "deadline"),
        "the date 2027-02-01 is before the start date (2027-03-01)",
        scenario={"start": SOME_DAY},
        before={("job", 0, "deadline"): dt.date(2027, 2, 1),
                ("job", 0, "start"): dt.date(2027, 1, 15)},
    ),
    Case(
        dates.dates_once,
        {("crew_dates", 1, "from_date"): dt.date(2027, 3, 20)},
        ("crew_dates", 1, "from_date"),
        "These dates overlap the row at",
    ),
    Case(
        on_site.held_runs,
        {("holds", 0, "run"): "R9"},
        ("holds", 0, "run"),
        "R9: no such run in the Pipe schedule. Leave it blank for all runs",
    ),
    Case(
        tables.names_once,
        {("crew", 1, "role"): "OPERATOR"},
        ("crew", 1, "role"),
        "'OPERATOR' is already used in",
    ),
    Case(
        tables.rising,
        {("cold_factors", 1, "from_c"): -50},
        ("cold_factors", 1, "from_c"),
        "-50 F is not above -50 F in the row before. Values must go up from row to "
        "row",
    ),
    Case(
        equipment.ranges_of_machines,
        {("machines", 0, "od_min_mm"): 5},
        ("machines", 0, "od_min_mm"),
        f"5 in is above {header('machines', 'od_max_mm')} (4.5 in)",
    ),
    Case(
        equipment.parts_of_machines,
        {("machines", 1, "fuel_rate_l_h"): None},
        ("machines", 1, "fuel_rate_l_h"),
        "The cell is blank. A machine with onboard power needs a value",
    ),
    Case(
        equipment.machines_in_stock,
        {("machines", 0, "stock"): 0, ("machines", 1, "stock"): 0},
        ("machines", 0, "stock"),
        "Every class has 0 in stock. Enter 1 or more for at least one class",
    ),
    Case(
        equipment.generator_fuel,
        {("generators", 0, "fuel_full_l_h"): 0.5},
        ("generators", 0, "fuel_full_l_h"),
        "0.5 gal/h is below the fuel at half load (0.75 gal/h)",
    ),
    Case(
        equipment.risk_ranges,
        {("risk", 0, "low"): 1.1},
        ("risk", 0, "low"),
        f"1.1 is above {header('risk', 'likely')} (1)",
    ),
    Case(
        priced_items.rows_once,
        {("other_costs", 1, "item"): "Road bore", ("other_costs", 1, "run"): "R1"},
        ("other_costs", 1, "item"),
        "Road bore, R1 is already in",
    ),
    Case(
        priced_items.listed_fittings,
        {("fitting_prices", 0, "od_system"): "ISO", ("fitting_prices", 0, "size"): "16",
         ("fitting_prices", 0, "dr"): 41.0},
        ("fitting_prices", 0, "dr"),
        "calculated metric wall [mm]",
    ),
    Case(
        priced_items.smaller_sizes,
        {("fitting_prices", 1, "to_size"): "10"},
        ("fitting_prices", 1, "to_size"),
        "'10' is not smaller than '8'",
    ),
    Case(
        priced_items.prices_by_angle,
        {("fitting_prices", 1, "angle"): 45},
        ("fitting_prices", 1, "angle"),
        "45: only elbow rows have one. Clear the cell",
    ),
    Case(
        priced_items.elbow_angles,
        {("schedule", 0, "elbow_angles"): "2 x 90; 1 x 45"},
        ("schedule", 0, "elbow_angles"),
        "'2 x 90; 1 x 45' names 3 elbows, and Elbows says 2. Change one of them",
    ),
    Case(
        priced_items.runs_of_costs,
        {("other_costs", 0, "run"): "R9"},
        ("other_costs", 0, "run"),
        "R9: no such run in the Pipe schedule. Leave it blank for all runs",
    ),
    Case(
        owner_items.said_once,
        {("owner_items", 1, "owner_no"): "10", ("owner_items", 1, "unit"): "LS"},
        ("owner_items", 1, "unit"),
        "Item 10 is worded and priced in its first row. Clear this cell",
    ),
    Case(
        scenarios.base_name,
        {("scenarios", 0, "scenario"): "base"},
        ("scenarios", 0, "scenario"),
        "'base' is the name of the base job. Use another name",
    ),
]  # fmt: skip
BY_RULE = {case.rule: case for case in CASES}
ELSEWHERE = {
    tables.never_empty, tables.every_month, scenarios.inputs_once, scenarios.known_runs,
    equipment.rental_tiers,
}  # fmt: skip
"""Rules of whole tables and of several rows, and the one that only warns: tests of their own."""


def test_every_rule_is_broken_here():
    assert set(BY_RULE) | ELSEWHERE == set(all_rules.RULES)
    assert len(CASES) == len(BY_RULE)


OF_AN_OPTION = {"crews", "machines_per_crew", "shift_hours"}


def test_the_other_rules_can_be_broken_by_no_scenario_and_no_option():
    """They rest on inputs that neither changes, so that these two doors are shut to them."""
    by_scenario = {field.key for field in overridable().values()} - {LEFT_OUT}
    for case in CASES:
        keys = {key for table, _, key in case.values if table in ("job", "schedule")}
        assert case.scenario or not keys & by_scenario, case.rule
        assert case.option or case.scenario or not keys & OF_AN_OPTION, case.rule


def typed(values: dict[tuple[str, int, str], Any]) -> WorkbookFactory:
    made = book()
    for (table, row, key), value in values.items():
        made.set(table, key, value, row)
    return made


def held(table: str, key: str, value: Any) -> Any:
    """Return a typed number of the US workbook as a job holds it."""
    field = next(field for field in fields(table) if field.key == key)
    if field.kind == "money" and isinstance(value, int | float):
        return MoneyRate(amount=value, per=usual_column(field, "US").unit)
    if isinstance(value, bool) or not isinstance(value, float | int):
        return value
    converted = usual_column(field, "US").convert(value)
    if field.kind == "segments":
        return (converted,)
    return converted


def with_values(job: Job, values: dict[tuple[str, int, str], Any]) -> Job:
    """Return a job with values of its tables set, by hand and unchecked."""
    for (table, row, key), value in values.items():
        new = held(table, key, value)
        if table == "job":
            job = job.changed(**{key: new})
            continue
        part = PARTS.get(table, table)
        entries = getattr(job, part)
        if table == "rates":
            job = job.model_copy(update={part: entries.model_copy(update={key: new})})
            continue
        changed = list(entries)
        changed[row] = changed[row].model_copy(update={key: new})
        job = job.model_copy(update={part: tuple(changed)})
    return job


def refused(call: Callable[[], object]) -> list[str]:
    with pytest.raises(InputError) as caught:
        call()
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.rule.__name__)
def test_a_workbook_that_breaks_a_rule_is_refused_at_its_cell(case):
    made = typed(case.values)
    table, row, key = case.where
    (found,) = refused(lambda: parsed(made))
    assert found.startswith(f"{made.where(table, key, row)}: {case.text}")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.rule.__name__)
def test_a_job_that_breaks_a_rule_is_refused(tidy, case):
    broken = with_values(tidy, case.values)
    (found,) = refused(lambda: estimate(broken))
    assert f": {case.text}" in found


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.scenario], ids=lambda case: case.rule.__name__
)
def test_a_scenario_that_breaks_a_rule_cannot_be_done(case):
    job = parsed(typed(case.before))
    changes = [
        Override(scenario="Bad", key=key, value=value, text=key)
        for key, value in case.scenario.items()
    ]
    (outcome,) = compare(job.model_copy(update={"scenarios": tuple(changes)})).scenarios
    assert outcome.figures is None
    (reason,) = outcome.why_not
    assert f": {case.text}" in reason


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.option], ids=lambda case: case.rule.__name__
)
def test_an_option_that_breaks_a_rule_cannot_be_done(case, monkeypatch):
    job = parsed(typed(case.before))
    found = estimate(job)
    base = job.resources.crews, job.resources.machines_per_crew, job.shift.shift_hours
    monkeypatch.setattr(options, "all_choices", lambda _job: [base, case.option])
    table = options.assess(found, always=True)
    (bad,) = [option for option in table.options if not option.is_base]
    assert bad.figures is None
    assert (case.of_option or case.text).startswith(bad.why_not.removesuffix(" ..."))


def test_a_longer_shift_of_an_option_leaves_room_for_the_night(monkeypatch):
    """14 h by day and 11 h by night would be a day of 25 h."""
    found = estimate(parsed(typed({("job", 0, "night_hours"): 11})))
    monkeypatch.setattr(options, "all_choices", lambda _job: [(1, 1, 10.0), (1, 1, 14.0)])
    (long,) = [one for one in options.assess(found, always=True).options if not one.is_base]
    assert long.figures is None
    assert long.why_not.startswith(f"{header('job', 'shift_hours')}: 14 h plus ")


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("efficiency", -1.0, "-1 is outside the allowed range (30% to 100%)"),
        ("rework_share", 3.0, "3 is outside the allowed range (0% to 20%)"),
        ("method", "wet", "'wet' is not a choice for this cell"),
        ("crews", 0, "0 is outside the allowed range (1 to 20)"),
        ("shift_hours", "long", "'long' is not a number"),
        ("start", dt.date(1950, 1, 1), "the date 1950-01-01 is not a date in range"),
    ],
)
def test_a_value_of_a_scenario_from_python_is_checked_like_a_cell(tidy, key, value, message):
    bad = Override(scenario="Bad", key=key, value=value, text=key)
    (outcome,) = compare(tidy.model_copy(update={"scenarios": (bad,)})).scenarios
    assert outcome.figures is None
    assert message in outcome.why_not[0]


def test_a_table_that_must_not_be_empty(tidy):
    (found,) = refused(lambda: estimate(tidy.model_copy(update={"task_times": ()})))
    assert found.endswith(": the table is empty. Enter at least one row")


def test_weather_is_of_every_month(tidy):
    half = tidy.model_copy(update={"weather": tidy.weather[:10]})
    (found,) = refused(lambda: estimate(half))
    assert found.endswith(": The table has 10 of 12 months. Add Nov, Dec")


def test_an_input_twice_in_one_scenario(tidy):
    twice = tuple(Override(scenario=name, key="crews", value=2, text="") for name in ("S", "s"))
    (found,) = refused(lambda: estimate(tidy.model_copy(update={"scenarios": twice})))
    assert "Input: 'Crews' is already changed in 's'" in found


def test_an_input_that_no_scenario_may_change(tidy):
    rows = (Override(scenario="S", key="liquidated_damages", value=2, text=""),)
    (found,) = refused(lambda: estimate(tidy.model_copy(update={"scenarios": rows})))
    assert "Input: 'liquidated_damages' is not a choice for this cell. Use one of: Crews," in found


def test_a_rate_that_never_pays_is_no_reason_to_refuse(tidy):
    odd = with_values(tidy, {("machines", 0, "week_rate"): 900})
    assert any(one.warning for one in broken_by(odd))
    assert estimate(odd).bid.price > 0


def test_overtime_dates_and_a_night_shift_of_a_scenario_fit_in_a_day(tidy):
    """14 h by day and 11 h by night would be a day of 25 h."""
    long = OvertimeSpan(from_date=SOME_DAY, to_date=SOME_DAY, shift_hours=14.0)
    night = Override(
        scenario="Night", key="night_hours", value=11.0, text="Night shift length 11 h"
    )
    job = tidy.model_copy(update={"overtime": (long,), "scenarios": (night,)})
    (outcome,) = compare(job).scenarios
    assert "(11 h) is more than 24 h" in outcome.why_not[0]


# --- Each value alone: both doors say the same, in the same words.

HUGE, TINY = 1e9, -1e9
WRONG: dict[str, Any] = {
    "text": None, "choice": "moon", "choices": "moon", "date": dt.date(1950, 1, 1), "size": None,
    "count": 1.5, "weekdays": "Moonday",
}  # fmt: skip


def wrong_values(table: str) -> dict[tuple[str, int, str], Any]:
    """Return a value that each input of a table refuses, for its first row."""
    found: dict[tuple[str, int, str], Any] = {}
    for field in fields(table):
        if field.kind == "any" or (field.kind in {"text", "size"} and not field.required):
            continue
        limited = HUGE if field.maximum is not None else TINY
        found[table, 0, field.key] = WRONG.get(field.kind, limited)
    needed = [(table, 0, field.key) for field in fields(table) if field.required]
    if needed and all(found[place] is None for place in needed):
        del found[needed[0]]  # a row with none of what it needs is reported as a whole
    return found


ALONE = [table.table for table in input_tables() if table.table != "scenarios"]


@pytest.mark.parametrize("table", ALONE)
def test_every_input_refuses_the_same_values_through_both_doors(tidy, table):
    values = wrong_values(table)
    values = {place: value for place, value in values.items() if place[2] != "unit_system"}
    by_cell = refused(lambda: parsed(typed(values)))
    by_job = refused(lambda: estimate(with_values(tidy, values)))
    said = [sorted(line.partition(": ")[2] for line in lines) for lines in (by_cell, by_job)]
    assert said[0] == said[1]
    assert len(said[0]) == len(values)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"efficiency": -1.0}, "-1 is outside the allowed range (30% to 100%)"),
        ({"rework_share": 3.0}, "3 is outside the allowed range (0% to 20%)"),
        ({"crews": "two"}, "Crews: 'two' is not a number"),
        ({"crews": True}, "Crews: TRUE is not a number"),
        ({"crews": [2]}, "Crews: [2] is not a number"),
        ({"ambient_c": float("nan")}, "nan is not a number"),
        ({"method": None}, "Fusion method: The cell is blank. Enter a value"),
        ({"liquidated_damages": 500}, "500 is not an amount of money"),
        (
            {"liquidated_damages": MoneyRate(amount=5, per="week")},
            "'week' is not a unit for this price",
        ),
    ],
)
def test_a_changed_job_is_checked_like_a_sheet(tidy, changes, message):
    (found,) = refused(lambda: estimate(tidy.changed(**changes)))
    assert message in found


def test_what_is_no_input_cannot_be_changed(tidy):
    with pytest.raises(UnknownNameError, match="input 'crew' is not recognized"):
        tidy.changed(crew=3)


def test_faulty_values_are_left_out_of_the_other_rules(tidy):
    """A shift that is no number says nothing of its straight time."""
    (found,) = refused(lambda: estimate(tidy.changed(shift_hours=None)))
    assert f"{header('job', 'shift_hours')}: The cell is blank" in found


def test_a_job_as_read_breaks_nothing(tidy):
    assert broken_by(tidy) == []
    assert set(GROUP_OF) == {field.key for field in fields("job")}
