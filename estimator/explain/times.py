"""Explained: the cycle element by element, joints in a shift, days of the plan, labor-hours."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import dropwhile, takewhile

from estimator.explain.chain import Chain, PaidDay, worked
from estimator.explain.page import record
from estimator.explain.sums import Sum, num, total
from estimator.joint.cycle import FITTING, TIE_IN, JointKind, connection_minutes
from estimator.models.explanation import Step
from estimator.models.job_inputs import CountingInputs
from estimator.models.kinds import AFTER_TIE_INS, CONNECTIONS, ON_STRINGS
from estimator.models.plan import CrewDay, PlanLine
from estimator.models.sized_run import JointCount, RunCycle
from estimator.steps.recorder import Recorded
from estimator.working_time.shifts import inputs_of_shift, working_time

CREW_HOURS = "paid hours of the crew on the clock x part of the minutes, all days"


def cycle_steps(chain: Chain) -> Iterator[Step]:
    """Yield the elements of a joint and what they come to: cycle, attended time, period."""
    times, page = chain.sized.cycle, chain.page
    yield Step("Size band", times.band, where=chain.cell("size_bands", times.band, "od_to"))
    if chain.shift.efficiency != chain.job.shift.efficiency:
        usual, hours = chain.job.shift, chain.shift.shift_hours
        yield from map(page.show, record(lambda: inputs_of_shift(usual, hours, "day")))
    made, others = list[Recorded](), list[Recorded]()
    for found in takewhile(_before_the_shift, chain.timed):
        (others if found.key == connection_minutes.key else made).append(found)
    left_out = _kinds_left_out(chain.sized.counts)
    yield from (page.show(found, sources=()) for found in made if _kind_of(found) not in left_out)
    if times.small_end is not None:
        how = f"made like the rest, at the size {chain.run.reduce_to}"
        period = times.small_end.period_min
        yield Step("Period, smaller end of a reducer", period, "min", how=how)
    yield from (page.show(found) for found in others if found.name not in left_out)


def _before_the_shift(found: Recorded) -> bool:
    return found.key != working_time.key


def _kind_of(found: Recorded) -> str:
    kind = found.given.get("kind")
    return kind.name if isinstance(kind, JointKind) else ""


def _kinds_left_out(counts: JointCount) -> frozenset[str]:
    """Return what kinds of joints and connections a run has none of."""
    kinds = {FITTING: counts.fitting_joints, TIE_IN: counts.tie_in_joints}
    kinds |= {kind.work.capitalize(): counts.others[kind.key] for kind in CONNECTIONS}
    return frozenset(name for name, number in kinds.items() if not number)


def shift_steps(chain: Chain) -> Iterator[Step]:
    """Yield the working time of a shift and the whole joints that fit into it."""
    return map(chain.page.show, dropwhile(_before_the_shift, chain.timed))


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
    """Yield the run's share of each paid day, and its labor-hours."""
    hours = []
    for paid in chain.context.paid_days.get(chain.run.run_id, ()):
        day, share = paid.day, _day_share(chain, paid)
        hours.append(num(share.value))
        lost = "" if day.kind == "work" else f"; {day.kind} day, shared as the day before"
        name = f"{day.date:%a %d %b %Y}, crew {day.crew}{by_night(day)}"
        yield worked(name, share, "h", f"people x paid hours x minutes / all minutes{lost}")
    yield worked("Labor-hours", total(hours), "h", "all days")
    yield worked("Crew-hours", total(_on_the_clock(chain)), "h", CREW_HOURS)


def _on_the_clock(chain: Chain) -> list[Sum]:
    """Return the run's part of each paid shift of a crew, without its head count."""
    return [
        num(paid.day.crew_hours) * num(dict(paid.day.run_shares)[chain.run.run_id])
        for paid in chain.context.paid_days.get(chain.run.run_id, ())
    ]


def _day_share(chain: Chain, paid: PaidDay) -> Sum:
    day = paid.day
    hours = num(sum(day.heads)) * num(day.straight_hours + day.overtime_hours)
    everything = sum(paid.minutes.values())
    if not everything:
        return hours / num(len(day.run_shares))
    return hours * num(paid.minutes[chain.run.run_id]) / num(everything)
