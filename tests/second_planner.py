"""A second planner for small jobs, which lays one joint after the other by ``docs/method.md``.

It shares nothing with ``estimator.plan``: what a joint takes, when a shift is worked, which run
comes next and what is left for later are worked out here from the inputs of the job alone. It knows
several machines of a crew, night shifts, crews that come and leave with machines and hours of their
own, holds, classes that the schedule or the choice over the job gives, and runs that join the one
they follow; no runs that join another one, and no rest long enough to send a crew away.
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
REST = "rest"
"""A step of a run that is no piece: its strings rest."""
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
            after = [part for name in (run.after or "").split(";") if name.strip()
                     for part in names[name.strip()]]  # fmt: skip
            for name, length in zip(names[run.run_id], run.segments_m, strict=True):
                self.row_of[name] = run.run_id
                own = {} if name == names[run.run_id][-1] else NOTHING_ELSE
                yield run.model_copy(update={"run_id": name, "segments_m": (length,),
                                             "after": "; ".join(after), **own})  # fmt: skip

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
        made += ["closure"] * run.ef_closures
        return made + [REST] * (run.tie_ins > 0) + ["tie-in"] * run.tie_ins

    def plan(self):
        """Return the lines of the plan by date, shift, crew and run."""
        waiting = sorted(self.job.runs, key=lambda run: (run.priority or 999, by_name(run.run_id)))
        while waiting:
            crew, run = self._next(waiting)
            if self._arrive(crew, run) and self._work(crew, run):
                waiting.remove(run)
                self.finished[run.run_id] = max(crew.now, self.cool_at[run.run_id])
        return dict(self.lines)

    def _ready(self, run):
        """Return when a run may start, None while a run before it is not laid out."""
        if run.run_id in self.left_at:
            return self.left_at[run.run_id]
        names = [name.strip() for name in (run.after or "").split(";") if name.strip()]
        if any(name not in self.finished for name in names):
            return None
        start = run.earliest_start.toordinal() * DAY if run.earliest_start else 0
        return max([start, *(self.finished[name] for name in names)])

    def _next(self, waiting):
        """Return the crew that begins next and its run: what was left comes before new runs.

        Of crews that can begin at the same moment it is the one that was free first; but a run goes
        to the crew that is there first, of those that would take it next, and work that was left to
        the first there of all that may do it.
        """
        left = [run for run in waiting if run.run_id in self.left_at]
        left.sort(key=lambda run: (self.left_at[run.run_id], by_name(run.run_id)))
        new = [run for run in waiting if run not in left and self._ready(run) is not None]
        best, wanted = None, []
        for crew in sorted(self.crews, key=lambda one: (one.now, one.number)):
            mine = [(self._can_begin(crew, run), run) for run in [*left, *new]
                    if crew in self._able(run)]  # fmt: skip
            if mine:
                begin = min(moment for moment, _ in mine)
                run = next(run for moment, run in mine if moment == begin)
                wanted.append((crew, run))
                if best is None or begin < best[0]:
                    best = begin, crew, run
        _, first, run = best
        if run.crew is not None:
            return first, run
        able = self._able(run)
        if run.run_id not in self.left_at:
            able = [crew for crew, other in wanted if other is run]
        able = sorted(able, key=lambda crew: (crew is not first, crew.number))
        return min(able, key=lambda one: self._there_at(one, run)), run

    def _able(self, run):
        """Return the crews that may do a run; of one that was left, those with its machine."""
        if run.crew is not None:
            return [self.crews[run.crew - 1]]
        if run.run_id not in self.left_at:
            return self.crews
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
        kind = next(step for step in self.steps[run.run_id] if step != REST)
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
            self._wait(crew, run, ready, "wait")
        elif crew.number != self.begun_by[run.run_id] or self._is_held(crew, run):
            moves = sum(minutes for _, minutes in self._moves_to(crew, run))
            begin = self._room_from(crew, run, self._can_begin(crew, run))
            self._wait(crew, run, begin - moves, "wait")
        self.begun_by[run.run_id] = crew.number
        for name, minutes in self._moves_to(crew, run):
            if not self._move(crew, run, name, minutes):
                return False
        crew.run, crew.machine, crew.od = run.run_id, self._class(run), self._od(run)
        if run.run_id in self.left_at:
            ready = self._room_from(crew, run, ready)
        self._wait(crew, run, ready, "wait")
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

        Return whether it is finished, and not left for a hold or because the crew leaves.
        """
        left = self.steps[run.run_id]
        while left:
            if left[0] == REST:
                rested = self.strings_end[run.run_id] + self.rest_min
                if rested > crew.now and self._slot_at(crew, rested) == NEVER:
                    self.left_at[run.run_id] = rested
                    left.pop(0)
                    return False
                self._wait(crew, run, rested, "cooling rest")
            elif self._is_held(crew, run):
                free = self._held_until(run, crew.slot.day)
                self.left_at[run.run_id] = free.toordinal() * DAY
                return False
            elif not self._make(crew, run, left[0]):
                if crew.slot == NEVER:
                    return False
                continue
            left.pop(0)
        return True

    def _leave(self, crew, run):
        """Begin the next shift; a crew that has none leaves the run at the end of this one."""
        end = crew.slot.start + crew.slot.working
        if not self._next_shift(crew):
            self.left_at[run.run_id] = end
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

    def _make(self, crew, run, kind):
        """Make one piece inside one shift, a trial fusion before it where it is due.

        Return whether it was made.
        """
        asks = kind not in OTHERS
        if self.job.counting.test_joint_rule != "each day":
            asks = any(step not in (*OTHERS, REST) for step in self.steps[run.run_id])
        due = asks and self._trial_for(crew) not in (None, crew.tested)
        piece = "trial" if due else kind
        time = self._time(run, piece, crew)
        if not self._fits(crew, (run.run_id, piece), time):
            self._leave(crew, run)
            return False
        self._piece(crew, run, piece, time)
        crew.tested = self._trial_for(crew) if due else crew.tested
        return not due

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
        self._spend(crew, run, min(each, crew.left))
        cool = min(crew.now + time.cycle - each, crew.slot.start + crew.slot.working + time.after)
        crew.streak = piece, number + 1, left
        self.cool_at[run.run_id] = cool
        if kind in ("plain", "fitting", "rework"):
            self.strings_end[run.run_id] = cool


def by_name(name):
    """Return what puts R2 before R10."""
    return [int(part) if part.isdigit() else part for part in re.split(r"(\d+)", name)]
