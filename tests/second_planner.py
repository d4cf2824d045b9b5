"""A second planner for small jobs, which lays one joint after the other by ``docs/method.md``.

It shares nothing with ``estimator.plan``: what a joint takes, when a shift is worked, which run
comes next and what is left for later are worked out here from the inputs of the job alone. It knows
several machines of a crew, night shifts, crews that come and leave with machines and hours of their
own, holds, classes that the schedule or the choice over the job gives, runs that join others, and
rests that send a crew to other work and call it back.
"""

import datetime as dt
import math
import re
from collections import defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

DAY = 1440
TINY = 1e-9
INCH = 25.4
OUTSIDE_IN = {"2": 2.375, "4": 4.5, "6": 6.625, "8": 8.625, "12": 12.75}
"""Outside diameters of IPS pipe, ASTM F714."""
SOAK_MIN_IN, COOL_MIN_IN, REST_MIN = 4.5, 11.0, 30.0
"""ASTM F2620 as ``docs/standards.md`` has it."""
WEEK = {"Mon-Fri": range(5), "Mon-Sat": range(6), "Sun-Thu": (6, 0, 1, 2, 3)}
OTHERS = {"saddle": "branch saddle", "bolt-up": "bolt-up", "closure": "electrofusion closure"}
REST, STRINGS, JOIN = "rest", "strings", "join"
"""Steps of a run that are no pieces: its strings rest; they are there for others; it rests, and
waits for the strings that it joins."""
INSIDE = ("plain", "fitting", "rework")
"""Joints inside strings, between which a crew can be called away."""
ASK_TRIAL = (*INSIDE, "tie-in")
"""Joints that a trial fusion goes before."""
NOTHING_ELSE = dict.fromkeys(
    ("elbows", "tees", "caps", "flange_adapters", "branch_saddles", "ef_closures", "tie_ins"), 0
)


class Slot(NamedTuple):
    """A shift of a crew: when it begins, and the minutes of it that are worked."""

    day: dt.date
    name: str
    hours: float
    start: float
    working: float


NEVER = Slot(dt.date.max, "day", 0.0, math.inf, 0.0)
"""Where a crew stands that has left."""


class Time(NamedTuple):
    """Minutes of a piece: from begin to end, with the crew at it, and cooling after the shift."""

    cycle: float
    attended: float
    machines: int
    after: float = 0.0


@dataclass
class Line:
    """What a crew does on a run in one shift."""

    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[str] = field(default_factory=list)
    minutes: float = 0.0


@dataclass
class Crew:
    """Where a crew stands: its shift, the minutes gone of it, what its machine is set up for."""

    number: int
    slot: Slot
    gone: float = 0.0
    run: str = ""
    machine: str = ""
    od: float = 0.0
    tested: object = None
    """The size, the shift or the job for which it has made its trial fusion."""
    streak: tuple = ()
    """Kind and number of equal pieces made without a break, and the minutes left before them."""

    @property
    def now(self) -> float:
        return self.slot.start + self.gone

    @property
    def left(self) -> float:
        return self.slot.working - self.gone


class Planner:
    """Lays out a job."""

    def __init__(self, job):
        self.row_of = {}
        self.job = job = job.model_copy(update={"runs": tuple(self._by_segment(job.runs))})
        self.off = {row.date for row in job.holidays if not row.worked}
        self.lost = self._lost_days()
        self.lines = defaultdict(Line)
        self.finished, self.begun_by = {}, {}
        self.strings_end, self.cool_at = {}, {}
        self.left_at = {}
        """When the rest of a run that was left may go on."""
        self.rank = {}
        """When that was ready by itself, before it waited for the strings of others."""
        self.kept_by, self.resting = {}, {}
        """The crew that goes on with its own strings, and the one that left a run to its rest."""
        self.strings_at, self.unjoined, self.freed = {}, {}, set()
        """When strings were there; runs that wait for these; runs that do not wait for the rest."""
        self.called, self.waited, self.joined, self.left_to_others = 0, 0, set(), 0
        """How often a crew was called back, or kept its machine for a rest; runs that waited."""
        own_rest = job.fusion.own_rest_min
        self.rest_min = REST_MIN if own_rest is None else own_rest
        self.rework = self._rework()
        self.steps = {run.run_id: self._steps(run) for run in job.runs}
        self.crews = []
        for number in range(1, job.resources.crews + 1):
            first = [job.dates.start, *(row.from_date for row in self._dates(number))]
            self.crews.append(Crew(number, self._first_slot(number, max(first))))

    def _by_segment(self, runs):
        """Yield a run for each segment; the last one of a row has all that is no pipe."""
        names = {run.run_id: [f"{run.run_id}.{n}" for n, _ in enumerate(run.segments_m, 1)]
                 for run in runs}  # fmt: skip
        for run in runs:
            after, joins = (
                "; ".join(
                    part for name in names_in(text) for part in names[name] if name != run.run_id
                )
                for text in (run.after, run.joins)
            )
            for name, length in zip(names[run.run_id], run.segments_m, strict=True):
                self.row_of[name] = run.run_id
                last = name == names[run.run_id][-1]
                own = {"joins": joins} if last else {**NOTHING_ELSE, "joins": ""}
                yield run.model_copy(update={"run_id": name, "segments_m": (length,),
                                             "after": after, **own})  # fmt: skip

    # Shifts

    def _dates(self, number):
        return [row for row in self.job.crew_dates if row.crew == number]

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

    def _hours(self, number, day):
        own = [row.shift_hours for row in self._dates(number) if row.shift_hours]
        spans = [
            row.shift_hours for row in self.job.overtime if row.from_date <= day <= row.to_date
        ]
        return [*own, *spans, self.job.shift.shift_hours][0]

    def _machines(self, number):
        own = [row.machines for row in self._dates(number) if row.machines]
        return [*own, self.job.resources.machines_per_crew][0]

    def _slots(self, number, day):
        """Return the shifts of a worked day: that of the day, and that of the night after it."""
        shift, made, start = self.job.shift, [], day.toordinal() * DAY
        for name, hours in (("day", self._hours(number, day)), ("night", shift.night_hours)):
            idle = shift.startup_min + shift.wrapup_min + shift.breaks_min
            if hours:
                made.append(Slot(day, name, hours, start, hours * 60 - idle))
            start += hours * 60
        return made

    def _first_slot(self, number, day):
        """Return the first shift of a crew from a day on; past its last date there is none."""
        day = self._first(day)
        if any(row.to_date and day > row.to_date for row in self._dates(number)):
            return NEVER
        return self._slots(number, day)[0]

    def _after(self, number, slot):
        """Return the shift that follows."""
        later = [one for one in self._slots(number, slot.day) if one.start > slot.start]
        return later[0] if later else self._first_slot(number, slot.day + dt.timedelta(1))

    def _go_to(self, crew, slot):
        """Let a crew stand at the beginning of a shift; one that leaves takes its machine along."""
        crew.slot, crew.gone, crew.streak = slot, 0.0, ()
        if slot == NEVER:
            crew.run, crew.machine = "", ""

    def _next_shift(self, crew):
        """Go on to the next shift, and return whether there is one."""
        self._go_to(crew, self._after(crew.number, crew.slot))
        return crew.slot != NEVER

    def _held_until(self, run, day):
        """Return the first date from a day on which a run is not held."""
        free = day
        for _ in self.job.holds:
            for hold in self.job.holds:
                last = hold.to_date or hold.from_date + dt.timedelta(
                    self.job.shift.open_hold_days - 1
                )
                if hold.run in (None, self.row_of[run.run_id]) and hold.from_date <= free <= last:
                    free = last + dt.timedelta(1)
        return free

    # Minutes

    def _wall_in(self, run):
        return math.floor(OUTSIDE_IN[run.size] / run.dr * 1000 + 0.5) / 1000

    def _od(self, run):
        return OUTSIDE_IN[run.size] * INCH

    def _column(self, run):
        return next(n for n, row in enumerate(self.job.size_bands) if self._od(run) <= row.od_to_mm)

    def _pace(self, run, slot):
        job, shift = self.job, self.job.shift
        ambient = job.weather[slot.day.month - 1].ambient_c
        ambient = job.site.ambient_c if ambient is None else ambient
        cold = [row.factor for row in job.cold_factors if row.from_c <= ambient][-1]
        straight = min(slot.hours, shift.straight_hours)
        full_pace = straight + (slot.hours - straight) * (1 - shift.overtime_loss)
        night = 1 + shift.night_slowing if slot.name == "night" else 1
        return run.access_factor * cold / shift.efficiency * slot.hours / full_pace * night

    def _task(self, run, row):
        return getattr(row, f"min_{'abcde'[self._column(run)]}")

    def joint(self, run, crew, handling=1.0):
        """Return the times of a joint in the shift in which a crew stands."""
        pace = self._pace(run, crew.slot) * handling
        tasks = [row for row in self.job.task_times if row.applies_to == "butt joint"]
        seen = sum(self._task(run, row) * (pace if row.paced_by == "crew" else 1)
                   for row in tasks if not row.hidden)  # fmt: skip
        hidden = sum(self._task(run, row) for row in tasks if row.hidden) * pace
        wall = self._wall_in(run)
        cooling = max(COOL_MIN_IN * wall, hidden)
        attended = seen + SOAK_MIN_IN * wall + hidden
        alone = cooling - hidden if self.job.shift.cool_in_wrapup else 0.0
        return Time(attended - hidden + cooling, attended, self._machines(crew.number),
                    min(alone, self.job.shift.wrapup_min))  # fmt: skip

    def _time(self, run, kind, crew):
        counting = self.job.counting
        if kind in OTHERS:
            row = next(row for row in self.job.task_times if row.applies_to == OTHERS[kind])
            minutes = self._task(run, row) * self._pace(run, crew.slot)
            return Time(minutes, minutes, 1)
        extra = {"rework": counting.rework_extra_min, "trial": counting.test_joint_extra_min}
        if kind in extra:
            minutes = self.joint(run, crew).cycle + extra[kind]
            return Time(minutes, minutes, 1)
        factor = {"fitting": counting.fitting_factor, "tie-in": counting.tie_in_factor}
        return self.joint(run, crew, factor.get(kind, 1.0))

    # Counts

    def counts(self, run):
        """Return plain joints by segment, fitting joints, tie-ins between strings."""
        sticks = [math.ceil(length / run.stick_length_m - TINY) for length in run.segments_m]
        whole = (
            math.floor(run.string_length_m / run.stick_length_m) if run.string_length_m else 9999
        )
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

        def place(run):
            size = OUTSIDE_IN[run.size] ** 2 / run.dr * run.access_factor
            return -round(size, 6), by_name(run.run_id)

        given, before = {}, 0
        for run in sorted(self.job.runs, key=place):
            after = before + butt[run.run_id]
            given[run.run_id] = math.ceil(after * share - TINY) - math.ceil(before * share - TINY)
            before = after
        return given

    # Work

    def _steps(self, run):
        """Return the pieces of a run in their order, with what lies between them."""
        (plain,), fitting, ties = self.counts(run)
        made = ["plain"] * plain + ["fitting"] * fitting + ["rework"] * self.rework[run.run_id]
        made += ["saddle"] * run.branch_saddles
        made += ["bolt-up"] * (run.flange_adapters + run.mj_adapters)
        made += [REST] * (ties > 0) + ["tie-in"] * ties
        made += ["closure"] * run.ef_closures + [STRINGS]
        return made + [JOIN] * (run.tie_ins > 0) + ["tie-in"] * run.tie_ins

    def plan(self):
        """Return the lines of the plan by date, shift, crew and run."""
        waiting = sorted(self.job.runs, key=lambda run: (run.priority or 999, by_name(run.run_id)))
        while self.finished.keys() != {run.run_id for run in waiting}:
            undone = [run for run in waiting if run.run_id not in self.finished]
            if all(self._ready(run) is None for run in undone):
                self._free_first(undone)
            self._do(*self._next(undone))
        return dict(self.lines)

    def _do(self, crew, run):
        """Do what can be done of a run."""
        if self._arrive(crew, run) and self._work(crew, run):
            self.left_at.pop(run.run_id, None)
            self.resting.pop(run.run_id, None)
            self.finished[run.run_id] = self._cool(crew, run)

    def _cool(self, crew, run):
        return max(crew.now, self.cool_at.get(run.run_id, crew.now))

    def _free_first(self, undone):
        """Let the first run begin that waits for nothing but tie-ins of strings that are there."""
        for run in sorted(undone, key=lambda run: by_name(run.run_id)):
            new = run.run_id not in self.left_at and run.run_id not in self.unjoined
            if new and set(names_in(run.after)) <= self.finished.keys() | self.strings_at.keys():
                self.freed.add(run.run_id)
                return

    def _ready(self, run):
        """Return when a run may start, None while what it waits for is not laid out."""
        if run.run_id in self.unjoined:
            return None
        if run.run_id in self.left_at:
            return self.left_at[run.run_id]
        done = self.finished
        if run.run_id in self.freed:
            done = self.strings_at | self.finished
        names = names_in(run.after)
        if any(name not in done for name in names):
            return None
        start = run.earliest_start.toordinal() * DAY if run.earliest_start else 0
        return max([start, *(done[name] for name in names)])

    def _next(self, waiting):
        """Return the crew that begins next and its run: what was left comes before new runs.

        Of crews that can begin at the same moment it is the one that was free first; but a run goes
        to the crew that is there first, of those that would take it next, and work that was left to
        the first there of all that may do it.
        """
        ready = [run for run in waiting if self._ready(run) is not None]
        best, wanted = None, []
        for crew in sorted(self.crews, key=lambda one: (one.now, one.number)):
            found = self._first_for(crew, ready)
            if found is not None:
                wanted.append((crew, found[1]))
                if best is None or found[0] < best[0]:
                    best = found[0], crew, found[1]
        if best is None:
            self.kept_by.clear()
            return self._next(waiting)
        _, first, run = best
        if run.crew is not None or run.run_id in self.kept_by:
            return first, run
        able = self._able(run)
        if run.run_id not in self.left_at:
            able = [crew for crew, other in wanted if other is run]
        able = sorted(able, key=lambda crew: (crew is not first, crew.number))
        return min(able, key=lambda one: self._there_at(one, run)), run

    def _first_for(self, crew, ready):
        """Return when a crew begins the work that it takes next, and that run; None for none."""
        mine = [(moment, run) for run in self._in_order(ready) if crew in self._able(run)
                if (moment := self._can_begin(crew, run)) < math.inf]  # fmt: skip
        if not mine:
            return None
        begin = min(moment for moment, _ in mine)
        run = next(run for moment, run in mine if moment == begin)
        if begin <= max(crew.now, self._slot_at(crew, crew.now).start):
            alike = [other for moment, other in mine if moment == begin and self._alike(run, other)]
            own = self._of_shared(crew, alike) if len(self.crews) > 1 and alike else run
            if own is None:
                return self._first_later(crew, begin, run, ready)
            run = self._worth_a_wait(crew, own) or own
        return begin, run

    def _first_later(self, crew, now, left, ready):
        """Return what a crew waits for that leaves runs of a priority; None for nothing."""
        later = [
            (moment, run)
            for run in self._in_order(ready)
            if crew in self._able(run)
            and now < (moment := self._can_begin(crew, run)) < math.inf
            and (run.run_id in self.left_at or self._number(run) <= self._number(left))
        ]
        return min(later, key=lambda found: found[0], default=None)

    def _number(self, run):
        return math.inf if run.priority is None else run.priority

    def _alike(self, run, other):
        """Return whether two runs are new, named for no crew, and of one priority."""
        free = all(x.crew is None and x.run_id not in self.left_at for x in (run, other))
        return free and run.priority == other.priority

    def _of_shared(self, crew, runs):
        """Return which of some runs a crew takes: its pipe, its class, else where most is left."""
        work, first = defaultdict(float), {}
        for run in runs:
            minutes = self._joint_minutes(run)
            work[self._class(run)] += minutes
            work[self._pipe(run)] += minutes
            first.setdefault(self._pipe(run), run)

        def order(run):
            others = [one for one in self.crews if one is not crew and one.machine]
            of_class = sum(one.machine == self._class(run) for one in others)
            of_pipe = sum((one.machine, one.od) == self._pipe(run) for one in others)
            return (crew.machine != self._class(run), crew.od != self._od(run),
                    -work[self._class(run)] / (1 + of_class),
                    -work[self._pipe(run)] / (1 + of_pipe))  # fmt: skip

        mine = [run for run in first.values() if not self._is_anothers(crew, run)]
        self.left_to_others += len(first) - len(mine)
        return min(mine, key=order, default=None)

    def _pipe(self, run):
        return self._class(run), self._od(run)

    def _joint_minutes(self, run):
        plain, fitting, ties = self.counts(run)
        joints = sum(plain) + fitting + ties + run.tie_ins + self.rework[run.run_id]
        day = run.earliest_start or self.job.dates.start
        slot = Slot(day, "day", self._hours(0, day), 0.0, 0.0)
        return joints * self.joint(run, Crew(0, slot)).cycle

    def _is_anothers(self, crew, run):
        """Return whether a crew with the machine is there no more than half a change-out later."""
        if crew.machine in ("", self._class(run)):
            return False
        there, _ = self._there_at(crew, run)
        half = self.job.moves.machine_swap_min / 2
        for other in self.crews:
            if other.machine == self._class(run) and other.slot != NEVER:
                later, _ = self._there_at(other, run)
                near = later <= there or self._worked(crew, there, later) <= half
                if later < math.inf and near:
                    return True
        return False

    def _worked(self, crew, begin, end):
        """Return the working minutes of a crew between two moments."""
        slot, minutes = self._slot_at(crew, begin), 0.0
        for _ in range(20):
            if slot != NEVER and slot.start < end:
                minutes += max(0.0, min(end, slot.start + slot.working) - max(begin, slot.start))
                slot = self._after(crew.number, slot)
        return minutes

    def _in_order(self, runs):
        """Return runs with those that were left first, as they were ready by themselves."""
        left = [run for run in runs if run.run_id in self.left_at]
        left.sort(key=lambda run: (self.rank[run.run_id], by_name(run.run_id)))
        return [*left, *(run for run in runs if run.run_id not in self.left_at)]

    def _worth_a_wait(self, crew, run):
        """Return a run whose rest is shorter than a change of the machine there and back."""
        resting = self._rests(crew)
        if not crew.machine or crew.machine == self._class(run) or resting is None:
            return None
        idle = self._working_until(crew, self.left_at[resting.run_id])
        self.waited += idle <= 2 * self.job.moves.machine_swap_min
        return resting if idle <= 2 * self.job.moves.machine_swap_min else None

    def _rests(self, crew):
        """Return the first run that a crew left to its rest, and can do with its machine."""
        left = [run for run in self.job.runs if self.resting.get(run.run_id) == crew.number]
        for run in self._in_order([run for run in left if run.run_id not in self.unjoined]):
            held = self._is_held(crew, run)
            if self._class(run) == crew.machine and not held and crew in self._able(run):
                return run
        return None

    def _working_until(self, crew, moment):
        """Return the working minutes of a crew from now to a moment."""
        minutes, slot, begin = 0.0, crew.slot, crew.now
        while slot != NEVER and moment > begin:
            minutes += min(moment, slot.start + slot.working) - begin
            slot = self._after(crew.number, slot)
            begin = slot.start
        return minutes

    def _able(self, run):
        """Return the crews that may do a run; of one that was left, those with its machine.

        Tie-ins between its own strings are kept by the crew that made them, until it leaves.
        """
        if run.crew is not None:
            return [self.crews[run.crew - 1]]
        if run.run_id not in self.left_at:
            return self.crews
        kept = [crew for crew in self.crews if crew.number == self.kept_by.get(run.run_id)]
        if kept and kept[0].slot != NEVER:
            return kept
        there = [crew for crew in self.crews if self._can_begin(crew, run) < math.inf]
        with_it = [crew for crew in there if crew.machine == self._class(run)]
        began = [
            crew for crew in there if crew.machine and crew.number == self.begun_by[run.run_id]
        ]
        return with_it or began or there

    def _there_at(self, crew, run):
        """Return when a crew has made its moves to a run, and how long they take."""
        moves = sum(minutes for _, minutes in self._moves_to(crew, run))
        begin, rest = self._can_begin(crew, run), moves
        slot, left = crew.slot, crew.left
        while rest > left + TINY and slot != NEVER:
            rest -= left
            slot = self._after(crew.number, slot)
            left = slot.working
        there = slot.start + slot.working - left + rest
        if run.run_id in self.left_at:
            return max(there, begin), moves
        at_once = begin <= max(crew.now, self._slot_at(crew, crew.now).start)
        return (there if at_once else begin + moves), moves

    def _room_from(self, crew, run, moment):
        """Return when a crew comes for what was left: not for the end of a shift with no room."""
        slot = self._slot_at(crew, moment)
        busy = slot == crew.slot and any(
            key[:3] == (slot.day, slot.name, crew.number) for key in self.lines
        )
        if moment <= crew.now or slot == NEVER or busy:
            return moment
        following = self._after(crew.number, slot)
        kind = next(step for step in self.steps[run.run_id] if step not in (REST, STRINGS, JOIN))
        time = self._time(run, kind, Crew(crew.number, slot))
        needed = time.cycle - time.after
        room = slot.start + slot.working - max(moment, slot.start)
        return moment if following == NEVER or needed <= room + TINY else following.start

    def _can_begin(self, crew, run):
        """Return when a crew can begin a run: the minute in a shift on a day without a hold."""
        moment = max(crew.now, self._ready(run))
        while True:
            slot = self._slot_at(crew, moment)
            if slot == NEVER:
                return math.inf
            free = self._held_until(run, slot.day)
            if free == slot.day:
                return max(moment, slot.start)
            moment = free.toordinal() * DAY

    def _slot_at(self, crew, moment):
        """Return the shift in which a crew can begin what may begin at a moment."""
        slot = crew.slot
        if slot == NEVER:
            return slot
        day = dt.date.fromordinal(max(1, int(moment // DAY)))
        if day > slot.day:
            slot = self._first_slot(crew.number, day)
        while slot.start + slot.working <= moment:
            slot = self._after(crew.number, slot)
        return slot

    def _arrive(self, crew, run):
        """Bring a crew to a run; to one that was left it moves so as to be there in time.

        Return whether it comes to be there before it leaves.
        """
        ready = self._ready(run)
        if run.run_id not in self.left_at:
            self._wait(crew, run, ready, "waiting")
        elif crew.number != self.begun_by[run.run_id] or self._is_held(crew, run):
            moves = sum(minutes for _, minutes in self._moves_to(crew, run))
            begin = self._room_from(crew, run, self._can_begin(crew, run))
            self._wait(crew, run, begin - moves, "waiting")
        self.begun_by[run.run_id] = crew.number
        for name, minutes in self._moves_to(crew, run):
            if not self._move(crew, run, name, minutes):
                return False
        crew.run, crew.machine, crew.od = run.run_id, self._class(run), self._od(run)
        if not self._try_fusion(crew, run):
            return False
        if run.run_id in self.left_at:
            ready = self._room_from(crew, run, ready)
        self._wait(crew, run, ready, "waiting")
        return True

    def _try_fusion(self, crew, run):
        """Make the trial fusion of a set-up where one is due; return whether the crew goes on."""
        asks = any(step in ASK_TRIAL for step in self.steps[run.run_id])
        while asks and self._trial_for(crew) not in (None, crew.slot, crew.tested):
            if self._is_held(crew, run):
                return self._leave_held(crew, run)
            if self._made(crew, run, "trial"):
                crew.tested = self._trial_for(crew)
            elif crew.slot == NEVER:
                return False
        return True

    def _class(self, run):
        """Return the class of a run: as named, as chosen over the job, or at the lowest rate."""
        cheapest = min(self.job.machines, key=lambda row: row.four_week_rate.amount)
        return run.machine or run.fleet_class or cheapest.class_id

    def _moves_to(self, crew, run):
        moves = self.job.moves
        if not crew.machine or crew.run == run.run_id:
            return []
        if crew.machine != self._class(run):
            return [("machine change-out", moves.machine_swap_min)]
        made = [("move", moves.machine_move_min)]
        if crew.od != self._od(run):
            row = self.job.size_bands[self._column(run)]
            made.append(("size change", row.size_change_min))
        return made

    def _is_held(self, crew, run):
        return self._held_until(run, crew.slot.day) != crew.slot.day

    def _work(self, crew, run):
        """Do what is left of a run.

        Return whether it is finished, and not left for a hold, for other work, or because the
        crew leaves.
        """
        left = self.steps[run.run_id]
        while left:
            step = left[0]
            if step == STRINGS:
                self._strings_done(run, self._cool(crew, run))
            elif step in (REST, JOIN):
                left.pop(0)
                if not self._goes_on(crew, run, step):
                    return False
                continue
            elif self._is_held(crew, run):
                return self._leave_held(crew, run)
            elif step in INSIDE and self._is_called(crew, run):
                if not self._tie_in_and_return(crew, run):
                    return False
                continue
            elif self._needs_daily_trial(crew, step):
                if self._made(crew, run, "trial"):
                    crew.tested = crew.slot
                elif crew.slot == NEVER:
                    return False
                continue
            elif not self._made(crew, run, step):
                if crew.slot == NEVER:
                    return False
                continue
            left.pop(0)
        return True

    def _strings_done(self, run, moment):
        """Note that strings are there; tie-ins that waited for nothing else may begin."""
        self.strings_at[run.run_id] = moment
        for name, others in [*self.unjoined.items()]:
            if others <= self.strings_at.keys():
                del self.unjoined[name]
                there = max(self.strings_at[other] for other in others)
                if there > self.left_at[name]:
                    self.left_at[name] = there
                    self.resting.pop(name, None)

    def _goes_on(self, crew, run, step):
        """Return whether a crew ties in at once, or waits for it; if not, it leaves the run."""
        rested = self.strings_end.get(run.run_id, -math.inf) + self.rest_min
        others = set(names_in(run.joins)) - {run.run_id} if step == JOIN else set()
        moment = max([rested, *(self.strings_at.get(name, -math.inf) for name in others)])
        missing = others - self.strings_at.keys()
        away = moment > crew.now and self._slot_at(crew, moment) == NEVER
        if not missing and not away and not self._pays_to_leave(crew, run, moment):
            self._wait(crew, run, moment, "cooling rest")
            return True
        self._leave_at(run, moment, rested)
        if missing:
            self.unjoined[run.run_id] = others
            self.joined.add(run.run_id)
        elif step == REST and not away:
            self.kept_by[run.run_id] = crew.number
        if moment == rested:
            self.resting[run.run_id] = crew.number
        return False

    def _leave_at(self, run, moment, rank=None):
        """Leave the rest of a run, which may go on from a moment."""
        self.left_at[run.run_id] = moment
        self.rank[run.run_id] = moment if rank is None else rank
        self.resting.pop(run.run_id, None)
        self.kept_by.pop(run.run_id, None)

    def _leave_held(self, crew, run):
        free = self._held_until(run, crew.slot.day)
        self._leave_at(run, free.toordinal() * DAY)
        return False

    def _pays_to_leave(self, crew, run, moment):
        """Return whether a wait takes longer than the moves to other work and back."""
        idle, moves = self._working_until(crew, moment), self.job.moves
        if idle <= 2 * min(moves.machine_move_min, moves.machine_swap_min):
            return False
        undone = [one for one in self.job.runs if one.run_id not in self.finished]
        undone.sort(key=lambda one: (one.priority or 999, by_name(one.run_id)))
        ready = [one for one in undone if one is not run and self._ready(one) is not None]
        found = self._first_for(crew, ready)
        if found is None or found[0] > crew.now:
            return idle > 2 * moves.machine_move_min
        other = found[1]
        trip = self._minutes_between(run, other) + self._minutes_between(other, run)
        by_size = self.job.counting.test_joint_rule == "each size"
        alike = (self._class(run), self._od(run)) == (self._class(other), self._od(other))
        if by_size and not alike:
            trip += sum(self._time(one, "trial", crew).cycle for one in (run, other))
        return idle > trip

    def _minutes_between(self, one, other):
        there = Crew(0, NEVER, run=one.run_id, machine=self._class(one), od=self._od(one))
        return sum(minutes for _, minutes in self._moves_to(there, other))

    def _is_called(self, crew, run):
        """Return whether a crew leaves its strings now for tie-ins that are rested when it comes.

        It finishes what is done in this shift, and stays where no tie-in fits in what is left.
        """
        resting = self._rests(crew)
        if resting is None or self._ends_in_shift(crew, run):
            return False
        there = sum(minutes for _, minutes in self._moves_to(crew, resting))
        if self.left_at[resting.run_id] - there > crew.now + TINY:
            return False
        needed = there + self._time(resting, "tie-in", crew).cycle
        return crew.gone <= TINY or needed <= crew.left

    def _ends_in_shift(self, crew, run):
        """Return whether the equal joints in hand end in this shift."""
        steps = self.steps[run.run_id]
        number = next((n for n, step in enumerate(steps) if step != steps[0]), len(steps))
        time = self._time(run, steps[0], crew)
        if time.machines == 1:
            return number * time.cycle - time.after <= crew.left + TINY
        turn, machine = divmod(number - 1, time.machines)
        begin = turn * max(time.cycle, time.machines * time.attended) + machine * time.attended
        return begin + time.cycle - time.after <= crew.left + TINY

    def _tie_in_and_return(self, crew, run):
        """Tie in what is rested and come back; return whether the crew is there to do so."""
        moment, self.called = crew.now, self.called + 1
        self._do(crew, self._rests(crew))
        if crew.slot == NEVER:
            self._leave_at(run, moment)
            return False
        for name, minutes in self._moves_to(crew, run):
            if not self._move(crew, run, name, minutes):
                return False
        crew.run, crew.machine, crew.od = run.run_id, self._class(run), self._od(run)
        return self._try_fusion(crew, run)

    def _leave(self, crew, run):
        """Begin the next shift; a crew that has none leaves the run at the end of this one."""
        end = crew.slot.start + crew.slot.working
        if not self._next_shift(crew):
            self._leave_at(run, end)
            return True
        return False

    def _line(self, crew, run):
        return self.lines[crew.slot.day, crew.slot.name, crew.number, run.run_id]

    def _move(self, crew, run, name, minutes):
        """Take minutes that may go on in the next shift; return whether the move is ended."""
        while minutes > TINY:
            if crew.left <= TINY and self._leave(crew, run):
                return False
            part = min(minutes, crew.left)
            self._spend(crew, run, part)
            self._line(crew, run).moves.append(name)
            minutes -= part
        return True

    def _spend(self, crew, run, minutes):
        self._line(crew, run).minutes += minutes
        crew.gone += minutes
        crew.streak = ()

    def _wait(self, crew, run, moment, name):
        """Wait; only minutes inside a shift are anybody's."""
        if moment <= crew.now + TINY:
            return
        slot = self._slot_at(crew, moment)
        if slot != crew.slot:
            self._go_to(crew, slot)
        idle = moment - crew.now
        if idle > TINY:
            self._line(crew, run).moves.append(name)
            self._spend(crew, run, idle)

    def _trial_for(self, crew):
        """Return what a trial fusion stands for, by the rule of the Job sheet."""
        rule, size = self.job.counting.test_joint_rule, (crew.machine, crew.od)
        return {"none": None, "job start": "job", "each size": size, "each day": crew.slot}[rule]

    def _needs_daily_trial(self, crew, step):
        daily = self.job.counting.test_joint_rule == "each day"
        return daily and step not in OTHERS and crew.tested != crew.slot

    def _made(self, crew, run, kind):
        """Make one piece inside one shift; where it does not fit, go on to the next shift."""
        time = self._time(run, kind, crew)
        if not self._fits(crew, (run.run_id, kind), time):
            self._leave(crew, run)
            return False
        self._piece(crew, run, kind, time)
        return True

    def _fits(self, crew, piece, time):
        """Return whether a piece ends in time.

        With several machines it begins on the next one, an attended time after the piece before,
        and a round after the last piece on that machine.
        """
        if crew.streak[:1] != (piece,):
            crew.streak = piece, 0, crew.left
        if time.machines == 1:
            return time.cycle - time.after <= crew.left + TINY
        _, number, left = crew.streak
        turn, machine = divmod(number, time.machines)
        begin = turn * max(time.cycle, time.machines * time.attended) + machine * time.attended
        return begin + time.cycle - time.after <= left + TINY

    def _piece(self, crew, run, kind, time):
        piece, number, left = crew.streak
        self._line(crew, run).counts[kind] += 1
        each = time.cycle
        if time.machines > 1:
            each = max(time.attended, time.cycle / time.machines)
        spent = min(each, crew.left)
        self._spend(crew, run, spent)
        cool = min(crew.now + time.cycle - spent, crew.slot.start + crew.slot.working + time.after)
        crew.streak = piece, number + 1, left
        self.cool_at[run.run_id] = cool
        if kind in INSIDE:
            self.strings_end[run.run_id] = cool


def names_in(text):
    """Return the names of runs that a cell lists."""
    return [name.strip() for name in (text or "").split(";") if name.strip()]


def by_name(name):
    """Return what puts R2 before R10."""
    return [int(part) if part.isdigit() else part for part in re.split(r"(\d+)", name)]
