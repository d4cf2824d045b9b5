"""Rules of the site records: names once, known runs and crews, clocks forward, rework in order."""

import datetime as dt
import re
from collections.abc import Callable, Collection, Hashable, Iterator
from itertools import pairwise

from estimator.data_class import dataclass
from estimator.input_errors.entries import Broken, Entry, Sheets, broken
from estimator.working_time.clock import elapsed_s

LOG, COUPONS, DAILY = "joint_log", "coupons", "daily_record"
ONCE: tuple[tuple[str, tuple[str, ...]], ...] = (
    (LOG, ("joint_no",)),
    (COUPONS, ("coupon",)),
    ("operators", ("operator",)),
    ("tests_passed", ("section",)),
    ("planned_runs", ("run_id",)),
    ("logger_columns", ("ours",)),
    (DAILY, ("date", "crew", "shift", "run_id")),
    ("changes", ("number",)),
    ("quotes", ("supplier", "line", "offered")),
)
"""Tables, and the columns whose values together stand in one row only."""
WITH_RUNS = (LOG, DAILY, "actual_cost")
WITH_CREWS = (LOG, DAILY, "lost_time")
WORKED = (LOG, DAILY, "lost_time")
"""Tables in which a date is a day of work."""
DAY_H = 24
CLOCKS = ("heat_start_min", "heater_out_min", "closed_min", "cool_end_min")
COUNTED = {
    "stick_joints": "stick",
    "fitting_joints": "fitting",
    "tie_in_joints": "tie-in",
    "rework_joints": "rework",
    "test_joints": "trial fusion",
}
"""Counts of the daily record, and the kind of joint in the log that each is of."""
MADE_BY = ("date", "closed_min", "visual")
"""A joint with any of these is made."""


@dataclass(frozen=True)
class JobFacts:
    """What the records must agree with."""

    runs: Collection[str]
    crews: int
    sections: Collection[str] = ()
    """Test sections in lower case."""
    classes: Collection[str] = ()
    """Classes that can be rented, in lower case."""
    earliest: dt.date = dt.date.min
    """The estimate date or the start of the job, whichever is earlier: nothing is made before."""


def broken_records(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Yield what the site records break, table by table."""
    for rule in RULES:
        yield from rule(sheets, job)


def names_once(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse a joint, coupon, operator or shift that stands twice."""
    for table, keys in ONCE:
        first: dict[Hashable, Entry] = {}
        for entry in sheets.rows(table):
            values = tuple(entry.get(key) for key in keys)
            if None in values:
                continue
            before = first.setdefault(tuple(str(value).casefold() for value in values), entry)
            if before is not entry:
                shown = ", ".join(entry.show(key) for key in keys)
                message = f"{shown} is already used in {before.where(keys[0])}. Use it once"
                yield broken(table, entry, keys[0], message)


def known_runs(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse a run that is not on the pipe schedule."""
    for table in WITH_RUNS:
        for entry in sheets.rows(table):
            run = entry.get("run_id")
            if run is not None and run not in job.runs:
                message = f"{run!r} is not a run of the Pipe schedule"
                yield broken(table, entry, "run_id", message)


def known_runs_of_changes(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse a change of a run that is not on the pipe schedule."""
    for entry in sheets.rows("changes"):
        named = [name.strip() for name in re.split("[,;\n]", entry.get("runs") or "")]
        unknown = [name for name in named if name and name not in {*job.runs, "all"}]
        if unknown:
            message = (
                f"{unknown[0]!r} is not a run of the Pipe schedule. Separate runs by commas; name "
                "a run that the change adds under What"
            )
            yield broken("changes", entry, "runs", message)


def nothing_before_the_job(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse work before the job: in most cases it is the year that is wrong."""
    for table in WORKED:
        for entry in sheets.rows(table):
            date = entry.get("date")
            if date is not None and date < job.earliest:
                message = (
                    f"{entry.show('date')} is before the job was estimated and before its start. "
                    "Enter the day of the work"
                )
                yield broken(table, entry, "date", message)


def hours_of_a_day(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse more labor-hours than the people of a row have in a day."""
    for entry in sheets.rows(DAILY):
        people, hours = entry.get("people"), entry.get("paid_hours")
        if people and hours and hours > people * DAY_H:
            message = (
                f"{hours:,g} is more than {people:g} people have in a day ({people * DAY_H:g}). "
                "Enter the hours of all people together"
            )
            yield broken(DAILY, entry, "paid_hours", message)


def known_sections(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse a test section that no run of the pipe schedule has."""
    for entry in sheets.rows("tests_passed"):
        section = entry.get("section")
        if section is not None and section.casefold() not in job.sections:
            message = f"{section!r} is not a test section of the Pipe schedule"
            yield broken("tests_passed", entry, "section", message)


def known_crews(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse a crew number above the crews of the job."""
    for table in WITH_CREWS:
        for entry in sheets.rows(table):
            crew = entry.get("crew")
            if crew is not None and crew > job.crews:
                counted = f"{job.crews} crew{'s' * (job.crews != 1)}"
                message = f"{crew} is above the {counted} on the Job sheet"
                yield broken(table, entry, "crew", message)


def clocks_forward(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse clock times that run backwards; a joint may go over midnight."""
    for entry in sheets.rows(LOG):
        typed = [key for key in CLOCKS if entry.get(key) is not None]
        for before, key in pairwise(typed):
            try:
                elapsed_s(entry.get(before), entry.get(key))
            except ValueError:
                message = (
                    f"{clock_text(entry.get(key))} is before {clock_text(entry.get(before))} in "
                    f"{entry.where(before)}. Enter heat start, heater out, closed and cool end "
                    "in the order of the clock"
                )
                yield broken(LOG, entry, key, message)


def rework_in_order(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse rework that is no later joint of the same run, or replaces two joints."""
    entries = sheets.rows(LOG)
    places = {entry.get("joint_no"): place for place, entry in enumerate(entries)}
    replaced: dict[str, str] = {}
    for place, entry in enumerate(entries):
        target = entry.get("rework_as")
        if target is None:
            continue
        at = places.get(target)
        if at is None:
            message = f"{target!r} is not a joint of the log"
        elif at <= place or entries[at].get("run_id") != entry.get("run_id"):
            message = f"{target!r} is not a later joint of the same run"
        elif target in replaced:
            message = f"{target!r} already replaces {replaced[target]}. Enter another joint"
        else:
            replaced[target] = str(entry.get("joint_no"))
            continue
        yield broken(LOG, entry, "rework_as", message)


def coupons_of_made_joints(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse a coupon of a joint that is not in the log, not made, or made later."""
    made = {
        entry.get("joint_no"): entry.get("date")
        for entry in sheets.rows(LOG)
        if any(entry.get(key) is not None for key in MADE_BY)
    }
    for entry in sheets.rows(COUPONS):
        joint, tested = entry.get("joint_no"), entry.get("date")
        if joint is not None and joint not in made:
            yield broken(COUPONS, entry, "joint_no", f"{joint!r} is not in the Joint log as made")
        made_on = made.get(joint)
        if made_on is not None and tested is not None and tested < made_on:
            message = f"{entry.show('date')} is before {joint} was made ({made_on})"
            yield broken(COUPONS, entry, "date", message)


def counts_agree(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse a count that the joint log contradicts, or that it cannot split for two shifts."""
    logged: dict[Hashable, list[str]] = {}
    for entry in sheets.rows(LOG):
        key = _day_of(entry)
        if None not in key:
            logged.setdefault(key, []).append(entry.get("kind"))
    shifts: dict[Hashable, list[Entry]] = {}
    for entry in sheets.rows(DAILY):
        shifts.setdefault(_day_of(entry), []).append(entry)
    for day, entries in shifts.items():
        kinds = logged.get(day)
        for count, kind in COUNTED.items() if kinds else ():
            yield from _count_faults(entries, count, (kinds or []).count(kind))


def _day_of(entry: Entry) -> tuple[object, ...]:
    return entry.get("date"), entry.get("crew"), entry.get("run_id")


def _count_faults(entries: list[Entry], key: str, logged: int) -> Iterator[Broken]:
    blank = [entry for entry in entries if entry.blank(key)]
    if any(entry.get(key) is None for entry in entries if entry not in blank):
        return
    typed = sum(entry.get(key) or 0 for entry in entries)
    if len(entries) > 1 and blank and logged:
        message = "The cell is blank. With two shifts of a crew on a run, enter the joints of each"
        yield broken(DAILY, blank[0], key, message)
    elif not blank and typed != logged:
        message = f"{typed} is not the {logged} of the Joint log. Correct one, or clear this cell"
        yield broken(DAILY, entries[0], key, message)


def agreed_changes_are_priced(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse an agreed change without its price."""
    for entry in sheets.rows("changes"):
        if entry.get("status") == "agreed" and entry.get("price_agreed") is None:
            message = "The cell is blank. Enter what was agreed; 0 for none"
            yield broken("changes", entry, "price_agreed", message)


def one_row_of_terms(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse a second row of claim terms, or of request terms."""
    for table, key in (("claim_terms", "retention"), ("request_terms", "reference")):
        for entry in sheets.rows(table)[1:]:
            message = "There is a row of terms above it. Keep one"
            yield broken(table, entry, key, message)


def rented_classes(sheets: Sheets, job: JobFacts) -> Iterator[Broken]:
    """Refuse a class that the job does not have, and equipment that goes before it comes."""
    for entry in sheets.rows("on_rent"):
        name, came, went = (entry.get(key) for key in ("class_id", "on_rent", "off_rent"))
        if name is not None and name.casefold() not in job.classes:
            message = f"{name!r} is not a class on Machines, Generators or Lifting"
            yield broken("on_rent", entry, "class_id", message)
        if came is not None and went is not None and went < came:
            message = f"{entry.show('off_rent')} is before {entry.show('on_rent')}, when it came"
            yield broken("on_rent", entry, "off_rent", message)


def ranges_of_quotes(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse a range of pipe that ends before it begins."""
    for entry in sheets.rows("quotes"):
        low, high = entry.get("od_from_mm"), entry.get("od_to_mm")
        if low is not None and high is not None and high < low:
            message = f"{entry.show('od_to_mm')} is less than {entry.show('od_from_mm')}"
            yield broken("quotes", entry, "od_to_mm", message)


def air_rises(sheets: Sheets, _job: JobFacts) -> Iterator[Broken]:
    """Refuse bands of air temperature that run downwards or leave a gap."""
    ends: dict[str, float] = {}
    for entry in sheets.rows("cooling_by_air"):
        pipe, low, high = (entry.get(key) for key in ("pipe", "from_c", "to_c"))
        if None in (pipe, low, high):
            continue
        if low >= high:
            message = f"{entry.show('to_c')} is not above {entry.show('from_c')}"
            yield broken("cooling_by_air", entry, "to_c", message)
        elif abs(ends.get(pipe, low) - low) > TEMPERATURE_SLACK:
            message = f"{entry.show('from_c')} is not where the row before it ends"
            yield broken("cooling_by_air", entry, "from_c", message)
        ends[pipe] = high


def clock_text(minutes: float) -> str:
    """Return a clock time as it is typed.

    >>> clock_text(462.5)
    '7:42:30'
    """
    seconds = round(60 * minutes)
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


TEMPERATURE_SLACK = 0.01
RULES: tuple[Callable[[Sheets, JobFacts], Iterator[Broken]], ...] = (
    names_once,
    known_runs,
    known_runs_of_changes,
    known_sections,
    known_crews,
    clocks_forward,
    rework_in_order,
    coupons_of_made_joints,
    counts_agree,
    air_rises,
    agreed_changes_are_priced,
    one_row_of_terms,
    rented_classes,
    nothing_before_the_job,
    hours_of_a_day,
    ranges_of_quotes,
)
