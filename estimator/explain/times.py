"""Explained: the cycle element by element, joints in a shift, days of the plan, crew-hours."""

from collections.abc import Iterator
from dataclasses import dataclass

from estimator.explain.chain import Chain, PaidDay, worked
from estimator.explain.sums import Sum, floor, greatest, num, total
from estimator.joint.cycle import cold_factor
from estimator.models.explanation import Step
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import AFTER_TIE_INS, BUTT_JOINT, CONNECTIONS, ON_STRINGS
from estimator.models.plan import CrewDay, JointTime, PlanLine, RunCycle
from estimator.units import HOUR_MIN, MIN_S


def cycle_steps(chain: Chain) -> Iterator[Step]:
    """Yield the elements of a joint and what they come to: cycle, attended time, period."""
    times = chain.sized.cycle
    yield Step("Size band", times.band, where=chain.cell("size_bands", times.band, "od_to"))
    cold = cold_factor(chain.sized.timing.ambient_c, chain.job.cold_factors)
    if chain.shift.efficiency != chain.job.shift.efficiency:
        yield from _efficiency(chain)
    factor = num(chain.run.access_factor) * num(cold) / num(chain.shift.efficiency)
    yield worked("Crew factor", factor, how="access x cold / efficiency")
    for task in chain.job.task_times:
        if task.applies_to == BUTT_JOINT:
            minutes = num(task.minutes(times.band))
            paced = minutes * num(factor.value) if task.paced_by == "crew" else minutes
            hidden = ", while the joint before it cools" if task.hidden else ""
            where = chain.cell("task_times", task.task, f"min_{times.band.lower()}")
            yield worked(task.task, paced, "min", f"{task.paced_by}-paced{hidden}", where)
    yield worked("Heat soak", num(_soak(chain)), "min", "never divided by efficiency")
    yield worked("Cooling", num(_cool(chain)), "min", "never divided by efficiency")
    yield from _joint(chain, "plain joint", 1.0)
    if chain.sized.counts.fitting_joints:
        yield from _joint(chain, "fitting joint", chain.job.counting.fitting_factor)
    if chain.sized.counts.tie_in_joints:
        yield from _joint(chain, "tie-in joint", chain.job.counting.tie_in_factor)
    if times.small_end is not None:
        how = f"made like the rest, at the size {chain.run.reduce_to}"
        period = num(times.small_end.period_min)
        yield worked("Period, smaller end of a reducer", period, "min", how)
    yield from _other(chain, factor)


def _efficiency(chain: Chain) -> Iterator[Step]:
    """Yield the efficiency over a shift with slower overtime."""
    hours = chain.shift.shift_hours
    usual = chain.job.shift
    overtime = num(hours) - num(usual.straight_hours)
    kept = num(usual.straight_hours) + num(overtime.value) * num(1 - usual.overtime_loss)
    yield worked("Hours at full pace", kept, "h", "straight time + overtime x pace kept in it")
    over_shift = num(usual.efficiency) * num(kept.value) / num(hours)
    yield worked("Efficiency over the shift", over_shift, how="efficiency x full pace / paid hours")


def _soak(chain: Chain) -> float:
    return chain.sized.fusion.soak_s / MIN_S


def _cool(chain: Chain) -> float:
    return chain.sized.fusion.cool_s / MIN_S


def _joint(chain: Chain, kind: str, handling: float) -> Iterator[Step]:
    """Yield the times of one kind of joint; crew-paced minutes carry its handling factor."""
    elements, machines = chain.sized.cycle.elements, chain.job.resources.machines_per_crew

    def minutes(hidden: bool) -> list[Sum]:
        return [
            num(e.minutes) * num(handling)
            if e.paced_by == "crew" and handling != 1.0
            else num(e.minutes)
            for e in elements
            if e.hidden == hidden
        ]

    visible = total([*minutes(hidden=False), num(_soak(chain))])
    yield worked(f"Visible work, {kind}", visible, "min", "elements that nothing hides + soak")
    hidden = total(minutes(hidden=True))
    behind = greatest(num(_cool(chain)), hidden)
    cycle = num(visible.value) + behind
    yield worked(f"Cycle, {kind}", cycle, "min", "visible + the longer of cooling and hidden work")
    attended = num(visible.value) + hidden
    yield worked(f"Attended, {kind}", attended, "min", "visible + hidden work")
    period = num(cycle.value)
    if machines > 1:
        period = greatest(num(attended.value), num(cycle.value) / num(machines))
    how = "one machine: the cycle" if machines == 1 else f"{machines} machines and one crew"
    yield worked(f"Period, {kind}", period, "min", how)


def _other(chain: Chain, factor: Sum) -> Iterator[Step]:
    for kind in CONNECTIONS:
        if not chain.sized.counts.others[kind.key]:
            continue
        tasks = [task for task in chain.job.task_times if task.applies_to == kind.work]
        minutes = [
            num(task.minutes(chain.sized.cycle.band)) * num(factor.value)
            if task.paced_by == "crew"
            else num(task.minutes(chain.sized.cycle.band))
            for task in tasks
        ]
        yield worked(kind.work.capitalize(), total(minutes), "min", "minutes x crew factor")


def shift_steps(chain: Chain) -> Iterator[Step]:
    """Yield the working time of a shift and the whole joints that fit into it."""
    plain = chain.sized.cycle.plain
    shift = num(chain.shift.shift_hours) * num(HOUR_MIN)
    for lost in (chain.shift.startup_min, chain.shift.wrapup_min, chain.shift.breaks_min):
        shift = shift - num(lost)
    yield worked("Working time", shift, "min", "shift - start-up - wrap-up - breaks")
    left = num(shift.value)
    if chain.job.counting.test_joint_rule == "each day":
        left = left - num(plain.cycle_min) - num(chain.job.counting.test_joint_extra_min)
        yield worked("Left after the test joint", left, "min")
        left = num(left.value)
    if left.value < plain.cycle_min or not plain.period_min:
        return
    if plain.machines == 1:
        fit = num(1) + floor((left - num(plain.cycle_min)) / num(plain.period_min))
        how = "each takes a period, the last one its whole cycle"
        yield worked("Joints per shift", fit, how=how)
        return
    yield from _joints_of_machines(left, plain)


def _joints_of_machines(left: Sum, plain: JointTime) -> Iterator[Step]:
    """Yield the joints of each machine that a crew attends in turn, and their total."""
    turn = greatest(num(plain.cycle_min), num(plain.machines) * num(plain.attended_min))
    yield worked("Round", turn, "min", "the longer of the cycle and all machines attended in turn")
    made = []
    for k in range(plain.machines):
        start = left - num(k) * num(plain.attended_min) - num(plain.cycle_min)
        if start.value < 0:
            break
        made.append(num(1) + floor(start / num(turn.value)))
        yield worked(f"Joints on machine {k + 1}", made[-1], how="begun an attended time later")
    yield worked("Joints per shift", total([num(part.value) for part in made]), how="all machines")


@dataclass
class Left:
    """Pieces of a run that the days before have left, in the order in which they are made."""

    kinds: list[tuple[str, str, int]]

    @classmethod
    def of(cls, chain: Chain) -> "Left":
        """Return all pieces of the run: what the plan calls it, of which kind, and how many."""
        count = chain.sized.counts
        return cls(
            [
                ("joints", "plain", count.plain_joints),
                ("joints", "fitting", count.fitting_joints - count.small_ends),
                ("joints", "small end", count.small_ends),
                ("remade", "remade", count.rework_joints),
                *(("other", kind.work, count.others[kind.key]) for kind in ON_STRINGS),
                ("tie-ins", "tie-in", count.tie_in_joints),
                *(("other", kind.work, count.others[kind.key]) for kind in AFTER_TIE_INS),
            ]
        )

    def take(self, group: str, number: int) -> list[tuple[str, int]]:
        """Take pieces of a group in their order; return how many of each kind."""
        taken = []
        for i, (of_group, kind, left) in enumerate(self.kinds):
            now = min(left, number) if of_group == group else 0
            if now:
                self.kinds[i] = (of_group, kind, left - now)
                taken.append((kind, now))
                number -= now
        return taken


def item_minutes(counting: CountingInputs, times: RunCycle, kind: str) -> float:
    """Return the minutes that one piece takes of a crew's day."""
    return {
        "plain": times.plain.period_min,
        "fitting": times.fitting.period_min,
        "small end": (times.small_end or times.fitting).period_min,
        "remade": times.plain.cycle_min + counting.rework_extra_min,
        "test": times.plain.cycle_min + counting.test_joint_extra_min,
        "tie-in": times.tie_in.period_min,
        **{other.work: times.other_min[other.key] for other in CONNECTIONS},
    }[kind]


def plan_steps(chain: Chain) -> Iterator[Step]:
    """Yield each day on which a crew works on the run: what it makes, and its minutes."""
    left = Left.of(chain)
    for line in chain.context.plan_lines.get(chain.run.run_id, ()):
        made = [
            ("test", line.test_joints),
            *left.take("joints", line.joints - line.tie_in_joints),
            *left.take("remade", line.rework_joints),
            *left.take("tie-ins", line.tie_in_joints),
            *left.take("other", line.other_joints),
        ]
        made = [(kind, number) for kind, number in made if number]
        times = chain.context.sizer.cycle_on(chain.run.run_id, line.date, line.shift)
        work = [num(n) * num(item_minutes(chain.job.counting, times, kind)) for kind, n in made]
        moving = line.minutes - sum(part.value for part in work)
        text = [f"{number} {kind}" for kind, number in made]
        if moving > 1e-6:
            work.append(num(moving))
            text.append(", ".join(line.moves))
        name = f"{line.date:%a %d %b %Y}, crew {line.crew}{by_night(line)}"
        yield worked(name, total(work), "min", "; ".join(text))


def by_night(worked_in: PlanLine | CrewDay) -> str:
    """Return what tells a night shift from a day shift, which is reported by nothing."""
    return ", night" if worked_in.shift == "night" else ""


def hours_steps(chain: Chain) -> Iterator[Step]:
    """Yield the run's share of each paid day, and its crew-hours."""
    hours = []
    for paid in chain.context.paid_days.get(chain.run.run_id, ()):
        day, share = paid.day, _day_share(chain, paid)
        hours.append(num(share.value))
        lost = "" if day.kind == "work" else f"; {day.kind} day, shared as the day before"
        name = f"{day.date:%a %d %b %Y}, crew {day.crew}{by_night(day)}"
        yield worked(name, share, "h", f"people x paid hours x minutes / all minutes{lost}")
    yield worked("Crew-hours", total(hours), "h", "all days")


def _day_share(chain: Chain, paid: PaidDay) -> Sum:
    day = paid.day
    hours = num(sum(day.heads)) * num(day.straight_hours + day.overtime_hours)
    everything = sum(paid.minutes.values())
    if not everything:
        return hours / num(len(day.run_shares))
    return hours * num(paid.minutes[chain.run.run_id]) / num(everything)
