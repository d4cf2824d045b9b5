"""Explained: the cycle element by element, joints in a shift, days of the plan, labor-hours."""

from collections.abc import Iterator
from functools import partial
from itertools import dropwhile, takewhile

from estimator.display import UnitSystem, show_day
from estimator.explain.chain import Chain
from estimator.explain.page import record
from estimator.joint.cycle import (
    FITTING,
    TIE_IN,
    JointKind,
    connection_minutes,
    connection_minutes_between,
    rework_minutes,
    test_minutes,
    visible_work,
    working_time,
)
from estimator.models.explanation import Step
from estimator.models.kinds import CONNECTIONS
from estimator.models.plan import CrewDay, PlanLine
from estimator.models.sized_run import JointCount
from estimator.plan import people_at
from estimator.plan.crews import minutes_spent
from estimator.plan.paid_shifts import labor_hours_of_days
from estimator.steps.recorder import Recorded
from estimator.working_time.shifts import inputs_of_shift

CREW = ", crew "
OF_ITS_DAYS = "Labor-hours of its days"
FACTOR_OF = {FITTING: "fitting_factor", TIE_IN: "tie_in_factor"}
"""Inputs that multiply the crew-paced minutes of a kind of joint."""
CONNECTIONS_TIMED = (connection_minutes.key, connection_minutes_between.key)


def cycle_steps(chain: Chain) -> Iterator[Step]:
    """Yield the elements of a joint and what they come to: cycle, attended time, period."""
    times, page = chain.sized.cycle, chain.page
    yield Step("Size band", times.band, where=chain.cell("size_bands", times.band, "od_to_mm"))
    if chain.shift.efficiency != chain.job.shift.efficiency:
        usual, hours = chain.job.shift, chain.shift.shift_hours
        yield from map(page.show, record(lambda: inputs_of_shift(usual, hours, "day")))
    made, others = list[Recorded](), list[Recorded]()
    for found in takewhile(_before_the_shift, chain.timed):
        (others if found.key in CONNECTIONS_TIMED else made).append(found)
    left_out = _kinds_left_out(chain.sized.counts)
    for found in made:
        kind = _kind_of(found)
        if kind not in left_out:
            factor = FACTOR_OF.get(kind) if found.key == visible_work.key else None
            where = chain.fact_cell(factor) if factor else ""
            yield page.show(found, where=where, sources=())
    if times.small_end is not None:
        how = f"made the same way, at size {chain.run.reduce_to}"
        name, minutes = "Time per joint, small end of a reducer", times.small_end.period_min
        yield Step(name, minutes, "min", how=how)
    yield from (page.show(found) for found in others if found.name not in left_out)


def _before_the_shift(recorded: Recorded) -> bool:
    return recorded.key != working_time.key


def _kind_of(recorded: Recorded) -> str:
    kind = recorded.given.get("kind")
    return kind.name if isinstance(kind, JointKind) else ""


def _kinds_left_out(counts: JointCount) -> frozenset[str]:
    """Return what kinds of joints and connections a run has none of."""
    kinds = {FITTING: counts.fitting_joints, TIE_IN: counts.tie_in_joints}
    kinds |= {kind.work.capitalize(): counts.others[kind.key] for kind in CONNECTIONS}
    return frozenset(name for name, number in kinds.items() if not number)


def shift_steps(chain: Chain) -> Iterator[Step]:
    """Yield the working time of a shift and the whole joints that fit into it."""
    return map(chain.page.show, dropwhile(_before_the_shift, chain.timed))


def plan_steps(chain: Chain) -> Iterator[Step]:
    """Yield each day on which a crew works on the run: what it makes, and its minutes."""
    lines = chain.context.plan_lines.get(chain.run.run_id, ())
    counting, plain = chain.job.counting, chain.sized.cycle.plain
    if chain.sized.counts.rework_joints:
        yield from map(chain.page.show, record(lambda: rework_minutes(plain, counting)))
    if any(line.test_joints for line in lines):
        yield from map(chain.page.show, record(lambda: test_minutes(plain, counting)))
    for line in lines:
        made = [f"{work.number} {work.name}" for work in line.spent.work]
        how = "; ".join([*made, *filter(None, [", ".join(line.moves)])])
        for found in record(partial(minutes_spent, line.spent)):
            yield chain.page.show(found, _day_name(line, chain.page.system), how)


def is_day(step: Step) -> bool:
    """Return whether a step is that of one shift of a crew."""
    return CREW in step.name


def _day_name(line: PlanLine | CrewDay, system: UnitSystem) -> str:
    """Return date and crew; a night shift says so, a day shift has no word."""
    night = ", night" if line.shift == "night" else ""
    return f"{show_day(line.date, system)}{CREW}{line.crew}{night}"


def hours_steps(chain: Chain) -> Iterator[Step]:
    """Yield the people of a crew, the run's share of each paid day, its labor- and crew-hours."""
    job, page = chain.job, chain.page
    labor, crew = chain.context.hours
    machines, at = chain.sized.cycle.plain.machines, chain.sized.cycle.at
    for role in job.crew:
        yield from map(page.show, record(partial(people_at, role, at, machines)))
    *made, last = record(lambda: labor.of(chain.run.run_id))
    change_out = ""
    for found in made:
        day = found.given.get("day")
        if isinstance(day, CrewDay):
            lost = "" if day.kind == "work" else f"; {day.kind} day, allocated as the day before"
            yield page.show(
                found, f"{change_out}{_day_name(day, page.system)}", f"{found.how}{lost}"
            )
        elif found.key == labor_hours_of_days.key:
            change_out = "Change-out, "
            yield page.show(found, OF_ITS_DAYS)
        else:
            yield page.show(found)
    yield page.show(last)
    yield page.show(record(lambda: crew.of(chain.run.run_id))[-1])
