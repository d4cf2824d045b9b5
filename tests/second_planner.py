"""A second planner for small jobs, which lays one joint after the other by ``docs/method.md``.

It shares nothing with ``estimator.plan``: what a joint takes, when a day is worked, which run comes
next and what is left for the next day are worked out here from the inputs of the job alone.
It knows crews of one machine and day shifts; no holds, crew dates, nights, or machines chosen over
the job, no runs that join each other, and no rest long enough to send a crew away. Runs name their
machine class.
"""

import datetime as dt
import math
import re
from collections import defaultdict
from dataclasses import dataclass, field

DAY = 1440
TINY = 1e-9
INCH = 25.4
OUTSIDE_IN = {"2": 2.375, "4": 4.5, "6": 6.625, "8": 8.625, "12": 12.75}
"""Outside diameters of IPS pipe, ASTM F714."""
SOAK_MIN_IN, COOL_MIN_IN, REST_MIN = 4.5, 11.0, 30.0
"""ASTM F2620 as ``docs/standards.md`` has it."""
WEEK = {"Mon-Fri": range(5), "Mon-Sat": range(6), "Sun-Thu": (6, 0, 1, 2, 3)}
STRING_JOINTS = ("plain", "fitting", "rework")
OTHERS = {"saddle": "branch saddle", "bolt-up": "bolt-up", "closure": "electrofusion closure"}


@dataclass
class Line:
    """What a crew does on a run on one day."""

    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[str] = field(default_factory=list)
    minutes: float = 0.0


@dataclass
class Crew:
    """Where a crew stands: its day, the minutes gone of it, what its machine is set up for."""

    number: int
    day: dt.date
    gone: float = 0.0
    run: str = ""
    machine: str = ""
    od: float = 0.0
    tested: object = None
    """The size, the day or the job for which it has made its trial fusion."""

    @property
    def now(self) -> float:
        return self.day.toordinal() * DAY + self.gone


class Planner:
    """Lays out a job."""

    def __init__(self, job):
        self.job = job
        self.off = {row.date for row in job.holidays if not row.worked}
        self.lost = self._lost_days()
        self.crews = [Crew(n + 1, self._first(job.dates.start)) for n in range(job.resources.crews)]
        self.lines = defaultdict(Line)
        self.finished, self.strings = {}, {}
        self.rework = self._rework()

    # Days

    def _lost_days(self):
        account, lost, day = 0.5, set(), self.job.dates.start
        for _ in range(400):
            if self._open(day):
                account += self.job.weather[day.month - 1].lost_share
                if account >= 1 - TINY:
                    account -= 1
                    lost.add(day)
            day += dt.timedelta(1)
        return lost

    def _open(self, day):
        return day.weekday() in WEEK[self.job.dates.workdays] and day not in self.off

    def _first(self, day):
        while not self._open(day) or day in self.lost:
            day += dt.timedelta(1)
        return day

    def _hours(self, day):
        spans = [row for row in self.job.overtime if row.from_date <= day <= row.to_date]
        return spans[0].shift_hours if spans else self.job.shift.shift_hours

    def _working(self, day):
        shift = self.job.shift
        return self._hours(day) * 60 - shift.startup_min - shift.wrapup_min - shift.breaks_min

    def _next_day(self, crew):
        crew.day, crew.gone = self._first(crew.day + dt.timedelta(1)), 0.0

    # Minutes

    def _wall_in(self, run):
        return math.floor(OUTSIDE_IN[run.size] / run.dr * 1000 + 0.5) / 1000

    def _od(self, run):
        return OUTSIDE_IN[run.size] * INCH

    def _column(self, run):
        return next(n for n, row in enumerate(self.job.size_bands) if self._od(run) <= row.od_to)

    def _pace(self, run, day):
        job, shift = self.job, self.job.shift
        ambient = job.weather[day.month - 1].ambient_c
        ambient = job.site.ambient_c if ambient is None else ambient
        cold = [row.factor for row in job.cold_factors if row.from_c <= ambient][-1]
        hours = self._hours(day)
        straight = min(hours, shift.straight_hours)
        slowed = hours / (straight + (hours - straight) * (1 - shift.overtime_loss))
        return run.access_factor * cold / shift.efficiency * slowed

    def _task(self, run, row):
        return getattr(row, f"min_{'abcde'[self._column(run)]}")

    def joint(self, run, day, handling=1.0):
        """Return the minutes of a joint, and those of them that may fall into the wrap-up."""
        pace = self._pace(run, day) * handling
        tasks = [row for row in self.job.task_times if row.applies_to == "butt joint"]
        seen = sum(self._task(run, row) * (pace if row.paced_by == "crew" else 1)
                   for row in tasks if not row.hidden)  # fmt: skip
        hidden = sum(self._task(run, row) for row in tasks if row.hidden) * pace
        wall = self._wall_in(run)
        cooling = max(COOL_MIN_IN * wall, hidden)
        alone = cooling - hidden if self.job.shift.cool_in_wrapup else 0.0
        return seen + SOAK_MIN_IN * wall + cooling, min(alone, self.job.shift.wrapup_min)

    def _minutes(self, run, kind, day):
        counting = self.job.counting
        if kind in OTHERS:
            row = next(row for row in self.job.task_times if row.applies_to == OTHERS[kind])
            return self._task(run, row) * self._pace(run, day), 0.0
        factor = {"fitting": counting.fitting_factor, "tie-in": counting.tie_in_factor}
        minutes, alone = self.joint(run, day, factor.get(kind, 1.0))
        if kind == "rework":
            return minutes + counting.rework_extra_min, 0.0
        if kind == "trial":
            return minutes + counting.test_joint_extra_min, 0.0
        return minutes, alone

    # Counts

    def counts(self, run):
        """Return plain joints by segment, fitting joints, tie-ins between strings."""
        sticks = [math.ceil(length / run.stick_length - TINY) for length in run.length]
        whole = math.floor(run.string_length / run.stick_length) if run.string_length else 9999
        strings = [math.ceil(n / whole) for n in sticks]
        plain = [n - s for n, s in zip(sticks, strings, strict=True)]
        set_in = self.job.counting.fitting_rule == "cut in mid-stick"
        fitting = run.elbows * (2 if set_in else 1) + run.tees * (3 if set_in else 2)
        fitting += run.caps + run.flange_adapters + run.mj_adapters
        return plain, fitting, sum(strings) - len(strings)

    def _rework(self):
        share = self.job.counting.rework_share
        butt = {}
        for run in self.job.runs:
            plain, fitting, ties = self.counts(run)
            butt[run.run_id] = sum(plain) + fitting + ties + run.tie_ins
        alike = defaultdict(list)
        for run in self.job.runs:
            size = OUTSIDE_IN[run.size] ** 2 / run.dr * run.access_factor
            alike[round(size, 6)].append(run.run_id)
        given, before = {}, 0
        for _, names in sorted(alike.items(), reverse=True):
            after = before + sum(butt[name] for name in names)
            total = math.ceil(after * share - TINY) - math.ceil(before * share - TINY)
            whole = {name: math.floor(butt[name] * share + TINY) for name in names}
            rest = {name: (whole[name] - butt[name] * share, by_name(name)) for name in names}
            left = sorted(names, key=rest.__getitem__)[: total - sum(whole.values())]
            given |= {name: whole[name] + (name in left) for name in names}
            before = after
        return given

    # Work

    def plan(self):
        """Return the lines of the plan by date, crew and run."""
        waiting = sorted(self.job.runs, key=lambda run: (run.priority or 999, by_name(run.run_id)))
        while waiting:
            crew, run = self._next(waiting)
            waiting.remove(run)
            self._do(crew, run, self._ready(run))
        return dict(self.lines)

    def _ready(self, run):
        """Return when a run may start, None while a run before it is not laid out."""
        names = [name.strip() for name in (run.after or "").split(";") if name.strip()]
        if any(name not in self.finished for name in names):
            return None
        start = run.earliest_start.toordinal() * DAY if run.earliest_start else 0
        return max([start, *(self.finished[name] for name in names)])

    def _next(self, waiting):
        """Return the crew that begins next and its run.

        Of crews that can begin at the same moment it is the one that was free first; but a run goes
        to the crew that is there first, of those that would take it next.
        """
        free = [(run, ready) for run in waiting if (ready := self._ready(run)) is not None]
        best, wanted = None, []
        for crew in sorted(self.crews, key=lambda one: (one.now, one.number)):
            mine = [(max(ready, crew.now), run) for run, ready in free
                    if run.crew in (None, crew.number)]  # fmt: skip
            if mine:
                begin = min(moment for moment, _ in mine)
                run = next(run for moment, run in mine if moment == begin)
                wanted.append((crew, run))
                if best is None or begin < best[0]:
                    best = begin, crew, run
        _, first, run = best
        ready = dict((one.run_id, moment) for one, moment in free)[run.run_id]
        alike = [crew for crew, other in wanted if other is run and run.crew is None]
        alike.sort(key=lambda crew: (crew is not first, crew.number))
        return min(alike or [first], key=lambda crew: self._there(crew, run, ready)), run

    def _there(self, crew, run, ready):
        """Return when a crew has made its moves to a run, and how long they take."""
        minutes, begin = self._moves(crew, run), self._begin(crew, ready)
        if begin > crew.now:
            return begin + minutes, minutes
        whole, day, gone = minutes, crew.day, crew.gone
        while minutes > self._working(day) - gone + TINY:
            minutes -= self._working(day) - gone
            day, gone = self._first(day + dt.timedelta(1)), 0.0
        return day.toordinal() * DAY + gone + minutes, whole

    def _moves(self, crew, run):
        moves = self.job.moves
        if not crew.machine:
            return 0.0
        if crew.machine != run.machine:
            return moves.machine_swap_min
        change = self.job.size_bands[self._column(run)].size_change_min
        return moves.machine_move_min + change * (crew.od != self._od(run))

    def _begin(self, crew, ready):
        """Return when a crew can begin what is ready at a moment."""
        if ready <= crew.now:
            return crew.now
        day = self._first(max(crew.day, dt.date.fromordinal(int(ready // DAY))))
        if day.toordinal() * DAY + self._working(day) <= ready:
            day = self._first(day + dt.timedelta(1))
        return max(ready, day.toordinal() * DAY)

    def _do(self, crew, run, ready):
        self._wait(crew, run, ready, "wait")
        self._arrive(crew, run)
        plain, fitting, ties = self.counts(run)
        for place, number in enumerate(plain):
            if place:
                self._move(crew, run, "move", self.job.moves.machine_move_min)
            self._make(crew, run, "plain", number)
        self._make(crew, run, "fitting", fitting)
        self._make(crew, run, "rework", self.rework[run.run_id])
        rested = crew.now + REST_MIN
        self._make(crew, run, "saddle", run.branch_saddles)
        self._make(crew, run, "bolt-up", run.flange_adapters + run.mj_adapters)
        if ties:
            self._wait(crew, run, rested, "cooling rest")
        self._make(crew, run, "tie-in", ties)
        self._make(crew, run, "closure", run.ef_closures)
        if run.tie_ins:
            self._wait(crew, run, rested, "cooling rest")
        self._make(crew, run, "tie-in", run.tie_ins)
        self.finished[run.run_id] = crew.now

    def _arrive(self, crew, run):
        moves = self.job.moves
        if crew.machine and crew.machine != run.machine:
            self._move(crew, run, "machine change-out", moves.machine_swap_min)
        elif crew.machine:
            self._move(crew, run, "move", moves.machine_move_min)
            if crew.od != self._od(run):
                row = self.job.size_bands[self._column(run)]
                self._move(crew, run, "size change", row.size_change_min)
        crew.run, crew.machine, crew.od = run.run_id, run.machine, self._od(run)

    def _line(self, crew, run):
        return self.lines[crew.day, crew.number, run.run_id]

    def _move(self, crew, run, name, minutes):
        """Take minutes that may go on the next day."""
        while minutes > TINY:
            if self._working(crew.day) - crew.gone <= TINY:
                self._next_day(crew)
            part = min(minutes, self._working(crew.day) - crew.gone)
            line = self._line(crew, run)
            line.moves.append(name)
            line.minutes += part
            crew.gone += part
            minutes -= part

    def _wait(self, crew, run, moment, name):
        """Wait; only minutes inside a shift are anybody's."""
        if moment <= crew.now + TINY:
            return
        begin = self._begin(crew, moment)
        day = dt.date.fromordinal(int(begin // DAY))
        if day != crew.day:
            crew.day, crew.gone = day, 0.0
        idle = begin - crew.now
        if idle > TINY:
            line = self._line(crew, run)
            line.moves.append(name)
            line.minutes += idle
            crew.gone += idle

    def _trial_for(self, crew):
        """Return what a trial fusion stands for, by the rule of the Job sheet."""
        rule, size = self.job.counting.test_joint_rule, (crew.machine, crew.od)
        return {"none": None, "job start": "job", "each size": size, "each day": crew.day}[rule]

    def _make(self, crew, run, kind, number):
        """Make pieces one by one, each inside one day, a trial fusion before it where it is due."""
        while number:
            due = kind not in OTHERS and self._trial_for(crew) not in (None, crew.tested)
            piece = "trial" if due else kind
            minutes, alone = self._minutes(run, piece, crew.day)
            if minutes - alone > self._working(crew.day) - crew.gone + TINY:
                self._next_day(crew)
                continue
            self._piece(crew, run, piece, minutes)
            crew.tested = self._trial_for(crew) if due else crew.tested
            number -= not due

    def _piece(self, crew, run, kind, minutes):
        line = self._line(crew, run)
        line.counts[kind] += 1
        taken = min(minutes, self._working(crew.day) - crew.gone)
        line.minutes += taken
        crew.gone += taken


def by_name(name):
    """Return what puts R2 before R10."""
    return [int(part) if part.isdigit() else part for part in re.split(r"(\d+)", name)]
